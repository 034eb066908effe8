"""A simulated learner over held-out drills: with and without the course, with and without expanding intervals.

    python -m tests.benchmarks.learner --learners 8 --drills 20 --tests 16 [--pool 40] [--brought DAYS] [--out FILE]

The learner is a model, and every line of it an assumption, from memory:
- He knows a random part (START) of the links of the knowledge: that a cause shows in a check. What he does not know he
  takes to leave the check as it is on a sound set. How strongly a known link shows he knows as the knowledge has it.
- He takes one fault at a time: belief over causes by his links and how common each is, every finding counted by itself.
- He mends the likeliest part from SURE on, or where no check tells him more; else he makes the check that tells most for
  its minutes with the change of set-up; one that knows nothing more takes a check of a minute or two at random.
- After a drill he learns a link of the true cause from the debrief with chance BY_DEBRIEF, for the checks that he or the
  program made; a caution that was called out with chance BY_CALL.
- A unit teaches the links of the causes and looks of its drills with chance BY_UNIT, and its cautions.
- He forgets: a link is known still after some days with chance exp(-days / strength); its strength is FIRST days for what
  he learns here and BROUGHT days for what he brought, and grows by GROWTH each time it comes up again. Drills and units are one day apart, one drill a day.
- He makes no reading for the record and no look before closing, which the program does; so one who knows all is quicker.
- A unit that comes back is graded by what he knows of it that day, as the program grades it.
Four ways of learning: drills at random or by expanding intervals, without the course or with it. All four begin with the
same knowledge and are tested on the same sets, which nobody practised on. Sets are those of `hertzwright drill`, one
plain fault; the expert is the program's own path there. A set that the program does not fix is left out.
Beside them stands the learner's own limit, which no teaching moves: the same learner with every link and every caution,
choosing in his own way (one fault at a time, one step ahead, findings counted by themselves). A pace is told against the
expert, and as a share of that limit.
Prints means over learners with 95 % intervals (Student's t); minutes hold handing over and coming back.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from hertzwright.cli.training.progress import KeptDrill, TraineeProgress
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.rehearsal import interval
from hertzwright.engine.rehearsal.played_job import make_safe
from hertzwright.engine.simulated import Draws
from hertzwright.engine.teaching import Review, Scenario, due_today, grade, new_scenario, program_path
from hertzwright.engine.teaching.drill_set import DrillSet
from hertzwright.engine.teaching.made_up import DrillError

START, SURE, BY_DEBRIEF, BY_CALL, BY_UNIT = 0.3, 0.5, 0.7, 0.7, 0.8
FIRST, GROWTH, BROUGHT = 5.0, 2.0, 200.0
DAY_ONE = date(2026, 1, 1)
MOST_STEPS = 30
HELD_OUT, PRACTICE = 900_000, 700_000
"""First seeds of the sets that are tested on, and of those that are practised on."""


@dataclass
class Link:
    """What a learner has of one thing: the day on which it last came up, and how long it lasts, in days."""

    day: int
    strength: float = FIRST


@dataclass
class Learner:
    """A learner: his links (cause, check), his cautions, and a stream of chance of his own."""

    knowledge: Knowledge
    draws: Draws
    day: int = 0
    links: dict[tuple[str, str], Link] = field(default_factory=dict)
    cautions: set[str] = field(default_factory=set)

    def known(self, cause: str, check: str) -> bool:
        """Whether a link is known today; one that was forgotten stays so until it comes up again."""
        link = self.links.get((cause, check))
        return link is not None and Draws(self.day, cause, check, "kept").uniform() < math.exp(
            (link.day - self.day) / link.strength
        )

    def meets(self, cause: str, check: str, chance: float) -> None:
        """A link comes up: learned with a chance, or strengthened where it was known."""
        if check not in self.knowledge.causes[cause].shows or self.draws.uniform() >= chance:
            return
        before = self.links.get((cause, check))
        self.links[cause, check] = Link(self.day, before.strength * GROWTH if before else FIRST)


def beginner(knowledge: Knowledge, number: int, start: float = START, brought: float = BROUGHT) -> Learner:
    """A learner with a random part of the links and of the cautions."""
    draws = Draws("learner", number)
    found = Learner(knowledge, draws)
    for cause in knowledge.causes.values():
        for check in cause.shows:
            if draws.uniform() < start:
                found.links[cause.id, check] = Link(0, brought)
    found.cautions = {name for name in knowledge.catalogue.cautions if draws.uniform() < start}
    return found


def knowing_all(knowledge: Knowledge, number: int) -> Learner:
    """The same learner with every link and every caution: what is left is his own way of choosing."""
    return beginner(knowledge, number, 1.01)


# ---- one drill


@dataclass
class Went:
    """How a drill went: minutes with handing over or coming back, whether all was cured, slips, checks made."""

    minutes: float
    fixed: bool
    slips: int
    checks: list[str]


_SEEN: dict[tuple[str, tuple[str, ...], str], str | bool] = {}
"""What the sets showed once: the same set after the same remedies shows the same to everybody."""


class _Set(DrillSet):
    """A dealt set that keeps what it showed, for the next learner who looks."""

    def __init__(self, knowledge: Knowledge, of: Scenario) -> None:
        super().__init__(knowledge, of)
        self.done: tuple[str, ...] = ()

    def answer(self, check: str) -> str:
        return str(self._kept(check, lambda: DrillSet.answer(self, check)))

    def mend(self, remedy: str) -> None:
        super().mend(remedy)
        self.done = (*self.done, remedy)

    def prove(self) -> bool:
        return bool(self._kept("proof", lambda: DrillSet.proof(self.copy()).passed))

    def _kept(self, what: str, look: Callable[[], str | bool]) -> str | bool:
        key = (self.dealt.seed, self.done, what)
        if key not in _SEEN:
            _SEEN[key] = look()
        return _SEEN[key]


class _Work:
    """A learner at one set."""

    def __init__(self, learner: Learner, dealt: Scenario, called_out: bool) -> None:
        self.learner, self.dealt, self.called_out = learner, dealt, called_out
        knowledge = learner.knowledge
        self.set = _Set(knowledge, dealt)
        self.job = Job(knowledge, dealt.features)
        for name in dealt.complaints:
            self.job.record(name, "present")
        self.slips = 0
        self.met: set[str] = set()
        self.made: list[str] = []
        self.tried: set[str] = set()
        self.checks = [name for name, each in self.job.checks.items() if each.derived_from is None]
        features = knowledge.features(dealt.features)
        self.belief = {
            name: cause.prior(features) ** 0.5
            for name, cause in knowledge.causes.items()
            if cause.prior(features) > 0.0
        }
        # The learner's own rows, worked out once for today: P(outcome | cause) by his links.
        self.sound = {check: knowledge.distribution(check, frozenset()) for check in self.checks}
        self.rows = {
            (cause, check): knowledge.distribution(check, frozenset({cause}))
            for cause in self.belief
            for check in knowledge.causes[cause].shows
            if check in self.sound and learner.known(cause, check)
        }
        for name in dealt.complaints:
            for check, outcomes in knowledge.complaints[name].says.items():
                if check in self.sound:
                    self._weigh(check, tuple(map(str, outcomes)), 0.1)

    def _weigh(self, check: str, outcomes: tuple[str, ...], least: float = 0.005) -> None:
        positions = [self.learner.knowledge.checks[check].index(outcome) for outcome in outcomes]
        for cause in self.belief:
            row = self.rows.get((cause, check), self.sound[check])
            self.belief[cause] *= max(least, math.fsum(row[at] for at in positions))
        whole = math.fsum(self.belief.values())
        self.belief = {cause: chance / whole for cause, chance in self.belief.items()}

    def _minutes(self, state: str, minutes: float) -> float:
        return self.learner.knowledge.catalogue.costs.move(self.job.here, state) + max(1.0, minutes)

    def _best_check(self) -> str:
        best, name = 0.0, ""
        for check in self.checks:
            if check in self.made:
                continue
            told = self._tells(check)
            each = self.learner.knowledge.checks[check]
            worth = told / self._minutes(each.state, each.minutes)
            if told > 0.02 and worth > best:
                best, name = worth, check
        return name

    def _tells(self, check: str) -> float:
        """Expected information of a check by the learner's links, in nats."""
        sound = self.sound[check]
        rows = [
            (chance, self.rows[cause, check]) for cause, chance in self.belief.items() if (cause, check) in self.rows
        ]
        if not rows:
            return 0.0
        rest = 1.0 - math.fsum(chance for chance, _ in rows)
        told = 0.0
        for at in range(len(sound)):
            whole = rest * sound[at] + math.fsum(chance * row[at] for chance, row in rows)
            for chance, row in (*rows, (rest, sound)):
                if chance > 0.0 and row[at] > 0.0 and whole > 0.0:
                    told += chance * row[at] * math.log(row[at] / whole)
        return told

    def _best_remedy(self) -> tuple[str, float]:
        best, name = 0.0, ""
        for remedy in self.learner.knowledge.remedies.values():
            if remedy.retired is not None or remedy.id in self.tried:
                continue
            cures = math.fsum(self.belief.get(cause, 0.0) * chance for cause, chance in remedy.cures.items())
            if cures > best:
                best, name = cures, remedy.id
        return name, best

    def _safely(self, step: str, state: str, own: Sequence[str], dangerous: bool) -> None:
        """A dangerous step: what of its cautions is not known is a slip, once a drill; called out, it may be learned."""
        there = self.learner.knowledge.catalogue.states[state]
        if not (dangerous or there.dangerous):
            return
        missing = {*own, *there.cautions} - self.learner.cautions - self.met
        self.slips += bool(missing)
        self.met |= missing
        if self.called_out:
            self.learner.cautions |= {name for name in sorted(missing) if self.learner.draws.uniform() < BY_CALL}

    def _check(self, name: str) -> None:
        each = self.learner.knowledge.checks[name]
        self._safely(name, each.state, each.cautions, each.dangerous)
        make_safe(self.job)
        answer = self.set.answer(name)
        read = self.job.record(name, answer)
        self.made.append(name)
        if read.outcomes:
            self._weigh(name, tuple(map(str, read.outcomes)))

    def _mend(self, name: str) -> bool:
        each = self.learner.knowledge.remedies[name]
        self._safely(name, each.state, each.cautions, each.dangerous)
        make_safe(self.job)
        self.set.mend(name)
        passed = self.set.prove()
        self.job.carry_out(name, "cured" if passed else "not cured")
        self.tried.add(name)
        for cause, chance in each.cures.items():
            if cause in self.belief:
                self.belief[cause] *= 1.0 - 0.9 * chance
        whole = math.fsum(self.belief.values())
        self.belief = {cause: chance / whole for cause, chance in self.belief.items()}
        return passed

    def work(self) -> Went:
        costs = self.learner.knowledge.catalogue.costs
        for _ in range(MOST_STEPS):
            remedy, chance = self._best_remedy()
            check = "" if chance >= SURE else self._best_check()
            if not check and chance < 0.15:
                left = [name for name in self.checks if name not in self.made
                        and self.learner.knowledge.checks[name].minutes <= 3.0]  # fmt: skip
                if left:
                    check = left[int(self.learner.draws.uniform() * len(left))]
            if check:
                self._check(check)
            elif not remedy:
                break
            elif self._mend(remedy):
                left_in = bool(self.set.faults)
                return Went(self.job.minutes + costs.come_back * left_in, not left_in, self.slips, self.made)
            if self.job.minutes > costs.refer * 2:
                break
        return Went(self.job.minutes + costs.refer, False, self.slips, self.made)


