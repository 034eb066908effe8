"""The condition of the set: as found, as left, and whether it lies within the tolerance.

Purpose: what the readings of a job say about the set as it is now, and what is left open.
Law: pure: the same job gives the same verdict. Limits come from the knowledge, through the outcomes of the checks.
Not here: when a set is fixed and proven (see the engine, whose names for that are here too), and asking for readings
that are missing (see `proof_run`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ...engine import ContradictionError, Job
from ...engine.compiler import Band, Check
from ...engine.job import (
    CheckMade,
    amps_of_full_load,
    answers_as_left,
    complaints,
    doubted_load,
    due,
    fixed,
    judged,
    missing,
    needed,
    not_found,
    not_possible,
    not_seen_again,
    outcomes_within_tolerance,
    outside,
    present,
    seen_to,
    unexplained,
    why_missing,
    within_tolerance,
)
from ...engine.problems import figure, in_sentence, limit_text, percent
from ...engine.readings import scale_of
from ...engine.setting import sheet
from .event_text import titled

__all__ = [
    "AsFoundAsLeft",
    "answer_words",
    "beside",
    "complaints",
    "fixed",
    "kept_words",
    "limits",
    "missing",
    "needed",
    "not_found",
    "open_points",
    "outside",
    "present",
    "rows",
    "within_tolerance",
]

_SUSPECT = 0.15
_BOTH_SIDES = 2.5


@dataclass(frozen=True, slots=True)
class AsFoundAsLeft:
    """One check: what it read at first and what it reads now, empty where it was not taken. `fine` is about `left`.

    As left is the answer on the set as it is now, or an earlier one that no remedy since has borne on."""

    check: str
    title: str
    found: str
    left: str
    limits: str
    fine: bool | None


def beside(job: Job) -> tuple[CheckMade, ...]:
    """Answers beside those of the proof that are not as they should be: on the set as it is now, and earlier ones that
    nothing done since bears on."""
    proof = {made.check for made in outside(job)} | {*missing(job)}
    return tuple(made for made in unexplained(job) if made.check not in proof)


def answer_words(made: CheckMade) -> str:
    """An answer in words: "64.1 Hz (high)"."""
    answer = made.answer
    if not answer.outcomes:
        return "not known"
    names = " or ".join(name.replace("_", " ") for name in answer.outcomes)
    doubt = "" if answer.sure else ", not sure"
    if not answer.values:
        return names + doubt
    unit = answer.text.rstrip("?").rpartition(" ")[2]
    return f"{', '.join(f'{value:.4g}' for value in answer.values)} {unit} ({names}{doubt})"


def kept_words(job: Job, made: CheckMade) -> str:
    """An answer as it is said to be kept, with what is right where it is not: "64 Hz, high (right: 61 to 62 Hz)"."""
    words = answer_words(made)
    if made.answer.values:
        figures, _, names = words.removesuffix(")").partition(" (")
        words = f"{figures}, {names}"
    right = limits(job, job.checks[made.check]) if made.answer.outcomes and not within_tolerance(job, made) else ""
    return f"{words} (right: {right})" if right else words


def limits(job: Job, check: Check, of_rated: bool = False) -> str:
    """Readings that count as normal, as text with the unit; empty where there is no reading. of_rated: volts and amps
    in percent of the rating, for any set."""
    reading = check.reading
    if reading is None:
        return ""
    bands: Sequence[Band] = job.knowledge.catalogue.tolerances[job.tolerance].bands.get(check.id) or reading.bands
    scale, unit = scale_of(reading, job.features), reading.unit
    if of_rated and reading.scale in ("rated_volts", "rated_amps"):
        scale, unit = 100.0, "% of rated"
    within = [band for band in bands if set(band.outcomes) <= outcomes_within_tolerance(job, check.id)]
    if not within:
        return ""
    low, high = min(band.low for band in within) * scale, max(band.high for band in within) * scale
    # A reading nearer to a limit than this speaks for both sides of it.
    told = limit_text(low, high, unit, _BOTH_SIDES * reading.uncertainty * scale)
    if check.id == job.knowledge.catalogue.costs.full_load_by and not of_rated:
        full = figure(round(amps_of_full_load(job), 1))
        assumed = f", as {figure(float(job.features['rated_kw']))} kW is assumed" if "rated_kw" in job.assumed else ""
        return f"{told}; full load is about {full} A{assumed}"
    return told


def rows(job: Job) -> tuple[AsFoundAsLeft, ...]:
    """Every check that was answered, those of the proof first, then in the order of the work."""
    order = list(judged(job))
    order += [made.check for made in job.made if made.check not in order]
    still = answers_as_left(job) if job.epoch else {}
    found = []
    for name in dict.fromkeys(order):
        answers = [made for made in job.made if made.check == name and made.answer.outcomes]
        if not answers:
            continue
        check = job.checks[name]
        first = min(answers, key=lambda made: made.epoch)
        last = present(job, name) if job.epoch else first
        if last is None and name in still:
            last = still[name].made
        # A reading that was first taken after the last remedy says nothing of how the set was found.
        earlier = first if first.epoch < job.epoch or not job.epoch else None
        found.append(
            AsFoundAsLeft(
                name,
                check.title,
                answer_words(earlier) if earlier else "",
                _left(last, earlier),
                limits(job, check),
                within_tolerance(job, last) if last else None,
            )
        )
    return tuple(found)


def _left(last: CheckMade | None, earlier: CheckMade | None) -> str:
    """An answer as left; one that was taken before the work and stands since is said to be the one as found."""
    if last is None:
        return ""
    return f"{answer_words(last)}, as found" if last == earlier else answer_words(last)


def open_points(job: Job) -> tuple[str, ...]:
    """What is not settled, one sentence each."""
    knowledge = job.knowledge
    points = [f"Held: {hold}." for hold in job.held]
    points += [f"{knowledge.catalogue.fittings[each.fitting].title}: off or open." for each in job.off]
    for name, answer in complaints(job).items():
        if answer in ("present", "unsure"):
            points.append(
                f"{knowledge.complaints[name].title}: {'still there' if answer == 'present' else 'not sure'}."
            )
    lost = not_possible(job)
    for name in missing(job):
        tools = ", ".join(knowledge.catalogue.tools[tool].title for tool in lost.get(name, ()))
        points.append(f"{why_missing(job, name)}{f'; not here: {tools}' if tools else ''}.")
    points += [f"{job.checks[made.check].title}: {answer_words(made)}, outside the tolerance." for made in outside(job)]
    points += [f"{job.checks[made.check].title}: {answer_words(made)}, not as it should be." for made in beside(job)]
    again = [
        f"{in_sentence(job.checks[made.check].title)}, {answer_words(made)}, "
        f"before: {in_sentence(knowledge.remedies[since].title)}"
        for made, since in not_seen_again(job)
    ]
    if again:
        points.append(f"Seen as found and not looked at again: {'; '.join(again)}.")
    points += [
        f"{knowledge.remedies[event.id].title}, not done in full: {event.cells['left']}"
        for event in job.standing
        if event.kind == "remedy" and event.cells.get("left")
    ]
    points += [f"Due and not done: {knowledge.remedies[name].title}." for name in due(job)]
    off = {each.fitting for each in job.off}
    points += [
        f"Before leaving, not so: {titled(knowledge, name)}."
        for name, so in seen_to(job).items()
        if not so and name not in off
    ]
    if doubt := doubted_load(job):
        points.append(f"{doubt}.")
    points += _unsettled(job)
    try:
        ranking = job.ranking()
    except ContradictionError as error:
        points.append(f"Findings that cannot all be right: {'; '.join(error.findings)}.")
        ranking = []
    for name, chance in ranking:
        if chance >= _SUSPECT and knowledge.causes[name].fault:
            points.append(f"{knowledge.causes[name].title}: {percent(chance)} still.")
    return tuple(points)


def _unsettled(job: Job) -> list[str]:
    """What nobody looked at, or was seen and is not right: of the settings of a set that was set in order; and what
    nobody looked at before a job is closed."""
    catalogue, points = job.knowledge.catalogue, []
    lines = sheet(job) if any(event.kind == "setting" and event.answer == "begun" for event in job.standing) else ()
    for line in lines:
        if line.unseen:
            points.append(f"{line.title}, not looked at in full: {'; '.join(line.unseen)}.")
        if line.wrong:
            points.append(f"{line.title}, not right: {'; '.join(line.wrong)}.")
    told = {name for line in lines if line.unseen for name in line.checks}
    left = [name for name in job.before_closing(seen=True) if name not in told]
    named = []
    for name in left if job.epoch or lines else ():
        tools = ", ".join(catalogue.tools[tool].title for tool in job.lacking("check", name))
        named.append(in_sentence(job.checks[name].title) + (f" (not here: {tools})" if tools else ""))
    if named:
        points.append(f"Not looked at before closing: {'; '.join(named)}.")
    return points
