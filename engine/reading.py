"""What a technician types, turned into a value with a unit and then into outcomes of a check.

Purpose: "61.5", "61.5 Hz", "1845 rpm", "1/32 in", "0.8 mm", "1 1/4 turns", "12 inHg", "-41 kPa", "118, 121 psi",
"wide", "wide?", "unknown".
Law: nonsense is refused with the value, what was expected and an example; nothing is guessed silently.
Sources: f = poles * rpm / 120 (TM 5-6115-584-34, para 7-1); 1 in = 25.4 mm exactly; 1 inHg = 3.38639 kPa and
1 psi = 6.89476 kPa (NIST SP 811, from memory).
Not checked here: whether readings agree with each other.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .model import Band, Check, Feature, Features, Reading
from .problem import HertzwrightError, printable

KPA_PER_INHG = 3.38639
KPA_PER_PSI = 6.89476
MM_PER_INCH = 25.4

UNKNOWN_WORDS = frozenset({"unknown", "don't know", "dont know", "skip", "not known", "n/a", "na"})

# Spelling of a unit -> (unit of the check, factor to it). Frequency from rpm needs the poles, see `_factor`.
_UNITS: dict[str, dict[str, float]] = {
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
    "s": {"s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "min": 60.0},
}  # fmt: skip
_EXAMPLES = {
    "Hz": "61.5, 61.5 Hz or 1845 rpm", "in": "1/32 in or 0.8 mm", "turns": "1 1/4 turns", "V": "238 V",
    "ohm": "12 ohm", "psi": "118 psi", "inHg": "18 inHg or 61 kPa", "A": "37 A", "s": "2.5 s",
}  # fmt: skip
_NUMBER = re.compile(
    r"\s*(?P<sign>[-+\u2212])?\s*(?:(?P<whole>\d+)[ -]+(?P<over>\d+)\s*/\s*(?P<under>\d+)"
    r"|(?P<n>\d+)\s*/\s*(?P<d>\d+)|(?P<decimal>\d+(?:[.,]\d+)?|[.,]\d+))\s*(?P<rest>.*)",
    re.DOTALL,
)
_LOOKALIKES = str.maketrans({"l": "1", "I": "1", "O": "0", "o": "0", "S": "5", "B": "8"})


class AnswerError(HertzwrightError):
    """An answer that cannot be used. The message shows it, and says what was expected."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to a check.

    outcomes: those that fit it, none for "unknown". values: numbers in the unit of the check, if any were given.
    sure: False halves its say (see `words`). text: as it is kept and shown.
    """

    outcomes: tuple[str, ...]
    values: tuple[float, ...] = ()
    sure: bool = True
    text: str = ""


def shown(text: str) -> str:
    """A user's text made safe to print: control characters escaped, long text cut."""
    cleaned = printable(text)
    return cleaned if len(cleaned) <= 60 else cleaned[:57] + "..."


def read_answer(check: Check, text: str, features: Features, bands: Sequence[Band] | None = None) -> Answer:
    """Outcomes that an answer to a check means.

    text: an outcome (its id, with blanks or hyphens, or the start of it), a reading, both ("1.2 Hz slow swing"),
    or "unknown"; a question mark at the end says that it is not sure.
    bands: limits that replace those of the check (a tolerance set).
    Raises AnswerError.
    """
    written = " ".join(text.split())
    sure = not written.endswith("?")
    bare = written.rstrip("?").strip()
    if not bare or bare.lower() in UNKNOWN_WORDS:
        return Answer((), text="unknown")
    if check.reading is not None and (match := _NUMBER.match(bare)):
        values, rest = _values(check.reading, bare, features) if check.reading.per else (None, "")
        if values is None:
            value, rest = _one_value(check.reading, match, bare, features)
            values = (value,)
        outcomes = _outcomes(check.reading, values, features, bands)
        if rest:
            named = _named(check, rest)
            if named is None or named not in outcomes:
                raise AnswerError(
                    f'"{shown(text)}": {shown(rest)} does not go with this reading; '
                    f"it means {_list([name.replace('_', ' ') for name in outcomes])}"
                )
            outcomes = (named,)
        return Answer(outcomes, values, sure, _written(values, check.reading.unit) + ("" if sure else "?"))
    named = _named(check, bare)
    if named is not None:
        return Answer((named,), (), sure, named + ("" if sure else "?"))
    raise AnswerError(_not_understood(check, text, bare))


