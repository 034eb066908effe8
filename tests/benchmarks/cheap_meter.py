"""Dip and recovery from a cheap meter (0.1 Hz, 2 readings a second, half a second of gate) against known steps.

Run: python -m tests.benchmarks.cheap_meter [steps] [seed]. Prints errors of depth and recovery and how often the
stated doubt covers the truth; status 1 where that is less than 95 in 100.
"""

from __future__ import annotations

import sys

import numpy as np

from hertzwright.engine.trace.analysis import analyse
from hertzwright.engine.trace.samples import FrequencyRecord

FINE, GATE, HALF = 0.01, 0.5, 0.0083 * 30


def main() -> int:
    steps = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    rng = np.random.default_rng(int(sys.argv[2]) if len(sys.argv) > 2 else 5)
    rows, missed = [], 0
    for _ in range(steps):
        damping, period, drop = rng.uniform(0.15, 0.8), rng.uniform(1.0, 5.0), rng.uniform(1.0, 3.5)
        push = rng.uniform(0.0, 3.0)  # how much the loss of speed itself adds to the first dip
        fine = np.arange(0, 70, FINE)
        since = np.maximum(fine - 30 - rng.uniform(0, 0.5), 0)
        turn = 2 * np.pi / period
        decay = damping * turn / np.sqrt(1 - damping**2)
        wave = np.exp(-decay * since) * (np.cos(turn * since) + (decay / turn - push) * np.sin(turn * since))
        true = np.where(since > 0, 61.8 - drop * (1 - wave), 61.8)
        depth = float(61.8 - drop - true.min())
        leaves = fine[np.flatnonzero(np.abs(true - 61.8) > HALF)[0]]
        recovery = float(fine[np.flatnonzero(np.abs(true - 61.8 + drop) > HALF)[-1]] - leaves)
        sums = np.concatenate([[0.0], np.cumsum(true)])
        at = np.arange(GATE, 69, 0.5)
        last = np.round(at / FINE).astype(int)
        mean = (sums[last] - sums[last - round(GATE / FINE)]) / round(GATE / FINE)
        shown = np.round(mean + rng.normal(0, 0.02, at.size), 1)
        found = analyse(FrequencyRecord(at, shown, 0.5, 0.1, "test")).steps
        if len(found) != 1 or found[0].transient.recovery is None:
            missed += 1
            continue
        way = found[0].transient
        rows.append((way.depth - depth, way.recovery - recovery, way.within, getattr(way, "depth_within", 0.0), depth,
                     way.fitted))  # fmt: skip
    table = np.array(rows, dtype=float)
    off, late = np.abs(table[:, 0]), np.abs(table[:, 1])
    print(f"{len(rows)} steps measured, {missed} not told")
    for name, value in (("depth off, % of it", 100 * off / table[:, 4]), ("recovery off, s", late)):
        print(f"{name:20} median {np.median(value):.2f}, 95 % {np.quantile(value, 0.95):.2f}, most {value.max():.2f}")
    covers = np.mean(off <= table[:, 3] + 1e-9), np.mean(late <= table[:, 2] + 1e-9)
    print(f"doubt covers the depth {covers[0]:.1%}, the recovery {covers[1]:.1%}")
    print(f"doubts: depth median {np.median(table[:, 3]):.2f} Hz, recovery median {np.median(table[:, 2]):.2f} s")
    return int(min(covers) < 0.95)


if __name__ == "__main__":
    raise SystemExit(main())
