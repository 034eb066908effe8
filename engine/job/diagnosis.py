"""What the findings of a job say about the causes.

Purpose: the state of a job in, the exact probability of every cause, the joint fault sets and the weight of each
finding out. Evidence that contradicts itself becomes a named error with the least findings that do.
Law: a pure function of the state; nothing recorded is lost, whatever it says.
Not here: the tables (see `evidence`), the numbers (see `belief`), and what to do about it (see `advice`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from ..belief import (
    CauseSpan,
    Clue,
    Complaining,
    Explanations,
    Finding,
    Order,
    Solution,
    Tables,
    apply_matrix,
    explain,
    order_of,
    solve,
    tables,
)
from ..compiler import PROOF_RUN, Knowledge
from ..problems import HertzwrightError
from .generating_set import GeneratingSet
from .state import JobState

MOST_LOOKS = 6
"""Epochs from which answers to one and the same check are weighed together: as found, and the last five."""
MOST_STATES = 16384
"""Joint states of the clues open at once (see `Order.widest`), up to which evidence is solved whole: about a third of a
second of work."""

_clues: WeakKeyDictionary[Knowledge, dict[object, Clue]] = WeakKeyDictionary()
"""Clues made before (see `evidence.tables`): jobs at different sets have most of them in common."""

Key = tuple[str, int]
"""(id of a check, a complaint or the proof run; epoch)."""


class ContradictionError(HertzwrightError):
    """No combination of causes explains what was found. `findings` are the least that contradict each other."""

    def __init__(self, findings: Sequence[str], line: str) -> None:
        self.findings = tuple(findings)
        self.line = line
        super().__init__(f"these findings cannot all be right: {'; '.join(findings)} [{line}]")


@dataclass(frozen=True, slots=True)
class FindingWeight:
    """How findings speak for or against a cause: P(findings | that cause alone) / P(findings | no cause)."""

    facts: tuple[str, ...]
    ratio: float


class Diagnosis:
    """One state weighed. Every question is answered from one solution, worked out when first asked for.

    All but the making of it may raise ContradictionError; the job is unharmed by that.
    """

    def __init__(self, genset: GeneratingSet, state: JobState) -> None:
        self._genset = genset
        self._state = state
        self._memo = _clues.setdefault(genset.knowledge, {})
        self._found: tuple[Tables, Solution] | None = None
        self._broad: Explanations | None = None
        self._aside: tuple[str, ...] = ()

    def posterior(self) -> dict[str, float]:
        """Exact probability of every cause that this set can have."""
        found, solution = self._solved()
        present = {name: 0.0 for name, prior in self._genset.priors.items() if prior > 0.0}
        for states, marginals in zip(found.lives, solution.marginals, strict=True):
            for life, value in zip(states, marginals, strict=True):
                if life.cause is not None and life.last == found.now:
                    present[life.cause] += value
        return present

    def as_found(self) -> dict[str, float]:
        """Exact probability that each cause was there as the set was found, whatever was cured since."""
        found, solution = self._solved()
        there = {name: 0.0 for name, prior in self._genset.priors.items() if prior > 0.0}
        for states, marginals in zip(found.lives, solution.marginals, strict=True):
            for life, value in zip(states, marginals, strict=True):
                if life.cause is not None:
                    there[life.cause] += value
        return there

    def chance(self) -> float:
        """Probability of everything that was found."""
        return self._solved()[1].total

    def fault_sets(self, limit: int) -> tuple[tuple[frozenset[str], float], ...]:
        """Most probable joint explanations with their exact probabilities (every other cause absent)."""
        found, solution = self._solved()
        breadth = 14
        while True:
            explained = explain(found, solution.marginals, solution.total, breadth=breadth, depth=4)
            enough = len(explained.sets) >= limit and explained.sets[limit - 1][1] >= 1.0 - explained.covered
            if enough or breadth >= 40:
                return explained.sets[:limit] if not found.now else self._whole(explained.sets[: 2 * limit])[:limit]
            breadth += 13

    def _whole(self, sets: Sequence[tuple[frozenset[str], float]]) -> tuple[tuple[frozenset[str], float], ...]:
        """The same fault sets with their exact probabilities: after remedies each is a sum over all that may have been
        cured, and a search that leaves out the least of that comes out too low."""
        found, solution = self._solved()
        order = order_of(found.clues)
        whole = []
        for present, _ in sets:
            weights = [
                self._only(states, values, present, found.now)
                for states, values in zip(found.lives, found.weights, strict=True)
            ]
            whole.append((present, solve(weights, found.clues, order).total / solution.total))
        return tuple(sorted(whole, key=lambda item: (-item[1], sorted(item[0]))))

    @staticmethod
    def _only(
        states: Sequence[CauseSpan], values: Sequence[float], present: frozenset[str], now: int
    ) -> tuple[float, ...]:
        """Weights of one part without the states in which other causes are there now than those in `present`."""
        here = [state.cause is not None and state.last == now for state in states]
        there = any(state.cause in present for state, is_here in zip(states, here, strict=True) if is_here)
        return tuple(
            value if (state.cause in present if is_here else not there) else 0.0
            for state, is_here, value in zip(states, here, values, strict=True)
        )

    def broad_sets(self) -> Explanations:
        """Fault sets for planning: other causes act as a background, the least probable sets are dropped."""
        if self._broad is None:
            found, solution = self._solved()
            whole = solution.marginals, solution.total
            self._broad = explain(found, *whole, breadth=12, depth=4, floor=1e-3, absorb=True)
        return self._broad

    def evidence_for(self, cause_id: str) -> tuple[FindingWeight, ...]:
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
            none = math.fsum(a * b for a, b in zip(clue.close, clue.start, strict=True))
            alone = math.fsum(a * b for a, b in zip(clue.close, apply_matrix(matrix, clue.start), strict=True))
            if none > 0.0 and alone != none:
                weighed.append(FindingWeight(tuple(self._state.told(fact) for fact in facts), alone / none))
        return tuple(sorted(weighed, key=lambda item: -abs(_log(item.ratio))))

    def set_aside(self) -> tuple[str, ...]:
        """Findings from before earlier remedies that are left out, because there are too many to weigh."""
        self._solved()
        return self._aside

    # ---- from the state to tables

    def _solved(self) -> tuple[Tables, Solution]:
        if self._found is None:
            found, order = self._affordable()
            self._found = found, solve(found.weights, found.clues, order)
        if self._found[1].total <= 0.0:
            raise ContradictionError(self._contradiction(), self._state.line(self._genset))
        return self._found

    def _evidence(self, without: frozenset[Key] = frozenset()) -> Tables:
        knowledge, state, checks = self._genset.knowledge, self._state, self._genset.checks
        right = knowledge.right_when_unsure
        without |= self._overtaken()
        findings = []
        for (name, epoch), made in state.made.items():
            if made.counts and made.answer.outcomes and (name, epoch) not in without:
                likelihood = knowledge.answer_likelihood(name, dict(made.answer.fits), made.answer.sure)
                findings.append(Finding(name, epoch, likelihood))
        for epoch, result in state.proofs.items():
            if (PROOF_RUN, epoch) not in without:
                findings.append(Finding(PROOF_RUN, epoch, (1.0, 0.0) if result == "passed" else (0.0, 1.0)))
        reports, explained = [], state.explained
        for (name, epoch), answer in state.complaints.items():
            if answer == "unknown" or name in explained or (name, epoch) in without:
                continue
            complaint = knowledge.complaints[name]
            if any(check not in checks for check in complaint.says):
                continue
            so, not_so = complaint.true_when_said, complaint.said_when_not
            if answer == "absent":
                so, not_so = 1.0 - so, 1.0 - not_so
            elif answer == "unsure":
                so, not_so = right * so + (1 - right) * (1 - so), right * not_so + (1 - right) * (1 - not_so)
            missed = complaint.comes_and_goes if so > not_so else 0.0
            reports.append(Complaining(name, epoch, so, not_so, missed))
        priors, again = self._priors(), knowledge.leak_again
        return tables(knowledge.network, priors, findings, reports, state.remedies, self._memo, again)

    def _priors(self) -> Mapping[str, float]:
        """How common each cause is on the set as it was found: what somebody did before is one chance to be rid of it,
        and no proof that it is gone, since the complaint still stands."""
        priors = dict(self._genset.priors)
        for name in self._state.before:
            for cause, cured in self._genset.knowledge.remedies[name].cures.items():
                if cause in priors:
                    priors[cause] *= 1.0 - cured
        return priors

    def _overtaken(self) -> frozenset[Key]:
        """Answers to what was asked in more epochs than can be weighed together: all but the first and the last."""
        epochs: dict[str, list[int]] = {}
        proofs = [(PROOF_RUN, epoch) for epoch in self._state.proofs]
        for name, epoch in (*self._state.made, *self._state.complaints, *proofs):
            epochs.setdefault(name, []).append(epoch)
        return frozenset((name, epoch) for name, found in epochs.items() for epoch in sorted(found)[1 : 1 - MOST_LOOKS])

    def _affordable(self) -> tuple[Tables, Order]:
        """The evidence and the order to solve it in; what would take seconds is left out of it.

        That is findings from before the latest remedies: the work doubles with every abnormal finding that is open
        together with others. Only a long job with several remedies behind it comes so far; what was found before them
        says least about the set as it is. Of the findings open where it is widest those answered again since go first.
        """
        aside: list[Key] = []
        found = self._evidence()
        while True:
            order = order_of(found.clues)
            width, crowd = order.widest()
            if width <= MOST_STATES:
                break
            latest = dict(self._state.made.keys())
            older = [key for place in crowd for key in found.facts[place] if key[1] < found.now]
            if not older:
                break
            aside.append(min(older, key=lambda key: (key[1], latest.get(key[0], key[1]) == key[1], key[0])))
            found = self._evidence(frozenset(aside))
        self._aside = tuple(self._state.told(key) for key in (*sorted(self._overtaken()), *aside))
        return found, order

    def _contradiction(self) -> list[str]:
        """The least findings that are still impossible together: each is left out in turn where it can be spared."""
        keys = [key for key, made in self._state.made.items() if made.counts and made.answer.outcomes]
        keys += [(PROOF_RUN, epoch) for epoch in self._state.proofs]
        keys += [key for key, answer in self._state.complaints.items() if answer != "unknown"]
        spared: set[Key] = set()
        for key in keys:
            found = self._evidence(frozenset(spared | {key}))
            if solve(found.weights, found.clues).total <= 0.0:
                spared.add(key)
        return [self._state.told(key) for key in keys if key not in spared]


def _log(value: float) -> float:
    return math.log(value) if value > 0.0 else math.inf
