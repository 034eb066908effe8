"""Acceptance: when a set may be called fixed and proven.

Purpose: which readings that takes, which answers lie within the tolerance, and what stands in the way.
Law: pure; nothing is fixed without the readings that the knowledge needs, taken on the set as it is now, within the
tolerance, while a complaint stands, with anything off, or while the job is held; nor while a look that showed a fault
was not repeated after the remedy that it proves. Limits come through the outcomes of the checks.
Not here: asking for readings that are missing, and putting all this into words for a technician.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

from ..compiler import Check, Knowledge
from ..loadtest import Site, amps_per_leg, derate
from ..problems import AnswerError, figure, percent
from .danger import Hold
from .equipment import lacking
from .event import Event
from .fittings import Off
from .state import CheckMade


class JobToProve(Protocol):
    """What acceptance needs of a job, which stands above it and asks before it is closed."""

    @property
    def knowledge(self) -> Knowledge:
        """Its limits and titles."""

    @property
    def checks(self) -> Mapping[str, Check]:
        """The checks that this set has."""

    @property
    def features(self) -> Mapping[str, str | float]:
        """Its rating."""

    @property
    def made(self) -> Sequence[CheckMade]:
        """Answers in force."""

    @property
    def epoch(self) -> int:
        """How many remedies have been carried out."""

    @property
    def standing(self) -> Sequence[Event]:
        """Events that stand, in the order in which they came."""

    @property
    def held(self) -> Sequence[Hold]:
        """Why the set must not run."""

    @property
    def absent(self) -> Sequence[str]:
        """Tools that are not there today."""

    @property
    def off(self) -> Sequence[Off]:
        """What is off or open on the set now."""


def needed(job: JobToProve) -> tuple[str, ...]:
    """Checks that must be answered on the set as it is now before it is called fixed."""
    costs = job.knowledge.catalogue.costs
    wanted = dict.fromkeys((*costs.proof_needed, *costs.proof_checks))
    return tuple(name for name in wanted if name in job.checks)


def present(job: JobToProve, check: str) -> CheckMade | None:
    """The answer to a check on the set as it is now, after the last remedy."""
    return next(
        (made for made in job.made if made.check == check and made.epoch == job.epoch and made.answer.outcomes), None
    )


def missing(job: JobToProve) -> tuple[str, ...]:
    """Checks without an answer on the set as it is now that it takes to call it fixed: `needed`, and what showed a
    fault and was not looked at again (see `not_repeated`), of a difference the two readings that make it."""
    again: list[str] = []
    for name in not_repeated(job):
        again += job.checks[name].derived_from or (name,)
    wanted = dict.fromkeys((*needed(job), *(name for name in again if name in job.checks)))
    return tuple(name for name in wanted if present(job, name) is None)


def not_repeated(job: JobToProve) -> dict[str, tuple[CheckMade, str]]:
    """Checks that showed a fault and were not answered again after the remedy that they prove: the answer that showed
    it, and the latest such remedy. A remedy that was carried out is not yet one that has worked."""
    remedies = [event.id for event in job.standing if event.kind == "remedy"]
    latest = {made.check: made for made in sorted(job.made, key=lambda made: made.epoch) if made.answer.outcomes}
    found = {}
    for name, made in latest.items():
        if name not in job.checks or within_tolerance(job, made):
            continue
        after = [
            remedy
            for epoch, remedy in enumerate(remedies[made.epoch :], made.epoch + 1)
            if name in job.knowledge.remedies[remedy].proof or _seen_alone(job, made, remedy, epoch, latest)
        ]
        if after:
            found[name] = (made, after[-1])
    return found


def _seen_alone(job: JobToProve, made: CheckMade, remedy: str, epoch: int, latest: Mapping[str, CheckMade]) -> bool:
    """Whether a look has shown the very fault that a remedy mends, and no other look at it that proves the remedy was
    right since: one of the two is to be repeated."""
    checks, known = job.checks, job.knowledge.remedies[remedy]
    if remedy not in {checks[made.check].mend.get(outcome) for outcome in made.answer.outcomes}:
        return False
    same = [name for name in known.proof if name in checks and remedy in checks[name].mend.values()]
    proven = (latest.get(name) for name in same)
    return not any(each is not None and each.epoch >= epoch and within_tolerance(job, each) for each in proven)


def unexplained(job: JobToProve) -> tuple[CheckMade, ...]:
    """What was seen or read that is not as it should be, with no remedy since for anything that shows in it."""
    return tuple(made for made, since in _still_wrong(job) if not since)


def not_seen_again(job: JobToProve) -> tuple[tuple[CheckMade, str], ...]:
    """What was seen or read that is not as it should be and nobody looked at again, with the latest remedy since for
    anything that shows in it; but for what is missing for a verdict (see `missing`), which says so itself.

    A difference is left to the readings that make it."""
    wanted = {*not_repeated(job), *missing(job)}
    return tuple(
        (made, since[-1])
        for made, since in _still_wrong(job)
        if since and made.check not in wanted and job.checks[made.check].derived_from is None
    )


def _still_wrong(job: JobToProve) -> Iterator[tuple[CheckMade, list[str]]]:
    """The latest answers that are not as they should be, each with the remedies since for anything that shows in it."""
    remedies = [event.id for event in job.standing if event.kind == "remedy"]
    latest = {made.check: made for made in sorted(job.made, key=lambda made: made.epoch) if made.answer.outcomes}
    for name, made in latest.items():
        if name not in job.checks or within_tolerance(job, made):
            continue
        parents = job.checks[name].parents
        yield (
            made,
            [
                each
                for each in remedies[made.epoch :]
                if not job.knowledge.remedies[each].cures.keys().isdisjoint(parents)
            ],
        )


def outcomes_within_tolerance(job: JobToProve, check: str) -> frozenset[str]:
    """Outcomes of a check that lie within the tolerance."""
    also = job.knowledge.catalogue.costs.also_fine.get(check, ())
    return frozenset((job.knowledge.checks[check].normal, *also))


def within_tolerance(job: JobToProve, made: CheckMade) -> bool:
    """Whether an answer lies within the tolerance."""
    return bool(made.answer.outcomes) and set(made.answer.outcomes) <= outcomes_within_tolerance(job, made.check)


def judged(job: JobToProve) -> tuple[str, ...]:
    """Checks whose answers are judged in the proof: those that it needs, and those with outcomes that are also fine."""
    also = job.knowledge.catalogue.costs.also_fine
    return tuple(dict.fromkeys((*needed(job), *(name for name in also if name in job.checks))))


def outside(job: JobToProve) -> tuple[CheckMade, ...]:
    """Answers of the proof on the set as it is now that do not lie within the tolerance."""
    found = [made for name in judged(job) if (made := present(job, name)) is not None]
    return tuple(made for made in found if not within_tolerance(job, made))


def complaints(job: JobToProve) -> dict[str, str]:
    """Each complaint with its latest answer."""
    return {event.id: event.answer for event in job.standing if event.kind == "complaint"}


def standing_complaints(job: JobToProve) -> tuple[str, ...]:
    """Complaints that are present by their latest answer, which no proof run that passed does away with."""
    return tuple(name for name, answer in complaints(job).items() if answer == "present")


def not_found(job: JobToProve) -> bool:
    """Whether the proof is read and within the tolerance while a complaint stands: not fixed, and no fault found."""
    return bool(standing_complaints(job)) and not (job.held or missing(job) or outside(job))


def not_possible(job: JobToProve) -> dict[str, tuple[str, ...]]:
    """Checks of `missing` that cannot be made today, each with the tools that are not there."""
    catalogue = job.knowledge.catalogue
    found = {name: lacking(catalogue, "check", name, job.absent) for name in missing(job)}
    return {name: tools for name, tools in found.items() if tools}


def no_load_today(job: JobToProve) -> bool:
    """Whether the set cannot be loaded today as its proof needs it."""
    catalogue = job.knowledge.catalogue
    loaded = [name for name in catalogue.costs.proof_needed if name in job.checks and _loaded(job, name)]
    return any(lacking(catalogue, "check", name, job.absent) for name in loaded)


def _loaded(job: JobToProve, check: str) -> bool:
    """Whether a check is made under load."""
    return job.knowledge.checks[check].state == job.knowledge.catalogue.costs.proof_state


def only_under_load(job: JobToProve, complaint: str) -> bool:
    """Whether a complaint shows under load alone."""
    said = job.knowledge.complaints[complaint].says
    return bool(said) and all(_loaded(job, check) for check in said)


def tried_under_load(job: JobToProve) -> bool:
    """Whether anything was read or watched under load on the set as it is now."""
    return any(
        made.epoch == job.epoch and made.answer.outcomes and not made.derived and _loaded(job, made.check)
        for made in job.made
    )


def why_not_unproven(job: JobToProve) -> tuple[str, ...]:
    """Why the set must not be called right but not proven under load; empty where it may be: everything else that
    `faults` asks is right, and all that is missing is read under load, which cannot be done today."""
    lost, catalogue = not_possible(job), job.knowledge.catalogue
    loaded = {name for name in lost if job.checks[name].state == catalogue.costs.proof_state}
    if not loaded:
        return ("nothing that is read under load is missing for want of a tool",)
    allowed = {why_missing(job, name) for name in loaded}
    allowed |= {
        f"{job.knowledge.complaints[name].title} is still there"
        for name in standing_complaints(job)
        if only_under_load(job, name) and not tried_under_load(job)
    }
    return tuple(fault for fault in faults(job) if fault not in allowed)


def unproven_under_load(job: JobToProve) -> bool:
    """Whether the set may be closed as not proven under load."""
    return not why_not_unproven(job)


def why_missing(job: JobToProve, check: str) -> str:
    """What a check of `missing` leaves unproven, as a phrase."""
    again = not_repeated(job)
    if check not in again:
        return f"{job.checks[check].title} was not read on the set as it is now"
    made, remedy = again[check]
    showed = " or ".join(outcome.replace("_", " ") for outcome in made.answer.outcomes)
    done = job.knowledge.remedies[remedy].title
    return f"{job.checks[check].title} showed {showed} and was not looked at again after: {done}"


def doubted_load(job: JobToProve) -> str:
    """Why what was read at full load is not believed: the amps read with it, on the set as it is now, are fewer than
    full load comes to here beyond what steps of a load bank and the meter leave open. Empty where it is."""
    costs = job.knowledge.catalogue.costs
    points = [each for each in job.checks.values() if each.reading is not None and each.reading.load == 1.0]
    made = present(job, costs.full_load_by) if costs.full_load_by in job.checks else None
    if made is None or not made.answer.values or not any(present(job, each.id) for each in points):
        return ""
    read, full = max(made.answer.values), amps_of_full_load(job)
    if read >= costs.full_load_from * full:
        return ""
    title = job.checks[costs.full_load_by].title
    told = f"{figure(read)} A, {percent(read / full)} of the {figure(full)} A of full load"
    return f"{title}: {told}; that was not full load"


def amps_of_full_load(job: JobToProve) -> float:
    """Amps in each leg at what altitude and heat leave of the rated kilowatts, at power factor 1."""
    features = job.features
    amps = amps_per_leg(float(features["rated_kw"]), float(features["volts"]), int(float(features["phases"])))
    try:
        usable = derate(Site(float(features["altitude"]), float(features["temperature"]))).usable
    except AnswerError:
        usable = 1.0
    return amps * min(1.0, usable)


def faults(job: JobToProve) -> tuple[str, ...]:
    """Why the set must not be called fixed and proven; empty where it may be."""
    found = [str(hold) for hold in job.held]
    found += [f"{job.knowledge.catalogue.fittings[each.fitting].title} is off or open" for each in job.off]
    found += [why_missing(job, name) for name in missing(job)]
    found += [
        f"{job.checks[made.check].title}, {made.answer.text}, lies outside the tolerance" for made in outside(job)
    ]
    found += [f"{job.knowledge.complaints[name].title} is still there" for name in standing_complaints(job)]
    if doubt := doubted_load(job):
        found.append(doubt)
    return tuple(found)


def fixed(job: JobToProve) -> bool:
    """Whether the set may be called fixed and proven."""
    return not faults(job)
