"""A job as events: what is recorded, taken back, replayed, counted once, and what happens to the impossible."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hertzwright.engine import AnswerError, ContradictionError, Event, Job, JobError, Knowledge, load_knowledge

from small_knowledge import FILES, write

KNOWLEDGE = load_knowledge()
EXACT = 1e-12


@pytest.fixture(scope="module")
def strict(tmp_path_factory: pytest.TempPathFactory) -> Knowledge:
    """The small knowledge with no leaks at all: some findings then contradict each other."""
    text = FILES["checks/linkage.yaml"]
    for leak in ("{low: almost_never, high: almost_never}", "{none: almost_never, wide: almost_never}"):
        assert leak in text
        text = text.replace(leak, leak.replace("almost_never", '"0"'))
    return load_knowledge(write(tmp_path_factory.mktemp("strict"), {"checks/linkage.yaml": text}))


@pytest.fixture
def small(tmp_path: Path) -> Knowledge:
    return load_knowledge(write(tmp_path))


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


# ---- counted once


def test_a_spread_comes_from_its_two_readings_and_is_not_counted_twice() -> None:
    job = recorded(("frequency_no_load", "61.5 Hz"), ("frequency_full_load", "57 Hz"))
    derived = {made.check: made for made in job.made}["frequency_spread"]
    assert derived.derived
    assert derived.answer.values == pytest.approx((4.5,))
    assert derived.answer.outcomes == ("wide",)
    named = recorded(("frequency_no_load", "61.5 Hz"), ("frequency_spread", "4.5 Hz"))
    assert job.posterior() == pytest.approx(named.posterior(), abs=EXACT)


def test_a_spread_that_was_given_stands_in_the_place_of_the_second_reading() -> None:
    both = recorded(("frequency_no_load", "61.5 Hz"), ("frequency_spread", "4.5 Hz"), ("frequency_full_load", "57 Hz"))
    one = recorded(("frequency_no_load", "61.5 Hz"), ("frequency_spread", "4.5 Hz"))
    assert both.posterior() == pytest.approx(one.posterior(), abs=EXACT)


def test_outcomes_without_numbers_give_no_spread() -> None:
    job = recorded(("frequency_no_load", "right"), ("frequency_full_load", "low"))
    assert "frequency_spread" not in {made.check for made in job.made}


def test_the_same_answer_again_adds_nothing() -> None:
    once = recorded(("swing_no_load", "slow_swing"))
    twice = recorded(("swing_no_load", "slow_swing"), ("swing_no_load", "slow_swing"))
    assert twice.posterior() == pytest.approx(once.posterior(), abs=EXACT)
    assert len(twice.made) == 1


def test_a_new_answer_replaces_the_earlier_one() -> None:
    changed = recorded(("swing_no_load", "slow_swing"), ("linkage_feel", "free"), ("swing_no_load", "steady"))
    straight = recorded(("linkage_feel", "free"), ("swing_no_load", "steady"))
    assert changed.posterior() == pytest.approx(straight.posterior(), abs=EXACT)


def test_a_complaint_stands_in_until_its_check_is_made() -> None:
    complained = recorded(("floats_high_no_load", "present"))
    assert complained.posterior()["speed_set_high"] > Job(KNOWLEDGE).posterior()["speed_set_high"]
    shown = recorded(("floats_high_no_load", "present"), ("frequency_no_load", "64.1 Hz"))
    only = recorded(("frequency_no_load", "64.1 Hz"))
    assert shown.posterior() == pytest.approx(only.posterior(), abs=EXACT)


def test_not_knowing_adds_nothing() -> None:
    known = recorded(("hunts_no_load", "present"))
    unknown = recorded(("hunts_no_load", "present"), ("linkage_feel", "unknown"), ("sags_under_load", "unknown"))
    assert unknown.posterior() == pytest.approx(known.posterior(), abs=EXACT)
    assert unknown.minutes == known.minutes


def test_an_answer_that_is_not_sure_counts_less() -> None:
    before, soft, sure = (
        recorded(*answers).posterior()["linkage_binding"]
        for answers in ((), (("linkage_feel", "binds?"),), (("linkage_feel", "binds"),))
    )
    assert before < soft < sure


# ---- remedies


def test_a_proof_run_that_passes_clears_and_one_that_fails_lowers_the_cause() -> None:
    found = (("floats_high_no_load", "present"), ("frequency_no_load", "64.1 Hz"), ("wide_open_stop_gap", "none"))
    before = recorded(*found).posterior()["throttle_rod_long"]
    cured, failed = recorded(*found), recorded(*found)
    cured.carry_out("set_rod_length", "cured")
    failed.carry_out("set_rod_length", "not cured")
    assert cured.posterior()["throttle_rod_long"] < failed.posterior()["throttle_rod_long"] < before


def test_a_proof_run_without_a_remedy_is_recorded_and_counts() -> None:
    found = (("floats_high_no_load", "present"), ("frequency_no_load", "64.1 Hz"))
    plain, failed, passed = recorded(*found), recorded(*found), recorded(*found)
    failed.prove("failed")
    passed.prove("passed")
    for cause, value in plain.posterior().items():
        assert passed.posterior()[cause] <= value + EXACT
    assert max(failed.posterior().values()) >= max(plain.posterior().values())
    assert failed.minutes == passed.minutes > plain.minutes
    assert "proof=failed" in failed.line()
    assert Job.replay(KNOWLEDGE, failed.events).posterior() == failed.posterior()
    assert failed.step_back() == Event("proof", answer="failed")
    assert failed.posterior() == pytest.approx(plain.posterior(), abs=EXACT)
    with pytest.raises(JobError, match="maybe"):
        plain.prove("maybe")


def test_a_job_that_is_proven_is_done_at_no_further_cost() -> None:
    job = recorded(("floats_high_no_load", "present"), ("frequency_no_load", "64.1 Hz"), ("wide_open_stop_gap", "none"))
    job.carry_out("set_rod_length", "cured")
    best = job.next_steps(1, 0)[0]
    assert (best.kind, best.minutes) == ("done", 0.0)


def test_a_check_made_after_a_remedy_is_about_the_set_as_it_is_now() -> None:
    job = recorded(("linkage_feel", "binds"))
    job.carry_out("free_linkage", "unknown")
    job.record("linkage_feel", "free")
    assert job.posterior()["linkage_binding"] < 0.05
    assert [made.spell for made in job.made] == [0, 1]


def test_minutes_count_moves_hands_and_proof_runs() -> None:
    costs = KNOWLEDGE.catalogue.costs
    job = Job(KNOWLEDGE)
    assert job.here == costs.start_state
    job.record("linkage_feel", "free")
    expected = costs.moves[costs.start_state, "stopped"] + KNOWLEDGE.checks["linkage_feel"].minutes
    assert job.minutes == pytest.approx(expected)
    job.record("throttle_shaft_play", "snug")
    expected += KNOWLEDGE.checks["throttle_shaft_play"].minutes
    assert job.minutes == pytest.approx(expected)
    job.carry_out("set_rod_length", "not cured")
    expected += KNOWLEDGE.remedies["set_rod_length"].minutes + costs.moves["stopped", costs.proof_state] + costs.proof
    assert job.minutes == pytest.approx(expected)
    assert job.here == costs.proof_state
    assert job.spell == 1


def test_the_first_suggestion_is_followed_by_others_in_rising_minutes() -> None:
    steps = recorded(("hunts_no_load", "present")).next_steps(5, 0)
    assert steps[0].kind in ("check", "remedy")
    expected = [step.expected_minutes for step in steps]
    assert expected == sorted(expected)
    assert all(step.why for step in steps)
    for step in steps:
        assert step.id in {"check": KNOWLEDGE.checks, "remedy": KNOWLEDGE.remedies}.get(step.kind, {step.kind})


def test_a_finding_speaks_for_and_against() -> None:
    job = recorded(("linkage_feel", "binds"), ("swing_no_load", "slow_swing"))
    weighed = {fact.facts: fact.ratio for fact in job.evidence_for("linkage_binding")}
    assert weighed[("linkage_feel = binds",)] > 1.0
    assert {fact.facts: fact.ratio for fact in job.evidence_for("linkage_worn")}[("linkage_feel = binds",)] < 1.0


def test_fault_sets_are_joint_and_in_falling_probability() -> None:
    job = recorded(("linkage_feel", "binds"), ("frequency_no_load", "64.1 Hz"))
    sets = job.fault_sets(5)
    assert len(sets) == 5
    weights = [weight for _, weight in sets]
    assert weights == sorted(weights, reverse=True)
    assert "linkage_binding" in sets[0][0]


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


# ---- the impossible


def test_contradicting_findings_are_named_and_the_job_is_unharmed(strict: Knowledge) -> None:
    job = Job(strict)
    job.record("floats_high", "unknown")
    job.record("stop_gap", "none")  # only a long rod shows it
    job.record("frequency", "right")
    posterior = job.posterior()
    assert posterior["rod_long"] == pytest.approx(1.0)
    job.record("stop_gap", "wide")
    job.record("frequency", "low")
    assert job.posterior()["rod_short"] == pytest.approx(1.0)
    job.step_back()
    job.step_back()
    job.carry_out("set_rod", "unknown")
    job.record("stop_gap", "wide")  # yet another rod fault than before: the part had only one
    with pytest.raises(ContradictionError) as contradiction:
        job.posterior()
    error = contradiction.value
    assert set(error.findings) == {"stop_gap = none", "stop_gap = wide"}
    assert error.line == job.line()
    assert error.line in str(error)
    for ask in (lambda: job.fault_sets(3), lambda: job.next_steps(3), lambda: job.evidence_for("rod_long")):
        with pytest.raises(ContradictionError):
            ask()
    events = job.events
    assert job.step_back() is not None
    assert job.posterior()["rod_long"] > 0.0
    assert job.events[: len(events)] == events


def test_only_what_contradicts_is_named(strict: Knowledge) -> None:
    # A gap of none wants a long rod, a low frequency a short one, and the rod is only one of them.
    job = Job(strict)
    job.record("floats_high", "present")
    job.record("stop_gap", "none")
    job.record("frequency", "low")
    with pytest.raises(ContradictionError) as contradiction:
        job.posterior()
    assert set(contradiction.value.findings) == {"stop_gap = none", "frequency = low"}
    job.record("frequency", "high")  # a new answer takes the place of the wrong one
    assert job.posterior()["rod_long"] == pytest.approx(1.0)


def test_leaks_keep_odd_findings_possible(small: Knowledge) -> None:
    job = Job(small)
    job.record("stop_gap", "none")
    job.carry_out("set_rod", "unknown")
    job.record("stop_gap", "wide")
    assert sum(job.posterior().values()) > 0.0


def test_a_long_job_sets_old_findings_aside_and_says_so() -> None:
    job = Job(KNOWLEDGE)
    job.record("hunts_no_load", "present")
    assert job.set_aside == ()
    remedies = ("free_linkage", "set_no_load_speed", "set_sensitivity", "renew_linkage_joints", "set_idle_mixture")
    for remedy in (*remedies, *remedies):
        for check, answer in (
            ("frequency_no_load", "64 Hz"),
            ("swing_no_load", "slow swing"),
            ("linkage_feel", "binds"),
            ("frequency_half_load", "57 Hz"),
            ("load_drop_overshoot", "5 Hz"),
        ):
            job.record(check, answer)
        job.carry_out(remedy, "not cured")
        assert all(0.0 <= chance <= 1.0 for chance in job.posterior().values())
    assert job.set_aside
    assert len(job.events) == 2 + 6 * 10  # nothing recorded is lost


def test_a_proof_run_without_a_remedy_is_told() -> None:
    job = Job(KNOWLEDGE)
    job.record("lights_flicker", "present")
    sound = job.fault_sets(40)
    before = dict(sound).get(frozenset(), 0.0)
    minutes = job.minutes
    job.prove("failed")
    assert dict(job.fault_sets(40)).get(frozenset(), 0.0) < before
    assert job.minutes > minutes
    assert all(step.kind != "done" for step in job.next_steps(10))
    assert Job.replay(KNOWLEDGE, job.events).posterior() == job.posterior()
    with pytest.raises(JobError, match="no result of a proof run"):
        job.prove("maybe")
