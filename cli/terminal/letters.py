"""How wide letters are, and text in rows that fit a box in whatever face they come out.

Purpose: one measure for every drawing and sheet of the program. A sheet goes to machines and printers that nobody here
has seen, and each takes a face of its own where it has not the one that was asked for.
Law: never narrower than a wide proportional face nor than a fixed-pitch one, and a little slack on top. The advance
widths are those of a free face of the widest kind that stands in for Arial (DejaVu Sans 2.37, from its own tables,
rounded up); a fixed-pitch letter takes 0.602 of its size (DejaVu Sans Mono).
Not here: what is written, and rows of a terminal (see `wrapping`).
"""

from __future__ import annotations

import re
from functools import cache

from ...engine.problems import columns

FACE = "'Liberation Sans', Arial, Helvetica, sans-serif"
SMALLEST = 5.5
"""Points below which letters on paper are too small to be read."""
SLACK = 1.03
# Advance widths in thousandths of the size; what is not named is as wide as "e", or a column as one.
_WIDE: dict[str, int] = {
    **dict.fromkeys("'ijl", 297), **dict.fromkeys(" \xa0IJ,./:;\\|", 342), **dict.fromkeys("()-[]f", 400),
    **dict.fromkeys("!rt", 425), **dict.fromkeys('"', 470), **dict.fromkeys("*?Lcsz_`", 580),
    **dict.fromkeys("vxyk", 600), **dict.fromkeys("ABCKRSVXZ", 700), **dict.fromkeys("DGHNOQU&", 790),
    **dict.fromkeys("#+<=>^~wM", 865), **dict.fromkeys("%Wm@", 1000),
}  # fmt: skip
_USUAL, _PITCH = 640, 602
_BOLD = 1.14
"""How much wider than its own the bold of a wide face is; of a fixed-pitch one it is as wide."""


def width(text: str, size: float, bold: bool = False) -> float:
    """Room that a text needs in any face, in the unit of its size."""
    return _needed(_wide(text), len(text), size, bold)


@cache
def wrapped(text: str, room: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """Text in rows that fit the room; a figure keeps its unit, and a word that does not fit is cut."""
    words = _UNITS.sub("\xa0", text).split(" ")
    rows = [words[0]]
    wide, count = _wide(words[0]), len(words[0])
    for word in words[1:]:
        more, longer = wide + _WIDE[" "] + _wide(word), count + 1 + len(word)
        if not rows[-1]:
            rows[-1], wide, count = word, _wide(word), len(word)
        elif _needed(more, longer, size, bold) <= room:
            rows[-1], wide, count = f"{rows[-1]} {word}", more, longer
        else:
            rows.append(word)
            wide, count = _wide(word), len(word)
    return tuple(piece for row in rows for piece in _cut(row, room, size, bold))


_UNITS = re.compile(r"(?<=\d) (?=%|min\b|h\b|Hz\b|in\b)")


@cache
def _wide(text: str) -> int:
    """The advance widths of a text in the wide face, in thousandths of its size."""
    return sum(_WIDE.get(letter, _USUAL * columns(letter)) for letter in text)


def _needed(wide: int, count: int, size: float, bold: bool) -> float:
    return max(wide * (_BOLD if bold else 1.0), float(_PITCH * count)) / 1000 * size * SLACK


def _cut(row: str, room: float, size: float, bold: bool) -> list[str]:
    """A row, in pieces where even one word of it is too long."""
    if width(row, size, bold) <= room:
        return [row]
    pieces = [""]
    for letter in row:
        if pieces[-1] and width(pieces[-1] + letter, size, bold) > room:
            pieces.append("")
        pieces[-1] += letter
    return pieces
