"""Fault sets: equal to enumeration, most probable first, and honest about what they cover."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from hertzwright.engine.belief.elimination import solve
from hertzwright.engine.belief.evidence import tables
from hertzwright.engine.belief.fault_sets import Explanations, explain

from brute import enumerate_sets
from strategies import Story, stories

QUICK = settings(
    max_examples=max(30, settings.default.max_examples // 3),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def explained(story: Story, **options: object) -> tuple[float, Explanations]:
    found = tables(story.network, story.priors, story.findings, story.reports, story.remedies, again=story.again)
    solution = solve(found.weights, found.clues)
    if solution.total <= 0.0:
        return 0.0, Explanations((), 0.0)
    return solution.total, explain(found, solution.marginals, solution.total, **options)  # type: ignore[arg-type]


@QUICK
@given(stories())
def test_all_fault_sets_equal_enumeration(story: Story) -> None:
    if not any(story.priors.values()):
        return
    total, result = explained(story, breadth=99, depth=99, floor=0.0)
    exact, sets = enumerate_sets(
        story.network, story.priors, story.findings, story.reports, story.remedies, story.again
    )
    if exact < 1e-12:
        return
    assert total > 0.0
    assert result.covered == pytest.approx(1.0, abs=1e-9)
    mine = dict(result.sets)
    for present, weight in sets.items():
        assert mine.get(present, 0.0) == pytest.approx(weight, abs=1e-9), sorted(present)
    assert set(mine) <= set(sets)


@QUICK
@given(stories())
def test_fault_sets_of_a_short_search_are_exact_or_too_low_never_too_high(story: Story) -> None:
    if not any(story.priors.values()):
        return
    total, result = explained(story, breadth=2, depth=1, floor=1e-3)
    if total < 1e-12:
        return
    _, sets = enumerate_sets(story.network, story.priors, story.findings, story.reports, story.remedies, story.again)
    for present, weight in result.sets:
        assert weight <= sets[present] + 1e-9
    assert result.covered <= 1.0 + 1e-9
    assert result.covered == pytest.approx(sum(weight for _, weight in result.sets), abs=1e-12)


@QUICK
@given(stories())
def test_sets_come_in_falling_probability_and_the_background_scales_to_one(story: Story) -> None:
    if not any(story.priors.values()):
        return
    for options in ({}, {"absorb": True, "breadth": 2}):
        total, result = explained(story, **options)
        if total < 1e-12:
            return
        weights = [weight for _, weight in result.sets]
        assert weights == sorted(weights, reverse=True)
        assert len({present for present, _ in result.sets}) == len(result.sets)
        if options:
            assert sum(weights) == pytest.approx(1.0, abs=1e-9)
