"""Worked examples that others have printed: inputs and results restated here, each with its source beside it.

`relative` is how closely the printed figures are to be met: half a step of their last digit, or so.
Two kinds: the book prints the answer; or only the rule is published, and then the figure is our own arithmetic by hand.
"""

from __future__ import annotations

import math

import pytest

from hertzwright.engine.loadtest import derating, load
from hertzwright.engine.readings import regulation


def test_hubert_example_9_2_governor_speed_regulation() -> None:
    # C. I. Hubert, Electric Machines, Example 9.2, p. 351: 61.2 Hz with no load, 60 Hz at 500 kW; 0.02.
    assert regulation.droop_percent(61.2, 60.0, 60.0) / 100.0 == pytest.approx(0.02, rel=0.006)


def test_kosow_example_4_20_speed_regulation() -> None:
    # I. Kosow, Electric Machinery and Transformers, Example 4-20, p. 121: 1800 rpm at full load, 1980 rpm with no load, 10 %.
    assert regulation.speed_regulation_percent(1980.0, 1800.0) == pytest.approx(10.0, rel=0.006)


def test_keswani_example_9_16_power_by_the_barometer() -> None:
    # H. B. Keswani, Internal Combustion Engines, Example 9.16, p. 229: 43.04 hp at 76 cm Hg; 35 hp at 1524 m.
    assert 43.04 * derating.barometer_rule(1524.0, 76.0) == pytest.approx(35.0, rel=0.006)


def test_mathur_and_sharma_example_27_1_site_power_by_iso_3046() -> None:
    # Mathur and Sharma, Internal Combustion Engine, Example 27.1, p. 483: 500 kW, 220 g/kWh at reference; site 87 kPa,
    # 318 K, 80 %, saturation 9.6 kPa; 366.8 kW and 228.8 g/kWh.
    found = derating.iso_3046_1(87.0, 318.0, 0.8, 9.6, mechanical_efficiency=0.85, m=1.0, n=0.75, a=1.0)
    assert 500.0 * found.alpha == pytest.approx(366.8, rel=0.006)
    assert 220.0 * found.beta == pytest.approx(228.8, rel=0.006)


@pytest.mark.parametrize(("poles", "rpm"), [(4, 1800.0), (2, 3600.0), (6, 1200.0)])
def test_rpm_from_frequency_and_poles(poles: int, rpm: float) -> None:
    # TM 5-6115-584-34, para 7-1: 4 poles at 1800 rpm are 60 Hz; Hubert, Example 9.1: 2 poles, 60 Hz, 3600 rpm.
    assert regulation.frequency_of(rpm, poles) == pytest.approx(60.0)


@pytest.mark.parametrize(
    ("poles", "rpm", "hertz"), [(4, 1854, 61.8), (4, 1860, 62.0), (4, 1890, 63.0), (2, 3780, 63.0)]
)
def test_frequency_from_rpm(poles: int, rpm: float, hertz: float) -> None:
    # The same rule, f = poles rpm / 120, at the speeds of a set with no load.
    assert regulation.frequency_of(rpm, poles) == pytest.approx(hertz)


def test_military_2kw_table() -> None:
    # TM 9-6115-673-13&P, Table 2-3, our arithmetic: 2000 W at 6000 ft and 45 C leaves 1781.5 W.
    height, heat = derating.military_2kw_losses(6000.0, 45.0)
    assert 2000.0 * height == pytest.approx(158.5, abs=0.05)
    assert 2000.0 * heat == pytest.approx(60.0, abs=0.05)
    site = derating.Site(6000.0, 45.0 * 9 / 5 + 32)
    assert 2000.0 * derating.derate(site, "military_2kw").factor == pytest.approx(1781.5, abs=0.05)


def test_sae_j1349_at_5000_ft() -> None:
    # SAE J1349, June 1990 form, our arithmetic: dry standard air at 5000 ft, 84.31 kPa and 5.09 C.
    factor = derating.sae_j1349_factor(84.31, 5.09)
    assert factor == pytest.approx(1.1586, abs=0.0001)
    assert 1.0 / factor == pytest.approx(0.8631, abs=0.0001)


