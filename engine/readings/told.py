"""A sentence about the visit, as a command with its words: what is not there, has come, was done before, is off; and
that nothing is wrong, but all to be set in order.

Purpose: "no load bank", "he won't let me load it", "the load bank has come", "the rod was off when I got here".
Law: pure; the sentences are knowledge (`typed` in phrases.yaml). What is none of them is None, so that answers,
readings and searches stay what they are. "no load" is how a set stands, and no command.
Not here: which tool, remedy or fitting is meant, and what a command does.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from ..compiler import SLOT, Catalogue, Typed, spoken

_TOKEN = re.compile(r"\[[^\]]*\]|\{\w+\}|[^\s\[\]{}]+")
_THING = r"[a-z0-9][a-z0-9/-]*(?:\s[a-z0-9/-]+){0,4}?"
_REST = r"\S.*?"
_END = r"(?:\s+|$)"
_LONGEST = 200

_Shape = tuple[str, str, re.Pattern[str]]


_ORDER = "order"


def is_order(catalogue: Catalogue, text: str) -> bool:
    """Whether a sentence says that there is no trouble, but all to be set in order."""
    return visit_command(catalogue, text, order=True) is not None


def may_be_order(catalogue: Catalogue, text: str) -> bool:
    """Whether a sentence only holds what such sentences hold, to be asked about."""
    return visit_guess(catalogue, text, order=True) is not None


def visit_command(catalogue: Catalogue, text: str, order: bool = False) -> tuple[str, str] | None:
    """(command, its words) of a sentence about the visit; None where it is none. The words of what was done before are
    the whole sentence, of a tool its id or name. order: only sentences that ask to set all in order, else all others.
    """
    said = spoken(text)
    if not said or len(said) > _LONGEST:
        return None
    leave = {spoken(name) for tool in catalogue.tools.values() if tool.states for name in (tool.id, *tool.names)}
    shapes = _shapes(catalogue.typed, _tools(catalogue))
    open_ended: tuple[str, str] | None = None
    for each in _shorter(catalogue.typed.fillers, said):
        for command, of, shape in shapes:
            if (command == _ORDER) is not order:
                continue
            if match := shape.fullmatch(each):
                found = match.groupdict()
                thing = (found.get("thing") or "").strip()
                if command == "without" and not of and thing in leave:
                    continue
                whole = " ".join(text.split()).rstrip(".!") if command == "before" else ""
                told = command, of or found.get("tool") or whole or thing
                if not thing or whole or of:
                    return told
                open_ended = open_ended or told  # a shorter sentence may name a tool
    return open_ended


def visit_guess(catalogue: Catalogue, text: str, order: bool = False) -> tuple[str, str] | None:
    """(command, its words) of a sentence that only holds what such sentences hold, to be asked about; None for none.
    order: as in `visit_command`."""
    said = spoken(text)
    if not said or len(said) > _LONGEST or len(said.split()) > _MOST_WORDS:
        return None
    for sentence in catalogue.typed.sentences:
        if (sentence.command == _ORDER) is not order:
            continue
        found = [_somewhere(catalogue, part, said) for part in sentence.holds]
        if found and all(found) and not any(_somewhere(catalogue, part, said) for part in sentence.never):
            tool = next((match for match, part in zip(found, sentence.holds, strict=True) if part == "tool"), "")
            return sentence.command, sentence.of or tool or " ".join(text.split()).rstrip(".!")
    return None


_MOST_WORDS = 14
_TELLING = 9
"""Letters from which the name of a tool says by itself that a sentence is about it: lamp, oil and meter do not."""


def _somewhere(catalogue: Catalogue, part: str, said: str) -> str:
    """What of a part stands in a sentence, the longest; empty for nothing."""
    typed = catalogue.typed
    words = dict(typed.parts).get(part) or tuple(name for name in _tools(catalogue) if len(name) >= _TELLING)
    match = _anywhere(words).search(said)
    return match[1] if match else ""


@lru_cache(maxsize=64)
def _anywhere(words: tuple[str, ...]) -> re.Pattern[str]:
    either = "|".join(map(re.escape, sorted(words, key=len, reverse=True)))
    return re.compile(rf"(?<![\w])({either})s?(?![\w])")


def _tools(catalogue: Catalogue) -> tuple[str, ...]:
    """The names of what can be brought, as they are compared. What brings leave to enter a state is no such thing: the
    sentences about it name it (`of`)."""
    return tuple(spoken(name) for tool in catalogue.tools.values() if not tool.states for name in tool.names)


def heard_as(typed: Typed, text: str) -> tuple[str, ...]:
    """What a text may be meant as: as it is compared and as the knowledge writes it, then with less and less of what
    says nothing of its own."""
    said = spoken(text)
    fillers = list(dict.fromkeys((*_shorter(typed.fillers, said), *_shorter(typed.fillers, _written(typed, said)))))
    return tuple(dict.fromkeys((*fillers, *_shorter(typed.beside, fillers[-1]))))


def _shorter(words: tuple[str, ...], said: str) -> list[str]:
    """A text, then without one after the other of some words at its ends; never empty."""
    pattern, found = _around(words), [said]
    while pattern is not None and (less := pattern.sub("", found[-1], 1).strip()) not in ("", found[-1]):
        found.append(less)
    return found


def _written(typed: Typed, said: str) -> str:
    """A text with its words as the knowledge writes them."""
    for word, others in typed.spelled:
        said = _anywhere(others).sub(word, said)
    return said


@lru_cache(maxsize=8)
def _around(words: tuple[str, ...]) -> re.Pattern[str] | None:
    if not words:
        return None
    either = "|".join(map(re.escape, sorted(words, key=len, reverse=True)))
    return re.compile(rf"^(?:{either})(?=\s)|(?<=\s)(?:{either})$")


@lru_cache(maxsize=8)
def _shapes(typed: Typed, tools: tuple[str, ...]) -> tuple[_Shape, ...]:
    """The sentences as patterns. tools: their names as they are compared."""
    parts = dict(typed.parts)
    return tuple(
        (sentence.command, sentence.of, re.compile(_pattern(said, parts, tools)))
        for sentence in typed.sentences
        for said in sentence.said
    )


def _pattern(said: str, parts: Mapping[str, tuple[str, ...]], tools: tuple[str, ...]) -> str:
    found = []
    for token in _TOKEN.findall(said):
        if token.startswith("["):
            found.append(f"(?:{_pattern(token[1:-1], parts, tools)})?")
        elif slot := SLOT.fullmatch(token):
            found.append(_slot(slot[1], parts, tools) + _END)
        else:
            found.append(re.escape(spoken(token)) + _END)
    return "".join(found)


def _slot(name: str, parts: Mapping[str, tuple[str, ...]], tools: tuple[str, ...]) -> str:
    if name == "thing":
        return f"(?P<thing>{_THING})"
    if name == "rest":
        return f"(?:{_REST})"
    words = "|".join(map(re.escape, sorted(tools if name == "tool" else parts[name], key=len, reverse=True)))
    return f"(?P<tool>(?:{words})s?)" if name == "tool" else f"(?:{words})"
