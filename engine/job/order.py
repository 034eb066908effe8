"""The order of work at a job: which steps are not due yet, and which an earlier one has made due.

Purpose: the order rules of the knowledge, and what a remedy disturbs, held against what was done.
Law: pure; the same job gives the same answer. The planner keeps the same rules by itself; this is for steps that a
technician chose.
Not here: the rules (see the knowledge), what is proposed (see `advice`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from . import acceptance

if TYPE_CHECKING:
    from .job import Job


def out_of_order(job: Job, step: str) -> tuple[str, ...]:
    """Why a step is not due yet by the order rules; empty where it is."""
    reasons: list[str] = []
    made = {found.check for found in job.made}
    done = {event.id for event in job.standing if event.kind == "remedy"}
    # What can no longer be read as found is waited for no more.
    past = set(job.knowledge.catalogue.costs.as_found) - set(job.owed)
    for rule in job.knowledge.catalogue.order.values():
        if step not in rule.after:
            continue
        if rule.kind == "look_first":
            if any(name in job.checks and name not in made and name not in past for name in rule.before):
                reasons.append(rule.why)
        elif rule.kind == "cure_first":
            chances, bound = job.posterior(), job.knowledge.catalogue.words["sometimes"].value
            suspected = [
                name for name in rule.before
                if name in job.knowledge.remedies and name not in done
                and any(chances.get(cause, 0.0) >= bound for cause in job.knowledge.remedies[name].cures)
            ]  # fmt: skip
            if suspected:
                reasons.append(rule.why)
    return tuple(reasons)


def applies(job: Job, remedy_id: str) -> bool:
    """Whether a remedy acts on anything that this set can have."""
    remedy = job.knowledge.remedies[remedy_id]
    return remedy.retired is None and any(
        job.knowledge.causes[cause].prior(job.features) > 0.0 for cause in remedy.cures
    )


def due(job: Job) -> tuple[str, ...]:
    """Remedies that an earlier one makes due and that have not followed, unless their own proof is right already."""
    knowledge = job.knowledge
    waiting: list[str] = []
    for event in job.standing:
        if event.kind != "remedy":
            continue
        waiting = [name for name in waiting if name != event.id]
        follow = list(knowledge.remedies[event.id].then)
        for rule in knowledge.catalogue.order.values():
            if rule.kind == "do_again" and event.id in rule.before:
                follow += rule.after
        waiting += [
            name for name in dict.fromkeys(follow)
            if name in knowledge.remedies and name not in waiting and name != event.id and applies(job, name)
        ]  # fmt: skip
    return tuple(name for name in waiting if not _proven(job, name))


def _proven(job: Job, remedy_id: str) -> bool:
    proof = [name for name in job.knowledge.remedies[remedy_id].proof if name in job.checks]
    found = [acceptance.present(job, name) for name in proof]
    return bool(proof) and all(made is not None and acceptance.fine(job, made) for made in found)
