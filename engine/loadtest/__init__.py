"""Load tests: what to load, what was read, and the verdict limit by limit.

In: the set, its site, readings as written. Out: the plan, contradictions, verdicts with their doubt, findings.
Never: steers a load bank; decides what is wrong with the set.
"""

from . import derating, entry_table, load, loadtest
from .contradictions import question
from .derating import DEFAULT_RULE, RULES, Derating, Site, derate
from .entry_table import Figure, ReadingRow, read_mappings
from .load import Total, amps_per_leg
from .loadtest import NEAR, LoadPoint, PlanStep, Quantity, Test, read_accuracy
from .result import CLASSES, Result, analyse
from .verdict import LimitVerdict, StatedLimit, stated_limits

__all__ = [
    "CLASSES",
    "DEFAULT_RULE",
    "NEAR",
    "RULES",
    "Derating",
    "Figure",
    "LimitVerdict",
    "LoadPoint",
    "PlanStep",
    "Quantity",
    "ReadingRow",
    "Result",
    "Site",
    "StatedLimit",
    "Test",
    "Total",
    "amps_per_leg",
    "analyse",
    "derate",
    "derating",
    "entry_table",
    "load",
    "loadtest",
    "question",
    "read_accuracy",
    "read_mappings",
    "stated_limits",
]
