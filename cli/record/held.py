"""That a set must not run, said first of all.

Purpose: what holds a job or a set of readings, in words and in JSON, and the line on local codes.
Law: one gate: every command that knows of a job or of readings says what holds them through `say` or `say_holds`, and
in its JSON through `as_json`.
Not here: what holds a job and what is refused then (see the engine), having it secured (see `safety`).
"""

from __future__ import annotations

from collections.abc import Iterable

from ...engine import Hold, Job
from ..terminal import Screen

LOCAL_CODES = (
    "Local codes and licensed practice come first. Where they say otherwise than this program, follow them. "
    "Wiring, fuel gas and live work are for those licensed for them."
)
_HOW = (
    "Shut it down, and prove with the engine stopped that the throttle closes, before anything else. "
    "Then: hertzwright resume JOB --secured NAME"
)
HOW_ALONE = "Shut it down, and prove with the engine stopped that the throttle closes, before anything else."


def say(screen: Screen, job: Job) -> None:
    """What holds the job, before anything else is said of it; nothing where nothing does."""
    say_holds(screen, job.held)


def say_holds(screen: Screen, holds: Iterable[Hold], how: str = _HOW) -> None:
    """Readings that hold a set, job or no job, and what to do first; nothing where there are none."""
    for text in held_lines(holds, how):
        screen.line(text, "bold")


def held_lines(holds: Iterable[Hold], how: str = _HOW) -> list[str]:
    """The same as lines."""
    found = list(dict.fromkeys(f"{hold}." for hold in holds))
    return ["STOP: the set must not run.", *found, how] if found else []


def as_json(holds: Iterable[Hold]) -> list[dict[str, object]]:
    """`held` in the JSON of every command: empty where nothing holds."""
    return [hold.as_dict() for hold in holds]
