"""The sound set that features describe, adjusted as a good mechanic leaves it.

Purpose: features (see knowledge/features.yaml) -> the plant, before any fault.
Law: pure; height and heat thin the air by the standard atmosphere, and the mixture has been set for the place.
Sources: ICAO standard atmosphere; sizes from memory.
Not here: what faults do to it (see `faults`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from .equilibrium import with_no_load
from .plant import Plant

NO_LOAD = 61.7
"""Frequency per 60 Hz at which a sound set is left with no load."""
REFERENCE_FEET, REFERENCE_FAHRENHEIT = 500.0, 70.0


def sound_set(features: Mapping[str, str | float]) -> Plant:
    """The sound set of these features (see knowledge/features.yaml), adjusted as a good mechanic leaves it.

    Height and heat thin the air by the standard atmosphere; the mixture has been set for the place.
    """
    return _sound_set(tuple(sorted(features.items())))


@lru_cache(maxsize=16)
def _sound_set(given: tuple[tuple[str, str | float], ...]) -> Plant:
    plant = built(dict(given))
    plant = with_no_load(changed(plant, "governor", thread=1000.0), NO_LOAD * plant.hertz / 60.0)
    governor = plant.governor
    return changed(plant, "governor", tension=governor.pull, speed_turns=0.0, thread=10.0)


def built(features: Mapping[str, str | float]) -> Plant:
    """The set of these features as it was built, the mixture set for the place and the speed not yet."""
    count = int(float(features["cylinders"]))
    feet, fahrenheit = float(features["altitude"]), float(features["temperature"])
    pressure = _barometer(feet) / _barometer(REFERENCE_FEET)
    pressure *= (REFERENCE_FAHRENHEIT + 459.67) / (fahrenheit + 459.67)
    plant = Plant(hertz=float(features["hertz"]), poles=int(float(features["poles"])), pressure=pressure)
    plant = changed(plant, "engine", cylinders=count, strength=(1.0,) * count, misfire=(0.0,) * count)
    plant = changed(plant, "looks", compression=tuple(122.0 - 1.5 * (place % 3) for place in range(count)))
    plant = changed(plant, "generator", legs=(1.0,) * (3 if float(features["phases"]) == 3 else 2))
    if features["excitation"] == "brushless":
        # Its regulator forces the field down to where the engine stalls; the others feed their field by themselves.
        plant = changed(plant, "generator", holds=0.0)
    root = pressure**0.5
    plant = changed(plant, "carburetor", idle=plant.carburetor.idle * root, main=plant.carburetor.main * root)
    if features["booster"] == "none":
        # Without a booster the droop is held within 3 Hz by the spring alone, set sharper; only a heavier flywheel
        # keeps the hunting as far off as the other set has it, about four turns.
        plant = changed(plant, "booster", strength=0.0)
        plant = changed(plant, "governor", hole=0.96)
        plant = changed(plant, "engine", inertia=plant.engine.inertia + 1.5)
    if count == 1:
        plant = changed(plant, "engine", inertia=plant.engine.inertia + 1.0)
    if features["fuel"] != "gasoline":
        plant = changed(plant, "engine", fuel_lag=0.06)
    if features["choke"] == "manual":
        # Somebody opens it as the engine takes it: as good as a heater.
        plant = changed(plant, "looks", heater_volts=0.0)
    if features["choke"] == "none":
        # Gas: nothing across the air horn, and nothing that cold keeps from turning to vapour.
        plant = changed(plant, "looks", heater_volts=0.0)
        plant = changed(plant, "carburetor", choke_stuck=1.0, wet=0.0)
    return plant


def rated_load(plant: Plant) -> float:
    """Full load for this place, per unit of the nameplate: the rating less what thin air takes away."""
    return min(1.0, 1.0 - 1.2 * (1.0 - plant.pressure))


def _barometer(feet: float) -> float:
    """Standard atmosphere, fraction of sea level (ICAO constants)."""
    return float((1.0 - 6.8756e-6 * feet) ** 5.2559)


def changed(plant: Plant, part: str, **values: Any) -> Plant:
    return replace(plant, **{part: replace(getattr(plant, part), **values)})
