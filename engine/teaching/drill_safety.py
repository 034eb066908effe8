"""Safety in a drill: what would hurt if a step were done now, and what has been met.

Purpose: a step on the set as it stands -> what would hurt, the worst first; the cautions that were read and met.
Law: nothing here does a step or takes minutes; what holds the job beneath holds the drill.
Not here: the moves themselves (see `drill`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..compiler import Check, Knowledge, Remedy
from ..job import Job
from ..problems import close_to, quoted
from ..simulated import draw_state
from .made_up import DrillError

PROOF_MOVE = "proof run"
LISTED = 7
"""Cautions in the list that is chosen from, as long as there are so many; what applies is always in it."""
FEWEST_OTHERS = 3


@dataclass(frozen=True, slots=True)
class UnsafeMove:
    """What would hurt. `kind`: held (not shut down and proven), off (run with something off: `fittings`), running
    (hands in a set that turns), state (what the set-up state asks for was not met), step (what a dangerous step asks
    for was not met). `cautions`: their ids."""

    kind: str
    cautions: tuple[str, ...]
    fittings: tuple[str, ...] = ()


class DrillSafety:
    """What was met, and what would hurt. fast_proof: the last proof run read what must not run."""

    def __init__(self, knowledge: Knowledge, job: Job, steps: Mapping[str, Check | Remedy]) -> None:
        self.knowledge = knowledge
        self.job = job
        self.steps = steps
        self.met: set[str] = set()
        self.fast_proof = False

    @property
    def held(self) -> bool:
        """Whether the set is to be shut down and its throttle proven before it runs again."""
        return self.fast_proof or bool(self.job.held)

    def dangers(self, step: str, as_it_stands: bool = False) -> tuple[UnsafeMove, ...]:
        """What would hurt if a step were done now, the worst first. as_it_stands: without changing the set-up."""
        state, own, dangerous = self.step(step)
        states, found = self.knowledge.catalogue.states, []
        if self.held and self.job.runs(state):
            named = [each.cautions for each in self.knowledge.complaints.values() if each.stop_first]
            found.append(UnsafeMove("held", _flat(named)))
        if off := self.off(step) if self.job.runs(state) else ():
            known = self.knowledge.catalogue.fittings
            found.append(UnsafeMove("off", _flat(known[name].cautions for name in off), off))
        if as_it_stands and self.job.runs(self.job.here) and not self.job.runs(state):
            found.append(UnsafeMove("running", _flat((states[self.job.here].cautions, own))))
        unmet = tuple(name for name in states[state].cautions if name not in self.met)
        if unmet and (self.job.runs(state) or states[state].dangerous):
            found.append(UnsafeMove("state", unmet))
        if dangerous and step not in self.met:
            found.append(UnsafeMove("step", own))
        return tuple(found)

    def off(self, step: str) -> tuple[str, ...]:
        """What is off and must be on for a step, but for what the work has put back already."""
        kind = "proof" if step == PROOF_MOVE else "check" if isinstance(self.steps.get(step), Check) else "remedy"
        waiting = {each.fitting for each in self.job.off if each.minutes}
        return tuple(name for name in self.job.to_put_back(kind, step) if name in waiting)

    def step(self, name: str) -> tuple[str, tuple[str, ...], bool]:
        """Set-up state, own cautions, and whether it is dangerous. Raises DrillError."""
        if name == PROOF_MOVE:
            return self.knowledge.catalogue.costs.proof_state, (), False
        found = self.steps.get(name)
        if found is None:
            hint = close_to(name, self.steps)
            raise DrillError(f"no check or remedy {quoted(name)} on this set" + (f"; {hint}" if hint else ""))
        return found.state, found.cautions, found.dangerous

    def meet(self, step: str = "") -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Meet the cautions of a step, or of a running set: their ids, and the fittings that are to be put back."""
        states = self.knowledge.catalogue.states
        if step:
            state, own, _ = self.step(step)
            self.met.update((step, *own, *states[state].cautions))
            return _flat((own, states[state].cautions)), self.off(step) if self.job.runs(state) else ()
        named = _flat(each.cautions for name, each in states.items() if self.job.runs(name) and not each.dangerous)
        self.met.update(named)
        return named, tuple(each.fitting for each in self.job.off)

    def due(self, step: str = "") -> tuple[str, ...]:
        """Cautions that a step, or without one a running set, asks for and that were not met yet; those of a dangerous
        step are met for that step alone."""
        states = self.knowledge.catalogue.states
        if not step:
            named = _flat(each.cautions for name, each in states.items() if self.job.runs(name) and not each.dangerous)
            return tuple(name for name in named if name not in self.met)
        state, own, dangerous = self.step(step)
        open_ = tuple(name for name in (*own, *states[state].cautions) if name not in self.met)
        return _flat((own if dangerous and step not in self.met else (), open_))

    def offered(self, step: str, seed: str) -> tuple[str, ...]:
        """What is due, among cautions that are not, in an order that tells nothing; empty where nothing is due."""
        due = self.due(step)
        if not due:
            return ()
        state, own, _ = self.step(step) if step else (self.job.here, (), False)
        apply = {*due, *own, *self.knowledge.catalogue.states[state].cautions}
        others = [name for name in self.knowledge.catalogue.cautions if name not in apply]
        others.sort(key=lambda name: (draw_state(seed, step, "other", name), name))
        listed = [*due, *others[: max(FEWEST_OTHERS, LISTED - len(due))]]
        return tuple(sorted(listed, key=lambda name: (draw_state(seed, step, "listed", name), name)))

    def secure(self) -> bool:
        """The set is shut down and its throttle proven to close. Whether that was due."""
        due, self.fast_proof = self.held, False
        if self.job.held:
            self.job.secure("trainee")
        return due


def _flat(groups: Iterable[Iterable[str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for group in groups for name in group))
