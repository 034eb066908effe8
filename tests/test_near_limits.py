"""A reading is evidence by its distance from the limits, and a look does not erase what a customer says.

Outside facts: the standard normal distribution at 0, 1 and 2 standard deviations, 0.5000, 0.8413 and 0.9772 (NIST/SEMATECH
e-Handbook of Statistical Methods, 1.3.6.7.1; a standard uncertainty taken as a standard deviation, JCGM 100, 4.3.9 and
annex G). That a limit is no cliff for a meter is common practice.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.readings import read_answer

KNOWLEDGE = load_knowledge()
FULL = KNOWLEDGE.checks["frequency_full_load"]
SAGS = ("sags_under_load", "present")


def fits(check: str, text: str, **features: str) -> dict[str, float]:
    return dict(read_answer(KNOWLEDGE.checks[check], text, KNOWLEDGE.features(features)).fits)


def nothing(*answers: tuple[str, str]) -> float:
    """Chance that no cause is there."""
    job = Job(KNOWLEDGE)
    for name, answer in answers:
        job.record(name, answer)
    return dict(job.fault_sets(40)).get(frozenset(), 0.0)


def low_limit() -> tuple[float, float]:
    """The lower limit of full load in Hz, and the uncertainty of its reading."""
    reading = FULL.reading
    assert reading is not None
    return next(band.low for band in reading.bands if band.outcomes == ("right",)), reading.uncertainty


@pytest.mark.parametrize(("deviations", "share"), [(0, 0.5), (1, 0.8413), (2, 0.9772)])
def test_shares_follow_the_published_normal_table(deviations: int, share: float) -> None:
    limit, uncertainty = low_limit()
    found = fits("frequency_full_load", f"{limit + deviations * uncertainty:.4f} Hz")
    assert found["right"] == pytest.approx(share, abs=5e-5)
    assert found["low"] == pytest.approx(1.0 - share, abs=5e-5)


def test_a_reading_far_from_the_limits_says_what_its_outcome_says() -> None:
    for check in KNOWLEDGE.checks.values():
        if check.retired is None and check.reading is not None:
            for band in check.reading.bands:
                if min(band.high - band.low, 1e3) > 8 * check.reading.uncertainty:
                    inside = (
                        band.low + 4 * check.reading.uncertainty
                        if band.low > -1e3
                        else band.high - 4 * check.reading.uncertainty
                    )
                    if check.reading.scale == "" and check.reading.lowest <= inside <= check.reading.highest:
                        found = fits(check.id, f"{inside:.6f}")
                        assert found == dict.fromkeys(band.outcomes, 1.0), (check.id, inside, found)


def test_the_uncertainty_scales_with_the_rated_frequency() -> None:
    limit, _ = low_limit()
    assert fits("frequency_full_load", f"{limit} Hz") == pytest.approx(
        fits("frequency_full_load", f"{limit * 50 / 60:.9f} Hz", hertz="50"), abs=1e-6
    )


def test_a_kind_that_is_named_keeps_its_own_share_and_that_of_the_other_side() -> None:
    found = fits("swing_no_load", "0.55 Hz slow swing")
    assert set(found) == {"steady", "slow_swing"}
    assert found["slow_swing"] > found["steady"] > 0.0


@pytest.mark.parametrize("tenths", [range(-2, 3), pytest.param(range(-10, 11), marks=pytest.mark.nightly)], ids=str)
def test_there_is_no_cliff_at_a_limit(tenths: range) -> None:
    """Every tenth of a hertz moves the chance of a sound set by little, and always the same way."""
    limit, _ = low_limit()
    chances = [nothing(SAGS, ("frequency_full_load", f"{limit + step / 10:.2f} Hz")) for step in tenths]
    steps = [after - before for before, after in pairwise(chances)]
    assert all(step > -1e-9 for step in steps)
    assert max(steps) < 0.25


def test_a_reading_within_the_limits_weakens_a_complaint_and_does_not_erase_it() -> None:
    assert nothing(SAGS) < nothing(SAGS, ("frequency_full_load", "60.2 Hz"))
    erased = nothing(("frequency_full_load", "60.2 Hz"))
    assert nothing(SAGS, ("frequency_full_load", "60.2 Hz"), ("frequency_fall_loaded", "1 Hz")) < erased - 0.02


def test_a_complaint_that_is_explained_counts_no_more() -> None:
    job, other = Job(KNOWLEDGE), Job(KNOWLEDGE)
    for each in (job, other):
        each.record("frequency_no_load", "64 Hz")
        each.record("swing_no_load", "steady")
    job.record("lights_flicker", "present")
    assert job.posterior() != pytest.approx(other.posterior(), abs=1e-3)
    job.record("lights_flicker", "explained")
    assert job.posterior() == pytest.approx(other.posterior(), abs=1e-12)
    assert Job.replay(KNOWLEDGE, job.events).posterior() == job.posterior()
