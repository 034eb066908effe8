"""What the checks show on the simulated set, cause by cause, beside what the knowledge says they show.

For each cause the default set, or the nearest that can have it, is simulated at a few severities, with the speed adjuster
as found and turned to hide the fault. A conflict is an outcome that one side shows at least half of the time and the
other hardly ever. Each one was settled: in the knowledge, in the model, or by a reason in `conflicts.yaml` why the
knowledge stands although the model does not show it. `python -m tests.second_opinion` prints the table.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.compiler.source import plain, read
from hertzwright.engine.readings.reading import read_answer
from hertzwright.engine.simulated.bench import Bench
from hertzwright.engine.simulated.faults import FAULTS
from hertzwright.engine.simulated.observation import UNKNOWN

VARIANTS = ((0.1, 0.0), (0.4, 0.0), (0.7, 0.0), (0.95, 0.0), (0.55, 1.0))
"""Severity, and how far the speed adjuster was turned to hide it."""
OFTEN, HARDLY = 0.5, 0.1


CONFLICTS = Path(__file__).with_name("conflicts.yaml")


def told() -> tuple[dict[str, str], dict[str, dict[str, str]]]:
    """Reasons by name, and for each cause the conflicts ("check outcome") that they account for."""
    page = read(CONFLICTS, CONFLICTS.name)
    assert not page.problems, page.problems
    assert page.root is not None
    tree = plain(page.root)
    assert isinstance(tree, dict)
    return tree["reasons"], tree["conflicts"]


REASONS, EXPLAINED = told()


@dataclass(frozen=True)
class Opinion:
    """How often a cause shows an outcome of a check: by the knowledge (a probability), by simulation (a share)."""

    cause: str
    check: str
    outcome: str
    said: float
    shown: float
    looks: int

    @property
    def verdict(self) -> str:
        if self.looks < 2:
            return "agrees"  # a trial that one set in six let be made says nothing
        if self.said >= OFTEN and self.shown == 0.0:
            return "never shown"
        if self.shown >= OFTEN and self.said < HARDLY:
            return "not said"
        return "agrees"


def asked_for(knowledge: Knowledge, cause: str) -> dict[str, object]:
    """The default set, changed only so that it can have the cause."""
    tests = knowledge.causes[cause].only_if.tests
    usual = knowledge.features({})
    return {
        test.feature: test.values[0] if test.values else test.at_least if test.below is None else test.below - 10.0
        for test in tests
        if not test.holds(usual)
    }


def shown(
    knowledge: Knowledge, cause: str, features: Mapping[str, object] | None = None
) -> dict[str, dict[str, float]]:
    """Share of the simulated looks that show each outcome: check -> outcome -> share; "" holds the number of looks."""
    described = knowledge.features(features or asked_for(knowledge, cause))
    counts: dict[str, dict[str, float]] = {}
    for number, (severity, hide) in enumerate(VARIANTS):
        bench = Bench(described, ((cause, severity),), seed=number, hide=hide)
        for check in knowledge.checks.values():
            if not knowledge.applies(check.id, described):
                continue
            answer = bench.answer(check.id)
            if answer == UNKNOWN:
                continue
            outcomes = read_answer(check, answer, described).outcomes
            row = counts.setdefault(check.id, {"": 0.0})
            row[""] += 1.0
            for outcome in outcomes:
                row[outcome] = row.get(outcome, 0.0) + 1.0 / len(outcomes)
    return {
        check: {outcome: value if outcome == "" else value / row[""] for outcome, value in row.items()}
        for check, row in counts.items()
    }


def opinions(knowledge: Knowledge, cause: str) -> Iterator[Opinion]:
    """Each abnormal outcome that either side shows."""
    says = knowledge.causes[cause].shows
    for check_id, row in shown(knowledge, cause).items():
        check = knowledge.checks[check_id]
        strengths = says.get(check_id)
        leak = check.leak
        for place, outcome in enumerate(check.outcomes):
            if not place:
                continue
            said = strengths[place] if strengths else 0.0
            often = max(said, leak[place])
            seen = row.get(outcome.id, 0.0)
            if said >= HARDLY or seen > 0.0:
                yield Opinion(cause, check_id, outcome.id, said if seen < OFTEN else often, seen, round(row[""]))


def of_cause(cause: str) -> list[Opinion]:
    """The opinions on one cause by the shipped knowledge; a process of its own may do it."""
    return list(opinions(load_knowledge(), cause))


def all_opinions() -> list[Opinion]:
    """On every cause, in the order of the faults. Two processes halve the wait; the answers are the same."""
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        return [opinion for found in pool.map(of_cause, FAULTS) for opinion in found]


def unexplained(found: list[Opinion]) -> list[Opinion]:
    """Conflicts that no entry of EXPLAINED accounts for."""
    return [
        each
        for each in found
        if each.verdict != "agrees" and f"{each.check} {each.outcome}" not in EXPLAINED.get(each.cause, {})
    ]


def table(found: list[Opinion]) -> list[str]:
    """Lines of the table: how often the two agree, then every conflict with its reason."""
    conflicts = [opinion for opinion in found if opinion.verdict != "agrees"]
    lines = [
        f"second opinion of the simulated set: {len(found)} outcomes of {len({each.cause for each in found})} causes, "
        f"{len(found) - len(conflicts)} agree, {len(conflicts)} conflict"
    ]
    for each in conflicts:
        reason = EXPLAINED.get(each.cause, {}).get(f"{each.check} {each.outcome}")
        lines.append(
            f"{each.cause:24} {each.check:28} {each.outcome:16} said {each.said:.2f} shown {each.shown:.2f} "
            f"of {each.looks}  {REASONS[reason] if reason else 'UNEXPLAINED'}"
        )
    return lines


if __name__ == "__main__":
    print("\n".join(table(all_opinions())))
