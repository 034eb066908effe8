"""Safety in a drill: what would hurt if a step were done now, and what has been met.

Purpose: a step on the set as it stands -> what would hurt, the worst first; the cautions that were read and met.
Law: nothing here does a step or takes minutes; what holds the job beneath holds the drill.
Not here: the moves themselves (see `drill`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..compiler import Check, Knowledge, Remedy
from ..job import Job
from ..problems import close_to, quoted
from ..simulated import draw_state
from .made_up import DrillError

PROOF_MOVE = "proof run"
LISTED, MOST_TRUE, FEWEST_TRUE = 6, 4, 2
"""Cautions in a list that is chosen from; at most and at least so many of them apply, as far as there are any."""


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
        named = self.applies(step)
        self.met.update(named)
        if step:
            self.met.add(step)
            return named, self.off(step) if self.job.runs(self.step(step)[0]) else ()
        return named, tuple(each.fitting for each in self.job.off)

    def due(self, step: str = "") -> tuple[str, ...]:
        """Cautions that a step, or without one a running set, asks for and that were not met yet; those of a dangerous
        step are met for that step alone."""
        open_ = tuple(name for name in self.applies(step) if name not in self.met)
        if not step:
            return open_
        _, own, dangerous = self.step(step)
        return _flat((own if dangerous and step not in self.met else (), open_))

    def offered(self, step: str, seed: str) -> tuple[str, ...]:
        """Cautions to choose from, in an order that tells nothing; empty where nothing is due.

        Of what is due at most MOST_TRUE, first the step's own, then what the fewest steps ask for; what was met before
        fills them up to FEWEST_TRUE. The others apply neither to this step nor to one like it, where who names them
        might well be right; those that a step of this area or set-up asks for come first, as the likelier to be taken
        for true.
        """
        due = self.due(step)
        if not due:
            return ()
        own, apply = self.step(step)[1] if step else (), self.applies(step)
        asked = Counter(name for other in self.steps for name in self._asks(other))
        true = sorted(due, key=lambda name: (name not in own, asked[name], name))[:MOST_TRUE]
        true += [name for name in apply if name not in due][: max(0, FEWEST_TRUE - len(true))]
        alike, near = self._of_others(step)
        others = [name for name in self.knowledge.catalogue.cautions if name not in (*apply, *alike)]
        others.sort(key=lambda name: (name not in near, draw_state(seed, step, "other", name), name))
        listed = [*true, *others[: LISTED - len(true)]]
        return tuple(sorted(listed, key=lambda name: (draw_state(seed, step, "listed", name), name)))

    def _of_others(self, step: str) -> tuple[set[str], set[str]]:
        """Cautions of the steps that are like a step, and of those near it.

        Alike are, on a running set, all that are done on one with or without load, since what can hurt there hurts
        whoever stands by; on a stopped one those of the same area in the same set-up. Near is what shares one of both.
        """
        area = self.steps[step].area if step in self.steps else ""
        state = self.step(step)[0] if step else ""
        here = self._running(state) if state else (True, False)
        alike, near = set[str](), set[str]()
        for name, other in self.steps.items():
            same = other.area == area, other.state == state
            if all(same) or (here[0] and self._running(other.state) == here):
                alike.update(other.cautions)
            elif any(same):
                near.update(self._asks(name))
        return alike, near

    def _running(self, state: str) -> tuple[bool, bool]:
        """Whether a set runs in a set-up state, and whether to go there is dangerous: under load."""
        return self.job.runs(state), self.knowledge.catalogue.states[state].dangerous

    def applies(self, step: str) -> tuple[str, ...]:
        """Every caution of a step and of its set-up, met or not; without a step, those of a running set."""
        if step:
            return self._asks(step)
        states = self.knowledge.catalogue.states
        return _flat(each.cautions for name, each in states.items() if self.job.runs(name) and not each.dangerous)

    def _asks(self, step: str) -> tuple[str, ...]:
        state, own, _ = self.step(step)
        return _flat((own, self.knowledge.catalogue.states[state].cautions))

    def secure(self) -> bool:
        """The set is shut down and its throttle proven to close. Whether that was due."""
        due, self.fast_proof = self.held, False
        if self.job.held:
            self.job.secure("trainee")
        return due


def _flat(groups: Iterable[Iterable[str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for group in groups for name in group))
