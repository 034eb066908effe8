"""Closing a job: the readings that are missing, as found beside as left, the verdict, what is left open.

Purpose: say "fixed" only where it was proven on the set as it is now.
Law: a job with a reading outside the tolerance, or without the no-load and full-load readings, is never called fixed;
with another reading that is bad only when somebody says so. A complaint that stands where the proof is within the
tolerance is not fixed and not done: its cause was not found, and that is said.
Not here: how the verdict is found (see `condition`).
"""

from __future__ import annotations

from collections.abc import Sequence

from ...engine import Job, JobError
from ...engine.job import doubted_load, not_possible, not_seen_again, unproven_under_load, why_missing
from ...engine.problems import in_sentence
from ..record import CLOSINGS, complaints, fixed, held, missing, needed, not_found, open_points, rows
from ..terminal import Back
from . import check_prompt, closing_list, proof_run, safety, setting, view
from .session import Session, Waits


def close(session: Session, refer: bool = False, looked_at: bool = False) -> bool:
    """Prove and close, or close as open. Returns whether the job is closed.

    looked_at: with the looks before closing.
    """
    job, screen = session.job, session.screen
    if refer:
        return _finish(session, "handed_over")
    if safety.make_safe(session) and _proven(session, looked_at) and job.off:  # nothing is fixed with anything off
        closing_list.go_through(session)
    if fixed(job):
        if setting.offer(session):
            return False
        report(session, session.screen.height is None)
        bad = proof_run.say_beside(session)
        asked = (
            "The proof is within the tolerance, and yet this is not right. Close it as fixed all the same?"
            if bad
            else ""
        )
        closed = _asked_to_close(session, asked, ("close it: fixed and proven", "go on"), int(bad), ("fixed", ""))
        session.passed.add("done")
        return closed
    if unproven_under_load(job):
        return _close_unproven(session)
    nothing_found = not_found(job)
    screen.heading("Not found" if nothing_found else "Not proven")
    for hold in job.held:
        screen.attention(str(hold))
    for name in missing(job):
        screen.attention(f"Left open: {in_sentence(why_missing(job, name))}")
    proof_run.say_outside(session)
    if doubt := doubted_load(job):
        screen.attention(f"{doubt}.")
    if said := view.said(session):
        screen.attention(f"still there, or not known to be gone: {said}")
    ways = ["go on with the next step", "close it as open"]
    if nothing_found:
        screen.line("The proof is within the tolerance, and what the customer complains of is still there.")
        ways.append("close it: the cause was not found")
    if _asked_to_close(session, "So it cannot be called fixed.", ways, 0, ("", "open", "not_found")):
        return True
    if "present" in complaints(job).values() and not missing(job) and not job.held:
        session.prove("failed")
    # Proposing it again at once would be a loop; the next best step comes first.
    session.passed.add("done")
    return False


def _proven(session: Session, looked_at: bool) -> bool:
    """The readings that are missing, whether the trouble is gone, and the looks before closing; z goes from one to the
    one before. False where the set must not run. Raises Back."""
    taken: list[tuple[int, bool]] = []
    wanted = proof_run.in_order(session, missing(session.job))
    while True:
        if not proof_run.ask_missing(session, wanted, taken):
            return False
        try:
            proof_run.ask_gone(session)
            break
        except Back:
            if not taken:
                raise
    if looked_at and fixed(session.job) and (first := proof_run.in_order(session, looks(session.job))):
        proof_run.take_readings(session, "Before closing", first)
    return True


def _asked_to_close(
    session: Session, asked: str, answers: Sequence[str], usual: int | None, ways: Sequence[str]
) -> bool:
    """Ask how the job is closed, and the closing list. ways: how it is closed by each answer, empty for going on.
    Returns whether it is closed. Raises Back."""
    while True:
        try:
            how = ways[session.choose(asked, answers, usual, aside=lambda text: _beside(session, text))]
        except Waits:  # what has come is gone on with
            session.passed.discard("done")
            return False
        if not how:
            return False
        try:
            return _finish(session, how, shown=how == "fixed")
        except Back:
            continue


def looks(job: Job) -> tuple[str, ...]:
    """The looks before closing that have no answer: for what else is wrong than was said, and for the meter; and those
    that showed the very fault that was mended since, and were not repeated."""
    again = [
        made.check
        for made, _ in not_seen_again(job)
        if any(outcome in job.checks[made.check].mend for outcome in made.answer.outcomes)
    ]
    return (*job.before_closing(), *again)


def _beside(session: Session, text: str) -> bool:
    """What is said at closing of the visit, such as what has come. Raises Waits where that is to be gone on with."""
    given = check_prompt.command_of(session, text)
    if given is None or given.command not in ("without", "come", "before", "note", "list"):
        return False
    absent = len(session.job.absent)
    check_prompt.stays(session, given)
    if len(session.job.absent) < absent:
        raise Waits
    return True


def _close_unproven(session: Session) -> bool:
    """All is right that could be read, and nothing could be read under load today."""
    job, screen = session.job, session.screen
    screen.heading("Not proven under load")
    for name, tools in not_possible(job).items():
        titles = ", ".join(session.knowledge.catalogue.tools[tool].title for tool in tools)
        screen.attention(f"{job.checks[name].title}: not read; not here: {titles}")
    ways = ("close it: not proven under load", "go on; if it has come, type here and its name")
    session.passed.add("done")
    return _asked_to_close(session, "So it cannot be called fixed.", ways, None, ("not_proven_under_load", ""))


def _finish(session: Session, how: str, shown: bool = False) -> bool:
    closing_list.go_through(session)
    try:
        session.close(how)
    except JobError as error:
        session.screen.problem(str(error))
        return False
    if not shown or session.screen.height is not None:
        report(session)
    session.screen.heading(f"Closed: {CLOSINGS[how]}.")
    if session.journal is not None:
        session.screen.fact("Record", str(session.journal.path))
    return True


def report(session: Session, whole: bool = True) -> None:
    """As found beside as left, the verdict, and what is left open. whole: every check, not those of the proof alone."""
    job, screen = session.job, session.screen
    held.say(screen, job)
    screen.heading("As found and as left")
    table(session, whole)
    tolerance = session.knowledge.catalogue.tolerances[job.tolerance]
    verdict = "within the tolerance, trouble gone" if fixed(job) else "not proven"
    if not_found(job):
        verdict = "within the tolerance, but the trouble is still there: its cause was not found"
    screen.fact("Verdict", f"{verdict}; tolerance: {tolerance.title}")
    points = open_points(job)
    screen.fact("Left open", "" if points else "nothing")
    if points:
        screen.line("Left open:")
        for point in points:
            screen.line(point, indent="  - ")
    screen.fact("Time", f"{job.minutes:.0f} min by the figures of the knowledge base")


def table(session: Session, whole: bool) -> None:
    """The readings side by side."""
    words = {True: "ok", False: "outside", None: ""}
    asked = [row for row in rows(session.job) if whole or row.check in needed(session.job)]
    session.screen.table(
        ("Check", "As found", "As left", "Limits", "Verdict"),
        [(row.title, row.found, row.left or "not read again", row.limits, words[row.fine]) for row in asked],
    )
