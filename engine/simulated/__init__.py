"""A simulated set: the physics of a small governed set, its faults, and a bench on which checks are made.

In: a size, causes with severities, a seed; or a seed alone, for a member of the family that trade ranges describe.
Out: a set that answers every check as a meter would.
Never: reads the strengths of the knowledge, so that its answers are an opinion of their own.
"""

from .bench import CHECKS, COLLAPSES, STALLS, TRIPS, Bench
from .draws import Draws, draw_state
from .equilibrium import choke_opening, equilibrium
from .family import FamilyMember, draw_faults, family_member
from .faults import FAULTS

__all__ = [
    "CHECKS",
    "COLLAPSES",
    "FAULTS",
    "STALLS",
    "TRIPS",
    "Bench",
    "Draws",
    "FamilyMember",
    "choke_opening",
    "draw_faults",
    "draw_state",
    "equilibrium",
    "family_member",
]
