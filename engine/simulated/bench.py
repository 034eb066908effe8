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
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from .attachments import ATTACHED_CHECKS
from .draws import Draws, draw_state
from .equilibrium import WARM, equilibrium, with_no_load
from .faults import NO_LOAD, FaultError, afflict, rated_load, sound
from .looks import LOOKS
from .measurements import MEASUREMENTS
from .observation import Check
from .plant import Plant
from .running import Run, RunSegment, run
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
    plant: Plant = field(init=False, compare=False)

    def __post_init__(self) -> None:
        plant = afflict(self.made or sound(self.features), self.faults, self.hide)
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

    def carry_out(self, cures: Mapping[str, float], resets_speed: bool = False) -> Bench:
        """The set after a remedy.

        cures: chance of cure for each cause (`Remedy.cures`); resets_speed: the remedy ends with the no-load speed set.
        The speed adjuster otherwise stays where it was found, also where it had been turned to hide what is now gone.
        """
        draws = Draws(self.seed, self.steps, "remedy", *sorted(cures))
        # Whoever ends with the speed set has set it right, whatever chance the remedy itself had.
        kept = tuple(
            (cause, severity)
            for cause, severity in self.faults
            if not (resets_speed and _of_speed(cause)) and (cause not in cures or draws.uniform() >= cures[cause])
        )
        left = replace(self, faults=kept, steps=self.steps + 1, hide=0.0, speed_turns=self.plant.governor.speed_turns)
        failed = any(_of_speed(cause) for cause, _ in kept)
        if resets_speed or (any(map(_of_speed, cures)) and not failed):
            # By the meter at hand: one that is wrong leaves the set wrong.
            shown = NO_LOAD * left.plant.hertz / 60.0 - left.plant.meter.offset
            turned = with_no_load(left.plant, shown).governor.speed_turns
            left = replace(left, speed_turns=turned)
        return left

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


_run = lru_cache(maxsize=64)(run)

CHECKS: Mapping[str, Check] = {**MEASUREMENTS, **TRIALS, **LOOKS, **STARTING, **ATTACHED_CHECKS}
