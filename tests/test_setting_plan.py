"""The way through setting: the course of every set is a partial order, and its order moves the set least."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping, Sequence

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.setting import Task, cheapest, course_of, in_order, moves_of, progress, tasks

KNOWLEDGE = load_knowledge()
COSTS = KNOWLEDGE.catalogue.costs
CHOICES = {name: feature.choices for name, feature in KNOWLEDGE.catalogue.features.items() if feature.choices}

any_set = st.fixed_dictionaries({name: st.sampled_from(choices) for name, choices in sorted(CHOICES.items())})


def left_of(job: Job) -> tuple[tuple[Task, ...], Mapping[int, tuple[int, ...]]]:
    course = course_of(KNOWLEDGE, job.features)
    return tasks(job, course, progress(job, course))


@settings(max_examples=40, deadline=None)
@given(any_set)
def test_every_set_has_a_course_whose_steps_can_all_be_reached(features: dict[str, str]) -> None:
    job = Job(KNOWLEDGE, features)
    job.begin_setting()
    course = course_of(KNOWLEDGE, job.features)
    graph = nx.DiGraph((need, name) for name, needs in course.needs.items() for need in needs)
    assert nx.is_directed_acyclic_graph(graph)
    assert set(graph) <= set(course.steps)
    # networkx says the same of what comes before a step as the course.
    assert all(nx.ancestors(graph, name) == set(course.before[name]) for name in graph)
    left, after = left_of(job)
    assert {task.step for task in left} == set(course.steps)
    way = cheapest(COSTS, job.here, left, after)
    assert sorted(map(repr, way.tasks)) == sorted(map(repr, left))
    assert way.moves == pytest.approx(moves_of(COSTS, job.here, way.tasks))
    assert way.moves <= in_order(COSTS, job.here, left, after).moves + 1e-9
    place = {(task.step, task.name): at for at, task in enumerate(way.tasks)}
    for at, befores in after.items():
        for before in befores:
            one, other = left[before], left[at]
            assert place[one.step, one.name] < place[other.step, other.name]


def brute(here: str, left: Sequence[Task], after: Mapping[int, Sequence[int]]) -> float:
    """The least moves of any order that is allowed, by trying all of them."""
    best = float("inf")
    for order in itertools.permutations(range(len(left))):
        where = {task: at for at, task in enumerate(order)}
        if all(where[before] < where[at] for at, befores in after.items() for before in befores):
            best = min(best, moves_of(COSTS, here, [left[at] for at in order]))
    return best


@pytest.mark.parametrize("seed", range(40))
def test_the_cheapest_order_is_the_best_of_all_orders(seed: int) -> None:
    draws = random.Random(seed)
    states = list(KNOWLEDGE.catalogue.states)
    left = [Task(f"step{at}", "read", f"check{at}", draws.choice(states), 1.0) for at in range(6)]
    after = {at: tuple(before for before in range(at) if draws.random() < 0.25) for at in range(6)}
    here = draws.choice(states)
    found = cheapest(COSTS, here, left, after)
    assert found.moves == pytest.approx(brute(here, left, after))
    assert found.moves <= in_order(COSTS, here, left, after).moves + 1e-9


def test_a_circle_of_tasks_is_refused() -> None:
    left = [Task("a", "read", "x", "stopped", 1.0), Task("b", "read", "y", "stopped", 1.0)]
    with pytest.raises(ValueError, match="circle"):
        cheapest(COSTS, "stopped", left, {0: (1,), 1: (0,)})


def test_features_take_their_steps_along() -> None:
    def steps(**features: str) -> set[str]:
        return set(course_of(KNOWLEDGE, KNOWLEDGE.features(features)).steps)

    everything = set(KNOWLEDGE.catalogue.setting) - {"overload_held"}
    usual = steps()
    assert {"booster_whole", "booster_at_start", "booster_set"} & steps(booster="none") == set()
    assert {"booster_whole", "booster_at_start", "booster_set"} <= usual
    assert usual - steps(main_jet="fixed") == {"main_needle_at_start", "main_mixture_set"}
    assert usual - steps(choke="manual") == {"choke_closed_cold"}
    assert steps(fuel="lp_gas") - usual == {"gas_pressure_right"}
    assert steps(anti_surge="screw") - usual == {"surge_screw_touches"}
    assert steps(idle_control="fitted") - usual == {"idle_control_clear"}
    assert steps(poles="2", hertz="50", cylinders="1") == usual
    assert usual <= everything
    # What a set has not is bridged: what needed it needs what it needed.
    course = course_of(KNOWLEDGE, KNOWLEDGE.features({"main_jet": "fixed"}))
    assert "idle_mixture_set" in course.before["no_load_speed_set"]
    one = course_of(KNOWLEDGE, KNOWLEDGE.features({"cylinders": "1"}))
    # Shorting out the one cylinder tells nothing; its vacuum and its shake do, with any number of them.
    assert one.checks["engine_runs_on_all"] == ("vacuum_needle", "frame_shake")


def test_overload_is_held_on_request_alone() -> None:
    features = KNOWLEDGE.features({})
    assert "overload_held" not in course_of(KNOWLEDGE, features).steps
    wanted = course_of(KNOWLEDGE, features, ["overload_held"])
    assert "overload_held" in wanted.before["proof_restart"]
    assert KNOWLEDGE.catalogue.setting["overload_held"].dangerous


def test_nobody_waits_for_a_set_to_cool() -> None:
    cold, warm = Job(KNOWLEDGE, {}), Job(KNOWLEDGE, {})
    warm.stands("warm")
    names = [{task.name for task in left_of(job)[0]} for job in (cold, warm)]
    assert "choke_plate_cold" in names[0]
    assert "choke_plate_cold" not in names[1]
