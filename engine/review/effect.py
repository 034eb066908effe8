"""What a change of the knowledge does to jobs: what the steps of the one version cost by the reckoning of the other.

Purpose: how many minutes a job takes more or less with the new version, if the one or the other is right, and how sure
that is. A job is worked by the version that is taken to be right, on answers as that version expects them. Wherever the
other one would do something else, the right one tells what that step costs: the expected minutes with it less those
with its own. Their sum along the job is the difference, so that the luck of a job, which is most of its minutes, is not
in it. Each has first looked at the step of the other one as closely as at its own, and both are priced in one plan:
what is left then is what the two believe, and not how far a plan happened to come, which moves a price by ten minutes
and more. Answers after which the edit has more at stake are drawn more often, and a job in which it has little left at
stake is mostly not followed to its end; what is looked at counts for as much more (see `stake`).
What is not counted: that the other version, once it has gone another way, goes wrong again there in a way that it would
not have here. What the right version has no name for takes the minutes that the other one says and tells nothing.
Law: call-out number n of a seed is the same whoever works it. The weighted mean over jobs is that over all jobs.
Neither version is asked twice at the same findings of a set; nor are both where they believe the same, and what they
suspect shows the same in both, to within ALIKE.
Source: the difference of two ways of working, to first order, as a sum of what one step otherwise costs: S. Kakade and
J. Langford, ICML 2002 (from memory). Drawing by what is at stake, and ending by lot what has little: importance
sampling with Russian roulette, H. Kahn and T. E. Harris, National Bureau of Standards AMS 12, 1951 (from memory).
Not here: what changed (see `changes`), which sets are worked (see `call_outs`), whole jobs (see `rehearsal`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from itertools import groupby, product
from math import fsum

from ..compiler import Knowledge
from ..job import ContradictionError, Job, Step
from ..rehearsal import MOST_STEPS, make_safe, skew_interval, worked
from ..simulated import Draws
from .call_outs import CallOut, called_out
from .scope import known_features
from .stake import Belief, at_stake, stakes

OLD, NEW = "old", "new"
DEPTH = 4
"""How deep is looked ahead, as at the terminal (see `Job.next_steps`)."""
ALIKE = 1e-3
"""Share of a belief by which two may differ, with how far what is suspected shows otherwise, and choose the same: what
else they would choose costs at most this share of the minutes left, a quarter of one."""
_ALL = 1000
_SLIGHT = 2e-3
"""Chance of an answer below which what follows is not worked out."""


Findings = tuple[tuple[str, str, str], ...]


@dataclass(slots=True)
class Memo:
    """What a version said at findings on one set: its step; all its steps, having looked at some more closely; what it
    plans over; and how likely they are, with what it then believes."""

    steps: dict[Findings, Step] = field(default_factory=dict)
    shown: dict[tuple[Findings, tuple[str, ...]], tuple[Step, ...]] = field(default_factory=dict)
    planned: dict[Findings, Mapping[frozenset[str], float]] = field(default_factory=dict)
    weighed: dict[Findings, tuple[float, Belief]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PairedJob:
    """One call-out, worked by the version that is taken to be right (`right`), as far as the edit has much at stake.

    weight: what it counts for. minutes: expected at its start. gap: minutes with the new version less those with the
    old one. partings: at how many points the two would have done something else. parted: how many such jobs the first
    of those stands for; heaviest: the most that a point at which both were asked stood for.
    """

    number: int
    right: str
    weight: float
    minutes: float
    gap: float
    partings: int
    parted: float = 0.0
    heaviest: float = 1.0


@dataclass(frozen=True, slots=True)
class MinutesDifference:
    """Expected minutes of a job by the version that is right, and new less old with its 95 % interval: nan where too
    few jobs went another way for one (see `skew_interval`).

    `count` jobs, of which in `same` no point was found at which the two would have done otherwise. parted: share of all
    such jobs that have one. heaviest: the most jobs that a point at which both were asked stands for.
    """

    right: str
    count: int
    same: int
    minutes: float
    mean: float
    low: float
    high: float
    parted: float = 0.0
    heaviest: float = 1.0

    @property
    def told_apart(self) -> bool:
        """Whether the interval leaves out nil."""
        return self.low > 0.0 or self.high < 0.0


class _Hands:
    """A job by one version of the knowledge, which remembers what it said at the same findings on the same set."""

    def __init__(self, knowledge: Knowledge, features: Mapping[str, object], deepen: int, memo: Memo) -> None:
        self.job = Job(knowledge, known_features(knowledge, features))
        self._deepen, self._memo = deepen, memo

    def first(self) -> Step:
        """What this version would do now. Where nothing that it knows explains the findings, it hands over."""
        make_safe(self.job)
        key = self._findings()
        if key not in self._memo.steps:
            try:
                self._memo.steps[key] = self.job.next_steps(1, self._deepen)[0]
            except ContradictionError:
                refer = self.job.knowledge.catalogue.costs.refer
                self._memo.steps[key] = Step("refer", "refer", refer, refer, "")
        return self._memo.steps[key]

    def believed(self) -> Mapping[frozenset[str], float]:
        """The fault sets that are planned over, with weights; none where nothing explains the findings."""
        make_safe(self.job)
        key = self._findings()
        if key not in self._memo.planned:
            try:
                self._memo.planned[key] = dict(self.job.planned_over()[1])
            except ContradictionError:
                self._memo.planned[key] = {}
        return self._memo.planned[key]

    def weighed(self) -> tuple[float, Belief]:
        """How likely the findings are, and the probability of each cause; nil and none where nothing explains them."""
        key = self._findings()
        if key not in self._memo.weighed:
            try:
                self._memo.weighed[key] = self.job.chance(), self.job.posterior()
            except ContradictionError:
                self._memo.weighed[key] = 0.0, {}
        return self._memo.weighed[key]

    def ahead(self, step: Step, answers: Sequence[str]) -> list[tuple[float, Belief]]:
        """The same after each of these answers to a step."""
        found, mark = [], len(self.job.standing)
        for answer in answers:
            self.take(step, answer)
            found.append(self.weighed())
            self._back(mark)
        return found

    def _findings(self) -> Findings:
        return tuple((event.kind, event.id, event.answer) for event in self.job.standing)

    def knows(self, step: Step) -> bool:
        if step.kind == "remedy":
            known = self.job.knowledge.remedies.get(step.id)
            return known is not None and known.retired is None
        return step.kind != "check" or step.id in self.job.checks

    def shown(self, steps: Sequence[Step]) -> tuple[Step, ...]:
        """What this version would do, best first, having looked at these steps as closely as at its own."""
        make_safe(self.job)
        key = self._findings(), tuple(sorted(each.id for each in steps))
        if key not in self._memo.shown:
            try:
                self._memo.shown[key] = self.job.next_steps(_ALL, self._deepen, key[1])
            except ContradictionError:
                self._memo.shown[key] = (self.first(),)
        return self._memo.shown[key]

    def cost(self, another: Step, priced: Sequence[Step]) -> float:
        """Minutes that another step is expected to cost in place of the best of these; never less than none, since what
        a mechanic's order puts first is not held against a cheaper step."""
        for each in priced:
            if (each.kind, each.id) == (another.kind, another.id):
                return max(0.0, each.expected_minutes - priced[0].expected_minutes)
        # What tells nothing is not proposed.
        return max(0.0, self.after(another) - self.after(priced[0]))

    def after(self, step: Step) -> float:
        """Expected minutes from now, taking this step first: the exact sum over its answers."""
        if step.kind == "refer":
            return self.job.knowledge.catalogue.costs.refer
        if not self.knows(step):
            return step.minutes + self.first().expected_minutes
        before, mark = self.job.minutes, len(self.job.standing)
        answers = self.answers(step)
        chances = [chance for chance, _ in self.ahead(step, answers)]
        total = fsum(chances)
        likely = [
            (each, chance / total) for each, chance in zip(answers, chances, strict=True) if chance > _SLIGHT * total
        ]
        minutes = []
        for answer, chance in likely:
            self.take(step, answer)
            expected = self.first().expected_minutes
            minutes.append(chance * (self.job.minutes - before + expected))
            self._back(mark)
        return fsum(minutes) / fsum(chance for _, chance in likely)

    def answers(self, step: Step) -> tuple[str, ...]:
        """What may come of a step."""
        if step.kind == "check":
            return tuple(outcome.id for outcome in self.job.checks[step.id].outcomes)
        return ("cured", "not cured") if step.kind == "remedy" else ("passed", "failed")

    def take(self, step: Step, answer: str) -> None:
        """Note a step with its answer; what this version has no name for is noted as far as it has."""
        make_safe(self.job)
        if step.kind == "check" and self.knows(step):
            known = any(answer == outcome.id for outcome in self.job.checks[step.id].outcomes)
            self.job.record(step.id, answer if known else "unknown")
        elif step.kind == "remedy" and self.knows(step):
            self.job.carry_out(step.id, answer)
        elif step.kind != "check":
            self.job.prove("passed" if answer in ("passed", "cured") else "failed")

    def _back(self, mark: int) -> None:
        while len(self.job.standing) > mark:
            self.job.step_back(mistake=True)


