"""The definitions, each with its own base."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine.loadtest import regulation
from hertzwright.engine.loadtest.regulation import Governed


def test_droop_and_speed_regulation_have_different_bases() -> None:
    assert regulation.droop_percent(62.0, 59.0, 60.0) == pytest.approx(5.0)
    assert regulation.speed_regulation_percent(62.0, 59.0) == pytest.approx(100.0 * 3.0 / 59.0)


def test_a_frequency_that_rises_with_load_has_a_negative_droop() -> None:
    assert regulation.droop_percent(60.0, 60.6, 60.0) == pytest.approx(-1.0)


@given(st.floats(1000, 4000), st.floats(0, 20))
def test_no_load_speed_undoes_regulation(full: float, percent: float) -> None:
    no_load = regulation.no_load_speed(full, percent)
    assert regulation.speed_regulation_percent(no_load, full) == pytest.approx(percent, abs=1e-9)


def test_voltage_regulation_is_over_the_loaded_voltage() -> None:
    assert regulation.voltage_regulation_percent(244.8, 240.0) == pytest.approx(2.0)


def test_band_variation_and_deviation() -> None:
    assert regulation.steady_band_percent(60.3, 59.7, 60.0) == pytest.approx(1.0)
    assert regulation.maximum_variation_percent(0.6, 60.0) == pytest.approx(0.5)
    assert regulation.deviation_percent(59.4, 60.0) == pytest.approx(-1.0)
    with pytest.raises(ValueError, match="below lowest"):
        regulation.steady_band_percent(59.0, 60.0, 60.0)


def test_over_and_undershoot_count_from_the_edge_of_the_new_band_over_rated() -> None:
    assert regulation.overshoot_percent(64.3, 61.8, 0.2, 60.0) == pytest.approx(100.0 * 2.4 / 60.0)
    assert regulation.undershoot_percent(56.0, 60.0, 0.4, 60.0) == pytest.approx(100.0 * 3.8 / 60.0)
    assert regulation.undershoot_percent(59.9, 60.0, 0.4, 60.0) == 0.0


RECORD = [(0.0, 61.8), (1.0, 61.9), (2.0, 57.0), (3.0, 59.0), (4.0, 60.1), (5.0, 59.5), (6.0, 60.0), (7.0, 60.1)]


def test_recovery_is_from_leaving_the_old_band_to_staying_in_the_new() -> None:
    # It is inside at 4 s but leaves once more; it stays from 6 s.
    assert regulation.recovery_seconds(RECORD, (61.5, 62.1), (59.8, 60.4)) == pytest.approx(4.0)


def test_no_recovery_where_it_never_leaves_or_never_stays() -> None:
    assert regulation.recovery_seconds(RECORD[:2], (61.5, 62.1), (59.8, 60.4)) is None
    assert regulation.recovery_seconds(RECORD[:6], (61.5, 62.1), (59.8, 60.4)) is None


@given(st.lists(st.tuples(st.floats(60, 63), st.floats(0.001, 0.5)), min_size=1, max_size=5), st.floats(0, 500))
def test_shares_add_up_and_lie_on_their_lines(lines: list[tuple[float, float]], total: float) -> None:
    sets = [Governed(no_load, rate) for no_load, rate in lines]
    frequency, shares = regulation.share(sets, total)
    assert sum(shares) == pytest.approx(total, abs=1e-6 * max(1.0, total) + 1e-6 * sum(abs(share) for share in shares))
    for item, share in zip(sets, shares, strict=True):
        assert item.no_load - item.rate * share == pytest.approx(frequency)


def test_a_set_without_droop_cannot_share() -> None:
    with pytest.raises(ValueError, match="droop above 0"):
        regulation.share([Governed(60.0, 0.0)], 10.0)


@pytest.mark.parametrize("bad", [0.0, -60.0, float("nan"), float("inf")])
def test_an_impossible_base_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="expected more than 0"):
        regulation.droop_percent(61.0, 60.0, bad)
