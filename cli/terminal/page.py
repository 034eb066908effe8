"""One page: what a technician sees at one prompt, as frozen data, and its rows at any size.

Purpose: one description for both ways of showing it, the full screen (see `full_screen`) and the plain scroll (see
`prompts`).
Law: pure. A page that has room stands on one leaf, its input line included. Where it is too long it says less before it
takes a second leaf: blank rows go, then the lead and the briefs of answers (which stand under a key). Cautions, the
question, its limits and the names of the answers are never cut. Nothing is told by colour alone.
Not here: what belongs on a page (see the rooms that ask), and how a key is read.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from ...engine.problems import columns, printable
from . import wrapping

MORE = "Enter or space: more"
_LEAD_ROWS, _LEAST_LEAD = 3, 2
"""Rows of the lead where there is little room, and least."""
_SENTENCES = re.compile(r"(?<=[.?!])\s+(?=[A-Z])")
_KEPT_TOGETHER = 4
"""Rows that may move to the next leaf for what belongs together."""
_NAME = 6
"""Columns of the name of a set, with its dots, that are kept in the top line before how it stands is left out."""
_AIR = 3
"""Rows that must be left over before blank ones are put between the parts of a page."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of text as it stands on the screen."""

    text: str
    style: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """One paragraph. `indent` starts its first row, `hanging` (else as many blanks) the others."""

    text: str
    style: str = ""
    indent: str = ""
    hanging: str | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """An answer: its key, its name, and what it means where the name does not say it."""

    key: str
    name: str
    brief: str = ""

    @property
    def text(self) -> str:
        return f"{self.name}: {self.brief}" if self.brief else self.name


@dataclass(frozen=True, slots=True)
class Page:
    """What is seen at one prompt.

    top: the set; status: minutes, held or safe, how it stands. body: what stands before the question.
    cautions: title and text of each, in full. known: titles of those acknowledged before, for one line. limits: what is
    right, in figures. form: how a reading is typed. lead: the leading cause and what this step tells. keys: (key, word)
    of what else can be done. words: offered for completion. commands: what may be typed before the last leaf.
    at_once: a digit answers without Enter where the terminal can tell. fresh: what was typed ahead is no answer.
    sheet: nothing is asked; Enter or space is done with it, and a line that is typed answers what is asked behind it.
    anywhere: words typed on any leaf are taken; Enter alone reads on. read: it was read to its end, so that what is new
    stands beside the question and not on its first leaf.
    """

    top: str = ""
    status: tuple[str, ...] = ()
    title: str = ""
    body: tuple[Line | Row, ...] = ()
    cautions: tuple[tuple[str, str], ...] = ()
    known: tuple[str, ...] = ()
    question: str = ""
    limits: str = ""
    choices: tuple[Choice, ...] = ()
    form: str = ""
    lead: str = ""
    keys: tuple[tuple[str, str], ...] = ()
    hint: str = ""
    prompt: str = "> "
    words: tuple[str, ...] = ()
    commands: frozenset[str] = field(default_factory=frozenset)
    at_once: bool = False
    fresh: bool = False
    sheet: bool = False
    anywhere: bool = False
    read: bool = False


@dataclass(frozen=True, slots=True)
class Leaf:
    """What is seen at once of a page: its rows, and the keys of the answers seen by then. last: it is the last."""

    rows: tuple[Row, ...]
    answers: frozenset[str]
    last: bool


class Face(Protocol):
    """How text looks: columns, rows (None where there is no end), and whether lines and blocks can be drawn."""

    @property
    def width(self) -> int: ...

    @property
    def height(self) -> int | None: ...

    @property
    def drawn(self) -> bool: ...

    @property
    def blocks(self) -> bool: ...


def rows_of(line: Line, width: int) -> list[Row]:
    """A paragraph, wrapped; one empty row for an empty one."""
    indent = printable(line.indent)
    hanging = " " * columns(indent) if line.hanging is None else printable(line.hanging)
    found = wrapping.wrap(printable(line.text), width, indent, hanging) or [indent.rstrip()]
    return [Row(text, line.style) for text in found]


def caution_lines(title: str, text: str, face: Face) -> list[Line]:
    """A danger, set off from everything else."""
    if not face.drawn:
        return [Line(f"Caution, {title.lower()}: {' '.join(text.split())}")]
    edge = "\u258c " if face.blocks else "| "
    head = Line(f"CAUTION: {title}", "bold yellow", edge, edge)
    return [head, *(Line(sentence, "yellow", edge, edge) for sentence in text.splitlines())]


