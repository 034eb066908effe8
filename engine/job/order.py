"""The order of work at a job: which steps are not due yet, and which an earlier one has made due.

Purpose: the order rules of the knowledge, and what a remedy disturbs, held against what was done; and the order in
which readings that prove a set are taken, so that none undoes what another has proven.
Law: pure; the same job gives the same answer. The planner keeps the same rules by itself; this is for steps that a
technician chose.
Not here: the rules (see the knowledge), what is proposed (see `advice`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import permutations
from typing import TYPE_CHECKING

from . import acceptance
from .sight import GLANCES

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
        elif rule.kind in GLANCES:
            reasons += [why for _, why in job.glances(step) if why == rule.why]
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


def readings_in_order(job: Job, names: Iterable[str], proving: bool = True) -> tuple[str, ...]:
    """Those of the checks that this set has and that have no answer on it as it is now, in the order in which they are
    taken; what two readings make is not taken.

    proving: what is looked at standing still, and what takes something off, comes before the restart, so that nothing
    that was proven is undone again; of these orders the one that moves the set least from where it is. Else that alone:
    what a running set shows is read before it is stopped.
    """
    checks, catalogue = job.checks, job.knowledge.catalogue
    read = [name for name in dict.fromkeys(names) if name in checks and checks[name].derived_from is None]
    there = [name for name in read if acceptance.present(job, name) is None]
    states = sorted({checks[name].state for name in there}, key=list(catalogue.states).index)

    def way(order: Sequence[str]) -> tuple[int, float, float]:
        """How often the set is stopped again; minutes of moving through these states, and on to where a proof run ends;
        then how long each waits."""
        here, total, waiting = job.here, 0.0, 0.0
        for state in (*order, catalogue.costs.proof_state):
            total += catalogue.costs.move(here, state)
            here = catalogue.costs.standing(here, state)
            waiting += total
        runs = [job.runs(state) for state in order]
        return sum(runs[at] and not runs[at + 1] for at in range(len(runs) - 1)) * proving, total, waiting

    best = min(permutations(states), key=way)

    def place(name: str) -> tuple[int, bool, int]:
        """Stopped, what needs all on comes before anything is off; running, what had to come off is read first."""
        takes_off, runs = bool(checks[name].fits.takes_off), job.runs(checks[name].state)
        return best.index(checks[name].state), takes_off != runs if proving else False, there.index(name)

    return tuple(sorted(there, key=place))


def applies(job: Job, remedy_id: str) -> bool:
    """Whether a remedy can be done on this set and acts on anything that it can have."""
    remedy = job.knowledge.remedies[remedy_id]
    there = remedy.retired is None and remedy.only_if.holds(job.features)
    return there and any(job.knowledge.causes[cause].prior(job.features) > 0.0 for cause in remedy.cures)


def due(job: Job) -> tuple[str, ...]:
    """Remedies that an earlier one makes due and that have not followed, unless what they set was read since and is
    right: the first check of their proof."""
    knowledge = job.knowledge
    waiting: dict[str, int] = {}
    epoch = 0
    for event in job.standing:
        if event.kind != "remedy":
            continue
        epoch += 1
        waiting.pop(event.id, None)
        follow = list(knowledge.remedies[event.id].then)
        for rule in knowledge.catalogue.order.values():
            if rule.kind == "do_again" and event.id in rule.before:
                follow += rule.after
        for name in dict.fromkeys(follow):
            if name in knowledge.remedies and name != event.id and applies(job, name):
                # What is disturbed again is read again; it keeps its place.
                waiting[name] = epoch
    return tuple(name for name, since in waiting.items() if not _right_since(job, name, since))


def _right_since(job: Job, remedy_id: str, epoch: int) -> bool:
    """Whether the reading that a remedy sets was taken from an epoch on and lies within the tolerance."""
    proof = [name for name in job.knowledge.remedies[remedy_id].proof if name in job.checks]
    found = [made for made in job.made if made.check in proof[:1] and made.epoch >= epoch and made.answer.outcomes]
    return bool(found) and acceptance.within_tolerance(job, found[-1])
