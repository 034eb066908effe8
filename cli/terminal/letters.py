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
from math import fsum

from ...engine.problems import columns

FACE = "'Liberation Sans', Arial, Helvetica, sans-serif"
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
    wide = fsum([_WIDE.get(letter, _USUAL * columns(letter)) for letter in text]) * (_BOLD if bold else 1.0)
    return max(wide, float(_PITCH * len(text))) / 1000 * size * SLACK


def wrapped(text: str, room: float, size: float, bold: bool = False) -> list[str]:
    """Text in rows that fit the room; a figure keeps its unit, and a word that does not fit is cut."""
    rows = [""]
    for word in re.sub(r"(?<=\d) (?=%|min\b|h\b|Hz\b|in\b|turns?\b)", "\xa0", text).split(" "):
        longer = f"{rows[-1]} {word}".strip(" ")
        if width(longer, size, bold) <= room:
            rows[-1] = longer
            continue
        if rows[-1]:
            rows.append("")
        for letter in word:
            if rows[-1] and width(rows[-1] + letter, size, bold) > room:
                rows.append("")
            rows[-1] += letter
    return rows
