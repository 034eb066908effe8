"""A drawing of parts: rows of plain text in which a technician sees where a part is and how it should look.

Purpose: the drawings of drawings.yaml as frozen values, each with the steps that it belongs to.
Law: see `builder`: everything met here has been checked. The rows are the drawing; whoever makes a picture of them
(SVG) reads the same rows, so that the two never differ.
Not here: pictures (see the terminal), whether a drawing fits a screen (see `rules`).
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from .entries import Entry, listed_names, value, yes
from .model import Place, Source
from .parts import Parts, lines, prose

WIDE, HIGH = 38, 18
"""Columns and rows that a drawing may take: what a screen of 40 by 24 leaves beside its question."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing. art: its rows. parts: what is named in it, as written there. of: the checks and remedies that it is
    shown with. in_words: what it shows, for a reader who cannot see it, one sentence a line. on_card: it is on the card
    for the toolbox."""

    id: str
    title: str
    in_words: str
    art: tuple[str, ...]
    parts: tuple[str, ...]
    of: tuple[str, ...]
    on_card: bool = False
    sources: tuple[Source, ...] = ()
    place: Place | None = None

    @property
    def wide(self) -> int:
        """Columns that the art takes."""
        return max(map(len, self.art), default=0)

    def rows(self, width: int = WIDE) -> tuple[str, ...]:
        """The art where it fits into so many columns, otherwise what it shows in words, wrapped."""
        if self.wide <= width:
            return self.art
        return tuple(textwrap.wrap(prose(self.in_words), max(1, width)))


def art_rows(written: str) -> tuple[str, ...]:
    """The rows of art as written, less blanks at row ends and empty rows above and below."""
    rows = [row.rstrip() for row in written.split("\n")]
    while rows and not rows[-1]:
        rows.pop()
    while rows and not rows[0]:
        rows.pop(0)
    return tuple(rows)


def built(parts: Parts, entry: Entry) -> Drawing:
    """The drawing of an entry of drawings.yaml."""
    node = entry.node
    return Drawing(
        id=entry.id,
        title=prose(value(node, "title")),
        in_words=lines(value(node, "in_words")),
        art=art_rows(value(node, "art")),
        parts=listed_names(node, "parts"),
        of=listed_names(node, "of"),
        on_card=yes(node, "on_card"),
        sources=parts.sources(node),
        place=parts.place(entry),
    )