def choice_lines(choices: Sequence[tuple[str, str]]) -> list[Line]:
    """Keys and what they mean, the keys in a column."""
    room = max((columns(key) for key, _ in choices), default=0)
    return [Line(text, "", f" {' ' * (room - columns(key))}{key}  ", " " * (room + 3)) for key, text in choices]


def lay_out(page: Page, face: Face, said: Sequence[Row] = ()) -> tuple[Leaf, ...]:
    """The leaves of a page. said: rows that came of the last answer, which stand first on it."""
    width, height = face.width, face.height
    everything = frozenset(choice.key for choice in page.choices)
    said = [row for each in said for row in _again(each, width)]
    parts = _Parts(page, face)
    if height is None:
        return (Leaf((*said, *parts.front(True), *parts.asked(0)), everything, True),)
    room = max(8, height - 1)
    airy = [*parts.head(), *said, *parts.front(True), *parts.asked(0, Row(""))]
    if face.drawn and page.choices and len(airy) <= room - _AIR:
        return (Leaf(tuple(airy), everything, True),)
    # Beside cautions nothing is left out that a leaf of its own has room for.
    for less in range(_Parts.LEAST + 1 if not page.cautions else 3):
        rows = [*parts.head(), *said, *parts.front(less == 0), *parts.asked(less)]
        if len(rows) <= room:
            return (Leaf(tuple(rows), everything, True),)
    return _leaves(parts, said, room, width)


def _leaves(parts: _Parts, said: Sequence[Row], room: int, width: int) -> tuple[Leaf, ...]:
    """A page that is too long for one leaf: what stands before the question first, the question whole if it can be."""
    head, title = parts.head(), parts.title()
    none = frozenset[str]()
    news = [(list(said), none)] if said else []
    groups = [(group, none) for group in parts.groups()]
    groups = [*groups, *news] if parts.page.read else [*news, *groups]
    whole = room - len(head) - len(title) - 1
    ways = (parts.asked(less) for less in range(_Parts.LEAST))
    asked = next((way for way in ways if len(way) <= whole), parts.asked(_Parts.LEAST))
    if len(asked) <= whole:
        groups.append((asked, parts.keys))
    else:
        groups += parts.pieces()
    leaves: list[Leaf] = []
    rows: list[Row] = []
    seen: frozenset[str] = frozenset()
    pending = [piece for group in groups for piece in _split(group, whole)]
    for number, (group, answers) in enumerate(pending):
        end = number == len(pending) - 1
        top = [*head, *(title if leaves else ())]
        if rows and len(top) + len(rows) + len(group) > room - (0 if end else 1):
            leaves.append(Leaf((*top, *rows, Row(MORE, "bold")), seen, False))
            rows, top = [], [*head, *title]
        rows = [*rows, *group]
        seen |= answers
    leaves.append(Leaf((*head, *(title if leaves else ()), *rows), seen, True))
    return tuple(leaves)


def _again(row: Row, width: int) -> list[Row]:
    """A row that was laid out, perhaps on a wider screen."""
    return [row] if columns(row.text) <= width else rows_of(Line(row.text, row.style, "", "  "), width)


def _split(group: tuple[list[Row], frozenset[str]], room: int) -> list[tuple[list[Row], frozenset[str]]]:
    rows, answers = group
    parts: list[list[Row]] = []
    at = 0
    while at < len(rows):
        end = _cut(rows, at, at + room)
        parts.append(rows[at:end])
        at = end
    parts = parts or [[]]
    return [(part, answers if part is parts[-1] else frozenset()) for part in parts]


def _cut(rows: list[Row], begin: int, end: int) -> int:
    """Where a leaf that has room up to `end` ends: before a heading that would stand alone at its foot, and not within
    a paragraph that hangs, where a few rows less do that."""
    if end >= len(rows):
        return len(rows)
    for at in range(end, max(begin + 1, end - _KEPT_TOGETHER), -1):
        above, below = rows[at - 1], rows[at]
        if not above.style.startswith("bold") and above.text.strip("\u2500-") and not below.text.startswith("  "):
            return at
    return end


