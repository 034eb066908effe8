"""Chance for the simulated set: draws that are the same on every machine.

Purpose: streams of uniform and near-normal numbers from any seeds, numbers or words.
Law: the same seeds give the same stream on every machine and version of Python; other seeds an unrelated one.
Source: linear congruential generator, D. E. Knuth, The Art of Computer Programming, vol. 2 (from memory).
Not here: anything secret; these draws can be foretold.
"""

from __future__ import annotations

import hashlib
from math import fsum

MULTIPLIER = 6364136223846793005
INCREMENT = 1442695040888963407
MASK = (1 << 64) - 1


def draw_state(*seeds: int | str) -> int:
    """A state of the generator of draws from any numbers and words; other words give an unrelated state.

    Draws go on by state * MULTIPLIER + INCREMENT modulo 2^64 (D. E. Knuth, The Art of Computer Programming, vol. 2,
    from memory), written out so that the same seed deals the same on every machine and version.
    """
    text = "\x1f".join(str(seed) for seed in seeds)
    return int.from_bytes(hashlib.sha256(text.encode("utf-8")).digest()[:8], "big")


class Draws:
    """A stream of draws from a seed. Not for secrets."""

    def __init__(self, *seeds: int | str) -> None:
        self._state = draw_state(*seeds)

    def uniform(self, low: float = 0.0, high: float = 1.0) -> float:
        """A number from low up to but not including high."""
        self._state = (self._state * MULTIPLIER + INCREMENT) & MASK
        return low + (high - low) * (self._state >> 11) / (1 << 53)

    def normal(self, deviation: float = 1.0) -> float:
        """Near enough to a normal draw about nil: twelve uniform ones added."""
        return deviation * (fsum(self.uniform() for _ in range(12)) - 6.0)