# ---- sets, and the four ways


@dataclass(frozen=True)
class Dealt:
    """A set with the minutes and checks of the program on it."""

    scenario: Scenario
    expert: float
    checks: tuple[str, ...]


def dealt(knowledge: Knowledge, first: int, count: int) -> list[Dealt]:
    """Sets of one plain fault that the program fixes, from a first seed on."""
    found: list[Dealt] = []
    seed = first
    while len(found) < count:
        seed += 1
        try:
            scenario = new_scenario(knowledge, seed, 1, solved=False)
        except DrillError:
            continue
        played = program_path(knowledge, scenario, 0)
        if played.end == "fixed":
            checks = tuple(move.id for move in played.moves if move.kind == "check")
            found.append(Dealt(scenario, played.minutes, checks))
    return found


def learn(
    knowledge: Knowledge, number: int, course: bool, intervals: bool, pool: Sequence[Dealt], tests: Sequence[Dealt],
    drills: int, at: Sequence[int], brought: float,
) -> dict[int, tuple[float, float, float]]:  # fmt: skip
    """One learner in one way. Returns, after so many drills, pace, share fixed and slips a set on the held-out sets."""
    learner = beginner(knowledge, number, brought=brought)
    learner.draws = Draws("way", number, int(course), int(intervals))
    kept: list[KeptDrill] = []
    reviews: dict[str, list[Review]] = {}
    found = {}
    for done in range(drills + 1):
        learner.day = done
        if done in at:
            found[done] = tested(learner, tests)
        if done == drills:
            break
        day = date.fromordinal(DAY_ONE.toordinal() + done)
        if course:
            _units(learner, reviews, day)
        kept.append(_drill(learner, kept, pool, day, intervals))
    return found


