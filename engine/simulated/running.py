"""A set in motion: speed, throttle, manifold and voltage from step to step under any load.

Purpose: the run of a set through stretches of load, recorded as an instrument would.
Law: mean values at fixed steps; a power stroke draws its own strength, which is where chance comes in; the same
plant, stretches and seed give the same run. A run goes through the same relations as `equilibrium`, written out.
Not here: what a technician makes of a run (see `observation`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .equilibrium import CRITICAL, FASTEST, IRON_KEEPS, LOADED, SLOWEST_LOADED, SPAN2, WARM, equilibrium, limits
from .plant import Plant, PlantState
from .strokes import PowerStrokes
from .terms import Terms, terms_of

DURATION = 0.01
"""Length of a step in s."""
RECORD_EVERY = 5
"""Steps from one record to the next: 20 records a second."""
SLOWEST_UNLOADED = 0.35
"""Speed per unit below which a set stalls that carries no load."""


@dataclass(frozen=True, slots=True)
class RunSegment:
    """Some seconds of a run at one load, per unit of rated; `hold` is a throttle held by hand."""

    seconds: float
    load: float = 0.0
    hold: float | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """Records of a run, `rate` a second: frequency in Hz, 0 where there are no volts to read it from; plate, travel of
    the arm, manifold and voltage per unit."""

    rate: float
    hertz: tuple[float, ...]
    plate: tuple[float, ...]
    travel: tuple[float, ...]
    manifold: tuple[float, ...]
    volts: tuple[float, ...]
    state: PlantState


def run(
    plant: Plant,
    stretches: Sequence[RunSegment],
    seed: int,
    minutes: float = WARM,
    state: PlantState | None = None,
    step: float = DURATION,
) -> Run:
    """Let the set run through some stretches of load, begun from a state or from rest at the first load.

    minutes: since the cold start, 60 is fully warm. seed: of the power strokes. step: s, recorded 20 times a second.
    """
    state = equilibrium(plant, stretches[0].load, minutes) if state is None else state
    if state.stalled and stretches[0].load > LOADED:
        state = equilibrium(plant, 0.0, minutes)  # what does not carry a load was running before it came on
    every = max(1, round(RECORD_EVERY * DURATION / step))
    strokes = PowerStrokes(plant.engine, seed, step, _strokes_a_step(plant, step))
    records, last = _steps(plant, terms_of(plant, minutes, step), stretches, strokes, state, step, every)
    hertz, plate, travel, manifold, volts = map(tuple, records)
    return Run(1.0 / (every * step), hertz, plate, travel, manifold, volts, last)


def _strokes_a_step(plant: Plant, step: float) -> float:
    """Power strokes in a step at rated speed."""
    return plant.engine.cylinders * plant.hertz / plant.poles * step


Records = tuple[list[float], list[float], list[float], list[float], list[float]]
"""Frequency in Hz; plate, travel, manifold and voltage per unit."""


@dataclass(slots=True)
class _Motion:
    """A set in the midst of a run: its state, and what goes over from one stretch to the next besides."""

    speed: float
    travel: float
    plate: float
    pressure: float
    fire: float
    rich: float
    vacuum: float
    bowl: float
    slip: float
    stalled: bool
    dead: bool
    base: float
    """Where the rod stands, with what the arm has slipped."""
    count_down: int
    """Steps until the next record."""
    load: float
    inrush: float = 0.0
    grip: float = 1.0
    """How hard dry surfaces hold, to what they usually do."""
    stroke: float = 0.0
    firing: float = 1.0
    elapsed: float = 0.0

    carried: float = 0.0
    """What of that load is on: none of it once the field has collapsed."""
    holds: float = 0.0
    """Voltage below which the field collapses; 0 where it cannot."""
    slowest: float = SLOWEST_UNLOADED

    def enter(self, stretch: RunSegment, plant: Plant, terms: Terms, chance: PowerStrokes) -> None:
        """What a change of load does at once."""
        more = stretch.load - self.load
        if more > 0.0:
            self.inrush = terms.load.motor * more * 2.0
        elif more < 0.0 and terms.linkage.creep:
            self.slip += terms.linkage.creep
            self.base += terms.linkage.creep
        if more and terms.governor.own_drag + terms.governor.vacuum_drag > 0.004:
            # Where dry surfaces last stopped decides how hard they hold: it is never twice the same.
            self.grip = 0.4 + 1.2 * chance.uniform()
        self.load = stretch.load
        # Without a load the field builds up again from what the iron keeps; under one it does not.
        self.dead = self.dead and stretch.load > LOADED
        self.carried, self.holds, self.slowest = stretch.load * plant.generator.load_factor, 0.0, SLOWEST_UNLOADED
        if self.carried <= LOADED:
            return
        if self.dead:
            self.carried = self.inrush = 0.0
        else:
            self.holds, self.slowest = terms.load.holds, SLOWEST_LOADED

    @property
    def state(self) -> PlantState:
        return PlantState(
            self.speed, self.travel, self.plate, self.pressure, self.fire, self.rich, self.vacuum, self.bowl, self.slip,
            self.stalled, self.dead,
        )  # fmt: skip


def _steps(
    plant: Plant,
    terms: Terms,
    stretches: Sequence[RunSegment],
    chance: PowerStrokes,
    state: PlantState,
    step: float,
    every: int,
) -> tuple[Records, PlantState]:
    """Every step of a run, with a record after `every` of them."""
    records: Records = ([], [], [], [], [])
    motion = _Motion(
        state.speed, state.travel, state.plate, state.manifold, state.fire, state.mixture, state.vacuum, state.bowl,
        state.slip, state.stalled, state.dead, terms.linkage.base + state.slip, every, stretches[0].load,
    )  # fmt: skip
    for stretch in stretches:
        motion.enter(stretch, plant, terms, chance)
        _stretch(plant, terms, stretch, chance, motion, step, every, records)
    return records, motion.state


def _stretch(
    plant: Plant,
    terms: Terms,
    stretch: RunSegment,
    chance: PowerStrokes,
    motion: _Motion,
    step: float,
    every: int,
    records: Records,
) -> None:
    """The steps of one stretch.

    Longer than other functions on purpose: three calls a step that do nothing but take and
    give back what governor, air and rotor would, make a run slower by a fifth to a third, as measured.
    One, for lost motion, is paid for by what the circuits give of a bowl that stays full: that is worked out once.
    """
    radius, spread, drive, pull, rate, per_damping, own_drag, vacuum_drag = terms.governor
    ratio, _, half_play, play_taken, stop_open, stop_closed, _ = terms.linkage
    lift, per_holding, reach, per_booster = terms.booster
    barometer, leak, residual, bore, seep, restriction, per_intake = terms.intake
    idle, main, supply, level, per_fuel = terms.fuel
    torque, friction, back, per_inertia, per_fire = terms.rotor
    volts, follow, _, swing, swing_turn, motor, cycle, cycle_seconds, jitter, jitter_turn = terms.load
    fall, hertz = plant.generator.fall, plant.hertz
    strokes, next_stroke = _strokes_a_step(plant, step), chance.next
    speed, travel, plate, pressure = motion.speed, motion.travel, motion.plate, motion.pressure
    fire, rich, vacuum, bowl, stalled = motion.fire, motion.rich, motion.vacuum, motion.bowl, motion.stalled
    grip, stroke, firing, elapsed = motion.grip, motion.stroke, motion.firing, motion.elapsed
    base, count_down = motion.base, motion.count_down
    least, most = limits(plant, motion.slip)
    span2, critical = 1.0 / SPAN2, CRITICAL
    out_speed, out_plate, out_travel, out_manifold, out_volts = records
    sqrt, sin = math.sqrt, math.sin
    unsteady = bool(swing or cycle or jitter or motor)
    load, holds, slowest, dead, inrush = motion.carried, motion.holds, motion.slowest, motion.dead, motion.inrush
    held, resistive = stretch.hold, 1.0 - motor
    idle_gives, main_gives = idle * (0.8 + 0.2 * bowl), main * (0.45 + 0.55 * bowl)
    for _ in range(round(stretch.seconds / step)):
        shown_volts = volts * (1.0 + follow * (speed - 1.0))
        if shown_volts < holds:  # the field collapses, and the load goes with it
            dead, load, inrush, holds, slowest = True, 0.0, 0.0, 0.0, SLOWEST_UNLOADED
        weigh = speed * drive
        demand = load
        if unsteady:
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
            plate = _through_play(rod, plate, half_play, play_taken) if half_play else rod
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
            wanted = idle_gives
        else:
            wanted = main_gives * (1.0 + 1.2 * lost)
            if share > 0.0:
                wanted += share * (idle_gives - wanted)
        if leak:
            wanted *= through / open_
        rich += (wanted - rich) * per_fuel
        if supply < 1.5:
            feed = supply if bowl < level - 0.1 else supply * (level - bowl) * 10.0
            bowl += (feed - flow * (0.45 + 0.55 * bowl)) * step * 0.12
            if bowl < 0.0:
                bowl = 0.0
            idle_gives, main_gives = idle * (0.8 + 0.2 * bowl), main * (0.45 + 0.55 * bowl)
        vacuum += ((barometer - pressure) * reach - vacuum) * per_booster
        # Load and rotor.
        braking = demand * (resistive * shown_volts * shown_volts / speed + motor * speed) + inrush
        braking += friction * (1.0 + speed * speed) + back * flow * flow
        speed += (fire - braking) * per_inertia
        if speed < slowest:
            speed, fire, stalled, pressure, travel, firing = 0.05, 0.0, True, barometer, least, 0.0
        elif speed > FASTEST:
            speed = FASTEST
        # The next power stroke, if it is due, draws its strength.
        stroke += speed * strokes
        if stroke >= 1.0 and not stalled:
            stroke -= 1.0
            firing = next_stroke(rich)
        count_down -= 1
        if not count_down:
            count_down = every
            out_speed.append(0.0 if stalled or dead else speed * hertz)
            out_plate.append(plate)
            out_travel.append(travel)
            out_manifold.append(pressure)
            shown = IRON_KEEPS * speed if dead else shown_volts * (1.0 - fall * demand)
            out_volts.append(0.0 if stalled else shown)
    motion.speed, motion.travel, motion.plate, motion.pressure = speed, travel, plate, pressure
    motion.fire, motion.rich, motion.vacuum, motion.bowl = fire, rich, vacuum, bowl
    motion.stalled, motion.dead = stalled, dead
    motion.inrush, motion.stroke, motion.firing, motion.elapsed = inrush, stroke, firing, elapsed
    motion.count_down = count_down


def _through_play(rod: float, plate: float, half_play: float, play_taken: float) -> float:
    """Where a rod with lost motion leaves the plate: it follows once the play is taken up on that side."""
    slack = half_play * (1.0 - play_taken * (plate - 0.2)) if plate > 0.2 else half_play
    if slack < 0.0:
        slack = 0.0
    # The closing torque of the flow lays the play to the closed side as it is taken up.
    side = half_play - slack
    if plate > rod + slack - side:
        return rod + slack - side
    if plate < rod - slack - side:
        return rod - slack - side
    return plate
