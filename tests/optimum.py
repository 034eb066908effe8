"""Small random planning problems, the best possible expected minutes on them, and those of following the planner.

The optimum is found by dynamic programming over beliefs and shares only the problem's values with the planner: every
check may be made once, every remedy at most `tries` times, and after each remedy the proof run tells fixed from not.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from itertools import combinations
from math import prod

from hertzwright.engine.planning.planner import Look, Mend, Planner, PlanningProblem

Sets = tuple[tuple[frozenset[str], float], ...]
STATES = ("stopped", "running", "loaded")
START = "stopped"


def random_problem(
    seed: int, *, faults: int, causes: tuple[int, int] = (2, 4), looks: tuple[int, int] = (2, 3)
) -> tuple[PlanningProblem, Sets]:
    """A problem with set-up costs and remedies that may fail, and the belief that one to `faults` causes are there.

    causes, looks: fewest and most of them. Chances are those of the knowledge base's words; each abnormal outcome of a
    check is shown by some of the causes, and by a leak.
    """
    draw = random.Random(seed)
    names = [f"cause{place}" for place in range(draw.randint(*causes))]
    moves = {(one, other): draw.uniform(1, 8) for one in STATES for other in STATES if one != other}
    checks = tuple(
        Look(f"check{place}", draw.uniform(1, 12), draw.choice(STATES)) for place in range(draw.randint(*looks))
    )
    mends = tuple(
        Mend(f"remedy{place}", draw.uniform(3, 40), draw.choice(STATES), {name: draw.choice((0.75, 0.83, 0.92, 0.99))})
        for place, name in enumerate(names)
    )
    leaks: dict[str, list[float]] = {}
    shows: dict[str, dict[str, list[float]]] = {}
    for check in checks:
        abnormal = draw.choice((1, 1, 2))
        leaks[check.id] = [0.95, *[0.05 / abnormal] * abnormal]
        shows[check.id] = {}
        for name in names:
            if draw.random() < 0.6:
                strengths = [draw.choice((0.0, 0.25, 0.5, 0.75, 0.92)) / abnormal for _ in range(abnormal)]
                shows[check.id][name] = [1.0 - sum(strengths), *strengths]

    def likelihood(check: str, present: frozenset[str]) -> list[float]:
        own = [shows[check][name] for name in present if name in shows[check]]
        at_most = [
            prod(sum(chances[: place + 1]) for chances in (leaks[check], *own)) for place in range(len(leaks[check]))
        ]
        return [high - low for high, low in zip(at_most, [0.0, *at_most[:-1]], strict=True)]

    priors = {name: draw.choice((0.03, 0.05, 0.07, 0.1, 0.25)) for name in names}
    weights = {
        frozenset(present): prod(priors[name] if name in present else 1.0 - priors[name] for name in names)
        for size in range(1, faults + 1)
        for present in combinations(names, size)
    }
    total = sum(weights.values())
    sets = tuple(
        sorted(((present, weight / total) for present, weight in weights.items()), key=lambda pair: sorted(pair[0]))
    )
    problem = PlanningProblem(
        checks,
        mends,
        moves,
        draw.uniform(3, 8),
        "loaded",
        draw.choice((120.0, 240.0)),
        likelihood,
        {},
        {},
        luck=draw.choice((0.0, 0.08, 0.17)),
    )
    return problem, sets


Branch = tuple[float, Sets, str, frozenset[str], tuple[str, ...]]
"""Chance of getting there; then belief, set-up state, checks made and remedies used."""


class Optimum:
    """The least expected minutes. `value` of a belief whose weights sum to one."""

    def __init__(self, problem: PlanningProblem, tries: int = 2) -> None:
        self.problem = problem
        self.tries = tries
        self._known: dict[object, float] = {}
        self._mends = {mend.id: mend for mend in problem.mends}
        self._looks = {look.id: look for look in problem.looks}
        self._after: dict[tuple[frozenset[str], str], list[tuple[frozenset[str], float]]] = {}
        self._rows: dict[tuple[frozenset[str], str], Sequence[float]] = {}
        self._least: dict[tuple[frozenset[str], str, tuple[str, ...]], float] = {}

    def value(self, sets: Sets, here: str, made: frozenset[str] = frozenset(), used: tuple[str, ...] = ()) -> float:
        key = (here, made, tuple(sorted(used)), tuple((present, round(weight, 10)) for present, weight in sets))
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self.decide(sets, here, made, used)
        return known

    def decide(self, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]) -> float:
        """The best of everything that can be done; what cannot be better even if all were known is left out."""
        best = self.problem.refer
        ways = [self.check(look.id, sets, here, made, used) for look in self.problem.looks if look.id not in made]
        ways += [
            self.remedy(mend.id, sets, here, made, used)
            for mend in self.problem.mends
            if used.count(mend.id) < self.tries and any(mend.cures.keys() & present for present, _ in sets)
        ]
        if any(not present for present, _ in sets):
            ways.append(self.proof(sets, here, made, used))
        bounded = [(minutes + self._at_least(branches), minutes, branches) for minutes, branches in ways]
        for bound, minutes, branches in sorted(bounded, key=lambda way: way[0]):
            if bound >= best:
                break
            best = min(best, self.follow(minutes, branches))
        return best

    def follow(self, minutes: float, branches: list[Branch]) -> float:
        """Minutes of a step and of the best after it."""
        return minutes + sum(mass * self.value(*after) for mass, *after in branches)

    def _at_least(self, branches: list[Branch]) -> float:
        """What no policy can undercut: the minutes of one who is told what is wrong."""
        total = 0.0
        for mass, sets, here, _, _ in branches:
            for present, weight in sets:
                total += mass * weight * self._informed(present, here, ())
        return total

    def _informed(self, present: frozenset[str], here: str, used: tuple[str, ...]) -> float:
        """Least expected minutes where the causes are known and the proof run tells which of them are left."""
        key = (present, here, used)
        known = self._least.get(key)
        if known is not None:
            return known
        best = self.problem.refer
        if not present:
            best = min(best, self._move(here, self.problem.proof_state) + self.problem.proof_minutes)
        for mend in self.problem.mends:
            if mend.cures.keys() & present and used.count(mend.id) < self.tries:
                again = tuple(sorted((*used, mend.id)))
                minutes, branches = self.remedy(mend.id, ((present, 1.0),), here, frozenset(), used)
                for mass, sets, there, _, _ in branches:
                    minutes += mass * sum(weight * self._informed(left, there, again) for left, weight in sets)
                best = min(best, minutes)
        self._least[key] = best
        return best

    def _move(self, start: str, end: str) -> float:
        return 0.0 if start == end else self.problem.moves[start, end]

    def check(
        self, name: str, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]
    ) -> tuple[float, list[Branch]]:
        look = self._looks[name]
        for present, _ in sets:
            if (present, name) not in self._rows:
                self._rows[present, name] = self.problem.likelihood(name, present)
        rows = [(present, weight, self._rows[present, name]) for present, weight in sets]
        branches: list[Branch] = []
        for outcome in range(len(rows[0][2])):
            mass = sum(weight * chances[outcome] for _, weight, chances in rows)
            if mass > 1e-12:
                after = tuple(
                    (present, weight * chances[outcome] / mass) for present, weight, chances in rows if chances[outcome]
                )
                branches.append((mass, after, look.state, made | {name}, used))
        return self._move(here, look.state) + look.minutes, branches

    def remedy(
        self, name: str, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]
    ) -> tuple[float, list[Branch]]:
        mend, problem = self._mends[name], self.problem
        minutes = self._move(here, mend.state) + mend.minutes + self._move(mend.state, problem.proof_state)
        branches, lucky = self._left(sets, name, made, (*used, name))
        return minutes + problem.proof_minutes + lucky * problem.refer, branches

    def proof(self, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]) -> tuple[float, list[Branch]]:
        minutes = self._move(here, self.problem.proof_state) + self.problem.proof_minutes
        branches, lucky = self._left(sets, "", made, used)
        return minutes + lucky * self.problem.refer, branches

    def _still(self, present: frozenset[str], name: str) -> list[tuple[frozenset[str], float]]:
        """What may be left of a fault set after a remedy, with its chance; "" is no remedy at all."""
        known = self._after.get((present, name))
        if known is None:
            cures = self._mends[name].cures if name else {}
            treated = sorted(present & cures.keys())
            known = self._after[present, name] = [
                (
                    present - frozenset(gone),
                    prod(cures[cause] if cause in gone else 1.0 - cures[cause] for cause in treated),
                )
                for size in range(len(treated) + 1)
                for gone in combinations(treated, size)
                if present - frozenset(gone)
            ]
        return known

    def _left(self, sets: Sets, name: str, made: frozenset[str], used: tuple[str, ...]) -> tuple[list[Branch], float]:
        """Where the proof run fails, and the chance that it passes by luck with a fault left."""
        left: dict[frozenset[str], float] = {}
        lucky = 0.0
        for present, weight in sets:
            for still, chance in self._still(present, name):
                passes = self.problem.luck ** len(still)
                left[still] = left.get(still, 0.0) + weight * chance * (1.0 - passes)
                lucky += weight * chance * passes
        mass = sum(left.values())
        if mass <= 1e-12:
            return [], lucky
        ordered = sorted(left.items(), key=lambda pair: sorted(pair[0]))
        after = tuple((present, weight / mass) for present, weight in ordered)
        return [(mass, after, self.problem.proof_state, made, used)], lucky


class Followed(Optimum):
    """Expected minutes of doing what the planner proposes first, all the way."""

    def __init__(self, problem: PlanningProblem, tries: int = 2, *, deepen: int = 0) -> None:
        super().__init__(problem, tries)
        self.planner = Planner(problem)
        self.deepen = deepen

    def decide(self, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]) -> float:
        step = self.planner.choose(sets, here, made, Counter(used), limit=1, deepen=self.deepen)[0]
        if step.kind == "check":
            return self.follow(*self.check(step.id, sets, here, made, used))
        if step.kind == "remedy":
            return self.follow(*self.remedy(step.id, sets, here, made, used))
        if step.kind == "done":
            return self.follow(*self.proof(sets, here, made, used))
        return self.problem.refer
