"""A simulated set: the physics of a small governed set, its faults, and a bench on which checks are made.

In: a size, causes with severities, a seed. Out: a set that answers every check as a meter would.
Never: reads the strengths of the knowledge, so that its answers are an opinion of their own.
"""

from .bench import Bench
from .draws import Draws
from .faults import FAULTS

__all__ = [
    "FAULTS",
    "Bench",
    "Draws",
]
