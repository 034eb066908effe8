"""What may come of a set as it is known: a danger that no reading has shown yet.

Purpose: findings, complaints and belief -> the risks that the cautions of every running step have to tell.
Law: pure; what makes a danger possible is knowledge (`may_come` of a danger limit), and so are its cautions. A finding
counts until its check is answered anew, and where a remedy has gone after it until the set has been run since: the
first start after the work is the one to stand beside. Evidence that contradicts itself takes no finding away.
Not here: readings that hold a job (see `danger`), what is off (see `fittings`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..compiler import DangerLimit
from ..problems import in_sentence
from .danger import ANSWERS
from .generating_set import GeneratingSet
from .state import CheckMade, JobState


@dataclass(frozen=True, slots=True)
class Risk:
    """One danger that may come. limit: id of the danger limit, or of the complaint. reasons: in words, never empty."""

    limit: str
    title: str
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.title} may come: {'; '.join(self.reasons)}"


def risks(genset: GeneratingSet, state: JobState, posterior: Mapping[str, float]) -> tuple[Risk, ...]:
    """The risks of a set in the order of the knowledge. posterior: probability of each cause, empty where unknown."""
    knowledge, found = genset.knowledge, []
    for (name, _), answer in _latest_complaints(state).items():
        complaint = knowledge.complaints[name]
        if complaint.stop_first and answer in ANSWERS:
            found.append(Risk(name, complaint.title, ("said",), complaint.cautions))
    for limit in knowledge.catalogue.danger.values():
        reasons = tuple(dict.fromkeys((*_seen(genset, state, limit), *_believed(genset, limit, posterior))))
        if reasons:
            found.append(Risk(limit.id, limit.title, reasons, limit.cautions))
    return tuple(found)


def _latest_complaints(state: JobState) -> dict[tuple[str, int], str]:
    latest = {name: (epoch, answer) for (name, epoch), answer in state.complaints.items()}
    return {(name, epoch): answer for name, (epoch, answer) in latest.items()}


def _seen(genset: GeneratingSet, state: JobState, limit: DangerLimit) -> Iterator[str]:
    if limit.may_come is None:
        return
    latest = {name: made for (name, _), made in state.made.items()}
    for name, outcomes in limit.may_come.seen.items():
        made = latest.get(name)
        if made is None or name not in genset.checks or not set(made.answer.outcomes) & set(outcomes):
            continue
        worked, run = _gone_after(genset, state, made)
        if not (worked and run):
            said = " or ".join(outcome.replace("_", " ") for outcome in made.answer.outcomes)
            when = "first run since the work; it was seen: " if worked else ""
            yield f"{when}{genset.checks[name].title}, {said}"


def _gone_after(genset: GeneratingSet, state: JobState, made: CheckMade) -> tuple[bool, bool]:
    """Whether a remedy has gone after what was seen, and whether the set has been run since."""
    knowledge = genset.knowledge
    parents = set(knowledge.checks[made.check].parents)
    later = enumerate(state.remedies[made.epoch :], made.epoch + 1)
    after = next((epoch for epoch, name in later if parents & knowledge.remedies[name].cures.keys()), None)
    if after is None:
        return False, False
    states = knowledge.catalogue.states
    return True, any(
        epoch >= after and states[knowledge.checks[name].state].runs and other.answer.outcomes and not other.derived
        for (name, epoch), other in state.made.items()
    )


def _believed(genset: GeneratingSet, limit: DangerLimit, posterior: Mapping[str, float]) -> Iterator[str]:
    if limit.may_come is None:
        return
    for name in limit.may_come.causes:
        if posterior.get(name, 0.0) >= limit.may_come.at_least:
            yield f"{in_sentence(genset.knowledge.causes[name].title)} is suspected"
