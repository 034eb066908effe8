"""Which step leads to "fixed and proven" in the fewest expected minutes.

Purpose: checks, remedies, a proof run and handing over compete in one rule (see `one_step`). The quick choice is that
rule; the deepened one follows it on from the most promising steps, to the end where there is room, and takes the step
from which that way is shortest. A way on that is followed is never longer than its price by the rule was, and three
cheap checks that only pay together are seen so.

Minutes count the move between set-up states, the hands-on time and, after a remedy, the proof run. Checks in the same
set-up state are cheap together, because the move is paid once.

Law: pure and deterministic; ties break by minutes, then by id. How far is followed is counted in work, not in time.
Source: expected cost of repair as in Heckerman, Breese and Rommelse, CACM 38(3) 1995; following a simple rule from each
first step, a rollout, as in Bertsekas, Tsitsiklis and Wu, Journal of Heuristics 3 (1997).
A proof run that passes by luck, with a fault left, costs coming back. Not modelled: a remedy that upsets another
setting.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from .one_step import OneStep, Option, Spot, rank
from .planning_problem import Look, Mend, PlanningProblem
from .remaining import Remaining

__all__ = ["Look", "Mend", "Planner", "PlanningProblem", "Proposal"]

_TIE = 1e-9
WORK = 6_000
"""How much is followed in one choice: fault sets times checks that are weighed."""
TRIED = ((3, 0.05), (2, 0.01), (1, 0.0))
"""How many steps are tried at a spot on the way, by the least chance of coming there."""
LEAST_FOLLOWED = 4
"""How many steps are followed before handing over is proposed."""
SLIGHT = 2e-3
"""Share of a belief below which a fault set is dropped where a way is followed."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A step: `kind` check, remedy, done (proof run, then close) or refer. `minutes` of the step itself,
    `expected` of the whole way from now to fixed and proven when this step is taken."""

    kind: str
    id: str
    minutes: float
    expected: float


@dataclass(slots=True)
class _Node:
    """A spot on a way that is followed. price: expected minutes from there. ways: the steps tried there, once it is
    followed: the minutes that each is sure to cost, and the nodes it leads to, with their chances."""

    spot: Spot
    price: float
    ways: tuple[tuple[float, tuple[tuple[float, _Node], ...]], ...] = ()


class Planner:
    """Prices steps over fault sets. Remembers what it has worked out about each set for the same problem."""

    def __init__(self, problem: PlanningProblem) -> None:
        self.problem = problem
        self._remaining = Remaining(problem)
        self._rule = OneStep(self._remaining)
        self._position = {mend.id: position for position, mend in enumerate(problem.mends)}

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
        answered: frozenset[str] = frozenset(),
        also: Collection[str] = (),
    ) -> tuple[Proposal, ...]:
        """Best steps first.

        sets: fault sets with weights. here: set-up state now. made: checks not to be made again. answered: checks that
        were answered at some time, which is what the order rules ask for.
        used: how often each remedy has been carried out.
        deepen: how many of the best steps are followed further; wide, inner: how many checks are priced at
        the first step and further on (those that tell most for their minutes).
        off: fittings that take minutes to put back, all of them in the problem's `put_back`. also: steps that are
        followed as the best are, so that their minutes compare with those of the best.
        """
        belief = [(self._remaining.number(present), weight) for present, weight in sets if weight > 0.0]
        total = fsum(weight for _, weight in belief)
        if not belief:
            return (Proposal("refer", "refer", self.problem.refer, self.problem.refer),)
        belief = [(number, weight / total) for number, weight in belief]
        done = tuple((used or {}).get(mend.id, 0) for mend in self.problem.mends)
        spot = Spot(belief, 1.0, here, made, done, off, answered)
        options = self._rule.options(spot, wide)
        found = {option.id: _proposal(option) for option in options}
        # Handing over ends the job and is priced exactly, everything else too high: so it is never best unfollowed.
        if not deepen and min(options, key=rank).kind == "refer":
            deepen = LEAST_FOLLOWED
        if deepen and len(options) > 1:
            found.update((each.id, each) for each in self._followed(options, deepen, inner, also))
        # A check that changes nothing is only worth proposing where a rule asks for it.
        stay = self._rule.stay(spot)
        useful = [
            found[option.id]
            for option in options
            if option.kind != "check" or option.needed or found[option.id].expected < stay + option.minutes - _TIE
        ]
        return tuple(sorted(useful, key=rank)[:limit])

    def _followed(self, options: list[Option], deepen: int, inner: int, also: Collection[str]) -> list[Proposal]:
        """The best `deepen` steps followed further; as many checks that may save most, though alone they may not; the
        best remedy, which is what the checks must beat; and those that are asked for."""
        first = sorted(options, key=rank)
        looks = [self._remaining.looks[option.id] for option in options if option.kind == "check"][:inner]
        mends = [self._position[option.id] for option in first if option.kind == "remedy"][:4]
        chosen = first[:deepen]
        chosen += [option for option in options if option.kind == "check"][:deepen]
        chosen += [option for option in first if option.kind == "remedy"][:1]
        chosen += [option for option in first if option.id in also]
        chosen = list({option.id: option for option in chosen}.values())
        known: dict[object, _Node] = {}
        heads = [(option, self._nodes(option, known)) for option in chosen]
        self._follow([node for _, nodes in heads for node in nodes], looks, mends, known)
        return [
            Proposal(option.kind, option.id, option.minutes, option.paid + fsum([c * _value(n) for c, n in nodes]))
            for option, nodes in heads
        ]

    def _follow(
        self, nodes: list[tuple[float, _Node]], looks: list[Look], mends: list[int], known: dict[object, _Node]
    ) -> None:
        """Follow the rule on from these nodes, the likeliest spot first, until the work is spent."""
        left = WORK
        queue = [(-chance, place, node) for place, (chance, node) in enumerate(nodes)]
        heapq.heapify(queue)
        place = len(queue)
        while queue and left > 0:
            chance, _, node = heapq.heappop(queue)
            if node.ways:
                continue
            count = next(count for count, least in TRIED if -chance >= least)
            options = self._rule.best(node.spot, looks, mends, count)
            left -= len(node.spot.belief) * (1 + sum([look.id not in node.spot.made for look in looks]))
            node.ways = tuple((option.paid, tuple(self._nodes(option, known))) for option in options)
            for _, nodes_after in node.ways:
                for share, after in nodes_after:
                    if not after.ways:
                        heapq.heappush(queue, (chance * share, place, after))
                        place += 1

    def _nodes(self, option: Option, known: dict[object, _Node]) -> list[tuple[float, _Node]]:
        found = []
        for chance, spot, price in option.after:
            belief = [(number, weight) for number, weight in spot.belief if weight > SLIGHT * spot.total]
            kept = fsum([weight for _, weight in belief])
            belief = [(number, weight / kept) for number, weight in belief]
            key = (spot.here, spot.made, spot.done, spot.off, tuple([(n, round(weight, 9)) for n, weight in belief]))
            node = known.get(key)
            if node is None:
                where = Spot(belief, 1.0, spot.here, spot.made, spot.done, spot.off, spot.answered)
                node = known[key] = _Node(where, price)
            found.append((chance, node))
        return found


def _value(node: _Node) -> float:
    """Expected minutes from a node on, by what was followed; never more than its price without."""
    if node.ways:
        ways = [paid + fsum([chance * _value(after) for chance, after in nodes]) for paid, nodes in node.ways]
        node.price, node.ways = min([node.price, *ways]), ()
    return node.price


def _proposal(option: Option) -> Proposal:
    return Proposal(option.kind, option.id, option.minutes, option.expected)
