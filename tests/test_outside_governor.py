"""Governors as textbooks work them, and the simulated set against ways of reckoning that are not its own.

Inputs and printed results are restated, each with its source beside it; `rel` is how closely the print is to be met.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.simulated.equilibrium import (
    air,
    area,
    boost,
    equilibrium,
    excess,
    indicated,
    load_torque,
    losses,
    manifold,
    mixture,
    with_no_load,
)
from hertzwright.engine.simulated.plant import Plant
from hertzwright.engine.simulated.running import DURATION, RunSegment, run
from hertzwright.engine.simulated.sound_set import sound_set

from hartnell import hartnell_load, hartnell_speed


def test_sarkar_illustration_7_hartnell() -> None:
    # Sarkar, Illustration 7, p. 203: 3 kg, arms 120 and 80 mm, 320 rpm at r 0.12 m, 20 kN/m, lift 15 mm; 1217 N, 327.9 rpm.
    load = hartnell_load(3.0, 0.12, 320.0, 0.12, 0.08)
    assert load == pytest.approx(1217.0, rel=0.006)
    lifted = hartnell_speed(load + 20000.0 * 0.015, 3.0, 0.12 + 0.015 * 0.12 / 0.08, 0.12, 0.08)
    assert lifted == pytest.approx(327.9, rel=0.006)


# The simulated set


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def quiet(plant: Plant) -> Plant:
    """The set with nothing left to chance and no drag: what a linear analysis is about."""
    return replace(plant, governor=replace(plant.governor, drag=0.0), engine=replace(plant.engine, scatter=0.0))


@pytest.mark.parametrize("booster", ["vacuum", "none"])
@pytest.mark.parametrize("turns", [-10.0, -5.0, 0.0])
def test_droop_by_simulation_is_droop_by_static_balance(knowledge: Knowledge, booster: str, turns: float) -> None:
    plant = sound_set(knowledge.features({"booster": booster}))
    plant = quiet(replace(plant, governor=replace(plant.governor, sensitivity_turns=turns)))
    # Begun away from rest, so that the simulation has to find the balance itself.
    ran = run(plant, (RunSegment(5.0, 0.5), RunSegment(60.0), RunSegment(60.0, 1.0)), seed=1)
    none, full = (ran.hertz[round(second * ran.rate) - 1] for second in (65, 125))
    static = 60.0 * (equilibrium(plant, 0.0).speed - equilibrium(plant, 1.0).speed)
    assert none - full == pytest.approx(static, rel=0.01)


def test_droop_of_the_governor_alone_is_that_of_its_forces(knowledge: Knowledge) -> None:
    # By hand: speed2 * (radius + spread x) = lever * (tension + rate * lever * x), at the travels the plate needs.
    plant = quiet(sound_set(knowledge.features({"booster": "none"})))
    made = plant.governor
    speeds = []
    for load in (0.0, 1.0):
        state = equilibrium(plant, load)
        x = (1.0 - plant.linkage.gap - state.plate) / plant.linkage.ratio
        pull = made.lever * (made.tension + made.rate * made.lever * x)
        speeds.append(math.sqrt(pull / (made.radius + made.spread * x)))
    ran = run(plant, (RunSegment(40.0), RunSegment(60.0, 1.0)), seed=1)
    assert 60.0 * (speeds[0] - speeds[1]) == pytest.approx(ran.hertz[700] - ran.hertz[-1], rel=0.01)


def growth(plant: Plant, load: float) -> float:
    """Largest real part of the eigenvalues of the set's differential equations about rest, written out anew; 1/s.

    States: speed, travel, manifold, mixture, torque, booster vacuum. Derivatives by central differences.
    """
    import numpy as np

    now = air(plant, 60.0)
    made, engine, link = plant.governor, plant.engine, plant.linkage

    def rates(state: np.ndarray) -> np.ndarray:
        speed, travel, pressure, rich, torque, vacuum = state
        plate = 1.0 - link.gap - link.ratio * travel
        push = made.weights(speed, travel) - made.spring(travel) - boost(plant.booster, vacuum)
        flow = pressure * speed
        lost = now.restriction * flow**2
        through = area(plant.carburetor, plate)
        wanted = mixture(plant, flow, lost, now.enrich, 1.0)
        braking = losses(plant, speed, now.friction, flow) + load_torque(plant, load, speed)
        return np.array([
            (torque - braking) / engine.inertia,
            push / made.damping,
            (manifold(through, speed, plant.pressure - lost) - pressure) / engine.intake_lag,
            (wanted - rich) / engine.fuel_lag,
            (indicated(plant, pressure, rich) - torque) / engine.fire_lag,
            (plant.booster.reach * (plant.pressure - pressure) - vacuum) / plant.booster.lag,
        ])  # fmt: skip

    rest = equilibrium(plant, load)
    at = np.array([rest.speed, rest.travel, rest.manifold, rest.mixture, rest.fire, rest.vacuum])
    jacobian = np.empty((6, 6))
    for column in range(6):
        step = np.zeros(6)
        step[column] = 1e-6
        jacobian[:, column] = (rates(at + step) - rates(at - step)) / 2e-6
    return float(np.linalg.eigvals(jacobian).real.max())


def turned(plant: Plant, turns: float) -> Plant:
    """Sensitivity turned and the no-load speed brought back, as it is done on a set."""
    sharper = replace(plant, governor=replace(plant.governor, sensitivity_turns=turns))
    return with_no_load(sharper, 61.7)


def swings_on(plant: Plant, load: float, step: float) -> bool:
    """Whether a small disturbance grows: the swing of the last seconds against that of the first."""
    rest = equilibrium(plant, load)
    ran = run(plant, (RunSegment(60.0, load),), seed=1, state=replace(rest, speed=rest.speed * 1.0005), step=step)
    early, late = ran.hertz[100:400], ran.hertz[-300:]
    # A swing that has grown to its full size no longer grows: it counts by its size.
    size = max(late) - min(late)
    return size > 0.3 or size > max(early) - min(early)


def limit(hunts: Callable[[float], bool], low: float, high: float, halvings: int) -> float:
    """The turns at which it begins to hunt, steady at `low` and hunting at `high`."""
    assert not hunts(low)
    assert hunts(high)
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if hunts(middle) else (middle, high)
    return 0.5 * (low + high)


@pytest.mark.parametrize("booster", ["vacuum", pytest.param("none", marks=pytest.mark.nightly)])
@pytest.mark.parametrize("load", [0.0, pytest.param(0.5, marks=pytest.mark.nightly)])
def test_the_hunting_limit_is_that_of_a_linear_analysis(knowledge: Knowledge, booster: str, load: float) -> None:
    pytest.importorskip("numpy")
    plant = quiet(sound_set(knowledge.features({"booster": booster})))
    linear = limit(lambda turns: growth(turned(plant, turns), load) > 0.0, -10.0, 20.0, 10)

    def simulated(step: float) -> float:
        return limit(lambda turns: swings_on(turned(plant, turns), load, step), linear - 1.5, linear + 1.5, 6)

    # At the step that every run uses: 5 % of the setting from the loose end of the adjuster, 10 turns below its middle,
    # and 1 % of the lever that the adjuster changes.
    own = simulated(DURATION)
    assert own + 10.0 == pytest.approx(linear + 10.0, rel=0.05)
    assert turned(plant, own).governor.lever == pytest.approx(turned(plant, linear).governor.lever, rel=0.01)
    # Counted from the middle, a stricter measure, the step itself costs up to 5 %; at half the step it must be less.
    assert simulated(0.5 * DURATION) == pytest.approx(linear, rel=0.05)


def test_the_static_balance_is_where_the_torques_cancel(knowledge: Knowledge) -> None:
    plant = sound_set(knowledge.features({}))
    for load in (0.0, 0.5, 1.0):
        rest = equilibrium(plant, load)
        left, pressure, _ = excess(plant, rest.plate, rest.speed, load, air(plant, 60.0))
        assert left == pytest.approx(0.0, abs=1e-3)
        assert pressure == pytest.approx(rest.manifold, abs=1e-3)
