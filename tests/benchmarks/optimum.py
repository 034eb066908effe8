"""Expected minutes against the optimum on more and larger random problems than the test has time for.

python -m tests.benchmarks.optimum [COUNT]
"""

from __future__ import annotations

import statistics
import sys

from hertzwright.optimum import START, Followed, Optimum, random_problem


def main(count: int = 300) -> None:
    print(f"{'excess over the optimum':<32}{'problems':>9}{'mean':>8}{'95th':>8}{'most':>8}")
    for name, faults, causes, looks in (("one fault", 1, (2, 5), (2, 4)), ("two faults", 2, (2, 4), (2, 3))):
        rows: dict[str, list[float]] = {}
        for seed in range(count):
            problem, sets = random_problem(10_000 + seed, faults=faults, causes=causes, looks=looks)
            best = Optimum(problem).value(sets, START)
            for step, deepen in (("one step", 0), ("two steps", 4), ("two steps, all", 99)):
                rows.setdefault(step, []).append(Followed(problem, deepen=deepen).value(sets, START) / best - 1.0)
        for step, excess in rows.items():
            excess.sort()
            print(
                f"{name + ', ' + step:<32}{count:>9}{statistics.mean(excess):>8.2%}"
                f"{excess[int(0.95 * count)]:>8.2%}{excess[-1]:>8.2%}",
                flush=True,
            )


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:2]))
