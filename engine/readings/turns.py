"""Turns as a technician writes them: a number or fraction, flats of a nut, and which way.

Purpose: text -> turns of an adjuster, + as its `more`.
Law: nothing is guessed: two numbers, an unknown way, or a sign beside a word is refused with an example.
Not here: how far an adjuster goes (see `compiler.Adjuster`).
"""

from __future__ import annotations

import re

from ..compiler import Adjuster, parse_number
from ..problems import AnswerError, quoted

_TURNS = re.compile(r"(?P<number>[-+\u2212]?\s*[\d.,/ ]*\d)\s*(?P<rest>.*)", re.DOTALL)


def read_turns(text: str, adjuster: Adjuster, way: float = 1.0) -> float:
    """Turns from "1/4 in", "-0.5", "3 flats out", "1 1/2 toward slack"; + without a word is `more`.

    `way` where neither sign nor word is given: +1 or -1, more if nothing is said. Raises AnswerError.
    """
    name = adjuster.title.lower()
    example = f"expected turns such as 1/4 {adjuster.more} or -0.5"
    found = _TURNS.fullmatch(" ".join(text.split()))
    try:
        if found is None:
            raise ValueError(text)
        value = parse_number(found["number"].replace("+ ", "+").replace("- ", "-"))
    except ValueError:
        raise AnswerError(f"{quoted(text)} for the {name}; {example}") from None
    signed = found["number"][0] in "+-\u2212"
    words = [
        word for word in found["rest"].lower().replace(",", " ").split() if word not in ("turn", "turns", "t", "a")
    ]
    if words and words[0] in ("flat", "flats"):
        value /= 6.0
        words = words[1:]
    if not words:
        return value if signed else value * way
    said = " ".join(words)
    ways: dict[str, float] = {}
    for sign, named in ((1.0, adjuster.more), (-1.0, adjuster.less)):
        gives = adjuster.way(sign).partition(", ")[2]
        ways |= dict.fromkeys((named, named.split()[-1], f"{named} {gives}".strip(), gives or named), sign)
    if said not in ways:
        raise AnswerError(f"{quoted(text)} for the {name}; the ways are {adjuster.more} and {adjuster.less}")
    if signed:
        raise AnswerError(f"{quoted(text)} for the {name}; give a sign or a word, not both")
    return value * ways[said]
