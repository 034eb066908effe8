"""Lessons, drills, progress, curves and charts at the terminal and on paper.

In: what the trainee types. Out: feedback, debriefs, sheets for the wall. Never: touches a job file.
"""

from .chart import chart_rows
from .chart_page import SMALLEST

__all__ = [
    "SMALLEST",
    "chart_rows",
]
