"""The least expected minutes of any way of working that does not foresee: a bound from below, course by course.

Purpose: what the planner is told of a job (its problem and the fault sets) -> a bound under the expected minutes of
every policy, and the expected minutes of the planner's own policy against it, on the same courses.
Method: who works is told in advance how everything will go (a `ForetoldCourse`: what is wrong, what each check will
show, which remedy takes, which proof run passes by luck), and pays for it: every step costs, beside its minutes, what
a value function expects after it less what the value function says after what comes. Such a payment is nothing in
expectation for one who does not foresee, so the least that one who does can come to is, in expectation, a bound below
all who do not. With a value function that is exact the bound is the optimum on every course. Summed along a way the
payments leave

    value at the start + the sum over the steps of (minutes + value expected after the step - value before it),

and where no term is negative the least sum is a shortest way in a graph.
Source: information relaxations and duality, Brown, Smith and Sun, Operations Research 58(4), 2010.
Law: the same problem, fault sets, course and limit give the same bound. A search that stops at its limit gives the
least that an open way has cost so far, which is a bound too.
Assumed, as by the planner: each check is made once, each remedy `tries` times; fittings cost nothing.
Not here: the jobs as they are rehearsed, where checks are made again and the belief is that of the job (see
`many_jobs`).
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import fsum
from typing import Protocol

from ..planning import Planner, PlanningProblem, Remaining
from ..simulated import Draws

Sets = Sequence[tuple[frozenset[str], float]]
Belief = tuple[tuple[frozenset[str], float], ...]
"""(fault set, chance); the chances sum to one."""
Used = tuple[int, ...]

LIMIT = 150
"""Spots that are looked at on one course."""
_TINY = 1e-12
_SLACK = 1e-7


class Value(Protocol):
    """Minutes that are thought to be left. `linear`: a mean over fault sets, so that looking does not change what is
    expected of it."""

    linear: bool

    def value(self, belief: Belief, here: str, made: frozenset[str], used: Used) -> float: ...


class ForetoldCourse:
    """How everything will go on one set: drawn once, whatever is done and in which order."""

    def __init__(self, seed: str, truth: frozenset[str]) -> None:
        self.truth = truth
        self._seed = seed

    def outcome(self, check: str, chances: Sequence[float]) -> int:
        """Position of the outcome that a check shows, by its chances with what is wrong then."""
        draw, seen = self._draw("check", check), 0.0
        for place, chance in enumerate(chances):
            seen += chance
            if draw < seen:
                return place
        return max(place for place, chance in enumerate(chances) if chance > 0.0)

    def takes(self, remedy: str, time: int, cause: str, chance: float) -> bool:
        """Whether a remedy, carried out for the so-manieth time, removes a cause."""
        return self._draw("cure", remedy, time, cause) < chance

    def passes(self, run: int, chance: float) -> bool:
        """Whether the so-manieth proof run passes."""
        return self._draw("proof", run) < chance

    def _draw(self, *what: int | str) -> float:
        return Draws(self._seed, *what).uniform()


def courses(sets: Sets, seed: str, count: int) -> Iterator[ForetoldCourse]:
    """Courses of a job: what is wrong by the weights of its fault sets, spread evenly over them."""
    total = fsum(weight for _, weight in sets)
    start = Draws(seed, "truth").uniform()
    for number in range(count):
        left = (number + start) / count * total
        truth = sets[-1][0]
        for present, weight in sets:
            left -= weight
            if left < 0.0:
                truth = present
                break
        yield ForetoldCourse(f"{seed}/{number}", truth)


class KnownTruth:
    """Minutes of one who is told what is wrong, and which of it is left after each proof run: the mean over the belief.

    Moves are taken the shortest way round, and no order rule holds: never more than any step and what comes after it.
    """

    linear = True

    def __init__(self, problem: PlanningProblem) -> None:
        self._problem = problem
        self._remaining = Remaining(problem)
        self._bearing: dict[frozenset[str], tuple[int, ...]] = {}
        self._known: dict[tuple[frozenset[str], str, Used], float] = {}
        self._quick: dict[tuple[str, Used], dict[frozenset[str], float]] = {}
        self._ways: dict[str, list[tuple[str, float]]] = {}

    def value(self, belief: Belief, here: str, made: frozenset[str], used: Used) -> float:
        known = self._quick.setdefault((here, used), {})
        total = 0.0
        for present, weight in belief:
            minutes = known.get(present)
            if minutes is None:
                minutes = known[present] = self.of(present, here, used)
            total += weight * minutes
        return total

    def bearing(self, present: frozenset[str]) -> tuple[int, ...]:
        """Positions of the remedies that bear on any of these causes."""
        found = self._bearing.get(present)
        if found is None:
            mends = enumerate(self._problem.mends)
            found = tuple(place for place, mend in mends if not present.isdisjoint(mend.cures))
            self._bearing[present] = found
        return found

    def of(self, present: frozenset[str], here: str, used: Used) -> float:
        """Minutes from here where exactly these causes are there."""
        bearing = self.bearing(present)
        key = present, here, tuple([used[place] for place in bearing])
        found = self._known.get(key)
        if found is None:
            found = self._problem.refer
            for there, way in self._moves(here):
                if way < found:
                    found = min(found, way + self._at(present, there, used, bearing))
            self._known[key] = found
        return found

    def _at(self, present: frozenset[str], here: str, used: Used, bearing: Sequence[int]) -> float:
        problem, remaining = self._problem, self._remaining
        best = problem.refer
        if not present:
            best = min(best, remaining.move(here, problem.proof_state) + problem.proof_minutes)
        for place in bearing:
            if used[place] < problem.tries:
                mend = problem.mends[place]
                minutes = remaining.move(here, mend.state) + remaining.mending(mend, here)
                left, lucky = remaining.after_mend(place, [(remaining.number(present), 1.0)])
                minutes += lucky * remaining.come_back
                after = _again(used, place)
                for number, weight in left:
                    if minutes >= best:
                        break
                    if weight > 0.0:
                        minutes += weight * self.of(remaining.sets[number], problem.proof_state, after)
                best = min(best, minutes)
        return best

    def _moves(self, here: str) -> list[tuple[str, float]]:
        """Every set-up state that can be come to from here, with the least minutes."""
        found = self._ways.get(here)
        if found is None:
            problem = self._problem
            least = {here: 0.0}
            queue = [(0.0, here)]
            states = (
                {look.state for look in problem.looks} | {mend.state for mend in problem.mends} | {problem.proof_state}
            )
            while queue:
                minutes, at = heapq.heappop(queue)
                if minutes > least[at]:
                    continue
                for state in sorted(states):
                    there = self._remaining.standing(at, state)
                    further = minutes + self._remaining.move(at, state)
                    if further < least.get(there, float("inf")):
                        least[there] = further
                        heapq.heappush(queue, (further, there))
            found = self._ways[here] = sorted(least.items())
        return found


def _again(used: Used, place: int) -> Used:
    return (*used[:place], used[place] + 1, *used[place + 1 :])


@dataclass(frozen=True, slots=True)
class _Spot:
    belief: Belief
    here: str
    made: frozenset[str]
    used: Used
    truth: frozenset[str]
    runs: int
    """Proof runs so far."""


@dataclass(frozen=True, slots=True)
class Least:
    """The bound on one course; `searched`: to the end, else to the limit."""

    minutes: float
    searched: bool


class Relaxation:
    """The bound for one problem and what is believed at its start."""

    def __init__(self, problem: PlanningProblem, sets: Sets, here: str, value: Value | None = None) -> None:
        """value: minutes that are thought to be left; it must never say more than any step with what it says after it
        (KnownTruth, where none is given)."""
        self.problem = replace(problem, put_back=dict.fromkeys(problem.put_back, 0.0))
        self._truth = KnownTruth(self.problem)
        self._value = value or self._truth
        self._remaining = Remaining(self.problem)
        total = fsum(weight for _, weight in sets)
        self._belief = tuple([(present, weight / total) for present, weight in sets if weight > 0.0])
        self._here = here
        self._planner = Planner(self.problem)
        self._rows: dict[str, dict[frozenset[str], Sequence[float]]] = {look.id: {} for look in problem.looks}
        self._afters: dict[tuple[int | None, Used], dict[frozenset[str], float]] = {}
        self._place = {mend.id: place for place, mend in enumerate(problem.mends)}

    def start(self) -> float:
        """The value at the start: with KnownTruth what one would take who knows all that is wrong."""
        spot = self._first(frozenset())
        return self._value.value(spot.belief, spot.here, spot.made, spot.used)

    def least(self, course: ForetoldCourse, limit: int = LIMIT) -> Least:
        """The least that one who foresees this course, and pays for it, can come to. Expected minutes of every policy
        are at least the mean of this over courses."""
        first = self._first(course.truth)
        known, closed = self.start(), set[object]()
        queue: list[tuple[float, int, _Spot | None, str]] = [(0.0, 0, first, "")]
        count = 0
        while queue:
            spent, _, spot, step = heapq.heappop(queue)
            if spot is None:
                return Least(known + spent, True)
            if limit <= 0:
                return Least(known + spent, False)
            if step:
                following = self._follow(spot, step, course)
                if following is None:
                    return Least(known + spent, True)
                spot = following
            key = (spot.here, spot.made, spot.used, spot.runs, tuple([(s, round(w, 9)) for s, w in spot.belief]))
            if key in closed:
                continue
            closed.add(key)
            limit -= 1
            for name, more in self._steps(spot):
                count += 1
                heapq.heappush(queue, (spent + more, count, None if name == "refer" else spot, name))
        raise AssertionError("handing over is always there")

    def planned(self, course: ForetoldCourse, deepen: int = 0) -> float:
        """What the planner's own choices come to on this course, paying the same: in expectation their minutes."""
        spot: _Spot | None = self._first(course.truth)
        spent = self.start()
        while spot is not None:
            used = {mend.id: times for mend, times in zip(self.problem.mends, spot.used, strict=True)}
            chosen = self._planner.choose(spot.belief, spot.here, spot.made, used, limit=1, deepen=deepen)[0]
            name = chosen.id
            spent += dict(self._steps(spot, name))[name]
            spot = None if name == "refer" else self._follow(spot, name, course)
        return spent

    def _first(self, truth: frozenset[str]) -> _Spot:
        return _Spot(self._belief, self._here, frozenset(), (0,) * len(self.problem.mends), truth, 0)

    # ---- steps and what they cost

    def _steps(self, spot: _Spot, only: str = "") -> Iterator[tuple[str, float]]:
        """Every step that may be taken, with its minutes and what the value expected after it is more than before."""
        problem, remaining, value = self.problem, self._remaining, self._value
        before = value.value(spot.belief, spot.here, spot.made, spot.used)
        # Chance that a remedy is needed, as the planner takes it for the order rules; those that may do some good.
        chances, useful = [0.0] * len(problem.mends), set[int]()
        for present, weight in spot.belief:
            useful.update(self._truth.bearing(present))
            for place in remaining.needs[remaining.number(present)]:
                chances[place] += weight
        if only in ("", "refer"):
            yield "refer", _more(problem.refer - before)
        at: dict[str, float] = {}
        for look in problem.looks:
            if look.id in spot.made or only not in ("", look.id) or not self._allowed(look.id, spot, chances):
                continue
            there = remaining.standing(spot.here, look.state)
            minutes = remaining.move(spot.here, look.state) + look.minutes
            if value.linear:
                if there not in at:
                    at[there] = value.value(spot.belief, there, spot.made, spot.used)
                after = at[there]
            else:
                made = spot.made | {look.id}
                after = fsum(
                    mass * value.value(belief, there, made, spot.used) for mass, belief in self._seen(spot, look.id)
                )
            yield look.id, _more(minutes + after - before)
        for place, mend in enumerate(problem.mends):
            if only not in ("", mend.id) or place not in useful or spot.used[place] >= problem.tries:
                continue
            if self._allowed(mend.id, spot, chances):
                minutes = remaining.move(spot.here, mend.state) + remaining.mending(mend, spot.here)
                yield mend.id, _more(minutes + self._after(place, spot) - before)
        if only in ("", "done") and any(not present for present, _ in spot.belief):
            minutes = remaining.move(spot.here, problem.proof_state) + problem.proof_minutes
            yield "done", _more(minutes + self._after(None, spot) - before)

    def _after(self, place: int | None, spot: _Spot) -> float:
        """What is expected after a remedy (None: no remedy) and its proof run, coming back with it."""
        if self._value.linear:
            known = self._afters.setdefault((place, spot.used), {})
            total = 0.0
            for present, weight in spot.belief:
                minutes = known.get(present)
                if minutes is None:
                    minutes = known[present] = self._after_of(place, ((present, 1.0),), spot)
                total += weight * minutes
            return total
        return self._after_of(place, spot.belief, spot)

    def _after_of(self, place: int | None, belief: Belief, spot: _Spot) -> float:
        belief, lucky = self._left(place, belief)
        mass = fsum([weight for _, weight in belief])
        rest = 0.0
        if mass > _TINY:
            used = spot.used if place is None else _again(spot.used, place)
            scaled = tuple([(present, weight / mass) for present, weight in belief])
            rest = mass * self._value.value(scaled, self.problem.proof_state, spot.made, used)
        return lucky * self._remaining.come_back + rest

    def _left(self, place: int | None, belief: Belief) -> tuple[Belief, float]:
        """What is left where the proof run fails, by weight, and the weight of what passes by luck."""
        remaining = self._remaining
        left, lucky = remaining.after_mend(place, [(remaining.number(present), weight) for present, weight in belief])
        return tuple([(remaining.sets[number], weight) for number, weight in left if weight > 0.0]), lucky

    def _row(self, check: str, present: frozenset[str]) -> Sequence[float]:
        row = self._rows[check].get(present)
        if row is None:
            row = self._rows[check][present] = self.problem.likelihood(check, present)
        return row

    def _seen(self, spot: _Spot, check: str) -> Iterator[tuple[float, Belief]]:
        """Each outcome that can come: its chance and the belief after it."""
        rows = [(present, weight, self._row(check, present)) for present, weight in spot.belief]
        for place in range(len(rows[0][2])):
            mass = fsum([weight * row[place] for _, weight, row in rows])
            if mass > _TINY:
                yield (
                    mass,
                    tuple([(present, weight * row[place] / mass) for present, weight, row in rows if row[place] > 0.0]),
                )

    def _allowed(self, step: str, spot: _Spot, chances: Sequence[float]) -> bool:
        """The order rules, as `OneStep.allowed`."""
        problem = self.problem
        if any(name in self._rows and name not in spot.made for name in problem.look_first.get(step, ())):
            return False
        return not any(
            name in self._place and not spot.used[self._place[name]] and chances[self._place[name]] >= problem.suspected
            for name in problem.cure_first.get(step, ())
        )

    # ---- what comes of a step

    def _follow(self, spot: _Spot, step: str, course: ForetoldCourse) -> _Spot | None:
        """Where a step leads on a course; None where its proof run passes."""
        remaining, problem = self._remaining, self.problem
        if step in self._rows:
            place = course.outcome(step, self._row(step, spot.truth))
            joint = [(present, weight * self._row(step, present)[place]) for present, weight in spot.belief]
            mass = fsum([weight for _, weight in joint])
            belief = tuple([(present, weight / mass) for present, weight in joint if weight > 0.0])
            there = remaining.standing(spot.here, remaining.looks[step].state)
            return replace(spot, belief=belief, here=there, made=spot.made | {step})
        truth, used, position = spot.truth, spot.used, None
        if step != "done":
            position = self._place[step]
            cures = problem.mends[position].cures
            time = used[position]
            truth = frozenset(c for c in truth if c not in cures or not course.takes(step, time, c, cures[c]))
            used = _again(used, position)
        if not truth or course.passes(spot.runs, problem.luck ** len(truth)):
            return None
        left, _ = self._left(position, spot.belief)
        mass = fsum([weight for _, weight in left])
        belief = tuple([(present, weight / mass) for present, weight in left])
        return _Spot(belief, problem.proof_state, spot.made, used, truth, spot.runs + 1)


def _more(minutes: float) -> float:
    """What a step costs beyond the value before it. ValueError where the value says more than step and what follows."""
    if minutes < -_SLACK:
        raise ValueError(f"a value function that says {-minutes:.6g} min more than a step with what it says after it")
    return max(0.0, minutes)
