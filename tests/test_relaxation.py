"""The bound under every way that does not foresee, against the optimum on problems small enough to be solved.

Every course of a problem is gone through with its chance, so that what is held against the optimum is an expectation and
no mean of draws. Published: with a penalty from the exact value function the bound is the optimum, on every course, and
with any other it is below (Brown, Smith and Sun, Operations Research 58(4), 2010; strong and weak duality).
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import pairwise, product

import pytest

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.planning.planning_problem import Look, Mend, PlanningProblem
from hertzwright.engine.rehearsal.relaxation import Belief, ForetoldCourse, KnownTruth, Relaxation, Used, courses

from optimum import Followed, Optimum, Sets
from tiers import some

pytestmark = pytest.mark.whole_ways

STATES = ("stopped", "running")


def small(seed: int, *, luck: float, cures: float, rules: bool = False) -> tuple[PlanningProblem, Sets]:
    """Two faults or none, two checks, a remedy each; one remedy may fail or a proof run may pass by luck."""
    draw = random.Random(seed)
    rows = {
        (check, present): chance
        for check in ("look", "trial")
        for present, chance in zip(("", "a", "b"), draw.sample((0.05, 0.3, 0.6, 0.9), 3), strict=True)
    }

    def likelihood(check: str, present: frozenset[str]) -> Sequence[float]:
        shown = rows[check, min(present, default="")]
        return (1.0 - shown, shown)

    problem = PlanningProblem(
        looks=tuple(Look(name, draw.uniform(1, 8), draw.choice(STATES)) for name in ("look", "trial")),
        mends=(
            Mend("mend a", draw.uniform(10, 60), draw.choice(STATES), {"a": cures}),
            Mend("mend b", draw.uniform(10, 60), draw.choice(STATES), {"b": 1.0}),
        ),
        moves={("stopped", "running"): draw.uniform(1, 9), ("running", "stopped"): draw.uniform(1, 9)},
        proof_minutes=draw.uniform(3, 8),
        proof_state="running",
        refer=draw.choice((60.0, 120.0)),
        likelihood=likelihood,
        look_first={"mend a": ("look",)} if rules else {},
        cure_first={"mend b": ("mend a",)} if rules else {},
        luck=luck,
        come_back=150.0,
    )
    sets = ((frozenset[str](), 0.2), (frozenset({"a"}), draw.uniform(0.2, 0.6)), (frozenset({"b"}), 0.3))
    total = sum(weight for _, weight in sets)
    return problem, tuple((present, weight / total) for present, weight in sets)


class Given(ForetoldCourse):
    """A course of which every draw is given."""

    def __init__(self, truth: frozenset[str], draws: dict[tuple[object, ...], float]) -> None:
        super().__init__("", truth)
        self._draws = draws

    def _draw(self, *what: object) -> float:
        return self._draws[what]


def every_course(problem: PlanningProblem, sets: Sets) -> Iterator[tuple[float, ForetoldCourse]]:
    """All courses that differ, with their chances: each draw falls between two of the chances it is held against."""
    marks: dict[tuple[object, ...], set[float]] = {}
    for look in problem.looks:
        marks["check", look.id] = {problem.likelihood(look.id, present)[0] for present, _ in sets}
    for mend in problem.mends:
        for time in range(problem.tries):
            for cause, chance in mend.cures.items():
                marks["cure", mend.id, time, cause] = {chance}
    for run in range(4 if problem.luck else 0):
        marks["proof", run] = {problem.luck}
    ranges = {what: [*pairwise(sorted({0.0, 1.0, *chances}))] for what, chances in marks.items()}
    for present, weight in sets:
        for chosen in product(*ranges.values()):
            chance = weight
            for low, high in chosen:
                chance *= high - low
            draws = {what: (low + high) / 2 for what, (low, high) in zip(ranges, chosen, strict=True)}
            draws |= {("proof", run): 0.99 for run in range(4, 9)} if problem.luck else {}
            draws |= {("proof", run): 0.5 for run in range(9)} if not problem.luck else {}
            yield chance, Given(present, draws)


class Exact:
    """The value function itself."""

    linear = False

    def __init__(self, problem: PlanningProblem) -> None:
        self._problem = problem
        self._optimum = Optimum(problem)

    def value(self, belief: Belief, here: str, made: frozenset[str], used: Used) -> float:
        times = tuple(
            mend.id for mend, count in zip(self._problem.mends, used, strict=True) for _ in range(count)
        )  # fmt: skip
        return self._optimum.value(belief, here, made, times)


CASES = [(seed, 0.0, 0.7, rules) for seed in range(6) for rules in (False, True)]


@pytest.mark.parametrize(("seed", "luck", "cures", "rules"), CASES)
def test_the_bound_is_below_the_optimum_and_above_the_all_knowing_one(
    seed: int, luck: float, cures: float, rules: bool
) -> None:
    problem, sets = small(seed, luck=luck, cures=cures, rules=rules)
    best = Optimum(problem).value(sets, "stopped")
    relaxed = Relaxation(problem, sets, "stopped")
    found = [(chance, relaxed.least(course, 10_000)) for chance, course in every_course(problem, sets)]
    assert sum(chance for chance, _ in found) == pytest.approx(1.0)
    assert all(least.searched for _, least in found)
    bound = sum(chance * least.minutes for chance, least in found)
    assert relaxed.start() - 1e-9 <= bound <= best + 1e-9
    cut = sum(chance * relaxed.least(course, 3).minutes for chance, course in every_course(problem, sets))
    assert relaxed.start() - 1e-9 <= cut <= bound + 1e-9


@pytest.mark.parametrize(("luck", "cures"), [(0.0, 0.7), (0.2, 1.0)])
@pytest.mark.parametrize("seed", range(3))
def test_with_the_exact_value_function_the_bound_is_the_optimum_on_every_course(
    seed: int, luck: float, cures: float
) -> None:
    problem, sets = small(seed, luck=luck, cures=cures, rules=seed == 1)
    best = Optimum(problem).value(sets, "stopped")
    relaxed = Relaxation(problem, sets, "stopped", Exact(problem))
    for _, course in every_course(problem, sets):
        assert relaxed.least(course, 10_000).minutes == pytest.approx(best, abs=1e-6)


def test_with_luck_too_the_bound_is_below_the_optimum() -> None:
    for seed in range(3):
        problem, sets = small(seed, luck=0.2, cures=1.0)
        relaxed = Relaxation(problem, sets, "stopped")
        bound = sum(chance * relaxed.least(course, 10_000).minutes for chance, course in every_course(problem, sets))
        assert bound <= Optimum(problem).value(sets, "stopped") + 1e-9


@pytest.mark.parametrize("seed", some(range(4), 3))
def test_what_the_planner_comes_to_is_in_expectation_what_its_choices_cost(seed: int) -> None:
    """The same payments, for one who does not foresee: nothing in expectation."""
    problem, sets = small(seed, luck=0.0, cures=0.7)
    relaxed = Relaxation(problem, sets, "stopped")
    planned = sum(chance * relaxed.planned(course) for chance, course in every_course(problem, sets))
    assert planned == pytest.approx(Followed(problem).value(sets, "stopped"), abs=1e-6)


def test_a_value_function_that_says_too_much_is_refused() -> None:
    problem, sets = small(1, luck=0.0, cures=0.7)

    class TooMuch(KnownTruth):
        def value(self, belief: Belief, here: str, made: frozenset[str], used: Used) -> float:
            return 2.0 * super().value(belief, here, made, used)

    relaxed = Relaxation(problem, sets, "stopped", TooMuch(problem))
    with pytest.raises(ValueError, match="more than a step with what it says after it"):
        relaxed.least(Given(frozenset(), {}))


def test_known_truth_by_hand() -> None:
    """Stopped, the fault known: move, remedy, proof; where the remedy fails, once more; then handing over."""
    problem = PlanningProblem(
        (), (Mend("free", 25.0, "stopped", {"binds": 0.9}),), {("stopped", "running"): 4.0, ("running", "stopped"): 2.0},
        6.0, "running", 240.0, lambda check, present: (1.0,), {}, {},
    )  # fmt: skip
    known = KnownTruth(problem)
    once = 25.0 + 4.0 + 6.0
    assert known.of(frozenset({"binds"}), "stopped", (0,)) == pytest.approx(once + 0.1 * (2.0 + once + 0.1 * 240.0))
    assert known.of(frozenset(), "stopped", (0,)) == pytest.approx(10.0)
    assert known.of(frozenset({"other"}), "stopped", (0,)) == 240.0


def test_courses_are_spread_over_the_fault_sets_by_their_weights() -> None:
    sets = ((frozenset({"a"}), 3.0), (frozenset({"b"}), 1.0))
    drawn = [course.truth for course in courses(sets, "x", 40)]
    assert drawn.count(frozenset({"a"})) == 30


def test_the_planner_is_above_the_bound_on_the_shipped_knowledge_too() -> None:
    """On each course both pay the same for what they know: so the planner's sum is never below the least one."""
    job = Job(load_knowledge())
    job.record("hunts_no_load", "present")
    problem, sets = job.planned_over()
    relaxed = Relaxation(problem, sets, job.here)
    for course in courses(sets, "shipped", 2):
        least = relaxed.least(course, 30)
        assert relaxed.start() <= least.minutes <= relaxed.planned(course) + 1e-6
