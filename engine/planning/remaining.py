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

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

NEGLIGIBLE = 1e-9
"""Share of the weight of a belief below which a branch is not followed."""


@dataclass(frozen=True, slots=True)
class Look:
    """A check that can be made: hands-on minutes and the set-up state it needs.

    needs_on: fittings that must be on for it, of those in `Problem.put_back`. leaves_off: those that it leaves off.
    """

    id: str
    minutes: float
    state: str
    needs_on: frozenset[str] = frozenset()
    leaves_off: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Mend:
    """A remedy: hands-on minutes, set-up state, and the chance that it removes each cause. puts_back: fittings that
    its own steps put back; all others are on before its proof run."""

    id: str
    minutes: float
    state: str
    cures: Mapping[str, float]
    puts_back: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class PlanningProblem:
    """What the planner needs to know of a job.

    likelihood(check, causes) -> probability of each outcome.
    look_first[step]: checks to be answered before the step. cure_first[step]: remedies that go before it while
    a cause they cure is suspected (probability at least `suspected`). tries: how often one remedy may be done.
    luck: chance that one fault left does not show in a proof run, drawn afresh for each fault and each run (the reason
    stands at `PROOF_RUN`); the set then comes back and costs `come_back`, or where that is not given what handing over
    costs.
    put_back[fitting]: minutes to put back what is off. Whatever is off is paid for once, at the latest before the
    proof."""

    looks: tuple[Look, ...]
    mends: tuple[Mend, ...]
    moves: Mapping[tuple[str, str], float]
    proof_minutes: float
    proof_state: str
    refer: float
    likelihood: Callable[[str, frozenset[str]], Sequence[float]]
    look_first: Mapping[str, tuple[str, ...]]
    cure_first: Mapping[str, tuple[str, ...]]
    suspected: float = 0.25
    tries: int = 2
    luck: float = 0.0
    put_back: Mapping[str, float] = field(default_factory=dict)
    come_back: float | None = None


Belief = list[tuple[int, float]]
"""(index of a fault set, weight); the weights need not sum to one."""


Used = tuple[int, ...]
"""How often each remedy has been carried out, in the order of the problem's mends."""


