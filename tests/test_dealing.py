"""Only sets are dealt that are plausible, whose customer speaks of each fault, and that the expert solves."""

from __future__ import annotations

from collections import Counter

import pytest

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.rehearsal import FIXED, BenchSet
from hertzwright.engine.simulated import Bench
from hertzwright.engine.teaching import LEVELS, REFUSALS, new_scenario
from tests.plausible import built_wrong, of_no_part, read_wrong


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.mark.parametrize("count", [2, pytest.param(2000, marks=pytest.mark.nightly)])
def test_a_dealt_set_is_plausible(knowledge: Knowledge, count: int) -> None:
    """The laws are those of `tests.plausible`, not those of the knowledge that deals; every fiftieth set is also played
    by the expert, since that takes seconds."""
    refused: Counter[str] = Counter()
    for seed in range(count):
        dealt = new_scenario(knowledge, f"dealt {seed}", seed % len(LEVELS) + 1, solved=seed % 50 == 0, refused=refused)
        assert built_wrong(dealt.features) == [], dealt
        for cause in dealt.truth:
            assert of_no_part(dealt.features, f"{cause.replace('_', ' ')} {knowledge.causes[cause].title}") == [], dealt
        for name in dealt.complaints:
            complaint = knowledge.complaints[name]
            assert of_no_part(dealt.features, f"{complaint.title} {complaint.brief}") == [], (dealt, name)
        assert read_wrong(dealt.bench) == [], dealt
        # What is said shows on this very set.
        found = BenchSet(knowledge, dealt.bench)
        assert dealt.complaints
        assert all(found.shows(complaint) for complaint in dealt.complaints)
        if dealt.expert is not None:
            played = dealt.expert.played
            assert (played.end, played.left, played.faults) == (FIXED, (), tuple(sorted(dealt.truth)))
    assert set(refused) <= {*REFUSALS, *knowledge.catalogue.combinations}


def test_the_laws_say_what_is_wrong(knowledge: Knowledge) -> None:
    """Sets that a mechanic laughs at, each caught by a law."""
    sound = dict(knowledge.features({"rated_kw": "9", "cylinders": "2", "volts": "240"}))
    assert built_wrong(sound) == []
    for change, law in (
        ({"fuel": "natural_gas"}, "gas has no choke"),
        ({"rated_kw": 45.0, "cylinders": 1.0}, "a cylinder gives"),
        ({"volts": 480.0, "phases": 3.0}, "480 volts"),
        ({"hertz": 50.0}, "a standard voltage"),
        ({"poles": 2.0, "cylinders": 4.0}, "fast sets are small"),
    ):
        assert any(each.startswith(law) for each in built_wrong({**sound, **change})), change
    assert of_no_part({**sound, "fuel": "natural_gas", "choke": "none"}, "Choke opens slowly")
    assert of_no_part(sound, "Magneto weak") == ([] if sound["ignition"] == "magneto" else ["magneto"])
    # A set that held 30 Hz under load, and one whose volts stayed while its speed went.
    bench = Bench(knowledge.features({}), (("main_mixture_lean", 0.5),))
    assert read_wrong(bench) == []
    object.__setattr__(bench, "answer", lambda check: {"frequency_full_load": "30.0 Hz"}.get(check, "240 V"))
    assert any("held under full load" in each for each in read_wrong(bench))
