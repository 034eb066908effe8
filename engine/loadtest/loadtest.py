"""A load test: the steps to take, what the readings say together, and what they mean for the job.

Purpose: plan the steps for a set, bring readings in any order to points of load, hand them on as answers to checks.
Law: nothing that was read is dropped or mended in silence; every figure carries its guard band, the worst that the
meter's stated accuracy and the last digit written allow.
Not here: limits (see `verdict`), contradictions (see `contradictions`), rules of derating (see `derating`).
Sources: steps in quarters, TM 5-6115-457-34, instrument test c; settled first, TM 5-6115-545-34; the light-load
step and an overload of 50 percent for at most five minutes are common practice; not above 125 percent,
TM 5-6115-593-34, p. 16-22.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from ..compiler import Features
from ..problems import AnswerError, quoted
from . import load
from .entry_table import Figure, ReadingRow, read_figure

LIGHT_LOAD = 0.10
OVERLOAD_PERCENT = 50.0
OVERLOAD_MINUTES = 5.0
PUBLISHED_OVERLOAD_PERCENT = 25.0
STEPS = {"no_load": 0.0, "light_load": LIGHT_LOAD, "quarter_load": 0.25, "half_load": 0.5,
         "three_quarter_load": 0.75, "full_load": 1.0}  # fmt: skip
# How far a measured load may lie from a step, as a fraction of full load, and still be that step: half way to the
# light-load step. Beyond it a reading is plotted and judged, but answers no check.
NEAR = 0.05
# The check `second_meter` asks for agreement within half a hertz.
SAME_HERTZ = 0.5


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its guard band: the true value lies within value - guard to value + guard."""

    value: float
    guard: float = 0.0

    def __sub__(self, other: Quantity) -> Quantity:
        """The guards add: the worst case, since how much of the two errors is common is not known."""
        return Quantity(self.value - other.value, self.guard + other.guard)

    def times(self, factor: float) -> Quantity:
        return Quantity(self.value * factor, self.guard * abs(factor))


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Stated accuracy of the meters: unit (Hz, rpm, V, A, kW, s) -> (absolute, percent of reading, digits)."""

    stated: dict[str, tuple[float, float, float]] = field(default_factory=dict)

    def quantity(self, figure: Figure, unit: str) -> Quantity:
        """A reading with its guard band: half of the last digit written, and what is stated added to it.

        Worst case: the display rounds after the meter has erred (JCGM 100:2008, F.2.2.1, resolution of a display).
        """
        absolute, percent, digits = self.stated.get(unit, (0.0, 0.0, 0.0))
        guard = absolute + abs(figure.value) * percent / 100.0 + digits * figure.digit
        return Quantity(figure.value, guard + figure.digit / 2.0)


def read_accuracy(texts: Sequence[str]) -> Accuracy:
    """Accuracy as meters state it: "0.1 Hz", "V=1%+2", "A 2% + 5 digits", several separated by commas or semicolons.

    A number is in the unit; a percentage is of the reading; a further whole number counts digits. A percentage without
    a unit, "0.2 %", is that of every meter that nothing else is stated for.
    Raises AnswerError.
    """
    stated: dict[str, tuple[float, float, float]] = {}
    every: tuple[float, float, float] | None = None
    units = {unit.lower(): unit for unit in ("Hz", "rpm", "V", "A", "kW", "s")}
    for text in (part for given in texts for part in re.split(r"[;,](?!\d)\s*", given) if part.strip()):
        bare = re.sub(r"\bdigits?\b|\bdgt\b|\u00b1|\+/-", " ", text.lower())
        names = re.findall(r"hz|rpm|kw|(?<![a-z])[vas](?![a-z])", bare)
        rest = re.sub(r"hz|rpm|kw|(?<![a-z])[vas](?![a-z])|[=:]", " ", bare)
        match = re.fullmatch(r"\s*(?P<n>\d*[.,]?\d+)\s*(?P<p>%|percent)?\s*(?:\+\s*(?P<d>\d+))?\s*", rest)
        if match is None or len(set(names)) > 1 or not (names or match["p"]):
            raise AnswerError(
                f"meter accuracy {quoted(text.strip())} is not understood; "
                'expected for example "0.1 Hz", "V=1%+2" or "A=2%"'
            )
        value, unit = read_figure(match["n"]).value, units[names[0]] if names else "every meter"
        if unit in stated or (not names and every is not None):
            raise AnswerError(f"meter accuracy for {unit} is given twice")
        if match["p"] and value > 20.0:
            raise AnswerError(f"meter accuracy of {value:g} percent for {unit}; expected 0 to 20")
        made = (0.0 if match["p"] else value, value if match["p"] else 0.0, float(match["d"] or 0))
        if names:
            stated[unit] = made
        else:
            every = made
    if every is not None:
        stated |= {unit: every for unit in units.values() if unit not in stated}
    return Accuracy(stated)


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step of the plan. kilowatts and amps (per hot leg) are expected; minutes: the longest allowed, 0 for none."""

    id: str
    title: str
    fraction: float
    kilowatts: float
    amps: float
    minutes: float = 0.0
    note: str = ""


