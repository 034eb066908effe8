"""What closed jobs say of the words: how common causes are, and how strongly they show.

Purpose: counts of what jobs turned out to be, and the words that would fit them better.
Law: a job counts that was closed as fixed and proven, or handed over. Each of its causes counts with the probability
that it was there as found, given everything recorded, the remedies and the proof run included. For how strongly a cause
shows, a job counts only where it was proven and tells one cause: at least `SURE` certain, and every other at most
1 - `SURE`; and only its sure answers from before the first remedy.
How common: a set is there because of its complaint, so the share of jobs that turned out to have a cause is held
against the share that their complaints led to expect, and not against that of all sets. The present word is the mean of
a Beta prior worth `worth` jobs; the posterior is summed up over a grid.
How strongly: what is seen is the highest of what the cause shows and what the leak shows. What the leak shows is not
charged to the cause: each answer counts as what the cause will have shown, given what was seen, by the strengths that
come of the counts themselves (expectation-maximisation). The present word is the mean of a Dirichlet prior worth
`worth` jobs; the counts are added.
A word is proposed only where the central 90 % interval of the posterior leaves out the present number, the posterior
mean lies nearest to another word (in log odds), and at least `LEAST` jobs bear.
Not corrected: sets left open are not counted; a check is made where it promised to tell something; a fault that nobody
looked for and that the proof run does not show is not counted.
Late imports: scipy is an optional package.
Source: conjugate updating, e.g. A. Gelman et al., Bayesian Data Analysis, ch. 2 and 3 (from memory); A. Dempster,
N. Laird and D. Rubin, Maximum likelihood from incomplete data via the EM algorithm, 1977 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..compiler import Cause, Knowledge
from ..job import Job

SURE = 0.9
LEAST = 5
LEVEL = 0.9
_GRID = tuple(0.02 * step for step in range(-450, 226))
"""Log odds over which the posterior of how common a cause is is summed up."""
_ROUNDS = 60
"""Most rounds of expectation-maximisation; each has its strengths to within a tenth of a percent long before."""


@dataclass(frozen=True, slots=True)
class ClosedJob:
    """What one closed job tells: P(there as found) of each cause, the one cause it tells, the answers as found.

    said: P(there) of each cause by what was complained of alone; empty where the set was not called out for anything.
    """

    job: Job
    there: Mapping[str, float]
    cause: str
    shown: Mapping[str, str]
    said: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Count:
    """One word and what the jobs say of it. `check` and `outcome` are empty where it says how common a cause is.

    seen: times (whole or weighted) out of `jobs`. own: those of them that the cause itself will have shown, the leak
    taken off. said: times that the complaints led to expect, where it says how common a cause is. low, high: of the
    central 90 % interval; word: the one proposed, empty where the present one stays.
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
    own: float = 0.0
    said: float = 0.0


@dataclass(frozen=True, slots=True)
class Tally:
    """All counts that any job bears on; `unlisted` are outcomes seen that the cause is not said to show, oftener than
    the leak would show them. handed_over: how many of `jobs` were."""

    jobs: int
    counts: tuple[Count, ...]
    unlisted: tuple[tuple[str, str, str, int, int], ...]
    handed_over: int = 0


def as_closed_job(job: Job) -> ClosedJob:
    """What a job that was closed as fixed and proven, or handed over, tells. Raises ContradictionError."""
    there = job.as_found()
    likely = [cause for cause, chance in there.items() if chance > 1.0 - SURE]
    cause = likely[0] if len(likely) == 1 and there[likely[0]] >= SURE and not _handed_over(job) else ""
    shown = {
        made.check: made.answer.outcomes[0]
        for made in job.made
        if made.epoch == 0 and not made.derived and made.answer.sure and len(made.answer.outcomes) == 1
    }
    return ClosedJob(job, there, cause, shown, _said(job))


def _said(job: Job) -> Mapping[str, float]:
    """What the complaints of the customer alone lead to expect."""
    alone = Job(job.knowledge, job.features, job.tolerance)
    for event in job.standing:
        if event.kind == "remedy":
            break
        if event.kind == "complaint" and event.answer == "present":
            alone.record(event.id, event.answer, happened=True)
    return alone.posterior() if len(alone.standing) > 1 else {}


def _handed_over(job: Job) -> bool:
    return job.closed == "handed_over"


