"""Electrical load: kilowatts and amps per hot leg, neutral, imbalance, and what connected loads add up to.

Purpose: what a meter should show at a load, and what readings of volts and amps mean in kilowatts.
Law: pure arithmetic on stated units; nothing is rounded, and a guess (a power factor) is stated as a caution.
Sources: the definitions P = V I pf and P = sqrt(3) V I pf; leg currents in phase subtract in the neutral; the power of
a resistance goes with the square of the voltage. Motor and welder cautions are common practice.
Not checked here: harmonics, starting currents over time, cable sizes.
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..problems import AnswerError, close_to, quoted

KILOWATTS_PER_HORSEPOWER = 0.745699872  # mechanical horsepower, 550 ft lbf/s
# A single-phase set below this has two wires and one hot leg; above it three wires, and two legs of half the voltage.
TWO_WIRE_BELOW_VOLTS = 150.0
# Nameplates of motors without a stated power factor: common practice, and said as a caution wherever it is used.
MOTOR_POWER_FACTOR = 0.8

KINDS = ("resistive", "motor", "welder", "inductive")
_MOTOR_CAUTION = (
    "A motor draws several times its running current while it starts: start the largest first, one at a time, "
    "and expect a dip (common practice)."
)
_INDUCTIVE_CAUTION = (
    "A welder or other inductive load comes and goes and takes more amps than its kilowatts say: judge the governor "
    "on a resistive load instead, and keep every leg within its rated amps (common practice)."
)


def legs(volts: float, phases: int) -> int:
    """Hot legs of a set: three with three phases, else two, or one on a two-wire set.

    volts: rated, line to line. Raises ValueError for phases other than 1 or 3.
    """
    if phases not in (1, 3):
        raise ValueError(f"{phases} phases; expected 1 or 3")
    if phases == 3:
        return 3
    return 1 if volts < TWO_WIRE_BELOW_VOLTS else 2


def leg_volts(volts: float, phases: int) -> float:
    """Volts from a hot leg to neutral: V / sqrt(3), V / 2, or V on a two-wire set."""
    return volts / {1: 1.0, 2: 2.0, 3: math.sqrt(3.0)}[legs(volts, phases)]


def amps_per_leg(kilowatts: float, volts: float, phases: int = 1, power_factor: float = 1.0) -> float:
    """Amps in each hot leg of an evenly shared load.

    kilowatts: real power; volts: line to line; I = P/(V pf), with three phases I = P/(sqrt(3) V pf).
    Raises ValueError for volts or a power factor that cannot be.
    """
    _positive("volts", volts)
    _power_factor(power_factor)
    return kilowatts * 1000.0 / (legs(volts, phases) * leg_volts(volts, phases) * power_factor)


def kilowatts_of(amps: Sequence[float], volts: float, phases: int = 1, power_factor: float = 1.0) -> float:
    """Kilowatts from the amps of the legs and the line voltage.

    amps: one value for each hot leg, or a single one that stands for all of them. Raises ValueError for another number.
    """
    _power_factor(power_factor)
    count = legs(volts, phases)
    if len(amps) == 1:
        amps = [amps[0]] * count
    if len(amps) != count:
        raise ValueError(f"{len(amps)} leg currents; expected {count}, or one for all")
    return math.fsum(amps) * leg_volts(volts, phases) * power_factor / 1000.0


def neutral_amps(amps: Sequence[float]) -> float:
    """Amps in the neutral of legs at unity power factor.

    Two legs: |I1 - I2|. Three: the sum of three currents 120 degrees apart. One leg: all of it comes back.
    Raises ValueError for another number of legs.
    """
    if len(amps) not in (1, 2, 3):
        raise ValueError(f"{len(amps)} legs; expected 1, 2 or 3")
    if len(amps) == 2:
        return abs(amps[0] - amps[1])
    return abs(_total([value * cmath.exp(-2j * math.pi * leg / 3.0) for leg, value in enumerate(amps)]))


def _total(values: Sequence[complex]) -> complex:
    """The sum, rounded once, so that every Python gives the same digits."""
    return complex(math.fsum(value.real for value in values), math.fsum(value.imag for value in values))


def imbalance_percent(amps: Sequence[float]) -> float:
    """Largest deviation of a leg from the mean, in percent of the mean; 0 where nothing flows."""
    if not amps:
        raise ValueError("no leg currents")
    mean = math.fsum(amps) / len(amps)
    return 100.0 * max(abs(value - mean) for value in amps) / mean if mean else 0.0


def resistive_kilowatts(kilowatts: float, volts: float, nominal_volts: float) -> float:
    """Power of a resistive load at another voltage: P (V / V_nominal)^2. kilowatts: at nominal_volts."""
    _positive("nominal volts", nominal_volts)
    return kilowatts * (volts / nominal_volts) ** 2


@dataclass(frozen=True, slots=True)
class Connected:
    """One connected load. `kilowatts` is taken from the set; `leg` 0 is across the lines (all legs), else one leg."""

    kind: str
    kilowatts: float
    power_factor: float
    leg: int = 0
    cautions: tuple[str, ...] = ()

    @property
    def apparent(self) -> complex:
        """Apparent power in kVA, lagging: real part kW, imaginary part kvar."""
        return complex(self.kilowatts, self.kilowatts * math.tan(math.acos(self.power_factor)))


@dataclass(frozen=True, slots=True)
class Total:
    """What connected loads add up to: kW, kVA, power factor, amps per hot leg and in the neutral, imbalance in %."""

    kilowatts: float
    kilovolt_amperes: float
    power_factor: float
    amps: tuple[float, ...]
    neutral: float
    imbalance: float
    cautions: tuple[str, ...]


def add_up(loads: Sequence[Connected], volts: float, phases: int = 1) -> Total:
    """Add connected loads as apparent power, leg by leg.

    volts: line to line. A load across the lines is shared evenly by the legs.
    Raises ValueError for a leg that the set does not have.
    """
    _positive("volts", volts)
    count, to_neutral = legs(volts, phases), leg_volts(volts, phases)
    apparent = [0j] * count
    for load in loads:
        if not 0 <= load.leg <= count:
            raise ValueError(f"leg {load.leg}; this set has {count}")
        if load.leg:
            apparent[load.leg - 1] += load.apparent
        else:
            apparent = [share + load.apparent / count for share in apparent]
    currents = [share.conjugate() * 1000.0 / to_neutral for share in apparent]
    if count == 2:
        neutral = abs(currents[0] - currents[1])
    else:
        neutral = abs(_total([value * cmath.exp(-2j * math.pi * leg / 3.0) for leg, value in enumerate(currents)]))
    amps = tuple(abs(value) for value in currents)
    whole = _total(apparent)
    cautions = dict.fromkeys(caution for load in loads for caution in load.cautions)
    factor = whole.real / abs(whole) if whole else 1.0
    return Total(whole.real, abs(whole), factor, amps, neutral, imbalance_percent(amps), tuple(cautions))


_ITEM = re.compile(
    r"(?P<pf>(?:pf|power factor)\s*(?P<factor>\d*[.,]?\d+))|(?P<eff>(?:eff|efficiency)\s*(?P<efficiency>\d*[.,]?\d+))"
    r"|(?P<onleg>leg\s*(?P<leg>\d+))|(?P<size>(?P<number>\d*[.,]?\d+)\s*(?P<unit>kva|kw|w|hp))",
    re.IGNORECASE,
)


def read_connected(text: str) -> Connected:
    """A connected load as written: "resistive 3 kW", "motor 2 hp pf 0.8 efficiency 0.75", "welder 5 kVA pf 0.5 leg 1".

    Power of a motor in hp is at its shaft and needs its efficiency; in kW it is what the motor takes.
    Raises AnswerError with the text, what was expected and an example.
    """
    shown = quoted(text)
    expected = (
        'expected for example "resistive 3 kW", "motor 2 hp efficiency 0.75 pf 0.8" or "welder 5 kVA pf 0.5 leg 1"'
    )
    kind, _, rest = " ".join(text.split()).partition(" ")
    kind = kind.lower().rstrip(",:")
    if kind not in KINDS:
        hint = close_to(kind, KINDS)
        raise AnswerError(f"{shown}: {quoted(kind)} is no kind of load; {hint or expected}")
    found: dict[str, float] = {}
    unit = ""
    for match in _ITEM.finditer(rest):
        for name in ("factor", "efficiency", "leg", "number"):
            if match[name] is not None:
                if name in found:
                    raise AnswerError(f"{shown}: two values where one is meant; {expected}")
                found[name] = float(match[name].replace(",", "."))
        unit = (match["unit"] or unit).lower()
    if (left := _ITEM.sub("", rest).strip(" ,;")) or "number" not in found:
        raise AnswerError(f"{shown}: {f'{quoted(left)} is not understood' if left else 'no power given'}; {expected}")
    return _connected(shown, kind, unit, found)


def _connected(shown: str, kind: str, unit: str, found: dict[str, float]) -> Connected:
    cautions: list[str] = []
    factor = found.get("factor", 1.0)
    for name, value in (("power factor", factor), ("efficiency", found.get("efficiency", 1.0))):
        if not 0.05 <= value <= 1.0:
            raise AnswerError(f"{shown}: a {name} of {value:g}; expected 0.05 to 1")
    if kind == "resistive" and factor != 1.0:
        raise AnswerError(f"{shown}: a resistive load has power factor 1; call it inductive")
    if kind == "motor":
        cautions.append(_MOTOR_CAUTION)
        if "factor" not in found:
            factor = MOTOR_POWER_FACTOR
            cautions.append(f"A motor without a stated power factor is taken at {factor:g}; see its nameplate.")
    elif kind in ("welder", "inductive"):
        cautions.append(_INDUCTIVE_CAUTION)
        if "factor" not in found:
            raise AnswerError(f"{shown}: a {kind} load needs its power factor from the nameplate, for example pf 0.5")
    power = found["number"]
    if unit == "hp":
        if kind != "motor":
            raise AnswerError(f"{shown}: horsepower is for motors; give kW")
        if "efficiency" not in found:
            raise AnswerError(f"{shown}: shaft horsepower needs efficiency, such as efficiency 0.75; or give kW taken")
        power *= KILOWATTS_PER_HORSEPOWER / found["efficiency"]
    elif "efficiency" in found:
        raise AnswerError(f"{shown}: efficiency goes with horsepower only; kW and kVA are what the load takes")
    power *= {"w": 0.001, "kva": factor}.get(unit, 1.0)
    if not 0.0 < power <= 1000.0:
        raise AnswerError(f"{shown}: {power:g} kW; expected more than 0, to 1000 kW")
    return Connected(kind, power, factor, int(found.get("leg", 0)), tuple(cautions))


def _positive(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(f"{name} of {value:g}; expected more than 0")


def _power_factor(value: float) -> None:
    if not 0.0 < value <= 1.0:
        raise ValueError(f"power factor of {value:g}; expected above 0, to 1")
