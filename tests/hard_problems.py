"""Planning problems that are hard to plan: eight made-up kinds and pieces of the shipped knowledge, each a whole `Job`.

Each is knowledge that is made here, not read: causes, checks and remedies of a few, one complaint that has brought the
set in, and the job begun with it. `Optimum` of `optimum` is the referee; `FollowedJob` does what `Job.next_steps`
proposes first, to the end. What the planner may not know stays out of both: a check is made once (a second look at what
a remedy has touched is passed over), a proof run never fails on a sound set.
"""

from __future__ import annotations

import math
import random
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from hertzwright.engine import Job, Knowledge
from hertzwright.engine.compiler.catalogue import Catalogue
from hertzwright.engine.compiler.model import NO_FITS, Cause, Check, Costs, OrderRule, Outcome, Remedy, SetUpState
from hertzwright.engine.job.advice import problem_of
from hertzwright.engine.job.event import Event
from hertzwright.engine.planning.planner import PlanningProblem

from optimum import NEGLIGIBLE, Followed, Game, Optimum, Sets

TROUBLE = "trouble"
"""The check that brings the set in: answered abnormal at the start, and never made again."""
TOO_LONG = 500.0
"""Its minutes, so that nobody makes it again."""
STATES = ("stopped", "running", "loaded")
UNLIKELY = 1e-3
"""Chance of a branch below which a job is no longer played."""


@dataclass(frozen=True)
class Kind:
    """How problems of a kind are drawn: least and most, minutes, chances."""

    causes: tuple[int, int] = (4, 5)
    looks: tuple[int, int] = (3, 5)
    minutes: tuple[float, float] = (1, 12)
    mending: tuple[float, float] = (5, 60)
    moves: tuple[float, float] = (1, 8)
    states: int = 3
    strengths: tuple[float, ...] = (0.25, 0.5, 0.75, 0.92)
    shown: float = 0.6
    leak: tuple[float, ...] = (0.03, 0.05)
    cures: tuple[float, ...] = (0.75, 0.83, 0.92, 0.99)
    luck: tuple[float, ...] = (0.0, 0.08, 0.17)
    sound: float = 0.0
    several: bool = False
    rules: bool = False


KINDS: Mapping[str, Kind] = {
    "cheap checks, dear remedies": Kind(looks=(5, 6), minutes=(1, 3), mending=(40, 150), moves=(1, 4), states=2),
    "order rules": Kind(rules=True),
    "nothing may be wrong": Kind(sound=0.3),
    "false alarms": Kind(leak=(0.1, 0.17, 0.25), sound=0.1),
    "set-up states": Kind(moves=(5, 30), minutes=(1, 6)),
    "checks that pay together": Kind(
        causes=(4, 5), looks=(5, 5), minutes=(2, 5), mending=(20, 70), states=1, strengths=(0.5, 0.75), shown=0.5
    ),
    "remedies that fail": Kind(cures=(0.5, 0.75), luck=(0.08, 0.25), looks=(3, 4)),
    "several faults": Kind(causes=(3, 4), looks=(2, 3), several=True),
}


PIECES: Mapping[str, dict[str, Any]] = {
    "piece of the knowledge": {"causes": 5, "checks": 5},
    "piece, several faults": {"causes": 4, "checks": 4, "several": True},
}
"""The shipped knowledge in pieces: how many causes and checks."""


@dataclass(frozen=True)
class HardProblem:
    """The same problem as a job that was begun and as what the planner is told of it."""

    job: Job
    problem: PlanningProblem
    sets: Sets


