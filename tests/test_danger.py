"""Danger in the engine: what holds a job, what ends the hold, and what is refused while it stands.

Limits that are checked here against something outside: the overspeed trip centred at 66 Hz of TM 9-6115-643-24; the
transient rise of 18 percent and the voltage rise of 35 percent that performance class G1 allows (ISO 8528-5), which a
sound set may show; 2600 rpm on four poles is 86.7 Hz by f = poles * rpm / 120 (TM 5-6115-584-34, para 7-1).
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hertzwright.engine import AnswerError, HeldError, Job, JobError, load_knowledge
from hertzwright.engine.job.event import Event

KNOWLEDGE = load_knowledge()
FAST = "75 Hz"


def a_job(**features: object) -> Job:
    return Job(KNOWLEDGE, features)


def held(job: Job) -> list[str]:
    return [hold.limit for hold in job.held]


def runs(job: Job, kind: str, name: str) -> bool:
    steps = {**KNOWLEDGE.checks, **KNOWLEDGE.remedies}
    return kind == "done" or (name in steps and job.runs(steps[name].state))


DANGEROUS = [
    ("frequency_no_load", "66 Hz", "overspeed"),
    ("frequency_no_load", "66.1 Hz", "overspeed"),
    ("frequency_no_load", "75 Hz?", "overspeed"),
    ("frequency_no_load", "2600 rpm", "overspeed"),
    ("frequency_no_load", "very_high", "overspeed"),
    ("frequency_no_load", "very_high?", "overspeed"),
    ("frequency_quarter_load", "70", "overspeed"),
    ("frequency_half_load", "70", "overspeed"),
    ("frequency_three_quarter_load", "70", "overspeed"),
    ("frequency_full_load", "75 Hz", "overspeed"),
    ("load_drop_overshoot", "29 Hz", "overspeed_peak"),
    ("swing_no_load", "30 Hz slow_swing", "overspeed_peak"),
    ("swing_full_load", "30 Hz", "overspeed_peak"),
    ("voltage_no_load", "300 V", "overvoltage"),
    ("voltage_full_load", "300 V?", "overvoltage"),
    ("overspeeds", "present", "overspeeds"),
    ("overspeeds", "unsure", "overspeeds"),
]
HARMLESS = [
    ("frequency_no_load", "65.9 Hz"),
    ("frequency_no_load", "high"),
    ("frequency_full_load", "high"),
    ("load_drop_overshoot", "10.8 Hz"),  # 18 % of rated, all that class G1 allows
    ("swing_no_load", "10 Hz slow_swing"),
    ("voltage_no_load", "264 V"),  # a tenth over
    ("overspeeds", "absent"),
    ("overspeeds", "unknown"),
    ("frequency_no_load", "unknown"),
]


@pytest.mark.parametrize(("name", "answer", "limit"), DANGEROUS)
def test_every_dangerous_finding_holds_the_job(name: str, answer: str, limit: str) -> None:
    job = a_job()
    job.record(name, answer)
    assert held(job) == [limit]
    assert not any(runs(job, step.kind, step.id) for step in job.next_steps(200, 0))
    assert any(step.kind == "refer" for step in job.next_steps(200, 0))


@pytest.mark.parametrize(("name", "answer"), HARMLESS)
def test_what_is_within_the_limits_holds_nothing(name: str, answer: str) -> None:
    job = a_job()
    job.record(name, answer)
    assert not job.held


def test_limits_are_of_the_rated_values_of_the_set() -> None:
    job = a_job(hertz="50", volts="400")
    job.record("voltage_no_load", "440 V")
    job.record("frequency_no_load", "54.9 Hz")
    assert not job.held
    job.record("frequency_no_load", "55 Hz")
    assert held(job) == ["overspeed"]


def test_a_rise_stands_above_the_no_load_reading_whichever_comes_first() -> None:
    job = a_job()
    job.record("load_drop_overshoot", "9 Hz")
    assert not job.held, "69 Hz from rated"
    job.record("frequency_no_load", "62.5 Hz")
    assert held(job) == ["overspeed_peak"]
    again = a_job()
    again.record("frequency_no_load", "62.5 Hz")
    again.record("load_drop_overshoot", "9 Hz")
    assert held(again) == ["overspeed_peak"]


def test_the_finding_and_the_limit_are_told() -> None:
    job = a_job()
    job.record("frequency_no_load", "2600 rpm")
    assert str(job.held[0]) == "Overspeed: Frequency with no load, 86.67 Hz, and 66 Hz is the limit"
    assert job.held[0].as_dict()["at_least"] == 66.0
    assert "overspeed" in job.held[0].cautions


def test_only_a_secured_event_ends_it() -> None:
    job = a_job()
    job.record("frequency_no_load", FAST)
    job.record("frequency_no_load", "61.5 Hz", happened=True)
    job.record("frequency_no_load", "unknown")
    job.note("Shut down, and the throttle proven to close with the engine stopped.")
    job.note("Secured: yes")
    job.carry_out("set_rod_length")
    job.step_back()
    job.record("overspeeds", "absent")
    assert held(job) == ["overspeed"]
    with pytest.raises(JobError, match="nobody is named"):
        job.secure("  ")
    job.secure("Kim")
    assert not job.held
    assert not job.runs(job.here), "a set that was shut down stands still"
    with pytest.raises(JobError, match="nothing holds"):
        job.secure("Kim")
    job.record("frequency_full_load", FAST)
    assert held(job) == ["overspeed"], "a later one holds again"


def test_taking_back_a_dangerous_reading_leaves_it_held_unless_it_is_called_a_mistake() -> None:
    job = a_job()
    job.record("frequency_no_load", FAST)
    job.step_back()
    assert [hold.taken_back for hold in job.held] == [True]
    assert not job.made
    again = a_job()
    again.record("frequency_no_load", FAST)
    again.step_back(mistake=True)
    assert not again.held
    assert again.events[-1].answer == "mistake", "the record shows it"


def test_taking_back_the_securing_holds_again() -> None:
    job = a_job()
    job.record("frequency_no_load", FAST)
    job.secure("Kim")
    job.step_back()
    assert held(job) == ["overspeed"]


def test_taking_out_something_else_neither_lifts_nor_loses_anything() -> None:
    job = a_job()
    job.record("linkage_feel", "free")
    job.record("frequency_no_load", FAST)
    job.record("frequency_full_load", "74", happened=True)
    job.take_out(next(event for event in job.standing if event.id == "linkage_feel"))
    assert [made.check for made in job.made if not made.derived] == ["frequency_no_load", "frequency_full_load"]
    assert set(held(job)) == {"overspeed"}


def test_while_held_nothing_that_runs_the_set_is_accepted() -> None:
    job = a_job()
    job.record("overspeeds", "present")
    before = job.events
    with pytest.raises(HeldError, match="Frequency at full load: not while the job is held") as told:
        job.record("frequency_full_load", "60 Hz")
    assert "shut the set down" in str(told.value)
    for refused in (
        lambda: job.carry_out("set_no_load_speed"),
        lambda: job.carry_out("set_rod_length", "cured"),
        lambda: job.prove("passed"),
        lambda: job.close("fixed"),
    ):
        with pytest.raises(HeldError):
            refused()
    assert job.events == before
    job.record("linkage_feel", "free")
    job.carry_out("set_rod_length")
    job.close("handed_over")


def test_replay_takes_all_that_happened_and_is_then_held() -> None:
    events = [
        Event("set"),
        Event("check", "frequency_no_load", FAST),
        Event("check", "frequency_full_load", "60 Hz"),
        Event("remedy", "set_no_load_speed", "not cured"),
        Event("check", "frequency_no_load", "61.5 Hz"),
    ]
    job = Job.replay(KNOWLEDGE, events)
    assert len(job.events) == 5
    assert held(job) == ["overspeed"]


def test_a_load_reading_holds_by_its_speed_its_voltage_and_its_peaks() -> None:
    for cells in (
        {"load %": "100", "hz": "75"},
        {"load %": "0", "rpm": "2600"},
        {"load %": "0", "hz": "61.5", "highest hz": "89"},
        {"load %": "0", "hz": "61.5", "volts": "300"},
        {"load %": "0", "hz": "61.5", "highest volts": "330"},
    ):
        job = a_job()
        job.load_reading("as_found", cells)
        assert job.held, cells
    job = a_job()
    job.load_reading("as_found", {"load %": "0", "hz": "61.5", "highest hz": "70.8", "highest volts": "324"})
    assert not job.held, "all that class G1 allows"
    with pytest.raises(JobError, match="as_fond"):
        job.load_reading("as_fond", {"hz": "60"})
    with pytest.raises(AnswerError):
        job.load_reading("as_left", {"hz": "sixty", "load": "0"})


# ---- any sequence


STEPS = st.sampled_from(
    [
        ("record", "frequency_no_load", "61.5 Hz"), ("record", "frequency_no_load", "unknown"),
        ("record", "frequency_full_load", "59.5 Hz"), ("record", "voltage_no_load", "240 V"),
        ("record", "linkage_feel", "free"), ("record", "overspeeds", "absent"), ("record", "floats_high_no_load", "present"),
        ("carry_out", "set_rod_length", "unknown"), ("carry_out", "set_no_load_speed", "cured"),
        ("prove", "passed"), ("prove", "failed"), ("note", "Secured: all of it"), ("step_back",), ("step_back",),
        ("acknowledge", "job", "secured"), ("close", "open"), ("close", "fixed"), ("reopen",),
        ("load_reading", "as_found", {"load %": "0", "hz": "61.5"}), ("correct", {"rated_kw": "12"}),
        ("correct", {"hertz": "50"}), ("correct", {"hertz": "60"}), ("correct", {"volts": "480"}),
    ]
)  # fmt: skip


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(DANGEROUS), st.lists(STEPS, max_size=8), st.booleans())
def test_nothing_but_securing_ends_a_hold(
    danger: tuple[str, str, str], steps: list[tuple[object, ...]], replayed: bool
) -> None:
    job = a_job()
    job.record(danger[0], danger[1])
    for name, *given_ in steps:
        try:
            getattr(job, str(name))(*given_)
        except (JobError, AnswerError):
            continue
    if replayed:
        job = Job.replay(KNOWLEDGE, job.events)
    assert danger[2] in held(job)
    assert not any(event.kind == "closed" and event.id == "fixed" for event in job.standing)
    proposed = job.next_steps(200, 0)
    assert not any(runs(job, step.kind, step.id) for step in proposed)
    assert proposed[-1].kind == "refer" or any(step.kind == "refer" for step in proposed)
    job.secure("Kim")
    assert not job.held


# ---- features corrected in mid-job


def test_a_corrected_feature_gives_the_beliefs_of_a_set_that_always_had_it() -> None:
    job = a_job(booster="vacuum")
    job.record("floats_high_no_load", "present")
    job.record("frequency_no_load", "64.1 Hz")
    job.correct({"booster": "none", "rated_kw": "12"})
    other = a_job(booster="none", rated_kw="12")
    other.record("floats_high_no_load", "present")
    other.record("frequency_no_load", "64.1 Hz")
    assert job.posterior() == pytest.approx(other.posterior())
    assert [(step.kind, step.id) for step in job.next_steps(5, 0)] == [
        (step.kind, step.id) for step in other.next_steps(5, 0)
    ]
    assert job.features["rated_kw"] == 12.0
    again = Job.replay(KNOWLEDGE, [Event.from_dict(event.as_dict()) for event in job.events])
    assert again.posterior() == job.posterior()
    job.step_back()
    assert job.features["booster"] == "vacuum"


def test_a_limit_follows_the_corrected_feature() -> None:
    job = a_job()
    job.record("frequency_no_load", "62 Hz")
    assert not job.held
    job.correct({"hertz": "50"})
    assert held(job) == ["overspeed"], "62 Hz is 124 percent of 50"


def test_a_correction_that_leaves_an_answer_without_its_check_is_refused() -> None:
    job = a_job(booster="vacuum")
    check = next(
        name for name, each in KNOWLEDGE.checks.items()
        if not KNOWLEDGE.applies(name, KNOWLEDGE.features({"booster": "none"})) and each.retired is None
    )  # fmt: skip
    job.record(check, KNOWLEDGE.checks[check].outcomes[0].id)
    before = job.events
    with pytest.raises(JobError, match=check):
        job.correct({"booster": "none"})
    with pytest.raises(AnswerError):
        job.correct({"boster": "none"})
    assert job.events == before
    job.correct({"booster": "vacuum"})
    assert job.events == before, "what is as it was is no correction"


# ---- closing


def test_a_job_is_closed_as_fixed_only_where_that_is_proven() -> None:
    job = a_job()
    job.record("floats_high_no_load", "present")
    with pytest.raises(JobError, match="Frequency with no load was not read"):
        job.close("fixed")
    for name, answer in (("frequency_no_load", "61.5"), ("frequency_full_load", "59.5"), ("swing_no_load", "steady")):
        job.record(name, answer)
    with pytest.raises(JobError, match="still there"):
        job.close("fixed")
    job.record("floats_high_no_load", "absent")
    job.record("frequency_full_load", "57")
    with pytest.raises(JobError, match="outside the tolerance"):
        job.close("fixed")
    job.record("frequency_full_load", "61.4")  # hardly any fall, and yet within any tolerance
    job.close("fixed")
    assert job.closed == "fixed"
    job.note("Closed: left open.")
    assert job.closed == "fixed"
    job.record("frequency_no_load", FAST)
    assert job.closed == ""
    with pytest.raises(JobError, match="expected fixed, open, handed_over, not_found"):
        job.close("mended")


def test_a_note_is_a_note() -> None:
    job = a_job()
    for text in ("Closed: fixed and proven.", "Acknowledged: nothing", "Load test as found: load %=100; hz=75"):
        job.note(text)
    assert job.closed == ""
    assert not job.held
    assert {event.kind for event in job.standing} == {"set", "note"}


def test_the_knowledge_says_what_proves_a_set() -> None:
    costs = KNOWLEDGE.catalogue.costs
    assert costs.proof_needed == ("frequency_no_load", "frequency_full_load")
    assert costs.also_fine == {"frequency_spread": ("narrow",), "load_step_settling": ("few_swings",)}


@pytest.mark.parametrize("text", ["91 Hz", "95 Hz", "140 Hz", "4200 rpm"])
def test_a_runaway_beyond_any_governed_speed_is_taken_and_holds(text: str) -> None:
    """A refused reading holds nothing, so whatever a set that runs away can reach must be taken."""
    job = Job(load_knowledge(), {})
    job.record("frequency_no_load", text)
    assert job.held
