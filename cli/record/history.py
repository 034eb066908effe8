"""The visits of a set: its jobs, oldest first, each with how it was found and how it was left.

Purpose: what a technician wants to know of a set before the first reading, and what has moved since the last visit.
Law: reads only; a job that this knowledge cannot take is listed with the reason.
Not here: what counts as moved (see the engine).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ...engine import HertzwrightError, Hold, Job, JobError, Knowledge
from ...engine.job import (
    ComparedReading,
    ReadingChange,
    answers_as_found,
    answers_as_left,
    compared_answers,
    current,
    standing_of,
)
from ...engine.problems import close_to, quoted
from ..files import journal
from ..terminal import Screen
from .condition import answer_words
from .event_text import state

SETTINGS = ("turns", "in")
"""Units of what is set by hand; every other reading is what the set then does."""


@dataclass(frozen=True, slots=True)
class KeptVisit:
    """One job of a set. `found`, `left`: answers by check. `problem`: why there are none."""

    ident: str
    created: str
    state: str
    remedies: tuple[str, ...] = ()
    found: Mapping[str, ComparedReading] = field(default_factory=dict)
    left: Mapping[str, ComparedReading] = field(default_factory=dict)
    problem: str = ""
    held: tuple[Hold, ...] = ()


def visit(knowledge: Knowledge, record: journal.JobFileContent) -> KeptVisit:
    """One visit from its job file."""
    standing = standing_of(record.events)
    begun = (record.ident, record.head.created, state(standing))
    try:
        job = Job.replay(knowledge, current(knowledge, record.events)[0])
    except HertzwrightError as error:
        return KeptVisit(*begun, problem=f"this knowledge cannot take the job: {error}")
    remedies = tuple(knowledge.remedies[event.id].title for event in job.standing if event.kind == "remedy")
    return KeptVisit(*begun, remedies, answers_as_found(job), answers_as_left(job), record.damage, job.held)


def visits(knowledge: Knowledge, folder: Path, name: str, before: Path | None = None) -> tuple[KeptVisit, ...]:
    """Visits of the set of this name, oldest first. `before`: only those older than this job file."""
    met = []
    for path in journal.listed(folder):
        if before is not None and path.name == before.name:
            break
        try:
            record = journal.read(path)
        except HertzwrightError:
            continue
        if record.head.set == name:
            met.append(visit(knowledge, record))
    return tuple(met)


def last(knowledge: Knowledge, folder: Path, name: str, before: Path | None = None) -> KeptVisit | None:
    """The latest earlier visit that anything is known to be left from."""
    return next((met for met in reversed(visits(knowledge, folder, name, before)) if met.left), None)


def set_named(folder: Path, name: str) -> str:
    """The name of a set as the job files have it. Raises JobError where there is none such."""
    names = []
    for path in journal.listed(folder):
        try:
            names.append(journal.read(path).head.set)
        except HertzwrightError:
            continue
    wanted = journal.clean_name(name)
    known = list(dict.fromkeys(names))
    if wanted in known:
        return wanted
    alike = [other for other in known if other.casefold() == wanted.casefold()]
    if len(alike) == 1:
        return alike[0]
    hint = close_to(wanted, known, f"known are {', '.join(known[-5:])}" if known else "no jobs are kept there")
    raise JobError(f"no set {quoted(name)} in {folder}; {hint}")


def since(knowledge: Knowledge, visit: KeptVisit, job: Job) -> tuple[ReadingChange, ...]:
    """What a job found that differs from how the set was left at an earlier visit, and what does not."""
    return compared_answers(visit.left, answers_as_found(job), knowledge.checks)


def between(knowledge: Knowledge, first: KeptVisit, second: KeptVisit) -> tuple[ReadingChange, ...]:
    """What one visit found that differs from how an earlier one left the set, and what does not."""
    return compared_answers(first.left, second.found, knowledge.checks)


def change(knowledge: Knowledge, item: ReadingChange) -> str:
    """How far it moved: "+0.6 Hz", "other than before", "as it was left"."""
    if item.kind == "same":
        return "as it was left"
    reading = knowledge.checks[item.check].reading
    size = "other than before" if item.change is None or reading is None else f"{item.change:+.3g} {reading.unit}"
    return size if item.kind == "moved" else f"{size}, no longer {item.before.answer.outcomes[0].replace('_', ' ')}"


def show_left(screen: Screen, knowledge: Knowledge, visit: KeptVisit) -> None:
    """How a set was left at a visit: what was done, then settings, then readings."""
    screen.heading(f"As left on {visit.created[:10]} (job {visit.ident}, {visit.state.split(';')[0]})")
    for hold in visit.held:
        screen.attention(f"Held then: {hold}")
    if visit.problem:
        screen.problem(visit.problem)
    screen.fact("Done then", "; ".join(visit.remedies))
    for title, names in parted(knowledge, visit.left):
        screen.fact(
            title, "; ".join(f"{knowledge.checks[name].title}: {answer_words(visit.left[name].made)}" for name in names)
        )


def parted(knowledge: Knowledge, answers: Mapping[str, ComparedReading]) -> tuple[tuple[str, list[str]], ...]:
    """Checks answered, in two groups: settings, and what the set did."""
    settings = []
    for name in answers:
        reading = knowledge.checks[name].reading
        if reading is not None and reading.unit in SETTINGS:
            settings.append(name)
    return (("Settings", settings), ("Readings", [name for name in answers if name not in settings]))


def show_moved(screen: Screen, knowledge: Knowledge, items: tuple[ReadingChange, ...]) -> None:
    """What has moved since, as a table; nothing where nothing was read both times."""
    if not items:
        return
    screen.heading("Found since, beside how it was left")
    screen.table(
        ("Check", "As left then", "As found now", "Change"),
        [
            (
                knowledge.checks[item.check].title,
                answer_words(item.before),
                answer_words(item.now),
                change(knowledge, item),
            )
            for item in items
        ],
    )
