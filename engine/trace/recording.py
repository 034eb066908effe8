"""A sound recording turned into frequency over time.

Purpose: a WAV file of mains hum, of a pickup on a conductor, or of the exhaust note, tracked as the frequency of the
set in Hz, with a stated confidence.
Law: a moment is used only where noise alone would put as much of its power on one row of harmonics in less than
FALSE_ALARM of all moments, and where it agrees with its neighbours; too few of them, and the answer is that it cannot
be told.
Sources: f = poles * rpm / 120 (TM 5-6115-584-34, para 7-1); a four-stroke cylinder fires every second revolution, so
the firing frequency is cylinders * rpm / 120; harmonic summation as an estimate of a fundamental (both from memory);
RIFF and WAVE layout (from memory). Not known here: whether the hum is that of the set or of a public supply nearby.
numpy and scipy are imported only inside the functions.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from ..problems import quoted
from .samples import FrequencyRecord, Remarks, TraceError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FALSE_ALARM = 0.001
MOMENT = 0.5  # s, the length of sound that one reading is taken from
HOP = 0.25  # s between readings; closer ones would share their sound, and their noise would look like a swing
REACH = 0.22  # of the rated frequency on each side; a row of harmonics is unambiguous within it
HIGHEST = 420.0  # Hz, the highest harmonic used
LOWEST = 12.0  # Hz
NEIGHBOURS = 0.06  # a reading further than this from the middle of its second is no reading
CERTAIN, FAIR = 0.9, 0.5  # shares of usable moments
_WORKING_RATE = 1200.0  # Hz, after decimation
_FRAMES = 1 << 18
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE


@dataclass(frozen=True, slots=True)
class Heard:
    """What was tracked. source: "hum" or "exhaust". share: of the moments that could be read. confidence: in words."""

    record: FrequencyRecord
    source: str
    share: float
    confidence: str


@dataclass(frozen=True, slots=True)
class _Sound:
    """Where the samples of a WAV file are."""

    kind: int
    channels: int
    rate: int
    bits: int
    begin: int
    length: int


def read_recording(path: Path, hertz: float = 60.0, poles: int = 4, cylinders: int | None = None) -> Heard:
    """Frequency of the set over time, Hz, from a WAV file.

    Parameters: hertz, rated. cylinders: of a four-stroke engine that fires evenly; without it only hum is looked for.
    With it, exhaust note and hum are both tried and the surer one is taken.
    Raises TraceError where the file is no WAV or the frequency cannot be told.
    """
    try:
        with path.open("rb") as file:
            sound = _layout(path, file)
            remarks = Remarks()
            wave, rate = _decimated(file, sound, remarks)
    except OSError as error:
        raise TraceError(f"{quoted(str(path))}: cannot be read: {error.strerror or error}") from None
    if wave.size < 4 * MOMENT * rate:
        lasts = f"{wave.size / rate:.3g} s"
        raise TraceError(f"{quoted(path.name)}: lasts {lasts}; expected at least {4 * MOMENT:g} s of sound")
    tried = [("hum", 1.0)]
    if cylinders is not None:
        tried.append(("exhaust", cylinders / poles))
    best: tuple[float, str, Floats, Floats] | None = None
    for source, ratio in tried:
        time, found, share = track(wave, rate, hertz, ratio)
        # Of two that are as sure, the note of the engine that the user spoke of.
        if best is None or share > best[0] - 0.02:
            best = (share, source, time, found)
    assert best is not None
    share, source, time, found = best
    return _heard(path.name, share, source, time, found, remarks, [name for name, _ in tried])


def _heard(
    name: str, share: float, source: str, time: Floats, found: Floats, remarks: Remarks, tried: list[str]
) -> Heard:
    import numpy as np

    good = np.isfinite(found)
    if share < FAIR or np.count_nonzero(good) < 8:
        looked = " or ".join("a mains hum" if kind == "hum" else "an exhaust note" for kind in tried)
        hint = "" if "exhaust" in tried else "; give --cylinders to look for the exhaust note"
        raise TraceError(
            f"{quoted(name)}: cannot tell the frequency: only {share:.0%} of the moments have {looked} "
            f"that stands out from the noise, expected at least {FAIR:.0%}{hint}; "
            "record closer and without wind or voices"
        )
    lost = np.flatnonzero(~good)
    for run in np.split(lost, np.flatnonzero(np.diff(lost) > 1) + 1) if lost.size else []:
        remarks.add("not heard", 0, f"nothing stands out from {time[run[0]]:.1f} s to {time[run[-1]] + HOP:.1f} s")
    if source == "hum" and float(np.std(found[good])) < 0.02:
        text = "the hum keeps so still that it may be that of a public supply nearby; check with the set off"
        remarks.add("steady hum", 0, text)
    confidence = "sure" if share >= CERTAIN else "fair"
    described = ("mains hum" if source == "hum" else "exhaust note") + f", {share:.0%} of the moments heard"
    time, found = time[good], found[good]
    record = FrequencyRecord(
        time - time[0], found, HOP, 0.0, described, remarks.listed(), tuple(sorted(remarks.counts.items()))
    )
    return Heard(record, source, share, confidence)


# The file ----------------------------------------------------------------------------------------------------------


def _layout(path: Path, file: BinaryIO) -> _Sound:
    name = quoted(path.name)
    head = file.read(12)
    if len(head) < 12 or head[:4] not in (b"RIFF", b"RF64") or head[8:12] != b"WAVE":
        raise TraceError(f"{name}: byte 0: not a WAV file; expected RIFF and WAVE at its beginning")
    kind = channels = rate = bits = 0
    while True:
        at = file.tell()
        chunk = file.read(8)
        if len(chunk) < 8:
            raise TraceError(f"{name}: byte {at}: the file ends before its sound; expected a data chunk")
        size = int.from_bytes(chunk[4:], "little")
        if chunk[:4] == b"fmt ":
            form = file.read(size + size % 2)
            if len(form) < 16:
                raise TraceError(f"{name}: byte {at}: the format chunk has {len(form)} bytes, expected 16 or more")
            places = ((0, 2), (2, 4), (4, 8), (14, 16))
            kind, channels, rate, bits = (int.from_bytes(form[a:b], "little") for a, b in places)
            if kind == _EXTENSIBLE and len(form) >= 26:
                kind = int.from_bytes(form[24:26], "little")
        elif chunk[:4] == b"data":
            break
        else:
            file.seek(size + size % 2, 1)
    if not rate:
        raise TraceError(f"{name}: byte {at}: sound before its format; expected a format chunk first")
    if (kind, bits) not in {(_PCM, 8), (_PCM, 16), (_PCM, 24), (_PCM, 32), (_FLOAT, 32), (_FLOAT, 64)}:
        raise TraceError(
            f"{name}: format {kind} with {bits} bits is not read; "
            "expected PCM of 8, 16, 24 or 32 bits or float of 32 or 64; save it uncompressed"
        )
    if not 1 <= channels <= 64 or not 1000 <= rate <= 1_000_000:
        raise TraceError(f"{name}: {channels} channels at {rate} Hz; expected 1 to 64 channels at 1000 Hz or more")
    begin = file.tell()
    left = path.stat().st_size - begin
    # A recorder that was switched off leaves 0 or the largest number as length.
    length = left if size in (0, 0xFFFFFFFF) else min(size, left)
    return _Sound(kind, channels, rate, bits, begin, length)


def _blocks(file: BinaryIO, sound: _Sound) -> Iterator[Floats]:
    """Blocks of (frames, channels), between -1 and 1."""
    import numpy as np

    width = sound.bits // 8
    frame = width * sound.channels
    left = sound.length // frame
    file.seek(sound.begin)
    while left > 0:
        raw = file.read(min(left, _FRAMES) * frame)
        raw = raw[: len(raw) // frame * frame]
        if not raw:
            return
        left -= len(raw) // frame
        values: Floats
        if sound.kind == _FLOAT:
            values = np.frombuffer(raw, f"<f{width}").astype(np.float64)
            values[~(np.abs(values) <= 1e6)] = 0.0
        elif width == 1:
            values = (np.frombuffer(raw, np.uint8).astype(np.float64) - 128) / 128
        elif width == 3:
            padded = np.zeros((len(raw) // 3, 4), dtype=np.uint8)
            padded[:, 1:] = np.frombuffer(raw, np.uint8).reshape(-1, 3)
            values = padded.view("<i4").ravel() / 2.0**31
        else:
            values = np.frombuffer(raw, f"<i{width}") / 2.0 ** (sound.bits - 1)
        yield values.reshape(-1, sound.channels)


def _decimated(file: BinaryIO, sound: _Sound, remarks: Remarks) -> tuple[Floats, float]:
    """The loudest channel below HIGHEST, at a rate near the working rate, Hz."""
    import numpy as np
    from scipy.signal import firwin, upfirdn  # type: ignore[import-untyped, unused-ignore]

    factor = max(1, int(sound.rate // _WORKING_RATE))
    taps = firwin(16 * factor + 1, 1.15 * HIGHEST, fs=sound.rate) if factor > 1 else np.ones(1)
    parts: list[Floats] = []
    tail = np.zeros((taps.size - 1, sound.channels))
    clipped = total = 0
    for block in _blocks(file, sound):
        clipped += int(np.count_nonzero(np.abs(block) >= 0.999))
        total += block.size
        joined = np.vstack([tail, block])
        # Whole steps of the factor only; what is left over waits for the next block.
        count = max(0, (joined.shape[0] - taps.size) // factor + 1)
        if count:
            used = joined[: (count - 1) * factor + taps.size]
            full = upfirdn(taps, used, 1, factor, axis=0) if factor > 1 else used
            first = (taps.size - 1) // factor
            parts.append(np.asarray(full[first : first + count]))
        tail = joined[count * factor :]
    if not parts:
        return np.zeros(0), sound.rate / factor
    wave = np.concatenate(parts)
    power = (wave - wave.mean(axis=0)).std(axis=0)
    if sound.channels > 1:
        remarks.add("channels", 0, f"channel {int(power.argmax()) + 1} of {sound.channels} is the loudest and is used")
    if total and clipped > 0.001 * total:
        remarks.add("clipped", 0, f"{clipped / total:.1%} of the samples are at full scale; record more quietly")
    return np.asarray(wave[:, int(power.argmax())], dtype=np.float64), sound.rate / factor


# Tracking ----------------------------------------------------------------------------------------------------------


def track(wave: Floats, rate: float, hertz: float, ratio: float) -> tuple[Floats, Floats, float]:
    """Times (s), frequencies of the set (Hz, NaN where not told) and the share of moments told.

    Parameters: wave, sound at `rate` Hz. hertz: rated. ratio: fundamental of the sound over the frequency of the set, 1
    for hum, cylinders / poles for the exhaust of a four-stroke.
    """
    import numpy as np

    length, hop = round(MOMENT * rate), max(1, round(HOP * rate))
    count = (wave.size - length) // hop + 1
    size = 1 << (8 * length - 1).bit_length()
    candidates = np.exp(np.arange(np.log(hertz * (1 - REACH)), np.log(hertz * (1 + REACH)), 0.001))
    top = min(HIGHEST, 0.42 * rate)
    harmonics = np.arange(1, max(2, int(top / (candidates[-1] * ratio))) + 1)
    rows = candidates[:, None] * ratio * harmonics[None, :]
    usable = (rows >= LOWEST) & (rows <= top)
    place = rows * size / rate
    low = np.clip(place.astype(np.int64), 0, size // 2 - 1)
    part = place - low
    window = np.hanning(length)
    bins = slice(int(LOWEST * size / rate), int(top * size / rate) + 1)
    # Independent ordinates of the band, and those on one row of harmonics: a Hann window makes one of 1.5 bins.
    whole = (top - LOWEST) * length / rate / 1.5
    time = (np.arange(count) * hop + length / 2) / rate
    found, sure = np.full(count, np.nan), np.zeros(count, dtype=bool)
    for begin in range(0, count, 256):
        chosen = np.arange(begin, min(count, begin + 256))
        frames = wave[chosen[:, None] * hop + np.arange(length)[None, :]]
        frames = (frames - frames.mean(axis=1, keepdims=True)) * window
        power = np.abs(np.fft.rfft(frames, size, axis=1)) ** 2
        total = power[:, bins].sum(axis=1) * (length / size) / 1.5
        score = np.zeros((chosen.size, candidates.size))
        for n in range(harmonics.size):
            value = power[:, low[:, n]] * (1 - part[:, n]) + power[:, low[:, n] + 1] * part[:, n]
            score += np.where(usable[:, n], value, 0.0)
        share = np.divide(score, total[:, None], out=np.zeros_like(score), where=total[:, None] > 1e-20)
        best = share.argmax(axis=1)
        found[chosen] = candidates[best] * np.exp(0.001 * _vertex(score, best))
        on = np.count_nonzero(usable[best], axis=1)
        sure[chosen] = (share[np.arange(chosen.size), best] > _needed(whole, on, candidates.size)) & (
            (best > 2) & (best < candidates.size - 3)
        )
    found[~sure] = np.nan
    agreeing = _agreeing(found)
    return np.asarray(time, dtype=np.float64), agreeing, float(np.isfinite(agreeing).mean()) if count else 0.0


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
    from scipy.stats import beta  # type: ignore[import-untyped, unused-ignore]

    return np.asarray(beta.isf(FALSE_ALARM / candidates, on, np.maximum(whole - on, 1.0)), dtype=np.float64)


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
