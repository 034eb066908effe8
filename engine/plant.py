"""A small carbureted generating set with a mechanical governor, as physics.

Purpose: how speed, throttle, manifold and voltage move under load with any setting right or wrong.
Law: per unit of rated speed, rated electrical power and standard air; the same plant, load and seed give the same run.
`run` integrates mean values at fixed steps; a power stroke draws its own strength, which is where chance comes in.
Sources: textbook models (Hartnell governor, see `governor`; throttle flow as an orifice; manifold filling as a lag);
idle circuit strongest with the throttle nearly closed, fading as it opens, TM 9-8000, para 4-16; choked mixture,
TM 9-8000, para 4-19; best power rich of the correct mixture and all constants of the set from memory, chosen so that
the sound set behaves as common practice says: about 61 to 62 Hz with no load, 60 Hz at full load.
Not checked here: anything thermal or electrical finer than a technician's meter can show.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from .governor import SetGovernor

CRITICAL = 0.53
"""Pressure ratio below which throttle flow no longer depends on the manifold."""
_SPAN2 = (1.0 - CRITICAL) ** 2
RESIDUAL = 0.25
"""Manifold pressure, per unit of the air around, at which the indicated torque is nil: burnt gas is left behind."""
BEST_MIXTURE = 1.12
"""Equivalence ratio of best power, about 13.1 : 1 of air to fuel where 14.7 : 1 is correct."""
INHG = 29.9
"""Standard barometer."""
GAP_INCHES = 1.57
"""Arc of the throttle lever at its stop screw from closed to wide open, in; 2 % of it is about 1/32 in."""
FASTEST = 1.45
"""Speed per unit at which a runaway set is taken to float its valves and go no faster."""
WARM_MINUTES = 5.0
"""Time constant of the engine's warming; three of them are the usual 15 minutes."""
HEATER_MINUTES = 1.5
DURATION = 0.01
"""Length of a step in s."""
RECORD_EVERY = 5
"""Steps from one record to the next: 20 records a second."""
MULTIPLIER = 6364136223846793005
INCREMENT = 1442695040888963407
MASK = (1 << 64) - 1


def draw_state(*seeds: int | str) -> int:
    """A state of the generator of draws from any numbers and words; other words give an unrelated state.

    Draws go on by state * MULTIPLIER + INCREMENT modulo 2^64 (D. E. Knuth, The Art of Computer Programming, vol. 2, from
    memory), written out so that the same seed deals the same on every machine and version.
    """
    text = "\x1f".join(str(seed) for seed in seeds)
    return int.from_bytes(hashlib.sha256(text.encode("utf-8")).digest()[:8], "big")


class Draws:
    """A stream of draws from a seed. Not for secrets."""

    def __init__(self, *seeds: int | str) -> None:
        self._state = draw_state(*seeds)

    def uniform(self, low: float = 0.0, high: float = 1.0) -> float:
        """A number from low up to but not including high."""
        self._state = (self._state * MULTIPLIER + INCREMENT) & MASK
        return low + (high - low) * (self._state >> 11) / (1 << 53)

    def normal(self, deviation: float = 1.0) -> float:
        """Near enough to a normal draw about nil: twelve uniform ones added."""
        return deviation * (sum(self.uniform() for _ in range(12)) - 6.0)


@dataclass(frozen=True, slots=True)
class Linkage:
    """Arm, rod and throttle lever; lengths per unit of the plate's travel, 0 closed to 1 wide open.

    `rod` is the error of its length, + too long. The plate stands at 1 - gap + rod - ratio * travel of the arm.
    """

    rod: float = 0.0
    gap: float = 0.02
    ratio: float = 1.04
    drag: float = 0.0
    """Coulomb torque on the cross shaft; the pull of vacuum on the throttle shaft adds to it."""
    play: float = 0.0
    """Lost motion. The closing torque of the air flow takes it up as load comes on."""
    shaft_play: float = 0.0
    stop_open: float = 1.0
    stop_closed: float = 0.03
    arm_slips: float = 0.0
    """How far the arm creeps toward open on its shaft each time a load goes off."""