def plan(
    features: Features,
    full_kilowatts: float,
    power_factor: float = 1.0,
    overload: float = 0.0,
    overload_allowed: bool = False,
) -> tuple[PlanStep, ...]:
    """Steps of the load test: no load, light, quarters up to full, the overload where asked and allowed, and back.

    full_kilowatts: what the set can give at its site. power_factor: of the test load, 1 for a load bank of resistors.
    overload: percent above full load, 0 for none, at most 50. overload_allowed: the set's own book allows it.
    Raises AnswerError for an overload that is too large or not allowed.
    """
    volts, phases = float(features["volts"]), int(float(features["phases"]))
    if not 0.0 <= overload <= OVERLOAD_PERCENT:
        raise AnswerError(f"overload of {overload:g} percent; expected 0 to {OVERLOAD_PERCENT:g}")
    if overload and not overload_allowed:
        raise AnswerError("an overload is planned only where the set's own book allows it; say so, or leave it out")

    def step(name: str, title: str, fraction: float, note: str = "", minutes: float = 0.0) -> PlanStep:
        kilowatts = fraction * full_kilowatts
        amps = load.amps_per_leg(kilowatts, volts, phases, power_factor)
        return PlanStep(name, title, fraction, kilowatts, amps, minutes, note)

    names = {
        "no_load": "no load", "quarter_load": "1/4 load", "half_load": "1/2 load", "three_quarter_load": "3/4 load",
        "full_load": "full load",
    }  # fmt: skip
    up = [step(name, title, STEPS[name]) for name, title in names.items()]
    up[0] = replace(up[0], note="Breaker open, warm; read when it has settled.")
    up[-1] = replace(up[-1], note="Wait until four readings in a row show no trend.")
    light = step("light_load", "light load", LIGHT_LOAD, "A set adjusted right is near rated frequency here.")
    back = [replace(item, title=f"{item.title}, going back", note="") for item in reversed(up[:-1])]
    back[-1] = replace(back[-1], note="It should come back to the same place as before.")
    over = []
    if overload:
        note = f"Not longer than {OVERLOAD_MINUTES:g} minutes; take it off at once if speed, heat or sound change."
        if overload > PUBLISHED_OVERLOAD_PERCENT:
            note += " A published test (TM 5-6115-593-34, p. 16-22) goes no higher than 125 percent."
        over = [step("overload", f"{overload:g} % over", 1.0 + overload / 100.0, note, OVERLOAD_MINUTES)]
    return (up[0], light, *up[1:], *over, *back)


@dataclass(frozen=True, slots=True)
class LoadPoint:
    """A row brought to numbers: load as a fraction of full load (`load_from` says how it is known), Hz, kW, and so on.

    step: the id of a step of the plan that it is near, "" for none. Quantities are None where nothing was read.
    """

    row: ReadingRow
    load: float
    load_from: str
    step: str
    hertz: Quantity | None
    kilowatts: Quantity | None
    volts: Quantity | None
    amps: tuple[Quantity, ...]
    neutral: float | None
    imbalance: float | None


