"""What a change of the knowledge does to jobs: what the steps of the one version cost by the reckoning of the other.

Purpose: how many minutes a job takes more or less with the new version, if the one or the other is right, and how sure
that is. A job is worked by the version that is taken to be right, on answers as that version expects them. Wherever the
other one would do something else, the right one tells what that step costs: the expected minutes with it less those
with its own. Their sum along the job is the difference, so that the luck of a job, which is most of its minutes, is not
in it. Each has first looked at the step of the other one as closely as at its own, and both are priced in one plan:
what is left then is what the two believe, and not how far a plan happened to come, which moves a price by ten minutes
and more.
At a set everything that may be said and found makes a tree. As long as a point of it is likely and the edit has much at
stake there (see `stake`), every way on is followed, and their sum is exact; of what is less, few are followed by lot,
in proportion, each for as many as it stands for. A job in which little is left at stake ends by the same lot.
What is not counted: that the other version, once it has gone another way, goes wrong again there in a way that it would
not have here. What the right version has no name for takes the minutes that the other one says and tells nothing.
Law: set number n of a seed is worked the same whoever works it. The mean over sets is that over all jobs, whatever the
scores. Neither version is asked twice at the same findings of a set; nor are both where they believe the same, and
what they suspect shows the same in both, to within ALIKE.
Source: the difference of two ways of working, to first order, as a sum of what one step otherwise costs: S. Kakade and
J. Langford, ICML 2002 (from memory). Following what is at stake, and splitting and ending by lot: importance sampling
with splitting and Russian roulette, H. Kahn and T. E. Harris, National Bureau of Standards AMS 12, 1951; the lot in
proportion to size, and the estimator of Horvitz and Thompson: W. G. Cochran, Sampling Techniques, chapter 9A (from
memory).
Not here: what changed (see `changes`), what is said of a set (see `call_outs`), whole jobs (see `rehearsal`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from math import fsum

from ..compiler import Knowledge
from ..job import ContradictionError, Job, Step
from ..rehearsal import MOST_STEPS, chunks, make_safe, skew_interval, worked
from ..simulated import Draws
from .call_outs import CallOut, Said, call_out
from .scope import Given, known_features
from .stake import Belief, Changed, at_stake, stakes, where_told_otherwise

OLD, NEW = "old", "new"
DEPTH = 4
"""How deep is looked ahead, as at the terminal (see `Job.next_steps`)."""
ALIKE = 1e-3
"""Share of a belief by which two may differ, with how far what is suspected shows otherwise, and choose the same: what
else they would choose costs at most this share of the minutes left, a quarter of one."""
_ALL = 1000
_SETS_AT_ONCE = 8
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
class PairedSet:
    """The jobs at one set, worked by the version that is taken to be right (`right`), as far as much is at stake.

    gap: minutes of a job with the new version less those with the old one, estimated from this set. jobs: that were
    worked; same: in which no point was found where the two would have done something else. parted: share of all jobs
    that have one, estimated likewise. said, minutes: how many jobs those worked stand for at their start, and their
    expected minutes. heaviest: how many jobs a point stood for at most.
    """

    number: int
    right: str
    gap: float
    jobs: int = 0
    same: int = 0
    parted: float = 0.0
    said: float = 0.0
    minutes: float = 0.0
    heaviest: float = 0.0


@dataclass(frozen=True, slots=True)
class MinutesDifference:
    """Expected minutes of a job by the version that is right, and new less old with its 95 % interval: nan where too
    few sets showed one for that (see `skew_interval`).

    `sets` were looked at and `count` jobs worked, of which in `same` no point was found at which the two would have
    done otherwise. parted: share of all such jobs that have one. heaviest: how many jobs of a set a point stood
    for at most.
    """

    right: str
    count: int
    same: int
    minutes: float
    mean: float
    low: float
    high: float
    parted: float = 0.0
    heaviest: float = 0.0
    sets: int = 0

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
            self.back(mark)
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
            self.back(mark)
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

    def back(self, mark: int) -> None:
        while len(self.job.standing) > mark:
            self.job.step_back(mistake=True)


class _Pair:
    """All jobs at one set by the version that is right, as far as they are followed."""

    def __init__(
        self, right: _Hands, other: _Hands, held: Mapping[str, float] | None, told: Changed, least: float
    ) -> None:
        """told: of `where_told_otherwise`. least: jobs times stake from which on every way is followed."""
        self.right, self.other, self.least = right, other, least
        self._held, self._told = held, told
        self.gap = self.parted = self.said = self.minutes = 0.0
        self.jobs = self.same = 0
        self.heaviest = 0.0

    def work(self, said: Sequence[Said], name: str) -> None:
        """Work everything that may be said of the set, as far as it is worth it."""
        ways = [(each.complaint, each.chance, each.stake) for each in said]
        for complaint, counts, _ in _kept(ways, 1.0, self.least, Draws(name, "said").uniform()):
            marks = self._marks()
            for each in (self.right, self.other):
                each.job.record(complaint, "present")
            self.said += counts
            self.minutes += counts * self.right.first().expected_minutes
            self._go_on(counts, f"{name}/{complaint}", 0, False)
            for each, mark in marks:
                each.back(mark)

    def _go_on(self, counts: float, name: str, steps: int, parted: bool) -> None:
        """From a point that stands for `counts` jobs."""
        self.heaviest = max(self.heaviest, counts)
        step = self.right.first()
        cost = None if self._alike() else _cost(self.right, self.other, step)
        if cost is not None:
            self.gap += counts * cost
            self.parted += 0.0 if parted else counts
            parted = True
        over = step.kind == "refer" or (step.kind == "done" and step.minutes == 0.0) or steps + 1 == MOST_STEPS
        ways = [] if over else self._ways(step)
        kept = _kept(ways, counts, self.least, Draws(name, "answers").uniform())
        if not kept:
            self.jobs += 1
            self.same += not parted
        for answer, after, _ in kept:
            marks = self._marks()
            self.right.take(step, answer)
            self.other.take(step, answer)
            self._go_on(after, f"{name}/{step.id}={answer}", steps + 1, parted)
            for each, mark in marks:
                each.back(mark)

    def _marks(self) -> list[tuple[_Hands, int]]:
        """Where both stand, to come back to."""
        return [(each, len(each.job.standing)) for each in (self.right, self.other)]

    def _ways(self, step: Step) -> list[tuple[str, float, float]]:
        """Answers to a step after which the job goes on: each with its chance by the right version, and what is at
        stake after it."""
        answers = self.right.answers(step)
        one = self.right.ahead(step, answers)
        same = self._same_so_far() and step.kind == "check" and step.id not in (self._told or ())
        two = one if same else self.other.ahead(step, answers)
        total = fsum(chance for chance, _ in one)
        return [
            (answer, chance / total, at_stake(self._held, here, there))
            for answer, (chance, here), (_, there) in zip(answers, one, two, strict=True)
            if chance > 0.0 and answer != "passed"
        ]

    def _same_so_far(self) -> bool:
        """Whether nothing was found yet that tells the one version anything else than the other."""
        if self._told is None:
            return False
        says = self.right.job.knowledge.complaints
        return all(
            event.id not in self._told
            if event.kind == "check"
            else event.kind == "complaint" and self._told.isdisjoint(says[event.id].says)
            for event in self.right.job.standing
            if event.kind not in ("set", "secured")
        )

    def _alike(self) -> bool:
        """Whether both believe the same, and what they suspect shows the same in both; so both would do the same."""
        if self._held is None:
            return False
        first = self.right.believed()
        second = first if self._same_so_far() else self.other.believed()
        if not first or not second:
            return False
        apart = fsum(abs(first.get(each, 0.0) - second.get(each, 0.0)) for each in first.keys() | second.keys())
        otherwise = fsum(
            chance * max((self._held.get(cause, 0.0) for cause in each), default=0.0)
            for known in (first, second)
            for each, chance in known.items()
        )
        # A mechanic's order goes by what is believed and not by price alone: no lead in price says what comes first.
        return apart + otherwise <= ALIKE


def _kept(
    ways: Sequence[tuple[str, float, float]], counts: float, least: float, place: float
) -> list[tuple[str, float, float]]:
    """Of ways on, with their chances and stakes: those that are followed, with how many jobs each stands for.

    One with as many jobs times stake as `least` is followed for itself; of the others as many as that comes to, by lot.
    """
    found = []
    for way, chance, stake in ways:
        size = counts * chance * stake
        if size >= least:
            found.append((way, counts * chance, stake))
            continue
        place += size / least
        if place >= 1.0:
            place -= 1.0
            found.append((way, least / stake, stake))
    return found


def _cost(right: _Hands, other: _Hands, step: Step) -> float | None:
    """Minutes that the right version expects the step of the other one to cost; None where both do the same."""
    another = other.first()
    if (step.kind, step.id) == (another.kind, another.id):
        return None
    one, two = (each.shown((step, another)) for each in (right, other))
    if (one[0].kind, one[0].id) == (two[0].kind, two[0].id):
        return None
    return right.cost(two[0], one)


def _said(
    both: Mapping[str, Knowledge], held: Mapping[str, float] | None, numbered: Sequence[tuple[int, Given]]
) -> list[CallOut]:
    return [call_out(both, held, number, features) for number, features in numbered]


def _worked(
    both: Mapping[str, Knowledge], held: Mapping[str, float] | None, deepen: int, seed: int,
    called: CallOut, least: float,
) -> list[PairedSet]:  # fmt: skip
    """The jobs at one set, in the world of the old version and in that of the new one."""
    memos = {way: Memo() for way in both}
    told = where_told_otherwise(both[OLD], both[NEW], called.features)
    found = []
    for right, other in ((OLD, NEW), (NEW, OLD)):
        hands = {way: _Hands(both[way], called.features, deepen, memos[way]) for way in both}
        pair = _Pair(hands[right], hands[other], held, told, least)
        # The same lots in either world, so that both go the same way as long as both do the same.
        pair.work(called.said[right], f"{seed}/{called.number}")
        gap = pair.gap if other == NEW else -pair.gap
        told_of = pair.jobs, pair.same, pair.parted, pair.said, pair.minutes, pair.heaviest
        found.append(PairedSet(called.number, right, gap, *told_of))
    return found


def effect(
    old: Knowledge,
    new: Knowledge,
    features: Sequence[Given],
    jobs: int,
    *,
    seed: int = 1,
    deepen: int = DEPTH,
    executor: Executor | None = None,
    done: Callable[[int], None] | None = None,
) -> tuple[PairedSet, ...]:
    """About so many jobs in either world, at sets with these features, numbered from 1: each set in either world.

    executor: anything with `submit`; None works here. done: called with the number of sets finished so far.
    Raises WorkerError where the executor fails, CallOutError where nothing can be said of a set.
    """
    both, held = {OLD: old, NEW: new}, stakes(old, new)
    parts = [(part,) for part in chunks(tuple(enumerate(features, 1)), _SETS_AT_ONCE)]
    called = [each for part in worked(executor, _said, (both, held), parts) for each in part]
    least = max(fsum(each.size(right) for each in called) for right in both) / jobs
    finished = 0

    def took(_: Sequence[PairedSet]) -> None:
        nonlocal finished
        finished += 1
        if done is not None:
            done(finished)

    # What is most work comes first, so that nobody waits for it at the end.
    order = sorted(called, key=lambda each: (-each.size(OLD), each.number))
    found = worked(executor, _worked, (both, held, deepen, seed), [(each, least) for each in order], took)
    return tuple(each for pair in sorted(found, key=lambda pair: pair[0].number) for each in pair)


# ---- how sure


def difference(found: Sequence[PairedSet], right: str) -> MinutesDifference:
    """Means over the sets of one world. ValueError where there is none."""
    chosen = [each for each in found if each.right == right]
    if not chosen:
        raise ValueError(f"no jobs in the world of {right}")
    mean, low, high = skew_interval([each.gap for each in chosen])
    # No step of the other version gains anything by the reckoning of the right one.
    low, high = (low, min(high, 0.0)) if right == NEW else (max(low, 0.0), high)
    said = fsum(each.said for each in chosen)
    minutes = fsum(each.minutes for each in chosen) / said if said else 0.0
    parted = min(1.0, fsum(each.parted for each in chosen) / len(chosen))
    heaviest = max(each.heaviest for each in chosen)
    jobs, same = sum(each.jobs for each in chosen), sum(each.same for each in chosen)
    return MinutesDifference(right, jobs, same, minutes, mean, low, high, parted, heaviest, len(chosen))