def paired_jobs(
    old: Knowledge,
    new: Knowledge,
    held: Mapping[str, float] | None,
    calls: Sequence[CallOut],
    seed: int,
    deepen: int = DEPTH,
) -> list[PairedJob]:
    """The call-outs at sets with the same features, each in the world of the old version and in that of the new one.

    held: of `stakes`.
    """
    both = {OLD: old, NEW: new}
    memos = {OLD: Memo(), NEW: Memo()}
    found = []
    for called, (right, other) in product(calls, ((OLD, NEW), (NEW, OLD))):
        name = f"{seed}/{called.number}"
        drawn = called_out(both[right], (old, new), called.features, name)
        hands = {way: _Hands(both[way], called.features, deepen, memos[way]) for way in both}
        for each in hands.values():
            each.job.record(drawn.complaint, "present")
        minutes = hands[right].first().expected_minutes
        # The same draws in either world, so that both go the same way as long as both do the same.
        draws = Draws(name, "answers", called.again)
        points = tuple(_points(hands[right], hands[other], held, draws))
        partings = [each for each in points if each.cost is not None]
        gap = fsum(each.counts * (each.cost or 0.0) for each in partings)
        parted = partings[0].counts if partings else 0.0
        heaviest = max((each.counts for each in points), default=1.0)
        signed = gap if other == NEW else -gap
        found.append(PairedJob(called.number, right, called.weight, minutes, signed, len(partings), parted, heaviest))
    return found


