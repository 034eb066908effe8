"""What happens at a load step: dip or overshoot, recovery time, swings to settle.

Purpose: one step, from the readings before it to the readings in which it has settled.
Law: the published definitions, to the letter:
- overshoot or undershoot: how far the trace goes past the edge of the band observed after the change, in percent of
  RATED frequency (TM 9-6115-464-34, para 4-14, results (4));
- recovery time: from leaving the prescribed band of the old load to entering, and staying in, the prescribed band of
  the new one (results (5));
- a swing is each time the trace passes out of the prescribed band on the other side, after the first excursion.
Where readings are sparse or noisy the trace is taken along a fitted second-order response if that fits to within the
noise (the response of a governed engine to a load step, control engineering, from memory), else along straight lines,
and the measure says which.
Not checked here: where the steps are (see `trace`). numpy and scipy are imported only inside the functions.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..readings import regulation

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FITTED_SECONDS = 20.0
FINE = 0.005  # s, the step of a fitted curve
DENSE = 0.12  # s between readings
GATE = 1.0  # of the interval; a meter that shows two readings a second may average over all the time between them
OPEN_JUMP = 0.5  # of the largest jump between readings at the step, by which a sparse meter may miss the depth
DRAWS = 32
FINEST = 0.002  # Hz; no meter or model is better, and a smaller noise would leave no curve but one
OPEN_DEPTH = 0.15  # a fit that leaves the depth open by a larger part is not used


@dataclass(frozen=True, slots=True)
class Transient:
    """Measures of one step.

    start: s. extreme: Hz, the lowest or highest point; depth: Hz from the settled value to it, in the direction of the
    first excursion; beyond: percent of rated past the edge of the band observed after the step. recovery: s, None where
    it did not stay in the band before the next step or the end; swings: None likewise. fitted: along a fitted curve.
    within: s, how far the recovery time may be off, nine times in ten, for the noise and spacing of the readings.
    damping and period (s): of the fitted curve, None without one. depth_within: Hz, how far the depth may be off.
    """

    start: float
    extreme: float
    depth: float
    beyond: float
    recovery: float | None
    swings: int | None
    fitted: bool
    within: float
    damping: float | None = None
    period: float | None = None
    depth_within: float = 0.0


@dataclass(frozen=True, slots=True)
class Levels:
    """Settled values around a step, Hz: means before and after, the band seen after it, half the prescribed band."""

    before: float
    after: float
    band_after: float
    half: float
    half_before: float  # half the band to leave: the prescribed one, or the one seen before where that is wider
    rated: float
    noise: float  # standard deviation of one reading


def measure(time: Floats, hertz: Floats, levels: Levels, interval: float, fit: bool = True) -> Transient:
    """The transient in readings that begin in the settled state before the step and end before the next one.

    fit: False leaves the fitted curve out, which takes about half a second. Between sparse readings, and in their gate,
    which is not known, a dip and the moment of recovery hide: the doubts are then as wide as the benchmark
    `cheap_meter` needs them to hold the truth 19 times in 20.
    """
    import numpy as np

    way = _best(time, hertz, levels, interval, fit)
    near = hertz[(time >= way.start - 2 * interval) & (time <= way.start + 6.0)]
    jump = float(np.max(np.abs(np.diff(near)))) if near.size > 1 else 0.0
    if interval <= DENSE:
        return replace(way, depth_within=max(2 * levels.noise, interval * jump))
    within = max(way.within, (1 + GATE) * interval)
    return replace(way, within=within, depth_within=2 * levels.noise + OPEN_JUMP * jump)


def _best(time: Floats, hertz: Floats, levels: Levels, interval: float, fit: bool) -> Transient:
    """The measures along the fitted curve where there is one to trust, else between readings."""
    import numpy as np

    left = np.flatnonzero(np.abs(hertz - levels.before) > levels.half_before)
    first = int(left[0]) if left.size else 0
    plain = _measured(time, hertz, levels, interval)
    curve = _fitted(time, hertz, first, levels, interval) if fit else None
    if curve is None:
        return plain
    best = _measured(*curve.drawn(curve.parameters, FINE), levels, interval)
    # What the readings leave open is measured on other curves that they allow.
    draws = curve.alike(DRAWS)
    if draws is None:
        return plain
    others = [_measured(*curve.drawn(draw, 4 * FINE), levels, interval) for draw in draws]
    depths = np.array([other.depth for other in others])
    times = np.array([np.nan if other.recovery is None else other.recovery for other in others])
    open_depth = float(np.quantile(np.abs(depths - best.depth), 0.9))
    if best.recovery is None or open_depth > max(OPEN_DEPTH * best.depth, levels.half / 2):
        return plain
    within = max(4 * FINE, float(np.quantile(np.nan_to_num(np.abs(times - best.recovery), nan=np.inf), 0.97)))
    if not np.isfinite(within):
        return plain
    damping, period = curve.shape()
    if interval <= DENSE and plain.recovery is not None and levels.noise < levels.half / 4:
        # The trace itself is there, and the definitions speak of it; the curve only gives the damping.
        return replace(plain, damping=damping, period=period)
    return replace(best, fitted=True, within=within, damping=damping, period=period)


def _measured(at: Floats, value: Floats, levels: Levels, interval: float) -> Transient:
    import numpy as np

    off_old, off_new = np.abs(value - levels.before), value - levels.after
    outside_old = np.flatnonzero(off_old > levels.half_before)
    first = int(outside_old[0]) if outside_old.size else 0
    start = _crossing(at, off_old, first - 1, levels.half_before) if first else float(at[0])
    # A load coming on pulls the speed down first, a load going off lets it up: the side of the first excursion.
    change = levels.after - levels.before
    falls = change < 0 if abs(change) > levels.half else bool(value[first] < levels.before)
    sign = -1.0 if falls else 1.0
    swing = off_new[first:] * sign
    depth = max(0.0, float(swing.max())) if swing.size else 0.0
    beyond = regulation.beyond_band_percent(depth, levels.band_after, levels.rated)
    outside = np.flatnonzero(np.abs(off_new) > levels.half)
    last = int(outside[-1]) if outside.size else 0
    recovery: float | None = None
    swings: int | None = None
    if not outside.size or last < value.size - max(2, round(0.05 * value.size)):
        entry = _crossing(at, np.abs(off_new), last, levels.half) if outside.size else start
        recovery = max(0.0, entry - start)
        sides = np.sign(off_new[outside[outside >= first]]) * sign
        # Before the first excursion the trace still is on the side of the old value.
        past = np.flatnonzero(sides > 0)
        sides = sides[past[0] :] if past.size else sides[:0]
        swings = int(np.count_nonzero(np.diff(sides)))
    return Transient(start, levels.after + sign * depth, depth, beyond, recovery, swings, False, interval)


def _crossing(at: Floats, off: Floats, index: int, half: float) -> float:
    """When a distance passes `half` between a reading and the next, along a straight line."""
    if index + 1 >= at.size:
        return float(at[-1])
    one, other = float(off[index]), float(off[index + 1])
    share = (half - one) / (other - one) if other != one else 0.0
    return float(at[index] + min(1.0, max(0.0, share)) * (at[index + 1] - at[index]))


@dataclass(frozen=True, slots=True)
class _Curve:
    """A fitted response: its parameters, their covariance, the readings, and when it begins and ends, s."""

    parameters: Floats
    seconds: Floats
    value: Floats
    widths: Floats
    noise: float
    covariance: Floats
    origin: float
    begins: float
    ends: float
    levels: Levels

    def drawn(self, parameters: Floats, step: float) -> tuple[Floats, Floats]:
        import numpy as np

        at = np.arange(self.begins, self.ends, step)
        return at + self.origin, _response(parameters[None, :], at, self.levels)[0]

    def alike(self, count: int) -> Floats | None:
        """Rows of parameters that the readings allow as well as these (importance sampling, fixed seed).

        None where the readings leave the curve too open to tell.
        """
        import numpy as np

        chance = np.random.default_rng(0)
        values, vectors = np.linalg.eigh(self.covariance)
        # Drawn from a t distribution of four degrees, whose long tails reach where the readings bend the ridge.
        normal = chance.normal(size=(200 * count, 4)) / np.sqrt(chance.chisquare(4, size=(200 * count, 1)) / 4)
        rows = self.parameters + 1.2 * (normal * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
        outside = (rows[:, 0] > 0) | (rows[:, 1:3] < 0.02).any(axis=1)
        rows[:, 1:3] = np.maximum(rows[:, 1:3], 0.02)
        squares = ((_response(rows, self.seconds, self.levels) - self.value) ** 2).sum(axis=1) / self.noise**2
        squares += ((rows[:, [0, 3]] / self.widths) ** 2).sum(axis=1)
        squares[outside] = np.inf
        logarithm = 4 * np.log1p((normal**2).sum(axis=1) / 4) - squares / 2
        if not np.isfinite(logarithm).any():
            return None
        weight = np.exp(logarithm - logarithm.max())
        weight /= weight.sum()
        if 1 / float(weight @ weight) < count / 8:
            return None
        return np.asarray(rows[chance.choice(len(rows), count, p=weight)], dtype=np.float64)

    def shape(self) -> tuple[float, float]:
        """Damping ratio and period, s."""
        import numpy as np

        _, decay, turn, _ = self.parameters
        return float(decay / np.hypot(decay, turn)), float(2 * np.pi / turn)


def _response(parameters: Floats, at: Floats, levels: Levels) -> Floats:
    """Rows of hertz at times `at`, one for each row of (start, decay, turn, push)."""
    import numpy as np

    start, decay, turn, push = (column[:, None] for column in parameters.T)
    since = np.maximum(at[None, :] - start, 0.0)
    wave = (levels.before - levels.after) * np.cos(turn * since) + push * np.sinc(turn * since / np.pi) * since
    found = levels.after + np.exp(-np.minimum(decay * since, 60.0)) * wave
    return np.asarray(np.where(at[None, :] < start, levels.before, found), dtype=np.float64)


def _fitted(time: Floats, hertz: Floats, first: int, levels: Levels, interval: float) -> _Curve | None:
    """A second-order response through the readings, or None where none fits to within the noise.

    after + exp(-a s) ((before - after) cos(w s) + d sin(w s) / w), s the time since the step: whatever the zero of the
    loop, its response to a step of load has this form. The step itself, a and w are searched; d is linear.
    """
    import numpy as np
    from scipy.optimize import least_squares  # type: ignore[import-untyped, unused-ignore]

    if first < 1 or time.size - first < 6:
        return None
    near = slice(max(0, first - 4), int(np.searchsorted(time, time[first] + FITTED_SECONDS)))
    seconds, value = time[near] - time[first], hertz[near]
    earliest = -2 * interval if interval > 0.2 else -max(2 * interval, 0.5)
    nyquist = np.pi / interval
    starts, decays = np.linspace(earliest, 0.0, 6), np.array([0.2, 0.5, 1.0, 2.0, 4.0])
    grid = np.meshgrid(starts, decays, np.geomspace(0.3, min(15.0, 0.8 * nyquist), 16), [0.0], indexing="ij")
    trials = np.column_stack([part.ravel() for part in grid])
    flat = _response(trials, seconds, levels)
    trials[:, 3] = 1.0
    wave = _response(trials, seconds, levels) - flat
    trials[:, 3] = (wave * (value - flat)).sum(axis=1) / np.maximum((wave**2).sum(axis=1), 1e-12)
    errors = ((value - flat - trials[:, 3:] * wave) ** 2).sum(axis=1)
    lowest, highest = np.array([earliest, 0.02, 0.05, -1e6]), np.array([1e-6, 30.0, 0.98 * nyquist, 1e6])
    # Start and first push hide behind each other between two readings: both are held, weakly, to their usual size.
    reach = float(np.max(np.abs(value - levels.after)))
    widths = np.array([max(interval, 0.2), 5.0 * reach])
    spot = max(levels.noise, 1e-3)
    solved = None
    for trial in trials[np.argsort(errors)[:3]]:
        found = least_squares(
            lambda p: np.append(_response(p[None, :], seconds, levels)[0] - value, spot * (p[[0, 3]] / widths)),
            np.clip(trial, lowest + 1e-9, highest - 1e-9), bounds=(lowest, highest), max_nfev=100,
        )  # fmt: skip
        solved = found if solved is None or found.cost < solved.cost else solved
    assert solved is not None
    left_over = float(np.sqrt(np.sum(solved.fun[:-2] ** 2) / max(1, seconds.size - 4)))
    if left_over > max(1.5 * levels.noise, 0.02 * reach):
        return None
    noise = max(left_over, levels.noise, FINEST)
    spread = np.linalg.pinv(solved.jac.T @ solved.jac) * noise**2
    ends = float(time[-1] - time[first])
    begins = min(float(seconds[0]), earliest)
    return _Curve(solved.x, seconds, value, widths, noise, spread, float(time[first]), begins, ends, levels)
