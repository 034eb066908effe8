"""Features of a set as they are said in one line: "booster, manual choke, gas, 9 kW, single cylinder".

Purpose: from such a line, what each piece of it may say of the set.
Law: pure; a piece is the value of a feature only where all its words are words of that feature, its choice or its unit.
What fits several is given with all of them, to be asked; what fits none is given back.
Not here: asking, and what features there are (see the knowledge).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from ..compiler import NUMBER, Feature, number_of, read_features, spellings_of, spoken
from ..problems import AnswerError

_NO = frozenset({"no", "without", "none", "not"})
_DULL = frozenset(re.findall(r"\w+", "a an the of with has have it its is in on and set fitted type kind there"))
_COUNTED = {"single": "1", "one": "1", "twin": "2", "two": "2", "three": "3", "four": "4", "six": "6", "eight": "8"}


@dataclass(frozen=True, slots=True)
class SetWord:
    """A piece of a line, and the (feature, value) that it may be; none where it is no feature."""

    said: str
    may_be: tuple[tuple[str, str | float], ...]


def set_words(text: str, features: Mapping[str, Feature]) -> tuple[SetWord, ...]:
    """The pieces of a line about a set, in the order said. features: those of the knowledge, by id."""
    pieces = [piece.strip() for piece in re.split(r"[,;]|\band\b|\bwith\b|\+", text.lower()) if piece.strip()]
    return tuple(SetWord(piece, _may_be(piece, features)) for piece in pieces[:20])


def _may_be(piece: str, features: Mapping[str, Feature]) -> tuple[tuple[str, str | float], ...]:
    words = [word for word in re.split(r"[\s_-]+", spoken(piece)) if word and word not in _DULL]
    found = [(name, value) for name, each in features.items() for value in _values(words, each)]
    taken: list[tuple[str, str | float]] = []
    for name, value in found:
        try:
            taken.append((name, read_features({name: value}, features)[name]))
        except AnswerError:
            continue
    return tuple(dict.fromkeys(taken))


def _values(words: list[str], feature: Feature) -> list[str]:
    """The values of a feature that words may say."""
    about = {*_words(feature.title), *_words(feature.id)}
    if feature.kind == "number":
        return _numbers(words, feature, about)
    if any(word in _NO for word in words):
        rest = [word for word in words if word not in _NO]
        return ["none"] if "none" in feature.choices and rest and _all_in(rest, about) else []
    whole = [choice for choice in feature.choices if choice != "none" and set(_words(choice)) <= set(words)]
    if whole and _all_in(words, about | {word for choice in whole for word in _words(choice)}):
        return whole
    found = []
    for choice in feature.choices:
        own = set(_words(choice))
        if choice != "none" and words and _all_in(words, about | own) and any(_alike(word, own) for word in words):
            found.append(choice)
    if found or not words or not _all_in(words, about):
        return found
    # The thing itself is named: it is there, in whichever way.
    return [choice for choice in feature.choices if choice != "none"]


def _numbers(words: list[str], feature: Feature, about: set[str]) -> list[str]:
    units = {feature.unit.lower(), *(spelling for id_ in _words(feature.id) for spelling in spellings_of(id_))} - {""}
    number, rest = "", []
    for word in words:
        match = NUMBER.fullmatch(_COUNTED.get(word, word))
        if not number and match is not None:
            try:
                number = f"{number_of(match):g}"
            except ValueError:
                return []
            rest += [match["rest"].strip().lower()] if match["rest"].strip() else []
        else:
            rest.append(word)
    telling = [word for word in rest if word not in ("rated", "rating")]
    return [number] if number and telling and all(word in units or _alike(word, about) for word in telling) else []


def _words(text: str) -> list[str]:
    return [word for word in re.findall(r"[a-z0-9]+", text.lower()) if word not in _DULL]


def _all_in(words: list[str], there: set[str]) -> bool:
    return all(_alike(word, there) for word in words)


def _alike(word: str, there: set[str]) -> bool:
    return any(word == other or (min(len(word), len(other)) >= 3 and _begins(word, other)) for other in there)


def _begins(one: str, other: str) -> bool:
    return one.startswith(other) or other.startswith(one)
