"""Phrases held against the finder: does what people say lead to the complaints that they mean?

Purpose: judge every phrase of the knowledge as the terminal would find it, and count.
Law: pure. A fifth of the phrases is kept aside by a hash of its words: they are counted by themselves and never listed,
so that nobody tunes to them.
Not here: finding (see `terminal.finder`), printing (see `cases`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ...engine import Knowledge
from ...engine.compiler import Phrase
from ..terminal import finder

_EVERY = 5
FIRST = 3


@dataclass(frozen=True, slots=True)
class JudgedPhrase:
    """A phrase as the finder takes it. `offered`: the first three. `first`: one that is meant stands first. `near`: all
    that are meant are among them; for what is no complaint of ours, both say that none is offered as sure."""

    phrase: Phrase
    offered: tuple[str, ...]
    first: bool
    near: bool
    aside: bool


def texts_of(knowledge: Knowledge) -> Mapping[str, Sequence[str]]:
    """Complaints in use with the words that they are found by."""
    return {name: each.phrases for name, each in knowledge.complaints.items() if each.retired is None}


def kept_aside(said: str) -> bool:
    """Whether a phrase is one that nothing is tuned to: about every fifth, by the SHA-256 of its words."""
    return hashlib.sha256(said.encode()).digest()[0] % _EVERY == 0


def judge_phrases(knowledge: Knowledge) -> tuple[JudgedPhrase, ...]:
    """Every phrase judged, in the order of the file."""
    texts, same = texts_of(knowledge), knowledge.catalogue.same_words
    found = []
    for phrase in knowledge.catalogue.phrases.values():
        scored = finder.scored(phrase.said, texts, FIRST, same)
        offered = tuple(name for name, _ in scored)
        if phrase.means:
            first = bool(offered) and offered[0] in phrase.means
            near = set(phrase.means) <= set(offered)
        else:
            first = near = not scored or scored[0][1] < finder.SURE
        found.append(JudgedPhrase(phrase, offered, first, near, kept_aside(phrase.said)))
    return tuple(found)


def shares(judged: Sequence[JudgedPhrase]) -> tuple[int, float, float]:
    """How many mean a complaint, and of those the shares with a meant one first, and with all in the first three."""
    meant = [each for each in judged if each.phrase.means]
    if not meant:
        return 0, 1.0, 1.0
    return len(meant), sum(each.first for each in meant) / len(meant), sum(each.near for each in meant) / len(meant)
