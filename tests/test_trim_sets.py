"""The coach on mis-set simulated sets, manufacturing scatter included and slopes unknown to it, beside one at a time.

The whole sample of 500 is printed by `python -m tests.benchmarks.trimming`; here a smaller one of other seeds.
"""

from __future__ import annotations

from functools import lru_cache

import pytest

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.trim.coach import Coach, goal_of, pair_of
from hertzwright.engine.trim.trial import Trial

from trimsets import CLOSE, PAIR, TUNED, TrimSet, coached, one_at_a_time, summary, trim_sets

SEED = 404
SIZES = pytest.mark.parametrize("count", [6, pytest.param(40, marks=pytest.mark.nightly)])


@lru_cache(maxsize=2)
def sample(count: int) -> tuple[Knowledge, tuple[TrimSet, ...]]:
    knowledge = load_knowledge()
    return knowledge, tuple(trim_sets(knowledge, count, SEED))


@SIZES
def test_the_sample_is_mis_set(count: int) -> None:
    knowledge, sets = sample(count)
    features = knowledge.features({})
    goal = goal_of(knowledge, pair_of(knowledge, PAIR, features), features)
    found = [each.read((0.0, 0.0), 0) for each in sets]
    assert sum(trial.hunts or not goal.holds(trial.values) for trial in found) > 0.6 * count
    assert sum(bool(trial.hunts) for trial in found) >= 1
    assert {each.booster for each in sets} == {"vacuum", "none"}


@SIZES
@pytest.mark.parametrize(("close", "mean"), [(None, 2.5), pytest.param(CLOSE, 3.0, marks=pytest.mark.nightly)])
def test_the_coach_keeps_its_bounds_and_beats_one_at_a_time(close: float | None, mean: float, count: int) -> None:
    knowledge, sets = sample(count)
    plays, ends = coached(knowledge, sets, close)
    assert set(ends) == {"done"}
    coach = summary(plays, close)
    assert coach.mean <= mean
    assert coach.worst <= 6
    assert coach.walked <= 1
    other = summary([one_at_a_time(knowledge, each, TUNED[close], close) for each in sets], close)
    assert coach.mean < other.mean
    assert coach.worst < other.worst


@SIZES
def test_sound_sets_raise_few_false_alarms_and_dead_adjusters_are_noticed(count: int) -> None:
    """The same trials twice: as they are, and on a set whose speed adjuster does nothing."""
    knowledge, sets = sample(count)
    alarms = surprises = dead = asked = 0
    for each in sets:
        features = knowledge.features({"booster": each.booster})
        pair = pair_of(knowledge, PAIR, features)
        fresh = Coach.begin(knowledge, pair, features, goal_of(knowledge, pair, features))
        coach = fresh
        places = ((0.0, 0.0), (-1.5, 0.0), (-1.5, -2.0), (0.0, 0.0))
        for number, place in enumerate(places):
            coach = coach.after(each.read(place, number))
            surprises += coach.puzzled
        alarms += bool(coach.findings)
        first, second = (each.read((0.0, 0.0), look) for look in (0, 1))
        if not first.hunts and not second.hunts:
            asked += 1
            stuck = fresh.after(first).after(Trial((-2.0, 0.0), second.values, False))
            dead += any(finding.answer == "no_response" for finding in stuck.findings)
    assert alarms <= 0.05 * count
    assert surprises <= 0.1 * count
    assert asked > 0.5 * count
    assert dead == asked
