"""Fault sets: which combinations of causes explain everything found, most probable first.

Purpose: the joint view that marginals cannot give; the planner carries these sets.

Combinations of part states are visited depth first. Given one combination the clues are independent, so its
probability is a product of small vectors: exact, and the share of the total that the visited sets cover is known.
A branch is left when even a perfect explanation of every clue could not lift it above `floor` of the best found.

Law: pure; sets in falling probability, ties by the names of their causes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, prod
from operator import mul

from .clue import Clue, Matrix, Vector, apply_matrix
from .elimination import fold
from .evidence import Tables
from .shared_draw import CauseSpan


@dataclass(frozen=True, slots=True)
class Explanations:
    """`sets`: (causes present now, probability), most probable first. `covered`: share of the total in them."""

    sets: tuple[tuple[frozenset[str], float], ...]
    covered: float


@dataclass(frozen=True, slots=True)
class _Choice:
    """One state of one part that is not sound, with its odds against sound."""

    part: int
    state: int
    life: CauseSpan
    odds: float


def explain(
    tables: Tables,
    marginals: Sequence[Sequence[float]],
    total: float,
    *,
    breadth: int = 14,
    depth: int = 4,
    floor: float = 1e-4,
    absorb: bool = False,
) -> Explanations:
    """Fault sets over the `breadth` most probable states, at most `depth` at once.

    absorb: False, every other part is sound, probabilities are exact and `covered` is their sum.
    True, the other parts act on each clue as a background (their own chances, clue by clue); the sets are then
    scaled to sum to one, and `covered` tells how much of the exact total the same sets hold.
    """
    weights, clues = fold(tables.weights, tables.clues)
    choices = _choices(tables, weights, marginals)
    chosen = choices[:breadth]
    inside = {choice.part for choice in chosen}
    outside = [(part, states) for part, states in enumerate(weights) if absorb and part not in inside]
    vectors = [_with_background(clue, outside) for clue in clues]
    base = prod(states[0] for states in weights)
    found: dict[frozenset[str], float] = {}
    best = [0.0]

    moves = [_moves(clues, choice) for choice in chosen]
    closes = [clue.close for clue in clues]

    def visit(
        start: int, present: frozenset[str], used: tuple[int, ...], odds: float,
        vectors: list[Vector], closed: list[float],
    ) -> None:  # fmt: skip
        weight = odds
        for value in closed:
            weight *= value
        found[present] = found.get(present, 0.0) + weight
        best[0] = max(best[0], weight)
        if len(used) >= depth:
            return
        for position in range(start, len(chosen)):
            choice = chosen[position]
            following = odds * choice.odds
            if choice.part in used or following < floor * best[0]:
                continue
            moved, then = vectors.copy(), closed.copy()
            for place, matrix in moves[position]:
                vector = moved[place] = apply_matrix(matrix, vectors[place])
                then[place] = fsum(map(mul, closes[place], vector))
            life = choice.life
            now = present | {life.cause} if life.cause and life.last == tables.now else present
            visit(position + 1, now, (*used, choice.part), following, moved, then)

    closed = [fsum(map(mul, close, vector)) for close, vector in zip(closes, vectors, strict=True)]
    visit(0, frozenset(), (), base, vectors, closed)
    scale = total if not absorb else fsum(found.values())
    ordered = sorted(found.items(), key=lambda item: (-item[1], sorted(item[0])))
    sets = tuple((present, weight / scale) for present, weight in ordered if weight > 0.0 and scale > 0.0)
    return Explanations(sets, fsum(probability for _, probability in sets))


def _moves(clues: Sequence[Clue], choice: _Choice) -> list[tuple[int, Matrix]]:
    """The few clues that a choice moves, by place; the others keep their vectors and what those come to."""
    found = ((place, clue.effects.get((choice.part, choice.state))) for place, clue in enumerate(clues))
    return [(place, matrix) for place, matrix in found if matrix is not None]


def _choices(tables: Tables, weights: Sequence[Sequence[float]], marginals: Sequence[Sequence[float]]) -> list[_Choice]:
    """Every state that is not sound and can be, the most probable first."""
    choices = [
        _Choice(part, state, life, weights[part][state] / weights[part][0])
        for part, states in enumerate(tables.lives)
        for state, life in enumerate(states)
        if state and weights[part][state] > 0.0 and weights[part][0] > 0.0
    ]
    return sorted(choices, key=lambda choice: -marginals[choice.part][choice.state])


def _with_background(clue: Clue, outside: Sequence[tuple[int, Sequence[float]]]) -> Vector:
    """What a clue starts from, with the parts outside (their number, their chances) acting on it."""
    vector = list(clue.start)
    for part, states in outside:
        vector = _background(clue, part, states, vector)
    return vector


def _background(clue: Clue, part: int, states: Sequence[float], vector: Vector) -> Vector:
    """One part acting by its chances, whatever its state."""
    mass = fsum(states)
    if not mass:
        return vector
    result = [states[0] / mass * value for value in vector]
    touched = False
    for state in range(1, len(states)):
        matrix = clue.effects.get((part, state))
        moved = vector if matrix is None else apply_matrix(matrix, vector)
        touched = touched or matrix is not None
        result = [a + states[state] / mass * b for a, b in zip(result, moved, strict=True)]
    return result if touched else vector
