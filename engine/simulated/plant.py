"""The parts of a small carbureted generating set with a mechanical governor.

Purpose: the parameters of every part with their sound values, and the state that a running set remembers.
Law: frozen values, per unit of rated speed, rated electrical power and standard air.
Source: constants of the set from memory, chosen so that the sound set behaves as common practice says: about 61 to
62 Hz with no load, 60 Hz at full load.
Not here: how the parts act on each other (see `equilibrium`, `running`) and what is wrong with them (see `faults`).
"""

from __future__ import annotations

from dataclasses import dataclass, field

from .governor import SetGovernor


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
    return_spring: float = 1.0
    """Pull of the light spring at the throttle shaft that takes up the play, 1 sound."""
    arm_slips: float = 0.0
    """How far the arm creeps toward open on its shaft each time a load goes off."""


@dataclass(frozen=True, slots=True)
class Booster:
    """Vacuum booster: its spring helps to open, manifold vacuum holds it off. `strength` 0 means none fitted."""

    strength: float = 0.083
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
    hot_leak: float = 0.0
    """The same where a joint opens only as the metal warms."""
    wet: float = 0.36
    """Part of the fuel that a cold engine does not turn to vapour; none of a gas."""
    needle: float = 0.0
    """Float needle: above 0 it lets fuel past when it should shut, below 0 it holds fuel back when it should open."""
    height: str = "near_this_height"
    """Where it was set: near_this_height, much_higher or much_lower."""
    ice: float = 0.0
    cleaner: float = 0.008
    """Pressure lost in the air cleaner at full air flow."""
    choke_stuck: float | None = None
    """Opening at which the choke stays, 0 shut to 1 open."""
    choke_setting: float = 0.0
    """How far the choke is set too rich: it lags its warmth by so much."""
    heater: float = 1.0
    """Warmth that the choke's heater gives, 1 sound."""
    choke_left: bool = False
    """Whether it stands where it does because somebody left it so, and would move."""
    part_choke: float = 0.0
    """How far somebody closes it by hand."""


@dataclass(frozen=True, slots=True)
class Engine:
    """Torques per unit of rated shaft torque; inertia as the time in s in which that torque brings it to speed."""

    cylinders: int = 2
    torque: float = 2.25
    friction: float = 0.33
    inertia: float = 3.5
    intake_lag: float = 0.09
    fire_lag: float = 0.04
    fuel_lag: float = 0.15
    scatter: float = 0.025
    """Spread of a power stroke's torque from one to the next, part of it."""
    strength: tuple[float, ...] = (1.0, 1.0)
    misfire: tuple[float, ...] = (0.0, 0.0)
    hang: float = 0.0
    """Chance, each second, that a valve hangs for a while in the first cylinder."""
    exhaust: float = 0.03
    """Back pressure at full flow."""
    mounts: float = 0.0
    """How far the mounts let the set shake, 0 sound to 1 torn."""
    cold_extra: float = 0.35
    """Friction that cold oil adds, part of the warm one."""


@dataclass(frozen=True, slots=True)
class Generator:
    """Voltage and what the load makes of it."""

    volts: float = 1.0
    compounding: float = 0.8
    """How voltage follows speed: 1 in proportion, 0 not at all."""
    fall: float = 0.02
    holds: float = 0.75
    """Share of its own voltage, at rated speed, below which its field no longer holds under load; 0: it is forced."""
    swing: float = 0.0
    """Amplitude of a regulator's own swing, part of the voltage."""
    contact: float = 0.0
    """Amplitude of what a bad contact at the brushes does to it, by hand control as well."""
    brushes: str = "sound"
    diodes: str = "good"
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
    """What only a look or a gauge on the stopped set shows. Words are outcomes of the look at that part."""

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
    bought: str = "this_season"
    boils: float = 0.0
    """How readily fuel boils in the hot line, 0 not to 1."""
    pump: float = 1.0
    """Delivery of the fuel pump by itself, 1 sound."""
    tank: str = "enough_and_open"
    leaks_out: bool = False
    gas: float = 1.0
    """Gas pressure with no load, per unit of what it should be; under load the supply tells as well."""
    gas_fuel: str = "this_fuel"
    frost: bool = False
    flooded: bool = False
    """By the way it is started."""
    drags_cold: float = 0.0
    """How far cold keeps fuel from turning to vapour, and the oil thick."""
    cooling: float = 0.0
    """Part of the cooling air that is kept away."""
    intake_heat: float = 10.0
    """How much warmer than outdoors the air at the air cleaner is, degrees F."""
    oil_level: str = "right"
    carbon: float = 0.0
    knocks: bool = False
    heater_volts: float = 12.6
    heater_ohms: float = 14.0
    governor_oil: str = "right"
    governor_belt: str = "tight"
    damper: str = "right"
    idle_control: str = "works"
    points_face: str = "clean"
    advance: str = "advances"


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
class PlantState:
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
    dead: bool = False
    """The field has collapsed under load: the engine runs on, and there are no volts but what the iron keeps."""
