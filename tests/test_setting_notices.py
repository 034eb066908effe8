"""Whether the course of setting can notice a fault at all: each has a reading that comes out other than for a sound set.

Purpose: no cause passes the course by; and what only the first minutes or an open plug hole show is read there.
Law: the simulated set, which reads nothing of the knowledge's strengths, is asked every reading of the course. Readings
that a step takes for fine are not counted.
Not here: whether the belief then finds the fault (see `tests.benchmarks.setting`).
"""

from __future__ import annotations

import pytest

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.readings import read_answer
from hertzwright.engine.setting import Course, course_of
from hertzwright.engine.simulated.bench import CHECKS, Bench
from hertzwright.engine.simulated.faults import FAULTS

MODERATE = 0.5


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def _not_right(knowledge: Knowledge, course: Course, bench: Bench) -> set[str]:
    """Readings of the course that come out other than right on a set."""
    bands = knowledge.catalogue.tolerances["default"].bands
    found = set()
    for name, step in course.steps.items():
        for check in course.read(name):
            answer = bench.answer(check) if check in CHECKS else "unknown"
            if answer == "unknown":
                continue
            known = knowledge.checks[check]
            outcomes = set(read_answer(known, answer, course.features, bands.get(check)).outcomes)
            fine = {known.normal, *knowledge.catalogue.costs.also_fine.get(check, ()), *step.fine.get(check, ())}
            if outcomes and not outcomes <= fine:
                found.add(check)
    return found


def _unnoticed(knowledge: Knowledge, given: dict[str, str], causes: list[str]) -> list[str]:
    features = knowledge.features(given)
    course = course_of(knowledge, features)
    sound = _not_right(knowledge, course, Bench(features))
    return [
        cause
        for cause in causes
        if knowledge.causes[cause].fault
        and knowledge.prior(cause, features) > 0.0
        and not _not_right(knowledge, course, Bench(features, ((cause, MODERATE),), seed=7)) - sound
    ]


@pytest.mark.parametrize("choke", ["electric", "thermostatic"])
def test_a_choke_that_opens_late_and_carbon_are_seen_where_it_costs_least(knowledge: Knowledge, choke: str) -> None:
    seen = _unnoticed(knowledge, {"choke": choke}, ["choke_slow_opening", "carbon_in_cylinders", "choke_stuck_open"])
    assert not seen


@pytest.mark.nightly
def test_no_moderate_fault_passes_the_course_by(knowledge: Knowledge) -> None:
    assert not _unnoticed(knowledge, {}, [cause for cause in knowledge.causes if cause in FAULTS])


def test_the_words_too_say_that_every_fault_can_be_noticed(knowledge: Knowledge) -> None:
    """By the knowledge's own strengths: the chance that some reading is not right, `fine` answers left out, is at least
    two in three for every fault of a usual set."""
    features = knowledge.features({})
    course = course_of(knowledge, features)
    shows = knowledge.network.shows
    weak = {}
    for cause, known in knowledge.causes.items():
        if not known.fault or knowledge.prior(cause, features) <= 0.0:
            continue
        passes = 1.0
        for check in {check for name in course.steps for check in course.read(name)}:
            order = list(knowledge.checks[check].outcomes)
            fine = {check_fine for step in course.steps.values() for check_fine in step.fine.get(check, ())}
            chances = shows[check].get(cause)
            if chances is not None:
                passes *= sum(
                    chance for outcome, chance in zip(order, chances, strict=True)
                    if outcome == order[0] or outcome in fine
                )  # fmt: skip
        if passes > 1.0 / 3.0:
            weak[cause] = passes
    assert not weak


def test_volts_are_seen_before_the_fall_is_set(knowledge: Knowledge) -> None:
    """A regulator or slip rings that fail swing the load: seen only in the proof, the fall was set over and over."""
    course = course_of(knowledge, knowledge.features({}))
    assert "voltage_seen_steady" in course.before["fall_set"]
