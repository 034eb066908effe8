"""How a set starts, pops and drinks: what its owner tells of it rather than a meter.

Purpose: check id -> outcome from the mixture at cranking and under load, the spark, the compression and the fuel.
Law: see `bench`. A start is judged from where mixture, spark and compression stand, not cranked stroke by stroke.
Sources: the physics told in the notes of knowledge/areas; a charge fires between about half and twice the correct
mixture's fuel; limits of what counts as hard are from memory.
Not here: what the set does once it runs (see `measurements`, `trials`).
"""

from __future__ import annotations

from collections.abc import Mapping
from math import fsum

from .draws import Draws
from .equilibrium import air, area, mixture
from .observation import Check
from .under_test import SetUnderTest

CRANKING = 0.15
"""Opening of the throttle and air flow at which it is cranked, per unit."""
FIRES = (0.82, 1.75)
"""Equivalence ratios between which a cranked engine fires readily."""
SPIT, BANG = 0.86, 1.60
"""Ratios below which a charge burns on until the inlet opens, and above which it burns on in the exhaust."""
COLD_MINUTES = 2.0


def _cranked(bench: SetUnderTest, minutes: float) -> float:
    """Equivalence ratio in the cylinders while it is cranked."""
    plant = bench.plant
    now = air(plant, minutes)
    through = area(plant.carburetor, CRANKING)
    ratio = mixture(plant, CRANKING, 0.0, now.enrich, plant.carburetor.level)
    return ratio * through / (through + now.leak)


def _spark(bench: SetUnderTest) -> float:
    """Part of the strokes that do not fire for want of spark or good fuel."""
    misfire = bench.plant.engine.misfire
    return fsum(misfire) / len(misfire)


def _start(bench: SetUnderTest, minutes: float, cold: bool) -> str:
    plant = bench.plant
    looks, carburetor = plant.looks, plant.carburetor
    ratio = _cranked(bench, minutes)
    psi = fsum(looks.compression) / len(looks.compression)
    if looks.tank != "enough_and_open" or carburetor.needle < -0.7:
        return "will_not_start"
    if not cold and looks.boils > 0.85:
        return "will_not_start"
    if cold and max(looks.stale, looks.drags_cold, looks.gas - 0.85) > 0.85:
        return "will_not_start"
    lean, rich = FIRES
    hard = ratio < lean or ratio > rich or _spark(bench) > 0.15 or psi < 90.0 or looks.points < 0.012
    hard = hard or looks.flooded or carburetor.needle < 0.0
    if cold:
        hard = hard or looks.gas > 1.35 or max(looks.stale, looks.drags_cold) > 0.5 or looks.pump < 0.6
    else:
        hard = hard or looks.boils > 0.4 or carburetor.level > 1.45 or looks.cooling > 0.7 or carburetor.choke_left
    return "starts_hard" if hard else "starts_readily"


def _pops(bench: SetUnderTest, ratios: list[float]) -> str:
    engine = bench.plant.engine
    if min(ratios) < SPIT or engine.hang > 0.12 or bench.plant.looks.carbon > 0.85:
        return "spits_back"
    fouls = max(engine.misfire) > 0.4 or bench.plant.looks.timing < -7.0
    return "bangs_in_exhaust" if max(ratios) > BANG or fouls else "none"


def _pops_cold(bench: SetUnderTest, draws: Draws) -> str:
    # Between the first stroke and the open choke the mixture passes through its leanest.
    plant = bench.plant
    now = air(plant, COLD_MINUTES)
    ratio = mixture(plant, 0.35, 0.0, now.enrich, plant.carburetor.level)
    through = area(plant.carburetor, CRANKING)
    return _pops(bench, [ratio * through / (through + now.leak) * (1.0 - 0.5 * plant.looks.drags_cold)])


def _pops_loaded(bench: SetUnderTest, draws: Draws) -> str:
    return _pops(bench, [bench.at(share).state.mixture for share in (0.5, 0.75, 1.0)])


def _used(bench: SetUnderTest, draws: Draws) -> str:
    """Fuel over what a sound set burns for the same load: richness, weak strokes, and what runs away."""
    plant = bench.plant
    engine = plant.engine
    usual = 1.12
    rich = max(1.0, fsum(bench.at(share).state.mixture for share in (0.0, 0.5)) / 2.0 / usual)
    fires = fsum(s * (1.0 - m) for s, m in zip(engine.strength, engine.misfire, strict=True)) / len(engine.strength)
    more = rich / max(0.3, fires) * plant.generator.load_factor
    if plant.looks.leaks_out or plant.carburetor.needle > 0.0:
        more += 0.3
    return "high" if more > 1.2 else "usual"


STARTING: Mapping[str, Check] = {
    "start_cold": lambda bench, draws: _start(bench, 0.0, cold=True),
    "start_warm": lambda bench, draws: _start(bench, bench.warm_minutes, cold=False),
    "popping_cold": _pops_cold,
    "popping_loaded": _pops_loaded,
    "fuel_use": _used,
}
