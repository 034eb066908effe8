"""Which step leads to "fixed and proven" in the fewest expected minutes.

Purpose: checks, remedies, a proof run and handing over compete in one rule. The rest of the way after a step is priced
by the best fixed order of remedies over the joint fault sets (`rest`); the choice looks one step ahead with that
price, and for the most promising steps two.

Minutes count the move between set-up states, the hands-on time and, after a remedy, the proof run. Checks in the same
set-up state are cheap together, because the move is paid once.

Law: pure and deterministic; ties break by minutes, then by id.
Source: expected cost of repair as in Heckerman, Breese and Rommelse, CACM 38(3) 1995; the order by odds over cost for
several independent faults follows from exchanging neighbours (after Srinivas 1995), by chance over cost for one.
Not modelled in the look-ahead: a remedy that upsets another setting, and a proof run that passes by luck.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

_TIE = 1e-9
_NEGLIGIBLE = 1e-9
_NEVER = 1e12


@dataclass(frozen=True, slots=True)
class Look:
    """A check that can be made: hands-on minutes and the set-up state it needs."""

    id: str
    minutes: float
    state: str


@dataclass(frozen=True, slots=True)
class Mend:
    """A remedy: hands-on minutes, set-up state, and the chance that it removes each cause."""

    id: str
    minutes: float
    state: str
    cures: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Problem:
    """What the planner needs to know of a job.

    likelihood(check, causes) -> probability of each outcome.
    look_first[step]: checks to be answered before the step. cure_first[step]: remedies that go before it while
    a cause they cure is suspected (probability at least `suspected`). tries: how often one remedy may be done.
    """

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


@dataclass(frozen=True, slots=True)
class Proposal:
    """A step: `kind` check, remedy, done (proof run, then close) or refer. `minutes` of the step itself,
    `expected` of the whole way from now to fixed and proven when this step is taken."""

    kind: str
    id: str
    minutes: float
    expected: float


Belief = list[tuple[int, float]]
"""(index of a fault set, weight); the weights need not sum to one."""


Used = tuple[int, ...]
"""How often each remedy has been carried out, in the order of the problem's mends."""


