"""Readings of a load test held against limits: pass, fail, or too close to call.

Purpose: every quantity that a limit is about, worked out once, then judged by each tolerance set at once.
Law: a verdict is called only where the whole guard band lies on one side of the limit; at the limit itself it passes.
A limit that nothing was read for, or that the load never reached, is untested and not passed. Limits come from the
knowledge; those in Hz are for 60 Hz and are scaled to the rated frequency.
Sources: definitions as in `regulation`; the drop is counted below the settled loaded frequency and the rise from
rated, as the tolerance sets say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from ..compiler import Tolerance
from ..readings import regulation
from .loadtest import NEAR, LoadPoint, Quantity, Test

Call = Literal["pass", "fail", "too close to call", "untested", "aim", "not for this set"]


@dataclass(frozen=True, slots=True)
class Measure:
    """A quantity that a limit is about. value None: not measured. whole: False where it was not read at full load,
    why: whether that was never reached, or reached without this reading."""

    id: str
    title: str
    unit: str
    value: Quantity | None
    place: str = ""
    whole: bool = True
    why: str = "full load was not reached"


@dataclass(frozen=True, slots=True)
class LimitVerdict:
    """One limit judged. margin: room left to the limit, negative beyond it, in the unit of the measure."""

    tolerance: str
    limit: str
    kind: str  # "at most" | "at least" | "about"
    bound: float
    measure: Measure
    call: Call
    margin: float | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class LimitRule:
    """What a limit is about: the measure, which side of it is allowed, and whether it is in Hz for a 60 Hz set."""

    measure: str
    kind: str = "at most"
    hertz: bool = False
    phases: int = 0


# Name of a limit in the knowledge -> what it is about. A name that is not here is told as untested, not skipped.
RULES: Mapping[str, LimitRule] = {
    "no_load_hz_min": LimitRule("no_load_lowest", "at least", hertz=True),
    "no_load_hz_max": LimitRule("no_load_highest", hertz=True),
    "light_load_hz": LimitRule("light_load", "about", hertz=True),
    "spread_hz_max": LimitRule("spread", hertz=True),
    "droop_percent_max": LimitRule("droop"),
    "steady_band_percent_max": LimitRule("steady_band"),
    "recovery_seconds_max": LimitRule("recovery"),
    "undershoot_recovery_seconds_max": LimitRule("recovery_load_on"),
    "overshoot_recovery_seconds_max": LimitRule("recovery_load_off"),
    "overspeed_percent_max": LimitRule("highest_speed"),
    "transient_drop_percent_max": LimitRule("transient_drop"),
    "transient_rise_percent_max": LimitRule("transient_rise"),
    "undershoot_percent_max": LimitRule("undershoot"),
    "overshoot_percent_max": LimitRule("overshoot"),
    "voltage_deviation_percent_max": LimitRule("voltage_deviation"),
    "voltage_drop_percent_max": LimitRule("voltage_drop"),
    "voltage_rise_percent_max": LimitRule("voltage_rise"),
    "voltage_recovery_seconds_max": LimitRule("voltage_recovery"),
    "voltage_regulation_percent_max": LimitRule("voltage_regulation", phases=3),
    "voltage_regulation_single_phase_percent_max": LimitRule("voltage_regulation", phases=1),
    "voltage_steady_percent_max": LimitRule("voltage_variation"),
    "voltage_transient_percent_max": LimitRule("voltage_transient"),
}

_TITLES = {
    "no_load_lowest": ("Frequency with no load, lowest", "Hz"),
    "no_load_highest": ("Frequency with no load, highest", "Hz"),
    "light_load": ("Frequency at light load", "Hz"),
    "spread": ("Fall from no load", "Hz"),
    "droop": ("Droop", "% of rated"),
    "speed_regulation": ("Speed regulation", "% of full load"),
    "steady_band": ("Steady-state band, whole width", "% of rated"),
    "frequency_variation": ("Variation at constant load, either way", "% of rated"),
    "frequency_deviation": ("Largest deviation from rated", "% of rated"),
    "recovery": ("Recovery time, longest", "s"),
    "recovery_load_on": ("Recovery time, load on", "s"),
    "recovery_load_off": ("Recovery time, load off", "s"),
    "highest_speed": ("Highest speed", "% of rated"),
    "transient_drop": ("Drop below settled, load on", "% of rated"),
    "transient_rise": ("Rise above rated, load off", "% of rated"),
    "undershoot": ("Undershoot past the band", "% of rated"),
    "overshoot": ("Overshoot past the band", "% of rated"),
    "voltage_deviation": ("Voltage deviation", "% of rated"),
    "voltage_drop": ("Voltage drop, load on", "% of rated"),
    "voltage_rise": ("Voltage rise, load off", "% of rated"),
    "voltage_recovery": ("Voltage recovery time, longest", "s"),
    "voltage_regulation": ("Voltage regulation", "% of full-load voltage"),
    "voltage_variation": ("Voltage variation, either way", "% of rated"),
    "voltage_transient": ("Voltage transient", "% of no-load voltage"),
}

# Read with no load; and read on the way back from full load, or at any load that may be the worst.
_NO_LOAD = frozenset({"no_load_lowest", "no_load_highest", "light_load"})
_COMING_BACK = frozenset({"transient_rise", "overshoot", "recovery_load_off", "voltage_rise", "highest_speed"})

_Found = list[tuple[Quantity, str]]


@dataclass(frozen=True, slots=True)
class StatedLimit:
    """A limit as it is told before anything is read: `bound` in `unit`, in Hz that of the rated frequency asked for."""

    limit: str
    title: str
    kind: str
    bound: float
    unit: str


def stated_limits(tolerance: Tolerance, hertz: float) -> tuple[StatedLimit, ...]:
    """Every limit of a tolerance set for a set of this rated frequency, in the order written."""
    found = []
    for limit, bound in tolerance.limits.items():
        rule = RULES.get(limit)
        if rule is None:
            found.append(StatedLimit(limit, limit.replace("_", " ").capitalize(), "", bound, ""))
        else:
            title, unit = _TITLES[rule.measure]
            found.append(StatedLimit(limit, title, rule.kind, bound * hertz / 60.0 if rule.hertz else bound, unit))
    return tuple(found)


def measures(test: Test, found: Sequence[LoadPoint]) -> dict[str, Measure]:
    """Every quantity of one run, by id; those that nothing was read for have no value.

    found: points of one run. Of several readings the worst counts.
    """
    values = {**_frequency(test, found), **_steadiness(test, found), **_transients(test, found)}
    values |= _voltage(test, found)
    full = {point.row.place for point in found if point.load >= 1.0 - NEAR and point.hertz}
    made = {}
    for name, (title, unit) in _TITLES.items():
        pick: Callable[[_Found], tuple[Quantity, str]] = _lowest if name == "no_load_lowest" else _highest
        worst = pick(values[name]) if values.get(name) else None
        # Any step short of full load can show that a limit is broken, but not that it is kept.
        at_full = bool(full & {place for _, place in values.get(name, [])})
        whole = name in _NO_LOAD or (bool(full) if name in _COMING_BACK else at_full)
        why = "not read at full load" if full else "full load was not reached"
        made[name] = Measure(name, title, unit, worst[0] if worst else None, worst[1] if worst else "", whole, why)
    return made


def judge(test: Test, made: Mapping[str, Measure], tolerances: Iterable[Tolerance]) -> tuple[LimitVerdict, ...]:
    """Every limit of every tolerance set, in their order."""
    return tuple(
        _judge(test, made, tolerance.id, limit, bound)
        for tolerance in tolerances
        for limit, bound in tolerance.limits.items()
    )


def _judge(test: Test, made: Mapping[str, Measure], tolerance: str, limit: str, bound: float) -> LimitVerdict:
    rule = RULES.get(limit)
    if rule is None:
        nothing = Measure(limit, limit.replace("_", " "), "", None)
        return LimitVerdict(tolerance, limit, "at most", bound, nothing, "untested", None, "not judged by a load test")
    measure = made[rule.measure]
    if rule.hertz:
        bound *= test.rated_hertz / 60.0
    kind, value = rule.kind, measure.value
    if rule.phases not in (0, test.phases):
        return LimitVerdict(
            tolerance, limit, kind, bound, measure, "not for this set", None, f"for {rule.phases} phase"
        )
    if value is None and kind == "about":
        return LimitVerdict(tolerance, limit, kind, bound, measure, "aim", None, "not measured")
    if value is None:
        return LimitVerdict(tolerance, limit, kind, bound, measure, "untested", None, "not measured")
    if kind == "about":
        return LimitVerdict(tolerance, limit, kind, bound, measure, "aim", value.value - bound, "an aim, not a limit")
    margin = bound - value.value if kind == "at most" else value.value - bound
    # A hair for the arithmetic of floating point, so that a value exactly at its limit passes.
    hair = 1e-9 * max(1.0, abs(bound))
    if margin - value.guard >= -hair:
        if measure.whole:
            return LimitVerdict(tolerance, limit, kind, bound, measure, "pass", margin)
        return LimitVerdict(tolerance, limit, kind, bound, measure, "untested", margin, measure.why)
    if margin + value.guard < -hair:
        return LimitVerdict(tolerance, limit, kind, bound, measure, "fail", margin)
    return LimitVerdict(
        tolerance, limit, kind, bound, measure, "too close to call", margin, f"guard band {value.guard:.3g}"
    )


def overall(verdicts: Sequence[LimitVerdict]) -> Call:
    """The worst call of a tolerance set: fail, then too close, then untested, then pass.

    Passed is only what every limit for this set was tested for and passed; aims count for nothing.
    """
    calls = {verdict.call for verdict in verdicts}
    order: tuple[Call, ...] = ("fail", "too close to call", "untested", "pass")
    return next((call for call in order if call in calls), "untested")


def _highest(values: _Found) -> tuple[Quantity, str]:
    return max(values, key=lambda item: item[0].value + item[0].guard)


def _lowest(values: _Found) -> tuple[Quantity, str]:
    return min(values, key=lambda item: item[0].value - item[0].guard)


def _frequency(test: Test, found: Sequence[LoadPoint]) -> dict[str, _Found]:
    rated = test.rated_hertz
    resting = [(point.hertz, point.row.place) for point in found if point.step == "no_load" and point.hertz]
    # Up to the rating, not only to what altitude leaves of it: regulation is defined up to rated load.
    most = (1.0 + NEAR) * max(1.0, float(test.features["rated_kw"]) / test.full_kilowatts)
    loaded = [point for point in found if NEAR < point.load <= most and point.hertz]
    values: dict[str, _Found] = {"no_load_lowest": resting, "no_load_highest": resting}
    values["light_load"] = [(p.hertz, p.row.place) for p in found if p.step == "light_load" and p.hertz]
    values["frequency_deviation"] = [(_off_rated(p.hertz, rated), p.row.place) for p in found if p.hertz]
    if resting:
        # The worst of the returns to no load: the highest, since droop is the largest difference.
        start = max((hertz for hertz, _ in resting), key=lambda hertz: hertz.value)
        falls = [(start - point.hertz, point.row.place) for point in loaded if point.hertz]
        values["spread"] = falls
        values["droop"] = [
            (Quantity(regulation.droop_percent(start.value, start.value - fall.value, rated),
                      regulation.percent_of_rated(fall.guard, rated)), at)
            for fall, at in falls
        ]  # fmt: skip
        full = [point for point in loaded if point.step == "full_load"]
        values["speed_regulation"] = [
            (Quantity(regulation.speed_regulation_percent(start.value, p.hertz.value),
                      100.0 * (start.guard + p.hertz.guard) / p.hertz.value), p.row.place)
            for p in full if p.hertz
        ]  # fmt: skip
    return values


def _steadiness(test: Test, found: Sequence[LoadPoint]) -> dict[str, _Found]:
    rated, weigh = test.rated_hertz, test.accuracy.quantity
    swings = [(weigh(p.row.swing, "Hz"), p.row.place) for p in found if p.row.swing]
    volts = [(weigh(p.row.volts_swing, "V"), p.row.place) for p in found if p.row.volts_swing]
    return {
        "steady_band": [(_each(regulation.steady_band_percent, band, rated), place) for band, place in swings],
        "frequency_variation": [
            (_each(regulation.maximum_variation_percent, band, rated), place) for band, place in swings
        ],
        "voltage_variation": [
            (_each(regulation.maximum_variation_percent, band, test.rated_volts), place) for band, place in volts
        ],
    }


def _transients(test: Test, found: Sequence[LoadPoint]) -> dict[str, _Found]:
    rated, weigh = test.rated_hertz, test.accuracy.quantity
    values: dict[str, _Found] = {name: [] for name in (
        "transient_drop", "undershoot", "transient_rise", "overshoot", "highest_speed",
        "recovery", "recovery_load_on", "recovery_load_off")}  # fmt: skip
    for point in found:
        row, place = point.row, point.row.place
        band = weigh(row.swing, "Hz") if row.swing else Quantity(0.0)
        lowest = weigh(row.lowest, "Hz") if row.lowest else None
        highest = weigh(row.highest, "Hz") if row.highest else None
        if lowest and point.hertz and point.load > NEAR:
            values["transient_drop"].append((_floor(point.hertz - lowest).times(100.0 / rated), place))
            values["undershoot"].append(
                (_past_the_band(regulation.undershoot_percent, lowest, point.hertz, band, rated), place)
            )
        if highest and point.load <= NEAR:
            values["transient_rise"].append((_floor(highest - Quantity(rated)).times(100.0 / rated), place))
            if point.hertz:
                values["overshoot"].append(
                    (_past_the_band(regulation.overshoot_percent, highest, point.hertz, band, rated), place)
                )
        top = highest or point.hertz
        if top:
            values["highest_speed"].append((top.times(100.0 / rated), place))
        if row.recovery:
            seconds = weigh(row.recovery, "s")
            values["recovery"].append((seconds, place))
            side = "recovery_load_on" if point.load > NEAR else "recovery_load_off"
            values[side].append((seconds, place))
    return values


def _voltage(test: Test, found: Sequence[LoadPoint]) -> dict[str, _Found]:
    rated, weigh = test.rated_volts, test.accuracy.quantity
    values: dict[str, _Found] = {name: [] for name in (
        "voltage_deviation", "voltage_drop", "voltage_rise", "voltage_recovery", "voltage_regulation",
        "voltage_transient")}  # fmt: skip
    resting = [point.volts for point in found if point.step == "no_load" and point.volts]
    for point in found:
        row, place = point.row, point.row.place
        if point.volts:
            values["voltage_deviation"].append((_off_rated(point.volts, rated), place))
        for name, figure, sign in (("voltage_drop", row.lowest_volts, -1.0), ("voltage_rise", row.highest_volts, 1.0)):
            if figure is None:
                continue
            far = (weigh(figure, "V") - Quantity(rated)).times(sign)
            values[name].append((_floor(far).times(100.0 / rated), place))
            if resting:
                gap = (weigh(figure, "V") - resting[0]).times(sign)
                values["voltage_transient"].append((_floor(gap).times(100.0 / resting[0].value), place))
        if row.volts_recovery:
            values["voltage_recovery"].append((weigh(row.volts_recovery, "s"), place))
        if point.step == "full_load" and point.volts and resting:
            size = abs(regulation.voltage_regulation_percent(resting[0].value, point.volts.value))
            guard = 100.0 * (resting[0].guard + point.volts.guard) / point.volts.value
            values["voltage_regulation"].append((Quantity(size, guard), place))
    return values


def _off_rated(figure: Quantity, rated: float) -> Quantity:
    """How far a figure is off the rated value, either way, in percent of it."""
    off = abs(regulation.deviation_percent(figure.value, rated))
    return Quantity(off, regulation.percent_of_rated(figure.guard, rated))


def _each(rule: Callable[[float, float], float], figure: Quantity, rated: float) -> Quantity:
    """A definition in percent of rated that is a multiple of one figure: its guard is that multiple of the guard."""
    return Quantity(rule(figure.value, rated), rule(figure.guard, rated))


def _past_the_band(
    rule: Callable[[float, float, float, float], float], peak: Quantity, settled: Quantity, band: Quantity, rated: float
) -> Quantity:
    """Undershoot or overshoot, with the guards of all three figures added: the worst case."""
    guard = peak.guard + settled.guard + band.guard / 2.0
    return Quantity(rule(peak.value, settled.value, band.value, rated), regulation.percent_of_rated(guard, rated))


def _floor(quantity: Quantity) -> Quantity:
    """A dip or rise that is none counts as nothing."""
    return Quantity(max(0.0, quantity.value), quantity.guard)
