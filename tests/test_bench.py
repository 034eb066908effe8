"""The bench answers every check of the knowledge as a technician would, and remedies mend what they cure."""

from __future__ import annotations

import re

import pytest

from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.readings.reading import read_answer
from hertzwright.engine.simulated.bench import CHECKS, Bench
from hertzwright.engine.simulated.equilibrium import equilibrium
from hertzwright.engine.simulated.faults import FAULTS, FaultError
from hertzwright.engine.simulated.observation import UNKNOWN, level, peak_to_peak, rhythm, smooth

from tiers import some


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def bench(knowledge: Knowledge, *faults: tuple[str, float], seed: int = 1, hide: float = 0.0, **features: str) -> Bench:
    return Bench(knowledge.features(features), faults, seed, hide)


def outcomes(knowledge: Knowledge, made: Bench, check: str) -> tuple[str, ...]:
    return read_answer(knowledge.checks[check], made.answer(check), made.features).outcomes


def test_the_checks_are_those_of_the_knowledge(knowledge: Knowledge) -> None:
    assert set(CHECKS) == {check.id for check in knowledge.checks.values() if check.retired is None}


@pytest.mark.parametrize(
    "features",
    [
        {},
        pytest.param({"booster": "none"}, marks=pytest.mark.nightly),
        {"hertz": "50", "cylinders": "1"},
        {"phases": "3", "volts": "208", "rated_kw": "25", "cylinders": "4", "booster": "none"},
        pytest.param({"choke": "manual", "fuel": "lp_gas", "altitude": "3000"}, marks=pytest.mark.nightly),
        pytest.param({"altitude": "8000"}, marks=pytest.mark.nightly),
    ],
    ids=str,
)
def test_a_sound_set_shows_nothing_abnormal(knowledge: Knowledge, features: dict[str, str]) -> None:
    made = bench(knowledge, **features)
    for check in knowledge.checks.values():
        if knowledge.applies(check.id, made.features) and made.answer(check.id) != UNKNOWN:
            assert check.normal in outcomes(knowledge, made, check.id), (check.id, made.answer(check.id))


@pytest.mark.parametrize("cause", some(FAULTS, 28))
def test_every_answer_is_one_that_the_check_takes(knowledge: Knowledge, cause: str) -> None:
    made = bench(knowledge, (cause, 1.0), hide=0.5)
    for check in knowledge.checks.values():
        if knowledge.applies(check.id, made.features):
            outcomes(knowledge, made, check.id)  # raises where it does not