class Remaining:
    """Fault sets of one problem and what is left to spend on them. Remembers what it has worked out about each."""

    def __init__(self, problem: PlanningProblem) -> None:
        self.problem = problem
        self.sets: list[frozenset[str]] = []
        # For each set the positions of the remedies that it needs.
        self.needs: list[tuple[int, ...]] = []
        self.looks = {look.id: look for look in problem.looks}
        self._index: dict[frozenset[str], int] = {}
        # Chance that every remedy that the set needs works at the first try, and only with a second one.
        self._once: list[float] = []
        self._twice: list[float] = []
        self._mend_for: dict[str, int] = {}
        self._burdens: dict[tuple[frozenset[str], str], list[float]] = {}
        # For each remedy those that a rule puts before it while their causes are suspected.
        place = {mend.id: position for position, mend in enumerate(problem.mends)}
        self._before = [
            tuple(place[name] for name in problem.cure_first.get(mend.id, ()) if name in place)
            for mend in problem.mends
        ]
        self._ruling = frozenset(mend for before in self._before for mend in before)
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
        """Minutes from one set-up state to another."""
        return 0.0 if start == end else self.problem.moves[start, end]

    def mending(self, mend: Mend) -> float:
        """Minutes of a remedy with its proof run, from its own set-up state on."""
        back = self.problem.proof_state
        return mend.minutes + self.move(mend.state, back) + self.problem.proof_minutes

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
            needs = {self._mend_for[cause] for cause in present if cause in self._mend_for}
            fixed = 1.0
            for cause in sorted(present):
                mend = self._mend_for.get(cause)
                fixed *= 0.0 if mend is None else self.problem.mends[mend].cures[cause]
            self.needs.append(tuple(sorted(needs)))
            self._once.append(fixed)
            self._twice.append((1.0 - fixed) * fixed)
        return number

    def after_mend(self, position: int | None, belief: Belief) -> tuple[Belief, float]:
        """What is left when the proof run still fails, and the weight of what passes it by luck with a fault left.

        `None`: a proof run without a remedy.
        """
        left: dict[int, float] = {}
        lucky = 0.0
        cures = {} if position is None else self.problem.mends[position].cures
        for number, weight in belief:
            present = self.sets[number]
            worlds = [(present, weight)]
            for cause in sorted(present & cures.keys()):
                chance = cures[cause]
                worlds = [
                    world
                    for there, mass in worlds
                    for world in ((there, mass * (1.0 - chance)), (there - {cause}, mass * chance))
                ]
            for there, mass in worlds:
                if there and mass > 0.0:
                    key = self.number(there)
                    passes = mass * self.problem.luck ** len(there)
                    left[key] = left.get(key, 0.0) + mass - passes
                    lucky += passes
        return list(left.items()), lucky

    def rest(self, belief: Belief, here: str, done: Used, made: frozenset[str] = frozenset()) -> float:
        """Expected minutes (times the weight of the belief) of the best fixed order of remedies, each proven, every
        remedy tried once more in its turn where it may have failed, with handing over at the best point. An order
        that can be followed, so never too low."""
        needs, once, twice, whole = self.needs, self._once, self._twice, self._burdened(made, here)
        count = len(whole)
        first, second = [0.0] * count, [0.0] * count
        nothing = 0.0
        total = 0.0
        several = []
        for number, weight in belief:
            total += weight
            need = needs[number]
            if len(need) == 1:
                first[need[0]] += weight * once[number]
                second[need[0]] += weight * twice[number]
            elif need:
                several.append((need, weight * once[number], weight * twice[number]))
            elif once[number]:
                nothing += weight
        if not total:
            return 0.0
        singles = [(mend, mass, second[mend]) for mend, mass in enumerate(first) if mass]
        for need, at_once, later in several:
            for mend in need:
                first[mend] += at_once
                second[mend] += later
        # Try 1 of remedy m is item m, try 2 is item m + count.
        tries = self.problem.tries
        ratio = []
        for mend, mass in enumerate(first):
            if mass and done[mend] < tries:
                ratio.append(((total - mass) * whole[mend] / mass, mend))
                if done[mend] < tries - 1 and second[mend]:
                    ratio.append(((total - second[mend]) * whole[mend] / second[mend], mend + count))
        ratio.sort()
        order = [item for _, item in ratio]
        if self._ruling:
            order = self._by_rule(order, belief, total, done)
        fixed = _fixed_at(order, singles, several, count)
        best = self._walk(order, fixed, total, nothing, here, 0.0, 0.0, whole)
        if nothing > NEGLIGIBLE * total:
            prove = self.move(here, self.problem.proof_state) + self.problem.proof_minutes
            state = self.problem.proof_state
            luck = self.problem.luck
            first_proof = nothing * prove + self._walk(order, fixed, total - nothing, 0.0, state, prove, luck, whole)
            best = min(best, first_proof)
        return best

    def _by_rule(self, order: list[int], belief: Belief, total: float, done: Used) -> list[int]:
        """The same order with every remedy after those that a rule puts before it while their causes are suspected. An
        order that breaks a rule cannot be followed, and its price would be too low."""
        chances = dict.fromkeys(self._ruling.intersection(order), 0.0)
        if not chances:
            return order
        for number, weight in belief:
            for mend in self.needs[number]:
                if mend in chances:
                    chances[mend] += weight
        bound = self.problem.suspected * total
        suspected = {mend for mend, chance in chances.items() if chance >= bound and not done[mend]}
        if not suspected:
            return order
        count = len(self._before)
        placed: dict[int, None] = {}
        waiting: set[int] = set()

        def place(item: int) -> None:
            if item not in waiting:
                waiting.add(item)
                for earlier in self._before[item % count]:
                    if earlier in suspected:
                        place(earlier)
                placed[item] = None

        for item in order:
            place(item)
        return list(placed)

    def _burdened(self, made: frozenset[str], here: str) -> Sequence[float]:
        """Minutes of each remedy with its proof run and with the checks that rules still ask for before it: made at
        once where the set stands in their state, else on the way to the remedy."""
        found = self._burdens.get((made, here))
        if found is None:
            back = self.problem.proof_state
            found = self._burdens[made, here] = []
            for whole, mend in zip(self._whole, self.problem.mends, strict=True):
                minutes = whole
                for name in self.problem.look_first.get(mend.id, ()):
                    look = self.looks.get(name)
                    if look is not None and name not in made:
                        minutes += look.minutes
                        if look.state != here:
                            minutes += self.move(back, look.state) + self.move(look.state, mend.state)
                            minutes -= self.move(back, mend.state)
                found.append(minutes)
        return found

    def _walk(
        self,
        order: Sequence[int],
        fixed: Sequence[float],
        left: float,
        nothing: float,
        here: str,
        elapsed: float,
        lucky: float,
        whole: Sequence[float],
    ) -> float:
        """Minutes along one order, handing over where that is cheapest. `nothing` is settled by the first proof.

        lucky: share of what is left that the proof run just made passes by luck. Here every set counts as if it had
        one fault left, which prices several a little too high.
        """
        refer, proof_state, come_back = self.problem.refer, self.problem.proof_state, self.come_back
        mends = self.problem.mends
        count = len(whole)
        luck = self.problem.luck
        settled = lucky * left * (elapsed + come_back)
        stay = 1.0 - lucky
        left *= stay
        best = settled + left * (elapsed + refer)
        for position, item in enumerate(order):
            mend = item if item < count else item - count
            elapsed += whole[mend]
            if position == 0:
                state = mends[mend].state
                elapsed += self.move(here, state) - self.move(proof_state, state)
                settled += nothing * elapsed
                left -= nothing
            mass = fixed[position] * stay
            passed = luck * (left - mass)
            settled += mass * elapsed + passed * (elapsed + come_back)
            left -= mass + passed
            stay *= 1.0 - luck
            cost = settled + left * (elapsed + refer)
            if cost < best:
                best = cost
            elif settled > best:
                break
        return best


def _fixed_at(
    order: Sequence[int],
    singles: Sequence[tuple[int, float, float]],
    several: Sequence[tuple[tuple[int, ...], float, float]],
    count: int,
) -> list[float]:
    """Weight of the worlds that are fixed at each place of an order.

    singles, several: remedies that a world needs, its weight if the first tries do, and if second ones are needed too.
    count: of remedies; the second try of remedy m is item m + count.
    """
    rank = [-1] * (2 * count)
    for position, item in enumerate(order):
        rank[item] = position
    fixed = [0.0] * len(order)
    for mend, at_once, later in singles:
        place = rank[mend]
        if place >= 0:
            fixed[place] += at_once
            place = rank[mend + count]
            if place >= 0:
                fixed[place] += later
    for need, at_once, later in several:
        last = again = -1
        for mend in need:
            place = rank[mend]
            if place < 0:
                break
            if place > last:
                last = place
            place = max(place, rank[mend + count])
            if place > again:
                again = place
        else:
            fixed[last] += at_once
            if again > last:
                fixed[again] += later
    return fixed
