"""Jobs played on virtual sets: one job, many jobs, and what they say of the knowledge as a whole.

In: knowledge, a seed, an executor. Out: minutes, outcomes, what was missed or confused, with intervals.
Never: asks a person.
"""

from .interval import interval, ratio, skew_interval
from .many_jobs import WORLDS, Unforeseen, WorkedTwice, confused, ends, missed, never_chosen, rehearse, spread
from .played_job import (
    CAME_BACK,
    FIXED,
    MOST_STEPS,
    REFERRED,
    Played,
    PlayedStep,
    by_suggestions,
    least_minutes,
    make_safe,
)
from .virtual_set import BenchSet, DrawnSet, VirtualSet, draw_faults, drawn_sets
from .workers import WorkerError, chunks, worked

__all__ = [
    "CAME_BACK",
    "FIXED",
    "MOST_STEPS",
    "REFERRED",
    "WORLDS",
    "BenchSet",
    "DrawnSet",
    "Played",
    "PlayedStep",
    "Unforeseen",
    "VirtualSet",
    "WorkedTwice",
    "WorkerError",
    "by_suggestions",
    "chunks",
    "confused",
    "draw_faults",
    "drawn_sets",
    "ends",
    "interval",
    "least_minutes",
    "make_safe",
    "missed",
    "never_chosen",
    "ratio",
    "rehearse",
    "skew_interval",
    "spread",
    "worked",
]
