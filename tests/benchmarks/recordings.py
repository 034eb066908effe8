"""How recordings are read, over a family with known truth: hum, exhaust notes of 1, 2 and 4 cylinders, supply hum.

Run: python -m tests.benchmarks.recordings [recordings of each row] [first seed]. Prints a table; status 1 where a
recording far from the truth was called sure.
right: sure, within 1 %. fair: not sure, within 1 %. named: several, the truth among them. refused. false: not sure
and wrong. LIE: sure and wrong.
"""

from __future__ import annotations

import struct
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hertzwright.engine.trace.recording import read_recording
from hertzwright.engine.trace.samples import TraceError

RATE, SECONDS = 2000, 8.0
WORDS = ("right", "fair", "named", "refused", "false", "LIE")


def sound_of(
    rng: np.random.Generator, hertz: float, cylinders: int | None, supply: float | None, level: float, noise: float
) -> NDArray[np.float64]:
    """A set at `hertz` that wanders a little, a supply hum (Hz) of `level` dB beside it, noise in dB below the set."""
    at = np.arange(int(RATE * SECONDS)) / RATE
    speed = hertz * (1 + 0.003 * np.sin(2 * np.pi * rng.uniform(0.05, 0.4) * at + rng.uniform(0, 6)))
    turn = 2 * np.pi * np.cumsum(speed) / RATE
    sound = np.zeros(at.size)
    if cylinders is None:
        for order, most in ((1, 0.6), (2, 1.0), (3, 0.3), (4, 0.5), (6, 0.3)):
            sound += rng.uniform(0.3 if order <= 2 else 0.0, 1) * most * np.cos(order * turn + rng.uniform(0, 6))
    else:
        firing = cylinders / 4
        for order in range(1, int(400 / (hertz * firing)) + 1):
            sound += rng.uniform(0.4, 1) / order**0.7 * np.cos(order * firing * turn + rng.uniform(0, 6))
    size = float(sound.std())
    if supply is not None:
        hum = np.zeros(at.size)
        for order, most in ((1, 0.6), (2, 1.0), (3, 0.3), (4, 0.4), (6, 0.2)):
            hum += rng.uniform(0.3, 1) * most * np.cos(2 * np.pi * order * supply * at + rng.uniform(0, 6))
        sound = sound + hum * size / float(hum.std()) * 10 ** (level / 20)
    sound = sound + size * 10 ** (-noise / 20) * rng.normal(size=at.size)
    return np.asarray(0.3 * sound / float(np.abs(sound).max()))


def write_wave(path: Path, sound: NDArray[np.float64]) -> None:
    body = (sound * 32767).astype("<i2").tobytes()
    form = struct.pack("<HHIIHH", 1, 1, RATE, RATE * 2, 2, 16)
    path.write_bytes(
        b"RIFF" + struct.pack("<I", 36 + len(body)) + b"WAVEfmt " + struct.pack("<I", 16) + form + b"data"
        + struct.pack("<I", len(body)) + body
    )  # fmt: skip


def outcome(path: Path, truth: float, rated: float, cylinders: int | None) -> str:
    try:
        heard = read_recording(path, rated, 4, cylinders)
    except TraceError:
        return "refused"
    told = getattr(heard, "told", "sure")
    others = getattr(heard, "others", ())
    close = abs(float(np.median(heard.record.hertz)) / truth - 1) < 0.01
    if told == "sure":
        return "right" if close else "LIE"
    if close:
        return "fair" if told == "unsure" else "named"
    return "named" if any(abs(other / truth - 1) < 0.01 for other in others) and told == "open" else "false"


def main() -> int:
    each = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    ranges = {"40-46": (40.0, 46.0), "55-67": (55.0, 67.0), "67-74": (67.0, 74.0), "74-90": (74.0, 90.0)}
    rows = [(cylinders, supply, level) for cylinders in (None, 1, 2, 4)
            for supply, level in ((None, 0.0), (60.0, -10.0), (60.0, 0.0), (60.0, 12.0), (50.0, 0.0))]  # fmt: skip
    lies = 0
    print(f"{'cyl':>4} {'supply':>7} {'dB':>4} {'set Hz':>7}  " + " ".join(f"{word:>7}" for word in WORDS))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.wav"
        for cylinders, supply, level in rows:
            for name, (low, high) in ranges.items():
                count: Counter[str] = Counter()
                for _ in range(each):
                    seed += 1
                    rng = np.random.default_rng(seed)
                    truth = float(rng.uniform(low, high))
                    noise = float(rng.choice([3.0, 10.0, 20.0]))
                    write_wave(path, sound_of(rng, truth, cylinders, supply, level, noise))
                    count[outcome(path, truth, 60.0, cylinders)] += 1
                lies += count["LIE"]
                print(
                    f"{cylinders or 'hum':>4} {supply or '-':>7} {level:4.0f} {name:>7}  "
                    + " ".join(f"{count[word]:7d}" for word in WORDS), flush=True,
                )  # fmt: skip
    print(f"sure and wrong: {lies}")
    return int(lies > 0)


if __name__ == "__main__":
    raise SystemExit(main())