def made_up(kind: str, seed: int, base: Knowledge) -> HardProblem:
    """A problem of one of KINDS. base: any knowledge, for what stands around the problem (words, features, limits)."""
    way, draw = KINDS[kind], random.Random(f"{kind} {seed}")
    states = STATES[3 - way.states :]
    causes = [f"cause{place}" for place in range(draw.randint(*way.causes))]
    checks: dict[str, Check] = {TROUBLE: _trouble(way.sound)}
    shows: dict[str, dict[str, tuple[float, ...]]] = {name: {TROUBLE: (0.01, 0.99)} for name in causes}
    for place in range(draw.randint(*way.looks)):
        abnormal, leak = draw.choice((1, 1, 2)), draw.choice(way.leak)
        check = checks[f"check{place}"] = _check(
            f"check{place}",
            draw.choice(states),
            draw.uniform(*way.minutes),
            (1.0 - leak, *[leak / abnormal] * abnormal),
        )
        bearing = [name for name in causes if draw.random() < way.shown] or [draw.choice(causes)]
        for name in bearing:
            one = [draw.choice((0.0, *way.strengths)) / abnormal for _ in range(abnormal)]
            shows[name][check.id] = (1.0 - sum(one), *one)
    remedies = {
        f"remedy{place}": Remedy(
            f"remedy{place}", f"Remedy {place}", "made", "", draw.choice(states), round(draw.uniform(*way.mending), 1),
            {name: draw.choice(way.cures)},
        )
        for place, name in enumerate(causes)
    }  # fmt: skip
    known = {
        name: Cause(
            name,
            name,
            "made",
            name if way.several else "one",
            draw.choice((0.05, 0.07, 0.1, 0.15)),
            "",
            shows=shows[name],
        )
        for name in causes
    }
    moves = {(one, other): round(draw.uniform(*way.moves), 1) for one in STATES for other in STATES if one != other}
    costs = replace(
        base.catalogue.costs, moves=moves, start_state=states[0], proof=round(draw.uniform(3, 8), 1),
        proof_state="loaded", proof_checks=(TROUBLE,), proof_needed=(TROUBLE,), also_fine={},
        proof_shows=1.0 - draw.choice(way.luck), proof_false=0.0, refer=draw.choice((120.0, 240.0)),
    )  # fmt: skip
    costs = replace(costs, come_back=costs.refer)
    rules = _rules(draw, list(checks)[1:], list(remedies)) if way.rules else {}
    catalogue = _around(base.catalogue, known, checks, remedies, costs, rules)
    catalogue = replace(catalogue, states={name: SetUpState(name, name, "", False, ()) for name in STATES})
    return _begun(Knowledge(catalogue), {})


def piece(knowledge: Knowledge, seed: int, *, causes: int = 5, checks: int = 5, several: bool = False) -> HardProblem:
    """Causes of one complaint, the checks that tell most of them and their best remedies, as shipped; order rules too.

    several: every cause may be there with others; else one of them is, or none that is listed.
    """
    draw, catalogue = random.Random(f"piece {seed}"), knowledge.catalogue
    features = knowledge.features()
    while True:
        complaint = draw.choice([each for each in catalogue.complaints.values() if each.retired is None])
        heard = [name for name in complaint.says if knowledge.applies(name, features)]
        if len(heard) < len(complaint.says):
            continue
        bearing = [
            cause for cause in catalogue.causes.values()
            if cause.prior(features) > 0.0 and cause.remedies and any(name in cause.shows for name in heard)
        ]  # fmt: skip
        if len(bearing) >= causes:
            break
    chosen = sorted(draw.sample(bearing, causes), key=lambda cause: cause.id)
    says: dict[str, tuple[float, ...]] = {}
    for cause in chosen:
        # The complaint as a check: the chance that the cause alone makes it be said.
        there = max(
            sum(cause.shows[name][catalogue.checks[name].index(outcome)] for outcome in complaint.says[name])
            for name in heard if name in cause.shows
        )  # fmt: skip
        said = complaint.true_when_said * there + complaint.said_when_not * (1.0 - there)
        says[cause.id] = (1.0 - said, said)
    groups: dict[str, Check] = {}
    usable = [
        check for check in catalogue.checks.values()
        if knowledge.applies(check.id, features) and check.derived_from is None
        and sum(cause.id in check.parents for cause in chosen) >= 1
    ]  # fmt: skip
    for check in draw.sample(usable, len(usable)):
        groups.setdefault(check.group or check.id, check)
    looks = {check.id: replace(check, group="", fits=NO_FITS) for check in list(groups.values())[:checks]}
    remedies: dict[str, Remedy] = {}
    for cause in chosen:
        best = max(
            (catalogue.remedies[name] for name in cause.remedies if catalogue.remedies[name].retired is None),
            key=lambda remedy: remedy.cures[cause.id] / (remedy.minutes + 10.0),
        )
        cures = dict(remedies[best.id].cures) if best.id in remedies else {}
        remedies[best.id] = replace(best, cures={**cures, cause.id: best.cures[cause.id]}, fits=NO_FITS)
    known = {
        cause.id: replace(
            cause,
            part=cause.part if several else "one",
            shows={**{name: row for name, row in cause.shows.items() if name in looks}, TROUBLE: says[cause.id]},
            remedies=(),
        )
        for cause in chosen
    }
    costs = replace(catalogue.costs, proof_checks=(TROUBLE,), proof_needed=(TROUBLE,), also_fine={}, proof_false=0.0)
    trouble = replace(_trouble(complaint.said_when_not), state=costs.proof_state)
    rules = {
        name: replace(rule, before=tuple(x for x in rule.before if x in looks or x in remedies), after=rule.after)
        for name, rule in catalogue.order.items()
        if rule.kind != "do_again"
    }
    made = _around(catalogue, known, {TROUBLE: trouble, **looks}, remedies, costs, rules)
    return _begun(Knowledge(made), {})