def tally(knowledge: Knowledge, jobs: Sequence[ClosedJob], worth: float = 20.0) -> Tally:
    """Counts over jobs, how common first, in the order of the knowledge. worth: jobs that a present word stands for."""
    counts = [_common(knowledge, cause, jobs, worth) for cause in knowledge.causes.values() if cause.retired is None]
    unlisted = []
    for cause in knowledge.causes.values():
        mine = [each for each in jobs if each.cause == cause.id]
        for check, strengths in cause.shows.items():
            found = [each.shown[check] for each in mine if check in each.shown]
            if not found or knowledge.checks[check].retired:
                continue
            outcomes, leak = knowledge.checks[check].outcomes, knowledge.network.leak[check]
            seen = [found.count(outcome.id) for outcome in outcomes]
            own = without_leak(seen, strengths, leak, worth)
            for place, outcome in enumerate(outcomes):
                if strengths[place] > 0.0 and place:
                    found_so = updated(strengths[place], worth, own[place], len(found))
                    row = (cause.id, check, outcome.id, strengths[place], seen[place], len(found))
                    counts.append(_with_word(knowledge, Count(*row, *found_so, own=own[place])))
                elif place and seen[place] > 1.0 + 2.0 * leak[place] * len(found):
                    unlisted.append((cause.id, check, outcome.id, seen[place], len(found)))
    handed_over = sum(_handed_over(each.job) for each in jobs)
    return Tally(len(jobs), tuple(count for count in counts if count.jobs), tuple(unlisted), handed_over)


def _common(knowledge: Knowledge, cause: Cause, jobs: Sequence[ClosedJob], worth: float) -> Count:
    # Where a set's features change how common the cause is, it says nothing of the word that holds elsewhere.
    mine = [each for each in jobs if each.job.features and cause.prior(each.job.features) == cause.how_common]
    present = cause.how_common
    seen = [each.there.get(cause.id, 0.0) for each in mine]
    said = [each.said.get(cause.id, present) for each in mine]
    found = called_out(present, worth, seen, said)
    whole = math.fsum(seen)
    row = (cause.id, "", "", present, whole, len(mine))
    return _with_word(knowledge, Count(*row, *found, own=whole, said=math.fsum(said)))


def _with_word(knowledge: Knowledge, count: Count) -> Count:
    """The count with the word that is proposed, if any."""
    if count.jobs < LEAST or count.low <= count.present <= count.high:
        return count
    word = nearest(knowledge, count.mean)
    return count if knowledge.catalogue.words[word].value == count.present else replace(count, word=word)


def without_leak(
    seen: Sequence[int], strengths: Sequence[float], leak: Sequence[float], worth: float
) -> tuple[float, ...]:
    """How often the cause itself will have shown each outcome, of so often that each was seen.

    seen: times, by outcome. strengths, leak: chances of each outcome from the cause alone and from the leak alone, of
    which the highest is seen. worth: jobs that the strengths stand for. Returns times that add up to those of `seen`.
    """
    chances, jobs = list(strengths), sum(seen)
    own = [0.0] * len(seen)
    for _ in range(_ROUNDS):
        own = [0.0] * len(seen)
        for high, times in enumerate(seen):
            # The cause showed `high` and the leak no more, or the cause less and the leak `high`.
            ways = [chances[place] * leak[high] for place in range(high)]
            ways.append(chances[high] * math.fsum(leak[: high + 1]))
            whole = math.fsum(ways)
            for place, way in enumerate(ways):
                own[place] += times * (way / whole if whole > 0.0 else float(place == 0))
        after = [(worth * one + times) / (worth + jobs) for one, times in zip(strengths, own, strict=True)]
        moved = max(abs(one - two) for one, two in zip(after, chances, strict=True))
        chances = after
        if moved < 1e-6:
            break
    return tuple(own)


def called_out(
    present: float, worth: float, seen: Sequence[float], said: Sequence[float]
) -> tuple[float, float, float]:
    """Mean and central 90 % interval of how common a cause is among sets, from sets that were called out.

    seen, said: of each job, the chance that it was there by everything recorded, and by the complaint alone with the
    present share. A complaint multiplies the odds of a cause by the same factor whatever its share is.
    """
    factors: dict[float, list[float]] = {}
    for one, two in zip(seen, said, strict=True):
        factor = round(_log_odds(two) - _log_odds(present), 1)
        counted = factors.setdefault(factor, [0.0, 0.0])
        counted[0] += one
        counted[1] += 1.0 - one
    heights = []
    for place in _GRID:
        height = worth * present * _log_chance(place) + worth * (1.0 - present) * _log_chance(-place)
        for factor, (there, not_there) in factors.items():
            height += there * _log_chance(place + factor) + not_there * _log_chance(-place - factor)
        heights.append(height)
    most = max(heights)
    weights = [math.exp(height - most) for height in heights]
    total = math.fsum(weights)
    shares = [1.0 / (1.0 + math.exp(-place)) for place in _GRID]
    mean = math.fsum(weight * share for weight, share in zip(weights, shares, strict=True)) / total
    tail = 0.5 * (1.0 - LEVEL) * total
    return mean, _passed(weights, shares, tail), _passed(weights, shares, total - tail)


def _passed(weights: Sequence[float], shares: Sequence[float], until: float) -> float:
    """The share at which the sum of the weights passes a value."""
    run = 0.0
    for weight, share in zip(weights, shares, strict=True):
        run += weight
        if run >= until:
            return share
    return shares[-1]


def _log_chance(log_odds: float) -> float:
    """Logarithm of the probability with these log odds."""
    return -math.log1p(math.exp(-log_odds)) if log_odds > -700.0 else log_odds


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
