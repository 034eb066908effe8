"""A frequency record judged: stretches of steady load, and the load steps between them.

Purpose: find where the load changed, judge each stretch between (see `swing`) and measure each step (see `transient`).
Law: a step is a change of level by more than half the prescribed band and by more than SURE times its standard error,
or an excursion from the band that comes out of a calm stretch and goes back; a rhythm is not a row of steps.
Sources: definitions of TM 9-6115-464-34, para 4-14, each beside its function; steady-state band of the tolerance set.
Not checked here: the readings (see `samples`). numpy and scipy are imported only inside the functions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from ..readings import regulation
from .samples import FrequencyRecord, TraceError
from .swing import FEWEST_READINGS, TOO_SLOW, Swing, evenly, false_alarms, judge
from .transient import Levels, Transient, measure

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

BAND_PERCENT = 0.83  # of rated, whole width: half a hertz at 60 Hz (common practice, the default tolerance set)
SURE = 6.0  # standard errors
SHORTEST = 5.0  # s on each side of a step
PLATEAU = 8.0  # s; changes that follow each other faster belong to one step
MOST_FITTED = 30  # steps; in longer records recovery is read between readings
_BREAK = 5.0  # s without a reading end a piece


@dataclass(frozen=True, slots=True)
class SteadyStretch:
    """A stretch of one load. begin, end: s. mean: Hz. deviation: Hz, standard deviation. variation: +/- percent."""

    begin: float
    end: float
    readings: int
    mean: float
    deviation: float
    variation: float
    swing: Swing


@dataclass(frozen=True, slots=True)
class LoadStep:
    """A change of load. before, after: Hz, settled means. direction: "on" or "off".

    ending: "settled"; "swings on" where the stretch after it swings beyond the band; "open" where it did not stay in
    the band before the next step or the end.
    """

    direction: str
    before: float
    after: float
    ending: str
    transient: Transient

    @property
    def time(self) -> float:
        return self.transient.start


@dataclass(frozen=True, slots=True)
class TraceReport:
    """What a record shows. band: Hz, whole width of the prescribed steady-state band. regulation: percent, or None."""

    rated: float
    band: float
    stretches: tuple[SteadyStretch, ...]
    steps: tuple[LoadStep, ...]
    regulation: float | None
    remarks: tuple[str, ...]


def analyse(record: FrequencyRecord, rated: float = 60.0, band_percent: float = BAND_PERCENT) -> TraceReport:
    """The stretches and steps of a record.

    Parameters: rated, Hz. band_percent: whole width of the prescribed steady-state band, percent of rated.
    Raises TraceError where the record is too short to judge.
    """
    import numpy as np

    band = rated * band_percent / 100
    time, hertz = record.time, record.hertz
    if time[-1] - time[0] < SHORTEST:
        raise TraceError(f"the record lasts {time[-1] - time[0]:.3g} s; expected at least {SHORTEST:g} s")
    stretches: list[SteadyStretch] = []
    steps: list[LoadStep] = []
    remarks: list[str] = []
    if record.interval >= TOO_SLOW:
        remarks.append(
            f"one reading in {record.interval:.3g} s: swings faster than one in {2 * record.interval:.3g} s "
            "do not show, or show as slower ones"
        )
    breaks = np.flatnonzero(np.diff(time) > max(_BREAK, 5 * record.interval)) + 1
    pieces = [
        (time[one:other], hertz[one:other])
        for one, other in zip([0, *breaks], [*breaks, time.size], strict=True)
        if other - one >= 4 and time[other - 1] - time[one] >= SHORTEST
    ]
    found = [(piece, _changes(*piece, record, band)) for piece in pieces]
    fit = sum(len(changes) for _, changes in found) <= MOST_FITTED
    for piece, changes in found:
        _piece(*piece, changes, record, rated, band, fit, stretches, steps)
    if not stretches:
        raise TraceError("no stretch without a gap is long enough to judge; expected 5 s or more")
    droop = None
    if steps:
        means = [stretch.mean for stretch in stretches]
        droop = regulation.droop_percent(max(means), min(means), rated)
    return TraceReport(rated, band, tuple(stretches), tuple(steps), droop, tuple(remarks))


def _piece(
    time: Floats, hertz: Floats, changes: Sequence[float], record: FrequencyRecord, rated: float, band: float,
    fit: bool,
    stretches: list[SteadyStretch], steps: list[LoadStep],
) -> None:  # fmt: skip
    """Stretches and steps of one piece without gaps. `changes` are the times near which the load changed."""
    import numpy as np

    interval, half = record.interval, band / 2
    edges = [float(time[0]), *changes, float(time[-1]) + interval]
    pairs = list(pairwise(edges))
    levels = [_level(time, hertz, one, other, first=n == 0) for n, (one, other) in enumerate(pairs)]
    begin = float(time[0])
    for n in range(len(edges) - 1):
        # The stretch ends where the trace leaves its band for the next step.
        end = edges[n + 1]
        if n + 1 < len(edges) - 1:
            near = edges[n + 1]
            calm = hertz[(time >= max(begin, near - 30.0)) & (time < near - 2 * SHORTEST)]
            wide = max(half, float(np.ptp(calm)) / 2 if calm.size > 3 else half)
            end = _onset(time, hertz, levels[n], levels[n + 1], near, wide, edges[n + 2])
        within = (time >= begin) & (time < end)
        stretch = _stretch(time[within], hertz[within], record, rated, band)
        if stretch is not None:
            stretches.append(stretch)
            levels[n] = stretch.mean
            if n and steps:
                steps[-1] = _with_band(steps[-1], stretch, rated, half)
        if n + 1 >= len(edges) - 1:
            break
        # A trace that swings beyond the prescribed band leaves the band it was seen in.
        seen = stretch.swing.band / 2 if stretch is not None else half
        left = seen if seen > half + record.resolution else half
        after_band = _settled_band(time, hertz, levels[n + 1], end, edges[n + 2])
        stop = edges[n + 2] - (SHORTEST / 5 if n + 2 < len(edges) - 1 else 0)
        span = (time >= end - 3 * max(interval, 0.7)) & (time < stop)
        noise = _reading_noise(hertz[within], record.resolution)
        given = Levels(levels[n], levels[n + 1], after_band, half, left, rated, noise)
        transient = measure(time[span], hertz[span], given, interval, fit and left == half)
        direction = "on" if transient.extreme < levels[n + 1] or levels[n + 1] < levels[n] - half else "off"
        if transient.depth <= after_band / 2:
            direction = "on" if levels[n + 1] < levels[n] else "off"
        ending = "open" if transient.recovery is None else "settled"
        steps.append(LoadStep(direction, levels[n], levels[n + 1], ending, transient))
        # Inside the band the last swings still die away: the settled stretch begins as long again after the recovery.
        rest = transient.recovery if transient.recovery is not None else 0.0
        more = max(2.0, rest) if transient.recovery is not None else PLATEAU
        begin = end + rest + min(more, max(0.0, edges[n + 2] - end - rest) / 3)


def _with_band(step: LoadStep, stretch: SteadyStretch, rated: float, half: float) -> LoadStep:
    """The step once the stretch after it is known: a hunt that leaves the band for good is no recovery."""
    seen = stretch.swing
    beyond = regulation.beyond_band_percent(step.transient.depth, seen.band, rated)
    transient = replace(step.transient, beyond=beyond)
    if (seen.band if seen.kind == "swinging" else seen.size or 0.0) > 2 * half:
        transient = replace(transient, recovery=None, swings=None, fitted=False)
        return replace(step, ending="swings on", transient=transient)
    return replace(step, transient=transient)


def _stretch(time: Floats, hertz: Floats, record: FrequencyRecord, rated: float, band: float) -> SteadyStretch | None:
    if time.size < 4:
        return None
    swing = judge(time, hertz, record.interval, record.resolution, band)
    return SteadyStretch(
        float(time[0]), float(time[-1]), int(time.size), float(hertz.mean()), float(hertz.std()),
        regulation.maximum_variation_percent(swing.band, rated), swing,
    )  # fmt: skip


def _level(time: Floats, hertz: Floats, begin: float, end: float, first: bool) -> float:
    """The settled mean between two changes: of the later part, at most the last minute, a second before the end."""
    import numpy as np

    late = begin + (0.0 if first else (end - begin) / 2)
    within = (time >= max(late, end - 60.0)) & (time < end - min(1.0, (end - begin) / 4))
    return float(np.mean(hertz[within])) if within.any() else float(np.mean(hertz[(time >= begin) & (time < end)]))


def _settled_band(time: Floats, hertz: Floats, level: float, begin: float, end: float) -> float:
    import numpy as np

    late = hertz[(time >= begin + (end - begin) / 2) & (time < end - 1.0)]
    return float(np.ptp(late)) if late.size else 0.0


def _reading_noise(hertz: Floats, resolution: float) -> float:
    """Standard deviation of one reading, from second differences, which a slow change leaves alone."""
    import numpy as np

    second = np.diff(hertz, 2)
    spread = float(np.quantile(np.abs(second), 0.6827)) / 6**0.5 if second.size else 0.0
    return max(spread, resolution * 0.35, 1e-6)


def _onset(time: Floats, hertz: Floats, before: float, after: float, near: float, half: float, end: float) -> float:
    """The last reading within the old band before the trace leaves it for the step near a time."""
    import numpy as np

    window = np.flatnonzero((time >= near - SHORTEST) & (time <= min(near + SHORTEST, end)))
    if window.size < 2:
        return near
    away = np.abs(hertz[window] - before)
    if abs(after - before) > half:
        # Toward the new level or past it, so that a swing on the other side does not count.
        away = (hertz[window] - before) * (1.0 if after > before else -1.0)
    peak = int(np.argmax(away > max(half, 0.6 * float(away.max()))))
    inside = np.flatnonzero(away[: peak + 1] <= half)
    return float(time[window[int(inside[-1])]]) + 1e-9 if inside.size else float(time[window[0]])


# Where the load changed --------------------------------------------------------------------------------------------


def _changes(time: Floats, hertz: Floats, record: FrequencyRecord, band: float) -> list[float]:
    """Times near which the load changed, rising, each at least PLATEAU apart."""
    import numpy as np

    even, step = evenly(time, hertz, record.interval)
    wide = _window(even, step)
    if even.size < 2 * wide + 2:
        return []
    sums = np.concatenate([[0.0], np.cumsum(even - even.mean())])
    squares = np.concatenate([[0.0], np.cumsum((even - even.mean()) ** 2)])
    at = np.arange(wide, even.size - wide + 1)
    earlier, later = (sums[at] - sums[at - wide]) / wide, (sums[at + wide] - sums[at]) / wide
    spread = (squares[at] - squares[at - wide]) / wide - earlier**2
    jump = later - earlier
    # How much the level moves by itself: from the calm part of the record, and from the readings before the place.
    usual = float(np.quantile(np.abs(jump), 0.3)) / 0.385
    error = np.maximum(np.sqrt(np.maximum(spread, 0.0) * 2 / wide), record.resolution / wide)
    strong = np.abs(jump) / np.maximum(np.maximum(error * SURE, min(usual, band) * SURE / 2), band / 2)
    peaks = _peaks(np.concatenate([[0.0], strong, [0.0]]), 1.0, max(1, wide))
    found = [(float(time[0]) + step * int(at[p - 1]), float(jump[p - 1])) for p in peaks]
    times = [when for when, _ in _without_rhythm(found)]
    times = _one_each(times, time, hertz, band)
    return sorted([*times, *_excursions(time, hertz, times, band, record)])


def _peaks(values: Floats, least: float, apart: int) -> list[int]:
    """Places of the local maxima of at least `least`, rising; of two nearer than `apart` the lower one falls out.

    A level top counts at its middle, the ends never. So scipy.signal finds them too, but importing it takes longer than
    reading a trace.
    """
    import numpy as np

    starts = np.concatenate([[0], np.flatnonzero(np.diff(values)) + 1])
    ends = np.concatenate([starts[1:] - 1, [values.size - 1]])
    height = values[starts]
    top = np.flatnonzero((height[1:-1] > height[:-2]) & (height[1:-1] > height[2:]) & (height[1:-1] >= least)) + 1
    places = (starts[top] + ends[top]) // 2
    left = np.ones(places.size, dtype=bool)
    for each in np.argsort(height[top], kind="stable")[::-1]:
        if left[each]:
            left &= np.abs(places - places[each]) >= apart
            left[each] = True
    return [int(place) for place in places[left]]


def _window(even: Floats, step: float) -> int:
    """Readings to average on each side: about SHORTEST seconds, whole periods of the usual swing where there is one."""
    import numpy as np

    length = max(round(40.0 / step), FEWEST_READINGS)
    seconds = SHORTEST
    if even.size >= length:
        rows = even[: even.size // length * length].reshape(-1, length)
        chances, ordinates = false_alarms(rows)
        if (chances < 1e-6).any():
            period = length * step / float(np.median(ordinates[chances < 1e-6]))
            seconds = period * max(1, round(SHORTEST / period)) if period < 3 * SHORTEST else SHORTEST
    return max(3, round(seconds / step))


def _without_rhythm(found: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Steps without those that go up and down in turn, five or more, less than 15 s apart: a slow swing."""
    kept: list[tuple[float, float]] = []
    run: list[tuple[float, float]] = []
    for item in [*found, (float("inf"), 0.0)]:
        if run and item[1] * run[-1][1] < 0 and item[0] - run[-1][0] < 15.0:
            run.append(item)
            continue
        kept += run if len(run) < 5 else []
        run = [item]
    return kept


