"""What a change of the knowledge does to jobs: what the steps of the one version cost by the reckoning of the other.

Purpose: how many minutes a job takes more or less with the new version, if the one or the other is right, and how sure
that is. A set is drawn from the version that is taken to be right, and is worked by it. Wherever the other one would do
something else, the right one tells what that step costs: the expected minutes with it less those with its own. Their
sum along the job is the difference, so that the luck of a job, which is most of its minutes, is not in it. Each has
first looked at the step of the other one as closely as at its own, and both are priced in one plan: what is left then
is what the two believe, and not how far a plan happened to come, which moves a price by ten minutes and more.
What is not counted: that the other version, once it has gone another way, goes wrong again there in a way that it would
not have here. What the right version has no name for takes the minutes that the other one says and tells nothing.
Law: call-out number n of a seed is the same whoever works it. Neither version is asked twice at the same findings of a
set; nor are both where they believe the same, and what they suspect shows the same in both, to within ALIKE.
Source: the difference of two ways of working, to first order, as a sum of what one step otherwise costs: S. Kakade and
J. Langford, ICML 2002 (from memory).
Not here: what changed (see `changes`), which sets are worked (see `call_outs`), whole jobs (see `rehearsal`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from itertools import groupby
from math import fsum

from ..compiler import Knowledge
from ..job import ContradictionError, Job, Step
from ..rehearsal import MOST_STEPS, DrawnSet, interval, make_safe, worked
from .call_outs import CallOut, beliefs_only, called_out, touched
from .scope import known_features

OLD, NEW = "old", "new"
DEPTH = 4
"""How deep is looked ahead, as at the terminal (see `Job.next_steps`)."""
ALIKE = 1e-3
"""Share of a belief by which two may differ, with how far what is suspected shows otherwise, and choose the same: what
else they would choose costs at most this share of the minutes left, a quarter of one."""
_ALL = 1000
_SLIGHT = 2e-3
"""Chance of an answer below which what follows is not worked out."""

Memo = dict[tuple[tuple[str, str, str], ...], Step]


@dataclass(frozen=True, slots=True)
class PairedJob:
    """One call-out, drawn from and worked by the version that is taken to be right (`right`).

    weight: what it counts for. minutes: expected at its start. gap: minutes with the new version less those with the
    old one. partings: at how many points the two would have done something else.
    """

    number: int
    right: str
    weight: float
    minutes: float
    gap: float
    partings: int


@dataclass(frozen=True, slots=True)
class MinutesDifference:
    """Expected minutes of a job by the version that is right, and new less old with its 95 % interval (nan below five).

    `count` jobs, of which in `same` the two would have done the same all along.
    """

    right: str
    count: int
    same: int
    minutes: float
    mean: float
    low: float
    high: float

    @property
    def told_apart(self) -> bool:
        """Whether the interval leaves out nil."""
        return self.low > 0.0 or self.high < 0.0


class SetOfOneVersion:
    """A set of one version's world that is asked also for what only the other version knows."""

    def __init__(self, world: Knowledge, known: Knowledge, drawn: DrawnSet, seed: str) -> None:
        self._world, self._known, self._drawn, self._seed = world, known, drawn, seed

    def answer(self, check: str) -> str:
        """What the check shows, which one version may have no name for."""
        if check in self._world.network.leak:
            return self._drawn.answer(check)
        shared = frozenset(cause for cause in self._drawn.faults if cause in self._known.causes)
        return DrawnSet(self._known, self._drawn.features, shared, self._seed).answer(check)


class _Hands:
    """A job by one version of the knowledge, which remembers what it said at the same findings on the same set."""

    def __init__(self, knowledge: Knowledge, features: Mapping[str, object], deepen: int, memo: Memo) -> None:
        self.job = Job(knowledge, known_features(knowledge, features))
        self._deepen, self._memo = deepen, memo

    def first(self) -> Step:
        """What this version would do now. Where nothing that it knows explains the findings, it hands over."""
        make_safe(self.job)
        key = tuple((event.kind, event.id, event.answer) for event in self.job.standing)
        found = self._memo.get(key)
        if found is None:
            try:
                found = self.job.next_steps(1, self._deepen)[0]
            except ContradictionError:
                refer = self.job.knowledge.catalogue.costs.refer
                found = Step("refer", "refer", refer, refer, "")
            self._memo[key] = found
        return found

    def believed(self) -> Mapping[frozenset[str], float]:
        """The fault sets that are planned over, with weights; none where nothing explains the findings."""
        make_safe(self.job)
        try:
            return dict(self.job.planned_over()[1])
        except ContradictionError:
            return {}

    def knows(self, step: Step) -> bool:
        if step.kind == "remedy":
            known = self.job.knowledge.remedies.get(step.id)
            return known is not None and known.retired is None
        return step.kind != "check" or step.id in self.job.checks

    def shown(self, steps: Sequence[Step]) -> tuple[Step, ...]:
        """What this version would do, best first, having looked at these steps as closely as at its own."""
        make_safe(self.job)
        try:
            return self.job.next_steps(_ALL, self._deepen, tuple(sorted(each.id for each in steps)))
        except ContradictionError:
            return (self.first(),)

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
        chances = []
        for answer in self._answers(step):
            self.take(step, answer)
            chances.append((answer, self._chance()))
            self._back(mark)
        total = fsum(chance for _, chance in chances)
        likely = [(answer, chance / total) for answer, chance in chances if chance > _SLIGHT * total]
        minutes = []
        for answer, chance in likely:
            self.take(step, answer)
            expected = self.first().expected_minutes
            minutes.append(chance * (self.job.minutes - before + expected))
            self._back(mark)
        return fsum(minutes) / fsum(chance for _, chance in likely)

    def _chance(self) -> float:
        try:
            return self.job.chance()
        except ContradictionError:
            return 0.0

    def _answers(self, step: Step) -> tuple[str, ...]:
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
    old: Knowledge, new: Knowledge, drift: Mapping[str, float] | None, called: CallOut, seed: int, deepen: int = DEPTH
) -> tuple[PairedJob, PairedJob]:
    """The call-out in the world of the old version and in that of the new one.

    drift: of `drifts`, where the edit changes beliefs and nothing else.
    """
    both = {OLD: old, NEW: new}
    memos: dict[str, Memo] = {OLD: {}, NEW: {}}
    found = []
    for right, other in ((OLD, NEW), (NEW, OLD)):
        name = f"{seed}/{called.number}"
        drawn = called_out(both[right], (old, new), called.features, name)
        hands = {way: _Hands(both[way], called.features, deepen, memos[way]) for way in both}
        for each in hands.values():
            each.job.record(drawn.complaint, "present")
        minutes = hands[right].first().expected_minutes
        costs = tuple(_partings(hands[right], hands[other], drawn, drift))
        gap = fsum(costs) if other == NEW else -fsum(costs)
        found.append(PairedJob(called.number, right, called.weight, minutes, gap, len(costs)))
    return found[0], found[1]


