"""Checks that look at one part: with the set stopped, or with a gauge on it while it runs.

Purpose: check id -> reading or outcome from the parts as they are.
Law: see `bench`. Where a part has no physics, what it looks like stands in `plant.Looks`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from .draws import Draws
from .equilibrium import GAP_INCHES, INHG, choke_opening, limits, plate_at
from .observation import Check, average, peak_to_peak
from .plant import Plant
from .sound_set import REFERENCE_FEET
from .under_test import SetUnderTest


def _choke(opening: float, edges: tuple[float, float]) -> str:
    return "closed" if opening < edges[0] else "part_open" if opening < edges[1] else "open"


def _warm_mixture(bench: SetUnderTest, share: float) -> float:
    return bench.at(share).state.mixture


def _smoke(bench: SetUnderTest, draws: Draws) -> str:
    if _warm_mixture(bench, 0.75) > 1.36:
        return "black"
    if bench.plant.looks.oil > 0.35:
        return "blue"
    return "white" if bench.warm_minutes < 4.0 else "clear"


def _plugs(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    if plant.looks.oil > 0.5:
        return "oily"
    if plant.looks.flooded:
        return "sooty"
    ratio = max(_warm_mixture(bench, share) for share in (0.0, 0.5))
    weakest = max(plant.engine.misfire)
    if ratio > 1.36 or weakest > 0.6:
        return "sooty"
    return "white" if min(_warm_mixture(bench, share) for share in (0.0, 0.75)) < 0.86 else "tan"


FEET_PER_INHG = 900.0
"""Height that takes 1 inHg from a vacuum gauge (Keswani, Example 9.16); a technician adds it before judging."""


def _vacuum(bench: SetUnderTest) -> tuple[float, float]:
    run_ = bench.at(0.0)
    values = [(bench.plant.pressure - value) * INHG for value in run_.manifold[-400:]]
    allowed = max(0.0, float(bench.features["altitude"]) - REFERENCE_FEET) / FEET_PER_INHG
    return average(values) + allowed, peak_to_peak(values, 8)


def _needle_look(bench: SetUnderTest, draws: Draws) -> str:
    engine = bench.plant.engine
    uneven = max(engine.misfire) - min(engine.misfire) + max(engine.strength) - min(engine.strength)
    mean, size = _vacuum(bench)
    if uneven > 0.25 or engine.hang > 0.08:
        return "flicks_down_regularly"
    if size > 1.2:
        return "drifts"
    return "low_and_steady" if mean < 14.0 else "steady"


def _amps(bench: SetUnderTest, draws: Draws) -> str:
    features, generator = bench.features, bench.plant.generator
    kilowatts, volts = float(features["rated_kw"]), float(features["volts"])
    rated = kilowatts * 1000.0 / (volts if float(features["phases"]) == 1 else math.sqrt(3.0) * volts * 0.8)
    total = generator.load_factor * bench.load * (1.0 if generator.load_factor > 1.0 else 0.7)
    return ", ".join(f"{rated * total * leg * (1.0 + draws.normal(0.005)):.1f}" for leg in generator.legs) + " A"


def _full_amps(bench: SetUnderTest, draws: Draws) -> str:
    """A load bank at full load, power factor 1, takes the fewer amps the lower the voltage is (Ohm's law)."""
    features = bench.features
    volts = float(features["volts"]) * (1.0 if float(features["phases"]) == 1 else math.sqrt(3.0))
    full = float(features["rated_kw"]) * 1000.0 / volts * average(bench.at(1.0).volts[-300:])
    return ", ".join(f"{full * (1.0 + draws.normal(0.005)):.1f}" for _ in bench.plant.generator.legs) + " A"


def _volts(share: float) -> Check:
    def made(bench: SetUnderTest, draws: Draws) -> str:
        legs = bench.plant.generator.legs
        uneven = 0.10 * (max(legs) - 1.0) * share  # the loaded leg sinks
        run_ = bench.at(share)
        # Of a field or an engine that has gone since, a meter shows what is left.
        value = (
            average(run_.volts[-300:] if run_.hertz[-1] > 0.0 else run_.volts[-20:])
            * (1.0 - uneven)
            * (1.0 + draws.normal(0.003))
        )
        return f"{value * float(bench.features['volts']):.0f} V"

    return made


def _volts_steady(bench: SetUnderTest, draws: Draws) -> str:
    values = bench.at(0.5).volts[-400:]
    return "wavers" if max(values) - min(values) > 0.03 else "steady"


def _gap(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    least = limits(plant)[0]
    # The spring pulls the stopped arm in as far as drag lets it.
    pull = plant.governor.spring(least)
    if pull <= plant.governor.drag + plant.linkage.drag:
        plate = plant.linkage.stop_closed
    else:
        plate = plate_at(plant.linkage, least)
    gap = (plant.linkage.stop_open - plate) * GAP_INCHES
    return f"{max(0.0, gap + draws.normal(0.001)):.3f} in"


def _feel(bench: SetUnderTest, draws: Draws) -> str:
    linkage = bench.plant.linkage
    if linkage.play > 0.018:
        return "loose"
    return "binds" if linkage.drag > 0.008 or bench.plant.booster.drag > 0.02 else "free"


def _by_hand(bench: SetUnderTest, draws: Draws) -> str:
    linkage, governor = bench.plant.linkage, bench.plant.governor
    # Past the drag that the spring overcomes by itself.
    drag = max(linkage.drag, governor.drag, bench.plant.booster.drag / 2.0)
    if drag > 0.016 or bench.plant.looks.spring == "broken_or_off":
        return "hangs"
    return "slack" if linkage.play > 0.026 or (linkage.arm_slips > 0.0 and draws.uniform() < 0.3) else "comes_back"


def _hoses(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    # Half of what blocks a hose is inside it, and two leaks of three are under a gasket.
    if plant.booster.blocked > 0.3 and draws.uniform() < 0.5:
        return "hose_cracked"
    return "joint_loose" if plant.carburetor.air_leak > 0.02 and draws.uniform() < 0.3 else "whole"


def _arm(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    if plant.governor_play > 0.012:
        return "backlash"
    return "gritty_or_sticky" if plant.governor.drag > 0.008 else "smooth"


def _stop(bench: SetUnderTest, draws: Draws) -> str:
    usual = Plant().linkage.stop_closed
    stop = bench.plant.linkage.stop_closed
    return "held_open" if stop > usual + 0.08 else "never_reaches" if stop < usual - 0.02 else "just_touches"


def _bowl(bench: SetUnderTest, draws: Draws) -> str:
    carburetor = bench.plant.carburetor
    if carburetor.level > 1.08:
        return "high_or_flooding"
    return "low" if carburetor.level < 0.9 or carburetor.supply < 0.6 else "right"


def _flow(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    # A needle that holds the bowl short is past the line that is looked at here.
    if plant.carburetor.needle < 0.0 or plant.carburetor.supply >= 1.2:
        return "strong_and_steady"
    if plant.looks.boils > 0.0:
        return "bubbles" if plant.looks.boils > 0.45 else "strong_and_steady"
    return "weak"


def _needle(bench: SetUnderTest, draws: Draws) -> str:
    needle = bench.plant.carburetor.needle
    return "leaks" if needle > 0.2 else "sticks_shut" if needle < -0.2 else "shuts_and_opens"


def _choke_warmth(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    electric = bench.features["choke"] == "electric"
    fed = not electric or (plant.looks.heater_volts > 6.0 and plant.looks.heater_ohms < 1e5)
    return "hot" if plant.carburetor.heater > 0.5 and fed else "cold"


def _choke_cold(bench: SetUnderTest, draws: Draws) -> str:
    # One that was left somewhere by hand is first shut by its control.
    carburetor = bench.plant.carburetor
    return "closed" if carburetor.choke_left else _choke(choke_opening(carburetor, 0.0), (0.2, 0.7))


def _choke_timed(bench: SetUnderTest, draws: Draws) -> str:
    """Minutes from a cold start until the plate stands open; by a watch, to about a quarter of a minute."""
    carburetor, watched = bench.plant.carburetor, 20
    for place in range(4 * watched):
        if _choke(choke_opening(carburetor, place / 4), (0.25, 0.8)) == "open":
            return f"{max(0.0, place / 4 + draws.normal(0.1)):.1f} min"
    return "not_open"


def _choke_feel(bench: SetUnderTest, draws: Draws) -> str:
    carburetor = bench.plant.carburetor
    return "drags" if carburetor.choke_stuck is not None and not carburetor.choke_left else "free"


def _gas_full(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    return "low" if plant.carburetor.supply < 1.2 else "high" if plant.looks.gas > 1.4 else "holds"


def _gas_none(bench: SetUnderTest, draws: Draws) -> str:
    looks = bench.plant.looks
    if looks.tank != "enough_and_open":
        return "low"
    return "low" if looks.gas < 0.85 else "high" if looks.gas > 1.15 else "right"


def _knock(bench: SetUnderTest, draws: Draws) -> str:
    looks = bench.plant.looks
    if looks.knocks:
        return "dull_knock"
    hot = looks.carbon + looks.cooling + max(0.0, looks.intake_heat - 60.0) / 60.0
    return "pings" if hot > 0.55 else "quiet"


def _timing(bench: SetUnderTest, draws: Draws) -> str:
    off = bench.plant.looks.timing
    return "late" if off < -3.0 else "early" if off > 3.0 else "right"


def _turns(turns: float, draws: Draws) -> str:
    return f"{max(0.1, turns + draws.normal(0.1)):.2f} turns"


def _ohms(bench: SetUnderTest, draws: Draws) -> str:
    ohms = bench.plant.looks.heater_ohms
    return "open_circuit" if ohms > 1e5 else f"{ohms * (1.0 + draws.normal(0.01)):.1f} ohm"


def _when(test: Callable[[Plant], bool], yes: str, no: str) -> Check:
    return lambda bench, draws: yes if test(bench.plant) else no


LOOKS: Mapping[str, Check] = {
    "linkage_feel": _feel,
    "linkage_by_hand": _by_hand,
    "hose_look": _hoses,
    "throttle_shaft_play": _when(lambda plant: plant.linkage.shaft_play > 0.02, "loose", "snug"),
    "wide_open_stop_gap": _gap,
    "throttle_reaches_full": _when(lambda plant: plant.linkage.stop_open < 0.95, "short_of_full", "reaches_full"),
    "closed_stop": _stop,
    "arm_clamp": _when(lambda plant: plant.linkage.arm_slips > 0.0, "slips", "tight"),
    "arm_travel": _arm,
    "spring_look": lambda bench, draws: bench.plant.looks.spring,
    "booster_vacuum_hold": _when(lambda plant: plant.booster.leak > 0.15, "leaks", "holds"),
    "booster_passage": _when(lambda plant: plant.booster.blocked > 0.15, "plugged_or_cracked", "clear"),
    "choke_plate_cold": _choke_cold,
    "choke_plate_warm": lambda bench, draws: _choke(
        choke_opening(bench.plant.carburetor, min(20.0, bench.warm_minutes)), (0.25, 0.8)
    ),
    "choke_opening_time": _choke_timed,
    "choke_heater_supply": lambda bench, draws: f"{max(0.0, bench.plant.looks.heater_volts + draws.normal(0.1)):.1f} V",
    "choke_heater_resistance": _ohms,
    "idle_needle_turns": lambda bench, draws: _turns(bench.plant.carburetor.idle_turns, draws),
    "main_needle_turns": lambda bench, draws: _turns(bench.plant.carburetor.main_turns, draws),
    "bowl_level": _bowl,
    "throat_look": _when(lambda plant: plant.carburetor.level > 1.12 or plant.looks.flooded, "wet", "dry"),
    "carburetor_frost": _when(lambda plant: plant.carburetor.ice > 0.3, "frosted", "dry"),
    "fuel_flow": _flow,
    "fuel_sample": _when(lambda plant: plant.looks.stale > 0.2, "stale_or_water", "clean_fresh"),
    "fuel_bought": lambda bench, draws: bench.plant.looks.bought,
    "fuel_in_tank": lambda bench, draws: bench.plant.looks.tank,
    "fuel_leak_look": _when(lambda plant: plant.looks.leaks_out or plant.carburetor.needle > 0.8, "drips", "dry"),
    "fuel_pump_delivery": _when(lambda plant: plant.looks.pump < 0.9, "weak", "full"),
    "line_cooling_trial": _when(lambda plant: plant.looks.boils > 0.45, "picks_up", "no_change"),
    "float_needle_shut_off": _needle,
    "gas_pressure_no_load": _gas_none,
    "gas_pressure_full_load": _gas_full,
    "gas_regulator_frost": _when(lambda plant: plant.looks.frost, "frosted", "dry"),
    "gas_set_for": lambda bench, draws: bench.plant.looks.gas_fuel,
    "start_habit": _when(
        lambda plant: plant.looks.flooded or plant.carburetor.choke_left, "chokes_or_primes_too_much", "as_it_should"
    ),
    "choke_movement": _choke_feel,
    "choke_housing_warmth": _choke_warmth,
    "setting_altitude": lambda bench, draws: bench.plant.carburetor.height,
    "air_cleaner_look": _when(lambda plant: plant.carburetor.cleaner > 0.1, "clogged", "clean"),
    "cooling_air_look": _when(lambda plant: plant.looks.cooling > 0.3, "blocked", "clear"),
    "intake_air_warmth": _when(lambda plant: plant.looks.intake_heat > 30.0, "hot", "usual"),
    "oil_level": lambda bench, draws: bench.plant.looks.oil_level,
    "knock_under_load": _knock,
    "exhaust_colour": _smoke,
    "exhaust_back_pressure": _when(lambda plant: plant.engine.exhaust > 0.1, "high", "normal"),
    "plug_colour": _plugs,
    "piston_crown_look": _when(lambda plant: plant.looks.carbon > 0.45, "thick", "thin"),
    "points_gap": lambda bench, draws: f"{bench.plant.looks.points + draws.normal(0.0005):.3f} in",
    "ignition_timing": _timing,
    "compression": lambda bench, draws: (
        ", ".join(f"{value + draws.normal(1.0):.0f}" for value in bench.plant.looks.compression) + " psi"
    ),
    "manifold_vacuum_no_load": lambda bench, draws: f"{max(0.0, _vacuum(bench)[0] + draws.normal(0.2)):.1f} inHg",
    "vacuum_needle": _needle_look,
    "leg_currents": _amps,
    "full_load_amps": _full_amps,
    "load_steadiness": _when(lambda plant: plant.generator.cycle > 0.0, "comes_and_goes", "steady"),
    "second_meter": _when(lambda plant: abs(plant.meter.offset) > 0.5, "disagrees", "agrees"),
    "voltage_no_load": _volts(0.0),
    "voltage_full_load": _volts(1.0),
    "voltage_steadiness": _volts_steady,
}