def _trouble(leak: float) -> Check:
    return _check(TROUBLE, "loaded", TOO_LONG, (1.0 - leak, leak))


def _check(name: str, state: str, minutes: float, leak: tuple[float, ...]) -> Check:
    outcomes = tuple(Outcome(text) for text in ("right", "wrong", "worse")[: len(leak)])
    return Check(name, name, "look", "made", state, round(minutes, 1), "", outcomes, leak)


def _rules(draw: random.Random, checks: list[str], remedies: list[str]) -> dict[str, OrderRule]:
    mends = draw.sample(remedies, 3)
    return {
        "look": OrderRule("look", "look_first", (draw.choice(checks),), tuple(mends[:2]), "", ()),
        "cure": OrderRule("cure", "cure_first", (mends[1],), (mends[2],), "", ()),
    }


def _around(
    base: Catalogue,
    causes: Mapping[str, Cause],
    checks: Mapping[str, Check],
    remedies: Mapping[str, Remedy],
    costs: Costs,
    rules: Mapping[str, OrderRule],
) -> Catalogue:
    """A catalogue of these alone."""
    bearing = {name: tuple(cause.id for cause in causes.values() if name in cause.shows) for name in checks}
    return replace(
        base,
        causes={
            name: replace(cause, remedies=tuple(each.id for each in remedies.values() if name in each.cures))
            for name, cause in causes.items()
        },
        checks={name: replace(check, parents=bearing[name]) for name, check in checks.items()},
        remedies=dict(remedies),
        complaints={},
        costs=costs,
        order=dict(rules),
        danger={},
        cases={},
        from_the_top={},
        setting={},
    )


def _begun(knowledge: Knowledge, features: Mapping[str, object]) -> HardProblem:
    job = Job(knowledge, features)
    job.record(TROUBLE, knowledge.checks[TROUBLE].outcomes[1])
    problem = problem_of(job._genset)
    problem = replace(problem, looks=tuple(look for look in problem.looks if look.id != TROUBLE))
    return HardProblem(job, problem, _belief(knowledge))


