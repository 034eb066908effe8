"""The next setting: which adjusters to turn, which way and how far.

Purpose: the chance that a setting meets the goal and is steady, and the step, within bounds, that makes it highest.
Law: a pure search; the same response, boundary and goal give the same step. A step is a whole number of the finest
turns that can be told on the adjuster, never longer than the longest, never outside the thread, and never one that may
reach the overspeed limit within two standard deviations. Walking a steady set into hunting costs a part of what a right
setting gains, and all of it once it has happened: a set is walked into hunting once at most.
Method: the readings are normal about the learned line; with two readings the chance is a sum over their difference,
because that is what decides hunting and has limits of its own; the search halves its stride from whole turns on.
Not here: learning (`response`, `hunting`), and whether to go on at all (`trim`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from .response import Matrix, Response, Vector
from .stability_limit import Boundary, normal_cdf

NODES = 12
HUNTING_COSTS = (0.4, 1.0)
"""What a hunting trial costs, in right settings: the first time, and again."""
BOTH_COSTS = 0.04
"""What turning two adjusters at once has to gain, as part of the better chance: with one, the trial says what that one
does. Where neither comes near, the way there is what counts."""


@dataclass(frozen=True, slots=True)
class Goal:
    """Limits of each reading, of their difference (first less last) where there are two, and where to aim, Hz."""

    low: Vector
    high: Vector
    difference: tuple[float, float]
    target: Vector
    overspeed: float = math.inf
    peak: float = math.inf

    def holds(self, values: Sequence[float | None]) -> bool:
        """Whether readings lie within; one that was not taken lies nowhere."""
        known = [value for value in values if value is not None]
        if len(known) < len(self.low):
            return False
        inside = all(low <= value < high for low, value, high in zip(self.low, known, self.high, strict=True))
        return inside and (len(known) == 1 or self.difference[0] <= known[0] - known[-1] < self.difference[1])

    def near(self, distance: float) -> Goal:
        """The same limits, no further than a distance from the target."""
        return Goal(
            tuple(max(low, aim - distance) for low, aim in zip(self.low, self.target, strict=True)),
            tuple(min(high, aim + distance) for high, aim in zip(self.high, self.target, strict=True)),
            self.difference, self.target, self.overspeed, self.peak,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class TurnLimits:
    """Turns: finest that can be told, longest in one trial, ends of the thread."""

    finest: float
    longest: float
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True)
class Edge:
    """The boundary of hunting, and what it is on: an adjuster's place, or (None) the difference of the readings."""

    boundary: Boundary
    adjuster: int | None = None
    tilt: float = 0.0
    """Hz by which the edge rises for each Hz of the first reading above `hertz`: what holds a governor back is the
    spring's stiffness less that of the weights, and theirs goes with the square of the speed."""
    hertz: float = 0.0

    def measure(self, place: Sequence[float], mean: Sequence[float]) -> float:
        if self.adjuster is not None:
            return place[self.adjuster]
        return mean[0] - mean[-1] - self.tilt * (mean[0] - self.hertz)

    def deviation(self, covariance: Matrix) -> float:
        """Standard deviation of the measure."""
        if self.adjuster is not None:
            return 0.0
        own = 1.0 - self.tilt
        return math.sqrt(max(0.0, own * own * covariance[0][0] + covariance[-1][-1] - 2.0 * own * covariance[0][-1]))


@dataclass(frozen=True, slots=True)
class NextSetting:
    """A setting and what is expected of it: readings with standard deviations, chance to be right, chance to hunt."""

    place: Vector
    mean: Vector
    deviation: Vector
    success: float
    hunting: float
    worth: float
    alone: float = 0.0
    """Where both are turned, the chance to be right of the best setting with one turned alone."""


