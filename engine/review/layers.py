"""Boxes and lines placed on a sheet, in layers from left to right.

Purpose: from nodes with sizes and links with the sizes of their labels to rectangles and ways, such that no two boxes
or labels lie on one another and no line runs through a box or a label that is not its own.
A link that skips a layer gets a place of its own there; the order within a layer is found by barycentres, the order
with the fewest crossings is kept; heights are the least squares ones. Every label lies on the last, level piece of its
line, in a column that belongs to labels alone, so that it cannot lie on anything.
Law: values in, values out; the same input gives the same places. Units are the caller's.
Sources: Sugiyama, Tagawa and Toda, IEEE Transactions on Systems, Man, and Cybernetics 11 (1981), 109-125; pool adjacent
violators: Barlow and others, Statistical Inference under Order Restrictions, 1972 (both from memory).
Not here: letters, and what is drawn (the caller's); a ring (see `ring`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

_GAP, _SLOT, _APART, _STUB, _EDGE = 9.0, 5.0, 11.0, 15.0, 4.0
_NARROWEST, _WIDEST = 24.0, 80.0
_SWEEPS, _ROUNDS = 12, 6

Point = tuple[float, float]
Ports = tuple[float, float]
"""Heights at which a piece of a line leaves and arrives."""


@dataclass(frozen=True, slots=True)
class PlacedBox:
    """A box to be placed. layer: from 0 on the left; a ring takes no notice."""

    id: str
    wide: float
    high: float
    layer: int = 0


@dataclass(frozen=True, slots=True)
class Link:
    """A line to be drawn, from a lower layer to a higher one. wide, high: of its label, 0 for none; weight: how
    closely it ties its ends in a ring."""

    source: str
    target: str
    wide: float = 0.0
    high: float = 0.0
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle, x and y being its top left corner."""

    x: float
    y: float
    wide: float
    high: float

    @property
    def right(self) -> float:
        return self.x + self.wide

    @property
    def bottom(self) -> float:
        return self.y + self.high

    @property
    def middle(self) -> Point:
        return self.x + self.wide / 2, self.y + self.high / 2

    def meets(self, other: Rect, margin: float = 0.0) -> bool:
        """Whether two rectangles lie on one another, or nearer than the margin."""
        return (
            self.x < other.right + margin
            and other.x < self.right + margin
            and self.y < other.bottom + margin
            and other.y < self.bottom + margin
        )

    def inside(self, start: Point, end: Point, margin: float = 0.0) -> tuple[float, float] | None:
        """The part of a straight line that lies within, as fractions of its length (Liang and Barsky); or None."""
        first, last = 0.0, 1.0
        for at, (low, high) in enumerate(
            ((self.x - margin, self.right + margin), (self.y - margin, self.bottom + margin))
        ):
            step = end[at] - start[at]
            if step == 0.0:
                if not low < start[at] < high:
                    return None
                continue
            near, far = sorted(((low - start[at]) / step, (high - start[at]) / step))
            first, last = max(first, near), min(last, far)
        return (first, last) if first < last else None


@dataclass(frozen=True, slots=True)
class Way:
    """The line of a link. points: a curve from the first to the second, straight on to the third, a curve from there
    to the fourth, and so on; each curve starts and ends level. label: where its label lies, or None."""

    points: tuple[Point, ...]
    label: Rect | None


@dataclass(frozen=True, slots=True)
class Layout:
    """Everything placed: boxes by id, ways in the order of the links; from (0, 0) to (wide, high)."""

    boxes: Mapping[str, Rect]
    ways: tuple[Way, ...]
    wide: float
    high: float
    crossings: int = 0


# ---- in layers


@dataclass(slots=True)
class _LayerItem:
    """A node, or the place where a long link passes a layer. y: of its middle."""

    layer: int
    high: float
    y: float = 0.0


@dataclass(frozen=True, slots=True)
class _Piece:
    """The piece of a link between two layers that lie side by side. `last`: it ends at the box, with the label."""

    source: str
    target: str
    link: int
    last: bool


def layered(nodes: Sequence[PlacedBox], links: Sequence[Link]) -> Layout:
    """Boxes in layers. Nodes of a layer that nothing else orders stay as given.

    Raises ValueError where a link does not run to a higher layer, KeyError where it names no node.
    """
    items, pieces = _items(nodes, links)
    orders = _ordered(items, pieces)
    place = {name: at for order in orders for at, name in enumerate(order)}
    _heights(items, pieces, orders)
    ports = _ports(links, items, pieces, place, _stretch(links, items, pieces, orders))
    columns = _columns(nodes, links, items, ports, len(orders))
    top = min((item.y - item.high / 2 for item in items.values()), default=0.0)
    high = max((item.y + item.high / 2 for item in items.values()), default=0.0) - top
    boxes = {}
    for node in nodes:
        left, wide = columns[node.layer]
        boxes[node.id] = Rect(left, items[node.id].y - items[node.id].high / 2 - top, wide, items[node.id].high)
    points: list[list[Point]] = [[] for _ in links]
    labels: list[Rect | None] = [None] * len(links)
    for piece in pieces:
        link = links[piece.link]
        left, wide = columns[items[piece.source].layer]
        begin, end = (y - top for y in ports[piece])
        start = columns[items[piece.target].layer][0]
        free = start - _STUB - _room(links, items, pieces, items[piece.target].layer)
        points[piece.link] += [(left + wide, begin), (free, end)]
        if piece.last:
            points[piece.link].append((start, end))
            if link.high:
                labels[piece.link] = Rect(start - _STUB - link.wide, end - link.high / 2, link.wide, link.high)
    ways = tuple(Way(tuple(way), label) for way, label in zip(points, labels, strict=True))
    wide = max((left + width for left, width in columns), default=0.0)
    return Layout(boxes, ways, wide, high, crossings(orders, pieces))


