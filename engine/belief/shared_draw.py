"""The clue of findings that share a draw: how likely they are by what the causes produced.

Purpose: answers to checks of one group, with the complaints on them -> one clue.

The same draw. Whether a cause makes a certain check show is one draw per set, so a second look on an unchanged set adds
nothing. Checks of one group (quarter, half, full load) mostly share that draw at other strengths, since a mild fault is
mild in all of them (`Network.alike`); with the rest of the chance each has its own. A proof run is drawn afresh each
time (see `graph.PROOF_RUN`).
The leak holds both misreadings, drawn afresh at each look, and
things that no listed cause explains, which are there again at the next look: `again` is the share of the latter.

Law: pure; the same findings in the same order give the same clue.
Source: the shared draw is our own.
Not here: which findings belong together (see `evidence`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from math import fsum, prod

from ..compiler import Network, drawn
from .clue import Clue, Matrix
from .finding import Complaining, Finding, unanswered, waiting_for


@dataclass(frozen=True, slots=True)
class CauseSpan:
    """One state of a part: `cause` None is sound; the cause was there in epochs 0 to `last`."""

    cause: str | None
    last: int


@dataclass(frozen=True, slots=True)
class _Item:
    check: str
    epoch: int
    classes: tuple[int, ...]  # class of each outcome; -1 is ruled out for good
    likelihood: tuple[float, ...]  # of each class


@dataclass(frozen=True, slots=True)
class _Claim:
    """A complaint on the items of a cluster: which classes of which item it speaks of, where that is open."""

    mode: str
    classes: Mapping[int, frozenset[int]]
    if_so: float
    if_not: float

    def chance(self, at: Mapping[int, int]) -> float:
        """P(what was said | the class of each item)."""
        shown = (at[place] in wanted for place, wanted in self.classes.items())
        return self.if_so if (any(shown) if self.mode == "any" else all(shown)) else self.if_not


def clue_of(
    network: Network,
    lives: Sequence[Sequence[CauseSpan]],
    members: Sequence[Finding],
    heard: Sequence[Complaining],
    again: float,
) -> Clue:
    items = [_item(network, member, heard) for member in members]
    claims = _claims(network, members, heard, items)
    leaks = _leaks(network, items, again)
    start = tuple(item.classes[0] for item in items)
    activations: dict[tuple[int, int], dict[tuple[int, ...], float]] = {}
    for part, states in enumerate(lives):
        for state, life in enumerate(states):
            if life.cause is not None and any(
                life.cause in network.shows[item.check] and item.epoch <= life.last for item in items
            ):
                activations[part, state] = _activation(network, items, life)
    reached, moves = _closure(start, activations)
    effects = {place: _matrix(activation, len(reached), moves) for place, activation in activations.items()}
    return Clue(
        tuple(1.0 if key == start else 0.0 for key in reached),
        tuple(_closing(key, items, leaks, claims) for key in reached),
        effects,
    )


def _item(network: Network, member: Finding, heard: Sequence[Complaining]) -> _Item:
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
    return _Item(member.check, member.epoch, tuple(classes), tuple(values))


def _claims(
    network: Network, members: Sequence[Finding], heard: Sequence[Complaining], items: Sequence[_Item]
) -> list[_Claim]:
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
        claims.append(_Claim(mode, classes, report.if_so, report.if_not))
    return claims


def _by_class(distribution: Sequence[float], classes: Sequence[int]) -> dict[int, float]:
    result: dict[int, float] = {}
    for value, found in zip(distribution, classes, strict=True):
        if found >= 0 and value > 0.0:
            result[found] = result.get(found, 0.0) + value
    return result


def _activation(network: Network, items: Sequence[_Item], life: CauseSpan) -> dict[tuple[int, ...], float]:
    """Joint distribution of the classes that one cause produces: one draw per group of checks."""
    assert life.cause is not None
    groups: dict[str, list[int]] = {}
    for place, item in enumerate(items):
        if item.epoch <= life.last and life.cause in network.shows[item.check]:
            groups.setdefault(network.group[item.check], []).append(place)
    joint: dict[tuple[int, ...], float] = {tuple(item.classes[0] for item in items): 1.0}
    for places in groups.values():
        checks = [items[place].check for place in places]
        # What is ruled out for good lies above all that is left, so it may be cut off before the draw.
        left = [_of_classes(network.shows[items[place].check][life.cause], items[place].classes) for place in places]
        shown = drawn(checks, left, network.alike)
        following: dict[tuple[int, ...], float] = {}
        for base, weight in joint.items():
            for found, chance in shown:
                classes = list(base)
                for place, each in zip(places, found, strict=True):
                    classes[place] = each
                key = tuple(classes)
                following[key] = following.get(key, 0.0) + weight * chance
        joint = following
    return joint


def _of_classes(distribution: Sequence[float], classes: Sequence[int]) -> list[float]:
    """Chance of each class in turn, without what is ruled out."""
    sums = [0.0] * (max(classes) + 1)
    for value, found in zip(distribution, classes, strict=True):
        if found >= 0:
            sums[found] += value
    return sums


_Classes = tuple[int, ...]


def _closure(
    start: _Classes, activations: Mapping[tuple[int, int], Mapping[_Classes, float]]
) -> tuple[list[_Classes], dict[_Classes, list[int]]]:
    """The states that a clue can come to, and for each thing that a cause can show the state that follows on each."""
    steps = {key for activation in activations.values() for key in activation}
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


@dataclass(frozen=True, slots=True)
class _Leak:
    """What the leak shows at the looks at one check, the items at `places`: the same at all of them with the chance
    `same`, else drawn at each."""

    places: tuple[int, ...]
    chances: tuple[float, ...]  # of each outcome
    same: float

    def seen(self, key: Sequence[int], items: Sequence[_Item], spoken: Sequence[int]) -> dict[tuple[int, ...], float]:
        """Weight of each combination of classes at the spoken places, where the causes alone show `key`; the answers
        at the other places are weighed in. Work grows with the looks, and doubles with the spoken ones only."""
        rest = [place for place in self.places if place not in spoken]
        found: dict[tuple[int, ...], float] = {}
        if self.same:
            for outcome, chance in enumerate(self.chances):
                shown = {place: items[place].classes[outcome] for place in self.places}
                if chance and min(shown.values()) >= 0:
                    classes = tuple(max(key[place], shown[place]) for place in spoken)
                    answers = prod(items[place].likelihood[max(key[place], shown[place])] for place in rest)
                    found[classes] = found.get(classes, 0.0) + self.same * chance * answers
        drawn = [_by_class(self.chances, items[place].classes) for place in self.places]
        apart = 1.0 - self.same
        for place, look in zip(self.places, drawn, strict=True):
            if place not in spoken:
                apart *= fsum(
                    chance * items[place].likelihood[max(key[place], shown_class)]
                    for shown_class, chance in look.items()
                )
        looks = [look.items() for place, look in zip(self.places, drawn, strict=True) if place in spoken]
        for combination in product(*looks):
            classes = tuple(max(key[place], shown) for place, (shown, _) in zip(spoken, combination, strict=True))
            found[classes] = found.get(classes, 0.0) + apart * prod(chance for _, chance in combination)
        return found


def _leaks(network: Network, items: Sequence[_Item], again: float) -> list[_Leak]:
    looks: dict[str, list[int]] = {}
    for place, item in enumerate(items):
        looks.setdefault(item.check, []).append(place)
    return [
        _Leak(tuple(places), tuple(network.leak[check]), again if len(places) > 1 else 0.0)
        for check, places in looks.items()
    ]


def _closing(key: Sequence[int], items: Sequence[_Item], leaks: Sequence[_Leak], claims: Sequence[_Claim]) -> float:
    """P(everything heard and seen | what the causes produced): of cause and leak the higher one is seen.

    The leaks come in here, at the end, so that a clue's states are only what causes can produce together; a check
    repeated after k remedies then has k + 1 states and not 2 to the power of k.
    """
    spoken = {place for claim in claims for place in claim.classes}
    weight = 1.0
    open_leaks: list[tuple[tuple[int, ...], dict[tuple[int, ...], float]]] = []
    for leak in leaks:
        places = tuple(place for place in leak.places if place in spoken)
        seen = leak.seen(key, items, places)
        if places:
            open_leaks.append((places, seen))
        else:
            weight *= fsum(seen.values())
    if not claims:
        return weight
    total = 0.0
    for combination in product(*(seen.items() for _, seen in open_leaks)):
        at: dict[int, int] = {}
        value = 1.0
        for (places, _), (classes, chance) in zip(open_leaks, combination, strict=True):
            at.update(zip(places, classes, strict=True))
            value *= chance
        total += value * _said(at, items, claims)
    return weight * total


def _said(at: Mapping[int, int], items: Sequence[_Item], claims: Sequence[_Claim]) -> float:
    """P(what was said and answered of the spoken items | their classes)."""
    answered = prod(items[place].likelihood[found] for place, found in at.items())
    return answered * prod(claim.chance(at) for claim in claims)
