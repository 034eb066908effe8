"""A problem in the knowledge: a value, with a code, a place and a help.

Purpose: one shape for everything that can be wrong in a knowledge file, one order, one plain rendering.
Law: nothing here reads a file or decides what is wrong; codes and their explanations are in `codes`.
Not checked here: whether the place exists.
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable, Sequence
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
WIDEST = 100


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


def render(problem: Problem, text_line: str, widest: int = WIDEST) -> str:
    """The problem as lines of plain text: what and where, the source line, a caret under the column, the help.

    Parameters: `text_line` is the source line as written, without its line end; empty leaves it and the caret out.
    `widest`: how many columns of it are shown. The text has no colour and no control character, and is the same in
    every terminal. The caret stands under its place also where wide letters, marks over letters or a tab (shown
    as an escape) come before it.
    """
    head = f"{problem.file}:{problem.line}:{problem.column}: {problem.severity} {problem.code}: {problem.message}"
    lines = [printable(head)]
    if text_line.strip():
        before = printable(text_line[: problem.column - 1])
        rest = printable(text_line[problem.column - 1 :])
        if columns(before) > widest - 20:
            before = "..." + _last_columns(before, widest - 23)
        if columns(before) + columns(rest) > widest:
            rest = _first_columns(rest, widest - columns(before) - 3) + "..."
        lines += [f"  {before}{rest}".rstrip(), f"  {' ' * columns(before)}^"]
    if problem.help:
        lines.append(printable(f"help: {problem.help}"))
    return "\n".join(lines)


def columns(text: str) -> int:
    """How many columns of a terminal the text takes: two for a wide letter, none for a mark over another one."""
    return len(text) if text.isascii() else sum(map(_columns_of, text))


def _columns_of(letter: str) -> int:
    if unicodedata.category(letter) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(letter) in ("W", "F") else 1


def _first_columns(text: str, room: int) -> str:
    """As much of the start of a text as fits."""
    taken = 0
    for place, letter in enumerate(text):
        taken += _columns_of(letter)
        if taken > room:
            return text[:place]
    return text


def _last_columns(text: str, room: int) -> str:
    return _first_columns(text[::-1], room)[::-1]


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


def shown(text: str) -> str:
    """A user's text made safe to print: control characters escaped, long text cut."""
    cleaned = printable(text)
    return cleaned if len(cleaned) <= 60 else cleaned[:57] + "..."


def listed(names: Sequence[str]) -> str:
    """Names as a sentence lists them: "a, b or c"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


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
        ├── JobError             a step or a job file that cannot be used
        │   └── HeldError        a step that must not be taken while the job is held
        ├── CallOutError         an edit of whose sets nothing can be said
        ├── CaseError            a solved case that this knowledge cannot replay
        ├── PlaceError           a word that is not where it was read
        ├── TraceError           a log or recording that cannot be used
        ├── TrimError            a pair, a target or a trial that cannot be used
        ├── DrillError           a drill that cannot be dealt
        ├── CurveError           a curve that cannot be drawn
        ├── ExampleError         a worked example that cannot be computed
        ├── WorkerError          work given to others that did not come back
        └── FaultError           a cause or a severity that the simulated set does not know

    They mean misuse or the impossible; a command has one of its own beside it, for wrong use. What is wrong in a
    knowledge file is a `Problem`, a value.
    """


class AnswerError(HertzwrightError):
    """An answer that cannot be used. The message shows it, and says what was expected. `meant`: the one answer that the
    message proposes, as it would be typed; empty where it proposes none."""

    def __init__(self, message: str, meant: str = "") -> None:
        super().__init__(message)
        self.meant = meant


class KnowledgeError(HertzwrightError):
    """The knowledge cannot be used. `problems` holds every problem found, worst first."""

    def __init__(self, problems: Iterable[Problem], folder: str = "") -> None:
        self.problems = worst_first(problems)
        self.folder = folder
        errors = sum(problem.severity == "error" for problem in self.problems)
        count = f"{errors} error{'' if errors == 1 else 's'} in the knowledge"
        first = f"; first: {self.problems[0]}" if self.problems else ""
        super().__init__(count + first)

    def __reduce__(self) -> tuple[type[KnowledgeError], tuple[tuple[Problem, ...], str]]:
        # Sent from another process, it must be made again from its problems and not from its message.
        return type(self), (tuple(self.problems), self.folder)