@dataclass(frozen=True, slots=True)
class SettingSearch:
    """Everything that a search needs."""

    goal: Goal
    response: Response
    edge: Edge
    adjusters: tuple[TurnLimits, ...]
    steady: bool
    """Whether the set is steady where it stands now."""
    walked: bool = False
    """Whether it has been walked into hunting already."""

    def choice(self, place: Sequence[float]) -> NextSetting:
        """What is expected of a setting."""
        mean, covariance = self.response.predict(place)
        success = self.success(place, mean, covariance)
        hunting = self.edge.boundary.chance(self.edge.measure(place, mean), self.edge.deviation(covariance))
        deviation = tuple(math.sqrt(max(0.0, covariance[k][k])) for k in range(len(mean)))
        # How unsure it is counts in the chance alone: out of reach, a long turn is no worse for teaching more.
        miss = math.fsum((value - aim) ** 2 for value, aim in zip(mean, self.goal.target, strict=True))
        cost = HUNTING_COSTS[self.walked] * (1.0 if self.steady else 0.5)
        worth = success - cost * hunting - 0.02 * math.sqrt(miss)
        return NextSetting(tuple(place), mean, deviation, success, hunting, worth)

    def success(self, place: Sequence[float], mean: Vector, covariance: Matrix) -> float:
        """Chance that the readings' true values lie within the goal and the set is steady."""
        goal, edge = self.goal, self.edge
        first = math.sqrt(max(covariance[0][0], 1e-8))
        if len(mean) == 1:
            inside = normal_cdf((goal.high[0] - mean[0]) / first) - normal_cdf((goal.low[0] - mean[0]) / first)
            return inside * (1.0 - edge.boundary.chance(edge.measure(place, mean)))
        difference = mean[0] - mean[1]
        variance = max(covariance[0][0] + covariance[1][1] - 2.0 * covariance[0][1], 1e-8)
        spread = math.sqrt(variance)
        low = max(goal.difference[0], difference - 4.0 * spread)
        high = min(goal.difference[1], difference + 4.0 * spread)
        if high <= low:
            return 0.0
        slope = (covariance[0][0] - covariance[0][1]) / variance
        left = math.sqrt(max(covariance[0][0] - slope * slope * variance, 1e-8))
        total, stride = 0.0, (high - low) / NODES
        own = None if edge.adjuster is None else 1.0 - edge.boundary.chance(edge.measure(place, mean))
        before = normal_cdf((low - difference) / spread)
        for node in range(NODES):
            after = normal_cdf((low + (node + 1) * stride - difference) / spread)
            at = low + (node + 0.5) * stride
            middle = mean[0] + slope * (at - difference)
            least, most = max(goal.low[0], goal.low[1] + at), min(goal.high[0], goal.high[1] + at)
            if most > least and after > before:
                inside = normal_cdf((most - middle) / left) - normal_cdf((least - middle) / left)
                total += (
                    (after - before)
                    * inside
                    * (1.0 - edge.boundary.chance(at - edge.tilt * (middle - edge.hertz)) if own is None else own)
                )
            before = after
        return total

    def best(self) -> NextSetting:
        """The setting to try next: one adjuster alone unless two are worth it, and never where the set stands now."""
        alone = [self._search((k,)) for k in range(len(self.adjusters))]
        one = max(alone, key=lambda choice: choice.worth)
        if len(alone) == 1:
            return one
        both = self._search(tuple(range(len(alone))))
        cost = BOTH_COSTS * max(one.success, both.success)
        return replace(both, alone=one.success) if both.worth > one.worth + cost else one

    def allowed(self, place: Sequence[float], choice: NextSetting) -> bool:
        """Whether a setting may be tried."""
        here = self.response.at
        for adjuster, old, new in zip(self.adjusters, here, place, strict=True):
            if abs(new - old) > adjuster.longest + 1e-9 or not adjuster.lowest <= new <= adjuster.highest:
                return False
        fastest = max(mean + 2.0 * own for mean, own in zip(choice.mean, choice.deviation, strict=True))
        # A set that already runs fast may only be brought down.
        now = self.response.predict(here)[0]
        return fastest < self.goal.overspeed or choice.mean[0] < now[0]

    def _search(self, turned: tuple[int, ...]) -> NextSetting:
        here = self.response.at
        start = self._straight(turned)
        seen: dict[Vector, NextSetting | None] = {}

        def look(place: Vector) -> NextSetting | None:
            if place not in seen:
                choice = self.choice(place)
                seen[place] = choice if place != here and self.allowed(place, choice) else None
            return seen[place]

        best = look(start)
        stride = 8.0
        while stride >= 1.0:
            moved = True
            while moved:
                moved = False
                base = best.place if best is not None else start
                for offsets in _around(len(turned)):
                    place = list(base)
                    for k, offset in zip(turned, offsets, strict=True):
                        place[k] = self._whole(k, place[k] + offset * stride * self.adjusters[k].finest)
                    found = look(tuple(place))
                    if found is not None and (best is None or found.worth > best.worth + 1e-9):
                        best, moved = found, True
            stride *= 0.5
        if best is None:  # every place around is barred: the least turn of the first adjuster that is not
            for k in turned:
                for way in (1.0, -1.0):
                    place = list(here)
                    place[k] += way * self.adjusters[k].finest
                    best = best or look(tuple(place))
        return best if best is not None else self.choice(here)

    def _whole(self, k: int, turns: float) -> float:
        adjuster, here = self.adjusters[k], self.response.at[k]
        low, high = max(adjuster.lowest, here - adjuster.longest), min(adjuster.highest, here + adjuster.longest)
        steps = round((min(high, max(low, turns)) - here) / adjuster.finest)
        while here + steps * adjuster.finest > high + 1e-9:
            steps -= 1
        while here + steps * adjuster.finest < low - 1e-9:
            steps += 1
        return here + steps * adjuster.finest

    def _straight(self, turned: tuple[int, ...]) -> Vector:
        """Where the line meets the target, or comes nearest to it with one adjuster."""
        here, response = self.response.at, self.response
        now, _ = response.predict(here)
        off = [aim - value for aim, value in zip(self.goal.target, now, strict=True)]
        slopes = [[response.slope(reading, k)[0] for k in turned] for reading in range(len(off))]
        place = list(here)
        if len(turned) == 2 and len(off) == 2:
            (a, b), (c, d) = slopes
            determinant = a * d - b * c
            if abs(determinant) > 1e-6:
                place[turned[0]] += (d * off[0] - b * off[1]) / determinant
                place[turned[1]] += (a * off[1] - c * off[0]) / determinant
        else:
            square = math.fsum(row[0] ** 2 for row in slopes)
            if square > 1e-9:
                place[turned[0]] += math.fsum(row[0] * left for row, left in zip(slopes, off, strict=True)) / square
        return tuple(self._whole(k, turns) if k in turned else turns for k, turns in enumerate(place))


def _around(count: int) -> tuple[tuple[float, ...], ...]:
    if count == 1:
        return ((1.0,), (-1.0,))
    return ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0), (1.0, 1.0), (-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0))
