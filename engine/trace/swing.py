"""Is it a swing, or noise? A periodogram test with a stated rate of false alarms.

Purpose: for a stretch of steady load, whether the frequency is steady, swings slowly (hunt or surge), jiggles fast or
is erratic, and the size and period of the swing.
Law of slow logs: a beat at f and one at n / interval - f or n / interval + f are the same readings (the sampling
theorem). Where one of them could be a jiggle that the times of the readings do not rule out, only the band is told,
and slow swing or fast jiggle stays open ("swinging").
Law: a swing is called only where white noise would show such a peak in the periodogram in at most FALSE_ALARM of all
stretches, and where the peak also stands out as far from a background that goes as a power of the frequency, so that
a speed that merely wanders is seldom called a hunt (tests/test_outside_trace.py measures how seldom). Size alone,
against the band of the tolerance set, separates steady from erratic.
Sources: Fisher's test for the largest ordinate, P(g > x) <= m (1 - x)^(m - 1) for m ordinates of white noise; a power
law through the logarithm of the periodogram as background; the least-squares sine at the times of the readings, as in
IEEE Std 1057, and its periodogram for uneven times (Lomb, Scargle); aliases by the sampling theorem (all from memory).
Short-term period 30 s (MIL-DTL-38195D, 3.9.3.2).
Bandwidth: limits of the random variation about the mean (TM 9-6115-464-34, para 4-14a).
Not checked here: whether the load was steady. numpy and scipy are imported only inside the functions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FALSE_ALARM = 0.001  # stated: of 1,000 stretches of noise at most one is called a swing
SHORT_TERM = 30.0  # s
WINDOW = 60.0  # s; a longer stretch is judged window by window, since no hunt keeps its beat for an hour
FEWEST_CYCLES = 3  # fewer are a drift, not a beat
FEWEST_READINGS = 16
FASTEST_SLOW = 2.0  # Hz; a beat that can still be counted by eye (common practice)
FASTEST_JIGGLE = 5.0  # Hz; a rod end that shakes faster hardly moves the speed of an engine (common practice)
TOO_SLOW = 0.51 / FASTEST_JIGGLE  # s between readings; from here on a jiggle looks like a slow swing, or like none
LONE = 1e-8
SMALLEST = 0.0005  # of the mean: 0.03 Hz at 60 Hz, less than can be seen on any meter of the trade (common practice)
_FITTED_WINDOWS = 40


@dataclass(frozen=True, slots=True)
class Swing:
    """What a stretch does.

    kind: steady, slow_swing, fast_jiggle, erratic, or swinging: a beat of which the readings do not tell whether it is
    slow or fast. band: Hz, the widest peak to peak in any 30 s. size: Hz peak to peak and period: s of the swing, None
    without one and where it is only "swinging". false_alarm: how often noise alone would show such a peak; 1 where the
    stretch is too short for the test. share: of the windows that show a swing. slowest and fastest: s, the periods that
    could be seen at all. could_be: Hz, the beats that would give the same readings, where there is more than one.
    """

    kind: str
    band: float
    size: float | None
    period: float | None
    false_alarm: float
    share: float
    slowest: float
    fastest: float
    could_be: tuple[float, ...] = ()

    @property
    def sure(self) -> bool:
        """Whether readings came often enough that a jiggle could not have hidden between them."""
        return self.fastest < 2 * TOO_SLOW


def judge(time: Floats, hertz: Floats, interval: float, resolution: float, allowed: float) -> Swing:
    """The behaviour of one stretch.

    Parameters: time in s and hertz in Hz of the same length. interval: s, the usual time between readings. resolution:
    Hz, the step of the meter. allowed: Hz peak to peak, the steady-state band of the tolerance set.
    """
    import numpy as np

    band = short_term_band(time, hertz)
    windows = _windows(time, hertz, interval)
    rows, step = windows.even, windows.step
    fastest = 2 * step
    kind = "erratic" if band - resolution > allowed else "steady"
    if rows.shape[1] < FEWEST_READINGS:
        return Swing(kind, band, None, None, 1.0, 0.0, 0.0, fastest)
    slowest = rows.shape[1] * step / FEWEST_CYCLES
    chances, ordinates = windows.tested()
    chance = min(1.0, float(chances.min()) * len(rows))
    swinging = np.flatnonzero(chances < FALSE_ALARM)
    # A lone window among several must be far surer: a wander looks rhythmic now and then.
    lone = len(rows) > 1 and swinging.size == 1 and chance > LONE
    if chance >= FALSE_ALARM or lone:
        if kind == "erratic" and step >= TOO_SLOW and windows.alternates():
            kind = "swinging"  # every other reading high: a beat at half the rate of the readings, of whatever size
        return Swing(kind, band, None, None, chance, 0.0, slowest, fastest)
    chosen = swinging[:: max(1, swinging.size // _FITTED_WINDOWS)]
    fits = [fit(*windows.readings(n), ordinates[n] / (rows.shape[1] * step), step) for n in chosen]
    size, period = float(np.median([f.size for f in fits])), float(np.median([f.period for f in fits]))
    share = swinging.size / len(rows)
    if size < max(resolution, SMALLEST * float(hertz.mean())):  # less than the meter can show
        return Swing(kind, band, None, None, chance, 0.0, slowest, fastest)
    # Wider than allowed by the beat, not by what is left beside it: no other word than a swing fits.
    rest = float(np.median([f.rest for f in fits]))
    if kind == "steady" or size > allowed or rest - resolution <= max(allowed, size):
        spot = max(resolution / 12**0.5, SMALLEST * float(hertz.mean()) / 4)
        could_be = _aliases(1 / period, interval, [windows.readings(n) for n in chosen[:8]], spot)
        if could_be:
            return Swing("swinging", band, None, None, chance, share, slowest, fastest, could_be)
        kind = "slow_swing" if 1 / period <= FASTEST_SLOW else "fast_jiggle"
    return Swing(kind, band, size, period, chance, share, slowest, fastest)


def _aliases(
    frequency: float, interval: float, parts: Sequence[tuple[Floats, Floats]], spot: float
) -> tuple[float, ...]:
    """The beats up to FASTEST_JIGGLE, Hz, that give the same readings as this one; none where it is the only one.

    parts: times in s and readings in Hz. spot: Hz, what the meter and the set leave in any reading. Uneven times rule a
    slower beat out where a faster one fits them better, never the other way: stamps that only waver about even readings
    spoil the fit of a fast beat as well.
    """
    import numpy as np

    if interval < TOO_SLOW:
        return ()
    rate, top = 1 / interval, FASTEST_JIGGLE
    wanted = {sign * frequency + n * rate for n in range(1, int(2 * top / rate) + 2) for sign in (-1, 1)}
    count = sum(time.size for time, _ in parts)

    def left(near: float) -> float:
        total = 0.0
        for time, value in parts:
            width = 1 / max(float(time[-1] - time[0]), 1e-9)
            tried = np.clip(near + np.linspace(-0.6, 0.6, 13) * width, 0.02, None)
            total += min(float(np.sum((value - _sine(time, value, f, 1)[0]) ** 2)) for f in tried)
        return total + count * spot**2

    tried = sorted([frequency, *(other for other in wanted if 0.02 < other <= top and abs(other - frequency) > 1e-9)])
    squares = [left(beat) for beat in tried]
    best = int(np.argmin(squares))
    limit = squares[best] * (1 / FALSE_ALARM) ** (2 / count)
    found = [beat for n, beat in enumerate(tried) if n > best or squares[n] <= limit]
    return tuple(found) if len(found) > 1 else ()


def short_term_band(time: Floats, hertz: Floats) -> float:
    """The widest peak to peak, Hz, in any 30 s that follow each other."""
    import numpy as np

    if not hertz.size:
        return 0.0
    bins = np.floor((time - time[0]) / SHORT_TERM).astype(np.int64)
    starts = np.flatnonzero(np.diff(bins, prepend=-1))
    return float(np.max(np.maximum.reduceat(hertz, starts) - np.minimum.reduceat(hertz, starts)))


def evenly(time: Floats, hertz: Floats, interval: float) -> tuple[Floats, float]:
    """The readings at even times, and the time between them. Readings that are evenly spaced stay as they are."""
    import numpy as np

    count = round(float(time[-1] - time[0]) / interval) + 1 if time.size > 1 else time.size
    if count == time.size and count > 1:
        step = float(time[-1] - time[0]) / (count - 1)
        if float(np.max(np.abs(time - (time[0] + step * np.arange(count))))) < 0.25 * step:
            return hertz, step
    grid = time[0] + interval * np.arange(max(1, count))
    return np.asarray(np.interp(grid, time, hertz), dtype=np.float64), interval


@dataclass(frozen=True, slots=True)
class _Windows:
    """The windows of a stretch: rows at even times, and the readings behind each at their own times."""

    even: Floats
    step: float
    time: Floats
    hertz: Floats
    uneven: bool

    def readings(self, row: int) -> tuple[Floats, Floats]:
        """Times in s and readings in Hz of one window, as they were taken."""
        import numpy as np

        lasts = self.even.shape[1] * self.step
        edges = self.time[0] + (np.array([row, row + 1]) * self.even.shape[1] - 0.5) * self.step
        first, last = np.searchsorted(self.time, edges)
        if row == len(self.even) - 1 and self.time[-1] - self.time[first] < lasts:
            last = self.time.size
        return self.time[first:last], self.hertz[first:last]

    def tested(self) -> tuple[Floats, NDArray[np.int64]]:
        """As `false_alarms`; where readings are few and uneven, from the sines at their own times."""
        import numpy as np

        chances, ordinates = false_alarms(self.even)
        if not self.uneven:
            return chances, ordinates
        length = self.even.shape[1]
        tested = np.arange(FEWEST_CYCLES, (length - 1) // 2 + 1)
        power = np.empty((len(self.even), tested.size))
        usable = np.ones(len(self.even), dtype=bool)
        for row in range(len(self.even)):
            time, value = self.readings(row)
            usable[row] = time.size >= FEWEST_READINGS
            if usable[row]:
                power[row] = _uneven_power(time, value, tested / (length * self.step))
        if usable.any():
            chances, ordinates = chances.copy(), ordinates.copy()
            chances[usable], ordinates[usable] = _peaks(power[usable], tested)
        return chances, ordinates

    def alternates(self) -> bool:
        """Whether readings go up and down in turn more than noise lets them."""
        import numpy as np
        from scipy.special import betainccinv  # type: ignore[import-untyped, unused-ignore]

        level = self.even - self.even.mean(axis=1, keepdims=True)
        turn = (-1.0) ** np.arange(level.shape[1])
        whole = (level**2).sum(axis=1) * level.shape[1]
        share = np.divide((level @ turn) ** 2, whole, out=np.zeros_like(whole), where=whole > 0)
        return bool(np.median(share) > betainccinv(0.5, (level.shape[1] - 2) / 2, FALSE_ALARM / 10))


def _windows(time: Floats, hertz: Floats, interval: float) -> _Windows:
    even, step = evenly(time, hertz, interval)
    wanted = max(round(WINDOW / step), 4 * FEWEST_READINGS)
    count = max(1, even.size // wanted)
    length = even.size // count
    # Readings far closer than a beat lose nothing between even times.
    uneven = even is not hertz and step >= TOO_SLOW
    return _Windows(even[: count * length].reshape(count, length), step, time, hertz, uneven)


def _uneven_power(time: Floats, value: Floats, frequencies: Floats) -> Floats:
    """What a sine at each frequency (Hz) takes off the squares around a straight line (Lomb, Scargle: from memory)."""
    import numpy as np

    seconds = time - time.mean()
    line = np.column_stack([np.ones(time.size), seconds])
    line = np.linalg.qr(line)[0]
    level = value - line @ (line.T @ value)
    turn = 2 * np.pi * frequencies[:, None] * seconds[None, :]
    one, other = np.cos(turn), np.sin(turn)
    one, other = one - (one @ line) @ line.T, other - (other @ line) @ line.T
    a, b, c = (one**2).sum(axis=1), (one * other).sum(axis=1), (other**2).sum(axis=1)
    p, q = one @ level, other @ level
    space = np.maximum(a * c - b * b, 1e-9 * time.size**2)
    return np.asarray((c * p * p - 2 * b * p * q + a * q * q) / space, dtype=np.float64)


def false_alarms(windows: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """For each row, how often noise alone shows so high a peak, and the ordinate of the peak (cycles in the row).

    windows: (rows, readings), evenly spaced; FEWEST_READINGS or more readings. A straight trend is taken out first.
    The chance is the larger of the two tests, so that the white-noise rate always holds.
    """
    import numpy as np

    length = windows.shape[1]
    place = np.arange(length) - (length - 1) / 2
    level = windows - windows.mean(axis=1, keepdims=True)
    level = level - np.outer(level @ place / (place @ place), place)
    # Ordinates from three cycles up to below the Nyquist frequency are independent for white noise.
    tested = np.arange(FEWEST_CYCLES, (length - 1) // 2 + 1)
    power = np.abs(np.fft.rfft(level, axis=1)[:, tested]) ** 2
    return _peaks(power, tested)


def _peaks(power: Floats, tested: NDArray[np.int64]) -> tuple[Floats, NDArray[np.int64]]:
    """As `false_alarms`, from rows of power at the tested ordinates."""
    import numpy as np

    power[power.sum(axis=1) <= 1e-18 * tested.size] = 1.0  # a constant row has no peak
    each = np.arange(len(power))
    # The background: a power law through the logarithms of all ordinates but the peak and its neighbours.
    peak = power.argmax(axis=1)
    weight = np.ones_like(power)
    for near in (-1, 0, 1):
        weight[each, np.clip(peak + near, 0, tested.size - 1)] = 0.0
    weight /= weight.sum(axis=1, keepdims=True)
    across = np.log(tested / tested[0])[None, :] - (weight @ np.log(tested / tested[0]))[:, None]
    height = np.log(np.maximum(power, 1e-12 * power.max(axis=1, keepdims=True)))
    slope = (weight * across * height).sum(axis=1) / np.maximum((weight * across**2).sum(axis=1), 1e-12)
    whitened = power * np.exp(-slope[:, None] * across)
    peak = whitened.argmax(axis=1)
    share = np.minimum(power[each, peak] / power.sum(axis=1), whitened[each, peak] / whitened.sum(axis=1))
    chance = np.minimum(1.0, tested.size * (1.0 - share) ** (tested.size - 1))
    return chance, tested[peak]


@dataclass(frozen=True, slots=True)
class Beat:
    """A fitted swing. size: Hz peak to peak. period: s. rest: Hz peak to peak of what is left beside it."""

    size: float
    period: float
    rest: float


def _sine(time: Floats, value: Floats, frequency: float, harmonics: int) -> tuple[Floats, Floats]:
    """A line and a sine with harmonics by least squares at the times of the readings: fitted values, coefficients."""
    import numpy as np

    seconds = time - time.mean()
    columns: list[Any] = [np.ones(time.size), seconds]
    for n in range(1, harmonics + 1):
        columns += [np.cos(2 * np.pi * n * frequency * seconds), np.sin(2 * np.pi * n * frequency * seconds)]
    design = np.column_stack(columns)
    solved = np.linalg.lstsq(design, value, rcond=None)[0]
    return np.asarray(design @ solved, dtype=np.float64), np.asarray(solved, dtype=np.float64)


def fit(time: Floats, value: Floats, frequency: float, step: float) -> Beat:
    """The swing near a frequency (Hz) in readings (Hz) at their own times (s), usually `step` s apart.

    The frequency is refined by least squares; harmonics join where an F test at the stated rate wants them, since a
    hunt is seldom a pure sine.
    """
    import numpy as np
    from scipy.optimize import minimize_scalar  # type: ignore[import-untyped, unused-ignore]
    from scipy.special import fdtrc

    length = time.size
    width = 1 / (float(time[-1] - time[0]) + step)

    def least(frequency: float, harmonics: int) -> float:
        return float(np.sum((value - _sine(time, value, frequency, harmonics)[0]) ** 2))

    low, high = max(0.3 * width, frequency - width), min(0.5 / step - 0.3 * width, frequency + width)
    grid = np.linspace(low, high, 21)
    start = float(grid[int(np.argmin([least(float(f), 1) for f in grid]))])
    near = (max(low, start - width / 8), min(high, start + width / 8))
    fine = {"xatol": width / 1e4}
    best = float(minimize_scalar(lambda f: least(f, 1), bounds=near, method="bounded", options=fine).x)
    harmonics = 1
    while (harmonics + 1) * best < 0.45 / step and harmonics < 4 and length > 2 * harmonics + 8:
        before, after = least(best, harmonics), least(best, harmonics + 1)
        freedom = length - 2 * (harmonics + 1) - 2
        ratio = (before - after) / 2 / max(after / freedom, 1e-30)
        if fdtrc(2, freedom, ratio) > FALSE_ALARM:
            break
        harmonics += 1
    drawn, solved = _sine(time, value, best, harmonics)
    turn = 2 * np.pi * np.arange(720) / 720
    wave = sum(solved[2 * n] * np.cos(n * turn) + solved[2 * n + 1] * np.sin(n * turn) for n in range(1, harmonics + 1))
    return Beat(float(np.ptp(wave)), 1 / best, float(np.ptp(value - drawn)))
