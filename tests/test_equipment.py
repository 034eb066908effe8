"""What is not there today, and what was done before anybody came.

Trade fact: a set that nobody could load is not proven, whatever it does with no load (common practice; the readings in
quarters of load are TM 5-6115-457-34, instrument test c). What somebody did before makes its cause less likely, and
the chance is that of the remedy: Bayes' rule with the cause as it was found (own arithmetic below).
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.jobsite import check_prompt
from hertzwright.cli.terminal import Stop
from hertzwright.engine import Event, Job, JobError, Knowledge, load_knowledge
from hertzwright.engine.job import not_possible, unproven_under_load

from technician import by_list, desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def steps_of(job: Job) -> set[tuple[str, str]]:
    return {(step.kind, step.id) for step in job.next_steps(300, deepen=0)}


def test_a_tool_is_the_same_by_every_name(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    assert job.not_here("vacuum pump") == job.not_here("Hand vacuum pump") == job.not_here("hand_vacuum_pump")
    assert [event.kind for event in job.events] == ["set", "not_here"]
    with pytest.raises(JobError, match="did you mean"):
        job.not_here("vacum pump")
    with pytest.raises(JobError, match="nobody said"):
        job.has_come("load bank")


@pytest.mark.parametrize("tool", ["load bank", "load", "frequency meter"])
def test_no_step_needs_what_is_not_here(knowledge: Knowledge, tool: str) -> None:
    job = Job(knowledge)
    job.record("sags_under_load", "present")
    before = steps_of(job)
    job.not_here(tool)
    assert any(job.lacking(kind, name) for kind, name in before if kind in ("check", "remedy"))
    assert not any(job.lacking(kind, name) for kind, name in steps_of(job) if kind in ("check", "remedy"))
    job.has_come(tool)
    assert steps_of(job) == before


def test_without_load_nothing_is_called_fixed(knowledge: Knowledge) -> None:
    job = Job(knowledge, {"booster": "none"})
    job.not_here("load bank")
    job.record("frequency_no_load", "61.2 Hz")
    job.record("swing_no_load", "steady")
    assert set(not_possible(job)) == {"frequency_full_load"}
    assert unproven_under_load(job)
    with pytest.raises(JobError, match="cannot be called fixed"):
        job.close("fixed")
    job.close("not_proven_under_load")
    assert job.closed == "not_proven_under_load"
    again = Job.replay(knowledge, [Event.from_dict(event.as_dict()) for event in job.events])
    assert (again.closed, again.absent) == ("not_proven_under_load", ("load_bank",))


def test_only_want_of_a_tool_is_a_reason_not_to_prove(knowledge: Knowledge) -> None:
    job = Job(knowledge, {"booster": "none"})
    job.record("frequency_no_load", "61.2 Hz")
    with pytest.raises(JobError, match="want of a tool"):
        job.close("not_proven_under_load")
    job.not_here("load bank")
    job.record("floats_high_no_load", "present")
    with pytest.raises(JobError, match="still there"):
        job.close("not_proven_under_load")


def test_what_was_done_before_makes_its_cause_less_likely_and_takes_no_minutes(knowledge: Knowledge) -> None:
    remedy = next(
        name
        for name, each in knowledge.remedies.items()
        if each.retired is None and 0.5 < max(each.cures.values()) < 0.99
    )
    cause = max(knowledge.remedies[remedy].cures, key=knowledge.remedies[remedy].cures.__getitem__)
    job = Job(knowledge)
    first = job.posterior()[cause]
    job.done_before(remedy)
    cured = knowledge.remedies[remedy].cures[cause]
    # With nothing found yet: the cause was there and the remedy did not work.
    assert job.posterior()[cause] == pytest.approx(first * (1 - cured), rel=1e-9)
    assert (job.minutes, job.epoch) == (0.0, 0)
    again = Job.replay(knowledge, job.events)
    assert again.posterior() == job.posterior()
    job.step_back()
    assert job.posterior()[cause] == pytest.approx(first, rel=1e-12)


def test_what_somebody_looked_at_before_is_never_sure(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    read = job.done_before("frequency_no_load", "61.5 Hz")
    assert read is not None
    assert not read.sure
    assert job.minutes == 0.0
    job.done_before("frequency_no_load", "68 Hz")
    assert job.held  # a danger that was told is one
    with pytest.raises(JobError, match="expected unknown or not cured"):
        job.done_before("set_no_load_speed", "cured")


def test_the_rod_that_was_taken_off_is_off_as_found(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    job.done_before("rod")
    assert [(each.fitting, each.as_found) for each in job.off] == [("rod", True)]


def test_a_facts_file_says_what_is_not_here_and_what_was_done_before(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "set.yaml"
    text = "facts:\n  - {complaint: sags_under_load, answer: present}\n  - {before: clean_air_cleaner}\n"
    file.write_text(f"{text}without: [load bank]\n")
    assert main(["rank", str(file), "--json", "--without", "vacuum pump"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["not_here"] == ["load_bank", "hand_vacuum_pump"]
    file.write_text(f"{text}without: [lode bank]\n")
    assert main(["rank", str(file)]) == 2
    assert "set.yaml:4: no tool" in capsys.readouterr().err
    file.write_text("facts:\n  - {before: clean_air_filter}\n")
    assert main(["rank", str(file)]) == 2
    assert "set.yaml:2: no remedy or check" in capsys.readouterr().err


def test_an_open_job_is_said_at_start_and_jobs_tell_of_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    start = ["start", "--name", "barn", "--acknowledge", "--complaint", "hunts_no_load", "--folder", str(tmp_path)]
    assert main([*start, "--before", "clean_air_cleaner", "--without", "vacuum pump"]) == 0
    capsys.readouterr()
    assert main(start) == 0
    assert "of barn is open since" in capsys.readouterr().err
    assert main(["jobs", "--json", "--folder", str(tmp_path)]) == 0
    first = json.loads(capsys.readouterr().out)["jobs"][0]
    assert first["complaint"] == "Hunts with no load"
    assert first["fault"].endswith("%")
    assert main(["resume", first["id"], "--with", "vacuum pump", "--folder", str(tmp_path)]) == 0
    assert main(["resume", first["id"], "--with", "vacuum pump", "--folder", str(tmp_path)]) == 2


def test_start_from_a_file_keeps_what_is_not_here_and_begins_no_setting(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "set.yaml"
    file.write_text("facts:\n  - {complaint: sags_under_load, answer: present}\nwithout: [load bank]\n")
    start = ["start", "--name", "barn", "--acknowledge", "--from", str(file), "--folder", str(tmp_path / "jobs")]
    assert main(start) == 0
    assert main(["resume", "--show", "--folder", str(tmp_path / "jobs")]) == 0
    assert "not here today" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(("here", "comes"), [("2", False), ("1", True)])
def test_a_step_that_another_tool_does_asks_for_that_one_once(
    here: str, comes: bool, knowledge: Knowledge, tmp_path: Path
) -> None:
    """ "no second meter" brought the same step again, since a tachometer does as well: unsaid."""
    job = Job(knowledge)
    session, script = desk_of(job, by_list(["no second meter", here]), tmp_path)
    try:
        given = check_prompt.ask(session, knowledge.checks["second_meter"])
        assert given.command == "none"
    except Stop:
        assert comes
    assert "It can be done with: tachometer." in script.out.getvalue()
    assert bool(job.lacking("check", "second_meter")) is not comes