def _partings(right: _Hands, other: _Hands, drawn: DrawnSet, drift: Mapping[str, float] | None) -> Iterator[float]:
    """The job by the right version: what each step that the other one would take in its place costs, min."""
    for _ in range(MOST_STEPS):
        step = right.first()
        if not _alike(right, other, drift):
            another = other.first()
            if (step.kind, step.id) != (another.kind, another.id):
                one, two = (each.shown((step, another)) for each in (right, other))
                if (one[0].kind, one[0].id) != (two[0].kind, two[0].id):
                    yield right.cost(two[0], one)
        if step.kind == "refer":
            return
        if step.kind == "check":
            answer = drawn.answer(step.id)
        elif step.kind == "remedy":
            answer = "cured" if drawn.treat(step.id) else "not cured"
        else:
            answer = "passed" if step.minutes == 0.0 or drawn.prove() else "failed"
            if answer == "passed":
                return
        right.take(step, answer)
        other.take(step, answer)


def drifts(old: Knowledge, new: Knowledge) -> dict[str, float]:
    """How much more or less often each cause that the edit touches shows anything: the most that the chances of a check
    differ by, in all. Nil where only how common it is changed."""
    found = {}
    for name in touched(old, new) or ():
        one, two = old.causes.get(name), new.causes.get(name)
        if one is None or two is None or (one.part, one.fault) != (two.part, two.fault):
            found[name] = 1.0
            continue
        checks = one.shows.keys() | two.shows.keys()
        known = [check for check in checks if all(check in each.checks for each in (old, new))]
        rows = [[each.distribution(check, frozenset({name})) for each in (old, new)] for check in known]
        found[name] = max((fsum(abs(a - b) for a, b in zip(*row, strict=True)) / 2.0 for row in rows), default=0.0)
    return found


def _alike(one: _Hands, two: _Hands, drift: Mapping[str, float] | None) -> bool:
    """Whether both believe the same, and what they suspect shows the same in both; so both would do the same."""
    if drift is None:
        return False
    first, second = one.believed(), two.believed()
    if not first or not second:
        return False
    apart = fsum(abs(first.get(each, 0.0) - second.get(each, 0.0)) for each in first.keys() | second.keys())
    otherwise = fsum(
        chance * max((drift.get(cause, 0.0) for cause in each), default=0.0)
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
    apart = [(each[0], len(each)) for each in (tuple(group) for _, group in groupby(called))]
    finished = 0

    def took(_: object) -> None:
        nonlocal finished
        finished += 1
        if done is not None:
            done(min(len(called), round(finished * len(called) / len(apart))))

    pieces = [(each, seed, deepen) for each, _ in apart]
    drift = drifts(old, new) if beliefs_only(old, new) else None
    pairs = worked(executor, paired_jobs, (old, new, drift), pieces, took)
    return tuple(job for pair, (_, times) in zip(pairs, apart, strict=True) for job in pair * times)


# ---- how sure


def difference(found: Sequence[PairedJob], right: str) -> MinutesDifference:
    """Weighted means over the jobs of one world. ValueError where there is none."""
    chosen = [twin for twin in found if twin.right == right]
    if not chosen:
        raise ValueError(f"no jobs in the world of {right}")
    mean, low, high = interval([twin.weight * twin.gap for twin in chosen])
    minutes = fsum(twin.weight * twin.minutes for twin in chosen) / fsum(twin.weight for twin in chosen)
    return MinutesDifference(right, len(chosen), sum(not twin.partings for twin in chosen), minutes, mean, low, high)
