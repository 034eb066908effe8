"""Whether words deny: what somebody says is not so is never taken for what is.

Purpose: one place that knows a no, for what is proposed, what is understood, and what is chosen from a list.
Law: pure. Where one text denies and another does not, neither is proposed for the other; so it is with a word and the
same word with a denying start, such as even and uneven.
Not here: what is denied (see `grammar`).
"""

from __future__ import annotations

import re

_NO = frozenset(
    {"no", "not", "non", "none", "never", "without", "nothing", "neither", "nor", "nobody", "nowhere", "cannot"}
    | {"hardly", "barely", "scarcely"}
)
_NOT = re.compile(r"(?:is|are|was|were|do|does|did|has|have|had|ca|could|would|should|wo|must|might|need|ai|sha)nt")
_STARTS = re.compile(r"(?:un|non|dis|mis)[a-z]{3,}")
_OPPOSED = ("in", "im", "ir")


def words_of(text: str) -> list[str]:
    """The words of a text in small letters; "isn't" is one of them."""
    return re.findall(r"[a-z]+", re.sub(r"['\u2019`]", "", text.lower()))


def denying(word: str) -> bool:
    """Whether a word, as `words_of` gives it, denies what comes after it."""
    return word in _NO or _NOT.fullmatch(word) is not None


def denies(text: str) -> bool:
    """Whether a text denies anything."""
    return any(map(denying, words_of(text)))


def same_sense(one: str, other: str) -> bool:
    """Whether neither of two texts may be the other denied."""
    ours, theirs = words_of(one.replace("_", " ")), words_of(other.replace("_", " "))
    if any(map(denying, ours)) != any(map(denying, theirs)):
        return False
    if any(map(_STARTS.fullmatch, ours)) != any(map(_STARTS.fullmatch, theirs)):
        return False
    return not any(start + a == b or start + b == a for start in _OPPOSED for a in ours for b in theirs)
