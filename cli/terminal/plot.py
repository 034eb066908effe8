"""Line plots: in the terminal with blocks or plain ASCII, and as SVG for paper.

Purpose: one picture of readings over time or over load, with shaded limits and marked places.
Law: every reading counts, since a column shows the lowest and the highest of its readings; nothing depends on colour;
an SVG is made of the pieces of `svg`.
Not checked here: what the readings mean.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from . import svg

BLOCKS = {(True, True): "\u2588", (True, False): "\u2580", (False, True): "\u2584", (False, False): " "}
ASCII = {(True, True): "#", (True, False): "'", (False, True): ".", (False, False): " "}


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on the horizontal axis with a short text."""

    at: float
    text: str


@dataclass(frozen=True, slots=True)
class Shade:
    """A band from `low` to `high` between two places on the horizontal axis."""

    begin: float
    end: float
    low: float
    high: float


def columns(
    x: Sequence[float], y: Sequence[float], count: int, begin: float, end: float
) -> list[tuple[float, float] | None]:
    """Lowest and highest y of each of `count` columns from begin to end; None where a column has no reading."""
    found: list[tuple[float, float] | None] = [None] * count
    scale = count / (end - begin) if end > begin else 0.0
    for at, value in zip(x, y, strict=True):
        place = min(count - 1, max(0, int((at - begin) * scale)))
        seen = found[place]
        if seen is None:
            found[place] = (value, value)
        elif value < seen[0]:
            found[place] = (value, seen[1])
        elif value > seen[1]:
            found[place] = (seen[0], value)
    return found


def text_plot(
    x: Sequence[float], y: Sequence[float], *, width: int, height: int = 12, ascii_only: bool = False,
    marks: Sequence[Mark] = (), label: Callable[[float], str] = "{:g}".format, unit: str = "",
    limits: tuple[float, float] | None = None,
) -> list[str]:  # fmt: skip
    """Lines of text, each at most `width` characters, that draw y over x; marks as carets below the axis.

    limits: values that the upright axis holds at least, so that two plots can be compared. Each row of text shows two
    rows of readings. Gaps between columns are joined upright, so that a step is one line.
    """
    if not x:
        return []
    lowest, highest = limits or (min(y), max(y))
    upright = svg.scale(min(lowest, *y), max(highest, *y), max(2, height // 3))
    low, high, ticks = upright.low, upright.high, upright.ticks
    names = [upright.number(tick) for tick in ticks]
    margin = max(len(name) for name in names) + 1
    across = max(8, width - margin - 1)
    seen = columns(x, y, across, x[0], x[-1])
    rows = 2 * height
    grid = [[False] * across for _ in range(rows)]

    def row(value: float) -> int:
        return min(rows - 1, max(0, int((value - low) / (high - low) * rows)))

    before: tuple[int, int] | None = None
    for n, pair in enumerate(seen):
        if pair is None:
            continue  # a reading every few columns, or a gap: left empty
        bottom, top = row(pair[0]), row(pair[1])
        drawn = (bottom, top)
        if before is not None and seen[n - 1] is not None:
            if bottom > before[1]:
                bottom = before[1] + 1
            elif top < before[0]:
                top = before[0] - 1
        for line in range(bottom, top + 1):
            grid[line][n] = True
        before = drawn
    chars, wall = (ASCII, "|") if ascii_only else (BLOCKS, "\u2502")
    at_row = {row(tick) // 2: name for tick, name in zip(ticks, names, strict=True)}
    lines = [unit.rjust(margin - 1)] if unit else []
    for upper in range(height - 1, -1, -1):
        body = "".join(chars[grid[2 * upper + 1][n], grid[2 * upper][n]] for n in range(across))
        lines.append(f"{at_row.get(upper, '').rjust(margin - 1)} {wall}{body}".rstrip())
    lines.append(" " * margin + ("+" if ascii_only else "\u2514") + ("-" if ascii_only else "\u2500") * across)
    if marks:
        carets = [" "] * across
        for mark in marks:
            carets[min(across - 1, max(0, int((mark.at - x[0]) / ((x[-1] - x[0]) or 1.0) * across)))] = "^"
        lines.append(" " * (margin + 1) + "".join(carets).rstrip())
    first, last = label(x[0]), label(x[-1])
    lines.append(" " * (margin + 1) + first + last.rjust(max(1, across - len(first))))
    return [line[:width] for line in lines]


def svg_plot(
    x: Sequence[float], y: Sequence[float], *, title: str, x_label: str, y_label: str, marks: Sequence[Mark] = (),
    shades: Sequence[Shade] = (), label: Callable[[float], str] = "{:g}".format, width: int = 900, height: int = 420,
    beside: Sequence[float] = (),
) -> str:  # fmt: skip
    """A whole SVG document: black on white, limits shaded in light grey with dashed edges, marks as numbered lines.

    beside: a second y over the same x, dashed. It needs no style sheet, font or network, and reads the same when
    printed without colour.
    """
    top, bottom = 40, 56
    lowest = min([*y, *beside, *(shade.low for shade in shades)], default=0.0)
    highest = max([*y, *beside, *(shade.high for shade in shades)], default=1.0)
    begin, end = (x[0], x[-1]) if x else (0.0, 1.0)
    end = end if end != begin else begin + 1.0
    axes = svg.Axes(width, height, 64, 16, top, bottom, begin, end, svg.scale(lowest, highest, 6))
    body = [axes.shade(max(begin, each.begin), min(end, each.end), each.low, each.high) for each in shades]
    body += axes.grid()
    body += axes.ticks([(at, label(at)) for at in (begin + (end - begin) * n / 5 for n in range(6))])
    for number, mark in enumerate(marks, 1):
        at = axes.across(mark.at)
        line = f"M{at:.1f} {top}V{height - bottom}"
        body.append(f'<path d="{line}" stroke="#000" stroke-width="0.8" stroke-dasharray="2 3">')
        body.append(f"<title>{svg.safe(mark.text)}</title></path>")
        body.append(svg.text(at, top - 6, str(number), "middle"))
    line = _line(x, y, axes)
    body.append(f'<path d="{line}" fill="none" stroke="#000" stroke-width="1.2"/>')
    if beside:
        other = _line(x, beside, axes)
        body.append(f'<path d="{other}" fill="none" stroke="#000" stroke-width="1.2" stroke-dasharray="6 4"/>')
    body.append(svg.text(axes.left, 18, title, "start", 15))
    body += axes.frame(x_label, y_label)
    described = "; ".join(f"{n} {mark.text}" for n, mark in enumerate(marks, 1))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        'role="img" font-family="sans-serif" font-size="12">\n'
        f"<title>{svg.safe(title)}</title>\n<desc>{svg.safe(described)}</desc>\n"
        f'<rect width="{width}" height="{height}" fill="#fff"/>\n' + "\n".join(body) + "\n</svg>\n"
    )


def _line(x: Sequence[float], y: Sequence[float], axes: svg.Axes) -> str:
    """The path through all readings, or through the lowest and highest of each half pixel where there are more."""
    wide = axes.wide - axes.left - axes.right
    if len(x) <= 4 * wide:
        points = list(zip(x, y, strict=True))
    else:
        points = []
        count, begin, end = 2 * wide, x[0], x[-1]
        for n, pair in enumerate(columns(x, y, count, begin, end)):
            if pair is not None:
                at = begin + (n + 0.5) * (end - begin) / count
                points += [(at, pair[0]), (at, pair[1])]
    return "M" + "L".join(f"{axes.across(at):.1f} {axes.down(value):.1f}" for at, value in points) if points else "M0 0"
