"""Drills, their debrief, lessons, and the decision chart of a complaint.

In: knowledge, a seed, the moves of a trainee. Out: sets worth learning from, what was worth what, and why.
Never: keeps what a trainee has learned (see `cli.training`).
"""

from .chart import MOST_DEPTH, PROOF, Branch, Chart, Difference, Node, cautions, chart, differences, lines, walk
from .debrief import AGAIN, BLUNT, EXPECTED, Broken, Debrief, ToldNothing, debrief, program_path, rules_broken
from .drill import FAULT_LEFT, FIXED, GIVEN_UP, NOT_FIXED, PROOF_MOVE, REFERRED, Danger, Drill, Move
from .lesson import Page, lesson
from .scenario import LEVELS, Dealt, DrillError, deal, made_up_features, seed_with

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
    "Danger",
    "Dealt",
    "Debrief",
    "Difference",
    "Drill",
    "DrillError",
    "Move",
    "Node",
    "Page",
    "ToldNothing",
    "cautions",
    "chart",
    "deal",
    "debrief",
    "differences",
    "lesson",
    "lines",
    "made_up_features",
    "program_path",
    "rules_broken",
    "seed_with",
    "walk",
]
