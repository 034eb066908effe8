"""A file that the user names for a result: `report --html`, `chart --svg`, `trim --facts` and the like.

Purpose: one answer to what may be written where, for every command that writes.
Law: only a regular file is written, or a new one made; a link is followed and stays; a job file is never written over,
known by what it holds and by where it lies, and neither is anything in the program's own folders. A file that is there
is written over only after somebody said so: by `--force`, or at the terminal. Whole or not at all (see `whole_file`).
Not here: what is written.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from stat import S_ISDIR, S_ISREG

from ...engine.problems import HertzwrightError, printable, quoted
from .. import streams
from . import store, whole_file

STANDARD_OUTPUT = "-"
_JOB_NAME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}-[a-z]{1,4}\.jsonl")
_LOOKED_AT = 1_000_000


class OutfileError(HertzwrightError):
    """A file that cannot be written, or must not be. The message says which, and what to give instead."""


@dataclass(frozen=True, slots=True)
class Outfile:
    """Where a result goes, once it is known that it may. Use `claimed`. over: it takes the place of a file."""

    name: str
    path: Path
    over: bool = False

    def put(self, data: bytes) -> None:
        """Write it, and say so on standard error; "-" is standard output. Raises OutfileError."""
        if self.name == STANDARD_OUTPUT:
            sys.stdout.write(data.decode("utf-8"))
            return
        try:
            if self.over:
                _refuse(self.name, self.path)
                whole_file.replace(self.path, data)
            else:
                whole_file.create(self.path, data)
        except FileExistsError:
            raise _there(self.name) from None
        except (OSError, ValueError) as error:
            raise _unwritable(self.name, error) from None
        print(f"Written: {printable(self.name)}", file=sys.stderr)


def claimed(name: str, force: bool = False, reads: Iterable[str | Path] = (), folder: Path | None = None) -> Outfile:
    """The file of a name, after all that can be known before the work is done.

    force: write over a file without asking. reads: files that the command reads, which it must not be. folder: of the
    jobs, where it is not the usual one. Raises OutfileError.
    """
    if name == STANDARD_OUTPUT:
        return Outfile(name, Path(name))
    try:
        path = Path(os.path.realpath(name))
        own = (store.jobs_folder(), *([folder] if folder is not None else []))
        places = {os.path.realpath(each) for jobs in own for each in (jobs, store.trainees_folder(jobs))}
    except (OSError, ValueError) as error:
        raise _unwritable(name, error) from None
    there = _refuse(name, path)
    if str(path.parent) in places and (there or _JOB_NAME.match(path.name)):
        raise OutfileError(f"{_shown(name)} lies among the jobs and trainees kept here; give another name")
    if not there:
        return Outfile(name, path)
    for other in reads:
        if os.path.exists(other) and os.path.samefile(path, other):
            raise OutfileError(f"{_shown(name)} is the file that is read; give another name")
    if not (force or _confirmed(name)):
        raise _there(name)
    return Outfile(name, path, over=True)


def _refuse(name: str, path: Path) -> bool:
    """Whether a regular file is there. Raises OutfileError where it is anything else, or a job."""
    try:
        mode = os.stat(name).st_mode  # by its name: where a pipe is named by a link, that leads nowhere
    except FileNotFoundError:
        if name.endswith(("/", os.sep)):
            raise OutfileError(f"{_shown(name)} is the name of a folder; give the name of a file") from None
        return False
    except (OSError, ValueError) as error:
        raise _unwritable(name, error) from None
    if S_ISDIR(mode):
        raise OutfileError(f"{_shown(name)} is a folder; give the name of a file")
    if not S_ISREG(mode):
        raise OutfileError(f"{_shown(name)} is no regular file but a device or a pipe; give - for standard output")
    if _is_job(name, path):
        raise OutfileError(f"{_shown(name)} is a job file; give another name")
    return True


def _is_job(name: str, path: Path) -> bool:
    """Whether a line of the file is one of a job file, also of a damaged one or a copy under another name."""
    try:
        with path.open("rb") as stream:
            lines = stream.read(_LOOKED_AT).split(b"\n")
    except OSError as error:
        raise _unwritable(name, error) from None
    return any(
        line.startswith(b'{"') and b'"sum":"' in line and (b'"created":' in line or b'"seq":' in line) for line in lines
    )


def _confirmed(name: str) -> bool:
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return False
    return streams.yes(f"{printable(name)} is there already. Write over it? Type yes: ")


def _there(name: str) -> OutfileError:
    return OutfileError(f"{_shown(name)} is there already; give another name, or --force to write over it")


def _unwritable(name: str, error: Exception) -> OutfileError:
    reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a name for a file"
    return OutfileError(f"{_shown(name)}: cannot be written: {reason}")


def _shown(name: str) -> str:
    return quoted(name, 4096)  # the end of a path is what tells it from others
