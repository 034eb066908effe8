"""Where a set comes to rest: throttle flow, mixture, torque and governor in balance.

Purpose: manifold pressure, mixture, torque and load at one speed and throttle, and the steady state of the whole set.
Law: pure functions per unit of rated speed, rated electrical power and standard air; chance has no part in them.
Sources: textbook models (Hartnell governor, see `governor`; throttle flow as an orifice; manifold filling as a lag);
idle circuit strongest with the throttle nearly closed, fading as it opens, TM 9-8000, para 4-16; choked mixture,
TM 9-8000, para 4-19; best power rich of the correct mixture and all constants of the set from memory, chosen so that
the sound set behaves as common practice says: about 61 to 61.5 Hz with no load, 60 Hz at full load.
Not checked here: anything thermal or electrical finer than a technician's meter can show.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from .plant import Booster, Carburetor, Linkage, Plant, PlantState

CRITICAL = 0.53
"""Pressure ratio below which throttle flow no longer depends on the manifold."""
SPAN2 = (1.0 - CRITICAL) ** 2
RESIDUAL = 0.25
"""Manifold pressure, per unit of the air around, at which the indicated torque is nil: burnt gas is left behind."""
BEST_MIXTURE = 1.12
"""Equivalence ratio of best power, about 13.1 : 1 of air to fuel where 14.7 : 1 is correct."""
INHG = 29.9
"""Standard barometer."""
GAP_INCHES = 1.5
"""Arc of the throttle lever at its stop screw from closed to wide open, in; 2 % of it is about 1/32 in."""
SLOWEST_LOADED = 0.6
"""Speed per unit below which no engine of this class goes on under load: it stalls. Common practice."""
IRON_KEEPS = 0.03
"""Voltage, per unit, that the iron of a machine gives at rated speed without a field: a few volts. Common practice."""
LOADED = 0.05
"""Load, per unit of rated, from which on a set counts as loaded."""
FASTEST = 1.45
"""Speed per unit at which a runaway set is taken to float its valves and go no faster."""
WARM_MINUTES = 5.0
"""Time constant of the engine's warming; three of them are the usual 15 minutes."""
HEATER_MINUTES = 1.5
WARM = 60.0
"""Minutes after a cold start at which everything is warm."""


def warmth(minutes: float) -> float:
    """How warm the engine is, 0 cold to 1 warm, so many minutes after a cold start."""
    return 1.0 - math.exp(-minutes / WARM_MINUTES)


def choke_opening(carburetor: Carburetor, minutes: float) -> float:
    """Opening of the choke plate, 0 shut to 1 open: heater and engine warmth wind it up, the setting holds it back."""
    if carburetor.choke_stuck is not None:
        opening = carburetor.choke_stuck
    else:
        heat = 0.55 * (1.0 - math.exp(-minutes / HEATER_MINUTES)) * carburetor.heater + 0.75 * warmth(minutes)
        opening = 1.15 * heat - carburetor.choke_setting
    return min(1.0, max(0.0, opening)) * (1.0 - carburetor.part_choke)


@dataclass(frozen=True, slots=True)
class IntakeAir:
    """What temperature and choke make of air, fuel and friction at one time; constants of a run."""

    restriction: float
    enrich: float
    friction: float
    leak: float


def air(plant: Plant, minutes: float) -> IntakeAir:
    """Restriction ahead of the throttle, factor on the mixture and factor on friction, minutes after a cold start.

    Cold fuel does not all turn to vapour, so that cold mixtures are lean without choke; thin air makes them rich as the
    root of the density (H. N. Gupta, Ex. 9.7).
    """
    cold = 1.0 - warmth(minutes)
    shut = 1.0 - choke_opening(plant.carburetor, minutes)
    restriction = plant.carburetor.cleaner + 0.45 * shut**2
    enrich = (1.0 + 0.95 * shut) * (1.0 - plant.carburetor.wet * cold) / math.sqrt(plant.pressure)
    # A joint that opens as the metal grows is shut until the engine is nearly warm.
    leak = plant.carburetor.air_leak + plant.carburetor.hot_leak * (1.0 - cold) ** 3
    return IntakeAir(restriction, enrich, 1.0 + plant.engine.cold_extra * cold, leak)


def area(carburetor: Carburetor, plate: float) -> float:
    """Flow area of the throttle and what seeps past it, as flow per unit when choked."""
    ice = carburetor.ice
    return carburetor.bore * (1.0 - 0.62 * ice) * (carburetor.seepage + plate * (0.90 + 0.07 * plate))


def manifold(flow_area: float, speed: float, ahead: float) -> float:
    """Manifold pressure at which what flows in is what the engine draws.

    Orifice flow with the elliptic form area * sqrt(1 - ((r - 0.53)/0.47)^2) above the critical ratio r, constant below.
    """
    if flow_area <= CRITICAL * speed:
        return ahead * flow_area / speed
    bend = flow_area * flow_area / SPAN2
    first = speed * speed + bend
    half = bend * CRITICAL
    last = bend * CRITICAL**2 - flow_area * flow_area
    return ahead * (half + math.sqrt(half * half - first * last)) / first


