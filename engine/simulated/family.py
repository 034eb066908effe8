"""A family of simulated sets: each member differs in build, adjustment, owner and meter, as sets of the trade do.

Purpose: seed -> a sound set as a good mechanic left it and its owner turned it since; and the faults that it has.
Law: the same seed and ranges give the same member on every machine; each thing is drawn by its own name, so that a new
range, feature or cause leaves the other draws as they were. Of each range a tenth at one end is kept aside, and a
tenth of the pairs of causes: only `held_out` draws there, a third of its things from the tenth, the others anywhere.
An end and not a slice in the middle, since what is asked of a final test is how it goes on sets odder than any seen;
which end, the name of the range decides. Nothing here reads the strengths of the knowledge.
Sources: the ranges and shares are knowledge (knowledge/family.yaml).
Not checked here: whether a fault can be noticed on this member, and what its owner says of it (see `rehearsal`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from ..compiler import Features, Knowledge, Spread
from .bench import Bench
from .draws import Draws, draw_state
from .equilibrium import equilibrium, held_at, with_no_load
from .faults import FAULTS, MIXTURE_PER_TURN, FaultError
from .governor import SetGovernor
from .observation import average, level, peak_to_peak, smooth
from .plant import Plant
from .running import Run, RunSegment, run
from .sound_set import built, rated_load

ASIDE = 0.1
"""Part of each range, and of the pairs of causes, that is kept for the final test."""
FROM_ASIDE = 1.0 / 3.0
"""Part of its ranges that a held-out member draws from what is kept aside."""
STEADY, SLOWEST, DEEPEST, WIDEST = 0.40, 4.5, 4.5, 2.85
"""What a sound set keeps within, at 60 Hz: swing in Hz, recovery in s, dip in Hz, fall to full load in Hz."""
EASED = 0.25
"""Hz at 60 Hz that the fall is let grow at a time where a set hunts."""
TRIES = 60
"""Draws until one can be adjusted to be sound; more than a few are rare."""


@dataclass(frozen=True)
class FamilyMember:
    """A sound set of the family. `made`: as its owner has it; `hide`: how far he hides what comes, 0 not to 1."""

    seed: str
    held_out: bool
    features: Features
    made: Plant
    hide: float

    def with_faults(self, faults: Sequence[tuple[str, float]]) -> Bench:
        """The member on the bench with some faults, each a cause id and a severity."""
        chance = draw_state(self.seed, "bench") % 1_000_000_007
        return Bench(self.features, tuple(faults), seed=chance, hide=self.hide if faults else 0.0, made=self.made)


def kept_aside(spread: Spread) -> tuple[float, float]:
    """The tenth of a range that only the final test draws from, at the end that its name decides."""
    tenth = ASIDE * (spread.highest - spread.lowest)
    if draw_state(spread.id, "aside") % 2:
        return spread.highest - tenth, spread.highest
    return spread.lowest, spread.lowest + tenth


def draw_spread(spread: Spread, seed: str, held_out: bool = False) -> float:
    """A value of a range, evenly: outside of what is kept aside, or, held out, a third of the time inside of it."""
    draws = Draws(seed, spread.id)
    low, high = kept_aside(spread)
    if held_out:
        if draws.uniform() < FROM_ASIDE:
            return draws.uniform(low, high)
        return draws.uniform(spread.lowest, spread.highest)
    if low > spread.lowest:
        return draws.uniform(spread.lowest, low)
    return draws.uniform(high, spread.highest)


def family_member(knowledge: Knowledge, seed: int | str, held_out: bool = False) -> FamilyMember:
    """The member of a seed. Raises FaultError where the knowledge has no family or nothing of it can be adjusted."""
    spreads = knowledge.catalogue.spreads
    if not spreads:
        raise FaultError("this knowledge has no family of sets; family.yaml holds it")
    called = f"{'aside' if held_out else 'family'}/{seed}"
    features = draw_features(knowledge, called)  # once: what is hard to adjust stays as common as it is
    for number in range(TRIES):
        name = f"{called}/{number}"
        drawn = {spread.id: draw_spread(spread, name, held_out) for spread in spreads.values()}
        left = {spread.value: drawn[spread.id] for spread in spreads.values() if spread.part == "owner"}
        made = _adjusted(_scattered(built(features), spreads.values(), drawn), left)
        if made is not None:
            return FamilyMember(name, held_out, features, made, max(0.0, left.get("hide", 0.0)))
    raise FaultError(f"seed {seed}: none of {TRIES} draws of the family can be adjusted to be sound")


def draw_features(knowledge: Knowledge, seed: str) -> Features:
    """Features of a set by the shares of the family, defaults for the rest."""
    given = {}
    for share in knowledge.catalogue.shares.values():
        # The highest of weighted scores wins: a new value leaves the others in their order.
        scores = {
            value: math.log(max(Draws(seed, share.id, value).uniform(), 1e-12)) / weight
            for value, weight in share.of.items()
            if weight > 0.0
        }
        given[share.id] = max(scores, key=lambda value: scores[value])
    return knowledge.features(given)


def _scattered(plant: Plant, spreads: Iterable[Spread], drawn: Mapping[str, float]) -> Plant:
    """The set as it was built: every range of a part applied to the usual value."""
    for spread in spreads:
        if spread.part in ("owner", "fault"):
            continue
        if not hasattr(getattr(plant, spread.part, None), spread.value):
            raise FaultError(f"{spread.id}: the simulated set has no {spread.part} with {spread.value}")
        part = getattr(plant, spread.part)
        usual = getattr(part, spread.value)
        value = drawn[spread.id]
        if isinstance(usual, tuple):
            new: object = tuple(_applied(spread.how, each, value) for each in usual)
        else:
            new = _applied(spread.how, usual, value)
        plant = replace(plant, **{spread.part: replace(part, **{spread.value: new})})
    # A fine thread has more turns for the same way.
    governor = plant.governor
    usual_turn = SetGovernor().tension_per_turn
    return replace(plant, governor=replace(governor, thread=governor.thread * usual_turn / governor.tension_per_turn))


def _applied(how: str, usual: float, value: float) -> float:
    return usual * value if how == "factor" else usual + value if how == "plus" else value


# ---- as a good mechanic leaves it


def _adjusted(plant: Plant, left: Mapping[str, float]) -> Plant | None:
    """The set with speed and sensitivity set, then as its owner turned it; None where that is no sound set.

    Sensitivity is set as it is done: for a small fall, and eased where the set hunts with it.
    """
    scale = plant.hertz / 60.0
    none, droop = left.get("no_load", 61.7) * scale, left.get("droop", 1.6)
    while droop < WIDEST:
        set_ = _set(plant, none, none - droop * scale)
        if set_ is None:
            return None
        if is_sound(set_):
            turned = _turned(set_, left, none)
            return turned if is_sound(turned) else set_
        droop += EASED
    return None


def _set(plant: Plant, none: float, full: float) -> Plant | None:
    """Tension and place of the spring at which no load and full load stand at these frequencies; None for none."""
    ends = []
    for hertz, load in ((none, 0.0), (full, rated_load(plant))):
        found = held_at(plant, hertz / plant.hertz, load)
        if found is None:
            return None
        ends.append(found)
    (empty, at_empty), (loaded, at_loaded) = ends
    rise = at_empty - at_loaded
    way = empty - loaded
    governor = plant.governor
    if rise <= 0.0 or way <= 0.0:
        return None
    # lever * (pull + rate * lever * travel) is what the weights need less the booster's help, at both ends.
    lever = math.sqrt(rise / (governor.rate * way))
    pull = at_empty / lever - governor.rate * lever * empty
    if not (0.75 < lever < 1.35 and pull > 0.05):
        return None
    return replace(plant, governor=replace(governor, hole=lever, tension=pull, speed_turns=0.0, sensitivity_turns=0.0))


def _turned(plant: Plant, left: Mapping[str, float], none: float) -> Plant:
    """What the owner turned since: needles and sensitivity, the speed brought back after it."""
    carburetor = plant.carburetor
    idle, main = left.get("idle_needle", 0.0), left.get("main_needle", 0.0)
    carburetor = replace(
        carburetor,
        idle=carburetor.idle * (1.0 + MIXTURE_PER_TURN["idle"] * idle),
        idle_turns=carburetor.idle_turns + idle,
        main=carburetor.main * (1.0 + MIXTURE_PER_TURN["main"] * main),
        main_turns=carburetor.main_turns + main,
    )
    governor = replace(plant.governor, sensitivity_turns=left.get("sensitivity", 0.0))
    turned = with_no_load(replace(plant, carburetor=carburetor, governor=governor), none)
    # The thread is counted from where the adjuster stands now.
    return replace(turned, governor=replace(turned.governor, tension=turned.governor.pull, speed_turns=0.0))


def is_sound(plant: Plant) -> bool:
    """Whether a set without a fault behaves as one: steady at every load, its fall right, quick after a load step."""
    scale, load = plant.hertz / 60.0, rated_load(plant)
    first = run(plant, (RunSegment(4.0, 0.5 * load), RunSegment(20.0)), 1)
    if _swings(first, 10, 24, scale):
        return False
    fall = (equilibrium(plant).speed - equilibrium(plant, load).speed) * 60.0
    if not 0.6 < fall < WIDEST:
        return False
    then = run(plant, (RunSegment(30.0, load), RunSegment(16.0, 0.5 * load)), 2, state=first.state)
    if _swings(then, 5, 30, scale) or _swings(then, 36, 46, scale):
        return False
    after = smooth(then.hertz[: round(20 * then.rate)], 8)
    goal = average(after[-100:])
    late = max((place for place, value in enumerate(after) if abs(value - goal) > 0.5 * scale), default=0)
    return late / then.rate < SLOWEST and goal - min(after) < DEEPEST * scale


def _swings(ran: Run, begin: float, end: float, scale: float) -> bool:
    """Whether the set swings, or has died, between two seconds of a run."""
    cut = ran.hertz[round(begin * ran.rate) : round(end * ran.rate)]
    return min(cut) <= 0.0 or peak_to_peak(level(cut)) > STEADY * scale


# ---- faults


def draw_faults(
    knowledge: Knowledge, member: FamilyMember, count: int, causes: Iterable[str] | None = None
) -> tuple[tuple[str, float], ...]:
    """So many faults of a member, each as likely as any other, with severities; fewer where there are not so many.

    causes: those to draw from; None for all that the knowledge has, this set can have, and that are faults of the set.
    Two that exclude one another do not come together, nor, unless held out, a pair that is kept aside.
    """
    usable = [cause for cause in (FAULTS if causes is None else causes) if can_have(knowledge, cause, member.features)]
    usable.sort(key=lambda cause: (draw_state(member.seed, "fault", cause), cause))
    found: list[str] = []
    for cause in usable:
        if len(found) == count:
            break
        part = knowledge.causes[cause].part
        if any(knowledge.causes[other].part == part for other in found):
            continue
        if not member.held_out and any(pair_aside(cause, other) for other in found):
            continue
        found.append(cause)
    return tuple(sorted((cause, severity(knowledge, member, cause)) for cause in found))


def can_have(knowledge: Knowledge, cause: str, features: Mapping[str, str | float]) -> bool:
    """Whether the knowledge has a cause, in use, that is a fault and that such a set can have."""
    known = knowledge.causes.get(cause)
    return known is not None and known.retired is None and known.fault and known.prior(features) > 0.0


def pair_aside(one: str, other: str) -> bool:
    """Whether two causes come together only in the final test."""
    return draw_state(*sorted((one, other)), "pair") % round(1.0 / ASIDE) == 0


def pairs_aside(causes: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """The pairs of these causes that only the final test draws."""
    return tuple(pair for pair in combinations(sorted(causes), 2) if pair_aside(*pair))


def severity(knowledge: Knowledge, member: FamilyMember, cause: str) -> float:
    """How bad a cause is on a member, 0 just noticed to 1 gross."""
    spread = next((each for each in knowledge.catalogue.spreads.values() if each.part == "fault"), None)
    return 0.5 if spread is None else draw_spread(spread, f"{member.seed}/{cause}", member.held_out)
