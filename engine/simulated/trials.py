"""Checks that change something for a moment and watch what it does: a needle, the choke, the booster, an adjuster.

Purpose: check id -> outcome from a run before and a run with the change.
Law: see `bench`. A trial that says something only while the set swings answers "unknown" on a steady one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from .draws import Draws
from .equilibrium import WARM, boost, equilibrium, with_no_load
from .observation import SWINGS, UNKNOWN, Check, average, metered, peak_to_peak, settled, swing
from .running import Run, RunSegment
from .under_test import SetUnderTest

TENSION_TRIED = 0.021
"""Tension of the spring, per unit, by which the speed adjuster is tried: 0.7 of a usual turn."""


def _sensitivity(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    before = swing(bench, bench.at(0.0))[0]
    limit = SWINGS * plant.hertz / 60.0
    if before < limit:
        return UNKNOWN
    mean = average(settled(bench.at(0.0)))
    eased = replace(plant, governor=replace(plant.governor, sensitivity_turns=plant.governor.sensitivity_turns - 5.0))
    eased = with_no_load(eased, mean)
    # The set swings as it is eased, and so has the knock without which some hunts never begin.
    after = swing(bench, bench.seen("eased", bench.way_to(0.0), plant=eased))[0]
    return "swing_stops" if after < limit else "swing_worse" if after > 1.25 * before else "swing_unchanged"


def _speed_trial(bench: SetUnderTest, draws: Draws) -> str:
    plant, means = bench.plant, []
    way = TENSION_TRIED / plant.governor.tension_per_turn  # a fine thread is turned further
    for turns in (-way, 0.0, way):
        turned = replace(plant.governor, speed_turns=plant.governor.speed_turns + turns)
        run_ = bench.seen("turned", (RunSegment(18.0),), plant=replace(plant, governor=turned))
        means.append(metered(bench, draws, average(settled(run_, 8.0))))
    return "follows" if means[1] - means[0] > 0.2 and means[2] - means[1] > 0.2 else "no_response"


def _booster_off(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    load = 0.75 * bench.load
    off = replace(plant, booster=replace(plant.booster, linked=0.0, drag=0.0))
    run_ = bench.seen("unhooked", (RunSegment(30.0, load),), plant=off)
    change = metered(bench, draws, average(settled(run_, 8.0))) - metered(
        bench, draws, average(settled(bench.at(0.75), 8.0))
    )
    return "frequency_drops" if change < -0.35 else "frequency_rises" if change > 0.35 else "no_change"


def _booster_moves(bench: SetUnderTest, draws: Draws) -> str:
    booster, plant = bench.plant.booster, bench.plant
    ends = []
    for share in (0.0, 1.0):
        vacuum = booster.reach * (plant.pressure - average(bench.at(share).manifold[-200:]))
        ends.append(boost(replace(booster, linked=1.0, strength=1.0), vacuum))
    if booster.linked <= 0.0 or abs(ends[1] - ends[0]) < 0.22:
        return "does_not_move"
    return "drags" if booster.drag > 0.006 or booster.blocked > 0.3 else "moves_with_load"


def _part_choke(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    nudged = replace(plant, carburetor=replace(plant.carburetor, part_choke=0.25))
    before, after = bench.at(0.0), bench.seen("part choke", bench.way_to(0.0), plant=nudged)
    limit = SWINGS * plant.hertz / 60.0
    (was, _), (size, _) = swing(bench, before), swing(bench, after)
    if was >= limit and (size < limit or size < 0.5 * was):
        return "smooths_out"
    shift = average(after.plate[-200:]) - average(before.plate[-200:])
    slower = average(settled(before)) - average(settled(after))
    return "runs_worse" if size > max(limit, 1.3 * was) or shift > 0.02 or slower > limit else "no_change"


def _needle(bench: SetUnderTest, name: str, load: float) -> str:
    """Which way a needle makes it run better: steadier, or with the throttle more closed at the same load."""
    plant = bench.plant
    carburetor = plant.carburetor
    scores = []
    for way in (-0.12, 0.0, 0.12):
        value = (carburetor.idle if name == "idle" else carburetor.main) + way
        turned = replace(carburetor, idle=value) if name == "idle" else replace(carburetor, main=value)
        run_ = bench.seen(f"{name} needle", (RunSegment(18.0, load),), plant=replace(plant, carburetor=turned))
        scores.append(average(run_.plate[-200:]) + 0.03 * peak_to_peak(settled(run_, 10.0)) - 0.02 * _lost(bench, run_))
    if name == "idle" and carburetor.idle_passage < 0.9:
        return "no_response"  # what the needle gives does not get through
    lean, here, rich = scores
    least = 0.006
    if max(scores) - min(scores) < 0.004:
        return "best_where_it_is"
    if lean < here - least and lean <= rich:
        return "better_leaner"
    return "better_richer" if rich < here - least else "best_where_it_is"


def _lost(bench: SetUnderTest, run_: Run) -> float:
    return average(settled(run_, 10.0)) - bench.plant.hertz


def _spray(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    leak = plant.carburetor.air_leak, plant.carburetor.hot_leak
    if not any(leak):
        return "no_change"
    wet = replace(plant, carburetor=replace(plant.carburetor, air_leak=0.4 * leak[0], hot_leak=0.4 * leak[1]))
    moved = equilibrium(wet, 0.0, WARM).plate - equilibrium(plant, 0.0, WARM).plate
    if abs(moved) <= 0.008:
        return "no_change"
    if plant.booster.leak > 0.15:
        return "at_booster_hose"
    return "at_throttle_shaft" if plant.linkage.shaft_play > 0.02 else "speed_changes"


def _cleaner_off(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    off = replace(plant, carburetor=replace(plant.carburetor, cleaner=0.0))
    load = 0.9 * bench.load
    before, after = (bench.seen("cleaner", (RunSegment(20.0, load),), plant=each) for each in (plant, off))
    gain = average(settled(after, 8.0)) - average(settled(before, 8.0))
    return "picks_up" if gain > 0.5 * plant.hertz / 60.0 else "no_change"


def _drop(bench: SetUnderTest, draws: Draws) -> str:
    """Grounding one plug: how much more throttle the governor needs, cylinder by cylinder, by static balance."""
    engine = bench.plant.engine
    share = [force * (1.0 - chance) for force, chance in zip(engine.strength, engine.misfire, strict=True)]
    ratio = equilibrium(bench.plant, 0.0, bench.warm_minutes).mixture
    # Near the lean limit mixture does not reach all cylinders alike.
    share[0] *= 1.0 - 3.0 * max(0.0, 0.80 - ratio)
    least, most = min(share), max(share)
    if least < 0.2 * most:
        return "one_makes_no_difference"
    return "uneven" if least < 0.72 * most else "all_drop_alike"


def _fixed(bench: SetUnderTest, draws: Draws) -> str:
    if bench.plant.generator.swing:
        return "swing_stops"
    return UNKNOWN if swing(bench, bench.at(0.0))[0] < SWINGS * bench.plant.hertz / 60.0 else "swing_stays"


TRIALS: Mapping[str, Check] = {
    "speed_adjuster_trial": _speed_trial,
    "sensitivity_trial": _sensitivity,
    "booster_disconnect_trial": _booster_off,
    "booster_link_movement": _booster_moves,
    "part_choke_trial": _part_choke,
    "idle_needle_trial": lambda bench, draws: _needle(bench, "idle", 0.0),
    "main_needle_trial": lambda bench, draws: _needle(bench, "main", 0.75 * bench.load),
    "joint_spray_trial": _spray,
    "air_cleaner_off_trial": _cleaner_off,
    "cylinder_drop_trial": _drop,
    "regulator_fixed_trial": _fixed,
}
