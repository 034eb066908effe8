"""Readings of a load test that contradict each other, the set, or what the set can give.

Purpose: question them, each with a stable code and the place it was written at.
Law: a question is asked only where the guard bands do not cover the gap; nothing is changed or left out for it.
Not here: limits (see `verdict`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..readings import regulation
from . import load
from .entry_table import ReadingRow
from .loadtest import NEAR, SAME_HERTZ, LoadPoint, Test, load_differs

# Meters of unstated accuracy are not asked to agree better than this fraction. Also what an ammeter shows of nothing.
_AGREEMENT = 0.02
# Line volts as low as this fraction of the rating are taken for leg-to-neutral volts (0.50 or 0.58 of it).
_TO_NEUTRAL = 0.65


@dataclass(frozen=True, slots=True)
class Question:
    """Readings that cannot all be so. `place` is where they were written."""

    code: str
    place: str
    text: str


def question(test: Test, found: Sequence[LoadPoint]) -> tuple[Question, ...]:
    """Everything in the readings that cannot be so, in the order of the points."""
    checks = (_power, _speed, _ceiling, _load, _voltage, _extremes)
    return tuple(
        Question(code, point.row.place, text)
        for point in found
        for check in checks
        for code, text in check(test, point)
    )


_Told = list[tuple[str, str]]


def _flows(test: Test, point: LoadPoint) -> bool:
    rated = load.amps_per_leg(float(test.features["rated_kw"]), test.rated_volts, test.phases)
    return any(amp.value > amp.guard and amp.value > _AGREEMENT * rated for amp in point.amps)


def _power(test: Test, point: LoadPoint) -> _Told:
    """kW from a meter against amps, and against volts times amps."""
    if point.row.kilowatts is None or not point.amps or point.kilowatts is None:
        return []
    power, flows = point.kilowatts, _flows(test, point)
    if not flows:
        if power.value - power.guard > _AGREEMENT * test.full_kilowatts:
            return [("power_without_amps", f"{power.value:g} kW, but no amps; is the clamp on one hot leg alone?")]
        return []
    if not power.value:
        return [("amps_without_power", f"{point.amps[0].value:g} A, but 0 kW; is the kW meter connected?")]
    volts = point.volts.value + point.volts.guard if point.volts else test.rated_volts
    most = load.kilowatts_of([amp.value + amp.guard for amp in point.amps], volts, test.phases)
    if power.value - power.guard > most * (1.0 + _AGREEMENT):
        text = f"{power.value:g} kW, but volts times amps make at most {most:.3g} kW; one of the three is wrong"
        return [("power_above_volts_times_amps", text)]
    return []


def _speed(test: Test, point: LoadPoint) -> _Told:
    """Hz against rpm and poles."""
    row = point.row
    if row.hertz is None or row.rpm is None:
        return []
    poles = float(test.features["poles"])
    hertz = test.accuracy.quantity(row.hertz, "Hz")
    speed = test.accuracy.quantity(row.rpm, "rpm").times(poles / 120.0)
    if abs(hertz.value - speed.value) <= max(SAME_HERTZ, hertz.guard + speed.guard):
        return []
    fits = [n for n in (2, 4, 6) if abs(regulation.frequency_of(row.rpm.value, n) / hertz.value - 1.0) <= 0.05]
    hint = f"; with {fits[0]} poles it would fit" if fits else "; which meter is wrong?"
    text = f"{row.hertz.value:g} Hz, but {row.rpm.value:g} rpm on {poles:g} poles is {speed.value:.4g} Hz{hint}"
    return [("hertz_and_rpm", text)]


def _ceiling(test: Test, point: LoadPoint) -> _Told:
    """More kW than the set can give at this altitude and temperature."""
    most = test.full_kilowatts * (1.0 + test.overload / 100.0)
    power = point.kilowatts
    if power is None or power.value - power.guard <= most * (1.0 + _AGREEMENT):
        return []
    text = f"{power.value:.3g} kW, but the set can give {most:.3g} kW here; overloaded, or is a meter wrong?"
    return [("more_than_the_set_gives", text)]


def _as_set(test: Test, row: ReadingRow) -> float | None:
    if row.load is not None:
        return row.load.value
    return row.set_kilowatts.value / test.full_kilowatts if row.set_kilowatts is not None else None


def _load(test: Test, point: LoadPoint) -> _Told:
    """The load as set against the load as measured."""
    as_set, power = _as_set(test, point.row), point.kilowatts
    if as_set is None or power is None:
        return []
    if as_set == 0.0 and point.load > NEAR:
        return [("load_at_no_load", f"no load, but {power.value:.3g} kW flow; is the breaker open?")]
    if as_set > NEAR and not _flows(test, point) and point.row.kilowatts is None:
        return [("no_load_at_load", f"{as_set:.0%} load, but no amps; is the breaker closed?")]
    if load_differs(test, point, as_set):
        text = f"set to {as_set:.0%} load, but by {point.load_from} it is {point.load:.0%}"
        return [("load_not_as_set", text)]
    return []


def _voltage(test: Test, point: LoadPoint) -> _Told:
    if point.volts is None or not 0.0 < point.volts.value <= _TO_NEUTRAL * test.rated_volts:
        return []
    text = f"{point.volts.value:g} V on a {test.rated_volts:g} V set; was it read from a leg to neutral?"
    return [("volts_to_neutral", text)]


def _extremes(test: Test, point: LoadPoint) -> _Told:
    """Lowest and highest against each other and against the settled reading."""
    row, told, settled = point.row, _Told(), point.hertz
    lowest = test.accuracy.quantity(row.lowest, "Hz") if row.lowest else None
    highest = test.accuracy.quantity(row.highest, "Hz") if row.highest else None
    if lowest and highest and lowest.value > highest.value:
        told.append(("lowest_above_highest", f"lowest {lowest.value:g} Hz is above highest {highest.value:g} Hz"))
    if settled and lowest and lowest.value - lowest.guard > settled.value + settled.guard:
        told.append(("lowest_above_settled", f"lowest {lowest.value:g} Hz is above the settled {settled.value:.4g} Hz"))
    if settled and highest and highest.value + highest.guard < settled.value - settled.guard:
        text = f"highest {highest.value:g} Hz is below the settled {settled.value:.4g} Hz"
        told.append(("highest_below_settled", text))
    if row.behaviour == "steady" and row.swing and row.swing.value > test.rated_hertz * _AGREEMENT:
        told.append(("steady_but_swings", f"called steady, but it swings by {row.swing.value:g} Hz"))
    return told
