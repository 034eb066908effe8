"""z takes back one thing that was typed, whole; at a question within a step it goes back to that step alone.

Outside: none; the cases are those of a blind test at the set.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.jobsite import check_prompt, safety, setting, steps
from hertzwright.cli.terminal import Stop
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.setting import SettingAdvice

from technician import by_list, desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def test_a_turn_that_moves_nothing_is_taken_back_with_the_reading_that_showed_it(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    """One z took the reading back and left "no response" of the trial in the record."""
    job = Job(knowledge, {"booster": "none"})
    job.begin_setting()
    session, _ = desk_of(job, by_list(["64 Hz", "z"]), tmp_path)
    before = job.standing
    check_prompt.ask(session, knowledge.checks["frequency_no_load"])
    setting._stuck(
        session, SettingAdvice("stuck", "speed_brought_near", findings=(("speed_adjuster_trial", "no_response"),))
    )
    assert len(job.standing) == len(before) + 3
    assert check_prompt.ask(session, knowledge.checks["frequency_no_load"]).command == "back"
    steps.back(session)
    assert job.standing == before


def test_it_is_so_for_a_job_that_is_gone_on_with(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {"booster": "none"})
    job.begin_setting()
    before = job.standing
    session, _ = desk_of(job, by_list([]), tmp_path)
    setting._stuck(session, SettingAdvice("stuck", "speed_brought_near"))
    assert len(job.standing) > len(before)
    again, _ = desk_of(job, by_list([]), tmp_path / "resumed")
    again.back()
    assert job.standing == before


@pytest.mark.parametrize(
    ("typed", "asked"), [("2", "Is 2 the answer or the reading?"), ("2 Hz", "Which of these is it?")]
)
def test_z_at_what_is_asked_of_an_answer_leaves_the_one_before_it_alone(
    typed: str, asked: str, knowledge: Knowledge, tmp_path: Path
) -> None:
    """z at "Is 2 the answer or the reading?" threw away the answer before; a reading it takes back, and no other."""
    job = Job(knowledge)
    job.record("frequency_no_load", "61.3 Hz", True)
    session, script = desk_of(job, by_list([typed, "z", "x"]), tmp_path)
    with pytest.raises(Stop):
        check_prompt.ask(session, knowledge.checks["swing_no_load"])
    assert asked in script.out.getvalue()
    assert [made.check for made in job.made] == ["frequency_no_load"]


def test_several_readings_of_one_line_are_one(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, _ = desk_of(job, by_list(["60-61", "y", "4", "z"]), tmp_path)
    check_prompt.ask(session, knowledge.checks["frequency_no_load"])
    assert {made.check for made in job.made} == {"frequency_no_load", "swing_no_load"}
    check_prompt.ask(session, knowledge.checks["frequency_full_load"])
    while job.made:
        steps.back(session)
    assert len(job.standing) == 1


def test_z_at_the_name_of_who_secured_it_takes_no_reading_back(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    job.record("frequency_no_load", "72 Hz", True)
    session, _ = desk_of(job, by_list(["y", "y", "z", "y", "y", "Kim"]), tmp_path)
    assert safety.make_safe(session)
    assert [made.check for made in job.made] == ["frequency_no_load"]
    assert not job.held


@pytest.mark.parametrize("word", ["z", "back"])
def test_z_in_the_menu_goes_back_to_the_question(word: str, knowledge: Knowledge, tmp_path: Path) -> None:
    """It took the answer before back."""
    job = Job(knowledge)
    job.record("frequency_no_load", "61.3 Hz", True)
    session, _ = desk_of(job, by_list([word]), tmp_path)
    assert not steps.after(session, check_prompt.PromptReply("more"), None)
    assert [made.check for made in job.made] == ["frequency_no_load"]
