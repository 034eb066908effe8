"""The simulated set against the knowledge: conflicts are few, each has its reason, and none has gone stale."""

from __future__ import annotations

import pytest

from hertzwright.engine import load_knowledge

from second_opinion import EXPLAINED, REASONS, Opinion, all_opinions, table, unexplained


@pytest.fixture(scope="module")
def found() -> list[Opinion]:
    return all_opinions()


def test_no_conflict_is_without_a_reason(found: list[Opinion]) -> None:
    assert [line for line in table(unexplained(found)) if "UNEXPLAINED" in line] == []


def test_no_reason_stands_for_a_conflict_that_is_gone(found: list[Opinion]) -> None:
    there = {(each.cause, f"{each.check} {each.outcome}") for each in found if each.verdict != "agrees"}
    told = {(cause, what) for cause, entries in EXPLAINED.items() for what in entries}
    assert told - there == set()


def test_the_two_agree_on_most_of_what_they_show(found: list[Opinion]) -> None:
    conflicts = sum(each.verdict != "agrees" for each in found)
    assert len(found) > 1000
    assert conflicts / len(found) < 0.09


def test_the_reasons_are_used_and_name_what_exists() -> None:
    knowledge = load_knowledge()
    used = set()
    for cause, entries in EXPLAINED.items():
        assert cause in knowledge.causes
        for what, reason in entries.items():
            check, outcome = what.split()
            assert knowledge.checks[check].index(outcome) > 0
            used.add(reason)
    assert used == set(REASONS)
    assert all(text[:3] in ("M: ", "K: ") for text in REASONS.values())
