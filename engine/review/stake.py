"""What an edit has at stake at a point of a job: how far the two versions may go apart from there on.

Purpose: where two versions believe the same and suspect nothing that shows otherwise, both do the same, and neither has
to be asked; where they do not, a job is the likelier to be worked on the more there is at stake.
Law: pure. A score here says where is looked, never what is found: every job counts for as much more as it was the less
likely to be looked at.
Not here: the jobs (see `effect`), what is said of a set (see `call_outs`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import fsum, sqrt

from ..compiler import Knowledge
from .scope import Given, known_features, reasoning

LEAST = 0.03
"""What is at stake everywhere, as a share of the most: nothing is left out. Where less is, two versions choose alike (a
share of a belief of a thousandth, see `effect.ALIKE`, whose root this is)."""
Belief = Mapping[str, float]
Changed = frozenset[str] | None


def drifts(old: Knowledge, new: Knowledge) -> dict[str, float]:
    """How much more or less often each cause that the edit touches shows anything."""
    return {name: _drift(old, new, name) for name in touched(old, new) or ()}


def _drift(old: Knowledge, new: Knowledge, cause: str) -> float:
    """The most that the chances of a check differ by, in all, with a cause. Nil where only how common it is changed."""
    one, two = old.causes.get(cause), new.causes.get(cause)
    if one is None or two is None or (one.part, one.fault) != (two.part, two.fault):
        return 1.0
    checks = one.shows.keys() | two.shows.keys()
    known = [check for check in checks if all(check in each.checks for each in (old, new))]
    rows = [[each.distribution(check, frozenset({cause})) for each in (old, new)] for check in known]
    return max((fsum(abs(a - b) for a, b in zip(*row, strict=True)) / 2.0 for row in rows), default=0.0)


def stakes(old: Knowledge, new: Knowledge) -> dict[str, float] | None:
    """What each cause that the edit touches has at stake, 0 to 1, where it is there; None where everything has all."""
    causes = touched(old, new)
    if causes is None:
        return None
    only = beliefs_only(old, new)
    return {cause: _drift(old, new, cause) if only else 1.0 for cause in causes}


def at_stake(held: Mapping[str, float] | None, one: Belief, two: Belief) -> float:
    """From LEAST to 1: how far two beliefs are apart, and how much is suspected that the edit touches. The square root,
    since that is how many jobs something is worth that costs as much with such a chance. held: of `stakes`."""
    if held is None or not one or not two:
        return 1.0
    suspected = fsum(share * (one.get(cause, 0.0) + two.get(cause, 0.0)) for cause, share in held.items()) / 2.0
    apart = fsum(abs(one.get(cause, 0.0) - two.get(cause, 0.0)) for cause in one.keys() | two.keys())
    return max(LEAST, sqrt(min(1.0, suspected + apart)))


def where_told_otherwise(old: Knowledge, new: Knowledge, features: Given) -> Changed:
    """The checks whose answers tell the one version something else than the other, at a set: until one of them is
    answered both believe the same. None where they may from the start."""
    if not beliefs_only(old, new):
        return None
    found: set[str] = set()
    known = [each.features(known_features(each, features)) for each in (old, new)]
    for name in touched(old, new) or ():
        one, two = old.causes.get(name), new.causes.get(name)
        if one is None or two is None or (one.part, one.fault) != (two.part, two.fault):
            return None
        if one.prior(known[0]) != two.prior(known[1]) or one.shows.keys() != two.shows.keys():
            return None
        found.update(check for check in one.shows if one.shows[check] != two.shows[check])
    for check in tuple(found):
        found.update(old.checks[check].derived_from or ())
    return frozenset(found)


def touched(old: Knowledge, new: Knowledge) -> frozenset[str] | None:
    """The causes that an edit has to do with; None where it is with all of them."""
    one, two = reasoning(old), reasoning(new)
    parts = {kind: set(_changed(one[kind], two[kind])) for kind in one}
    if parts["costs"] or parts["states"] or parts["order"]:
        return None
    found = set(parts["causes"])
    checks = parts["checks"] | parts["where"]
    for knowledge in (old, new):
        for name in parts["complaints"] & knowledge.complaints.keys():
            checks |= knowledge.complaints[name].says.keys()
        for name in parts["remedies"] & knowledge.remedies.keys():
            found |= knowledge.remedies[name].cures.keys()
        for name in checks & knowledge.checks.keys():
            found |= set(knowledge.checks[name].parents)
    return frozenset(found)


def beliefs_only(old: Knowledge, new: Knowledge) -> bool:
    """Whether an edit changes what is believed and nothing else that steps are chosen by."""
    one, two = reasoning(old), reasoning(new)
    return all(one[kind] == two[kind] for kind in one if kind != "causes")


def _changed(one: Mapping[str, object], two: Mapping[str, object]) -> Iterable[str]:
    return (name for name in dict.fromkeys((*two, *one)) if one.get(name) != two.get(name))
