"""Drills, their debrief, the course, and the decision chart of a complaint.

In: knowledge, a seed, a day, the moves of a trainee. Out: sets worth learning from, what was worth what, what is due.
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
from .course import UnitStanding, due_today, grade, next_day, of_area, standings
from .curve import ADJUSTERS, Curve, CurveError, curve, made_up_set, turned
from .debrief import AGAIN, BLUNT, EXPECTED, Broken, Debrief, ToldNothing, debrief, program_path, rules_broken
from .drill import FAULT_LEFT, FIXED, GIVEN_UP, NOT_FIXED, REFERRED, Drill, DrillMove
from .drill_safety import PROOF_MOVE, UnsafeMove
from .repetition import AGAIN as FORGOTTEN
from .repetition import GOOD, GRADES, HARD, Review
from .repetition import due as due_again
from .repetition import known as still_known
from .scenario import LEVELS, DrillError, Scenario, made_up_features, new_scenario, seed_with
from .short_drill import ShortDrill, ShortLook, short_drill
from .worked_example import ExampleError, agrees, computed

__all__ = [
    "ADJUSTERS",
    "AGAIN",
    "BLUNT",
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
    "PROOF",
    "PROOF_MOVE",
    "REFERRED",
    "Branch",
    "Broken",
    "Chart",
    "ChartDifference",
    "ChartStep",
    "Curve",
    "CurveError",
    "Debrief",
    "Drill",
    "DrillError",
    "DrillMove",
    "ExampleError",
    "Review",
    "Scenario",
    "ShortDrill",
    "ShortLook",
    "ToldNothing",
    "UnitStanding",
    "UnsafeMove",
    "agrees",
    "cautions",
    "chart",
    "computed",
    "curve",
    "debrief",
    "differences",
    "due_again",
    "due_today",
    "grade",
    "lines",
    "made_up_features",
    "made_up_set",
    "new_scenario",
    "next_day",
    "of_area",
    "program_path",
    "rules_broken",
    "seed_with",
    "short_drill",
    "standings",
    "still_known",
    "turned",
    "walk",
]