@dataclass(frozen=True, slots=True)
class _Point:
    """A point of a job at which both were asked. counts: how many such points it stands for. cost: minutes of what the
    other one would do, by the right one; None where that is the same."""

    counts: float
    cost: float | None


def _points(
    right: _Hands,
    other: _Hands,
    held: Mapping[str, float] | None,
    draws: Draws,
) -> Iterator[_Point]:
    """The job by the right version, as far as it is followed: every point at which the other one was asked too.

    Answers come the oftener the likelier they are and the more is at stake after them; where less is at stake than at
    first the other one is asked less often, and the job may end. What is looked at counts for as much more (`counts`),
    so that the mean over all jobs is what it is without that.
    """
    counts, stake = 1.0, at_stake(held, right.weighed()[1], other.weighed()[1])
    first = stake
    for _ in range(MOST_STEPS):
        asked, goes_on, place = draws.uniform(), draws.uniform(), draws.uniform()
        step = right.first()
        often = min(1.0, stake / first)
        if asked < often and not _alike(right, other, held):
            yield _Point(counts / often, _cost(right, other, step))
        if step.kind == "refer" or (step.kind == "done" and step.minutes == 0.0):
            return
        ways = _ways(right, other, step, held)
        total = fsum(chance * share for _, chance, share in ways)
        if goes_on >= total / stake:
            return
        counts /= min(1.0, total / stake)
        answer, stake = _drawn(ways, place * total)
        counts *= total / stake
        right.take(step, answer)
        other.take(step, answer)


