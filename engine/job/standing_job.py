"""A job as it stands: everything that can be asked of it, and nothing that moves it.

Purpose: the events, the state that follows from them, the set, and what the findings say; one name for each question.
Law: asking changes nothing; what was worked out is remembered until the job moves.
Not here: what moves a job (see `job`), and how each answer comes about (see `state`, `danger`, `sight`, `diagnosis`,
`advice`).
"""

from __future__ import annotations

from collections.abc import Mapping

from ..compiler import Check
from ..planning import PlanningProblem
from ..readings import Answer
from . import danger
from .advice import Adviser, Sets, Step
from .danger import Hold
from .diagnosis import ContradictionError, Diagnosis, FindingWeight
from .equipment import lacking
from .event import Event
from .fittings import Off, in_hand, to_put_back
from .generating_set import GeneratingSet
from .risk import Risk, risks
from .sight import asked_of_start, before_closing, first_looks, glances, to_mend, unfit
from .state import CheckMade, JobState, assumed_of, read_state


class StandingJob:
    """One set and what happened at it so far. `Job` moves it."""

    def __init__(self, genset: GeneratingSet) -> None:
        self.knowledge = genset.knowledge
        self._genset = genset
        self._adviser: Adviser | None = None
        self._events: list[Event] = []
        self._moved_to(read_state(genset, ()))

    def _moved_to(self, state: JobState) -> None:
        """What was worked out of the state before is no more so."""
        self._state = state
        self._diagnosis = Diagnosis(self._genset, state)
        self._plans: dict[tuple[int, int, tuple[str, ...]], tuple[Step, ...]] = {}

    # ---- the set and what happened

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

    def before_closing(self, seen: bool = False) -> tuple[str, ...]:
        """The looks for what else may be wrong, made once before the set is closed, that have no answer yet. seen:
        those that showed nothing yet, since "don't know" is an answer and no look."""
        return before_closing(self._genset, self._state, seen)

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

    @property
    def setting(self) -> bool:
        """Whether the set is being set in order."""
        return self._state.setting

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

    def runs(self, state: str) -> bool:
        """Whether the engine turns in a set-up state."""
        return self.knowledge.catalogue.states[state].runs

    # ---- what an answer would be

    def understand(self, check: str, answer: str) -> Answer:
        """How an answer to a check would be understood; nothing is recorded. It is parsed once, here or by `record`.

        Raises AnswerError or JobError.
        """
        return self._genset.understand(check, str(answer))

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
