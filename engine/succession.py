"""Succession: what a job says of retired items, in terms of what is in use now.

Purpose: an old job stays readable when an item is renamed or withdrawn: an event that names a retired check,
complaint or remedy becomes one about its replacement, or a remark where there is none that fits.
Law: nothing is dropped in silence: each change is told in a sentence with the old name. An event whose item is in
use comes back as it is. One event goes in and one comes out, so that steps back take back the same things.
Not here: whether an event fits the knowledge (see `job`), what may replace what (see `names`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Protocol

from .event import Event
from .genset import GeneratingSet
from .knowledge import Knowledge
from .model import Retired
from .problem import HertzwrightError, quoted

_KINDS = ("check", "complaint", "remedy")


class _Item(Protocol):
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
    kinds: Mapping[str, Mapping[str, _Item]] = {
        "check": knowledge.checks,
        "complaint": knowledge.complaints,
        "remedy": knowledge.remedies,
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
    old, first = f"the {event.kind} {quoted(event.id)}", items[event.id].retired
    since = f" since {first.since}" if first is not None else ""
    if name in items:
        now = replace(event, id=name)
        fault = _fault(genset, now)
        if not fault:
            return now, f"{old} is called {quoted(name)}{since}"
        why = f"{quoted(name)}, which replaces it{since}, does not take {quoted(event.answer)}"
    else:
        why = f"retired{since}" + (f": {first.reason}" if first is not None and first.reason else "")
    remark = Event("note", answer=f"{event.kind} {event.id}: {event.answer} (no longer weighed; {why})")
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
