"""A clue: what was seen, as a machine with a few states, and the small matrices that move it.

Purpose: the value that `evidence` makes and `elimination` and `fault_sets` work with.
Law: numbers only, none of them negative; no names.
Not checked here: that weights and matrices are probabilities.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

Vector = list[float]
Matrix = tuple[tuple[float, ...], ...]
"""`matrix[t][s]`: weight of going from clue state s to clue state t."""


@dataclass(frozen=True, slots=True)
class Clue:
    """What was seen, as a machine with `len(start)` states.

    start: weight of each state before any part is looked at (the leak).
    close: weight of each state once every part has been looked at.
    effects: for (part, state) with state >= 1, the matrix that this state of the part applies.
    """

    start: tuple[float, ...]
    close: tuple[float, ...]
    effects: Mapping[tuple[int, int], Matrix]


def apply_matrix(matrix: Matrix, vector: Sequence[float]) -> Vector:
    """matrix times vector, for the few states of one clue."""
    return [fsum(a * b for a, b in zip(row, vector, strict=True) if a) for row in matrix]


def transpose(matrix: Matrix) -> Matrix:
    return tuple(zip(*matrix, strict=True))
