"""The adjusting coach: from trials to the next thing to turn.

In: trials (settings, readings, steady or hunting). Out: the next setting with what to expect, or what turning cannot
explain.
Never: reads the strengths of the knowledge; proposes a setting that may overspeed.
"""

from .coach import Coach, NextTurn, TrimError, facts_of, goal_of, order_of, pair_of
from .trial import Trial

__all__ = [
    "Coach",
    "NextTurn",
    "Trial",
    "TrimError",
    "facts_of",
    "goal_of",
    "order_of",
    "pair_of",
]