def _items(nodes: Sequence[PlacedBox], links: Sequence[Link]) -> tuple[dict[str, _LayerItem], list[_Piece]]:
    items = {node.id: _LayerItem(node.layer, node.high) for node in nodes}
    pieces = []
    for number, link in enumerate(links):
        first, last = items[link.source].layer, items[link.target].layer
        if first >= last:
            raise ValueError(f"{link.source} to {link.target} does not run to a higher layer")
        at = link.source
        for layer in range(first + 1, last):
            bend = f"\0{number}:{layer}"  # no id of the knowledge holds a zero byte
            items[bend] = _LayerItem(layer, _SLOT)
            pieces.append(_Piece(at, bend, number, False))
            at = bend
        pieces.append(_Piece(at, link.target, number, True))
    for name, item in items.items():
        if not name.startswith("\0"):
            comes = math.fsum(_slot(links, piece) for piece in pieces if piece.target == name)
            goes = math.fsum(_SLOT for piece in pieces if piece.source == name)
            item.high = max(item.high, comes + 2 * _EDGE, goes + 2 * _EDGE)
    return items, pieces


def _slot(links: Sequence[Link], piece: _Piece) -> float:
    return max(_SLOT, links[piece.link].high + 1.5) if piece.last else _SLOT


def _ordered(items: Mapping[str, _LayerItem], pieces: Sequence[_Piece]) -> list[list[str]]:
    """The order within every layer: sweeps of barycentres to and fro, the one with the fewest crossings kept."""
    orders: list[list[str]] = [[] for _ in range(max((item.layer for item in items.values()), default=-1) + 1)]
    for name, item in items.items():
        orders[item.layer].append(name)
    before: dict[str, list[str]] = {name: [] for name in items}
    after: dict[str, list[str]] = {name: [] for name in items}
    for piece in pieces:
        before[piece.target].append(piece.source)
        after[piece.source].append(piece.target)
    best, fewest = [list(order) for order in orders], crossings(orders, pieces)
    for sweep in range(_SWEEPS):
        forth = sweep % 2 == 0
        for layer in range(1, len(orders)) if forth else range(len(orders) - 2, -1, -1):
            at = {name: (n + 0.5) / len(order) for order in orders for n, name in enumerate(order)}
            near = before if forth else after
            pulled = {
                name: math.fsum(at[other] for other in near[name]) / len(near[name]) if near[name] else at[name]
                for name in orders[layer]
            }
            orders[layer].sort(key=pulled.__getitem__)  # stable: what is pulled alike stays as it was
        count = crossings(orders, pieces)
        if count < fewest:
            best, fewest = [list(order) for order in orders], count
    return best


def crossings(orders: Sequence[Sequence[str]], pieces: Sequence[_Piece]) -> int:
    """How many pairs of pieces cross."""
    at = {name: (layer, n) for layer, order in enumerate(orders) for n, name in enumerate(order)}
    rows: dict[int, list[tuple[int, int]]] = {}
    for piece in pieces:
        layer, start = at[piece.source]
        rows.setdefault(layer, []).append((start, at[piece.target][1]))
    return sum(
        one[0] < two[0] and one[1] > two[1]
        for row in rows.values()
        for listed in [sorted(row)]
        for n, one in enumerate(listed)
        for two in listed[n + 1 :]
    )


def _heights(items: Mapping[str, _LayerItem], pieces: Sequence[_Piece], orders: Sequence[Sequence[str]]) -> None:
    """Every item as near to what it is tied to as its layer allows."""
    near: dict[str, dict[int, list[str]]] = {name: {-1: [], 1: []} for name in items}
    for piece in pieces:
        near[piece.source][1].append(piece.target)
        near[piece.target][-1].append(piece.source)
    for order in orders:
        _spread([items[name] for name in order], [0.0] * len(order))
    for turn in range(_ROUNDS):
        sides = [-1, 1] if turn == _ROUNDS - 1 else [-1] if turn % 2 == 0 else [1]
        for order in orders if turn % 2 == 0 else reversed(orders):
            wanted = []
            for name in order:
                tied = [items[other].y for side in sides for other in near[name][side]]
                wanted.append(math.fsum(tied) / len(tied) if tied else items[name].y)
            _spread([items[name] for name in order], wanted)


