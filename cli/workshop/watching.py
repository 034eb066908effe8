"""Watching a folder: when was something saved.

Purpose: yield the names of the files that changed since the last time, once they have come to rest.
Law: looks at times and sizes twice a second and reads no file, so that it works on every system and drive, and costs
next to nothing. An editor that saves by writing a new file and renaming it makes one change; a file that is away for a
moment is waited for.
Not here: what is done about a change (see `check`).
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

Marks = Mapping[str, tuple[int, int, int]]
PAUSE = 0.5
REST = 0.1
PATIENCE = 10  # looks at an unfinished change before it is taken as it is


def marks(folder: Path) -> Marks:
    """Time, size and number of each .yaml or .yml file below a folder, by its name relative to it."""
    found = {}
    for above, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in names:
            if name.startswith(".") or not name.lower().endswith((".yaml", ".yml")):
                continue
            path = Path(above, name)
            try:
                state = path.stat()
            except OSError:
                continue  # gone between the two looks
            found[path.relative_to(folder).as_posix()] = (state.st_mtime_ns, state.st_size, state.st_ino)
    return found


def changes(
    look: Callable[[], Marks], before: Marks | None = None, pause: Callable[[float], None] = time.sleep
) -> Iterator[list[str]]:
    """The files that changed, each time some did and all have come to rest. Never ends by itself.

    `look` gives the state of the files; `before` is the state to compare with, where it was taken earlier.
    """
    known = look() if before is None else before
    while True:
        now = look()
        if now != known:
            now = _rest(look, now, known, pause)
            changed = sorted(name for name in known.keys() | now.keys() if known.get(name) != now.get(name))
            known = now
            if changed:
                yield changed
        pause(PAUSE)


def _rest(look: Callable[[], Marks], now: Marks, known: Marks, pause: Callable[[float], None]) -> Marks:
    """The state once two looks are equal and no file that was there is away."""
    for _ in range(PATIENCE):
        pause(REST)
        later = look()
        if later == now and not known.keys() - later.keys():
            break
        now = later
    return now