def mixture(plant: Plant, flow: float, restricted: float, enrich: float, bowl: float) -> float:
    """Equivalence ratio that the carburetor gives at an air flow: idle circuit, main circuit, the change between."""
    carburetor = plant.carburetor
    share = min(1.0, max(0.0, (0.64 - flow) / 0.20))
    idle = carburetor.idle * min(carburetor.idle_passage, 1.0)
    # A level above the right one raises both circuits, one that sinks starves the main one first.
    main = carburetor.main * (0.45 + 0.55 * bowl) * (1.0 + 1.2 * restricted)
    return (share * idle * (0.8 + 0.2 * bowl) + (1.0 - share) * main) * enrich


def burn(ratio: float) -> float:
    """Part of the best torque that a mixture gives."""
    off = ratio - BEST_MIXTURE
    return max(0.0, 1.0 - (2.2 if off < 0.0 else 0.5) * off * off)


def miss(ratio: float) -> float:
    """Chance that a power stroke does not fire for want or excess of fuel."""
    if ratio < 0.84:
        return min(1.0, 2.6 * (0.84 - ratio))
    return min(1.0, 1.2 * (ratio - 1.5)) if ratio > 1.5 else 0.0


def indicated(plant: Plant, pressure: float, ratio: float) -> float:
    """Mean indicated torque at a manifold pressure and mixture."""
    engine = plant.engine
    fires = math.fsum(s * (1.0 - m) for s, m in zip(engine.strength, engine.misfire, strict=True))
    firing = fires / len(engine.strength)
    return max(0.0, engine.torque * (pressure - RESIDUAL * plant.pressure) * burn(ratio) * (1.0 - miss(ratio)) * firing)


def losses(plant: Plant, speed: float, factor: float, flow: float) -> float:
    """Torque of friction, fan and back pressure."""
    return plant.engine.friction * factor * (0.5 + 0.5 * speed * speed) + plant.engine.exhaust * flow * flow


def load_torque(plant: Plant, load: float, speed: float) -> float:
    """Torque of an electrical load (per unit of rated) at a speed, resistances and motors together."""
    generator = plant.generator
    volts = generator.volts * (1.0 + generator.compounding * (speed - 1.0))
    resistive = volts * volts / max(speed, 0.2)
    return load * generator.load_factor * ((1.0 - generator.motor) * resistive + generator.motor * speed)


def boost(booster: Booster, vacuum: float) -> float:
    """Torque of the booster toward open at a vacuum in its chamber."""
    return booster.linked * booster.strength * min(1.0, max(0.0, 1.0 - vacuum / booster.holding))


def plate_at(linkage: Linkage, travel: float, slip: float = 0.0) -> float:
    """Where the rod puts the plate for a travel of the arm, between the stops."""
    rod = 1.0 - linkage.gap + linkage.rod + slip - linkage.ratio * travel
    return min(linkage.stop_open, max(linkage.stop_closed, rod))


def slowest_loaded(plant: Plant) -> float:
    """Speed below which a set does not carry a load on: the engine stalls, or before that the field collapses.

    A machine that excites itself is stable only above the knee of its magnetization curve; below, less voltage makes
    less field and so on down to what the iron keeps (textbook: critical resistance and critical speed of
    self-excitation; the knee at about three quarters of the rated voltage from memory)."""
    generator = plant.generator
    if generator.compounding <= 0.0:
        return SLOWEST_LOADED
    return max(SLOWEST_LOADED, 1.0 - (1.0 - generator.holds) / generator.compounding)


def limits(plant: Plant, slip: float = 0.0) -> tuple[float, float]:
    """Least and greatest travel of the arm: its own ends, and the plate's stops seen through the rod."""
    linkage, governor = plant.linkage, plant.governor
    base = 1.0 - linkage.gap + linkage.rod + slip
    least = max(governor.innermost, (base - linkage.stop_open) / linkage.ratio)
    most = min(governor.outermost, (base - linkage.stop_closed) / linkage.ratio)
    return least, max(least, most)


def excess(plant: Plant, plate: float, speed: float, load: float, now: IntakeAir) -> tuple[float, float, float]:
    """Static torque left over at a plate, speed and load; with the manifold pressure and mixture there."""
    carburetor = plant.carburetor
    through = area(carburetor, plate)
    leak = now.leak
    ahead = plant.pressure
    pressure = ahead
    for _ in range(4):  # the loss ahead of the throttle depends on the flow that it lets through
        pressure = manifold(through + leak, speed, ahead)
        flow = pressure * speed
        ahead = max(0.1, plant.pressure - now.restriction * flow * flow)
    flow = pressure * speed
    drawn = through / (through + leak)
    bowl = carburetor.level if carburetor.supply >= 1.5 else _bowl(carburetor, flow)
    ratio = mixture(plant, flow, now.restriction * flow * flow, now.enrich, bowl) * drawn
    braking = losses(plant, speed, now.friction, flow) + load_torque(plant, load, speed)
    return indicated(plant, pressure, ratio) - braking, pressure, ratio


def _bowl(carburetor: Carburetor, flow: float) -> float:
    return min(carburetor.level, max(0.0, (carburetor.supply / max(flow, 0.05) - 0.45) / 0.55))