@dataclass(frozen=True, slots=True)
class Test:
    """A set under test: its features, what it can give here in kW, the accuracy of the meters, the power factor of the
    load (1 for resistors), and how far above full load it may be taken in percent."""

    __test__ = False  # not a test case for pytest

    features: Features
    full_kilowatts: float
    accuracy: Accuracy = field(default_factory=Accuracy)
    power_factor: float = 1.0
    overload: float = 0.0

    @property
    def rated_hertz(self) -> float:
        return float(self.features["hertz"])

    @property
    def rated_volts(self) -> float:
        return float(self.features["volts"])

    @property
    def phases(self) -> int:
        return int(float(self.features["phases"]))


def points(test: Test, rows: Sequence[ReadingRow]) -> tuple[LoadPoint, ...]:
    """Rows as points, in the order given. Raises AnswerError where the load of a row cannot be told, or the number of
    leg currents does not fit the set."""
    return tuple(_point(test, row) for row in rows)


def _point(test: Test, row: ReadingRow) -> LoadPoint:
    weigh = test.accuracy.quantity
    hertz = weigh(row.hertz, "Hz") if row.hertz else None
    if hertz is None and row.rpm:
        hertz = weigh(row.rpm, "rpm").times(float(test.features["poles"]) / 120.0)
    volts = weigh(row.volts, "V") if row.volts else None
    amps = tuple(weigh(figure, "A") for figure in row.amps)
    count = load.legs(test.rated_volts, test.phases)
    if len(amps) not in (0, 1, count):
        raise AnswerError(f"{row.place}: {len(amps)} leg currents; this set has {count}")
    factor = row.power_factor.value if row.power_factor else test.power_factor
    kilowatts = weigh(row.kilowatts, "kW") if row.kilowatts else _from_amps(test, amps, volts, factor)
    as_set = row.load.value if row.load else None
    if as_set is None and row.set_kilowatts:
        as_set = row.set_kilowatts.value / test.full_kilowatts
    if kilowatts is not None:
        share, known = kilowatts.value / test.full_kilowatts, "kW meter" if row.kilowatts else "amps and volts"
    elif as_set is not None:
        share, known = as_set, "as set"
    else:
        raise AnswerError(f"{row.place}: nothing tells the load; expected a load, kW, or amps")
    values = [item.value for item in amps]
    whole = len(values) == count and count > 1
    point = LoadPoint(
        row, share, known, "", hertz, kilowatts, volts, amps,
        load.neutral_amps(values) if whole else None, load.imbalance_percent(values) if whole else None,
    )  # fmt: skip
    return replace(point, step=_step(test, point, as_set))


def _from_amps(test: Test, amps: Sequence[Quantity], volts: Quantity | None, factor: float) -> Quantity | None:
    if not amps:
        return None
    used = volts or Quantity(test.rated_volts)
    value = load.kilowatts_of([item.value for item in amps], used.value, test.phases, factor)
    # Worst case of a product: relative errors add.
    spread = load.kilowatts_of([item.guard for item in amps], used.value, test.phases, factor)
    return Quantity(value, spread + abs(value) * used.guard / used.value)


def _step(test: Test, point: LoadPoint, as_set: float | None) -> str:
    """The step a point belongs to: as set, unless the meter says otherwise; a bank of resistors follows the voltage."""
    share = point.load
    if as_set is not None and not load_differs(test, point, as_set):
        share = as_set
    name, value = min(STEPS.items(), key=lambda item: abs(item[1] - share))
    return name if abs(value - share) <= NEAR else ""


def load_differs(test: Test, point: LoadPoint, as_set: float) -> bool:
    """Whether the meters say another load than the one that was set, beyond their guard band."""
    if point.kilowatts is None:
        return False
    expected = as_set
    if test.power_factor == 1.0 and point.volts is not None:
        expected = load.resistive_kilowatts(as_set, point.volts.value, test.rated_volts)
    guard = point.kilowatts.guard / test.full_kilowatts
    nearest = min(abs(point.load - expected), abs(point.load - as_set))
    return nearest - guard > 2 * NEAR


def steps_of(steps: Sequence[PlanStep]) -> tuple[str, ...]:
    """Ids of the checks that a load test of these steps makes: a reading at each, and the load put on and taken off."""
    return (
        *dict.fromkeys(f"frequency_{step.id}" for step in steps if step.fraction in (0.0, 0.25, 0.5, 0.75, 1.0)),
        "voltage_no_load", "voltage_full_load", "load_step_dip", "load_step_recovery", "load_drop_overshoot",
        "leg_currents",
    )  # fmt: skip


