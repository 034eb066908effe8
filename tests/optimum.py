"""Small random planning problems, the best possible expected minutes on them, and those of following the planner.

The optimum is found by dynamic programming over beliefs and shares only the problem's values with the planner: every
check may be made once, every remedy at most `tries` times, order rules hold, and after each remedy the proof run tells
fixed from not. A branch is left as soon as one who is told the causes could not follow it cheaply enough.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from itertools import combinations
from math import inf, prod

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
Weights = tuple[tuple[int, float], ...]
"""(number of a fault set, weight), by number; the weights sum to one."""
NEGLIGIBLE = 1e-12


class Game:
    """What every step of a problem costs and leads to."""

    def __init__(self, problem: PlanningProblem, tries: int = 2) -> None:
        self.problem = problem
        self.tries = tries
        self.come_back = problem.refer if problem.come_back is None else problem.come_back
        self._mends = {mend.id: mend for mend in problem.mends}
        self._looks = {look.id: look for look in problem.looks}
        self._after: dict[tuple[frozenset[str], str], list[tuple[frozenset[str], float]]] = {}
        self._rows: dict[tuple[frozenset[str], str], Sequence[float]] = {}

    def move(self, start: str, end: str) -> float:
        return 0.0 if start == end else self.problem.moves[start, end]

    def row(self, name: str, present: frozenset[str]) -> Sequence[float]:
        """Chance of each outcome of a check."""
        found = self._rows.get((present, name))
        if found is None:
            found = self._rows[present, name] = self.problem.likelihood(name, present)
        return found

    def check(
        self, name: str, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]
    ) -> tuple[float, list[Branch]]:
        look = self._looks[name]
        rows = [(present, weight, self.row(name, present)) for present, weight in sets]
        branches: list[Branch] = []
        for outcome in range(len(rows[0][2])):
            mass = sum(weight * chances[outcome] for _, weight, chances in rows)
            if mass > NEGLIGIBLE:
                after = tuple(
                    (present, weight * chances[outcome] / mass) for present, weight, chances in rows if chances[outcome]
                )
                branches.append((mass, after, look.state, made | {name}, used))
        return self.move(here, look.state) + look.minutes, branches

    def remedy(
        self, name: str, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]
    ) -> tuple[float, list[Branch]]:
        mend, problem = self._mends[name], self.problem
        minutes = self.move(here, mend.state) + mend.minutes + self.move(mend.state, problem.proof_state)
        branches, lucky = self._left(sets, name, made, (*used, name))
        return minutes + problem.proof_minutes + lucky * self.come_back, branches

    def proof(self, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]) -> tuple[float, list[Branch]]:
        minutes = self.move(here, self.problem.proof_state) + self.problem.proof_minutes
        branches, lucky = self._left(sets, "", made, used)
        return minutes + lucky * self.come_back, branches

    def still(self, present: frozenset[str], name: str) -> list[tuple[frozenset[str], float]]:
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
            for still, chance in self.still(present, name):
                passes = self.problem.luck ** len(still)
                left[still] = left.get(still, 0.0) + weight * chance * (1.0 - passes)
                lucky += weight * chance * passes
        mass = sum(left.values())
        if mass <= NEGLIGIBLE:
            return [], lucky
        ordered = sorted(left.items(), key=lambda pair: sorted(pair[0]))
        after = tuple((present, weight / mass) for present, weight in ordered)
        return [(mass, after, self.problem.proof_state, made, used)], lucky


class Optimum(Game):
    """The least expected minutes. `value` of a belief whose weights sum to one."""

    def __init__(self, problem: PlanningProblem, tries: int = 2) -> None:
        super().__init__(problem, tries)
        self._sets: list[frozenset[str]] = []
        self._numbers: dict[frozenset[str], int] = {}
        # Belief and so on -> (least minutes, whether that is the value or only a bound below it).
        self._known: dict[object, tuple[float, bool]] = {}
        self._least: dict[tuple[frozenset[str], str, tuple[int, ...]], float] = {}
        self._informed_at: dict[tuple[int, str], float] = {}
        self._left_of: dict[tuple[int, int], tuple[list[tuple[int, float]], float]] = {}
        self._told: dict[tuple[int, int], Sequence[float]] = {}

    def value(
        self, sets: Sets, here: str, made: frozenset[str] = frozenset(), used: tuple[str, ...] = (), most: float = inf
    ) -> float:
        """most: where the value is this or more, any number between the two may be returned."""
        weights = tuple(sorted((self._number(present), weight) for present, weight in sets))
        checks = frozenset(place for place, look in enumerate(self.problem.looks) if look.id in made)
        counts = tuple(used.count(mend.id) for mend in self.problem.mends)
        return self._value(weights, here, checks, counts, most)

    def _number(self, present: frozenset[str]) -> int:
        number = self._numbers.get(present)
        if number is None:
            number = self._numbers[present] = len(self._sets)
            self._sets.append(present)
        return number

    def _value(self, sets: Weights, here: str, made: frozenset[int], used: tuple[int, ...], most: float) -> float:
        key = (here, made, used, tuple([(number, round(weight, 10)) for number, weight in sets]))
        known = self._known.get(key)
        if known is not None and (known[1] or known[0] >= most):
            return known[0]
        best = self.problem.refer
        limit = min(best, most)
        ways = []
        for place, look in enumerate(self.problem.looks):
            if place not in made and self._may(look.id, sets, made, used):
                minutes = self.move(here, look.state) + look.minutes
                branches = [(mass, after, look.state, made | {place}, used) for mass, after in self._seen(place, sets)]
                ways.append(self._way(minutes, branches))
        for place, mend in enumerate(self.problem.mends):
            of_use = any(not self._sets[number].isdisjoint(mend.cures) for number, _ in sets)
            if of_use and used[place] < self.tries and self._may(mend.id, sets, made, used):
                minutes = self.move(here, mend.state) + mend.minutes + self.move(mend.state, self.problem.proof_state)
                again = (*used[:place], used[place] + 1, *used[place + 1 :])
                ways.append(self._proven(minutes + self.problem.proof_minutes, place, sets, made, again))
        if any(not self._sets[number] for number, _ in sets):
            minutes = self.move(here, self.problem.proof_state) + self.problem.proof_minutes
            ways.append(self._proven(minutes, -1, sets, made, used))
        ways.sort(key=lambda way: way[0])
        exact = True
        least = inf
        for bound, branches in ways:
            if bound >= limit:
                least = min(least, bound)
                continue
            minutes = bound
            for mass, floor, after in branches:
                minutes += mass * (max(floor, self._value(*after, floor + (limit - minutes) / mass)) - floor)
                if minutes >= limit:
                    break
            else:
                best = limit = minutes
                continue
            least = min(least, minutes)
        if best > most:  # nothing below what was asked for was found
            exact, best = False, min(best, least)
        self._known[key] = best, exact
        return best

    def _way(self, minutes: float, branches: list[tuple[float, Weights, str, frozenset[int], tuple[int, ...]]]):  # type: ignore[no-untyped-def]
        """A bound below a step and what follows; and its branches with bounds of their own, the weightiest first."""
        bounded = []
        for mass, after, *rest in branches:
            floor = 0.0
            for number, weight in after:
                floor += weight * self._informed(number, rest[0])
            minutes += mass * floor
            bounded.append((mass, floor, (after, *rest)))
        bounded.sort(key=lambda branch: -branch[0])
        return minutes, bounded

    def _proven(self, minutes: float, place: int, sets: Weights, made: frozenset[int], used: tuple[int, ...]):  # type: ignore[no-untyped-def]
        left: dict[int, float] = {}
        for number, weight in sets:
            known = self._left_of.get((number, place))
            if known is None:
                still = self.still(self._sets[number], self.problem.mends[place].id if place >= 0 else "")
                luck = [(self._number(there), chance, self.problem.luck ** len(there)) for there, chance in still]
                known = self._left_of[number, place] = (
                    [(there, chance * (1.0 - lucky)) for there, chance, lucky in luck],
                    self.come_back * sum(chance * lucky for _, chance, lucky in luck),
                )
            minutes += weight * known[1]
            for there, chance in known[0]:
                left[there] = left.get(there, 0.0) + weight * chance
        mass = sum(left.values())
        if mass <= NEGLIGIBLE:
            return minutes, []
        after = tuple([(number, weight / mass) for number, weight in sorted(left.items())])
        return self._way(minutes, [(mass, after, self.problem.proof_state, made, used)])

    def _seen(self, place: int, sets: Weights) -> list[tuple[float, Weights]]:
        rows = []
        for number, weight in sets:
            told = self._told.get((place, number))
            if told is None:
                told = self._told[place, number] = self.row(self.problem.looks[place].id, self._sets[number])
            rows.append((number, weight, told))
        found = []
        for outcome in range(len(rows[0][2])):
            mass = sum([weight * told[outcome] for _, weight, told in rows])
            if mass > NEGLIGIBLE:
                found.append(
                    (mass, tuple([(number, w * told[outcome] / mass) for number, w, told in rows if told[outcome]]))
                )
        return found

    def _may(self, step: str, sets: Weights, made: frozenset[int], used: tuple[int, ...]) -> bool:
        """The order rules: checks that are to be answered first, and remedies that go first while suspected."""
        for place, look in enumerate(self.problem.looks):
            if place not in made and look.id in self.problem.look_first.get(step, ()):
                return False
        for place, mend in enumerate(self.problem.mends):
            if not used[place] and mend.id in self.problem.cure_first.get(step, ()):
                chance = sum(weight for number, weight in sets if not self._sets[number].isdisjoint(mend.cures))
                if chance >= self.problem.suspected:
                    return False
        return True

    def _informed(self, number: int, here: str) -> float:
        """What no policy can undercut: the minutes of one who is told what is wrong."""
        known = self._informed_at.get((number, here))
        if known is None:
            none = (0,) * len(self.problem.mends)
            known = self._informed_at[number, here] = self._told_what(self._sets[number], here, none)
        return known

    def _told_what(self, present: frozenset[str], here: str, used: tuple[int, ...]) -> float:
        """Least expected minutes where the causes are known and the proof run tells which of them are left."""
        key = (present, here, used)
        known = self._least.get(key)
        if known is not None:
            return known
        best = self.problem.refer
        if not present:
            best = min(best, self.move(here, self.problem.proof_state) + self.problem.proof_minutes)
        for place, mend in enumerate(self.problem.mends):
            if not present.isdisjoint(mend.cures) and used[place] < self.tries:
                again = (*used[:place], used[place] + 1, *used[place + 1 :])
                minutes, branches = self.remedy(mend.id, ((present, 1.0),), here, frozenset(), ())
                for mass, sets, there, _, _ in branches:
                    minutes += mass * sum(weight * self._told_what(left, there, again) for left, weight in sets)
                best = min(best, minutes)
        self._least[key] = best
        return best


class Followed(Game):
    """Expected minutes of doing what the planner proposes first, all the way."""

    def __init__(self, problem: PlanningProblem, tries: int = 2, *, deepen: int = 0) -> None:
        super().__init__(problem, tries)
        self.planner = Planner(problem)
        self.deepen = deepen
        self._known: dict[object, float] = {}

    def value(self, sets: Sets, here: str, made: frozenset[str] = frozenset(), used: tuple[str, ...] = ()) -> float:
        key = (here, made, tuple(sorted(used)), tuple((present, round(weight, 10)) for present, weight in sets))
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._decide(sets, here, made, used)
        return known

    def _decide(self, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]) -> float:
        step = self.planner.choose(sets, here, made, Counter(used), limit=1, deepen=self.deepen)[0]
        if step.kind == "refer":
            return self.problem.refer
        if step.kind == "check":
            minutes, branches = self.check(step.id, sets, here, made, used)
        elif step.kind == "remedy":
            minutes, branches = self.remedy(step.id, sets, here, made, used)
        else:
            minutes, branches = self.proof(sets, here, made, used)
        return minutes + sum(mass * self.value(*after) for mass, *after in branches)
