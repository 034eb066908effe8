"""The expert: the program itself on a dealt set, always doing what it suggests first.

Purpose: a set and what its customer says -> the path to the end, with the reason of every step.
Law: one depth of thought for the path, a hint, and what is said of a trainee's step: `DEPTH`, that of a job at the
terminal. The same set gives the same path.
Not here: what sets are dealt (see `dealing`), and what a trainee did (see `drill`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from ..compiler import Features, Knowledge
from ..job import Job
from ..rehearsal import Played, VirtualSet, by_suggestions, least_minutes, make_safe

DEPTH = 4
"""How many of the best steps are followed further (see `Job.next_steps`, whose own figure this is)."""
MOST_STEPS = 40
"""Steps after which the program hands the set over; a job on paper has no end otherwise. It does so too once it has
looked for as many minutes as handing over costs, beside those that the repair itself takes."""


@dataclass(frozen=True, slots=True)
class ExpertPath:
    """How the program worked a set, and why it took each step, in the order of the steps."""

    played: Played
    reasons: tuple[str, ...]


def expert_path(
    knowledge: Knowledge,
    features: Features,
    complaints: Iterable[str],
    called: VirtualSet,
    deepen: int = DEPTH,
    each: Callable[[], None] = lambda: None,
) -> ExpertPath:
    """The set worked by the suggestions, always the first, to its end. `called` is used up. each: called before every
    step, so that somebody who waits can see it."""
    job = Job(knowledge, features)
    for name in complaints:
        job.record(name, "present")
    reasons: list[str] = []

    def watch(job: Job) -> None:
        each()
        make_safe(job)
        reasons.append(job.next_steps(1, deepen)[0].why)

    within = knowledge.catalogue.costs.refer + least_minutes(knowledge, called.faults)
    played = by_suggestions(deepen, watch, most=MOST_STEPS, within=within)(job, called)
    return ExpertPath(played, (*reasons, *("",) * (len(played.moves) - len(reasons))))
