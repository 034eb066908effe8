"""Units as people write them, and what each is in the unit of a check.

Purpose: one table for what is typed at a job and what stands in a solved case.
Law: a spelling that is not known has no factor; nothing is guessed.
Sources: f = poles * rpm / 120 (TM 5-6115-584-34, para 7-1); 1 in = 25.4 mm exactly; 1 inHg = 3.38639 kPa and
1 psi = 6.89476 kPa (NIST SP 811, from memory).
Not here: numbers (see `numbers`), what a reading means (see `readings`).
"""

from __future__ import annotations

KPA_PER_INHG = 3.38639
KPA_PER_PSI = 6.89476
MM_PER_INCH = 25.4

# Spelling of a unit -> (unit of the check, factor to it). Frequency from rpm needs the poles, see `unit_factor`.
UNITS: dict[str, dict[str, float]] = {
    "Hz": {"hz": 1.0, "hertz": 1.0, "cycles": 1.0, "cps": 1.0, "rpm": 0.0, "r/min": 0.0, "1/min": 0.0},
    "in": {
        "in": 1.0, "inch": 1.0, "inches": 1.0, '"': 1.0, "mm": 1 / MM_PER_INCH, "cm": 10 / MM_PER_INCH,
        "thou": 0.001, "mil": 0.001, "mils": 0.001,
    },
    "turns": {"turns": 1.0, "turn": 1.0, "t": 1.0},
    "V": {"v": 1.0, "volt": 1.0, "volts": 1.0, "mv": 0.001},
    "ohm": {"ohm": 1.0, "ohms": 1.0, "Ω": 1.0, "ω": 1.0, "kohm": 1000.0, "kω": 1000.0},
    "psi": {"psi": 1.0, "kpa": 1 / KPA_PER_PSI, "bar": 100 / KPA_PER_PSI},
    "inHg": {
        "inhg": 1.0, "in hg": 1.0, "in. hg": 1.0, '"hg': 1.0, "in": 1.0, "mmhg": 1 / MM_PER_INCH,
        "mm hg": 1 / MM_PER_INCH, "cmhg": 10 / MM_PER_INCH, "kpa": 1 / KPA_PER_INHG, "mbar": 0.1 / KPA_PER_INHG,
    },
    "A": {"a": 1.0, "amp": 1.0, "amps": 1.0, "ampere": 1.0},
    "s": {"s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "min": 60.0, "minute": 60.0, "minutes": 60.0},
    "min": {"min": 1.0, "mins": 1.0, "minute": 1.0, "minutes": 1.0, "s": 1 / 60, "sec": 1 / 60, "seconds": 1 / 60},
}  # fmt: skip


def unit_factor(unit: str, spelled: str, poles: float) -> float | None:
    """What a number in a unit as spelled is multiplied by to be in the unit of a check; None where it is not known.

    poles: of the generator, for a speed in rpm.
    """
    factor = UNITS[unit].get(spelled.strip().rstrip(".").lower() or unit.lower())
    return poles / 120.0 if factor == 0.0 else factor


def spellings_of(spelled: str) -> tuple[str, ...]:
    """All spellings of the unit that a word spells, itself where it is the base of one; none for what is no unit."""
    return next((tuple(known) for known in UNITS.values() if known.get(spelled.lower()) == 1.0), ())
