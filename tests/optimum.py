"""The best possible expected minutes on small problems, by dynamic programming over beliefs.

Independent of the planner: it shares only the problem's values. Every check may be made once, every remedy at most
`tries` times; after each remedy the proof run tells fixed from not fixed.
"""

from __future__ import annotations

from collections import Counter

from hertzwright.engine.planner import Problem

Sets = tuple[tuple[frozenset[str], float], ...]


class Optimum:
    def __init__(self, problem: Problem, tries: int = 2) -> None:
        self.problem = problem
        self.tries = tries
        self.memo: dict[object, float] = {}

    def move(self, start: str, end: str) -> float:
        return 0.0 if start == end else self.problem.moves[start, end]

    def value(self, sets: Sets, here: str, made: frozenset[str] = frozenset(), used: tuple[str, ...] = ()) -> float:
        """Expected minutes to fixed and proven from this belief (weights sum to one)."""
        key = (here, made, tuple(sorted(used)), tuple((tuple(sorted(s)), round(w, 10)) for s, w in sets))
        known = self.memo.get(key)
        if known is None:
            known = self.memo[key] = min(self.actions(sets, here, made, used).values())
        return known

    def actions(self, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]) -> dict[str, float]:
        problem = self.problem
        best = {"refer": problem.refer}
        for mend in problem.mends:
            if used.count(mend.id) >= self.tries or not any(mend.cures.keys() & s for s, _ in sets):
                continue
            cost = self.move(here, mend.state) + mend.minutes + self.move(mend.state, problem.proof_state)
            best[mend.id] = cost + problem.proof_minutes + self.after(sets, mend.cures, made, (*used, mend.id))
        if any(not s for s, _ in sets):
            cost = self.move(here, problem.proof_state) + problem.proof_minutes
            best["done"] = cost + self.after(sets, {}, made, used)
        for look in problem.looks:
            if look.id in made:
                continue
            rows = [(s, w, problem.likelihood(look.id, s)) for s, w in sets]
            total = self.move(here, look.state) + look.minutes
            for outcome in range(len(rows[0][2])):
                mass = sum(w * row[outcome] for _, w, row in rows)
                if mass > 1e-12:
                    after = tuple((s, w * row[outcome] / mass) for s, w, row in rows if row[outcome] > 0.0)
                    total += mass * self.value(after, look.state, made | {look.id}, used)
            best[look.id] = total
        return best

    def after(self, sets: Sets, cures: object, made: frozenset[str], used: tuple[str, ...]) -> float:
        left: dict[frozenset[str], float] = {}
        for present, weight in sets:
            worlds = {present: weight}
            for cause, chance in cures.items():  # type: ignore[attr-defined]
                if cause in present:
                    step: dict[frozenset[str], float] = {}
                    for there, mass in worlds.items():
                        step[there] = step.get(there, 0.0) + mass * (1 - chance)
                        step[there - {cause}] = step.get(there - {cause}, 0.0) + mass * chance
                    worlds = step
            for there, mass in worlds.items():
                if there and mass > 1e-15:
                    left[there] = left.get(there, 0.0) + mass
        mass = sum(left.values())
        if mass <= 1e-12:
            return 0.0
        ordered = tuple(sorted(((s, w / mass) for s, w in left.items()), key=lambda pair: sorted(pair[0])))
        return mass * self.value(ordered, self.problem.proof_state, made, used)


class Policy(Optimum):
    """Expected minutes of following the planner's first suggestion all the way."""

    def __init__(self, problem: Problem, planner: object, tries: int = 2, **options: int) -> None:
        super().__init__(problem, tries)
        self.planner = planner
        self.options = options

    def value(self, sets: Sets, here: str, made: frozenset[str] = frozenset(), used: tuple[str, ...] = ()) -> float:
        key = (here, made, tuple(sorted(used)), tuple((tuple(sorted(s)), round(w, 10)) for s, w in sets))
        known = self.memo.get(key)
        if known is None:
            possible = self.actions_lazily(sets, here, made, used)
            known = self.memo[key] = possible
        return known

    def actions_lazily(self, sets: Sets, here: str, made: frozenset[str], used: tuple[str, ...]) -> float:
        problem = self.problem
        for step in self.planner.choose(sets, here, made, Counter(used), limit=1, **self.options):  # type: ignore[attr-defined]
            if step.kind == "refer":
                return problem.refer
            if step.kind == "done":
                cost = self.move(here, problem.proof_state) + problem.proof_minutes
                return cost + self.after(sets, {}, made, used)
            if step.kind == "remedy":
                mend = next(mend for mend in problem.mends if mend.id == step.id)
                cost = self.move(here, mend.state) + mend.minutes + self.move(mend.state, problem.proof_state)
                return cost + problem.proof_minutes + self.after(sets, mend.cures, made, (*used, mend.id))
            look = next(look for look in problem.looks if look.id == step.id)
            rows = [(s, w, problem.likelihood(look.id, s)) for s, w in sets]
            total = self.move(here, look.state) + look.minutes
            for outcome in range(len(rows[0][2])):
                mass = sum(w * row[outcome] for _, w, row in rows)
                if mass > 1e-12:
                    after = tuple((s, w * row[outcome] / mass) for s, w, row in rows if row[outcome] > 0.0)
                    total += mass * self.value(after, look.state, made | {look.id}, used)
            return total
        return problem.refer
