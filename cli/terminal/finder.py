"""Finding a complaint, check or remedy by a few typed words.

Purpose: rank titles and synonyms by the words they share with what was typed, spelling forgiven. A word counts for more
the fewer of them have it (inverse document frequency, Sparck Jones 1972): "sags" tells more than "load".
Law: pure; the same words give the same order, ties by the order of the knowledge.
Not here: asking which of them was meant.
"""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from math import fsum, log

_DULL = frozenset(re.findall(r"\w+", "a an and at by for from in is it its of on or set the to when with"))
_ENDINGS = ("ing", "es", "ed", "s")
_LEAST = 0.25


def find(typed: str, phrases: Mapping[str, Sequence[str]], limit: int = 5) -> list[str]:
    """Ids whose phrases fit best, best first. phrases: id -> title, synonyms and other words for it."""
    wanted = _tokens(typed)
    if not wanted:
        return []
    weight = _Weights(phrases)
    scored = []
    for order, (name, texts) in enumerate(phrases.items()):
        score = max((_score(typed.lower(), wanted, text, weight) for text in _texts(name, texts)), default=0.0)
        if score >= _LEAST:
            scored.append((-score, order, name))
    scored.sort()
    best = -scored[0][0] if scored else 0.0
    return [name for score, _, name in scored[:limit] if -score >= 0.45 * best]


def _texts(name: str, texts: Sequence[str]) -> tuple[str, ...]:
    return (*texts, name.replace("_", " "))


class _Weights:
    """How much each word tells: the fewer of the things to be found have it, the more."""

    def __init__(self, phrases: Mapping[str, Sequence[str]]) -> None:
        self._count = len(phrases)
        self._having = Counter(
            word
            for name, texts in phrases.items()
            for word in {one for text in _texts(name, texts) for one in _tokens(text)}
        )

    def __call__(self, word: str) -> float:
        return log(1.0 + self._count / max(1, self._having[word]))


def _tokens(text: str) -> list[str]:
    found = []
    for word in re.findall(r"[a-z0-9]+", text.lower()):
        if word in _DULL:
            continue
        for ending in _ENDINGS:
            if word.endswith(ending) and len(word) - len(ending) >= 3:
                word = word[: -len(ending)]
                break
        found.append(word)
    return found


def _score(typed: str, wanted: Sequence[str], text: str, weight: Callable[[str], float]) -> float:
    """0 to 1: mostly how much of what was typed is there, a little how much of the phrase was typed."""
    there = list(dict.fromkeys(_tokens(text)))
    if not there:
        return 0.0
    covered = fsum(weight(word) * max(_alike(word, other) for other in there) for word in wanted)
    covered /= fsum(map(weight, wanted))
    used = fsum(weight(other) * max(_alike(word, other) for word in wanted) for other in there)
    used /= fsum(map(weight, there))
    shape = difflib.SequenceMatcher(None, typed, text.lower()).ratio()
    return 0.65 * covered + 0.25 * used + 0.1 * shape


def _alike(one: str, other: str) -> float:
    if one == other:
        return 1.0
    if len(one) >= 3 and (other.startswith(one) or (one.startswith(other) and len(other) >= 3)):
        return 0.85
    ratio = difflib.SequenceMatcher(None, one, other).ratio()
    return ratio * 0.8 if ratio >= 0.75 else 0.0
