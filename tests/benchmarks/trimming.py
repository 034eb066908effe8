"""The adjusting coach beside the best one-at-a-time routine, on the same mis-set simulated sets.

Run: python -m tests.benchmarks.trimming [SETS [SEED]]. Prints trials until within the tolerance and steady, and until
within half a hertz of both targets and steady: mean, 95th percentile, worst; and trials that were walked into hunting.
The routine's tuning (`TUNED`) comes from `python -m tests.benchmarks.trimming tune`, on other seeds than are reported.
What a set and a trial are: `tests.trimsets`. Each routine is run once with each of the two goals.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.trimsets import CLOSE, TUNED, Routine, Summary, TrimSet, coached, one_at_a_time, summary, trim_sets

TUNING_SEED, SEED = 7, 2026
AXES: dict[str, tuple[float, ...]] = {
    "speed": (0.6, 0.75, 0.9),
    "fall": (-0.12, -0.16, -0.2, -0.25),
    "aim": (-0.15, 0.0, 0.15),
    "ease": (0.5, 1.0, 2.0),
    "margin": (0.1, 0.2, 0.35),
    "learn": (0.0, 0.5, 1.0),
    "fall_first": (True, False),
    "done_fall": (0.2, 0.4, 0.6),
}
STARTS = (
    Routine(0.9, -0.2, 0.0, 1.0, 0.5, True, 0.4),
    Routine(0.9, -0.2, 0.0, 1.0, 0.5, False, 0.2),
)


def tune(knowledge: Knowledge, sets: Sequence[TrimSet], close: float | None) -> Routine:
    """The routine with the lowest mean: one axis of the grid after the other, twice, from two starts."""

    def score(routine: Routine) -> tuple[float, int]:
        found = summary([one_at_a_time(knowledge, each, routine, close, fast=True) for each in sets], close)
        return found.mean, found.worst

    finds = []
    for start in STARTS:
        best, reached = start, score(start)
        for _ in range(2):
            for axis, values in AXES.items():
                for value in values:
                    tried = replace(best, **{axis: value})  # type: ignore[arg-type]
                    if tried != best and (found := score(tried)) < reached:
                        best, reached = tried, found
        finds.append((reached, best))
    return min(finds, key=lambda each: each[0])[1]


def main(words: Sequence[str]) -> None:
    """Print the table, or the tuned routines."""
    knowledge = load_knowledge()
    if words[:1] == ["tune"]:
        sets = list(trim_sets(knowledge, 60, TUNING_SEED))
        for close in (None, CLOSE):
            print(close, tune(knowledge, sets, close))
        return
    count, seed = (int(word) for word in (*words, *("500", str(SEED))[len(words) :]))
    sets = list(trim_sets(knowledge, count, seed))
    print(f"{count} mis-set sets, seed {seed}; the reading as found is trial 0 and is not counted")
    report(knowledge, sets, print)


def report(knowledge: Knowledge, sets: Sequence[TrimSet], line: Callable[[str], None]) -> None:
    """The table, a line at a time."""
    line(f"{'goal':<22} {'routine':<16} {'mean':>5} {'95 %':>5} {'worst':>5}  walked into hunting: most, sets")
    for close in (None, CLOSE):
        goal = "tolerance and steady" if close is None else "0.5 Hz of both targets"
        plays, ends = coached(knowledge, sets, close)
        for kind in ("all", "vacuum", "none"):
            some = [played for played, each in zip(plays, sets, strict=True) if kind in ("all", each.booster)]
            line(_row(goal, "coach" if kind == "all" else f"  booster {kind}", summary(some, close)))
        line(f"{'':<22} ended: {', '.join(f'{name} {number}' for name, number in sorted(ends.items()))}")
        wrong = [played for played in plays if (played.tolerance if close is None else played.close) != 0]
        line(_row(goal, f"  {len(wrong)} mis-set", summary(wrong, close)))
        routine = [one_at_a_time(knowledge, each, TUNED[close], close) for each in sets]
        line(_row(goal, "one at a time", summary(routine, close)))


def _row(goal: str, name: str, found: Summary) -> str:
    counts = f"{found.mean:>5.2f} {found.nearly_all:>5} {found.worst:>5}"
    return f"{goal:<22} {name:<16} {counts}  {found.walked}, {found.walks}"


if __name__ == "__main__":
    main(sys.argv[1:])
