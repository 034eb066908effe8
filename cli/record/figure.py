"""Frequency against load as a picture for paper: an SVG, black on white.

Purpose: readings as found and as left in one picture, with the fall that is allowed with load.
Law: marks, lines and words tell the runs apart, never colour; all text is escaped; no style sheet, font or network.
Not here: the picture in the terminal (see `load_view`), pictures over time (see `plot`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from ...engine.loadtest import Result
from .load_record import LoadTest
from .load_view import RUN_TITLES, allowance

_WIDE, _HIGH = 460, 310
_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 16, 36, 50
_DASH = {"as_found": "6 4", "as_left": ""}


def load_plot(found: LoadTest) -> str:
    """The picture, as an `svg` element without width and height, so that it fits where it is put."""
    results = [result for result in found.results if any(point.hertz for point in result.points)]
    lines = [(result, _points(result)) for result in results]
    shade = _allowed(found, results[-1])
    every = [hertz for _, points in lines for _, hertz in points] + list(shade or ())
    low, high, step = _scale(min(every), max(every))
    most = max(1.0, *(load for _, points in lines for load, _ in points))

    def across(load: float) -> float:
        return _LEFT + load / most * (_WIDE - _LEFT - _RIGHT)

    def down(hertz: float) -> float:
        return _HIGH - _BOTTOM - (hertz - low) / (high - low) * (_HIGH - _TOP - _BOTTOM)

    body = []
    if shade is not None:
        top, bottom = down(shade[1]), down(shade[0])
        body.append(
            f'<rect x="{_LEFT}" y="{top:.1f}" width="{across(1.0) - _LEFT:.1f}" height="{bottom - top:.1f}" '
            'fill="#e8e8e8" stroke="#666" stroke-width="0.8" stroke-dasharray="2 3"/>'
        )
    for n in range(round((high - low) / step) + 1):
        value = low + n * step
        body.append(f'<path d="M{_LEFT} {down(value):.1f}H{_WIDE - _RIGHT}" stroke="#bbb" stroke-width="0.6"/>')
        body.append(_text(_LEFT - 6, down(value) + 4, f"{value:.{1 if step < 1 else 0}f}", "end"))
    for percent in range(0, int(most * 100 + 0.5) + 1, 25):
        at = across(percent / 100.0)
        body.append(f'<path d="M{at:.1f} {_HIGH - _BOTTOM}v5" stroke="#000"/>')
        body.append(_text(at, _HIGH - _BOTTOM + 20, str(percent), "middle"))
    body.append(f'<path d="M{_LEFT} {_TOP}V{_HIGH - _BOTTOM}H{_WIDE - _RIGHT}" fill="none" stroke="#000"/>')
    for result, points in lines:
        body += _line(result.run, [(across(load), down(hertz)) for load, hertz in points])
    body += _legend([result.run for result in results], shade is not None)
    body.append(_text((_LEFT + _WIDE - _RIGHT) / 2, _HIGH - 8, "load, % of full load here", "middle"))
    body.append(
        f'<text x="13" y="{(_TOP + _HIGH - _BOTTOM) / 2:.0f}" text-anchor="middle" '
        f'transform="rotate(-90 13 {(_TOP + _HIGH - _BOTTOM) / 2:.0f})">frequency, Hz</text>'
    )
    told = "; ".join(
        f"{RUN_TITLES[result.run]}: " + ", ".join(f"{hertz:.2f} Hz at {load:.0%}" for load, hertz in points)
        for result, points in lines
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE} {_HIGH}" role="img" '
        'font-family="sans-serif" font-size="14">\n<title>Frequency against load</title>\n'
        f"<desc>{escape(told)}</desc>\n" + "\n".join(body) + "\n</svg>"
    )


def _allowed(found: LoadTest, result: Result) -> tuple[float, float] | None:
    """The fall that is allowed from the no-load reading; None where that reading itself is outside its limits."""
    shade = allowance(result, found.test, found.tolerance)
    scale = found.test.rated_hertz / 60.0
    low = found.tolerance.limits.get("no_load_hz_min", 0.0) * scale
    high = found.tolerance.limits.get("no_load_hz_max", math.inf) * scale
    return shade if shade is not None and low <= shade[1] <= high else None


def _points(result: Result) -> list[tuple[float, float]]:
    """(load, Hz) of a run, by load."""
    return sorted((max(0.0, point.load), point.hertz.value) for point in result.points if point.hertz)


def _line(run: str, points: Sequence[tuple[float, float]]) -> list[str]:
    """A run: dashed with open circles as found, solid with crosses as left."""
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    dash = f' stroke-dasharray="{_DASH[run]}"' if _DASH[run] else ""
    drawn = [f'<path d="{path}" fill="none" stroke="#000" stroke-width="1.4"{dash}/>'] if len(points) > 1 else []
    return drawn + [_mark(run, x, y) for x, y in points]


def _mark(run: str, x: float, y: float) -> str:
    if run == "as_found":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="#fff" stroke="#000" stroke-width="1.4"/>'
    cross = f"M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8"
    return f'<path d="{cross}" fill="none" stroke="#000" stroke-width="2"/>'


def _legend(runs: Sequence[str], shaded: bool) -> list[str]:
    drawn, x = [], float(_LEFT)
    for run in runs:
        drawn += [*_line(run, [(x + 4, 16), (x + 34, 16)]), _text(x + 42, 20, RUN_TITLES[run], "start")]
        x += 118
    if shaded:
        drawn.append(
            f'<rect x="{x:.0f}" y="9" width="26" height="14" fill="#e8e8e8" stroke="#666" stroke-width="0.8" '
            'stroke-dasharray="2 3"/>'
        )
        drawn.append(_text(x + 33, 20, f"allowed, {RUN_TITLES[runs[-1]]}", "start"))
    return drawn


def _scale(low: float, high: float) -> tuple[float, float, float]:
    """Ends and step of the axis of frequency: steps of 0.5, 1, 2 or 5 Hz, with room at both ends."""
    low, high = low - 0.3, high + 0.3
    step = next((size for size in (0.5, 1.0, 2.0, 5.0) if (high - low) / size <= 8), 10.0)
    return math.floor(low / step) * step, math.ceil(high / step) * step, step


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(text)}</text>'
