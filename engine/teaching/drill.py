"""A drill: a dealt set, worked on by a trainee step by step.

Purpose: the machine of a drill. It takes checks, remedies, proof runs and the claim that it is fixed, answers from the
simulated set, calls out what would hurt before anything is done, and keeps the path for the debrief.
Law: a real `Job` runs beneath, so belief and minutes are exactly those of a job; a hint adds the minutes of its rung,
once for each standing of the job. An unsafe step is not done and costs nothing but its place on the path. Time is never
taken back. What a hint says and what is said of a step come of one and the same advice, at the depth of the expert.
Not here: what is dealt (see `dealing`), what is said of the path afterwards (see `debrief`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from ..compiler import Check, Knowledge, Remedy
from ..job import ContradictionError, Job, Step
from ..problems import quoted
from ..simulated import TRIPS
from .drill_safety import PROOF_MOVE, DrillSafety, UnsafeMove
from .drill_set import DrillSet, Proof
from .expert import DEPTH
from .made_up import DrillError
from .scenario import Scenario

RUNGS: Mapping[str, float] = {"area": 1.0, "kind": 1.0, "step": 3.0, "reason": 0.0}
"""How far a hint goes, each rung with what it costs on top of the one before: where to look, what kind of step, which
step, and why."""
HINT_MINUTES = 5.0
"""What a whole hint costs: about a telephone call."""
_SHOWN = 24
"""Steps of the advice that a trainee's own is looked for among."""
_BESIDE = ("put_back", "taken_off", "acknowledged", "note")
"""Events after which the advice is as it was: what comes off or goes back on is part of the next step."""
FIXED, FAULT_LEFT, NOT_FIXED, REFERRED, GIVEN_UP = "fixed", "fault left", "not fixed", "handed over", "given up"


@dataclass(frozen=True, slots=True)
class DrillMove:
    """One move of a drill.

    kind: check, remedy, proof, fixed (the claim, and its proof run), hint, unsafe, safe, shut_down, reset, referred,
    given_up.
    minutes: on the clock after it. spent: by it. belief: every cause afterwards, empty where findings contradict.
    events, before: of the job and the set as they were before it. outcomes: what the answer to a check allows.
    rung: of a hint, one of RUNGS. predicted: the outcome that was foretold of a check. left_out: cautions that apply
    and were not chosen; vain: that were chosen and do not apply. did: what the load did to the set (see `Bench.under`).
    """

    kind: str
    id: str
    answer: str
    minutes: float
    spent: float
    belief: Mapping[str, float]
    events: int
    before: DrillSet = field(repr=False, compare=False)
    dangers: tuple[UnsafeMove, ...] = ()
    proof: Proof | None = None
    outcomes: tuple[str, ...] = ()
    rung: str = ""
    predicted: str = ""
    left_out: tuple[str, ...] = ()
    vain: tuple[str, ...] = ()
    did: str = ""

    @property
    def foretold(self) -> bool | None:
        """Whether a prediction came true; None where there was none, or the set could not be read."""
        return self.predicted in self.outcomes if self.predicted and self.outcomes else None


@dataclass(frozen=True, slots=True)
class SafetyChoice:
    """What was chosen before a step. named: all that is due; left_out: of it, in the list and not chosen; vain:
    chosen, and does not apply; beside: due, and not in the list."""

    named: tuple[str, ...]
    left_out: tuple[str, ...]
    vain: tuple[str, ...]
    beside: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrillVerdict:
    """How it stands by the truth. left: causes still in the set. outside: readings of the proof that are not right.
    still: complaints that are. minutes: on the clock, with handing over where that was done."""

    end: str
    left: tuple[str, ...]
    outside: tuple[str, ...]
    still: tuple[str, ...]
    minutes: float


