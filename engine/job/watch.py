"""A watch over the events of a job: which findings hold it, and until when.

Purpose: events one after the other, each with its fate -> the holds that stand.
Law: a finding holds until the set is secured, also where it was taken back, unless that was said to be a mistake; it
is judged by the features as they were thought to be then, and as they are now.
Not here: which readings are dangerous (see `danger`).
"""

from __future__ import annotations

from dataclasses import replace

from ..loadtest import read_mappings
from ..readings import Answer
from . import danger
from .danger import Hold
from .event import Event
from .generating_set import GeneratingSet

STANDS, TAKEN_BACK, NEVER_SO = "stands", "taken back", "never so"
"""What became of an event: it stands, it was taken back, or it was said to be a mistake."""


class Watch:
    """What of the events holds the job, judged by the features as they were thought to be then, and as they are now."""

    def __init__(self, genset: GeneratingSet, holds: dict[Hold, None]) -> None:
        self._genset = genset
        self._then = genset
        self._features: dict[str, str | float] = {}
        self._holds = holds
        self._made: dict[str, Answer] = {}

    def see(self, event: Event, fate: str) -> None:
        if fate == STANDS and event.kind in ("set", "feature"):
            self._features.update(event.features)
            usual = self._genset.knowledge.features(self._features)
            if usual == self._genset.features:
                self._then = self._genset
            else:
                self._then = GeneratingSet(self._genset.knowledge, self._features, self._genset.tolerance)
        elif fate == STANDS and event.kind == "remedy":
            self._made = {}
        elif fate == STANDS and event.kind == "secured":
            # What was read before is not put together with what is read after.
            self._holds.clear()
            self._made = {}
        elif fate != NEVER_SO:
            found = [hold for genset in self._sets() for hold in self._of(genset, event)]
            for hold in dict.fromkeys(found):
                self._holds.setdefault(replace(hold, taken_back=fate == TAKEN_BACK))
            if fate == STANDS and event.kind in ("check", "before") and event.id in self._genset.checks:
                self._made[event.id] = self._genset.understand(event.id, event.answer)

    def _sets(self) -> tuple[GeneratingSet, ...]:
        return (self._genset,) if self._then is self._genset else (self._then, self._genset)

    def _of(self, genset: GeneratingSet, event: Event) -> tuple[Hold, ...]:
        if event.kind == "complaint":
            return danger.of_complaint(genset, event.id, event.answer)
        if event.kind in ("check", "before") and event.id in genset.checks:
            return danger.of_answer(
                genset, {**self._made, event.id: genset.understand(event.id, event.answer)}, event.id
            )
        if event.kind == "load_reading" and event.id in ("as_found", "as_left", "trace"):
            return of_cells(genset, event)
        return ()


def of_cells(genset: GeneratingSet, event: Event) -> tuple[Hold, ...]:
    """What a reading of a load test or a recording holds. Raises AnswerError where it is none."""
    where = "Recording" if event.id == "trace" else "Load test"
    rows = read_mappings([event.cells], where, "as_left" if event.id == "as_left" else "as_found").rows
    catalogue = genset.knowledge.catalogue
    return tuple(hold for row in rows for hold in danger.of_row(catalogue, genset.features, row, where))
