"""The state of a job: a pure function of its events.

Purpose: what stands, what was answered in which epoch, what was done and proven, where the set is now and how many
minutes that took. A remedy ends one epoch and begins the next; epoch 0 is the set as found.
Law: the same events give the same state, extended by one event at a time or read from all of them; what was taken
back leaves no trace in it, but for danger: a finding that holds the job holds it until the set is secured, whatever is
found, said or taken back afterwards, unless the step back says that it was a mistake.
Not here: what the findings mean (see `diagnosis`) and what to do next (see `advice`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..compiler import Check
from ..problems import AnswerError, shown
from ..readings import Answer
from . import danger
from .danger import Hold
from .equipment import lacking
from .event import BESIDE, MISTAKE, Event
from .fittings import AS_FOUND, Off, in_hand, left_off, to_put_back
from .generating_set import GeneratingSet
from .watch import NEVER_SO, STANDS, TAKEN_BACK, Watch


@dataclass(frozen=True, slots=True)
class CheckMade:
    """A check as answered, after `epoch` remedies. `counts` is False where a derived reading holds it."""

    check: str
    epoch: int
    answer: Answer
    counts: bool = True
    derived: bool = False


@dataclass(slots=True)
class JobState:
    """Everything that follows from the events that stand on one set, its features as last corrected.

    `answered`, `complaints`: by (id, epoch), in the order of the work; `made` has the derived readings too. `proofs`:
    result of the proof run of each epoch. `here`: set-up state now. `minutes`: what the steps so far take by the
    knowledge. `holds`: why the set must not run, in the order found. `closed`: how the job was closed, empty while it
    is open. `off`: what is off or open now, by fitting; whatever a running step needs on has been put back before it,
    whether that was said or not. `absent`: tools that are not there today. `before`: remedies carried out before the
    technician came, with what is said of their result; they are no work of this job and take no minutes of it.
    `started`: the set was started in this job.
    """

    genset: GeneratingSet = field(compare=False, repr=False)
    standing: list[Event] = field(default_factory=list)
    answered: dict[tuple[str, int], CheckMade] = field(default_factory=dict)
    complaints: dict[tuple[str, int], str] = field(default_factory=dict)
    remedies: list[str] = field(default_factory=list)
    proofs: dict[int, str] = field(default_factory=dict)
    here: str = ""
    minutes: float = 0.0
    holds: dict[Hold, None] = field(default_factory=dict)
    closed: str = ""
    off: dict[str, Off] = field(default_factory=dict)
    absent: dict[str, None] = field(default_factory=dict)
    started: bool = False
    before: dict[str, str] = field(default_factory=dict)
    _said_closed: str = field(default="", repr=False)
    _watch: Watch = field(init=False, compare=False, repr=False)
    _made: dict[tuple[str, int], CheckMade] | None = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        self._watch = Watch(self.genset, self.holds)

    @property
    def setting(self) -> bool:
        """Whether the set is being set in order."""
        last = next((event for event in reversed(self.standing) if event.kind == "setting"), None)
        return last is not None and last.answer == "begun"

    @property
    def explained(self) -> frozenset[str]:
        """Complaints that turned out to be no fault of the set, by their latest answer."""
        return frozenset(name for name, answer in self.latest_complaints.items() if answer == "explained")

    @property
    def latest_complaints(self) -> dict[str, str]:
        """The latest answer to each complaint."""
        return {name: answer for (name, _), answer in self.complaints.items()}

    @property
    def complained(self) -> tuple[str, ...]:
        """Complaints that stand by their latest answer, surely or not. What is gone orders nothing any more."""
        known = {name: answer for (name, _), answer in self.complaints.items() if answer != "unknown"}
        return tuple(name for name, answer in known.items() if answer in danger.ANSWERS)

    @property
    def made(self) -> dict[tuple[str, int], CheckMade]:
        """The checks answered, with what is derived from them; worked out when it is first asked for."""
        if self._made is None:
            self._made = _with_derived(self.genset, self.answered)
        return self._made

    @property
    def latest(self) -> dict[str, CheckMade]:
        """The latest answer to each check, derived ones too."""
        return {name: made for (name, _), made in self.made.items()}

    @property
    def epoch(self) -> int:
        """How many remedies have been carried out."""
        return len(self.remedies)

    @property
    def owed(self) -> tuple[str, ...]:
        """Checks that the record still wants of the set as it was found (see `wanted_as_found`).

        None once a fault was worked on (warming up is no such work), of a set that was found taken apart or is set from
        the ground up, and where the set must not run or may run away, as it is said or by a fault that was seen: then
        nothing is run for the sake of the record. "Don't know" is an answer.
        """
        knowledge = self.genset.knowledge
        causes, remedies = knowledge.causes, knowledge.remedies
        worked = any(causes[cause].fault for name in self.remedies for cause in remedies[name].cures)
        runs_away = any(
            knowledge.complaints[name].stop_first and answer in danger.ANSWERS
            for name, answer in self.latest_complaints.items()
        )
        runs_away |= any(danger.may_come_of(self.genset, name, made.answer) for name, made in self.latest.items())
        unfit = any(danger.unfit_by(self.genset, name, made.answer) for name, made in self.latest.items())
        found = knowledge.catalogue.costs.found
        readable = all(found[event.id].as_found for event in self.standing if event.kind == "stands")
        if worked or runs_away or unfit or self.holds or not readable or self.setting:
            return ()
        answered = {name for name, _ in self.made}
        catalogue = self.genset.knowledge.catalogue
        return tuple(
            name
            for name in self.wanted_as_found
            if name not in answered and not lacking(catalogue, "check", name, self.absent)
        )

    @property
    def wanted_as_found(self) -> tuple[str, ...]:
        """What the record wants of the set as it was found, read already or not: of every set, and for its complaints,
        which cannot be proven gone where nobody has met them. What an order rule puts before one is wanted with it.
        Of a difference only what is read of every set: a third load is taken where it tells something."""
        knowledge, checks = self.genset.knowledge, self.genset.checks
        every = knowledge.catalogue.costs.as_found
        wanted = list(every)
        for name in self.complained:
            for check in knowledge.complaints[name].says:
                parts = knowledge.checks[check].derived_from
                wanted += (check,) if parts is None else [part for part in parts if part in every]
        wanted += self._read_at_start
        for rule in knowledge.catalogue.order.values():
            if rule.kind == "look_first" and not set(wanted).isdisjoint(rule.after):
                wanted += rule.before
        return tuple(name for name in dict.fromkeys(wanted) if name in checks)

    @property
    def _read_at_start(self) -> tuple[str, ...]:
        """What is read at once after the first start, while that is on the way to what every record wants: a cold start
        is had once. None where nobody said how the set stands."""
        costs, checks = self.genset.knowledge.catalogue.costs, self.genset.checks
        if not any(event.kind == "stands" for event in self.standing):
            return ()
        answered = {name for name, _ in self.made}
        warm = next((checks[name].state for name in costs.as_found if name in checks), self.here)
        way = costs.move(self.here, warm)

        def on_the_way(state: str) -> bool:
            return costs.move(self.here, state) + costs.move(costs.standing(self.here, state), warm) <= way

        named = [name for name in costs.first_start.read if name in checks]
        return tuple(name for name in named if name in answered or on_the_way(checks[name].state))

    def told(self, key: tuple[str, int]) -> str:
        """A finding of (id, epoch) as it is named in messages."""
        name, epoch = key
        if key in self.made:
            return f"{name} = {self.made[key].answer.text}"
        if key in self.complaints:
            return f"{name} = {self.complaints[key]}"
        return f"proof run {self.proofs[epoch]}"

    def line(self, genset: GeneratingSet) -> str:
        """The whole state in one line."""
        parts = [f"set[{genset.unlike_the_default()}]"]
        for event in self.standing[1:]:
            if event.kind in ("complaint", "check", "remedy", "proof", "before"):
                name = event.id or event.kind
                parts.append(f"{_MARKS.get(event.kind, '')}{name}={shown(event.answer)}")
        return "; ".join(parts)


_MARKS = {"remedy": "*", "before": "before:"}


def standing_of(events: Iterable[Event]) -> list[Event]:
    """The events without what was taken back."""
    return [event for event, fate in _fates(events) if fate == STANDS]


REREAD = ("step_back", "feature")
"""Kinds of event after which a state is read anew, since they change what earlier ones mean."""


def _fates(events: Iterable[Event]) -> list[tuple[Event, str]]:
    """Every event but the steps back, with what became of it."""
    listed = list(events)
    fate = {at: NEVER_SO if back.answer == MISTAKE else TAKEN_BACK for at, back in taken_back(listed)}
    return [(event, fate.get(at, STANDS)) for at, event in enumerate(listed) if event.kind != "step_back"]


def taken_back(events: Sequence[Event]) -> list[tuple[int, Event]]:
    """(place of an event, the step back that took it back), in the order of the steps back; the set always stands."""
    found: list[tuple[int, Event]] = []
    standing: list[int] = []
    for place, event in enumerate(events):
        if event.kind != "step_back":
            standing.append(place)
        elif len(standing) > 1:
            found.append((standing.pop(), event))
    return found


def features_of(standing: Iterable[Event]) -> dict[str, str | float]:
    """The features of the set as last corrected."""
    features: dict[str, str | float] = {}
    for event in standing:
        if event.kind in ("set", "feature"):
            features.update(event.features)
    return features


def assumed_of(standing: Iterable[Event]) -> tuple[str, ...]:
    """The features that nobody knows, at their default, in the order of the job's first event."""
    assumed: tuple[str, ...] = ()
    for event in standing:
        if event.kind == "set":
            assumed = tuple(event.cells.get("assumed", "").split())
        elif event.kind == "feature":
            assumed = tuple(name for name in assumed if name not in event.features)
    return assumed