@dataclass(frozen=True, slots=True)
class Booster:
    """Vacuum booster: its spring helps to open, manifold vacuum holds it off. `strength` 0 means none fitted."""

    strength: float = 0.078
    holding: float = 0.60
    """Vacuum, per unit of standard air, that holds the spring off altogether."""
    lag: float = 0.4
    leak: float = 0.0
    """Part of the vacuum that the diaphragm or chamber lets go."""
    blocked: float = 0.0
    """Part of the vacuum that does not arrive; the rest comes late."""
    drag: float = 0.0
    """Coulomb torque of its link."""
    linked: float = 1.0

    @property
    def reach(self) -> float:
        """Part of the manifold vacuum that holds the booster's spring."""
        return (1.0 - self.leak) * (1.0 - self.blocked)


@dataclass(frozen=True, slots=True)
class Carburetor:
    """Throttle bore, jets, bowl and choke. Mixtures are equivalence ratios, 1 correct and above it rich."""

    bore: float = 2.1
    seepage: float = 0.03
    idle: float = 1.08
    main: float = 1.12
    idle_turns: float = 1.5
    """Turns that the idle needle stands open; the mixture follows it only as far as its passage lets it."""
    main_turns: float = 1.25
    idle_passage: float = 1.0
    level: float = 1.0
    """Fuel level in the bowl, 1 right, above it flooding."""
    supply: float = 3.0
    """Fuel that can reach the bowl, per unit of what full load burns."""
    air_leak: float = 0.0
    """Air that enters past the throttle, as throttle area."""
    ice: float = 0.0
    cleaner: float = 0.008
    """Pressure lost in the air cleaner at full air flow."""
    choke_stuck: float | None = None
    """Opening at which the choke stays, 0 shut to 1 open."""
    choke_setting: float = 0.0
    """How far the choke is set too rich: it lags its warmth by so much."""
    heater: float = 1.0
    """Warmth that the choke's heater gives, 1 sound."""
    part_choke: float = 0.0
    """How far somebody closes it by hand."""


@dataclass(frozen=True, slots=True)
class Engine:
    """Torques per unit of rated shaft torque, inertia as the time in s in which that torque brings it to rated speed."""

    cylinders: int = 2
    torque: float = 2.25
    friction: float = 0.33
    inertia: float = 4.0
    intake_lag: float = 0.10
    fire_lag: float = 0.045
    fuel_lag: float = 0.15
    scatter: float = 0.03
    """Spread of a power stroke's torque from one to the next, part of it."""
    strength: tuple[float, ...] = (1.0, 1.0)
    misfire: tuple[float, ...] = (0.0, 0.0)
    hang: float = 0.0
    """Chance, each second, that a valve hangs for a while in the first cylinder."""
    exhaust: float = 0.03
    """Back pressure at full flow."""
    cold_extra: float = 0.35
    """Friction that cold oil adds, part of the warm one."""


@dataclass(frozen=True, slots=True)
class Generator:
    """Voltage and what the load makes of it."""

    volts: float = 0.99
    compounding: float = 0.9
    """How voltage follows speed: 1 in proportion, 0 not at all."""
    fall: float = 0.02
    swing: float = 0.0
    """Amplitude of a regulator's own swing, part of the voltage."""
    swing_hertz: float = 0.8
    motor: float = 0.0
    """Part of the load that is motors: torque with speed, inrush when switched on."""
    cycle: float = 0.0
    """Part of the load that comes and goes by itself."""
    cycle_seconds: float = 9.0
    legs: tuple[float, ...] = (1.0, 1.0)
    """Load of each leg over its even share."""
    load_factor: float = 1.0
    """What hangs on the set over what it should carry."""