class _Parts:
    """The parts of a page as rows."""

    LEAST = 6

    def __init__(self, page: Page, face: Face) -> None:
        self.page, self.face = page, face

    @property
    def keys(self) -> frozenset[str]:
        return frozenset(choice.key for choice in self.page.choices)

    def _rows(self, lines: Sequence[Line]) -> list[Row]:
        return [row for line in lines for row in rows_of(line, self.face.width)]

    def head(self) -> list[Row]:
        """The top line in one row: of its name as much as there is room for, and what stands last goes first, from its
        comma on and then whole, but for the minutes and whether it may run."""
        if not self.page.top and not self.page.status:
            return []
        name, status = printable(self.page.top), [printable(each) for each in self.page.status]
        while True:
            room = self.face.width - columns("".join(f" | {each}" for each in status))
            if room >= min(columns(name), _NAME) or len(status) <= 2:
                break
            before, comma, _ = status.pop().partition(",")
            status += [before] if comma else []
        name = name if columns(name) <= room else wrapping.cut(name, max(0, room - 3)) + "..."
        return [Row(" | ".join((name, *status)), "bold reverse")]

    def title(self) -> list[Row]:
        return self._rows([Line(self.page.title, "bold")]) if self.page.title else []

    def groups(self) -> list[list[Row]]:
        """What stands before the question, in pieces that are not divided where there is room for them."""
        found = [self.title()] if self.page.title else []
        for each in self.page.body:
            wide = self.face.width
            found.append(_again(each, wide) if isinstance(each, Row) else rows_of(each, wide))
        found += [self._rows(caution_lines(*caution, self.face)) for caution in self.page.cautions]
        return found

    def front(self, airy: bool) -> list[Row]:
        rows = [row for group in self.groups() for row in group]
        return [*rows, Row("")] if rows and airy and self.face.drawn else rows

    def asked(self, less: int, *between: Row) -> list[Row]:
        """The question and all after it. less: how much is left out, 0 nothing, LEAST as much as may be."""
        parts = (self._question(), self._answers(brief=less < self.LEAST), self._tail(less))
        rows: list[Row] = []
        for part in parts:
            rows += [*(between if rows and part else ()), *part]
        return rows

    def pieces(self) -> list[tuple[list[Row], frozenset[str]]]:
        """The question, each answer, and the rest, for a list that is longer than a leaf."""
        found: list[tuple[list[Row], frozenset[str]]] = [(self._question(), frozenset())]
        lines = choice_lines([(choice.key, choice.text) for choice in self.page.choices])
        for choice, line in zip(self.page.choices, lines, strict=True):
            found.append((rows_of(line, self.face.width), frozenset({choice.key})))
        tail = self._tail(self.LEAST)
        return [each for each in (*found, (tail, frozenset())) if each[0]]

    def _question(self) -> list[Row]:
        lines = [Line(self.page.question, "bold")] if self.page.question else []
        lines += [Line(f"Right: {self.page.limits}")] if self.page.limits else []
        return self._rows(lines)

    def _answers(self, brief: bool) -> list[Row]:
        page = self.page
        lines = choice_lines([(each.key, each.text if brief else each.name) for each in page.choices])
        if page.form:
            lines.append(Line(page.form, "", "    "))
        return self._rows(lines)

    def _lead(self, lead: str, most: int | None) -> list[Row]:
        """The lead, or as many of its first sentences as have room in so many rows: nothing is cut within one."""
        sentences = _SENTENCES.split(lead)
        for count in range(len(sentences), 0, -1):
            rows = self._rows([Line(" ".join(sentences[:count]), "", "", "  ")])
            if most is None or len(rows) <= most:
                return rows
        return []

    def _tail(self, less: int) -> list[Row]:
        page, rows = self.page, []
        if page.lead and less < 4:
            most = None if less < 2 or self.face.height is None else _LEAD_ROWS if less < 3 else _LEAST_LEAD
            rows += self._lead(page.lead, most)
        if page.known and less < 5:
            rows += self._rows([Line(", ".join(page.known).lower() + ".", "", "Caution, as before: ", "  ")])
        elif page.known:
            rows += self._rows([Line(f"Cautions, as before: {len(page.known)}, all in h.")])
        if page.hint and less < 1:
            rows += self._rows([Line(page.hint, "dim")])
        if page.keys:
            keys = [f"{key} {word}".strip() for key, word in page.keys]
            # In one row of 40 columns there is no room for Enter; h, in the menu, does the same.
            told = " | ".join(keys) if less < 3 else "  ".join(key for key in keys if not key.startswith("Enter"))
            rows += self._rows([Line(told, "dim")])
        return rows
