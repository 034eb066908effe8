"""Sense of drawings: they fit the smallest screen, name their parts, and each step has one at most.

Purpose: one small function for each rule about drawings (see `rules` for how they are run).
Law: a rule looks at trees and yields problems; it is named after what must hold.
Not here: what a drawing shows, and how it is drawn (see `drawing`).
"""

from __future__ import annotations

from collections.abc import Iterator

from ..problems import Problem, quoted
from .drawing import HIGH, WIDE, art_rows
from .entries import Entries, strings, text


def drawings_can_be_shown(entries: Entries) -> Iterator[Problem]:
    """A drawing fits the smallest screen, in letters that every terminal has, and its parts are named in it."""
    for drawing in entries.all("drawings"):
        art = text(drawing.node, "art")
        rows = art_rows(art.value) if art is not None else ()
        if art is None:
            continue
        if len(rows) > HIGH:
            yield drawing.problem("K090", f"{len(rows)} rows, more than {HIGH}", "leave out what is not needed", art)
        for place, row in enumerate(rows, 1):
            strange = next((letter for letter in row if not " " <= letter <= "~"), "")
            if strange:
                what = f"row {place} holds {quoted(strange)}"
                yield drawing.problem("K090", what, "use the letters and signs of ASCII", art)
            elif len(row) > WIDE:
                yield drawing.problem("K090", f"row {place} has {len(row)} columns, more than {WIDE}", "", art)
        for part in strings(drawing.node, "parts"):
            if not any(part.value in row for row in rows):
                what = f"the part {quoted(part.value)} is not named in the drawing"
                yield drawing.problem("K090", what, "write it in a row, or leave it out of `parts`", part)


def steps_have_one_drawing(entries: Entries) -> Iterator[Problem]:
    """No check and no remedy is in two drawings: one key shows one."""
    first: dict[str, str] = {}
    for drawing in entries.all("drawings"):
        for step in strings(drawing.node, "of"):
            other = first.setdefault(step.value, drawing.id)
            if other != drawing.id:
                what = f"{quoted(step.value)} has the drawing {quoted(other)} already"
                yield drawing.problem("K091", what, "name it in the one that shows more of it", step)