def closing(standing: Iterable[Event]) -> str:
    """How a job was closed, one of CLOSINGS; empty where it is open, or was gone on with afterwards."""
    closed = ""
    for event in standing:
        closed = _closed_by(event, closed)
    return closed


def _closed_by(event: Event, closed: str) -> str:
    """How a job is closed after one more event. closed: before it."""
    if event.kind == "closed":
        return event.id
    return closed if event.kind in BESIDE else ""


def read_state(genset: GeneratingSet, events: Iterable[Event]) -> JobState:
    """The state that these events make; each of them fits the set (see `job`), and the first is the set.

    genset: with the features as last corrected.
    """
    state = JobState(genset, here=genset.knowledge.catalogue.costs.start_state)
    for event, fate in _fates(events):
        _step(state, event, fate)
    return state


def extend(state: JobState, event: Event) -> None:
    """One more event, in place. Not for what changes the past, a step back or a feature: that is read anew."""
    if event.kind in REREAD:
        raise ValueError(f"{event.kind}: read the state anew")
    _step(state, event, STANDS)


def _step(state: JobState, event: Event, fate: str) -> None:
    if fate == STANDS:
        state.standing.append(event)
        _happened(state.genset, state, event)
        state._said_closed = _closed_by(event, state._said_closed)
    state._watch.see(event, fate)
    # No file can call a set fixed that must not run.
    state.closed = "" if state._said_closed == "fixed" and state.holds else state._said_closed


