"""Answers in plain words: what people say for an outcome, a yes or a no, and several of these in one line.

Purpose: "yes, all tight", "no, it hangs", "clear, no smoke" as the one outcome that every part of them says.
Law: pure. What is said for an outcome is knowledge (`said` of a check). Where two parts say different things, or one
that is not understood denies or weakens, nothing is meant: a denial is never taken for what it denies.
Not here: words of an outcome's own name and brief (see `grammar`), readings (see `reading`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from ..compiler import Check, Typed, spoken
from .denial import after_yes_or_no, denies, harmless, hedges, unsays, yes_or_no
from .told import heard_as
from .word_sense import sense_of

_CLAUSES = re.compile(r"\s*(?:[,;:]|\.\s|\band\b|\s-\s)\s*", re.IGNORECASE)

_Sense = tuple[frozenset[str], frozenset[str]]
InOtherWords = Callable[[str], Iterable[str]]
"""The outcomes that a clause means by the words of their names and briefs."""


def outcome_said(check: Check, text: str) -> str | None:
    """The outcome that a text is said for, as the knowledge writes it or as a plain yes or no; None for none."""
    said, answer = spoken(text), yes_or_no(text, plain=True)
    if answer is not None:
        said = "yes" if answer else "no"
    return next((name for name, ways in check.said.items() if said in map(spoken, ways)), None)


def of_clauses(check: Check, text: str, typed: Typed, others: InOtherWords) -> str | None:
    """The one outcome that all clauses of a text say; None where they do not, or one of them says something else.

    A clause beside a yes or no that is an answer may be one that is not understood, if it denies and weakens nothing.
    """
    answered = False
    meant: set[str] = set()
    unknown: list[str] = []
    ruled_out: set[str | None] = set()
    for clause in _clauses(text):
        answer = yes_or_no(clause, plain=True)
        found = set(_clause(check, clause, typed, others))
        if not found and answer is not None and (other := outcome_said(check, "no" if answer else "yes")):
            ruled_out.add(other)  # no is one of several
            continue
        if not found:
            unknown.append(clause)
            continue
        answered = answered or answer is not None
        meant = meant & found if meant else found
        if not meant:
            return None
    if len(meant) != 1 or meant & ruled_out or (unknown and not (answered and all(map(harmless, unknown)))):
        return None
    return next(iter(meant))


def _clauses(text: str) -> list[str]:
    """The parts of a line; a yes before its answer is one, also without a comma. A no is one only with it: no gap."""
    found: list[str] = []
    for clause in filter(None, _CLAUSES.split(text.strip(" .!?"))):
        answer, rest = after_yes_or_no(clause)
        first = clause.lower().partition(" ")[0].rstrip(".")
        found += [first, rest] if answer or (answer is False and first not in ("no", "not")) else [clause]
    return found


def _clause(check: Check, clause: str, typed: Typed, others: InOtherWords) -> Iterable[str]:
    """The outcomes that one clause may say."""
    for each in heard_as(typed, clause):
        bare = each == spoken(clause) or yes_or_no(each) is None  # "no steady" is no "no"
        if bare and (name := outcome_said(check, each)) is not None:
            return [name]
    if yes_or_no(clause, plain=True) is not None:
        return []
    sense = _bare(clause, typed)
    if unsays(clause) or (denies(clause) and not sense[1]):  # "open but not quite" denies it after all
        return []
    for name, ways in check.said.items():
        if any(sense) and any(_same(sense, _bare(way, typed)) for way in ways):
            return [name]
    for each in dict.fromkeys((*heard_as(typed, clause), *_strengthened(clause, typed))):
        if found := list(others(each)):
            return found
    if (less := _without(clause, typed.somewhat)) != spoken(clause) and not denies(clause):
        return [name for name in _clause(check, less, typed, others) if name != check.normal]
    return _denied(check, clause, typed)


def _denied(check: Check, clause: str, typed: Typed) -> list[str]:
    """The other of two answers to a question of yes or no, where a clause denies the one: not fully open."""
    if len(check.outcomes) != 2 or not denies(clause) or hedges(clause):
        return []
    yes, no = outcome_said(check, "yes"), outcome_said(check, "no")
    said, denied = sense_of(clause)
    if yes is None or no is None or said or not denied:
        return []
    for name, other in ((yes, no), (no, yes)):
        if any(_same((denied, said), sense_of(way)) for way in (*check.said[name], name.replace("_", " "))):
            return [other]
    return []


def _strengthened(clause: str, typed: Typed) -> list[str]:
    """A clause without what only strengthens it, where it denies nothing."""
    said = heard_as(typed, clause)[-1]
    less = said if denies(clause) else _without(said, typed.anywhere)
    return [less] if less else []


def _without(text: str, words: Iterable[str]) -> str:
    """A text without some words, wherever they stand; as it is compared."""
    said = f" {spoken(text)} "
    for word in sorted(words, key=len, reverse=True):
        said = said.replace(f" {word} ", " ")
    return said.strip()


def _bare(clause: str, typed: Typed) -> _Sense:
    """What a clause says and denies; in one that denies nothing without what only strengthens it."""
    return sense_of(" ".join(_strengthened(clause, typed)))


def _same(one: _Sense, other: _Sense) -> bool:
    """Whether two texts say and deny the same words, but for their endings: comes, come."""
    return [{word.removesuffix("e") for word in words} for words in one] == [
        {word.removesuffix("e") for word in words} for words in other
    ]
