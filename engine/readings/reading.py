"""What a technician types, turned into a value with a unit and then into outcomes of a check.

Purpose: "61.5", "61.5 Hz", "1845 rpm", "1/32 in", "0.8 mm", "1 1/4 turns", "12 inHg", "-41 kPa", "118, 121 psi",
"wide", "wide?", "unknown".
Law: nonsense is refused with the value, what was expected and an example; nothing is guessed silently.
Source: standard uncertainty as in JCGM 100 (GUM), 4.3 and annex G. Units: see `compiler.units`.
Not checked here: whether readings agree with each other.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from ..compiler import NUMBER, Band, Check, Features, Reading, number_of, spoken, unit_factor
from ..problems import AnswerError, listed, shown
from .denial import same_sense

NO_SHARE = 0.005
"""A reading fits a band not at all below this share."""

UNKNOWN_WORDS = frozenset({"unknown", "don't know", "dont know", "skip", "not known", "n/a", "na"})

_EXAMPLES = {
    "Hz": "61.5, 61.5 Hz or 1845 rpm", "in": "1/32 in or 0.8 mm", "turns": "1 1/4 turns", "V": "238 V",
    "ohm": "12 ohm", "psi": "118 psi", "inHg": "18 inHg or 61 kPa", "A": "12.5, 12.1 A", "s": "2.5 s", "min": "3 min",
}  # fmt: skip
_DIFFERENCE = "0.6, 0.6 Hz or 18 rpm"
_MAY_BE_NUMBER = re.compile(r"^[\d.,lIOoSB\s/-]*\d[\d.,lIOoSB\s/-]*[A-Za-z%]{0,4}$")
"""What may have been meant as one reading: a sentence is none, whatever letters stand in it."""
_BLANKS = re.compile(r"\d+(?:[.,]\d+)?(?:\s+\d+(?:[.,]\d+)?)+(?:\s*[A-Za-z]+)?")
_LOOKALIKES = str.maketrans({"l": "1", "I": "1", "O": "0", "o": "0", "S": "5", "B": "8"})


_SPAN = re.compile(r"(?P<low>\d+(?:\.\d+)?) to (?P<high>\d+(?:\.\d+)?) Hz")
"""How a speed that goes up and down is kept: from its lowest to its highest point."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to a check.

    outcomes: those that it is taken for, none for "unknown". values: numbers in the unit of the check, if any were
    given. sure: False halves its say (see `words`). text: as it is kept and shown. fits: how well the answer fits each
    outcome that it fits at all, 0 to 1; a reading near a limit fits both sides of it. highest: the highest point of a
    speed that goes up and down, whose middle is in values; it is what danger limits are held against.
    """

    outcomes: tuple[str, ...]
    values: tuple[float, ...] = ()
    sure: bool = True
    text: str = ""
    fits: tuple[tuple[str, float], ...] = ()
    highest: float | None = None


def read_answer(check: Check, text: str, features: Features, bands: Sequence[Band] | None = None) -> Answer:
    """Outcomes that an answer to a check means.

    text: an outcome (its whole id, in any case, with blanks or hyphens), a reading, both ("1.2 Hz slow swing"), or
    "unknown"; the start of an outcome is refused, with the one that it may be. A question mark at the end says
    that it is not sure.
    bands: limits that replace those of the check (a tolerance set).
    Raises AnswerError.
    """
    written = " ".join(text.split())
    sure = not written.endswith("?")
    bare = written.rstrip("?").strip()
    if not bare or bare.lower() in UNKNOWN_WORDS:
        return Answer((), text="unknown")
    if check.reading is not None and check.reading.load is not None and (ends := _SPAN.fullmatch(bare)):
        return _span(check, check.reading, ends, written, sure, features, bands)
    named = outcome_named(check, bare)
    if named is None and check.reading is not None and (match := NUMBER.match(bare)):
        values, rest = _values(check.reading, bare, features) if check.reading.per else (None, "")
        if values is None:
            value, rest = _one_value(check.reading, match, bare, features)
            values = (value,)
        limits = check.reading.bands if bands is None else bands
        outcomes, fits = _outcomes(check.reading, values, features, limits, check.normal)
        if rest:
            named = outcome_named(check, rest)
            if named is None or named not in outcomes:
                raise AnswerError(
                    f'"{shown(text)}": {shown(rest)} does not go with this reading; '
                    f"it means {listed([name.replace('_', ' ') for name in outcomes])}"
                )
            fits = {name: fit for name, fit in fits.items() if name == named or name not in outcomes}
            outcomes = (named,)
        written = _written(values, check.reading.unit) + ("" if sure else "?")
        return Answer(outcomes, values, sure, written, tuple(fits.items()))
    if named is not None:
        return Answer((named,), (), sure, named + ("" if sure else "?"), ((named, 1.0),))
    raise _not_understood(check, text, bare)


def _span(
    check: Check,
    reading: Reading,
    ends: re.Match[str],
    written: str,
    sure: bool,
    features: Features,
    bands: Sequence[Band] | None,
) -> Answer:
    """A speed that goes up and down, taken at its middle. Raises AnswerError."""
    low, high = float(ends["low"]), float(ends["high"])
    for end in (low, high):
        if not reading.lowest <= end <= reading.highest:
            raise AnswerError(
                f'"{shown(written)}": understood as a swing from {low:g} to {high:g} Hz; {end:g} Hz is outside '
                f"what this reading can be, {reading.lowest:g} to {reading.highest:g} {reading.unit}"
            )
    if low > high:
        raise AnswerError(f'"{shown(written)}": understood as a swing; expected its lowest point first')
    middle = (low + high) / 2
    limits = reading.bands if bands is None else bands
    outcomes, fits = _outcomes(reading, (middle,), features, limits, check.normal)
    return Answer(outcomes, (middle,), sure, written, tuple(fits.items()), high)


def rated_amps(features: Features) -> float:
    """Amps per leg at rated kW: single phase at unity power factor (P = V I), three phase at 0.8 (P = sqrt3 V I pf)."""
    kilowatts, volts = float(features["rated_kw"]), float(features["volts"])
    if float(features["phases"]) == 3:
        return kilowatts * 1000 / (math.sqrt(3) * volts * 0.8)
    return kilowatts * 1000 / volts


def scale_of(reading: Reading, features: Features) -> float:
    """What the bands of a reading are multiplied by on this set."""
    if reading.scale == "rated_frequency":
        return float(features["hertz"]) / 60.0
    if reading.scale == "rated_volts":
        return float(features["volts"])
    return rated_amps(features) if reading.scale == "rated_amps" else 1.0


def _factor(unit: str, spelled: str, features: Features) -> float | None:
    return unit_factor(unit, spelled, float(features["poles"]))


def _one_value(reading: Reading, match: re.Match[str], text: str, features: Features) -> tuple[float, str]:
    try:
        value = number_of(match)
    except ValueError:
        raise AnswerError(f'"{shown(text)}" is not a number; expected {_expected(reading)}') from None
    spelled, rest = match["rest"].strip(), ""
    factor = _factor(reading.unit, spelled, features)
    if factor is None:
        # The unit may be followed by an outcome, or left out before it.
        for cut in range(len(spelled), 0, -1):
            if spelled[cut : cut + 1] == " " and (factor := _factor(reading.unit, spelled[:cut], features)) is not None:
                rest = spelled[cut:].strip()
                break
        else:
            if re.fullmatch(r"[A-Za-z_][A-Za-z_ -]{3,}", spelled):
                factor, rest = 1.0, spelled
    if factor is None:
        hint, meant = "", ""
        fixed = text.translate(_LOOKALIKES)
        if fixed != text and (again := NUMBER.match(fixed)) and _factor(reading.unit, again["rest"], features):
            hint, meant = f'; did you mean "{shown(fixed)}"?', fixed
        told = f'"{shown(text)}": "{shown(spelled)}" is no unit of this reading; expected {_expected(reading)}{hint}'
        raise AnswerError(told, meant)
    value *= factor
    if reading.unit == "inHg" and value < 0:
        value = -value  # a gauge that shows vacuum as negative pressure
    if not reading.lowest <= value <= reading.highest:
        less = "; it is a difference: take the one reading from the other" if _difference(reading) else ""
        raise AnswerError(
            f'"{shown(text)}" is outside what this reading can be, '
            f"{reading.lowest:g} to {reading.highest:g} {reading.unit}; expected {_expected(reading)}{less}"
        )
    return value, rest


def _values(reading: Reading, text: str, features: Features) -> tuple[tuple[float, ...] | None, str]:
    """Several values: "118, 121 psi", "52/31", "52 and 31 A", "52; 31"."""
    pieces = [piece for piece in re.split(r"\s*(?:;|,\s+|,(?=\d{2,})|\s/\s|/|\band\b|&)\s*", text) if piece]
    if _BLANKS.fullmatch(text):  # "14.7 14.6"; 1 1/2 is one number
        pieces = text.split()
        if not pieces[-1][:1].isdigit():
            pieces[-2:] = [" ".join(pieces[-2:])]
    if len(pieces) == 1:
        return None, ""
    unit = ""
    if (last := NUMBER.match(pieces[-1])) is not None:
        unit = last["rest"]
    values = []
    for piece in pieces:
        match = NUMBER.match(piece if not (found := NUMBER.match(piece)) or found["rest"] else f"{piece} {unit}")
        if match is None:
            raise AnswerError(f'"{shown(text)}": "{shown(piece)}" is not a number; expected {_expected(reading)}')
        values.append(_one_value(reading, match, text, features)[0])
    return tuple(values), ""


def _outcomes(
    reading: Reading, values: Sequence[float], features: Features, bands: Sequence[Band], normal: str
) -> tuple[tuple[str, ...], dict[str, float]]:
    """The outcomes that a reading is taken for, and how well it fits each that it fits at all."""
    scale = scale_of(reading, features)
    value = (max(values) if reading.scale == "rated_amps" else min(values)) / scale
    if len(values) > 1 and reading.uneven is not None:
        low, high, mean = min(values), max(values), math.fsum(values) / len(values)
        spread = (high - low) / mean if reading.uneven.measure == "spread_over_mean" else 1.0 - low / (high or 1.0)
        # A rating passed matters more than legs that differ; cylinders that differ more than a low one.
        if mean and spread > reading.uneven.above and "over_rating" not in _band(reading, value, bands, normal):
            return (reading.uneven.outcome,), {reading.uneven.outcome: 1.0}
    fits = _fits(bands, value, reading.uncertainty, normal)
    return _band(reading, value, bands, normal), fits


def _band(reading: Reading, value: float, bands: Sequence[Band], normal: str) -> tuple[str, ...]:
    for band in bands:
        if _holds(band, value, normal):
            return band.outcomes
    raise AnswerError(f"{value:g} {reading.unit} is in none of the bands; expected {_expected(reading)}")


def _holds(band: Band, value: float, normal: str) -> bool:
    """Whether a value lies in a band. What is right from one figure to another is right at both, as it is shown; else a
    value at a limit belongs to the band above it."""
    both = band.outcomes[:1] == (normal,) and math.isfinite(band.low) and math.isfinite(band.high)
    if both and math.isclose(value, band.high, rel_tol=1e-9):
        return True
    return band.low <= value < band.high


def _fits(bands: Sequence[Band], value: float, uncertainty: float, normal: str) -> dict[str, float]:
    """Chance that what the reading stands for lies in each band: normal about the reading, as the GUM takes a standard
    uncertainty. A share too small to matter is none, so that a reading well inside its band leaves no doubt."""
    fits: dict[str, float] = {}
    first = next((band for band in bands if _holds(band, value, normal)), None)
    for band in bands:
        if uncertainty > 0.0:
            share = _below((band.high - value) / uncertainty) - _below((band.low - value) / uncertainty)
        else:
            share = float(band is first)
        if share >= NO_SHARE:
            for outcome in band.outcomes:
                fits[outcome] = fits.get(outcome, 0.0) + (share if share <= 1.0 - NO_SHARE else 1.0)
    return fits


def _below(deviations: float) -> float:
    """The standard normal distribution function."""
    return 0.5 * math.erfc(-deviations / math.sqrt(2.0))


def outcome_named(check: Check, text: str) -> str | None:
    """The one outcome that a text is the whole text of, as it stands on the screen: its name, what it means, or both;
    what it means also as far as its colon, behind which it only says the same again. None where there is none."""
    wanted = _plain(text)
    found = set()
    for outcome in check.outcomes:
        name, others = _called(outcome.id, outcome.brief)
        if wanted == name:
            return outcome.id
        if wanted in others:
            found.add(outcome.id)
    return found.pop() if len(found) == 1 else None


@lru_cache(maxsize=4096)
def _called(name: str, brief: str) -> tuple[str, frozenset[str]]:
    """An outcome's name, and what else it is called, as they are compared."""
    name = name.replace("_", " ")
    others = (name, brief, f"{name} {brief}", brief.partition(":")[0])
    return _plain(name), frozenset(_plain(each) for each in others if each)


