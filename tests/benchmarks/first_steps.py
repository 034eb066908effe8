"""The first steps that are proposed for each complaint, with the set in each state that it may be found in.

    python -m tests.benchmarks.first_steps [DEEPEN] [COMPLAINT ...]

The three steps of a row are the best now, the best after the most probable answer to it, and the best after that: how
the work would really begin. After each stand its minutes, with the move to its set-up state.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from hertzwright.engine import Job, Knowledge, load_knowledge


def begin(job: Job, count: int, deepen: int) -> list[tuple[str, str, float]]:
    """The first steps as kind, id and minutes, each after the most probable answer to the one before it, without the looks
    before the first start that every set gets."""
    found: list[tuple[str, str, float]] = []
    while len(found) < count:
        step = job.next_steps(1, deepen)[0]
        if step.id in job.first_looks:  # of every set that is started, and so no step of a complaint
            job.record(step.id, job.checks[step.id].normal)
            continue
        found.append((step.kind, step.id, step.minutes))
        if step.kind == "check":
            job.record(step.id, _usual_answer(job, step.id))
        elif step.kind == "remedy":
            job.carry_out(step.id, "not cured")
        else:
            break
    return found


def _usual_answer(job: Job, check: str) -> str:
    """The most probable outcome over the fault sets that carry most."""
    knowledge = job.knowledge
    weights: dict[str, float] = {}
    for present, weight in job.fault_sets(60):
        for outcome in knowledge.checks[check].outcomes:
            chance = weight * knowledge.likelihood(check, outcome.id, present)
            weights[outcome.id] = weights.get(outcome.id, 0.0) + chance
    return max(weights, key=lambda name: (weights[name], name))


def rows(knowledge: Knowledge, stands: Sequence[str], deepen: int, only: Sequence[str] = ()) -> list[tuple[str, ...]]:
    table = []
    for complaint in only or knowledge.complaints:
        for where in stands:
            job = Job(knowledge)
            job.stands(where)
            job.record(complaint, "present")
            steps = begin(job, 3, deepen)
            table.append((complaint, where, *(f"{kind[0]} {name} {minutes:g}" for kind, name, minutes in steps)))
    return table


def main(deepen: int = 4, only: Sequence[str] = ()) -> None:
    for row in rows(load_knowledge(), ("cold", "running", "warm", "apart"), deepen, only):
        print(f"{row[0]:<26}{row[1]:<8}" + "".join(f"{cell:<36}" for cell in row[2:]))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4, sys.argv[2:])
