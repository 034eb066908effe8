"""The definitions, each with its own base."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from hertzwright.engine.readings import regulation


def test_droop_and_speed_regulation_have_different_bases() -> None:
    assert regulation.droop_percent(62.0, 59.0, 60.0) == pytest.approx(5.0)
    assert regulation.speed_regulation_percent(62.0, 59.0) == pytest.approx(100.0 * 3.0 / 59.0)


def test_a_frequency_that_rises_with_load_has_a_negative_droop() -> None:
    assert regulation.droop_percent(60.0, 60.6, 60.0) == pytest.approx(-1.0)


def test_voltage_regulation_is_over_the_loaded_voltage() -> None:
    assert regulation.voltage_regulation_percent(244.8, 240.0) == pytest.approx(2.0)


def test_band_variation_and_deviation() -> None:
    assert regulation.steady_band_percent(0.6, 60.0) == pytest.approx(1.0)
    assert regulation.maximum_variation_percent(0.6, 60.0) == pytest.approx(0.5)
    assert regulation.deviation_percent(59.4, 60.0) == pytest.approx(-1.0)


def test_over_and_undershoot_count_from_the_edge_of_the_new_band_over_rated() -> None:
    assert regulation.overshoot_percent(64.3, 61.8, 0.2, 60.0) == pytest.approx(100.0 * 2.4 / 60.0)
    assert regulation.undershoot_percent(56.0, 60.0, 0.4, 60.0) == pytest.approx(100.0 * 3.8 / 60.0)
    assert regulation.undershoot_percent(59.9, 60.0, 0.4, 60.0) == 0.0


@pytest.mark.parametrize("bad", [0.0, -60.0, float("nan"), float("inf")])
def test_an_impossible_base_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="expected more than 0"):
        regulation.droop_percent(61.0, 60.0, bad)


def test_percent_of_rated_has_one_home() -> None:
    """A second writing of a definition is how two commands come to different figures for the same readings."""
    arithmetic = re.compile(r"\b100(?:\.0)?\s*\*[^\n]*/\s*(?:[\w.]*\.)?(?:f_)?rated\b")
    engine = Path(__file__).parent.parent / "engine"
    found = {
        str(path.relative_to(engine)): [line.strip() for line in text.splitlines() if arithmetic.search(line)]
        for path in sorted(engine.rglob("*.py"))
        if "rated" in (text := path.read_text(encoding="utf-8"))
    }
    assert {path: lines for path, lines in found.items() if lines} == {}, "readings.regulation has it"


def test_an_excursion_counts_from_the_edge_of_its_band_in_a_trace_as_in_a_load_test() -> None:
    # Not divided by the operating value, and nothing where it stays inside: TM 9-6115-464-34, para 4-14 results (4).
    assert regulation.beyond_band_percent(1.8, 0.6, 60.0) == pytest.approx(2.5)
    assert regulation.beyond_band_percent(0.2, 0.6, 60.0) == 0.0
