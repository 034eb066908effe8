"""What the trade knows of fuel, choke and air, held against the words: which of two look-alikes a look speaks for.

Sources: carburetor troubles and automatic choke, NAVEDTRA 14329; choke and mixture, TM 9-8000, para 4-16 and 4-19;
deposits in LP-gas vaporisers, UK safety notice of 2023; Airplane Flying Handbook, p. 16-13; the rest is common practice.
"""

from __future__ import annotations

import pytest

from hertzwright.engine import load_knowledge

KNOWLEDGE = load_knowledge()

SPEAKS_FOR = [
    # check, outcome, the cause it speaks for, its look-alike
    ("start_warm", "hard_to_start", "winter_fuel", "stale_or_wrong_fuel"),
    ("start_cold", "hard_to_start", "stale_or_wrong_fuel", "winter_fuel"),
    ("choke_movement", "drags", "choke_stuck_closed", "choke_set_too_rich"),
    ("choke_housing_warmth", "cold", "choke_heater_dead", "choke_set_too_rich"),
    ("swing_cold", "slow_swing", "vacuum_leak", "vacuum_leak_hot"),
    ("fuel_pump_delivery", "weak", "fuel_pump_weak", "fuel_starvation"),
    ("line_cooling_trial", "picks_up", "vapour_lock", "fuel_starvation"),
    ("float_needle_shut_off", "leaks", "float_needle_leaking", "float_level_wrong"),
    ("gas_regulator_frost", "frosted", "gas_regulator_freezing", "gas_pressure_low"),
    ("start_cold", "will_not_start", "gas_pressure_high", "main_mixture_rich"),
    ("air_cleaner_look", "clogged", "air_cleaner_clogged", "main_mixture_rich"),
    ("popping_loaded", "spits_back", "main_mixture_lean", "main_mixture_rich"),
    ("popping_loaded", "bangs_in_exhaust", "misfire_one_cylinder", "main_mixture_lean"),
    ("oil_level", "over_full", "oil_over_full", "low_compression"),
]


@pytest.mark.parametrize(("check", "outcome", "cause", "other"), SPEAKS_FOR)
def test_a_look_speaks_for_one_of_two_look_alikes(check: str, outcome: str, cause: str, other: str) -> None:
    here = KNOWLEDGE.likelihood(check, outcome, frozenset({cause}))
    there = KNOWLEDGE.likelihood(check, outcome, frozenset({other}))
    assert here >= 1.8 * there, (here, there)


@pytest.mark.parametrize(
    ("features", "cause"),
    [
        ({"fuel": "lp_gas"}, "float_needle_leaking"),
        ({"fuel": "natural_gas"}, "vapour_lock"),
        ({"fuel": "gasoline"}, "gas_pressure_low"),
        ({"fuel": "natural_gas"}, "gas_regulator_freezing"),
        ({"choke": "electric"}, "choke_left_part_shut"),
        ({"choke": "manual"}, "choke_set_too_rich"),
        ({"temperature": 70}, "too_cold_to_start"),
    ],
)
def test_a_set_cannot_have_what_it_has_no_part_for(features: dict[str, str], cause: str) -> None:
    assert KNOWLEDGE.prior(cause, features) == 0.0


def test_height_and_heat_make_their_causes_more_common() -> None:
    for cause, usual, there in (
        ("set_for_lower_place", {"altitude": 500}, {"altitude": 6000}),
        ("vapour_lock", {"temperature": 70}, {"temperature": 95}),
        ("gas_regulator_freezing", {"fuel": "lp_gas", "temperature": 70}, {"fuel": "lp_gas", "temperature": 30}),
    ):
        assert KNOWLEDGE.prior(cause, there) > 2.0 * KNOWLEDGE.prior(cause, usual), cause
