"""Frequency against load as a picture for paper: an SVG, black on white.

Purpose: readings as found and as left in one picture, with the fall that is allowed with load.
Law: marks, lines and words tell the runs apart, never colour; all text is escaped; no style sheet, font or network.
Not here: the picture in the terminal (see `load_view`), pictures over time (see `plot`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ...engine.loadtest import Result
from ..terminal import svg
from .load_record import LoadTest
from .load_view import RUN_TITLES, allowance

_WIDE, _HIGH = 460, 310
_LEFT = 52
_DASH = {"as_found": "6 4", "as_left": ""}


def load_plot(found: LoadTest) -> str:
    """The picture, as an `svg` element without width and height, so that it fits where it is put."""
    results = [result for result in found.results if any(point.hertz for point in result.points)]
    lines = [(result, _points(result)) for result in results]
    shade = _allowed(found, results[-1])
    every = [hertz for _, points in lines for _, hertz in points] + list(shade or ())
    most = max(1.0, *(load for _, points in lines for load, _ in points))
    # Room at both ends, and no step so small that it shows what no meter reads.
    upright = svg.scale(min(every) - 0.3, max(every) + 0.3, 8, least=0.5)
    axes = svg.Axes(_WIDE, _HIGH, _LEFT, 16, 36, 50, 0.0, most, upright)
    body = [] if shade is None else [axes.shade(0.0, 1.0, *shade)]
    body += axes.grid()
    body += axes.ticks([(at / 100.0, str(at)) for at in range(0, int(most * 100 + 0.5) + 1, 25)])
    for result, points in lines:
        body += _line(result.run, [(axes.across(load), axes.down(hertz)) for load, hertz in points])
    body += _legend([result.run for result in results], shade is not None)
    body += axes.frame("load, % of full load here", "frequency, Hz")
    told = "; ".join(
        f"{RUN_TITLES[result.run]}: " + ", ".join(f"{hertz:.2f} Hz at {load:.0%}" for load, hertz in points)
        for result, points in lines
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE} {_HIGH}" role="img" '
        'font-family="sans-serif" font-size="14">\n<title>Frequency against load</title>\n'
        f"<desc>{svg.safe(told)}</desc>\n" + "\n".join(body) + "\n</svg>"
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
        drawn += [*_line(run, [(x + 4, 16), (x + 34, 16)]), svg.text(x + 42, 20, RUN_TITLES[run], "start")]
        x += 118
    if shaded:
        drawn.append(svg.rect(x, 9, 26, 14, svg.LIMITS))
        drawn.append(svg.text(x + 33, 20, f"allowed, {RUN_TITLES[runs[-1]]}", "start"))
    return drawn