def parse_number(text: str) -> float:
    """A plain number ("9", "1 1/2", "0.5"). Raises ValueError."""
    match = _NUMBER.fullmatch(text)
    if match is None or match["rest"].strip():
        raise ValueError(text)
    return _number(match)


def rated_amps(features: Features) -> float:
    """Amps per leg at rated kW: single phase at unity power factor (P = V I), three phase at 0.8 (P = sqrt3 V I pf)."""
    kilowatts, volts = float(features["rated_kw"]), float(features["volts"])
    if float(features["phases"]) == 3:
        return kilowatts * 1000 / (math.sqrt(3) * volts * 0.8)
    return kilowatts * 1000 / volts


def _number(match: re.Match[str]) -> float:
    if match["whole"] is not None:
        over, under = int(match["over"]), int(match["under"])
        value = int(match["whole"]) + (over / under if under else math.nan)
    elif match["n"] is not None:
        value = int(match["n"]) / int(match["d"]) if int(match["d"]) else math.nan
    else:
        value = float(match["decimal"].replace(",", "."))
    if not math.isfinite(value):
        raise ValueError(match[0])
    return -value if match["sign"] in ("-", "\u2212") else value


def _factor(unit: str, spelled: str, features: Features) -> float | None:
    factor = _UNITS[unit].get(spelled.strip().rstrip(".").lower() or unit.lower())
    if factor == 0.0:
        return float(features["poles"]) / 120.0
    return factor


def _one_value(reading: Reading, match: re.Match[str], text: str, features: Features) -> tuple[float, str]:
    try:
        value = _number(match)
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
        hint = ""
        fixed = text.translate(_LOOKALIKES)
        if fixed != text and (again := _NUMBER.match(fixed)) and _factor(reading.unit, again["rest"], features):
            hint = f'; did you mean "{shown(fixed)}"?'
        raise AnswerError(
            f'"{shown(text)}": "{shown(spelled)}" is no unit of this reading; expected {_expected(reading)}{hint}'
        )
    value *= factor
    if reading.unit == "inHg" and value < 0:
        value = -value  # a gauge that shows vacuum as negative pressure
    if not reading.lowest <= value <= reading.highest:
        raise AnswerError(
            f'"{shown(text)}" is outside what this reading can be, '
            f"{reading.lowest:g} to {reading.highest:g} {reading.unit}; expected {_expected(reading)}"
        )
    return value, rest


def _values(reading: Reading, text: str, features: Features) -> tuple[tuple[float, ...] | None, str]:
    """Several values: "118, 121 psi", "52/31", "52 and 31 A", "52; 31"."""
    pieces = [piece for piece in re.split(r"\s*(?:;|,\s+|,(?=\d{2,})|\s/\s|/|\band\b|&)\s*", text) if piece]
    if len(pieces) == 1:
        return None, ""
    unit = ""
    if (last := _NUMBER.match(pieces[-1])) is not None:
        unit = last["rest"]
    values = []
    for piece in pieces:
        match = _NUMBER.match(piece if not (found := _NUMBER.match(piece)) or found["rest"] else f"{piece} {unit}")
        if match is None:
            raise AnswerError(f'"{shown(text)}": "{shown(piece)}" is not a number; expected {_expected(reading)}')
        values.append(_one_value(reading, match, text, features)[0])
    return tuple(values), ""


def _outcomes(
    reading: Reading, values: Sequence[float], features: Features, bands: Sequence[Band] | None
) -> tuple[str, ...]:
    scale = 1.0
    if reading.scale == "rated_frequency":
        scale = float(features["hertz"]) / 60.0
    elif reading.scale == "rated_volts":
        scale = float(features["volts"])
    elif reading.scale == "rated_amps":
        scale = rated_amps(features)
    deciding = max(values) if reading.scale == "rated_amps" else min(values)
    if len(values) > 1 and reading.uneven is not None:
        low, high, mean = min(values), max(values), math.fsum(values) / len(values)
        spread = (high - low) / mean if reading.uneven.measure == "spread_over_mean" else 1.0 - low / (high or 1.0)
        plain = _band(reading, deciding / scale, bands)
        # A rating passed matters more than legs that differ; cylinders that differ more than a low one.
        if mean and spread > reading.uneven.above and "over_rating" not in plain:
            return (reading.uneven.outcome,)
        return plain
    return _band(reading, deciding / scale, bands)


