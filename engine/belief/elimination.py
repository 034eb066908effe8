"""Exact posteriors for any number of faults at once, by elimination over the abnormal findings only.

Purpose: given parts (each sound or in one of its states) and clues (what was seen), the probability of
everything seen and of each state of each part.

A clue has a few states: how much of what was seen is already accounted for by the parts dealt with so far.
A part in a state moves each of its clues by a small matrix of non-negative numbers, so nothing is ever
subtracted and every digit survives; work grows with 2 to the power of the clues open at the same time.
A clue with one state is a plain factor (a normal finding) and costs nothing.

Law: numbers in, numbers out; no names, no knowledge, no randomness.
Source: the noisy-MAX factorisation is standard (Diez, UAI 1993; Heckerman 1989 on its cost); the
elimination order tries every first clue and keeps the cheapest.
Not checked here: that weights and matrices are probabilities.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum, prod
from operator import mul

from .clue import Clue, Matrix, Vector, apply_matrix, transpose
from .elimination_order import Chain, Order, order_of


@dataclass(frozen=True, slots=True)
class Solution:
    """`total` is the probability of everything seen; `marginals[part][state]` the posteriors."""

    total: float
    marginals: tuple[tuple[float, ...], ...]


def solve(weights: Sequence[Sequence[float]], clues: Sequence[Clue], order: Order | None = None) -> Solution:
    """Posterior of every part.

    weights: `weights[part][state]`, state 0 sound; they need not sum to one.
    clues: see `Clue`. order: that of these clues, where it is known already.
    Returns a Solution; `total` 0.0 (and marginals all 0.0) means that the evidence is impossible.
    """
    folded, open_clues = fold(weights, clues)
    if order is None:
        order = order_of(clues)
    touching = order.touching
    results: list[tuple[float, ...]] = [()] * len(folded)
    total = 1.0
    for part, states in enumerate(folded):
        if part not in touching:
            mass = fsum(states)
            total *= mass
            results[part] = tuple(value / mass for value in states) if mass else tuple(states)
    for component, chain in order.chains:
        total *= _solve_component(folded, open_clues, touching, component, chain, results)
    if not total > 0.0:
        return Solution(0.0, tuple(tuple(0.0 for _ in states) for states in folded))
    return Solution(total, tuple(results))


def fold(weights: Sequence[Sequence[float]], clues: Sequence[Clue]) -> tuple[list[list[float]], list[Clue]]:
    """Multiply every clue of one state into the weights; return the new weights and the clues left open."""
    folded = [list(states) for states in weights]
    open_clues = []
    for clue in clues:
        if len(clue.start) > 1:
            open_clues.append(clue)
            continue
        # The constant goes to a part that exists always, so that `total` stays the probability of the evidence.
        constant = clue.start[0] * clue.close[0]
        if folded:
            folded[0] = [value * constant for value in folded[0]]
        for (part, state), matrix in clue.effects.items():
            folded[part][state] *= matrix[0][0][1] if matrix[0] else 0.0
    return folded, open_clues


def _solve_component(
    weights: Sequence[Sequence[float]],
    clues: Sequence[Clue],
    touching: Mapping[int, Sequence[int]],
    component: Sequence[int],
    chain: Chain,
    results: list[tuple[float, ...]],
) -> float:
    inside = set(component)
    local: dict[int, list[int]] = {item: [] for item in component}
    for part, members in touching.items():
        if len(members) == 1 and members[0] in inside:
            local[members[0]].append(part)
    return _run(chain, weights, clues, local, results)


def _run(
    chain: Chain,
    weights: Sequence[Sequence[float]],
    clues: Sequence[Clue],
    local: Mapping[int, Sequence[int]],
    results: list[tuple[float, ...]],
) -> float:
    """Forward over the chain, then backward collecting the marginals. Returns the component's total."""
    ways = {item: _alone(clues[item], parts, weights) for item, parts in local.items()}
    kept, total = _forward(chain, weights, clues, ways)
    if total > 0.0:
        _backward(chain, weights, clues, local, ways, kept, total, results)
        return total
    return 0.0


def _alone(clue: Clue, parts: Sequence[int], weights: Sequence[Sequence[float]]) -> tuple[Vector, ...]:
    """A clue's vector before each of the parts that bear on it alone, and after the last."""
    reached = [list(clue.start)]
    for part in parts:
        reached.append(_mix(weights[part], clue, part, reached[-1]))
    return tuple(reached)


class _Transposed:
    """Matrices with rows and columns exchanged, each made once: many parts act on a clue by the same."""

    def __init__(self) -> None:
        self._made: dict[int, Matrix] = {}

    def of(self, matrix: Matrix) -> Matrix:
        """matrix: one of the clues, which outlive this."""
        found = self._made.get(id(matrix))
        if found is None:
            found = self._made[id(matrix)] = transpose(matrix)
        return found


_Kept = tuple[tuple[int, ...], Vector]
"""The clues open before an operation, and the vector over their states."""


def _forward(
    chain: Chain,
    weights: Sequence[Sequence[float]],
    clues: Sequence[Clue],
    ways: Mapping[int, Sequence[Vector]],
) -> tuple[list[_Kept], float]:
    """What stands before each operation, and the total at the end."""
    layout: list[int] = []
    vector = [1.0]
    kept: list[_Kept] = []
    for kind, index in chain.operations:
        kept.append((tuple(layout), vector))
        if kind == "open":
            vector = [value * factor for factor in ways[index][-1] for value in vector]
            layout.append(index)
        elif kind == "part":
            vector = _move(vector, layout, clues, weights[index], index)[0]
        else:
            vector = _close(vector, layout, index, clues)
            layout.remove(index)
    return kept, vector[0]


