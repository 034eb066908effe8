"""The governor's statics: laws that hold whatever the numbers, and the set's own governor."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine.simulated import governor
from hertzwright.engine.simulated.governor import SetGovernor

rpms = st.floats(30.0, 4000.0)
travels = st.floats(0.0, 1.0)


@given(rpms)
def test_watt_speed_is_the_inverse_of_its_height(rpm: float) -> None:
    assert governor.watt_speed(governor.watt_height(rpm)) == pytest.approx(rpm)


@given(rpms, st.floats(0.05, 0.5), st.floats(0.2, 8.0))
def test_hartnell_speed_is_the_inverse_of_its_load(rpm: float, radius: float, ball: float) -> None:
    load = governor.hartnell_load(ball, radius, rpm, 0.12, 0.08)
    assert governor.hartnell_speed(load, ball, radius, 0.12, 0.08) == pytest.approx(rpm)


def test_a_porter_governor_without_a_sleeve_is_a_watt_governor() -> None:
    assert governor.porter_speed(0.2, 3.0, 0.0) == pytest.approx(governor.watt_speed(0.2))


@given(st.floats(0.0, 30.0))
def test_friction_lies_on_both_sides_of_the_speed(friction: float) -> None:
    rising, still, falling = (governor.porter_speed(0.2, 5.0, 25.0, friction=f) for f in (friction, 0.0, -friction))
    assert falling <= still <= rising


@given(travels, st.floats(-5.0, 5.0), st.floats(-10.0, 10.0))
def test_weights_and_spring_balance_at_the_balance_speed(travel: float, speed: float, sensitivity: float) -> None:
    made = SetGovernor(speed_turns=speed, sensitivity_turns=sensitivity)
    assert made.weights(made.balance(travel), travel) == pytest.approx(made.spring(travel))


@given(travels, st.floats(0.9, 1.1), st.floats(0.0, 0.05))
def test_the_pull_for_a_speed_gives_that_speed(travel: float, speed: float, boost: float) -> None:
    made = SetGovernor()
    made = replace(made, tension=made.pull_for(speed, travel, boost))
    assert made.balance(travel, boost) == pytest.approx(speed)


def test_sharp_droops_less_and_slack_droops_more() -> None:
    falls = []
    for turns in (-8.0, 0.0, 8.0):
        made = SetGovernor(sensitivity_turns=turns)
        made = replace(made, tension=made.pull_for(1.03, 0.8))
        falls.append(made.balance(0.8) - made.balance(0.4))
    assert falls[0] > falls[1] > falls[2] > 0.0


def test_half_the_dead_band_of_speed_is_what_the_drag_needs() -> None:
    made = SetGovernor()
    band = made.band(0.6, 0.02)
    speed = made.balance(0.6)
    # The speed at which the weights overcome spring and drag, worked out from the forces themselves.
    needed = ((made.spring(0.6) + 0.02) / (made.radius + made.spread * 0.6)) ** 0.5
    assert band == pytest.approx(needed - speed, rel=0.02)


def test_a_slipping_drive_lets_the_set_run_fast() -> None:
    assert SetGovernor(drive_ratio=0.95).balance(0.7) == pytest.approx(SetGovernor().balance(0.7) / 0.95)


def test_the_adjuster_ends_with_its_thread_and_a_spring_cannot_push() -> None:
    assert SetGovernor(speed_turns=50.0).pull == SetGovernor(speed_turns=SetGovernor().thread).pull
    assert SetGovernor(tension=0.0, speed_turns=-5.0).pull == 0.0


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: governor.watt_height(0.0), "rpm of 0; expected more than 0"),
        (lambda: governor.porter_height(0.2, 0.2), "radius of 0.2 with an arm of 0.2; expected less than the arm"),
        (lambda: governor.dead_band(240.0, 20.0, 30.0), "load less friction of -10; expected more than 0"),
        (lambda: governor.porter_speed(0.2, 5.0, 25.0, friction=-900.0), "lifted weight of"),
    ],
)
def test_what_has_no_balance_is_refused_with_its_value(call: object, said: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=said):
        call()
