"""What a technician's eye and meter make of a run.

Purpose: mean, swing, rhythm and the number on a cheap meter's display, from the records of a run.
Law: pure functions of the records; noise only from the draws that are handed in.
Not here: which run is looked at and what it is called (see `measurements`, `trials`, `looks`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import fsum
from operator import mul

from .draws import Draws
from .running import Run
from .under_test import SetUnderTest

Check = Callable[[SetUnderTest, Draws], str]
"""How a check is made: the bench, and the draws of its noise, to what it shows."""
SWINGS = 0.5
"""Hz from peak to peak, per 60 Hz, that the eye takes for a swing."""
DEAD = 25.0
"""Hz below which the set has stalled and no meter shows anything."""
UNKNOWN = "unknown"


def settled(run_: Run, seconds: float = 20.0) -> tuple[float, ...]:
    """Frequency over the last seconds of a run, Hz."""
    return run_.hertz[-round(seconds * run_.rate) :]


def smooth(values: Sequence[float], width: int) -> list[float]:
    """Mean over a window of `width` records, what a needle or a counter shows of them."""
    total, shown = fsum(values[:width]), []
    for place in range(width, len(values) + 1):
        shown.append(total / width)
        if place < len(values):
            total += values[place] - values[place - width]
    return shown


def peak_to_peak(values: Sequence[float], width: int = 5) -> float:
    """Highest less lowest of what a needle shows, Hz."""
    shown = smooth(values, width)
    return max(shown) - min(shown)


def level(values: Sequence[float]) -> list[float]:
    """The same values without their straight-line drift: a speed that sinks does not swing."""
    count = len(values)
    middle = 0.5 * (count - 1)
    rises = fsum((place - middle) * value for place, value in enumerate(values))
    slope = rises * 12.0 / (count * (count * count - 1.0))
    return [value - slope * (place - middle) for place, value in enumerate(values)]


def rhythm(values: Sequence[float]) -> float:
    """How regular a swing is: highest autocorrelation of lags up to ten seconds, past its first dip."""
    shown = smooth(values, 3)
    mean = fsum(shown) / len(shown)
    off = [value - mean for value in shown]
    power = fsum(value * value for value in off) or 1.0
    best, dipped = 0.0, False
    for lag in range(4, min(200, len(off) // 2)):
        score = fsum(map(mul, off, off[lag:])) / power * len(off) / (len(off) - lag)
        if score < 0.2:
            dipped = True
        elif dipped:
            best = max(best, score)
    return best


def swing(bench: SetUnderTest, run_: Run) -> tuple[float, str]:
    """Peak to peak in Hz, and what it looks like: steady, slow_swing, fast_jiggle or erratic."""
    values = settled(run_, 30.0)
    if min(values) <= 0.0:
        return 0.0, "erratic"  # it has died
    flat = level(values)
    size = peak_to_peak(flat)
    limit = SWINGS * bench.plant.hertz / 60.0
    travel = run_.travel[-len(values) :]
    shake = fsum(abs(after - before) for before, after in pairwise(travel)) / len(travel)
    if size < limit:
        return (size, "fast_jiggle") if shake > 0.006 else (size, "steady")
    return size, "slow_swing" if rhythm(flat) > 0.4 else "erratic"


def worse(seen: tuple[float, str]) -> tuple[bool, float]:
    return seen[1] != "steady", seen[0]


def average(values: Sequence[float]) -> float:
    return fsum(values) / len(values)


def metered(bench: SetUnderTest, draws: Draws, hertz: float) -> float:
    meter = bench.plant.meter
    value = hertz + meter.offset + draws.normal(meter.noise)
    if meter.restless and draws.uniform() < meter.restless:
        value += draws.uniform(-2.0, 2.0)
    return round(value, 1)


def in_hertz(value: float) -> str:
    return f"{value:.1f} Hz"
