"""What words say: which are said and which are denied, without those that say nothing and the endings of the rest.

Purpose: texts as sets of words that can be held against each other.
Law: pure; a denial reaches to the end of its clause.
Not here: what is meant by them (see `grammar`, `plain`).
"""

from __future__ import annotations

import re

from .denial import denying, words_of

_DULL = frozenset(
    re.findall(r"\w+", "a an and are as at be been by did do does for from i in is it its of on or s t the this to was")
)


def within(words: frozenset[str], there: frozenset[str]) -> bool:
    return all(any(alike(word, other) for other in there) for word in words)


def alike(one: str, other: str) -> bool:
    return one == other or (min(len(one), len(other)) >= 4 and (one.startswith(other) or other.startswith(one)))


def sense_of(text: str) -> tuple[frozenset[str], frozenset[str]]:
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
