"""The closing list: what is seen to last, on one screen, and what the record says of it.

What is on it is common practice: load off, a few minutes without load to cool, stop, battery lead, guards, fuel, supply,
locks and tags, start switch.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.files import journal
from hertzwright.cli.jobsite import closing
from hertzwright.cli.jobsite import closing_list as at_terminal
from hertzwright.cli.record.collection import collect
from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.job import JobError, closing_list, seen_to

from technician import Phone, by_list, desk_of

KNOWLEDGE = load_knowledge()
PROVEN = {
    "frequency_no_load": "61 Hz", "swing_no_load": "steady", "frequency_full_load": "59.5 Hz",
}  # fmt: skip


def proven(features: dict[str, object] | None = None) -> Job:
    job = Job(KNOWLEDGE, features or {})
    job.record("hunts_no_load", "present")
    for check, answer in PROVEN.items():
        job.record(check, answer)
    job.record("hunts_no_load", "absent")
    return job


def test_a_set_that_ran_loaded_is_unloaded_cooled_and_stopped() -> None:
    names = closing_list(proven())
    assert names[:3] == ("load_off", "cooled", "stopped")
    assert {"supply", "fuel", "start_switch"} <= {*names}
    assert not {"battery_on", "covered"} & {*names}  # nothing was done on the stopped set


def test_only_what_the_job_did_is_asked() -> None:
    job = Job(KNOWLEDGE, {"choke": "manual"})
    job.record("hunts_no_load", "present")
    job.record("hose_look", "whole")  # on the stopped set, which never ran
    names = closing_list(job)
    assert not {"load_off", "cooled", "stopped", "supply", "fuel"} & {*names}
    assert {"battery_on", "fuel_and_choke", "start_switch"} <= {*names}


def test_the_battery_lead_is_asked_of_every_job_that_worked_on_the_stopped_set() -> None:
    """Also where it went on again for the proof run, and once only while it is off."""
    job = Job(KNOWLEDGE)
    job.record("hunts_no_load", "present")
    job.carry_out("clamp_governor_arm")
    assert "battery_lead" in {each.fitting for each in job.off}
    assert {"battery_lead", "battery_on"} & {*closing_list(job)} == {"battery_lead"}
    for check, answer in PROVEN.items():
        job.record(check, answer)
    assert not job.off
    assert "battery_on" in closing_list(job)


def test_a_set_that_must_not_run_is_not_run_to_cool() -> None:
    job = Job(KNOWLEDGE)
    job.record("hunts_no_load", "present")
    job.record("frequency_full_load", "59 Hz")
    job.record("frequency_no_load", "67 Hz")
    assert job.held
    assert {"cooled", "stopped"} & {*closing_list(job)} == {"stopped"}


def test_work_after_the_list_asks_it_anew() -> None:
    job = proven()
    job.leave("load_off", True)
    job.leave("stopped", False)
    assert seen_to(job) == {"load_off": True, "stopped": False}
    job.note("still warm")
    assert seen_to(job)
    job.record("hose_look", "whole")
    assert not seen_to(job)
    with pytest.raises(JobError, match="closing list"):
        job.leave("nothing_such", True)
    assert Job.replay(KNOWLEDGE, job.events).events == job.events


@pytest.mark.parametrize(
    ("typed", "so"),
    [
        (["y"], {True}),
        (["1 3"], {True, False}),
        (["all but 1 3"], {True, False}),
        (["yes, but 1 3"], {True, False}),
        (["perhaps", "99", "n"], {False}),
        (["s"], set()),
    ],
)
def test_the_record_carries_what_was_confirmed(tmp_path: Path, typed: list[str], so: set[bool]) -> None:
    job = proven()
    session, script = desk_of(job, by_list(["1", *typed]), tmp_path)
    assert closing.close(session)
    assert job.closed == "fixed"
    assert "Before you leave" in script.out.getvalue()
    assert session.journal is not None
    session.journal.close()
    record = collect(KNOWLEDGE, journal.read(session.journal.path))
    assert {each.so for each in record.seen_to} == (so or {None})
    if typed == ["1 3"]:
        assert [each.id for each in record.seen_to if not each.so] == ["load_off", "stopped"]
    not_so = [point for point in record.open_points if point.startswith("Before leaving, not so: ")]
    assert len(not_so) == len([each for each in record.seen_to if each.so is False])


def test_nothing_is_seen_to_by_enter(tmp_path: Path) -> None:
    job = proven()
    session, script = desk_of(job, by_list(["1", "", "y"]), tmp_path)
    assert closing.close(session)
    assert "expected y" in script.out.getvalue()


def test_handing_over_asks_it_too_and_what_is_off_is_closed_with_it(tmp_path: Path) -> None:
    job = Job(KNOWLEDGE)
    job.record("hunts_no_load", "present")
    job.carry_out("clamp_governor_arm")
    names = closing_list(job)
    session, script = desk_of(job, by_list([str(names.index("battery_lead") + 1)]), tmp_path)
    assert closing.close(session, refer=True)
    assert script.out.getvalue().count("Before you leave") == 1
    assert {each.fitting for each in job.off} == {"battery_lead"}
    assert seen_to(job)["battery_lead"] is False


def test_the_longest_list_stands_on_one_screen_of_a_phone(tmp_path: Path) -> None:
    from hertzwright.cli.terminal.page import lay_out

    job = proven({"choke": "manual"})
    for check in ("frequency_no_load", "swing_no_load", "frequency_full_load"):
        job.record(check, PROVEN[check])
    job.carry_out("clean_cooling_air")  # guards and battery lead
    for check, answer in PROVEN.items():
        job.record(check, answer)
    assert len(closing_list(job)) == 9

    class Kept(Phone):
        def kept(self, page: object) -> None:
            leaves = lay_out(page, self)  # type: ignore[arg-type]
            assert [len(leaf.rows) <= 23 for leaf in leaves] == [True], leaves

    session, _ = desk_of(job, by_list([]), tmp_path)
    session.asker = Kept(session.screen, ["y"])
    at_terminal.go_through(session)
    assert all(seen_to(job).values())
