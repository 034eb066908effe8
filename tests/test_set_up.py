"""Set-up states: what going between them costs, and how a set stands when the technician comes.

Outside source: that a settled reading needs about 15 minutes of running from cold, TM 5-4110-234-14 p. 4-83, c(1).
"""

from __future__ import annotations

from itertools import product

import pytest

from hertzwright.engine import Job, load_knowledge

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