def _happened(genset: GeneratingSet, state: JobState, event: Event) -> None:
    if event.kind == "complaint":
        state.complaints[event.id, state.epoch] = event.answer
    elif event.kind == "check":
        _answered(genset, state, event)
    elif event.kind == "remedy":
        remedy = genset.knowledge.remedies[event.id]
        if "step" not in event.cells:  # else it begins with a turn, in whose minutes it is done
            _work(genset, state, "remedy", event.id, remedy.state, remedy.minutes)
        state.remedies.append(event.id)
        if event.answer != "unknown":
            _proven(genset, state, "passed" if event.answer == "cured" else "failed")
    elif event.kind == "proof":
        _proven(genset, state, event.answer)
    elif event.kind == "stands":
        state.here = genset.knowledge.catalogue.costs.found[event.id].state
    elif event.kind == "secured":
        _work(genset, state, "secured", "", danger.resting(genset.knowledge.catalogue, state.here), 0.0)
    elif event.kind == "taken_off":
        minutes = genset.knowledge.catalogue.fittings[event.id].minutes
        state.off[event.id] = Off(event.id, "", event.answer == AS_FOUND, minutes)
    elif event.kind == "put_back":
        _put_back(genset, state, event.id)
    elif event.kind == "not_here":
        state.absent[event.id] = None
    elif event.kind == "here":
        # What has come also does for what it stands for: with load on, no load bank is waited for.
        for name in (event.id, *genset.knowledge.catalogue.tools[event.id].stands_for):
            state.absent.pop(name, None)
    elif event.kind == "before":
        if event.id in genset.checks:
            _told(genset, state, event)
        else:
            state.before[event.id] = event.answer
    elif event.kind == "set_to" and event.answer != "no response":
        step = genset.knowledge.catalogue.setting[event.id]
        # What is turned can be turned on a standing set as well.
        stays = event.answer == "turned" and not genset.knowledge.catalogue.states[state.here].runs
        _work(genset, state, "setting", event.id, state.here if stays else step.state, step.minutes)


