"""Pieces of SVG: text, boxes, and the axes of a plot.

Purpose: the one place that writes text and rectangles of a drawing, and divides an axis.
Law: black on white; all text is escaped here; no style sheet, font or network.
Not here: what is drawn (see `plot`, and the pictures of other rooms), and how wide letters are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from ...engine.problems import printable

LIMITS = 'fill="#e4e4e4" stroke="#777" stroke-width="0.8" stroke-dasharray="4 3"'
"""How a field of limits looks."""


def safe(text: str) -> str:
    """Text for SVG or HTML: nothing that moves a cursor, everything escaped."""
    return escape(printable(text))


def text(
    x: float, y: float, said: str, anchor: str = "", size: float = 0.0, bold: bool = False, more: str = ""
) -> str:  # fmt: skip
    """A row of text, from `x` on or about it by its anchor, on the line `y`. more: attributes, written as they are."""
    parts = f' text-anchor="{anchor}"' if anchor else ""
    parts += f' font-size="{size:g}"' if size else ""
    parts += ' font-weight="700"' if bold else ""
    return f'<text x="{x:.1f}" y="{y:.1f}"{parts}{more}>{safe(said)}</text>'


def rect(x: float, y: float, wide: float, high: float, more: str, inset: float = 0.0) -> str:
    """A rectangle, drawn that much inside its place. more: attributes, written as they are."""
    return (
        f'<rect x="{x + inset:.1f}" y="{y + inset:.1f}" width="{wide - 2 * inset:.1f}" '
        f'height="{high - 2 * inset:.1f}" {more}/>'
    )


@dataclass(frozen=True, slots=True)
class Scale:
    """Both ends of an axis, and the step of its ticks."""

    low: float
    high: float
    step: float

    @property
    def ticks(self) -> tuple[float, ...]:
        """Every value that has a tick, from low to high."""
        return tuple(self.low + n * self.step for n in range(round((self.high - self.low) / self.step) + 1))

    def number(self, value: float) -> str:
        """A value with the decimals that its step needs."""
        return f"{value:.{max(0, -math.floor(math.log10(self.step) + 1e-9))}f}"


def scale(low: float, high: float, count: int, least: float = 0.0) -> Scale:
    """Ends that hold low to high in about `count` steps of 1, 2 or 5 times a power of ten, each at least `least`."""
    if high - low < 1e-9:
        low, high = low - 0.5, high + 0.5
    raw = max((high - low) / count, least)
    power = 10.0 ** math.floor(math.log10(raw) + 1e-9)
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= raw * 0.999)
    return Scale(math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step, step)


@dataclass(frozen=True, slots=True)
class Axes:
    """The field of a plot, `wide` by `high` with its margins: begin to end across, a scale upright."""

    wide: int
    high: int
    left: int
    right: int
    top: int
    bottom: int
    begin: float
    end: float
    scale: Scale

    def across(self, value: float) -> float:
        """Where a value stands from the left edge."""
        return self.left + (value - self.begin) / (self.end - self.begin) * (self.wide - self.left - self.right)

    def down(self, value: float) -> float:
        """Where a value stands from the upper edge."""
        part = (value - self.scale.low) / (self.scale.high - self.scale.low)
        return self.high - self.bottom - part * (self.high - self.top - self.bottom)

    def grid(self) -> list[str]:
        """A line and its number for every tick of the upright scale."""
        found = []
        for value in self.scale.ticks:
            line = f"M{self.left} {self.down(value):.1f}H{self.wide - self.right}"
            found.append(f'<path d="{line}" stroke="#ccc" stroke-width="0.6"/>')
            found.append(text(self.left - 7, self.down(value) + 4, self.scale.number(value), "end"))
        return found

    def ticks(self, values: Sequence[tuple[float, str]]) -> list[str]:
        """A tick below the field for each (value, what is written there)."""
        found = []
        for value, said in values:
            found.append(f'<path d="M{self.across(value):.1f} {self.high - self.bottom}v5" stroke="#000"/>')
            found.append(text(self.across(value), self.high - self.bottom + 20, said, "middle"))
        return found

    def shade(self, begin: float, end: float, low: float, high: float) -> str:
        """A field of limits."""
        x, y = self.across(begin), self.down(high)
        return rect(x, y, max(0.0, self.across(end) - x), self.down(low) - y, LIMITS)

    def frame(self, across: str, upright: str) -> list[str]:
        """Both axes and what they are called."""
        left, bottom, middle = self.left, self.high - self.bottom, (self.top + self.high - self.bottom) / 2
        turned = f' transform="rotate(-90 15 {middle:.0f})"'
        return [
            f'<path d="M{left} {self.top}V{bottom}H{self.wide - self.right}" fill="none" stroke="#000"/>',
            text((left + self.wide - self.right) / 2, self.high - 10, across, "middle"),
            text(15, middle, upright, "middle", more=turned),
        ]
