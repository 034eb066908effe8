"""What to do next at a job, with the reason.

Purpose: the diagnosis narrowed to the fault sets that matter for the planner (see `planned_set`), and its proposals
told as steps.
Law: a pure function of set, state and diagnosis; every number in a step is one that the choice was made from.
Not here: how steps are priced (see `planner`), what comes first whatever its price (see `mechanics_order`), words (see
`why`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import fsum

from ..planning import Planner, PlanningProblem, Proposal, why
from .diagnosis import Diagnosis
from .equipment import lacking
from .event import Event
from .fittings import to_put_back
from .generating_set import GeneratingSet
from .mechanics_order import confirming, in_mechanics_order
from .planned_set import problem_of
from .sight import before_closing, nothing_to_see, settled_checks, to_mend, unfit, wrong_before_closing
from .state import JobState, read_state


@dataclass(frozen=True, slots=True)
class Step:
    """A proposal. `kind`: check, remedy, done, refer. `minutes`: of this step with the move to its set-up state and,
    for a remedy, the proof run. `expected_minutes`: from now to fixed and proven, taking this step first. `put_back`:
    fittings that are off and go back on before it; their minutes are counted. The id of "done" may be NOT_FOUND."""

    kind: str
    id: str
    minutes: float
    expected_minutes: float
    why: str
    put_back: tuple[str, ...] = ()


Sets = tuple[tuple[frozenset[str], float], ...]
"""Fault sets with weights."""
_CARRIED = 60
"""Fault sets that a deepened choice carries."""
_WANTED = "The record wants it as found in any case."
NOT_FOUND = "not_found"
"""Id of the step "done" where the proof run has passed and a complaint stands all the same."""
SPEAKS_FOR = 2.0
"""A remedy that was proven useless is proposed again where the odds of its likeliest cause are this many times what
they were then. Once is not enough to rule a cause out, and what has just failed is not the next thing to do. Only where
nothing but handing over is left may it be."""
_WHAT_ELSE = "Before the set is closed: what else is wrong with it, and is the meter right that proves it?"
_NOTHING_ELSE = "Nothing else is to be done on the set while it must not run."


class Adviser:
    """Advice for one set. It remembers from one question to the next what the planner has worked out."""

    def __init__(self, genset: GeneratingSet) -> None:
        self._genset = genset
        self._planner = Planner(problem_of(genset))
        self._planners: dict[tuple[frozenset[str], frozenset[str]], Planner] = {}
        self._believed: dict[tuple[tuple[str, str, str], ...], Mapping[str, float]] = {}

    def steps(
        self, state: JobState, diagnosis: Diagnosis, limit: int, deepen: int, also: Collection[str] = ()
    ) -> tuple[Step, ...]:
        """The best next steps, best first; `deepen` and `also` as in `Job.next_steps`. Raises ContradictionError.

        While something holds the job, or a look before the start was not right, there is no step among them that
        runs the set, and handing over is always there.
        """
        sets = self._sets(state, diagnosis, _CARRIED if deepen else 48)
        useless = self._useless(state, diagnosis)
        used = Counter(state.remedies)
        owed = state.owed
        planner = self._planner_of(state, bool(owed))
        tried = {name: max(times, self._planner.problem.tries * (name in useless)) for name, times in used.items()}
        blank = nothing_to_see(self._genset, state)
        settled = settled_checks(self._genset, state) | blank
        most = len(self._genset.checks) + len(self._genset.remedies) + 2
        there = tuple(state.off)
        off = frozenset(each.fitting for each in state.off.values() if each.minutes)
        answered = frozenset(name for name, _ in state.made) | blank

        def proposed(times: Mapping[str, int]) -> tuple[Proposal, ...]:
            return planner.choose(
                sets, state.here, settled, times, limit=most, deepen=deepen, off=off, answered=answered, also=also
            )

        proposals = proposed(tried)
        if useless and proposals[0].kind == "refer":
            # Doing it once more, and properly, comes before handing the set over.
            proposals = proposed(used)
        chances = diagnosis.posterior()
        proposals = in_mechanics_order(self._genset, planner.problem, state, proposals, sets, owed, chances)
        nothing = fsum(weight for present, weight in sets if not present)
        proven = state.proofs.get(state.epoch) == "passed" and nothing >= 0.5
        if state.holds or unfit(self._genset, state):
            safe = [proposal for proposal in proposals if not self._runs(proposal)]
            told = [self._step(each, sets, used, False, there, (), chances) for each in safe[:limit]]
            return (*told, *self._refer(safe))[:limit]
        still = [
            self._genset.knowledge.complaints[name].title.lower()
            for (name, epoch), answer in state.complaints.items()
            if answer == "present" and epoch == state.epoch
        ]
        first = [self._with_owed(each, owed) for each in proposals]
        if proven:
            first.sort(key=lambda each: round(_to_close(each), 2))
        # A reason takes work to tell: it is told of what is shown.
        steps = [self._step(each, sets, used, proven, there, still, chances) for each in first[: max(1, limit)]]
        steps = [self._with_margin(each, proposals) for each in steps]
        steps = [replace(each, why=f"{each.why} {_WANTED}") if each.id in owed else each for each in steps]
        steps = [self._without(each, state) for each in steps]
        if steps[0].kind == "done":
            steps = [*self._before_closing(steps[0], state, answered, there), *steps]
        return tuple(steps[:limit])

    def _without(self, step: Step, state: JobState) -> Step:
        """Proving and handing over, with what could not be read or done for want of a tool."""
        catalogue = self._genset.knowledge.catalogue
        if step.kind not in ("done", "refer") or not state.absent:
            return step
        tools = ", ".join(catalogue.tools[name].title for name in state.absent)
        unread = [
            self._genset.checks[name].title.lower()
            for name in catalogue.costs.proof_needed
            if name in self._genset.checks and lacking(catalogue, "check", name, state.absent)
        ]
        missed = f" It cannot be proven: {', '.join(unread)} cannot be read." if unread else ""
        return replace(step, why=f"{step.why} Not here today: {tools}.{missed}")

    def planned_over(self, state: JobState, diagnosis: Diagnosis) -> tuple[PlanningProblem, Sets]:
        """The planner's problem, and the fault sets that a deepened choice carries, with weights."""
        return self._planner.problem, self._sets(state, diagnosis, _CARRIED)

    def _before_closing(
        self, done: Step, state: JobState, answered: Collection[str], off: tuple[str, ...]
    ) -> Iterator[Step]:
        """The looks for what else is wrong with a set, before it is closed: the nearest first, each once in a job."""
        catalogue = self._genset.knowledge.catalogue
        looks = [
            self._genset.checks[name]
            for name in before_closing(self._genset, state)
            if name not in answered and not lacking(catalogue, "check", name, state.absent)
        ]
        for check in sorted(looks, key=lambda check: catalogue.costs.move(state.here, check.state)):
            minutes = catalogue.costs.move(state.here, check.state) + check.minutes
            back = to_put_back(catalogue, "check", check.id, off)
            expected = round(minutes + done.expected_minutes, 2)
            yield Step("check", check.id, round(minutes, 2), expected, _WHAT_ELSE, back)

    def _planner_of(self, state: JobState, owed: bool) -> Planner:
        """The planner with what can be done today. owed: while readings of the set as found are owed, their own minutes
        are spent on any way."""
        wanted = frozenset(state.wanted_as_found) if owed else frozenset()
        absent = frozenset(state.absent)
        if not wanted and not absent:
            return self._planner
        if (wanted, absent) not in self._planners:
            self._planners[wanted, absent] = Planner(problem_of(self._genset, wanted, absent))
        return self._planners[wanted, absent]

    def _with_margin(self, step: Step, proposals: Sequence[Proposal]) -> Step:
        """A remedy that comes before a short look, with what the look would take more."""
        if step.kind != "remedy" or proposals[0].id != step.id:
            return step
        for each in confirming(self._genset, proposals):
            more = each.expected - proposals[0].expected
            if more < 0.5:
                continue  # held back by an order rule, not by its price
            title = self._genset.checks[each.id].title
            return replace(step, why=f"{step.why} {title} first is expected to take {more:.0f} min more.")
        return step

    def _with_owed(self, proposal: Proposal, owed: Sequence[str]) -> Proposal:
        """A proposal with the minutes of the readings that are owed: its own, and on the whole way those of all."""
        if not owed or proposal.kind == "refer":
            return proposal
        checks = self._genset.checks
        own = checks[proposal.id].minutes if proposal.id in owed else 0.0
        expected = proposal.expected + fsum(checks[name].minutes for name in owed)
        return replace(proposal, minutes=proposal.minutes + own, expected=expected)

    def _useless(self, state: JobState, diagnosis: Diagnosis) -> frozenset[str]:
        """Remedies that were done, after which the proof run still failed, and that nothing new speaks for since."""
        found = set()
        for name in dict.fromkeys(state.remedies):
            failed = self._failed(state, name)
            if failed is None:
                continue
            then, now = (self._odds(posterior, name) for posterior in (failed, diagnosis.posterior()))
            if now < SPEAKS_FOR * then:
                found.add(name)
        return frozenset(found)

    def _failed(self, state: JobState, remedy: str) -> Mapping[str, float] | None:
        """What was believed when a remedy was last proven useless; None where it was not."""
        last = max(place for place, event in enumerate(state.standing) if event.kind == "remedy" and event.id == remedy)
        for place, event in enumerate(state.standing[last:], last):
            if (event.kind == "remedy" and event.answer == "not cured") or event == Event("proof", answer="failed"):
                until = state.standing[: place + 1]
                key = tuple((each.kind, each.id, each.answer) for each in until)
                if key not in self._believed:
                    self._believed[key] = Diagnosis(self._genset, read_state(self._genset, until)).posterior()
                return self._believed[key]
            if event.kind == "remedy" and place > last:
                break
        return None

    def _odds(self, posterior: Mapping[str, float], remedy: str) -> float:
        """The most probable cause that a remedy cures, as odds."""
        chance = max((posterior.get(cause, 0.0) for cause in self._genset.remedies[remedy].cures), default=0.0)
        return chance / max(1.0 - chance, 1e-12)

    def _runs(self, proposal: Proposal) -> bool:
        """Whether a proposal needs the engine running. A proof run does."""
        knowledge = self._genset.knowledge
        if proposal.kind == "check":
            return knowledge.catalogue.states[knowledge.checks[proposal.id].state].runs
        if proposal.kind == "remedy":
            return knowledge.catalogue.states[knowledge.remedies[proposal.id].state].runs
        return proposal.kind != "refer"

    def _refer(self, safe: Sequence[Proposal]) -> tuple[Step, ...]:
        """Handing over, where it is not among the proposals."""
        if any(proposal.kind == "refer" for proposal in safe):
            return ()
        minutes = self._genset.knowledge.catalogue.costs.refer
        return (Step("refer", "refer", minutes, minutes, _NOTHING_ELSE),)

    def _step(
        self, proposal: Proposal, sets: why.Sets, used: Counter[str], proven: bool, off: tuple[str, ...],
        still: Sequence[str] = (), chances: Mapping[str, float] | None = None,
    ) -> Step:  # fmt: skip
        """still: complaints that are present on the set as it is now. chances: of each cause."""
        genset = self._genset
        minutes, expected = proposal.minutes, proposal.expected
        if proposal.kind == "done" and proven:
            minutes, expected = 0.0, _to_close(proposal)
        waiting = [step for step, checks in self._planner.problem.look_first.items() if proposal.id in checks]
        unlocks = [step for step in waiting if step in genset.remedies and not used[step]]
        reason = why.reason(genset.knowledge, proposal, sets, unlocks, chances)
        closing = proposal.kind == "done" and proven
        name = proposal.id
        if closing and still:
            name = NOT_FOUND
            reason = (
                f"The proof run passed, and the complaint still stands: {', '.join(still)}. That is not fixed, and "
                "nothing known explains it better than no fault. Say so, or look on with a check of your choice."
            )
        first = () if closing else to_put_back(genset.knowledge.catalogue, proposal.kind, proposal.id, off)
        return Step(proposal.kind, name, round(minutes, 2), round(expected, 2), reason, first)

    def _sets(self, state: JobState, diagnosis: Diagnosis, most: int) -> Sets:
        """The fault sets to plan over, at most `most` of them.

        A cause that neither the complaint nor a proof run can show, nor a look before closing has shown, and that
        nothing found speaks for, is left out: the set would be passed as fixed with it. Keeping what any finding might
        show was tried: a set that was right was then looked at for an hour more.
        """
        explained = diagnosis.broad_sets()
        visible = self._visible(state, diagnosis)
        merged: dict[frozenset[str], float] = {}
        for present, weight in explained.sets:
            there = present & visible
            merged[there] = merged.get(there, 0.0) + weight
        # A set that has just failed its proof run is not sound, and proving it again changes nothing.
        if (state.proofs.get(state.epoch) == "failed" or self._confirmed(state)) and len(merged) > 1:
            merged.pop(frozenset(), None)
        # By chance alone smoke or a wavering voltage may be taken for nothing; a set with it is not done before its
        # causes have been gone after.
        for name in wrong_before_closing(self._genset, state):
            causes = self._genset.knowledge.network.shows[name]
            explained_by = {present: weight for present, weight in merged.items() if not present.isdisjoint(causes)}
            merged = explained_by or merged
        return tuple(sorted(merged.items(), key=lambda item: (-item[1], sorted(item[0])))[:most])

    def _confirmed(self, state: JobState) -> bool:
        """Whether a reading shows what the customer complains of, on the set as it is now: then something is wrong,
        whatever has not shown it yet."""
        said: dict[str, set[str]] = {}
        for (complaint, epoch), answer in state.complaints.items():
            if answer == "present" and epoch == state.epoch and complaint not in state.explained:
                for name, outcomes in self._genset.knowledge.complaints[complaint].says.items():
                    said.setdefault(name, set()).update(outcomes)
        fine = self._genset.knowledge.catalogue.costs.also_fine
        return any(
            epoch == state.epoch
            and made.answer.sure
            and bool(shown := set(made.answer.outcomes))
            and shown <= said.get(name, set()).difference(fine.get(name, ()))
            for (name, epoch), made in state.made.items()
        )

    def _visible(self, state: JobState, diagnosis: Diagnosis) -> frozenset[str]:
        knowledge = self._genset.knowledge
        shown_by = set(knowledge.catalogue.costs.proof_checks)
        for name in state.complained:
            shown_by.update(knowledge.complaints[name].says)
        shows = knowledge.network.shows
        suspected = self._planner.problem.suspected
        wrong = frozenset(cause for name in wrong_before_closing(self._genset, state) for cause in shows[name])
        wrong |= {cause for name in to_mend(self._genset, state) for cause in self._genset.remedies[name].cures}
        return frozenset(
            cause
            for cause, chance in diagnosis.posterior().items()
            if chance >= suspected or cause in wrong or any(cause in shows[check] for check in shown_by)
        )


def _to_close(proposal: Proposal) -> float:
    """Expected minutes of the whole way where the proof run has been made: there is nothing left then but to close."""
    return proposal.expected - (proposal.minutes if proposal.kind == "done" else 0.0)
