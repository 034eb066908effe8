"""Several figures in one line, or one that stands for several: a swing, several loads, every leg, where a speed went.

Purpose: the part of the grammar that is about figures; what each may mean, as `Meaning`.
Law: pure; what has no such meaning gives none. Halves and quarters in words are figures.
Not here: one reading as it stands (see `reading`), and answers in words (see `grammar`, `plain`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

from ..compiler import Check, Features
from ..problems import AnswerError, in_sentence
from .extreme import base_of, difference, went_to
from .reading import read_answer

FIGURE = r"[-+]?(?:\d+[ ]+\d+\s*/\s*\d+|\d+\s*/\s*\d+|\d+(?:[.,]\d+)?|[.,]\d+)"
_UNIT = r"(?:\s*(?P<{0}>[a-zA-Z\"/.]+(?: hg)?))?"
_SWING = re.compile(
    r"(?:(?:it\s+)?(?:swings?|hunts?|goes|surges?)\s+)?(?:from\s+|between\s+|about\s+)?"
    rf"(?P<low>{FIGURE}){_UNIT.format('one')}"
    rf"\s*(?:-|\u2013|\u2014|\.\.+|\bto\b|\band\b)\s*(?P<high>{FIGURE}){_UNIT.format('two')}(?P<doubt>\?)?",
    re.IGNORECASE,
)
_SEVERAL = re.compile(rf"{FIGURE}(?:(?:\s*[,;/]\s+|\s*;\s*|\s+){FIGURE})+(?:\s*(?P<unit>[a-zA-Z/]+))?(?P<doubt>\?)?")


@dataclass(frozen=True, slots=True)
class Meaning:
    """One way to take what was typed. `answers`: (check, answer as `read_answer` takes it), in the order to record.
    `told`: in words. `plain`: it can hardly be meant otherwise, so that it is kept at once where it is no danger."""

    answers: tuple[tuple[str, str], ...]
    told: str
    plain: bool = False


_HALF = re.compile(r"\bhalf an?\b", re.IGNORECASE)
_ISH = re.compile(r"(?<=\d)\s*-?ish\b", re.IGNORECASE)
_UNITS = r"turns?|hertz|hz|seconds?|secs?|volts?|amps?|inch(?:es)?|psi|thou(?:sandths?)?"
_SMALL = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7}
_COUNTS = {
    **_SMALL, "eight": 8, "nine": 9, "ten": 10, "twelve": 12, "fifteen": 15, "twenty": 20, "thirty": 30,
    "a couple of": 2, "couple of": 2,
}  # fmt: skip
_WHOLE = {**_SMALL, "a": 1, "an": 1}
_COUNTED = re.compile(rf"\b(?P<count>{'|'.join(_COUNTS)})\s+(?P<unit>{_UNITS})\b", re.IGNORECASE)
_UNDER = {"half": 2, "third": 3, "quarter": 4, "eighth": 8, "sixteenth": 16, "thirty-second": 32, "sixty-fourth": 64}
_FRACTION = re.compile(
    r"\b(?P<over>an?|one|two|three|five|seven)?\s*\b(?P<under>half|third|quarter|eighth|sixteenth|thirty[ -]second|"
    rf"sixty[ -]fourth)s?(?:\s+of)?(?:\s+an?)?(?=\s+(?P<unit>{_UNITS})\b|\s*\??$)",
    re.IGNORECASE,
)
_THOU = re.compile(r"\b(?P<number>\d+(?:\.\d+)?)\s+thou(?:sandths?(?: of an inch)?)?\b", re.IGNORECASE)
"""Thousandths of an inch."""
_AND_PART = re.compile(
    r"\b(?:(?P<whole>an?|one|two|three|four|five|six|\d+)\s+|(?=turn and ))"
    r"(?:(?P<unit>turns?|hertz|hz|volts?|inch(?:es)?)\s+)?and\s+(?:a\s+)?"
    r"(?P<part>half|quarter|three[ -]quarters?)\b",
    re.IGNORECASE,
)
_PART = {"half": "1/2", "quarter": "1/4"}


def spelled(said: str) -> str:
    """A text with what is said of figures in words as figures: a turn and a half is 1 1/2 turns, 243ish 243, a couple
    of seconds 2 seconds, a thirty-second 1/32."""

    def figure(match: re.Match[str]) -> str:
        whole = _WHOLE.get((match["whole"] or "a").lower(), match["whole"])
        return f"{whole} {_PART.get(match['part'].lower(), '3/4')} {match['unit'] or ''}".rstrip()

    def fraction(match: re.Match[str]) -> str:
        over = _WHOLE.get((match["over"] or "a").lower())
        return f"{over}/{_UNDER[match['under'].lower().replace(' ', '-')]}"

    said = _HALF.sub("0.5", _AND_PART.sub(figure, _ISH.sub("", said)))
    said = _COUNTED.sub(
        lambda match: f"{_COUNTS[match['count'].lower()]} {match['unit']}", _FRACTION.sub(fraction, said)
    )
    return _THOU.sub(lambda match: f"{float(match['number']) / 1000:.4f} in", said)


def value_of(check: Check, text: str, unit: str, features: Features) -> float | None:
    """A number with a unit, as a reading of a check; None where it can be none."""
    try:
        values = read_answer(check, f"{text} {unit}".strip(), features).values
    except AnswerError:
        return None
    return values[0] if len(values) == 1 else None


def at_load(check: Check) -> bool:
    return check.reading is not None and check.reading.load is not None


def number_text(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


_EACH = re.compile(
    rf"(?P<number>{FIGURE})\s*(?P<unit>(?!(?:on|in|for|each|all)\b)[a-zA-Z]+)?\s*(?:(?:on|in|for)\s+)?"
    r"(?:each|all (?P<count>two|three|four|six))"
    r"(?:\s+(?:legs?|cylinders?|phases?))?(?P<doubt>\?)?",
    re.IGNORECASE,
)

_EACH_FIRST = re.compile(r"^each\s+(?:(?:at|about|around|reads?|of them)\s+)*(?P<rest>[\d.].*?)$", re.IGNORECASE)


def for_each(check: Check, said: str, features: Features) -> list[Meaning]:
    """One figure for every leg or cylinder: 17.4 each."""
    match, reading = _EACH.fullmatch(_EACH_FIRST.sub(r"\g<rest> each", said)), check.reading
    if match is None or reading is None or not reading.per:
        return []
    legs = 3 if float(features.get("phases", 1)) == 3 else 2
    count = int(float(features.get("cylinders", 2))) if reading.per == "cylinder" else legs
    count = _WHOLE.get((match["count"] or "").lower(), max(2, count))
    answer = f"{', '.join([match['number'].replace(',', '.')] * count)} {reading.unit}"
    try:
        read_answer(check, f"{match['number']} {match['unit'] or ''}".strip(), features)
        values = read_answer(check, answer, features).values
    except AnswerError:
        return []
    return [
        Meaning(
            ((check.id, answer + (match["doubt"] or "")),),
            ", ".join(map(number_text, values)) + f" {reading.unit}",
            True,
        )
    ]


# ---- where the speed went


def went(
    check: Check, said: str, doubt: str, features: Features, checks: Mapping[str, Check], settled: Mapping[str, float]
) -> tuple[Meaning, ...]:
    """A dip or a rise told by where the speed went: its difference to the settled reading, and the figure as it stands
    where it may be one."""
    found = went_to(check, said, features, checks)
    if found is None or check.reading is None:
        return ()
    told, extreme = found
    base = told if told is not None else settled.get(base_of(check))
    away = None if base is None else difference(check, base, extreme)
    if away is None or base is None:
        return ()
    unit = check.reading.unit
    way = "above" if check.reading.above else "below"
    answers = [(check.id, f"{number_text(away)} {unit}{doubt}")]
    if told is not None:
        answers.insert(0, (base_of(check), f"{number_text(told)} {unit}{doubt}"))
    first = Meaning(
        tuple(answers),
        f"it went to {number_text(extreme)} {unit}, {number_text(away)} {unit} {way} the settled {number_text(base)}",
    )
    return (first,)


# ---- a swing


def swing(check: Check, said: str, features: Features, checks: Mapping[str, Check]) -> list[Meaning]:
    match = _SWING.fullmatch(said)
    reading = check.reading
    if match is None or reading is None:
        return []
    doubt, unit = match["doubt"] or "", match["two"] or match["one"] or ""
    settled = check if at_load(check) else _settled(check, checks)
    if settled is not None and settled.reading is not None:
        ends = [value_of(settled, match[end], unit, features) for end in ("low", "high")]
        if None not in ends:
            low, high = sorted(end for end in ends if end is not None)
            return [_swing_of(settled, low, high, doubt, checks)] if high > low else []
    ends = [value_of(check, match[end], unit, features) for end in ("low", "high")]
    if None in ends and (apart := _apart(check, match, unit, features, checks)):
        return apart
    if None in ends or reading.per:
        return []
    low, high = sorted(end for end in ends if end is not None)
    middle = f"{number_text((low + high) / 2)} {reading.unit}"
    told = f"between {number_text(low)} and {number_text(high)} {reading.unit}, taken at its middle, {middle}"
    return [Meaning(((check.id, middle + doubt),), told)]


def _apart(
    check: Check, match: re.Match[str], unit: str, features: Features, checks: Mapping[str, Check]
) -> list[Meaning]:
    """How far two settled speeds lie apart, where that is what is asked: 61.4 to 61.7."""
    reading = check.reading
    speed = next((each for each in checks.values() if at_load(each)), None)
    if reading is None or speed is None or reading.unit != "Hz" or reading.lowest < 0.0 or base_of(check):
        return []
    ends = [value_of(speed, match[end], unit, features) for end in ("low", "high")]
    if ends[0] is None or ends[1] is None:
        return []
    away = f"{number_text(abs(ends[1] - ends[0]))} Hz"
    told = f"from {number_text(ends[0])} to {number_text(ends[1])} Hz: {away} apart"
    return [Meaning(((check.id, away + (match["doubt"] or "")),), told)]


def _settled(check: Check, checks: Mapping[str, Check]) -> Check | None:
    """The check of a settled speed whose swing a check is about."""
    return next((each for each in checks.values() if each.reading and each.reading.swing == check.id), None)


def _swing_of(settled: Check, low: float, high: float, doubt: str, checks: Mapping[str, Check]) -> Meaning:
    """A speed that goes up and down: its middle, its highest point where that is what counts, and its swing."""
    assert settled.reading is not None
    unit, swing = settled.reading.unit, settled.reading.swing
    span = f"{number_text(low)} to {number_text(high)} {unit}"
    answers = [(settled.id, span + doubt)]
    middle = number_text((low + high) / 2)
    told = f"a swing from {number_text(low)} to {number_text(high)} {unit}: {middle} {unit} in the middle"
    if swing in checks:
        answers.append((swing, f"{number_text(high - low)} {unit}{doubt}"))
        told += f", and {number_text(high - low)} {unit} of swing"
    return Meaning(tuple(answers), told)


# ---- several loads at once


def several(check: Check, said: str, features: Features, checks: Mapping[str, Check]) -> list[Meaning]:
    match = _SEVERAL.fullmatch(said)
    if match is None or not at_load(check):
        return []
    unit, doubt = match["unit"] or "", match["doubt"] or ""
    body = said[: match.start("unit")] if unit else said.rstrip("?")
    texts = re.findall(FIGURE, body)
    points = [each for each in checks.values() if at_load(each)]
    points.sort(key=lambda each: each.reading.load or 0.0 if each.reading else 0.0)
    if not 2 <= len(texts) <= len(points):
        return []
    ways = [way for way in combinations(points, len(texts)) if check in way]
    # A test goes from no load to full load as a rule.
    ends = (points[0], points[-1])
    ways.sort(key=lambda way: -sum(end in way for end in ends))
    found = []
    for way in ways:
        values = [value_of(each, text, unit, features) for each, text in zip(way, texts, strict=True)]
        if None in values:
            return []
        answers = tuple(
            (each.id, f"{number_text(value)} {each.reading.unit}{doubt}")
            for each, value in zip(way, values, strict=True)
            if each.reading is not None and value is not None
        )
        told = [f"{in_sentence(each.title)} {answer}" for each, (_, answer) in zip(way, answers, strict=True)]
        found.append(Meaning(answers, "; ".join(told)))
    return found


def speed(check: Check, said: str, features: Features) -> list[Meaning]:
    """A bare number that is no frequency and is a speed in revolutions."""
    reading = check.reading
    if reading is None or reading.unit != "Hz" or not re.fullmatch(r"\d{3,4}(?:\.\d+)?\??", said):
        return []
    doubt, bare = "?" if said.endswith("?") else "", said.rstrip("?")
    if value_of(check, bare, "", features) is not None:
        return []
    hertz = value_of(check, bare, "rpm", features)
    if hertz is None:
        return []
    return [
        Meaning(((check.id, f"{bare} rpm{doubt}"),), f"{bare} rpm, {hertz:.4g} Hz with {features['poles']:g} poles")
    ]
