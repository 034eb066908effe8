"""Sound recordings: formats, hum, exhaust note, and when it cannot be told."""

from __future__ import annotations

import contextlib
import itertools
import struct
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from hertzwright.engine.trace.harmonics import follow
from hertzwright.engine.trace.recording import read_recording
from hertzwright.engine.trace.samples import TraceError

Floats = NDArray[np.float64]


def wave_bytes(sound: Floats, rate: int, bits: int, kind: int = 1, extensible: bool = False, size: int = -1) -> bytes:
    """A WAV file of samples between -1 and 1, shape (frames,) or (frames, channels)."""
    sound = sound.reshape(len(sound), -1)
    if kind == 3:
        body = sound.astype(f"<f{bits // 8}").tobytes()
    elif bits == 8:
        body = (sound * 127 + 128).astype(np.uint8).tobytes()
    elif bits == 24:
        body = (sound * (2**31 - 1)).astype("<i4").reshape(-1, 1).view(np.uint8)[:, 1:].tobytes()
    else:
        body = (sound * (2 ** (bits - 1) - 1)).astype(f"<i{bits // 8}").tobytes()
    channels = sound.shape[1]
    frame = channels * bits // 8
    form = struct.pack("<HHIIHH", 0xFFFE if extensible else kind, channels, rate, rate * frame, frame, bits)
    if extensible:
        form += struct.pack("<HHI", 22, bits, 0) + struct.pack("<H", kind) + bytes(14)
    chunks = b"fmt " + struct.pack("<I", len(form)) + form + b"LIST" + struct.pack("<I", 3) + b"abc\0"
    chunks += b"data" + struct.pack("<I", len(body) if size < 0 else size) + body
    return b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks


def hum(frequency: float, rate: int, seconds: float = 4.0, noise: float = 0.05) -> Floats:
    t = np.arange(int(seconds * rate)) / rate
    wave = 0.2 * np.sin(2 * np.pi * frequency * t) + 0.3 * np.sin(4 * np.pi * frequency * t + 1)
    wave += 0.1 * np.sin(6 * np.pi * frequency * t + 2) + noise * np.random.default_rng(1).normal(size=t.size)
    return np.asarray(np.clip(wave, -1, 1))


@pytest.mark.parametrize(
    ("rate", "bits", "kind", "extensible"),
    [
        (8000, 8, 1, False), (48000, 24, 1, True), (16000, 32, 3, False), (1000, 16, 1, False),
        *(pytest.param(*each, marks=pytest.mark.nightly) for each in (
            (44100, 16, 1, False), (22050, 32, 1, False), (96000, 64, 3, True), (2000, 16, 1, False))),
    ],
)  # fmt: skip
def test_formats(tmp_path: Path, rate: int, bits: int, kind: int, extensible: bool) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(wave_bytes(hum(61.3, rate), rate, bits, kind, extensible))
    heard = read_recording(path)
    assert heard.source == "hum"
    assert heard.share == 1.0
    assert float(np.mean(heard.record.hertz)) == pytest.approx(61.3, rel=0.002)


