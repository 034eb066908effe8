"""Where a speed went, instead of how far: "went to 64.6" for an overshoot, "from 59.2 to 54" for a dip.

Purpose: a reading that is counted up or down from a settled one (`above`, `below`), from its extreme.
Law: pure; the difference is taken from a settled reading that is known or was said with it, and said back; where
neither is, the extreme alone is given, to be asked about. What lies on the wrong side of the settled reading is none.
Not here: asking, recording.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from ..compiler import Check, Features
from ..problems import AnswerError
from .reading import read_answer

_N = r"\d+(?:[.,]\d+)?"
_TO = re.compile(
    r"\b(?:to|at|hits?|reach(?:es|ed)?|touch(?:es|ed)?|lowest|highest|bottom(?:s|ed)?|top(?:s|ped)?|peak(?:s|ed)?|"
    r"low|high|max|min|saw)\b",
    re.IGNORECASE,
)
_BY = re.compile(r"\b(?:by|below|under|above|over|dip of|drop of|rise of)\b", re.IGNORECASE)
_ONE = re.compile(rf"(?P<number>{_N})\s*(?P<unit>hz|hertz|rpm|cycles)?\b", re.IGNORECASE)
_TWO = re.compile(
    rf"\bfrom\s+(?P<base>{_N})\s*(?:hz|hertz|rpm)?\s+(?:down\s+|up\s+)?to\s+(?P<end>{_N})\s*(?P<unit>hz|hertz|rpm)?\b",
    re.IGNORECASE,
)


def base_of(check: Check) -> str:
    """The check of the settled reading that a check is counted from; empty for none."""
    return (check.reading.above or check.reading.below) if check.reading is not None else ""


def went_to(
    check: Check, text: str, features: Features, checks: Mapping[str, Check]
) -> tuple[float | None, float] | None:
    """(settled reading if it was said, extreme) of a text that says where the speed went, in the unit of the check;
    None where it says no such thing."""
    base = checks.get(base_of(check))
    if base is None or len(text) > 200:
        return None
    if (two := _TWO.search(text)) is not None:
        ends = [_speed(base, two[each], two["unit"], features) for each in ("base", "end")]
        return None if ends[0] is None or ends[1] is None else (ends[0], ends[1])
    figures = list(_ONE.finditer(text))
    if len(figures) != 1 or _BY.search(text):
        return None
    alone = text.replace(figures[0][0], "", 1).strip(" ?.")
    if alone and not _TO.search(text):
        return None
    extreme = _speed(base, figures[0]["number"], figures[0]["unit"], features)
    return None if extreme is None else (None, extreme)


def difference(check: Check, settled: float, extreme: float) -> float | None:
    """How far the extreme lies from the settled reading, on the side that the check asks for; None on the other."""
    assert check.reading is not None
    away = extreme - settled if check.reading.above else settled - extreme
    return away if away >= 0.0 else None


def _speed(base: Check, number: str, unit: str | None, features: Features) -> float | None:
    try:
        values = read_answer(base, f"{number.replace(',', '.')} {unit or ''}".strip(), features).values
    except AnswerError:
        return None
    return values[0] if values else None