def tested(learner: Learner, tests: Sequence[Dealt]) -> tuple[float, float, float]:
    went = [_Work(learner, each.scenario, False).work() for each in tests]
    pace = math.fsum(each.expert for each in tests) / math.fsum(each.minutes for each in went)
    return pace, math.fsum(each.fixed for each in went) / len(went), math.fsum(each.slips for each in went) / len(went)


def _units(learner: Learner, reviews: dict[str, list[Review]], day: date) -> None:
    knowledge = learner.knowledge
    for standing in due_today(knowledge, reviews, day):
        unit, made = standing.unit, reviews.setdefault(standing.unit.id, [])
        right = 1
        for plan in unit.drills:
            links = [
                (cause, look) for cause in plan.causes for look in plan.looks if look in knowledge.causes[cause].shows
            ]
            right += math.fsum(learner.known(*link) for link in links) >= 0.6 * len(links)
            for cause, look in links:
                learner.meets(cause, look, BY_UNIT)
        learner.cautions |= {name for name in unit.cautions if learner.draws.uniform() < BY_UNIT}
        made.append(Review(day, grade(int(right), 3, not made)))


def _drill(learner: Learner, kept: list[KeptDrill], pool: Sequence[Dealt], day: date, intervals: bool) -> KeptDrill:
    """One drill of the pool: at random, or the cause that the program would deal."""
    wanted = TraineeProgress(str(learner.draws.uniform()), tuple(kept)).wanted(day)[1] if intervals else ""
    fits = [each for each in pool if wanted and wanted in each.scenario.truth] or pool
    chosen = fits[int(learner.draws.uniform() * len(fits))]
    went = _Work(learner, chosen.scenario, True).work()
    truth = chosen.scenario.truth
    for cause in truth:
        for check in dict.fromkeys((*went.checks, *chosen.checks)):
            learner.meets(cause, check, BY_DEBRIEF)
    return KeptDrill(
        chosen.scenario.seed, 1, truth, () if went.fixed else truth, "fixed" if went.fixed else "given up", went.minutes,
        chosen.expert, 0, went.slips, (), f"{day.isoformat()}T12:00:00+00:00",
    )  # fmt: skip