def equilibrium(plant: Plant, load: float = 0.0, minutes: float = WARM) -> PlantState:
    """Where the set stands at rest at a load, by static balance alone: no drag, no play, no swing.

    A set that cannot hold the load is returned stalled.
    """
    now = air(plant, minutes)
    least, most = limits(plant)
    booster = plant.booster

    def at(travel: float) -> tuple[float, float, float, float, float]:
        plate = plate_at(plant.linkage, travel)
        speed, pressure, ratio, left = 1.0, 0.5, 1.0, 0.0
        for _ in range(8):
            help_ = boost(booster, booster.reach * (plant.pressure - pressure))
            speed = 0.5 * speed + 0.5 * max(0.05, plant.governor.balance(travel, help_))
            left, pressure, ratio = excess(plant, plate, speed, load, now)
        return left, speed, pressure, ratio, plate

    low, high = least, most
    too_fast = at(high)[0] > 0.0
    if too_fast or at(low)[0] < 0.0:
        # The governor has no say: the plate rests at an end and torque alone decides.
        travel = high if too_fast else low
        plate = plate_at(plant.linkage, travel)
        slow, fast = (slowest_loaded(plant) if load > LOADED else 0.3), 2.5
        # Stable balance is where more speed leaves less torque, so search down from the fast side.
        speed = fast
        while speed > slow and excess(plant, plate, speed, load, now)[0] < 0.0:
            speed -= 0.02
        stalled = speed <= slow
        low, high = speed, speed + 0.02
        for _ in range(30):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if excess(plant, plate, middle, load, now)[0] > 0.0 else (low, middle)
        _, pressure, ratio = excess(plant, plate, low, load, now)
        fire = losses(plant, low, now.friction, pressure * low) + load_torque(plant, load, low)
        held = booster.reach * (plant.pressure - pressure)
        return PlantState(low, travel, plate, pressure, fire, ratio, held, plant.carburetor.level, 0.0, stalled)
    for _ in range(26):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if at(middle)[0] > 0.0 else (low, middle)
    _, speed, pressure, ratio, plate = at(0.5 * (low + high))
    fire = losses(plant, speed, now.friction, pressure * speed) + load_torque(plant, load, speed)
    held = booster.reach * (plant.pressure - pressure)
    return PlantState(speed, 0.5 * (low + high), plate, pressure, fire, ratio, held, plant.carburetor.level)


def with_no_load(plant: Plant, hertz: float, minutes: float = WARM) -> Plant:
    """The same set with its speed adjuster turned until no load stands at a frequency, as far as the thread goes.

    Only the adjuster is turned: where something else holds the throttle, no load does not come there.
    """
    turned = _balanced_at(plant, hertz / plant.hertz, minutes)
    if turned is not None:
        return turned
    low, high = -25.0, 25.0
    for _ in range(22):
        turns = 0.5 * (low + high)
        tried = replace(plant, governor=replace(plant.governor, speed_turns=turns))
        if equilibrium(tried, 0.0, minutes).speed * plant.hertz < hertz:
            low = turns
        else:
            high = turns
    return replace(plant, governor=replace(plant.governor, speed_turns=0.5 * (low + high)))


def held_at(plant: Plant, speed: float, load: float, minutes: float = WARM) -> tuple[float, float] | None:
    """Travel at which the engine just carries a load at a speed, and the torque that the spring has to give there.

    None where it has no power to spare for it, or cannot be throttled so far.
    """
    now = air(plant, minutes)
    low, high = limits(plant)

    def left(travel: float) -> float:
        return excess(plant, plate_at(plant.linkage, travel), speed, load, now)[0]

    if left(low) <= 0.0 or left(high) >= 0.0:
        return None
    for _ in range(36):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if left(middle) > 0.0 else (low, middle)
    pressure = excess(plant, plate_at(plant.linkage, low), speed, load, now)[1]
    help_ = boost(plant.booster, plant.booster.reach * (plant.pressure - pressure))
    return low, plant.governor.weights(speed, low) - help_


def _balanced_at(plant: Plant, speed: float, minutes: float) -> Plant | None:
    """The set with its speed adjuster where no load stands at a speed; None where the governor has no say there."""
    aim = speed
    for _ in range(2):  # `equilibrium` stops a little short of its balance; the second aim makes up for it
        turned = _turned_to(plant, aim, minutes)
        if turned is None:
            return None
        off = speed - equilibrium(turned, 0.0, minutes).speed
        if abs(off) > 1e-3:
            return None  # it could stand at two places: the usual way decides
        aim += off
    return turned


def _turned_to(plant: Plant, speed: float, minutes: float) -> Plant | None:
    found, governor = held_at(plant, speed, 0.0, minutes), plant.governor
    if found is None or governor.lever <= 0.0:
        return None
    travel, torque = found
    pull = torque / governor.lever - governor.rate * governor.lever * travel
    turns = (pull - governor.tension) / governor.tension_per_turn
    if pull <= 0.0 or abs(turns) > min(25.0, governor.thread):
        return None
    return replace(plant, governor=replace(governor, speed_turns=turns))
