"""Where a set begins to hunt, learned from which trials were steady.

Purpose: the chance that a setting hunts, from a measure that falls as the setting gets sharper (the fall from no load
to full load, or the turns that a needle is open).
Law: Bayes on a grid of thresholds; a set hunts with the chance Phi((threshold - measure) / width). Seen steady, the
threshold is believed lower, seen hunting, higher; what was seen is never forgotten.
Source: probit threshold (textbook); why a governor with too little droop hunts: TM 5-4110-234-14, p. 4-83, c(5); the
typical threshold is knowledge (knowledge/trimming.yaml).
Not here: how a swing is seen or measured.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

GRID = 31
REACH = 4.0
"""Standard deviations of the prior that the grid spans either way."""
BEYOND, FURTHEST, RARE = 0.75, 10.0, 0.005
"""Above that the grid goes on in such strides to so many standard deviations, with so much weight each beside one for
the middle: about one set in two hundred hunts where nobody would expect it, and is learned from like any other."""


def normal_cdf(value: float) -> float:
    """Phi, the normal distribution's share below a value."""
    return 0.5 * math.erfc(-value / math.sqrt(2.0))


@dataclass(frozen=True, slots=True)
class Boundary:
    """Thresholds and how much each is believed; `width` is how blurred the edge is, in the unit of the measure."""

    thresholds: tuple[float, ...]
    weights: tuple[float, ...]
    width: float

    def chance(self, measure: float, deviation: float = 0.0) -> float:
        """Chance of hunting at a measure that is known to a standard deviation."""
        blur = math.hypot(self.width, deviation)
        return math.fsum(
            weight * normal_cdf((threshold - measure) / blur)
            for threshold, weight in zip(self.thresholds, self.weights, strict=True)
        )

    def learned(self, measure: float, hunts: bool, deviation: float = 0.0) -> Boundary:
        """After a trial was seen to hunt or to be steady."""
        blur = math.hypot(self.width, deviation) * (1.0 if hunts else -1.0)
        told = [
            weight * max(1e-12, normal_cdf((threshold - measure) / blur))
            for threshold, weight in zip(self.thresholds, self.weights, strict=True)
        ]
        total = math.fsum(told)
        return replace(self, weights=tuple(each / total for each in told))

    @property
    def edge(self) -> tuple[float, float]:
        """Mean and standard deviation of the threshold."""
        mean = math.fsum(t * w for t, w in zip(self.thresholds, self.weights, strict=True))
        spread = math.fsum(w * (t - mean) ** 2 for t, w in zip(self.thresholds, self.weights, strict=True))
        return mean, math.sqrt(spread)


def boundary(threshold: float, scatter: float, width: float) -> Boundary:
    """The prior: a normal threshold on a grid, with a thin tail towards thresholds that nobody would expect."""
    places = [REACH * (2.0 * k / (GRID - 1) - 1.0) for k in range(GRID)]
    weights = [math.exp(-0.5 * place**2) for place in places]
    tail = [REACH + BEYOND * (k + 1) for k in range(round((FURTHEST - REACH) / BEYOND))]
    weights += [RARE] * len(tail)
    total = math.fsum(weights)
    thresholds = tuple(threshold + scatter * place for place in (*places, *tail))
    return Boundary(thresholds, tuple(weight / total for weight in weights), width)
