"""The simulated set against the knowledge: conflicts are few, each has its reason, and none has gone stale."""

from __future__ import annotations

from dataclasses import replace

import pytest

from hertzwright.engine import load_knowledge

from second_opinion import EXPLAINED, REASONS, Opinion, all_opinions, opinions, table, unexplained


@pytest.fixture(scope="module")
def found() -> list[Opinion]:
    return all_opinions()


def test_one_cause_looked_at_on_the_simulated_set_has_no_conflict_without_a_reason() -> None:
    """The quick tier's share of what the others do with every cause."""
    found = list(opinions(load_knowledge(), "linkage_worn"))
    assert len(found) > 10
    assert any(each.said > 0.5 and each.shown > 0.5 for each in found), "it shows something, so that this can fail"
    assert unexplained(found) == []


@pytest.mark.nightly
def test_no_conflict_is_without_a_reason(found: list[Opinion], capsys: pytest.CaptureFixture[str]) -> None:
    with capsys.disabled():
        print("\n" + "\n".join(table(found)))
    assert [line for line in table(unexplained(found)) if "UNEXPLAINED" in line] == []


@pytest.mark.nightly
def test_no_reason_stands_for_a_conflict_that_is_gone(found: list[Opinion]) -> None:
    there = {(each.cause, f"{each.check} {each.outcome}") for each in found if each.verdict != "agrees"}
    told = {(cause, what) for cause, entries in EXPLAINED.items() for what in entries}
    assert told - there == set()


@pytest.mark.nightly
def test_the_two_agree_on_nearly_all_of_what_they_show(found: list[Opinion]) -> None:
    conflicts = sum(each.verdict != "agrees" for each in found)
    assert len(found) > 1000
    assert conflicts / len(found) < 0.04


def test_a_knowledge_that_says_otherwise_is_caught() -> None:
    says = Opinion("linkage_worn", "swing_no_load", "slow_swing", said=0.75, shown=0.6, looks=5)
    assert says.verdict == "agrees"
    assert replace(says, shown=0.0).verdict == "never shown"
    assert replace(says, said=0.01).verdict == "not said"
    assert unexplained([replace(says, said=0.01)]) == [replace(says, said=0.01)]
    assert table([replace(says, said=0.01)])[1].endswith("UNEXPLAINED")


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
