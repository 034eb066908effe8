"""A job: the one thing that moves, by appending events.

Purpose: what was said, found and done at one set, and from it the causes, the fault sets and the next steps.
Law: the state is a pure function of the events; taking back is one more event; nothing recorded is ever lost, not
even by evidence that contradicts itself.
Not here: the clock, the job file, the terminal.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from . import why
from .belief import Clue, Solution, solve
from .evidence import Finding, Report, Tables, tables
from .explanations import Explanations, explain
from .graph import PROOF_RUN
from .knowledge import Knowledge
from .model import Band, Check
from .planner import Look, Mend, Planner, Problem
from .problem import HertzwrightError, close_to, quoted
from .reading import UNKNOWN_WORDS, Answer, AnswerError, read_answer, shown

RESULTS = ("cured", "not cured", "unknown")
PROOFS = ("passed", "failed")
COMPLAINT_ANSWERS = ("present", "absent", "unsure", "unknown")
MOST_LOOKS = 4
"""Spells from which answers to one and the same check are weighed together: as found, and the last three."""
MOST_STATES = 8192
"""States of the clues open at once, up to which evidence is solved whole: about a third of a second of work."""


class JobError(HertzwrightError):
    """A step that this job cannot take: an unknown id, a check this set does not have."""


class ContradictionError(HertzwrightError):
    """No combination of causes explains what was found. `findings` are the least that contradict each other."""

    def __init__(self, findings: Sequence[str], line: str) -> None:
        self.findings = tuple(findings)
        self.line = line
        super().__init__(f"these findings cannot all be right: {'; '.join(findings)} [{line}]")


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened. `kind`: set, complaint, check, remedy, proof, note, step_back.

    set: `features` and `tolerance` hold. complaint: answer is one of COMPLAINT_ANSWERS. check: answer as typed.
    remedy: answer is one of RESULTS. proof: answer is one of PROOFS. note: answer is the text. step_back: takes back
    the latest event that still stands and is not the set.
    """

    kind: str
    id: str = ""
    answer: str = ""
    features: Mapping[str, str | float] = field(default_factory=dict)
    tolerance: str = ""

    def as_dict(self) -> dict[str, object]:
        """Plain values for JSON, without what is empty."""
        found: dict[str, object] = {"kind": self.kind}
        if self.id:
            found["id"] = self.id
        if self.answer:
            found["answer"] = self.answer
        if self.kind == "set":
            found["features"], found["tolerance"] = dict(self.features), self.tolerance
        return found

    @classmethod
    def from_dict(cls, given: Mapping[str, object]) -> Event:
        """The event of a dict made by `as_dict`. Raises JobError for anything else."""
        kind, name, answer = (given.get(key, "") for key in ("kind", "id", "answer"))
        features, tolerance = given.get("features", {}), given.get("tolerance", "")
        if not (isinstance(kind, str) and isinstance(name, str) and isinstance(answer, str)):
            raise JobError(f"not an event: {shown(str(dict(given)))}")
        if not (isinstance(features, Mapping) and isinstance(tolerance, str)):
            raise JobError(f"not an event: {shown(str(dict(given)))}")
        return cls(kind, name, answer, dict(features), tolerance)


@dataclass(frozen=True, slots=True)
class Step:
    """A proposal. `kind`: check, remedy, done, refer. `minutes`: of this step with the move to its set-up state and,
    for a remedy, the proof run. `expected_minutes`: from now to fixed and proven, taking this step first."""

    kind: str
    id: str
    minutes: float
    expected_minutes: float
    why: str


@dataclass(frozen=True, slots=True)
class Made:
    """A check as answered, after `spell` remedies. `counts` is False where a derived reading holds it."""

    check: str
    spell: int
    answer: Answer
    counts: bool = True
    derived: bool = False


@dataclass(frozen=True, slots=True)
class Weighed:
    """How findings speak for or against a cause: P(findings | that cause alone) / P(findings | no cause)."""

    facts: tuple[str, ...]
    ratio: float


