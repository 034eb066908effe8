"""Frequency and voltage regulation: droop, band, deviation, overshoot, recovery, and sharing by droop.

Purpose: the published definitions as functions, each with its base named, since a percentage without its base misleads.
Law: `f_` is Hz or rpm alike (same unit in one call); percentages are of what the name says.
Sources: TM 9-6115-464-34, para 4-13 and 4-14; Hubert, Electric Machines, ch. 9; Kosow, Electric Machinery and
Transformers, Example 4-20; B. R. Gupta, Power System Operation and Control, ch. 5.
Not checked here: whether a reading was taken warm and settled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


def frequency_of(rpm: float, poles: float) -> float:
    """Hz from rpm: f = poles rpm / 120 (TM 5-6115-584-34, para 7-1)."""
    return rpm * poles / 120.0


def speed_of(hertz: float, poles: float) -> float:
    """rpm from Hz: n = 120 f / poles. Raises ValueError for no poles."""
    return 120.0 * hertz / _above_zero("poles", poles)


def droop_percent(f_no_load: float, f_load: float, f_rated: float) -> float:
    """Fall from no load to a load in percent of RATED frequency (TM 9-6115-464-34, para 4-14a)."""
    return 100.0 * (f_no_load - f_load) / _above_zero("rated frequency", f_rated)


def speed_regulation_percent(f_no_load: float, f_full_load: float) -> float:
    """Fall from no load to full load in percent of FULL-LOAD speed (Kosow, Example 4-20)."""
    return 100.0 * (f_no_load - f_full_load) / _above_zero("full-load speed", f_full_load)


def no_load_speed(full_load: float, regulation_percent: float) -> float:
    """No-load speed from full-load speed and regulation in percent of full load (Kosow, Example 4-20)."""
    return full_load * (1.0 + regulation_percent / 100.0)


def droop_rate(f_no_load: float, f_load: float, kilowatts: float) -> float:
    """Slope of the governor in Hz per kW (Hubert, Example 9.2). Raises ValueError for no load."""
    return (f_no_load - f_load) / _above_zero("load", kilowatts)


def droop_rate_of_percent(percent_of_rated: float, f_rated: float, rating: float) -> float:
    """Slope in Hz per unit of power, from droop in percent of rated (B. R. Gupta, Example 5.1)."""
    return percent_of_rated / 100.0 * f_rated / _above_zero("rating", rating)


def steady_band_percent(highest: float, lowest: float, rated: float) -> float:
    """Whole width of the band, peak to peak, in percent of rated (TM 9-6115-464-34, para 4-14a)."""
    if highest < lowest:
        raise ValueError(f"highest {highest:g} is below lowest {lowest:g}")
    return 100.0 * (highest - lowest) / _above_zero("rated value", rated)


def maximum_variation_percent(band: float, rated: float) -> float:
    """Plus-or-minus variation at constant load: half the band over rated (TM 9-6115-464-34, para 4-14 results (3))."""
    return 100.0 * (band / 2.0) / _above_zero("rated value", rated)


def deviation_percent(value: float, rated: float) -> float:
    """Deviation from rated in percent of rated, with its sign."""
    return 100.0 * (value - rated) / _above_zero("rated value", rated)


def voltage_regulation_percent(volts_no_load: float, volts_rated_load: float) -> float:
    """No load less rated load, in percent of the RATED-LOAD value (TM 9-6115-464-34, para 4-13d)."""
    return 100.0 * (volts_no_load - volts_rated_load) / _above_zero("voltage at rated load", volts_rated_load)


def undershoot_percent(lowest: float, settled: float, band: float, rated: float) -> float:
    """How far a dip goes below the edge of the band seen after the load change, in percent of RATED.

    settled: middle of that band; band: its whole width. Never divided by the operating value. 0 where it stays inside.
    Source: TM 9-6115-464-34, para 4-14 results (4).
    """
    return 100.0 * max(0.0, settled - band / 2.0 - lowest) / _above_zero("rated value", rated)


def overshoot_percent(highest: float, settled: float, band: float, rated: float) -> float:
    """How far a rise goes above the edge of the band seen after the load change, in percent of RATED."""
    return 100.0 * max(0.0, highest - settled - band / 2.0) / _above_zero("rated value", rated)


def recovery_from_chart(inches: float, inches_per_second: float) -> float:
    """Seconds of recovery from a strip chart: distance over chart speed (TM 9-6115-464-34, para 4-14 results (5))."""
    return inches / _above_zero("chart speed", inches_per_second)


def recovery_seconds(
    samples: Sequence[tuple[float, float]], before: tuple[float, float], after: tuple[float, float]
) -> float | None:
    """Seconds from leaving the band of the old load to entering the band of the new load and staying there.

    samples: (seconds, value) in order of time; before, after: (low, high), edges included. None where the samples never
    leave the first band, or do not end inside the second. Resolution is that of the samples.
    Source: TM 9-6115-464-34, para 4-14 results (5).
    """
    left = next((time for time, value in samples if not before[0] <= value <= before[1]), None)
    if left is None:
        return None
    entered: float | None = None
    for time, value in samples:
        if time < left:
            continue
        inside = after[0] <= value <= after[1]
        if inside and entered is None:
            entered = time
        elif not inside:
            entered = None
    return None if entered is None else entered - left


@dataclass(frozen=True, slots=True)
class Governed:
    """A set with a straight droop line: frequency with no load in Hz, and its fall in Hz per kW."""

    no_load: float
    rate: float

    @classmethod
    def through(cls, f_load: float, kilowatts: float, rate: float) -> Governed:
        """The line of this slope through one load point."""
        return cls(f_load + rate * kilowatts, rate)


def share(sets: Sequence[Governed], kilowatts: float) -> tuple[float, tuple[float, ...]]:
    """Common frequency and the load of each set when they run in parallel at one frequency.

    kilowatts: total. Each set gives (no_load - f) / rate. Source: Hubert, Electric Machines, Examples 9.4 and 9.6.
    Raises ValueError without sets, or for a set without droop (it would take the whole change).
    """
    if not sets or any(not item.rate > 0.0 for item in sets):
        raise ValueError("sharing needs sets with a droop above 0 Hz per kW")
    stiffness = math.fsum(1.0 / item.rate for item in sets)
    frequency = (math.fsum(item.no_load / item.rate for item in sets) - kilowatts) / stiffness
    return frequency, tuple((item.no_load - frequency) / item.rate for item in sets)


def frequency_response(droop: float, damping: float = 0.0) -> float:
    """Change of power for each Hz that frequency falls: damping + 1 / droop (B. R. Gupta, Example 5.8).

    droop: Hz per unit of power; damping: what the load itself gives up for each Hz, in the same unit of power.
    """
    return damping + 1.0 / _above_zero("droop", droop)


def _above_zero(name: str, value: float) -> float:
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(f"{name} of {value:g}; expected more than 0")
    return value
