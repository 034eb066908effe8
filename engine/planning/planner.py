"""Which step leads to "fixed and proven" in the fewest expected minutes.

Purpose: checks, remedies, a proof run and handing over compete in one rule. The rest of the way after a step is priced
by the best fixed order of remedies over the joint fault sets (see `remaining`); the choice looks one step ahead with
that price, and for the most promising steps two.

Minutes count the move between set-up states, the hands-on time and, after a remedy, the proof run. Checks in the same
set-up state are cheap together, because the move is paid once.

Law: pure and deterministic; ties break by minutes, then by id.
Source: expected cost of repair as in Heckerman, Breese and Rommelse, CACM 38(3) 1995.
A proof run that passes by luck, with a fault left, costs a call-back. Not modelled: a remedy that upsets another
setting.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from .remaining import NEGLIGIBLE, Belief, Look, Mend, PlanningProblem, Remaining, Used

__all__ = ["Look", "Mend", "Planner", "PlanningProblem", "Proposal"]

_TIE = 1e-9
_FEW = 0.1
"""A look takes few minutes where it takes at most this share of those of handing over."""
_PAYS = 0.5
"""Share of its own minutes that a look has to save to come before handing over."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A step: `kind` check, remedy, done (proof run, then close) or refer. `minutes` of the step itself,
    `expected` of the whole way from now to fixed and proven when this step is taken."""

    kind: str
    id: str
    minutes: float
    expected: float


class Planner:
    """Prices steps over fault sets. Remembers what it has worked out about each set for the same problem."""

    def __init__(self, problem: PlanningProblem) -> None:
        self.problem = problem
        self._remaining = Remaining(problem)
        self._rest = self._remaining.rest
        self._move = self._remaining.move
        self._position = {mend.id: position for position, mend in enumerate(problem.mends)}
        self._seen: dict[str, list[Sequence[float] | None]] = {look.id: [] for look in problem.looks}

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
        off: frozenset[str] = frozenset(),
    ) -> tuple[Proposal, ...]:
        """Best steps first.

        sets: fault sets with weights. here: set-up state now. made: checks already answered.
        used: how often each remedy has been carried out.
        deepen: how many of the best steps are looked at two steps deep; wide, inner: how many checks are priced at
        the first and at the second step (those that tell most for their minutes).
        off: fittings that take minutes to put back, all of them in the problem's `put_back`.
        """
        belief = [(self._remaining.number(present), weight) for present, weight in sets if weight > 0.0]
        total = fsum(weight for _, weight in belief)
        if not belief:
            return (Proposal("refer", "refer", self.problem.refer, self.problem.refer),)
        belief = [(number, weight / total) for number, weight in belief]
        done = tuple((used or {}).get(mend.id, 0) for mend in self.problem.mends)
        first = self._one_step(belief, here, made, done, wide, off=off)
        first.sort(key=_rank)
        if deepen and len(first) > 1:
            looks = [self._remaining.looks[item.id] for item in first if item.kind == "check"][:inner]
            mends = [self._position[item.id] for item in first if item.kind == "remedy"][:4]
            chosen = first[:deepen]
            # The best remedy is always among them: it is what the checks have to beat.
            if not any(item.kind == "remedy" for item in chosen):
                chosen += [item for item in first[deepen:] if item.kind == "remedy"][:1]
            head = [self._two_step(item, belief, here, made, done, looks, mends, off) for item in chosen]
            head.sort(key=_rank)
            first = head + [item for item in first if item not in chosen]
        return tuple(_handing_over_last(first)[:limit])

    def _outcomes(self, look: Look, belief: Belief) -> tuple[list[tuple[float, Belief]], float]:
        """Probability of each outcome and the belief after it; and how much the check tells: the mean distance of
        each fault set's outcomes from those expected (0: nothing, up to the weight of the belief)."""
        seen = self._seen[look.id]
        if len(seen) < len(self._remaining.sets):
            seen.extend([None] * (len(self._remaining.sets) - len(seen)))
        rows = []
        for number, weight in belief:
            chances = seen[number]
            if chances is None:
                chances = seen[number] = tuple(self.problem.likelihood(look.id, self._remaining.sets[number]))
            rows.append((number, weight, chances))
        total = fsum([weight for _, weight, _ in rows])
        result = []
        told = 0.0
        for outcome in range(len(rows[0][2])):
            branch = [(number, weight * chances[outcome]) for number, weight, chances in rows if chances[outcome]]
            mass = fsum([weight for _, weight in branch])
            mean = mass / total
            told += fsum([weight * abs(chances[outcome] - mean) for _, weight, chances in rows])
            if mass > NEGLIGIBLE * total:
                result.append((mass, branch))
        return result, told / 2

    def _allowed(self, step: str, made: frozenset[str], chances: Mapping[int, float], done: Used) -> bool:
        """No rule holds the step back. A remedy that has been tried once no longer holds back what comes after it."""
        for check in self.problem.look_first.get(step, ()):
            if check not in made and check in self._seen:
                return False
        for remedy in self.problem.cure_first.get(step, ()):
            position = self._position.get(remedy)
            if position is None or done[position]:
                continue
            if chances.get(position, 0.0) >= self.problem.suspected:
                return False
        return True

    def _chances(self, belief: Belief) -> dict[int, float]:
        """Probability that each remedy is needed."""
        total = fsum(weight for _, weight in belief) or 1.0
        chances: dict[int, float] = {}
        for number, weight in belief:
            for mend in self._remaining.needs[number]:
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
        off: frozenset[str] = frozenset(),
    ) -> list[Proposal]:
        problem = self.problem
        total = fsum(weight for _, weight in belief)
        chances = self._chances(belief)
        refit = self._remaining.refit(off)
        proposals = [Proposal("refer", "refer", problem.refer, problem.refer)]
        empty = fsum(weight for number, weight in belief if not self._remaining.sets[number])
        if empty > NEGLIGIBLE * total:
            minutes = refit + self._move(here, problem.proof_state) + problem.proof_minutes
            after, lucky = self._remaining.after_mend(None, belief)
            left = self._rest(after, problem.proof_state, done, made) + lucky * problem.refer
            expected = minutes + left / total
            proposals.append(Proposal("done", "done", minutes, expected))
        for position in mends if mends is not None else sorted(chances):
            mend = problem.mends[position]
            if chances.get(position, 0.0) <= 1e-4 or done[position] >= problem.tries:
                continue
            if not self._allowed(mend.id, made, chances, done):
                continue
            minutes = self._move(here, mend.state) + self._remaining.mending(mend, here)
            minutes += self._remaining.refit(off - mend.puts_back)
            after, lucky = self._remaining.after_mend(position, belief)
            once_more = _once_more(done, position)
            left = self._rest(after, problem.proof_state, once_more, made) + lucky * problem.refer
            expected = minutes + left / total
            proposals.append(Proposal("remedy", mend.id, minutes, expected))
        stay = self._rest(belief, here, done, made) / total + refit
        ready = []
        for look in looks if looks is not None else problem.looks:
            if look.id in made or not self._allowed(look.id, made, chances, done):
                continue
            minutes = self._move(here, look.state) + look.minutes + self._remaining.refit(off & look.needs_on)
            branches, told = self._outcomes(look, belief)
            # What a check can save is at most what it tells times all that is left to spend.
            ready.append((minutes - stay * told / total, minutes, look, branches, told))
        if len(ready) > wide:
            ready.sort(key=lambda entry: (entry[0], entry[2].id))
        for place, (_, minutes, look, branches, told) in enumerate(ready):
            needed = self._unlocks(look.id, made, chances)
            if (place >= wide or told < NEGLIGIBLE * total) and not needed:
                continue
            known = made | {look.id}
            later = self._remaining.refit(off - look.needs_on | look.leaves_off)
            there = self._remaining.standing(here, look.state)
            left = fsum([self._rest(branch, there, done, known) for _, branch in branches])
            expected = minutes + later + left / total
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

    def _two_step(
        self,
        item: Proposal,
        belief: Belief,
        here: str,
        made: frozenset[str],
        done: Used,
        looks: Sequence[Look],
        mends: Sequence[int],
        off: frozenset[str],
    ) -> Proposal:
        """The same step with the best next step priced in after each of its outcomes.

        Looking further after a remedy, which tells only that it did not help, was tried: on drawn sets it proposed
        remedies too early and jobs took longer (182 against 159 min, 80 sets).
        """
        total = fsum(weight for _, weight in belief)
        lucky = 0.0
        if item.kind == "refer":
            return item
        if item.kind == "check":
            look = self._remaining.looks[item.id]
            there = self._remaining.standing(here, look.state)
            after = [(branch, there, made | {look.id}) for _, branch in self._outcomes(look, belief)[0]]
            off = off - look.needs_on | look.leaves_off
        else:
            position = None if item.kind == "done" else self._position[item.id]
            left, lucky = self._remaining.after_mend(position, belief)
            after = [(left, self.problem.proof_state, made)] if left else []
            done = done if position is None else _once_more(done, position)
            off = frozenset()
        refit = self._remaining.refit(off)
        expected = item.minutes + lucky * self.problem.refer / total
        for branch, state, known in after:
            mass = fsum(weight for _, weight in branch)
            steps = self._one_step(branch, state, known, done, len(looks), looks, mends, off)
            best = min((step.expected for step in steps), default=self.problem.refer)
            expected += mass / total * min(best, self._rest(branch, state, done, known) / mass + refit)
        return Proposal(item.kind, item.id, item.minutes, expected)


def _once_more(done: Used, position: int) -> Used:
    return (*done[:position], done[position] + 1, *done[position + 1 :])


def _handing_over_last(best_first: list[Proposal]) -> list[Proposal]:
    """The same, but where handing over is best a look of few minutes goes before it that saves most of its own.

    What is left after a look is priced without the looks that follow (see `remaining`), so never too low, and handing
    over is priced exactly. A look that all but pays for itself alone therefore does so with those after it: two looks
    that together show the cause each seem too dear. Handing over also ends the job, a look does not.
    """
    if not best_first or best_first[0].kind != "refer":
        return best_first
    refer = best_first[0].expected
    for item in best_first:
        saved = refer + item.minutes - item.expected
        if item.kind == "check" and item.minutes <= _FEW * refer and saved >= _PAYS * item.minutes:
            return [item, *(other for other in best_first if other is not item)]
    return best_first


def _rank(item: Proposal) -> tuple[float, float, str]:
    return (round(item.expected / _TIE) * _TIE, item.minutes, item.id)
