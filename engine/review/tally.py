"""What closed jobs say of the words: how common causes are, and how strongly they show.

Purpose: counts of what jobs turned out to be, and the words that would fit them better.
Law: only a job that was closed as fixed and proven counts. Each of its causes counts with the probability that it was
there as found, given everything recorded, the remedies and the proof run included. For how strongly a cause shows, a
job counts only where it tells one cause: at least `SURE` certain, and every other at most 1 - `SURE`; and only its
sure answers from before the first remedy.
Bayes: the present word is the mean of a Beta prior (how common) or a Dirichlet prior (outcomes of a check) that is
worth `worth` jobs; the counts are added. A word is proposed only where the central 90 % interval of the posterior
leaves out the present number, the posterior mean lies nearest to another word (in log odds), and at least `LEAST`
jobs bear.
Not corrected: sets that were handed over or left open are not counted; a check is made where it promised to tell
something; what the leak shows is counted as the cause's.
Late imports: scipy is an optional package.
Source: conjugate updating, e.g. A. Gelman et al., Bayesian Data Analysis, ch. 2 and 3 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..compiler import Cause, Knowledge
from ..job import Job

SURE = 0.9
LEAST = 5
LEVEL = 0.9


@dataclass(frozen=True, slots=True)
class ClosedJob:
    """What one closed job tells: P(there as found) of each cause, the one cause it tells, the answers as found."""

    job: Job
    there: Mapping[str, float]
    cause: str
    shown: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Count:
    """One word and what the jobs say of it. `check` and `outcome` are empty where it says how common a cause is.

    seen: times (whole or weighted) out of `jobs`; low, high: of the central 90 % interval; word: the one proposed,
    empty where the present one stays.
    """

    cause: str
    check: str
    outcome: str
    present: float
    seen: float
    jobs: int
    mean: float
    low: float
    high: float
    word: str = ""


@dataclass(frozen=True, slots=True)
class Tally:
    """All counts that any job bears on; `unlisted` are outcomes seen that the cause is not said to show."""

    jobs: int
    counts: tuple[Count, ...]
    unlisted: tuple[tuple[str, str, str, int, int], ...]


def as_closed_job(job: Job) -> ClosedJob:
    """What a job that was closed as fixed and proven tells. Raises ContradictionError."""
    there = job.as_found()
    likely = [cause for cause, chance in there.items() if chance > 1.0 - SURE]
    cause = likely[0] if len(likely) == 1 and there[likely[0]] >= SURE else ""
    shown = {
        made.check: made.answer.outcomes[0]
        for made in job.made
        if made.epoch == 0 and not made.derived and made.answer.sure and len(made.answer.outcomes) == 1
    }
    return ClosedJob(job, there, cause, shown)


def tally(knowledge: Knowledge, jobs: Sequence[ClosedJob], worth: float = 20.0) -> Tally:
    """Counts over jobs, how common first, in the order of the knowledge. worth: jobs that a present word stands for."""
    counts = [_common(knowledge, cause, jobs, worth) for cause in knowledge.causes.values() if cause.retired is None]
    unlisted = []
    for cause in knowledge.causes.values():
        mine = [each for each in jobs if each.cause == cause.id]
        for check, strengths in cause.shows.items():
            seen = [each.shown[check] for each in mine if check in each.shown]
            if not seen or knowledge.checks[check].retired:
                continue
            for place, outcome in enumerate(knowledge.checks[check].outcomes):
                times = seen.count(outcome.id)
                if strengths[place] > 0.0 and place:
                    counts.append(
                        _count(knowledge, cause.id, check, outcome.id, strengths[place], times, len(seen), worth)
                    )
                elif times and place:
                    unlisted.append((cause.id, check, outcome.id, times, len(seen)))
    return Tally(len(jobs), tuple(count for count in counts if count.jobs), tuple(unlisted))


def _common(knowledge: Knowledge, cause: Cause, jobs: Sequence[ClosedJob], worth: float) -> Count:
    # Where a set's features change how common the cause is, it says nothing of the word that holds elsewhere.
    mine = [each for each in jobs if each.job.features and cause.prior(each.job.features) == cause.how_common]
    seen = math.fsum(each.there.get(cause.id, 0.0) for each in mine)
    return _count(knowledge, cause.id, "", "", cause.how_common, seen, len(mine), worth)


def _count(
    knowledge: Knowledge, cause: str, check: str, outcome: str, present: float, seen: float, jobs: int, worth: float
) -> Count:  # fmt: skip
    mean, low, high = updated(present, worth, seen, jobs)
    word = ""
    if jobs >= LEAST and not low <= present <= high:
        word = nearest(knowledge, mean)
        if knowledge.catalogue.words[word].value == present:
            word = ""
    return Count(cause, check, outcome, present, seen, jobs, mean, low, high, word)


def updated(present: float, worth: float, seen: float, jobs: int) -> tuple[float, float, float]:
    """Mean and central 90 % interval of the Beta posterior: prior mean `present`, worth so many jobs.

    The marginal of a Dirichlet posterior is the same Beta.
    """
    from scipy.special import betaincinv  # type: ignore[import-untyped, unused-ignore]

    first, second = worth * present + seen, worth * (1.0 - present) + jobs - seen
    tail = 0.5 * (1.0 - LEVEL)
    low, high = (float(betaincinv(first, second, each)) for each in (tail, 1.0 - tail))
    return first / (first + second), low, high


def nearest(knowledge: Knowledge, chance: float) -> str:
    """The word whose number is nearest to a probability in log odds; of equals the first in the file."""
    words = knowledge.catalogue.words.values()
    return min(words, key=lambda word: abs(_log_odds(word.value) - _log_odds(chance))).id


def _log_odds(chance: float) -> float:
    held = min(max(chance, 1e-9), 1.0 - 1e-9)
    return math.log(held / (1.0 - held))
