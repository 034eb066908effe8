"""A simulated set on the bench: checks are made on it, remedies carried out, and it answers as a real one would.

Purpose: check id -> what a technician reads or sees, from the physics in `plant` and a cheap meter; and the set as it
is after a remedy.
Law: the same bench, check and look give the same answer on every machine; nothing is read from the knowledge's
strengths, so that the answers are an opinion of their own. A trial that says something only while the set swings
answers "unknown" on a steady one.
Sources: how each check is made is told in knowledge/checks; what counts as a swing, a jiggle or a wander is read from
the run here and turned into outcomes by the knowledge's own bands where the check has a reading.
Not checked here: order, cost and safety of what is done (see `planner`, `job`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from .attachments import ATTACHED_CHECKS
from .breaker import opens_after
from .draws import Draws, draw_state
from .equilibrium import equilibrium, with_no_load
from .faults import MIXTURE_PER_TURN, FaultError, afflict, warm_minutes
from .looks import LOOKS
from .measurements import MEASUREMENTS
from .observation import Check, average
from .plant import Booster, Plant
from .running import Run, RunSegment, run
from .sound_set import NO_LOAD, rated_load, sound_set
from .starting import STARTING
from .trials import TRIALS


@dataclass(frozen=True)
class Bench:
    """A set with faults (cause id, severity), as found.

    features: as `Knowledge.features` gives them. hide: see `faults.afflict`. seed: of everything left to chance.
    made: the sound set that it was, None for the usual one of its features.
    speed_turns: what was turned at the speed adjuster since it was found, None where it is as found.
    """

    features: Mapping[str, str | float]
    faults: tuple[tuple[str, float], ...] = ()
    seed: int = 0
    hide: float = 0.0
    speed_turns: float | None = None
    steps: int = 0
    """Remedies carried out so far."""
    made: Plant | None = None
    hand: Mapping[str, float] = field(default_factory=dict)
    """Where somebody's hand has left adjusters: sensitivity in turns, booster as its pull, needles in turns open."""
    plant: Plant = field(init=False, compare=False)

    def __post_init__(self) -> None:
        plant = afflict(self.made or sound_set(self.features), self.faults, self.hide)
        if self.speed_turns is not None:
            plant = replace(plant, governor=replace(plant.governor, speed_turns=self.speed_turns))
        for adjuster, place in self.hand.items():
            plant = _PUT[adjuster](plant, place)
        object.__setattr__(self, "plant", plant)

    @property
    def warm_minutes(self) -> float:
        """Minutes of running when somebody takes the set for warm; too few where it has not reached its warmth."""
        return warm_minutes(self.faults)

    @property
    def load(self) -> float:
        """Full load for the place, per unit of the nameplate."""
        return rated_load(self.plant)

    @property
    def true_no_load(self) -> float:
        """Frequency with no load by a meter that is right, per 60 Hz."""
        return 60.0 * equilibrium(self.plant, 0.0, self.warm_minutes).speed

    def answer(self, check: str, look: int = 0) -> str:
        """What a check shows: a reading with its unit, an outcome id, both, or "unknown".

        look: counts the times it is made on the unchanged set; each gives new noise and nothing else.
        Raises FaultError for a check that the bench cannot make.
        """
        made = CHECKS.get(check)
        if made is None:
            raise FaultError(f'"{check}" is no check that the simulated set can answer')
        return made(self, Draws(self.seed, self.steps, check, look))

    def carry_out(self, cures: Mapping[str, float], then: Iterable[str] = ()) -> Bench:
        """The set after a remedy.

        cures: chance of cure for each cause (`Remedy.cures`); then: causes that the remedies it ends with set right, of
        which the no-load speed counts here.
        The speed adjuster otherwise stays where it was found, also where it had been turned to hide what is now gone.
        """
        draws = Draws(self.seed, self.steps, "remedy", *sorted(cures))
        resets_speed = any(map(_of_speed, then))
        # Whoever ends with the speed set has set it right, whatever chance the remedy itself had.
        kept = tuple(
            (cause, severity)
            for cause, severity in self.faults
            if not (resets_speed and _of_speed(cause)) and (cause not in cures or draws.uniform() >= cures[cause])
        )
        left = replace(
            self, faults=kept, steps=self.steps + 1, hide=0.0, speed_turns=self.plant.governor.speed_turns,
            # What a remedy sets anew no longer stands where a hand left it.
            hand={name: at for name, at in self.hand.items() if not any(map(_only_stands(name), cures))},
        )  # fmt: skip
        failed = any(_of_speed(cause) for cause, _ in kept)
        if resets_speed or (any(map(_of_speed, cures)) and not failed):
            # By the meter at hand: one that is wrong leaves the set wrong.
            shown = NO_LOAD * left.plant.hertz / 60.0 - left.plant.meter.offset
            turned = with_no_load(left.plant, shown).governor.speed_turns
            left = replace(left, speed_turns=turned)
        return left

    def turn(self, adjuster: str, turns: float) -> Bench:
        """The set after a hand turned an adjuster so far, as far as its thread goes; + is more speed, sharper, more
        pull. A fault that is nothing but where the adjuster stood is then no more than where it stands now."""
        governor, booster = self.plant.governor, self.plant.booster
        turns = self.goes(adjuster, turns)
        if adjuster == "speed":
            return self._left(adjuster, self._speed_adjuster + turns)
        if adjuster == "sensitivity":
            return self._left(adjuster, governor.sensitivity_turns + turns)
        return self._left(adjuster, max(0.0, booster.strength + turns * PULL_PER_TURN * Booster().strength))

    def goes(self, adjuster: str, turns: float) -> float:
        """How far of so many turns the thread of an adjuster goes; whoever turns it feels its end."""
        if adjuster != "speed":
            return turns
        thread, stands = self.plant.governor.thread, self._speed_adjuster
        return max(-thread, min(thread, stands + turns)) - stands

    @property
    def _speed_adjuster(self) -> float:
        governor = self.plant.governor
        return max(-governor.thread, min(governor.thread, governor.speed_turns))

    def place(self, adjuster: str, at: float) -> Bench:
        """The set after an adjuster was put somewhere: a needle to turns open, the booster's spring to a pull."""
        return self._left(adjuster, at)

    def _left(self, adjuster: str, at: float) -> Bench:
        stands = _only_stands(adjuster)
        speed = at if adjuster == "speed" else self.plant.governor.speed_turns
        hand = dict(self.hand) if adjuster == "speed" else {**self.hand, adjuster: at}
        kept = tuple((cause, severity) for cause, severity in self.faults if not stands(cause))
        return replace(self, faults=kept, steps=self.steps + 1, hide=0.0, speed_turns=speed, hand=hand)

    def under(self, share: float, minutes: float) -> str:
        """What a share of full load does to the set within so many minutes, but for what a meter reads: STALLS,
        COLLAPSES (the engine runs on without volts), TRIPS (its breaker, rated for the nameplate); else empty."""
        last = self.at(share).state
        if last.stalled or last.dead:
            return STALLS if last.stalled else COLLAPSES
        return TRIPS if self.trips_after(share) <= 60.0 * minutes else ""

    def trips_after(self, share: float) -> float:
        """Seconds for which the breaker holds a share of full load, by the leg that carries most."""
        generator, volts = self.plant.generator, self.at(share).volts[-100:]
        current = share * self.load * generator.load_factor * max(generator.legs) * average(volts) / generator.volts
        return opens_after(current)

    # Runs that several checks share; a bench is frozen, so that they may be kept.

    def seen(
        self, name: str, stretches: Sequence[RunSegment], minutes: float | None = None, plant: Plant | None = None
    ) -> Run:
        """A run of the set (or of one with something changed for a trial), seeded by its name."""
        at = self.warm_minutes if minutes is None else minutes
        return _run(plant or self.plant, tuple(stretches), draw_state(self.seed, self.steps, name), at)

    def at(self, share: float) -> Run:
        """Forty-two seconds at a share of full load, come to from no load, or to no load from half load."""
        return self.seen(f"at {share:g}", self.way_to(share))

    def way_to(self, share: float) -> tuple[RunSegment, ...]:
        """Loads on the way to a share of full load, a quarter at a time as it is done with a load bank."""
        steps = [0.5, 0.25] if share == 0.0 else [0.25 * number for number in range(math.ceil(share / 0.25))]
        return (*(RunSegment(4.0, step * self.load) for step in steps), RunSegment(42.0, share * self.load))

    def stepped(self) -> Run:
        """Full load on after ten seconds, off at forty, until seventy."""
        return self.seen("step", (RunSegment(10.0), RunSegment(30.0, self.load), RunSegment(30.0)))


