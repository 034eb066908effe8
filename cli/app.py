"""The command line: which command, and how it ends.

Purpose: turn every way a command can end into an exit status: 0 fine, 1 problems found or work that failed, 2 wrong
use or unreadable input, 130 interrupted.
Law: nothing is imported here that the command given does not need.
Not here: what the commands do.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Sequence

from . import streams
from .menu import Menu

MENU = Menu(
    "hertzwright",
    __package__,
    {
        "start": ("jobsite.start", "begin a job at a set"),
        "resume": ("jobsite.resume", "go on with a job"),
        "jobs": ("record.jobs", "list the jobs kept here"),
        "rank": ("jobsite.rank", "rank the causes of a file"),
        "chart": ("training.chart", "decision chart of a complaint"),
        "loadtest": ("measuring.loadtest", "readings of a load test"),
        "trace": ("measuring.trace", "read a frequency trace"),
        "trim": ("measuring.trim", "adjust, trial by trial"),
        "lesson": ("training.lesson", "ten minutes a day to learn it"),
        "drill": ("training.drill", "learn on a made-up set"),
        "curve": ("training.curve", "draw what one turn does"),
        "progress": ("training.foreman", "how trainees come along"),
        "report": ("record.report", "print the record of a job"),
        "knowledge": ("workshop.knowledge", "edit and prove the knowledge"),
    },
    ("hertzwright: why will this set", "not hold its frequency?", "", "At a set, type: hertzwright start"),
)


_UNWRITABLE = (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EBADF)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Returns the exit status."""
    streams.complete()
    for stream in (sys.stdout, sys.stderr):
        # An old code page shows what it can; it is no reason to stop.
        getattr(stream, "reconfigure", lambda **_: None)(errors="backslashreplace")
    try:
        status = _run(list(sys.argv[1:] if argv is None else argv))
        sys.stdout.flush()
        if streams.lost():
            print("hertzwright: what was to be printed is lost: standard output is closed", file=sys.stderr)
            return status or 2
        return status
    except KeyboardInterrupt:
        print("\ninterrupted; what was answered is kept", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # Whoever read our output has enough; without this, Python complains once more while closing it.
        _silence()
        return 0
    except OSError as error:
        return _failed(error)
    except Exception as error:
        from ..engine.problems import HertzwrightError, printable
        from ..engine.rehearsal import WorkerError

        if not isinstance(error, HertzwrightError):
            raise
        for line in str(error).splitlines():
            print(f"hertzwright: {printable(line)}", file=sys.stderr)
        return 1 if isinstance(error, WorkerError) else 2


def _failed(error: OSError) -> int:
    """Say which file or stream the system would not let us use. Returns the exit status."""
    from ..engine.problems import printable

    reason = error.strerror or str(error)
    if error.filename is not None:
        text = f"{printable(str(error.filename))}: cannot be used: {printable(reason)}"
    elif error.errno in _UNWRITABLE:
        _silence()
        text = f"what was to be printed cannot be written: {printable(reason)}"
    else:
        raise error
    with contextlib.suppress(OSError, ValueError):
        print(f"hertzwright: {text}", file=sys.stderr)
    return 2


def _silence() -> None:
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(words: list[str]) -> int:
    if words and words[0] in ("-V", "--version"):
        print(f"hertzwright {version()}")
        return 0
    return MENU.run(words)


def version() -> str:
    """The version of the installed package."""
    from importlib.metadata import PackageNotFoundError
    from importlib.metadata import version as installed

    try:
        return installed("hertzwright")
    except PackageNotFoundError:
        return "unknown"
