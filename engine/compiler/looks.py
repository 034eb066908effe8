"""Several looks at once: what checks of one group, or one check asked again, show together.

Purpose: the joint probability of outcomes, given which causes are there at each look.
Law: what one cause shows in one check is one draw, so a second look on an unchanged set brings no new chance for the
cause. In the checks of a group it is, with the chance `Network.alike`, one draw for all of them: each takes the
quantile of its own distribution there, so that what is mild is mild in all; else each check has its own. Two things
are drawn anew: a proof run, each time (see `graph.PROOF_RUN`), and a misreading at each look; what else the leak stands
for is the same at every look at one check. Of causes and leak the highest outcome is seen (noisy-MAX). Groups are
independent.
Not here: priors, remedies and soft answers (see `belief`).
Source: noisy-MAX, Diez, UAI 1993; the shared draw is our own.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import product
from math import fsum, prod

from .graph import PROOF_RUN, Network

Look = tuple[str, int, frozenset[str]]
"""(id of a check or PROOF_RUN, position of the outcome seen, causes there at that look)."""
Joint = dict[tuple[int, ...], float]
"""Chance of each combination of outcomes."""
Shown = tuple[tuple[int, ...], float]
"""One combination of outcomes and its chance."""


def joint_likelihood(network: Network, looks: Sequence[Look], again: float) -> float:
    """P(all these outcomes | the causes there at each look). again: chance that the leak shows the same at every look
    at one check. KeyError for a check that is not in the network."""
    groups: dict[object, list[Look]] = {}
    for place, look in enumerate(looks):
        key: object = (PROOF_RUN, place) if look[0] == PROOF_RUN else network.group[look[0]]
        groups.setdefault(key, []).append(look)
    return prod(_of_group(network, members, again) for members in groups.values())


def one_draw(distributions: Sequence[Sequence[float]]) -> list[tuple[tuple[int, ...], float]]:
    """Outcomes of several checks from one uniform draw: each takes the quantile of its own distribution."""
    if len(distributions) == 1:
        return [((outcome,), chance) for outcome, chance in enumerate(distributions[0]) if chance > 0.0]
    left = [list(distribution) for distribution in distributions]
    at = [0] * len(left)
    result: list[tuple[tuple[int, ...], float]] = []
    while True:
        for place, distribution in enumerate(left):
            while at[place] < len(distribution) and distribution[at[place]] <= 1e-15:
                at[place] += 1
        if any(at[place] >= len(distribution) for place, distribution in enumerate(left)):
            return result
        step = min(distribution[at[place]] for place, distribution in enumerate(left))
        result.append((tuple(at), step))
        for place, distribution in enumerate(left):
            distribution[at[place]] -= step


@lru_cache(maxsize=4096)
def drawn(checks: tuple[str, ...], distributions: tuple[tuple[float, ...], ...], alike: float) -> tuple[Shown, ...]:
    """What one cause shows in looks of one group, with its chances; `checks` says which looks are at the same check.

    distributions: of each look; those of one check are the same where its looks mean the same, else of one length.
    """
    together = one_draw(distributions)
    looks: dict[str, list[int]] = {}
    for place, check in enumerate(checks):
        looks.setdefault(check, []).append(place)
    if len(looks) == 1 or alike >= 1.0:
        return tuple(together)
    sums = {outcomes: alike * chance for outcomes, chance in together}
    each = [one_draw([distributions[place] for place in places]) for places in looks.values()]
    for combination in product(*each):
        outcomes = [0] * len(distributions)
        for places, (shown, _) in zip(looks.values(), combination, strict=True):
            for place, outcome in zip(places, shown, strict=True):
                outcomes[place] = outcome
        key = tuple(outcomes)
        sums[key] = sums.get(key, 0.0) + (1.0 - alike) * prod(chance for _, chance in combination)
    return tuple(sums.items())


def _of_group(network: Network, looks: Sequence[Look], again: float) -> float:
    """The looks of one group: leaks first, then each cause on top. What is above what was seen is dropped at once."""
    wanted = tuple(outcome for _, outcome, _ in looks)
    seen: Joint = {tuple(0 for _ in looks): 1.0}
    for check in dict.fromkeys(check for check, _, _ in looks):
        places = [place for place, look in enumerate(looks) if look[0] == check]
        seen = _higher(seen, _leaks(network.leak[check], places, len(looks), again), wanted)
    for cause in sorted(frozenset().union(*(present for _, _, present in looks))):
        bears = [cause in present and cause in network.shows[check] for check, _, present in looks]
        places = [place for place, bearing in enumerate(bears) if bearing]
        if places:
            checks = tuple(looks[place][0] for place in places)
            shown = drawn(checks, tuple(network.shows[check][cause] for check in checks), network.alike)
            placed = [(_placed(outcomes, places, len(looks)), chance) for outcomes, chance in shown]
            seen = _higher(seen, placed, wanted)
    return seen.get(wanted, 0.0)


def _leaks(
    leak: Sequence[float], places: Sequence[int], count: int, again: float
) -> list[tuple[tuple[int, ...], float]]:
    same = again if len(places) > 1 else 0.0
    found = [(_placed((outcome,) * len(places), places, count), same * chance) for outcome, chance in enumerate(leak)]
    for outcomes in product(range(len(leak)), repeat=len(places)):
        chance = (1.0 - same) * prod(leak[outcome] for outcome in outcomes)
        found.append((_placed(outcomes, places, count), chance))
    return [(outcomes, chance) for outcomes, chance in found if chance > 0.0]


def _placed(outcomes: Sequence[int], places: Sequence[int], count: int) -> tuple[int, ...]:
    at = dict(zip(places, outcomes, strict=True))
    return tuple(at.get(place, 0) for place in range(count))


def _higher(seen: Joint, drawn: Sequence[tuple[tuple[int, ...], float]], wanted: tuple[int, ...]) -> Joint:
    sums: dict[tuple[int, ...], list[float]] = {}
    for before, mass in seen.items():
        for outcomes, chance in drawn:
            key = tuple(map(max, before, outcomes))
            if all(outcome <= most for outcome, most in zip(key, wanted, strict=True)):
                sums.setdefault(key, []).append(mass * chance)
    return {key: fsum(values) for key, values in sums.items()}
