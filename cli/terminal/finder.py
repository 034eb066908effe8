"""Finding a complaint, check or remedy by a few typed words.

Purpose: rank titles and synonyms by the words they share with what was typed, spelling forgiven. A word counts for more
the fewer of them have it (inverse document frequency, Sparck Jones 1972): "sags" tells more than "load". Words that the
knowledge says mean the same are one word, on both sides; what is said in two parts is looked for part by part as well.
Law: pure; the same words give the same order, ties by the order of the knowledge.
Not here: asking which of them was meant.
"""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from math import fsum, log

_DULL = frozenset(
    re.findall(
        r"\w+",
        "a an and as at be by do does for from has have i in is it its itself just me my of on or set she so that the "
        "then there this to us we when while with you your",
    )
)
_ENDINGS = ("ing", "es", "ed", "s")
_LEAST = 0.25
SURE = 0.42
"""What scores less is only near to what was typed, and may be none of it."""
_OF_A_PART = 0.9
_BY_SHAPE = 0.05
_ALIKE = 0.75
_PARTS = re.compile(r"\s*(?:,|;|\.\s|\band\b|\bbut\b|\bthen\b)\s*")

Same = Mapping[str, Sequence[str]]
_Words = tuple[tuple[str, tuple[str, ...]], ...]


def find(typed: str, phrases: Mapping[str, Sequence[str]], limit: int = 5, same: Same | None = None) -> list[str]:
    """Ids whose phrases fit best, best first.

    phrases: id -> title, synonyms and other words for it. same: a word -> what else is said for it.
    """
    return [name for name, _ in scored(typed, phrases, limit, same)]


def scored(
    typed: str, phrases: Mapping[str, Sequence[str]], limit: int = 5, same: Same | None = None
) -> list[tuple[str, float]]:
    """The same with how well each fits, 0 to 1. Below `SURE` it is only near."""
    said = typed.lower()
    means = tuple((word, tuple(others)) for word, others in (same or {}).items())
    folded = _folded_by(means)
    sought = _sought(tuple((name, tuple(texts)) for name, texts in phrases.items()), means)
    parts = [(1.0, said, _tokens(folded(said)))]
    parts += [(_OF_A_PART, part, words) for part in _parts(said) if len(words := _tokens(folded(part))) > 1]
    asked = [(share, part, _Asked(words, sought)) for share, part, words in parts if words]
    found = []
    for order, (name, texts) in enumerate(sought.there.items()):
        score = 0.0
        for share, part, question in asked:
            for text, tokens in texts:
                shared = question.shared(tokens)
                # Comparing letter by letter takes most of the time, so it is done only where it can count.
                if shared and share * (shared + _BY_SHAPE) > max(score, 0.999 * _LEAST):
                    most = 2.0 * _letters_of_both(part, text) / (len(part) + len(text))  # no less than the ratio
                    if share * (shared + _BY_SHAPE * most) > max(score, 0.999 * _LEAST) - 1e-12:
                        shape = difflib.SequenceMatcher(None, part, text).ratio()
                        score = max(score, share * (shared + _BY_SHAPE * shape))
        if score >= _LEAST:
            found.append((-score, order, name))
    found.sort()
    best = -found[0][0] if found else 0.0
    return [(name, -score) for score, _, name in found[:limit] if -score >= 0.45 * best]


def _parts(said: str) -> Iterator[str]:
    parts = [part for part in _PARTS.split(said) if part]
    if len(parts) > 1:
        yield from parts


@lru_cache(maxsize=8)
def _folded_by(same: _Words) -> Callable[[str], str]:
    """Text with words that mean the same put as one word, the longest first."""
    means = {_plain(other): word for word, others in same for other in others}
    if not means:
        return _plain
    longest = sorted(means, key=lambda other: (-len(other.split()), -len(other), other))
    pattern = re.compile(r"\b(?:" + "|".join(map(re.escape, longest)) + r")\b")

    @lru_cache(maxsize=4096)
    def folded(text: str) -> str:
        return pattern.sub(lambda match: means[match[0]], _plain(text))

    return folded


