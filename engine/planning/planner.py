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
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from .one_step import OneStep, Option, Spot, rank
from .remaining import Look, Mend, PlanningProblem, Remaining

__all__ = ["Look", "Mend", "Planner", "PlanningProblem", "Proposal"]

WORK = 12_000
"""How much is followed in one choice: fault sets times checks that are weighed."""
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
    """A spot on a way that is followed. price: expected minutes from there. option: the step taken there, once it is
    followed; after: the nodes it leads to, with their chances."""

    spot: Spot
    price: float
    option: Option | None = None
    after: tuple[tuple[float, _Node], ...] = ()


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
    ) -> tuple[Proposal, ...]:
        """Best steps first.

        sets: fault sets with weights. here: set-up state now. made: checks not to be made again. answered: checks that
        were answered at some time, which is what the order rules ask for.
        used: how often each remedy has been carried out.
        deepen: how many of the best steps are followed further; wide, inner: how many checks are priced at
        the first step and further on (those that tell most for their minutes).
        off: fittings that take minutes to put back, all of them in the problem's `put_back`.
        """
        belief = [(self._remaining.number(present), weight) for present, weight in sets if weight > 0.0]
        total = fsum(weight for _, weight in belief)
        if not belief:
            return (Proposal("refer", "refer", self.problem.refer, self.problem.refer),)
        belief = [(number, weight / total) for number, weight in belief]
        done = tuple((used or {}).get(mend.id, 0) for mend in self.problem.mends)
        spot = Spot(belief, 1.0, here, made, done, off, answered)
        first = sorted(self._rule.options(spot, wide), key=rank)
        if not deepen or len(first) < 2:
            return tuple(map(_proposal, first[:limit]))
        return tuple(self._followed(first, deepen, inner)[:limit])

    def _followed(self, first: list[Option], deepen: int, inner: int) -> list[Proposal]:
        """The same with the best `deepen` of them followed further, and the best remedy: it is what checks must beat."""
        looks = [self._remaining.looks[option.id] for option in first if option.kind == "check"][:inner]
        mends = [self._position[option.id] for option in first if option.kind == "remedy"][:4]
        chosen = first[:deepen]
        if not any(option.kind == "remedy" for option in chosen):
            chosen += [option for option in first[deepen:] if option.kind == "remedy"][:1]
        known: dict[object, _Node] = {}
        heads = [(option, self._nodes(option, known)) for option in chosen]
        self._follow([node for _, nodes in heads for node in nodes], looks, mends, known)
        head = [
            Proposal(option.kind, option.id, option.minutes, option.paid + fsum([c * _value(n) for c, n in nodes]))
            for option, nodes in heads
        ]
        head.sort(key=rank)
        return head + [_proposal(option) for option in first if option not in chosen]

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
            if node.option is not None:
                continue
            node.option = option = self._rule.best(node.spot, looks, mends)
            left -= len(node.spot.belief) * (1 + len(looks) - len(node.spot.made.intersection(looks)))
            node.after = tuple(self._nodes(option, known))
            for share, after in node.after:
                if after.option is None:
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
    if node.option is None:
        return node.price
    return min(node.price, node.option.paid + fsum([chance * _value(after) for chance, after in node.after]))


def _proposal(option: Option) -> Proposal:
    return Proposal(option.kind, option.id, option.minutes, option.expected)
