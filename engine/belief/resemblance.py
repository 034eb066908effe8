"""How alike two causes look: the one measure for trainee, editor and drawing.

Purpose: one figure from 0 to 1 for two causes: what both show over what either shows, that is, over all answers of all
checks but the normal ones, the sum of the lesser of the two chances over that of the greater; and the
nearest of a cause.
Law: pure; each cause is there alone, without the leak of the checks. Retired checks and causes are left out.
Source: the ratio is that of Ruzicka (from memory).
Not here: what would tell two causes apart, and how alike whole areas look.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from ..compiler import Knowledge

Signs = Mapping[tuple[str, int], float]


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


def look_alikes(
    knowledge: Knowledge, name: str, most: int = 3, among: Iterable[str] | None = None
) -> tuple[tuple[str, float], ...]:
    """(cause, how alike) of the causes that show most like this one, the most alike first; none that share nothing.

    among: the causes that come into question, None for all that are not retired.
    """
    own = signs(knowledge, name)
    others = knowledge.causes if among is None else among
    scored = [
        (other, overlap(own, signs(knowledge, other)))
        for other in others
        if other != name and knowledge.causes[other].retired is None
    ]
    return tuple(sorted(((other, much) for other, much in scored if much), key=lambda row: (-row[1], row[0]))[:most])
