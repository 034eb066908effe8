"""What else a technician may mean at a check: a swing, several loads at once, an answer in other words.

Purpose: one grammar for what is not an answer as it stands. "60-63" is a swing with its middle, "61.5 60.8 60.1 59"
are readings at several loads, "1926" is rpm where it can be no frequency, "cracked" an outcome by its words.
Law: pure, and never an error: what has no such meaning gives none. Every meaning is inexact, so it is said back and
confirmed before it counts; where there is more than one, it is asked which. Words that say nothing of their own, and
those that mean "as it should be", are knowledge (`typed` in phrases.yaml).
Not here: an answer as it stands (see `reading`), asking.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from itertools import combinations

from ..compiler import Check, Complaint, Features, Typed, spoken
from ..problems import AnswerError, in_sentence
from .denial import denying, same_sense, words_of
from .reading import read_answer
from .told import heard_as

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
_ALONE = frozenset({"no", "none", "neither", "nothing"})
"""What says no by itself."""
_DULL = frozenset(
    re.findall(r"\w+", "a an and are as at be been by for from i in is it its of on or s t the this to was")
)


@dataclass(frozen=True, slots=True)
class Meaning:
    """One way to take what was typed. `answers`: (check, answer as `read_answer` takes it), in the order to record.
    `told`: in words."""

    answers: tuple[tuple[str, str], ...]
    told: str


_NOTHING = Typed()
_HALF = re.compile(r"\bhalf an?\b", re.IGNORECASE)


def meanings(
    check: Check,
    text: str,
    features: Features,
    checks: Mapping[str, Check],
    typed: Typed = _NOTHING,
    also_fine: Collection[str] = (),
) -> tuple[Meaning, ...]:
    """What a text may mean that is no answer to a check as it stands; empty where nothing.

    checks: those that this set has, by id. typed: words of the knowledge that say nothing of their own, or that all is
    as it should be. also_fine: outcomes of the check beside the normal one that are within its limits.
    """
    said = " ".join(text.split())
    if check.reading is not None:
        said = _HALF.sub("0.5", said)
    if not said or len(said) > 200:
        return ()
    doubt = "?" if said.endswith("?") else ""
    found: list[Meaning] = []
    words = [way + doubt for way in heard_as(typed, said.rstrip("?"))]
    figures = [way + doubt for way in heard_as(_of_figures(typed), said.rstrip("?"))] if check.reading else []
    for each in dict.fromkeys((said, *words, *figures)):
        if check.reading is not None:
            found += _swing(check, each, features, checks)
            found += _several(check, each, features, checks)
            found += _speed(check, each, features)
            found = found or _reading_in_words(check, each, features, typed)
        if each == said or each in words:  # what is nearly so is not so
            found = found or _affirmed(check, each, typed, also_fine) or _in_words(check, each)
        if found:
            break
    return tuple(dict.fromkeys(found or _holding(check, said, doubt, typed)))[:MOST]


def _holding(check: Check, said: str, doubt: str, typed: Typed) -> list[Meaning]:
    """The one outcome whose name stands word for word among what was said: of "wide open" open, of "it drags" drags.
    The answers of the question itself come before those of any other."""
    words = set(re.findall(r"[a-z]+", said.lower()))
    if words.intersection(typed.near):  # what is nearly so is not so
        return []
    named = [set(outcome.id.split("_")) for outcome in check.outcomes]
    there = [
        at
        for at, each in enumerate(named)
        if each <= words and same_sense(said, check.outcomes[at].id.replace("_", " "))
    ]
    most = [at for at in there if not any(named[at] < named[other] for other in there)]
    return [_outcome(check, most[0], doubt)] if len(most) == 1 else []


def _affirmed(check: Check, said: str, typed: Typed, also_fine: Collection[str]) -> list[Meaning]:
    """The one outcome within limits, where that it is as it should be is all that was said."""
    if spoken(said.rstrip("?")) not in typed.right or set(also_fine) - {check.outcomes[0].id}:
        return []
    return [_outcome(check, 0, "?" if said.endswith("?") else "")]


def _outcome(check: Check, at: int, doubt: str) -> Meaning:
    outcome = check.outcomes[at]
    brief = f": {outcome.brief}" if outcome.brief else ""
    return Meaning(((check.id, outcome.id + doubt),), f"{outcome.id.replace('_', ' ')}{brief}")


_FIGURE = re.compile(rf"(?<![\w.,/])(?P<number>{_N})(?:\s*(?P<unit>[a-zA-Z\"/]+))?(?![\w/])")


def _reading_in_words(check: Check, said: str, features: Features, typed: Typed) -> list[Meaning]:
    """One figure with words about it: "about 2 Hz slowly", "a slow swing of 1 Hz", "roughly 60"."""
    bare, doubt = said.rstrip("?"), "?" if said.endswith("?") else ""
    figures = list(_FIGURE.finditer(bare))
    if len(figures) != 1 or check.reading is None:
        return []
    match = figures[0]
    number, unit = match["number"].replace(",", "."), match["unit"] or ""
    if _value(check, number, unit, features) is None:  # the word after it is no unit
        unit, rest = "", f"{bare[: match.start()]} {bare[match.end('number') :]}"
    else:
        rest = f"{bare[: match.start()]} {bare[match.end() :]}"
    if (value := _value(check, number, unit, features)) is None:
        return []
    answer = f"{number} {unit}".strip()
    told = f"{_number(value)} {check.reading.unit}"
    left = spoken(rest)
    while left and (shorter := _beside(left, typed)) != left:
        left = shorter
    if not any(_words(left)):
        return [Meaning(((check.id, answer + doubt),), told)]
    kinds = {way.answers[0][1] for way in _in_words(check, left)}
    fits = read_answer(check, answer, features).outcomes
    named = [at for at, outcome in enumerate(check.outcomes) if outcome.id in kinds and outcome.id in fits]
    if len(named) != 1:
        return []
    kind = check.outcomes[named[0]].id
    return [Meaning(((check.id, f"{answer} {kind}{doubt}"),), f"{told}, {kind.replace('_', ' ')}")]


def _beside(left: str, typed: Typed) -> str:
    """Words without those at either end that say nothing, also where nothing else is left."""
    loose = _of_figures(typed)
    if left in loose.beside or left in loose.fillers:
        return ""
    return heard_as(loose, left)[-1]


def _of_figures(typed: Typed) -> Typed:
    """With the words that say nothing of their own beside a figure, and change what a word says."""
    return replace(typed, beside=(*typed.beside, *typed.near), near=())


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
        told = [f"{in_sentence(each.title)} {answer}" for each, (_, answer) in zip(way, answers, strict=True)]
        found.append(Meaning(answers, "; ".join(told)))
    return found


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
        return _denied(check, said, doubt)
    found = []
    for at, outcome in enumerate(check.outcomes):
        there, not_there = _words(f"{outcome.id.replace('_', ' ')}. {outcome.brief}")
        if outcome.id == "none":  # of what the check is about
            not_there |= _words(check.title)[0]
        if _within(wanted, there) and _within(denied, not_there):
            found.append(_outcome(check, at, doubt))
    return found


def _denied(check: Check, said: str, doubt: str) -> list[Meaning]:
    """The one outcome that is a denial, where no more than a no was said: "no", "none", "neither"."""
    if not _ALONE & set(words_of(said)):
        return []
    texts = [f"{each.id.replace('_', ' ')}. {each.brief}" for each in check.outcomes]
    firsts = [at for at, text in enumerate(texts) if _begins_with_no(text)]
    return [_outcome(check, firsts[0], doubt)] if len(firsts) == 1 else []


def _begins_with_no(text: str) -> bool:
    """Whether a clause of a text begins with a denial."""
    clauses = [words_of(clause) for clause in re.split(r"[.,;:]", text)]
    return any(words[0] != "without" and denying(words[0]) for words in clauses if words)


def elsewhere(
    check: Check, text: str, checks: Mapping[str, Check], complaints: Mapping[str, Complaint], typed: Typed = _NOTHING
) -> tuple[Meaning, ...]:
    """What a text that is no answer to a check tells of other checks: their outcomes out of limits whose words, with
    those of the check or of a complaint that says just that, are all that was said. None where that is more than a few.
    """
    said = " ".join(text.split()).rstrip("?")
    if not said or len(said) > 200 or any(letter.isdigit() for letter in said):
        return ()
    doubt = "?" if text.strip().endswith("?") else ""
    for each in heard_as(typed, said):
        wanted, _ = _words(each)
        found = _elsewhere(check, each, checks, complaints) if wanted else []
        if found:
            return tuple(_of_other(checks[name], at, doubt) for name, at in found) if len(found) <= _FEW else ()
    return ()


_FEW = 3


def _elsewhere(
    check: Check, said: str, checks: Mapping[str, Check], complaints: Mapping[str, Complaint]
) -> list[tuple[str, int]]:
    wanted, denied = _words(said)
    others = {name: each for name, each in checks.items() if each is not check and each.derived_from is None}
    for complaint in complaints.values():
        says = [(name, outcome) for name, outcomes in complaint.says.items() for outcome in outcomes]
        if len(says) != 1 or says[0][0] not in others:
            continue
        for phrase in (complaint.title, *complaint.synonyms):
            there, not_there = _words(phrase)
            if _within(wanted, there) and _within(there, wanted) and _within(denied, not_there):
                name, outcome = says[0]
                ids = [each.id for each in others[name].outcomes]
                return [(name, ids.index(outcome))]
    found: list[tuple[bool, str, int]] = []
    if len(wanted | denied) < 2:  # a word alone stands in too many places to say anything
        return []
    for name, each in others.items():
        title, _ = _words(each.title)
        for at, kind in enumerate(each.outcomes):
            called = kind.id.replace("_", " ")
            there, not_there = _words(f"{called}. {kind.brief}")
            if not at or not _within(wanted, there | title) or not _within(denied, not_there):
                continue
            # One that is called so comes before those whose brief only has the word.
            named = re.search(rf"\b{re.escape(called)}\b", said) is not None
            if named or any(_alike(word, other) for word in wanted for other in there):
                found.append((named, name, at))
    best = any(named for named, _, _ in found)
    return [(name, at) for named, name, at in found if named == best]


def _of_other(check: Check, at: int, doubt: str) -> Meaning:
    way = _outcome(check, at, doubt)
    return Meaning(way.answers, f"{check.title}: {way.told}")


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
        for word in words_of(clause):
            if denying(word):
                no = True
            elif word not in _DULL:
                (denied if no else said).add(_stem(word))
    return frozenset(said), frozenset(denied)


def _stem(word: str) -> str:
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            word = word[: -len(ending)]
            return word[:-1] if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "aeiouls" else word
    return word