def _spread(listed: Sequence[_LayerItem], wanted: Sequence[float]) -> None:
    """Place items in their order, clear of one another, with the least sum of squares to where they want to be."""
    offsets = [0.0]
    for one, two in pairwise(listed):
        offsets.append(offsets[-1] + (one.high + two.high) / 2 + _GAP)
    level = _rising([want - offset for want, offset in zip(wanted, offsets, strict=False)])
    for item, base, offset in zip(listed, level, offsets, strict=False):
        item.y = base + offset


def _rising(wanted: Sequence[float]) -> list[float]:
    """The row that never falls and is nearest to the one wanted, in least squares (pool adjacent violators)."""
    pools: list[tuple[float, int]] = []
    for want in wanted:
        pools.append((want, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (one, few), (two, more) = pools[-2:]
            pools[-2:] = [((one * few + two * more) / (few + more), few + more)]
    return [mean for mean, count in pools for _ in range(count)]


def _room(links: Sequence[Link], items: Mapping[str, _LayerItem], pieces: Sequence[_Piece], layer: int) -> float:
    """Width of the column of labels before a layer."""
    return max(
        (links[piece.link].wide for piece in pieces if piece.last and items[piece.target].layer == layer), default=0.0
    )


def _columns(
    nodes: Sequence[PlacedBox],
    links: Sequence[Link],
    items: Mapping[str, _LayerItem],
    ports: Mapping[_Piece, Ports],
    count: int,
) -> list[tuple[float, float]]:
    """(left, width) of the boxes of every layer. Where lines climb far, they get more room to do so."""
    found: list[tuple[float, float]] = []
    left = 0.0
    for layer in range(count):
        wide = max((node.wide for node in nodes if node.layer == layer), default=0.0)
        if layer:
            into = [piece for piece in ports if items[piece.target].layer == layer]
            climb = max((abs(ports[piece][0] - ports[piece][1]) for piece in into), default=0.0)
            left += min(_WIDEST, _NARROWEST + climb / 5) + _room(links, items, into, layer) + _STUB
        found.append((left, wide))
        left += wide
    return found


def _stretch(
    links: Sequence[Link], items: Mapping[str, _LayerItem], pieces: Sequence[_Piece], orders: Sequence[Sequence[str]]
) -> set[str]:
    """A box that is alone in its layer and tied to many reaches as far as they do, so that its lines run level. The
    boxes that now do."""
    found = set()
    for order in orders:
        if len(order) != 1:
            continue
        item = items[order[0]]
        goes = [piece for piece in pieces if piece.source == order[0]]
        comes = [piece for piece in pieces if piece.target == order[0]]
        tied = [items[piece.target].y for piece in goes] + [items[piece.source].y for piece in comes]
        slot = max([_APART, *(_slot(links, piece) for piece in comes)])
        if len(tied) > 2 and max(tied) - min(tied) + slot + 2 * _EDGE > item.high:
            item.high = max(tied) - min(tied) + slot + 2 * _EDGE
            item.y = (max(tied) + min(tied)) / 2
            found.add(order[0])
    return found


def _ports(
    links: Sequence[Link],
    items: Mapping[str, _LayerItem],
    pieces: Sequence[_Piece],
    place: Mapping[str, int],
    stretched: set[str],
) -> dict[_Piece, Ports]:
    """Where every piece leaves and arrives: at a box in the order of the other ends, never two at one place. They
    arrive at the middle of a box, or level where it is stretched, and leave as level as may be."""
    arrive: dict[_Piece, float] = {}
    leave: dict[_Piece, float] = {}
    for name, item in items.items():
        coming = sorted((p for p in pieces if p.target == name), key=lambda p: (place[p.source], p.link))
        slots = [_slot(links, piece) for piece in coming]
        wanted = [items[piece.source].y for piece in coming] if name in stretched else []
        for piece, y in zip(coming, _along_side(item, slots, wanted), strict=True):
            arrive[piece] = y
    for name, item in items.items():
        going = sorted((p for p in pieces if p.source == name), key=lambda p: (place[p.target], arrive[p], p.link))
        wanted = [arrive[piece] for piece in going]
        slot = min(_APART, (item.high - 2 * _EDGE) / max(1, len(going)))
        for piece, y in zip(going, _along_side(item, [slot] * len(going), wanted), strict=True):
            leave[piece] = y
    return {piece: (leave[piece], arrive[piece]) for piece in pieces}


def _along_side(item: _LayerItem, slots: Sequence[float], wanted: Sequence[float]) -> list[float]:
    """Places on one side of a box for slots in their order, each as near as may be to where it wants to be; close
    together in the middle where nothing is wanted."""
    if not wanted:
        start = item.y - math.fsum(slots) / 2
        return [start + math.fsum(slots[:n]) + slot / 2 for n, slot in enumerate(slots)]
    spare = max(0.0, item.high - 2 * _EDGE - math.fsum(slots))
    start = item.y - (spare + math.fsum(slots)) / 2
    offsets = [start + math.fsum(slots[:n]) + slot / 2 for n, slot in enumerate(slots)]
    level = _rising([want - offset for want, offset in zip(wanted, offsets, strict=True)])
    return [offset + min(spare, max(0.0, up)) for offset, up in zip(offsets, level, strict=True)]
