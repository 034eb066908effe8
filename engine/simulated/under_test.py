"""A set under test: what the checks need of a bench.

Purpose: the face of a bench that looks, measurements and trials see, so that they stand below it.
Law: read only; nothing here tells which faults the set has.
Not here: how a run is made and kept (see `bench`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from .plant import Plant
from .running import Run, RunSegment


class SetUnderTest(Protocol):
    """A set whose runs can be asked for; the same run asked for twice is the same."""

    @property
    def features(self) -> Mapping[str, str | float]:
        """As `Knowledge.features` gives them."""

    @property
    def plant(self) -> Plant:
        """The parts as they are."""

    @property
    def warm_minutes(self) -> float:
        """Minutes of running when somebody takes the set for warm."""

    @property
    def load(self) -> float:
        """Full load for the place, per unit of the nameplate."""

    def seen(
        self, name: str, stretches: Sequence[RunSegment], minutes: float | None = None, plant: Plant | None = None
    ) -> Run:
        """A run of the set, or of one with something changed for a trial, seeded by its name."""

    def at(self, share: float) -> Run:
        """A run that ends at a share of full load."""

    def way_to(self, share: float) -> tuple[RunSegment, ...]:
        """Loads on the way to a share of full load."""

    def trips_after(self, share: float) -> float:
        """Seconds for which the breaker holds a share of full load."""

    def stepped(self) -> Run:
        """Full load on, and off again."""
