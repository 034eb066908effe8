"""What tells two things apart: causes by checks, checks by causes.

Purpose: for two causes, how strongly each check speaks for the right one, and what that costs; for two checks,
which causes each shows.
The power of a check for A against B is the mean log of the likelihood ratio where A alone is there: the
Kullback-Leibler divergence of its outcomes under A from those under B. It differs the other way round.
Law: pure; figures are those the reasoning uses, each cause being there alone, with the leak of the check.
Source: S. Kullback and R. A. Leibler, Annals of Mathematical Statistics 22 (1951), 79-86 (from memory).
Not here: sets with several faults, and what to do next (see `planner`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..compiler import Knowledge

ALIKE = 0.02
"""Power, in both directions, below which a check as good as never tells two causes apart: a factor of 1.02."""


@dataclass(frozen=True, slots=True)
class Power:
    """How a check tells two causes apart.

    toward_first, toward_second: its power in nats where the first, or the second, is there; inf where one of its
    answers settles it. `outcome` is the answer whose chances differ most, `first` and `second` those chances.
    minutes: hands-on, without the move to its set-up state.
    """

    check: str
    outcome: str
    first: float
    second: float
    toward_first: float
    toward_second: float
    minutes: float

    @property
    def weaker(self) -> float:
        """The power that can be counted on, whichever of the two it is."""
        return min(self.toward_first, self.toward_second)

    @property
    def mean(self) -> float:
        return (self.toward_first + self.toward_second) / 2.0

    @property
    def per_minute(self) -> float:
        """Mean power for each hands-on minute; a check of no minutes counts as half a minute."""
        return self.mean / max(self.minutes, 0.5)

    @property
    def factors(self) -> tuple[float, float]:
        """By how much one answer changes the odds on average, where the first is there and where the second is."""
        return math.exp(self.toward_first), math.exp(self.toward_second)


def divergence(one: Sequence[float], two: Sequence[float]) -> float:
    """Kullback-Leibler divergence of `one` from `two`, in nats; inf where `two` rules out what `one` allows."""
    if any(a > 0.0 and b <= 0.0 for a, b in zip(one, two, strict=True)):
        return math.inf
    found = math.fsum(a * math.log(a / b) for a, b in zip(one, two, strict=True) if a > 0.0)
    return max(0.0, found)


def seen(knowledge: Knowledge, check: str, cause: str | None = None) -> tuple[float, ...]:
    """Chance of every outcome of a check with one cause there, or none; of a retired check, its leak."""
    if check not in knowledge.network.leak:
        return knowledge.checks[check].leak
    return knowledge.distribution(check, frozenset({cause} if cause else ()))


def powers(knowledge: Knowledge, first: str, second: str) -> tuple[Power, ...]:
    """Every check that either cause bears on, the one that tells them apart best first."""
    checks = dict.fromkeys((*knowledge.causes[first].shows, *knowledge.causes[second].shows))
    found = [_power(knowledge, check, first, second) for check in checks if knowledge.checks[check].retired is None]
    return tuple(sorted(found, key=lambda each: (-each.mean, -each.weaker, each.check)))


def _power(knowledge: Knowledge, check: str, first: str, second: str) -> Power:
    one, two = (seen(knowledge, check, cause) for cause in (first, second))
    gaps = [abs(a - b) for a, b in zip(one, two, strict=True)]
    at = max(range(len(gaps)), key=gaps.__getitem__)
    found = knowledge.checks[check]
    return Power(
        check, found.outcomes[at].id, one[at], two[at], divergence(one, two), divergence(two, one), found.minutes
    )


def alike(found: Sequence[Power]) -> tuple[Power, ...]:
    """The checks that look the same with either cause."""
    return tuple(each for each in found if max(each.toward_first, each.toward_second) < ALIKE)


# ---- two checks


@dataclass(frozen=True, slots=True)
class JointShowing:
    """What a cause alone does to two checks: its chance of an answer that is not the normal one, None: bears not on."""

    cause: str
    first: float | None
    second: float | None


def moved_by(knowledge: Knowledge, first: str, second: str) -> tuple[JointShowing, ...]:
    """The causes that bear on either check: on both, on the first only, on the second only; strongest first."""
    found = []
    for name, cause in knowledge.causes.items():
        if cause.retired is None and (first in cause.shows or second in cause.shows):
            one, two = (
                1.0 - seen(knowledge, check, name)[0] if check in cause.shows else None for check in (first, second)
            )
            found.append(JointShowing(name, one, two))
    return tuple(
        sorted(found, key=lambda row: (row.first is None, row.second is None, -max(row.first or 0, row.second or 0)))
    )
