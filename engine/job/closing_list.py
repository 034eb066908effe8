"""What is seen to last: the list that is gone through before the technician leaves.

Purpose: the job -> the points of the knowledge's closing list that it calls for, and what of them was confirmed.
Law: pure. What comes off is asked by its own question while it is off (see `fittings`); a point that runs the set is
not asked while it must not run. Work after the list was gone through asks it anew.
Not here: when it is asked (see the terminal), and whether the set is fixed (see `acceptance`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from ..compiler import Knowledge
from .danger import Hold
from .event import LEFT, Event
from .fittings import Off, fits_of

_STEPS = ("check", "remedy", "proof", "set_to")
_DONE = (*_STEPS, "taken_off", "secured")
"""Kinds of event after which the set no longer stands as the list left it."""


class JobToLeave(Protocol):
    """What the closing list needs of a job."""

    @property
    def knowledge(self) -> Knowledge:
        """Its closing list."""

    @property
    def features(self) -> Mapping[str, str | float]:
        """The set."""

    @property
    def standing(self) -> Sequence[Event]:
        """Events that stand, in the order in which they came."""

    @property
    def here(self) -> str:
        """Set-up state the set is in now."""

    @property
    def held(self) -> Sequence[Hold]:
        """Why the set must not run."""

    @property
    def off(self) -> Sequence[Off]:
        """What is off or open on the set now."""


def closing_list(job: JobToLeave) -> tuple[str, ...]:
    """Ids of the fittings that are still off, then of the points that this job calls for, in the order written."""
    catalogue = job.knowledge.catalogue
    worked, opened = _work(job)
    still = {each.fitting for each in job.off}
    found = [each.fitting for each in job.off]
    for name, point in catalogue.closing.items():
        came_off, others = opened & {*point.fittings}, {*point.fittings} - still
        if (
            point.only_if.holds(job.features)
            and (not point.standing or job.here in point.standing)
            and (not (point.after or point.fittings) or worked & {*point.after} or came_off)
            and not (still & {*point.fittings} and came_off <= still and not (others and worked & {*point.after}))
            and not (point.runs and job.held)
        ):
            found.append(name)
    return tuple(found)


def seen_to(job: JobToLeave) -> dict[str, bool]:
    """The points that were asked since anything was last done, and whether each was confirmed."""
    found: dict[str, bool] = {}
    for event in job.standing:
        if event.kind == "left":
            found[event.id] = event.answer == LEFT[0]
        elif event.kind in _DONE:
            found = {}
    return found


def _work(job: JobToLeave) -> tuple[set[str], set[str]]:
    """Set-up states in which something was done, and what was off at any time."""
    catalogue = job.knowledge.catalogue
    states, opened = set[str](), {each.fitting for each in job.off}
    for event in job.standing:
        if event.kind == "taken_off":
            opened.add(event.id)
        if event.kind not in _STEPS or (event.kind != "remedy" and event.answer in ("unknown", "no response")):
            continue
        kind = "setting" if event.kind == "set_to" else event.kind
        state, fits = fits_of(catalogue, kind, event.id)
        states.add(state)
        opened.update(fits.takes_off)
    return states, opened
