"""The state of a job: a pure function of its events.

Purpose: what stands, what was answered in which spell, what was done and proven, where the set is now and how many
minutes that took. A remedy ends one spell and begins the next; spell 0 is the set as found.
Law: the same events give the same state; what was taken back leaves no trace in it.
Not here: what the findings mean (see `diagnosis`) and what to do next (see `advice`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from .event import Event
from .genset import GeneratingSet
from .problem import shown
from .reading import Answer


@dataclass(frozen=True, slots=True)
class Made:
    """A check as answered, after `spell` remedies. `counts` is False where a derived reading holds it."""

    check: str
    spell: int
    answer: Answer
    counts: bool = True
    derived: bool = False


@dataclass(slots=True)
class State:
    """Everything that follows from the events that stand.

    `made`, `complaints`: by (id, spell), in the order of the work. `proofs`: result of the proof run of each spell.
    `here`: set-up state now. `minutes`: what the steps so far take by the knowledge.
    """

    standing: list[Event] = field(default_factory=list)
    made: dict[tuple[str, int], Made] = field(default_factory=dict)
    complaints: dict[tuple[str, int], str] = field(default_factory=dict)
    remedies: list[str] = field(default_factory=list)
    proofs: dict[int, str] = field(default_factory=dict)
    here: str = ""
    minutes: float = 0.0

    @property
    def spell(self) -> int:
        """How many remedies have been carried out."""
        return len(self.remedies)

    def told(self, key: tuple[str, int]) -> str:
        """A finding of (id, spell) as it is named in messages."""
        name, spell = key
        if key in self.made:
            return f"{name} = {self.made[key].answer.text}"
        if key in self.complaints:
            return f"{name} = {self.complaints[key]}"
        return f"proof run {self.proofs[spell]}"

    def line(self, genset: GeneratingSet) -> str:
        """The whole state in one line."""
        parts = [f"set[{genset.unlike_the_default()}]"]
        for event in self.standing[1:]:
            if event.kind in ("complaint", "check", "remedy", "proof"):
                name = event.id or event.kind
                parts.append(f"{'*' if event.kind == 'remedy' else ''}{name}={shown(event.answer)}")
        return "; ".join(parts)


def read_state(genset: GeneratingSet, events: Iterable[Event]) -> State:
    """The state that these events make; each of them fits the set (see `job`), and the first is the set."""
    state = State(here=genset.knowledge.catalogue.costs.start_state)
    for event in events:
        if event.kind == "step_back":
            if len(state.standing) > 1:
                state.standing.pop()
        else:
            state.standing.append(event)
    for event in state.standing:
        if event.kind == "complaint":
            state.complaints[event.id, state.spell] = event.answer
        elif event.kind == "check":
            _answered(genset, state, event)
        elif event.kind == "remedy":
            remedy = genset.knowledge.remedies[event.id]
            _work(genset, state, remedy.state, remedy.minutes)
            state.remedies.append(event.id)
            if event.answer != "unknown":
                _proven(genset, state, "passed" if event.answer == "cured" else "failed")
        elif event.kind == "proof":
            _proven(genset, state, event.answer)
    _derive(genset, state)
    return state


def _answered(genset: GeneratingSet, state: State, event: Event) -> None:
    check, spell = genset.checks[event.id], state.spell
    answer = genset.understand(event.id, event.answer)
    # A new answer goes to the end, so that the record stays in the order of the work.
    state.made.pop((event.id, spell), None)
    state.made[event.id, spell] = Made(event.id, spell, answer)
    if answer.outcomes or answer.values:
        _work(genset, state, check.state, check.minutes)


def _proven(genset: GeneratingSet, state: State, result: str) -> None:
    costs = genset.knowledge.catalogue.costs
    _work(genset, state, costs.proof_state, costs.proof)
    state.proofs[state.spell] = result


def _work(genset: GeneratingSet, state: State, place: str, minutes: float) -> None:
    state.minutes += genset.move(state.here, place) + minutes
    state.here = place


def _derive(genset: GeneratingSet, state: State) -> None:
    """A derived reading is worked out where both of its readings are there; the second then counts no more."""
    for name, check in genset.checks.items():
        if check.derived_from is None:
            continue
        first, second = check.derived_from
        for spell in range(state.spell + 1):
            one, other = state.made.get((first, spell)), state.made.get((second, spell))
            given = state.made.get((name, spell))
            if given is None and one and other and one.answer.values and other.answer.values:
                value = one.answer.values[0] - other.answer.values[0]
                unit = check.reading.unit if check.reading else ""
                answer = genset.understand(name, f"{value:.6f} {unit}")
                sure = one.answer.sure and other.answer.sure
                given = state.made[name, spell] = Made(name, spell, replace(answer, sure=sure), derived=True)
            if given is not None and given.answer.outcomes and other is not None:
                state.made[second, spell] = replace(other, counts=False)
