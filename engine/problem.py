"""A problem in the knowledge: a value, with a code, a place and a help.

Purpose: one shape for everything that can be wrong in a knowledge file, one order, one plain rendering.
Law: nothing here reads a file or decides what is wrong; codes and their explanations are in `codes`.
Not checked here: whether the place exists.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from .codes import CODES, Code

__all__ = [
    "CODES",
    "Code",
    "HertzwrightError",
    "KnowledgeError",
    "Problem",
    "close_to",
    "printable",
    "quoted",
    "render",
    "worst_first",
]

Severity = Literal["error", "warning"]
_RANK = {"error": 0, "warning": 1}
_WIDEST = 100


@dataclass(frozen=True, slots=True)
class Problem:
    """One problem. `file` is relative to the knowledge folder, `line` and `column` count from 1."""

    code: str
    severity: Severity
    file: str
    line: int
    column: int
    message: str
    help: str = ""

    @classmethod
    def of(cls, code: str, file: str, line: int, column: int, message: str, help: str = "") -> Problem:  # noqa: A002
        """A problem with the severity that its code has. KeyError for a code that is not registered."""
        return cls(code, CODES[code].severity, file, line, column, message, help)

    @property
    def sort_key(self) -> tuple[int, str, int, int, str, str]:
        """Worst first, then by file, line, column."""
        return (_RANK[self.severity], self.file, self.line, self.column, self.code, self.message)

    def __str__(self) -> str:
        return printable(
            f"{self.file}:{self.line}:{self.column}: {self.severity} {self.code}: {self.message}"
            + (f" (help: {self.help})" if self.help else "")
        )


def worst_first(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Each problem once, errors before warnings, then by file, line and column."""
    return tuple(sorted(set(problems), key=lambda problem: problem.sort_key))


def render(problem: Problem, text_line: str) -> str:
    """The problem as lines of plain text: what and where, the source line, a caret under the column, the help.

    Parameters: `text_line` is the source line as written, without its line end; empty leaves it and the caret out.
    The text has no colour and no control character, and does not depend on the width of a terminal.
    """
    head = f"{problem.file}:{problem.line}:{problem.column}: {problem.severity} {problem.code}: {problem.message}"
    lines = [printable(head)]
    if text_line.strip():
        before = printable(text_line[: problem.column - 1])
        rest = printable(text_line[problem.column - 1 :])
        if len(before) > _WIDEST - 20:
            before = "..." + before[len(before) - (_WIDEST - 23) :]
        if len(before) + len(rest) > _WIDEST:
            rest = rest[: _WIDEST - len(before) - 3] + "..."
        lines += [f"  {before}{rest}".rstrip(), f"  {' ' * len(before)}^"]
    if problem.help:
        lines.append(printable(f"help: {problem.help}"))
    return "\n".join(lines)


def printable(text: str) -> str:
    """The text with every character that moves a cursor or hides written out as an escape."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else _escape(letter) for letter in text)


def _escape(letter: str) -> str:
    number = ord(letter)
    if number < 0x100:
        return f"\\x{number:02x}"
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


def quoted(value: str, limit: int = 60) -> str:
    """A value as shown in a message: in double quotes, on one line, cut where it is long."""
    short = value if len(value) <= limit else value[: limit - 3] + "..."
    return f'"{printable(short)}"'


def close_to(value: str, known: Iterable[str], otherwise: str = "") -> str:
    """A help that names what the writer may have meant, or `otherwise`."""
    names = list(known)
    near = difflib.get_close_matches(value, names, n=1, cutoff=0.6)
    if not near:
        same = [name for name in names if name.lower() == value.lower()]
        near = same[:1]
    return f"did you mean {quoted(near[0])}?" if near else otherwise


class HertzwrightError(Exception):
    """The base of all errors that this package raises.

        HertzwrightError
        ├── KnowledgeError       the knowledge cannot be used; carries all its problems
        ├── ContradictionError   findings that cannot all be true
        ├── AnswerError          an answer that a check or complaint does not take
        └── JobError             a step or a job file that cannot be used

    They mean misuse or the impossible. What is wrong in a knowledge file is a `Problem`, a value.
    """


class KnowledgeError(HertzwrightError):
    """The knowledge cannot be used. `problems` holds every problem found, worst first."""

    def __init__(self, problems: Iterable[Problem], folder: str = "") -> None:
        self.problems = worst_first(problems)
        self.folder = folder
        errors = sum(problem.severity == "error" for problem in self.problems)
        count = f"{errors} error{'' if errors == 1 else 's'} in the knowledge"
        first = f"; first: {self.problems[0]}" if self.problems else ""
        super().__init__(count + first)
