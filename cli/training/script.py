"""Who answers a drill or a lesson: a file or standard input, one line each, or whoever is at the terminal.

Law: a line that is empty or begins with # is no answer; at the end of the list the work stops as by a key.
Not here: what is asked (see the commands).
"""

from __future__ import annotations

import sys
from collections.abc import Iterable

from ...engine.problems import HertzwrightError
from ..files import input_file
from ..terminal import Asker, Screen, Stop, prompts

_LARGEST = 1_000_000


class AnswersError(HertzwrightError):
    """A file of answers that cannot be read."""


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


def read_answers(name: str | None) -> list[str] | None:
    """The lines of a file, or of standard input where there is no terminal; None where they are to be asked.

    Raises AnswersError.
    """
    if name is None and sys.stdin.isatty():
        return None
    given = input_file.STANDARD_INPUT if name is None else name
    data = input_file.read_whole(given, _LARGEST, AnswersError, "; answers are a few lines")
    lines = data.decode("utf-8-sig", "replace").splitlines()
    return lines if name is not None else lines or None


def asker_of(lines: list[str] | None, plain: bool, instead: str, screen: Screen) -> Asker | None:
    """Who answers: these lines, or whoever is at the terminal; None where there is none. instead: what to give then."""
    if lines is not None:
        return Lines(lines, screen)
    try:
        return prompts.terminal(plain, instead, screen)
    except prompts.NoTerminalError:
        return None