def test_stereo_takes_the_channel_with_the_sound(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    sound = hum(59.2, 8000)
    quiet = 0.01 * np.random.default_rng(2).normal(size=sound.size)
    path.write_bytes(wave_bytes(np.column_stack([quiet, sound]), 8000, 16))
    heard = read_recording(path)
    assert float(np.mean(heard.record.hertz)) == pytest.approx(59.2, rel=0.002)
    assert any("channel 2 of 2" in remark.text for remark in heard.record.remarks)


@pytest.mark.parametrize("size", [0, 0xFFFFFFFF])
def test_a_recorder_switched_off_leaves_no_length(tmp_path: Path, size: int) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(wave_bytes(hum(60.5, 8000), 8000, 16, size=size))
    assert read_recording(path).record.time[-1] > 3.0


def test_noise_and_silence_cannot_be_told(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    for sound in (0.2 * np.random.default_rng(3).normal(size=40000), np.zeros(40000)):
        path.write_bytes(wave_bytes(np.clip(sound, -1, 1), 8000, 16))
        with pytest.raises(TraceError, match=r"cannot tell the frequency: only 0% .* a mains hum or an exhaust note"):
            read_recording(path, cylinders=2)


def test_a_swing_in_the_sound_is_followed() -> None:
    rate = 1200.0
    t = np.arange(int(20 * rate)) / rate
    true = 61 + 0.8 * np.sin(2 * np.pi * t / 3)
    phase = 2 * np.pi * np.cumsum(true) / rate
    followed = follow(np.sin(2 * phase) + 0.5 * np.sin(phase), rate, 60.0, 1.0)
    time, found, share = followed.time, followed.found, followed.share
    assert share > 0.95
    assert float(np.nanmax(np.abs(found - np.interp(time, t, true)))) < 0.15


def test_a_part_without_sound_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    sound = hum(60.4, 8000, 10.0)
    sound[32000:44000] = 0.05 * np.random.default_rng(4).normal(size=12000)
    path.write_bytes(wave_bytes(sound, 8000, 16))
    heard = read_recording(path)
    assert 0.8 < heard.share < 0.95
    assert heard.confidence == "fair"
    assert any(remark.kind == "not heard" for remark in heard.record.remarks)
    assert np.max(np.abs(heard.record.hertz - 60.4)) < 0.5


@pytest.mark.parametrize(
    ("body", "message"),
    [
        (b"", "byte 0: not a WAV file"),
        (b"RIFF\0\0\0\0WAVE", "byte 12: the file ends before its sound"),
        (b"RIFF\0\0\0\0WAVEdata\4\0\0\0abcd", "sound before its format"),
        (b"RIFF\0\0\0\0WAVEfmt \4\0\0\0abcd", "format chunk has 4 bytes"),
        (wave_bytes(np.zeros(100), 8000, 16), "lasts 0"),
        (wave_bytes(np.zeros(100), 8000, 16, kind=7)[:60], "format 7 with 16 bits is not read"),
        (wave_bytes(np.zeros(100), 100, 16), "at 100 Hz; expected"),
    ],
)
def test_unusable_files(tmp_path: Path, body: bytes, message: str) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(body)
    with pytest.raises(TraceError, match=message):
        read_recording(path)


def test_cut_off_and_changed_files_never_end_in_another_error(tmp_path: Path) -> None:
    whole = wave_bytes(hum(60.5, 4000, 3.0), 4000, 24, extensible=True)
    rng = np.random.default_rng(5)
    path = tmp_path / "a.wav"
    for _ in range(60):
        body = bytearray(whole[: int(rng.integers(1, len(whole)))])
        for place in rng.integers(0, min(len(body), 100), 3):
            body[int(place)] = int(rng.integers(256))
        path.write_bytes(bytes(body))
        with contextlib.suppress(TraceError):
            assert np.all(np.isfinite(read_recording(path).record.hertz))


def set_sound(frequency: float, seed: int, orders: tuple[tuple[int, float], ...], noise: float = 0.1) -> Floats:
    """Tones at multiples of a frequency that wanders by 0.2 %, for 8 s at 2000 Hz."""
    rng = np.random.default_rng(seed)
    at = np.arange(16000) / 2000
    turn = 2 * np.pi * np.cumsum(frequency * (1 + 0.002 * np.sin(2 * np.pi * 0.2 * at + seed))) / 2000
    wave = sum((size * np.cos(order * turn + rng.uniform(0, 6)) for order, size in orders), np.zeros(1))
    return np.asarray(0.1 * (wave + noise * rng.normal(size=at.size)))


FULL = ((1, 0.5), (2, 1.0), (3, 0.2), (4, 0.4))


ONE = ((1, 1.0),)
ROWS = list(itertools.product((50.0, 60.0), (44.7, 74.3, 84.9), (ONE, FULL)))
FEW = ((60.0, 44.7, FULL), (50.0, 84.9, ONE))  # in the quick tier


@pytest.mark.parametrize(
    ("rated", "frequency", "orders"),
    [pytest.param(*row, marks=[] if row in FEW else pytest.mark.nightly) for row in ROWS],
)
def test_a_related_row_is_never_read_for_sure(
    tmp_path: Path, rated: float, frequency: float, orders: tuple[tuple[int, float], ...]
) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(wave_bytes(set_sound(frequency, 1, orders), 2000, 16))
    heard = read_recording(path, rated)
    read = float(np.median(heard.record.hertz))
    named = (read, *heard.others)
    assert min(abs(one / frequency - 1) for one in named) < 0.01
    assert heard.told == "open" or abs(read / frequency - 1) < 0.01
    assert read > 0.99 * frequency  # an overspeed is never read as less


@pytest.mark.parametrize(
    ("level", "frequency"),
    [
        (1.0, 76.4),
        (4.0, 61.7),
        *(pytest.param(*each, marks=pytest.mark.nightly) for each in ((1.0, 61.7), (4.0, 76.4))),
    ],
)
def test_a_supply_hum_does_not_replace_the_set(tmp_path: Path, level: float, frequency: float) -> None:
    at = np.arange(16000) / 2000
    supply = 0.1 * level * (0.5 * np.cos(2 * np.pi * 60 * at + 1) + np.cos(2 * np.pi * 120 * at))
    path = tmp_path / "a.wav"
    path.write_bytes(wave_bytes(set_sound(frequency, 2, FULL, 0.05) + supply, 2000, 16))
    heard = read_recording(path, 60.0)
    assert heard.told != "sure" or float(np.median(heard.record.hertz)) == pytest.approx(frequency, rel=0.01)
    if level <= 1:
        assert float(np.median(heard.record.hertz)) == pytest.approx(frequency, rel=0.01)


def test_a_still_hum_at_the_frequency_of_a_supply_is_not_sure(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(wave_bytes(hum(60.02, 2000, 8.0), 2000, 16))
    heard = read_recording(path)
    assert (heard.told, heard.confidence) == ("unsure", "fair")
    assert any("public supply nearby" in remark.text for remark in heard.record.remarks)
