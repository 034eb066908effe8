"""Sets that are called out, jobs played on them, and many at once."""

from __future__ import annotations

import math
import os
import pickle
import statistics
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from itertools import islice
from multiprocessing import get_context
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.rehearsal.interval import half_width, ratio
from hertzwright.engine.rehearsal.many_jobs import (
    confused,
    ends,
    missed,
    never_chosen,
    one_job,
    rehearse,
    spread,
)
from hertzwright.engine.rehearsal.played_job import (
    CAME_BACK,
    FIXED,
    REFERRED,
    Played,
    PlayedStep,
    by_suggestions,
    from_the_top,
    least_minutes,
    play,
)
from hertzwright.engine.rehearsal.virtual_set import BenchSet, DrawnSet, bench_sets, drawn_sets, quantile
from hertzwright.engine.simulated.bench import Bench

pytestmark = pytest.mark.whole_ways


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


# ---- sets


@given(st.lists(st.floats(0.01, 1.0), min_size=1, max_size=5), st.floats(0.0, 0.999999))
def test_a_quantile_takes_each_outcome_as_often_as_it_is_probable(weights: list[float], draw: float) -> None:
    total = math.fsum(weights)
    distribution = [weight / total for weight in weights]
    place = quantile(distribution, draw)
    assert math.fsum(distribution[:place]) <= draw + 1e-9
    assert draw <= math.fsum(distribution[: place + 1]) + 1e-9


def test_a_drawn_set_shows_what_the_knowledge_says_it_would(knowledge: Knowledge) -> None:
    """Counts over 2,000 sets against `Knowledge.likelihood`, within four standard errors."""
    faults = frozenset({"throttle_rod_long", "linkage_worn"})
    for check in ("frequency_no_load", "linkage_feel"):
        seen = Counter(DrawnSet(knowledge, {}, faults, f"set {n}").answer(check) for n in range(2000))
        for outcome in knowledge.checks[check].outcomes:
            expected = knowledge.likelihood(check, outcome.id, faults)
            error = math.sqrt(max(expected * (1.0 - expected), 1e-4) / 2000)
            assert abs(seen[outcome.id] / 2000 - expected) < 4.0 * error, (check, outcome.id)


def test_what_a_set_shows_does_not_depend_on_the_way_there(knowledge: Knowledge) -> None:
    faults = frozenset({"sensitivity_sharp"})
    one, other = (DrawnSet(knowledge, {}, faults, "a set") for _ in range(2))
    for check in ("linkage_feel", "spring_look", "frequency_no_load"):
        one.answer(check)
    assert [one.answer("swing_no_load"), one.answer("swing_half_load")] == list(
        reversed([other.answer("swing_half_load"), other.answer("swing_no_load")])
    )


def test_a_cause_is_cured_as_often_as_the_remedy_says(knowledge: Knowledge) -> None:
    cured = 0
    for number in range(2000):
        called = DrawnSet(knowledge, {}, frozenset({"throttle_rod_long"}), f"set {number}")
        called.treat("set_rod_length")
        cured += not called.faults
    chance = knowledge.remedies["set_rod_length"].cures["throttle_rod_long"]
    assert abs(cured / 2000 - chance) < 4.0 * math.sqrt(chance * (1.0 - chance) / 2000)


@pytest.mark.parametrize("make", [drawn_sets, bench_sets])
def test_a_set_that_is_called_out_has_a_fault_and_a_complaint(make: Callable[..., Any], knowledge: Knowledge) -> None:
    for called in islice(make(knowledge, 7), 8):
        assert called.faults
        assert called.complaint in knowledge.complaints


def test_a_simulated_set_complains_only_of_what_it_shows(knowledge: Knowledge) -> None:
    for called in islice(bench_sets(knowledge, 3), 4):
        fresh = BenchSet(knowledge, called.bench, called.complaint)
        assert fresh.shows(called.complaint)
        assert not fresh.prove()


