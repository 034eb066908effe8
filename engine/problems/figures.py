"""Figures and titles as people read them.

Purpose: the one home of how a figure is rounded, how a probability is told, and how a title stands inside a sentence.
Law: pure. Three significant figures: what a meter of the trade shows, and what its limits are known to (common
practice). What is kept and computed with is never rounded here.
Not here: readings as they are kept, which can be typed again (see `readings`), and how anything is laid out.
"""

from __future__ import annotations

import math
from collections.abc import Callable


def figure(value: float, digits: int = 3) -> str:
    """A figure for people: three significant figures, whole thousands whole, and never with an exponent."""
    if abs(value) >= 10**digits:
        return f"{value:.0f}"
    rounded = float(f"{value:.{digits}g}")
    return f"{rounded:.10f}".rstrip("0").rstrip(".") or "0"


_SHOWN = {"Hz": 0.1, "s": 0.1}
"""What the meters and watches of the trade show, in the unit of a reading (common practice)."""


def limit_text(low: float, high: float, unit: str, doubt: float = 0.0) -> str:
    """Readings that are right, from `low` up to but not including `high`, as a limit reads in the trade: "at most 3
    Hz", "60.5 to 62.5 Hz", "from 10 V".

    A bound that no meter shows becomes the last figure within it. doubt: what the meter leaves; a bound below zero by
    no more than that is no limit. Infinite bounds are none.
    """
    if -doubt <= low < 0.0:
        low = float("-inf")
    least, most = _within(low, unit, math.ceil), _within(high, unit, math.floor)
    if math.isinf(low) and math.isinf(high):
        return ""
    if math.isinf(low):
        return f"{'below' if most == high else 'at most'} {figure(most)} {unit}"
    if math.isinf(high):
        return f"from {figure(least)} {unit}"
    return f"{figure(least)} to {figure(most)} {unit}"


def _within(bound: float, unit: str, rounded: Callable[[float], int]) -> float:
    """A bound as a meter shows it, or else the nearest figure that it shows on the right side of it."""
    step = _SHOWN.get(unit)
    if step is None or math.isinf(bound) or math.isclose(bound, round(bound / step) * step, abs_tol=1e-9):
        return bound
    return rounded(bound / step) * step


def percent(chance: float) -> str:
    """A probability as shown: never 0 % or 100 % for what is still open."""
    if 0.0 < chance < 0.005:
        return "under 1 %"
    if 0.995 <= chance < 1.0:
        return "over 99 %"
    return f"{100 * chance:.0f} %"


def in_sentence(title: str) -> str:
    """A title inside a sentence: its first letter small, unless it is a name in capitals, such as LP gas."""
    return title if title[:2].isupper() else title[:1].lower() + title[1:]
