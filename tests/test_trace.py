"""Stretches, steps and findings on records whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.readings import read_answer
from hertzwright.engine.trace.analysis import TraceReport, analyse
from hertzwright.engine.trace.findings import offers
from hertzwright.engine.trace.samples import FrequencyRecord, TraceError, meter_step
from hertzwright.engine.trace.swing import judge, short_term_band

Floats = NDArray[np.float64]


def record(time: Floats, hertz: Floats, step: float = 0.1) -> FrequencyRecord:
    """Readings as a meter with this step shows them."""
    shown = np.round(hertz / step) * step if step else hertz
    return FrequencyRecord(time, np.asarray(shown), float(np.median(np.diff(time))), meter_step(shown), "test")


def noise(size: int, deviation: float = 0.02, seed: int = 0) -> Floats:
    return np.random.default_rng(seed).normal(0, deviation, size)


def response(since: Floats, damping: float, period: float) -> Floats:
    """Unit step response of second order; `period` is that of the damped swing, s."""
    since = np.maximum(since, 0.0)
    turn = 2 * np.pi / period
    decay = damping * turn / np.sqrt(1 - damping**2)
    return np.asarray(1 - np.exp(-decay * since) * (np.cos(turn * since) + decay / turn * np.sin(turn * since)))


def load_test(time: Floats) -> Floats:
    """No load, half, full, and back to none."""
    on = response(time - 40.2, 0.3, 2.0) + response(time - 80.1, 0.3, 2.0)
    return np.asarray(61.8 - 1.5 * on + 3.0 * response(time - 120.3, 0.3, 2.0))


@pytest.fixture(scope="module")
def report() -> TraceReport:
    time = np.arange(0, 170, 0.5)
    return analyse(record(time, load_test(time) + noise(time.size)))


def test_a_load_test_has_its_stretches_and_steps(report: TraceReport) -> None:
    assert [round(stretch.mean, 1) for stretch in report.stretches] == [61.8, 60.3, 58.8, 61.8]
    assert [stretch.swing.kind for stretch in report.stretches] == ["steady"] * 4
    assert [step.direction for step in report.steps] == ["on", "on", "off"]
    assert [step.time for step in report.steps] == pytest.approx([40.4, 80.3, 120.45], abs=0.25)
    assert [step.ending for step in report.steps] == ["settled"] * 3
    assert report.regulation == pytest.approx(5.0, abs=0.05)


def test_findings_without_loads_say_nothing_of_full_load(report: TraceReport) -> None:
    knowledge = load_knowledge()
    found = dict(offers(report, knowledge.checks, knowledge.features(), {}))
    assert set(found) == {
        "frequency_no_load", "swing_no_load", "load_step_dip", "load_step_recovery", "load_drop_overshoot",
        "load_step_settling",
    }  # fmt: skip
    assert found["frequency_no_load"] == "61.80 Hz"
    assert found["load_step_settling"] == "settles_at_once?"  # two readings a second


def test_findings_with_loads_are_taken_by_a_job(report: TraceReport) -> None:
    knowledge = load_knowledge()
    found = offers(report, knowledge.checks, knowledge.features(), {}, (0, 50, 100, 0))
    assert {"frequency_half_load", "frequency_full_load", "swing_full_load"} <= {check for check, _ in found}
    job = Job(knowledge, {})
    for check, answer in found:
        job.record(check, answer)
    assert len(job.posterior()) > 30


def test_a_swing_is_named_in_the_finding_only_where_it_leaves_the_band() -> None:
    knowledge = load_knowledge()
    time = np.arange(0, 60, 0.1)
    for size, answer in ((1.2, "1.20 Hz slow swing"), (0.3, "0.30 Hz")):
        wave = 61.5 + size / 2 * np.sin(2 * np.pi * time / 2.5) + noise(time.size)
        found = dict(offers(analyse(record(time, wave, 0.01)), knowledge.checks, knowledge.features(), {}, (0,)))
        assert float(found["swing_no_load"].split()[0]) == pytest.approx(size, rel=0.05)
        assert found["swing_no_load"].endswith("slow swing") == answer.endswith("slow swing")


def test_no_load_that_does_not_come_back_to_the_same_place() -> None:
    time = np.arange(0, 200, 0.5)
    hertz = 61.5 - 1.5 * ((time // 40) % 2) + 0.4 * (time > 120)
    knowledge = load_knowledge()
    found = dict(offers(analyse(record(time, hertz)), knowledge.checks, knowledge.features(), {}, (0, 50, 0, 50, 0)))
    assert float(found["no_load_repeatability"].split()[0]) == pytest.approx(0.4, abs=0.02)


@pytest.mark.parametrize("rate", [2, 10])
@pytest.mark.parametrize("period", [2.4, 4.0, 9.3, 14.0])
def test_a_rhythm_is_one_stretch_and_no_row_of_steps(rate: int, period: float) -> None:
    time = np.arange(0, 200, 1 / rate)
    found = analyse(record(time, 61 + 0.8 * np.sin(2 * np.pi * time / period) + noise(time.size)))
    assert found.steps == ()
    (stretch,) = found.stretches
    if rate == 2:  # too slow to tell it from a jiggle
        assert (stretch.swing.kind, stretch.swing.size, stretch.swing.period) == ("swinging", None, None)
        return
    assert stretch.swing.kind == "slow_swing"
    assert stretch.swing.size == pytest.approx(1.6, rel=0.05)
    assert stretch.swing.period == pytest.approx(period, rel=0.02)


@pytest.mark.parametrize("beat", [1.6, 1.7, 1.85, 2.15, 2.3])
@pytest.mark.parametrize("wavering", [0.0, 0.03])
def test_a_log_too_slow_for_a_jiggle_leaves_slow_or_fast_open(beat: float, wavering: float) -> None:
    rng = np.random.default_rng(31)
    time = np.arange(0, 60, 0.5) + wavering * rng.normal(size=120)
    time = time - time[0]
    found = analyse(record(time, 61.5 + 0.6 * np.sin(2 * np.pi * beat * time) + noise(time.size)))
    swing = found.stretches[0].swing
    assert (swing.kind, swing.size, swing.period) == ("swinging", None, None)
    assert any(abs(other - beat) < 0.02 for other in swing.could_be)
    knowledge = load_knowledge()
    answer = dict(offers(found, knowledge.checks, knowledge.features(), {}, (0,)))["swing_no_load"]
    read = read_answer(knowledge.checks["swing_no_load"], answer, knowledge.features())
    assert {"slow_swing", "fast_jiggle"} <= set(read.outcomes)


def test_a_slow_log_calls_nothing_steady_for_sure() -> None:
    knowledge = load_knowledge()
    for interval, mark in ((0.5, True), (0.1, False)):
        time = np.arange(0, 60, interval)
        found = analyse(record(time, 61.5 + noise(time.size)))
        answer = dict(offers(found, knowledge.checks, knowledge.features(), {}, (0,)))["swing_no_load"]
        assert answer.endswith("?") == mark


@pytest.mark.parametrize("size", [0.4, 0.5, 0.6])
def test_a_swing_as_wide_as_the_band_is_not_erratic(size: float) -> None:
    time = np.arange(0, 60, 0.1)
    for seed in range(10):
        wave = 61 + size / 2 * np.sin(2 * np.pi * 0.4 * time + seed) + noise(time.size, 0.03, seed)
        assert judge(time, wave, 0.1, 0.0, 0.498).kind == "slow_swing"


def test_a_beat_at_half_the_rate_of_the_readings_is_not_erratic() -> None:
    time = np.arange(0, 60, 1.0)
    for seed in range(10):
        wave = 61 + 0.6 * np.cos(np.pi * time) + noise(time.size, 0.02, seed)
        assert judge(time, np.round(wave, 1), 1.0, 0.1, 0.498).kind == "swinging"


@pytest.mark.parametrize("lost", [0.2, 0.4])
def test_lost_readings_do_not_shrink_a_swing(lost: float) -> None:
    time = np.arange(0, 60, 0.1)
    for seed in range(5):
        kept = np.random.default_rng(seed).uniform(size=time.size) >= lost
        wave = 61 + 0.6 * np.sin(2 * np.pi * 1.7 * time + seed) + noise(time.size, 0.02, seed)
        swing = judge(time[kept], wave[kept], 0.1, 0.0, 0.498)
        assert swing.size == pytest.approx(1.2, rel=0.02)


def test_jiggle_erratic_and_drift_are_not_hunting() -> None:
    time = np.arange(0, 60, 0.1)
    assert analyse(record(time, 61 + 0.4 * np.sin(2 * np.pi * 3.3 * time))).stretches[0].swing.kind == "fast_jiggle"
    assert analyse(record(time, 61 + noise(time.size, 0.4))).stretches[0].swing.kind == "erratic"
    drift = analyse(record(time, 61 + 0.005 * time + noise(time.size)))
    assert (drift.steps, drift.stretches[0].swing.kind) == ((), "steady")


def test_a_hunt_that_begins_with_the_load_is_no_recovery() -> None:
    time = np.arange(0, 160, 0.1)
    hunt = 0.8 * np.sin(2 * np.pi * (time - 80.2) / 3) * (time > 80.2)
    found = analyse(record(time, 61.8 - 1.8 * response(time - 80.2, 0.4, 3) + hunt + noise(time.size)))
    assert [stretch.swing.kind for stretch in found.stretches] == ["steady", "slow_swing"]
    assert found.steps[0].ending == "swings on"
    assert found.steps[0].transient.recovery is None
    knowledge = load_knowledge()
    assert dict(offers(found, knowledge.checks, knowledge.features(), {}))["load_step_settling"] == "keeps_swinging"


def test_a_dip_that_leaves_no_change_of_level_is_a_step() -> None:
    time = np.arange(0, 120, 0.5)
    since = np.maximum(time - 50.2, 0)
    found = analyse(record(time, 60 - 6 * since * np.exp(-1.2 * since) + noise(time.size)))
    (step,) = found.steps
    assert (step.direction, step.ending) == ("on", "settled")
    assert step.transient.depth == pytest.approx(6 / 1.2 / np.e, rel=0.05)


def test_a_deep_dip_with_a_slow_recovery_is_one_step() -> None:
    time = np.arange(0, 160, 0.5)
    since = np.maximum(time - 60.2, 0)
    hertz = 61.8 - 1.5 * (since > 0) - 5 * since / 3 * np.exp(1 - since / 3)
    (step,) = analyse(record(time, hertz + noise(time.size))).steps
    assert step.transient.depth == pytest.approx(5.0, rel=0.05)
    assert step.transient.recovery is not None
    assert step.transient.recovery > 10


def test_gaps_end_a_stretch_and_leave_no_step() -> None:
    time = np.concatenate([np.arange(0, 40, 0.5), np.arange(100, 140, 0.5)])
    found = analyse(record(time, np.where(time < 50, 61.5, 60.0) + noise(time.size)))
    assert len(found.stretches) == 2
    assert found.steps == ()


def test_a_slow_meter_says_what_it_cannot_show() -> None:
    time = np.arange(0, 400, 2.0)
    assert "swings faster than one in 4 s" in analyse(record(time, 61 + noise(time.size))).remarks[0]


def test_too_short_to_judge() -> None:
    time = np.arange(0, 4, 0.4)
    with pytest.raises(TraceError, match=r"lasts 3\.6 s; expected at least 5 s"):
        analyse(record(time, 60 + noise(time.size)))


def test_the_band_of_a_short_time() -> None:
    time = np.arange(0, 90, 1.0)
    hertz = np.where(time == 40, 61.0, np.where(time == 70, 59.5, 60.0))
    assert short_term_band(time, hertz) == 1.0  # no 30 s hold both


def test_a_constant_record_is_steady() -> None:
    time = np.arange(0, 60, 0.5)
    swing = judge(time, np.full(time.size, 60.0), 0.5, 0.0, 0.5)
    assert (swing.kind, swing.band, swing.size) == ("steady", 0.0, None)


def test_dip_and_recovery_from_a_slow_gate_state_a_doubt_that_holds_the_truth() -> None:
    fine = np.arange(0, 70, 0.01)
    for seed, period in enumerate((1.2, 2.0, 3.5)):
        true = 61.8 - 2.5 * response(fine - 30.1 - 0.13 * seed, 0.25, period)
        sums = np.concatenate([[0.0], np.cumsum(true)])
        last = np.arange(50, 6900, 50)
        gated = (sums[last] - sums[last - 50]) / 50
        (step,) = analyse(record(last / 100, gated + noise(last.size, 0.02, seed))).steps
        way = step.transient
        assert way.recovery is not None
        assert abs(way.depth - (59.3 - float(true.min()))) <= way.depth_within
        leaves = fine[np.flatnonzero(np.abs(true - 61.8) > 0.249)[0]]
        assert abs(way.recovery - float(fine[np.flatnonzero(np.abs(true - 59.3) > 0.249)[-1]] - leaves)) <= way.within


def test_a_doubt_across_a_limit_reaches_the_job_as_unsure() -> None:
    knowledge = load_knowledge()
    time = np.arange(0, 90, 0.5)
    found = analyse(record(time, 61.8 - 2.0 * response(time - 40.2, 0.3, 2.0) + noise(time.size)))
    answers = dict(offers(found, knowledge.checks, knowledge.features(), {}))
    check = knowledge.checks["load_step_dip"]
    way = found.steps[0].transient
    ends = {
        read_answer(check, f"{max(0.0, way.depth + sign * way.depth_within):.2f} Hz", knowledge.features()).outcomes
        for sign in (-1, 1)
    }
    assert answers["load_step_dip"].endswith("?") == (len(ends) > 1)
    assert offers(found, knowledge.checks, knowledge.features(), {}, (), "open") == ()
    unsure = offers(found, knowledge.checks, knowledge.features(), {}, (), "unsure")
    assert all(answer.endswith("?") for _, answer in unsure)
