"""What is proposed first for each complaint lies in the range of a mechanic's order.

Outside sources: the orders named in first_steps.yaml, published where there is one, else common practice.
A row fails on the state machine in which a set looked at cold was warm four minutes later: the rod came off first for
nearly every complaint.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml
from benchmarks.first_steps import begin

from hertzwright.engine import Job, Knowledge, load_knowledge

pytestmark = pytest.mark.whole_ways

RANGES = yaml.safe_load(Path(__file__).with_name("first_steps.yaml").read_text(encoding="utf-8"))
KNOWLEDGE = load_knowledge()
STANDS = tuple(KNOWLEDGE.catalogue.costs.found)
KNOWN = [name for name, each in KNOWLEDGE.complaints.items() if each.retired is None]


def allowed(names: list[str]) -> set[str]:
    return {step for name in names for step in RANGES["sets"].get(name, [name])}


def begun(knowledge: Knowledge, complaint: str, stands: str) -> Job:
    job = Job(knowledge)
    job.stands(stands)
    job.record(complaint, "present")
    return job


def test_every_complaint_has_its_range_with_a_reason_and_an_order() -> None:
    missing = [name for name in KNOWN if name not in RANGES["complaints"]]
    assert not missing, f"say in tests/first_steps.yaml what a mechanic may do first: {missing}"
    for row in RANGES["complaints"].values():
        assert set(row) == {"first", "three", "why", "order"}
        assert set(row["first"]) == set(STANDS)
        assert row["why"]
        assert row["order"]


def stood() -> Iterator[object]:
    """Every complaint at a set that stands in every way; in the quick tier each at one, cold and running by turns."""
    for place, complaint in enumerate(name for name in KNOWN if name in RANGES["complaints"]):
        for stands in STANDS:
            quick = stands == ("cold", "running")[place % 2]
            yield pytest.param(complaint, stands, marks=() if quick else pytest.mark.nightly)


@pytest.mark.parametrize(("complaint", "stands"), list(stood()))
def test_the_first_steps_are_a_mechanics(complaint: str, stands: str) -> None:
    row = RANGES["complaints"][complaint]
    steps = begin(begun(KNOWLEDGE, complaint, stands), 3, 4)
    names = [name for _, name, _ in steps]
    assert names[0] in allowed(row["first"][stands]), f"{names[0]} first; {row['why']} {row['order']}"
    if stands != "apart":  # what is looked at next in a heap of parts depends on the heap
        assert set(names[1:]) <= allowed(row["three"]), f"{names}; {row['why']} {row['order']}"
