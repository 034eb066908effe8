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
from dataclasses import dataclass, field
from math import fsum, prod

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


@dataclass(frozen=True, slots=True)
class Solution:
    """`total` is the probability of everything seen; `marginals[part][state]` the posteriors."""

    total: float
    marginals: tuple[tuple[float, ...], ...]


@dataclass(slots=True)
class _Chain:
    """One component: global operations in order, and the parts that touch a single clue only."""

    operations: list[tuple[str, int]] = field(default_factory=list)
    cost: int = 0
    width: int = 1
    crowd: tuple[int, ...] = ()

    def widen(self, size: int, opened: set[int], closed: set[int]) -> None:
        if size > self.width:
            self.width, self.crowd = size, tuple(sorted(opened - closed))


def solve(weights: Sequence[Sequence[float]], clues: Sequence[Clue]) -> Solution:
    """Posterior of every part.

    weights: `weights[part][state]`, state 0 sound; they need not sum to one.
    clues: see `Clue`.
    Returns a Solution; `total` 0.0 (and marginals all 0.0) means that the evidence is impossible.
    """
    folded, open_clues = fold(weights, clues)
    touching = _touching(open_clues)
    results: list[tuple[float, ...]] = [()] * len(folded)
    total = 1.0
    for part, states in enumerate(folded):
        if part not in touching:
            mass = fsum(states)
            total *= mass
            results[part] = tuple(value / mass for value in states) if mass else tuple(states)
    for component in _components(len(open_clues), touching):
        total *= _solve_component(folded, open_clues, touching, component, results)
    if not total > 0.0:
        return Solution(0.0, tuple(tuple(0.0 for _ in states) for states in folded))
    return Solution(total, tuple(results))


def widest(clues: Sequence[Clue]) -> tuple[int, tuple[int, ...]]:
    """How wide the elimination of these clues gets, before any of the work is done.

    Returns the length of the longest vector that `solve` would carry, and the positions of the clues open then: time
    and memory grow with that length, and not with clues that are never open together.
    """
    places = [position for position, clue in enumerate(clues) if len(clue.start) > 1]
    open_clues = [clues[position] for position in places]
    touching = _touching(open_clues)
    width = 1
    crowd: tuple[int, ...] = ()
    for component in _components(len(open_clues), touching):
        chain = _cheapest_order(open_clues, touching, component, _shared(touching, component))
        if chain.width > width:
            width, crowd = chain.width, tuple(places[item] for item in chain.crowd)
    return width, crowd


def _touching(clues: Sequence[Clue]) -> dict[int, list[int]]:
    """The clues that each part bears on, in rising order."""
    touching: dict[int, list[int]] = {}
    for position, clue in enumerate(clues):
        for part in sorted({part for part, _ in clue.effects}):
            touching.setdefault(part, []).append(position)
    return touching


def _shared(touching: Mapping[int, Sequence[int]], component: Sequence[int]) -> list[int]:
    """Parts of a component that bear on more than one of its clues."""
    inside = set(component)
    return [part for part, members in touching.items() if members[0] in inside and len(members) > 1]


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
            folded[part][state] *= matrix[0][0]
    return folded, open_clues


def apply_matrix(matrix: Matrix, vector: Sequence[float]) -> Vector:
    """matrix times vector, for the few states of one clue."""
    return [fsum(a * b for a, b in zip(row, vector, strict=True) if a) for row in matrix]


def transpose(matrix: Matrix) -> Matrix:
    return tuple(zip(*matrix, strict=True))


def _components(count: int, touching: Mapping[int, Sequence[int]]) -> list[list[int]]:
    """Clues that share parts, directly or through others, each list in rising order."""
    parent = list(range(count))

    def root(item: int) -> int:
        while parent[item] != item:
            parent[item] = parent[parent[item]]
            item = parent[item]
        return item

    for members in touching.values():
        for other in members[1:]:
            parent[root(other)] = root(members[0])
    groups: dict[int, list[int]] = {}
    for item in range(count):
        groups.setdefault(root(item), []).append(item)
    return list(groups.values())


def _solve_component(
    weights: Sequence[Sequence[float]],
    clues: Sequence[Clue],
    touching: Mapping[int, Sequence[int]],
    component: Sequence[int],
    results: list[tuple[float, ...]],
) -> float:
    inside = set(component)
    local: dict[int, list[int]] = {item: [] for item in component}
    for part, members in touching.items():
        if len(members) == 1 and members[0] in inside:
            local[members[0]].append(part)
    chain = _cheapest_order(clues, touching, component, _shared(touching, component))
    return _run(chain, weights, clues, touching, local, results)


def _cheapest_order(
    clues: Sequence[Clue], touching: Mapping[int, Sequence[int]], component: Sequence[int], shared: Sequence[int]
) -> _Chain:
    """Open a clue when the first of its shared parts comes up, close it after the last; every start is tried."""
    members = {item: [part for part in shared if item in touching[part]] for item in component}
    best: _Chain | None = None
    for first in component:
        chain = _Chain()
        waiting = {item: len(parts) for item, parts in members.items()}
        done: set[int] = set()
        opened: set[int] = set()
        closed: set[int] = set()
        size = 1
        current: int | None = first
        while current is not None:
            if current not in opened:
                chain.operations.append(("open", current))
                opened.add(current)
                size *= len(clues[current].start)
                chain.widen(size, opened, closed)
            for part in members[current]:
                if part in done:
                    continue
                done.add(part)
                for item in touching[part]:
                    if item not in opened:
                        chain.operations.append(("open", item))
                        opened.add(item)
                        size *= len(clues[item].start)
                chain.widen(size, opened, closed)
                chain.operations.append(("part", part))
                chain.cost += size * len(touching[part])
                for item in touching[part]:
                    waiting[item] -= 1
                    if waiting[item] == 0:
                        chain.operations.append(("close", item))
                        closed.add(item)
                        size //= len(clues[item].start)
            if waiting[current] == 0 and current not in closed:
                chain.operations.append(("close", current))
                closed.add(current)
                size //= len(clues[current].start)
            candidates = [item for item in component if item not in closed]
            # Fewest parts still to come first; an open clue before a new one.
            current = min(candidates, key=lambda item: (item not in opened, waiting[item], item), default=None)
        if best is None or chain.cost < best.cost:
            best = chain
    assert best is not None
    return best


