"""The breaker of a set: how long it holds a current.

Purpose: a current over the rating of the breaker -> seconds until it opens.
Law: pure. A strip that warms with the square of the current opens it, sooner the more there is; a coil at once from
`AT_ONCE` times the rating on. What it held before is forgotten: it has cooled.
Source: limits of thermal-magnetic breakers: UL 489 (holds its rating; opens within an hour at 135 percent, within two
minutes at 200 percent up to 30 A) and IEC 60898-1 (holds 1.13 times for an hour; opens within an hour at 1.45 times, in
1 to 60 s at 2.55 times), all from memory. HOLDS and WARMS are ours, chosen to lie within both.
Not here: what a set does without its load (see `running`).
"""

from __future__ import annotations

import math

HOLDS = 1.2
"""Times its rating that it holds for ever."""
WARMS = 150.0
"""Time constant of the strip, s."""
AT_ONCE = 8.0
"""Times its rating from which on the coil opens it."""


def opens_after(current: float) -> float:
    """Seconds for which a cold breaker holds a current, in times its rating; infinite where it holds it for ever."""
    if current >= AT_ONCE:
        return 0.0
    if current <= HOLDS:
        return math.inf
    return WARMS * math.log(current**2 / (current**2 - HOLDS**2))
