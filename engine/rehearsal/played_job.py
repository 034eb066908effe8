"""Whole jobs played on sets that are called out, by the suggestions or in another fixed way of working.

Purpose: how long jobs take and how they end, for a way of working and a set (see `virtual_set`).
Law: the same set and the same way of working give the same job; nothing here is drawn.
Assumed: the technician makes a held job safe before anything else, sees what the check shows, does what the way of
working says, and hands over at the knowledge's minutes. A set that is closed with a fault still in it comes back, and
that too is charged at the knowledge's minutes.
Not here: many jobs and their statistics (see `many_jobs`).
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from ..compiler import Knowledge
from ..job import Job
from .virtual_set import VirtualSet

FIXED, REFERRED, CAME_BACK = "fixed", "referred", "came back"
MOST_STEPS = 60


@dataclass(frozen=True, slots=True)
class PlayedStep:
    """One step of a played job. `kind`: check, remedy, done, refer. `minutes`: of the job, when it was done.

    `blamed`: for a remedy none of whose causes was there, the one of them that was believed most.
    """

    kind: str
    id: str
    answer: str
    minutes: float
    blamed: str = ""


@dataclass(frozen=True, slots=True)
class Played:
    """How a job went. `faults`: as found; `left`: still there at the end; `minutes`: with handing over charged."""

    complaint: str
    faults: tuple[str, ...]
    left: tuple[str, ...]
    end: str
    minutes: float
    moves: tuple[PlayedStep, ...]


Way = Callable[[Job, VirtualSet], Played]
"""A way of working: from a job with its complaint noted to its end."""


def play(knowledge: Knowledge, called: VirtualSet, way: Way) -> Played:
    """Play one job from the complaint to its end. `called` is used up."""
    job = Job(knowledge, called.features)
    job.record(called.complaint, "present")
    return way(job, called)


def by_suggestions(
    deepen: int = 0, watch: Callable[[Job], None] | None = None, most: int = MOST_STEPS, within: float = inf
) -> Way:
    """Always do what is suggested first. deepen: as `Job.next_steps`; watch: called with the job before each step.

    most, within: steps and minutes of the job after which the set is handed over, whatever is suggested."""

    def way(job: Job, called: VirtualSet) -> Played:
        faults, moves = called.faults, list[PlayedStep]()
        while len(moves) < most and job.minutes < within:
            if watch is not None:
                watch(job)
            make_safe(job)
            step = job.next_steps(1, deepen)[0]
            if step.kind == "check":
                moves.append(_look(job, called, step.id))
            elif step.kind == "remedy":
                moves.append(_mend(job, called, step.id))
            elif step.kind == "refer":
                break
            else:
                passed = step.minutes == 0.0 or called.prove()  # no minutes: proven already
                if step.minutes:
                    job.prove("passed" if passed else "failed")
                moves.append(PlayedStep("done", "", "passed" if passed else "failed", job.minutes))
                if passed:
                    return _ended(job, called, faults, moves, referred=False)
        moves.append(PlayedStep("refer", "", "", job.minutes))
        return _ended(job, called, faults, moves, referred=True)

    return way


def from_the_top(job: Job, called: VirtualSet) -> Played:
    """The published order (`Catalogue.from_the_top`): each check, its remedy where the outcome calls for one, on.

    A remedy is done once and followed by a proof run; the first that passes ends the job. At the end of the list the
    set is handed over. The complaint plays no part.
    """
    faults, moves = called.faults, list[PlayedStep]()
    done: set[str] = set()
    for stage in job.knowledge.catalogue.from_the_top.values():
        if stage.check not in job.checks:
            continue
        make_safe(job)
        moves.append(_look(job, called, stage.check))
        outcomes = {event.check: event.answer.outcomes for event in job.made}[stage.check]
        remedy = next((stage.do[outcome] for outcome in outcomes if outcome in stage.do), None)
        if remedy is None or remedy in done:
            continue
        done.add(remedy)
        make_safe(job)
        moves.append(_mend(job, called, remedy))
        if moves[-1].answer == "cured":
            return _ended(job, called, faults, moves, referred=False)
    moves.append(PlayedStep("refer", "", "", job.minutes))
    return _ended(job, called, faults, moves, referred=True)


def make_safe(job: Job) -> None:
    """Shut the set down, and prove that the throttle closes, where something holds the job."""
    if job.held:
        job.secure("the technician")


def _look(job: Job, called: VirtualSet, check: str) -> PlayedStep:
    answer = called.answer(check)
    job.record(check, answer)
    return PlayedStep("check", check, answer, job.minutes)


def _mend(job: Job, called: VirtualSet, remedy: str) -> PlayedStep:
    cures = job.knowledge.remedies[remedy].cures
    blamed = ""
    if called.faults.isdisjoint(cures):
        belief = job.posterior()
        blamed = max(sorted(cures), key=lambda cause: belief.get(cause, 0.0))
    result = "cured" if called.treat(remedy) else "not cured"
    job.carry_out(remedy, result)
    return PlayedStep("remedy", remedy, result, job.minutes, blamed)


def _ended(job: Job, called: VirtualSet, faults: frozenset[str], moves: list[PlayedStep], referred: bool) -> Played:
    end = REFERRED if referred else CAME_BACK if called.faults else FIXED
    complaint = next(event.id for event in job.events if event.kind == "complaint")
    costs = job.knowledge.catalogue.costs
    minutes = job.minutes + {FIXED: 0.0, REFERRED: costs.refer, CAME_BACK: costs.come_back}[end]
    return Played(complaint, tuple(sorted(faults)), tuple(sorted(called.faults)), end, minutes, tuple(moves))


def least_minutes(knowledge: Knowledge, faults: frozenset[str]) -> float:
    """A bound that nobody can beat: the minutes of somebody who knows the faults and whose every remedy works.

    The cheapest remedies that take all faults away, in the cheapest order of set-up states, and one proof run at the
    end. Handing over, where that is cheaper or nothing cures a fault.
    """
    costs = knowledge.catalogue.costs

    useful = [
        remedy for remedy in knowledge.remedies.values() if remedy.retired is None and faults & remedy.cures.keys()
    ]
    best: dict[tuple[frozenset[str], str], float] = {}
    queue = [(0.0, sorted(faults), costs.start_state)]
    while queue:
        minutes, left, here = heapq.heappop(queue)
        key = (frozenset(left), here)
        if best.get(key, float("inf")) <= minutes:
            continue
        best[key] = minutes
        if here == "" or minutes >= costs.refer:
            break
        if not left:
            proof = minutes + costs.move(here, costs.proof_state) + costs.proof
            heapq.heappush(queue, (proof, [], ""))
        for remedy in useful:
            after = [cause for cause in left if cause not in remedy.cures]
            if len(after) < len(left):
                worked = minutes + costs.move(here, remedy.state) + remedy.minutes
                heapq.heappush(queue, (worked, after, costs.standing(here, remedy.state)))
    return min(best.get((frozenset(), ""), costs.refer), costs.refer)
