"""The clue of findings that share a draw: how likely they are by what the causes produced.

Purpose: answers to checks of one group, with the complaints on them -> one clue.

The same draw. Whether a cause makes a certain check show is one draw per set, so a second look on an unchanged set adds
nothing. Checks of one group (quarter, half, full load) mostly share that draw at other strengths, since a mild fault is
mild in all of them (`Network.alike`); with the rest of the chance each has its own. A proof run is drawn afresh each
time (see `graph.PROOF_RUN`).
The leak holds both misreadings, drawn afresh at each look, and things that no listed cause explains, which are there
again at the next look: `again` is the share of the latter.

Law: pure; the same findings in the same order give the same clue.
Source: the shared draw is our own.
Not here: which findings belong together (see `evidence`), the end of a clue, where the leaks come in (see `closing`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from ..compiler import Network, drawn
from .closing import Claim, ClueItem, closing, leaks_of
from .clue import Clue, Matrix
from .finding import Complaining, Finding, unanswered, waiting_for


@dataclass(frozen=True, slots=True)
class CauseSpan:
    """One state of a part: `cause` None is sound; the cause was there in epochs 0 to `last`."""

    cause: str | None
    last: int


def clue_of(
    network: Network,
    spans: Mapping[str, Sequence[tuple[int, int, int]]],
    members: Sequence[Finding],
    heard: Sequence[Complaining],
    again: float,
) -> Clue:
    """spans: cause id -> (part, state, last epoch) of each state in which it is there."""
    items = [_item(network, member, heard) for member in members]
    claims = _claims(network, members, heard, items)
    leaks = leaks_of(network, items, again)
    start = tuple(item.classes[0] for item in items)
    # Many causes show the same as others, as far as it counts here: what that does to the clue is worked out once.
    bearing: dict[tuple[int, int], _Shown] = {}
    for place, item in enumerate(items):
        for cause, row in network.shows[item.check].items():
            for part, state, last in spans.get(cause, ()):
                if item.epoch <= last:
                    bearing[part, state] = (*bearing.get((part, state), ()), (place, _of_classes(row, item.classes)))
    shown = {seen: _activation(network, items, seen) for seen in dict.fromkeys(bearing.values())}
    reached, moves = _closure(start, shown.values())
    matrices = {seen: _matrix(activation, len(reached), moves) for seen, activation in shown.items()}
    return Clue(
        tuple(1.0 if key == start else 0.0 for key in reached),
        tuple(closing(key, items, leaks, claims) for key in reached),
        {place: matrices[seen] for place, seen in bearing.items()},
    )


def _item(network: Network, member: Finding, heard: Sequence[Complaining]) -> ClueItem:
    """Outcomes next to each other that mean the same to everything heard become one class."""
    labels = [
        (
            value,
            tuple(
                report.epoch == member.epoch and position in network.says[report.complaint][1].get(member.check, ())
                for report in heard
            ),
        )
        for position, value in enumerate(member.likelihood)
    ]
    classes, values = [0], [member.likelihood[0]]
    for before, label in pairwise(labels):
        if label != before:
            values.append(label[0])
        classes.append(len(values) - 1)
    while len(values) > 1 and values[-1] == 0.0:
        top = len(values) - 1
        classes = [-1 if found == top else found for found in classes]
        values.pop()
    return ClueItem(member.check, member.epoch, tuple(classes), tuple(values))


def _claims(
    network: Network, members: Sequence[Finding], heard: Sequence[Complaining], items: Sequence[ClueItem]
) -> list[Claim]:
    answered = {(member.check, member.epoch): member for member in members if not unanswered(member)}
    claims = []
    for report in heard:
        mode, says = network.says[report.complaint]
        waiting = waiting_for(network, report, answered)
        classes = {
            place: frozenset(item.classes[position] for position in says[item.check]).difference({-1})
            for place, item in enumerate(items)
            if item.epoch == report.epoch and item.check in waiting
        }
        claims.append(Claim(mode, classes, report.if_so, report.if_not))
    return claims


_Classes = tuple[int, ...]
_Shown = tuple[tuple[int, tuple[float, ...]], ...]
"""Items that a cause bears on, by place, each with the chance of every class from that cause alone. What is ruled out
for good lies above all that is left, so it is cut off before the draw."""


def _activation(network: Network, items: Sequence[ClueItem], seen: _Shown) -> dict[_Classes, float]:
    """Joint distribution of the classes that one cause produces: one draw per group of checks."""
    start = tuple(item.classes[0] for item in items)
    if len(seen) == 1:
        ((place, left),) = seen
        before, after = start[:place], start[place + 1 :]
        return {(*before, found, *after): chance for found, chance in enumerate(left) if chance > 0.0}
    groups: dict[str, list[tuple[int, tuple[float, ...]]]] = {}
    for place, left in seen:
        groups.setdefault(network.group[items[place].check], []).append((place, left))
    joint: dict[_Classes, float] = {start: 1.0}
    for members in groups.values():
        checks = tuple(items[place].check for place, _ in members)
        shown = drawn(checks, tuple(left for _, left in members), network.alike)
        following: dict[_Classes, float] = {}
        for base, weight in joint.items():
            for found, chance in shown:
                classes = list(base)
                for (place, _), each in zip(members, found, strict=True):
                    classes[place] = each
                key = tuple(classes)
                following[key] = following.get(key, 0.0) + weight * chance
        joint = following
    return joint


@lru_cache(maxsize=8192)
def _of_classes(distribution: tuple[float, ...], classes: _Classes) -> tuple[float, ...]:
    """Chance of each class in turn, without what is ruled out."""
    sums = [0.0] * (max(classes) + 1)
    for value, found in zip(distribution, classes, strict=True):
        if found >= 0:
            sums[found] += value
    return tuple(sums)


def _closure(
    start: _Classes, activations: Iterable[Mapping[_Classes, float]]
) -> tuple[list[_Classes], dict[_Classes, list[int]]]:
    """The states that a clue can come to, and for each thing that a cause can show the state that follows on each."""
    steps = {key for activation in activations for key in activation}
    reached = {start}
    frontier = [start]
    joined: dict[tuple[_Classes, _Classes], _Classes] = {}
    while frontier:
        state = frontier.pop()
        for step in steps:
            following = joined[state, step] = tuple(map(max, state, step))
            if following not in reached:
                reached.add(following)
                frontier.append(following)
    states = sorted(reached)
    index = {key: position for position, key in enumerate(states)}
    return states, {step: [index[joined[state, step]] for state in states] for step in steps}


def _matrix(activation: Mapping[_Classes, float], count: int, moves: Mapping[_Classes, Sequence[int]]) -> Matrix:
    rows: list[dict[int, float]] = [{} for _ in range(count)]
    for step, chance in activation.items():
        for source, target in enumerate(moves[step]):
            row = rows[target]
            row[source] = row.get(source, 0.0) + chance
    return tuple(tuple(sorted(row.items())) for row in rows)
