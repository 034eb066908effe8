"""Curves of a simulated set: frequency against load, and swing against time, before and after a turn.

Purpose: what one turn of an adjuster does, as points to draw.
Law: pure; the same set, turn and load give the same points. Frequency against load is where the set comes to rest;
against time it is a run as an instrument records it, swing and all.
Not here: drawing (see the command line), what should be turned (see the rooms `trim` and `setting`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..compiler import Knowledge
from ..problems import HertzwrightError, close_to, quoted
from ..simulated import FAULTS, Bench, equilibrium

LOAD, TIME = "load", "time"
STEPS = 16
SECONDS = 20.0
ADJUSTERS = ("speed", "sensitivity", "booster", "idle_needle", "main_needle")
MOST_TURNS = 20.0


class CurveError(HertzwrightError):
    """A curve that cannot be drawn. The message names what was expected."""


@dataclass(frozen=True, slots=True)
class Curve:
    """Points of a curve: percent of full load or seconds, and Hz."""

    of: str
    points: tuple[tuple[float, float], ...]

    @property
    def first(self) -> float:
        return self.points[0][1]

    @property
    def last(self) -> float:
        return self.points[-1][1]

    @property
    def range(self) -> tuple[float, float]:
        """The lowest and the highest Hz."""
        values = [hertz for _, hertz in self.points]
        return min(values), max(values)


def made_up_set(
    knowledge: Knowledge, features: Mapping[str, object] | None = None, faults: Sequence[tuple[str, float]] = ()
) -> Bench:
    """A simulated set of these features with these faults. Raises CurveError, AnswerError."""
    for cause, severity in faults:
        if cause not in FAULTS:
            raise CurveError(f"no cause {quoted(cause)}; {close_to(cause, FAULTS, 'see knowledge show')}")
        if not 0.0 <= severity <= 1.0:
            raise CurveError(f"severity of {severity:g}; expected 0 to 1")
    return Bench(knowledge.features(features), tuple(faults), 1)


def turned(bench: Bench, adjuster: str, turns: float) -> Bench:
    """The set with one adjuster turned: + is more speed, sharper, more pull, richer. Raises CurveError."""
    if adjuster not in ADJUSTERS:
        near = close_to(adjuster, ADJUSTERS, f"one of: {', '.join(ADJUSTERS)}")
        raise CurveError(f"no adjuster {quoted(adjuster)}; {near}")
    if not -MOST_TURNS <= turns <= MOST_TURNS:
        raise CurveError(f"{turns:g} turns; expected {-MOST_TURNS:g} to {MOST_TURNS:g}")
    if adjuster.endswith("_needle"):
        stands = getattr(bench.plant.carburetor, f"{adjuster.removesuffix('_needle')}_turns")
        return bench.place(adjuster, max(0.0, stands + turns))
    return bench.turn(adjuster, turns)


def curve(bench: Bench, of: str, load: float = 0.0) -> Curve:
    """A curve of a set. load: share of full load at which it runs, against time. Raises CurveError."""
    if of == LOAD:
        shares = [step / STEPS for step in range(STEPS + 1)]
        hertz = [bench.plant.hertz * equilibrium(bench.plant, share * bench.load).speed for share in shares]
        return Curve(LOAD, tuple(zip((100.0 * share for share in shares), hertz, strict=True)))
    if of != TIME:
        raise CurveError(f"no curve against {quoted(of)}; expected {LOAD} or {TIME}")
    if not 0.0 <= load <= 1.0:
        raise CurveError(f"load of {100 * load:g} %; expected 0 to 100 %")
    run = bench.at(load)
    values = run.hertz[-round(SECONDS * run.rate) :]
    return Curve(TIME, tuple((place / run.rate, hertz) for place, hertz in enumerate(values)))
