"""Before a set is closed as fixed the program looks for what else is wrong with it, once, and reads a second meter.

Common practice: what the owner said is not all that is wrong with an old set, and no set is proven by one meter alone.
"""

from __future__ import annotations

import pytest

from hertzwright.engine import Job, load_knowledge

pytestmark = pytest.mark.whole_ways

KNOWLEDGE = load_knowledge()
WANTED = KNOWLEDGE.catalogue.costs.before_closing


def cured() -> Job:
    """A set that floated high, and was set; its proof run has passed."""
    job = Job(KNOWLEDGE)
    job.record("floats_high_no_load", "present")
    for check, answer in (
        ("frequency_no_load", "64.5 Hz"),
        ("swing_no_load", "steady"),
        ("voltage_no_load", "high"),
        ("frequency_full_load", "62.4 Hz"),
        ("voltage_full_load", "high"),
        ("speed_adjuster_trial", "follows"),
    ):
        job.record(check, answer)
    job.carry_out("set_no_load_speed", "cured")
    for check, answer in (
        ("frequency_no_load", "61.4 Hz"),
        ("swing_no_load", "steady"),
        ("frequency_full_load", "59.4 Hz"),
    ):
        job.record(check, answer)
    job.record("floats_high_no_load", "absent")
    return job


def test_a_set_is_not_done_before_what_else_may_be_wrong_was_looked_at() -> None:
    assert WANTED
    job = cured()
    asked: list[str] = []
    for _ in range(len(WANTED)):
        steps = job.next_steps(5)
        assert steps[0].kind == "check", steps[0]
        asked.append(steps[0].id)
        job.record(steps[0].id, KNOWLEDGE.checks[steps[0].id].normal)
    assert job.next_steps(1)[0].kind == "done"
    assert set(WANTED) == set(asked)


def test_a_look_that_cannot_be_made_does_not_keep_a_job_open() -> None:
    job = cured()
    for check in WANTED:
        job.record(check, "unknown")
    assert job.next_steps(1)[0].kind == "done"


@pytest.mark.parametrize(
    ("check", "answer"), [("exhaust_colour", "black"), ("leg_currents", "unbalanced"), ("voltage_steadiness", "wavers")]
)
def test_what_nobody_spoke_of_is_gone_after(check: str, answer: str) -> None:
    job = cured()
    for name in WANTED:
        job.record(name, answer if name == check else KNOWLEDGE.checks[name].normal)
    step = job.next_steps(1)[0]
    assert step.kind in ("check", "remedy"), step