@dataclass(frozen=True, slots=True)
class Meter:
    """The technician's frequency meter: a cheap one, tenths of a hertz, two readings a second."""

    offset: float = 0.0
    noise: float = 0.03
    restless: float = 0.0
    """Chance that a reading is disturbed by the waveform or a weak battery, and then by up to 2 Hz."""


@dataclass(frozen=True, slots=True)
class Looks:
    """What only a look or a gauge on the stopped set shows. `spring` is an outcome of the look at the spring."""

    spring: str = "sound"
    points: float = 0.020
    """Gap in in."""
    timing: float = 0.0
    """Degrees of crank, + early."""
    oil: float = 0.0
    """Oil that is burnt, 0 none to 1 a blue cloud."""
    compression: tuple[float, ...] = (122.0, 120.0)
    """psi."""
    stale: float = 0.0
    heater_volts: float = 12.6
    heater_ohms: float = 14.0


@dataclass(frozen=True, slots=True)
class Plant:
    """A set in full. `pressure` is the site's air over standard air."""

    hertz: float = 60.0
    poles: int = 4
    pressure: float = 1.0
    governor: SetGovernor = field(default_factory=SetGovernor)
    drive_jitter: float = 0.0
    """Shake of the weights' speed by a worn drive, per unit."""
    governor_play: float = 0.0
    """Lost motion between weights and arm, per unit of travel."""
    linkage: Linkage = field(default_factory=Linkage)
    booster: Booster = field(default_factory=Booster)
    carburetor: Carburetor = field(default_factory=Carburetor)
    engine: Engine = field(default_factory=Engine)
    generator: Generator = field(default_factory=Generator)
    meter: Meter = field(default_factory=Meter)
    looks: Looks = field(default_factory=Looks)


@dataclass(frozen=True, slots=True)
class State:
    """What the set remembers from one instant to the next; all per unit."""

    speed: float = 1.0
    travel: float = 0.5
    plate: float = 0.3
    manifold: float = 0.4
    fire: float = 0.33
    mixture: float = 1.1
    vacuum: float = 0.6
    """In the booster."""
    bowl: float = 1.0
    slip: float = 0.0
    stalled: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    """Some seconds of a run at one load, per unit of rated; `hold` is a throttle held by hand."""

    seconds: float
    load: float = 0.0
    hold: float | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """Records of a run, `rate` a second: frequency in Hz, plate and arm travel and manifold per unit, voltage per unit."""

    rate: float
    hertz: tuple[float, ...]
    plate: tuple[float, ...]
    travel: tuple[float, ...]
    manifold: tuple[float, ...]
    volts: tuple[float, ...]
    state: State


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
class Air:
    """What temperature and choke make of air, fuel and friction at one time; constants of a run."""

    restriction: float
    enrich: float
    friction: float


def air(plant: Plant, minutes: float) -> Air:
    """Restriction ahead of the throttle, factor on the mixture and factor on friction, minutes after a cold start.

    Cold fuel does not all turn to vapour, so that cold mixtures are lean without choke; thin air makes them rich as the
    root of the density (H. N. Gupta, Ex. 9.7).
    """
    cold = 1.0 - warmth(minutes)
    shut = 1.0 - choke_opening(plant.carburetor, minutes)
    restriction = plant.carburetor.cleaner + 0.45 * shut**2
    enrich = (1.0 + 0.75 * shut) * (1.0 - 0.30 * cold) / math.sqrt(plant.pressure)
    return Air(restriction, enrich, 1.0 + plant.engine.cold_extra * cold)


def area(carburetor: Carburetor, plate: float) -> float:
    """Flow area of the throttle and what seeps past it, as flow per unit when choked."""
    ice = carburetor.ice
    return carburetor.bore * (1.0 - 0.62 * ice) * (carburetor.seepage + plate * (0.90 + 0.07 * plate))


