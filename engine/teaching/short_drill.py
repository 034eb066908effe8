"""A short drill of a unit: a made-up set, a few looks at it, and which of a few causes it is. Two minutes.

Purpose: the plan of a unit and a seed -> a set that has one of its causes, what the looks show there, and what tells.
Law: the same knowledge, plan and seed deal the same drill on every machine. Answers are those of the simulated set, so
they differ from drill to drill; one is dealt only where the looks speak for the cause that is there.
Not here: the long drill from the customer's words to a proven set (see `drill`), asking (see the command line).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, fsum, log

from ..compiler import Knowledge, ShortDrillPlan
from ..readings import read_answer
from ..simulated import Bench, Draws
from .made_up import DrillError

TRIES = 24
SPEAKS = 0.5
"""Chance among the causes asked for, each as likely before, that the true one has to have after the looks."""


@dataclass(frozen=True, slots=True)
class ShortLook:
    """A look at the set: the check, what it showed, its outcome, and how much it spoke for the true cause against the
    mean of the others (natural logarithm of the odds)."""

    check: str
    answer: str
    outcome: str
    weight: float


@dataclass(frozen=True, slots=True)
class ShortDrill:
    """A short drill as dealt. causes: to choose from, in the order in which they are shown; chances: of each, after the
    looks."""

    plan: ShortDrillPlan
    truth: str
    severity: float
    causes: tuple[str, ...]
    looks: tuple[ShortLook, ...]
    chances: tuple[float, ...]

    @property
    def gave_away(self) -> ShortLook:
        """The look that spoke most for the true cause."""
        return max(self.looks, key=lambda look: look.weight)


def short_drill(knowledge: Knowledge, plan: ShortDrillPlan, seed: int | str, truth: str = "") -> ShortDrill:
    """Deal a short drill. truth: the cause that it must have, else any of the plan.

    Raises DrillError where no set was found whose looks tell.
    """
    draws = Draws("short drill", *plan.causes, seed)
    shown, truths = _mixed(plan.causes, draws), _mixed(plan.causes, draws)
    for cause in (truth,) if truth else truths:
        for _ in range(TRIES):
            found = _dealt(knowledge, plan, shown, cause, draws)
            if found.chances[shown.index(cause)] >= SPEAKS:
                return found
    raise DrillError(f"no set was found on which the looks tell {', '.join(plan.causes)}")


def _mixed(names: Sequence[str], draws: Draws) -> tuple[str, ...]:
    return tuple(sorted(names, key=lambda _: draws.uniform()))


def _dealt(knowledge: Knowledge, plan: ShortDrillPlan, causes: tuple[str, ...], truth: str, draws: Draws) -> ShortDrill:
    severity = round(draws.uniform(0.45, 0.95), 2)
    faults = (*((cause, 0.5) for cause in plan.also), (truth, severity))
    bench = Bench(knowledge.features(), faults, int(draws.uniform() * 1e9))
    shown = [(check, bench.answer(check)) for check in plan.looks]
    rows = [_row(knowledge, plan, causes, check, answer) for check, answer in shown]
    weights = [fsum(log(max(row[place], 1e-9)) for _, row in rows) for place in range(len(causes))]
    top = max(weights)
    scaled = [exp(weight - top) for weight in weights]
    whole = fsum(scaled)
    at = causes.index(truth)
    looks = tuple(
        ShortLook(check, answer, outcome, _speaks(row, at))
        for (check, answer), (outcome, row) in zip(shown, rows, strict=True)
    )
    return ShortDrill(plan, truth, severity, causes, looks, tuple(value / whole for value in scaled))


def _row(
    knowledge: Knowledge, plan: ShortDrillPlan, causes: tuple[str, ...], name: str, answer: str
) -> tuple[str, tuple[float, ...]]:
    """The outcome of an answer, and its chance with each of the causes; no outcome and even chances where it tells
    nothing."""
    check = knowledge.checks[name]
    bands = knowledge.catalogue.tolerances["default"].bands.get(name)
    read = read_answer(check, answer, knowledge.features(), bands)
    if not read.outcomes:
        return "", (1.0,) * len(causes)
    fits = read.fits or tuple((outcome, 1.0) for outcome in read.outcomes)
    chances = []
    for cause in causes:
        spread = knowledge.distribution(name, frozenset({cause, *plan.also}))
        chances.append(fsum(spread[check.index(outcome)] * fit for outcome, fit in fits))
    return read.outcomes[0], tuple(chances)


def _speaks(row: tuple[float, ...], at: int) -> float:
    others = [chance for place, chance in enumerate(row) if place != at]
    return log(max(row[at], 1e-9)) - log(max(fsum(others) / len(others), 1e-9))
