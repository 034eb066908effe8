"""The words of the knowledge beside what sets of the family show: where they are more than a word apart.

    python -m tests.benchmarks.family_words [--members 6] [--seed 1] [--causes CAUSE ...] [--out FILE] [--most 60]
    python -m tests.benchmarks.family_words --read FILE

For each cause, so many members of the family at three severities (just noticed, middling, gross), every check made
through the meter. For each check: how often each outcome is shown, over all and by severity, beside what the knowledge
says of the cause with nothing else wrong. Listed is what is surely more than one step of the words apart, the dearest
first: by the information that one look loses by the wrong words (bits, the divergence of what is said from what is
shown). Nothing here is right by itself: each line is to be settled by a reason, in the knowledge or in the model.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.readings.reading import read_answer
from hertzwright.engine.simulated.bench import CHECKS
from hertzwright.engine.simulated.family import can_have, family_member
from hertzwright.engine.simulated.faults import FAULTS
from hertzwright.engine.simulated.observation import UNKNOWN

SEVERITIES = {"mild": 0.12, "middling": 0.5, "gross": 0.88}
STEPS = (0.0, 0.05, 0.10, 0.25, 0.50, 0.75, 0.92, 1.0)
"""Steps of the words that a technician tells apart: never, very seldom, seldom, sometimes, half, usually, nearly always."""
SURE = 1.3
"""Standard errors that a share may be off, about nine in ten."""


@dataclass(frozen=True)
class Look:
    """What one cause shows in one check: looks and shares of the outcomes, by severity."""

    cause: str
    check: str
    counts: Mapping[str, Mapping[str, float]]

    def shown(self, severity: str = "") -> dict[str, float]:
        """Share of each outcome; over all severities where none is named."""
        rows = [row for name, row in self.counts.items() if severity in ("", name)]
        whole = sum(sum(row.values()) for row in rows)
        total: dict[str, float] = {}
        for row in rows:
            for outcome, count in row.items():
                total[outcome] = total.get(outcome, 0.0) + count / whole
        return total

    @property
    def looks(self) -> int:
        return round(sum(sum(row.values()) for row in self.counts.values()))


def looks_of(knowledge: Knowledge, cause: str, members: int, seed: str) -> Iterator[Look]:
    """Every check on members that can have the cause, at each severity."""
    counts: dict[str, dict[str, dict[str, float]]] = {}
    found, number = 0, 0
    while found < members and number < 60 * members:
        number += 1
        member = family_member(knowledge, f"{seed}/{cause}/{number}")
        if knowledge.causes[cause].fault and not can_have(knowledge, cause, member.features):
            continue
        found += 1
        for name, severity in SEVERITIES.items():
            bench = member.with_faults(((cause, severity),))
            for check in knowledge.checks.values():
                if check.id not in CHECKS or not knowledge.applies(check.id, member.features):
                    continue
                answer = bench.answer(check.id)
                if answer == UNKNOWN:
                    continue
                outcomes = read_answer(check, answer, bench.features).outcomes
                row = counts.setdefault(check.id, {}).setdefault(name, {})
                for outcome in outcomes:
                    row[outcome] = row.get(outcome, 0.0) + 1.0 / len(outcomes)
    return (Look(cause, check, by) for check, by in counts.items())


@dataclass(frozen=True)
class Apart:
    """An outcome that is shown surely more than a word more, or less, than is said; bits: of the whole check."""

    look: Look
    outcome: str
    said: float
    shown: float
    bits: float


def apart(knowledge: Knowledge, look: Look) -> list[Apart]:
    """The outcomes of a look that are more than a word apart."""
    if look.looks < 6:
        return []
    check = knowledge.checks[look.check]
    said = knowledge.distribution(look.check, frozenset((look.cause,)))
    shown = look.shown()
    bits = sum(
        share * math.log2(share / max(said[check.index(outcome)], 1e-3)) for outcome, share in shown.items() if share
    )
    found = []
    for place, outcome in enumerate(check.outcomes):
        share = shown.get(outcome.id, 0.0)
        if place and _steps(said[place], share, look.looks) > 1:
            found.append(Apart(look, outcome.id, said[place], share, bits))
    return found


def _steps(said: float, shown: float, looks: int) -> int:
    """Steps between a word and a share, by the bound of the share that is nearer."""
    # With one look more on either side, so that never and always have doubt too.
    share = (shown * looks + 1.0) / (looks + 2.0)
    error = SURE * math.sqrt(share * (1.0 - share) / looks)
    nearest = min(max(said, shown - error), shown + error)
    return abs(_step(nearest) - _step(said))


def _step(chance: float) -> int:
    return min(range(len(STEPS)), key=lambda place: abs(STEPS[place] - chance))


def line(each: Apart) -> str:
    by = " ".join(f"{each.look.shown(name).get(each.outcome, 0.0):.2f}" for name in each.look.counts)
    return (
        f"{each.bits:5.2f}  {each.look.cause:26} {each.look.check:28} {each.outcome:20} "
        f"said {each.said:.2f} shown {each.shown:.2f} ({by}) of {each.look.looks}"
    )


def made(knowledge: Knowledge, given: argparse.Namespace, known: Sequence[str]) -> Iterator[Look]:
    for cause in given.causes or known:
        for look in looks_of(knowledge, cause, given.members, given.seed):
            if given.out:
                with given.out.open("a", encoding="utf-8") as file:
                    file.write(json.dumps({"cause": cause, "check": look.check, "counts": look.counts}) + "\n")
            yield look


def read(path: Path) -> Iterator[Look]:
    """Looks that were kept by an earlier run, with the words of today."""
    for each in map(json.loads, path.read_text(encoding="utf-8").splitlines()):
        yield Look(each["cause"], each["check"], each["counts"])


def main(words: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.family_words")
    parser.add_argument("--members", type=int, default=6)
    parser.add_argument("--seed", default="1")
    parser.add_argument("--causes", nargs="*", default=[])
    parser.add_argument("--most", type=int, default=60)
    parser.add_argument("--out", type=Path, help="JSON lines of every look, kept and added to")
    parser.add_argument("--read", type=Path, help="looks that were kept, in place of new ones")
    given = parser.parse_args(words)
    knowledge = load_knowledge()
    known = [cause for cause in FAULTS if cause in knowledge.causes and knowledge.causes[cause].retired is None]
    found: list[Apart] = []
    outcomes = 0
    for look in read(given.read) if given.read else made(knowledge, given, known):
        outcomes += len(knowledge.checks[look.check].outcomes) - 1
        found += apart(knowledge, look)
    found.sort(key=lambda each: (-each.bits, each.look.cause, each.look.check))
    print(f"{outcomes} outcomes, {len(found)} more than a word apart")
    print("bits   cause, check, outcome; in brackets by severity: " + ", ".join(SEVERITIES))
    print("\n".join(line(each) for each in found[: given.most]))


if __name__ == "__main__":
    main()
