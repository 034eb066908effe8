"""Sets that are called out: each with faults that nobody knows, a complaint, and an answer to every check.

Purpose: two worlds to rehearse in. `DrawnSet` answers as the knowledge itself says such a set would; `BenchSet` is the
simulated set, whose physics knows nothing of the knowledge's strengths.
Law: what a check shows depends on the seed, the faults and how often it was looked at, never on the way there, so that
two ways of working, or two versions of the knowledge, can be compared on the very same sets.
What a cause shows in a group of checks is one draw per set, as in `evidence`; what no cause explains is drawn at every
look, and is the same again as often as the word "usually" says.
Not here: how anybody works through such a set (see `rehearsal`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

from ..compiler import PROOF_RUN, Knowledge
from ..readings import read_answer
from ..simulated import CHECKS, FAULTS, Bench, Draws

Given = Mapping[str, object] | None


class VirtualSet(Protocol):
    """What a technician can do with a set."""

    @property
    def features(self) -> Mapping[str, object]: ...

    @property
    def complaint(self) -> str: ...

    @property
    def faults(self) -> frozenset[str]:
        """Causes that are there now; no technician looks here."""
        ...

    def answer(self, check: str) -> str:
        """What the check shows now: an outcome, a reading with its unit, or "unknown"."""
        ...

    def treat(self, remedy: str) -> bool:
        """Carry out a remedy and its proof run; whether that passes."""
        ...

    def prove(self) -> bool:
        """Whether a proof run passes now."""
        ...


class DrawnSet:
    """A set drawn from the knowledge."""

    def __init__(
        self, knowledge: Knowledge, features: Given, faults: frozenset[str], seed: str, complaint: str = ""
    ) -> None:
        self.knowledge = knowledge
        self.features: Mapping[str, object] = dict(features or {})
        self.faults = faults
        self.complaint = complaint
        self._seed = seed
        self._looks: dict[str, int] = {}
        self._treated: dict[str, int] = {}

    def answer(self, check: str) -> str:
        seen = self.outcome(check)
        if self.complaint and not self._treated:
            said = self.knowledge.network.says[self.complaint][1].get(check, ())
            missed = self.knowledge.complaints[self.complaint].comes_and_goes
            # What the customer has seen need not show while the technician looks, as the evidence takes it.
            if seen in said and Draws(self._seed, "missed", check, self._looks[check]).uniform() < missed:
                seen = 0
        return self.knowledge.checks[check].outcomes[seen].id

    def outcome(self, check: str) -> int:
        """Position of the outcome that a look shows now."""
        network = self.knowledge.network
        look = self._looks[check] = self._looks.get(check, -1) + 1
        draws = Draws(self._seed, "leak", check, look)
        again = self.knowledge.leak_again
        if look and check != PROOF_RUN and draws.uniform() < again:
            draws = Draws(self._seed, "leak", check, 0)
        seen = quantile(network.leak[check], draws.uniform())
        shows = network.shows[check]
        for cause in sorted(self.faults):
            if cause in shows:
                # A proof run fails or passes for each cause and each time anew, as the evidence takes it.
                time = look if check == PROOF_RUN else 0
                group = network.group[check]
                alike = Draws(self._seed, cause, group, "alike").uniform() < network.alike
                draw = Draws(self._seed, cause, group if alike else check, time).uniform()
                seen = max(seen, quantile(shows[cause], draw))
        return seen

    def treat(self, remedy: str) -> bool:
        time = self._treated[remedy] = self._treated.get(remedy, 0) + 1
        cured = {
            cause
            for cause, chance in self.knowledge.remedies[remedy].cures.items()
            if Draws(self._seed, "cure", remedy, cause, time).uniform() < chance
        }
        self.faults -= cured
        return self.prove()

    def prove(self) -> bool:
        return self.outcome(PROOF_RUN) == 0


class BenchSet:
    """A simulated set, as found."""

    def __init__(self, knowledge: Knowledge, bench: Bench, complaint: str = "") -> None:
        self.knowledge = knowledge
        self.bench = bench
        self.complaint = complaint
        self._looks: dict[tuple[int, str], int] = {}

    @property
    def features(self) -> Mapping[str, object]:
        return dict(self.bench.features)

    @property
    def faults(self) -> frozenset[str]:
        return frozenset(cause for cause, _ in self.bench.faults)

    def answer(self, check: str) -> str:
        if check not in CHECKS:
            return "unknown"  # a look for which the simulated set has no part
        key = (self.bench.steps, check)
        look = self._looks[key] = self._looks.get(key, -1) + 1
        return self.bench.answer(check, look)

    def outcomes(self, check: str) -> tuple[str, ...]:
        """Outcomes that the answer allows; empty where it says nothing."""
        known = self.knowledge
        bands = known.catalogue.tolerances["default"].bands.get(check)
        return read_answer(known.checks[check], self.answer(check), self.bench.features, bands).outcomes

    def mend(self, remedy: str) -> None:
        """Carry out a remedy, without a proof run."""
        known = self.knowledge.remedies
        ends_with = {cause for name in known[remedy].then for cause in known[name].cures}
        self.bench = self.bench.carry_out(self.chances(remedy), ends_with)

    def chances(self, remedy: str) -> Mapping[str, float]:
        """How often a remedy cures each of its causes on this set: as the knowledge says."""
        return self.knowledge.remedies[remedy].cures

    def treat(self, remedy: str) -> bool:
        self.mend(remedy)
        return self.prove()

    def prove(self) -> bool:
        checks = self.knowledge.catalogue.costs.proof_checks
        for check in checks:
            found = self.outcomes(check)
            if found and self.knowledge.checks[check].outcomes[0].id not in found:
                return False
        return not self.complaint or not self.shows(self.complaint)

    def shows(self, complaint: str) -> bool:
        """Whether somebody who looks would say this of the set."""
        said = self.knowledge.complaints[complaint]
        known = self.knowledge.features(self.features)
        if not all(self.knowledge.applies(check, known) for check in said.says):
            return False
        shown = (bool(set(self.outcomes(check)) & set(outcomes)) for check, outcomes in said.says.items())
        return any(shown) if said.mode == "any" else all(shown)


def quantile(distribution: Sequence[float], draw: float) -> int:
    """Position at which the summed probabilities pass a draw from 0 to 1."""
    total = 0.0
    for outcome, chance in enumerate(distribution):
        total += chance
        if draw < total:
            return outcome
    return max(outcome for outcome, chance in enumerate(distribution) if chance > 0.0)


def draw_faults(knowledge: Knowledge, features: Given, draws: Draws) -> frozenset[str]:
    """Causes of a set by their priors; may be none."""
    known = knowledge.features(features)
    faults = set()
    for causes in knowledge.network.parts.values():
        place, draw = 0.0, draws.uniform()
        for cause in causes:
            place += knowledge.causes[cause].prior(known)
            if draw < place:
                faults.add(cause)
                break
    return frozenset(faults)


def drawn_sets(knowledge: Knowledge, seed: int | str, features: Given = None) -> Iterator[DrawnSet]:
    """Sets without end, drawn from the knowledge: at least one fault, and a complaint that is made of it.

    A complaint is made of what the set truly shows, or by somebody mistaken, as often as the knowledge says. Every
    set can be made again from (seed, number of the draw).
    """
    known = knowledge.features(features)
    number = 0
    while True:
        number += 1
        name = f"{seed}/{number}"
        draws = Draws(name)
        faults = draw_faults(knowledge, features, draws)
        if not faults:
            continue
        drawn = DrawnSet(knowledge, features, faults, name)
        heard = []
        for complaint in knowledge.complaints.values():
            if complaint.retired or not all(knowledge.applies(check, known) for check in complaint.says):
                continue
            # The customer's look is the same look for every complaint, and is not the technician's.
            customer = DrawnSet(knowledge, features, faults, name)
            shown = [customer.answer(check) in outcomes for check, outcomes in complaint.says.items()]
            so = any(shown) if complaint.mode == "any" else all(shown)
            chance = complaint.true_when_said if so else complaint.said_when_not
            if Draws(name, complaint.id).uniform() < chance:
                heard.append(complaint.id)
        if heard:
            drawn.complaint = heard[int(draws.uniform() * len(heard))]
            yield drawn


def bench_sets(knowledge: Knowledge, seed: int | str, features: Given = None) -> Iterator[BenchSet]:
    """Simulated sets without end: faults by their priors, any severity, and a complaint of what the set truly shows.

    In one of three somebody has turned the speed adjuster to hide the trouble. A set that shows nothing is not called
    out.
    """
    known = knowledge.features(features)
    number = 0
    while True:
        number += 1
        draws = Draws(f"{seed}/{number}", "bench")
        faults = draw_faults(knowledge, features, draws) & FAULTS.keys()
        if not faults:
            continue
        grades = tuple((cause, draws.uniform()) for cause in sorted(faults))
        hide = max(0.0, 3.0 * draws.uniform() - 2.0)
        found = BenchSet(knowledge, Bench(known, grades, seed=int(draws.uniform() * 1e9), hide=hide))
        heard = [name for name, each in knowledge.complaints.items() if each.retired is None and found.shows(name)]
        if heard:
            found = BenchSet(knowledge, found.bench, heard[int(draws.uniform() * len(heard))])
            yield found