def _of_speed(cause: str) -> bool:
    return cause.startswith("speed_set")


STALLS, COLLAPSES, TRIPS = "stalls", "collapses", "trips"
PULL_PER_TURN = 0.25
"""What a turn of the booster's adjuster makes of its usual pull; from memory, about 0.4 Hz at full load."""

_STANDS = {
    "speed": "speed_set",
    "sensitivity": "sensitivity_",
    "booster": "booster_set_",
    "idle_needle": "idle_mixture_",
    "main_needle": "main_mixture_",
}


def _only_stands(adjuster: str) -> Callable[[str], bool]:
    """Whether a cause is nothing but where an adjuster stands."""
    begins = _STANDS[adjuster]
    return lambda cause: cause.startswith(begins)


def _needle(plant: Plant, needle: str, turns: float) -> Plant:
    """A needle put to so many turns open; the mixture follows it from where it stood."""
    carburetor = plant.carburetor
    mixture, stood = getattr(carburetor, needle), getattr(carburetor, f"{needle}_turns")
    richer = mixture * max(0.2, 1.0 + MIXTURE_PER_TURN[needle] * (turns - stood))
    return replace(plant, carburetor=replace(carburetor, **{needle: richer, f"{needle}_turns": turns}))


_PUT: Mapping[str, Callable[[Plant, float], Plant]] = {
    "sensitivity": lambda plant, at: replace(plant, governor=replace(plant.governor, sensitivity_turns=at)),
    "booster": lambda plant, at: replace(plant, booster=replace(plant.booster, strength=at)),
    "idle_needle": lambda plant, at: _needle(plant, "idle", at),
    "main_needle": lambda plant, at: _needle(plant, "main", at),
}


_run = lru_cache(maxsize=64)(run)

CHECKS: Mapping[str, Check] = {**MEASUREMENTS, **TRIALS, **LOOKS, **STARTING, **ATTACHED_CHECKS}
