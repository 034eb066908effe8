"""Frequency and voltage regulation: droop, band, deviation, undershoot and overshoot.

Purpose: the published definitions as functions, each with its base named, since a percentage without its base misleads.
Law: `f_` is Hz or rpm alike (same unit in one call); percentages are of what the name says.
Sources: TM 9-6115-464-34, para 4-13 and 4-14; Hubert, Electric Machines, ch. 9; Kosow, Electric Machinery and
Transformers, Example 4-20.
Not checked here: whether a reading was taken warm and settled.
"""

from __future__ import annotations

import math


def frequency_of(rpm: float, poles: float) -> float:
    """Hz from rpm: f = poles rpm / 120 (TM 5-6115-584-34, para 7-1)."""
    return rpm * poles / 120.0


def percent_of_rated(value: float, rated: float) -> float:
    """A part, or the doubt of one, in percent of RATED; the others here say which part."""
    return 100.0 * value / _above_zero("rated value", rated)


def droop_percent(f_no_load: float, f_load: float, f_rated: float) -> float:
    """Fall from no load to a load in percent of RATED frequency (TM 9-6115-464-34, para 4-14a)."""
    return percent_of_rated(f_no_load - f_load, f_rated)


def speed_regulation_percent(f_no_load: float, f_full_load: float) -> float:
    """Fall from no load to full load in percent of FULL-LOAD speed (Kosow, Example 4-20)."""
    return 100.0 * (f_no_load - f_full_load) / _above_zero("full-load speed", f_full_load)


def steady_band_percent(band: float, rated: float) -> float:
    """Whole width of the band, peak to peak, in percent of rated (TM 9-6115-464-34, para 4-14a)."""
    return percent_of_rated(band, rated)


def maximum_variation_percent(band: float, rated: float) -> float:
    """Plus-or-minus variation at constant load: half the band over rated (TM 9-6115-464-34, para 4-14 results (3))."""
    return percent_of_rated(band / 2.0, rated)


def deviation_percent(value: float, rated: float) -> float:
    """Deviation from rated in percent of rated, with its sign."""
    return percent_of_rated(value - rated, rated)


def voltage_regulation_percent(volts_no_load: float, volts_rated_load: float) -> float:
    """No load less rated load, in percent of the RATED-LOAD value (TM 9-6115-464-34, para 4-13d)."""
    return 100.0 * (volts_no_load - volts_rated_load) / _above_zero("voltage at rated load", volts_rated_load)


def beyond_band_percent(depth: float, band: float, rated: float) -> float:
    """How far an excursion of some depth from the middle of a band goes past its edge, in percent of RATED."""
    return percent_of_rated(max(0.0, depth - band / 2.0), rated)


def undershoot_percent(lowest: float, settled: float, band: float, rated: float) -> float:
    """How far a dip goes below the edge of the band seen after the load change, in percent of RATED.

    settled: middle of that band; band: its whole width. Never divided by the operating value. 0 where it stays inside.
    Source: TM 9-6115-464-34, para 4-14 results (4).
    """
    return beyond_band_percent(settled - lowest, band, rated)


def overshoot_percent(highest: float, settled: float, band: float, rated: float) -> float:
    """How far a rise goes above the edge of the band seen after the load change, in percent of RATED."""
    return beyond_band_percent(highest - settled, band, rated)


def _above_zero(name: str, value: float) -> float:
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(f"{name} of {value:g}; expected more than 0")
    return value
