"""Setting a set in order from the ground up: the course of this set, how far it has come, and the next step.

In: a job, whose events say what was read, turned and done. Out: the progress of every step, the next one, the verdict.
Never: touches a clock, a file or a terminal; sets anything over a fault that it takes for probable.
"""

from .advice import SettingAdvice, advise, not_responding, plan, put, suspected, tasks, turned, unresponsive
from .course import Course, course_of
from .plan import Plan, Task, cheapest, in_order, moves_of
from .progress import AGAIN, FOUND, LEFT_OUT, NOT_YET, SET, STUCK, WAITS, StepProgress, course_of_job, progress, right
from .sheet import ProofLine, SettingLine, SettingVerdict, sheet, verdict

__all__ = [
    "AGAIN",
    "FOUND",
    "LEFT_OUT",
    "NOT_YET",
    "SET",
    "STUCK",
    "WAITS",
    "Course",
    "Plan",
    "ProofLine",
    "SettingAdvice",
    "SettingLine",
    "SettingVerdict",
    "StepProgress",
    "Task",
    "advise",
    "cheapest",
    "course_of",
    "course_of_job",
    "in_order",
    "moves_of",
    "not_responding",
    "plan",
    "progress",
    "put",
    "right",
    "sheet",
    "suspected",
    "tasks",
    "turned",
    "unresponsive",
    "verdict",
]
