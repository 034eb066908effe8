"""Kilowatts, amps per leg, neutral and connected loads."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine import AnswerError
from hertzwright.engine.loadtest import load


@pytest.mark.parametrize(("volts", "phases", "legs"), [(240, 1, 2), (120, 1, 1), (208, 3, 3), (230, 1, 2)])
def test_hot_legs(volts: float, phases: int, legs: int) -> None:
    assert load.legs(volts, phases) == legs


def test_two_phases_are_refused() -> None:
    with pytest.raises(ValueError, match="2 phases; expected 1 or 3"):
        load.legs(240, 2)


@given(st.floats(0.1, 100), st.sampled_from([(120.0, 1), (240.0, 1), (208.0, 3), (480.0, 3)]), st.floats(0.1, 1.0))
def test_amps_and_kilowatts_are_each_others_inverse(kilowatts: float, supply: tuple[float, int], factor: float) -> None:
    volts, phases = supply
    amps = load.amps_per_leg(kilowatts, volts, phases, factor)
    assert load.kilowatts_of([amps], volts, phases, factor) == pytest.approx(kilowatts)
    assert load.kilowatts_of([amps] * load.legs(volts, phases), volts, phases, factor) == pytest.approx(kilowatts)


def test_the_number_of_legs_must_fit() -> None:
    with pytest.raises(ValueError, match="3 leg currents; expected 2"):
        load.kilowatts_of([1.0, 2.0, 3.0], 240.0)


@pytest.mark.parametrize("volts", [0.0, -1.0, math.nan, math.inf])
def test_impossible_volts_are_refused(volts: float) -> None:
    with pytest.raises(ValueError, match="expected more than 0"):
        load.amps_per_leg(1.0, volts)


def test_neutral_of_three_phases_is_nothing_when_even_and_the_known_sum_when_not() -> None:
    assert load.neutral_amps((20.0, 20.0, 20.0)) == pytest.approx(0.0, abs=1e-9)
    a, b, c = 30.0, 20.0, 5.0
    assert load.neutral_amps((a, b, c)) == pytest.approx(math.sqrt(a * a + b * b + c * c - a * b - b * c - a * c))


def test_imbalance_is_the_largest_deviation_over_the_mean() -> None:
    assert load.imbalance_percent((10.0, 10.0, 16.0)) == pytest.approx(100.0 * 4.0 / 12.0)
    assert load.imbalance_percent((0.0, 0.0)) == 0.0


def test_power_of_a_resistance_goes_with_the_square_of_the_voltage() -> None:
    assert load.resistive_kilowatts(9.0, 230.0, 240.0) == pytest.approx(9.0 * (230.0 / 240.0) ** 2)
    assert load.resistive_kilowatts(9.0, 120.0, 240.0) == pytest.approx(2.25)


def test_resistive_loads_on_the_legs_add_as_numbers() -> None:
    loads = [
        load.read_connected(text) for text in ("resistive 1.2 kW leg 1", "resistive 600 W leg 2", "resistive 2.4 kW")
    ]
    total = load.add_up(loads, 240.0)
    assert total.kilowatts == pytest.approx(4.2)
    assert total.amps == pytest.approx((20.0, 15.0))  # 10 A from each 120 V load of 1.2 kW, 5 A, and 10 A across
    assert total.neutral == pytest.approx(5.0)
    assert total.power_factor == pytest.approx(1.0)
    assert total.cautions == ()


def test_a_motor_and_a_heater_add_as_vectors() -> None:
    motor, heater = load.read_connected("motor 4 kW pf 0.8"), load.read_connected("resistive 3 kW")
    total = load.add_up([motor, heater], 240.0)
    assert total.kilowatts == pytest.approx(7.0)
    assert total.kilovolt_amperes == pytest.approx(math.hypot(7.0, 3.0))  # 4 kW at 0.8 draws 3 kvar
    assert total.amps == pytest.approx([math.hypot(7.0, 3.0) * 1000.0 / 240.0] * 2)


def test_shaft_horsepower_needs_an_efficiency() -> None:
    motor = load.read_connected("motor 2 hp efficiency 0.75 pf 0.8")
    assert motor.kilowatts == pytest.approx(2 * 0.7457 / 0.75, rel=1e-4)
    with pytest.raises(AnswerError, match="needs efficiency"):
        load.read_connected("motor 2 hp")


def test_a_welder_carries_a_caution_and_kva_counts_its_power_factor() -> None:
    welder = load.read_connected("welder 5 kVA pf 0.5 leg 1")
    assert welder.kilowatts == pytest.approx(2.5)
    assert abs(welder.apparent) == pytest.approx(5.0)
    assert any("inductive" in caution for caution in welder.cautions)
    assert any("welder" in caution for caution in load.add_up([welder, welder], 240.0).cautions)


def test_a_motor_without_a_power_factor_says_what_was_taken() -> None:
    motor = load.read_connected("motor 1.5 kW")
    assert motor.power_factor == load.MOTOR_POWER_FACTOR
    assert any("without a stated power factor" in caution for caution in motor.cautions)


def test_three_phase_loads_are_shared_and_one_leg_is_not() -> None:
    shared = load.add_up([load.read_connected("resistive 9 kW")], 208.0, 3)
    assert shared.amps == pytest.approx([load.amps_per_leg(9.0, 208.0, 3)] * 3)
    assert shared.neutral == pytest.approx(0.0, abs=1e-9)
    alone = load.add_up([load.read_connected("resistive 1.2 kW leg 2")], 208.0, 3)
    assert alone.neutral == pytest.approx(alone.amps[1])


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "is no kind of load"),
        ("moter 2 kW", 'did you mean "motor"'),
        ("resistive", "no power given"),
        ("resistive 3 kW pf 0.8", "power factor 1"),
        ("resistive 3 hp", "horsepower is for motors"),
        ("welder 5 kVA", "needs its power factor"),
        ("resistive 3 kW blue", '"blue" is not understood'),
        ("resistive 3 kW 4 kW", "two values"),
        ("motor 2 kW pf 1.4", "power factor of 1.4"),
        ("motor 2 kW efficiency 0.8", "goes with horsepower"),
        ("resistive 0 kW", "more than 0"),
        ("resistive 3 kW\x1b[31m", "is not understood"),
    ],
)
def test_what_is_not_a_load_is_refused_with_what_was_meant(text: str, told: str) -> None:
    with pytest.raises(AnswerError) as error:
        load.read_connected(text)
    assert told in str(error.value)
    assert "\x1b" not in str(error.value)


def test_a_leg_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match="leg 3; this set has 2"):
        load.add_up([load.read_connected("resistive 1 kW leg 3")], 240.0)


def test_the_neutral_of_three_phases_counts_the_lag_of_an_inductive_load() -> None:
    # 10 A at 0 degrees, and 10 A at -120 - 36.87 degrees (power factor 0.8): 20 cos(78.43 degrees) A.
    volts = 100.0 * math.sqrt(3.0)
    loads = [load.read_connected("resistive 1 kW leg 1"), load.read_connected("inductive 0.8 kW pf 0.8 leg 2")]
    total = load.add_up(loads, volts, 3)
    assert total.amps == pytest.approx((10.0, 10.0, 0.0))
    assert total.neutral == pytest.approx(20.0 * math.cos(math.radians((120.0 + math.degrees(math.acos(0.8))) / 2.0)))
