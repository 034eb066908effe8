"""Power strokes: each draws its own strength, and may fail.

Purpose: mixture at a stroke -> its strength, per unit; the one stream of chance of a run.
Law: the same engine and seed give the same strokes; a cylinder that hangs fails for a while and comes back.
Not here: when a stroke is due (see `running`).
"""

from __future__ import annotations

import math

from .draws import INCREMENT, MASK, MULTIPLIER, draw_state
from .plant import Engine

WHOLE = MASK + 1


class PowerStrokes:
    """The strokes of one run. per_step: strokes in a step of `step` s at rated speed."""

    __slots__ = (
        "_count",
        "_cylinder",
        "_draws",
        "_hang",
        "_hang_odds",
        "_hanging",
        "_misfire",
        "_scatter",
        "_strength",
    )

    def __init__(self, engine: Engine, seed: int, step: float, per_step: float) -> None:
        self._strength, self._misfire, self._count = engine.strength, engine.misfire, len(engine.strength)
        # A uniform draw of -0.5 to 0.5 has a deviation of 1/sqrt(12).
        self._scatter, self._hang = engine.scatter * math.sqrt(12.0), engine.hang
        self._hang_odds = engine.hang * step * self._count / per_step
        self._draws, self._cylinder, self._hanging = draw_state(seed), 0, 0.0

    def uniform(self) -> float:
        """A draw from 0 up to 1."""
        self._draws = draws = (self._draws * MULTIPLIER + INCREMENT) & MASK
        return draws / WHOLE

    def next(self, rich: float) -> float:
        """Strength of the next stroke at a mixture, per unit; 0 where it fails. One too lean or rich often does."""
        cylinder = self._cylinder + 1
        if cylinder >= self._count:
            cylinder = 0
        self._cylinder = cylinder
        draws = (self._draws * MULTIPLIER + INCREMENT) & MASK
        chance = draws / WHOLE
        failing = self._misfire[cylinder]
        if rich < 0.84:
            failing += 2.6 * (0.84 - rich)
        elif rich > 1.5:
            failing += 1.2 * (rich - 1.5)
        if self._hang and cylinder == 0:
            if self._hanging > 0.0:
                self._hanging -= 1.0
                failing += 0.9
            elif chance < self._hang_odds:
                self._hanging = 8.0 + 500.0 * chance / self._hang
        # High and low parts of one draw serve two questions.
        if chance < failing:
            self._draws = draws
            return 0.0
        self._draws = draws = (draws * MULTIPLIER + INCREMENT) & MASK
        return self._strength[cylinder] * (1.0 + self._scatter * (draws / WHOLE - 0.5))