def findings(
    test: Test, found: Sequence[LoadPoint], takes: Callable[[str, str], bool] = lambda check, answer: True
) -> tuple[tuple[str, str], ...]:
    """Answers for the job: (id of a check, text that `Job.record` takes), in an order that suits the work.

    takes: whether a check takes an answer; what it does not take is left out (a check this set does not have), or
    said more simply (a swing of a stated kind that is too small for its kind).
    Points of one run only. Of several readings at one step the last counts, as the settled one; points without a step
    answer nothing. Readings that are questioned are handed on all the same: the technician decides (see `question`).
    """
    at = {point.step: point for point in found if point.step and point.hertz}
    told: list[tuple[str, str]] = []
    for step in ("no_load", "quarter_load", "half_load", "three_quarter_load", "full_load"):
        point = at.get(step)
        if point is None or point.hertz is None:
            continue
        told.append((f"frequency_{step}", f"{point.hertz.value:.5g} Hz"))
        if step in ("no_load", "half_load", "full_load"):
            answers = [answer for answer in _swing(point.row) if takes(f"swing_{step}", answer)]
            told += [(f"swing_{step}", answer) for answer in answers[:1]]
        if step in ("no_load", "full_load") and point.volts:
            told.append((f"voltage_{step}", f"{point.volts.value:.5g} V"))
    rests = [point.hertz.value for point in found if point.step == "no_load" and point.hertz]
    if len(rests) > 1:
        told.append(("no_load_repeatability", f"{max(rests) - min(rests):.4g} Hz"))
    told += _transients(found)
    carrying = [point for point in found if point.imbalance is not None and point.load > NEAR]
    if carrying:
        heaviest = max(carrying, key=lambda point: point.load)
        told.append(("leg_currents", ", ".join(f"{amp.value:.5g}" for amp in heaviest.amps) + " A"))
    if (answer := _second_meter(test, found)) != "":
        told.append(("second_meter", answer))
    return tuple(item for item in told if takes(*item))


def _swing(row: ReadingRow) -> list[str]:
    """Ways to say how steady it was, most telling first. "Swinging" alone is no answer: it may be any of three."""
    kind = row.behaviour.replace("_", " ") if row.behaviour != "swinging" else ""
    if row.swing is None:
        return [kind] if kind else []
    size = f"{row.swing.value:.4g} Hz"
    return [f"{size} {kind}", size] if kind not in ("", "steady") else [size]


def _transients(found: Sequence[LoadPoint]) -> list[tuple[str, str]]:
    told: list[tuple[str, str]] = []
    dips = [point for point in found if point.row.lowest and point.hertz and point.load > NEAR]
    if dips:
        worst = max(dips, key=lambda point: point.load)
        assert worst.hertz is not None
        assert worst.row.lowest is not None
        told.append(("load_step_dip", f"{max(0.0, worst.hertz.value - worst.row.lowest.value):.4g} Hz"))
    times = [point for point in found if point.row.recovery and point.load > NEAR]
    if times:
        recovery = max(times, key=lambda point: point.load).row.recovery
        assert recovery is not None
        told.append(("load_step_recovery", f"{recovery.value:.4g} s"))
    rises = [max(0.0, point.row.highest.value - point.hertz.value)
             for point in found if point.row.highest and point.hertz and point.step == "no_load"]  # fmt: skip
    if rises:
        told.append(("load_drop_overshoot", f"{max(rises):.4g} Hz"))
    return told


def _second_meter(test: Test, found: Sequence[LoadPoint]) -> str:
    gaps = []
    for point in found:
        if point.row.hertz and point.row.rpm:
            speed = test.accuracy.quantity(point.row.rpm, "rpm").times(float(test.features["poles"]) / 120.0)
            difference = test.accuracy.quantity(point.row.hertz, "Hz") - speed
            gaps.append(Quantity(abs(difference.value), difference.guard))
    if not gaps:
        return ""
    if any(gap.value - gap.guard > SAME_HERTZ for gap in gaps):
        return "disagrees"
    return "agrees" if all(gap.value + gap.guard <= SAME_HERTZ for gap in gaps) else ""
