"""The solved cases: what the knowledge makes of them, fact by fact, and a whole job played on one.

Purpose: whether a case comes out as its writer expects and why not; what would be proposed at each point; the minutes
of the job; and how the job would go on a set with the truth of the case.
Law: pure; the same case, knowledge and seed give the same path. A case that cannot be replayed says why, as a fault.
Not here: the files of the cases (see `reader`), how all this is printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum

from ..compiler import Case, Knowledge
from ..job import Job
from ..problems import HertzwrightError
from ..rehearsal import DrawnSet, Played, VirtualSet, by_suggestions

_LIKELY = 0.5
_PRICED = 6


class CaseError(HertzwrightError):
    """A case that this knowledge cannot replay: a fact that does not fit."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A case as the knowledge judges it. `faults` is empty where it is as expected.

    ranking: every cause with its probability, most probable first; empty where the case cannot be replayed.
    minutes: of the facts, by the knowledge. left: expected from there to fixed and proven; proposed: id of the step
    that is suggested after the facts, or "done" or "refer". Both are empty (0, "") where nothing was planned.
    priced: the best steps with the expected minutes from there to the end, taking that step first.
    """

    case: Case
    ranking: tuple[tuple[str, float], ...]
    faults: tuple[str, ...]
    minutes: float = 0.0
    left: float = 0.0
    proposed: str = ""
    priced: tuple[tuple[str, float], ...] = ()

    @property
    def leading(self) -> str:
        return self.ranking[0][0] if self.ranking else ""

    @property
    def truth(self) -> float:
        """Probability of the least probable of the causes that the case expects in the lead, which decides whether it
        passes; of its truth where it expects none."""
        wanted = self.case.leading or self.case.truth
        chances = dict(self.ranking)
        return min((chances.get(cause, 0.0) for cause in wanted), default=0.0)


@dataclass(frozen=True, slots=True)
class CasePoint:
    """The job after one fact of a case. `expected` is the chance of the causes that the case expects in the lead."""

    kind: str
    id: str
    answer: str
    minutes: float
    leading: str
    chance: float
    expected: float
    proposed: str
    left: float


def record(job: Job, fact: Mapping[str, str]) -> tuple[str, str, str]:
    """Note a fact of a case in a job. Returns its kind, id and answer. HertzwrightError where it does not fit."""
    if "remedy" in fact:
        job.carry_out(fact["remedy"], fact["result"], happened=True)
        return "remedy", fact["remedy"], fact["result"]
    kind = "complaint" if "complaint" in fact else "check"
    job.record(fact[kind], fact["answer"], happened=True)
    return kind, fact[kind], fact["answer"]


def job_of_case(knowledge: Knowledge, case: Case) -> Job:
    """The job of a case before its first fact. Raises CaseError."""
    try:
        return Job(knowledge, dict(case.set))
    except HertzwrightError as error:
        raise CaseError(f"{_where(case)}{error}") from None


def _noted(job: Job, case: Case, fact: Mapping[str, str]) -> tuple[str, str, str]:
    try:
        return record(job, fact)
    except HertzwrightError as error:
        raise CaseError(f"{_where(case)}{error}") from None


def _where(case: Case) -> str:
    return f"{case.place.file}:{case.place.line}: " if case.place else f"{case.id}: "


def judge(knowledge: Knowledge, case: Case, deepen: int = 0, plan: bool = True) -> Judged:
    """Replay a case and compare with what it expects. deepen: as `Job.next_steps`.

    plan: False plans only where the case expects a step: many cases are judged in a fraction of the time.
    """
    try:
        job = job_of_case(knowledge, case)
        for fact in case.facts:
            _noted(job, case, fact)
        ranking = job.ranking()
        steps = job.next_steps(_PRICED, deepen) if plan else ()
        proposed = job.next_steps(1)[0].id if case.next_step else ""
    except HertzwrightError as error:
        return Judged(case, (), (str(error),))
    faults = []
    places = {name: (place, chance) for place, (name, chance) in enumerate(ranking, 1)}
    for name in case.leading:
        if name not in places:
            faults.append(f"{name}: this set cannot have it (see its features)")
            continue
        place, chance = places[name]
        if place > case.within_first:
            ahead = ", ".join(f"{other} {value:.2f}" for other, value in ranking[: place - 1][:3])
            faults.append(f"{name}: place {place}, expected within the first {case.within_first}; ahead: {ahead}")
        if chance < case.at_least:
            faults.append(f"{name}: probability {chance:.2f}, expected at least {case.at_least:g}")
    leader, chance = ranking[0]
    if leader in case.not_leading:
        faults.append(f"{leader} leads with {chance:.2f}, and must not")
    if case.next_step and proposed not in case.next_step:
        faults.append(f"next step {proposed}, expected {' or '.join(case.next_step)}")
    priced = tuple((step.id, step.expected_minutes) for step in steps)
    first, left = priced[0] if priced else ("", 0.0)
    return Judged(case, tuple(ranking), tuple(faults), job.minutes, left, first, priced)


def path(knowledge: Knowledge, case: Case, deepen: int = 0) -> tuple[CasePoint, ...]:
    """The job after each fact of a case: what leads, what would be proposed. Raises CaseError, ContradictionError."""
    job = job_of_case(knowledge, case)
    points = []
    for fact in case.facts:
        kind, name, answer = _noted(job, case, fact)
        ranking = job.ranking()
        chances = dict(ranking)
        step = job.next_steps(1, deepen)[0]
        expected = fsum(chances.get(cause, 0.0) for cause in case.leading)
        points.append(CasePoint(kind, name, answer, job.minutes, *ranking[0], expected, step.id, step.expected_minutes))
    return tuple(points)


def decisive_fact(case: Case, points: tuple[CasePoint, ...]) -> int | None:
    """Place (from 0) of the fact from which on a cause that the case expects leads; None where none does at the end."""
    at = None
    for place, point in enumerate(points):
        if point.leading not in case.leading:
            at = None
        elif at is None:
            at = place
    return at


# ---- playing a case


class CaseSet:
    """The set of a case: it shows what the case says was found, until a remedy has borne on that.

    Whatever the case does not speak of is drawn (`seed`), or is what such a set shows most often (no seed): then a
    remedy works where it works more often than not, and a proof run shows what is there.
    """

    def __init__(self, knowledge: Knowledge, case: Case, seed: int | None = None) -> None:
        self.knowledge = knowledge
        self.features: Mapping[str, object] = dict(case.set)
        self.complaint = next((fact["complaint"] for fact in case.facts if "complaint" in fact), "")
        self._found = {fact["check"]: fact["answer"] for fact in case.facts if "check" in fact}
        self._touched: set[str] = set()
        self._faults = frozenset(case.truth)
        self._drawn = None
        if seed is not None:
            self._drawn = DrawnSet(knowledge, case.set, self._faults, f"{case.id}/{seed}", self.complaint)

    @property
    def faults(self) -> frozenset[str]:
        return self._faults if self._drawn is None else self._drawn.faults

    def answer(self, check: str) -> str:
        if check in self._found and self._touched.isdisjoint(self.knowledge.checks[check].parents):
            return self._found[check]
        if self._drawn is not None:
            return self._drawn.answer(check)
        chances = self.knowledge.distribution(check, self._faults)
        return self.knowledge.checks[check].outcomes[max(range(len(chances)), key=chances.__getitem__)].id

    def treat(self, remedy: str) -> bool:
        cures = self.knowledge.remedies[remedy].cures
        self._touched |= cures.keys()
        if self._drawn is not None:
            return self._drawn.treat(remedy)
        self._faults -= {cause for cause, chance in cures.items() if chance >= _LIKELY}
        return self.prove()

    def prove(self) -> bool:
        return self._drawn.prove() if self._drawn is not None else not self._faults


def play_case(knowledge: Knowledge, case: Case, seed: int | None = None, deepen: int = 0) -> Played:
    """A whole job on the set of a case, from its complaints, always doing what is suggested first.

    seed: None for what such a set shows most often, a number for a draw. Raises CaseError, ContradictionError.
    """
    called: VirtualSet = CaseSet(knowledge, case, seed)
    job = job_of_case(knowledge, case)
    for fact in case.facts:
        if "complaint" in fact:
            _noted(job, case, fact)
    return by_suggestions(deepen)(job, called)
