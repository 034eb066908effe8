"""A drill as it is dealt: how hard it is, which set, what is wrong with it, and what its customer says.

Purpose: the levels, and the scenario that everything else of a drill is made from.
Law: a value; the same scenario is the same simulated set on every machine.
Assumed, from memory: how mild a fault is at each level.
Not here: what is dealt (see `dealing`), and working on the set (see `drill_set`, `drill`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from ..compiler import Features, Knowledge
from ..simulated import Bench, Draws
from .expert import ExpertPath


@dataclass(frozen=True, slots=True)
class Level:
    """How hard a drill is. severity: from, to (0 just there, 1 as bad as is met). hide: from, to, how far somebody
    has turned the speed adjuster to bring no load back. step: the frequency meter shows only multiples of it, Hz.
    slips: how often a right repair is botched once, which a check can see."""

    number: int
    faults: int
    severity: tuple[float, float]
    hide: tuple[float, float]
    step: float
    slips: float
    told: str


LEVELS: Mapping[int, Level] = {
    level.number: level
    for level in (
        Level(1, 1, (0.5, 0.95), (0.0, 0.0), 0.0, 0.0, "one plain fault, nothing hidden"),
        Level(2, 1, (0.25, 0.65), (0.6, 1.0), 0.0, 0.0, "one milder fault, hidden with the speed adjuster"),
        Level(3, 2, (0.45, 0.9), (0.0, 0.0), 0.0, 0.25, "two faults at once, nothing hidden; work may be botched"),
        Level(
            4,
            2,
            (0.25, 0.65),
            (0.5, 1.0),
            0.5,
            0.35,
            "two milder faults, hidden, a reed meter that shows half hertz; a repair may be botched once",
        ),
    )
}


@dataclass(frozen=True)
class Scenario:
    """A drill as dealt. faults: (cause, severity); complaints: what the customer says, the first the loudest.

    slip: the slip (an id of the knowledge) that happens once to whoever does its work first; none at lower levels.
    expert: how the program comes to fixed on it; None where nobody played it.
    """

    seed: str
    level: Level
    features: Features
    faults: tuple[tuple[str, float], ...]
    hide: float
    complaints: tuple[str, ...]
    slip: str = ""
    expert: ExpertPath | None = field(default=None, compare=False, repr=False)

    @property
    def truth(self) -> tuple[str, ...]:
        return tuple(cause for cause, _ in self.faults)

    def adjuster_is_fault(self, knowledge: Knowledge) -> bool:
        """Whether the speed adjuster is itself one of the faults, so that nobody can be said to have hidden with it."""
        adjuster = knowledge.catalogue.adjusters.get("speed")  # by which a fault is hidden
        own = knowledge.remedies[adjuster.remedy].cures if adjuster is not None else {}
        return any(cause in own for cause in self.truth)

    @cached_property
    def bench(self) -> Bench:
        return Bench(self.features, self.faults, bench_seed(self.seed), self.hide)


def bench_seed(seed: str) -> int:
    """The seed of the simulated set, of that of the drill."""
    return int(Draws("bench", seed).uniform() * 1e9)