def _belief(knowledge: Knowledge) -> Sets:
    """Every combination of causes with its chance, given the trouble: by plain enumeration."""
    parts: dict[str, list[Cause]] = {}
    for cause in knowledge.causes.values():
        parts.setdefault(cause.part, []).append(cause)
    worlds: list[tuple[frozenset[str], float]] = [(frozenset(), 1.0)]
    for causes in parts.values():
        priors = [(cause.id, cause.prior(knowledge.features())) for cause in causes]
        sound = 1.0 - sum(prior for _, prior in priors)
        worlds = [
            world
            for present, weight in worlds
            for world in ((present, weight * sound), *((present | {name}, weight * prior) for name, prior in priors))
        ]
    weighed = [
        (present, weight * knowledge.distribution(TROUBLE, present)[1]) for present, weight in worlds if weight > 0.0
    ]
    total = sum(weight for _, weight in weighed)
    return tuple(
        sorted(((present, weight / total) for present, weight in weighed if weight), key=lambda each: sorted(each[0]))
    )


class FollowedJob(Game):
    """Expected minutes of doing what `Job.next_steps` proposes first, all the way."""

    def __init__(self, made: HardProblem, *, deepen: int = 4) -> None:
        super().__init__(made.problem)
        self.deepen = deepen
        self._job = made.job
        self._sets = made.sets
        self._known: dict[object, float] = {}
        self._unlikely = Followed(made.problem, deepen=deepen)

    def expected(self) -> float:
        return self._play(self._job.events, self._sets, 1.0)

    def _play(self, events: Sequence[Event], sets: Sets, chance: float) -> float:
        """Minutes from here on; chance: of coming here. What hardly ever comes is left to the planner without a job."""
        job = Job.replay(self._job.knowledge, events)
        made = frozenset(found.check for found in job.made)
        used = tuple(event.id for event in job.standing if event.kind == "remedy")
        if chance < UNLIKELY:
            return self._unlikely.value(sets, job.here, made, used)
        key = (job.here, made, tuple(sorted(used)), tuple((present, round(weight, 9)) for present, weight in sets))
        if key not in self._known:
            self._known[key] = self._step(job, sets, made, used, chance)
        return self._known[key]

    def _step(self, job: Job, sets: Sets, made: frozenset[str], used: tuple[str, ...], chance: float) -> float:
        steps = job.next_steps(99, self.deepen)
        step = next(step for step in steps if step.kind != "check" or step.id not in made)
        if step.kind == "refer":
            return self.problem.refer
        if step.kind == "check":
            minutes, branches = self.check(step.id, sets, job.here, made, used)
            for place, outcome in enumerate(job.knowledge.checks[step.id].outcomes):
                if sum(weight * self.row(step.id, present)[place] for present, weight in sets) > NEGLIGIBLE:
                    mass, after, *_ = branches.pop(0)
                    job.record(step.id, outcome)
                    minutes += mass * self._play(job.events, after, chance * mass)
                    job.step_back()
            return minutes
        if step.kind == "remedy":
            minutes, branches = self.remedy(step.id, sets, job.here, made, used)
            job.carry_out(step.id, "not cured")
        else:
            minutes, branches = self.proof(sets, job.here, made, used)
            job.prove("failed")
        return minutes + sum(mass * self._play(job.events, after, chance * mass) for mass, after, *_ in branches)


def followed_job(kind: str, seed: int, knowledge: Knowledge, deepen: int = 4) -> float:
    """Share by which following `Job.next_steps` takes longer than the optimum. kind: one of KINDS or PIECES."""
    made = made_up(kind, seed, knowledge) if kind in KINDS else piece(knowledge, seed, **PIECES[kind])
    followed = FollowedJob(made, deepen=deepen).expected()
    best = Optimum(made.problem).value(made.sets, made.job.here, most=followed + 1e-6)
    return followed / best - 1.0


def excess_line(name: str, excess: Sequence[float]) -> str:
    """One line of a table: how many, mean, 95th percentile (nearest rank) and most."""
    ordered = sorted(excess)
    at = max(0, math.ceil(0.95 * len(ordered)) - 1)
    return f"{name:<32}{len(ordered):>9}{statistics.mean(ordered):>9.2%}{ordered[at]:>9.2%}{ordered[-1]:>9.2%}"
