"""Simulated jobs: following the suggestions against working through the published order from the top.

    python -m tests.benchmarks.jobs [COUNT] [DEEPEN]

Prints minutes (mean, median, 95th percentile), steps, and how the jobs ended; by number of faults and over all. What is
assumed about the sets and the technician stands in `engine.callout` and `engine.rehearsal`.
"""

from __future__ import annotations

import math
import os
import statistics
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor

from hertzwright.engine import load_knowledge
from hertzwright.engine.rehearsal.interval import ratio
from hertzwright.engine.rehearsal.many_jobs import WorkedTwice, ends, rehearse, spread
from hertzwright.engine.rehearsal.played_job import Played

SEED = 20261125


def line(name: str, played: Sequence[Played]) -> str:
    found, how = spread([each.minutes for each in played]), ends(played)
    steps = statistics.mean(len(each.moves) for each in played)
    return (
        f"{name:<28}{len(played):>5}{found.mean:>8.0f}{found.median:>8.0f}{found.most:>8.0f}{steps:>8.1f}"
        f"   {'/'.join(str(count) for count in how.values())}"
    )


def main(count: int = 200, deepen: int = 0) -> None:
    knowledge = load_knowledge()
    print(f"{count} jobs, seed {SEED}, {deepen} steps deepened")
    print(f"{'':<28}{'jobs':>5}{'mean':>8}{'median':>8}{'95th':>8}{'steps':>8}   fixed/referred/came back")
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        rows = rehearse(knowledge, count, seed=SEED, deepen=deepen, executor=pool)
    for name, wanted in (("one fault", {1}), ("two faults", {2}), ("three and more", {*range(3, 20)})):
        show(name, [pair for pair in rows if len(pair.suggested.faults) in wanted])
    show("all", rows)


def show(name: str, rows: Sequence[WorkedTwice]) -> None:
    if not rows:
        return
    mine, theirs = [pair.suggested for pair in rows], [pair.published for pair in rows if pair.published]
    print(line(f"{name}: suggestions", mine))
    print(line(f"{name}: published order", theirs))
    value, half_width = ratio([each.minutes for each in mine], [each.minutes for each in theirs])
    bound, bound_half = ratio([each.minutes for each in mine], [pair.bound for pair in rows])
    widths = [math.nan if half is None else half for half in (half_width, bound_half)]
    print(f"{'':<28}ratio {value:.2f} +- {widths[0]:.2f}; to the bound {bound:.2f} +- {widths[1]:.2f}")


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:3]))
