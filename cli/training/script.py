"""Answers from a list of lines, for drills and lessons that nobody is at.

Purpose: answer prompts from a file or from standard input, one line each.
Law: a line that is empty or begins with # is no answer; at the end of the list the work stops as by a key.
Not here: reading the file (see the commands).
"""

from __future__ import annotations

from collections.abc import Iterable

from ..terminal import Screen, Stop


class Lines:
    """Answers prompts from a list of lines, and shows each as if it had been typed."""

    scripted = True

    def __init__(self, lines: Iterable[str], screen: Screen) -> None:
        self._left = iter(lines)
        self._screen = screen

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        for line in self._left:
            if line.strip() and not line.lstrip().startswith("#"):
                self._screen.line(f"{prompt}{line.strip()}")
                return line.strip()
        raise Stop
