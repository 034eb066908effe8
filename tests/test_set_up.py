"""Set-up states: what going between them costs, and how a set stands when the technician comes.

Outside source: that a settled reading needs about 15 minutes of running from cold, TM 5-4110-234-14 p. 4-83, c(1).
"""

from __future__ import annotations

from itertools import product

import pytest

from hertzwright.engine import Job, JobError, load_knowledge
from hertzwright.engine.job import Event

KNOWLEDGE = load_knowledge()
COSTS = KNOWLEDGE.catalogue.costs
STATES = tuple(KNOWLEDGE.catalogue.states)


@pytest.mark.parametrize(("start", "over", "end"), tuple(product(STATES, STATES, STATES)))
def test_no_detour_is_shorter_than_the_way_itself(start: str, over: str, end: str) -> None:
    """A cold set was warm four minutes after it had been looked at standing still, so that every job began with that."""
    between = COSTS.standing(start, over)
    whole = COSTS.move(start, over) + COSTS.move(between, end)
    assert COSTS.move(start, end) <= whole + 1e-9


def test_a_cold_set_is_warmed_up_once_whatever_is_looked_at_before() -> None:
    """Source: TM 5-4110-234-14 p. 4-83, c(1), about 15 minutes."""
    job = Job(KNOWLEDGE)
    job.record("throttle_shaft_play", "snug")
    before = job.minutes
    job.record("frequency_no_load", "61 Hz")
    assert job.minutes - before == pytest.approx(15 + KNOWLEDGE.checks["frequency_no_load"].minutes)
    job.record("spring_look", "sound")
    before = job.minutes
    job.record("swing_no_load", "steady")
    assert job.minutes - before < 10, "warm from then on"


@pytest.mark.parametrize("found", COSTS.found)
def test_where_a_set_stands_is_said_in_any_of_its_words(found: str) -> None:
    for words in COSTS.found[found].names:
        job = Job(KNOWLEDGE)
        job.stands(words.upper())
        assert (job.here, job.minutes) == (COSTS.found[found].state, 0.0)
        assert Job.replay(KNOWLEDGE, job.events).here == job.here


def test_a_job_that_does_not_say_how_the_set_stood_begins_as_jobs_always_did() -> None:
    assert Job(KNOWLEDGE).here == COSTS.start_state == "stopped_cold"


@pytest.mark.parametrize("words", ["", "on its head", "1", "stopped_warm"])
def test_what_is_no_way_a_set_stands_is_refused_and_shown(words: str) -> None:
    job = Job(KNOWLEDGE)
    with pytest.raises(JobError, match=f'"{words}" is no way a set stands; expected cold, running, warm, apart'):
        job.stands(words)
    assert len(job.events) == 1
    with pytest.raises(JobError):
        Job.replay(KNOWLEDGE, [*job.events, Event("stands", "upside_down")])


def test_a_running_set_is_read_before_it_is_stopped_and_a_warm_one_costs_no_warming() -> None:
    minutes = {}
    for found in COSTS.found:
        job = Job(KNOWLEDGE)
        job.stands(found)
        job.record("frequency_no_load", "61 Hz")
        minutes[found] = job.minutes
    assert minutes["running"] < minutes["warm"] < minutes["cold"] < minutes["apart"]


# ---- readings of the set as found


def test_readings_as_found_are_owed_until_the_first_work_on_a_fault() -> None:
    job = Job(KNOWLEDGE)
    assert job.owed == COSTS.as_found
    job.record("bogs_on_load_step", "present")
    assert job.owed == (*COSTS.as_found, "load_step_dip"), "a complaint that nobody met cannot be proven gone"
    job.step_back()
    job.record("frequency_no_load", "61 Hz")
    job.record("voltage_no_load", "unknown")
    assert job.owed == tuple(name for name in COSTS.as_found if name not in ("frequency_no_load", "voltage_no_load"))
    job.carry_out("warm_up", "unknown")
    assert job.owed, "warming up is no work on a fault"
    job.carry_out("set_rod_length", "not cured")
    assert job.owed == ()


def test_nothing_is_run_for_the_record_where_the_set_may_run_away_or_lay_in_parts() -> None:
    racing, apart = Job(KNOWLEDGE), Job(KNOWLEDGE)
    racing.record("overspeeds", "present")
    apart.stands("apart")
    assert racing.owed == apart.owed == ()


def test_a_reading_that_is_owed_costs_the_plan_nothing_and_is_told_with_its_minutes() -> None:
    job = Job(KNOWLEDGE)
    job.stands("running")
    job.record("sags_under_load", "present")
    step = job.next_steps(1, 0)[0]
    assert step.id in COSTS.as_found
    assert step.minutes == COSTS.move(job.here, KNOWLEDGE.checks[step.id].state) + KNOWLEDGE.checks[step.id].minutes
