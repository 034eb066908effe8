"""The state of a job: extended event by event it is what reading all events anew gives, and it grows in a line."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hertzwright.engine import AnswerError, Event, Job, JobError, load_knowledge
from hertzwright.engine.job import state as job_state
from hertzwright.engine.job.generating_set import GeneratingSet
from hertzwright.engine.job.state import JobState, extend, read_state
from hertzwright.engine.readings import reading

KNOWLEDGE = load_knowledge()

STEPS = st.sampled_from(
    [
        ("record", "frequency_no_load", "61.5 Hz"), ("record", "frequency_no_load", "72 Hz?"),
        ("record", "frequency_no_load", "unknown"), ("record", "frequency_full_load", "59.5 Hz"),
        ("record", "frequency_full_load", "57"), ("record", "voltage_no_load", "240 V"),
        ("record", "voltage_no_load", "330 V"), ("record", "linkage_feel", "free"), ("record", "linkage_feel", "Free?"),
        ("record", "overspeeds", "present"), ("record", "floats_high_no_load", "absent"),
        ("carry_out", "set_rod_length", "unknown"), ("carry_out", "set_no_load_speed", "not cured"),
        ("prove", "passed"), ("prove", "failed"), ("secure", "Kim"), ("secure", "Kim"),
        ("step_back",), ("step_back", True), ("note", "as it is"), ("close", "open"), ("close", "fixed"), ("reopen",),
        ("take_off", "rod"), ("take_off", "rod", True), ("put_back", "rod"),
        ("load_reading", "as_found", {"load %": "0", "hz": "69.5"}), ("correct", {"rated_kw": "12"}),
        ("correct", {"hertz": "50"}), ("correct", {"hertz": "60"}), ("correct", {"volts": "480"}),
    ]
)  # fmt: skip


def told(state: JobState) -> tuple[object, ...]:
    """Everything of a state, with the order of what has one."""
    return (
        state, tuple(state.made.items()), tuple(state.complaints.items()), tuple(state.holds), tuple(state.off.items())
    )  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(STEPS, max_size=14))
def test_a_state_that_is_extended_is_the_state_that_is_read(steps: list[tuple[object, ...]]) -> None:
    job = Job(KNOWLEDGE)
    for name, *given_ in steps:
        try:
            getattr(job, str(name))(*given_)
        except (JobError, AnswerError):
            continue
        anew = read_state(GeneratingSet(KNOWLEDGE, job.features, job.tolerance), job.events)
        assert told(job._state) == told(anew)
    assert told(Job.replay(KNOWLEDGE, job.events)._state) == told(job._state)


def test_what_changes_the_past_is_not_an_extension() -> None:
    state = read_state(GeneratingSet(KNOWLEDGE, None, "default"), [Event("set")])
    for kind in ("step_back", "feature"):
        with pytest.raises(ValueError, match=kind):
            extend(state, Event(kind))


def test_every_answer_is_parsed_once_and_every_event_is_weighed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """By counting, not by the clock: the work is in proportion to the facts, at recording and at replay."""
    counts = {"parsed": 0, "weighed": 0}
    one_value, step = reading._one_value, job_state._step

    def parse(*args: object) -> object:
        counts["parsed"] += 1
        return one_value(*args)  # type: ignore[arg-type]

    def weigh(*args: object) -> None:
        counts["weighed"] += 1
        step(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(reading, "_one_value", parse)
    monkeypatch.setattr(job_state, "_step", weigh)
    job = Job(KNOWLEDGE)
    for number in range(300):
        job.record("frequency_no_load", f"{60 + number / 1000:.3f} Hz")
    assert counts == {"parsed": 300, "weighed": 301}
    Job.replay(KNOWLEDGE, job.events)
    assert counts == {"parsed": 600, "weighed": 602}


def test_readings_too_far_apart_to_make_a_derived_one_are_both_kept() -> None:
    job = Job(KNOWLEDGE)
    job.record("frequency_no_load", "120 Hz")
    job.record("frequency_full_load", "58 Hz", happened=True)
    assert [(made.check, made.counts) for made in job.made] == [
        ("frequency_no_load", True), ("frequency_full_load", True)
    ]  # fmt: skip
    assert Job.replay(KNOWLEDGE, job.events).events == job.events
