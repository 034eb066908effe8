"""What the findings of a job come to: counted once, before and after remedies, and what happens to the impossible."""

from __future__ import annotations

from math import prod
from pathlib import Path

import pytest

from hertzwright.engine import ContradictionError, Event, Job, JobError, Knowledge, load_knowledge
from hertzwright.engine.job.diagnosis import MOST_STATES

from small_knowledge import FILES, write

pytestmark = pytest.mark.whole_ways

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
    for name in KNOWLEDGE.catalogue.costs.before_closing:
        job.record(name, KNOWLEDGE.checks[name].normal)
    best = job.next_steps(1, 0)[0]
    assert (best.kind, best.minutes) == ("done", 0.0)


def test_a_check_made_after_a_remedy_is_about_the_set_as_it_is_now() -> None:
    job = recorded(("linkage_feel", "binds"))
    job.carry_out("free_linkage", "unknown")
    job.record("linkage_feel", "free")
    assert job.posterior()["linkage_binding"] < 0.05
    assert [made.epoch for made in job.made] == [0, 1]


def test_minutes_count_moves_hands_and_proof_runs() -> None:
    costs = KNOWLEDGE.catalogue.costs
    job = Job(KNOWLEDGE)
    assert job.here == costs.start_state
    job.record("linkage_feel", "free")
    # A cold set is worked on as it stands, and is as cold afterwards.
    expected = KNOWLEDGE.checks["linkage_feel"].minutes
    assert job.minutes == pytest.approx(expected)
    job.record("throttle_shaft_play", "snug")
    expected += KNOWLEDGE.checks["throttle_shaft_play"].minutes
    assert job.minutes == pytest.approx(expected)
    job.carry_out("set_rod_length", "not cured")
    expected += KNOWLEDGE.remedies["set_rod_length"].minutes + costs.moves["stopped_cold", costs.proof_state]
    expected += costs.proof
    assert job.minutes == pytest.approx(expected)
    assert job.here == costs.proof_state
    assert job.epoch == 1


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


def test_findings_that_are_never_open_together_are_not_set_aside() -> None:
    # Each remedy with a handful of abnormal findings that share few causes: many states in all, few at once.
    job = Job(KNOWLEDGE)
    abnormal = [
        (name, check.outcomes[-1].id)
        for name, check in job.checks.items()
        if check.derived_from is None and not check.group
    ]
    for place, remedy in enumerate(("free_linkage", "set_sensitivity", "set_idle_mixture")):
        for name, outcome in abnormal[place * 8 : place * 8 + 8]:
            job.record(name, outcome, happened=True)
        job.carry_out(remedy, "unknown", happened=True)
    found, _ = job._diagnosis._solved()
    assert prod(len(clue.start) for clue in found.clues) > MOST_STATES
    assert job.set_aside == ()


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