def _ways(right: _Hands, other: _Hands, step: Step, held: Mapping[str, float] | None) -> list[tuple[str, float, float]]:
    """Answers to a step after which the job goes on: each with its chance by the right version, and what is at stake
    after it."""
    answers = right.answers(step)
    one, two = (each.ahead(step, answers) for each in (right, other))
    total = fsum(chance for chance, _ in one)
    return [
        (answer, chance / total, at_stake(held, here, there))
        for answer, (chance, here), (_, there) in zip(answers, one, two, strict=True)
        if chance > 0.0 and answer != "passed"
    ]


def _drawn(ways: Sequence[tuple[str, float, float]], place: float) -> tuple[str, float]:
    """The answer at a place along the chances times the stakes, with what is at stake after it."""
    for answer, chance, stake in ways:
        place -= chance * stake
        if place < 0.0:
            return answer, stake
    return ways[-1][0], ways[-1][2]


def _cost(right: _Hands, other: _Hands, step: Step) -> float | None:
    """Minutes that the right version expects the step of the other one to cost; None where both do the same."""
    another = other.first()
    if (step.kind, step.id) == (another.kind, another.id):
        return None
    one, two = (each.shown((step, another)) for each in (right, other))
    if (one[0].kind, one[0].id) == (two[0].kind, two[0].id):
        return None
    return right.cost(two[0], one)


def _alike(one: _Hands, two: _Hands, held: Mapping[str, float] | None) -> bool:
    """Whether both believe the same, and what they suspect shows the same in both; so both would do the same."""
    if held is None:
        return False
    first, second = one.believed(), two.believed()
    if not first or not second:
        return False
    apart = fsum(abs(first.get(each, 0.0) - second.get(each, 0.0)) for each in first.keys() | second.keys())
    otherwise = fsum(
        chance * max((held.get(cause, 0.0) for cause in each), default=0.0)
        for known in (first, second)
        for each, chance in known.items()
    )
    # A mechanic's order goes by what is believed and not by price alone, so no lead in price says what comes first.
    return apart + otherwise <= ALIKE


def effect(
    old: Knowledge,
    new: Knowledge,
    called: Sequence[CallOut],
    *,
    seed: int = 1,
    deepen: int = DEPTH,
    executor: Executor | None = None,
    done: Callable[[int], None] | None = None,
) -> tuple[PairedJob, ...]:
    """Each call-out in either world, in the order given.

    executor: anything with `submit`; None works here. done: called with the number of call-outs finished so far.
    Raises WorkerError where the executor fails.
    """
    groups = [tuple(group) for _, group in groupby(called, lambda each: each.features)]
    finished = 0

    def took(jobs: Sequence[PairedJob]) -> None:
        nonlocal finished
        finished += len(jobs) // 2
        if done is not None:
            done(finished)

    shared = old, new, stakes(old, new)
    found = worked(executor, paired_jobs, shared, [(group, seed, deepen) for group in groups], took)
    return tuple(job for jobs in found for job in jobs)


# ---- how sure


def difference(found: Sequence[PairedJob], right: str) -> MinutesDifference:
    """Weighted means over the jobs of one world. ValueError where there is none."""
    chosen = [twin for twin in found if twin.right == right]
    if not chosen:
        raise ValueError(f"no jobs in the world of {right}")
    mean, low, high = skew_interval([twin.weight * twin.gap for twin in chosen])
    # No step of the other version gains anything by the reckoning of the right one.
    low, high = (low, min(high, 0.0)) if right == NEW else (max(low, 0.0), high)
    minutes = fsum(twin.weight * twin.minutes for twin in chosen) / fsum(twin.weight for twin in chosen)
    same = sum(not twin.partings for twin in chosen)
    parted = min(1.0, fsum(twin.weight * twin.parted for twin in chosen) / len(chosen))
    heaviest = max(twin.weight * twin.heaviest for twin in chosen)
    return MinutesDifference(right, len(chosen), same, minutes, mean, low, high, parted, heaviest)
