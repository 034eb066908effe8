"""Succession: what a job says of retired items, in terms of what is in use now.

Purpose: an old job stays readable when an item is renamed or withdrawn: an event that names a retired check,
complaint or remedy becomes one about its replacement, or a remark where there is none that fits. And a job of the first
format, which kept closings, acknowledgements and load tests as notes, becomes one that says them as events.
Law: nothing is dropped in silence: each change is told in a sentence with the old name. An event whose item is in
use comes back as it is. One event goes in and one comes out, so that steps back take back the same things.
Not here: whether an event fits the knowledge (see `job`), what may replace what (see `names`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Protocol

from ..compiler import Knowledge, Retired
from ..loadtest import read_mappings
from ..problems import AnswerError, HertzwrightError, quoted
from .event import Event
from .generating_set import GeneratingSet

_KINDS = ("check", "complaint", "remedy", "set_to")


_CLOSINGS = {"fixed and proven.": "fixed", "left open.": "open", "handed over; not fixed here.": "handed_over"}
_RUNS = {"as found": "as_found", "as left": "as_left"}
_FULL = re.compile(r"(\d+(?:\.\d+)?) kW by (\w+), power factor (\d+(?:\.\d+)?)")


def of_the_first_format(event: Event) -> Event:
    """An event of a job file of format 1, whose notes say by their first words what is an event of its own now.

    Only for events that were written in that format: what somebody types is never read as anything but a note.
    """
    if event.kind != "note":
        return event
    if event.answer == "Shut down, and the throttle proven to close with the engine stopped.":
        return Event("secured", answer="the technician")
    if event.answer == "Opened again.":
        return Event("reopened")
    head, colon, text = event.answer.partition(": ")
    if not colon:
        return event
    if head == "Closed" and text in _CLOSINGS:
        return Event("closed", _CLOSINGS[text])
    if head == "Acknowledged":
        return Event("acknowledged", "job" if text.startswith("the cautions of the job") else "", text)
    if head == "Meter accuracy":
        return Event("load_reading", "accuracy", cells={"text": text.strip()})
    if head == "Load test full load" and (match := _FULL.fullmatch(text)):
        return Event("load_reading", "full_load", cells={"kw": match[1], "rule": match[2], "power factor": match[3]})
    if head.startswith("Load test ") and (run := _RUNS.get(head.removeprefix("Load test "))):
        return _reading(run, text) or event
    return event


def _reading(run: str, text: str) -> Event | None:
    """A reading of a load test; None where the note only begins like one."""
    pairs = (cell.partition("=") for cell in text.split(";"))
    cells = {name.strip(): value.strip() for name, _, value in pairs}
    try:
        read_mappings([cells], "the job", run)
    except AnswerError:
        return None
    return Event("load_reading", run, cells=cells)


class _Successor(Protocol):
    @property
    def retired(self) -> Retired | None: ...


def current(knowledge: Knowledge, events: Iterable[Event]) -> tuple[tuple[Event, ...], tuple[str, ...]]:
    """The events of a job in terms of what is in use now, and a sentence for each retired item they named.

    Raises AnswerError or JobError where the set of the job does not fit this knowledge.
    """
    listed = tuple(events)
    if not listed or listed[0].kind != "set":
        return listed, ()
    genset = GeneratingSet(knowledge, listed[0].features, listed[0].tolerance or "default")
    changed = [brought_up_to_date(genset, event) for event in listed]
    return tuple(event for event, _ in changed), tuple(dict.fromkeys(said for _, said in changed if said))


def brought_up_to_date(genset: GeneratingSet, event: Event) -> tuple[Event, str]:
    """The event in terms of what is in use now, and a sentence about the change: empty where there is none."""
    if event.kind not in _KINDS:
        return event, ""
    knowledge = genset.knowledge
    kinds: Mapping[str, Mapping[str, _Successor]] = {
        "check": knowledge.checks,
        "complaint": knowledge.complaints,
        "remedy": knowledge.remedies,
        "set_to": knowledge.catalogue.setting,
    }
    items = kinds[event.kind]
    name, seen = event.id, {event.id}
    while name in items and (gone := items[name].retired) is not None:
        name = gone.replaced_by
        if name in seen:  # a circle, which checking the knowledge refuses
            name = ""
        seen.add(name)
    if name == event.id:
        return event, ""
    kind = "step of setting" if event.kind == "set_to" else event.kind
    old, first = f"the {kind} {quoted(event.id)}", items[event.id].retired
    since = f" since {first.since}" if first is not None else ""
    if name in items:
        now = replace(event, id=name)
        fault = _fault(genset, now)
        if not fault:
            return now, f"{old} is called {quoted(name)}{since}"
        why = f"{quoted(name)}, which replaces it{since}, does not take {quoted(event.answer)}"
    else:
        why = f"retired{since}" + (f": {first.reason}" if first is not None and first.reason else "")
    remark = Event("note", answer=f"{kind} {event.id}: {event.answer} (no longer weighed; {why})")
    return remark, f"{old} is kept as a remark and no longer weighed: {why}"


def _fault(genset: GeneratingSet, event: Event) -> str:
    """Why an answer does not fit the item that replaces the one it was given to; empty where it does."""
    if event.kind != "check":
        return ""
    try:
        genset.understand(event.id, event.answer)
    except HertzwrightError as error:
        return str(error)
    return ""
