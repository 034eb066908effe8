"""Drills, their debrief, the course, and the decision chart of a complaint.

In: knowledge, a seed, a day, the moves of a trainee. Out: sets worth learning from, what was worth what, what is due.
Never: keeps what a trainee has learned (see `cli.training`).
"""

from .chart import MOST_DEPTH, WorkedOut, chart
from .chart_tree import (
    PROOF,
    Branch,
    Causes,
    Chart,
    ChartDifference,
    ChartStep,
    cautions,
    differences,
    fold,
    lines,
    mean,
    walk,
)
from .course import UnitStanding, due_today, grade, next_day, of_area, standings
from .curve import ADJUSTERS, Curve, CurveError, curve, made_up_set, turned
from .dealing import REFUSALS, new_scenario, scenario_with, seed_with
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
from .drill_set import shown_in
from .expert import DEPTH, ExpertPath
from .made_up import DrillError, any_features, broken_combinations, made_up_features
from .repetition import AGAIN as FORGOTTEN
from .repetition import GOOD, GRADES, HARD, Review
from .repetition import due as due_again
from .repetition import known as still_known
from .scenario import LEVELS, Scenario
from .score import PARTS, DrillScore, score
from .short_drill import ShortDrill, ShortLook, short_drill
from .takeaway import GaveAway, Moved, NextTime
from .worked_example import ExampleError, agrees, computed

__all__ = [
    "ADJUSTERS",
    "AGAIN",
    "BLUNT",
    "DEPTH",
    "EXPECTED",
    "FAULT_LEFT",
    "FIXED",
    "FORGOTTEN",
    "GIVEN_UP",
    "GOOD",
    "GRADES",
    "HARD",
    "LEVELS",
    "MOST_DEPTH",
    "NOT_FIXED",
    "PARTS",
    "PROOF",
    "PROOF_MOVE",
    "REFERRED",
    "REFUSALS",
    "RUNGS",
    "Branch",
    "Broken",
    "Causes",
    "Chart",
    "ChartDifference",
    "ChartStep",
    "Curve",
    "CurveError",
    "Debrief",
    "Drill",
    "DrillError",
    "DrillMove",
    "DrillScore",
    "ExampleError",
    "ExpertPath",
    "GaveAway",
    "Moved",
    "NextTime",
    "Review",
    "SafetyChoice",
    "Scenario",
    "ShortDrill",
    "ShortLook",
    "ToldNothing",
    "UnitStanding",
    "UnsafeMove",
    "WorkedOut",
    "agrees",
    "any_features",
    "broken_combinations",
    "cautions",
    "chart",
    "computed",
    "curve",
    "debrief",
    "differences",
    "due_again",
    "due_today",
    "fold",
    "grade",
    "lines",
    "made_up_features",
    "made_up_set",
    "mean",
    "new_scenario",
    "next_day",
    "of_area",
    "program_path",
    "rules_broken",
    "scenario_with",
    "score",
    "seed_with",
    "short_drill",
    "shown_in",
    "standings",
    "still_known",
    "turned",
    "walk",
]