def manifold(flow_area: float, speed: float, ahead: float) -> float:
    """Manifold pressure at which what flows in is what the engine draws.

    Orifice flow with the elliptic form area * sqrt(1 - ((r - 0.53)/0.47)^2) above the critical ratio r, a constant below.
    """
    if flow_area <= CRITICAL * speed:
        return ahead * flow_area / speed
    bend = flow_area * flow_area / _SPAN2
    first = speed * speed + bend
    half = bend * CRITICAL
    last = bend * CRITICAL**2 - flow_area * flow_area
    return ahead * (half + math.sqrt(half * half - first * last)) / first


def mixture(plant: Plant, flow: float, restricted: float, enrich: float, bowl: float) -> float:
    """Equivalence ratio that the carburetor gives at an air flow: idle circuit, main circuit and the change between them."""
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
    firing = sum(s * (1.0 - m) for s, m in zip(engine.strength, engine.misfire, strict=True)) / len(engine.strength)
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


def limits(plant: Plant, slip: float = 0.0) -> tuple[float, float]:
    """Least and greatest travel of the arm: its own ends, and the plate's stops seen through the rod."""
    linkage, governor = plant.linkage, plant.governor
    base = 1.0 - linkage.gap + linkage.rod + slip
    least = max(governor.innermost, (base - linkage.stop_open) / linkage.ratio)
    most = min(governor.outermost, (base - linkage.stop_closed) / linkage.ratio)
    return least, max(least, most)


def excess(plant: Plant, plate: float, speed: float, load: float, now: Air) -> tuple[float, float, float]:
    """Static torque left over at a plate, speed and load; with the manifold pressure and mixture there."""
    carburetor = plant.carburetor
    through = area(carburetor, plate)
    leak = carburetor.air_leak
    ahead = plant.pressure
    pressure = ahead
    for _ in range(8):  # the loss ahead of the throttle depends on the flow that it lets through
        pressure = manifold(through + leak, speed, ahead)
        flow = pressure * speed
        ahead = max(0.1, plant.pressure - now.restriction * flow * flow)
    flow = pressure * speed
    drawn = through / (through + leak)
    bowl = carburetor.level if carburetor.supply >= 1.5 else _bowl(carburetor, flow)
    ratio = mixture(plant, flow, now.restriction * flow * flow, now.enrich, bowl) * drawn
    left = indicated(plant, pressure, ratio) - losses(plant, speed, now.friction, flow) - load_torque(plant, load, speed)
    return left, pressure, ratio


def _bowl(carburetor: Carburetor, flow: float) -> float:
    return min(carburetor.level, max(0.0, (carburetor.supply / max(flow, 0.05) - 0.45) / 0.55))


def equilibrium(plant: Plant, load: float = 0.0, minutes: float = 60.0) -> State:
    """Where the set stands at rest at a load, by static balance alone: no drag, no play, no swing.

    A set that cannot hold the load is returned stalled.
    """
    now = air(plant, minutes)
    least, most = limits(plant)
    booster = plant.booster

    def at(travel: float) -> tuple[float, float, float, float, float]:
        plate = plate_at(plant.linkage, travel)
        speed, pressure, ratio, left = 1.0, 0.5, 1.0, 0.0
        for _ in range(12):
            help_ = boost(booster, booster.reach * (plant.pressure - pressure))
            speed = 0.5 * speed + 0.5 * max(0.05, plant.governor.balance(travel, help_))
            left, pressure, ratio = excess(plant, plate, speed, load, now)
        return left, speed, pressure, ratio, plate

    low, high = least, most
    if at(high)[0] > 0.0 or at(low)[0] < 0.0:
        # The governor has no say: the plate rests at an end and torque alone decides.
        travel = high if at(high)[0] > 0.0 else low
        plate = plate_at(plant.linkage, travel)
        slow, fast = 0.3, 2.5
        # Stable balance is where more speed leaves less torque, so search down from the fast side.
        speed = fast
        while speed > slow and excess(plant, plate, speed, load, now)[0] < 0.0:
            speed -= 0.02
        stalled = speed <= slow
        low, high = speed, speed + 0.02
        for _ in range(30):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if excess(plant, plate, middle, load, now)[0] > 0.0 else (low, middle)
        left, pressure, ratio = excess(plant, plate, low, load, now)
        fire = losses(plant, low, now.friction, pressure * low) + load_torque(plant, load, low)
        held = booster.reach * (plant.pressure - pressure)
        return State(low, travel, plate, pressure, fire, ratio, held, plant.carburetor.level, 0.0, stalled)
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if at(middle)[0] > 0.0 else (low, middle)
    left, speed, pressure, ratio, plate = at(0.5 * (low + high))
    fire = losses(plant, speed, now.friction, pressure * speed) + load_torque(plant, load, speed)
    held = booster.reach * (plant.pressure - pressure)
    return State(speed, 0.5 * (low + high), plate, pressure, fire, ratio, held, plant.carburetor.level)


