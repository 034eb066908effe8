"""The minutes that are left: the price of the rest of the way over fault sets.

Purpose: the fault sets of a problem, numbered; what is left of them when a proof run still fails; and the expected
minutes of the best fixed order of remedies, each proven, which prices every way on (`rest`).
Law: pure and deterministic, but for what it remembers of each fault set; the order it prices can be followed, so the
price is never too low.
Source: the order by odds over cost for several independent faults follows from exchanging neighbours (after Srinivas
1995), by chance over cost for one.
Not here: which step to take (see `planner`). Not modelled: a remedy that upsets another setting.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import permutations

from .planning_problem import Mend, PlanningProblem

_NOTHING, _SEVERAL = -1, -2
NEGLIGIBLE = 1e-9
"""Share of the weight of a belief below which a branch is not followed."""

Belief = list[tuple[int, float]]
"""(index of a fault set, weight); the weights need not sum to one."""


Waiting = tuple[Sequence[float], Sequence[frozenset[str]], frozenset[int]]
"""Minutes of each remedy with its proof run and the checks that rules still ask for before it; those checks; the
remedies (and their second tries) that have any."""
Used = tuple[int, ...]
"""How often each remedy has been carried out, in the order of the problem's mends."""


class Remaining:
    """Fault sets of one problem and what is left to spend on them. Remembers what it has worked out about each."""

    def __init__(self, problem: PlanningProblem) -> None:
        self.problem = problem
        self.sets: list[frozenset[str]] = []
        # For each set the positions of the remedies that it needs.
        self.needs: list[tuple[int, ...]] = []
        # Of those the ones that a rule puts before another.
        self._held_back: list[tuple[int, ...]] = []
        self.looks = {look.id: look for look in problem.looks}
        self._index: dict[frozenset[str], int] = {}
        # For each set the one remedy that it needs, or _NOTHING or _SEVERAL; all that it needs; the chance that every
        # one works at the first try, and only with a second one.
        self._told: list[tuple[int, tuple[int, ...], float, float]] = []
        self._mend_for: dict[str, int] = {}
        self._waits: dict[frozenset[str], Waiting] = {}
        self._asked = frozenset(
            name for mend in problem.mends for name in problem.look_first.get(mend.id, ()) if name in self.looks
        )
        # What is left of a set after a remedy (None: a proof run alone) whose proof fails, by remedy and set.
        self._left: dict[int | None, dict[int, tuple[tuple[int, float, float], ...]]] = {}
        self._out: dict[tuple[str, str], float] = {}
        self._errands: dict[tuple[str, frozenset[str], str], float] = {}
        # For each remedy those that a rule puts before it while their causes are suspected.
        place = {mend.id: position for position, mend in enumerate(problem.mends)}
        self._before = [
            tuple(place[name] for name in problem.cure_first.get(mend.id, ()) if name in place)
            for mend in problem.mends
        ]
        self._ruling = frozenset(mend for before in self._before for mend in before)
        self._rules = [
            (item, before)
            for tries in (0, len(problem.mends))
            for item, before in enumerate(self._before, tries)
            if before
        ]
        # Minutes of a set that passes its proof run by luck and comes back with a fault.
        self.come_back = problem.refer if problem.come_back is None else problem.come_back
        back = problem.proof_state
        self._whole = [self.move(back, mend.state) + self.mending(mend) for mend in problem.mends]
        for position, mend in enumerate(problem.mends):
            for cause, chance in mend.cures.items():
                rival = self._mend_for.get(cause)
                if rival is None or chance / self._whole[position] > (
                    problem.mends[rival].cures[cause] / self._whole[rival]
                ):
                    self._mend_for[cause] = position

    def move(self, start: str, end: str) -> float:
        """Minutes from one set-up state to where a step of another can be made."""
        there = self.standing(start, end)
        return 0.0 if start == there else self.problem.moves[start, there]

    def standing(self, here: str, state: str) -> str:
        """The set-up state that a set is in for a step of `state`, and after it: where it was, if that serves."""
        return here if state in self.problem.serves.get(here, ()) else state

    def mending(self, mend: Mend, here: str = "") -> float:
        """Minutes of a remedy with its proof run, once the set is ready for it. here: where it was before that."""
        back = self.problem.proof_state
        return mend.minutes + self.move(self.standing(here, mend.state), back) + self.problem.proof_minutes

    def refit(self, off: frozenset[str]) -> float:
        """Minutes to put back what is off."""
        return sum([self.problem.put_back[fitting] for fitting in sorted(off)]) if off else 0.0

    def number(self, present: frozenset[str]) -> int:
        """The number of a fault set: its place in `sets` and `needs`."""
        number = self._index.get(present)
        if number is None:
            number = len(self.sets)
            self._index[present] = number
            self.sets.append(present)
            needs = tuple(sorted({self._mend_for[cause] for cause in present if cause in self._mend_for}))
            fixed = 1.0
            for cause in sorted(present):
                mend = self._mend_for.get(cause)
                fixed *= 0.0 if mend is None else self.problem.mends[mend].cures[cause]
            self.needs.append(needs)
            self._held_back.append(tuple([mend for mend in needs if mend in self._ruling]))
            kind = needs[0] if len(needs) == 1 else _SEVERAL if needs else _NOTHING
            self._told.append((kind, needs, fixed, (1.0 - fixed) * fixed))
        return number

    def after_mend(self, position: int | None, belief: Belief) -> tuple[Belief, float]:
        """What is left when the proof run still fails, and the weight of what passes it by luck with a fault left.

        `None`: a proof run without a remedy.
        """
        left: dict[int, float] = {}
        lucky = 0.0
        known = self._left.setdefault(position, {})
        for number, weight in belief:
            ways = known.get(number)
            if ways is None:
                ways = known[number] = self._ways_left(position, number)
            for key, stays, passes in ways:
                left[key] = left.get(key, 0.0) + weight * stays
                lucky += weight * passes
        return list(left.items()), lucky

    def _ways_left(self, position: int | None, number: int) -> tuple[tuple[int, float, float], ...]:
        """What a remedy leaves of a set: (number, chance with a proof run that fails, with one that passes)."""
        present = self.sets[number]
        cures = {} if position is None else self.problem.mends[position].cures
        worlds = [(present, 1.0)]
        for cause in sorted(present & cures.keys()):
            chance = cures[cause]
            worlds = [
                world
                for there, mass in worlds
                for world in ((there, mass * (1.0 - chance)), (there - {cause}, mass * chance))
            ]
        found = []
        for there, mass in worlds:
            if there and mass > 0.0:
                passes = mass * self.problem.luck ** len(there)
                found.append((self.number(there), mass - passes, passes))
        return tuple(found)

    def rest(self, belief: Belief, here: str, done: Used, waiting: Waiting) -> float:
        """Expected minutes (times the weight of the belief) of the best fixed order of remedies, each proven, every
        remedy tried once more in its turn where it may have failed, with handing over at the best point. An order
        that can be followed, so never too low. waiting: see `waiting`."""
        told, whole = self._told, waiting[0]
        count = len(whole)
        first, second = [0.0] * count, [0.0] * count
        nothing = 0.0
        total = 0.0
        several = []
        for number, weight in belief:
            total += weight
            kind, need, once, twice = told[number]
            if kind >= 0:
                first[kind] += weight * once
                second[kind] += weight * twice
            elif kind == _SEVERAL:
                several.append((need, weight * once, weight * twice))
            elif once:
                nothing += weight
        if not total:
            return 0.0
        # Try 1 of remedy m is item m, try 2 is item m + count.
        alone = first + second
        for need, at_once, later in several:
            for mend in need:
                first[mend] += at_once
                second[mend] += later
        last = self.problem.tries - 1
        ratio = []
        for mend, mass in enumerate(first):
            if mass and done[mend] <= last:
                minutes = whole[mend]
                ratio.append(((total - mass) * minutes / mass, mend))
                again = second[mend]
                if again and done[mend] < last:
                    ratio.append(((total - again) * minutes / again, mend + count))
        ratio.sort()
        order = [item for _, item in ratio]
        place = _places(order, count)
        suspected = self._suspected(place, belief, total, done)
        if suspected and self._breaks(place, suspected):
            order = self._by_rule(order, suspected)
            place = _places(order, count)
        fixed = _fixed_at(order, place, alone, several)
        return self._walk(order, fixed, total, nothing, here, waiting)

    def _suspected(self, place: Sequence[int], belief: Belief, total: float, done: Used) -> set[int]:
        """The remedies of an order that hold back others by a rule, while their causes are suspected."""
        held_back = self._held_back
        chances: dict[int, float] = {}
        for number, weight in belief:
            for mend in held_back[number]:
                chances[mend] = chances.get(mend, 0.0) + weight
        bound = self.problem.suspected * total
        return {mend for mend, chance in chances.items() if chance >= bound and place[mend] >= 0 and not done[mend]}

    def _breaks(self, place: Sequence[int], suspected: Collection[int]) -> bool:
        """Whether a remedy stands before one of the suspected that a rule puts before it. place: of each item in the
        order, -1 where it has none."""
        for item, before in self._rules:
            here = place[item]
            if here >= 0:
                for earlier in before:
                    if place[earlier] > here and earlier in suspected:
                        return True
        return False

    def _by_rule(self, order: Sequence[int], suspected: Collection[int]) -> list[int]:
        """The same order with every remedy after those of the suspected that a rule puts before it. An order that
        breaks a rule cannot be followed, and its price would be too low."""
        count = len(self._before)
        placed: dict[int, None] = {}
        waiting: set[int] = set()

        def put(item: int) -> None:
            if item not in waiting:
                waiting.add(item)
                for earlier in self._before[item % count]:
                    if earlier in suspected:
                        put(earlier)
                placed[item] = None

        for item in order:
            put(item)
        return list(placed)

    def waiting(self, made: frozenset[str]) -> Waiting:
        """What rules still ask for where these checks were made or answered."""
        made = self._asked & made
        found = self._waits.get(made)
        if found is None:
            waits = [
                frozenset(name for name in self.problem.look_first.get(mend.id, ()) if name in self._asked - made)
                for mend in self.problem.mends
            ]
            back = self.problem.proof_state
            whole = [
                cost + self._errand(back, wait, mend.state)
                for cost, wait, mend in zip(self._whole, waits, self.problem.mends, strict=True)
            ]
            count = len(waits)
            some = frozenset(item for item in range(2 * count) if waits[item % count])
            found = self._waits[made] = whole, waits, some
        return found

    def _errand(self, here: str, names: frozenset[str], then: str) -> float:
        """Minutes that checks on the way from one set-up state to another take, with the moves that they cost more.

        Without those moves a remedy that waits for a look at the stopped set would seem ready in the minutes of the
        look, and everything that can be made where the set is would come before that look.
        """
        if not names:
            return 0.0
        key = here, names, then
        found = self._errands.get(key)
        if found is None:
            looks = [self.looks[name] for name in sorted(names)]
            ways = []
            for order in permutations(sorted({look.state for look in looks})):
                at, moving = here, 0.0
                for state in (*order, then):
                    moving += self.move(at, state)
                    at = self.standing(at, state)
                ways.append(moving)
            found = min(ways) - self.move(here, then) + sum([look.minutes for look in looks])
            self._errands[key] = found
        return found

    def _walk(
        self, order: Sequence[int], fixed: Sequence[float], total: float, nothing: float, here: str, waiting: Waiting
    ) -> float:
        """Minutes along one order, handing over where that is cheapest: the first remedy at once, or after a proof run
        that settles `nothing`, whichever takes less.

        After a proof run a share of what is left has passed it by luck. Here every set counts as if it had one fault
        left, which prices several a little too high.
        """
        problem, back = self.problem, self.problem.proof_state
        refer, luck = problem.refer, problem.luck
        best = total * refer
        proven = nothing > NEGLIGIBLE * total
        if proven:
            prove = self.move(here, back) + problem.proof_minutes
            still = total - nothing
            paid = nothing * prove + luck * still * (prove + self.come_back)
            still *= 1.0 - luck
            best = min(best, paid + still * (prove + refer))
        if not order:
            return best
        count = len(self._whole)
        state = problem.mends[order[0] % count].state
        waits = not waiting[2].isdisjoint(order)
        costs: Iterable[float] = (
            self._costs_at(order, waiting, here) if waits else [self._whole[item % count] for item in order]
        )
        if proven and waits:
            costs = list(costs)
        best = self._at_once(costs, fixed, total, nothing, self._set_out(here, state), best)
        if proven:
            best = self._after_proof(costs, fixed, still, paid, prove + self._set_out(back, state), best)
        return best

    def _at_once(
        self, costs: Iterable[float], fixed: Sequence[float], left: float, nothing: float, elapsed: float, best: float
    ) -> float:
        """The least of `best` and the minutes with the first remedy at once. left: weight of what is not settled."""
        refer, luck, come_back = self.problem.refer, self.problem.luck, self.come_back
        stay, settled, unlucky = 1.0, 0.0, 1.0 - luck
        for cost, mass in zip(costs, fixed, strict=False):
            elapsed += cost
            if nothing:
                settled += nothing * elapsed
                left -= nothing
                nothing = 0.0
            there = mass * stay
            passed = luck * (left - there)
            settled += there * elapsed + passed * (elapsed + come_back)
            left -= there + passed
            stay *= unlucky
            price = settled + left * elapsed
            # What comes after a place takes at least the minutes until there: so no way can get below that.
            if price > best:
                break
            price += left * refer
            if price < best:
                best = price
        return best

    def _after_proof(
        self, costs: Iterable[float], fixed: Sequence[float], still: float, paid: float, prove: float, best: float
    ) -> float:
        """The same after a proof run: `paid` of it, weight times minutes, is spent, and `still` did not pass it."""
        refer, luck, come_back = self.problem.refer, self.problem.luck, self.come_back
        remain = unlucky = 1.0 - luck
        for cost, mass in zip(costs, fixed, strict=False):
            prove += cost
            there = mass * remain
            passed = luck * (still - there)
            paid += there * prove + passed * (prove + come_back)
            still -= there + passed
            remain *= unlucky
            price = paid + still * prove
            if price > best:
                break
            price += still * refer
            if price < best:
                best = price
        return best

    def _costs_at(self, order: Sequence[int], waiting: Waiting, here: str) -> Iterator[float]:
        """Minutes of each remedy of an order with its proof run, and with the checks that rules ask for before it.

        A check is paid for once, by the first remedy that waits for it: paid for by each of them, and by second tries
        too, it would seem to save many times its minutes and be proposed before everything else.
        """
        alone, waits, _ = waiting
        paid, whole, back = set[str](), self._whole, self.problem.proof_state
        count = len(whole)
        for item in order:
            mend = item if item < count else item - count
            wait = waits[mend]
            if not wait or wait <= paid:
                yield whole[mend]
            elif here == back and wait.isdisjoint(paid):
                yield alone[mend]
                paid |= wait
            else:
                yield whole[mend] + self._errand(here, wait - paid, self.problem.mends[mend].state)
                paid |= wait
            here = back

    def _set_out(self, here: str, state: str) -> float:
        """Minutes that a first remedy takes more from here than from where a proof run leaves the set."""
        found = self._out.get((here, state))
        if found is None:
            back = self.problem.proof_state
            # A cold set that is worked on as it stands is still to be warmed for its proof.
            warming = self.move(self.standing(here, state), back) - self.move(state, back)
            found = self._out[here, state] = self.move(here, state) - self.move(back, state) + warming
        return found


def _places(order: Sequence[int], count: int) -> list[int]:
    """Where each item stands in an order, -1 where it does not."""
    place = [-1] * (2 * count)
    for position, item in enumerate(order):
        place[item] = position
    return place


def _fixed_at(
    order: Sequence[int],
    place: Sequence[int],
    alone: Sequence[float],
    several: Sequence[tuple[tuple[int, ...], float, float]],
) -> list[float]:
    """Weight of the worlds that are fixed at each place of an order.

    place: of each item, -1 where it has none. alone: weight of the worlds that each item fixes by itself, those that
    need one remedy. several: remedies that a world needs, its weight if the first tries do, and if second ones are
    needed too. The second try of remedy m is item m + half the length of `place`.
    """
    fixed = [alone[item] for item in order]
    count = len(place) // 2
    for need, at_once, later in several:
        last = again = -1
        for mend in need:
            at = place[mend]
            if at < 0:
                break
            if at > last:
                last = at
            second = place[mend + count]
            if second > again:
                again = second
        else:
            fixed[last] += at_once
            if again > last:
                fixed[again] += later
    return fixed
