"""A row of harmonics followed through a sound.

Purpose: of all frequencies that a set may have, the one for whose harmonics the sound speaks most, moment by moment.
Law: a moment is used only where noise alone would put as much of its power on one row of harmonics in less than
FALSE_ALARM of all moments. Of rows that share their tones (one is 1/2, 2/3, 3/4, 4/3, 3/2 or 2 times the other) every
one that explains all that is heard is named.
Sources: harmonic summation as an estimate of a fundamental; orders followed along the speed, as in rotating machinery;
the best path by dynamic programming (Viterbi), all from memory. numpy and scipy are imported only inside the functions.
Not here: what it says of the set (see `recording`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FALSE_ALARM = 0.001
MOMENT = 0.5  # s, the length of sound that one reading is taken from
HOP = 0.25  # s between readings; closer ones would share their sound, and their noise would look like a swing
SEARCHED = (0.5, 1.7)  # of the rated frequency
USUAL = (0.85, 1.2)  # of rated; a set that runs is most often in here (common practice)
SLOWEST = 0.6  # of rated; below this a set hardly turns, and the half orders of an engine are heard instead
RELATED = (1 / 2, 2 / 3, 3 / 4, 4 / 3, 3 / 2, 2.0)
SUPPLY = 0.01  # a public supply keeps to 50 or 60 Hz within this (EN 50160, from memory)
HIGHEST = 420.0  # Hz, the highest harmonic used
LOWEST = 12.0  # Hz
NEIGHBOURS = 0.06  # a reading further than this from the middle of its second is no reading
_STEP = 0.002  # between candidates, of their frequency
_FASTEST = 0.04  # of the frequency, from one reading to the next
FAIR = 0.5  # share of usable moments


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """A row of harmonics followed through a sound.

    time: s. found: Hz of the set, NaN where not told. path: Hz, the same without gaps. share: of the moments told.
    heard: the harmonics that stand out. rivals: Hz, related rows that explain all of them.
    """

    time: Floats
    found: Floats
    path: Floats
    share: float
    heard: tuple[int, ...]
    rivals: tuple[float, ...]

    @property
    def middle(self) -> float:
        """Hz, the median of what was told."""
        import numpy as np

        return float(np.nanmedian(self.found)) if np.isfinite(self.found).any() else float("nan")

    @property
    def still(self) -> float:
        """Hz, how much it moves: the standard deviation."""
        import numpy as np

        return float(np.nanstd(self.found)) if np.isfinite(self.found).any() else float("inf")

    def of_supply(self, still: float) -> bool:
        """Whether it may be the hum of a public supply."""
        near = any(abs(self.middle / usual - 1) <= SUPPLY for usual in (50.0, 60.0))
        return near and self.still < still


def follow(wave: Floats, rate: float, hertz: float, ratio: float) -> Followed:
    """The row of harmonics that the sound speaks for most, followed through it.

    Parameters: wave, sound at `rate` Hz. hertz: rated. ratio: fundamental of the sound over the frequency of the set, 1
    for hum, cylinders / poles for the exhaust of a four-stroke.
    """
    import numpy as np

    spectra = _Spectra(wave, rate)
    lowest, highest = (float(np.log(hertz * share)) for share in SEARCHED)
    candidates = np.exp(np.arange(lowest - 4 * _STEP, highest + 4 * _STEP, _STEP))
    harmonics = np.arange(1, int(spectra.top / (candidates[0] * ratio)) + 1)
    rows = candidates[:, None] * ratio * harmonics[None, :]
    usable = (rows >= LOWEST) & (rows <= spectra.top)
    on = np.maximum(np.count_nonzero(usable, axis=1), 1)
    count = spectra.count
    share = np.zeros((count, candidates.size), dtype=np.float32)
    for chosen, power in spectra.blocks():
        total = power[:, spectra.bins].sum(axis=1) * spectra.each
        score = np.zeros((chosen.size, candidates.size))
        for n in range(harmonics.size):
            fits = usable[:, n]
            score[:, fits] += spectra.at(power, rows[fits, n])
        share[chosen] = np.divide(score, total[:, None], out=np.zeros_like(score), where=total[:, None] > 0)
    evidence = _evidence(share, on / spectra.whole) * spectra.whole
    evidence[:, candidates < SLOWEST * hertz] *= 0.7
    best = _path(evidence)
    step = np.arange(count)
    path = candidates[best] * np.exp(_STEP * _vertex(evidence.astype(np.float64), best))
    sure = (share[step, best] > _needed(spectra.whole, on[best], candidates.size)) & (
        (best > 2) & (best < candidates.size - 3)
    )
    agreeing = _agreeing(np.where(sure, path, np.nan))
    share_told = float(np.isfinite(agreeing).mean()) if count else 0.0
    heard: tuple[int, ...] = ()
    rivals: tuple[float, ...] = ()
    if share_told >= FAIR:
        heard = _standing_out(spectra, agreeing * ratio)
        rivals = _rivals(float(np.nanmedian(agreeing)), heard, hertz, ratio, rate)
    return Followed(spectra.time, agreeing, np.asarray(path, dtype=np.float64), share_told, heard, rivals)


class _Spectra:
    """Power over frequency of each moment of a sound, over the noise floor around it."""

    def __init__(self, wave: Floats, rate: float) -> None:
        import numpy as np
        from scipy.ndimage import percentile_filter  # type: ignore[import-untyped, unused-ignore]

        self.wave, self.rate = wave, rate
        self.length, self.hop = round(MOMENT * rate), max(1, round(HOP * rate))
        self.count = (wave.size - self.length) // self.hop + 1
        self.size = 1 << (4 * self.length - 1).bit_length()
        self.top = min(HIGHEST, 0.42 * rate)
        self.bins = slice(int(LOWEST * self.size / rate), int(self.top * self.size / rate) + 1)
        # Independent ordinates of the band: a Hann window makes one of 1.5 bins.
        self.each = self.length / self.size / 1.5
        self.whole = (self.top - LOWEST) * self.length / rate / 1.5
        self.time = np.asarray((np.arange(self.count) * self.hop + self.length / 2) / rate, dtype=np.float64)
        self.floor: Floats = np.ones(self.size // 2 + 1)
        mean = sum((power.sum(axis=0) for _, power in self.blocks()), np.zeros(self.size // 2 + 1))
        wide = max(3, round(50.0 * self.size / rate))
        floor = percentile_filter(mean, 30, size=wide, mode="nearest")
        lowest = max(1e-7 * float(mean.max(initial=0.0)), 1e-20)
        self.floor = np.maximum(floor, lowest) / max(1, self.count)

    def blocks(self) -> Iterator[tuple[NDArray[np.int64], Floats]]:
        import numpy as np

        window = np.hanning(self.length)
        for begin in range(0, self.count, 256):
            chosen = np.arange(begin, min(self.count, begin + 256))
            frames = self.wave[chosen[:, None] * self.hop + np.arange(self.length)[None, :]]
            frames = (frames - frames.mean(axis=1, keepdims=True)) * window
            yield chosen, np.abs(np.fft.rfft(frames, self.size, axis=1)) ** 2 / self.floor

    def at(self, power: Floats, places: Floats) -> Floats:
        """Power of each moment at frequencies in Hz, the same for all: (moments, places)."""
        import numpy as np

        place = np.asarray(places) * self.size / self.rate
        low = np.clip(place.astype(np.int64), 0, self.size // 2 - 1)
        part = place - low
        return np.asarray(power[:, low] * (1 - part) + power[:, low + 1] * part, dtype=np.float64)


def _evidence(share: NDArray[np.float32], chance: Floats) -> NDArray[np.float32]:
    """How far a share of the power lies beyond that of noise: the divergence of the Chernoff bound, one per ordinate.

    A row of more harmonics must hold more; so that of two rows with the same tones the shorter one is found.
    """
    import numpy as np

    seen = np.clip(share, 1e-6, 1 - 1e-6)
    wide = np.broadcast_to(np.asarray(chance, dtype=np.float32), seen.shape)
    far = wide * np.log(wide / seen) + (1 - wide) * np.log((1 - wide) / (1 - seen))
    return np.asarray(np.where(seen > wide, far, 0.0), dtype=np.float32)


def _path(evidence: NDArray[np.float32]) -> NDArray[np.int64]:
    """The path through the candidates with the greatest sum that moves no faster than a set can."""
    import numpy as np
    from scipy.ndimage import maximum_filter1d  # type: ignore[import-untyped, unused-ignore]

    reach = round(_FASTEST / _STEP)
    total = np.empty(evidence.shape, dtype=np.float64)
    for n in range(len(evidence)):
        total[n] = evidence[n] + (maximum_filter1d(total[n - 1], 2 * reach + 1, mode="nearest") if n else 0.0)
    best = np.zeros(len(evidence), dtype=np.int64)
    for n in range(len(evidence) - 1, -1, -1):
        low = 0 if n == len(evidence) - 1 else max(0, int(best[n + 1]) - reach)
        high = evidence.shape[1] if n == len(evidence) - 1 else int(best[n + 1]) + reach + 1
        best[n] = low + int(total[n, low:high].argmax())
    return best


def _standing_out(spectra: _Spectra, rows: Floats) -> tuple[int, ...]:
    """The harmonics of a followed row, Hz in each moment, that stand out from the noise over the whole sound."""
    import numpy as np

    told = np.isfinite(rows)
    most = int(spectra.top / float(np.nanmedian(rows)))
    sums, number = np.zeros(most), 0
    for chosen, power in spectra.blocks():
        for moment in np.flatnonzero(told[chosen]):
            places = rows[chosen[moment]] * np.arange(1, most + 1)
            sums += spectra.at(power[moment : moment + 1], places)[0]
            number += 1
    mean = sums / max(1, number)
    # Moments overlap by half; a mean of so many of noise alone seldom goes so far above one.
    limit = max(1.0 + 6.0 / max(1.0, number / 2) ** 0.5, 1.5, 1e-5 * float(mean.max(initial=0.0)))
    return tuple(n + 1 for n in range(most) if mean[n] > limit and (n + 1) * float(np.nanmedian(rows)) >= LOWEST)


def _rivals(found: float, heard: tuple[int, ...], hertz: float, ratio: float, rate: float) -> tuple[float, ...]:
    """Related frequencies, Hz, that explain every harmonic heard and are not less likely in all that is known.

    A row is likely to be heard at its first or second harmonic (or below 60 Hz, where a microphone may be deaf), and a
    set to run near its rated speed: a rival that is worse in one and no better in the other is not named.
    """
    if not heard:
        return ()

    def likely(times: float) -> tuple[bool, bool]:
        first = heard[0] / times
        shape = first <= 2.01 or heard[0] * found * ratio <= 60.0
        return shape, USUAL[0] <= found * times / hertz <= USUAL[1]

    own = likely(1.0)
    named = []
    for times in RELATED:
        other = found * times
        if not SEARCHED[0] <= other / hertz <= SEARCHED[1]:
            continue
        if all(abs(n / times - round(n / times)) < 1e-6 for n in heard):
            shape, usual = likely(times)
            if (shape, usual) == own or shape > own[0] or usual > own[1]:
                named.append(other)
    # Without its first harmonic, tones at two and three times it may as well be two sources.
    if not own[1] and heard[0] > 1 and any(n % 2 for n in heard) and found * ratio > 25.0:
        named += [found * times for times in (1.5, 2.0) if found * times <= SEARCHED[1] * hertz]
    return tuple(sorted(set(named)))


def without(wave: Floats, rate: float, first: Followed, ratio: float) -> Floats:
    """The sound without the rows of one source: each harmonic is followed, smoothed and taken off."""
    import numpy as np
    from scipy.ndimage import uniform_filter1d

    at = np.arange(wave.size) / rate
    steady = first.still < 0.15
    told = np.isfinite(first.found)
    speed = (
        np.full(wave.size, _refined(wave, rate, first.middle, ratio))
        if steady
        else np.interp(at, first.time[told], first.found[told])
    )
    turn = np.cumsum(speed) * (2 * np.pi * ratio / rate)
    smooth = max(3, round((2.0 if steady else 0.4) * rate))
    rest = wave - wave.mean()
    most = int(min(HIGHEST, 0.42 * rate) / (first.middle * ratio))
    for n in range(1, most + 1):
        carrier = np.exp(1j * n * turn)
        slow = rest * carrier.conj()
        for _ in range(2):
            real, imaginary = (uniform_filter1d(part, smooth, mode="nearest") for part in (slow.real, slow.imag))
            slow = real + 1j * imaginary
        rest = rest - 2 * (slow * carrier).real
    return np.asarray(rest, dtype=np.float64)


def _refined(wave: Floats, rate: float, near: float, ratio: float) -> float:
    """The steady frequency of the set, Hz, over the whole sound, within a tenth of a hertz of what was followed."""
    import numpy as np

    at = np.arange(wave.size) / rate
    tried = near + np.linspace(-0.15, 0.15, 61)
    most = int(min(HIGHEST, 0.42 * rate) / (near * ratio))
    part = wave[: min(wave.size, round(20 * rate))] - wave.mean()
    at = at[: part.size]
    window = np.hanning(part.size)
    power = np.zeros(tried.size)
    for n in range(1, min(most, 8) + 1):
        for index, frequency in enumerate(tried):
            power[index] += abs(np.vdot(np.exp(2j * np.pi * n * ratio * frequency * at), part * window)) ** 2
    return float(tried[int(power.argmax())])


def _vertex(score: Floats, best: NDArray[np.int64]) -> Floats:
    """Place of the top of a parabola through the best candidate and its neighbours, in candidates."""
    import numpy as np

    each, middle = np.arange(best.size), np.clip(best, 1, score.shape[1] - 2)
    left, centre, right = score[each, middle - 1], score[each, middle], score[each, middle + 1]
    bend = left - 2 * centre + right
    off = np.divide(left - right, 2 * bend, out=np.zeros_like(bend), where=bend < 0)
    return np.asarray(np.clip(off, -1.0, 1.0) + (middle - best), dtype=np.float64)


def _needed(whole: float, on: NDArray[np.int64], candidates: int) -> Floats:
    """Share of the power on a row of harmonics that white noise passes in FALSE_ALARM of all moments.

    The share of `on` ordinates of `whole` is a beta variable; neighbouring candidates are not independent, so that to
    count them all errs on the safe side.
    """
    import numpy as np
    from scipy.special import betainccinv  # type: ignore[import-untyped, unused-ignore]

    return np.asarray(betainccinv(on, np.maximum(whole - on, 1.0), FALSE_ALARM / candidates), dtype=np.float64)


def _agreeing(found: Floats) -> Floats:
    """Readings that lie near the middle of those within half a second."""
    import numpy as np

    reach = round(0.5 / HOP)
    padded = np.pad(found, reach, constant_values=np.nan)
    near = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    filled = np.sort(near, axis=1)  # NaN last
    number = np.count_nonzero(np.isfinite(near), axis=1)
    middle = filled[np.arange(found.size), np.maximum(number - 1, 0) // 2]
    good = (number >= 3) & (np.abs(found - middle) <= NEIGHBOURS * middle)
    return np.asarray(np.where(good, found, np.nan), dtype=np.float64)
