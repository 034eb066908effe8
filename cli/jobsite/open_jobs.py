"""An open job of the same set: said when a new one is begun, and offered to be gone on with.

Purpose: nobody begins a set anew whose job is still open.
Law: reads the job files only; without a terminal it is said and nothing is asked.
Not here: going on with a job (see `resume`).
"""

from __future__ import annotations

import sys
from pathlib import Path

from ...engine import HertzwrightError
from ...engine.job import closing, standing_of
from ...engine.problems import printable
from ..files import journal
from ..terminal import Asker, Screen, choose


def open_of(folder: Path, name: str) -> tuple[str, str]:
    """(id, day) of the latest job of a set, where that job is open; empty where there is none."""
    found = ("", "")
    for path in journal.listed(folder):
        try:
            record = journal.read(path)
        except HertzwrightError:
            continue
        if record.head.set == name:
            still = not closing(standing_of(record.events))
            found = (path.stem, record.head.created[:10]) if still else ("", "")
    return found


def offer(asker: Asker | None, screen: Screen, folder: Path, name: str) -> str | None:
    """The id of the open job that is gone on with; None where a new one is begun. Raises Back or Stop."""
    ident, day = open_of(folder, name)
    if not ident:
        return None
    said = f"Job {ident} of {name} is open since {day}."
    if asker is None:
        print(printable(f"{said} Go on with it: hertzwright resume {ident}"), file=sys.stderr)
        return None
    screen.heading(said)
    return ident if choose(asker, screen, "", ("go on with it", "begin a new job"), 0, back=True) == 0 else None
