"""What the planner needs to know of a job: what can be done, in which state, in how many minutes, under which rules.

Purpose: checks, remedies, moves, costs and order rules as plain values, for any knowledge or none.
Law: says nothing of which faults are likely; that comes with each question.
Not here: where it comes from (see `advice`), what is made of it (see `remaining`, `planner`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field


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

    likelihood(check, causes) -> probability of each outcome. bearing[check]: the only causes that it depends on there,
    where that is known.
    look_first[step]: checks to be answered before the step. cure_first[step]: remedies that go before it while
    a cause they cure is suspected (probability at least `suspected`). tries: how often one remedy may be done.
    luck: chance that one fault left does not show in a proof run, drawn afresh for each fault and each run (the reason
    stands at `PROOF_RUN`); the set then comes back and costs `come_back`, or where that is not given what handing over
    costs.
    serves[state]: states whose steps can be made in it as well, with the set left as it is.
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
    serves: Mapping[str, Sequence[str]] = field(default_factory=dict)
    come_back: float | None = None
    bearing: Mapping[str, frozenset[str]] = field(default_factory=dict)