def test_a_sound_simulated_set_passes_its_proof_run(knowledge: Knowledge) -> None:
    for booster in ("vacuum", "none"):
        for seed in range(3):
            assert BenchSet(knowledge, Bench(knowledge.features({"booster": booster}), seed=seed)).prove()


# ---- one job


@pytest.mark.parametrize("sets", [1, pytest.param(6, marks=pytest.mark.nightly)])
def test_a_job_ends_fixed_handed_over_or_comes_back_and_is_charged_for_it(knowledge: Knowledge, sets: int) -> None:
    costs = knowledge.catalogue.costs
    for called in islice(drawn_sets(knowledge, 2), sets):
        played = play(knowledge, called, by_suggestions())
        assert played.faults
        assert (played.end == FIXED) == (not played.left and played.moves[-1].kind == "done")
        charged = {FIXED: 0.0, REFERRED: costs.refer, CAME_BACK: costs.come_back}[played.end]
        assert played.minutes == pytest.approx(played.moves[-1].minutes + charged)
        assert [move.minutes for move in played.moves] == sorted(move.minutes for move in played.moves)
        assert played.minutes >= least_minutes(knowledge, frozenset(played.faults)) - 1e-9


def test_from_the_top_goes_through_the_stages_in_order(knowledge: Knowledge) -> None:
    stages = list(knowledge.catalogue.from_the_top)
    called = DrawnSet(knowledge, {}, frozenset({"low_compression"}), "a set", "lacks_full_power")
    played = play(knowledge, called, from_the_top)
    made = [move.id for move in played.moves if move.kind == "check"]
    assert made == [stage for stage in stages if stage in made]
    remedies = [move.id for move in played.moves if move.kind == "remedy"]
    assert len(remedies) == len(set(remedies))


def test_the_bound_is_the_cheapest_way_of_one_who_knows(knowledge: Knowledge) -> None:
    """Worked by hand from the files: stopped cold, one remedy at its state, the proof run."""
    costs = knowledge.catalogue.costs
    remedy = knowledge.remedies["set_rod_length"]
    assert (costs.start_state, remedy.state) == ("stopped_cold", "stopped")
    by_hand = remedy.minutes + costs.moves["stopped_cold", costs.proof_state] + costs.proof
    assert least_minutes(knowledge, frozenset({"throttle_rod_long"})) == pytest.approx(min(by_hand, costs.refer))
    both = least_minutes(knowledge, frozenset({"throttle_rod_long", "linkage_binding"}))
    alone = least_minutes(knowledge, frozenset({"linkage_binding"}))
    assert both > alone
    many = frozenset(cause for cause in knowledge.causes if cause.startswith(("governor", "flyweights")))
    assert least_minutes(knowledge, many) <= costs.refer


# ---- many jobs


