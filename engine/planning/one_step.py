"""The one-step rule: every step that may be taken at a spot of a job, priced by itself and the rest of the way.

Purpose: checks, remedies, a proof run and handing over, each with its minutes, the expected minutes of the whole way
when it is taken first, and the spots that it leads to. The rest of the way is priced without further checks (see
`remaining`), so what a check costs is never put too low.
Law: pure and deterministic, but for what is remembered of each fault set.
Not here: looking further than one step (see `planner`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import repeat
from math import fsum
from operator import itemgetter, mul, sub
from typing import Protocol

from .planning_problem import Look
from .remaining import NEGLIGIBLE, Belief, Remaining, Used

_TIE = 1e-9
_HARDLY = 1e-4
"""Chance of being needed up to which a remedy is not proposed."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a job stands: the belief with the sum of its weights, the set-up state, the checks that are answered and
    those that were ever answered, how often each remedy was done, and the fittings that are off."""

    belief: Belief
    total: float
    here: str
    made: frozenset[str]
    done: Used
    off: frozenset[str] = frozenset()
    answered: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Option:
    """One step. minutes: of the step. expected: of the whole way, taking it. paid: minutes that are sure to be paid,
    with those of coming back. after: chance and spot of each way on, with the expected minutes from there. needed: a
    rule asks for it."""

    kind: str
    id: str
    minutes: float
    expected: float
    paid: float
    after: tuple[tuple[float, Spot, float], ...] = ()
    needed: bool = False


@dataclass(frozen=True, slots=True)
class _Told:
    """A check at a spot: minutes with the move; the numbers of the fault sets, and for each answer that can come its
    weight and that of each set with it; how much it tells (share of the total); the least that it can come to."""

    minutes: float
    look: Look
    numbers: Sequence[int]
    branches: Sequence[tuple[float, Sequence[float]]]
    told: float
    bound: float


class OneStep:
    """Prices the steps of one problem."""

    def __init__(self, remaining: Remaining) -> None:
        self.problem = remaining.problem
        self._remaining = remaining
        self._position = {mend.id: position for position, mend in enumerate(self.problem.mends)}
        # For each check and outcome, its chance with each fault set, by the number of the set.
        self._columns: dict[str, list[list[float]]] = {look.id: [] for look in self.problem.looks}
        self._rows: dict[str, dict[frozenset[str], Sequence[float]]] = {}
        self._waiting: dict[str, tuple[str, ...]] = {
            look.id: tuple(step for step, names in self.problem.look_first.items() if look.id in names)
            for look in self.problem.looks
        }

    def options(self, spot: Spot, wide: int) -> list[Option]:
        """Every step that may be taken; of the checks at most `wide` and those that a rule asks for, which may save
        most for their minutes first."""
        chances = self.chances(spot)
        found = [Option("refer", "refer", self.problem.refer, self.problem.refer, self.problem.refer)]
        found += self._proof(spot)
        found += self._remedies(spot, chances, None)
        for place, told in enumerate(self._ready(spot, chances, self.stay(spot), None)):
            needed = self._unlocks(told.look.id, spot, chances)
            if needed or (place < wide and told.told > NEGLIGIBLE):
                found.append(self._check(spot, told, needed))
        return found

    def best(self, spot: Spot, looks: Iterable[Look], mends: Iterable[int], count: int) -> list[Option]:
        """The best `count` steps by this rule. Checks that cannot be among them, even if they told all they may, are
        not priced."""
        chances = self.chances(spot)
        refer = self.problem.refer
        found = [
            Option("refer", "refer", refer, refer, refer),
            *self._proof(spot),
            *self._remedies(spot, chances, mends),
        ]
        found.sort(key=rank)
        stay = self.stay(spot)
        for told in self._ready(spot, chances, stay, looks):
            if len(found) >= count and stay + told.bound >= found[count - 1].expected:
                break
            found.append(self._check(spot, told))
            found.sort(key=rank)
        return found[:count]

    def stay(self, spot: Spot) -> float:
        """Minutes of the rest of the way without any check."""
        waiting = self._remaining.waiting(spot.made | spot.answered)
        rest = self._remaining.rest(spot.belief, spot.here, spot.done, waiting)
        return rest / spot.total + self._remaining.refit(spot.off)

    def chances(self, spot: Spot) -> dict[int, float]:
        """Probability that each remedy is needed."""
        found: dict[int, float] = {}
        needs, total = self._remaining.needs, spot.total or 1.0
        for number, weight in spot.belief:
            for mend in needs[number]:
                found[mend] = found.get(mend, 0.0) + weight / total
        return found

    # ---- checks

    def _ready(
        self, spot: Spot, chances: Mapping[int, float], stay: float, looks: Iterable[Look] | None
    ) -> list[_Told]:
        """The checks that may be made, by the least that they can come to."""
        numbers = [number for number, _ in spot.belief]
        weights = [weight for _, weight in spot.belief]
        pick = itemgetter(*numbers) if len(numbers) > 1 else None
        count = len(self._remaining.sets)
        found = []
        for look in looks if looks is not None else self.problem.looks:
            if look.id in spot.made or not self.allowed(look.id, spot, chances):
                continue
            columns = self._columns[look.id]
            if not columns or len(columns[0]) < count:
                self._fill(look.id, columns, count)
            minutes = self._remaining.move(spot.here, look.state) + look.minutes
            minutes += self._remaining.refit(spot.off & look.needs_on)
            branches = []
            told = 0.0
            for column in columns:
                joint = list(map(mul, weights, pick(column) if pick else (column[numbers[0]],)))
                mass = fsum(joint)
                mean = mass / spot.total
                told += fsum(map(abs, map(sub, joint, map(mul, weights, repeat(mean)))))
                if mass > NEGLIGIBLE * spot.total:
                    branches.append((mass, joint))
            # What a check can save is at most what it tells times all that is left to spend.
            told /= 2.0 * spot.total
            found.append(_Told(minutes, look, numbers, branches, told, minutes - stay * told))
        found.sort(key=lambda each: (each.bound, each.look.id))
        return found

    def _fill(self, check: str, columns: list[list[float]], count: int) -> None:
        start = len(columns[0]) if columns else 0
        bearing = self.problem.bearing.get(check)
        known = self._rows.setdefault(check, {})
        for present in self._remaining.sets[start:count]:
            there = present if bearing is None else present & bearing
            row = known.get(there)
            if row is None:
                row = known[there] = self.problem.likelihood(check, there)
            if not columns:
                columns.extend([] for _ in row)
            for column, chance in zip(columns, row, strict=True):
                column.append(chance)

    def _check(self, spot: Spot, told: _Told, needed: bool = False) -> Option:
        look = told.look
        made = spot.made | {look.id}
        there = self._remaining.standing(spot.here, look.state)
        off = spot.off - look.needs_on | look.leaves_off if spot.off or look.leaves_off else spot.off
        refit = self._remaining.refit(off)
        waiting = self._remaining.waiting(made | spot.answered)
        after = []
        left = 0.0
        for mass, joint in told.branches:
            belief = list(zip(told.numbers, joint, strict=True))
            rest = self._remaining.rest(belief, there, spot.done, waiting)
            left += rest
            where = Spot(belief, mass, there, made, spot.done, off, spot.answered)
            after.append((mass / spot.total, where, rest / mass + refit))
        expected = told.minutes + refit + left / spot.total
        return Option("check", look.id, told.minutes, expected, told.minutes, tuple(after), needed)

    def _unlocks(self, check: str, spot: Spot, chances: Mapping[int, float]) -> bool:
        """Some remedy that may well be needed waits for this check."""
        if check in spot.answered:
            return False
        return any(
            chances.get(self._position.get(step, -1), 0.0) >= self.problem.suspected for step in self._waiting[check]
        )

    # ---- remedies and proof

    def _remedies(self, spot: Spot, chances: Mapping[int, float], mends: Iterable[int] | None) -> list[Option]:
        problem, found = self.problem, []
        for position in mends if mends is not None else sorted(chances):
            mend = problem.mends[position]
            if chances.get(position, 0.0) <= _HARDLY or spot.done[position] >= problem.tries:
                continue
            if not self.allowed(mend.id, spot, chances):
                continue
            minutes = self._remaining.move(spot.here, mend.state) + self._remaining.mending(mend, spot.here)
            minutes += self._remaining.refit(spot.off - mend.puts_back)
            done = (*spot.done[:position], spot.done[position] + 1, *spot.done[position + 1 :])
            found.append(self._proven("remedy", mend.id, minutes, position, spot, done))
        return found

    def _proof(self, spot: Spot) -> list[Option]:
        sets, problem = self._remaining.sets, self.problem
        if not any(weight > NEGLIGIBLE * spot.total for number, weight in spot.belief if not sets[number]):
            return []
        minutes = self._remaining.refit(spot.off) + problem.proof_minutes
        minutes += self._remaining.move(spot.here, problem.proof_state)
        return [self._proven("done", "done", minutes, None, spot, spot.done)]

    def _proven(self, kind: str, name: str, minutes: float, position: int | None, spot: Spot, done: Used) -> Option:
        belief, lucky = self._remaining.after_mend(position, spot.belief)
        paid = minutes + lucky * self._remaining.come_back / spot.total
        mass = fsum([weight for _, weight in belief])
        if mass <= NEGLIGIBLE * spot.total:
            return Option(kind, name, minutes, paid, paid)
        state = self.problem.proof_state
        waiting = self._remaining.waiting(spot.made | spot.answered)
        rest = self._remaining.rest(belief, state, done, waiting)
        where = Spot(belief, mass, state, spot.made, done, frozenset(), spot.answered)
        share = mass / spot.total
        return Option(kind, name, minutes, paid + rest / spot.total, paid, ((share, where, rest / mass),))

    # ---- order rules

    def allowed(self, step: str, spot: Spot, chances: Mapping[int, float]) -> bool:
        """No rule holds the step back. A remedy that has been tried once no longer holds back what comes after it; nor
        does a check that was answered once, though a remedy has touched what it looks at since."""
        for check in self.problem.look_first.get(step, ()):
            if check not in spot.made and check not in spot.answered and check in self._columns:
                return False
        for remedy in self.problem.cure_first.get(step, ()):
            position = self._position.get(remedy)
            if position is None or spot.done[position]:
                continue
            if chances.get(position, 0.0) >= self.problem.suspected:
                return False
        return True


class Priced(Protocol):
    """What has a price and can be ranked."""

    @property
    def id(self) -> str:
        """Of the step."""

    @property
    def minutes(self) -> float:
        """Of the step itself."""

    @property
    def expected(self) -> float:
        """Minutes of the whole way."""


def rank(option: Priced) -> tuple[float, float, str]:
    """Best first: by the whole way, then by the minutes of the step, then by id."""
    return (round(option.expected / _TIE) * _TIE, option.minutes, option.id)
