"""The course of setting against what is published: each row of the order in which a governor set is put right.

Sources stand beside each row by title or number and section; restated in our own words. Where our course goes another
way on purpose, the row says why. Rows marked common practice are a trade fact that no page was seen for.
"""

from __future__ import annotations

import pytest

from hertzwright.engine import load_knowledge
from hertzwright.engine.setting import course_of

KNOWLEDGE = load_knowledge()
FEATURES = KNOWLEDGE.features({"anti_surge": "screw", "idle_control": "fitted"})
COURSE = course_of(KNOWLEDGE, FEATURES, ["overload_held"])

# The order of the published facts put together, stage by stage; the steps of ours that do what a stage does.
STAGES = [
    # Automobile handbook (1918), chapter XLII; TM 5-3810-288-12, near fig 3-49; TM 55-4920-405-13&P, fig 4-29
    (
        "basics",
        ["fuel_and_oil_seen", "fuel_comes", "air_way_open", "plugs_clean", "ignition_ready", "hoses_tight", "engine_runs_on_all"],
    ),
    # TM 5-4320-258-12, before para 4-26; TM 5-4110-234-14, p. 4-82, b
    ("free", ["linkage_made_free", "arm_clamped", "governor_driven"]),
    # TM 55-4920-405-13&P, carburetor repair c; TM 5-4320-218-15, governor para b; TM 5-4110-234-14, p. 4-83, c(3)
    (
        "stopped",
        ["wide_open_reached", "idle_needle_at_start", "main_needle_at_start", "spring_hooked", "rod_length_matched"],
    ),
    # TM 5-4110-234-14, p. 4-83, c(1): to working temperature
    ("warm", ["speed_brought_near", "choke_opens_warm"]),
    # TM 10-3930-633-12, before para 4-59; TM 5-4110-234-14, p. 4-83, c(2): no load, then load
    ("carburetor", ["idle_mixture_set", "main_mixture_set"]),
    # TM 5-4110-234-14, p. 4-83, c(4) and c(5)
    ("speed and fall", ["no_load_speed_set", "fall_set"]),
    # TM 5-4320-258-12, p. 4-17, a (5) and (6): surge screw once carburetor and linkage are right
    ("surge screw", ["surge_screw_touches"]),
    # TM 5-6115-332-14, chapter 8, section III; TM 5-6115-545-34, para 16-24 (c); TM 5-6115-457-34, start-stop test
    (
        "lock and prove",
        ["nuts_locked", "proof_no_load", "proof_by_quarters", "proof_by_steps", "proof_held", "overload_held", "proof_restart"],
    ),
    # TM 5-3820-256-24-2, para 4-9.8.2 b; TM 5-6115-332-14, chapter 8, section III b (4)
    ("record and seal", ["closed_up"]),
]  # fmt: skip
ANOTHER_WAY = {
    "engine_runs_on_all": "compression and firing are seen at the vacuum gauge and by cutting out cylinders, on a set that runs",
}


def test_no_step_of_an_earlier_stage_waits_for_one_of_a_later() -> None:
    for at, (_, steps) in enumerate(STAGES):
        for _, later in STAGES[at + 1 :]:
            for step in steps:
                for other in later:
                    assert other not in COURSE.before[step] or step in ANOTHER_WAY, (step, other)
    # What is said to go another way does so.
    assert all("speed_brought_near" in COURSE.before[step] for step in ANOTHER_WAY)


