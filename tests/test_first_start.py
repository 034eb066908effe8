"""Before the first start of a job, at the terminal: oil, leaks and air ways on one page, with one answer.

Common practice: what is low, leaks or is blocked is seen before the engine is run. The figures of rows are those of a
phone, 40 by 24.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest

from hertzwright.cli.jobsite import first_start, proof_run, steps
from hertzwright.cli.jobsite.session import Session
from hertzwright.cli.terminal import Stop
from hertzwright.cli.terminal.page import Page, lay_out
from hertzwright.engine import Job, load_knowledge

from technician import Phone, Script, by_list, desk_of

KNOWLEDGE = load_knowledge()
LOOKS = KNOWLEDGE.catalogue.costs.first_start.checks


def at_a_cold_set(tmp_path: Path, *answers: str) -> tuple[Session, Script]:
    job = Job(KNOWLEDGE, {"booster": "none"})
    job.stands("cold")
    job.record("floats_high_no_load", "present")
    return desk_of(job, by_list(answers), tmp_path)


def answered(job: Job) -> dict[str, str]:
    return {event.id: event.answer for event in job.standing if event.kind == "check"}


def test_one_yes_answers_all_of_them_and_the_next_prompt_is_the_first_reading(tmp_path: Path) -> None:
    session, script = at_a_cold_set(tmp_path, "y", "1", "steady", "x")
    steps.run(session)
    normal = {name: KNOWLEDGE.checks[name].normal for name in LOOKS}
    assert answered(session.job) == {**normal, "start_cold": "starts_readily", "swing_cold": "steady"}
    assert script.out.getvalue().count("Before the first start") == 1


def test_a_number_is_asked_by_its_own_question_and_what_is_low_is_mended_first(tmp_path: Path) -> None:
    session, script = at_a_cold_set(tmp_path, "maybe", "1", "low", "x")
    steps.run(session)
    told = answered(session.job)
    assert told["oil_level"] == "low"
    assert {told[name] for name in LOOKS[1:]} == {KNOWLEDGE.checks[name].normal for name in LOOKS[1:]}
    assert session.job.to_mend == ("set_oil_level",)
    assert not session.job.runs(session.job.here)
    assert 'maybe": expected y' in script.out.getvalue()


@pytest.mark.parametrize("typed", ["o frequency_no_load", "o swing_cold"])
def test_a_step_of_ones_own_choice_that_runs_the_set_asks_them_too(tmp_path: Path, typed: str) -> None:
    session, script = at_a_cold_set(tmp_path, typed, "y", "x")
    steps.run(session)
    assert set(answered(session.job)) == set(LOOKS)
    assert script.out.getvalue().count("Before the first start") == 2  # as proposed, and before the chosen one


def test_what_was_not_looked_at_is_kept_as_not_known_and_asked_once(tmp_path: Path) -> None:
    session, script = at_a_cold_set(tmp_path, "u", "steady", "x")
    steps.run(session)
    assert {answered(session.job)[name] for name in LOOKS} == {"unknown"}
    assert script.out.getvalue().count("Before the first start") == 1


def test_the_first_start_of_a_proof_run_is_one_too(tmp_path: Path) -> None:
    session, script = at_a_cold_set(tmp_path, "y", "x")
    session.carry_out("clean_air_cleaner")
    with suppress(Stop):
        proof_run.prove(session, ["clean_air_cleaner"])
    out = script.out.getvalue()
    assert "Before the first start" in out
    assert set(LOOKS) <= set(answered(session.job))


def test_it_stands_on_one_screen_of_a_phone_once_its_cautions_were_read(tmp_path: Path) -> None:
    class Kept(Phone):
        def kept(self, page: Page) -> None:
            leaves = lay_out(page, self)
            assert [len(leaf.rows) <= 23 for leaf in leaves] == [True], [row.text for row in leaves[0].rows]

    session, _ = at_a_cold_set(tmp_path)
    session.seen.update(KNOWLEDGE.catalogue.cautions)
    session.asker = Kept(session.screen, ["y"])
    assert first_start.go_through(session, session.job.first_looks) is None
    assert set(answered(session.job)) == set(LOOKS)


@pytest.mark.parametrize(("check", "answer"), [("fuel_leak_look", "drips"), ("oil_level", "low")])
def test_a_set_that_drips_or_lacks_oil_is_not_run_for_the_record(check: str, answer: str) -> None:
    """Common practice. Before the remedy of a leak the readings as found were offered, at full load."""
    job = Job(KNOWLEDGE, {})
    job.record("sags_under_load", "present")
    assert proof_run.unread(job)
    job.record(check, answer)
    assert proof_run.unread(job) == ()


@pytest.mark.parametrize(("check", "answer", "remedy"), [
    ("fuel_leak_look", "drips", "mend_fuel_leak"), ("oil_level", "low", "set_oil_level"),
])  # fmt: skip
def test_no_step_runs_a_set_that_drips_or_lacks_oil(check: str, answer: str, remedy: str) -> None:
    """Common practice. Where the remedy was refused, the set was warmed up with the leak all the same."""
    job = Job(KNOWLEDGE, {})
    job.stands("cold")
    job.record("hunts_no_load", "present")
    job.record(check, answer)
    assert job.unfit == (check,)
    steps = job.next_steps(99, 0)
    assert steps[0].id == remedy
    assert not [step.id for step in steps if step.kind == "check" and job.runs(job.checks[step.id].state)]
    job.carry_out(remedy)
    assert job.unfit == ()
    assert any(step.kind == "check" and job.runs(job.checks[step.id].state) for step in job.next_steps(99, 0))


def test_whether_it_starts_is_asked_before_anything_is_read(tmp_path: Path) -> None:
    """A set that nobody knows began with how its speed swings."""
    for setting in (False, True):
        job = Job(KNOWLEDGE, {})
        job.stands("cold")
        if setting:
            job.begin_setting()
        else:
            job.record("hunts_no_load", "present")
        session, script = desk_of(job, by_list(["y", "y", "won't start"]), tmp_path / str(setting))
        for name in KNOWLEDGE.catalogue.costs.first_start.checks:
            job.record(name, KNOWLEDGE.checks[name].normal)
        given = first_start.ready(session, "cold_running", "swing_cold")
        assert KNOWLEDGE.checks["start_cold"].ask in script.out.getvalue()
        assert given is not None
        assert given.command == "none"
        said = {event.id: event.answer for event in job.standing if event.kind == "complaint"}
        assert said["starts_hard"] == "present"
        assert job.asked_of_start == ()


def test_how_it_starts_is_not_asked_of_a_set_that_runs_or_that_started() -> None:
    job = Job(KNOWLEDGE, {})
    assert job.asked_of_start == (), "nobody said how it stands"
    job.stands("running")
    assert job.asked_of_start == ()
    cold = Job(KNOWLEDGE, {})
    cold.stands("cold")
    assert cold.asked_of_start == ("start_cold",)
    cold.record("frequency_no_load", "61.5 Hz", True)
    assert cold.asked_of_start == ()
