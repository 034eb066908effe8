"""Drills, their debrief, lessons, and the decision chart of a complaint.

In: knowledge, a seed, the moves of a trainee. Out: sets worth learning from, what was worth what, and why.
Never: keeps what a trainee has learned (see `cli.training`).
"""

from .chart import (
    MOST_DEPTH,
    PROOF,
    Branch,
    Chart,
    ChartDifference,
    ChartStep,
    cautions,
    chart,
    differences,
    lines,
    walk,
)
from .debrief import AGAIN, BLUNT, EXPECTED, Broken, Debrief, ToldNothing, debrief, program_path, rules_broken
from .drill import FAULT_LEFT, FIXED, GIVEN_UP, NOT_FIXED, REFERRED, Drill, DrillMove
from .drill_safety import PROOF_MOVE, UnsafeMove
from .lesson import LessonEntry, lesson
from .scenario import LEVELS, DrillError, Scenario, made_up_features, new_scenario, seed_with

__all__ = [
    "AGAIN",
    "BLUNT",
    "EXPECTED",
    "FAULT_LEFT",
    "FIXED",
    "GIVEN_UP",
    "LEVELS",
    "MOST_DEPTH",
    "NOT_FIXED",
    "PROOF",
    "PROOF_MOVE",
    "REFERRED",
    "Branch",
    "Broken",
    "Chart",
    "ChartDifference",
    "ChartStep",
    "Debrief",
    "Drill",
    "DrillError",
    "DrillMove",
    "LessonEntry",
    "Scenario",
    "ToldNothing",
    "UnsafeMove",
    "cautions",
    "chart",
    "debrief",
    "differences",
    "lesson",
    "lines",
    "made_up_features",
    "new_scenario",
    "program_path",
    "rules_broken",
    "seed_with",
    "walk",
]
