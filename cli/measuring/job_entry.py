"""Findings entered into a job from elsewhere: from a load test or a recorded trace.

Purpose: show what would be recorded, have it confirmed, and put it into the job file.
Law: nothing is recorded that was not shown; either every finding and note is recorded or none; the job is locked from
before the question until all of it is on the disk.
Not here: where the findings come from (see `loadtest`, `trace`).
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from ...engine import Event, HeldError, HertzwrightError, Job, JobError, Knowledge
from ...engine.job import current
from ...engine.loadtest import Result
from ...engine.problems import printable
from .. import streams
from ..files import journal, store
from ..record import RUN_TITLES, KeptLoadTest, held, load_record


def add_options(parser: argparse.ArgumentParser) -> None:
    """The options of a command that can enter what it found into a job."""
    parser.add_argument("--job", metavar="ID", help="record the findings in this job, after showing them")
    parser.add_argument("--yes", action="store_true", help="with --job: record without asking")
    store.add_folder(parser)


def opened(knowledge: Knowledge, arguments: argparse.Namespace) -> tuple[Path, Job]:
    """The job that is to be entered into, as it stands. Raises JobError where it cannot be gone on with."""
    path = journal.find(arguments.job, store.jobs_folder(arguments.folder))
    record = journal.read(path)
    if record.damage:
        raise JobError(f"{record.damage}; mend it first with: hertzwright resume {record.ident} --accept-damage")
    return path, _replayed(knowledge, record)


def _replayed(knowledge: Knowledge, record: journal.JobFileContent) -> Job:
    try:
        return Job.replay(knowledge, current(knowledge, record.events)[0])
    except HertzwrightError as error:
        raise JobError(f"{record.path}: this knowledge cannot take the job: {error}") from None


def enter(
    knowledge: Knowledge,
    path: Path,
    answers: Sequence[tuple[str, str]],
    notes: Sequence[str],
    yes: bool,
    readings: Sequence[Event] = (),
) -> bool:
    """Record answers, notes and load readings in a job, after showing them and, unless `yes`, asking.

    All of it was read before anybody could refuse it, so it is taken whole; where it is dangerous, the job is held
    afterwards. A job that was held before takes none of it. Returns whether it was done.

    Raises JobError where there is nobody to ask and `yes` was not given, where an answer does not fit the job, and
    where the job is open elsewhere.
    """
    ident = path.name.removesuffix(".jsonl")
    if not answers and not notes and not readings:
        _say(f"Nothing to record in job {ident}.")
        return False
    with journal.Journal.reopen(path)[0] as file:
        job = _replayed(knowledge, journal.read(path))
        if job.held:
            raise HeldError(
                f"job {ident} is held ({'; '.join(map(str, job.held))}): nothing that was read on the running set is "
                f"taken. Shut it down, prove that the throttle closes, then: hertzwright resume {ident} --secured NAME"
            )
        for text in notes:
            job.note(text)
        for event in readings:
            job.load_reading(event.id, event.cells)
        for name, answer in answers:
            job.record(name, answer, happened=True)
        for hold in job.held:
            _say(f"STOP: the set must not run. {hold}.")
        if job.held:
            _say(held.HOW_ALONE)
        _say(f"For job {ident}:")
        added = len(notes) + len(readings) + len(answers)
        for name, answer in answers:
            _say(f"  {knowledge.checks[name].title}: {answer}{_before(job, name, added)}")
        for text in notes:
            _say(f"  note: {text}")
        for event in readings:
            cells = "; ".join(f"{name} {cell}" for name, cell in event.cells.items())
            _say(f"  {event.id.replace('_', ' ')}: {cells}")
        if not yes and not _confirmed():
            _say("Nothing was recorded.")
            return False
        file.sync(job.events)
    _say(f"Recorded in job {ident}: {len(answers)} answers, {len(notes) + len(readings)} other entries.")
    return True


def run_of(job: Job) -> str:
    """Which run readings that are taken on the set as it is now belong to."""
    return "as_left" if job.epoch else "as_found"


def enter_load_test(
    knowledge: Knowledge, path: Path, job: Job, kept: KeptLoadTest, results: Sequence[Result], yes: bool
) -> bool:
    """Record the run of a load test that tells of the set as it is now. Returns whether it was done.

    Raises JobError where there is no such run, and as `enter` does.
    """
    wanted = run_of(job)
    result = next((result for result in results if result.run == wanted), None)
    if result is None:
        done = f"has {job.epoch} remed{'y' if job.epoch == 1 else 'ies'}" if job.epoch else "has no remedy yet"
        raise JobError(
            f"job {path.stem} {done}, so what is recorded now is {RUN_TITLES[wanted]}; "
            f"give the readings with {'--as-left' if job.epoch else '--readings'}"
        )
    for other in results:
        if other.run != wanted:
            _say(
                f"The readings {RUN_TITLES[other.run]} are not recorded: the set as it is now is {RUN_TITLES[wanted]}."
            )
    for item in result.questions:
        _say(f"Question, {item.place}: {item.text}")
    return enter(knowledge, path, result.answers, [], yes, load_record.readings(kept, wanted))


def _before(job: Job, name: str, added: int) -> str:
    """What a new answer takes the place of: the one since the last remedy."""
    earlier = job.standing[: len(job.standing) - added]
    for event in reversed(earlier):
        if event.kind == "remedy":
            break
        if event.kind == "check" and event.id == name:
            return f" (in place of {event.answer})"
    return ""


def _confirmed() -> bool:
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise JobError("no terminal to ask at; give --yes to record this")
    return streams.yes("Record all of this? Type yes: ")


def _say(text: str) -> None:
    print(printable(text), file=sys.stderr)