def _one_each(times: Sequence[float], time: Floats, hertz: Floats, band: float) -> list[float]:
    """Times without those that belong to the recovery of the step before: no level was held between them."""
    import numpy as np

    kept: list[float] = []
    for when in times:
        if kept and when - kept[-1] < 3 * PLATEAU:
            between = hertz[(time >= when - min(4.0, (when - kept[-1]) / 2)) & (time < when - 1.0)]
            third = max(1, between.size // 3)
            moving = between.size < 3 or abs(float(np.mean(between[-third:]) - np.mean(between[:third]))) > band / 2
            if when - kept[-1] < PLATEAU or moving:
                continue
        kept.append(when)
    return kept


def _excursions(
    time: Floats, hertz: Floats, times: Sequence[float], band: float, record: FrequencyRecord
) -> list[float]:
    """Steps that leave no change of level: an excursion out of a calm stretch that comes back."""
    import numpy as np

    found: list[float] = []
    edges = [float(time[0]), *times, float(time[-1])]
    for one, other in pairwise(edges):
        inside = np.flatnonzero((time >= one + (PLATEAU if one in times else 0.0)) & (time < other - SHORTEST / 2))
        if inside.size < 4 * FEWEST_READINGS // 2:
            continue
        level = float(np.median(hertz[inside]))
        off = np.abs(hertz[inside] - level)
        limit = max(1.5 * band, 5 * float(np.quantile(off, 0.6827)))
        out = np.flatnonzero(off > limit)
        if not out.size:
            continue
        seconds = time[inside]
        groups = np.split(out, np.flatnonzero(np.diff(seconds[out]) > PLATEAU) + 1)
        if len(groups) > 1 + (seconds[-1] - seconds[0]) / 20:
            continue  # too often to be the load: erratic
        for group in groups:
            begin, end = float(seconds[group[0]]), float(seconds[group[-1]])
            calm = begin - seconds[0] >= SHORTEST and seconds[-1] - end >= SHORTEST
            if group.size >= 2 and calm and end - begin < 2 * PLATEAU:
                found.append(begin)
    return found
