"""Confidence intervals of a mean and of a ratio of means: the one home of both.

Purpose: how sure a figure from many jobs is.
Law: pure; Student's t with one degree of freedom less than there are values; no interval from fewer than LEAST values.
Where most values are nil and a few are large, t holds the mean too seldom: `skew_interval` is for those.
Source: the skew one, P. Hall, J. R. Statist. Soc. B 54 (1992) 221-228, who carries on the correction of N. J. Johnson,
J. Am. Statist. Assoc. 73 (1978) 536-544 (both from memory); Student's t and the ratio by the delta method, A. M. Law,
Simulation Modeling and Analysis (from memory); quantile of t by Cornish-Fisher expansion, Abramowitz and Stegun, 26.7.5
(from memory).
Not checked here: that the values are independent of one another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

LEAST = 5
"""Fewest values from which a confidence interval is given."""
LEAST_FOUND = 3
"""Fewest values that are not nil from which a skew one is given."""
_UNSEEN = 1.5
"""How large the value is, in terms of the largest seen, that a skew interval allows for as not met yet."""


def interval(values: Sequence[float], sure: float = 0.95) -> tuple[float, float, float]:
    """Mean and the bounds of its confidence interval by Student's t; bounds are nan below LEAST values."""
    count = len(values)
    mean = math.fsum(values) / count
    if count < LEAST:
        return mean, math.nan, math.nan
    variance = math.fsum((value - mean) ** 2 for value in values) / (count - 1)
    half = student(0.5 + sure / 2.0, count - 1) * math.sqrt(variance / count)
    return mean, mean - half, mean + half


def skew_interval(values: Sequence[float], sure: float = 0.95) -> tuple[float, float, float]:
    """The same for few values most of which are nil and few large: bounds by Hall's transformation of Student's t.

    The bounds are the wider of those of the values and of those with one value more, half as large again as the
    largest: what is rare and large is mostly not met in few, and the values alone say nothing of it. What is several
    times as large as any value, and rarer than one in as many, is in no such interval. Bounds are nan below LEAST
    values or LEAST_FOUND that are not nil.
    """
    count = len(values)
    mean = math.fsum(values) / count
    if count < LEAST or sum(value != 0.0 for value in values) < LEAST_FOUND:
        return mean, math.nan, math.nan
    largest = max(values, key=abs)
    bounds = [_hall(each, sure) for each in (values, (*values, _UNSEEN * largest))]
    return mean, min(low for low, _ in bounds), max(high for _, high in bounds)


def _hall(values: Sequence[float], sure: float) -> tuple[float, float]:
    """Bounds by the inverse of Hall's cubic t + c t^2/3 + c^2 t^3/27 + c/6, where c is skewness over root of count."""
    count = len(values)
    mean = math.fsum(values) / count
    spread = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / count)
    error, quantile = spread / math.sqrt(count - 1), student(0.5 + sure / 2.0, count - 1)
    if spread == 0.0:
        return mean, mean
    skew = math.fsum((value - mean) ** 3 for value in values) / count / spread**3 / math.sqrt(count)

    def untransformed(t: float) -> float:
        if abs(skew) < 1e-6:
            return t
        root = 1.0 + skew * (t - skew / 6.0)
        return 3.0 / skew * (math.copysign(abs(root) ** (1.0 / 3.0), root) - 1.0)

    return mean - error * untransformed(quantile), mean - error * untransformed(-quantile)


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