@dataclass(slots=True)
class _State:
    """Everything that follows from the events that stand."""

    standing: list[Event] = field(default_factory=list)
    made: dict[tuple[str, int], Made] = field(default_factory=dict)
    complaints: dict[tuple[str, int], str] = field(default_factory=dict)
    remedies: list[str] = field(default_factory=list)
    proofs: dict[int, str] = field(default_factory=dict)
    here: str = ""
    minutes: float = 0.0


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
        if tolerance not in knowledge.catalogue.tolerances:
            raise JobError(_unknown("tolerance set", tolerance, knowledge.catalogue.tolerances))
        self.features = dict(knowledge.features(features))
        self.tolerance = tolerance
        self._begin([Event("set", features=self.features, tolerance=tolerance)])

    def _begin(self, events: list[Event]) -> None:
        knowledge = self.knowledge
        self._events = events
        self._memo: dict[object, Clue] = {}
        self._priors = {name: cause.prior(self.features) for name, cause in knowledge.causes.items()}
        self._checks = {
            name: check for name, check in knowledge.checks.items() if knowledge.applies(name, self.features)
        }
        self._remedies = {
            name: remedy
            for name, remedy in knowledge.remedies.items()
            if remedy.retired is None and any(self._priors[cause] > 0.0 for cause in remedy.cures)
        }
        self._planner: Planner | None = None
        self._state = self._read()
        self._clear()

    def _clear(self) -> None:
        self._tables: Tables | None = None
        self._solution: Solution | None = None
        self._aside: tuple[str, ...] = ()
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
        check = self._check(name)
        read = read_answer(check, str(answer), self.features, self._bands(name))
        self._append(Event("check", name, read.text if not read.values else " ".join(str(answer).split())))
        return read

    def carry_out(self, remedy_id: str, result: str = "unknown") -> None:
        """Note a remedy and what its proof run showed.

        result: "cured", the trouble is gone; "not cured", it is still there; "unknown", no proof run yet.
        Raises JobError, and then nothing has changed.
        """
        if remedy_id not in self.knowledge.remedies:
            raise JobError(_unknown("remedy", remedy_id, self.knowledge.remedies))
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

    @property
    def events(self) -> tuple[Event, ...]:
        """Everything that happened, in order, with what was taken back."""
        return tuple(self._events)

    @classmethod
    def replay(cls, knowledge: Knowledge, events: Iterable[Event]) -> Job:
        """The job that these events make. Raises JobError or AnswerError where one does not fit this knowledge."""
        listed = list(events)
        if not listed or listed[0].kind != "set":
            raise JobError("the first event of a job is the set")
        job = cls(knowledge, listed[0].features, listed[0].tolerance or "default")
        for event in listed[1:]:
            job._check_event(event)
        job._begin([job._events[0], *listed[1:]])
        return job

    def _check_event(self, event: Event) -> None:
        known: Mapping[str, object]
        if event.kind == "check":
            read_answer(self._check(event.id), event.answer, self.features, self._bands(event.id))
        elif event.kind == "complaint":
            known = self.knowledge.complaints
            if event.id not in known or event.answer not in COMPLAINT_ANSWERS:
                raise JobError(_unknown("complaint", event.id, known))
        elif event.kind == "remedy":
            known = self.knowledge.remedies
            if event.id not in known or event.answer not in RESULTS:
                raise JobError(_unknown("remedy", event.id, known))
        elif event.kind == "proof":
            if event.answer not in PROOFS:
                raise JobError(f"{quoted(event.answer)} is no result of a proof run")
        elif event.kind not in ("note", "step_back"):
            raise JobError(f'"{shown(event.kind)}" is no kind of event')

    def _append(self, event: Event) -> None:
        self._events.append(event)
        self._state = self._read()
        self._clear()

    def _check(self, name: str) -> Check:
        check = self._checks.get(name)
        if check is not None:
            return check
        if name in self.knowledge.checks:
            raise JobError(f"{name}: this set has no such thing to check (see its features)")
        raise JobError(_unknown("check or complaint", name, {**self.knowledge.checks, **self.knowledge.complaints}))

    def _bands(self, name: str) -> Sequence[Band] | None:
        return self.knowledge.catalogue.tolerances[self.tolerance].bands.get(name)

    # ---- the state that follows

    def _read(self) -> _State:
        state = _State(here=self.knowledge.catalogue.costs.start_state)
        for event in self._events:
            if event.kind == "step_back":
                if len(state.standing) > 1:
                    state.standing.pop()
            else:
                state.standing.append(event)
        for event in state.standing:
            spell = len(state.remedies)
            if event.kind == "complaint":
                state.complaints[event.id, spell] = event.answer
            elif event.kind == "check":
                check = self._checks[event.id]
                answer = read_answer(check, event.answer, self.features, self._bands(event.id))
                # A new answer goes to the end, so that the record stays in the order of the work.
                state.made.pop((event.id, spell), None)
                state.made[event.id, spell] = Made(event.id, spell, answer)
                if answer.outcomes or answer.values:
                    state.minutes += self._move(state.here, check.state) + check.minutes
                    state.here = check.state
            elif event.kind == "remedy":
                remedy = self.knowledge.remedies[event.id]
                state.minutes += self._move(state.here, remedy.state) + remedy.minutes
                state.here = remedy.state
                state.remedies.append(event.id)
                if event.answer != "unknown":
                    self._prove(state, "passed" if event.answer == "cured" else "failed")
            elif event.kind == "proof":
                self._prove(state, event.answer)
        self._derive(state)
        return state

    def _prove(self, state: _State, result: str) -> None:
        costs = self.knowledge.catalogue.costs
        state.minutes += self._move(state.here, costs.proof_state) + costs.proof
        state.here = costs.proof_state
        state.proofs[len(state.remedies)] = result

    def _derive(self, state: _State) -> None:
        """A derived reading is worked out where both of its readings are there; the second then counts no more."""
        for name, check in self._checks.items():
            if check.derived_from is None:
                continue
            first, second = check.derived_from
            for spell in range(len(state.remedies) + 1):
                one, other = state.made.get((first, spell)), state.made.get((second, spell))
                given = state.made.get((name, spell))
                if given is None and one and other and one.answer.values and other.answer.values:
                    value = one.answer.values[0] - other.answer.values[0]
                    unit = check.reading.unit if check.reading else ""
                    answer = read_answer(check, f"{value:.6f} {unit}", self.features, self._bands(name))
                    sure = one.answer.sure and other.answer.sure
                    given = state.made[name, spell] = Made(name, spell, replace(answer, sure=sure), derived=True)
                if given is not None and given.answer.outcomes and other is not None:
                    state.made[second, spell] = replace(other, counts=False)

    def _move(self, start: str, end: str) -> float:
        return 0.0 if start == end else self.knowledge.catalogue.costs.moves[start, end]

    @property
    def standing(self) -> tuple[Event, ...]:
        """The events that still stand, without what was taken back."""
        return tuple(self._state.standing)

    @property
    def made(self) -> tuple[Made, ...]:
        """Checks answered, in the order of the work, derived readings included."""
        return tuple(self._state.made.values())

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
        return len(self._state.remedies)

    @property
    def checks(self) -> Mapping[str, Check]:
        """The checks that this set has."""
        return self._checks

    def line(self) -> str:
        """The whole state in one line."""
        defaults = self.knowledge.features()
        shown_features = [f"{name}={value}" for name, value in self.features.items() if value != defaults[name]]
        parts = [f"set[{' '.join(shown_features)}]"]
        for event in self._state.standing[1:]:
            if event.kind in ("complaint", "check", "remedy", "proof"):
                name = event.id or event.kind
                parts.append(f"{'*' if event.kind == 'remedy' else ''}{name}={shown(event.answer)}")
        return "; ".join(parts)

    # ---- belief

    def _evidence(self, without: frozenset[tuple[str, int]] = frozenset()) -> Tables:
        network = self.knowledge.network
        state = self._state
        # An answer marked as not sure is "usually" right; what no cause explains is "usually" there again.
        right = self.knowledge.catalogue.words["usually"].value
        without |= self._overtaken()
        findings = []
        for (name, spell), made in state.made.items():
            if made.counts and made.answer.outcomes and (name, spell) not in without:
                findings.append(Finding(name, spell, _likelihood(self._checks[name], made.answer, right)))
        for spell, result in state.proofs.items():
            if (PROOF_RUN, spell) not in without:
                findings.append(Finding(PROOF_RUN, spell, (1.0, 0.0) if result == "passed" else (0.0, 1.0)))
        reports = []
        for (name, spell), answer in state.complaints.items():
            if answer == "unknown" or (name, spell) in without:
                continue
            complaint = self.knowledge.complaints[name]
            if any(check not in self._checks for check in complaint.says):
                continue
            so, not_so = complaint.true_when_said, complaint.said_when_not
            if answer == "absent":
                so, not_so = 1.0 - so, 1.0 - not_so
            elif answer == "unsure":
                so, not_so = right * so + (1 - right) * (1 - so), right * not_so + (1 - right) * (1 - not_so)
            reports.append(Report(name, spell, so, not_so))
        return tables(network, self._priors, findings, reports, state.remedies, self._memo, again=right)

    def _overtaken(self) -> frozenset[tuple[str, int]]:
        """Answers to what was asked in more spells than can be weighed together: all but the first and the last."""
        spells: dict[str, list[int]] = {}
        proofs = [(PROOF_RUN, spell) for spell in self._state.proofs]
        for name, spell in (*self._state.made, *self._state.complaints, *proofs):
            spells.setdefault(name, []).append(spell)
        return frozenset(
            (name, spell) for name, found in spells.items() for spell in sorted(found)[1 : 1 - MOST_LOOKS]
        )

    def _solved(self) -> tuple[Tables, Solution]:
        if self._tables is None or self._solution is None:
            self._tables = self._affordable()
            self._solution = solve(self._tables.weights, self._tables.clues)
        if self._solution.total <= 0.0:
            raise ContradictionError(self._contradiction(), self.line())
        return self._tables, self._solution

    def _affordable(self) -> Tables:
        """The evidence; where solving it would take seconds, findings from before the latest remedies are set aside.

        The work doubles with every abnormal finding. Only a long job with several remedies behind it comes so far;
        what was found before them says least about the set as it is. Answers given again since go first.
        """
        aside: list[tuple[str, int]] = []
        found = self._evidence()
        while _states(found) > MOST_STATES:
            latest = dict(self._state.made.keys())
            older = [
                key
                for clue, facts in zip(found.clues, found.facts, strict=True)
                if len(clue.start) > 1
                for key in facts
                if key[1] < found.now
            ]
            if not older:
                break
            aside.append(min(older, key=lambda key: (key[1], latest.get(key[0], key[1]) == key[1], key[0])))
            found = self._evidence(frozenset(aside))
        self._aside = tuple(self._told(key) for key in (*sorted(self._overtaken()), *aside))
        return found

    @property
    def set_aside(self) -> tuple[str, ...]:
        """Findings from before earlier remedies that the posterior leaves out, because there are too many to weigh."""
        self._solved()
        return self._aside

    def _contradiction(self) -> list[str]:
        """The least findings that are still impossible together: each is left out in turn where it can be spared."""
        keys = [key for key, made in self._state.made.items() if made.counts and made.answer.outcomes]
        keys += [(PROOF_RUN, spell) for spell in self._state.proofs]
        keys += [key for key, answer in self._state.complaints.items() if answer != "unknown"]
        spared: set[tuple[str, int]] = set()
        for key in keys:
            found = self._evidence(frozenset(spared | {key}))
            if solve(found.weights, found.clues).total <= 0.0:
                spared.add(key)
        return [self._told(key) for key in keys if key not in spared]

    def _told(self, key: tuple[str, int]) -> str:
        name, spell = key
        if key in self._state.made:
            return f"{name} = {self._state.made[key].answer.text}"
        if key in self._state.complaints:
            return f"{name} = {self._state.complaints[key]}"
        return f"proof run {self._state.proofs[spell]}"

    def posterior(self) -> dict[str, float]:
        """Exact probability of every cause that this set can have, given everything recorded.

        Raises ContradictionError where no combination of causes explains the findings; the job is unharmed.
        """
        found, solution = self._solved()
        present = {name: 0.0 for name, prior in self._priors.items() if prior > 0.0}
        for states, marginals in zip(found.lives, solution.marginals, strict=True):
            for life, value in zip(states, marginals, strict=True):
                if life.cause is not None and life.last == found.now:
                    present[life.cause] += value
        return present

    def ranking(self) -> list[tuple[str, float]]:
        """Causes with their probability, most probable first, ties by id."""
        return sorted(self.posterior().items(), key=lambda item: (-item[1], item[0]))

    def fault_sets(self, limit: int = 5) -> tuple[tuple[frozenset[str], float], ...]:
        """Most probable joint explanations with their exact probabilities (every other cause absent)."""
        found, solution = self._solved()
        breadth = 14
        while True:
            explained = explain(found, solution.marginals, solution.total, breadth=breadth, depth=4)
            enough = len(explained.sets) >= limit and explained.sets[limit - 1][1] >= 1.0 - explained.covered
            if enough or breadth >= 40:
                return explained.sets[:limit]
            breadth += 13

    def evidence_for(self, cause_id: str) -> tuple[Weighed, ...]:
        """How each finding speaks for the cause (ratio above 1) or against it, strongest first."""
        found, _ = self._solved()
        places = [
            (part, state)
            for part, states in enumerate(found.lives)
            for state, life in enumerate(states)
            if life.cause == cause_id and life.last == found.now
        ]
        if not places:
            return ()
        weighed = []
        for clue, facts in zip(found.clues, found.facts, strict=True):
            matrix = clue.effects.get(places[0])
            if matrix is None:
                continue
            none = sum(a * b for a, b in zip(clue.close, clue.start, strict=True))
            alone = sum(
                close * sum(a * b for a, b in zip(row, clue.start, strict=True))
                for close, row in zip(clue.close, matrix, strict=True)
            )
            if none > 0.0 and alone != none:
                weighed.append(Weighed(tuple(self._told(fact) for fact in facts), alone / none))
        return tuple(sorted(weighed, key=lambda item: -abs(_log(item.ratio))))

    # ---- advice

    def next_steps(self, limit: int = 5, deepen: int = 4) -> tuple[Step, ...]:
        """The best next steps, best first.

        deepen: how many of the best are looked at two steps deep; 0 gives the quick first answer.
        Raises ContradictionError.
        """
        key = (limit, deepen)
        if key not in self._plans:
            self._plans[key] = self._plan(limit, deepen)
        return self._plans[key]

    def _plan(self, limit: int, deepen: int) -> tuple[Step, ...]:
        found, solution = self._solved()
        explained = self._sets(found, solution, 60 if deepen else 48)
        planner = self._plans_for()
        state = self._state
        used: dict[str, int] = {}
        for remedy in state.remedies:
            used[remedy] = used.get(remedy, 0) + 1
        proposals = planner.choose(
            explained.sets, state.here, self._settled(), used, limit=max(limit, 5), deepen=deepen
        )
        nothing = sum(weight for present, weight in explained.sets if not present)
        proven = state.proofs.get(len(state.remedies)) == "passed" and nothing >= 0.5
        steps = []
        for proposal in proposals:
            minutes, expected = proposal.minutes, proposal.expected
            if proposal.kind == "done" and proven:
                minutes, expected = 0.0, expected - proposal.minutes
            waiting = [step for step, checks in planner.problem.look_first.items() if proposal.id in checks]
            unlocks = [step for step in waiting if step in self._remedies and used.get(step, 0) == 0]
            reason = why.reason(self.knowledge, proposal, explained.sets, unlocks)
            steps.append(Step(proposal.kind, proposal.id, round(minutes, 2), round(expected, 2), reason))
        if proven:
            steps.sort(key=lambda step: step.expected_minutes)
        return tuple(steps[:limit])

    def _sets(self, found: Tables, solution: Solution, most: int) -> Explanations:
        """Fault sets for planning: other causes act as a background, the least probable sets are dropped.

        A cause that neither the complaint nor a proof run can show, and that nothing found speaks for, is left out:
        the set would be passed as fixed with it.
        """
        explained = explain(found, solution.marginals, solution.total, breadth=12, depth=4, floor=1e-3, absorb=True)
        visible = self._visible()
        merged: dict[frozenset[str], float] = {}
        for present, weight in explained.sets:
            there = present & visible
            merged[there] = merged.get(there, 0.0) + weight
        # A set that has just failed its proof run is not sound, and proving it again changes nothing.
        if self._state.proofs.get(self.spell) == "failed" and len(merged) > 1:
            merged.pop(frozenset(), None)
        ordered = sorted(merged.items(), key=lambda item: (-item[1], sorted(item[0])))[:most]
        return Explanations(tuple(ordered), sum(weight for _, weight in ordered))

    def _visible(self) -> frozenset[str]:
        shown_by = set(self.knowledge.catalogue.costs.proof_checks)
        for (name, _), answer in self._state.complaints.items():
            if answer in ("present", "unsure"):
                shown_by.update(self.knowledge.complaints[name].says)
        shows = self.knowledge.network.shows
        suspected = self._plans_for().problem.suspected
        return frozenset(
            cause
            for cause, chance in self.posterior().items()
            if chance >= suspected or any(cause in shows[check] for check in shown_by)
        )

    def _settled(self) -> frozenset[str]:
        """Checks not worth asking again: answered (or passed over) since anything they depend on was touched."""
        state = self._state
        settled = set()
        for name, spell in state.made:
            touched = {cause for remedy in state.remedies[spell:] for cause in self.knowledge.remedies[remedy].cures}
            if not touched & set(self.knowledge.checks[name].parents):
                settled.add(name)
        return frozenset(settled)

    def _plans_for(self) -> Planner:
        if self._planner is None:
            catalogue = self.knowledge.catalogue
            look_first: dict[str, list[str]] = {}
            cure_first: dict[str, list[str]] = {}
            for rule in catalogue.order.values():
                target = {"look_first": look_first, "cure_first": cure_first}.get(rule.kind)
                if target is None:
                    continue
                for step in rule.after:
                    known: Mapping[str, object] = self._checks if rule.kind == "look_first" else self._remedies
                    target.setdefault(step, []).extend(name for name in rule.before if name in known)
            costs = catalogue.costs
            self._planner = Planner(
                Problem(
                    looks=tuple(
                        Look(check.id, check.minutes, check.state)
                        for check in self._checks.values()
                        if check.derived_from is None
                    ),
                    mends=tuple(
                        Mend(
                            remedy.id,
                            remedy.minutes,
                            remedy.state,
                            {cause: chance for cause, chance in remedy.cures.items() if self._priors[cause] > 0.0},
                        )
                        for remedy in self._remedies.values()
                    ),
                    moves=costs.moves,
                    proof_minutes=costs.proof,
                    proof_state=costs.proof_state,
                    refer=costs.refer,
                    likelihood=self.knowledge.distribution,
                    look_first={step: tuple(dict.fromkeys(names)) for step, names in look_first.items()},
                    cure_first={step: tuple(names) for step, names in cure_first.items()},
                    # A cause is suspected, for the order rules, from "sometimes" upward.
                    suspected=catalogue.words["sometimes"].value,
                )
            )
        return self._planner


def _likelihood(check: Check, answer: Answer, right: float) -> tuple[float, ...]:
    """P(answer | outcome): 1 for those that fit; an unsure answer leaves the rest of the chance to the others."""
    fits = [outcome.id in answer.outcomes for outcome in check.outcomes]
    if answer.sure:
        return tuple(1.0 if fit else 0.0 for fit in fits)
    others = fits.count(False)
    return tuple(right if fit else (1.0 - right) / max(1, others) for fit in fits)


def _states(found: Tables) -> int:
    return math.prod(len(clue.start) for clue in found.clues)


def _unknown(what: str, name: str, known: Mapping[str, object]) -> str:
    hint = close_to(name, known)
    return f"no {what} {quoted(name)}" + (f"; {hint}" if hint else "")


def _log(value: float) -> float:
    return math.log(value) if value > 0.0 else math.inf
