"""The card for the toolbox as a page of HTML: two sides of one sheet, A4 or Letter.

Purpose: lay both sides out in two columns, in the largest letters with which each fits on its side.
Law: black on white; nothing is fetched; every text goes through `html_safe`. Rows are counted by the widths of the
usual faces with room to spare, so that a side that fits here fits on paper. The same card gives the same bytes.
Not here: what stands on it (see `card_side`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import fsum

from ..record import document, html_safe
from ..terminal import letters, sketch
from .card_side import Block, Side

# What A4 and Letter both leave within margins of 10 mm, in points; a line is lost to rounding by the printer.
WIDE, HIGH = 537.0, 725.0
SIZES = (9.5, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0)
SHARES = (80, 70, 60, 50, 45)
"""Of the width of a column that a drawing takes, percent; drawings smaller than half come after smaller letters."""
_GAP, _LEAD, _HEAD, _SPARE = 14.0, 1.22, 46.0, 0.95
_STYLE = """
@page { margin: 10mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; color: #000; background: #fff; max-width: 60rem;
  font-family: "Liberation Sans", Arial, Helvetica, sans-serif; line-height: 1.22; overflow-wrap: break-word; }
h1 { font-size: 16px; margin: 0; } h1 + p { margin: 2px 0 8px; }
h2 { font-size: 1.1em; margin: .5em 0 .15em; border-bottom: 1px solid #000; }
p { margin: 0 0 .2em; padding-left: .8em; text-indent: -.8em; } header p { padding: 0; text-indent: 0; }
.columns { display: flex; gap: 14pt; } .columns div { flex: 1 1 0; min-width: 0; }
figure { margin: 0 0 6pt; border: .6pt solid #000; padding: 3pt; break-inside: avoid; }
figure svg { display: block; height: auto; margin: 0 auto; } figcaption { font-weight: 700; }
@media screen and (max-width: 40rem) { .columns { display: block; } .side { font-size: 16px !important; } }
@media print { body { padding: 0; max-width: none; } .side + .side { break-before: page; } }
"""
_STYLE += "".join(f".drawn-{share} figure svg {{ width: {share}%; }}\n" for share in SHARES)


@dataclass(frozen=True, slots=True)
class LaidSide:
    """A side with its size of letters in points, the share of a column that a drawing takes, its two columns, and
    their heights."""

    side: Side
    size: float
    share: int
    columns: tuple[tuple[Block, ...], tuple[Block, ...]]
    high: tuple[float, float]

    @property
    def fits(self) -> bool:
        """Whether both columns end above the lower edge."""
        return max(self.high) <= HIGH


def laid(side: Side) -> LaidSide:
    """The side in the largest letters with which it fits, or in the smallest there are."""
    for size in SIZES:
        for share in SHARES:
            found = _split(side, size, share)
            if found.fits:
                return found
    return found


def shared_out(sides: tuple[Side, Side]) -> tuple[Side, Side]:
    """The sides with their drawings, in their order, first on the front and then on the back, so that the smaller
    letters of the two are the largest there can be; of such, as many on the front as there can be."""
    front, back = sides
    told = tuple(block for block in front.blocks if block.drawing is None)
    drawn = tuple(block for block in front.blocks if block.drawing is not None)

    def parted(at: int) -> tuple[Side, Side]:
        return replace(front, blocks=told + drawn[:at]), replace(back, blocks=back.blocks + drawn[at:])

    def worth(pair: tuple[Side, Side]) -> tuple[float, int]:
        both = [laid(side) for side in pair]
        return min(each.size for each in both), min(each.share for each in both)

    return max((parted(at) for at in range(len(drawn), -1, -1)), key=worth)


def _split(side: Side, size: float, share: int) -> LaidSide:
    """The columns as even as they can be, in the order of the blocks; no heading stands at the foot of the first."""
    heights = [high(block, size, share) for block in side.blocks]
    head = _HEAD
    best: tuple[float, int] | None = None
    for at in range(1, len(heights)):
        if not side.blocks[at - 1].heading:
            worst = max(fsum(heights[:at]), fsum(heights[at:]))
            best = min(best or (worst, at), (worst, at))
    at = best[1] if best is not None else len(heights)
    return LaidSide(
        side, size, share, (side.blocks[:at], side.blocks[at:]), (head + fsum(heights[:at]), head + fsum(heights[at:]))
    )


def high(block: Block, size: float, share: int = SHARES[0]) -> float:
    """Height of a block in a column, in points."""
    room = (WIDE - _GAP) / 2
    if block.drawing is not None:
        art = block.drawing.art
        wide = max(map(len, art)) * sketch.ACROSS + 12
        return size * _LEAD + share / 100 * (room - 8) * (len(art) * sketch.DOWN + 12) / wide + 14.0
    if block.heading:
        return 1.1 * size * _LEAD + 0.72 * size + 1.0
    # Bold letters throughout and a little less room: what is counted is never less than what is printed.
    return (
        len(letters.wrapped(_words(block), (room - 0.8 * size) * _SPARE, size, bold=True)) * size * _LEAD + 0.2 * size
    )


def _words(block: Block) -> str:
    return f"{block.lead}: {block.text}" if block.text else block.lead


def page(sides: Sequence[Side]) -> str:
    """The whole HTML file."""
    return document("Card for the toolbox", _STYLE, "".join(_side(laid(side)) for side in sides))


def _side(found: LaidSide) -> str:
    side = found.side
    columns = "".join(f"<div>\n{''.join(_block(block) for block in column)}</div>\n" for column in found.columns)
    return (
        f'<section class="side drawn-{found.share}" style="font-size: {found.size:g}pt">\n'
        f"<header><h1>{html_safe(side.title)}</h1><p>{html_safe(side.note)}</p></header>\n"
        f'<div class="columns">\n{columns}</div>\n</section>\n'
    )


def _block(block: Block) -> str:
    if block.drawing is not None:
        return sketch.figure(block.drawing.art, block.drawing.title, block.drawing.in_words)
    if block.heading:
        return f"<h2>{html_safe(block.lead)}</h2>\n"
    text = f": {html_safe(block.text)}" if block.text else ""
    return f"<p><b>{html_safe(block.lead)}</b>{text}</p>\n"
