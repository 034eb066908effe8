"""Lessons, drills, progress, curves and charts at the terminal and on paper.

In: what the trainee types. Out: feedback, debriefs, sheets for the wall. Never: touches a job file.
"""

from .chart_view import chart_rows

__all__ = [
    "chart_rows",
]
