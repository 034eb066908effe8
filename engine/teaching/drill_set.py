"""The dealt set at work: what it answers, what its work leaves, and what its proof run shows.

Purpose: one set for whoever works on it, trainee or program, so that both see the same answers to the same looks.
Law: a right repair works, but for the one slip that the scenario holds; a proof run reads what is complained of too.
Not here: which set is dealt (see `dealing`), what a move costs and which is unsafe (see `drill`, `drill_safety`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from ..compiler import Features, Knowledge
from ..readings import read_answer
from ..rehearsal import BenchSet
from .scenario import LEVELS, Scenario

SLIPPED = 0.7
"""Severity of what botched work leaves: plain enough to be found by its check."""
_NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class ProofReading:
    """One reading of a proof run; `fine` is None where the set does not let it be read."""

    check: str
    answer: str
    fine: bool | None


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof run: its readings, the complaints that are still there, and what the load did (see `Bench.under`)."""

    readings: tuple[ProofReading, ...]
    still: tuple[str, ...]
    did: str = ""

    @property
    def passed(self) -> bool:
        return not self.still and not self.did and all(reading.fine is not False for reading in self.readings)


class DrillSet(BenchSet):
    """The dealt set, to be worked on by whoever it is: trainee and program see the same answers to the same looks."""

    def __init__(self, knowledge: Knowledge, dealt: Scenario) -> None:
        super().__init__(knowledge, dealt.bench, dealt.complaints[0] if dealt.complaints else "")
        self.dealt = dealt
        self.slipped = ""
        """The remedy that was botched, empty as long as none was."""

    def copy(self) -> DrillSet:
        """The set as it is now; what is done to one is not done to the other."""
        made = DrillSet(self.knowledge, self.dealt)
        made.bench, made._looks, made.slipped = self.bench, dict(self._looks), self.slipped
        return made

    def answer(self, check: str) -> str:
        """As the bench answers; an older meter shows only multiples of its step."""
        text = super().answer(check)
        step, reading = self.dealt.level.step, self.knowledge.checks[check].reading
        if not step or reading is None or reading.unit != "Hz" or reading.lowest <= 0.0:
            return text
        return _NUMBER.sub(lambda match: f"{round(float(match[0]) / step) * step:.1f}", text, count=1)

    def mend(self, remedy: str) -> None:
        """Carry out a remedy. It works; what may go wrong once is what the scenario says, and leaves a cause behind."""
        super().mend(remedy)
        slip = self.knowledge.catalogue.slips.get(self.dealt.slip)
        if slip is None or self.slipped or remedy not in slip.of:
            return
        self.slipped = remedy
        if slip.leaves not in self.faults:
            self.bench = replace(self.bench, faults=(*self.bench.faults, (slip.leaves, SLIPPED)))

    def chances(self, remedy: str) -> Mapping[str, float]:
        """A right repair works: no hidden dice. Where several remedies are for one cause, those that seldom cure it
        where another often does are not the right one, and never do."""
        known = self.knowledge.remedies
        return {
            cause: float(chance >= 0.5 or chance >= max(each.cures.get(cause, 0.0) for each in known.values()))
            for cause, chance in known[remedy].cures.items()
        }

    def proof(self) -> Proof:
        """A proof run as the set is now."""
        readings = []
        for name in self.knowledge.catalogue.costs.proof_checks:
            check, answer = self.knowledge.checks[name], self.answer(name)
            bands = self.knowledge.catalogue.tolerances["default"].bands.get(name)
            outcomes = read_answer(check, answer, self.bench.features, bands).outcomes
            readings.append(ProofReading(name, answer, check.normal in outcomes if outcomes else None))
        still = tuple(name for name in self.dealt.complaints if self.shows(name))
        # What is still complained of is read too: a run that fails says by what.
        said = [check for name in still for check in self.knowledge.complaints[name].says]
        for name in dict.fromkeys(said):
            check = self.knowledge.checks[name]
            if name in self.knowledge.catalogue.costs.proof_checks or check.reading is None or check.derived_from:
                continue
            answer = self.answer(name)
            bands = self.knowledge.catalogue.tolerances["default"].bands.get(name)
            outcomes = read_answer(check, answer, self.bench.features, bands).outcomes
            if outcomes and check.normal not in outcomes:
                readings.append(ProofReading(name, answer, False))
        return Proof(tuple(readings), still, self.bench.under(1.0, self.knowledge.catalogue.costs.proof))

    def under(self, check: str) -> str:
        """What the load of a check does to the set as it is, see `Bench.under`; empty where it puts none on."""
        made = self.knowledge.checks[check]
        load = made.reading.load if made.reading is not None else None
        return self.bench.under(load, made.minutes) if load else ""

    def prove(self) -> bool:
        return self.proof().passed


def shown_in(knowledge: Knowledge, dealt: Scenario, complaint: str) -> tuple[str, ...]:
    """Checks in which a complaint shows, where it speaks of several and not of all; else none. A customer who is asked
    says when: hard to start is hard cold, hot, or both."""
    said = knowledge.complaints[complaint]
    if said.mode != "any" or len(said.says) < 2:
        return ()
    found = BenchSet(knowledge, dealt.bench)
    shown = tuple(check for check, outcomes in said.says.items() if set(found.outcomes(check)) & set(outcomes))
    return shown if len(shown) < len(said.says) else ()


def sound_set_passes(knowledge: Knowledge, features: Features) -> bool:
    """Whether a set without any fault passes its proof run, so that there is a way for the drill to end well."""
    return DrillSet(knowledge, Scenario("sound", LEVELS[1], features, (), 0.0, ())).prove()
