"""Complaints in the customer's words: what is said leads to what is meant, also for phrases that nothing is tuned to.

Outside: none; the phrases are invented, as a technician or farmer would say them (common practice, from memory).
"""

from __future__ import annotations

from math import fsum

import pytest

from hertzwright.cli.terminal import finder
from hertzwright.cli.workshop.phrases import judge_phrases, kept_aside, shares, texts_of
from hertzwright.engine import Knowledge, load_knowledge


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def test_there_are_enough_phrases_and_every_complaint_has_several(knowledge: Knowledge) -> None:
    phrases = knowledge.catalogue.phrases.values()
    assert len(phrases) >= 120
    assert sum(not each.means for each in phrases) >= 10
    assert sum(len(each.means) > 1 for each in phrases) >= 10
    for name, complaint in knowledge.complaints.items():
        if complaint.retired is None:
            assert sum(name in each.means for each in phrases) >= 4, name


def test_what_is_said_leads_to_what_is_meant(knowledge: Knowledge) -> None:
    """Before words that mean the same were known: 64 % first and 76 % in three, 66 % and 86 % of those kept aside.

    63 phrases were written later without a look at the others: 56 % first and 79 % in three as they came. Those of them
    that are kept aside hold the figures of all kept aside down, as words that nobody tuned to do.
    """
    judged = judge_phrases(knowledge)
    _, first, near = shares([each for each in judged if not each.aside])
    assert first >= 0.88
    assert near >= 0.95
    count, first, near = shares([each for each in judged if each.aside])
    assert count >= 40
    assert first >= 0.70
    assert near >= 0.90
    assert all(each.near for each in judged if not each.phrase.means)  # before: all 14 were taken for a complaint


def test_too_fast_unloaded_is_not_rising_under_load(knowledge: Knowledge) -> None:
    texts, same = texts_of(knowledge), knowledge.catalogue.same_words
    found = finder.find("too fast unloaded and lights very bright", texts, same=same)
    assert found[0] == "floats_high_no_load"


def test_a_fifth_is_kept_aside_by_its_words_alone(knowledge: Knowledge) -> None:
    phrases = [each.said for each in knowledge.catalogue.phrases.values()]
    assert 0.1 <= sum(map(kept_aside, phrases)) / len(phrases) <= 0.3


def test_complaints_that_cannot_both_be_are_named_in_the_knowledge(knowledge: Knowledge) -> None:
    assert "slow_no_load" in knowledge.complaints["floats_high_no_load"].excludes


def test_what_is_not_compared_could_not_have_counted(knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    """Most texts are passed over before they are compared letter by letter; the same comes out where none is."""
    texts, same = texts_of(knowledge), knowledge.catalogue.same_words
    said = [each.said for each in knowledge.catalogue.phrases.values()][::12]
    compared: list[str] = []
    plain = finder.difflib.SequenceMatcher

    def counted(junk: object, one: str, other: str) -> object:
        compared.append(other)
        return plain(None, one, other)

    def anew() -> list[list[tuple[str, float]]]:
        compared.clear()
        finder._alike.cache_clear()
        finder._sought.cache_clear()
        return [finder.scored(each, texts, 3, same) for each in said]

    monkeypatch.setattr(finder.difflib, "SequenceMatcher", counted)
    quick, few = anew(), len(compared)
    assert any(quick)
    with monkeypatch.context() as patch:
        patch.setattr(finder, "_letters", lambda text: (1 << 999) - 1)  # every text may be like every other
        assert anew() == quick
    assert len(compared) > 5 * few
    finder._sought.cache_clear()


def test_how_much_a_text_shares_is_what_its_words_say(knowledge: Knowledge) -> None:
    """Only texts with a word that was typed, or one like it, are looked at: held against a walk over all of them."""
    same = knowledge.catalogue.same_words
    means = tuple((word, tuple(others)) for word, others in same.items())
    folded = finder._folded_by(means)
    sought = finder._sought(tuple((name, tuple(texts)) for name, texts in texts_of(knowledge).items()), means)
    for each in list(knowledge.catalogue.phrases.values())[::12]:
        words = finder._tokens(folded(each.said.lower()))
        found = {(text.thing, text.text): shared for text, shared in sought.sharing(words)}
        typed = [(sought._weight.get(word, sought._unknown), sought.near(word)) for word in words]
        for text in sought._texts:
            there = finder._tokens(folded(text.text))
            close = [max(near.get(word, 0.0) for _, near in typed) for word in there]
            covered = fsum(weight * max(near.get(word, 0.0) for word in there) for weight, near in typed)
            used = fsum(sought._weight[word] * much for word, much in zip(there, close, strict=True))
            shared = 0.55 * covered / fsum(weight for weight, _ in typed)
            shared += 0.4 * used / fsum(sought._weight[word] for word in there)
            assert found.get((text.thing, text.text), 0.0) == pytest.approx(shared, abs=1e-12)