def _band(reading: Reading, value: float, bands: Sequence[Band] | None) -> tuple[str, ...]:
    for band in bands if bands is not None else reading.bands:
        if band.low <= value < band.high:
            return band.outcomes
    raise AnswerError(f"{value:g} {reading.unit} is in none of the bands; expected {_expected(reading)}")


def _named(check: Check, text: str) -> str | None:
    wanted = re.sub(r"[ \-]+", "_", text.strip().lower())
    names = [outcome.id for outcome in check.outcomes]
    if wanted in names:
        return wanted
    starting = [name for name in names if name.startswith(wanted)]
    return starting[0] if len(starting) == 1 else None


def _expected(reading: Reading) -> str:
    each = {"cylinder": ", one for each cylinder", "leg": ", one for each leg"}.get(reading.per, "")
    return f"{_EXAMPLES[reading.unit]}{each}"


def _not_understood(check: Check, text: str, bare: str) -> str:
    names = [outcome.id for outcome in check.outcomes]
    wanted = re.sub(r"[ \-]+", "_", bare.lower())
    parts = [_list([name.replace("_", " ") for name in names])]
    if check.reading is not None:
        parts.append(f"a reading such as {_expected(check.reading)}")
        fixed = bare.translate(_LOOKALIKES)
        if fixed != bare and _NUMBER.match(fixed):
            return f'"{shown(text)}" is not a number; did you mean "{shown(fixed)}"?'
        if bare.lower().lstrip("+-") in ("nan", "inf", "infinity"):
            return f'"{shown(text)}" is not a number; expected {_expected(check.reading)}'
    close = difflib.get_close_matches(wanted, names, 1, 0.6)
    hint = f'; did you mean "{close[0].replace("_", " ")}"?' if close else ""
    return f'"{shown(text)}" is no answer to {check.title.lower()}; expected {", or ".join(parts)}{hint}'


def _list(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _written(values: Sequence[float], unit: str) -> str:
    # Four figures, never with an exponent: what is shown can be typed again.
    rounded = [float(f"{value:.4g}") for value in values]
    return ", ".join(f"{value:.6f}".rstrip("0").rstrip(".") for value in rounded) + f" {unit}"


def read_features(given: Mapping[str, object], known: Mapping[str, Feature]) -> dict[str, str | float]:
    """Features of a set with defaults filled in. Raises AnswerError on unknown names or values.

    known: feature id -> `model.Feature`.
    """
    features: dict[str, str | float] = {}
    for name, feature in known.items():
        features[name] = feature.default
    for name, value in given.items():
        wanted = known.get(str(name))
        if wanted is None:
            close = difflib.get_close_matches(str(name), list(known), 1)
            hint = f'; did you mean "{close[0]}"?' if close else f"; known are {_list(list(known))}"
            raise AnswerError(f'"{shown(str(name))}" is no feature of a set{hint}')
        features[wanted.id] = _feature_value(wanted.id, str(value).strip(), wanted)
    return features


def _feature_value(name: str, text: str, feature: Feature) -> str | float:
    if feature.kind == "choice":
        wanted = re.sub(r"[ \-]+", "_", text.lower())
        if wanted not in feature.choices:
            raise AnswerError(f'{name}: "{shown(text)}" is none of {_list(feature.choices)}')
        return wanted
    match = _NUMBER.fullmatch(text)
    try:
        value = math.nan if match is None else _number(match)
    except ValueError:
        value = math.nan
    unit = "" if match is None else match["rest"].strip().lower()
    unit = unit.removeprefix("\u00b0")
    if feature.unit == "ft" and unit in ("m", "metres", "meters"):
        value, unit = value / 0.3048, "ft"
    if feature.unit == "F" and unit == "c":
        value, unit = value * 9 / 5 + 32, "f"
    if math.isnan(value) or unit not in ("", feature.unit.lower()):
        raise AnswerError(f'{name}: "{shown(text)}" is not a number{f" in {feature.unit}" if feature.unit else ""}')
    if feature.choices and value not in [float(choice) for choice in feature.choices]:
        raise AnswerError(f'{name}: "{shown(text)}" is none of {_list(feature.choices)}')
    if not feature.lowest <= value <= feature.highest:
        limits = f"{feature.lowest:g} to {feature.highest:g} {feature.unit}".strip()
        raise AnswerError(f'{name}: "{shown(text)}" is outside {limits}')
    return value