@pytest.mark.parametrize(
    ("cause", "severity", "check", "outcome"),
    [
        ("throttle_rod_long", 0.7, "throttle_rest_no_load", "arm_at_end_of_travel"),
        ("throttle_rod_long", 0.7, "wide_open_stop_gap", "none"),
        ("throttle_rod_short", 0.7, "wide_open_stop_gap", "wide"),
        ("throttle_rod_short", 0.9, "full_power_hold", "falls_away"),
        ("throttle_stop_open", 0.7, "throttle_rest_no_load", "against_closed_stop"),
        ("throttle_stop_open", 0.4, "frequency_no_load", "high"),
        ("throttle_stop_open", 0.7, "frequency_half_load", "right"),
        ("linkage_worn", 0.8, "swing_no_load", "slow_swing"),
        ("linkage_worn", 0.8, "swing_full_load", "steady"),
        ("linkage_worn", 0.8, "hold_throttle_still", "goes_steady"),
        ("linkage_binding", 0.9, "no_load_repeatability", "wanders"),
        ("sensitivity_sharp", 0.6, "swing_no_load", "slow_swing"),
        ("sensitivity_sharp", 0.2, "sensitivity_trial", "swing_stops"),
        ("sensitivity_sluggish", 0.6, "frequency_spread", "wide"),
        ("sensitivity_sluggish", 0.6, "swing_no_load", "steady"),
        ("governor_drive_worn", 0.6, "swing_no_load", "fast_jiggle"),
        ("booster_diaphragm_leak", 0.9, "frequency_no_load", "high"),
        ("booster_set_strong", 0.9, "frequency_spread", "rises"),
        ("booster_set_weak", 0.9, "frequency_spread", "wide"),
        ("booster_set_weak", 0.95, "booster_disconnect_trial", "no_change"),
        ("idle_mixture_lean", 0.7, "swing_no_load", "slow_swing"),
        ("idle_mixture_lean", 0.7, "swing_half_load", "steady"),
        ("idle_mixture_lean", 0.7, "part_choke_trial", "smooths_out"),
        ("idle_mixture_lean", 0.7, "idle_needle_trial", "better_richer"),
        ("idle_mixture_lean", 0.9, "hold_throttle_still", "still_swings"),
        ("idle_passage_dirty", 0.7, "idle_needle_trial", "no_response"),
        ("main_mixture_lean", 0.7, "main_needle_trial", "better_richer"),
        ("main_mixture_rich", 0.7, "main_needle_trial", "better_leaner"),
        ("choke_stuck_closed", 0.9, "choke_plate_warm", "part_open"),
        ("choke_slow_opening", 0.9, "swing_cold", "erratic"),
        ("fuel_starvation", 0.7, "full_power_hold", "falls_away"),
        ("misfire_one_cylinder", 0.9, "cylinder_drop_trial", "one_makes_no_difference"),
        ("overload", 0.7, "leg_currents", "over_rating"),
        ("load_cycles", 0.7, "swing_half_load", "slow_swing"),
        ("load_cycles", 0.7, "swing_no_load", "steady"),
        ("meter_wrong", 0.5, "second_meter", "disagrees"),
        ("voltage_regulator_unstable", 0.7, "voltage_steadiness", "wavers"),
        ("return_spring_weak", 0.7, "return_spring_look", "weak_or_off"),
        ("return_spring_weak", 0.9, "linkage_feel", "loose"),
        ("governor_spring_hole_near", 0.8, "swing_no_load", "slow_swing"),
        ("governor_belt_slipping", 0.7, "frequency_no_load", "high"),
        ("governor_oil_low", 0.9, "governor_oil_look", "foaming"),
        ("damper_weak", 0.8, "swing_no_load", "slow_swing"),
        ("damper_strong", 0.4, "throttle_rest_no_load", "arm_at_end_of_travel"),
        ("damper_strong", 0.9, "return_after_load", "late"),
        ("idle_control_faulty", 0.4, "frequency_no_load", "low"),
        ("condenser_weak", 0.7, "spark_under_load", "all_weak"),
        ("misfire_one_cylinder", 0.7, "spark_under_load", "one_skips"),
        ("ignition_timing_wrong", 0.6, "engine_heat", "hot"),
        ("ignition_timing_wrong", 0.6, "ignition_timing", "late"),
        ("engine_mounts_loose", 0.7, "frame_shake", "shakes_too_much"),
        ("misfire_one_cylinder", 0.9, "frame_shake", "shakes_too_much"),
        ("brushes_worn", 0.7, "voltage_steadiness", "wavers"),
        ("diodes_failed", 0.7, "voltage_full_load", "low"),
        ("booster_set_weak", 0.7, "booster_spring_pull", "weak"),
        ("sensitivity_sluggish", 0.6, "frequency_fall_loaded", "wide"),
        ("throttle_stop_open", 0.7, "frequency_fall_loaded", "within"),
    ],
)
def test_a_cause_shows_as_the_trade_knows_it(
    knowledge: Knowledge, cause: str, severity: float, check: str, outcome: str
) -> None:
    made = bench(knowledge, (cause, severity))
    assert outcome in outcomes(knowledge, made, check), made.answer(check)


def test_the_meter_is_a_cheap_one_and_a_second_look_differs_by_its_noise_only(knowledge: Knowledge) -> None:
    made = bench(knowledge)
    readings = [made.answer("frequency_no_load", look) for look in range(12)]
    assert all(re.fullmatch(r"\d\d\.\d Hz", reading) for reading in readings)
    values = [float(reading.split()[0]) for reading in readings]
    assert max(values) - min(values) <= 0.25
    assert made.answer("frequency_no_load", 3) == readings[3]


def test_the_same_seed_deals_the_same_set(knowledge: Knowledge) -> None:
    first, again = (bench(knowledge, ("linkage_worn", 0.6), seed=9) for _ in range(2))
    assert [first.answer(check) for check in CHECKS] == [again.answer(check) for check in CHECKS]


def test_a_trial_of_a_swing_says_nothing_on_a_steady_set(knowledge: Knowledge) -> None:
    made = bench(knowledge)
    for check in ("hold_throttle_still", "sensitivity_trial", "regulator_fixed_trial"):
        assert made.answer(check) == UNKNOWN


