"""How alike the areas look: how far what the causes of one show is what those of another show, too.

Purpose: one figure from 0 to 1 for two causes, and for two areas, with the two causes that look most alike.
Two causes: what both show over what either shows, that is, over all answers of all checks but the normal ones, the sum
of the lesser of the two chances over that of the greater. Two areas: the mean, over all causes of both, of the figure
for the cause of the other area that looks most like it.
Law: pure; each cause is there alone, without the leak of the checks. Retired causes are left out.
Source: the ratio is that of Ruzicka (from memory); taking it for areas is our own.
Not here: what would tell two causes apart (see `contrast`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

from ..compiler import Knowledge

Signs = Mapping[tuple[str, int], float]


@dataclass(frozen=True, slots=True)
class Likeness:
    """Two areas and how alike they look, 0 to 1. causes: the two most alike, of the first area and of the second, and
    `most` how alike those look."""

    first: str
    second: str
    value: float
    causes: tuple[str, str]
    most: float


def signs(knowledge: Knowledge, cause: str) -> Signs:
    """What a cause alone shows, but for normal answers and retired checks: (check, position of answer) -> chance."""
    return {
        (check, at): chance
        for check, row in knowledge.causes[cause].shows.items()
        if knowledge.checks[check].retired is None
        for at, chance in enumerate(row)
        if at and chance > 0.0
    }


def overlap(one: Signs, two: Signs) -> float:
    """What both show over what either shows; 0 where neither shows anything."""
    keys = dict.fromkeys((*one, *two))
    either = math.fsum(max(one.get(key, 0.0), two.get(key, 0.0)) for key in keys)
    return math.fsum(min(one.get(key, 0.0), two.get(key, 0.0)) for key in keys) / either if either else 0.0


def areas_alike(knowledge: Knowledge) -> tuple[Likeness, ...]:
    """Every pair of areas that hold causes, the most alike first."""
    shown = {name: signs(knowledge, name) for name, cause in knowledge.causes.items() if cause.retired is None}
    held: dict[str, list[str]] = {}
    for name in shown:
        held.setdefault(knowledge.causes[name].area, []).append(name)
    found = []
    for first, second in combinations(held, 2):
        pairs = {(one, two): overlap(shown[one], shown[two]) for one in held[first] for two in held[second]}
        nearest = [max(pairs[one, two] for two in held[second]) for one in held[first]]
        nearest += [max(pairs[one, two] for one in held[first]) for two in held[second]]
        causes = max(pairs, key=pairs.__getitem__)
        found.append(Likeness(first, second, math.fsum(nearest) / len(nearest), causes, pairs[causes]))
    return tuple(sorted(found, key=lambda each: (-each.value, each.first, each.second)))
