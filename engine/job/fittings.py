"""What is off or open on a set, and what must be on before a step.

Purpose: the rod, spring, covers, leads and guards that steps take off (see the knowledge's fittings), which of them a
step cannot be done without, and what the work leaves off.
Law: no running state is entered with a fitting off that the step does not run without on purpose. What a step's own
steps put back still counts as off, at no further minutes, until its question was answered or a running step implies it.
Not here: when it is asked (see the terminal), and what the minutes come to (see `state`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..compiler import NO_FITS, Catalogue, Fits

AS_FOUND = "as found"


@dataclass(frozen=True, slots=True)
class Off:
    """One fitting that is off. `by`: the step that took it off, empty where it was somebody's own doing. `as_found`:
    it was off already when the technician came. `minutes`: to put it back; 0 where the work has put it back, and only
    its question is open."""

    fitting: str
    by: str = ""
    as_found: bool = False
    minutes: float = 0.0


def fits_of(catalogue: Catalogue, kind: str, name: str) -> tuple[str, Fits]:
    """Set-up state of a step, and what it needs on and takes off. The state is empty where nothing is done.

    kind, name: as of a proposed step (check, remedy, done, refer); "proof" is the proof run too, "setting" the own work
    of a step of setting. KeyError for an unknown check, remedy or step.
    """
    if kind == "check":
        return catalogue.checks[name].state, catalogue.checks[name].fits
    if kind == "remedy":
        return catalogue.remedies[name].state, catalogue.remedies[name].fits
    if kind == "setting":
        return catalogue.setting[name].state, catalogue.setting[name].fits
    return (catalogue.costs.proof_state if kind in ("done", "proof") else ""), NO_FITS


def to_put_back(catalogue: Catalogue, kind: str, name: str, off: Iterable[str]) -> tuple[str, ...]:
    """Those that are off and must be on before a step, in the order given."""
    state, fits = fits_of(catalogue, kind, name)
    runs = bool(state) and catalogue.states[state].runs
    return tuple(fitting for fitting in off if fitting in fits.needs_on or (runs and fitting not in fits.runs_without))


def in_hand(catalogue: Catalogue, name: str, off: Iterable[str]) -> bool:
    """Whether a check is a look at what is off: it is made where the set stands, since it is in the hand. What no set
    ever runs without is not: it is looked at on a set that was stopped."""
    runs_without = {fitting for check in catalogue.checks.values() for fitting in check.fits.runs_without}
    return any(name in catalogue.fittings[fitting].looks for fitting in off if fitting in runs_without)


def left_off(catalogue: Catalogue, kind: str, name: str, off: Iterable[Off]) -> tuple[Off, ...]:
    """What is off after a step was done: what was off before it, and what it takes off. Nothing is taken off twice."""
    _, fits = fits_of(catalogue, kind, name)
    found = {each.fitting: each for each in off}
    for fitting in fits.takes_off:
        found.setdefault(fitting, Off(fitting, name, False, catalogue.fittings[fitting].minutes))
    for fitting in fits.puts_back:
        if fitting in found:
            found[fitting] = Off(fitting, found[fitting].by, found[fitting].as_found, 0.0)
    return tuple(found.values())
