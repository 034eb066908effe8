"""The terms of a run: what stays the same over its steps, worked out once.

Purpose: the parts of a plant -> the numbers that a step multiplies and compares, a group for each part.
Law: pure; a lag is what passes of it in one whole step, or each would be half a step too quick. Each group is a plain
tuple, so that a run takes it apart into locals: look-ups of attributes would halve its speed.
Not here: what changes from step to step (see `running`), chance (see `strokes`).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from .equilibrium import RESIDUAL, air
from .plant import Plant


class GovernorTerms(NamedTuple):
    """Weights against spring, in the unit of the governor; the arm moves by its stiffness, held by drag."""

    radius: float
    spread: float
    drive: float
    pull: float
    rate: float
    per_damping: float
    own_drag: float
    vacuum_drag: float


class LinkageTerms(NamedTuple):
    """From travel to plate, per unit: lost motion, stops, and what the arm slips where load goes off."""

    ratio: float
    base: float
    half_play: float
    play_taken: float
    stop_open: float
    stop_closed: float
    creep: float


class BoosterTerms(NamedTuple):
    """What the booster lifts, and the vacuum that takes it off."""

    lift: float
    per_holding: float
    reach: float
    per_booster: float


class IntakeTerms(NamedTuple):
    """Air per unit: where it comes in, and what is lost on the way."""

    barometer: float
    leak: float
    residual: float
    bore: float
    seep: float
    restriction: float
    per_intake: float


class FuelTerms(NamedTuple):
    """Mixture per unit of what each circuit gives, and the bowl."""

    idle: float
    main: float
    supply: float
    level: float
    per_fuel: float


class RotorTerms(NamedTuple):
    """Torque made and lost, per unit."""

    torque: float
    friction: float
    back: float
    per_inertia: float
    per_fire: float


class LoadTerms(NamedTuple):
    """Voltage and load, with what comes and goes by itself; turns are in radians a step."""

    volts: float
    follow: float
    holds: float
    swing: float
    swing_turn: float
    motor: float
    cycle: float
    cycle_seconds: float
    jitter: float
    jitter_turn: float


class Terms(NamedTuple):
    """The groups of one plant."""

    governor: GovernorTerms
    linkage: LinkageTerms
    booster: BoosterTerms
    intake: IntakeTerms
    fuel: FuelTerms
    rotor: RotorTerms
    load: LoadTerms


def terms_of(plant: Plant, minutes: float, step: float) -> Terms:
    """The terms of a plant that has run some minutes, at a step of so many s."""
    booster, carburetor, engine, generator = plant.booster, plant.carburetor, plant.engine, plant.generator
    now = air(plant, minutes)
    bore = carburetor.bore * (1.0 - 0.62 * carburetor.ice)
    return Terms(
        _governor(plant, step),
        _linkage(plant),
        BoosterTerms(
            lift=booster.linked * booster.strength,
            per_holding=1.0 / booster.holding,
            reach=booster.reach,
            per_booster=_passed(step, booster.lag * (1.0 + 4.0 * booster.blocked)),
        ),
        IntakeTerms(
            barometer=plant.pressure,
            leak=now.leak,
            residual=RESIDUAL * plant.pressure,
            bore=bore,
            seep=bore * carburetor.seepage,
            restriction=now.restriction,
            per_intake=_passed(step, engine.intake_lag),
        ),
        FuelTerms(
            idle=carburetor.idle * min(carburetor.idle_passage, 1.0) * now.enrich,
            main=carburetor.main * now.enrich,
            supply=carburetor.supply,
            level=carburetor.level,
            per_fuel=_passed(step, engine.fuel_lag),
        ),
        RotorTerms(
            torque=engine.torque,
            friction=0.5 * engine.friction * now.friction,
            back=engine.exhaust,
            per_inertia=step / engine.inertia,
            per_fire=_passed(step, engine.fire_lag),
        ),
        LoadTerms(
            volts=generator.volts,
            follow=generator.compounding,
            holds=generator.volts * generator.holds,
            swing=generator.swing + generator.contact,
            swing_turn=2.0 * math.pi * generator.swing_hertz * step,
            motor=generator.motor,
            cycle=generator.cycle,
            cycle_seconds=generator.cycle_seconds,
            jitter=plant.drive_jitter + 0.02 * engine.mounts,
            jitter_turn=2.0 * math.pi * 6.3 * step,
        ),
    )


def _passed(step: float, lag: float) -> float:
    """Share of a change that has come through a lag after one step."""
    return 1.0 - math.exp(-step / lag)


def _governor(plant: Plant, step: float) -> GovernorTerms:
    governor, linkage = plant.governor, plant.linkage
    lever = governor.lever
    return GovernorTerms(
        radius=governor.radius,
        spread=governor.spread,
        drive=governor.drive_ratio,
        pull=lever * governor.pull,
        rate=governor.rate * lever * lever,
        # The arm likewise over a whole step, by its stiffness.
        per_damping=step / (governor.damping + 0.5 * step * governor.stiffness(1.02)),
        own_drag=governor.drag + linkage.drag * 0.7 + plant.booster.drag,
        vacuum_drag=0.5 * linkage.drag,
    )


def _linkage(plant: Plant) -> LinkageTerms:
    linkage = plant.linkage
    return LinkageTerms(
        ratio=linkage.ratio,
        base=1.0 - linkage.gap + linkage.rod,
        half_play=0.5 * (linkage.play + plant.governor_play * linkage.ratio),
        play_taken=2.2 * (linkage.play / (linkage.play + plant.governor_play * linkage.ratio + 1e-12)),
        stop_open=linkage.stop_open,
        stop_closed=linkage.stop_closed,
        creep=linkage.arm_slips,
    )
