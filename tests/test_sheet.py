"""The sheet of a set that was set in order: what it calls right, and what it says of what nobody looked at.

That a record tells what was not tested, and why, as plainly as what was: common practice of inspection sheets.
"""

from __future__ import annotations

import pytest
from test_setting import follow

from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.setting import FOUND, SettingLine, advise, progress, put, sheet


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
    }
    follow(job, answers=answers)
    assert line(job, "booster_at_start").state == "not looked at"
    assert line(job, "booster_at_start").unseen == ("pull of the booster, not known",)
    assert line(job, "booster_whole").state == "right as far as looked at"
    assert line(job, "fuel_and_oil_seen").state == "right as far as looked at"
    assert line(job, "ignition_ready").state == "looked at"
    assert line(job, "ignition_ready").wrong == ("colour of the plugs",)
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
    assert any(each.placed for each in progress(job))
