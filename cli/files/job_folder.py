"""The folder of jobs: which file a job has, which is the newest, and a name that nobody has.

Purpose: an id such as 2026-11-25-a, or a path -> the job file.
Law: a job is named by the day it was begun and a letter; two terminals never get the same name.
Not here: what a job file says (see `job_file`), and where the folder is (see `store`).
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path

from ...engine.job import JobError
from ...engine.problems import quoted
from .job_file import SUFFIX, read

_IDENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})-[a-z]{1,4}")


def is_ident(text: str) -> bool:
    """Whether a text is the id of a job, such as 2026-11-25-a: a day that there is, and one to four letters."""
    found = _IDENT.fullmatch(text)
    if found is None:
        return False
    try:
        date.fromisoformat(found[1])
    except ValueError:
        return False
    return True


def find(ident: str, folder: Path) -> Path:
    """The job file of an id such as 2026-11-25-a, or of a path that ends in .jsonl. Raises JobError."""
    if is_ident(ident):
        path = folder / f"{ident}{SUFFIX}"
        if path.is_file():
            return path
    elif ident.endswith(SUFFIX) and Path(ident).is_file():
        return Path(ident)
    known = [path.name.removesuffix(SUFFIX) for path in listed(folder)]
    if not known:
        raise JobError(f"no job {quoted(ident)}: {folder} holds no jobs")
    near = [name for name in known if name.startswith(ident)] or known
    raise JobError(f"no job {quoted(ident)} in {folder}; the latest there are {', '.join(near[-3:])}")


def listed(folder: Path) -> list[Path]:
    """Job files of a folder, oldest first; none where there is no folder yet. Raises JobError for one that cannot be
    read: it is not an empty one."""
    try:
        names = list(folder.iterdir())
    except FileNotFoundError:
        return []
    except OSError as error:
        raise JobError(
            f"{folder}: the folder of jobs cannot be read: {error.strerror or error}; name another folder with --folder"
        ) from None
    found = [path for path in names if path.suffix == SUFFIX and is_ident(path.name.removesuffix(SUFFIX))]
    return sorted(found, key=lambda path: (path.name[:10], len(path.name), path.name))


def latest(folder: Path) -> Path:
    """The newest job file that says anything. Raises JobError where there is none."""
    found = listed(folder)
    for path in reversed(found):
        with contextlib.suppress(JobError):
            if read(path).entries:
                return path
    if found:
        return found[-1]  # whoever reads it says what is wrong with it
    raise JobError(f"{folder} holds no jobs; begin one with: hertzwright start")


def new_file(folder: Path) -> Path:
    """A file of a name nobody has: the date and a, b, ... z, aa ... Two terminals cannot get the same."""
    day = datetime.now().astimezone().date().isoformat()
    for letters in _letters():
        path = folder / f"{day}-{letters}{SUFFIX}"
        try:
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644))
        except FileExistsError:
            continue
        return path
    raise OSError("too many jobs in one day")


def _letters() -> Iterator[str]:
    alphabet = "abcdefghijklmnopqrstuvwxyz"
    yield from alphabet
    for first in alphabet:
        for second in alphabet:
            yield first + second
