"""A set that cannot be loaded, and what shows only under load: it is never called gone unseen, and the job says so.

Also what a proof run says at once, and what is due no more because it was just read right.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.jobsite import proof_run
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.job import due, no_load_today, only_under_load, tried_under_load, unproven_under_load

from technician import by_list, desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def sagging(knowledge: Knowledge, *absent: str) -> Job:
    job = Job(knowledge, {"booster": "none"})
    job.record("sags_under_load", "present")
    for tool in absent:
        job.not_here(tool)
    return job


def test_what_shows_under_load_alone(knowledge: Knowledge) -> None:
    job = sagging(knowledge)
    assert only_under_load(job, "sags_under_load")
    assert not only_under_load(job, "floats_high_no_load")
    assert not tried_under_load(job)
    job.record("frequency_full_load", "59.5 Hz")
    assert tried_under_load(job)
    job.carry_out("clean_air_cleaner")
    assert not tried_under_load(job)


@pytest.mark.parametrize(("tried", "answer"), [("n", "present"), ("y", "absent")])
def test_gone_is_asked_again_where_no_load_was_on(
    knowledge: Knowledge, tmp_path: Path, tried: str, answer: str
) -> None:
    """A blind trial: "gone" was taken of a sag with nothing on the set."""
    job = sagging(knowledge)
    job.carry_out("clean_air_cleaner")
    session, script = desk_of(job, by_list(["1", tried]), tmp_path)
    proof_run.ask_gone(session)
    assert "no load was on since" in " ".join(script.out.getvalue().split())
    assert [event.answer for event in job.standing if event.kind == "complaint"][-1] == answer


def test_it_is_not_asked_where_it_cannot_be_loaded_and_closes_as_not_proven(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    job = sagging(knowledge, "load")
    assert no_load_today(job)
    job.carry_out("clean_air_cleaner")
    session, script = desk_of(job, by_list([]), tmp_path)
    proof_run.ask_gone(session)
    assert "shows only under load" in " ".join(script.out.getvalue().split())
    job.record("frequency_no_load", "61.3 Hz")
    job.record("swing_no_load", "steady")
    assert unproven_under_load(job)
    job.close("not_proven_under_load")


def test_a_dip_out_of_limits_is_spoken_of_at_once(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {"booster": "none"})
    job.record("bogs_on_load_step", "present")
    job.carry_out("clean_air_cleaner")
    for fitting in [each.fitting for each in job.off]:
        job.put_back(fitting)
    answers = by_list(["61.3 Hz", "y", "12 Hz", "57 Hz"])
    session, script = desk_of(job, answers, tmp_path)
    proof_run.take_readings(session, "Proof run", ["frequency_no_load", "load_step_dip", "frequency_full_load"])
    said = " ".join(script.out.getvalue().split())
    dip = said.index("not as it should be; right is below")
    assert dip < said.index("settled?"), "before the next reading is asked"
    assert said.count("not as it should be") == 3, "the dip, full load, and the fall that follows from it"
    assert "61.3 Hz (right), not" not in said


def test_a_speed_that_was_just_read_right_is_not_due(knowledge: Knowledge) -> None:
    """A blind trial: "set the no-load speed" was due again right after the no-load speed was read right."""
    job = Job(knowledge, {"booster": "none"})
    job.record("hunts_no_load", "present")
    job.record("linkage_feel", "binds")
    job.carry_out("free_linkage")
    assert "set_no_load_speed" in due(job)
    job.record("frequency_no_load", "64 Hz")
    assert "set_no_load_speed" in due(job)
    job.record("frequency_no_load", "61.2 Hz")
    assert "set_no_load_speed" not in due(job)
    job.carry_out("clean_air_cleaner")  # disturbs nothing of the speed
    assert "set_no_load_speed" not in due(job)
    job.carry_out("renew_linkage_joints")
    assert "set_no_load_speed" in due(job)
