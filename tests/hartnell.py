"""A Hartnell governor as textbooks work it: an opinion that is not the program's own.

Purpose: the spring load that balances the balls at a speed, the speed that a spring load balances, and what a turn of
an adjuster does to it.
Source: B. K. Sarkar, Theory of Machines, ch. 7, Illustration 7; `test_outside_governor` holds it against the print.
Not here: friction, the weight of the balls, anything over time.
"""

from __future__ import annotations

import math


def hartnell_load(ball: float, radius: float, rpm: float, ball_arm: float, sleeve_arm: float) -> float:
    """Spring load in N of a Hartnell governor, S = 2 (a/b) m w2 r, ball weight neglected (Sarkar, ch. 7, Ill. 7)."""
    return 2.0 * ball_arm / sleeve_arm * ball * (rpm * math.pi / 30.0) ** 2 * radius


def hartnell_speed(load: float, ball: float, radius: float, ball_arm: float, sleeve_arm: float) -> float:
    """Speed in rpm at which a Hartnell governor balances a spring load in N, the inverse of `hartnell_load`."""
    return math.sqrt(load * sleeve_arm / (2.0 * ball_arm * ball * radius)) * 30.0 / math.pi


def relative_speed(pull: float, radius: float = 1.0) -> float:
    """Speed over what it was, when the pull of the spring and the radius of the weights become so many times as large.

    Weights and spring balance where pull = constant * radius * speed2 (Hartnell), so speed goes as the root of
    pull/radius: 1 % more tension is 0.5 % more speed. Raises ValueError where either is not above nil.
    """
    if not (pull > 0.0 and radius > 0.0):
        raise ValueError(f"pull of {pull:g} at a radius of {radius:g}; expected both above nil")
    return math.sqrt(pull / radius)


def governor_slopes(hertz: float, tension: float, lever: float, share: float) -> tuple[float, float]:
    """Hz for a turn of the speed adjuster and of the sensitivity adjuster, from the balance of weights and spring.

    hertz: where it stands. tension, lever: part of the spring's tension and of its lever that one turn adds. share:
    part of the spring's pull at this load that is tension set by the adjuster; the rest comes from its stretch as the
    weights move, which goes with the lever once more. With the weights in (loaded) the share is 1.
    """
    speed = hertz * (relative_speed(1.0 + share * tension) - 1.0)
    sensitivity = hertz * (relative_speed((1.0 + lever) * (share + (1.0 - share) * (1.0 + lever))) - 1.0)
    return speed, sensitivity
