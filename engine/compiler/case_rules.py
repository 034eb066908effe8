"""Sense of solved cases: what is expected can be, and pairs turn on one fact.

Purpose: one small function for each rule about cases (see `rules` for how they are run).
Law: a rule looks at trees and yields problems; it is named after what must hold.
Not here: what the knowledge makes of a case (see `review.cases`), whether its answers can be understood (see `names`).
"""

from __future__ import annotations

from collections.abc import Iterator

from ..problems import Problem, quoted
from .entries import Entries, Entry, listed_names, nodes, pairs, strings, table, text, value
from .source import MappingNode, ScalarNode


def pairs_turn_on_one_fact(entries: Entries) -> Iterator[Problem]:
    """A case beside another has its set and its facts but for one answer, and another truth."""
    for case in entries.all("cases"):
        named = text(case.node, "beside")
        other = entries.of("cases").get(named.value) if named is not None else None
        if named is None or other is None:
            continue
        advice = "a pair is one set found twice with one answer changed, so that the fact shows what it is worth"
        mine, its = _facts(case), _facts(other)
        what = ""
        if _set(case) != _set(other):
            what = f"{quoted(case.id)} and {quoted(other.id)} are not of the same set"
        elif [step for step, _ in mine] != [step for step, _ in its]:
            what = f"{quoted(case.id)} and {quoted(other.id)} were not asked the same, one fact after the other"
        elif sum(one != another for one, another in zip(mine, its, strict=True)) != 1:
            different = [step for (step, one), (_, another) in zip(mine, its, strict=True) if one != another]
            what = f"{quoted(case.id)} and {quoted(other.id)} differ in {', '.join(different) or 'no fact'}"
        elif set(listed_names(case.node, "truth")) == set(listed_names(other.node, "truth")):
            what = f"{quoted(case.id)} and {quoted(other.id)} have the same truth"
        if what:
            yield case.problem("K102", what, advice, named)


def wanted_or_not(entries: Entries) -> Iterator[Problem]:
    """No cause is both expected in the lead and expected not to lead."""
    for case in entries.all("cases"):
        expect = table(case.node, "expect")
        wanted = listed_names(expect, "leading")
        for name in strings(expect, "not_leading"):
            if name.value in wanted:
                what = f"{quoted(name.value)} is to lead and not to lead"
                yield case.problem("K103", what, "take it out of `leading` or out of `not_leading`", name)


def leads_are_true(entries: Entries) -> Iterator[Problem]:
    """What a case expects in the lead is among what was truly wrong."""
    for case in entries.all("cases"):
        truth = listed_names(case.node, "truth")
        for name in strings(table(case.node, "expect"), "leading"):
            if truth and name.value not in truth and all(each in entries.of("causes") for each in truth):
                what = f"{quoted(name.value)} is expected in the lead and was not wrong"
                yield case.problem("K104", what, f"`truth` names {', '.join(truth)}", name)


def answered_once(entries: Entries) -> Iterator[Problem]:
    """No check is answered in two ways with nothing done in between."""
    for case in entries.all("cases"):
        seen: dict[str, str] = {}
        for fact in nodes(case.node, "facts"):
            check, answer = text(fact, "check"), text(fact, "answer")
            if text(fact, "remedy") is not None:
                seen.clear()
            elif check is not None and answer is not None:
                before = seen.setdefault(check.value, answer.value)
                if before != answer.value:
                    what = f"{quoted(check.value)} was answered {quoted(before)} before"
                    yield case.problem("K105", what, "keep one, or name the remedy done between them", answer)


def _set(case: Entry) -> dict[str, str]:
    return {key.value: given.value for key, given in pairs(table(case.node, "set")) if isinstance(given, ScalarNode)}


def _facts(case: Entry) -> list[tuple[str, str]]:
    """What was asked and what was found, in order."""
    return [
        (
            value(fact, "complaint") or value(fact, "check") or value(fact, "remedy"),
            value(fact, "answer") or value(fact, "result"),
        )
        for fact in nodes(case.node, "facts")
        if isinstance(fact, MappingNode)
    ]
