"""Sentences about the visit, as commands: what is not there, what has come, what was done before, what is off.

Purpose: "no load bank", "the load bank has come", "I have already cleaned the air filter", "plugs are new", "it's off
already" mean a command with the rest as its words.
"no load" is how a set stands, and no command.
Law: pure; a sentence that is none of these is None, so that answers, readings and searches stay what they are.
Not here: which tool, remedy or fitting is meant (see `visit_told`, `putting_back`).
"""

from __future__ import annotations

import re

_WHO = r"(?:i|we|he|she|they|somebody|someone|the owner|the customer|owner|customer)"
_DID = r"(?:[a-z]{2,}ed|took|taken|put|set|did|done|made|blew|blown|swapped|new)"
_SHAPES = tuple(
    (command, re.compile(shape, re.IGNORECASE))
    for command, shape in (
        ("off", r"^(?:it'?s|it is|that is|that'?s|was|it was)\s+(?:already\s+)?off(?:\s+already|\s+when i came)?$"),
        (
            "off",
            r"^(?:the\s+)?(?P<rest>[a-z][a-z -]*?)\s+(?:is|was)\s+(?:already\s+off|off\s+(?:already|when i came))$",
        ),
        ("come", r"^(?:the\s+)?(?P<rest>[a-z][a-z -]*?)\s+(?:has come|has arrived|is here(?: now)?|came)$"),
        ("without", r"^(?:there is |there's |i have |we have |have |got )?no\s+(?!load$)(?P<rest>[a-z][a-z -]*)$"),
        ("without", r"^(?:the\s+)?(?P<rest>[a-z][a-z -]*?)\s+(?:is\s+|are\s+)?(?:not here|not allowed|forbidden)$"),
        ("before", rf"^(?P<rest>{_WHO}\s+(?:(?:has|have|had)\s+)?(?:already\s+|just\s+)?{_DID}\s+.+)$"),
        ("before", r"^(?P<rest>(?:already|before)\s+.+)$"),
        ("before", r"^(?P<rest>.+\s+(?:is|are)\s+(?:all\s+)?new)$"),
        ("before", r"^(?P<rest>new\s+[a-z].+)$"),
    )
)


def visit_command(text: str) -> tuple[str, str] | None:
    """(command, its words) of a sentence about the visit; None where it is none."""
    said = " ".join(text.split()).rstrip(".!")
    for command, shape in _SHAPES:
        if match := shape.match(said):
            return command, match.groupdict().get("rest") or ""
    return None
