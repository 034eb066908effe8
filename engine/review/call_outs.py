"""The call-outs at which an edit is tried: made-up sets with a complaint, more of those that it touches.

Purpose: many sets are drawn, which costs little, and a few of them picked to be worked, which costs much: the oftener
the more the edit has to do with them. Each is weighed by how much too often it was picked.
Law: pure. The weighted mean over what is picked is, over all draws, the mean over all sets that the edit meets, with
whatever scores it was picked by (none of them nil). Set number n of a seed is the same set in every order.
Source: sampling with probability proportional to size, systematically, and the estimator of Horvitz and Thompson:
W. G. Cochran, Sampling Techniques, chapter 9A (from memory).
Not here: which sets an edit meets (see `scope`), the jobs (see `effect`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from ..compiler import Knowledge
from ..job import ContradictionError, Job
from ..problems import HertzwrightError
from ..rehearsal import DrawnSet, draw_faults
from ..simulated import Draws
from .scope import known_features
from .stake import Belief, at_stake, stakes

DRAWN_FOR_EACH = 5
"""Sets drawn for each one that is picked."""
_TRIES = 100_000
"""Sets drawn until one is called out."""


class CallOutError(HertzwrightError):
    """A set that nobody can be called out to."""


@dataclass(frozen=True, slots=True)
class CallOut:
    """A picked set by its number, with its features. `weight`: what one such job counts for, 1 in the mean. again: how
    often the same set was picked before."""

    number: int
    features: Mapping[str, object]
    weight: float
    again: int = 0


def called_out(world: Knowledge, both: Sequence[Knowledge], features: Mapping[str, object], name: str) -> DrawnSet:
    """The set of this name drawn from a world, as the beliefs of that world take it: any faults or none, and a
    complaint that is made of what it shows, or mistaken, each as often as it is said, of those that both versions know.
    Raises CallOutError where nothing can be said of such a set.
    """
    given = known_features(world, features)
    known = world.features(given)
    heard = [
        each
        for each in world.complaints.values()
        if all(_knows(version, each.id) for version in both) and all(world.applies(check, known) for check in each.says)
    ]
    for number in range(1, _TRIES if heard else 0):
        named = f"{name}/{number}"
        draws = Draws(named)
        complaint = heard[int(draws.uniform() * len(heard))]
        faults = draw_faults(world, given, draws)
        # The customer's look is not the technician's.
        customer = DrawnSet(world, given, faults, named)
        shown = [customer.answer(check) in outcomes for check, outcomes in complaint.says.items()]
        so = any(shown) if complaint.mode == "any" else all(shown)
        if draws.uniform() < (complaint.true_when_said if so else complaint.said_when_not):
            return DrawnSet(world, given, faults, named, complaint.id)
    raise CallOutError("nothing that both versions have a complaint for is said of a set that this edit meets")


def _knows(knowledge: Knowledge, complaint: str) -> bool:
    found = knowledge.complaints.get(complaint)
    return found is not None and found.retired is None


def picked(
    old: Knowledge, new: Knowledge, features: Sequence[Mapping[str, object]], count: int, seed: int
) -> tuple[CallOut, ...]:
    """`count` call-outs at sets with these features, numbered from 1; the same one may stand there more than once."""
    if not features or not count:
        return ()
    scores = _scores(old, new, features, seed)
    total = fsum(scores)
    place, step = Draws("picked", seed).uniform(), 0.0
    found: list[CallOut] = []
    for number, (score, given) in enumerate(zip(scores, features, strict=True), 1):
        step += count * score / total
        again = 0
        while place < step and len(found) < count:
            found.append(CallOut(number, given, total / (len(features) * score), again))
            place, again = place + 1.0, again + 1
    return tuple(found)


def _scores(old: Knowledge, new: Knowledge, features: Sequence[Mapping[str, object]], seed: int) -> list[float]:
    """What the edit has at stake at each set with what is said of it, by either version."""
    held = stakes(old, new)
    if held is None:
        return [1.0] * len(features)
    both, scores = (old, new), []
    for number, given in enumerate(features, 1):
        said = {called_out(world, both, given, f"{seed}/{number}").complaint for world in both}
        scores.append(max(at_stake(held, *(_believed(world, given, each) for world in both)) for each in sorted(said)))
    return scores


def _believed(knowledge: Knowledge, features: Mapping[str, object], complaint: str) -> Belief:
    job = Job(knowledge, known_features(knowledge, features))
    job.record(complaint, "present")
    try:
        return job.posterior()
    except ContradictionError:
        return {}
