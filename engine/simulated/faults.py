"""What each cause does to the physics of a set.

Purpose: cause id and severity -> change of the plant's parameters.
Law: pure functions of plant and severity, 0 just there to 1 as bad as is met; ids are those of the knowledge base.
Sources: the physics told in the notes of knowledge/areas; sizes from memory, so that a severity of 0 is just noticed.
Not checked here: whether a cause exists on this set (see `model.Condition`), and looks that have no physics.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, replace
from typing import Any

from ..problems import HertzwrightError
from .attachments import ATTACHED_FAULTS
from .equilibrium import WARM, equilibrium, with_no_load
from .plant import Plant
from .sound_set import NO_LOAD, changed, rated_load

Change = Callable[[Plant, float], Plant]


class FaultError(HertzwrightError):
    """A cause that the simulated set does not know, or a severity that is none."""


def afflict(plant: Plant, faults: Iterable[tuple[str, float]], hide: float = 0.0) -> Plant:
    """The set with some faults, each a cause id and a severity.

    hide: how far somebody has turned the speed adjuster to bring no load back, 0 untouched to 1 all the way. A set
    whose sensitivity was turned is always brought back: nobody leaves it off speed after that.
    Raises FaultError for an id that is not known here or a severity outside 0 to 1.
    """
    turned, made = False, plant
    late: list[tuple[str, float]] = []
    for cause, severity in faults:
        if cause not in FAULTS:
            raise FaultError(f'"{cause}" is no cause that the simulated set knows')
        if not 0.0 <= severity <= 1.0:
            raise FaultError(f"severity of {severity:g} of {cause}; expected 0 to 1")
        if cause in ("speed_set_high", "speed_set_low"):
            late.append((cause, severity))
            continue
        plant = _stands(plant, made, cause, severity) if cause in STANDS else FAULTS[cause](plant, severity)
        turned = turned or cause in ("sensitivity_sharp", "sensitivity_sluggish")
    if turned or hide > 0.0:
        there = with_no_load(plant, NO_LOAD * plant.hertz / 60.0).governor.speed_turns
        # Nobody turns it for ever against something that does not answer, unless it has come to the end of its thread.
        reach = max(-3.5, min(plant.governor.thread, there))
        plant = changed(plant, "governor", speed_turns=there if turned else hide * reach)
    for cause, severity in late:
        plant = FAULTS[cause](plant, severity)
    governor = plant.governor
    # An adjuster stands no further than its thread goes, so that the first turn back is one.
    ends = max(-governor.thread, min(governor.thread, governor.speed_turns))
    return changed(plant, "governor", speed_turns=ends)


STANDS = frozenset({
    "throttle_rod_long", "throttle_rod_short", "throttle_not_reaching_full", "throttle_stop_open",
    "governor_arm_slipped", "damper_strong", "idle_control_faulty",
})  # fmt: skip
"""Causes that are told by where the sound set would stand. They are lengths and stops of metal: they stay where they
are when another fault comes or is cured."""


def _stands(plant: Plant, made: Plant, cause: str, severity: float) -> Plant:
    """The set with what such a cause makes of the set as it was made."""
    wrong = FAULTS[cause](made, severity)
    for part in fields(made):
        sound, now = getattr(made, part.name), getattr(wrong, part.name)
        if sound != now:
            moved = {each.name: getattr(now, each.name) for each in fields(now)}
            kept = {name: value for name, value in moved.items() if value != getattr(sound, name)}
            plant = changed(plant, part.name, **kept)
    return plant


def warm_minutes(faults: Iterable[tuple[str, float]]) -> float:
    """Minutes of running when somebody takes a set with these faults for warm; too few where it is not yet."""
    return min((6.0 - 4.0 * severity for cause, severity in faults if cause == "engine_not_warm"), default=WARM)


def _scale(plant: Plant, part: str, **factors: float) -> Plant:
    old = getattr(plant, part)
    return changed(plant, part, **{name: getattr(old, name) * factor for name, factor in factors.items()})


def _first(values: tuple[float, ...], value: float) -> tuple[float, ...]:
    return (value, *values[1:])


MIXTURE_PER_TURN = {"idle": 0.30, "main": 0.25}
"""What a turn of a needle makes of its mixture, part of it: as the needles of the faults below stand to theirs."""


# Linkage


def _rod_long(plant: Plant, severity: float) -> Plant:
    # Long enough that the arm ends where no load wants a little less than the plate still gives.
    needed = equilibrium(plant).plate
    ends = 1.0 - plant.linkage.gap - plant.linkage.ratio
    return changed(plant, "linkage", rod=needed - 0.02 - ends + 0.055 * severity)


def _rod_short(plant: Plant, severity: float) -> Plant:
    needed = equilibrium(plant, rated_load(plant)).plate
    return changed(plant, "linkage", rod=needed + 0.05 - 0.17 * severity - 1.0 + plant.linkage.gap)


def _arm_slipped(plant: Plant, severity: float) -> Plant:
    longer = _rod_long(plant, 0.7 * severity)
    return changed(longer, "linkage", arm_slips=0.004 + 0.006 * severity, play=0.02 * severity)


def _stop_open(plant: Plant, severity: float) -> Plant:
    return changed(plant, "linkage", stop_closed=equilibrium(plant).plate + 0.005 + 0.028 * severity)


def _short_of_full(plant: Plant, severity: float) -> Plant:
    return changed(plant, "linkage", stop_open=equilibrium(plant, rated_load(plant)).plate + 0.05 - 0.17 * severity)


# Governor


def _spring_weak(plant: Plant, severity: float) -> Plant:
    # Three ways to be wrong: tired up to a third, then too soft, then too stiff a one fitted in its place.
    # A longer spring leaves less thread to tighten it with.
    plant = changed(plant, "governor", thread=2.5)
    if severity < 0.35:
        weak = _scale(plant, "governor", tension=0.92 - 0.2 * severity, rate=0.98)
        return changed(weak, "looks", spring="stretched" if severity > 0.2 else "sound")
    if severity < 0.7:
        return _scale(plant, "governor", tension=0.74 - 0.1 * severity, rate=1.0 - 0.16 * severity)
    return _scale(plant, "governor", tension=0.95 - 0.1 * severity, rate=1.0 + 0.25 * severity)


def _spring_misplaced(plant: Plant, severity: float) -> Plant:
    # A hole or two too far out; at the worst it is off.
    if severity > 0.85:
        return changed(changed(plant, "governor", tension=0.0, rate=0.0), "looks", spring="broken_or_off")
    return changed(_scale(plant, "governor", hole=1.04 + 0.12 * severity), "looks", spring="wrong_hole")


def _flyweights(plant: Plant, severity: float) -> Plant:
    stuck = changed(plant, "governor", drag=0.016 + 0.05 * severity, outermost=1.0 - 0.22 * max(0.0, severity - 0.6))
    return replace(stuck, governor_play=0.02 * severity)


def _drive(plant: Plant, severity: float) -> Plant:
    worn = replace(plant, drive_jitter=0.012 + 0.028 * severity, governor_play=0.015 + 0.03 * severity)
    return changed(worn, "governor", drive_ratio=1.0 - 0.05 * max(0.0, severity - 0.5))


# Booster


def _passage(plant: Plant, severity: float) -> Plant:
    # A cracked hose lets the vacuum go as well, a plugged one only keeps it away.
    return changed(plant, "booster", blocked=0.3 + 0.7 * severity, leak=0.4 if severity < 0.5 else 0.0)


def _link_binding(plant: Plant, severity: float) -> Plant:
    if severity > 0.75:
        return changed(plant, "booster", linked=0.0)
    return changed(plant, "booster", drag=0.008 + 0.03 * severity, linked=1.0 - 0.6 * severity)


# Mixture and choke


def _idle_lean(plant: Plant, severity: float) -> Plant:
    carburetor = plant.carburetor
    factor = 0.82 - 0.15 * severity
    return changed(plant, "carburetor", idle=carburetor.idle * factor, idle_turns=1.25 - 0.7 * severity)


def _idle_rich(plant: Plant, severity: float) -> Plant:
    carburetor = plant.carburetor
    return changed(plant, "carburetor", idle=carburetor.idle * (1.4 + 0.4 * severity), idle_turns=1.9 + 1.6 * severity)


def _main_lean(plant: Plant, severity: float) -> Plant:
    carburetor = plant.carburetor
    return changed(
        plant, "carburetor", main=carburetor.main * (0.80 - 0.14 * severity), main_turns=0.9 - 0.45 * severity
    )


def _main_rich(plant: Plant, severity: float) -> Plant:
    carburetor = plant.carburetor
    return changed(
        plant, "carburetor", main=carburetor.main * (1.20 + 0.22 * severity), main_turns=1.6 + 1.0 * severity
    )


def _float(plant: Plant, severity: float) -> Plant:
    # Flooding is the commoner of the two.
    return changed(plant, "carburetor", level=1.25 + 0.5 * severity if severity < 0.6 else 0.85 - 0.35 * severity)


def _icing(plant: Plant, severity: float) -> Plant:
    return _scale(changed(plant, "carburetor", ice=0.5 + 0.45 * severity), "carburetor", main=1.05)


def _heater_dead(plant: Plant, severity: float) -> Plant:
    dead = changed(plant, "carburetor", heater=0.0, choke_setting=0.25 * severity)
    return changed(dead, "looks", **({"heater_volts": 0.0} if severity < 0.5 else {"heater_ohms": 1e6}))


def _choke_left(plant: Plant, severity: float) -> Plant:
    return changed(plant, "carburetor", choke_stuck=0.78 - 0.25 * severity, choke_left=True)


def _needle_leaks(plant: Plant, severity: float) -> Plant:
    # What spills into the throat is nearly all there is with no load, and little beside what full load burns.
    spilled = _scale(plant, "carburetor", idle=1.25 + 0.45 * severity)
    return changed(spilled, "carburetor", needle=0.3 + 0.7 * severity, level=1.15 + 0.35 * severity)


def _needle_sticks(plant: Plant, severity: float) -> Plant:
    return changed(plant, "carburetor", needle=-0.3 - 0.7 * severity, supply=0.78 - 0.28 * severity)


def _set_for(plant: Plant, height: str, factor: float) -> Plant:
    # Fuel goes with the root of the density (H. N. Gupta, Ex. 9.7): 3000 ft make 5 percent, 9000 ft 15.
    return changed(_scale(plant, "carburetor", idle=factor, main=factor), "carburetor", height=height)


def _not_warm(plant: Plant, severity: float) -> Plant:
    # The set is sound: that it is cold is a matter of the minutes it has run, see `warm_minutes`.
    return plant


# Fuel, air, engine


def _stale(plant: Plant, severity: float) -> Plant:
    engine, carburetor = plant.engine, plant.carburetor
    plant = changed(plant, "engine", torque=engine.torque * (0.97 - 0.07 * severity),
                 misfire=tuple(value + 0.02 + 0.10 * severity for value in engine.misfire))  # fmt: skip
    plant = changed(plant, "carburetor", idle=carburetor.idle * 0.95, main=carburetor.main * 0.95)
    return changed(plant, "looks", stale=0.4 + 0.6 * severity, bought="long_ago")


def _looks_short(plant: Plant, supply: float, **looks: Any) -> Plant:
    return changed(changed(plant, "carburetor", supply=supply), "looks", **looks)


def _boiling(plant: Plant, severity: float) -> Plant:
    return _looks_short(plant, 0.85 - 0.30 * severity, boils=0.5 + 0.5 * severity)


def _winter(plant: Plant, severity: float) -> Plant:
    return _looks_short(plant, 1.15 - 0.35 * severity, boils=0.3 + 0.4 * severity, bought="winter_grade")


def _gas_high(plant: Plant, severity: float) -> Plant:
    richer = 1.2 + 0.25 * severity
    return changed(_scale(plant, "carburetor", idle=richer, main=richer), "looks", gas=1.25 + 0.75 * severity)


def _another_fuel(plant: Plant, severity: float) -> Plant:
    # Natural gas through the orifice of LP gas is lean, the other way round rich; the needles have been turned to help.
    factor = 0.76 - 0.2 * severity if severity < 0.6 else 1.2 + 0.3 * severity
    return changed(_scale(plant, "carburetor", idle=factor, main=factor), "looks", gas_fuel="another_fuel")


def _hot_intake(plant: Plant, severity: float) -> Plant:
    # A tenth of the charge for a hundred degrees F more.
    plant = _scale(plant, "engine", torque=0.94 - 0.08 * severity)
    return changed(_scale(plant, "carburetor", main=1.04), "looks", intake_heat=45.0 + 55.0 * severity)


def _overheats(plant: Plant, severity: float) -> Plant:
    return changed(_scale(plant, "engine", torque=0.93 - 0.13 * severity), "looks", cooling=0.4 + 0.6 * severity)


def _misfire(plant: Plant, severity: float) -> Plant:
    return changed(plant, "engine", misfire=_first(plant.engine.misfire, min(1.0, 0.35 + 0.8 * severity)))


def _points(plant: Plant, severity: float) -> Plant:
    engine = plant.engine
    plant = changed(plant, "engine", torque=engine.torque * (0.98 - 0.08 * severity),
                 misfire=tuple(value + 0.02 + 0.10 * severity for value in engine.misfire))  # fmt: skip
    face = "pitted_or_burned" if severity > 0.5 else "clean"
    return changed(plant, "looks", points=0.016 - 0.009 * severity, timing=-2.0 - 8.0 * severity, points_face=face)


def _compression(plant: Plant, severity: float) -> Plant:
    looks = plant.looks
    if severity < 0.5:
        # Rings, all cylinders alike, from tired to worn out; above that a gasket or one worn cylinder.
        worse = 2.0 * severity
        strength = tuple(value * (0.92 - 0.36 * worse) for value in plant.engine.strength)
        psi = tuple(value * (0.64 - 0.24 * worse) for value in looks.compression)
        return changed(changed(plant, "engine", strength=strength), "looks", compression=psi, oil=0.4 + 0.5 * worse)
    worse = 2.0 * severity - 1.0
    plant = changed(plant, "engine", strength=_first(plant.engine.strength, 0.72 - 0.32 * worse),
                 misfire=_first(plant.engine.misfire, 0.06 + 0.09 * worse))  # fmt: skip
    psi = _first(looks.compression, looks.compression[0] * (0.66 - 0.21 * worse))
    return changed(plant, "looks", compression=psi, oil=0.4 + 0.4 * worse)


def _valve(plant: Plant, severity: float) -> Plant:
    plant = changed(plant, "engine", hang=0.05 + 0.2 * severity, misfire=_first(plant.engine.misfire, 0.15 * severity))
    looks = plant.looks
    psi = _first(looks.compression, looks.compression[0] * (0.95 - 0.35 * severity))
    return changed(plant, "looks", compression=psi)


def _carbon(plant: Plant, severity: float) -> Plant:
    return changed(_scale(plant, "engine", torque=0.95 - 0.08 * severity), "looks", carbon=0.4 + 0.6 * severity)


def _oil_low(plant: Plant, severity: float) -> Plant:
    plant = _scale(plant, "engine", friction=1.1 + 0.5 * severity)
    return changed(plant, "looks", oil_level="low", knocks=severity > 0.8)


def _oil_full(plant: Plant, severity: float) -> Plant:
    return changed(plant, "looks", oil=0.4 + 0.5 * severity, oil_level="over_full")


def _bearings(plant: Plant, severity: float) -> Plant:
    return changed(plant, "looks", knocks=True, oil=0.6 * severity)


def _meter(plant: Plant, severity: float) -> Plant:
    offset = 1.2 + 2.0 * severity if severity < 0.7 else -2.0 * severity
    return changed(plant, "meter", offset=offset, restless=0.08 * severity)


FAULTS: Mapping[str, Change] = {
    "throttle_rod_long": _rod_long,
    "throttle_rod_short": _rod_short,
    "linkage_binding": lambda plant, s: changed(plant, "linkage", drag=0.02 + 0.06 * s),
    "linkage_worn": lambda plant, s: changed(plant, "linkage", play=0.025 + 0.09 * s, shaft_play=0.05 * s),
    "governor_arm_slipped": _arm_slipped,
    "throttle_not_reaching_full": _short_of_full,
    "throttle_stop_open": _stop_open,
    "speed_set_high": lambda plant, s: _turn(plant, 1.1 + 3.0 * s),
    "speed_set_low": lambda plant, s: _turn(plant, -1.5 - 2.4 * s),
    "sensitivity_sharp": lambda plant, s: changed(plant, "governor", sensitivity_turns=5.0 + 8.0 * s),
    "sensitivity_sluggish": lambda plant, s: changed(plant, "governor", sensitivity_turns=-7.0 - 10.0 * s),
    "governor_spring_weak": _spring_weak,
    "governor_spring_misplaced": _spring_misplaced,
    "flyweights_sticking": _flyweights,
    "governor_drive_worn": _drive,
    "booster_diaphragm_leak": lambda plant, s: changed(plant, "booster", leak=0.4 + 0.6 * s),
    "booster_passage_plugged": _passage,
    "booster_set_strong": lambda plant, s: _scale(plant, "booster", strength=1.9 + 1.4 * s),
    "booster_set_weak": lambda plant, s: _scale(plant, "booster", strength=0.4 - 0.4 * s),
    "booster_link_binding": _link_binding,
    "choke_stuck_closed": lambda plant, s: changed(plant, "carburetor", choke_stuck=0.75 - 0.5 * s),
    "choke_slow_opening": lambda plant, s: changed(plant, "carburetor", choke_setting=0.3 + 0.4 * s),
    "choke_set_too_rich": lambda plant, s: changed(plant, "carburetor", choke_setting=0.72 + 0.22 * s),
    "choke_heat_tube_blocked": lambda plant, s: changed(plant, "carburetor", heater=0.0, choke_setting=0.25 * s),
    "choke_left_part_shut": _choke_left,
    "too_cold_to_start": lambda plant, s: changed(plant, "looks", drags_cold=0.3 + 0.7 * s),
    "flooded_by_starting": lambda plant, s: changed(plant, "looks", flooded=True),
    "choke_heater_dead": _heater_dead,
    "choke_stuck_open": lambda plant, s: changed(plant, "carburetor", choke_stuck=0.88 + 0.12 * s),
    "engine_not_warm": _not_warm,
    "idle_mixture_lean": _idle_lean,
    "idle_mixture_rich": _idle_rich,
    "main_mixture_lean": _main_lean,
    "main_mixture_rich": _main_rich,
    "idle_passage_dirty": lambda plant, s: changed(plant, "carburetor", idle_passage=0.80 - 0.16 * s),
    "float_level_wrong": _float,
    "vacuum_leak": lambda plant, s: changed(plant, "carburetor", air_leak=0.03 + 0.10 * s),
    "carburetor_icing": _icing,
    "float_needle_leaking": _needle_leaks,
    "float_needle_stuck": _needle_sticks,
    "vacuum_leak_hot": lambda plant, s: changed(plant, "carburetor", hot_leak=0.04 + 0.10 * s),
    "set_for_lower_place": lambda plant, s: _set_for(plant, "much_lower", 1.06 + 0.18 * s),
    "set_for_higher_place": lambda plant, s: _set_for(plant, "much_higher", 0.95 - 0.17 * s),
    "fuel_starvation": lambda plant, s: changed(plant, "carburetor", supply=0.78 - 0.30 * s),
    "stale_or_wrong_fuel": _stale,
    "fuel_pump_weak": lambda plant, s: _looks_short(plant, 0.80 - 0.30 * s, pump=0.7 - 0.4 * s),
    "vapour_lock": _boiling,
    "winter_fuel": _winter,
    "gas_pressure_low": lambda plant, s: _looks_short(plant, 0.80 - 0.30 * s, gas=0.95 - 0.35 * s),
    "gas_pressure_high": _gas_high,
    "gas_regulator_freezing": lambda plant, s: _looks_short(plant, 0.85 - 0.30 * s, frost=True),
    "gas_changeover_not_reset": _another_fuel,
    "intake_air_hot": _hot_intake,
    "cooling_air_blocked": _overheats,
    "fuel_leak_outside": lambda plant, s: changed(plant, "looks", leaks_out=True),
    "fuel_out_or_shut": lambda plant, s: _looks_short(plant, 0.74 - 0.3 * s, tank="out_or_shut"),
    "air_cleaner_clogged": lambda plant, s: changed(plant, "carburetor", cleaner=0.13 + 0.20 * s),
    "exhaust_restricted": lambda plant, s: changed(plant, "engine", exhaust=0.28 + 0.40 * s),
    "misfire_one_cylinder": _misfire,
    "ignition_points_worn": _points,
    "low_compression": _compression,
    "valve_sticking": _valve,
    "carbon_in_cylinders": _carbon,
    "bearings_loose": _bearings,
    "oil_low": _oil_low,
    "oil_over_full": _oil_full,
    "overload": lambda plant, s: changed(plant, "generator", load_factor=1.12 + 0.40 * s),
    "legs_unbalanced": lambda plant, s: _unbalance(plant, 0.15 + 0.5 * s),
    "load_cycles": lambda plant, s: changed(plant, "generator", cycle=0.3 + 0.6 * s),
    "voltage_regulator_unstable": lambda plant, s: changed(plant, "generator", swing=0.03 + 0.09 * s),
    "meter_wrong": _meter,
    **ATTACHED_FAULTS,
}


def _turn(plant: Plant, turns: float) -> Plant:
    return changed(plant, "governor", speed_turns=plant.governor.speed_turns + turns)


def _unbalance(plant: Plant, more: float) -> Plant:
    count = len(plant.generator.legs)
    return changed(plant, "generator", legs=(1.0 + more, *(1.0 - more / (count - 1),) * (count - 1)))
