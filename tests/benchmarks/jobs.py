"""Simulated jobs: following the suggestions against working through the published order from the top.

    python -m tests.benchmarks.jobs [COUNT] [DEEPEN]

Prints minutes (mean, median, 95th percentile), steps, and how the jobs ended; by number of faults and over all. What is
assumed about the sets and the technician stands in `simulated`. 500 jobs, deepened, take some twenty minutes.
"""

from __future__ import annotations

import statistics
import sys
from collections import Counter
from collections.abc import Sequence

from hertzwright.engine import load_knowledge

from .simulated import Outcome, called_out, follow_suggestions, work_through_the_order

SEED = 20261125


def line(name: str, ends: Sequence[Outcome]) -> str:
    minutes = sorted(end.minutes for end in ends)
    how = Counter(end.end for end in ends)
    return (
        f"{name:<24}{len(ends):>5}{statistics.mean(minutes):>8.0f}{statistics.median(minutes):>8.0f}"
        f"{minutes[int(0.95 * len(minutes))]:>8.0f}{statistics.mean(end.steps for end in ends):>8.1f}"
        f"   {how['fixed']}/{how['referred']}/{how['came back']}"
    )


def main(count: int = 500, deepen: int = 4) -> None:
    knowledge = load_knowledge()
    rows: list[tuple[int, Outcome, Outcome]] = []
    again = called_out(knowledge, count, SEED)
    for (complaint, simulated), (same, copy) in zip(called_out(knowledge, count, SEED), again, strict=True):
        faults = len(simulated.faults)
        suggested = follow_suggestions(complaint, simulated, deepen=deepen)
        rows.append((faults, suggested, work_through_the_order(same, copy)))
        if sys.stderr.isatty():
            print(f"\r{len(rows)} of {count}", end="", file=sys.stderr, flush=True)
    print(f"\n{count} jobs, seed {SEED}, {deepen} steps deepened")
    print(f"{'':<24}{'jobs':>5}{'mean':>8}{'median':>8}{'95th':>8}{'steps':>8}   fixed/referred/came back")
    for name, wanted in (
        ("one fault", {1}),
        ("two faults", {2}),
        ("three and more", set(range(3, 20))),
        ("all", set(range(20))),
    ):
        picked = [row for row in rows if row[0] in wanted]
        if picked:
            mine, theirs = [row[1] for row in picked], [row[2] for row in picked]
            print(line(f"{name}: suggestions", mine))
            print(line(f"{name}: published", theirs))
            ratio = statistics.mean(end.minutes for end in mine) / statistics.mean(end.minutes for end in theirs)
            print(f"{'':<24}ratio of means {ratio:.2f}")


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:3]))