def _backward(
    chain: Chain,
    weights: Sequence[Sequence[float]],
    clues: Sequence[Clue],
    local: Mapping[int, Sequence[int]],
    ways: Mapping[int, Sequence[Vector]],
    kept: Sequence[_Kept],
    total: float,
    results: list[tuple[float, ...]],
) -> None:
    """The marginals of every part of the chain, from its end to its beginning."""
    back = _Transposed()
    message = [1.0]
    for (kind, index), (layout, before) in zip(reversed(chain.operations), reversed(kept), strict=True):
        if kind == "open":
            width = len(before)
            inner = [
                fsum(map(mul, before, message[offset : offset + width])) for offset in range(0, len(message), width)
            ]
            _finish_local(clues[index], local[index], ways[index][:-1], weights, inner, total, results, back)
            outer = [0.0] * width
            for state, factor in enumerate(ways[index][-1]):
                if factor:
                    block = message[state * width : (state + 1) * width]
                    outer = [a + factor * b for a, b in zip(outer, block, strict=True)]
            message = outer
        elif kind == "part":
            message, branches = _move(message, layout, clues, weights[index], index, back)
            results[index] = tuple(
                weight * fsum(map(mul, before, branch)) / total if weight else 0.0
                for weight, branch in zip(weights[index], branches, strict=True)
            )
        else:
            message = _unclose(message, layout, index, clues)


def _mix(weights: Sequence[float], clue: Clue, part: int, vector: Vector) -> Vector:
    result = [weights[0] * value for value in vector]
    for state in range(1, len(weights)):
        if weights[state]:
            matrix = clue.effects.get((part, state))
            moved = vector if matrix is None else apply_matrix(matrix, vector)
            result = [a + weights[state] * b for a, b in zip(result, moved, strict=True)]
    return result


def _finish_local(
    clue: Clue,
    parts: Sequence[int],
    before: Sequence[Vector],
    weights: Sequence[Sequence[float]],
    message: Vector,
    total: float,
    results: list[tuple[float, ...]],
    back: _Transposed,
) -> None:
    for part, vector in zip(reversed(parts), reversed(before), strict=True):
        marginals = []
        combined = [0.0] * len(message)
        for state, weight in enumerate(weights[part]):
            matrix = clue.effects.get((part, state)) if state else None
            branch = message if matrix is None else apply_matrix(back.of(matrix), message)
            marginals.append(weight * fsum(map(mul, vector, branch)) / total)
            combined = [a + weight * b for a, b in zip(combined, branch, strict=True)]
        results[part] = tuple(marginals)
        message = combined


def _move(
    vector: Vector,
    layout: Sequence[int],
    clues: Sequence[Clue],
    weights: Sequence[float],
    part: int,
    back: _Transposed | None = None,
) -> tuple[Vector, list[Vector]]:
    """Let one part act on all open clues: the weighted sum over its states, and each state's own branch. back: for the
    way from the end to the beginning."""
    branches = [vector]
    result = [weights[0] * value for value in vector]
    for state in range(1, len(weights)):
        weight = weights[state]
        if not weight:
            branches.append(vector)
            continue
        branch = vector
        # The front digit is taken off and put back at the far end; after one round the order is as before. Digits that
        # the part does not move go round together.
        still = 1
        for item in layout:
            size = len(clues[item].start)
            matrix = clues[item].effects.get((part, state))
            if matrix is None:
                still *= size
                continue
            if still > 1:
                branch = _turned(branch, still)
                still = 1
            branch = _combine(back.of(matrix) if back else matrix, [branch[digit::size] for digit in range(size)])
        if 1 < still < len(branch):
            branch = _turned(branch, still)
        branches.append(branch)
        result = [a + weight * b for a, b in zip(result, branch, strict=True)]
    return result, branches


def _turned(vector: Vector, size: int) -> Vector:
    """The front digits, `size` states together, at the far end."""
    return [value for digit in range(size) for value in vector[digit::size]]


def _combine(matrix: Matrix, slices: list[Vector]) -> Vector:
    result: Vector = []
    for row in matrix:
        if not row:
            result += [0.0] * len(slices[0])
            continue
        source, factor = row[0]
        first = slices[source]
        if len(row) == 1:
            result += first if factor == 1.0 else [factor * value for value in first]
            continue
        source, other = row[1]
        piece = [factor * a + other * b for a, b in zip(first, slices[source], strict=True)]
        for source, factor in row[2:]:
            piece = [a + factor * b for a, b in zip(piece, slices[source], strict=True)]
        result += piece
    return result


def _close(vector: Vector, layout: Sequence[int], item: int, clues: Sequence[Clue]) -> Vector:
    """Sum a clue out with its closing weights."""
    stride, size = _stride(layout, item, clues)
    result: Vector = []
    for offset in range(0, len(vector), stride * size):
        piece = [0.0] * stride
        for digit, factor in enumerate(clues[item].close):
            if factor:
                block = vector[offset + digit * stride : offset + (digit + 1) * stride]
                piece = [a + factor * b for a, b in zip(piece, block, strict=True)]
        result += piece
    return result


def _unclose(message: Vector, layout: Sequence[int], item: int, clues: Sequence[Clue]) -> Vector:
    stride, _ = _stride(layout, item, clues)
    result: Vector = []
    for offset in range(0, len(message), stride):
        block = message[offset : offset + stride]
        for factor in clues[item].close:
            result += [factor * value for value in block]
    return result


def _stride(layout: Sequence[int], item: int, clues: Sequence[Clue]) -> tuple[int, int]:
    position = layout.index(item)
    return prod(len(clues[other].start) for other in layout[:position]), len(clues[item].start)
