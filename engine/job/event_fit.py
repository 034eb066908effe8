"""Whether an event fits the set: what a job file may hold, kind by kind.

Purpose: an event that comes from a file, or from other words than the job's own verbs -> nothing, or an error.
Law: changes nothing; the error shows what was found and says what was expected.
Not here: what an event does (see `state`), and whether the job is held (see `job`).
"""

from __future__ import annotations

from collections.abc import Iterable

from ..compiler import Knowledge, parse_number
from ..problems import AnswerError, quoted, shown
from .event import (
    BEFORE,
    CLOSINGS,
    COMPLAINT_ANSWERS,
    DISTURBED,
    KINDS,
    LEFT,
    LOAD_READINGS,
    PROOFS,
    RESULTS,
    SET_TO,
    SETTINGS,
    Event,
    JobError,
    in_use,
    unknown,
)
from .fittings import AS_FOUND
from .generating_set import GeneratingSet
from .state import features_of
from .watch import of_cells


def must_fit(event: Event, genset: GeneratingSet, standing: Iterable[Event]) -> None:
    """Raises JobError or AnswerError where an event does not fit the set; standing: what stood until then."""
    knowledge = genset.knowledge
    if event.kind == "check":
        genset.understand(event.id, event.answer)
    elif event.kind == "stands":
        if event.id not in knowledge.catalogue.costs.found:
            raise unknown("way a set stands", event.id, knowledge.catalogue.costs.found)
    elif event.kind == "feature":
        _features_fit(event, genset, standing)
    elif event.kind == "load_reading":
        if event.id not in LOAD_READINGS:
            raise unknown("kind of load reading", event.id, dict.fromkeys(LOAD_READINGS))
        if event.id in ("as_found", "as_left", "trace"):
            of_cells(genset, event)
    elif event.kind == "closed":
        if event.id not in CLOSINGS:
            raise unknown("way to close a job", event.id, dict.fromkeys(CLOSINGS))
    elif event.kind == "complaint":
        if not in_use(event.id, knowledge.complaints) or event.answer not in COMPLAINT_ANSWERS:
            raise unknown("complaint", event.id, knowledge.complaints)
    elif event.kind == "remedy":
        if not in_use(event.id, knowledge.remedies) or event.answer not in RESULTS:
            raise unknown("remedy", event.id, knowledge.remedies)
    elif event.kind == "proof":
        if event.answer not in PROOFS:
            raise JobError(f"{quoted(event.answer)} is no result of a proof run")
    elif event.kind in ("setting", "set_to"):
        _setting_fits(knowledge, event)
    elif event.kind in ("taken_off", "put_back"):
        if event.answer not in ("", AS_FOUND):
            raise JobError(f"{quoted(event.answer)}: something is off as found, or not")
        if event.id not in knowledge.catalogue.fittings:
            raise unknown("fitting", event.id, knowledge.catalogue.fittings)
    elif event.kind in ("not_here", "here"):
        if event.id not in knowledge.catalogue.tools:
            raise unknown("tool", event.id, knowledge.catalogue.tools)
    elif event.kind == "left":
        known = {**knowledge.catalogue.fittings, **knowledge.catalogue.closing}
        if event.id not in known:
            raise unknown("point of the closing list", event.id, known)
        if event.answer not in LEFT:
            raise JobError(f"{quoted(event.answer)}: expected {' or '.join(LEFT)}")
    elif event.kind == "before":
        _before_fits(event, genset)
    elif event.kind not in KINDS or event.kind == "set":
        raise JobError(f'"{shown(event.kind)}" is no kind of event')


def _before_fits(event: Event, genset: GeneratingSet) -> None:
    knowledge = genset.knowledge
    if event.id in knowledge.checks:
        genset.understand(event.id, event.answer)
    elif event.id not in knowledge.remedies:
        raise unknown("remedy or check", event.id, {**knowledge.remedies, **knowledge.checks})
    elif event.answer not in BEFORE:
        raise JobError(f"{quoted(event.answer)} is no result of what was done before; expected {' or '.join(BEFORE)}")


def _setting_fits(knowledge: Knowledge, event: Event) -> None:
    known = knowledge.catalogue.setting
    named = (event.id,) if event.kind == "set_to" else tuple(event.cells)
    for name in named:
        if not in_use(name, known):
            raise unknown("step of setting", name, known)
    if event.answer == "turned":
        adjusters = knowledge.catalogue.adjusters
        for name, turns in event.cells.items():
            if name not in adjusters:
                raise unknown("adjuster", name, adjusters)
            try:
                parse_number(turns)
            except ValueError:
                raise JobError(f"{name} turned {quoted(turns)}; expected turns, such as +1.5 or -0.25") from None
    if event.kind == "setting" and event.id not in ("", DISTURBED):
        raise JobError(f"setting of {quoted(event.id)}; expected nothing there, or {DISTURBED}")
    answers = SET_TO if event.kind == "set_to" else SETTINGS
    if event.answer not in answers:
        raise JobError(f"{quoted(event.answer)} is no {event.kind.replace('_', ' ')}; expected {', '.join(answers)}")


def _features_fit(event: Event, genset: GeneratingSet, standing: Iterable[Event]) -> None:
    standing = tuple(standing)
    changed = ", ".join(f"{name} = {value}" for name, value in event.features.items())
    after = GeneratingSet(genset.knowledge, {**features_of(standing), **event.features}, genset.tolerance)
    for other in standing:
        if other.kind != "check" and not (other.kind == "before" and other.id in genset.knowledge.checks):
            continue
        try:
            after.understand(other.id, other.answer)
        except (AnswerError, JobError) as error:
            raise JobError(
                f"{shown(changed)}: {other.id} was answered {quoted(other.answer)}, and that does not fit "
                f"such a set ({error}); take that answer back first"
            ) from None
