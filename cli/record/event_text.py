"""Events in words: what a step or a fitting is called, and how a job was closed.

Purpose: the same phrases on the screen, in lists and in the record.
Law: pure; an id that is not known gives an empty title and no error.
Not here: answers in words (see `condition`).
"""

from __future__ import annotations

from collections.abc import Mapping

from ...engine import Knowledge
from ...engine.compiler import parse_number
from ...engine.job import Event, closing

CLOSINGS = {
    "fixed": "fixed and proven",
    "open": "left open",
    "handed_over": "handed over; not fixed here",
    "not_found": "not found; the complaint stands",
    "not_proven_under_load": "not proven under load",
}
"""How a job was closed, in words."""


def titled(knowledge: Knowledge, name: str) -> str:
    """The title of a check, complaint, remedy, fitting, step of setting or point of the closing list; empty where there
    is none of this id."""
    if name in knowledge.checks:
        return knowledge.checks[name].title
    if name in knowledge.complaints:
        return knowledge.complaints[name].title
    if name in knowledge.catalogue.fittings:
        return knowledge.catalogue.fittings[name].title
    if name in knowledge.catalogue.closing:
        return knowledge.catalogue.closing[name].title
    if name in knowledge.catalogue.setting:
        return knowledge.catalogue.setting[name].title
    return knowledge.remedies[name].title if name in knowledge.remedies else ""


def fitting_told(knowledge: Knowledge, event: Event) -> str:
    """What came off or went back on, as a phrase."""
    said = "put back" if event.kind == "put_back" else f"off {event.answer}".strip()
    return f"{knowledge.catalogue.fittings[event.id].title}: {said}"


def setting_told(knowledge: Knowledge, event: Event) -> str:
    """That a set is set in order, or what was done for a step of it, as a phrase."""
    if event.kind == "setting":
        return "Setting in order: begun" if event.answer == "begun" else "Setting in order: not now"
    if event.answer == "turned":
        made = {name: parse_number(said) for name, said in event.cells.items()}
        return f"{titled(knowledge, event.id)}: turned, {'; '.join(turns_told(knowledge, made))}"
    at = event.cells.get("at", "")
    return f"{titled(knowledge, event.id)}: {event.answer}{f', {at}' if at else ''}"


def fraction(turns: float) -> str:
    """Turns as they are counted at a screw: 2 1/8."""
    whole, eighths = divmod(round(turns * 8), 8)
    parts = {0: "", 1: "1/8", 2: "1/4", 3: "3/8", 4: "1/2", 5: "5/8", 6: "3/4", 7: "7/8"}
    return " ".join(part for part in (str(whole) if whole else "", parts[eighths]) if part) or "0"


def turns_told(knowledge: Knowledge, turns: Mapping[str, float]) -> tuple[str, ...]:
    """What is turned, how far and which way, one phrase for each adjuster."""
    told = []
    for name, part in turns.items():
        adjuster = knowledge.catalogue.adjusters[name]
        size = f"{fraction(abs(part))} turn{'' if abs(part) <= 1 else 's'}"
        told.append(f"{adjuster.title}: {size} {adjuster.way(part)}")
    return tuple(told)


def standing_told(knowledge: Knowledge, event: Event) -> str:
    """How the set stood, as a phrase."""
    return f"The set: {knowledge.catalogue.costs.found[event.id].title}"


def visit_told(knowledge: Knowledge, event: Event) -> str:
    """A tool that is not there or has come, or what somebody did before, as a phrase; empty for another event."""
    if event.kind in ("not_here", "here"):
        title = knowledge.catalogue.tools[event.id].title
        return f"{title[0].upper()}{title[1:]}: {'not here today' if event.kind == 'not_here' else 'has come'}"
    if event.kind != "before":
        return ""
    told = "" if event.id in knowledge.remedies else f", {event.answer.rstrip('?').replace('_', ' ')}"
    return f"{titled(knowledge, event.id)}: done before we came{told}"


def state(standing: list[Event]) -> str:
    """Open, or how it was closed."""
    return CLOSINGS.get(closing(standing), "open")