def test_a_remedy_takes_its_cause_away_and_the_set_is_sound_again(knowledge: Knowledge) -> None:
    made = bench(knowledge, ("linkage_worn", 0.9))
    mended = made.carry_out({"linkage_worn": 1.0})
    assert mended.faults == ()
    assert outcomes(knowledge, mended, "swing_no_load") == ("steady",)
    assert made.faults == (("linkage_worn", 0.9),)


def test_another_remedy_leaves_it(knowledge: Knowledge) -> None:
    made = bench(knowledge, ("linkage_worn", 0.9))
    assert made.carry_out({"linkage_binding": 1.0}).faults == made.faults
    assert made.carry_out({"linkage_worn": 0.0}).faults == made.faults


def test_the_speed_that_hid_a_fault_is_wrong_once_it_is_gone_and_is_then_reset(knowledge: Knowledge) -> None:
    made = bench(knowledge, ("booster_diaphragm_leak", 1.0), hide=1.0)
    assert outcomes(knowledge, made, "frequency_no_load") == ("right",)
    mended = made.carry_out({"booster_diaphragm_leak": 1.0})
    assert outcomes(knowledge, mended, "frequency_no_load") == ("low",)
    cures = knowledge.remedies["set_no_load_speed"].cures
    reset = mended.carry_out(cures)
    assert equilibrium(reset.plant).speed * 60.0 == pytest.approx(61.7, abs=0.1)
    assert outcomes(knowledge, reset, "frequency_full_load") == ("right",)


def test_a_remedy_that_ends_with_the_speed_set_leaves_no_wrong_speed_behind(knowledge: Knowledge) -> None:
    made = bench(knowledge, ("linkage_worn", 0.9), ("speed_set_high", 0.8))
    mended = made.carry_out({"linkage_worn": 1.0}, then=["speed_set_high"])
    assert mended.faults == ()
    assert outcomes(knowledge, mended, "frequency_no_load") == ("right",)


def test_setting_the_speed_without_success_leaves_it_wrong(knowledge: Knowledge) -> None:
    made = bench(knowledge, ("speed_set_high", 0.8))
    tried = made.carry_out({"speed_set_high": 0.0, "speed_set_low": 0.0})
    assert tried.faults == made.faults
    assert outcomes(knowledge, tried, "frequency_no_load") == outcomes(knowledge, made, "frequency_no_load")
    assert "right" not in outcomes(knowledge, tried, "frequency_no_load")


def test_a_speed_set_wrong_is_cured_by_setting_it(knowledge: Knowledge) -> None:
    made = bench(knowledge, ("speed_set_low", 0.8))
    assert outcomes(knowledge, made, "frequency_no_load") == ("low",)
    mended = made.carry_out({"speed_set_low": 1.0, "speed_set_high": 1.0})
    assert outcomes(knowledge, mended, "frequency_no_load") == ("right",)


def test_what_the_bench_says_leads_the_job_to_the_cause(knowledge: Knowledge) -> None:
    # A whole job with nothing but the bench's answers: the true cause comes to the top.
    made = bench(knowledge, ("idle_mixture_lean", 0.8))
    job = Job(knowledge, {})
    for check in ("swing_no_load", "swing_half_load", "part_choke_trial", "hold_throttle_still", "idle_needle_trial"):
        job.record(check, made.answer(check))
    posterior = job.posterior()
    assert max(posterior, key=lambda cause: posterior[cause]) == "idle_mixture_lean"


def test_a_check_that_does_not_exist_is_refused(knowledge: Knowledge) -> None:
    with pytest.raises(FaultError, match='"no_such_check" is no check that the simulated set can answer'):
        bench(knowledge).answer("no_such_check")


def test_reading_a_swing_from_a_record() -> None:
    import math

    beat = [60.0 + math.sin(2.0 * math.pi * place / 20.0) for place in range(600)]
    ramp = [60.0 - 0.01 * place for place in range(600)]
    assert peak_to_peak(beat, 1) == pytest.approx(2.0, abs=0.05)
    assert rhythm(beat) > 0.9
    assert max(level(ramp)) - min(level(ramp)) == pytest.approx(0.0, abs=1e-6)
    assert smooth([1.0, 2.0, 3.0, 4.0], 2) == [1.5, 2.5, 3.5]