def test_full_load_amps() -> None:
    # Definitions P = V I pf and P = sqrt(3) V I pf, our arithmetic: 15 kW at 240 V single phase, 208 V three phase.
    assert load.amps_per_leg(15.0, 240.0) == pytest.approx(62.5)
    assert load.amps_per_leg(15.0, 240.0, 1, 0.8) == pytest.approx(78.125)
    assert load.amps_per_leg(15.0, 208.0, 3, 0.8) == pytest.approx(52.045, abs=0.001)


def test_neutral_of_unequal_legs() -> None:
    # Legs in phase at unity power factor, our arithmetic: 70 and 40 A at 120/240 V.
    assert load.neutral_amps((70.0, 40.0)) == pytest.approx(30.0)
    assert load.kilowatts_of((70.0, 40.0), 240.0) == pytest.approx(13.2)
    assert load.imbalance_percent((70.0, 40.0)) == pytest.approx(27.27, abs=0.005)


def test_a_frequency_record_reduced_by_the_military_method() -> None:
    # TM 9-6115-464-34, para 4-14 definitions, our numbers: 61.8 to 60.0 Hz, band 0.6 Hz,
    # 1.5 Hz below the edge of the new band.
    assert regulation.droop_percent(61.8, 60.0, 60.0) == pytest.approx(3.0)
    assert regulation.maximum_variation_percent(0.6, 60.0) == pytest.approx(0.5)
    assert regulation.undershoot_percent(60.0 - 0.3 - 1.5, 60.0, 0.6, 60.0) == pytest.approx(2.5)


# ICAO and US Standard Atmosphere 1976: feet, degrees Celsius, kPa, kg/m3, density ratio.
ATMOSPHERE_FEET = [
    (0, 15.0, 101.33, 1.2250, 1.0),
    (1000, 13.02, 97.72, 1.1896, 0.9711),
    (2000, 11.04, 94.21, 1.1549, 0.9428),
    (3000, 9.06, 90.81, 1.1210, 0.9151),
    (4000, 7.08, 87.51, 1.0879, 0.8881),
    (5000, 5.09, 84.31, 1.0555, 0.8617),
    (6000, 3.11, 81.20, 1.0239, 0.8359),
    (8000, -0.85, 75.26, 0.9629, 0.7860),
    (10000, -4.81, 69.68, 0.9046, 0.7385),
]
ATMOSPHERE_METRES = [
    (500, 11.75, 95.46, 1.1673, 0.9529),
    (1000, 8.5, 89.87, 1.1116, 0.9075),
    (1500, 5.25, 84.56, 1.0581, 0.8637),
    (2000, 2.0, 79.50, 1.0065, 0.8216),
    (3000, -4.5, 70.11, 0.9091, 0.7421),
]


@pytest.mark.parametrize(
    ("feet", "celsius", "kilopascals", "density", "ratio"),
    ATMOSPHERE_FEET + [(metres / 0.3048, *rest) for metres, *rest in ATMOSPHERE_METRES],
)
def test_standard_atmosphere(feet: float, celsius: float, kilopascals: float, density: float, ratio: float) -> None:
    air = derating.standard_atmosphere(feet)
    assert air.celsius == pytest.approx(celsius, abs=0.006)
    assert air.kilopascals == pytest.approx(kilopascals, abs=0.006)
    assert air.density == pytest.approx(density, abs=0.00006)
    assert air.density_ratio == pytest.approx(ratio, abs=0.00006)


def test_three_percent_rule_and_barometer_rule_as_percentages() -> None:
    # Introductory agricultural engineering textbook: 3 % per 1000 ft above 500 ft.
    assert derating.three_percent_rule(5500.0) == pytest.approx(0.85)
    # Keswani's barometer comes to about 18.6 % at 5000 ft, 3.7 % per 1000 ft.
    assert 100.0 * (1.0 - derating.barometer_rule(1524.0)) == pytest.approx(18.6, abs=0.05)


def test_leg_volts_are_those_of_the_definition() -> None:
    assert load.leg_volts(208.0, 3) == pytest.approx(208.0 / math.sqrt(3.0))
