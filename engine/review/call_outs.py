"""The call-outs at which an edit is tried: made-up sets, and what is said of each.

Purpose: what may be said of a set, how often, and with how much at stake.
Law: pure. Set number n of a seed is the same set in every order.
Not here: which sets an edit meets (see `scope`), the jobs (see `effect`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from ..compiler import Complaint, Knowledge
from ..job import ContradictionError, Job
from ..problems import HertzwrightError
from .scope import known_features
from .stake import Belief, at_stake

DRAWN_FOR_EACH = 3
"""Sets that are looked at for each job that is worked."""


class CallOutError(HertzwrightError):
    """A set that nobody can be called out to."""


@dataclass(frozen=True, slots=True)
class Said:
    """A complaint, how often it is what is said of a set, and what an edit has at stake at it then."""

    complaint: str
    chance: float
    stake: float


@dataclass(frozen=True, slots=True)
class CallOut:
    """A set by its number, with its features. said: what may be said of it, by the version that is right."""

    number: int
    features: Mapping[str, object]
    said: Mapping[str, tuple[Said, ...]]

    def size(self, right: str) -> float:
        """What an edit has at stake at a job on this set."""
        return fsum(each.chance * each.stake for each in self.said[right])


def _heard(world: Knowledge, both: Sequence[Knowledge], features: Mapping[str, object]) -> list[Complaint]:
    """The complaints that both versions know and that can be made of such a set."""
    known = world.features(features)
    return [
        each
        for each in world.complaints.values()
        if all(_knows(version, each.id) for version in both) and all(world.applies(check, known) for check in each.says)
    ]


def _knows(knowledge: Knowledge, complaint: str) -> bool:
    found = knowledge.complaints.get(complaint)
    return found is not None and found.retired is None


def call_out(
    both: Mapping[str, Knowledge], held: Mapping[str, float] | None, number: int, features: Mapping[str, object]
) -> CallOut:
    """What may be said of a set, exactly: each complaint as often as it is made by what the one version or the other
    believes of such sets. held: of `stakes`. Raises CallOutError where nothing is."""
    jobs = {right: Job(each, known_features(each, features)) for right, each in both.items()}
    found = {}
    for right, world in both.items():
        heard = _heard(world, tuple(both.values()), known_features(world, features))
        told = [(each.id, {way: _told(job, each.id) for way, job in jobs.items()}) for each in heard]
        total = fsum(ways[right][0] for _, ways in told)
        if total <= 0.0:
            raise CallOutError("nothing that both versions have a complaint for is said of a set that this edit meets")
        found[right] = tuple(
            Said(name, ways[right][0] / total, at_stake(held, *(belief for _, belief in ways.values())))
            for name, ways in told
            if ways[right][0] > 0.0
        )
    return CallOut(number, features, found)


def _told(job: Job, complaint: str) -> tuple[float, Belief]:
    """How likely a complaint is, and what is believed then; nil and none where nothing explains it."""
    job.record(complaint, "present")
    try:
        return job.chance(), job.posterior()
    except ContradictionError:
        return 0.0, {}
    finally:
        job.step_back(mistake=True)
