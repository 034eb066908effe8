"""A made-up set: features that go together as they do on sets that a mechanic has seen.

Purpose: draws and what is given -> features, and why others were given up.
Law: the same draws give the same set. Every value is drawn by its share, and a set that breaks a combination of the
knowledge (knowledge/drills.yaml) is given up whole and drawn again, so that what is left shares out as the shares say
under the combinations. Where the knowledge has no shares a feature stands at its default.
Not here: what is wrong with the set (see `dealing`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from math import fsum

from ..compiler import Features, Knowledge
from ..problems import HertzwrightError
from ..simulated import Draws

TRIES = 4_000
"""Draws of a set until one keeps every combination; about one of forty does where nothing is given."""


class DrillError(HertzwrightError):
    """A drill that cannot be dealt, or a choice that it does not have."""


def made_up_features(
    knowledge: Knowledge,
    draws: Draws,
    given: Mapping[str, object] | None = None,
    refused: Counter[str] | None = None,
) -> Features:
    """A set as one meets them. given: features that it must have. refused: takes the combinations that were not kept.

    Raises AnswerError for features that are none, DrillError where no set with these features is built so.
    """
    fixed = dict(given or {})
    knowledge.features(fixed)
    shares = [(name, share.of) for name, share in knowledge.catalogue.made_up.items() if name not in fixed]
    count: Counter[str] = Counter()
    for _ in range(TRIES):
        features = knowledge.features({**{name: _drawn(of, draws) for name, of in shares}, **fixed})
        broken = broken_combinations(knowledge, features)
        if not broken:
            if refused is not None:
                refused.update(count)
            return features
        count.update(broken)
    name, times = count.most_common(1)[0]
    wish = ", ".join(f"{name}={value}" for name, value in fixed.items())
    why = knowledge.catalogue.combinations[name].why
    often = "always" if times == TRIES else "most often"
    raise DrillError(f"no set with {wish or 'these features'} is built so; {often} against it: {why} ({name})")


def any_features(knowledge: Knowledge, draws: Draws, given: Mapping[str, object] | None = None) -> Features:
    """A set that somebody may yet describe, whatever goes with what: half of the time a feature is as the knowledge
    takes it to be, else any other choice, or a value of its shares. Raises AnswerError for features that are none."""
    drawn: dict[str, object] = {}
    for name, feature in knowledge.catalogue.features.items():
        chance, place = draws.uniform(), draws.uniform()
        share = knowledge.catalogue.made_up.get(name)
        usual = f"{feature.default:g}" if isinstance(feature.default, float) else feature.default
        others = [value for value in feature.choices or (share.of if share is not None else ()) if value != usual]
        drawn[name] = feature.default if chance < 0.5 or not others else others[int(place * len(others))]
    return knowledge.features({**drawn, **(given or {})})


def broken_combinations(knowledge: Knowledge, features: Features) -> tuple[str, ...]:
    """The combinations that a set does not keep, by their ids."""
    return tuple(name for name, each in knowledge.catalogue.combinations.items() if not each.kept(features))


def _drawn(shares: Mapping[str, float], draws: Draws) -> str:
    place = draws.uniform() * fsum(shares.values())
    for value, share in shares.items():
        place -= share
        if place < 0.0:
            return value
    return next(reversed(list(shares)))
