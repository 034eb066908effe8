"""What hangs on governor, ignition, mounts and generator of a set: its faults, and the checks that see them.

Purpose: cause id and severity -> change of the plant, as in `faults`; check id -> what it shows, as in `looks`.
Law: pure; see `faults` and `bench`. What has no physics here is a look that stands in the plant as an outcome.
Sources: the notes of knowledge/areas; sizes from memory, so that a severity of 0 is just noticed.
Not here: heat and what comes with it in the course of an hour; an engine is hot where its causes are there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from .draws import Draws
from .equilibrium import equilibrium, with_no_load
from .observation import UNKNOWN, Check, average, smooth
from .plant import Plant
from .running import RunSegment
from .sound_set import changed
from .under_test import SetUnderTest


def _retuned(plant: Plant, after: Plant) -> Plant:
    """The changed set after somebody has brought no load back to where it stood."""
    made = with_no_load(after, equilibrium(plant).speed * plant.hertz).governor
    return changed(after, "governor", tension=made.pull)


def _return_spring(plant: Plant, severity: float) -> Plant:
    # The play that it took up is lost motion now, and the shaft hangs where friction lets it.
    worse = changed(plant, "linkage", play=0.02 + 0.06 * severity, drag=0.012 + 0.03 * severity)
    return changed(worse, "linkage", return_spring=0.4 - 0.4 * severity)


def _hole_near(plant: Plant, severity: float) -> Plant:
    near = changed(plant, "governor", hole=plant.governor.hole * (0.94 - 0.05 * severity))
    # Half of them have been brought back to speed.
    return changed(near if severity < 0.5 else _retuned(plant, near), "looks", spring="wrong_hole")


def _belt(plant: Plant, severity: float) -> Plant:
    return changed(changed(plant, "governor", drive_ratio=0.985 - 0.03 * severity), "looks", governor_belt="slips")


def _oil(plant: Plant, severity: float) -> Plant:
    look = "low" if severity < 0.5 else "foaming"
    return changed(changed(plant, "governor", drag=0.006 + 0.024 * severity), "looks", governor_oil=look)


def _damper_weak(plant: Plant, severity: float) -> Plant:
    # A governor that was damped is set sharp.
    undamped = changed(plant, "governor", damping=0.03, hole=plant.governor.hole * (0.955 - 0.05 * severity))
    return changed(_retuned(plant, undamped), "looks", damper="no_damping")


def _damper_strong(plant: Plant, severity: float) -> Plant:
    if severity < 0.6:  # a screw that is a stop
        held = changed(plant, "governor", outermost=equilibrium(plant).travel - 0.006 - 0.02 * severity)
    else:  # a dashpot that is stiff
        held = changed(plant, "governor", damping=1.5 * severity)
    return changed(held, "looks", damper="holds_open")


def _idle_control(plant: Plant, severity: float) -> Plant:
    if severity >= 0.6:
        return changed(plant, "looks", idle_control="hangs_or_hunts")
    held = changed(plant, "governor", innermost=equilibrium(plant).travel + 0.004 + 0.03 * severity)
    return changed(held, "looks", idle_control="holds")


def _misses(plant: Plant, more: float, torque: float) -> Plant:
    engine = plant.engine
    return changed(
        plant, "engine", torque=engine.torque * torque, misfire=tuple(each + more for each in engine.misfire)
    )


def _condenser(plant: Plant, severity: float) -> Plant:
    return changed(
        _misses(plant, 0.03 + 0.09 * severity, 0.98 - 0.08 * severity), "looks", points_face="pitted_or_burned"
    )


def _timing(plant: Plant, severity: float) -> Plant:
    degrees = -5.0 - 10.0 * severity if severity < 0.8 else 6.0 + 6.0 * severity
    off = changed(plant, "engine", torque=plant.engine.torque * (0.90 - 0.14 * severity))
    return changed(off, "looks", timing=degrees, advance="sticks")


def _field(plant: Plant, contact: float, volts: float, brushes: str) -> Plant:
    return changed(plant, "generator", contact=contact, volts=volts, brushes=brushes)


ATTACHED_FAULTS: Mapping[str, Callable[[Plant, float], Plant]] = {
    "return_spring_weak": _return_spring,
    "governor_spring_hole_near": _hole_near,
    "governor_belt_slipping": _belt,
    "governor_oil_low": _oil,
    "damper_weak": _damper_weak,
    "damper_strong": _damper_strong,
    "idle_control_faulty": _idle_control,
    "condenser_weak": _condenser,
    "magneto_weak": lambda plant, s: _misses(plant, 0.03 + 0.09 * s, 0.97 - 0.08 * s),
    "ignition_timing_wrong": _timing,
    "engine_mounts_loose": lambda plant, s: changed(plant, "engine", mounts=0.4 + 0.6 * s),
    "brushes_worn": lambda plant, s: _field(plant, 0.03 + 0.08 * s, 0.98 - 0.1 * s, "brushes_short_or_stuck"),
    "slip_rings_rough": lambda plant, s: _field(plant, 0.02 + 0.05 * s, 0.97 - 0.08 * s, "rings_rough_or_dirty"),
    "diodes_failed": lambda plant, s: changed(plant, "generator", diodes="bad", volts=0.93 - 0.2 * s, compounding=1.0),
}


# Checks


def _stalls(bench: SetUnderTest, draws: Draws) -> str:
    cold = bench.seen("cold", (RunSegment(36.0),), 0.7)
    if min(cold.hertz) <= 0.0:
        return "when_cold"
    if bench.at(0.0).state.stalled:
        return "after_running"
    # A field that collapses takes the load with it, and the engine goes on.
    return "on_load" if bench.stepped().state.stalled else "keeps_running"


def _shake(bench: SetUnderTest, draws: Draws) -> str:
    engine = bench.plant.engine
    uneven = max(engine.misfire) - min(engine.misfire) + max(engine.strength) - min(engine.strength)
    return "shakes_too_much" if engine.mounts > 0.2 or uneven > 0.35 or engine.hang > 0.12 else "smooth"


def _heat(bench: SetUnderTest, draws: Draws) -> str:
    plant, looks = bench.plant, bench.plant.looks
    last = bench.at(0.75).state
    lean = last.mixture < 0.86 and not last.stalled and looks.tank == "enough_and_open"
    pressed = plant.engine.exhaust > 0.4 or plant.generator.load_factor > 1.25
    uncooled = looks.cooling > 0.2 or looks.oil_level == "low" or looks.carbon > 0.4
    return "hot" if lean or pressed or uncooled or abs(looks.timing) > 6.5 else "usual"


def _returns(bench: SetUnderTest, draws: Draws) -> str:
    run_ = bench.seen("return", (RunSegment(15.0), RunSegment(15.0, 0.5 * bench.load), RunSegment(30.0)))
    if min(run_.hertz) <= 0.0:
        return UNKNOWN
    shown = smooth(run_.hertz, 40)
    second = round(run_.rate)
    before = average(shown[8 * second : 13 * second])
    after = shown[30 * second :]
    band = 0.5 * bench.plant.hertz / 60.0
    if average(after[-8 * second :]) - before > band:
        return "stays_fast"
    over = [place for place, value in enumerate(after) if value - before > band]
    return "late" if over and over[-1] > 10 * second else "comes_back"


def _spark(bench: SetUnderTest, draws: Draws) -> str:
    plant = bench.plant
    if max(plant.engine.misfire) - min(plant.engine.misfire) > 0.25:
        return "one_skips"
    fouled = plant.looks.stale > 0.0 or plant.looks.oil_level != "right"
    return "all_weak" if min(plant.engine.misfire) > 0.025 and not fouled else "steady"


def _pull(bench: SetUnderTest, draws: Draws) -> str:
    share = bench.plant.booster.strength / Plant().booster.strength
    return "weak" if share < 0.6 else "strong" if share > 1.6 else "right"


ATTACHED_CHECKS: Mapping[str, Check] = {
    "stall_moment": _stalls,
    "frame_shake": _shake,
    "engine_heat": _heat,
    "return_after_load": _returns,
    "mounts_look": lambda bench, draws: "loose_or_torn" if bench.plant.engine.mounts > 0.1 else "sound",
    "return_spring_look": lambda bench, draws: "pulls" if bench.plant.linkage.return_spring > 0.5 else "weak_or_off",
    "governor_oil_look": lambda bench, draws: bench.plant.looks.governor_oil,
    "governor_belt_look": lambda bench, draws: bench.plant.looks.governor_belt,
    "damper_look": lambda bench, draws: bench.plant.looks.damper,
    "idle_control_trial": lambda bench, draws: bench.plant.looks.idle_control,
    "booster_spring_pull": _pull,
    "spark_under_load": _spark,
    "points_face": lambda bench, draws: bench.plant.looks.points_face,
    "magneto_points_gap": lambda bench, draws: (
        f"{0.75 * bench.plant.looks.points + draws.normal(0.0004):.3f} in"  # 0.015 in where a battery has 0.020
    ),
    "spark_advance": lambda bench, draws: bench.plant.looks.advance,
    "brush_look": lambda bench, draws: bench.plant.generator.brushes,
    "diode_test": lambda bench, draws: bench.plant.generator.diodes,
}
