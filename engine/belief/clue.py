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
Matrix = tuple[tuple[tuple[int, float], ...], ...]
"""`matrix[t]`: each clue state s from which t can be reached, in rising order, with the weight of going there. Where
many looks share a draw there are dozens of states, and from each only a few can be reached."""


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
    result = []
    for row in matrix:
        if len(row) == 1:
            ((source, weight),) = row
            result.append(weight * vector[source])
        else:
            result.append(fsum([weight * vector[source] for source, weight in row]))
    return result


def transpose(matrix: Matrix) -> Matrix:
    """The matrix with rows and columns exchanged; it has as many of the one as of the other."""
    columns: list[list[tuple[int, float]]] = [[] for _ in matrix]
    for target, row in enumerate(matrix):
        for source, weight in row:
            columns[source].append((target, weight))
    return tuple(map(tuple, columns))
