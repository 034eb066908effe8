"""The statics of the set's governor: laws that hold whatever the numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine.simulated.governor import SetGovernor

travels = st.floats(0.0, 1.0)


@given(travels, st.floats(-5.0, 5.0), st.floats(-10.0, 10.0))
def test_weights_and_spring_balance_at_the_balance_speed(travel: float, speed: float, sensitivity: float) -> None:
    made = SetGovernor(speed_turns=speed, sensitivity_turns=sensitivity)
    assert made.weights(made.balance(travel), travel) == pytest.approx(made.spring(travel))


def test_sharp_droops_less_and_slack_droops_more() -> None:
    falls = []
    for turns in (-8.0, 0.0, 8.0):
        made = SetGovernor(sensitivity_turns=turns)
        # The tension that balances 1.03 of rated speed at this travel.
        tension = made.weights(1.03, 0.8) / made.lever - made.rate * made.lever * 0.8
        made = replace(made, tension=tension)
        falls.append(made.balance(0.8) - made.balance(0.4))
    assert falls[0] > falls[1] > falls[2] > 0.0


def test_a_slipping_drive_lets_the_set_run_fast() -> None:
    assert SetGovernor(drive_ratio=0.95).balance(0.7) == pytest.approx(SetGovernor().balance(0.7) / 0.95)


def test_the_adjuster_ends_with_its_thread_and_a_spring_cannot_push() -> None:
    assert SetGovernor(speed_turns=50.0).pull == SetGovernor(speed_turns=SetGovernor().thread).pull
    assert SetGovernor(tension=0.0, speed_turns=-5.0).pull == 0.0
