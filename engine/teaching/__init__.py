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
from .debrief import (
    AGAIN,
    BLUNT,
    EXPECTED,
    Broken,
    Debrief,
    ToldNothing,
    debrief,
    program_path,
    rules_broken,
)
from .drill import FAULT_LEFT, FIXED, GIVEN_UP, NOT_FIXED, REFERRED, RUNGS, Drill, DrillMove, SafetyChoice
from .drill_safety import PROOF_MOVE, UnsafeMove
from .expert import DEPTH, ExpertPath
from .lesson import LessonEntry, lesson
from .made_up import DrillError, any_features, broken_combinations, made_up_features
from .scenario import LEVELS, REFUSALS, Scenario, new_scenario, scenario_with, seed_with
from .score import DrillScore, score
from .takeaway import GaveAway, NextTime

__all__ = [
    "AGAIN",
    "BLUNT",
    "DEPTH",
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
    "REFUSALS",
    "RUNGS",
    "Branch",
    "Broken",
    "Chart",
    "ChartDifference",
    "ChartStep",
    "Debrief",
    "Drill",
    "DrillError",
    "DrillMove",
    "DrillScore",
    "ExpertPath",
    "GaveAway",
    "LessonEntry",
    "NextTime",
    "SafetyChoice",
    "Scenario",
    "ToldNothing",
    "UnsafeMove",
    "any_features",
    "broken_combinations",
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
    "scenario_with",
    "score",
    "seed_with",
    "walk",
]
