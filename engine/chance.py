"""Draws that are the same on every machine for the same seed.

Purpose: a small generator of uniform numbers, written out so that a simulated set deals the same on every version.
Law: a seed in, numbers out; nothing is kept between calls but what the caller holds.
Sources: linear congruence modulo 2^64 with Knuth's MMIX constants (D. E. Knuth, The Art of Computer Programming, vol. 2,
from memory); seeds are scrambled by SHA-256.
Not checked here: it is no generator for secrets or for statistics finer than a simulated meter.
"""

from __future__ import annotations

import hashlib

MULTIPLIER = 6364136223846793005
STEP = 1442695040888963407
MASK = (1 << 64) - 1


def start(*seeds: int | str) -> int:
    """A state of the generator from any numbers and words; other words give an unrelated state."""
    text = "\x1f".join(str(seed) for seed in seeds)
    return int.from_bytes(hashlib.sha256(text.encode("utf-8")).digest()[:8], "big")


class Draws:
    """A stream of draws from a seed."""

    def __init__(self, *seeds: int | str) -> None:
        self._state = start(*seeds)

    def uniform(self, low: float = 0.0, high: float = 1.0) -> float:
        """A number from low up to but not including high."""
        self._state = (self._state * MULTIPLIER + STEP) & MASK
        return low + (high - low) * (self._state >> 11) / (1 << 53)

    def normal(self, deviation: float = 1.0) -> float:
        """Near enough to a normal draw: twelve uniform ones added."""
        return deviation * (sum(self.uniform() for _ in range(12)) - 6.0)
