"""What may come of a set as it is known: a danger that no reading has shown yet.

Purpose: findings, complaints and belief -> the risks that the cautions of every running step have to tell.
Law: pure; what makes a danger possible is knowledge (`may_come` of a danger limit), and so are its cautions. A finding
counts until its check is answered anew, and where a remedy has gone after it until the set has been run since: the
first start after the work is the one to stand beside, as is that of a set that nobody knows. Evidence that contradicts
itself takes no finding away.
Not here: readings that hold a job (see `danger`), what is off (see `fittings`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..compiler import DangerLimit
from ..problems import in_sentence
from .danger import ANSWERS
from .event import DISTURBED
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
    for name, answer in state.latest_complaints.items():
        complaint = knowledge.complaints[name]
        if complaint.stop_first and answer in ANSWERS:
            found.append(Risk(name, complaint.title, ("said",), complaint.cautions))
    for limit in knowledge.catalogue.danger.values():
        reasons = tuple(
            dict.fromkeys(
                (
                    *_seen(genset, state, limit),
                    *_first_run(genset, state, limit),
                    *_believed(genset, limit, posterior),
                )
            )
        )
        if reasons:
            found.append(Risk(limit.id, limit.title, reasons, limit.cautions))
    return tuple(found)


def _seen(genset: GeneratingSet, state: JobState, limit: DangerLimit) -> Iterator[str]:
    if limit.may_come is None:
        return
    latest = state.latest
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
    done = [(at, event.id) for at, event in enumerate(state.standing) if event.kind == "remedy"]
    after = next((at for at, name in done[made.epoch :] if parents & knowledge.remedies[name].cures.keys()), None)
    if after is None:
        return False, False
    return True, any(_ran(genset, state)[after + 1 :])


def _ran(genset: GeneratingSet, state: JobState) -> list[bool]:
    """For each event that stands whether the engine has turned for it: an answer read, a remedy or a setting of the
    running set, a proof run."""
    catalogue, epoch, ran = genset.knowledge.catalogue, 0, []
    for event in state.standing:
        place = ""
        if event.kind == "check" and event.id in genset.checks:
            made = state.made.get((event.id, epoch))
            place = catalogue.checks[event.id].state if made is not None and made.answer.outcomes else ""
        elif event.kind == "remedy":
            epoch += 1
            # What begins with a turn is done where the set stands.
            place = "" if "step" in event.cells else catalogue.remedies[event.id].state
        elif event.kind == "set_to" and event.answer == "set":
            place = catalogue.setting[event.id].state
        elif event.kind == "proof":
            place = catalogue.costs.proof_state
        ran.append(bool(place) and catalogue.states[place].runs)
    return ran


def _first_run(genset: GeneratingSet, state: JobState, limit: DangerLimit) -> Iterator[str]:
    """What was worked on since the set was run last; or that it came apart, or is set in order, and was not run yet."""
    if limit.may_come is None or not limit.may_come.first_run:
        return
    knowledge, waiting, fresh = genset.knowledge, dict[str, None](), True
    found = knowledge.catalogue.costs.found
    for event, ran in zip(state.standing, _ran(genset, state), strict=True):
        if ran:
            waiting, fresh = {}, False
        if event.kind == "stands":
            fresh = fresh and not knowledge.catalogue.states[found[event.id].state].runs
            if not found[event.id].as_found:
                waiting["first run of a set that came apart"] = None
        elif event.kind == "setting" and event.answer == "begun" and event.id != DISTURBED and fresh:
            waiting["first run of a set whose settings nobody knows"] = None
        elif event.kind == "remedy" and event.id in limit.may_come.first_run:
            waiting[f"first run since the work: {in_sentence(knowledge.remedies[event.id].title)}"] = None
    yield from waiting


def _believed(genset: GeneratingSet, limit: DangerLimit, posterior: Mapping[str, float]) -> Iterator[str]:
    if limit.may_come is None:
        return
    for name in limit.may_come.causes:
        if posterior.get(name, 0.0) >= limit.may_come.at_least:
            yield f"{in_sentence(genset.knowledge.causes[name].title)} is suspected"
