"""What altitude and heat leave: each rule, and that they are kept apart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine import AnswerError
from hertzwright.engine.loadtest import derating
from hertzwright.engine.loadtest.derating import DEFAULT_RULE, RULES, Site, compare, derate, vapour_pressure

NAMES = [name for name in RULES if name != "none"]


@pytest.mark.parametrize("name", RULES)
def test_every_rule_has_a_title_a_source_and_a_note(name: str) -> None:
    found = derate(Site(5000.0, 80.0), name)
    assert found.rule == name
    assert found.title
    assert found.source
    assert found.note


@given(st.sampled_from(NAMES), st.floats(0, 12000), st.floats(0, 3000), st.floats(-20, 110))
def test_no_rule_gives_more_power_higher_up(name: str, feet: float, more: float, fahrenheit: float) -> None:
    lower, higher = derate(Site(feet, fahrenheit), name), derate(Site(feet + more, fahrenheit), name)
    assert higher.factor <= lower.factor + 1e-12


@given(st.sampled_from(NAMES), st.floats(0, 10000), st.floats(-20, 90), st.floats(0, 30))
def test_no_rule_gives_more_power_in_the_heat(name: str, feet: float, fahrenheit: float, more: float) -> None:
    assert derate(Site(feet, fahrenheit + more), name).factor <= derate(Site(feet, fahrenheit), name).factor + 1e-12


def test_a_rating_is_not_raised_by_cold_air() -> None:
    found = derate(Site(0.0, 0.0), "sae_j1349")
    assert found.factor > 1.0
    assert found.usable == 1.0


def test_the_rule_of_thumb() -> None:
    assert derate(Site(4000.0, 90.0), "rule_of_thumb").factor == pytest.approx(1.0 - 0.14 - 0.03)


def test_the_military_table_counts_nothing_below_4000_ft_and_35_c() -> None:
    assert derate(Site(4000.0, 95.0), "military_2kw").factor == pytest.approx(1.0)
    assert derate(Site(4328.0, 95.0), "military_2kw").factor == pytest.approx(1.0 - 0.013)


def test_j1349_at_its_reference_is_one() -> None:
    assert derating.sae_j1349_factor(99.0, 25.0) == pytest.approx(1.0)


def test_iso_3046_at_its_reference_is_one() -> None:
    found = derating.iso_3046_1(100.0, 298.0, 0.30, 3.2)
    assert (found.k, found.alpha, found.beta) == pytest.approx((1.0, 1.0, 1.0))


def test_a_barometer_reading_takes_the_place_of_the_altitude() -> None:
    by_height = derate(Site(5000.0, 70.0)).factor
    by_gauge = derate(Site(0.0, 70.0, kilopascals=derating.standard_atmosphere(5000.0).kilopascals)).factor
    assert by_gauge == pytest.approx(by_height)


def test_humid_air_leaves_less() -> None:
    for rule in ("sae_j1349", "iso_3046_1"):
        assert derate(Site(0.0, 95.0, humidity=1.0), rule).factor < derate(Site(0.0, 95.0, humidity=0.0), rule).factor


def test_vapour_pressure_at_points_of_the_steam_table() -> None:
    # Steam table, from memory: 2.339 kPa at 20 C and 7.384 kPa at 40 C.
    assert vapour_pressure(20.0) == pytest.approx(2.339, rel=0.003)
    assert vapour_pressure(40.0) == pytest.approx(7.384, rel=0.004)


def test_rules_are_compared_least_first_and_the_default_lies_between() -> None:
    found = compare(Site(5000.0, 70.0))
    assert {item.rule for item in found} == set(NAMES)
    factors = [item.factor for item in found]
    assert factors == sorted(factors)
    assert factors[0] < derate(Site(5000.0, 70.0), DEFAULT_RULE).factor < factors[-1]


def test_an_unknown_rule_is_refused_with_the_near_one() -> None:
    with pytest.raises(AnswerError, match='did you mean "sae_j1349"'):
        derate(Site(0.0, 70.0), "sae_j1394")


def test_a_height_beyond_the_atmosphere_is_refused() -> None:
    with pytest.raises(AnswerError, match="expected -5000 to 36089 ft"):
        derate(Site(40000.0, 70.0), "sae_j1349")
    with pytest.raises(AnswerError, match="leaves nothing"):
        derate(Site(35000.0, 70.0), "three_percent")
