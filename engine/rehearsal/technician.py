"""A technician at a simulated set: what is done to the set is written down in the same breath.

Purpose: the two things that every way of working does, a look and a remedy, on the set and in its job at once.
Law: nothing reaches the job but what the set shows; nothing here is drawn.
Not here: which look or remedy comes next (see `visit`, `setting_visit`), what a set shows (see `family_set`).
"""

from __future__ import annotations

from ..job import Job
from ..readings import Answer
from .family_set import FamilySet


class TechnicianAtWork:
    """job: what is written down. called: the set that is worked on."""

    def __init__(self, job: Job, called: FamilySet) -> None:
        self.job, self.called = job, called

    def make(self, check: str) -> tuple[str, Answer]:
        """Make a check: what the set shows, and what that is read as."""
        shown = self.called.answer(check)
        return shown, self.job.record(check, shown)

    def carry_out(self, remedy: str) -> None:
        """Carry out a remedy, without a proof run."""
        self.called.mend(remedy)
        self.job.carry_out(remedy)
