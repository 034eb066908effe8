"""Figures and titles as people read them.

Purpose: the one home of how a figure is rounded, how a probability is told, and how a title stands inside a sentence.
Law: pure. Three significant figures: what a meter of the trade shows, and what its limits are known to (common
practice). What is kept and computed with is never rounded here.
Not here: readings as they are kept, which can be typed again (see `readings`), and how anything is laid out.
"""

from __future__ import annotations


def figure(value: float, digits: int = 3) -> str:
    """A figure for people: three significant figures, whole thousands whole, and never with an exponent."""
    if abs(value) >= 10**digits:
        return f"{value:.0f}"
    rounded = float(f"{value:.{digits}g}")
    return f"{rounded:.10f}".rstrip("0").rstrip(".") or "0"


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
