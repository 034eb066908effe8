"""How alike the areas look: how far what the causes of one show is what those of another show, too.

Purpose: one figure from 0 to 1 for two areas, with the two causes that look most alike.
Two areas: the mean, over all causes of both, of the figure of two causes (see `belief.resemblance`) for the cause of
the other area that looks most like it.
Law: pure; each cause is there alone, without the leak of the checks. Retired causes are left out.
Source: taking the ratio of two causes for areas is our own.
Not here: what would tell two causes apart (see `contrast`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

from ..belief import overlap, signs
from ..compiler import Knowledge


@dataclass(frozen=True, slots=True)
class Likeness:
    """Two areas and how alike they look, 0 to 1. causes: the two most alike, of the first area and of the second, and
    `most` how alike those look."""

    first: str
    second: str
    value: float
    causes: tuple[str, str]
    most: float


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
