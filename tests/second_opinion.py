"""What the checks show on the simulated set, cause by cause, beside what the knowledge says they show.

For each cause the set is simulated as the features' default describe it, at a few severities and with the speed adjuster
as found and turned to hide the fault. A conflict is an outcome that one side shows at least half of the time and the
other hardly ever. `python -m tests.second_opinion` prints the table.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.bench import UNKNOWN, Bench
from hertzwright.engine.faults import FAULTS
from hertzwright.engine.reading import read_answer

VARIANTS = ((0.15, 0.0), (0.5, 0.0), (0.85, 0.0), (0.5, 1.0))
"""Severity, and how far the speed adjuster was turned to hide it."""
OFTEN, HARDLY = 0.5, 0.1


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
        if self.said >= OFTEN and self.shown == 0.0:
            return "never shown"
        if self.shown >= OFTEN and self.said < HARDLY:
            return "not said"
        return "agrees"


def shown(knowledge: Knowledge, cause: str, features: Mapping[str, object] | None = None) -> dict[str, dict[str, float]]:
    """Share of the simulated looks that show each outcome: check -> outcome -> share; "" holds the number of looks."""
    described = knowledge.features(features or {})
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


def all_opinions(knowledge: Knowledge) -> list[Opinion]:
    return [opinion for cause in FAULTS for opinion in opinions(knowledge, cause)]


def table(found: list[Opinion]) -> list[str]:
    """Lines of the table: totals by area of agreement, then every conflict."""
    lines = []
    for verdict in ("agrees", "never shown", "not said"):
        lines.append(f"{verdict:12} {sum(opinion.verdict == verdict for opinion in found):4}")
    for opinion in found:
        if opinion.verdict != "agrees":
            lines.append(
                f"{opinion.verdict:12} {opinion.cause:26} {opinion.check:28} {opinion.outcome:22} "
                f"said {opinion.said:.2f} shown {opinion.shown:.2f} of {opinion.looks}"
            )
    return lines


if __name__ == "__main__":
    print("\n".join(table(all_opinions(load_knowledge()))))
