"""A number as people write it: a sign, a fraction, a whole and a fraction, a decimal point or comma.

Purpose: the one pattern by which every typed or written number is read.
Law: what is no number raises ValueError; nothing is guessed.
Not here: units and what a number is for (see `reading`, `features`).
"""

from __future__ import annotations

import math
import re

NUMBER = re.compile(
    r"\s*(?P<sign>[-+\u2212])?\s*(?:(?P<whole>\d+)[ -]+(?P<over>\d+)\s*/\s*(?P<under>\d+)"
    r"|(?P<n>\d+)\s*/\s*(?P<d>\d+)|(?P<decimal>\d+(?:[.,]\d+)?|[.,]\d+))\s*(?P<rest>.*)",
    re.DOTALL,
)


def parse_number(text: str) -> float:
    """A plain number ("9", "1 1/2", "0.5"). Raises ValueError."""
    match = NUMBER.fullmatch(text)
    if match is None or match["rest"].strip():
        raise ValueError(text)
    return number_of(match)


def number_of(match: re.Match[str]) -> float:
    """The value of a match of NUMBER. Raises ValueError where that is no finite number."""
    if match["whole"] is not None:
        over, under = int(match["over"]), int(match["under"])
        value = int(match["whole"]) + (over / under if under else math.nan)
    elif match["n"] is not None:
        value = int(match["n"]) / int(match["d"]) if int(match["d"]) else math.nan
    else:
        value = float(match["decimal"].replace(",", "."))
    if not math.isfinite(value):
        raise ValueError(match[0])
    return -value if match["sign"] in ("-", "\u2212") else value
