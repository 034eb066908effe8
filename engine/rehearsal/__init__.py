"""Jobs played on virtual sets: one job, many jobs, and what they say of the knowledge as a whole.

In: knowledge, a seed, an executor. Out: minutes, outcomes, what was missed or confused, with intervals.
Never: asks a person.
"""

from .many_jobs import WORLDS, Pair, confused, ends, missed, never_chosen, ratio, rehearse, spread
from .played_job import FIXED, REFERRED, Move, Played, by_suggestions, least_minutes
from .virtual_set import BenchSet, CalledOut, DrawnSet, drawn_sets
from .workers import WorkerError, worked

__all__ = [
    "FIXED",
    "REFERRED",
    "WORLDS",
    "BenchSet",
    "CalledOut",
    "DrawnSet",
    "Move",
    "Pair",
    "Played",
    "WorkerError",
    "by_suggestions",
    "confused",
    "drawn_sets",
    "ends",
    "least_minutes",
    "missed",
    "never_chosen",
    "ratio",
    "rehearse",
    "spread",
    "worked",
]
