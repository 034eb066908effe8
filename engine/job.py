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

from .advice import Adviser, Step
from .belief import Clue
from .diagnosis import MOST_LOOKS, MOST_STATES, ContradictionError, Diagnosis, Weighed
from .event import COMPLAINT_ANSWERS, PROOFS, RESULTS, Event, JobError, unknown
from .genset import GeneratingSet
from .knowledge import Knowledge
from .model import Check
from .problem import AnswerError, quoted, shown
from .reading import UNKNOWN_WORDS, Answer
from .state import Made, State, read_state

__all__ = [
    "COMPLAINT_ANSWERS",
    "MOST_LOOKS",
    "MOST_STATES",
    "PROOFS",
    "RESULTS",
    "ContradictionError",
    "Event",
    "Job",
    "JobError",
    "Made",
    "Step",
    "Weighed",
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
        self, knowledge: Knowledge, features: Mapping[str, object] | None = None, tolerance: str = "default"
    ) -> None:
        """features: names and values as in the knowledge base, defaults where absent. Raises AnswerError, JobError."""
        self.knowledge = knowledge
        self._genset = GeneratingSet(knowledge, features, tolerance)
        self._adviser: Adviser | None = None
        self._memo: dict[object, Clue] = {}
        self._events: list[Event] = []
        self._append(Event("set", features=self.features, tolerance=tolerance))

    def _append(self, *events: Event) -> None:
        self._events.extend(events)
        self._state: State = read_state(self._genset, self._events)
        self._diagnosis = Diagnosis(self._genset, self._state, self._memo)
        self._plans: dict[tuple[int, int], tuple[Step, ...]] = {}

    # ---- events in

    def record(self, name: str, answer: str) -> Answer:
        """Note the answer to a check or a complaint.

        name: id of a check or a complaint. answer: for a check an outcome, a reading with unit or "unknown", with a
        question mark at the end where it is not sure; for a complaint "present", "absent", "unsure" or "unknown".
        A further answer to the same check, with no remedy in between, replaces the earlier one.
        Returns how the answer was understood. Raises AnswerError or JobError, and then nothing has changed.
        """
        if name in self.knowledge.complaints:
            understood = " ".join(str(answer).lower().split())
            if understood in UNKNOWN_WORDS:
                understood = "unknown"
            if understood not in COMPLAINT_ANSWERS:
                wanted = ", ".join(COMPLAINT_ANSWERS)
                raise AnswerError(f'"{shown(str(answer))}" is no answer to a complaint; expected {wanted}')
            self._append(Event("complaint", name, understood))
            return Answer((understood,) if understood != "unknown" else (), text=understood)
        read = self._genset.understand(name, str(answer))
        self._append(Event("check", name, read.text if not read.values else " ".join(str(answer).split())))
        return read

    def carry_out(self, remedy_id: str, result: str = "unknown") -> None:
        """Note a remedy and what its proof run showed.

        result: "cured", the trouble is gone; "not cured", it is still there; "unknown", no proof run yet.
        Raises JobError, and then nothing has changed.
        """
        if remedy_id not in self.knowledge.remedies:
            raise unknown("remedy", remedy_id, self.knowledge.remedies)
        if result not in RESULTS:
            raise JobError(f'"{shown(str(result))}" is no result; expected {", ".join(RESULTS)}')
        self._append(Event("remedy", remedy_id, result))

    def prove(self, result: str) -> None:
        """Note a proof run as the set stands now: "passed", the trouble is gone, or "failed", it is still there.

        A further proof run, with no remedy in between, replaces the earlier one. Raises JobError, and then nothing
        has changed.
        """
        if result not in PROOFS:
            raise JobError(f"{quoted(str(result))} is no result of a proof run; expected {', '.join(PROOFS)}")
        self._append(Event("proof", answer=result))

    def note(self, text: str) -> None:
        """Keep a remark. It changes nothing else."""
        self._append(Event("note", answer=str(text)))

    def step_back(self) -> Event | None:
        """Take back the latest event that still stands (not the set). Returns it, or None where there is none."""
        standing = [event for event in self._state.standing if event.kind != "set"]
        if not standing:
            return None
        self._append(Event("step_back"))
        return standing[-1]

    @classmethod
    def replay(cls, knowledge: Knowledge, events: Iterable[Event]) -> Job:
        """The job that these events make. Raises JobError or AnswerError where one does not fit this knowledge."""
        listed = list(events)
        if not listed or listed[0].kind != "set":
            raise JobError("the first event of a job is the set")
        job = cls(knowledge, listed[0].features, listed[0].tolerance or "default")
        for event in listed[1:]:
            job._must_fit(event)
        job._append(*listed[1:])
        return job

    def _must_fit(self, event: Event) -> None:
        if event.kind == "check":
            self._genset.understand(event.id, event.answer)
        elif event.kind == "complaint":
            if event.id not in self.knowledge.complaints or event.answer not in COMPLAINT_ANSWERS:
                raise unknown("complaint", event.id, self.knowledge.complaints)
        elif event.kind == "remedy":
            if event.id not in self.knowledge.remedies or event.answer not in RESULTS:
                raise unknown("remedy", event.id, self.knowledge.remedies)
        elif event.kind == "proof":
            if event.answer not in PROOFS:
                raise JobError(f"{quoted(event.answer)} is no result of a proof run")
        elif event.kind not in ("note", "step_back"):
            raise JobError(f'"{shown(event.kind)}" is no kind of event')

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
    def made(self) -> tuple[Made, ...]:
        """Checks answered, in the order of the work, derived readings included."""
        return tuple(self._state.made.values())

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
    def spell(self) -> int:
        """How many remedies have been carried out."""
        return self._state.spell

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

    def ranking(self) -> list[tuple[str, float]]:
        """Causes with their probability, most probable first, ties by id."""
        return sorted(self.posterior().items(), key=lambda item: (-item[1], item[0]))

    def fault_sets(self, limit: int = 5) -> tuple[tuple[frozenset[str], float], ...]:
        """Most probable joint explanations with their exact probabilities (every other cause absent)."""
        return self._diagnosis.fault_sets(limit)

    def evidence_for(self, cause_id: str) -> tuple[Weighed, ...]:
        """How each finding speaks for the cause (ratio above 1) or against it, strongest first."""
        return self._diagnosis.evidence_for(cause_id)

    @property
    def set_aside(self) -> tuple[str, ...]:
        """Findings from before earlier remedies that the posterior leaves out, because there are too many to weigh."""
        return self._diagnosis.set_aside()

    def next_steps(self, limit: int = 5, deepen: int = 4) -> tuple[Step, ...]:
        """The best next steps, best first.

        deepen: how many of the best are looked at two steps deep; 0 gives the quick first answer.
        Raises ContradictionError.
        """
        key = (limit, deepen)
        if key not in self._plans:
            if self._adviser is None:
                self._adviser = Adviser(self._genset)
            self._plans[key] = self._adviser.steps(self._state, self._diagnosis, limit, deepen)
        return self._plans[key]