class Drill:
    """One drill from the customer's words to its end."""

    def __init__(self, knowledge: Knowledge, dealt: Scenario) -> None:
        self.knowledge = knowledge
        self.dealt = dealt
        self.set = DrillSet(knowledge, dealt)
        self.job = Job(knowledge, dealt.features)
        for name in dealt.complaints:
            self.job.record(name, "present")
        self.safety = DrillSafety(knowledge, self.job, self.steps)
        self.moves: list[DrillMove] = []
        self.hints = 0
        self.hint_minutes = 0.0
        self._told: dict[int, str] = {}
        self._advice: dict[tuple[int, int], tuple[Step, ...]] = {}
        self._predicted: dict[str, str] = {}
        self.verdict: DrillVerdict | None = None
        self.tripped = False
        """The breaker of the set has opened by itself, and nobody has closed it again."""
        self.start = self.belief()

    # ---- what there is to choose

    @property
    def checks(self) -> dict[str, Check]:
        """Every check that can be made on this set; what is worked out from two others is not among them."""
        return {name: each for name, each in self.job.checks.items() if each.derived_from is None}

    @property
    def remedies(self) -> dict[str, Remedy]:
        """Every remedy for something that this set can have."""
        causes = self.knowledge.causes
        return {
            name: each for name, each in self.knowledge.remedies.items()
            if each.retired is None and each.only_if.holds(self.job.features)
            and any(causes[cause].prior(self.job.features) > 0.0 for cause in each.cures)
        }  # fmt: skip

    @property
    def steps(self) -> dict[str, Check | Remedy]:
        """Checks and remedies, in one list."""
        return {**self.checks, **self.remedies}

    @property
    def minutes(self) -> float:
        """The clock: the minutes of the job, and of the hints."""
        return self.job.minutes + self.hint_minutes

    @property
    def over(self) -> bool:
        return self.verdict is not None and self.verdict.end != NOT_FIXED

    @property
    def begun(self) -> bool:
        """Whether anything was done, or would have hurt; to look about is nothing."""
        return any(move.kind in ("check", "remedy", "proof", "fixed", "unsafe") for move in self.moves)

    @property
    def proven(self) -> bool:
        """Whether the set as it is now has passed a proof run."""
        for event in reversed(self.job.standing):
            if event.kind == "proof":
                return event.answer == "passed"
            if event.kind == "remedy":
                return False
        return False

    def belief(self) -> dict[str, float]:
        """Every cause of this set with its probability; empty where the findings contradict each other."""
        try:
            return self.job.posterior()
        except ContradictionError:
            return {}

    # ---- safety

    def make_safe(self, step: str = "", left_out: tuple[str, ...] = (), vain: tuple[str, ...] = ()) -> tuple[str, ...]:
        """Read and meet the cautions of a step and of its set-up state, or, without a step, those of a running set.

        What is off and must be on for it is put back, in its minutes. Returns the ids of the cautions; they take no
        minutes: they are part of the step, as at a job.
        """
        named, back = self.safety.meet(step)
        began = self._begin()
        for name in back:
            self.job.put_back(name)
        self._move("safe", step, "", began, left_out=left_out, vain=vain)
        return named

    def offered(self, step: str = "") -> tuple[str, ...]:
        """Cautions to choose from before a step: those that are to be met, among others; empty where none is."""
        return self.safety.offered(step, self.dealt.seed)

    def choose_safe(self, chosen: Collection[str], step: str = "") -> SafetyChoice:
        """Meet the cautions of a step (as `make_safe`) after saying which of those offered apply. What was left out,
        and what was chosen in vain, is on the path."""
        due, offered, apply = self.safety.due(step), self.offered(step), self.safety.applies(step)
        left_out = tuple(name for name in due if name in offered and name not in chosen)
        vain = tuple(name for name in chosen if name not in apply)
        self.make_safe(step, left_out, vain)
        return SafetyChoice(due, left_out, vain, tuple(name for name in due if name not in offered))

    def shut_down(self) -> bool:
        """Shut the set down and prove with the engine stopped that the throttle closes. Whether that was due."""
        due = self.safety.secure()
        self._move("shut_down", "", "due" if due else "not due")
        return due

    def reset(self) -> bool:
        """Close a breaker that has tripped; it is part of the next step. Whether that was due."""
        self._still_on()
        due, self.tripped = self.tripped, False
        if due:
            self._move("reset", "", "")
        return due

    def _unsafe(self, step: str, as_it_stands: bool) -> DrillMove | None:
        if self.over:
            raise DrillError("this drill is over")
        dangers = self.safety.dangers(step, as_it_stands)
        state = self.safety.step(step)[0]
        if self.tripped and state == self.knowledge.catalogue.costs.proof_state:
            raise DrillError("the breaker has tripped, and no load goes on; reset closes it again")
        if not dangers and as_it_stands and state != self.job.here:
            states = self.knowledge.catalogue.states
            raise DrillError(
                f"{quoted(step)} needs the set {states[state].title.lower()}, and it is "
                f"{states[self.job.here].title.lower()}; without changing that it cannot be done"
            )
        return self._move("unsafe", step, "", dangers=dangers) if dangers else None

    # ---- moves

    def check(self, name: str, as_it_stands: bool = False) -> DrillMove:
        """Make a check; its answer is what the simulated set shows. Raises DrillError; an unsafe one is not made."""
        if name not in self.checks:
            self.safety.step(name)
            raise DrillError(f"{name} is a remedy, not a check")
        if unsafe := self._unsafe(name, as_it_stands):
            return unsafe
        began = self._begin()
        answer, did = self.set.answer(name), self.set.under(name)
        read = self.job.record(name, answer)
        foretold = self._predicted.pop(name, "")
        self.tripped = self.tripped or did == TRIPS
        return self._move(
            "check", name, read.text or answer, began, outcomes=read.outcomes, predicted=foretold, did=did
        )

    def predict(self, name: str, outcome: str) -> None:
        """Say what a check will show, before it is made; it takes no minutes. Raises DrillError."""
        self._still_on()
        if name not in self.checks:
            self.safety.step(name)
            raise DrillError(f"{name} is a remedy; what a check will show can be foretold")
        if outcome not in self.checks[name].outcomes:
            wanted = ", ".join(each.id for each in self.checks[name].outcomes)
            raise DrillError(f"{quoted(outcome)} is no outcome of {name}; expected {wanted}")
        self._predicted[name] = outcome

    def remedy(self, name: str, as_it_stands: bool = False) -> DrillMove:
        """Carry out a remedy. Whether it helped, a proof run says. Raises DrillError; an unsafe one is not done."""
        if name not in self.remedies:
            self.safety.step(name)
            raise DrillError(f"{name} is a check, not a remedy")
        if unsafe := self._unsafe(name, as_it_stands):
            return unsafe
        began = self._begin()
        self.set.mend(name)
        self.job.carry_out(name, "unknown")
        return self._move("remedy", name, "carried out", began)

    def prove(self, kind: str = "proof") -> DrillMove:
        """A proof run of the set as it is now."""
        if unsafe := self._unsafe(PROOF_MOVE, False):
            return unsafe
        began = self._begin()
        proof = self.set.proof()
        self.job.prove("passed" if proof.passed else "failed")
        # What a proof run reads is shown and not recorded: on a job of its own, that says whether it is dangerous.
        shown = Job(self.knowledge, self.job.features, self.job.tolerance)
        for reading in proof.readings:
            shown.record(reading.check, reading.answer, happened=True)
        self.safety.fast_proof = bool(shown.held)
        self.tripped = proof.did == TRIPS
        return self._move(kind, "", "passed" if proof.passed else "failed", began, proof=proof, did=proof.did)

    def finish(self) -> DrillVerdict | DrillMove:
        """Say that it is fixed. Without a proof run that passed, one is made now; where it fails, the drill goes on.

        Returns the verdict, or the unsafe move where the proof run would have been one.
        """
        proof: Proof | None = None
        if not self.proven:
            move = self.prove("fixed")
            if move.kind == "unsafe":
                return move
            proof = move.proof
        else:
            self._still_on()
            self._move("fixed", "", "passed", self._begin())
        left = tuple(sorted(self.set.faults))
        if proof is not None and not proof.passed:
            self.verdict = self._verdict(NOT_FIXED, proof, left)
        else:
            self.verdict = self._verdict(FAULT_LEFT if left else FIXED, proof, left)
        return self.verdict

    def refer(self) -> DrillVerdict:
        """Hand the set over to the engine or governor shop: the drill ends, at the price of that."""
        return self._stop("referred", REFERRED)

    def give_up(self) -> DrillVerdict:
        """Stop before it is fixed."""
        return self._stop("given_up", GIVEN_UP)

    def _stop(self, kind: str, end: str) -> DrillVerdict:
        self._still_on()
        self._move(kind, "", "")
        proof = self.set.copy().proof()
        self.verdict = self._verdict(end, proof, tuple(sorted(self.set.faults)))
        return self.verdict

    def _still_on(self) -> None:
        if self.over:
            raise DrillError("this drill is over")

    def _verdict(self, end: str, proof: Proof | None, left: tuple[str, ...]) -> DrillVerdict:
        outside = tuple(
            f"{each.check} = {each.answer}" for each in (proof.readings if proof else ()) if each.fine is False
        )
        referred = self.knowledge.catalogue.costs.refer if end == REFERRED else 0.0
        return DrillVerdict(end, left, outside, proof.still if proof else (), self.minutes + referred)

    def hint(self, deepen: int = DEPTH, rung: str = "reason") -> Step | None:
        """What the program would do next, told as far as `rung` (one of RUNGS). None where findings contradict.

        It costs the minutes of the rungs that were not yet told as the job stands; asked again it costs nothing.
        """
        self._still_on()
        if rung not in RUNGS:
            raise DrillError(f"{quoted(rung)} is no rung of a hint; expected {', '.join(RUNGS)}")
        standing = self.standing(len(self.job.events))
        advice = self.advice(standing, deepen)
        if not advice:
            return None
        order = list(RUNGS)
        told = order.index(self._told[standing]) + 1 if standing in self._told else 0
        if order.index(rung) >= told:
            began = self._begin()
            self.hints += not told
            self.hint_minutes += sum(RUNGS[each] for each in order[told : order.index(rung) + 1])
            self._told[standing] = rung
            self._move("hint", advice[0].id, advice[0].kind, began, rung=rung)
        return advice[0]

    @property
    def rung_told(self) -> str:
        """How far a hint has been told as the job stands; empty where none was."""
        return self._told.get(self.standing(len(self.job.events)), "")

    def standing(self, events: int) -> int:
        """The events, of so many, after which the advice was last another: what went back on since is left out."""
        while events and self.job.events[events - 1].kind in _BESIDE:
            events -= 1
        return events

    def advice(self, events: int, deepen: int = DEPTH) -> tuple[Step, ...]:
        """The best next steps after so many events, best first; none where the findings contradict each other."""
        key = (self.standing(events), deepen)
        if key not in self._advice:
            job = self.job if key[0] == len(self.job.events) else Job.replay(self.knowledge, self.job.events[: key[0]])
            try:
                self._advice[key] = job.next_steps(_SHOWN, deepen)
            except ContradictionError:
                self._advice[key] = ()
        return self._advice[key]

    # ---- the path

    def job_before(self, move: DrillMove) -> Job:
        """The job as it was before a move."""
        return Job.replay(self.knowledge, self.job.events[: move.events])

    def _begin(self) -> tuple[float, int, DrillSet]:
        return self.minutes, len(self.job.events), self.set.copy()

    def _move(
        self,
        kind: str,
        name: str,
        answer: str,
        began: tuple[float, int, DrillSet] | None = None,
        dangers: tuple[UnsafeMove, ...] = (),
        proof: Proof | None = None,
        outcomes: tuple[str, ...] = (),
        rung: str = "",
        predicted: str = "",
        left_out: tuple[str, ...] = (),
        vain: tuple[str, ...] = (),
        did: str = "",
    ) -> DrillMove:
        minutes, events, before = began or self._begin()
        move = DrillMove(
            kind,
            name,
            answer,
            self.minutes,
            self.minutes - minutes,
            self.belief(),
            events,
            before,
            dangers,
            proof,
            outcomes,
            rung,
            predicted,
            left_out,
            vain,
            did,
        )
        self.moves.append(move)
        return move
