"""A job at one set: events in, state, danger, diagnosis and advice out.

In: knowledge, the features of the set, events. Out: `Job`, which moves by appending events only.
Never: touches a clock, a file or a terminal; reads typed text back as data.
"""

from . import danger
from .acceptance import (
    amps_of_full_load,
    complaints,
    doubted_load,
    fixed,
    judged,
    missing,
    needed,
    no_load_today,
    not_found,
    not_possible,
    not_repeated,
    not_seen_again,
    only_under_load,
    outcomes_within_tolerance,
    outside,
    present,
    standing_complaints,
    tried_under_load,
    unexplained,
    unproven_under_load,
    why_missing,
    within_tolerance,
)
from .advice import Step
from .closing_list import closing_list, seen_to
from .comparison import (
    ComparedReading,
    ReadingChange,
    answers_as_found,
    answers_as_left,
    compared_answers,
    figure_as_typed,
)
from .danger import Hold
from .diagnosis import ContradictionError, Diagnosis, FindingWeight
from .equipment import instead, lacking, tool_named
from .event import BESIDE, DISTURBED, Event, HeldError, JobError, unknown
from .generating_set import GeneratingSet
from .job import Job
from .order import due, out_of_order, readings_in_order
from .precautions import of_step, of_steps
from .risk import Risk
from .state import CheckMade, assumed_of, closing, features_of, read_state, standing_of, taken_back
from .succession import current, of_the_first_format

__all__ = [
    "BESIDE",
    "DISTURBED",
    "CheckMade",
    "ComparedReading",
    "ContradictionError",
    "Diagnosis",
    "Event",
    "FindingWeight",
    "GeneratingSet",
    "HeldError",
    "Hold",
    "Job",
    "JobError",
    "ReadingChange",
    "Risk",
    "Step",
    "amps_of_full_load",
    "answers_as_found",
    "answers_as_left",
    "assumed_of",
    "closing",
    "closing_list",
    "compared_answers",
    "complaints",
    "current",
    "danger",
    "doubted_load",
    "due",
    "features_of",
    "figure_as_typed",
    "fixed",
    "instead",
    "judged",
    "lacking",
    "missing",
    "needed",
    "no_load_today",
    "not_found",
    "not_possible",
    "not_repeated",
    "not_seen_again",
    "of_step",
    "of_steps",
    "of_the_first_format",
    "only_under_load",
    "out_of_order",
    "outcomes_within_tolerance",
    "outside",
    "present",
    "read_state",
    "readings_in_order",
    "seen_to",
    "standing_complaints",
    "standing_of",
    "taken_back",
    "tool_named",
    "tried_under_load",
    "unexplained",
    "unknown",
    "unproven_under_load",
    "why_missing",
    "within_tolerance",
]
