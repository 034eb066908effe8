"""Expected minutes against the optimum on hard problems, by kind, following `Job.next_steps` itself.

    python -m tests.benchmarks.optimum [COUNT] [FIRST] [KIND ...]

COUNT problems of each kind (see `hard_problems`), their seeds from FIRST on. Seeds from 1000 on were used to build the
planner, those below for measuring alone. Prints mean, 95th percentile and most of the expected minutes over the optimum.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))  # the test modules import one another by their bare names

from hard_problems import KINDS, PIECES, excess_line, followed_job

from hertzwright.engine import load_knowledge


def main(count: int = 20, first: int = 0, kinds: Sequence[str] = ()) -> None:
    knowledge = load_knowledge()
    print(f"{'minutes over the optimum':<32}{'problems':>9}{'mean':>9}{'95th':>9}{'most':>9}")
    everything: list[float] = []
    for kind in (*KINDS, *PIECES):
        if kinds and kind not in kinds:
            continue
        excess = [followed_job(kind, seed, knowledge) for seed in range(first, first + count)]
        everything += excess
        print(excess_line(kind, excess), flush=True)
    print(excess_line("all", everything))


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:3]), kinds=sys.argv[3:])