def _told(genset: GeneratingSet, state: JobState, event: Event) -> CheckMade:
    epoch = state.epoch
    answer = genset.understand(event.id, event.answer)
    # A new answer goes to the end, so that the record stays in the order of the work.
    state.answered.pop((event.id, epoch), None)
    made = state.answered[event.id, epoch] = CheckMade(event.id, epoch, answer)
    state._made = None
    return made


def _answered(genset: GeneratingSet, state: JobState, event: Event) -> None:
    check, answer = genset.checks[event.id], _told(genset, state, event).answer
    if answer.outcomes or answer.values:
        there = in_hand(genset.knowledge.catalogue, check.id, state.off)
        _work(genset, state, "check", check.id, state.here if there else check.state, check.minutes)


def _proven(genset: GeneratingSet, state: JobState, result: str) -> None:
    costs = genset.knowledge.catalogue.costs
    _work(genset, state, "proof", "", costs.proof_state, costs.proof)
    state.proofs[state.epoch] = result


def _work(genset: GeneratingSet, state: JobState, kind: str, name: str, place: str, minutes: float) -> None:
    """A step that was done: first what must be on is put back, then the move, the hands, and what is off after it."""
    catalogue = genset.knowledge.catalogue
    for fitting in to_put_back(catalogue, kind, name, tuple(state.off)):
        _put_back(genset, state, fitting)
    state.started |= catalogue.states[place].runs and not catalogue.states[state.here].runs
    state.minutes += catalogue.costs.move(state.here, place) + minutes
    state.here = catalogue.costs.standing(state.here, place)
    state.off = {each.fitting: each for each in left_off(catalogue, kind, name, state.off.values())}


def _put_back(genset: GeneratingSet, state: JobState, fitting: str) -> None:
    """One fitting put back, on a standing set."""
    off = state.off.pop(fitting, None)
    if off is None or not off.minutes:
        return
    known = genset.knowledge.catalogue
    if known.states[state.here].runs:
        place = known.fittings[fitting].state
        state.minutes += known.costs.move(state.here, place)
        state.here = place
    state.minutes += off.minutes


def _with_derived(
    genset: GeneratingSet, answered: Mapping[tuple[str, int], CheckMade]
) -> dict[tuple[str, int], CheckMade]:
    """A derived reading is worked out where both of its readings are there; the second then counts no more.

    A reading that is sure never gives way to a difference that is not: it counts, and the difference is only told.
    """
    found = dict(answered)
    for name, check in genset.checks.items():
        if check.derived_from is None:
            continue
        first, second = check.derived_from
        for epoch in sorted({epoch for known, epoch in found if known in (name, second)}):
            given, other = found.get((name, epoch)), found.get((second, epoch))
            if given is None:
                given = _derived(genset, check, found.get((first, epoch)), other)
                if given is not None:
                    found[name, epoch] = given
            if given is not None and given.answer.outcomes and other is not None:
                if other.answer.outcomes and other.answer.sure and not given.answer.sure:
                    found[name, epoch] = replace(given, counts=False)
                else:
                    found[second, epoch] = replace(other, counts=False)
    return found


def _derived(genset: GeneratingSet, check: Check, one: CheckMade | None, other: CheckMade | None) -> CheckMade | None:
    """The reading that two others make, where both are there; None too where they are too far apart to make one."""
    if one is None or other is None or not one.answer.values or not other.answer.values:
        return None
    unit = check.reading.unit if check.reading else ""
    try:
        answer = genset.understand(check.id, f"{one.answer.values[0] - other.answer.values[0]:.6f} {unit}")
    except AnswerError:
        return None
    sure = one.answer.sure and other.answer.sure
    return CheckMade(check.id, one.epoch, replace(answer, sure=sure), derived=True)
