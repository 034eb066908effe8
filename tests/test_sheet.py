"""The sheet of a set that was set in order: what it calls right, and what it says of what nobody looked at.

That a record tells what was not tested, and why, as plainly as what was: common practice of inspection sheets.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from test_setting import FIGURES, follow

from hertzwright.cli.jobsite import setting
from hertzwright.cli.record import open_points
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.setting import FOUND, SettingLine, advise, progress, put, sheet, verdict

from technician import by_list, desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def line(job: Job, step: str) -> SettingLine:
    return next(each for each in sheet(job) if each.step == step)


def test_what_nobody_looked_at_is_not_called_right(knowledge: Knowledge) -> None:
    """A blind trial: unknown as found, unknown as left, right as found."""
    job = Job(knowledge, {"booster": "vacuum"})
    job.not_here("vacuum_gauge")
    job.begin_setting()
    answers = {
        "booster_spring_pull": "unknown",
        "booster_vacuum_hold": "unknown",
        "second_meter": "unknown",
        "fuel_bought": "unknown",
        "plug_colour": "sooty",
        "frame_shake": "shakes_too_much",
    }
    follow(job, answers=answers)
    assert line(job, "booster_at_start").state == "not looked at"
    assert line(job, "booster_at_start").unseen == ("pull of the booster, not known",)
    assert line(job, "booster_whole").state == "right as far as looked at"
    assert line(job, "fuel_and_oil_seen").state == "right as far as looked at"
    assert line(job, "plugs_clean").state == "set"
    assert (line(job, "plugs_clean").found, line(job, "plugs_clean").wrong) == ("sooty", ())
    assert line(job, "engine_runs_on_all").state == "looked at"
    shakes = knowledge.checks["frame_shake"].title.lower()
    assert line(job, "engine_runs_on_all").wrong == (shakes,)
    assert any(point.endswith(f"not right: {shakes}.") for point in open_points(job))
    away = next(each for each in sheet(job) if any("vacuum gauge" in unseen for unseen in each.unseen))
    assert "not here: vacuum gauge" in away.unseen[0]
    for each in sheet(job):
        assert not (each.state == FOUND and (each.unseen or each.wrong)), each
        assert each.state != FOUND or "unknown" not in each.found


def test_as_left_is_the_last_reading_whichever_step_took_it(knowledge: Knowledge) -> None:
    """A blind trial: as left 62 Hz, turned by eight turns, right as found; it stood at 61.2."""
    job = Job(knowledge, {"booster": "none"})
    job.begin_setting()
    follow(job, answers={"frequency_no_load": "65.5 Hz"})
    assert any(event.kind == "set_to" and event.answer == "turned" for event in job.standing)
    job.record("frequency_no_load", "61.2 Hz")
    last = line(job, "no_load_speed_set")
    assert (last.left, last.state) == ("61.2 Hz", "set")
    assert last.turns["speed"] < 0


def test_what_was_not_right_as_found_is_not_called_right_as_found(knowledge: Knowledge) -> None:
    """A blind trial: right as found, over the very swing that was complained of."""
    job = Job(knowledge, {"booster": "none"})
    for name, answer in (("frequency_no_load", "61.6 Hz"), ("swing_no_load", "1.1 Hz")):
        job.record(name, answer)
    job.carry_out("set_idle_mixture")
    for name, answer in (
        ("frequency_no_load", "61.7 Hz"),
        ("swing_no_load", "0.1 Hz"),
        ("idle_needle_trial", "best_where_it_is"),
    ):
        job.record(name, answer)
    job.begin_setting(only_disturbed=True)
    follow(job)
    swung = [each for each in sheet(job) if "swing with no load: 1.1 Hz" in each.found]
    assert swung
    assert all(each.state != FOUND for each in swung)
    # Found and left stand in one order, each figure with its name.
    for each in swung:
        order = [part.split(":")[0] for part in each.found.split("; ")]
        assert [part.split(":")[0] for part in each.left.split("; ") if part.split(":")[0] in order] == order


def test_what_was_put_says_where(knowledge: Knowledge) -> None:
    job = Job(knowledge, {"booster": "none"})
    job.begin_setting()
    follow(job, "idle_needle_at_start")
    job.record("idle_needle_turns", "4 turns")
    advice = advise(job)
    assert advice.kind == "place"
    put(job, advice, "1.5 turns")
    found = line(job, "idle_needle_at_start")
    assert (found.found, found.left, found.placed, found.state) == ("4 turns", "1.5 turns", "1.5 turns", "set")
    assert not found.unseen
    assert not found.wrong
    assert any(each.placed for each in progress(job))


def cured(knowledge: Knowledge, *after: tuple[str, str]) -> Job:
    """A set that swung, cured at its idle needle, and read again."""
    job = Job(knowledge, {"booster": "none"})
    for name, answer in (
        ("hunts_no_load", "present"),
        ("frequency_no_load", "61.6 Hz"),
        ("swing_no_load", "1.1 Hz slow swing"),
        ("voltage_no_load", "240 V"),
        ("frequency_full_load", "58.8 Hz"),
        ("voltage_full_load", "236 V"),
        ("idle_needle_trial", "better_richer"),
    ):
        job.record(name, answer)
    job.carry_out("set_idle_mixture")
    for name, answer in (
        ("idle_needle_trial", "best_where_it_is"),
        ("frequency_no_load", "61.7 Hz"),
        ("swing_no_load", "0.1 Hz"),
        ("load_step_dip", "2.8 Hz"),
        ("frequency_full_load", "58.9 Hz"),
        ("exhaust_colour", "clear"),
        ("leg_currents", "35, 35.5 A"),
        ("voltage_steadiness", "steady"),
        ("hunts_no_load", "absent"),
        *after,
    ):
        job.record(name, answer)
    return job


def asked_by(job: Job) -> dict[str, tuple[str, ...]]:
    """The checks that setting asks from here, each with its reasons."""
    asked = {}
    while (advice := advise(job)).kind in ("read", "do", "place"):
        if advice.kind == "read":
            asked[advice.check] = advice.why
            job.record(advice.check, FIGURES.get(advice.check, job.checks[advice.check].normal))
        else:
            put(job, advice)
    assert advice.kind == "done"
    return asked


def test_what_was_read_after_the_cure_is_not_asked_again(knowledge: Knowledge) -> None:
    """A blind trial: 45 minutes of it were asked twice, "again, because of" the cure that they were read after."""
    job = cured(knowledge)
    job.begin_setting(only_disturbed=True)
    read = {made.check for made in job.made if made.epoch == job.epoch}
    before = {made.check for made in job.made}
    asked = asked_by(job)
    assert not read & asked.keys()
    for check, why in asked.items():
        assert check in before or not why, (check, why)
    assert verdict(job).passed
    # What is worked on in setting is proven after it, everything locked.
    job = cured(knowledge)
    job.begin_setting(only_disturbed=True)
    job.carry_out("set_no_load_speed")
    assert {"frequency_no_load", "frequency_full_load"} <= asked_by(job).keys()
    assert any(event.id == "nuts_locked" for event in job.standing)


def test_setting_after_a_cure_is_offered_for_what_does_not_stand_and_with_its_minutes(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    session, script = desk_of(cured(knowledge), by_list(["2"]), tmp_path / "stands")
    assert not setting.offer(session)
    assert script.prompts == 0  # the speed was read after it, and is right
    job = cured(knowledge)
    job.carry_out("set_idle_mixture")
    session, script = desk_of(job, by_list(["2"]), tmp_path / "open")
    assert not setting.offer(session)
    said = " ".join(script.out.getvalue().split())
    assert "Set the set in order now?" in said
    assert re.search(r"what was disturbed \(about (\d+ min|\d+ h)", said), said
    assert re.search(r"from the ground up \(about (\d+ min|\d+ h)", said), said