class Here(Executor):
    """The least executor: works at once, last task first in the eyes of whoever waits."""

    def submit(self, task: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:  # type: ignore[override]
        future: Future[Any] = Future()
        future.set_result(task(*given, **named))
        return future


def test_an_executor_gives_the_same_jobs(knowledge: Knowledge) -> None:
    alone = rehearse(knowledge, 2, published=False, seed=6)
    assert rehearse(knowledge, 2, published=False, seed=6, executor=Here()) == alone
    assert rehearse(knowledge, 1, published=False, seed=9) != alone[:1]


@pytest.mark.nightly
def test_any_executor_gives_the_same_jobs(knowledge: Knowledge) -> None:
    alone = rehearse(knowledge, 7, published=False, seed=4)
    assert [pair.number for pair in alone] == list(range(7))
    assert rehearse(knowledge, 7, published=False, seed=4, executor=Here()) == alone
    with ThreadPoolExecutor(2) as threads:
        assert rehearse(knowledge, 7, published=False, seed=4, executor=threads) == alone
    with ProcessPoolExecutor(2, get_context("spawn")) as processes:
        counts: list[int] = []
        assert rehearse(knowledge, 7, published=False, seed=4, executor=processes, done=counts.append) == alone
    assert sorted(counts) == counts
    assert counts[-1] == 7
    assert rehearse(knowledge, 3, published=False, seed=5) != alone[:3]


@pytest.mark.nightly  # of a chart and of a drill the quick tier says the same
def test_a_job_is_the_same_in_another_process_with_another_hash_seed(knowledge: Knowledge) -> None:
    code = (
        "from hertzwright.engine import load_knowledge; from hertzwright.engine.rehearsal.many_jobs import one_job; "
        "print(repr([one_job(load_knowledge(), world, 9, 0) for world in ('knowledge', 'bench')]))"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    here = [one_job(knowledge, world, 9, 0) for world in ("knowledge", "bench")]
    assert told == {repr(here) + "\n"}


def test_knowledge_can_be_sent_to_another_process(knowledge: Knowledge) -> None:
    sent = pickle.loads(pickle.dumps(knowledge))
    assert sent.fingerprint == knowledge.fingerprint
    assert sent.network == knowledge.network
    assert sent.catalogue == knowledge.catalogue


def test_an_unknown_world_is_refused(knowledge: Knowledge) -> None:
    with pytest.raises(ValueError, match="moon"):
        one_job(knowledge, "moon", 1, 0)


# ---- figures


def test_the_interval_of_a_mean_is_that_of_scipy() -> None:
    stats = pytest.importorskip("scipy.stats")
    values = [12.0, 55.0, 31.0, 240.0, 18.0, 77.0]
    found = spread(values)
    low, high = stats.t.interval(0.95, len(values) - 1, statistics.mean(values), stats.sem(values))
    assert found.half_width is not None
    assert found.mean - found.half_width == pytest.approx(low, rel=1e-3)
    assert found.mean + found.half_width == pytest.approx(high, rel=1e-3)
    assert found.median == statistics.median(values)
    assert found.most == 240.0
    assert half_width(values[:4]) is None
    assert ratio(values[:4], values[:4]) == (1.0, None)


def test_the_interval_of_a_ratio_holds_the_truth_as_often_as_it_says() -> None:
    """1,500 samples of 80 pairs with a true ratio of one half: the 95 % interval holds it in 92 to 98 %."""
    numpy = pytest.importorskip("numpy")
    draw = numpy.random.default_rng(5)
    held = 0
    for _ in range(1500):
        second = draw.gamma(2.0, 100.0, 80)
        first = 0.5 * second * draw.gamma(4.0, 0.25, 80)
        value, half = ratio(list(first), list(second))
        held += half is not None and abs(value - 0.5) <= half
    assert 0.92 <= held / 1500 <= 0.98


def job(faults: tuple[str, ...], left: tuple[str, ...], end: str, *moves: PlayedStep) -> Played:
    return Played("hunts_no_load", faults, left, end, 10.0, moves)


def test_what_is_missed_confused_and_never_chosen_is_counted(knowledge: Knowledge) -> None:
    wrong = PlayedStep("remedy", "set_sensitivity", "not cured", 5.0, "sensitivity_sharp")
    played = [
        job(("linkage_worn",), ("linkage_worn",), REFERRED, PlayedStep("check", "linkage_feel", "free", 1.0), wrong),
        job(("linkage_worn", "speed_set_low"), ("linkage_worn",), CAME_BACK, wrong),
        job(("linkage_worn",), (), FIXED),
    ]
    assert ends(played) == {FIXED: 1, REFERRED: 1, CAME_BACK: 1}
    assert missed(played) == [("linkage_worn", 2, 3)]
    assert confused(played) == [("linkage_worn", "sensitivity_sharp", 2), ("speed_set_low", "sensitivity_sharp", 1)]
    assert set(never_chosen(knowledge, played)) == set(knowledge.checks) - {"linkage_feel"}
