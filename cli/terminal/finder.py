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
from dataclasses import dataclass
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
_KNOWN = 128
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
    likely: dict[int, list[_Likely]] = {}
    for share, part, words in parts:
        if words:
            _weigh(share, part, words, sought, likely)
    found: list[tuple[float, int]] = []
    enough = _LEAST  # what scores less is none of those that are wanted
    for thing, each in sorted(likely.items(), key=lambda item: -max(item[1])[0]):
        score = 0.0
        # Comparing letter by letter takes most of the time, so it is done only where it can count.
        for most, share, shared, part, text in sorted(each, reverse=True):
            if most <= score or most < enough:
                break
            shape = difflib.SequenceMatcher(None, part, text).ratio()
            score = max(score, share * (shared + _BY_SHAPE * shape))
        if score >= enough:
            found.append((-score, thing))
            found.sort()
            enough = max(_LEAST, -found[limit - 1][0] if 0 < limit <= len(found) else 0.0, 0.45 * -found[0][0])
    best = -found[0][0] if found else 0.0
    return [(sought.names[thing], -score) for score, thing in found[:limit] if -score >= 0.45 * best]


_Likely = tuple[float, float, float, str, str]
"""What a text may score at most, the share of a part in what was typed, how much their words share, that part and the
text."""


def _weigh(share: float, part: str, words: Sequence[str], sought: _Sought, likely: dict[int, list[_Likely]]) -> None:
    """Put down, by the thing that it is said for, every text that may be what a part of what was typed means."""
    letters = _letters(part)
    for text, shared in sought.sharing(words):
        alike = 2.0 * (letters & text.letters).bit_count() / (len(part) + len(text.text))  # no less than the ratio
        most = share * (shared + _BY_SHAPE * alike)
        if most >= _LEAST:
            likely.setdefault(text.thing, []).append((most, share, shared, part, text.text))


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


@dataclass(frozen=True, slots=True)
class _Text:
    """Something said for the thing at place `thing`. weight: what its words weigh together."""

    thing: int
    text: str
    weight: float
    letters: int


class _Sought:
    """What may be found: its texts with their words, and how much each word tells: the fewer of the things to be found
    have it, the more."""

    def __init__(self, there: Mapping[str, Sequence[tuple[str, tuple[str, ...]]]]) -> None:
        self.names = tuple(there)
        having = Counter(
            word for texts in there.values() for word in dict.fromkeys(one for _, words in texts for one in words)
        )
        self._weight = {word: log(1.0 + len(there) / count) for word, count in having.items()}
        self._unknown = log(1.0 + len(there))
        self._spelt = [(word, len(word), _letters(word)) for word in self._weight]
        self._near: dict[str, Mapping[str, float]] = {}
        self._texts: list[_Text] = []
        self._having: dict[str, list[int]] = {}
        for thing, texts in enumerate(there.values()):
            for text, words in texts:
                for word in words:
                    self._having.setdefault(word, []).append(len(self._texts))
                weight = fsum(map(self._weight.__getitem__, words))
                self._texts.append(_Text(thing, text, weight, _letters(text)))

    def near(self, word: str) -> Mapping[str, float]:
        """The words that are like one, with how much."""
        if word not in self._near:
            self._near[word] = dict(self._like(word))
        return self._near[word]

    def _like(self, word: str) -> Iterator[tuple[str, float]]:
        size, letters = len(word), _letters(word)
        for other, length, others in self._spelt:
            if word == other:
                yield other, 1.0
            elif size >= 4 and length >= 4:
                if other.startswith(word) or word.startswith(other):
                    yield other, 0.85
                elif 2.0 * (letters & others).bit_count() >= _ALIKE * (size + length) and (like := _alike(word, other)):
                    yield other, like

    def sharing(self, words: Sequence[str]) -> Iterator[tuple[_Text, float]]:
        """The texts that share some of the words, or have some like them, with how much, 0 to 0.95: mostly how much of
        what was typed is in a text, a little how much of the text was typed."""
        weights = [self._weight.get(word, self._unknown) for word in words]
        whole = fsum(weights)
        like: dict[str, list[tuple[int, float]]] = {}
        hits: dict[int, list[str]] = {}
        for place, word in enumerate(words):
            for other, much in self.near(word).items():
                if other not in like:
                    for at in self._having[other]:
                        hits.setdefault(at, []).append(other)
                like.setdefault(other, []).append((place, much))
        close = {other: max([much for _, much in found]) for other, found in like.items()}
        weighed = {other: self._weight[other] * much for other, much in close.items()}
        for at, found in hits.items():
            text = self._texts[at]
            best: dict[int, float] = {}
            for other in found:
                for place, much in like[other]:
                    best[place] = max(much, best.get(place, 0.0))
            covered = fsum([weights[place] * much for place, much in best.items()])
            used = fsum([weighed[other] for other in found]) / text.weight
            yield text, 0.55 * (covered / whole) + 0.4 * used


@lru_cache(maxsize=4)
def _sought(phrases: _Words, means: _Words) -> _Sought:
    folded = _folded_by(means)
    return _Sought(
        {
            name: [(text.lower(), _tokens(folded(text))) for text in (*texts, name.replace("_", " "))]
            for name, texts in phrases
        }
    )


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
    ratio = difflib.SequenceMatcher(None, one, other).ratio()
    return ratio * 0.8 if ratio >= _ALIKE else 0.0


def _letters(text: str) -> int:
    """The letters of a text, and how often it has each, as bits: two texts have as many in common as their bits have.
    Letters that ASCII does not know may be taken for others, so that there may seem to be more."""
    often = Counter(ord(letter) % _KNOWN for letter in text)
    return sum(_steps(count) << letter for letter, count in often.items())


@lru_cache(maxsize=256)
def _steps(count: int) -> int:
    """So many bits, one every `_KNOWN` places; by one division, since a line may be one key that was leant on."""
    return ((1 << _KNOWN * count) - 1) // ((1 << _KNOWN) - 1)
