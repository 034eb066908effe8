"""Exact probability: findings in, posteriors and fault sets out.

In: the tables of the knowledge, findings, remedies, proof runs. Out: marginals, the most probable fault sets, the
chance of the whole.
Never: knows of a job, minutes or words; subtracts large sums.
"""

from .clue import Clue, apply_matrix
from .elimination import Solution, solve
from .elimination_order import Order, order_of
from .evidence import Tables, tables
from .fault_sets import Explanations, explain
from .finding import Complaining, Finding
from .resemblance import look_alikes, overlap, signs
from .shared_draw import CauseSpan

__all__ = [
    "CauseSpan",
    "Clue",
    "Complaining",
    "Explanations",
    "Finding",
    "Order",
    "Solution",
    "Tables",
    "apply_matrix",
    "explain",
    "look_alikes",
    "order_of",
    "overlap",
    "signs",
    "solve",
    "tables",
]
