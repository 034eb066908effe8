"""Exact elimination: hand-worked numbers, and equality with enumeration on random networks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import prod

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hertzwright.engine.belief.clue import Clue, Matrix
from hertzwright.engine.belief.elimination import fold, solve
from hertzwright.engine.belief.elimination_order import order_of
from hertzwright.engine.belief.evidence import tables

from brute import enumerate_sets, marginals
from strategies import Story, stories

EXACT = 1e-9


def matrix_of(rows: Sequence[Sequence[float]]) -> Matrix:
    """A matrix from all its weights, `rows[t][s]`."""
    return tuple(tuple((source, weight) for source, weight in enumerate(row) if weight) for row in rows)


PULLS = matrix_of(((0.2, 0.0), (0.8, 1.0)))


def now(story: Story) -> tuple[float, dict[str, float]]:
    """P(evidence) and P(cause is there now) by the engine."""
    found = tables(story.network, story.priors, story.findings, story.reports, story.remedies, again=story.again)
    solution = solve(found.weights, found.clues)
    present: dict[str, float] = {}
    for states, values in zip(found.lives, solution.marginals, strict=True):
        for life, value in zip(states, values, strict=True):
            if life.cause is not None and life.last == found.now:
                present[life.cause] = present.get(life.cause, 0.0) + value
    return solution.total, present


def test_one_cause_and_one_abnormal_finding_is_bayes_by_hand() -> None:
    # Prior 0.1, shows 0.8, leak 0.05: seen with the cause 0.81, without it 0.05.
    clue = Clue((0.95, 0.05), (0.0, 1.0), {(0, 1): matrix_of(((0.2, 0.0), (0.8, 1.0)))})
    solution = solve([[0.9, 0.1]], [clue])
    assert solution.total == pytest.approx(0.1 * 0.81 + 0.9 * 0.05, abs=1e-15)
    assert solution.marginals[0][1] == pytest.approx(0.081 / 0.126, abs=1e-15)


def test_a_cause_that_explains_makes_its_rival_less_probable() -> None:
    both = Clue((1.0, 0.0), (0.0, 1.0), {(0, 1): PULLS, (1, 1): PULLS})
    own = Clue((1.0, 0.0), (0.0, 1.0), {(0, 1): matrix_of(((0.1, 0.0), (0.9, 1.0)))})
    weights = [[0.9, 0.1], [0.9, 0.1]]
    before = solve(weights, [both]).marginals[1][1]
    after = solve(weights, [both, own]).marginals[1][1]
    # With cause 0 certain: P(1 | both shown) = 0.1 * 0.96 / (0.1 * 0.96 + 0.9 * 0.8).
    assert after == pytest.approx(0.096 / (0.096 + 0.72), abs=1e-15)
    assert after < before


def test_no_findings_leave_the_priors() -> None:
    solution = solve([[0.7, 0.2, 0.1], [0.99, 0.01]], [])
    assert solution.total == pytest.approx(1.0)
    assert solution.marginals[0] == pytest.approx((0.7, 0.2, 0.1))
    assert solution.marginals[1] == pytest.approx((0.99, 0.01))


def test_impossible_evidence_has_no_probability_and_no_nan() -> None:
    clue = Clue((1.0, 0.0), (0.0, 1.0), {})
    solution = solve([[0.9, 0.1]], [clue])
    assert solution.total == 0.0
    assert solution.marginals == ((0.0, 0.0),)


def test_twelve_abnormal_findings_lose_no_digit() -> None:
    # One cause shared by twelve findings, each with a rival of its own: conditional on the shared cause they fall apart.
    count, shared, rival, strength, leak = 12, 0.001, 0.3, 0.25, 1e-6
    matrix = matrix_of(((1 - strength, 0.0), (strength, 1.0)))
    clues = [Clue((1 - leak, leak), (0.0, 1.0), {(0, 1): matrix, (place + 1, 1): matrix}) for place in range(count)]
    weights = [[1 - shared, shared]] + [[1 - rival, rival]] * count
    quiet = (1 - leak) * (1 - rival * strength)
    without, with_it = (1 - quiet) ** count, (1 - quiet * (1 - strength)) ** count
    expected = shared * with_it / (shared * with_it + (1 - shared) * without)
    solution = solve(weights, clues)
    assert solution.marginals[0][1] == pytest.approx(expected, rel=1e-12)
    assert solution.total == pytest.approx(shared * with_it + (1 - shared) * without, rel=1e-12)


@given(st.lists(st.lists(st.floats(0.01, 1.0), min_size=2, max_size=3), min_size=1, max_size=4))
def test_folding_keeps_the_probability_of_the_evidence(weights: list[list[float]]) -> None:
    clues = [
        Clue((0.9,), (1.0,), {(0, 1): matrix_of(((0.3,),))}),
        Clue((0.8,), (0.5,), {(len(weights) - 1, 1): matrix_of(((0.6,),))}),
    ]
    folded, left = fold(weights, clues)
    assert not left
    solution = solve(weights, clues)
    assert solution.total == pytest.approx(prod(sum(states) for states in folded), rel=1e-12)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(stories())
def test_posteriors_equal_enumeration(story: Story) -> None:
    if not any(story.priors.values()):
        return
    total, present = now(story)
    exact, sets = enumerate_sets(
        story.network, story.priors, story.findings, story.reports, story.remedies, story.again
    )
    assert total == pytest.approx(exact, abs=1e-12, rel=EXACT)
    if exact < 1e-12:
        return
    expected = marginals(sets)
    for cause, value in present.items():
        assert value == pytest.approx(expected.get(cause, 0.0), abs=EXACT), cause


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(stories(most_parts=4, most_checks=6, most_findings=6, most_reports=0, most_remedies=0))
def test_posteriors_equal_enumeration_on_wider_networks(story: Story) -> None:
    if not any(story.priors.values()):
        return
    total, present = now(story)
    exact, sets = enumerate_sets(story.network, story.priors, story.findings)
    assert total == pytest.approx(exact, abs=1e-12, rel=EXACT)
    if exact >= 1e-12:
        expected = marginals(sets)
        assert present == pytest.approx({cause: expected.get(cause, 0.0) for cause in present}, abs=EXACT)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(stories())
def test_the_order_of_the_findings_changes_nothing(story: Story) -> None:
    if not any(story.priors.values()):
        return
    turned = replace(story, findings=story.findings[::-1], reports=story.reports[::-1])
    total, present = now(story)
    other, same = now(turned)
    assert other == pytest.approx(total, rel=EXACT, abs=1e-15)
    if total > 1e-12:
        assert same == pytest.approx(present, abs=EXACT)


def chain_of(count: int) -> list[Clue]:
    """Clues in a row, each sharing one part with the next."""
    matrix = matrix_of(((0.2, 0.0), (0.8, 1.0)))
    return [Clue((0.95, 0.05), (0.0, 1.0), {(place, 1): matrix, (place + 1, 1): matrix}) for place in range(count)]


def test_the_width_is_that_of_the_clues_open_together_and_not_of_all() -> None:
    # Clues in a row: at any part two are open. The same part in all of them: all are.
    assert order_of(chain_of(30)).widest() == (4, (0, 1))
    matrix = matrix_of(((0.2, 0.0), (0.8, 1.0)))
    together = [Clue((0.9, 0.1), (0.0, 1.0), {(0, 1): matrix, (n + 1, 1): matrix}) for n in range(5)]
    assert order_of([Clue((0.9,), (1.0,), {}), *together]).widest() == (32, (1, 2, 3, 4, 5))
    assert order_of([]).widest() == (1, ())


def test_thirty_clues_in_a_row_equal_the_forward_recursion_by_hand() -> None:
    count, prior = 30, 0.1
    # By hand: mass[s] is the probability so far with the last part in state s; a clue is seen unless both stay silent.
    mass = [1.0 - prior, prior]
    for _ in range(count):
        seen = [[1.0 - 0.95 * 0.2 ** (one + other) for other in (0, 1)] for one in (0, 1)]
        mass = [
            (prior if other else 1.0 - prior) * sum(mass[one] * seen[one][other] for one in (0, 1)) for other in (0, 1)
        ]
    solution = solve([[1.0 - prior, prior]] * (count + 1), chain_of(count))
    assert solution.total == pytest.approx(sum(mass), rel=1e-12)
    assert solution.marginals[count][1] == pytest.approx(mass[1] / sum(mass), rel=1e-12)
