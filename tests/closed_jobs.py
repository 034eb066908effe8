"""Closed jobs on sets drawn from the knowledge, as job files: for what reads many of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from hertzwright.cli.files import journal
from hertzwright.engine import Event, Job, Knowledge
from hertzwright.engine.rehearsal.virtual_set import DrawnSet

CUSTOMER = "Mrs Example's barn"


def closed_job(
    knowledge: Knowledge,
    cause: str,
    remedy: str,
    checks: Sequence[str],
    seed: str,
    features: dict[str, object] | None = None,
) -> Job:
    """A job on a set with one cause: its checks answered, the remedy carried out, fixed and proven."""
    called = DrawnSet(knowledge, features, frozenset({cause}), seed)
    job = Job(knowledge, features)
    job.record("hunts_no_load", "present")
    for check in checks:
        job.record(check, called.answer(check))
    job.carry_out(remedy, "cured")
    job.note(f"{CUSTOMER} paid in eggs ({seed}).")
    # What was read of it is left out here, so it is written as closed and not closed by the job.
    return Job.replay(knowledge, [*job.events, Event("closed", "fixed")])


def keep(folder: Path, jobs: Sequence[Job]) -> None:
    """Write the job files."""
    for job in jobs:
        with journal.Journal.create(folder, job.knowledge.fingerprint, CUSTOMER) as file:
            file.sync(job.events)
