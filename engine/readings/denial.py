"""Whether words deny: what somebody says is not so is never taken for what is.

Purpose: one place that knows a no, for what is proposed, what is understood, and what is chosen from a list.
Law: pure. Where one text denies and another does not, neither is proposed for the other; so it is with a word and the
same word with a denying start, such as even and uneven.
Not here: what is denied (see `grammar`).
"""

from __future__ import annotations

import re

_NO = frozenset(
    {
        "no",
        "nope",
        "nah",
        "not",
        "non",
        "none",
        "never",
        "without",
        "nothing",
        "neither",
        "nor",
        "nobody",
        "nowhere",
        "cannot",
    }
    | {"hardly", "barely", "scarcely"}
)
_PLAIN_YES = frozenset({"y", "yes", "yep", "yeah", "yup", "sure"})
_YES = _PLAIN_YES | {"yea", "ya", "ja", "aye", "ok", "okay"}
_NO_WORDS = frozenset({"n", "no", "nope", "nah", "nay"})
_NOT = re.compile(r"(?:is|are|was|were|do|does|did|has|have|had|ca|could|would|should|wo|must|might|need|ai|sha)nt")
_UNSAYS = re.compile(
    r"\b(?:far from|anything but|less than|no longer|used to|should|supposed|ought|would be|until|unless|if|at first|"
    r"before|earlier|yesterday|stopped being|last (?:time|week|month|year))\b",
    re.IGNORECASE,
)
_HEDGES = re.compile(
    r"\b(?:but|though|although|except|however|until|unless|when|if|once|yet|still needs?|almost|nearly|partly|"
    r"partially|mostly|maybe|perhaps|probably|possibly|sort of|kind of|kinda|a bit|a little|somewhat|sometimes|"
    r"at first|for a while|half|soon|later|tomorrow|will|going to|about to|about|around|roughly|or so)\b",
    re.IGNORECASE,
)
_STARTS = re.compile(r"(?:un|non|dis|mis)[a-z]{3,}")
_OPPOSED = ("in", "im", "ir")


def words_of(text: str) -> list[str]:
    """The words of a text in small letters; "isn't" is one of them."""
    return re.findall(r"[a-z]+", re.sub(r"['\u2019`]", "", text.lower()))


def denying(word: str) -> bool:
    """Whether a word, as `words_of` gives it, denies what comes after it."""
    return word in _NO or _NOT.fullmatch(word) is not None


def yes_or_no(text: str, plain: bool = False) -> bool | None:
    """Whether a text is a yes or a no and nothing else; None where it is neither, and then it is asked again.

    plain: only what nobody says without meaning it, as where cautions are met; ok is none.
    """
    word = text.strip().lower().rstrip(".,!")
    return True if word in (_PLAIN_YES if plain else _YES) else False if word in _NO_WORDS else None


def after_yes_or_no(text: str) -> tuple[bool | None, str]:
    """The yes or no that a text begins with, and what is said after it: "yep, it holds". None and the whole text where
    it begins with neither."""
    first, _, rest = text.strip().partition(" ")
    word = yes_or_no(first)
    return (word, rest.strip()) if word is not None and rest.strip() else (None, text.strip())


def hedges(text: str) -> bool:
    """Whether a text takes back, weakens or limits what it says: "done, but it still sticks", "almost", "at first"."""
    return _HEDGES.search(text) is not None or unsays(text)


def unsays(text: str, own: str = "") -> bool:
    """Whether a text says of what it names that it is not, or no more, or only should be: "far from tight". own: a text
    whose own such words are none."""
    return not {each.lower() for each in _UNSAYS.findall(text)} <= {each.lower() for each in _UNSAYS.findall(own)}


def harmless(text: str) -> bool:
    """Whether words beside a yes or no, or beside a done, change nothing of it: they deny nothing, take nothing
    back and hold no figure."""
    return not denies(text) and not hedges(text) and not re.search(r"\d", text)


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
