"""A job: the one thing that moves, by appending events.

Purpose: what is said, found and done at one set, one verb for each; what can be asked of it then is `StandingJob`.
Law: the state is a pure function of the events; taking back is one more event; nothing recorded is ever lost, not
even by evidence that contradicts itself.
Not here: the words of an event (see `as_event`), what follows from the events (see `state`), what that says about the
causes (see `diagnosis`) and what to do next (see `advice`); the clock, the job file, the terminal.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..compiler import Knowledge
from ..problems import quoted
from ..readings import Answer
from . import acceptance, as_event
from .equipment import tool_named
from .event import CLOSINGS, DISTURBED, LEFT, MISTAKE, Event, HeldError, JobError
from .event_fit import must_fit
from .fittings import AS_FOUND
from .generating_set import GeneratingSet
from .standing_job import StandingJob
from .state import REREAD, extend, features_of, read_state, standing_of


class Job(StandingJob):
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
        super().__init__(GeneratingSet(knowledge, features, tolerance))
        names = " ".join(assumed)
        cells = {"assumed": names} if names else {}
        self._append(Event("set", features=self.features, tolerance=tolerance, cells=cells))

    def _append(self, *events: Event) -> None:
        self._events.extend(events)
        state = self._state
        if any(event.kind in REREAD for event in events):
            self._set_anew(self._set_of(standing_of(self._events)))
            state = read_state(self._genset, self._events)
        else:
            for event in events:
                extend(state, event)
        self._moved_to(state)

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

    def secure(self, who: str) -> None:
        """End the hold: the set is shut down and its throttle was proven to close with the engine stopped.

        who: the one who says so. Raises JobError where nobody is named or nothing holds the job.
        """
        event = as_event.secured(who)
        if not self.held:
            raise JobError("nothing holds this job, so there is nothing to secure")
        self._append(event)

    def _not_while_held(self, what: str) -> None:
        if self.held:
            raise HeldError(
                f"{what}: not while the job is held ({'; '.join(map(str, self.held))}); "
                "shut the set down, prove with the engine stopped that the throttle closes, and say who did: secured"
            )

    # ---- events in

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
            event, read = as_event.complained(self.knowledge, name, answer, said)
            self._append(event)
            return read
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
        event = as_event.mended(self.knowledge, remedy_id, result, left)
        remedy = self.knowledge.remedies[remedy_id]
        if not happened and (result != "unknown" or self.runs(remedy.state)):
            self._not_while_held(remedy.title if result == "unknown" else f"{remedy.title}, with a proof run")
        self._append(event)

    def prove(self, result: str, happened: bool = False) -> None:
        """Note a proof run as the set stands now: "passed", the trouble is gone, or "failed", it is still there.

        A further proof run, with no remedy in between, replaces the earlier one. happened: as for `record`.
        Raises JobError, HeldError among them, and then nothing has changed.
        """
        event = as_event.proven(result)
        if not happened:
            self._not_while_held("The proof run")
        self._append(event)

    def take_off(self, fitting_id: str, as_found: bool = False) -> None:
        """Note that something is off or open, though no step that was recorded takes it off.

        as_found: it was off already when the technician came. It takes no minutes.
        Raises JobError for an unknown fitting, and then nothing has changed.
        """
        self._append(as_event.fitting(self.knowledge, "taken_off", fitting_id, AS_FOUND if as_found else ""))

    def put_back(self, fitting_id: str) -> None:
        """Note that something that is off was put back, and its question answered with yes.

        A step that needs it on implies that, so that nobody has to say it who only records and carries out.
        Raises JobError for a fitting that is unknown or not off, and then nothing has changed.
        """
        event = as_event.fitting(self.knowledge, "put_back", fitting_id)
        if fitting_id not in self._state.off:
            raise JobError(f"{fitting_id}: is not off")
        self._append(event)

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
        event, read = as_event.done_before(self._genset, self._state.standing, name, answer)
        self._append(event)
        return read

    def stands(self, found: str) -> None:
        """Note how the set stands when the technician comes, or comes back. It takes no minutes.

        found: an id of the knowledge's `found`, or one of its other names. Raises JobError, and then nothing changed.
        """
        self._append(as_event.stands(self.knowledge, found))

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
        self._take(*as_event.taken_out(self._state.standing, event, MISTAKE if mistake else ""))

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
