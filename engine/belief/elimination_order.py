"""The order of an elimination: which clue to open first, and how wide the work gets.

Purpose: clues -> components that share parts, the cheapest order for each, and the width that it comes to.
Law: only the shape of the clues counts, never a number in them; every first clue is tried and the cheapest kept; ties
break by position.
Not here: the numbers (see `elimination`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from .clue import Clue


@dataclass(slots=True)
class Chain:
    """One component: global operations in order, and the parts that touch a single clue only."""

    operations: list[tuple[str, int]] = field(default_factory=list)
    cost: int = 0
    width: int = 1
    crowd: tuple[int, ...] = ()

    def widen(self, size: int, opened: set[int], closed: set[int]) -> None:
        if size > self.width:
            self.width, self.crowd = size, tuple(sorted(opened - closed))


@dataclass(frozen=True, slots=True)
class Order:
    """How clues are eliminated. places: positions of the clues of more than one state, by which all else here counts;
    touching: the clues that each part bears on; chains: each component with its chain."""

    places: Sequence[int]
    touching: Mapping[int, Sequence[int]]
    chains: Sequence[tuple[Sequence[int], Chain]]

    def widest(self) -> tuple[int, tuple[int, ...]]:
        """How wide the elimination gets, before any of the work is done.

        Returns the length of the longest vector that `solve` carries, and the positions of the clues open then: time
        and memory grow with that length, and not with clues that are never open together.
        """
        width = 1
        crowd: tuple[int, ...] = ()
        for _, chain in self.chains:
            if chain.width > width:
                width, crowd = chain.width, tuple(self.places[item] for item in chain.crowd)
        return width, crowd


def order_of(clues: Sequence[Clue]) -> Order:
    """The cheapest order for each component of these clues."""
    places = [position for position, clue in enumerate(clues) if len(clue.start) > 1]
    open_clues = [clues[position] for position in places]
    touching = touching_of(open_clues)
    chains = [
        (component, cheapest_order(open_clues, touching, component, shared_parts(touching, component)))
        for component in components(len(open_clues), touching)
    ]
    return Order(places, touching, chains)


def touching_of(clues: Sequence[Clue]) -> dict[int, list[int]]:
    """The clues that each part bears on, in rising order."""
    touching: dict[int, list[int]] = {}
    for position, clue in enumerate(clues):
        for part in sorted({part for part, _ in clue.effects}):
            touching.setdefault(part, []).append(position)
    return touching


def shared_parts(touching: Mapping[int, Sequence[int]], component: Sequence[int]) -> list[int]:
    """Parts of a component that bear on more than one of its clues."""
    inside = set(component)
    return [part for part, members in touching.items() if members[0] in inside and len(members) > 1]


def components(count: int, touching: Mapping[int, Sequence[int]]) -> list[list[int]]:
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


def cheapest_order(
    clues: Sequence[Clue], touching: Mapping[int, Sequence[int]], component: Sequence[int], shared: Sequence[int]
) -> Chain:
    """Open a clue when the first of its shared parts comes up, close it after the last; every start is tried."""
    members = {item: [part for part in shared if item in touching[part]] for item in component}
    best: Chain | None = None
    for first in component:
        chain = Chain()
        waiting = {item: len(parts) for item, parts in members.items()}
        done: set[int] = set()
        opened: set[int] = set()
        closed: set[int] = set()
        size = 1
        current: int | None = first
        while current is not None and (best is None or chain.cost < best.cost):
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
