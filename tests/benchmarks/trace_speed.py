"""How long a day of readings takes: 24 hours at 10 Hz, 864,000 rows, read and judged.

Run: python tests/benchmarks/trace_speed.py [rows]. Prints processor seconds and peak memory; status 1 where a target
is missed (reading in 10 s and 500 MB).
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from hertzwright.engine.trace.analysis import analyse
from hertzwright.engine.trace.logfile import read_trace

MOST_SECONDS, MOST_MEGABYTES = 10.0, 500.0


def write_day(path: Path, rows: int, stamp: str) -> None:
    """A log of `rows` readings at 10 Hz with load on and off every ten minutes; `stamp`: seconds, clock or date."""
    rng = np.random.default_rng(0)
    seconds = np.arange(rows) / 10
    hertz = 61.5 - 1.5 * ((seconds // 600) % 2) + rng.normal(0, 0.05, rows)
    if stamp == "seconds":
        times = [f"{s:.1f}" for s in seconds]
    else:
        date = np.datetime64("2026-01-10T14:00:00") + (seconds * 1000).astype("timedelta64[ms]")
        times = [str(t).replace("T", " ") for t in date]
        if stamp == "clock":
            times = [t[11:] for t in times]
    path.write_text("time;Hz\n" + "\n".join(f"{t};{h:.2f}" for t, h in zip(times, hertz, strict=True)) + "\n")


def main() -> int:
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 864_000
    missed = False
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "day.csv"
        for stamp in ("seconds", "clock", "date"):
            write_day(path, rows, stamp)
            begin = time.process_time()
            record = read_trace(path)
            read = time.process_time() - begin
            report = analyse(record)
            total = time.process_time() - begin
            missed |= read > MOST_SECONDS
            print(
                f"{stamp:8} {record.time.size} rows: read {read:.2f} s, read and judged {total:.2f} s, "
                f"{len(report.stretches)} stretches, {len(report.steps)} steps"
            )
    # Includes what writing the test file took.
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory {peak:.0f} MB")
    return int(missed or peak > MOST_MEGABYTES)


if __name__ == "__main__":
    raise SystemExit(main())
