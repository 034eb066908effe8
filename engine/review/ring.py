"""Boxes placed in a ring, with straight lines between them and a label on each.

Purpose: a few things that are all tied to one another, side by side where they are tied closely.
The ring grows until no box lies on another, no line runs through a box and every label has found a free place.
Law: values in, values out; the same input gives the same places. Units are the caller's.
Not here: layers, and the values themselves (see `drawing`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from .layers import Layout, Link, PlacedBox, Point, Rect, Way

_GROWTHS = 80
_WIDER = 1.25
_PARTS = (0.5, 0.44, 0.56, 0.38, 0.62, 0.32, 0.68, 0.26, 0.74, 0.2, 0.8)
"""Where on a line its label is tried, as parts of the length."""


def circular(nodes: Sequence[PlacedBox], links: Sequence[Link], clear: float = 12.0) -> Layout:
    """Boxes on an ellipse, lines straight. clear: least distance between two boxes, or a box and another's line.

    Raises KeyError where a link names no node, ValueError where there are so many links that no ring holds them.
    """
    order = _round(nodes, links)
    sizes = {node.id: node for node in nodes}
    radius = max((node.wide + node.high for node in nodes), default=0.0) * 0.6
    laid = None
    for _ in range(_GROWTHS):
        boxes = {}
        for n, name in enumerate(order):
            turn = 2 * math.pi * n / len(order) - math.pi / 2
            x, y = _WIDER * radius * math.cos(turn), radius * math.sin(turn)
            boxes[name] = Rect(x - sizes[name].wide / 2, y - sizes[name].high / 2, sizes[name].wide, sizes[name].high)
        radius *= 1.06
        laid = _chords(boxes, links, clear)
        if laid is not None:
            break
    if laid is None:
        raise ValueError("no ring holds these labels; draw fewer links")
    left, top = (min((getattr(box, side) for box in boxes.values()), default=0.0) for side in ("x", "y"))
    moved = {node.id: _moved(boxes[node.id], left, top) for node in nodes}
    ways = tuple(
        Way(tuple((x - left, y - top) for x, y in way.points), way.label and _moved(way.label, left, top))
        for way in laid
    )
    wide, high = (max((getattr(box, side) for box in moved.values()), default=0.0) for side in ("right", "bottom"))
    return Layout(moved, ways, wide, high)


def _moved(box: Rect, left: float, top: float) -> Rect:
    return Rect(box.x - left, box.y - top, box.wide, box.high)


def _round(nodes: Sequence[PlacedBox], links: Sequence[Link]) -> list[str]:
    """The order round the ring: pieces of it are turned about, and nodes moved to their other end, as long as that
    brings closely tied nodes nearer."""
    order = [node.id for node in nodes]
    count = len(order)

    def length(tried: Sequence[str]) -> float:
        at = {name: n for n, name in enumerate(tried)}
        apart = ((abs(at[link.source] - at[link.target]), link.weight) for link in links)
        return math.fsum(weight * min(steps, count - steps) ** 2 for steps, weight in apart)

    best, better = length(order), True
    while better:
        better = False
        for first in range(count - 1):
            for last in range(first + 2, count + 1):
                piece = order[first:last]
                for turned in (piece[::-1], [*piece[1:], piece[0]], [piece[-1], *piece[:-1]]):
                    tried = [*order[:first], *turned, *order[last:]]
                    found = length(tried)
                    if found < best - 1e-9:
                        order, best, better = tried, found, True
                        piece = order[first:last]
    return order


def _chords(boxes: Mapping[str, Rect], links: Iterable[Link], clear: float) -> list[Way] | None:
    """Straight lines between boxes and a free place for every label; None where there is none."""
    listed = list(boxes.items())
    if any(one.meets(two, clear) for n, (_, one) in enumerate(listed) for _, two in listed[n + 1 :]):
        return None
    lines = []
    for link in links:
        start, end = boxes[link.source].middle, boxes[link.target].middle
        leaves, enters = boxes[link.source].inside(start, end), boxes[link.target].inside(start, end)
        if leaves is None or enters is None:
            return None
        if any(box.inside(start, end, clear) for name, box in listed if name not in (link.source, link.target)):
            return None
        lines.append((_along(start, end, leaves[1]), _along(start, end, enters[0]), link))
    placed: dict[int, Rect] = {}
    for number in sorted(range(len(lines)), key=lambda n: (math.dist(*lines[n][:2]), n)):
        start, end, link = lines[number]
        for part in _PARTS if link.high else ():
            x, y = _along(start, end, part)
            label = Rect(x - link.wide / 2, y - link.high / 2, link.wide, link.high)
            if not (
                any(label.meets(other, 6.0) for other in (*boxes.values(), *placed.values()))
                or any(label.inside(*line[:2], 2.0) for n, line in enumerate(lines) if n != number)
            ):
                placed[number] = label
                break
        else:
            if link.high:
                return None
    return [Way((start, start, end), placed.get(n)) for n, (start, end, _) in enumerate(lines)]


def _along(start: Point, end: Point, part: float) -> Point:
    return start[0] + (end[0] - start[0]) * part, start[1] + (end[1] - start[1]) * part
