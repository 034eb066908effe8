"""The reasoning and the arithmetic. No terminal, no clock, no printing.

One direction: text with positions (`source`) -> model (`reader`) -> graph -> belief -> advice (`planner`) -> `job`.
"""

from .compiler import Knowledge, load_knowledge
from .job import ContradictionError, Event, HeldError, Hold, Job, JobError, Step
from .problems import AnswerError, HertzwrightError, KnowledgeError, Problem

__all__ = [
    "AnswerError",
    "ContradictionError",
    "Event",
    "HeldError",
    "HertzwrightError",
    "Hold",
    "Job",
    "JobError",
    "Knowledge",
    "KnowledgeError",
    "Problem",
    "Step",
    "load_knowledge",
]
