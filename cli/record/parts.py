"""What a section of a record is made of: named facts, tables, lists, paragraphs, drawings.

Purpose: the few shapes that HTML, Markdown and the terminal each know how to draw.
Law: plain text only; whoever draws a part escapes all of it.
Not here: what a record says in them (see `sections`).
"""

from __future__ import annotations

from dataclasses import dataclass

from .load_record import LoadTest
from .service_record import RecordedDrawing

_VERDICTS = {True: "ok", False: "OUTSIDE", None: ""}


@dataclass(frozen=True, slots=True)
class FactRows:
    """Named facts: (label, text). What is empty is left out."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table with its caption. The first cell of a row names it."""

    caption: str
    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class BulletRows:
    """A list, numbered or not."""

    rows: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph. `strong`: something that must not be passed over."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class LoadCurve:
    """Where the picture of frequency against load goes."""

    load_test: LoadTest


@dataclass(frozen=True, slots=True)
class Blanks:
    """Lines to be filled in by hand: one label each."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sketches:
    """Drawings of parts, side by side where there is room."""

    drawings: tuple[RecordedDrawing, ...]


Part = FactRows | Grid | BulletRows | Words | LoadCurve | Blanks | Sketches


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what is under it."""

    title: str
    parts: tuple[Part, ...]


def date(at: str) -> str:
    """The local time of an event, to the minute."""
    return at[:16].replace("T", " ")


def verdict_told(fine: bool | None, limits: str) -> str:
    """Whether a reading lies within its limits, with the limits: "ok (60.5 to 62.5 Hz)"."""
    word = _VERDICTS[fine]
    return f"{word} ({limits})" if word and limits else word or limits
