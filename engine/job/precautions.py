"""The cautions of steps: what can hurt in each of them, from all that bears on it.

Purpose: one answer for the terminal, for every command and for its JSON.
Law: a step has its own cautions, those of its set-up state, and those of every fitting that it takes off, puts back or
has put back before it; a remedy has those of its proof run too; what runs the set has those of every risk known of it.
That a set may run away once its rod or spring was off, or hangs, is said by the knowledge, never here.
Not here: how they are shown and acknowledged (see the terminal).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..compiler import Catalogue
from .fittings import fits_of, to_put_back
from .risk import Risk


def of_step(
    catalogue: Catalogue, kind: str, name: str, off: Iterable[str] = (), proof: bool = True, risks: Iterable[Risk] = ()
) -> tuple[str, ...]:
    """Ids of the cautions of one step, its own first. kind: check, remedy, setting, done, proof, refer or
    complaint.

    off: fittings that are off before it. proof: with those of the proof run of a remedy. risks: what may come of the
    set (see `Job.risks`), which a step that runs it has to tell. KeyError for an unknown id.
    """
    states = catalogue.states
    if kind == "complaint":
        return catalogue.complaints[name].cautions
    state, fits = fits_of(catalogue, kind, name)
    known: Mapping[str, tuple[str, ...]] = {
        "check": catalogue.checks[name].cautions if kind == "check" else (),
        "remedy": catalogue.remedies[name].cautions if kind == "remedy" else (),
        "setting": catalogue.setting[name].cautions if kind == "setting" else (),
    }
    touched = (*to_put_back(catalogue, kind, name, off), *fits.takes_off, *fits.puts_back)
    found = dict.fromkeys(known.get(kind, ()))
    for fitting in touched:
        found.update(dict.fromkeys(catalogue.fittings[fitting].cautions))
    if (state and states[state].runs) or (kind == "remedy" and proof):
        found.update(dict.fromkeys(caution for risk in risks for caution in risk.cautions))
    if state:
        found.update(dict.fromkeys(states[state].cautions))
    if kind == "remedy" and proof:
        found.update(dict.fromkeys(states[catalogue.costs.proof_state].cautions))
    return tuple(found)


def of_steps(
    catalogue: Catalogue, steps: Iterable[tuple[str, str]], off: Iterable[str] = (), risks: Iterable[Risk] = ()
) -> tuple[str, ...]:
    """Ids of the cautions of several steps (kind, id), each once, in the order of the knowledge.

    off: fittings that are off before any of them. risks: as for `of_step`.
    """
    there, known = tuple(off), tuple(risks)
    named = {caution for kind, name in steps for caution in of_step(catalogue, kind, name, there, risks=known)}
    return tuple(name for name in catalogue.cautions if name in named)