def with_no_load(plant: Plant, hertz: float, minutes: float = 60.0) -> Plant:
    """The same set with its speed adjuster turned until no load stands at a frequency, as far as the thread goes.

    Only the adjuster is turned: where something else holds the throttle, no load does not come there.
    """
    low, high = -25.0, 25.0
    for _ in range(30):
        turns = 0.5 * (low + high)
        tried = replace(plant, governor=replace(plant.governor, speed_turns=turns))
        if equilibrium(tried, 0.0, minutes).speed * plant.hertz < hertz:
            low = turns
        else:
            high = turns
    return replace(plant, governor=replace(plant.governor, speed_turns=0.5 * (low + high)))


def run(
    plant: Plant,
    stretches: Sequence[Stretch],
    seed: int,
    minutes: float = 60.0,
    state: State | None = None,
    step: float = DURATION,
) -> Run:
    """Let the set run through some stretches of load, begun from a state or from rest at the first load.

    minutes: since the cold start, 60 is fully warm. seed: of the power strokes. step: s, recorded 20 times a second.
    """
    if state is None:
        state = equilibrium(plant, stretches[0].load, minutes)
    now = air(plant, minutes)
    governor, linkage, booster, carburetor = plant.governor, plant.linkage, plant.booster, plant.carburetor
    engine, generator = plant.engine, plant.generator
    # Everything the loop touches is a local: attribute look-ups would halve the speed.
    radius, spread, drive = governor.radius, governor.spread, governor.drive_ratio
    lever = governor.lever
    pull, rate = lever * governor.pull, governor.rate * lever * lever
    per_damping = step / governor.damping
    ratio, base = linkage.ratio, 1.0 - linkage.gap + linkage.rod
    own_drag = governor.drag + linkage.drag * 0.7 + booster.drag
    vacuum_drag = 0.5 * linkage.drag
    half_play = 0.5 * (linkage.play + plant.governor_play * ratio)
    play_taken = 2.2 * (linkage.play / (linkage.play + plant.governor_play * ratio + 1e-12))
    stop_open, stop_closed, creep = linkage.stop_open, linkage.stop_closed, linkage.arm_slips
    lift = booster.linked * booster.strength
    per_holding, reach = 1.0 / booster.holding, booster.reach
    per_booster = step / (booster.lag * (1.0 + 4.0 * booster.blocked))
    barometer, leak, residual = plant.pressure, carburetor.air_leak, RESIDUAL * plant.pressure
    bore = carburetor.bore * (1.0 - 0.62 * carburetor.ice)
    seep = bore * carburetor.seepage
    idle = carburetor.idle * min(carburetor.idle_passage, 1.0) * now.enrich
    main, restriction = carburetor.main * now.enrich, now.restriction
    supply, level = carburetor.supply, carburetor.level
    torque, friction = engine.torque, 0.5 * engine.friction * now.friction
    back, per_inertia = engine.exhaust, step / engine.inertia
    per_intake, per_fire, per_fuel = step / engine.intake_lag, step / engine.fire_lag, step / engine.fuel_lag
    strength, misfire, count = engine.strength, engine.misfire, len(engine.strength)
    strokes = engine.cylinders * plant.hertz / plant.poles * step
    # A uniform draw of -0.5 to 0.5 has a deviation of 1/sqrt(12).
    scatter, hang = engine.scatter * math.sqrt(12.0), engine.hang
    volts, follow = generator.volts, generator.compounding
    swing, swing_turn = generator.swing, 2.0 * math.pi * generator.swing_hertz * step
    motor, cycle, cycle_seconds = generator.motor, generator.cycle, generator.cycle_seconds
    jitter, jitter_turn = plant.drive_jitter, 2.0 * math.pi * 6.3 * step
    speed, travel, plate, pressure = state.speed, state.travel, state.plate, state.manifold
    fire, rich, vacuum, bowl, slip = state.fire, state.mixture, state.vacuum, state.bowl, state.slip
    stalled = state.stalled
    base += slip
    least, most = limits(plant, slip)
    draws, stroke, firing, hanging, grip = draw_state(seed), 0.0, 1.0, 0.0, 1.0
    cylinder, elapsed = 0, 0.0
    span2, critical = 1.0 / _SPAN2, CRITICAL
    hertz = plant.hertz
    out_speed: list[float] = []
    out_plate: list[float] = []
    out_travel: list[float] = []
    out_manifold: list[float] = []
    out_volts: list[float] = []
    inrush, last_load = 0.0, stretches[0].load
    every = max(1, round(RECORD_EVERY * DURATION / step))
    count_down = every
    sqrt, sin = math.sqrt, math.sin
    special = bool(swing or cycle or jitter or motor)
    for stretch in stretches:
        load = stretch.load * generator.load_factor
        held = stretch.hold
        if stretch.load > last_load:
            inrush = motor * (stretch.load - last_load) * 2.0
        elif stretch.load < last_load and creep:
            slip += creep
            base += creep
            least, most = limits(plant, slip)
        if stretch.load != last_load and own_drag + vacuum_drag > 0.004:
            # Where dry surfaces last stopped decides how hard they hold: it is never twice the same.
            draws = (draws * MULTIPLIER + INCREMENT) & MASK
            grip = 0.4 + 1.2 * draws / (MASK + 1)
        last_load = stretch.load
        for _ in range(round(stretch.seconds / step)):
            shown_volts = volts * (1.0 + follow * (speed - 1.0))
            weigh = speed * drive
            demand = load
            if special:
                elapsed += step
                if swing:
                    shown_volts *= 1.0 + swing * sin(elapsed / step * swing_turn)
                if cycle and (elapsed % cycle_seconds) > 0.5 * cycle_seconds:
                    demand = load * (1.0 - cycle)
                if jitter:
                    weigh *= 1.0 + jitter * sin(elapsed / step * jitter_turn)
                inrush -= inrush * step / 0.35
            # Governor: weights against spring and booster; drag holds, then opposes.
            push = weigh * weigh * (radius + spread * travel) - pull - rate * travel
            off = 1.0 - vacuum * per_holding
            if off > 0.0:
                push -= lift if off > 1.0 else lift * off
            drag = grip * (own_drag + vacuum_drag * (barometer - pressure))
            if push > drag:
                travel += (push - drag) * per_damping
            elif push < -drag:
                travel += (push + drag) * per_damping
            if travel < least:
                travel = least
            elif travel > most:
                travel = most
            # Rod with lost motion, stops.
            if held is None:
                rod = base - ratio * travel
                if half_play:
                    slack = half_play * (1.0 - play_taken * (plate - 0.2)) if plate > 0.2 else half_play
                    if slack < 0.0:
                        slack = 0.0
                    # The closing torque of the flow lays the play to the closed side as it is taken up.
                    side = half_play - slack
                    if plate > rod + slack - side:
                        plate = rod + slack - side
                    elif plate < rod - slack - side:
                        plate = rod - slack - side
                else:
                    plate = rod
                if plate > stop_open:
                    plate = stop_open
                elif plate < stop_closed:
                    plate = stop_closed
            else:
                plate = held
            # Combustion follows the manifold and mixture as they were, so that lags and leads of the steps cancel.
            off = rich - 1.12
            burnt = 1.0 - (2.2 if off < 0.0 else 0.5) * off * off
            made = torque * (pressure - residual) * burnt * firing
            if made < 0.0 or burnt < 0.0:
                made = 0.0
            fire += (made - fire) * per_fire
            # Intake: throttle flow against what the engine draws.
            flow = pressure * speed
            lost = restriction * flow * flow
            through = seep + bore * plate * (0.90 + 0.07 * plate)
            open_ = through + leak
            if open_ <= critical * speed:
                goal = open_ / speed
            else:
                square = open_ * open_
                bend = square * span2
                first = speed * speed + bend
                half = bend * critical
                goal = (half + sqrt(half * half - first * (half * critical - square))) / first
            pressure += (goal * (barometer - lost) - pressure) * per_intake
            # Mixture: idle circuit, main circuit, bowl.
            share = (0.64 - flow) * 5.0
            if share >= 1.0:
                wanted = idle * (0.8 + 0.2 * bowl)
            else:
                wanted = main * (0.45 + 0.55 * bowl) * (1.0 + 1.2 * lost)
                if share > 0.0:
                    wanted += share * (idle * (0.8 + 0.2 * bowl) - wanted)
            if leak:
                wanted *= through / open_
            rich += (wanted - rich) * per_fuel
            if supply < 1.5:
                feed = supply if bowl < level - 0.1 else supply * (level - bowl) * 10.0
                bowl += (feed - flow * (0.45 + 0.55 * bowl)) * step * 0.12
                if bowl < 0.0:
                    bowl = 0.0
            vacuum += ((barometer - pressure) * reach - vacuum) * per_booster
            # Load and rotor.
            braking = demand * ((1.0 - motor) * shown_volts * shown_volts / speed + motor * speed) + inrush
            braking += friction * (1.0 + speed * speed) + back * flow * flow
            speed += (fire - braking) * per_inertia
            if speed < 0.35:
                speed, fire, stalled, pressure = 0.05, 0.0, True, barometer
                travel = least
                firing = 0.0
            elif speed > FASTEST:
                speed = FASTEST
            # The next power stroke, if it is due, draws its strength.
            stroke += speed * strokes
            if stroke >= 1.0 and not stalled:
                stroke -= 1.0
                cylinder = cylinder + 1 if cylinder + 1 < count else 0
                draws = (draws * MULTIPLIER + INCREMENT) & MASK
                chance = draws / (MASK + 1)
                failing = misfire[cylinder]
                if rich < 0.84:
                    failing += 2.6 * (0.84 - rich)
                elif rich > 1.5:
                    failing += 1.2 * (rich - 1.5)
                if hang and cylinder == 0:
                    if hanging > 0.0:
                        hanging -= 1.0
                        failing += 0.9
                    elif chance < hang * step * count / strokes:
                        hanging = 8.0 + 500.0 * chance / hang
                # High and low parts of one draw serve two questions.
                if chance < failing:
                    firing = 0.0
                else:
                    draws = (draws * MULTIPLIER + INCREMENT) & MASK
                    firing = strength[cylinder] * (1.0 + scatter * (draws / (MASK + 1) - 0.5))
            count_down -= 1
            if not count_down:
                count_down = every
                out_speed.append(0.0 if stalled else speed * hertz)
                out_plate.append(plate)
                out_travel.append(travel)
                out_manifold.append(pressure)
                out_volts.append(0.0 if stalled else shown_volts * (1.0 - generator.fall * demand))
    last = State(speed, travel, plate, pressure, fire, rich, vacuum, bowl, slip, stalled)
    return Run(
        1.0 / (every * step), tuple(out_speed), tuple(out_plate), tuple(out_travel), tuple(out_manifold), tuple(out_volts), last
    )