class Planner:
    """Prices steps over fault sets. Remembers what it has worked out about each set for the same problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self._index: dict[frozenset[str], int] = {}
        self._sets: list[frozenset[str]] = []
        self._needs: list[tuple[int, ...]] = []
        # Chance that every remedy that the set needs works at the first try, and only with a second one.
        self._once: list[float] = []
        self._twice: list[float] = []
        self._seen: dict[str, list[Sequence[float] | None]] = {look.id: [] for look in problem.looks}
        self._mend_for: dict[str, int] = {}
        self._burdens: dict[frozenset[str], Sequence[float]] = {}
        back = problem.proof_state
        self._whole = [
            self._move(back, mend.state) + mend.minutes + self._move(mend.state, back) + problem.proof_minutes
            for mend in problem.mends
        ]
        for position, mend in enumerate(problem.mends):
            for cause, chance in mend.cures.items():
                rival = self._mend_for.get(cause)
                if rival is None or chance / self._whole[position] > (
                    problem.mends[rival].cures[cause] / self._whole[rival]
                ):
                    self._mend_for[cause] = position

    def choose(
        self,
        sets: Sequence[tuple[frozenset[str], float]],
        here: str,
        made: frozenset[str],
        used: Mapping[str, int] | None = None,
        *,
        limit: int = 5,
        deepen: int = 0,
        wide: int = 16,
        inner: int = 10,
    ) -> tuple[Proposal, ...]:
        """Best steps first.

        sets: fault sets with weights. here: set-up state now. made: checks already answered.
        used: how often each remedy has been carried out.
        deepen: how many of the best steps are looked at two steps deep; wide, inner: how many checks are priced at
        the first and at the second step (those that tell most for their minutes).
        """
        belief = [(self._number(present), weight) for present, weight in sets if weight > 0.0]
        total = sum(weight for _, weight in belief)
        if not belief:
            return (Proposal("refer", "refer", self.problem.refer, self.problem.refer),)
        belief = [(number, weight / total) for number, weight in belief]
        done = tuple((used or {}).get(mend.id, 0) for mend in self.problem.mends)
        first = self._one_step(belief, here, made, done, wide)
        first.sort(key=_rank)
        if deepen and len(first) > 1:
            looks = [self._look(item.id) for item in first if item.kind == "check"][:inner]
            mends = [self._mend(item.id) for item in first if item.kind == "remedy"][:4]
            chosen = first[:deepen]
            # The best remedy is always among them: it is what the checks have to beat.
            if not any(item.kind == "remedy" for item in chosen):
                chosen += [item for item in first[deepen:] if item.kind == "remedy"][:1]
            head = [self._two_step(item, belief, here, made, done, looks, mends) for item in chosen]
            head.sort(key=_rank)
            first = head + [item for item in first if item not in chosen]
        return tuple(first[:limit])

    def _look(self, name: str) -> Look:
        return next(look for look in self.problem.looks if look.id == name)

    def _mend(self, name: str) -> int:
        return next(position for position, mend in enumerate(self.problem.mends) if mend.id == name)

    def _burdened(self, made: frozenset[str]) -> Sequence[float]:
        """Minutes of each remedy with its proof run and with the checks that rules still ask for before it."""
        found = self._burdens.get(made)
        if found is None:
            minutes = {look.id: look.minutes for look in self.problem.looks}
            first_looks = self.problem.look_first
            found = self._burdens[made] = [
                whole + sum([minutes.get(name, 0.0) for name in first_looks.get(mend.id, ()) if name not in made])
                for whole, mend in zip(self._whole, self.problem.mends, strict=True)
            ]
        return found

    def _number(self, present: frozenset[str]) -> int:
        number = self._index.get(present)
        if number is None:
            number = len(self._sets)
            self._index[present] = number
            self._sets.append(present)
            needs = {self._mend_for[cause] for cause in present if cause in self._mend_for}
            fixed = 1.0
            for cause in present:
                mend = self._mend_for.get(cause)
                fixed *= 0.0 if mend is None else self.problem.mends[mend].cures[cause]
            self._needs.append(tuple(sorted(needs)))
            self._once.append(fixed)
            self._twice.append((1.0 - fixed) * fixed)
        return number

    def _move(self, start: str, end: str) -> float:
        return 0.0 if start == end else self.problem.moves[start, end]

    def _outcomes(self, look: Look, belief: Belief) -> tuple[list[tuple[float, Belief]], float]:
        """Probability of each outcome and the belief after it; and how much the check tells: the mean distance of
        each fault set's outcomes from those expected (0: nothing, up to the weight of the belief)."""
        seen = self._seen[look.id]
        if len(seen) < len(self._sets):
            seen.extend([None] * (len(self._sets) - len(seen)))
        rows = []
        for number, weight in belief:
            chances = seen[number]
            if chances is None:
                chances = seen[number] = tuple(self.problem.likelihood(look.id, self._sets[number]))
            rows.append((number, weight, chances))
        total = sum([weight for _, weight, _ in rows])
        result = []
        told = 0.0
        for outcome in range(len(rows[0][2])):
            branch = [(number, weight * chances[outcome]) for number, weight, chances in rows if chances[outcome]]
            mass = sum([weight for _, weight in branch])
            mean = mass / total
            told += sum([weight * abs(chances[outcome] - mean) for _, weight, chances in rows])
            if mass > _NEGLIGIBLE * total:
                result.append((mass, branch))
        return result, told / 2

    def _after_mend(self, position: int | None, belief: Belief) -> Belief:
        """What is left when the proof run still fails. `None`: a proof run without a remedy."""
        left: dict[int, float] = {}
        cures = {} if position is None else self.problem.mends[position].cures
        for number, weight in belief:
            present = self._sets[number]
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
                    key = self._number(there)
                    left[key] = left.get(key, 0.0) + mass
        return list(left.items())

    def rest(self, belief: Belief, here: str, done: Used, made: frozenset[str] = frozenset()) -> float:
        """Expected minutes (times the weight of the belief) of the best fixed order of remedies, each proven, every
        remedy tried once more in its turn where it may have failed, with handing over at the best point. An order
        that can be followed, so never too low."""
        needs, once, twice, whole = self._needs, self._once, self._twice, self._burdened(made)
        first: dict[int, float] = {}
        second: dict[int, float] = {}
        nothing = 0.0
        total = 0.0
        several = []
        for number, weight in belief:
            total += weight
            need = needs[number]
            if len(need) == 1:
                mend = need[0]
                first[mend] = first.get(mend, 0.0) + weight * once[number]
                second[mend] = second.get(mend, 0.0) + weight * twice[number]
            elif need:
                several.append((need, weight * once[number], weight * twice[number]))
            elif once[number]:
                nothing += weight
        if not total:
            return 0.0
        count = len(whole)
        singles = [(mend, mass, second[mend]) for mend, mass in first.items()]
        for need, at_once, later in several:
            for mend in need:
                first[mend] = first.get(mend, 0.0) + at_once
                second[mend] = second.get(mend, 0.0) + later
        # Try 1 of remedy m is item m, try 2 is item m + count.
        tries = self.problem.tries
        ratio = {}
        for mend, mass in first.items():
            if done[mend] < tries:
                ratio[mend] = (total - mass) * whole[mend] / mass if mass else _NEVER
                if done[mend] < tries - 1 and second[mend]:
                    ratio[mend + count] = (total - second[mend]) * whole[mend] / second[mend]
        order = sorted(ratio, key=lambda item: (ratio[item], item))
        rank = {item: position for position, item in enumerate(order)}
        fixed = [0.0] * len(order)
        for mend, at_once, later in singles:
            if mend in rank:
                fixed[rank[mend]] += at_once
                if mend + count in rank:
                    fixed[rank[mend + count]] += later
        for need, at_once, later in several:
            last = again = -1
            for mend in need:
                place = rank.get(mend)
                if place is None:
                    break
                if place > last:
                    last = place
                place = rank.get(mend + count, place)
                if place > again:
                    again = place
            else:
                fixed[last] += at_once
                if again > last:
                    fixed[again] += later
        best = self._walk(order, fixed, total, nothing, here, 0.0, whole)
        if nothing > _NEGLIGIBLE * total:
            prove = self._move(here, self.problem.proof_state) + self.problem.proof_minutes
            state = self.problem.proof_state
            first_proof = nothing * prove + self._walk(order, fixed, total - nothing, 0.0, state, prove, whole)
            best = min(best, first_proof)
        return best

    def _walk(
        self,
        order: Sequence[int],
        fixed: Sequence[float],
        left: float,
        nothing: float,
        here: str,
        elapsed: float,
        whole: Sequence[float],
    ) -> float:
        """Minutes along one order, handing over where that is cheapest. `nothing` is settled by the first proof."""
        refer, proof_state = self.problem.refer, self.problem.proof_state
        mends = self.problem.mends
        count = len(whole)
        settled = 0.0
        best = left * (elapsed + refer)
        for position, item in enumerate(order):
            mend = item if item < count else item - count
            elapsed += whole[mend]
            if position == 0:
                state = mends[mend].state
                elapsed += self._move(here, state) - self._move(proof_state, state)
                settled += nothing * elapsed
                left -= nothing
            mass = fixed[position]
            settled += mass * elapsed
            left -= mass
            cost = settled + left * (elapsed + refer)
            if cost < best:
                best = cost
            elif settled > best:
                break
        return best

    def _allowed(self, step: str, made: frozenset[str], chances: Mapping[int, float], done: Used) -> bool:
        """No rule holds the step back. A remedy that has been tried once no longer holds back what comes after it."""
        for check in self.problem.look_first.get(step, ()):
            if check not in made and check in self._seen:
                return False
        for remedy in self.problem.cure_first.get(step, ()):
            for position, mend in enumerate(self.problem.mends):
                if mend.id == remedy and not done[position] and chances.get(position, 0.0) >= self.problem.suspected:
                    return False
        return True

    def _chances(self, belief: Belief) -> dict[int, float]:
        """Probability that each remedy is needed."""
        total = sum(weight for _, weight in belief) or 1.0
        chances: dict[int, float] = {}
        for number, weight in belief:
            for mend in self._needs[number]:
                chances[mend] = chances.get(mend, 0.0) + weight / total
        return chances

    def _one_step(
        self,
        belief: Belief,
        here: str,
        made: frozenset[str],
        done: Used,
        wide: int = 99,
        looks: Sequence[Look] | None = None,
        mends: Sequence[int] | None = None,
    ) -> list[Proposal]:
        problem = self.problem
        total = sum(weight for _, weight in belief)
        chances = self._chances(belief)
        proposals = [Proposal("refer", "refer", problem.refer, problem.refer)]
        empty = sum(weight for number, weight in belief if not self._sets[number])
        if empty > _NEGLIGIBLE * total:
            minutes = self._move(here, problem.proof_state) + problem.proof_minutes
            after = self._after_mend(None, belief)
            expected = minutes + self.rest(after, problem.proof_state, done, made) / total
            proposals.append(Proposal("done", "done", minutes, expected))
        for position in mends if mends is not None else sorted(chances):
            mend = problem.mends[position]
            if chances.get(position, 0.0) <= 1e-4 or done[position] >= problem.tries:
                continue
            if not self._allowed(mend.id, made, chances, done):
                continue
            minutes = self._mend_minutes(position, here)
            after = self._after_mend(position, belief)
            once_more = _once_more(done, position)
            expected = minutes + self.rest(after, problem.proof_state, once_more, made) / total
            proposals.append(Proposal("remedy", mend.id, minutes, expected))
        stay = self.rest(belief, here, done, made) / total
        ready = []
        for look in looks if looks is not None else problem.looks:
            if look.id in made or not self._allowed(look.id, made, chances, done):
                continue
            minutes = self._move(here, look.state) + look.minutes
            branches, told = self._outcomes(look, belief)
            # What a check can save is at most what it tells times all that is left to spend.
            ready.append((minutes - stay * told / total, minutes, look, branches, told))
        if len(ready) > wide:
            ready.sort(key=lambda entry: (entry[0], entry[2].id))
        for place, (_, minutes, look, branches, told) in enumerate(ready):
            needed = self._unlocks(look.id, made, chances)
            if (place >= wide or told < _NEGLIGIBLE * total) and not needed:
                continue
            known = made | {look.id}
            expected = minutes + sum([self.rest(branch, look.state, done, known) for _, branch in branches]) / total
            # A check that changes nothing is only worth proposing where a rule asks for it.
            if needed or expected < stay + minutes - _TIE:
                proposals.append(Proposal("check", look.id, minutes, expected))
        return proposals

    def _unlocks(self, check: str, made: frozenset[str], chances: Mapping[int, float]) -> bool:
        """Some remedy that may well be needed waits for this check."""
        return any(
            chance >= self.problem.suspected and check in self.problem.look_first.get(self.problem.mends[mend].id, ())
            for mend, chance in chances.items()
        )

    def _mend_minutes(self, position: int, here: str) -> float:
        mend = self.problem.mends[position]
        return (
            self._move(here, mend.state)
            + mend.minutes
            + self._move(mend.state, self.problem.proof_state)
            + self.problem.proof_minutes
        )

    def _two_step(
        self,
        item: Proposal,
        belief: Belief,
        here: str,
        made: frozenset[str],
        done: Used,
        looks: Sequence[Look],
        mends: Sequence[int],
        *,
        further: int = 3,
    ) -> Proposal:
        """The same step with the best next step priced in after each of its outcomes.

        A remedy or a proof run tells only that it did not help, so what follows it is looked at `further` steps wide
        two steps deep again: else two checks in a row would be set against one check after a remedy.
        """
        total = sum(weight for _, weight in belief)
        if item.kind == "refer":
            return item
        if item.kind == "check":
            look = self._look(item.id)
            after = [(branch, look.state, made | {look.id}) for _, branch in self._outcomes(look, belief)[0]]
            further = 0
        else:
            position = None if item.kind == "done" else self._mend(item.id)
            left = self._after_mend(position, belief)
            after = [(left, self.problem.proof_state, made)] if left else []
            done = done if position is None else _once_more(done, position)
        expected = item.minutes
        for branch, state, known in after:
            mass = sum(weight for _, weight in branch)
            steps = sorted(self._one_step(branch, state, known, done, len(looks), looks, mends), key=_rank)
            steps[:further] = [
                self._two_step(step, branch, state, known, done, looks, mends, further=0)
                for step in steps[:further]
                if step.kind == "check"
            ] + [step for step in steps[:further] if step.kind != "check"]
            best = min((step.expected for step in steps), default=self.problem.refer)
            expected += mass / total * min(best, self.rest(branch, state, done, known) / mass)
        return Proposal(item.kind, item.id, item.minutes, expected)


def _once_more(done: Used, position: int) -> Used:
    return (*done[:position], done[position] + 1, *done[position + 1 :])


def _rank(item: Proposal) -> tuple[float, float, str]:
    return (round(item.expected / _TIE) * _TIE, item.minutes, item.id)
