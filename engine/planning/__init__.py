"""Which step leads to fixed and proven in the fewest expected minutes, and why.

In: fault sets with weights, where the set stands, what is settled. Out: priced proposals with their reason.
Never: records anything; asks what the steps mean.
"""

from . import why
from .planner import Look, Mend, Planner, PlanningProblem, Proposal
from .remaining import Remaining

__all__ = [
    "Look",
    "Mend",
    "Planner",
    "PlanningProblem",
    "Proposal",
    "Remaining",
    "why",
]
