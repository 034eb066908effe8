"""Whole jobs played on sets that are called out, by the suggestions or in another fixed way of working.

Purpose: how long jobs take and how they end, for a way of working and a set (see `callout`).
Law: the same set and the same way of working give the same job; nothing here is drawn.
Assumed: the technician sees what the check shows, does what the way of working says, and hands over at the
knowledge's minutes. A set that is closed with a fault still in it comes back and is charged as if handed over.
Not here: statistics over jobs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from .callout import CalledOut
from .job import Job
from .knowledge import Knowledge

FIXED, REFERRED, CAME_BACK = "fixed", "referred", "came back"
MOST_STEPS = 60


@dataclass(frozen=True, slots=True)
class Move:
    """One step of a played job. `kind`: check, remedy, done, refer. `minutes`: of the job, when it was done."""

    kind: str
    id: str
    answer: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Played:
    """How a job went. `faults`: as found; `left`: still there at the end; `minutes`: with handing over charged."""

    complaint: str
    faults: tuple[str, ...]
    left: tuple[str, ...]
    end: str
    minutes: float
    moves: tuple[Move, ...]


Way = Callable[[Job, CalledOut], Played]
"""A way of working: from a job with its complaint noted to its end."""


def play(knowledge: Knowledge, called: CalledOut, way: Way) -> Played:
    """Play one job from the complaint to its end. `called` is used up."""
    job = Job(knowledge, called.features)
    job.record(called.complaint, "present")
    return way(job, called)


def by_suggestions(deepen: int = 0, watch: Callable[[Job], None] | None = None, most: int = MOST_STEPS) -> Way:
    """Always do what is suggested first. deepen: as `Job.next_steps`; watch: called with the job before each step."""

    def way(job: Job, called: CalledOut) -> Played:
        faults, moves = called.faults, list[Move]()
        while len(moves) < most:
            if watch is not None:
                watch(job)
            step = job.next_steps(1, deepen)[0]
            if step.kind == "check":
                answer = called.answer(step.id)
                job.record(step.id, answer)
                moves.append(Move("check", step.id, answer, job.minutes))
            elif step.kind == "remedy":
                result = "cured" if called.treat(step.id) else "not cured"
                job.carry_out(step.id, result)
                moves.append(Move("remedy", step.id, result, job.minutes))
            elif step.kind == "refer":
                break
            else:
                result = "passed" if step.minutes == 0.0 or called.prove() else "failed"
                if step.minutes > 0.0:
                    job.prove(result)
                moves.append(Move("done", "", result, job.minutes))
                if result == "passed":
                    return ended(job, called, faults, moves, referred=False)
        moves.append(Move("refer", "", "", job.minutes))
        return ended(job, called, faults, moves, referred=True)

    return way


def ended(job: Job, called: CalledOut, faults: frozenset[str], moves: list[Move], referred: bool) -> Played:
    """The played job, with handing over charged where it was handed over or will come back."""
    end = REFERRED if referred else CAME_BACK if called.faults else FIXED
    complaint = next(event.id for event in job.events if event.kind == "complaint")
    minutes = job.minutes + (0.0 if end == FIXED else job.knowledge.catalogue.costs.refer)
    return Played(complaint, tuple(sorted(faults)), tuple(sorted(called.faults)), end, minutes, tuple(moves))
