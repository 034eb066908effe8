"""A job: the one thing that moves, by appending events.

Purpose: what was said, found and done at one set, and from it the causes, the fault sets and the next steps.
Law: the state is a pure function of the events; taking back is one more event; nothing recorded is ever lost, not
even by evidence that contradicts itself.
Its parts: `event` (what happens), `genset` (the set), `state` (what follows from the events), `diagnosis` (what that
says about the causes) and `advice` (what to do next); their names are here too, for those who use a job.
Not here: the clock, the job file, the terminal.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..compiler import Check, Knowledge
from ..planning import PlanningProblem
from ..problems import AnswerError, printable, quoted, shown
from ..readings import UNKNOWN_WORDS, Answer
from . import acceptance, danger
from .advice import Adviser, Sets, Step
from .danger import Hold
from .diagnosis import MOST_LOOKS, MOST_STATES, ContradictionError, Diagnosis, FindingWeight
from .equipment import lacking, tool_named
from .event import (
    CLOSINGS,
    COMPLAINT_ANSWERS,
    DISTURBED,
    LEFT,
    MISTAKE,
    PROOFS,
    RESULTS,
    Event,
    HeldError,
    JobError,
    in_use,
    unknown,
)
from .event_fit import must_fit
from .fittings import AS_FOUND, Off, in_hand, to_put_back
from .generating_set import GeneratingSet
from .risk import Risk, risks
from .sight import asked_of_start, first_looks, glances, to_mend, unfit
from .state import REREAD, CheckMade, JobState, assumed_of, extend, features_of, read_state, standing_of

__all__ = [
    "COMPLAINT_ANSWERS",
    "MOST_LOOKS",
    "MOST_STATES",
    "PROOFS",
    "RESULTS",
    "CheckMade",
    "ContradictionError",
    "Event",
    "FindingWeight",
    "HeldError",
    "Hold",
    "Job",
    "JobError",
    "Off",
    "Step",
]


class Job:
    """One set, one call-out.

    >>> from hertzwright.engine import load_knowledge, Job
    >>> job = Job(load_knowledge(), {"booster": "none"})
    >>> _ = job.record("floats_high_no_load", "present")
    >>> _ = job.record("frequency_no_load", "64.1 Hz")
    >>> max(job.posterior(), key=job.posterior().get) in ("speed_set_high", "throttle_stop_open", "throttle_rod_long")
    True
    """

    def __init__(
        self,
        knowledge: Knowledge,
        features: Mapping[str, object] | None = None,
        tolerance: str = "default",
        assumed: Iterable[str] = (),
    ) -> None:
        """features: names and values as in the knowledge base, defaults where absent. assumed: those that nobody knows,
        and stand at their default. Raises AnswerError, JobError."""
        self.knowledge = knowledge
        self._genset = GeneratingSet(knowledge, features, tolerance)
        self._adviser: Adviser | None = None
        self._events: list[Event] = []
        self._state: JobState = read_state(self._genset, ())
        names = " ".join(assumed)
        cells = {"assumed": names} if names else {}
        self._append(Event("set", features=self.features, tolerance=tolerance, cells=cells))

    def _append(self, *events: Event) -> None:
        self._events.extend(events)
        if any(event.kind in REREAD for event in events):
            self._set_anew(self._set_of(standing_of(self._events)))
            self._state = read_state(self._genset, self._events)
        else:
            for event in events:
                extend(self._state, event)
        self._diagnosis = Diagnosis(self._genset, self._state)
        self._plans: dict[tuple[int, int, tuple[str, ...]], tuple[Step, ...]] = {}

    def _set_anew(self, genset: GeneratingSet) -> None:
        """The set with its features as last corrected."""
        if genset is not self._genset:
            self._genset, self._adviser = genset, None

    def _set_of(self, standing: Iterable[Event]) -> GeneratingSet:
        features = self.knowledge.features(features_of(standing))
        if features == self._genset.features:
            return self._genset
        return GeneratingSet(self.knowledge, features, self._genset.tolerance)

    # ---- danger

    @property
    def held(self) -> tuple[Hold, ...]:
        """Why the set must not run, in the order found; empty where nothing holds the job (see `secure`)."""
        return tuple(self._state.holds)

    @property
    def risks(self) -> tuple[Risk, ...]:
        """What may come of the set as it is known, which the cautions of every step that runs it have to tell."""
        try:
            posterior = self.posterior()
        except ContradictionError:
            posterior = {}
        return risks(self._genset, self._state, posterior)

    def secure(self, who: str) -> None:
        """End the hold: the set is shut down and its throttle was proven to close with the engine stopped.

        who: the one who says so. Raises JobError where nobody is named or nothing holds the job.
        """
        name = " ".join(printable(str(who)).split())[:60].strip()
        if not name:
            raise JobError(
                "nobody is named; expected the name of the one who shut the set down and proved the throttle"
            )
        if not self.held:
            raise JobError("nothing holds this job, so there is nothing to secure")
        self._append(Event("secured", answer=name))

    def runs(self, state: str) -> bool:
        """Whether the engine turns in a set-up state."""
        return self.knowledge.catalogue.states[state].runs

    def _not_while_held(self, what: str) -> None:
        if self.held:
            raise HeldError(
                f"{what}: not while the job is held ({'; '.join(map(str, self.held))}); "
                "shut the set down, prove with the engine stopped that the throttle closes, and say who did: secured"
            )

    # ---- events in

    def understand(self, check: str, answer: str) -> Answer:
        """How an answer to a check would be understood; nothing is recorded. It is parsed once, here or by `record`.

        Raises AnswerError or JobError.
        """
        return self._genset.understand(check, str(answer))

    def record(self, name: str, answer: str, happened: bool = False, said: str = "") -> Answer:
        """Note the answer to a check or a complaint.

        name: id of a check or a complaint. answer: for a check an outcome, a reading with unit or "unknown", with a
        question mark at the end where it is not sure; for a complaint one of COMPLAINT_ANSWERS.
        A further answer to the same check, with no remedy in between, replaces the earlier one.
        happened: it was read before the job was held, as what a file holds was: it is taken, and the hold stays.
        said: a complaint in the words of the one who has it, kept for the record alone.
        Returns how the answer was understood. Raises AnswerError or JobError (HeldError for a check on the running set
        while the job is held), and then nothing has changed.
        """
        if name in self.knowledge.complaints:
            if not in_use(name, self.knowledge.complaints):
                raise unknown("complaint", name, self.knowledge.complaints)
            understood = " ".join(str(answer).lower().split())
            if understood in UNKNOWN_WORDS:
                understood = "unknown"
            if understood not in COMPLAINT_ANSWERS:
                wanted = ", ".join(COMPLAINT_ANSWERS)
                raise AnswerError(f'"{shown(str(answer))}" is no answer to a complaint; expected {wanted}')
            self._append(Event("complaint", name, understood, cells={"said": said} if said else {}))
            return Answer((understood,) if understood != "unknown" else (), text=understood)
        read, kept = self._genset.kept(name, str(answer))
        if not happened and read.outcomes and self.runs(self.checks[name].state):
            self._not_while_held(self.checks[name].title)
        self._append(Event("check", name, kept))
        return read

    def carry_out(
        self, remedy_id: str, result: str = "unknown", happened: bool = False, left: Iterable[str] = ()
    ) -> None:
        """Note a remedy and what its proof run showed.

        result: "cured", the trouble is gone; "not cured", it is still there; "unknown", no proof run yet. left: the
        steps of it that were not done, in their words.
        happened: as for `record`. Raises JobError, HeldError among them, and then nothing has changed.
        """
        if not in_use(remedy_id, self.knowledge.remedies):
            raise unknown("remedy", remedy_id, self.knowledge.remedies)
        if result not in RESULTS:
            raise JobError(f'"{shown(str(result))}" is no result; expected {", ".join(RESULTS)}')
        remedy = self.knowledge.remedies[remedy_id]
        if not happened and (result != "unknown" or self.runs(remedy.state)):
            self._not_while_held(remedy.title if result == "unknown" else f"{remedy.title}, with a proof run")
        told = "; ".join(left)
        self._append(Event("remedy", remedy_id, result, cells={"left": told} if told else {}))

    def prove(self, result: str, happened: bool = False) -> None:
        """Note a proof run as the set stands now: "passed", the trouble is gone, or "failed", it is still there.

        A further proof run, with no remedy in between, replaces the earlier one. happened: as for `record`.
        Raises JobError, HeldError among them, and then nothing has changed.
        """
        if result not in PROOFS:
            raise JobError(f"{quoted(str(result))} is no result of a proof run; expected {', '.join(PROOFS)}")
        if not happened:
            self._not_while_held("The proof run")
        self._append(Event("proof", answer=result))

    def take_off(self, fitting_id: str, as_found: bool = False) -> None:
        """Note that something is off or open, though no step that was recorded takes it off.

        as_found: it was off already when the technician came. It takes no minutes.
        Raises JobError for an unknown fitting, and then nothing has changed.
        """
        self._append(self._fitting("taken_off", fitting_id, AS_FOUND if as_found else ""))

    def put_back(self, fitting_id: str) -> None:
        """Note that something that is off was put back, and its question answered with yes.

        A step that needs it on implies that, so that nobody has to say it who only records and carries out.
        Raises JobError for a fitting that is unknown or not off, and then nothing has changed.
        """
        event = self._fitting("put_back", fitting_id)
        if fitting_id not in self._state.off:
            raise JobError(f"{fitting_id}: is not off")
        self._append(event)

    def _fitting(self, kind: str, fitting_id: str, answer: str = "") -> Event:
        known = self.knowledge.catalogue.fittings
        if fitting_id not in known:
            raise unknown("fitting", fitting_id, known)
        return Event(kind, fitting_id, answer)

    def not_here(self, tool: str) -> str:
        """Note that a tool is not there today, by its id or a name of it; steps that need it are not proposed.

        Returns its id. Raises JobError for an unknown one, and then nothing has changed.
        """
        name = tool_named(self.knowledge.catalogue, tool)
        if name not in self._state.absent:
            self._append(Event("not_here", name))
        return name

    def has_come(self, tool: str) -> str:
        """Note that a tool that was not there has come. Returns its id. Raises JobError where it was not missed."""
        name = tool_named(self.knowledge.catalogue, tool)
        if {name, *self.knowledge.catalogue.tools[name].stands_for}.isdisjoint(self._state.absent):
            raise JobError(f"{name}: nobody said that it is not here")
        self._append(Event("here", name))
        return name

    def done_before(self, name: str, answer: str = "unknown") -> Answer | None:
        """Note what somebody did before the technician came; it takes no minutes of this job.

        name: a remedy, with "unknown" or "not cured", which makes its causes less likely by the chance that it works;
        a check, with an answer as told, which is never sure; or a fitting, which is off as found.
        Returns how the answer to a check was understood. Raises JobError, AnswerError; then nothing has changed.
        """
        if name in self.knowledge.catalogue.fittings:
            self.take_off(name, as_found=True)
            return None
        if name not in self.knowledge.checks:
            event = Event("before", name, answer)
            must_fit(event, self._genset, self._state.standing)
            self._append(event)
            return None
        text = str(answer).strip().rstrip("?").strip()
        read = self._genset.understand(name, f"{text}?")
        self._append(Event("before", name, f"{text}?" if read.outcomes else "unknown"))
        return read

    def stands(self, found: str) -> None:
        """Note how the set stands when the technician comes, or comes back. It takes no minutes.

        found: an id of the knowledge's `found`, or one of its other names. Raises JobError, and then nothing changed.
        """
        known = self.knowledge.catalogue.costs.found
        wanted = " ".join(str(found).lower().replace("_", " ").split())
        named = next((name for name, each in known.items() if wanted in each.names), None)
        if named is None:
            raise JobError(f"{quoted(str(found))} is no way a set stands; expected {', '.join(known)}")
        self._append(Event("stands", named))

    def begin_setting(self, wanted: Iterable[str] = (), only_disturbed: bool = False) -> None:
        """The set is set in order from the ground up from here on (see the room `setting`). wanted: steps on request.

        only_disturbed: after a cure, only what the work has disturbed, what was found wrong, and the proof.
        Raises JobError for an unknown step, and then nothing has changed.
        """
        event = Event("setting", DISTURBED * only_disturbed, "begun", cells=dict.fromkeys(wanted, "wanted"))
        must_fit(event, self._genset, self._state.standing)
        self._append(event)

    def leave_setting(self) -> None:
        """The set is no longer set in order; it can be gone on with."""
        self._append(Event("setting", answer="left"))

    def set_to(
        self, step: str, answer: str = "set", cells: Mapping[str, str] | None = None, works: Iterable[str] = ()
    ) -> None:
        """Note own work of a step of setting. answer: one of SET_TO. cells: turns by adjuster, or where it was put.

        works: remedies that begin with it, in its own minutes.
        Raises JobError for an unknown step, answer or remedy, HeldError while the job is held; then nothing changed.
        """
        events = [Event("remedy", name, "unknown", cells={"step": step}) for name in works]
        events.append(Event("set_to", step, answer, cells=dict(cells or {})))
        for event in events:
            must_fit(event, self._genset, self._state.standing)
        if answer != "no response" and self.runs(self.knowledge.catalogue.setting[step].state):
            self._not_while_held(self.knowledge.catalogue.setting[step].title)
        self._append(*events)

    @property
    def setting(self) -> bool:
        """Whether the set is being set in order."""
        return self._state.setting

    def note(self, text: str) -> None:
        """Keep a remark. It changes nothing else."""
        self._append(Event("note", answer=str(text)))

    def acknowledge(self, step: str, what: str) -> None:
        """Keep that cautions were acknowledged. step: id of a check or remedy, or "job". It changes nothing else."""
        self._append(Event("acknowledged", step, str(what)))

    def leave(self, point: str, confirmed: bool) -> None:
        """Keep whether a point of the closing list (see `closing_list`) was confirmed. It changes nothing else.

        Raises JobError for an unknown point, and then nothing has changed.
        """
        event = Event("left", point, LEFT[0 if confirmed else 1])
        must_fit(event, self._genset, self._state.standing)
        self._append(event)

    def load_reading(self, run: str, cells: Mapping[str, str]) -> None:
        """Keep a reading of a load test or recording, which always was before anybody could refuse it.

        run: one of LOAD_READINGS. cells: what was read, by the headings of a readings file.
        Raises JobError, AnswerError.
        """
        event = Event("load_reading", run, cells=dict(cells))
        must_fit(event, self._genset, self._state.standing)
        self._append(event)

    def correct(self, features: Mapping[str, object]) -> None:
        """Correct features of the set; all that was found is weighed as on the set with these.

        Raises AnswerError for a feature that cannot be used, JobError where a check that was answered does not exist on
        such a set; then nothing has changed.
        """
        known = self.knowledge.features({**self.features, **features})
        said = {*self.assumed} & features.keys()
        changed = {name: value for name, value in known.items() if value != self.features[name] or name in said}
        if changed:
            event = Event("feature", features=changed)
            must_fit(event, self._genset, self._state.standing)
            self._append(event)

    def close(self, how: str) -> None:
        """Close the job. how: one of CLOSINGS; "fixed" only where that is proven (see `acceptance`).

        "not_found" is for a complaint that stands with no fault found, "not_proven_under_load" for a set that is right
        but could not be read under load for want of a tool.
        Raises JobError, HeldError where the job is held, and then nothing has changed.
        """
        if how not in CLOSINGS:
            raise JobError(f"{quoted(how)} is no way to close a job; expected {', '.join(CLOSINGS)}")
        if how == "not_found" and not acceptance.standing_complaints(self):
            raise JobError(
                "no complaint is present, so there is nothing that was not found; expected one that still stands"
            )
        if how == "fixed":
            self._not_while_held("Closing it as fixed")
            if faults := acceptance.faults(self):
                raise JobError(f"this cannot be called fixed: {'; '.join(faults)}")
        if how == "not_proven_under_load" and (faults := acceptance.why_not_unproven(self)):
            raise JobError(f"this cannot be called right but for the load: {'; '.join(faults)}")
        self._append(Event("closed", how))

    def reopen(self) -> None:
        """Go on with a job that was closed."""
        self._append(Event("reopened"))

    def step_back(self, mistake: bool = False) -> Event | None:
        """Take back the latest event that still stands (not the set). Returns it, or None where there is none.

        mistake: it never was so (a slip of the finger); a finding that holds the job holds it on unless this is said.
        """
        standing = [event for event in self._state.standing if event.kind != "set"]
        if not standing:
            return None
        self._append(Event("step_back", answer=MISTAKE if mistake else ""))
        return standing[-1]

    def take_out(self, event: Event, mistake: bool = False) -> None:
        """Take back one event, whenever it was: all after it are taken back too and then stand again.

        mistake: as for `step_back`. Raises JobError where there is no such event, and then nothing has changed.
        """
        standing = list(self._state.standing)
        at = max((place for place, other in enumerate(standing) if place and other == event), default=0)
        if not at:
            raise JobError(f"there is no {event.kind} {quoted(event.id)} to take back")
        later = standing[at + 1 :]
        backs = [Event("step_back")] * len(later) + [Event("step_back", answer=MISTAKE if mistake else "")]
        self._take(*backs, *later)

    def _take(self, *events: Event) -> None:
        """Append events as they are, once each of them fits. Raises JobError, AnswerError; then nothing has changed."""
        genset, standing = self._genset, list(self._state.standing)
        for event in events:
            must_fit(event, genset, standing)
            changed = event
            if event.kind != "step_back":
                standing.append(event)
            elif len(standing) > 1:
                changed = standing.pop()
            if changed.kind == "feature":
                genset = self._set_of(standing)
        self._append(*events)

    @classmethod
    def replay(cls, knowledge: Knowledge, events: Iterable[Event]) -> Job:
        """The job that these events make. Raises JobError or AnswerError where one does not fit this knowledge."""
        listed = list(events)
        if not listed or listed[0].kind != "set":
            raise JobError("the first event of a job is the set")
        first = listed[0]
        job = cls(knowledge, first.features, first.tolerance or "default", first.cells.get("assumed", "").split())
        job._take(*listed[1:])
        return job

    # ---- what happened

    @property
    def events(self) -> tuple[Event, ...]:
        """Everything that happened, in order, with what was taken back."""
        return tuple(self._events)

    @property
    def standing(self) -> tuple[Event, ...]:
        """The events that still stand, without what was taken back."""
        return tuple(self._state.standing)

    @property
    def made(self) -> tuple[CheckMade, ...]:
        """Checks answered, in the order of the work, derived readings included."""
        return tuple(self._state.made.values())

    def dangerous(self, check: str, text: str) -> bool:
        """Whether an answer to a check would hold the job, or says that the set may become a danger or is not fit to
        run. Raises AnswerError, JobError."""
        answer, set_ = self.understand(check, text), self._genset
        made = {**{name: each.answer for name, each in self._state.latest.items()}, check: answer}
        return (
            danger.may_come_of(set_, check, answer)
            or danger.unfit_by(set_, check, answer)
            or bool(danger.of_answer(set_, made, check))
        )

    @property
    def assumed(self) -> tuple[str, ...]:
        """Features that nobody knows, and that stand at their default."""
        return assumed_of(self.standing)

    @property
    def features(self) -> dict[str, str | float]:
        """Features of the set, defaults filled in."""
        return self._genset.features

    @property
    def tolerance(self) -> str:
        """Id of the tolerance set that its readings are judged by."""
        return self._genset.tolerance

    @property
    def checks(self) -> Mapping[str, Check]:
        """The checks that this set has."""
        return self._genset.checks

    @property
    def here(self) -> str:
        """Set-up state the set is in now."""
        return self._state.here

    @property
    def minutes(self) -> float:
        """Minutes that the steps so far take by the knowledge base."""
        return self._state.minutes

    @property
    def closed(self) -> str:
        """How the job was closed, one of CLOSINGS; empty while it is open."""
        return self._state.closed

    @property
    def absent(self) -> tuple[str, ...]:
        """Tools that are not there today, by id, in the order said."""
        return tuple(self._state.absent)

    def lacking(self, kind: str, name: str = "") -> tuple[str, ...]:
        """Tools that are not there today of those that a step needs. kind, name: as of a proposed `Step`."""
        return lacking(self.knowledge.catalogue, kind, name, self._state.absent)

    @property
    def off(self) -> tuple[Off, ...]:
        """What is off or open on the set now, in the order in which it came off."""
        return tuple(self._state.off.values())

    def to_put_back(self, kind: str, name: str = "") -> tuple[str, ...]:
        """Fittings that are off and must be on before a step of that kind and id, as of a proposed `Step`."""
        return to_put_back(self.knowledge.catalogue, kind, name, tuple(self._state.off))

    @property
    def to_mend(self) -> tuple[str, ...]:
        """Remedies of faults that a look has shown for sure, and that were not mended since, in the order seen."""
        return to_mend(self._genset, self._state)

    def glances(self, step: str) -> tuple[tuple[str, str], ...]:
        """Short looks that an order rule puts before a step, while they may show something, each with the reason.

        Raises ContradictionError."""
        return glances(self._genset, self._state, self.posterior(), step)

    @property
    def first_looks(self) -> tuple[str, ...]:
        """Looks that every set gets before it is started for the first time in a job, as far as they are to be made;
        empty where nobody said how it stands, while it runs, and once it was started."""
        return first_looks(self._genset, self._state)

    @property
    def asked_of_start(self) -> tuple[str, ...]:
        """What is asked of the first start before anything is read, such as whether it starts; empty once it was
        started, and where nobody said that it stands cold."""
        return asked_of_start(self._genset, self._state)

    @property
    def unfit(self) -> tuple[str, ...]:
        """Of those looks the ones that were not right and stand so: the set is not run before that is mended."""
        return unfit(self._genset, self._state)

    def in_hand(self, check: str) -> bool:
        """Whether a check is a look at what is off now: it is made where the set stands."""
        return in_hand(self.knowledge.catalogue, check, self._state.off)

    @property
    def owed(self) -> tuple[str, ...]:
        """Checks that the record still wants of the set as it was found; empty once a fault was worked on."""
        return self._state.owed

    @property
    def epoch(self) -> int:
        """How many remedies have been carried out."""
        return self._state.epoch

    def line(self) -> str:
        """The whole state in one line."""
        return self._state.line(self._genset)

    # ---- what follows

    def as_found(self) -> dict[str, float]:
        """Exact probability that each cause was there as the set was found. Raises ContradictionError."""
        return self._diagnosis.as_found()

    def posterior(self) -> dict[str, float]:
        """Exact probability of every cause that this set can have, given everything recorded.

        Raises ContradictionError where no combination of causes explains the findings; the job is unharmed.
        """
        return self._diagnosis.posterior()

    def chance(self) -> float:
        """Probability of everything recorded, as a share of all jobs at such a set: how likely an answer was is what it
        comes to with that answer against all the others. Raises ContradictionError where it is nil."""
        return self._diagnosis.chance()

    def ranking(self) -> list[tuple[str, float]]:
        """Causes with their probability, most probable first, ties by id."""
        return sorted(self.posterior().items(), key=lambda item: (-item[1], item[0]))

    def fault_sets(self, limit: int = 5) -> tuple[tuple[frozenset[str], float], ...]:
        """Most probable joint explanations with their exact probabilities (every other cause absent)."""
        return self._diagnosis.fault_sets(limit)

    def evidence_for(self, cause_id: str) -> tuple[FindingWeight, ...]:
        """How each finding speaks for the cause (ratio above 1) or against it, strongest first."""
        return self._diagnosis.evidence_for(cause_id)

    @property
    def set_aside(self) -> tuple[str, ...]:
        """Findings from before earlier remedies that the posterior leaves out, because there are too many to weigh."""
        return self._diagnosis.set_aside()

    def planned_over(self) -> tuple[PlanningProblem, Sets]:
        """What the steps are planned over: the planner's problem of this set, and the fault sets that matter, with
        weights (see `planning`). Raises ContradictionError."""
        if self._adviser is None:
            self._adviser = Adviser(self._genset)
        return self._adviser.planned_over(self._state, self._diagnosis)

    def next_steps(self, limit: int = 5, deepen: int = 4, also: tuple[str, ...] = ()) -> tuple[Step, ...]:
        """The best next steps, best first.

        deepen: how many of the best are looked at two steps deep; 0 gives the quick first answer. also: steps looked at
        as deep as those, whose minutes then compare with theirs.
        Raises ContradictionError.
        """
        key = (limit, deepen, also)
        if key not in self._plans:
            if self._adviser is None:
                self._adviser = Adviser(self._genset)
            self._plans[key] = self._adviser.steps(self._state, self._diagnosis, limit, deepen, also)
        return self._plans[key]
