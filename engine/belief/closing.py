"""What the end of a clue comes to: what causes produced, what the leaks add, and what was heard and answered of it.

Purpose: the items of a clue, the complaints on them, and the chance of all that was said of them, given their classes.
Law: pure; leaks come in here alone, once every cause has been looked at.
Not here: which items and complaints belong in one clue, (see `evidence`), what causes show (see `shared_draw`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import fsum, prod

from ..compiler import Network


@dataclass(frozen=True, slots=True)
class ClueItem:
    """A look at a check, or the check of a complaint that has no answer yet: its outcomes, in classes."""

    check: str
    epoch: int
    classes: tuple[int, ...]  # class of each outcome; -1 is ruled out for good
    likelihood: tuple[float, ...]  # of each class


@dataclass(frozen=True, slots=True)
class Claim:
    """A complaint on the items of a cluster: which classes of which item it speaks of, where that is open."""

    mode: str
    classes: Mapping[int, frozenset[int]]
    if_so: float
    if_not: float

    def chance(self, at: Mapping[int, int]) -> float:
        """P(what was said | the class of each item)."""
        shown = (at[place] in wanted for place, wanted in self.classes.items())
        return self.if_so if (any(shown) if self.mode == "any" else all(shown)) else self.if_not


def _by_class(distribution: Sequence[float], classes: Sequence[int]) -> dict[int, float]:
    result: dict[int, float] = {}
    for value, found in zip(distribution, classes, strict=True):
        if found >= 0 and value > 0.0:
            result[found] = result.get(found, 0.0) + value
    return result


@dataclass(frozen=True, slots=True)
class Leak:
    """What the leak shows at the looks at one check, the items at `places`: the same at all of them with the chance
    `same`, else drawn at each."""

    places: tuple[int, ...]
    chances: tuple[float, ...]  # of each outcome
    same: float

    def seen(
        self, key: Sequence[int], items: Sequence[ClueItem], spoken: Sequence[int]
    ) -> dict[tuple[int, ...], float]:
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


def leaks_of(network: Network, items: Sequence[ClueItem], again: float) -> list[Leak]:
    looks: dict[str, list[int]] = {}
    for place, item in enumerate(items):
        looks.setdefault(item.check, []).append(place)
    return [
        Leak(tuple(places), tuple(network.leak[check]), again if len(places) > 1 else 0.0)
        for check, places in looks.items()
    ]


def closing(key: Sequence[int], items: Sequence[ClueItem], leaks: Sequence[Leak], claims: Sequence[Claim]) -> float:
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


def _said(at: Mapping[int, int], items: Sequence[ClueItem], claims: Sequence[Claim]) -> float:
    """P(what was said and answered of the spoken items | their classes)."""
    answered = prod(items[place].likelihood[found] for place, found in at.items())
    return answered * prod(claim.chance(at) for claim in claims)
