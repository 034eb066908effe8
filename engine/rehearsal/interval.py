"""Confidence intervals of a mean and of a ratio of means: the one home of both.

Purpose: how sure a figure from many jobs is.
Law: pure; Student's t with one degree of freedom less than there are values; no interval from fewer than LEAST values.
Source: Student's t and the ratio by the delta method, A. M. Law, Simulation Modeling and Analysis (from memory);
quantile of t by Cornish-Fisher expansion, Abramowitz and Stegun, 26.7.5 (from memory).
Not checked here: that the values are independent of one another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

LEAST = 5
"""Fewest values from which a confidence interval is given."""


def interval(values: Sequence[float], sure: float = 0.95) -> tuple[float, float, float]:
    """Mean and the bounds of its confidence interval by Student's t; bounds are nan below LEAST values."""
    count = len(values)
    mean = math.fsum(values) / count
    if count < LEAST:
        return mean, math.nan, math.nan
    variance = math.fsum((value - mean) ** 2 for value in values) / (count - 1)
    half = student(0.5 + sure / 2.0, count - 1) * math.sqrt(variance / count)
    return mean, mean - half, mean + half


def half_width(values: Sequence[float]) -> float | None:
    """Half of the 95 % interval of the mean; None below LEAST values."""
    mean, _, high = interval(values)
    return None if math.isnan(high) else high - mean


def ratio(first: Sequence[float], second: Sequence[float]) -> tuple[float, float | None]:
    """Ratio of the means of paired values, and the half-width of its 95 % interval; None below LEAST pairs."""
    count = len(first)
    bottom = math.fsum(second) / count
    found = math.fsum(first) / count / bottom
    half = half_width([one - found * other for one, other in zip(first, second, strict=True)])
    return found, None if half is None else half / bottom


def student(chance: float, freedom: int) -> float:
    """The quantile of Student's t, to about a thousandth from 4 degrees of freedom up."""
    z = NormalDist().inv_cdf(chance)
    terms = (
        (z**3 + z) / 4.0,
        (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / 96.0,
        (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / 384.0,
        (79.0 * z**9 + 776.0 * z**7 + 1482.0 * z**5 - 1920.0 * z**3 - 945.0 * z) / 92160.0,
    )
    return z + math.fsum(term / float(freedom) ** power for power, term in enumerate(terms, 1))