def _plain(text: str) -> str:
    return re.sub(r"[\s_,-]+", " ", spoken(text)).strip()


def _expected(reading: Reading) -> str:
    each = {"cylinder": ", one for each cylinder", "leg": ", one for each leg"}.get(reading.per, "")
    return f"{_DIFFERENCE if _difference(reading) else _EXAMPLES[reading.unit]}{each}"


def _difference(reading: Reading) -> bool:
    """A settled speed names its load; any other reading in hertz is a swing or a difference."""
    return reading.unit == "Hz" and reading.load is None


def _not_understood(check: Check, text: str, bare: str) -> AnswerError:
    names = [outcome.id for outcome in check.outcomes]
    wanted = re.sub(r"[ \-]+", "_", bare.lower())
    parts = [listed([name.replace("_", " ") for name in names])]
    if check.reading is not None:
        parts.append(f"a reading such as {_expected(check.reading)}")
        fixed = bare.translate(_LOOKALIKES) if _MAY_BE_NUMBER.search(bare) else bare
        if fixed != bare and NUMBER.match(fixed):
            return AnswerError(f'"{shown(text)}" is not a number; did you mean "{shown(fixed)}"?', fixed)
        if bare.lower().lstrip("+-") in ("nan", "inf", "infinity"):
            return AnswerError(f'"{shown(text)}" is not a number; expected {_expected(check.reading)}')
    # What somebody denies is no slip for what it would be if it were so.
    meant = [name for name in names if same_sense(bare, name)]
    begun = [name for name in meant if name.startswith(wanted)]
    close = begun if len(begun) == 1 else difflib.get_close_matches(wanted, meant, 1, 0.6)
    hint = f'; did you mean "{close[0].replace("_", " ")}"?' if close else ""
    told = f'"{shown(text)}" is no answer to {check.title.lower()}; expected {", or ".join(parts)}{hint}'
    return AnswerError(told, close[0] if close else "")


def _written(values: Sequence[float], unit: str) -> str:
    # Four figures, never with an exponent: what is shown can be typed again.
    rounded = [float(f"{value:.4g}") for value in values]
    return ", ".join(f"{value:.6f}".rstrip("0").rstrip(".") for value in rounded) + f" {unit}"
