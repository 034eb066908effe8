"""A job as events: what is recorded, taken back and replayed, and its line of state."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hertzwright.engine import AnswerError, Event, Job, JobError, load_knowledge

KNOWLEDGE = load_knowledge()
EXACT = 1e-12


def recorded(*answers: tuple[str, str], **features: object) -> Job:
    job = Job(KNOWLEDGE, features)
    for name, answer in answers:
        job.record(name, answer)
    return job


# ---- events


def test_a_job_begins_with_its_set_and_the_priors() -> None:
    job = Job(KNOWLEDGE, {"booster": "none"})
    assert [event.kind for event in job.events] == ["set"]
    assert job.minutes == 0.0
    posterior = job.posterior()
    assert posterior == pytest.approx(
        {name: KNOWLEDGE.prior(name, {"booster": "none"}) for name in posterior}, abs=EXACT
    )
    assert not any(KNOWLEDGE.causes[name].area == "booster" for name in posterior)


def test_events_keep_what_was_said_found_and_done_in_order() -> None:
    job = recorded(("hunts_no_load", "present"), ("frequency_no_load", "64.1 Hz"), ("linkage_feel", "binds?"))
    job.carry_out("free_linkage", "not cured")
    job.note("the rod had been painted over")
    assert [(event.kind, event.id, event.answer) for event in job.events[1:]] == [
        ("complaint", "hunts_no_load", "present"),
        ("check", "frequency_no_load", "64.1 Hz"),
        ("check", "linkage_feel", "binds?"),
        ("remedy", "free_linkage", "not cured"),
        ("note", "", "the rod had been painted over"),
    ]


def test_an_event_survives_its_plain_form() -> None:
    job = recorded(("frequency_no_load", "64.1 Hz"))
    job.carry_out("set_no_load_speed")
    for event in job.events:
        assert Event.from_dict(event.as_dict()) == event


@pytest.mark.parametrize("given_event", [{"kind": 3}, {"kind": "check", "id": []}, {"kind": "set", "features": "none"}])
def test_what_is_no_event_is_refused(given_event: dict[str, object]) -> None:
    with pytest.raises(JobError, match="not an event"):
        Event.from_dict(given_event)


def test_a_refused_answer_changes_nothing() -> None:
    job = recorded(("hunts_no_load", "present"))
    before = job.events, job.posterior(), job.line()
    for name, answer in (
        ("frequency_no_load", "6l.5"),
        ("frequency_no_load", "600 Hz"),
        ("linkage_feel", "wobbly"),
        ("hunts_no_load", "maybe so"),
    ):
        with pytest.raises(AnswerError, match=answer):
            job.record(name, answer)
    for name in ("frequency_noload", "nothing_like_it", "set_rod_length"):
        with pytest.raises(JobError, match=name):
            job.record(name, "right")
    with pytest.raises(JobError, match="free_linkag"):
        job.carry_out("free_linkag", "cured")
    with pytest.raises(JobError, match="better"):
        job.carry_out("free_linkage", "better")
    assert (job.events, job.posterior(), job.line()) == before


def test_a_check_that_this_set_does_not_have_is_refused() -> None:
    with pytest.raises(JobError, match="this set has no such thing"):
        recorded(("booster_passage", "clear"), booster="none")


def test_unknown_words_get_a_suggestion() -> None:
    with pytest.raises(JobError, match="did you mean"):
        recorded(("linkage_fell", "binds"))
    with pytest.raises(JobError, match="tolerance"):
        Job(KNOWLEDGE, {}, "g7")
    with pytest.raises(AnswerError, match="boster"):
        Job(KNOWLEDGE, {"boster": "none"})


# ---- replay and step back


def test_replay_gives_the_same_job() -> None:
    job = recorded(("sags_under_load", "present"), ("frequency_no_load", "63.2 Hz"), ("frequency_full_load", "57 Hz"))
    job.carry_out("set_rod_length", "not cured")
    job.record("wide_open_stop_gap", "0.03 in")
    job.step_back()
    again = Job.replay(KNOWLEDGE, job.events)
    assert again.events == job.events
    assert again.line() == job.line()
    assert again.minutes == job.minutes
    assert again.posterior() == job.posterior()
    assert again.next_steps(3, 0) == job.next_steps(3, 0)


def test_replay_refuses_what_does_not_fit() -> None:
    with pytest.raises(JobError, match="first event"):
        Job.replay(KNOWLEDGE, [])
    with pytest.raises(JobError, match="first event"):
        Job.replay(KNOWLEDGE, [Event("note", answer="x")])
    for bad in (
        Event("check", "no_such_check", "right"),
        Event("complaint", "hunts_no_load", "perhaps"),
        Event("remedy", "free_linkage", "perhaps"),
        Event("dance"),
    ):
        with pytest.raises((JobError, AnswerError)):
            Job.replay(KNOWLEDGE, [Event("set"), bad])


MOVES = st.one_of(
    st.tuples(
        st.just("complaint"), st.sampled_from(sorted(KNOWLEDGE.complaints)), st.sampled_from(["present", "absent"])
    ),
    st.sampled_from(
        ["frequency_no_load", "frequency_full_load", "linkage_feel", "swing_no_load", "wide_open_stop_gap"]
    ).flatmap(
        lambda check: st.tuples(
            st.just("check"),
            st.just(check),
            st.sampled_from([*(outcome.id for outcome in KNOWLEDGE.checks[check].outcomes), "unknown"]),
        )
    ),
    st.tuples(st.just("check"), st.just("frequency_no_load"), st.sampled_from(["61.5 Hz", "64.1 Hz?", "1845 rpm"])),
    st.tuples(st.just("check"), st.just("frequency_full_load"), st.sampled_from(["60", "57.2 Hz"])),
    st.tuples(
        st.just("remedy"), st.sampled_from(["free_linkage", "set_rod_length"]), st.sampled_from(["cured", "not cured"])
    ),
    st.tuples(st.just("proof"), st.just(""), st.sampled_from(["passed", "failed"])),
    st.tuples(st.just("back"), st.just(""), st.just("")),
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(MOVES, max_size=8))
def test_any_job_replays_to_itself_and_steps_back_to_its_beginning(moves: list[tuple[str, str, str]]) -> None:
    job = Job(KNOWLEDGE)
    for kind, name, answer in moves:
        if kind == "remedy":
            job.carry_out(name, answer)
        elif kind == "proof":
            job.prove(answer)
        elif kind == "back":
            job.step_back()
        else:
            job.record(name, answer)
    again = Job.replay(KNOWLEDGE, job.events)
    assert (again.events, again.line(), again.posterior()) == (job.events, job.line(), job.posterior())
    for value in job.posterior().values():
        assert -1e-12 <= value <= 1.0 + 1e-12
    count = len(job.events)
    while job.step_back() is not None:
        count += 1
    assert len(job.events) == count  # taking back is one more event each time
    assert job.posterior() == pytest.approx(Job(KNOWLEDGE).posterior(), abs=EXACT)


def test_step_back_restores_the_belief_and_keeps_the_record() -> None:
    job = recorded(("hunts_no_load", "present"))
    before = job.posterior(), job.minutes, job.here
    job.record("linkage_feel", "binds")
    assert job.posterior() != before[0]
    taken = job.step_back()
    assert taken == Event("check", "linkage_feel", "binds")
    assert (job.posterior(), job.minutes, job.here) == before
    assert [event.kind for event in job.events] == ["set", "complaint", "check", "step_back"]
    assert len(job.standing) == 2


def test_step_back_twice_takes_back_two_and_never_the_set() -> None:
    job = recorded(("hunts_no_load", "present"), ("linkage_feel", "binds"))
    assert job.step_back() is not None
    assert job.step_back() == Event("complaint", "hunts_no_load", "present")
    assert job.step_back() is None
    assert job.standing[0].kind == "set"


# ---- line


def test_the_line_tells_the_whole_state() -> None:
    job = recorded(("hunts_no_load", "present"), ("frequency_no_load", "64.1 Hz"), booster="none", rated_kw="7.5")
    job.carry_out("set_no_load_speed", "not cured")
    job.record("linkage_feel", "free")
    job.step_back()
    line = job.line()
    assert "\n" not in line
    assert line == (
        "set[rated_kw=7.5 booster=none]; hunts_no_load=present; frequency_no_load=64.1 Hz; *set_no_load_speed=not cured"
    )


def test_the_line_never_carries_control_characters() -> None:
    job = recorded(("hunts_no_load", "present"))
    job.note("\x1b[2Jcleared\n")
    assert job.line().isprintable()
