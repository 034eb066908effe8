"""44 more published rows: with the printed symptom alone, the printed causes stand among the first of the ranking.

The rows stand in more_troubles.yaml, each with its source, how its symptom is answered here, and the ids of ours that
each printed cause may mean. They are judged and the words are not bent to them: a printed cause that the knowledge
does not have is a miss. A row that asks for a complaint or check that is not there waits, and the table names it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.compiler.source import plain, read

pytestmark = pytest.mark.whole_ways

KNOWLEDGE = load_knowledge()
FILE = Path(__file__).with_name("more_troubles.yaml")
FIRST_CAUSES, FIRST_ONE = 12, 5


@dataclass(frozen=True)
class Row:
    """One printed symptom. causes: the ids that each printed cause may mean, in the printed order."""

    source: str
    symptom: str
    features: dict[str, str]
    facts: dict[str, str]
    causes: tuple[tuple[str, ...], ...]

    @property
    def waits_for(self) -> list[str]:
        """Complaints and checks that the symptom needs and the knowledge does not have."""
        return [name for name in self.facts if name not in KNOWLEDGE.complaints and name not in KNOWLEDGE.checks]


def rows() -> dict[str, Row]:
    page = read(FILE, FILE.name)
    assert not page.problems, page.problems
    assert page.root is not None
    tree = plain(page.root)
    assert isinstance(tree, dict)
    return {
        name: Row(row["source"], row["symptom"], row["set"], row["facts"], tuple(map(tuple, row["causes"])))
        for name, row in tree["rows"].items()
    }


ROWS = rows()
JUDGED = {name: row for name, row in ROWS.items() if row.causes and not row.waits_for}


def places(row: Row) -> list[int | None]:
    """Place, from 1, of the best of our ids for each printed cause; None where we have none of them."""
    job = Job(KNOWLEDGE, row.features)
    for name, answer in row.facts.items():
        job.record(name, answer)
    ranked = {name: place for place, (name, _) in enumerate(job.ranking(), 1)}
    return [min((ranked[name] for name in ids if name in ranked), default=None) for ids in row.causes]


FOUND = {name: places(row) for name, row in JUDGED.items()}


def test_every_row_is_there_with_its_source() -> None:
    assert len(ROWS) == 44
    assert all(row.source and row.symptom and row.facts for row in ROWS.values())


@pytest.mark.parametrize("name", JUDGED)
def test_one_of_the_printed_causes_stands_among_the_first_twelve(name: str) -> None:
    assert min(place for place in FOUND[name] if place is not None) <= FIRST_CAUSES, FOUND[name]


def test_the_printed_causes_stand_among_the_first(capsys: pytest.CaptureFixture[str]) -> None:
    lines = ["places of the printed causes, in the printed order; - for one that the knowledge does not have"]
    for name, row in ROWS.items():
        if name in FOUND:
            shown = " ".join("-" if place is None else str(place) for place in FOUND[name])
        else:
            shown = f"waits for {', '.join(row.waits_for)}" if row.waits_for else "nothing of ours is printed"
        lines.append(f"{name}  {row.symptom:<62}{shown}")
    every = [place for found in FOUND.values() for place in found]
    causes = sum(place is not None and place <= FIRST_CAUSES for place in every)
    firsts = sum(found[0] is not None and found[0] <= FIRST_ONE for found in FOUND.values())
    lines.append(
        f"{len(FOUND)} of {len(ROWS)} rows judged: {causes} of {len(every)} causes ({causes / len(every):.0%}) in the "
        f"first {FIRST_CAUSES}, first cause in the first {FIRST_ONE} of {firsts} ({firsts / len(FOUND):.0%})"
    )
    with capsys.disabled():
        print("\n" + "\n".join(lines))
    assert causes >= 0.87 * len(every)
    assert firsts >= 0.8 * len(FOUND)
