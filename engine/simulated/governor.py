"""The flyweight governor of a small set.

Purpose: forces of weights and springs, and the speed at which they balance.
Law: pure arithmetic, per unit of the rated point.
Sources: statics as of the Hartnell governor in B. K. Sarkar, Theory of Machines, ch. 7; sensitivity by the place at
which the spring pulls and speed by its tension: TM 5-4110-234-14, p. 4-83, c(4) and c(5).
Not checked here: strength, wear, and any motion over time (see `plant`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SetGovernor:
    """The governor of a small set, in per unit.

    Speed is per unit of rated, torque on the cross shaft per unit of that of the weights at rated speed and mid travel,
    travel 0 with the weights in (throttle open) to 1 with the weights out. The weights turn the arm by
    speed2 * (radius + spread * travel). The spring hooks on at `lever` from the shaft, and turns it the other way by
    lever * (tension + rate * lever * travel): tension is the speed adjuster, the lever the sensitivity adjuster.
    """

    radius: float = 0.7
    spread: float = 0.6
    rate: float = 0.98
    tension: float = 0.535
    speed_turns: float = 0.0
    sensitivity_turns: float = 0.0
    tension_per_turn: float = 0.03
    thread: float = 10.0
    """Turns that the speed adjuster has either way."""
    hole: float = 1.0
    """Distance from shaft to spring with the sensitivity adjuster in the middle."""
    lever_per_turn: float = 0.01
    damping: float = 0.04
    """s: torque per travel per second."""
    drag: float = 0.001
    """Coulomb torque of weights, sleeve and shaft."""
    innermost: float = 0.0
    outermost: float = 1.0
    drive_ratio: float = 1.0
    """Speed of the weights over the speed they should have; a slipping drive is below 1."""

    @property
    def lever(self) -> float:
        """Distance from shaft to spring; turns toward sharp shorten it."""
        return self.hole - self.lever_per_turn * self.sensitivity_turns

    @property
    def pull(self) -> float:
        """Tension of the spring with the weights in; turns up raise it. A spring can only pull."""
        turns = max(-self.thread, min(self.thread, self.speed_turns))
        return max(0.0, self.tension + self.tension_per_turn * turns)

    def weights(self, speed: float, travel: float) -> float:
        """Torque of the weights toward closed."""
        return (self.drive_ratio * speed) ** 2 * (self.radius + self.spread * travel)

    def spring(self, travel: float) -> float:
        """Torque of the spring toward open."""
        return self.lever * (self.pull + self.rate * self.lever * travel)

    def stiffness(self, speed: float) -> float:
        """Torque that brings the arm back, per travel: spring less weights. Zero is isochronous, less is unstable."""
        return self.rate * self.lever**2 - self.spread * (self.drive_ratio * speed) ** 2

    def balance(self, travel: float, boost: float = 0.0) -> float:
        """Speed at which weights and spring (and a booster's torque) balance at a travel; 0 where nothing pulls."""
        opening = max(0.0, self.spring(travel) + boost)
        return math.sqrt(opening / (self.radius + self.spread * travel)) / self.drive_ratio
