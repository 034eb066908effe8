"""What else a technician may mean at a check: a swing, several loads at once, an answer in other words.

Purpose: one grammar for what is not an answer as it stands. "60-63" is a swing with its middle, "61.5 60.8 60.1 59"
are readings at several loads, "1926" is rpm where it can be no frequency, "cracked" an outcome by its words.
Law: pure, and never an error: what has no such meaning gives none. Every meaning is inexact, so it is said back and
confirmed before it counts; where there is more than one, it is asked which.
Not here: an answer as it stands (see `reading`), asking.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

from ..compiler import Check, Features
from ..problems import AnswerError
from .reading import read_answer

MOST = 6
"""Meanings offered at once."""
_N = r"[-+]?(?:\d+[ ]+\d+\s*/\s*\d+|\d+\s*/\s*\d+|\d+(?:[.,]\d+)?|[.,]\d+)"
_UNIT = r"(?:\s*(?P<{0}>[a-zA-Z\"/.]+(?: hg)?))?"
_SWING = re.compile(
    rf"(?:(?:it\s+)?(?:swings?|hunts?|goes|surges?)\s+)?(?:from\s+|between\s+|about\s+)?(?P<low>{_N}){_UNIT.format('one')}"
    rf"\s*(?:-|\u2013|\u2014|\.\.+|\bto\b|\band\b)\s*(?P<high>{_N}){_UNIT.format('two')}(?P<doubt>\?)?",
    re.IGNORECASE,
)
_SEVERAL = re.compile(rf"{_N}(?:(?:\s*[,;/]\s+|\s*;\s*|\s+){_N})+(?:\s*(?P<unit>[a-zA-Z/]+))?(?P<doubt>\?)?")
_NO = frozenset({"no", "not", "none", "never", "without", "isn", "doesn", "dont", "don", "nothing", "neither", "nor"})
_DULL = frozenset(
    re.findall(r"\w+", "a an and are as at be been by for from i in is it its of on or s t the this to was")
)


@dataclass(frozen=True, slots=True)
class Meaning:
    """One way to take what was typed. `answers`: (check, answer as `read_answer` takes it), in the order to record.
    `told`: in words."""

    answers: tuple[tuple[str, str], ...]
    told: str


def meanings(check: Check, text: str, features: Features, checks: Mapping[str, Check]) -> tuple[Meaning, ...]:
    """What a text may mean that is no answer to a check as it stands; empty where nothing.

    checks: those that this set has, by id.
    """
    said = " ".join(text.split())
    if not said or len(said) > 200:
        return ()
    found: list[Meaning] = []
    if check.reading is not None:
        found += _swing(check, said, features, checks)
        found += _several(check, said, features, checks)
        found += _speed(check, said, features)
    found = found or _in_words(check, said)
    return tuple(dict.fromkeys(found))[:MOST]


def _value(check: Check, text: str, unit: str, features: Features) -> float | None:
    """A number with a unit, as a reading of a check; None where it can be none."""
    try:
        values = read_answer(check, f"{text} {unit}".strip(), features).values
    except AnswerError:
        return None
    return values[0] if len(values) == 1 else None


def _at_load(check: Check) -> bool:
    return check.reading is not None and check.reading.load is not None


def _number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


# ---- a swing


def _swing(check: Check, said: str, features: Features, checks: Mapping[str, Check]) -> list[Meaning]:
    match = _SWING.fullmatch(said)
    reading = check.reading
    if match is None or reading is None:
        return []
    doubt, unit = match["doubt"] or "", match["two"] or match["one"] or ""
    settled = check if _at_load(check) else _settled(check, checks)
    if settled is not None and settled.reading is not None:
        ends = [_value(settled, match[end], unit, features) for end in ("low", "high")]
        if None not in ends:
            low, high = sorted(end for end in ends if end is not None)
            return [_swing_of(settled, low, high, doubt, checks)] if high > low else []
    ends = [_value(check, match[end], unit, features) for end in ("low", "high")]
    if None in ends or reading.per:
        return []
    low, high = sorted(end for end in ends if end is not None)
    middle = f"{_number((low + high) / 2)} {reading.unit}"
    told = f"between {_number(low)} and {_number(high)} {reading.unit}, taken at its middle, {middle}"
    return [Meaning(((check.id, middle + doubt),), told)]


def _settled(check: Check, checks: Mapping[str, Check]) -> Check | None:
    """The check of a settled speed whose swing a check is about."""
    return next((each for each in checks.values() if each.reading and each.reading.swing == check.id), None)


def _swing_of(settled: Check, low: float, high: float, doubt: str, checks: Mapping[str, Check]) -> Meaning:
    """A speed that goes up and down: its middle, its highest point where that is what counts, and its swing."""
    assert settled.reading is not None
    unit, swing = settled.reading.unit, settled.reading.swing
    span = f"{_number(low)} to {_number(high)} {unit}"
    answers = [(settled.id, span + doubt)]
    told = f"a swing from {_number(low)} to {_number(high)} {unit}: {_number((low + high) / 2)} {unit} in the middle"
    if swing in checks:
        answers.append((swing, f"{_number(high - low)} {unit}{doubt}"))
        told += f", and {_number(high - low)} {unit} of swing"
    return Meaning(tuple(answers), told)


# ---- several loads at once


def _several(check: Check, said: str, features: Features, checks: Mapping[str, Check]) -> list[Meaning]:
    match = _SEVERAL.fullmatch(said)
    if match is None or not _at_load(check):
        return []
    unit, doubt = match["unit"] or "", match["doubt"] or ""
    body = said[: match.start("unit")] if unit else said.rstrip("?")
    texts = re.findall(_N, body)
    points = [each for each in checks.values() if _at_load(each)]
    points.sort(key=lambda each: each.reading.load or 0.0 if each.reading else 0.0)
    if not 2 <= len(texts) <= len(points):
        return []
    ways = [way for way in combinations(points, len(texts)) if check in way]
    # A test goes from no load to full load as a rule.
    ends = (points[0], points[-1])
    ways.sort(key=lambda way: -sum(end in way for end in ends))
    found = []
    for way in ways:
        values = [_value(each, text, unit, features) for each, text in zip(way, texts, strict=True)]
        if None in values:
            return []
        answers = tuple(
            (each.id, f"{_number(value)} {each.reading.unit}{doubt}")
            for each, value in zip(way, values, strict=True)
            if each.reading is not None and value is not None
        )
        found.append(
            Meaning(
                answers,
                "; ".join(f"{_named(each.title)} {answer}" for each, (_, answer) in zip(way, answers, strict=True)),
            )
        )
    return found


def _named(title: str) -> str:
    return title[:1].lower() + title[1:]


def _speed(check: Check, said: str, features: Features) -> list[Meaning]:
    """A bare number that is no frequency and is a speed in revolutions."""
    reading = check.reading
    if reading is None or reading.unit != "Hz" or not re.fullmatch(r"\d{3,4}(?:\.\d+)?\??", said):
        return []
    doubt, bare = "?" if said.endswith("?") else "", said.rstrip("?")
    if _value(check, bare, "", features) is not None:
        return []
    hertz = _value(check, bare, "rpm", features)
    if hertz is None:
        return []
    return [
        Meaning(((check.id, f"{bare} rpm{doubt}"),), f"{bare} rpm, {hertz:.4g} Hz with {features['poles']:g} poles")
    ]


# ---- an outcome in other words


def _in_words(check: Check, said: str) -> list[Meaning]:
    """Outcomes whose name or brief holds all that was said, what is denied among what is denied."""
    if any(letter.isdigit() for letter in said):
        return []
    doubt = "?" if said.endswith("?") else ""
    wanted, denied = _words(said)
    if not wanted and not denied:
        return []
    found = []
    for outcome in check.outcomes:
        name = outcome.id.replace("_", " ")
        there, not_there = _words(f"{name}. {outcome.brief}")
        if _within(wanted, there) and _within(denied, not_there):
            brief = f": {outcome.brief}" if outcome.brief else ""
            found.append(Meaning(((check.id, outcome.id + doubt),), f"{name}{brief}"))
    return found


def _within(words: frozenset[str], there: frozenset[str]) -> bool:
    return all(any(_alike(word, other) for other in there) for word in words)


def _alike(one: str, other: str) -> bool:
    return one == other or (min(len(one), len(other)) >= 4 and (one.startswith(other) or other.startswith(one)))


def _words(text: str) -> tuple[frozenset[str], frozenset[str]]:
    """Words that are said, and words that are denied, to the end of their clause."""
    said: set[str] = set()
    denied: set[str] = set()
    for clause in re.split(r"[.,;:]|\bbut\b", text.lower()):
        no = False
        for word in re.findall(r"[a-z]+", clause):
            if word in _NO:
                no = True
            elif word not in _DULL:
                (denied if no else said).add(_stem(word))
    return frozenset(said), frozenset(denied)


def _stem(word: str) -> str:
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word[: -len(ending)]
    return word