def _plain(text: str) -> str:
    return " ".join(re.findall(r"[a-z0-9]+", text.lower().replace("'", "")))


class _Sought:
    """What may be found: its texts with their words, and how much each word tells: the fewer of the things to be found
    have it, the more."""

    def __init__(self, there: Mapping[str, Sequence[tuple[str, Sequence[str]]]]) -> None:
        self.there = there
        having = Counter(word for texts in there.values() for word in {one for _, tokens in texts for one in tokens})
        self._known = {word: log(1.0 + len(there) / count) for word, count in having.items()}
        self._unknown = log(1.0 + len(there))
        self._near: dict[str, Mapping[str, float]] = {}

    def weight(self, word: str) -> float:
        return self._known.get(word, self._unknown)

    def near(self, word: str) -> Mapping[str, float]:
        """The words that are like one, with how much."""
        if word not in self._near:
            self._near[word] = {other: like for other in self._known if (like := _alike(word, other))}
        return self._near[word]


@lru_cache(maxsize=4)
def _sought(phrases: _Words, means: _Words) -> _Sought:
    folded = _folded_by(means)
    return _Sought(
        {
            name: [(text.lower(), _tokens(folded(text))) for text in (*texts, name.replace("_", " "))]
            for name, texts in phrases
        }
    )


class _Asked:
    """Typed words, each with its weight and the words that are like it."""

    def __init__(self, words: Sequence[str], sought: _Sought) -> None:
        self._words = [(sought.weight(word), sought.near(word)) for word in words]
        self._whole = fsum(weight for weight, _ in self._words)
        self._weight = sought.weight
        self._close: dict[str, float] = {}
        for _, near in self._words:
            for other, like in near.items():
                self._close[other] = max(like, self._close.get(other, 0.0))

    def shared(self, there: Sequence[str]) -> float:
        """0 to 0.95: mostly how much of what was typed is in a phrase, a little how much of the phrase was typed."""
        hits = [other for other in there if other in self._close]
        if not hits:
            return 0.0
        covered = fsum(
            weight * max([near[other] for other in hits if other in near], default=0.0) for weight, near in self._words
        )
        used = fsum(self._weight(other) * self._close[other] for other in hits) / fsum(map(self._weight, there))
        return 0.55 * (covered / self._whole) + 0.4 * used


@lru_cache(maxsize=4096)
def _tokens(text: str) -> tuple[str, ...]:
    found = []
    for word in re.findall(r"[a-z0-9]+", text.lower()):
        if word in _DULL:
            continue
        for ending in _ENDINGS:
            if word.endswith(ending) and len(word) - len(ending) >= 3:
                word = word[: -len(ending)]
                if ending != "s" and len(word) > 3 and word[-1] == word[-2] and word[-1] not in "aeiouls":
                    word = word[:-1]  # sagging, hitting
                break
        found.append(word)
    return tuple(dict.fromkeys(found))


@lru_cache(maxsize=65536)
def _alike(one: str, other: str) -> float:
    if one == other:
        return 1.0
    if min(len(one), len(other)) < 4:
        return 0.0
    if other.startswith(one) or one.startswith(other):
        return 0.85
    # No less than the ratio, and quick: all letters of the shorter word, and those that both have.
    both = len(one) + len(other)
    if 2.0 * min(len(one), len(other)) < _ALIKE * both or 2.0 * _letters_of_both(one, other) < _ALIKE * both:
        return 0.0
    letters = difflib.SequenceMatcher(None, one, other)
    ratio = letters.ratio()
    return ratio * 0.8 if ratio >= _ALIKE else 0.0


def _letters_of_both(one: str, other: str) -> int:
    return sum([min(one.count(letter), other.count(letter)) for letter in set(one).intersection(other)])