WAYS = {
    "drills at random": (False, False),
    "drills by intervals": (False, True),
    "course, drills at random": (True, False),
    "course, drills by intervals": (True, True),
}


def _told(values: Sequence[float], scale: float = 100.0) -> str:
    mean, low, high = interval(values)
    if len(set(values)) == 1:  # the limit hangs on no chance where nothing is left to be guessed
        low = high = mean
    return f"{scale * mean:5.1f} ({scale * low:.1f} to {scale * high:.1f})"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--learners", type=int, default=8)
    parser.add_argument("--drills", type=int, default=20)
    parser.add_argument("--tests", type=int, default=16)
    parser.add_argument("--pool", type=int, default=40)
    parser.add_argument("--brought", type=float, default=BROUGHT, help="days that what a learner brought lasts")
    parser.add_argument("--out", type=Path, help="keep a JSON line for each learner and way")
    given = parser.parse_args()
    knowledge = load_knowledge()
    tests, pool = dealt(knowledge, HELD_OUT, given.tests), dealt(knowledge, PRACTICE, given.pool)
    at = sorted({0, given.drills // 2, given.drills})
    limits = [tested(knowing_all(knowledge, number), tests) for number in range(given.learners)]
    pace, fixed, slips = zip(*limits, strict=True)
    print(f"The learner's own limit, with every link, on {len(tests)} sets: pace {_told(pace)}, fixed {_told(fixed)}")
    print(f"{given.learners} learners, start {START:.0%} of the links; pace = the expert's minutes over theirs, %\n")
    found: dict[str, list[dict[int, tuple[float, float, float]]]] = {way: [] for way in WAYS}
    for number in range(given.learners):
        for way, (course, intervals) in WAYS.items():
            one = learn(knowledge, number, course, intervals, pool, tests, given.drills, at, given.brought)
            found[way].append(one)
            if given.out is not None:
                with given.out.open("a", encoding="utf-8") as file:
                    print(json.dumps({"way": way, "learner": number, "after": one}), file=file)
    for way, every in found.items():
        for done in at:
            pace, fixed, slips = zip(*(one[done] for one in every), strict=True)
            share = [own / most[0] for own, most in zip(pace, limits, strict=True)]
            print(
                f"{way:<28} after {done:>2}: pace {_told(pace)}, of his limit {_told(share)}, fixed {_told(fixed)}, "
                f"slips {_told(slips, 1.0)}"
            )


if __name__ == "__main__":
    main()
