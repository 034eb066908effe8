"""One safety question for the readings of one run: a load test asked four times the same is not read the fourth time.

Outside: none; what is dangerous, and its cautions, are those of the knowledge.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.jobsite import proof_run
from hertzwright.engine import Job, Knowledge, load_knowledge

from technician import desk_of

STEPS = ("load_step_dip", "load_step_recovery", "load_step_settling", "load_drop_overshoot")


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def asked_of(job: Job, folder: Path, *rows: tuple[str, ...], between: str = "") -> int:
    """How often it was asked whether somebody is safe, over rows of readings with a remedy between them."""
    asked: list[str] = []

    def answer(text: str) -> str:
        asked.append(text)
        return "y" if "so?" in text or "Are you safe" in text else "a"

    session, _ = desk_of(job, answer, folder)
    for at, row in enumerate(rows):
        if at and between:
            session.carry_out(between)
        assert proof_run.take_readings(session, "Proof run", row)
    return sum("Are you safe" in text for text in asked)


def test_one_load_test_is_one_question(knowledge: Knowledge, tmp_path: Path) -> None:
    assert asked_of(Job(knowledge), tmp_path, STEPS) == 1


def test_a_stop_between_begins_anew(knowledge: Knowledge, tmp_path: Path) -> None:
    assert asked_of(Job(knowledge), tmp_path, (STEPS[0], "linkage_feel", STEPS[1])) == 2


def test_what_was_worked_on_begins_anew(knowledge: Knowledge, tmp_path: Path) -> None:
    rows = (STEPS[:1], STEPS[1:2])
    assert asked_of(Job(knowledge), tmp_path, *rows, between="set_no_load_speed") == 2


def test_another_danger_is_asked_about(knowledge: Knowledge, tmp_path: Path) -> None:
    """Plug leads, spray at the joints and fuel are not met by what was met for a load step."""
    others = ("fuel_use", "spark_under_load")
    assert asked_of(Job(knowledge), tmp_path, (STEPS[0], *others)) == 3
