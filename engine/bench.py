"""A simulated set on the bench: checks are made on it, remedies carried out, and it answers as a real one would.

Purpose: check id -> what a technician reads or sees, from the physics in `plant` and a cheap meter; remedy id -> the set
after it.
Law: the same bench, check and look give the same answer on every machine; nothing is read from the knowledge's
strengths, so that the answers are an opinion of their own. A trial that says something only while the set swings
answers "unknown" on a steady one.
Sources: how each check is made is told in knowledge/checks; what counts as a swing, a jiggle or a wander is read from
the run here and turned into outcomes by the knowledge's own bands where the check has a reading.
Not checked here: order, cost and safety of what is done (see `planner`, `job`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from .faults import FAULTS, NO_LOAD, FaultError, afflict, rated_load, sound
from .plant import (
    GAP_INCHES,
    INHG,
    Draws,
    Plant,
    Run,
    Stretch,
    air,
    boost,
    burn,
    choke_opening,
    draw_state,
    equilibrium,
    excess,
    limits,
    plate_at,
    run,
    with_no_load,
)

WARM = 60.0
"""Minutes after a cold start at which everything is warm."""
EARLY = 2.5
"""Minutes at which the first reading of a warming set is taken."""
SWINGS = 0.5
"""Hz from peak to peak, per 60 Hz, that the eye takes for a swing."""
DEAD = 25.0
"""Hz below which the set has stalled and no meter shows anything."""
UNKNOWN = "unknown"


@dataclass(frozen=True)
class Bench:
    """A set with faults (cause id, severity), as found.

    features: as `Knowledge.features` gives them. hide: see `faults.afflict`. seed: of everything left to chance.
    speed_turns: what was turned at the speed adjuster since it was found, None where it is as found.
    """

    features: Mapping[str, str | float]
    faults: tuple[tuple[str, float], ...] = ()
    seed: int = 0
    hide: float = 0.0
    speed_turns: float | None = None
    steps: int = 0
    """Remedies carried out so far."""
    plant: Plant = field(init=False, compare=False)

    def __post_init__(self) -> None:
        plant = afflict(sound(self.features), self.faults, self.hide)
        if self.speed_turns is not None:
            plant = replace(plant, governor=replace(plant.governor, speed_turns=self.speed_turns))
        object.__setattr__(self, "plant", plant)

    @property
    def warm_minutes(self) -> float:
        """Minutes of running when somebody takes the set for warm; too few where it has not reached its warmth."""
        for cause, severity in self.faults:
            if cause == "engine_not_warm":
                return 6.0 - 4.0 * severity
        return WARM

    @property
    def load(self) -> float:
        """Full load for the place, per unit of the nameplate."""
        return rated_load(self.plant)

    def answer(self, check: str, look: int = 0) -> str:
        """What a check shows: a reading with its unit, an outcome id, both, or "unknown".

        look: counts the times it is made on the unchanged set; each gives new noise and nothing else.
        Raises FaultError for a check that the bench cannot make.
        """
        made = CHECKS.get(check)
        if made is None:
            raise FaultError(f'"{check}" is no check that the simulated set can answer')
        return made(self, Draws(self.seed, self.steps, check, look))

    def carry_out(self, cures: Mapping[str, float], resets_speed: bool = False) -> Bench:
        """The set after a remedy.

        cures: chance of cure for each cause (`Remedy.cures`); resets_speed: the remedy ends with the no-load speed set.
        The speed adjuster otherwise stays where it was found, also where it had been turned to hide what is now gone.
        """
        draws = Draws(self.seed, self.steps, "remedy", *sorted(cures))
        kept = tuple(
            (cause, severity)
            for cause, severity in self.faults
            if cause not in cures or draws.uniform() >= cures[cause]
        )
        left = replace(self, faults=kept, steps=self.steps + 1, hide=0.0, speed_turns=self.plant.governor.speed_turns)
        if resets_speed or any(cause.startswith("speed_set") for cause in cures):
            turned = with_no_load(left.plant, NO_LOAD * left.plant.hertz / 60.0).governor.speed_turns
            left = replace(left, speed_turns=turned)
        return left

    # Runs that several checks share; a bench is frozen, so that they may be kept.

    def seen(self, name: str, stretches: Sequence[Stretch], minutes: float | None = None, plant: Plant | None = None) -> Run:
        """A run of the set (or of one with something changed for a trial), seeded by its name."""
        at = self.warm_minutes if minutes is None else minutes
        return _run(plant or self.plant, tuple(stretches), draw_state(self.seed, self.steps, name), at)

    def at(self, share: float) -> Run:
        """Forty-two seconds at a share of full load, come to from no load, or to no load from half."""
        return self.seen(f"at {share:g}", (Stretch(8.0, 0.0 if share else 0.5 * self.load), Stretch(42.0, share * self.load)))

    def stepped(self) -> Run:
        """Full load on after ten seconds, off at forty, until seventy."""
        return self.seen("step", (Stretch(10.0), Stretch(30.0, self.load), Stretch(30.0)))


_run = lru_cache(maxsize=64)(run)


# What a run shows to the eye


def settled(run_: Run, seconds: float = 20.0) -> tuple[float, ...]:
    """Frequency over the last seconds of a run, Hz."""
    return run_.hertz[-round(seconds * run_.rate) :]


def smooth(values: Sequence[float], width: int) -> list[float]:
    """Mean over a window of `width` records, what a needle or a counter shows of them."""
    total, shown = sum(values[:width]), []
    for place in range(width, len(values) + 1):
        shown.append(total / width)
        if place < len(values):
            total += values[place] - values[place - width]
    return shown


def peak_to_peak(values: Sequence[float], width: int = 5) -> float:
    """Highest less lowest of what a needle shows, Hz."""
    shown = smooth(values, width)
    return max(shown) - min(shown)


def level(values: Sequence[float]) -> list[float]:
    """The same values without their straight-line drift: a speed that sinks does not swing."""
    count = len(values)
    middle, mean = 0.5 * (count - 1), sum(values) / count
    slope = sum((place - middle) * value for place, value in enumerate(values)) * 12.0 / (count * (count * count - 1.0))
    return [value - slope * (place - middle) for place, value in enumerate(values)]


def rhythm(values: Sequence[float]) -> float:
    """How regular a swing is: highest autocorrelation of lags up to ten seconds, past its first dip."""
    shown = smooth(values, 3)
    mean = sum(shown) / len(shown)
    off = [value - mean for value in shown]
    power = sum(value * value for value in off) or 1.0
    best, dipped = 0.0, False
    for lag in range(4, min(200, len(off) // 2)):
        score = sum(a * b for a, b in zip(off, off[lag:], strict=False)) / power * len(off) / (len(off) - lag)
        if score < 0.2:
            dipped = True
        elif dipped:
            best = max(best, score)
    return best


def swing(bench: Bench, run_: Run) -> tuple[float, str]:
    """Peak to peak in Hz, and what it looks like: steady, slow_swing, fast_jiggle or erratic."""
    values = settled(run_, 30.0)
    if min(values) <= 0.0:
        return 0.0, "erratic"  # it has died
    values = level(values)
    size = peak_to_peak(values)
    limit = SWINGS * bench.plant.hertz / 60.0
    travel = run_.travel[-len(values) :]
    shake = sum(abs(b - a) for a, b in zip(travel, travel[1:], strict=False)) / len(travel)
    if size < limit:
        return (size, "fast_jiggle") if shake > 0.006 else (size, "steady")
    return size, "slow_swing" if rhythm(values) > 0.55 else "erratic"


def _worse(seen: tuple[float, str]) -> tuple[bool, float]:
    return seen[1] != "steady", seen[0]


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def _read(bench: Bench, draws: Draws, hertz: float) -> float:
    meter = bench.plant.meter
    value = hertz + meter.offset + draws.normal(meter.noise)
    if meter.restless and draws.uniform() < meter.restless:
        value += draws.uniform(-2.0, 2.0)
    return round(value, 1)


def _frequency(share: float) -> Callable[[Bench, Draws], str]:
    def made(bench: Bench, draws: Draws) -> str:
        hertz = _mean(settled(bench.at(share), 10.0))
        if hertz < DEAD:
            return "very_low" if share == 1.0 else "low"
        return _hertz(_read(bench, draws, hertz))

    return made


def _hertz(value: float) -> str:
    return f"{value:.1f} Hz"


def _spread(bench: Bench, draws: Draws) -> str:
    ends = [_mean(settled(bench.at(share), 10.0)) for share in (0.0, 1.0)]
    if min(ends) < DEAD:
        return "very_wide" if ends[0] >= DEAD else UNKNOWN
    none, full = (_read(bench, draws, hertz) for hertz in ends)
    return _hertz(none - full)


def _swing(share: float, minutes: tuple[float, ...] = ()) -> Callable[[Bench, Draws], str]:
    def made(bench: Bench, draws: Draws) -> str:
        if minutes:
            # Watched from the start until the choke should stand open; the worst of it is told.
            runs = [bench.seen("cold", (Stretch(36.0),), each) for each in minutes]
        else:
            runs = [bench.at(share)]
        size, look = max((swing(bench, run_) for run_ in runs), key=_worse)
        restless = bench.plant.meter.restless
        if restless and look == "steady" and draws.uniform() < 6.0 * restless:
            size, look = draws.uniform(0.6, 2.0), "erratic"
        if look == "fast_jiggle":
            # The needle stands, the rod end shakes: an outcome and no reading.
            return look
        if look == "erratic" and not size:
            return look
        return _hertz(abs(size + draws.normal(0.02))) if look == "steady" else f"{max(size, 0.5):.1f} Hz {look}"

    return made


def _dip(bench: Bench, draws: Draws) -> str:
    run_ = bench.stepped()
    after = run_.hertz[round(10 * run_.rate) : round(40 * run_.rate)]
    if min(after) <= 0.0:
        return "very_deep"
    return _hertz(max(0.0, _mean(after[-100:]) - min(smooth(after, 4)) + draws.normal(0.1)))


def _overshoot(bench: Bench, draws: Draws) -> str:
    run_ = bench.stepped()
    after = run_.hertz[round(40 * run_.rate) :]
    if min(after) <= 0.0:
        return UNKNOWN
    return _hertz(max(0.0, max(smooth(after, 4)) - _mean(after[-100:]) + draws.normal(0.1)))


def _recovery(bench: Bench, draws: Draws) -> str:
    run_ = bench.stepped()
    after = run_.hertz[round(10 * run_.rate) : round(40 * run_.rate)]
    if min(after) <= 0.0:
        return "very_slow"
    shown = smooth(after, 10)
    goal = _mean(shown[-60:])
    # Half a hertz either way, or what it swings anyhow: a technician's notion of being there.
    band = max(0.5 * bench.plant.hertz / 60.0, 0.7 * (max(shown[-120:]) - min(shown[-120:])))
    outside = [place for place, value in enumerate(shown) if abs(value - goal) > band]
    seconds = (outside[-1] + 1) / run_.rate if outside else 0.0
    return f"{max(0.2, seconds + draws.normal(0.2)):.1f} s"


def _settling(bench: Bench, draws: Draws) -> str:
    run_ = bench.stepped()
    counts = []
    for begin, end in ((10, 40), (40, 70)):
        shown = smooth(run_.hertz[round(begin * run_.rate) : round(end * run_.rate)], 4)
        goal = _mean(shown[-100:])
        limit, side, swings = 0.4 * bench.plant.hertz / 60.0, 0, 0
        for value in shown:
            now = 1 if value > goal + limit else -1 if value < goal - limit else side
            if now != side:
                swings += 1 if side else 0
                side = now
        counts.append(swings)
    worst = max(counts)
    return "settles_at_once" if worst <= 2 else "few_swings" if worst <= 8 else "keeps_swinging"


def _rest(bench: Bench, draws: Draws) -> str:
    run_, plant = bench.at(0.0), bench.plant
    plate, travel = _mean(run_.plate[-200:]), _mean(run_.travel[-200:])
    if travel >= plant.governor.outermost - 0.01:
        return "arm_at_end_of_travel"
    return "against_closed_stop" if plate <= plant.linkage.stop_closed + 0.006 else "off_the_stops"


def _repeatability(bench: Bench, draws: Draws) -> str:
    some = bench.load * 0.5
    run_ = bench.seen("repeat", tuple(Stretch(12.0, load) for load in (0.0, some) * 4 + (0.0,)))
    if min(run_.hertz) < DEAD:
        return UNKNOWN
    ends = []
    for count in range(2, 9, 2):
        until = round((count + 1) * 12.0 * run_.rate)
        ends.append(_read(bench, draws, _mean(run_.hertz[until - round(5 * run_.rate) : until])))
    return _hertz(max(ends) - min(ends))


def _warming(bench: Bench, draws: Draws) -> str:
    # Ice comes with running: the early reading is taken without it.
    plant = bench.plant
    bare = replace(plant, carburetor=replace(plant.carburetor, ice=0.0))
    early = bench.seen("early", (Stretch(25.0),), EARLY, bare)
    late = bench.seen("at 0", (Stretch(40.0, 0.0),), WARM)
    ends = [_mean(settled(each, 10.0)) for each in (late, early)]
    if min(ends) < DEAD:
        return UNKNOWN
    change = _read(bench, draws, ends[0]) - _read(bench, draws, ends[1])
    return f"{change:+.1f} Hz"


def _held(bench: Bench, draws: Draws) -> str:
    run_ = bench.at(0.0)
    if swing(bench, run_)[0] < SWINGS * bench.plant.hertz / 60.0:
        return UNKNOWN
    middle = _mean(run_.plate[-400:])
    held = bench.seen("held", (Stretch(5.0), Stretch(20.0, 0.0, middle)))
    values = held.hertz[round(9 * held.rate) :]
    # A throttle that stands still lets the speed drift; only what swings about the drift counts.
    drift = smooth(values, 81)
    off = [value - mean for value, mean in zip(values[40:], drift, strict=False)]
    return "still_swings" if peak_to_peak(off) > SWINGS * bench.plant.hertz / 60.0 else "goes_steady"


def _full_power(bench: Bench, draws: Draws) -> str:
    run_ = bench.seen("power", (Stretch(8.0), Stretch(70.0, bench.load)))
    if min(run_.hertz) <= 0.0:
        return "falls_away"
    begin = _mean(run_.hertz[round(12 * run_.rate) : round(17 * run_.rate)])
    end = _mean(settled(run_, 10.0))
    scale = bench.plant.hertz / 60.0
    least = limits(bench.plant, run_.state.slip)[0]
    pinned = _mean(run_.travel[-200:]) <= least + 0.01
    return "falls_away" if begin - end > 1.0 * scale or (pinned and end < 58.4 * scale) else "holds"


def _sensitivity(bench: Bench, draws: Draws) -> str:
    plant = bench.plant
    before = swing(bench, bench.at(0.0))[0]
    limit = SWINGS * plant.hertz / 60.0
    if before < limit:
        return UNKNOWN
    mean = _mean(settled(bench.at(0.0)))
    eased = replace(plant, governor=replace(plant.governor, sensitivity_turns=plant.governor.sensitivity_turns - 5.0))
    eased = with_no_load(eased, mean)
    after = swing(bench, bench.seen("eased", (Stretch(40.0),), plant=eased))[0]
    return "swing_stops" if after < limit else "swing_worse" if after > 1.25 * before else "swing_unchanged"


def _speed_trial(bench: Bench, draws: Draws) -> str:
    plant, means = bench.plant, []
    for turns in (-0.7, 0.0, 0.7):
        turned = replace(plant.governor, speed_turns=plant.governor.speed_turns + turns)
        run_ = bench.seen("turned", (Stretch(25.0),), plant=replace(plant, governor=turned))
        means.append(_read(bench, draws, _mean(settled(run_, 8.0))))
    return "follows" if means[1] - means[0] > 0.2 and means[2] - means[1] > 0.2 else "no_response"


def _booster_off(bench: Bench, draws: Draws) -> str:
    plant = bench.plant
    load = 0.75 * bench.load
    off = replace(plant, booster=replace(plant.booster, linked=0.0, drag=0.0))
    run_ = bench.seen("unhooked", (Stretch(30.0, load),), plant=off)
    change = _read(bench, draws, _mean(settled(run_, 8.0))) - _read(bench, draws, _mean(settled(bench.at(0.75), 8.0)))
    return "frequency_drops" if change < -0.35 else "frequency_rises" if change > 0.35 else "no_change"


def _booster_moves(bench: Bench, draws: Draws) -> str:
    booster, plant = bench.plant.booster, bench.plant
    ends = []
    for share in (0.0, 1.0):
        vacuum = booster.reach * (plant.pressure - _mean(bench.at(share).manifold[-200:]))
        ends.append(boost(replace(booster, linked=1.0, strength=1.0), vacuum))
    if booster.linked <= 0.0 or abs(ends[1] - ends[0]) < 0.22:
        return "does_not_move"
    return "drags" if booster.drag > 0.006 or booster.blocked > 0.3 else "moves_with_load"


def _choke(opening: float, edges: tuple[float, float]) -> str:
    return "closed" if opening < edges[0] else "part_open" if opening < edges[1] else "open"


def _part_choke(bench: Bench, draws: Draws) -> str:
    plant = bench.plant
    nudged = replace(plant, carburetor=replace(plant.carburetor, part_choke=0.25))
    before, after = bench.at(0.0), bench.seen("part choke", (Stretch(36.0),), plant=nudged)
    limit = SWINGS * plant.hertz / 60.0
    (was, _), (size, _) = swing(bench, before), swing(bench, after)
    if was >= limit and (size < limit or size < 0.5 * was):
        return "smooths_out"
    shift = _mean(after.plate[-200:]) - _mean(before.plate[-200:])
    slower = _mean(settled(before)) - _mean(settled(after))
    return "runs_worse" if size > max(limit, 1.3 * was) or shift > 0.02 or slower > limit else "no_change"


def _needle(bench: Bench, name: str, load: float) -> str:
    """Which way a needle makes it run better: steadier, or with the throttle more closed at the same load."""
    plant = bench.plant
    carburetor = plant.carburetor
    scores = []
    for way in (-0.12, 0.0, 0.12):
        value = (carburetor.idle if name == "idle" else carburetor.main) + way
        turned = replace(carburetor, idle=value) if name == "idle" else replace(carburetor, main=value)
        run_ = bench.seen(f"{name} needle", (Stretch(25.0, load),), plant=replace(plant, carburetor=turned))
        scores.append(_mean(run_.plate[-300:]) + 0.03 * peak_to_peak(settled(run_, 15.0)) - 0.02 * _lost(bench, run_))
    if name == "idle" and carburetor.idle_passage < 0.9:
        return "no_response"  # what the needle gives does not get through
    lean, here, rich = scores
    least = 0.006
    if max(scores) - min(scores) < 0.004:
        return "best_where_it_is"
    if lean < here - least and lean <= rich:
        return "better_leaner"
    return "better_richer" if rich < here - least else "best_where_it_is"


def _lost(bench: Bench, run_: Run) -> float:
    return _mean(settled(run_, 10.0)) - bench.plant.hertz


def _spray(bench: Bench, draws: Draws) -> str:
    plant = bench.plant
    if plant.carburetor.air_leak <= 0.0:
        return "no_change"
    wet = replace(plant, carburetor=replace(plant.carburetor, air_leak=0.4 * plant.carburetor.air_leak))
    moved = equilibrium(wet, 0.0, WARM).plate - equilibrium(plant, 0.0, WARM).plate
    return "speed_changes" if abs(moved) > 0.008 else "no_change"


def _cleaner_off(bench: Bench, draws: Draws) -> str:
    plant = bench.plant
    off = replace(plant, carburetor=replace(plant.carburetor, cleaner=0.0))
    load = 0.9 * bench.load
    before, after = (bench.seen("cleaner", (Stretch(25.0, load),), plant=each) for each in (plant, off))
    gain = _mean(settled(after, 8.0)) - _mean(settled(before, 8.0))
    richness = before.state.mixture - after.state.mixture
    return "picks_up" if gain > 0.5 * plant.hertz / 60.0 or richness > 0.12 else "no_change"


def _warm_mixture(bench: Bench, share: float) -> float:
    return bench.at(share).state.mixture


def _smoke(bench: Bench, draws: Draws) -> str:
    if _warm_mixture(bench, 0.75) > 1.36:
        return "black"
    if bench.plant.looks.oil > 0.35:
        return "blue"
    return "white" if bench.warm_minutes < 4.0 else "clear"


def _drop(bench: Bench, draws: Draws) -> str:
    """Grounding one plug: how much more throttle the governor needs, cylinder by cylinder, by static balance."""
    engine = bench.plant.engine
    share = [force * (1.0 - chance) for force, chance in zip(engine.strength, engine.misfire, strict=True)]
    ratio = equilibrium(bench.plant, 0.0, bench.warm_minutes).mixture
    # Near the lean limit mixture does not reach all cylinders alike.
    share[0] *= 1.0 - 3.0 * max(0.0, 0.80 - ratio)
    least, most = min(share), max(share)
    if least < 0.2 * most:
        return "one_makes_no_difference"
    return "uneven" if least < 0.72 * most else "all_drop_alike"


def _plugs(bench: Bench, draws: Draws) -> str:
    plant = bench.plant
    if plant.looks.oil > 0.5:
        return "oily"
    ratio = max(_warm_mixture(bench, share) for share in (0.0, 0.5))
    weakest = max(plant.engine.misfire)
    if ratio > 1.36 or weakest > 0.6:
        return "sooty"
    return "white" if min(_warm_mixture(bench, share) for share in (0.0, 0.75)) < 0.86 else "tan"


def _vacuum(bench: Bench) -> tuple[float, float]:
    run_ = bench.at(0.0)
    values = [(bench.plant.pressure - value) * INHG for value in run_.manifold[-400:]]
    return _mean(values), peak_to_peak(values, 8)


def _needle_look(bench: Bench, draws: Draws) -> str:
    engine = bench.plant.engine
    uneven = max(engine.misfire) - min(engine.misfire) + max(engine.strength) - min(engine.strength)
    mean, size = _vacuum(bench)
    if uneven > 0.25 or engine.hang > 0.3:
        return "flicks_down_regularly"
    if size > 1.2:
        return "drifts"
    return "low_and_steady" if mean < 14.0 else "steady"


def _amps(bench: Bench, draws: Draws) -> str:
    features, generator = bench.features, bench.plant.generator
    kilowatts, volts = float(features["rated_kw"]), float(features["volts"])
    rated = kilowatts * 1000.0 / (volts if float(features["phases"]) == 1 else math.sqrt(3.0) * volts * 0.8)
    total = generator.load_factor * bench.load * (1.0 if generator.load_factor > 1.0 else 0.7)
    return ", ".join(f"{rated * total * leg * (1.0 + draws.normal(0.005)):.1f}" for leg in generator.legs) + " A"


def _volts(share: float) -> Callable[[Bench, Draws], str]:
    def made(bench: Bench, draws: Draws) -> str:
        legs = bench.plant.generator.legs
        uneven = 0.10 * (max(legs) - 1.0) * share  # the loaded leg sinks
        value = _mean(bench.at(share).volts[-300:]) * (1.0 - uneven) * (1.0 + draws.normal(0.003))
        return f"{value * float(bench.features['volts']):.0f} V"

    return made


def _volts_steady(bench: Bench, draws: Draws) -> str:
    values = bench.at(0.5).volts[-400:]
    return "wavers" if max(values) - min(values) > 0.025 else "steady"


def _fixed(bench: Bench, draws: Draws) -> str:
    if bench.plant.generator.swing:
        return "swing_stops"
    return UNKNOWN if swing(bench, bench.at(0.0))[0] < SWINGS * bench.plant.hertz / 60.0 else "swing_stays"


def _gap(bench: Bench, draws: Draws) -> str:
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


def _feel(bench: Bench, draws: Draws) -> str:
    linkage = bench.plant.linkage
    if linkage.play > 0.018:
        return "loose"
    return "binds" if linkage.drag > 0.008 or bench.plant.booster.drag > 0.02 else "free"


def _arm(bench: Bench, draws: Draws) -> str:
    plant = bench.plant
    if plant.governor_play > 0.012:
        return "backlash"
    return "gritty_or_sticky" if plant.governor.drag > 0.008 else "smooth"


def _stop(bench: Bench, draws: Draws) -> str:
    usual = Plant().linkage.stop_closed
    stop = bench.plant.linkage.stop_closed
    return "held_open" if stop > usual + 0.08 else "never_reaches" if stop < usual - 0.02 else "just_touches"


def _bowl(bench: Bench, draws: Draws) -> str:
    carburetor = bench.plant.carburetor
    if carburetor.level > 1.08:
        return "high_or_flooding"
    return "low" if carburetor.level < 0.9 or carburetor.supply < 0.6 else "right"


def _timing(bench: Bench, draws: Draws) -> str:
    off = bench.plant.looks.timing
    return "late" if off < -3.0 else "early" if off > 3.0 else "right"


def _ohms(bench: Bench, draws: Draws) -> str:
    ohms = bench.plant.looks.heater_ohms
    return "open_circuit" if ohms > 1e5 else f"{ohms * (1.0 + draws.normal(0.01)):.1f} ohm"


def _when(test: Callable[[Plant], bool], yes: str, no: str) -> Callable[[Bench, Draws], str]:
    return lambda bench, draws: yes if test(bench.plant) else no


CHECKS: Mapping[str, Callable[[Bench, Draws], str]] = {
    "frequency_no_load": _frequency(0.0),
    "frequency_quarter_load": _frequency(0.25),
    "frequency_half_load": _frequency(0.5),
    "frequency_three_quarter_load": _frequency(0.75),
    "frequency_full_load": _frequency(1.0),
    "frequency_spread": _spread,
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
    "hold_throttle_still": _held,
    "full_power_hold": _full_power,
    "linkage_feel": _feel,
    "throttle_shaft_play": _when(lambda plant: plant.linkage.shaft_play > 0.02, "loose", "snug"),
    "wide_open_stop_gap": _gap,
    "throttle_reaches_full": _when(lambda plant: plant.linkage.stop_open < 0.95, "short_of_full", "reaches_full"),
    "closed_stop": _stop,
    "arm_clamp": _when(lambda plant: plant.linkage.arm_slips > 0.0, "slips", "tight"),
    "arm_travel": _arm,
    "spring_look": lambda bench, draws: bench.plant.looks.spring,
    "speed_adjuster_trial": _speed_trial,
    "sensitivity_trial": _sensitivity,
    "booster_disconnect_trial": _booster_off,
    "booster_vacuum_hold": _when(lambda plant: plant.booster.leak > 0.15, "leaks", "holds"),
    "booster_passage": _when(lambda plant: plant.booster.blocked > 0.15, "plugged_or_cracked", "clear"),
    "booster_link_movement": _booster_moves,
    "choke_plate_cold": lambda bench, draws: _choke(choke_opening(bench.plant.carburetor, 0.0), (0.2, 0.7)),
    "choke_plate_warm": lambda bench, draws: _choke(
        choke_opening(bench.plant.carburetor, min(20.0, bench.warm_minutes)), (0.25, 0.8)
    ),
    "choke_heater_supply": lambda bench, draws: f"{max(0.0, bench.plant.looks.heater_volts + draws.normal(0.1)):.1f} V",
    "choke_heater_resistance": _ohms,
    "part_choke_trial": _part_choke,
    "idle_needle_turns": lambda bench, draws: f"{max(0.1, bench.plant.carburetor.idle_turns + draws.normal(0.1)):.2f} turns",
    "main_needle_turns": lambda bench, draws: f"{max(0.1, bench.plant.carburetor.main_turns + draws.normal(0.1)):.2f} turns",
    "idle_needle_trial": lambda bench, draws: _needle(bench, "idle", 0.0),
    "main_needle_trial": lambda bench, draws: _needle(bench, "main", 0.75 * bench.load),
    "bowl_level": _bowl,
    "joint_spray_trial": _spray,
    "air_cleaner_off_trial": _cleaner_off,
    "fuel_flow": _when(lambda plant: plant.carburetor.supply < 1.2, "weak", "strong_and_steady"),
    "fuel_sample": _when(lambda plant: plant.looks.stale > 0.2, "stale_or_water", "clean_fresh"),
    "exhaust_colour": _smoke,
    "exhaust_back_pressure": _when(lambda plant: plant.engine.exhaust > 0.1, "high", "normal"),
    "cylinder_drop_trial": _drop,
    "plug_colour": _plugs,
    "points_gap": lambda bench, draws: f"{bench.plant.looks.points + draws.normal(0.0005):.3f} in",
    "ignition_timing": _timing,
    "compression": lambda bench, draws: ", ".join(
        f"{value + draws.normal(1.0):.0f}" for value in bench.plant.looks.compression
    ) + " psi",
    "manifold_vacuum_no_load": lambda bench, draws: f"{max(0.0, _vacuum(bench)[0] + draws.normal(0.2)):.1f} inHg",
    "vacuum_needle": _needle_look,
    "leg_currents": _amps,
    "load_steadiness": _when(lambda plant: plant.generator.cycle > 0.0, "comes_and_goes", "steady"),
    "second_meter": _when(lambda plant: abs(plant.meter.offset) > 0.5, "disagrees", "agrees"),
    "voltage_no_load": _volts(0.0),
    "voltage_full_load": _volts(1.0),
    "voltage_steadiness": _volts_steady,
    "regulator_fixed_trial": _fixed,
}  # fmt: skip
