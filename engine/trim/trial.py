"""A trial, and what is known after some of them.

Purpose: one setting with what was read there; the face of a coach that the findings see, so that they stand below it.
Law: read only.
Not here: what is learned of a trial (see `coach`), and what it says beside that (see `anomalies`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from ..compiler import AdjusterPair
from .response import Response
from .search import Edge, Goal, TurnLimits


@dataclass(frozen=True, slots=True)
class Trial:
    """One setting and what was read there.

    place: turns of each adjuster of the pair. values: Hz, in the order of the pair's readings, None where not taken.
    hunts: None where nobody looked. swing: Hz from peak to peak, if it was read. minutes: since the engine was started.
    """

    place: tuple[float, ...]
    values: tuple[float | None, ...]
    hunts: bool | None = False
    swing: float | None = None
    minutes: float | None = None


class Learned(Protocol):
    """What is known of a set after some trials."""

    @property
    def pair(self) -> AdjusterPair:
        """The adjusters, and the readings that they move."""

    @property
    def goal(self) -> Goal:
        """Limits in Hz."""

    @property
    def scale(self) -> float:
        """Rated frequency by 60 Hz."""

    @property
    def adjusters(self) -> Sequence[TurnLimits]:
        """Limits of the turns, one an adjuster."""

    @property
    def names(self) -> Sequence[str]:
        """The adjusters, in the order of the places."""

    @property
    def line(self) -> Response:
        """What a turn does, in Hz."""

    @property
    def edge(self) -> Edge:
        """Where hunting begins."""

    @property
    def trials(self) -> Sequence[Trial]:
        """So far, oldest first."""
