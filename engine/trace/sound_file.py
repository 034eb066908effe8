"""The samples of a WAV file, a block at a time.

Purpose: where they are, and the loudest channel at a rate that tracking needs.
Law: the file is read in pieces, so that an hour of sound needs no more room than a minute; what cannot be read is a
TraceError with the place in the file.
Source: RIFF and WAVE layout (from memory). numpy and scipy are imported only inside the functions.
Not here: what is heard in it (see `harmonics`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from ..problems import quoted
from .samples import Remarks, TraceError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_WORKING_RATE = 1200.0  # Hz, after decimation
_FRAMES = 1 << 18
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE


@dataclass(frozen=True, slots=True)
class SoundLayout:
    """Where the samples of a WAV file are."""

    kind: int
    channels: int
    rate: int
    bits: int
    begin: int
    length: int


def sound_layout(path: Path, file: BinaryIO) -> SoundLayout:
    """Where the samples of an open WAV file are. Raises TraceError."""
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
    return SoundLayout(kind, channels, rate, bits, begin, length)


def _blocks(file: BinaryIO, sound: SoundLayout) -> Iterator[Floats]:
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


def decimated(file: BinaryIO, sound: SoundLayout, highest: float, remarks: Remarks) -> tuple[Floats, float]:
    """The loudest channel below `highest` Hz, at a rate near the working rate, Hz."""
    import numpy as np
    from scipy.signal import firwin, upfirdn  # type: ignore[import-untyped, unused-ignore]

    factor = max(1, int(sound.rate // _WORKING_RATE))
    taps = firwin(16 * factor + 1, 1.15 * highest, fs=sound.rate) if factor > 1 else np.ones(1)
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
