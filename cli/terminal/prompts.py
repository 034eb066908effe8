"""Asking at the terminal.

Purpose: one line of an answer, with history and completion where the terminal can do that, and plain where not.
Law: a prompt is never needed: where there is no terminal, `terminal` says which option gives the same.
Not here: what an answer means (see `session`).
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol

from ...engine.problems import HertzwrightError
from .screen import Screen


class NoTerminalError(HertzwrightError):
    """There is nobody to ask. The message says which options to give instead."""


class Stop(Exception):  # noqa: N818 - a wish of the technician, not an error
    """The technician wants to stop here. Everything is kept."""


class Asker(Protocol):
    """Something that answers prompts: a terminal, or a list of answers in tests."""

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        """One line. `words` are offered for completion. Raises Stop at the end of the input."""
        ...


class PlainAsker:
    """Reads lines with `input`, for screen readers and terminals that cannot move the cursor."""

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        if not sys.stdin.isatty():  # asked after all, where options said everything: nobody's silence is an answer
            raise NoTerminalError("no terminal to ask at")
        try:
            return input(prompt).strip()
        except EOFError:
            print()
            raise Stop from None


class TerminalAsker:
    """Reads lines with prompt_toolkit: history with the arrow keys, completion with Tab."""

    def __init__(self) -> None:
        from prompt_toolkit import PromptSession
        from prompt_toolkit.history import InMemoryHistory

        self._session: PromptSession[str] = PromptSession(history=InMemoryHistory())

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        from prompt_toolkit.completion import WordCompleter

        completer = WordCompleter(sorted(set(words)), ignore_case=True, sentence=True, match_middle=True)
        try:
            return self._session.prompt(prompt, completer=completer, complete_while_typing=False).strip()
        except EOFError:
            raise Stop from None


def terminal(plain: bool, instead: str) -> Asker:
    """The asker of this terminal. Raises NoTerminalError, with the options that do the same, where there is none."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise NoTerminalError(f"no terminal to ask at; {instead}")
    if plain or os.environ.get("TERM", "dumb") == "dumb":
        return PlainAsker()
    return TerminalAsker()


def choose(
    asker: Asker,
    screen: Screen,
    question: str,
    options: Sequence[str],
    default: int | None = None,
    also: Mapping[str, int] | None = None,
) -> int:
    """Position of the option taken, by its number or its text. Enter takes `default`, if there is one. The start of a
    text is not taken: the option that it may mean is named, to be confirmed by its number.

    also: further words, each with the position that it means.
    """
    if question:
        screen.line(question)
    screen.options(
        (str(number), text + (" (Enter)" if default == number - 1 else "")) for number, text in enumerate(options, 1)
    )
    while True:
        given = asker.ask("> ", options)
        found = (also or {}).get(given.lower(), position(given, options, default))
        if found is not None:
            return found
        if given.lower() in ("x", "stop", "quit", "q", "exit"):
            raise Stop
        expected = f"1 to {len(options)}" if len(options) > 1 else "1"
        near = [at for at, text in enumerate(options) if given and text.lower().startswith(given.lower())]
        hint = f"; did you mean {near[0] + 1}, {options[near[0]]}?" if len(near) == 1 else ""
        screen.problem(f'"{given}": expected {expected}{hint}' if given else f"expected {expected}")


def position(given: str, options: Sequence[str], default: int | None = None) -> int | None:
    """Which option an answer means: its number, its text, what stands before its first comma or colon, or yes, no, y
    or n where one option alone begins with that word; None where none of these."""
    if not given:
        return default
    if given.isdecimal():
        number = int(given[:9])
        return number - 1 if 1 <= number <= len(options) else None
    typed = {"y": "yes", "n": "no"}.get(given.lower(), given.lower())
    parts = "[^a-z]" if typed in ("yes", "no") else "[,:]"
    fits = [at for at, text in enumerate(options) if typed in (text.lower(), re.split(parts, text.lower())[0])]
    return fits[0] if len(fits) == 1 else None


def confirm(asker: Asker, screen: Screen, question: str, yes: str, no: str) -> bool:
    """A question that Enter does not answer: somebody has to mean it. The key that puts a step off means no."""
    return choose(asker, screen, question, (yes, no), also={"s": 1, "skip": 1}) == 0
