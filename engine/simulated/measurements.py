"""Checks that let the set run as it is and read it: frequency, swing, load steps, warming, power.

Purpose: check id -> reading or outcome from a run of the untouched set.
Law: see `bench`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from .draws import Draws
from .equilibrium import WARM, limits, plate_at
from .observation import (
    DEAD,
    SWINGS,
    UNKNOWN,
    Check,
    average,
    in_hertz,
    metered,
    peak_to_peak,
    settled,
    smooth,
    swing,
    worse,
)
from .running import RunSegment
from .under_test import SetUnderTest

HELD = 300.0
"""Seconds for which full load is held to see whether it stays there."""
EARLY = 2.5
"""Minutes at which the first reading of a warming set is taken."""


def _frequency(share: float) -> Check:
    def made(bench: SetUnderTest, draws: Draws) -> str:
        run_ = bench.at(share)
        hertz = average(settled(run_, 10.0)) if run_.hertz[-1] > 0.0 else 0.0
        if hertz < DEAD:
            return "very_low" if share == 1.0 else "low"
        return in_hertz(metered(bench, draws, hertz))

    return made


def _fall(light: float, dead: str) -> Check:
    """From one share of full load to all of it; `dead`: where it does not carry that."""

    def made(bench: SetUnderTest, draws: Draws) -> str:
        ends = [average(settled(bench.at(share), 10.0)) for share in (light, 1.0)]
        if min(ends) < DEAD:
            return dead if ends[0] >= DEAD else UNKNOWN
        some, full = (metered(bench, draws, hertz) for hertz in ends)
        return in_hertz(some - full)

    return made


def _swing(share: float, minutes: tuple[float, ...] = ()) -> Check:
    def made(bench: SetUnderTest, draws: Draws) -> str:
        # A cold set is watched from the start until the choke should stand open; the worst of it is told.
        runs = [bench.seen("cold", (RunSegment(36.0),), each) for each in minutes] or [bench.at(share)]
        size, look = max((swing(bench, run_) for run_ in runs), key=worse)
        restless = bench.plant.meter.restless
        if restless and look == "steady" and draws.uniform() < 6.0 * restless:
            size, look = draws.uniform(0.6, 2.0), "erratic"
        if look == "fast_jiggle":
            # The needle stands, the rod end shakes: an outcome and no reading.
            return look
        if look == "erratic" and not size:
            return look
        return in_hertz(abs(size + draws.normal(0.02))) if look == "steady" else f"{max(size, 0.5):.1f} Hz {look}"

    return made


def _dip(bench: SetUnderTest, draws: Draws) -> str:
    run_ = bench.stepped()
    after = run_.hertz[round(10 * run_.rate) : round(40 * run_.rate)]
    if min(after) <= 0.0:
        return "very_deep"
    return in_hertz(max(0.0, average(after[-100:]) - min(smooth(after, 4)) + draws.normal(0.1)))


def _overshoot(bench: SetUnderTest, draws: Draws) -> str:
    run_ = bench.stepped()
    after = run_.hertz[round(40 * run_.rate) :]
    if min(run_.hertz) <= 0.0:
        return UNKNOWN
    return in_hertz(max(0.0, max(smooth(after, 4)) - average(after[-100:]) + draws.normal(0.1)))


def _recovery(bench: SetUnderTest, draws: Draws) -> str:
    run_ = bench.stepped()
    after = run_.hertz[round(10 * run_.rate) : round(40 * run_.rate)]
    if min(after) <= 0.0:
        return "very_slow"
    shown = smooth(after, 10)
    goal = average(shown[-60:])
    # Half a hertz either way, or what it swings anyhow: a technician's notion of being there.
    band = max(0.5 * bench.plant.hertz / 60.0, 0.7 * (max(shown[-200:]) - min(shown[-200:])))
    outside = [place for place, value in enumerate(shown) if abs(value - goal) > band]
    seconds = (outside[-1] + 1) / run_.rate if outside else 0.0
    return f"{max(0.2, seconds + draws.normal(0.2)):.1f} s"


def _settling(bench: SetUnderTest, draws: Draws) -> str:
    run_ = bench.stepped()
    if min(run_.hertz) <= 0.0:
        return UNKNOWN
    counts = []
    for begin, end in ((10, 40), (40, 70)):
        shown = smooth(run_.hertz[round(begin * run_.rate) : round(end * run_.rate)], 4)
        goal = average(shown[-100:])
        limit, side, swings = SWINGS * bench.plant.hertz / 60.0, 0, 0
        for value in shown:
            now = 1 if value > goal + limit else -1 if value < goal - limit else side
            if now != side:
                swings += 1 if side else 0
                side = now
        counts.append(swings)
    # There and back again are one swing.
    worst = max(counts) // 2
    return "settles_at_once" if worst <= 1 else "few_swings" if worst <= 5 else "keeps_swinging"


def _rest(bench: SetUnderTest, draws: Draws) -> str:
    run_, plant = bench.at(0.0), bench.plant
    plate, travel = average(run_.plate[-200:]), average(run_.travel[-200:])
    if travel >= plant.governor.outermost - 0.01:
        return "arm_at_end_of_travel"
    return "against_closed_stop" if plate <= plant.linkage.stop_closed + 0.006 else "off_the_stops"


def _repeatability(bench: SetUnderTest, draws: Draws) -> str:
    some = bench.load * 0.5
    run_ = bench.seen("repeat", tuple(RunSegment(12.0, load) for load in (0.0, some) * 4 + (0.0,)))
    if min(run_.hertz) < DEAD:
        return UNKNOWN
    ends = []
    for count in range(2, 9, 2):
        until = round((count + 1) * 12.0 * run_.rate)
        ends.append(metered(bench, draws, average(run_.hertz[until - round(5 * run_.rate) : until])))
    return in_hertz(max(ends) - min(ends))


def _warming(bench: SetUnderTest, draws: Draws) -> str:
    # Ice comes with running: the early reading is taken without it.
    plant = bench.plant
    bare = replace(plant, carburetor=replace(plant.carburetor, ice=0.0))
    early = bench.seen("early", (RunSegment(25.0),), EARLY, bare)
    late = bench.at(0.0) if bench.warm_minutes == WARM else bench.seen("late", bench.way_to(0.0), WARM)
    ends = [average(settled(each, 10.0)) for each in (late, early)]
    if min(ends) < DEAD:
        return UNKNOWN
    change = metered(bench, draws, ends[0]) - metered(bench, draws, ends[1])
    return f"{change:+.1f} Hz"


def _throttle_held(bench: SetUnderTest, draws: Draws) -> str:
    run_ = bench.at(0.0)
    if swing(bench, run_)[0] < SWINGS * bench.plant.hertz / 60.0:
        return UNKNOWN
    middle = average(run_.plate[-400:])
    held = bench.seen("held", (RunSegment(5.0), RunSegment(20.0, 0.0, middle)))
    values = held.hertz[round(9 * held.rate) :]
    # A throttle that stands still lets the speed drift; only what swings about the drift counts.
    drift = smooth(values, 81)
    off = [value - mean for value, mean in zip(values[40:], drift, strict=False)]
    return "still_swings" if peak_to_peak(off) > SWINGS * bench.plant.hertz / 60.0 else "goes_steady"


def _full_power(bench: SetUnderTest, draws: Draws) -> str:
    run_ = bench.seen("power", (RunSegment(8.0), RunSegment(70.0, bench.load)))
    if min(run_.hertz) <= 0.0:
        return "falls_away"
    if bench.trips_after(1.0) < HELD:
        return UNKNOWN  # the breaker opens before it could be told
    begin = average(run_.hertz[round(12 * run_.rate) : round(17 * run_.rate)])
    end = average(settled(run_, 10.0))
    scale = bench.plant.hertz / 60.0
    # Low and staying there is sag; low with the throttle all but as far open as it goes, the engine gives way.
    most = plate_at(bench.plant.linkage, limits(bench.plant, run_.state.slip)[0], run_.state.slip)
    open_ = average(run_.plate[-200:]) >= 0.8 * most
    return "falls_away" if begin - end > 1.0 * scale or (open_ and end < 58.4 * scale) else "holds"


MEASUREMENTS: Mapping[str, Check] = {
    "frequency_no_load": _frequency(0.0),
    "frequency_quarter_load": _frequency(0.25),
    "frequency_half_load": _frequency(0.5),
    "frequency_three_quarter_load": _frequency(0.75),
    "frequency_full_load": _frequency(1.0),
    "frequency_spread": _fall(0.0, "very_wide"),
    "frequency_fall_loaded": _fall(0.25, "wide"),
    "swing_no_load": _swing(0.0),
    "swing_half_load": _swing(0.5),
    "swing_full_load": _swing(1.0),
    "swing_cold": _swing(0.0, (0.7, 2.5, 5.0)),
    "load_step_dip": _dip,
    "load_step_recovery": _recovery,
    "load_step_settling": _settling,
    "load_drop_overshoot": _overshoot,
    "throttle_rest_no_load": _rest,
    "no_load_repeatability": _repeatability,
    "frequency_change_warming": _warming,
    "hold_throttle_still": _throttle_held,
    "full_power_hold": _full_power,
}
