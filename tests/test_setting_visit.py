"""Sets that are set from the ground up: what a hand turns on them, and what becomes of it by either way."""

from __future__ import annotations

import pytest
from benchmarks.setting import SETTINGS

from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.rehearsal.setting_visit import as_advised, by_the_book, mis_set, set_in_order
from hertzwright.engine.setting import progress
from hertzwright.engine.simulated import Bench


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def test_a_hand_turns_what_it_turns_and_no_more(knowledge: Knowledge) -> None:
    bench = Bench(knowledge.features({}), (("speed_set_low", 0.5), ("idle_mixture_lean", 0.5), ("linkage_worn", 0.3)))
    faster = bench.turn("speed", 1.0)
    assert faster.true_no_load > bench.true_no_load
    # Where the adjuster stood is no fault any more once somebody has turned it; wear is.
    assert dict(faster.faults).keys() == {"idle_mixture_lean", "linkage_worn"}
    placed = faster.place("idle_needle", 1.5)
    assert placed.plant.carburetor.idle > faster.plant.carburetor.idle
    assert dict(placed.faults).keys() == {"linkage_worn"}
    assert placed.plant.governor.speed_turns == faster.plant.governor.speed_turns
    # What a remedy sets anew no longer stands where a hand left it.
    assert "idle_needle" not in placed.carry_out(knowledge.remedies["set_idle_mixture"].cures).hand
    ended = bench.turn("speed", 1000.0)
    assert ended.plant.governor.speed_turns == ended.plant.governor.thread


@pytest.mark.nightly  # the quick tier sets one at the terminal (test_cli_setting)
def test_a_mis_set_set_is_set_and_the_same_again(knowledge: Knowledge) -> None:
    called = mis_set(knowledge, "a.0", SETTINGS)
    assert len(called.only_set_wrong) >= 3
    again = called.again()
    assert again.only_set_wrong == called.only_set_wrong
    found = set_in_order(knowledge, called, as_advised)
    assert (found.end, found.within, found.faults) == ("done", True, ())
    assert set_in_order(knowledge, again, as_advised) == found


@pytest.mark.nightly
def test_most_are_set_within_the_limits_in_fewer_minutes_than_the_book(knowledge: Knowledge) -> None:
    called = [mis_set(knowledge, f"nightly.{number}", SETTINGS) for number in range(20)]
    book = [set_in_order(knowledge, each.again(), by_the_book) for each in called]
    mine = [set_in_order(knowledge, each, as_advised) for each in called]
    assert sum(each.within for each in mine) >= 16
    assert sum(each.minutes for each in mine) < 0.6 * sum(each.minutes for each in book)


def test_a_turn_that_was_written_as_a_fraction_counts(knowledge: Knowledge) -> None:
    job = Job(knowledge, {"booster": "none"})
    job.begin_setting()
    job.set_to("no_load_speed_set", "turned", {"speed": "+1 1/2"})
    job.set_to("no_load_speed_set", "turned", {"speed": "-0.25"})
    turned = next(each for each in progress(job) if each.id == "no_load_speed_set")
    assert turned.turns == {"speed": 1.25}
