"""Mis-set simulated sets to try the adjusting coach on, and the one-at-a-time routine beside it.

A set is the sound simulated set with the scatter of manufacture: spring rate +-8 %, place of its hole +-3 %, weights
+-7 %, Hz a turn of either adjuster +-30 % (thread and lever), torque +-7 %, friction +-15 %, flywheel +-15 %, booster
+-20 %, arm ratio +-3 %, mixtures +-4 %, drag half to double. It belongs to the sample where at least one setting within
the threads is steady and right (a set that cannot be adjusted is one to diagnose), and where its mis-setting leaves it
running within the working range: no load 55 to 66 Hz, full load above 50 Hz.

A trial is one setting of the adjusters followed by readings. Reading the set as found is trial 0 and is not counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from hertzwright.engine import Knowledge
from hertzwright.engine.simulated.draws import Draws, draw_state
from hertzwright.engine.simulated.equilibrium import equilibrium
from hertzwright.engine.simulated.observation import average, level, peak_to_peak, settled
from hertzwright.engine.simulated.plant import Plant
from hertzwright.engine.simulated.running import RunSegment, run
from hertzwright.engine.simulated.sound_set import sound_set
from hertzwright.engine.trim.coach import Coach, goal_of, pair_of
from hertzwright.engine.trim.trial import Trial

SWINGS = 0.5
PAIR = "speed_and_sensitivity"
CLOSE = 0.5
"""Hz from both targets that count as close."""
MOST = 12
"""Trials after which a routine is given up."""


@dataclass(frozen=True)
class TrimSet:
    """One set as found, and the settings it started from (turns of speed and sensitivity)."""

    plant: Plant
    seed: int
    booster: str
    critical: float
    """Stiffness of the governor below which it hunts with no load: the stand-in for a run, for tuning alone."""

    def at(self, place: tuple[float, ...]) -> Plant:
        governor = self.plant.governor
        turned = replace(
            governor,
            speed_turns=governor.speed_turns + place[0],
            sensitivity_turns=governor.sensitivity_turns + place[1],
        )
        return replace(self.plant, governor=turned)

    def read(self, place: tuple[float, ...], look: int) -> Trial:
        """Full load, then no load, as a technician reads them: mean of the meter, and whether it swings."""
        plant = self.at(place)
        ran = run(plant, (RunSegment(14.0, 1.0), RunSegment(28.0, 0.0)), draw_state(self.seed, look))
        loaded, empty = ran.hertz[80:280], settled(ran, 20.0)
        draws = Draws(self.seed, "meter", look)
        noise = plant.meter.noise
        values = []
        for each in (empty, loaded):
            size = peak_to_peak(level(each[40:]))
            # The middle of a swing is read by eye.
            own = 0.15 * size if size >= SWINGS else 0.0
            values.append((round(average(each) + draws.normal(noise + own), 1), size))
        (none, _), (full, _) = values
        swing = max(size for _, size in values)
        return Trial(place, (none, full), swing >= SWINGS, swing)

    def glance(self, place: tuple[float, ...], look: int) -> Trial:
        """The same by static balance."""
        plant = self.at(place)
        none, full = (equilibrium(plant, load) for load in (0.0, 1.0))
        draws = Draws(self.seed, "meter", look)
        noise = plant.meter.noise
        values = tuple(round(60.0 * each.speed + draws.normal(noise), 1) for each in (none, full))
        return Trial(place, values, plant.governor.stiffness(none.speed) < self.critical)


def _sharp(plant: Plant, turns: float) -> Plant:
    """Sensitivity turned, and the speed adjuster after it until no load stands at 61.5 Hz."""
    governor = replace(plant.governor, sensitivity_turns=turns)
    for _ in range(4):
        plant = replace(plant, governor=governor)
        speed = 60.0 * equilibrium(plant).speed
        if abs(speed - 61.5) < 0.02:
            break
        # The pull of the spring goes with the square of the speed.
        pull = (governor.pull + governor.rate * governor.lever * 0.8) * ((61.5 / speed) ** 2 - 1.0)
        governor = replace(governor, speed_turns=governor.speed_turns + pull / governor.tension_per_turn)
    return plant


def _hunts(plant: Plant, seed: int) -> bool:
    ran = run(plant, (RunSegment(2.0, 0.5), RunSegment(18.0, 0.0)), seed)
    return peak_to_peak(level(settled(ran, 12.0))) >= SWINGS


def scattered(knowledge: Knowledge, booster: str, draws: Draws) -> Plant:
    """A sound set with the scatter of manufacture."""
    plant = sound_set(knowledge.features({"booster": booster}))

    def about(part: float) -> float:
        return draws.uniform(1.0 - part, 1.0 + part)

    governor = replace(
        plant.governor,
        rate=plant.governor.rate * about(0.08),
        hole=plant.governor.hole * about(0.03),
        spread=plant.governor.spread * about(0.07),
        radius=plant.governor.radius * about(0.07),
        tension_per_turn=plant.governor.tension_per_turn * about(0.3),
        lever_per_turn=plant.governor.lever_per_turn * about(0.3),
        drag=plant.governor.drag * draws.uniform(0.5, 2.0),
        thread=1000.0,
    )
    engine = replace(
        plant.engine,
        torque=plant.engine.torque * about(0.07),
        friction=plant.engine.friction * about(0.15),
        inertia=plant.engine.inertia * about(0.15),
    )
    carburetor = replace(
        plant.carburetor, idle=plant.carburetor.idle * about(0.04), main=plant.carburetor.main * about(0.04)
    )
    return replace(
        plant,
        governor=governor,
        engine=engine,
        carburetor=carburetor,
        booster=replace(plant.booster, strength=plant.booster.strength * about(0.2)),
        linkage=replace(plant.linkage, ratio=plant.linkage.ratio * about(0.03)),
    )


def trim_sets(knowledge: Knowledge, count: int, seed: int) -> Iterator[TrimSet]:
    """Mis-set sets, half of them with a booster. The same seed gives the same sets."""
    made, number = 0, 0
    while made < count:
        number += 1
        draws = Draws(seed, number, "trim")
        booster = ("vacuum", "none")[made % 2]
        plant = scattered(knowledge, booster, draws)
        band = _right(plant)
        if band is None:
            continue
        slack, sharp = band
        edge = _sharp(plant, sharp)
        middle = _sharp(plant, 0.5 * (slack + sharp)).governor
        governor = replace(
            middle,
            tension=middle.pull,
            hole=middle.lever,
            speed_turns=draws.uniform(-4.0, 4.0),
            sensitivity_turns=draws.uniform(-6.0, 6.0),
            thread=25.0,
        )
        found = replace(plant, governor=governor)
        none, full = (60.0 * equilibrium(found, load).speed for load in (0.0, 1.0))
        if not (55.0 < none < 65.9 and full > 50.0):
            continue
        made += 1
        critical = edge.governor.stiffness(equilibrium(edge).speed)
        yield TrimSet(found, number + 100_003 * seed, booster, critical)


def _right(plant: Plant) -> tuple[float, float] | None:
    """Turns of sensitivity from the slackest with a fall within the tolerance to the sharpest that is steady."""

    def fall(turns: float) -> float:
        at = _sharp(plant, turns)
        return 60.0 * (equilibrium(at).speed - equilibrium(at, 1.0).speed)

    slack = _edge(lambda turns: fall(turns) < 2.9)
    sharp = _edge(lambda turns: fall(turns) < 0.5 or _hunts(_sharp(plant, turns), 1))
    return (slack, sharp) if sharp - slack > 0.7 else None


def _edge(reached: Callable[[float], bool]) -> float:
    low, high = -16.0, 16.0
    for _ in range(7):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if reached(middle) else (middle, high)
    return 0.5 * (low + high)


@dataclass(frozen=True)
class Played:
    """How a routine went: trials until within the tolerance and steady, until within half a hertz of both targets and
    steady, trials that walked a steady set into hunting, and all trials that hunted. None: not within MOST trials."""

    tolerance: int | None
    close: int | None
    walked: int
    hunted: int


def judge(goal: object, trials: list[Trial]) -> Played:
    """Count the trials of a routine by what was read."""
    from hertzwright.engine.trim.search import Goal

    assert isinstance(goal, Goal)
    tolerance = close = None
    near = goal.near(0.5)
    # A reading of exactly half a hertz off counts; the meter shows tenths.
    near = replace(near, high=tuple(high + 1e-6 for high in near.high), low=tuple(low - 1e-6 for low in near.low))
    for number, trial in enumerate(trials):
        if trial.hunts:
            continue
        if tolerance is None and goal.holds(trial.values):
            tolerance = number
        if close is None and near.holds(trial.values):
            close = number
    walked = sum(bool(now.hunts) and not before.hunts for before, now in pairwise(trials))
    return Played(tolerance, close, walked, sum(bool(trial.hunts) for trial in trials[1:]))


def by_coach(knowledge: Knowledge, mis_set: TrimSet, close: float | None, fast: bool = False) -> tuple[Played, str]:
    """Do what the coach says until it stops. Also how it ended."""
    features = knowledge.features({"booster": mis_set.booster})
    pair = pair_of(knowledge, PAIR, features)
    coach = Coach.begin(knowledge, pair, features, goal_of(knowledge, pair, features), close)
    read = mis_set.glance if fast else mis_set.read
    trials = [read((0.0, 0.0), 0)]
    coach = coach.after(trials[0])
    end = "given up"
    for number in range(1, MOST + 1):
        advice = coach.advice()
        if advice.kind in ("done", "diagnose", "stop"):
            end = advice.kind
            break
        place = tuple(at + turns for at, turns in zip(coach.line.at, advice.step, strict=True))
        trials.append(read(place, number))
        coach = coach.after(trials[-1])
    else:
        end = coach.advice().kind
    return judge(coach.goal, trials), end


@dataclass(frozen=True)
class Routine:
    """One adjuster at a time. Hz a turn that are assumed (the fall for sensitivity), where the fall is aimed, how far a
    hunting set is eased at least, how much is learned from each turn (0 nothing, 1 a secant), and what comes first."""

    speed: float
    fall: float
    aim: float
    ease: float
    learn: float
    fall_first: bool
    done_fall: float
    """Hz that the fall may be off before the sensitivity is turned."""
    margin: float = 0.25
    """Hz of fall that is kept from the largest fall at which it was seen to hunt near the target speed."""


def one_at_a_time(
    knowledge: Knowledge, mis_set: TrimSet, routine: Routine, close: float | None, fast: bool = False
) -> Played:
    """The routine of a good mechanic: no-load speed to its target, sensitivity for the fall, speed again."""
    features = knowledge.features({"booster": mis_set.booster})
    pair = pair_of(knowledge, PAIR, features)
    goal = goal_of(knowledge, pair, features)
    wanted = goal if close is None else goal.near(close)
    read = mis_set.glance if fast else mis_set.read
    trials = [read((0.0, 0.0), 0)]
    speed, per_fall = routine.speed, routine.fall
    fall_target = goal.target[0] - goal.target[1] + routine.aim
    eased = 0.0
    for number in range(1, MOST + 1):
        last = trials[-1]
        none, full = last.values
        assert none is not None
        assert full is not None
        if not last.hunts and wanted.holds(last.values):
            break
        fall = none - full
        if last.hunts and abs(none - goal.target[0]) < 1.5:
            fall_target = min(max(fall_target, fall + routine.margin), goal.difference[1] - 0.1)
        place = list(last.place)
        fall_off, speed_off = fall_target - fall, goal.target[0] - none
        if last.hunts:
            eased += routine.ease
            turns = min(-eased, -max(0.0, fall_off) / abs(per_fall))
            place[1] += max(-8.0, turns)
        else:
            eased = 0.0
            wants_fall = abs(fall_off) > routine.done_fall
            wants_speed = abs(speed_off) > 0.3
            if wants_fall and (routine.fall_first or not wants_speed):
                place[1] += _bounded(fall_off / per_fall, 8.0)
            else:
                place[0] += _bounded(speed_off / speed, 5.0)
        place = [round(8.0 * turns) / 8.0 for turns in place]
        if tuple(place) == last.place:
            place[0] += 0.125 if speed_off > 0.0 else -0.125
        trials.append(read(tuple(place), number))
        now = trials[-1]
        moved = [to - at for to, at in zip(now.place, last.place, strict=True)]
        if (
            routine.learn
            and not now.hunts
            and not last.hunts
            and now.values[0] is not None
            and now.values[1] is not None
        ):
            if moved[0] and not moved[1]:
                speed += routine.learn * (max(0.3, min(1.6, (now.values[0] - none) / moved[0])) - speed)
            elif moved[1] and not moved[0] and abs(moved[1]) > 0.9:
                seen = (now.values[0] - now.values[1] - fall) / moved[1]
                per_fall += routine.learn * (max(-0.5, min(-0.05, seen)) - per_fall)
    return judge(goal, trials)


def _bounded(turns: float, most: float) -> float:
    return max(-most, min(most, turns))


TUNED = {
    None: Routine(0.9, -0.16, 0.0, 0.5, 0.5, True, 0.4, 0.2),
    CLOSE: Routine(0.9, -0.16, 0.0, 0.5, 0.5, True, 0.4, 0.2),
}
"""The routine as tuned for the tolerance (None) and for half a hertz of both targets."""


@dataclass(frozen=True)
class Summary:
    """Trials: mean, 95th percentile and worst, one that was not reached counted as one more than the most allowed."""

    mean: float
    nearly_all: int
    worst: int
    walked: int
    """The most trials that walked one set into hunting."""
    walks: int
    """Sets that were walked into hunting at all."""


def summary(played: Sequence[Played], close: float | None) -> Summary:
    """Of the trials to the tolerance (None) or to within half a hertz of both targets."""
    counts = sorted(
        MOST + 1 if count is None else count
        for count in (each.tolerance if close is None else each.close for each in played)
    )
    return Summary(
        sum(counts) / len(counts),
        counts[int(0.95 * (len(counts) - 1) + 0.5)],
        counts[-1],
        max(each.walked for each in played),
        sum(each.walked > 0 for each in played),
    )


def coached(knowledge: Knowledge, sets: Sequence[TrimSet], close: float | None) -> tuple[list[Played], Counter[str]]:
    """What the coach makes of sets, and how it ended with each."""
    found = [by_coach(knowledge, each, close) for each in sets]
    return [played for played, _ in found], Counter(end for _, end in found)
