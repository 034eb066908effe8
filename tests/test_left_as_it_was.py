"""What a record keeps of a visit: settings as they were left, what was refused, dangers met, guards seen to.

Outside: none; the cases are those of blind tests at the set. Guards back on before leaving is common practice.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.jobsite import remedy_prompt, safety, step_page, steps
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.job import answers_as_left, closing_list
from hertzwright.engine.setting import SettingAdvice, put

from technician import by_list, desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.mark.parametrize(("at", "left"), [("1.35 turns", 1.35), ("", 1.5)])
def test_a_setting_is_left_where_it_was_put_and_not_where_it_was_found(
    at: str, left: float | None, knowledge: Knowledge
) -> None:
    job = Job(knowledge, {})
    job.begin_setting()
    job.record("idle_needle_turns", "3 turns", True)
    assert answers_as_left(job)["idle_needle_turns"].made.answer.values == (3.0,)
    put(job, SettingAdvice("place", "idle_needle_at_start"), at)
    found = answers_as_left(job).get("idle_needle_turns")
    assert (found.made.answer.values[0] if found else None) == left
    job.record("idle_needle_turns", "1.5 turns", True)
    assert answers_as_left(job)["idle_needle_turns"].made.answer.values == (1.5,)


def test_a_remedy_that_was_refused_stands_in_the_record(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {})
    session, _ = desk_of(job, by_list(["2"]), tmp_path)
    assert remedy_prompt.one(session, "clean_air_cleaner", None).command == "skip"
    assert [event.answer for event in job.standing if event.kind == "note"] == [
        "Proposed and not done now: clean or renew the air cleaner."
    ]
    again, _ = desk_of(Job(knowledge, {}), by_list(["n"]), tmp_path / "gate")
    check = knowledge.checks["frequency_full_load"]
    assert safety.of_step(again, check, check.cautions, step_page.head(again, check, None)) is None
    assert any(event.answer.startswith("Not done, its dangers not met") for event in again.job.standing)


def test_dangers_that_were_met_stay_met_whatever_is_taken_back(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {})
    session, _ = desk_of(job, by_list([]), tmp_path)
    session._asks()
    session.take_off("rod")
    session.acknowledge("swing_no_load", "overspeed, before swing no load.")
    steps.back(session)
    assert [event.kind for event in job.standing] == ["set", "acknowledged"]


def test_guards_are_on_every_list_after_work_on_the_stopped_set(knowledge: Knowledge) -> None:
    for name, remedy in knowledge.remedies.items():
        job = Job(knowledge, {})
        if remedy.retired or not remedy.only_if.holds(job.features):
            continue
        job.carry_out(name)
        runs = knowledge.catalogue.states[remedy.state].runs
        assert runs or "covered" in closing_list(job), name
