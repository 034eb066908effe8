"""From files to values: words become numbers, rows become as long as the outcomes, and links go both ways."""

from __future__ import annotations

from pathlib import Path

import pytest

import hertzwright.knowledge
from hertzwright.engine.compiler.model import Band, Source
from hertzwright.engine.compiler.reader import Catalogue, read_catalogue, read_folder

from small_knowledge import FILES, write


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    catalogue, problems = read_catalogue(write(tmp_path_factory.mktemp("small")))
    assert problems == ()
    assert catalogue is not None
    return catalogue


def test_strengths_are_numbers_aligned_with_the_outcomes(small: Catalogue) -> None:
    check = small.checks["frequency"]
    assert [outcome.id for outcome in check.outcomes] == ["right", "low", "high"]
    assert check.leak == pytest.approx((0.94, 0.03, 0.03))
    cause = small.causes["rod_short"]
    assert cause.shows["frequency"] == pytest.approx((0.70, 0.25, 0.05))
    assert cause.shows["stop_gap"] == pytest.approx((0.25, 0.0, 0.75))
    assert cause.words["frequency"] == {"low": "sometimes", "high": "very_seldom"}


def test_links_go_both_ways_in_the_order_written(small: Catalogue) -> None:
    assert small.checks["frequency"].parents == ("rod_long", "rod_short", "speed_high")
    assert small.checks["stop_gap"].parents == ("rod_long", "rod_short")
    assert small.causes["rod_long"].remedies == ("set_rod",)
    assert small.remedies["set_rod"].cures == {"rod_long": 0.75, "rod_short": 0.75}
    assert list(small.causes) == ["rod_long", "rod_short", "speed_high"]


def test_a_cause_stands_alone_unless_it_names_a_part(small: Catalogue) -> None:
    assert small.causes["rod_long"].part == small.causes["rod_short"].part == "rod"
    assert small.causes["speed_high"].part == "speed_high"


def test_the_prior_follows_the_features(small: Catalogue) -> None:
    cause = small.causes["rod_long"]
    assert cause.prior({"cylinders": 1.0, "booster": "none"}) == 0.05
    assert cause.prior({"cylinders": 2.0, "booster": "none"}) == 0.03
    assert small.causes["speed_high"].prior({"cylinders": 2.0, "booster": "none"}) == 0.0


def test_prose_places_and_sources(small: Catalogue) -> None:
    cause = small.causes["rod_long"]
    assert cause.note == "The arm runs out of travel.\nThe throttle stays open."
    assert str(cause.place) == "areas/linkage.yaml:5:3"
    assert small.checks["frequency"].sources == (
        Source("common practice"),
        Source("published", "Notes of a workshop", "Part 1", "p. 4"),
    )
    assert small.cautions["rotating_parts"].text == "Keep hands clear of the fan.\nTake off rings and watches."


def test_readings_features_costs_and_cases(small: Catalogue) -> None:
    reading = small.checks["frequency"].reading
    assert reading is not None
    assert (reading.unit, reading.lowest, reading.highest, reading.scale) == ("Hz", 20.0, 90.0, "rated_frequency")
    assert reading.bands == (
        Band(("low",), float("-inf"), 60.5),
        Band(("right",), 60.5, 62.5),
        Band(("high",), 62.5, float("inf")),
    )
    assert small.features["cylinders"].default == 2.0
    assert (small.features["cylinders"].lowest, small.features["cylinders"].highest) == (1.0, 8.0)
    assert small.features["booster"].choices == ("none", "vacuum")
    assert small.costs.moves == {("stopped", "warm"): 4.0, ("warm", "stopped"): 2.0}
    assert (small.costs.proof, small.costs.proof_shows, small.costs.refer) == (6.0, 0.75, 240.0)
    assert small.costs.come_back == 360.0
    case = small.cases["rod_after_overhaul"]
    assert case.facts[1] == {"check": "frequency", "answer": "64.1 Hz"}
    assert (case.leading, case.within_first, case.at_least) == (("rod_long",), 1, 0.5)
    assert small.order["rod_before_speed"].kind == "cure_first"
    assert small.tolerances["default"].limits == {"spread_hz_max": 3.0}
    assert small.states["warm"].dangerous is True
    assert small.complaints["floats_high"].says == {"frequency": ("high",)}


def test_nothing_in_a_catalogue_can_be_changed(small: Catalogue) -> None:
    with pytest.raises(TypeError):
        small.causes["x"] = small.causes["rod_long"]  # type: ignore[index]
    with pytest.raises(AttributeError):
        small.causes["rod_long"].title = "x"  # type: ignore[misc]


def test_the_fingerprint_knows_content_from_comments(tmp_path: Path, small: Catalogue) -> None:
    def fingerprint(file: str, old: str, new: str) -> str:
        assert old in FILES[file]
        catalogue, _ = read_catalogue(write(tmp_path, {file: FILES[file].replace(old, new, 1)}))
        assert catalogue is not None
        return catalogue.fingerprint

    assert len(small.fingerprint) == 64
    assert fingerprint("words.yaml", "words:", "# a comment\nwords:  ") == small.fingerprint
    assert fingerprint("words.yaml", "words:\n", "words:\r\n\r\n") == small.fingerprint
    assert fingerprint("cases/linkage.yaml", "64.1 Hz", "64.2 Hz") == small.fingerprint
    assert fingerprint("words.yaml", "0.75", "0.76") != small.fingerprint
    assert fingerprint("areas/linkage.yaml", "Rod too long", "Rod too lengthy") != small.fingerprint


def test_reading_twice_gives_the_same(tmp_path: Path) -> None:
    folder = write(tmp_path, {"words.yaml": FILES["words.yaml"].replace("usually", "mostly")})
    assert read_folder(folder).problems == read_folder(folder).problems != ()


def test_every_shipped_check_and_cause_has_whole_rows() -> None:
    catalogue, problems = read_catalogue(Path(hertzwright.knowledge.__file__).parent)
    assert problems == ()  # no warning is shipped either
    assert catalogue is not None
    for check in catalogue.checks.values():
        assert len(check.leak) == len(check.outcomes)
        assert sum(check.leak) == pytest.approx(1.0)
        for name in check.parents:
            row = catalogue.causes[name].shows[check.id]
            assert len(row) == len(check.outcomes)
            assert sum(row) == pytest.approx(1.0)
            assert min(row) >= 0.0