def _run(
    chain: _Chain,
    weights: Sequence[Sequence[float]],
    clues: Sequence[Clue],
    touching: Mapping[int, Sequence[int]],
    local: Mapping[int, Sequence[int]],
    results: list[tuple[float, ...]],
) -> float:
    """Forward over the chain, then backward collecting the marginals. Returns the component's total."""
    locals_before: dict[int, list[Vector]] = {}
    starts: dict[int, Vector] = {}
    for item, parts in local.items():
        reached = list(clues[item].start)
        steps = []
        for part in parts:
            steps.append(reached)
            reached = _mix(weights[part], clues[item], part, reached)
        locals_before[item] = steps
        starts[item] = reached

    layout: list[int] = []
    vector = [1.0]
    kept: list[tuple[tuple[int, ...], Vector]] = []
    for kind, index in chain.operations:
        kept.append((tuple(layout), vector))
        if kind == "open":
            vector = [value * factor for factor in starts[index] for value in vector]
            layout.append(index)
        elif kind == "part":
            vector = _move(vector, layout, clues, weights[index], index, backward=False)[0]
        else:
            vector = _close(vector, layout, index, clues)
            layout.remove(index)
    total = vector[0]
    if not total > 0.0:
        return 0.0

    message = [1.0]
    for (kind, index), (before_layout, before) in zip(reversed(chain.operations), reversed(kept), strict=True):
        if kind == "open":
            width = len(before)
            inner = [
                fsum(a * b for a, b in zip(before, message[offset : offset + width], strict=True))
                for offset in range(0, len(message), width)
            ]
            _finish_local(clues[index], local[index], locals_before[index], weights, inner, total, results)
            start = starts[index]
            outer = [0.0] * width
            for state, factor in enumerate(start):
                if factor:
                    block = message[state * width : (state + 1) * width]
                    outer = [a + factor * b for a, b in zip(outer, block, strict=True)]
            message = outer
        elif kind == "part":
            moved, branches = _move(message, before_layout, clues, weights[index], index, backward=True)
            results[index] = tuple(
                weight * fsum(a * b for a, b in zip(before, branch, strict=True)) / total if weight else 0.0
                for weight, branch in zip(weights[index], branches, strict=True)
            )
            message = moved
        else:
            message = _unclose(message, before_layout, index, clues)
    return total


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
) -> None:
    for part, vector in zip(reversed(parts), reversed(before), strict=True):
        marginals = []
        combined = [0.0] * len(message)
        for state, weight in enumerate(weights[part]):
            matrix = clue.effects.get((part, state)) if state else None
            branch = message if matrix is None else apply_matrix(transpose(matrix), message)
            marginals.append(weight * fsum(a * b for a, b in zip(vector, branch, strict=True)) / total)
            combined = [a + weight * b for a, b in zip(combined, branch, strict=True)]
        results[part] = tuple(marginals)
        message = combined


def _move(
    vector: Vector, layout: Sequence[int], clues: Sequence[Clue], weights: Sequence[float], part: int, *, backward: bool
) -> tuple[Vector, list[Vector]]:
    """Let one part act on all open clues: the weighted sum over its states, and each state's own branch."""
    branches = [vector]
    result = [weights[0] * value for value in vector]
    for state in range(1, len(weights)):
        weight = weights[state]
        if not weight:
            branches.append(vector)
            continue
        branch = vector
        # The front digit is taken off and put back at the far end; after one round the order is as before.
        for item in layout:
            size = len(clues[item].start)
            matrix = clues[item].effects.get((part, state))
            slices = [branch[digit::size] for digit in range(size)]
            if matrix is None:
                branch = [value for piece in slices for value in piece]
                continue
            if backward:
                matrix = transpose(matrix)
            branch = _combine(matrix, slices)
        branches.append(branch)
        result = [a + weight * b for a, b in zip(result, branch, strict=True)]
    return result, branches


def _combine(matrix: Matrix, slices: list[Vector]) -> Vector:
    if len(slices) == 2:
        (a, b), (c, d) = matrix
        low, high = slices
        if b == 0.0:
            return [a * x for x in low] + [c * x + d * y for x, y in zip(low, high, strict=True)]
        if c == 0.0:
            return [a * x + b * y for x, y in zip(low, high, strict=True)] + [d * y for y in high]
        return [a * x + b * y for x, y in zip(low, high, strict=True)] + [
            c * x + d * y for x, y in zip(low, high, strict=True)
        ]
    result: Vector = []
    for row in matrix:
        piece = [0.0] * len(slices[0])
        for factor, values in zip(row, slices, strict=True):
            if factor:
                piece = [a + factor * b for a, b in zip(piece, values, strict=True)]
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
