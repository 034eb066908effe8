"""The price of the rest against the same price worked out the plain way, from its definition, with nothing kept."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest

from hertzwright.engine.planning.planning_problem import Look, Mend, PlanningProblem
from hertzwright.engine.planning.remaining import Remaining

STATES = ("stopped", "running", "loaded")


def drawn(seed: int) -> tuple[PlanningProblem, list[tuple[frozenset[str], float]]]:
    """A problem with order rules of both kinds, remedies that share causes, luck; a belief with several faults."""
    draw = random.Random(seed)
    causes = [f"cause{place}" for place in range(8)]
    mends = tuple(
        Mend(
            f"mend{place}",
            draw.uniform(5, 60),
            draw.choice(STATES),
            {cause: draw.uniform(0.5, 0.99) for cause in draw.sample(causes, draw.randint(1, 2))},
        )
        for place in range(7)
    )
    looks = tuple(Look(f"look{place}", draw.uniform(1, 12), draw.choice(STATES)) for place in range(3))
    names = [mend.id for mend in mends]
    problem = PlanningProblem(
        looks, mends, {(one, other): draw.uniform(1, 20) for one in STATES for other in STATES if one != other},
        draw.uniform(3, 8), "loaded", draw.choice((120.0, 240.0)), lambda check, present: (1.0,),
        {name: ("look0", "look1")[: draw.randint(1, 2)] for name in draw.sample(names, 3)},
        {name: (other,) for name, other in [draw.sample(names, 2) for _ in range(3)]},
        luck=draw.choice((0.0, 0.1)), come_back=draw.choice((None, 400.0)),
    )  # fmt: skip
    sets = [frozenset(draw.sample(causes, draw.choice((0, 1, 1, 1, 2, 2, 3)))) for _ in range(12)]
    return problem, [(present, draw.random() ** 3) for present in dict.fromkeys(sets)]


class Plain:
    """The definition: an order by chance over cost, bent to the rules; the weight that each place of it settles."""

    def __init__(self, problem: PlanningProblem) -> None:
        self.problem = problem
        self.looks = {look.id: look for look in problem.looks}

    def move(self, one: str, other: str) -> float:
        return 0.0 if one == other else self.problem.moves[one, other]

    def whole(self, mend: Mend) -> float:
        back = self.problem.proof_state
        return self.move(back, mend.state) + mend.minutes + self.move(mend.state, back) + self.problem.proof_minutes

    def errand(self, here: str, names: Sequence[str], then: str) -> float:
        """Two looks at most: both ways round."""
        looks = [self.looks[name] for name in names]
        if not looks:
            return 0.0
        ways = []
        for order in (looks, looks[::-1]):
            at, way = here, 0.0
            for state in (*(look.state for look in order), then):
                way, at = way + self.move(at, state), state
            ways.append(way)
        return min(ways) - self.move(here, then) + sum(look.minutes for look in looks)

    def rest(
        self, sets: Sequence[tuple[frozenset[str], float]], here: str, done: Sequence[int], made: frozenset[str]
    ) -> float:
        problem, mends = self.problem, self.problem.mends
        waits = [[name for name in problem.look_first.get(mend.id, ()) if name not in made] for mend in mends]
        best_for: dict[str, int] = {}
        for place, mend in enumerate(mends):
            for cause, chance in mend.cures.items():
                rival = best_for.get(cause)
                if rival is None or chance / self.whole(mend) > mends[rival].cures[cause] / self.whole(mends[rival]):
                    best_for[cause] = place
        total = sum(weight for _, weight in sets)
        worlds = []
        for present, weight in sets:
            works = 1.0
            for cause in present:
                works *= mends[best_for[cause]].cures[cause] if cause in best_for else 0.0
            worlds.append(({best_for[cause] for cause in present if cause in best_for}, weight, works))
        ratios = []
        for place, mend in enumerate(mends):
            for time in range(problem.tries - done[place]):
                share = [(works, (1 - works) * works)[time] for need, _, works in worlds if place in need]
                mass = sum(
                    part * weight
                    for part, weight in zip(share, [w for need, w, _ in worlds if place in need], strict=True)
                )
                if mass:
                    minutes = self.whole(mend) + self.errand(problem.proof_state, waits[place], mend.state)
                    ratios.append(((total - mass) * minutes / mass, time, place))
        order = [(place, time) for _, time, place in sorted(ratios)]
        suspected = {
            place
            for place in range(len(mends))
            if not done[place]
            and (place, 0) in order
            and sum(weight for need, weight, _ in worlds if place in need) >= problem.suspected * total
        }
        placed: list[tuple[int, int]] = []
        going: set[tuple[int, int]] = set()

        def put(item: tuple[int, int]) -> None:
            if item in going:
                return
            going.add(item)
            for name in problem.cure_first.get(mends[item[0]].id, ()):
                earlier = next(place for place, mend in enumerate(mends) if mend.id == name)
                if earlier in suspected:
                    put((earlier, 0))
            placed.append(item)

        for item in order:
            put(item)
        settled = [0.0] * len(placed)
        nothing = 0.0
        for need, weight, works in worlds:
            if not need:
                nothing += weight if works else 0.0
                continue
            at = [placed.index((place, 0)) if (place, 0) in placed else None for place in need]
            if None in at:
                continue
            last = max(place for place in at if place is not None)
            settled[last] += weight * works
            again = max([last, *(placed.index((place, 1)) for place in need if (place, 1) in placed)])
            if again > last:
                settled[again] += weight * (1 - works) * works
        costs, paid, at_state = [], set[str](), here
        for place, _ in placed:
            new = [name for name in sorted(waits[place]) if name not in paid]
            costs.append(self.whole(mends[place]) + self.errand(at_state, new, mends[place].state))
            paid |= set(new)
            at_state = problem.proof_state
        prices = [self.walk(placed, settled, costs, total, nothing, here, 0.0, 0.0)]
        if nothing > 1e-9 * total:
            prove = self.move(here, problem.proof_state) + problem.proof_minutes
            after = self.walk(
                placed, settled, costs, total - nothing, 0.0, problem.proof_state, prove, self.problem.luck
            )
            prices.append(nothing * prove + after)
        return min(prices)

    def walk(
        self, placed: Sequence[tuple[int, int]], settled: Sequence[float], costs: Sequence[float],
        left: float, nothing: float, here: str, elapsed: float, lucky: float,
    ) -> float:  # fmt: skip
        problem = self.problem
        come_back = problem.refer if problem.come_back is None else problem.come_back
        spent = lucky * left * (elapsed + come_back)
        stay, left = 1 - lucky, left * (1 - lucky)
        prices = [spent + left * (elapsed + problem.refer)]
        for turn, (place, _) in enumerate(placed):
            elapsed += costs[turn]
            if not turn:
                state = problem.mends[place].state
                elapsed += self.move(here, state) - self.move(problem.proof_state, state)
                spent += nothing * elapsed
                left -= nothing
            mass = settled[turn] * stay
            passes = problem.luck * (left - mass)
            spent += mass * elapsed + passes * (elapsed + come_back)
            left -= mass + passes
            stay *= 1 - problem.luck
            prices.append(spent + left * (elapsed + problem.refer))
        return min(prices)


@pytest.mark.parametrize("seed", range(60))
def test_the_price_of_the_rest_is_that_of_its_definition(seed: int) -> None:
    problem, sets = drawn(seed)
    remaining, plain, draw = Remaining(problem), Plain(problem), random.Random(seed)
    for _ in range(6):
        made = frozenset(draw.sample([look.id for look in problem.looks], draw.randint(0, 3)))
        done = tuple(draw.choice((0, 0, 0, 1, 2)) for _ in problem.mends)
        here = draw.choice(STATES)
        some = [(present, weight * draw.random()) for present, weight in sets if draw.random() < 0.7]
        if not some:
            continue
        belief = [(remaining.number(present), weight) for present, weight in some]
        found = remaining.rest(belief, here, done, remaining.waiting(made))
        assert found == pytest.approx(plain.rest(some, here, done, made), rel=1e-11)


def test_what_a_remedy_leaves_is_what_was_there() -> None:
    """What a failed proof run leaves, what passes it by luck and what is fixed make up the whole."""
    problem, sets = drawn(3)
    remaining = Remaining(problem)
    belief = [(remaining.number(present), weight) for present, weight in sets]
    for position, mend in enumerate(problem.mends):
        left, lucky = remaining.after_mend(position, belief)
        fixed = 0.0
        for present, weight in sets:
            if present <= mend.cures.keys():
                for cause in present:
                    weight *= mend.cures[cause]
                fixed += weight
        assert sum(weight for _, weight in left) + lucky + fixed == pytest.approx(sum(weight for _, weight in sets))
