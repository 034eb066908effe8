"""`hertzwright jobs`: the jobs kept here.

Purpose: one line a job: id, set, what is known of how it stands.
Law: reads only; a file that cannot be read is listed with the reason, not left out.
Not here: the record of one job (see `report`).
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from ..engine import HertzwrightError
from ..engine.job import Event
from . import journal, store
from .desk import CLOSED
from .screen import Screen


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON")
    store.add_folder(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    folder = store.jobs_folder(arguments.folder)
    found = [described(path) for path in journal.listed(folder)]
    if arguments.json:
        print(json.dumps({"version": 1, "folder": str(folder), "jobs": found}, sort_keys=True, indent=2))
        return 0
    screen = Screen(arguments.plain)
    if not found:
        screen.line(f"No jobs in {folder}. Begin one with: hertzwright start")
        return 0
    rows = [
        (
            str(job["id"]),
            str(job["set"]),
            str(job["answers"]),
            str(job["remedies"]),
            str(job["problem"] or job["state"]),
        )
        for job in found
    ]
    screen.table(("Job", "Set", "Answers", "Remedies", "State"), rows)
    return 0


def described(path: Path) -> dict[str, object]:
    """What one job file says of itself."""
    found: dict[str, object] = {
        "id": path.stem, "set": "", "created": "", "answers": 0, "remedies": 0, "state": "", "problem": "",
    }  # fmt: skip
    try:
        record = journal.read(path)
    except HertzwrightError as error:
        found["problem"] = str(error)
        return found
    standing = standing_events(record.events)
    found.update(
        set=record.head.set,
        created=record.head.created,
        answers=sum(event.kind in ("check", "complaint") for event in standing),
        remedies=sum(event.kind == "remedy" for event in standing),
        state=state(standing),
        problem=record.damage,
    )
    return found


def standing_events(events: tuple[Event, ...]) -> list[Event]:
    """The events without what was taken back (as `Job` reads them)."""
    standing: list[Event] = []
    for event in events:
        if event.kind != "step_back":
            standing.append(event)
        elif len(standing) > 1:
            standing.pop()
    return standing


def state(standing: list[Event]) -> str:
    """Open, or how it was closed."""
    for event in reversed(standing):
        if event.kind == "note" and event.answer.startswith(CLOSED):
            return event.answer.removeprefix(CLOSED).rstrip(".")
        if event.kind != "note" or event.answer == "Opened again.":
            break
    return "open"
