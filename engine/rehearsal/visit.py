"""A visit to a set: a job played to its close by a faithful technician, as at the terminal.

Purpose: a set of the family and a way of working -> how the visit ended, what was done, and how long it took.
Law: the same set and way give the same visit. The technician reads every check off the set through the meter, does
what is proposed first, does what a remedy makes due, takes the readings of the proof, says truly whether the complaint
is gone, and closes where the program lets it be called fixed and nothing beside the proof looks wrong.
Assumed: handing over, or a set left wrong, costs the knowledge's minutes of handing over besides.
Not here: the sets (see `family_set`), many visits and their figures (see `family_jobs`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from ..compiler import Knowledge
from ..job import (
    ContradictionError,
    Job,
    complaints,
    due,
    fixed,
    missing,
    needed,
    outside,
    readings_in_order,
    within_tolerance,
)
from .family_set import FamilySet
from .played_job import PlayedStep, make_safe
from .technician import TechnicianAtWork

RIGHT = "put right"
HANDED = "rightly handed over"
LEFT = "closed with trouble left"
GIVEN_UP = "wrongly handed over"
LOST = "wandering"
ENDS = (RIGHT, HANDED, LEFT, GIVEN_UP, LOST)
MOST_STEPS = 60
"""Proposals, without the readings of the proof runs, after which a visit wanders."""
LIKELY = 0.5
"""Chance of cure from which a remedy is one that should have been tried before handing over."""


@dataclass(frozen=True, slots=True)
class Visit:
    """How a visit went. faults: (cause, severity) as found; left: causes still there; off: left at a wrong speed."""

    complaint: str
    faults: tuple[tuple[str, float], ...]
    left: tuple[str, ...]
    off: bool
    end: str
    minutes: float
    moves: tuple[PlayedStep, ...]
    believed: Mapping[str, float] = field(default_factory=dict)
    """What was thought of each cause that was left, at the end."""

    @property
    def good(self) -> bool:
        """Put right, or rightly handed over."""
        return self.end in (RIGHT, HANDED)

    @property
    def wrong(self) -> tuple[str, ...]:
        """Remedies none of whose causes was there."""
        return tuple(move.id for move in self.moves if move.kind == "remedy" and move.answer == "wrong")


Visitor = Callable[[Job, FamilySet], Visit]


def visit(knowledge: Knowledge, called: FamilySet, way: Visitor) -> Visit:
    """One visit, from the complaint to its end. `called` is used up."""
    job = Job(knowledge, called.features)
    job.record(called.complaint, "present")
    return way(job, called)


def as_proposed(deepen: int = 4, most: int = MOST_STEPS, watch: Callable[[Job], None] | None = None) -> Visitor:
    """Do what `Job.next_steps` proposes first. deepen: as there; watch: called with the job before each step."""

    def way(job: Job, called: FamilySet) -> Visit:
        at_work = _AtWork(job, called)
        passed: set[str] = set()
        for _ in range(most):
            if watch is not None:
                watch(job)
            make_safe(job)
            try:
                steps = job.next_steps(60 if passed else 5, deepen)
            except ContradictionError:
                return at_work.ended(LOST)
            step = next((step for step in steps if step.id not in passed), None)
            if step is None:
                return at_work.ended(LOST)  # everything was put off once
            if step.kind == "check":
                at_work.look(step.id)
            elif step.kind == "remedy":
                passed.clear()
                at_work.mend(step.id)
                at_work.prove()
            elif step.kind == "refer":
                return at_work.handed_over()
            elif at_work.closes():
                return at_work.closed()
            else:
                passed.add(step.id)
        return at_work.ended(LOST)

    return way


def from_the_top_listening(job: Job, called: FamilySet) -> Visit:
    """The published order (`Catalogue.from_the_top`) by somebody fair to it: listens, may repeat, may hand over.

    The stages that bear on the complaint come first, in their order, then the others. A remedy is followed by what it
    makes due and a proof run; a set that passes it, complaint gone, is closed. Stages with a remedy done are gone
    through a second time, since a remedy may not take; then the set is handed over.
    """
    at_work = _AtWork(job, called)
    stages = _bearing_first(job, called.complaint)
    done: Counter[str] = Counter()
    for round_ in (1, 2):
        for check, do in stages:
            if round_ == 2 and not any(done[remedy] for remedy in do.values()):
                continue
            make_safe(job)
            outcomes = at_work.look(check)
            remedy = next((do[outcome] for outcome in outcomes if outcome in do), None)
            if remedy is None or done[remedy] >= round_:
                continue
            if job.knowledge.remedies[remedy].minutes >= job.knowledge.catalogue.costs.refer:
                return at_work.handed_over()
            done[remedy] += 1
            make_safe(job)
            at_work.mend(remedy)
            at_work.prove()
            if at_work.closes():
                return at_work.closed()
    if not done and at_work.closes():
        return at_work.closed()  # nothing was found and nothing is wrong
    return at_work.handed_over()


def _bearing_first(job: Job, complaint: str) -> Sequence[tuple[str, Mapping[str, str]]]:
    """Stages that this set has: those first whose check shows what the complaint can come of."""
    knowledge = job.knowledge
    says = knowledge.complaints[complaint].says
    often = knowledge.catalogue.words["sometimes"].value
    behind = {
        cause.id
        for cause in knowledge.causes.values()
        for check, outcomes in says.items()
        if check in cause.shows
        and sum(cause.shows[check][knowledge.checks[check].index(outcome)] for outcome in outcomes) >= often
    }
    stages = [
        (stage.check, stage.do) for stage in knowledge.catalogue.from_the_top.values() if stage.check in job.checks
    ]
    # A stage bears on it where its remedy cures what can be behind it.
    return sorted(
        stages, key=lambda stage: not any(behind & knowledge.remedies[name].cures.keys() for name in stage[1].values())
    )


class _AtWork(TechnicianAtWork):
    """The technician on a visit: from the complaint to the proof."""

    def __init__(self, job: Job, called: FamilySet) -> None:
        super().__init__(job, called)
        self.faults = called.bench.faults
        self.moves: list[PlayedStep] = []

    def look(self, check: str) -> tuple[str, ...]:
        answer, read = self.make(check)
        self.moves.append(PlayedStep("check", check, answer, self.job.minutes))
        return read.outcomes

    def mend(self, remedy: str) -> None:
        """A remedy and what it makes due, without the proof run."""
        chain = [remedy]
        self._one(remedy, "")
        while (following := [name for name in due(self.job) if name not in chain]) and len(chain) < 6:
            chain.append(following[0])
            make_safe(self.job)
            self._one(following[0], "due")
        self._proofs = [check for name in chain for check in self.job.knowledge.remedies[name].proof]

    def _one(self, remedy: str, why: str) -> None:
        cures = self.job.knowledge.remedies[remedy].cures
        there = self.called.faults & cures.keys()
        blamed = ""
        if not there and not why:
            try:
                belief = self.job.posterior()
            except ContradictionError:
                belief = {}
            blamed = max(sorted(cures), key=lambda cause: belief.get(cause, 0.0))
        self.carry_out(remedy)
        answer = why or ("wrong" if not there else "left" if there & self.called.faults else "cured")
        self.moves.append(PlayedStep("remedy", remedy, answer, self.job.minutes, blamed))

    def prove(self) -> None:
        """The readings of the proof run, then whether the complaint is gone."""
        self._read([*self._proofs, *needed(self.job)])
        self._ask()

    def closes(self) -> bool:
        """Take what is missing; whether the set is fixed, proven and with nothing beside that looks wrong."""
        job = self.job
        make_safe(job)
        self._read(missing(job))
        self._ask()
        if fixed(job) and not _beside(job):
            return True
        if not fixed(job) and "present" in complaints(job).values() and not missing(job) and not job.held:
            job.prove("failed")
        return False

    def _read(self, names: Sequence[str]) -> None:
        """Take readings that are not there, in the order in which the terminal asks them."""
        job = self.job
        for name in readings_in_order(job, names):
            make_safe(job)
            self.look(name)

    def _ask(self) -> None:
        for name, answer in complaints(self.job).items():
            if answer in ("present", "unsure"):
                self.job.record(name, "present" if self.called.shows(name) else "absent")

    def closed(self) -> Visit:
        self.job.close("fixed")
        return self.ended(RIGHT if self.called.right else LEFT)

    def handed_over(self) -> Visit:
        return self.ended(HANDED if self._is_for_the_shop() else GIVEN_UP)

    def _is_for_the_shop(self) -> bool:
        """Whether something is left that no likely remedy, cheaper than handing over, is still to be tried for."""
        costs = self.job.knowledge.catalogue.costs
        tried = {move.id for move in self.moves if move.kind == "remedy"}
        return any(
            all(
                remedy.id in tried or remedy.cures[cause] < LIKELY or remedy.minutes >= costs.refer
                for remedy in self.job.knowledge.remedies.values()
                if remedy.retired is None and cause in remedy.cures and remedy.only_if.holds(self.job.features)
            )
            for cause in self.called.faults
        )

    def ended(self, end: str) -> Visit:
        job, called = self.job, self.called
        left = tuple(sorted(called.faults))
        belief: Mapping[str, float] = {}
        if left:
            try:
                belief = job.posterior()
            except ContradictionError:
                belief = {}
        minutes = job.minutes + (0.0 if end == RIGHT else job.knowledge.catalogue.costs.refer)
        return Visit(
            complaint=called.complaint,
            faults=self.faults,
            left=left,
            off=not left and not called.right,
            end=end,
            minutes=round(minutes, 2),
            moves=tuple(self.moves),
            believed={cause: round(belief.get(cause, 0.0), 4) for cause in left},
        )


def _beside(job: Job) -> bool:
    """Whether an answer on the set as it is now, beside those of the proof, is not as it should be."""
    proof = {made.check for made in outside(job)}
    return any(
        made.epoch == job.epoch and made.answer.outcomes and made.check not in proof and not within_tolerance(job, made)
        for made in job.made
    )