def test_every_step_but_ours_alone_stands_in_a_stage() -> None:
    ours = {
        # No page was seen for these; common practice, and for the booster US 5003949 gives the principle alone.
        "choke_moves", "choke_closed_cold", "closed_stop_touches", "booster_whole", "booster_at_start", "booster_set",
        "meter_agrees", "idle_control_clear", "first_start_seen", "voltage_seen_steady", "no_ice_grows",
        "jetted_for_this_height",
    }  # fmt: skip
    assert {step for _, steps in STAGES for step in steps} | ours == set(COURSE.steps)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("linkage_made_free", "no_load_speed_set"),  # TM 5-4110-234-14, p. 4-82, b; TM 5-4320-248-15, para 5.2.2.13.2
        ("linkage_made_free", "idle_mixture_set"),  # TM 5-5065, para 205: levers and rods before governor or carburetor
        ("choke_opens_warm", "no_load_speed_set"),  # TM 5-4110-234-14, p. 4-83, c(1): warm before the governor
        ("idle_mixture_set", "no_load_speed_set"),  # the same, c(2) before c(4)
        ("rod_length_matched", "no_load_speed_set"),  # the same, c(3) before c(4); TM 5-3431-205-15, para g
        ("no_load_speed_set", "fall_set"),  # the same, c(4) before c(5)
        ("spring_hooked", "rod_length_matched"),  # TM 5-4320-218-15, governor para b (1)-(3)
        ("wide_open_reached", "rod_length_matched"),  # TM 5-3431-205-15, para g
        ("engine_runs_on_all", "idle_mixture_set"),  # Rathbun, article 113; NAVEDTRA 14076, p. 4-2, step 2
        ("idle_needle_at_start", "idle_mixture_set"),  # TM 10-3930-633-12: a bench setting is a start alone
        ("idle_mixture_set", "main_mixture_set"),  # no load, then load: TM 10-3930-633-12, before para 4-59
        ("fall_set", "surge_screw_touches"),  # TM 5-4320-258-12, p. 4-17; TM 10-3930-621-34, para 4-14
        ("linkage_made_free", "surge_screw_touches"),  # TM 5-4320-258-12, p. 4-17, a (5) and (6)
        ("idle_control_clear", "no_load_speed_set"),  # TM 5-3820-256-24-2, para 4-9.8.1
        ("meter_agrees", "no_load_speed_set"),  # common practice
        ("fall_set", "booster_set"),  # common practice; no government page, US 5003949 for the principle
        ("surge_screw_touches", "nuts_locked"),  # TM 5-4320-258-12, p. 4-17: locks last
        ("nuts_locked", "proof_restart"),  # TM 5-3810-300-24&P-3, adjustment no. 7: stop and start after the last lock
        ("proof_by_quarters", "overload_held"),  # TM 5-6115-332-14, chapter 8, section III a: full load, then overload
    ],
)
def test_what_is_published_to_come_first_comes_first(before: str, after: str) -> None:
    assert before in COURSE.before[after]


@pytest.mark.parametrize(
    ("worked", "again"),
    [
        # TM 5-6115-593-34, para 12-3 e, and TM 5-4320-300-14, p. 5-43 note: speed again after droop
        ("set_sensitivity", "frequency_no_load"),
        # TM 5-4110-234-14, p. 4-83, c(3) before c(4)
        ("set_rod_length", "frequency_no_load"),
        # TM 5-4320-300-14, p. 5-43 note
        ("renew_governor_spring", "frequency_no_load"),
        # TM 5-3805-257-14P, step 11, recheck after rod and springs (diesel; the order carries over)
        ("refit_governor_spring", "wide_open_stop_gap"),
    ],
)
def test_what_is_published_to_be_read_again_is_read_again(worked: str, again: str) -> None:
    told = {check for checks in COURSE.disturbed(worked).values() for check in checks}
    own = {other for name, works in COURSE.works.items() if worked in works for other in COURSE.steps[name].disturbs}
    assert again in told | {check for name in own for check in COURSE.checks[name]}


def test_starting_positions_are_those_that_are_published() -> None:
    """TM 55-4920-405-13&P, carburetor repair c: idle needle 1 1/2 turns; TM 10-3930-633-12: 1 turn; both only a start.
    The main needle, about 1 to 1 1/4 turns, and 1/32 in at the wide-open stop are common practice."""
    steps = KNOWLEDGE.catalogue.setting
    assert steps["idle_needle_at_start"].start == 1.5
    assert steps["main_needle_at_start"].start is not None
    assert 1.0 <= steps["main_needle_at_start"].start <= 1.25
    bands = KNOWLEDGE.checks["wide_open_stop_gap"].reading
    assert bands is not None
    right = next(band for band in bands.bands if "right" in band.outcomes)
    assert right.low <= 1 / 32 <= right.high


def test_an_overload_is_never_more_than_a_quarter_nor_longer_than_five_minutes() -> None:
    """TM 5-6115-593-34, p. 16-22: not above 125 percent; TM 5-6115-545-34, para 16-24 (c): 125 percent, five minutes."""
    said = " ".join(KNOWLEDGE.catalogue.setting["overload_held"].how)
    assert "125 percent" in said
    assert "five minutes at most" in said
    assert "Leave it out where the book of the set does not allow it" in said


def test_the_proof_reads_what_is_published_to_be_read() -> None:
    """TM 5-6115-332-14, chapter 8, section III b: voltage, frequency at each load; TM 5-6115-457-34: load in quarters;
    UFGS-16237N, 2.6.3.4: rated load off and on; TM 5-6115-457-34: start and stop."""
    proof = {check for name, step in COURSE.steps.items() if step.last for check in COURSE.checks[name]}
    assert proof >= {
        "frequency_no_load", "frequency_quarter_load", "frequency_full_load", "voltage_no_load", "voltage_full_load",
        "load_step_dip", "load_step_recovery", "load_drop_overshoot", "full_power_hold", "start_warm",
        "swing_no_load", "swing_half_load", "swing_full_load", "exhaust_colour",
    }  # fmt: skip
