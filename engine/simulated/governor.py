"""Flyweight governors: the textbook statics, and the governor of a small set.

Purpose: forces of weights and springs, the speed at which they balance, and how much of it friction swallows.
Law: pure arithmetic; SI units in the textbook part, per unit of the rated point in `SetGovernor`.
Sources: B. K. Sarkar, Theory of Machines, ch. 7; T. Bevan, The Theory of Machines, ch. 13; sensitivity by the place at
which the spring pulls and speed by its tension: TM 5-4110-234-14, p. 4-83, c(4) and c(5).
Not checked here: strength, wear, and any motion over time (see `plant`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

GRAVITY = 9.81
"""m/s2; as the textbooks round it, so that g/w2 is their 895/N2 within 0.05 %."""


def angular(rpm: float) -> float:
    """Speed in rad/s from rpm."""
    return rpm * math.pi / 30.0


def rpm_of(angular_speed: float) -> float:
    """Speed in rpm from rad/s."""
    return angular_speed * 30.0 / math.pi


def watt_height(rpm: float) -> float:
    """Height in m of a Watt governor, h = g/w2 (Sarkar, ch. 7). Raises ValueError for a speed that is not positive."""
    return GRAVITY / angular(_positive("rpm", rpm)) ** 2


def watt_speed(height: float) -> float:
    """Speed in rpm of a Watt governor of a height in m, the inverse of `watt_height`."""
    return rpm_of(math.sqrt(GRAVITY / _positive("height", height)))


def link_ratio(upper: float, lower: float, radius: float, offset: float) -> float:
    """k = tan(beta)/tan(alpha) of a Porter governor, upper arms pivoted on the axis.

    upper, lower: arm lengths; radius: of the balls; offset: of the lower pivots from the axis; one unit of length.
    """
    beta = (radius - offset) / _leg(lower, radius - offset)
    return beta * _leg(upper, radius) / radius


def porter_height(arm: float, radius: float) -> float:
    """Height of a Porter governor, arms pivoted on the axis, in the unit of its arguments."""
    return _leg(arm, radius)


def porter_speed(height: float, ball: float, sleeve: float, ratio: float = 1.0, friction: float = 0.0) -> float:
    """Speed in rpm at which a Porter governor balances.

    N2 = (895/h) * (m g + (M g + F)(1 + k)/2) / (m g) (Sarkar, ch. 7, Illustrations 3 and 5; Bevan, ch. 13, Example 1).
    height: m; ball, sleeve: kg; ratio: k of `link_ratio`; friction: N at the sleeve, + while it rises, - as it falls.
    """
    weight = _positive("ball", ball) * GRAVITY
    lifted = weight + (sleeve * GRAVITY + friction) * (1.0 + ratio) / 2.0
    return rpm_of(math.sqrt(GRAVITY / _positive("height", height) * _positive("lifted weight", lifted) / weight))


def porter_effort(height: float, ball: float, sleeve: float, lift: float, ratio: float = 1.0) -> tuple[float, float]:
    """Rise of speed (fraction) for a lift of the sleeve in m, and the mean effort in N while it is taken.

    c = x/(2(h(1 + k) - x)), effort = c g (2 m/(1 + k) + M) (Sarkar, ch. 7, Illustration 4). Power is effort * lift.
    """
    rise = lift / (2.0 * (height * (1.0 + ratio) - lift))
    return rise, rise * GRAVITY * (2.0 * ball / (1.0 + ratio) + sleeve)


def hartnell_load(ball: float, radius: float, rpm: float, ball_arm: float, sleeve_arm: float) -> float:
    """Spring load in N of a Hartnell governor, S = 2 (a/b) m w2 r, ball weight neglected (Sarkar, ch. 7, Ill. 7)."""
    return 2.0 * ball_arm / sleeve_arm * ball * angular(rpm) ** 2 * radius


def hartnell_speed(load: float, ball: float, radius: float, ball_arm: float, sleeve_arm: float) -> float:
    """Speed in rpm at which a Hartnell governor balances a spring load in N, the inverse of `hartnell_load`."""
    return rpm_of(math.sqrt(_positive("load", load) * sleeve_arm / (2.0 * ball_arm * ball * radius)))


def dead_band(rpm: float, load: float, friction: float) -> float:
    """Change of speed in rpm that friction in N at the sleeve swallows, N (sqrt((P + F)/P) - sqrt((P - F)/P)).

    load: spring force P in N at the middle of the lift (Sarkar, ch. 7, Illustration 9).
    """
    _positive("load less friction", load - friction)
    return rpm * (math.sqrt((load + friction) / load) - math.sqrt((load - friction) / load))


def insensitiveness(friction: float, sleeve: float, ball: float) -> float:
    """(N1 - N2)/N of a Porter governor with equal arms, fs/(W + w); one unit of force (Bevan, ch. 13, Example 10)."""
    return friction / (sleeve + ball)


def proell_link(height: float, ball: float, sleeve: float, rpm: float) -> float:
    """Length in m from the ball down to the foot of the link, 895 (m + M)/(N2 m) (Sarkar, ch. 7, Illustration 11).

    height: of the link pivots, in m, taken as the vertical part of the link; equal arms. Less `height`, the extension.
    """
    return watt_height(rpm) * (ball + sleeve) / ball * height / _positive("height", height)


def porter_tension(ball: float, sleeve: float, arm: float, height: float) -> float:
    """Pull in N in each upper arm, g (m + M/2) * arm/height (Sarkar, ch. 7, Illustration 11)."""
    return GRAVITY * (ball + sleeve / 2.0) * arm / _positive("height", height)


def auxiliary_stiffness(
    forces: tuple[float, float], radii: tuple[float, float], ball_arm: float, sleeve_arm: float, ball_springs: float
) -> float:
    """Stiffness of the sleeve spring beside springs that join the balls (Bevan, ch. 13, Example 4).

    p = 2 (a/b)2 ((F1 - F2)/(r1 - r2) - 4 pb); forces and radii at two speeds, ball_springs pb of both together.
    """
    slope = (forces[0] - forces[1]) / (radii[0] - radii[1])
    return 2.0 * (ball_arm / sleeve_arm) ** 2 * (slope - 4.0 * ball_springs)


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

    def pull_for(self, speed: float, travel: float, boost: float = 0.0) -> float:
        """Tension that balances at a speed and travel, the inverse of `balance`."""
        return (self.weights(speed, travel) - boost) / self.lever - self.rate * self.lever * travel

    def band(self, travel: float, drag: float) -> float:
        """Half of the dead band of speed that a drag torque makes at a travel, about drag / (2 speed * radius)."""
        speed = self.balance(travel)
        return drag / (2.0 * max(speed, 1e-9) * self.drive_ratio**2 * (self.radius + self.spread * travel))


def _positive(name: str, value: float) -> float:
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(f"{name} of {value:g}; expected more than 0")
    return value


def _leg(hypotenuse: float, side: float) -> float:
    if not abs(side) < hypotenuse:
        raise ValueError(f"radius of {side:g} with an arm of {hypotenuse:g}; expected less than the arm")
    return math.sqrt(hypotenuse**2 - side**2)
