"""Is it a swing, or noise? A periodogram test with a stated rate of false alarms.

Purpose: for a stretch of steady load, whether the frequency is steady, swings slowly (hunt or surge), jiggles fast or
is erratic, and the size and period of the swing.
Law: a swing is called only where white noise would show such a peak in the periodogram in at most FALSE_ALARM of all
stretches, and where the peak also stands out as far from a background that goes as a power of the frequency, so that
a speed that merely wanders is seldom called a hunt (tests/test_outside_trace.py measures how seldom). Size alone,
against the band of the tolerance set, separates steady from erratic.
Sources: Fisher's test for the largest ordinate, P(g > x) <= m (1 - x)^(m - 1) for m ordinates of white noise; a power
law through the logarithm of the periodogram as background (both from memory). Short-term period 30 s (MIL-DTL-38195D,
3.9.3.2).
Bandwidth: limits of the random variation about the mean (TM 9-6115-464-34, para 4-14a).
Not checked here: whether the load was steady. numpy and scipy are imported only inside the functions.
"""

from __future__ import annotations

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
LONE = 1e-8
SMALLEST = 0.0005  # of the mean: 0.03 Hz at 60 Hz, less than can be seen on any meter of the trade (common practice)
_FITTED_WINDOWS = 40


@dataclass(frozen=True, slots=True)
class Swing:
    """What a stretch does.

    kind: steady, slow_swing, fast_jiggle, erratic. band: Hz, the widest peak to peak in any 30 s. size: Hz peak to peak
    and period: s of the swing, None without one. false_alarm: how often noise alone would show such a peak; 1 where the
    stretch is too short for the test. share: of the windows that show a swing. slowest and fastest: s, the periods that
    could be seen at all.
    """

    kind: str
    band: float
    size: float | None
    period: float | None
    false_alarm: float
    share: float
    slowest: float
    fastest: float


def judge(time: Floats, hertz: Floats, interval: float, resolution: float, allowed: float) -> Swing:
    """The behaviour of one stretch.

    Parameters: time in s and hertz in Hz of the same length. interval: s, the usual time between readings. resolution:
    Hz, the step of the meter. allowed: Hz peak to peak, the steady-state band of the tolerance set.
    """
    import numpy as np

    band = short_term_band(time, hertz)
    windows, step = _windows(time, hertz, interval)
    fastest = 2 * step
    kind = "erratic" if band - resolution > allowed else "steady"
    if windows.shape[1] < FEWEST_READINGS:
        return Swing(kind, band, None, None, 1.0, 0.0, 0.0, fastest)
    slowest = windows.shape[1] * step / FEWEST_CYCLES
    chances, ordinates = false_alarms(windows)
    chance = min(1.0, float(chances.min()) * len(windows))
    swinging = np.flatnonzero(chances < FALSE_ALARM)
    # A lone window among several must be far surer: a wander looks rhythmic now and then.
    lone = len(windows) > 1 and swinging.size == 1 and chance > LONE
    if chance >= FALSE_ALARM or lone:
        return Swing(kind, band, None, None, chance, 0.0, slowest, fastest)
    chosen = swinging[:: max(1, swinging.size // _FITTED_WINDOWS)]
    fits = [fit(windows[n], step, ordinates[n] / (windows.shape[1] * step)) for n in chosen]
    size, period = float(np.median([f[0] for f in fits])), float(np.median([f[1] for f in fits]))
    share = swinging.size / len(windows)
    if size < max(resolution, SMALLEST * float(hertz.mean())):  # less than the meter can show
        return Swing(kind, band, None, None, chance, 0.0, slowest, fastest)
    if kind == "steady" or size > allowed:
        kind = "slow_swing" if 1 / period <= FASTEST_SLOW else "fast_jiggle"
    return Swing(kind, band, size, period, chance, share, slowest, fastest)


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


def _windows(time: Floats, hertz: Floats, interval: float) -> tuple[Floats, float]:
    even, step = evenly(time, hertz, interval)
    wanted = max(round(WINDOW / step), 4 * FEWEST_READINGS)
    count = max(1, even.size // wanted)
    length = even.size // count
    return even[: count * length].reshape(count, length), step


def false_alarms(windows: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """For each row, how often noise alone shows so high a peak, and the ordinate of the peak (cycles in the row).

    windows: (rows, readings), evenly spaced; FEWEST_READINGS or more readings. A straight trend is taken out first.
    The chance is the larger of the two tests, so that the white-noise rate always holds.
    """
    import numpy as np

    rows, length = windows.shape
    place = np.arange(length) - (length - 1) / 2
    level = windows - windows.mean(axis=1, keepdims=True)
    level = level - np.outer(level @ place / (place @ place), place)
    # Ordinates from three cycles up to below the Nyquist frequency are independent for white noise.
    tested = np.arange(FEWEST_CYCLES, (length - 1) // 2 + 1)
    power = np.abs(np.fft.rfft(level, axis=1)[:, tested]) ** 2
    power[power.sum(axis=1) <= 1e-18 * length] = 1.0  # a constant row has no peak
    each = np.arange(rows)
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


def fit(window: Floats, step: float, frequency: float) -> tuple[float, float]:
    """Size (Hz peak to peak) and period (s) of the swing near a frequency (Hz) in evenly spaced readings.

    The frequency is refined by least squares; harmonics join where an F test at the stated rate wants them, since a
    hunt is seldom a pure sine.
    """
    import numpy as np
    from scipy.optimize import minimize_scalar  # type: ignore[import-untyped, unused-ignore]
    from scipy.stats import f as f_distribution  # type: ignore[import-untyped, unused-ignore]

    length = window.size
    seconds = step * np.arange(length)
    width = 1 / (length * step)

    def least(frequency: float, harmonics: int) -> tuple[float, Floats, Floats]:
        columns: list[Any] = [np.ones(length), seconds - seconds.mean()]
        for n in range(1, harmonics + 1):
            columns += [np.cos(2 * np.pi * n * frequency * seconds), np.sin(2 * np.pi * n * frequency * seconds)]
        design = np.column_stack(columns)
        solved = np.linalg.lstsq(design, window, rcond=None)[0]
        return float(np.sum((window - design @ solved) ** 2)), solved, design

    low, high = max(0.3 * width, frequency - width), min(0.5 / step - 0.3 * width, frequency + width)
    grid = np.linspace(low, high, 21)
    start = float(grid[int(np.argmin([least(float(f), 1)[0] for f in grid]))])
    near = (max(low, start - width / 8), min(high, start + width / 8))
    fine = {"xatol": width / 1e4}
    best = float(minimize_scalar(lambda f: least(f, 1)[0], bounds=near, method="bounded", options=fine).x)
    harmonics = 1
    while (harmonics + 1) * best < 0.45 / step and harmonics < 4 and length > 2 * harmonics + 8:
        before, after = least(best, harmonics)[0], least(best, harmonics + 1)[0]
        freedom = length - 2 * (harmonics + 1) - 2
        ratio = (before - after) / 2 / max(after / freedom, 1e-30)
        if f_distribution.sf(ratio, 2, freedom) > FALSE_ALARM:
            break
        harmonics += 1
    solved = least(best, harmonics)[1]
    turn = 2 * np.pi * np.arange(720) / 720
    wave = sum(solved[2 * n] * np.cos(n * turn) + solved[2 * n + 1] * np.sin(n * turn) for n in range(1, harmonics + 1))
    return float(np.ptp(wave)), 1 / best
