"""The command line: which command, and how it ends.

Purpose: turn every way a command can end into an exit status: 0 fine, 1 problems found, 2 wrong use or unreadable
input, 130 interrupted.
Law: nothing is imported here that the command given does not need.
Not here: what the commands do.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Sequence

from .menu import Menu

MENU = Menu(
    "hertzwright",
    __package__,
    {
        "start": ("start", "begin a job at a set"),
        "resume": ("resume", "go on with a job"),
        "jobs": ("jobs", "list the jobs kept here"),
        "rank": ("rank", "rank the causes of a file"),
        "chart": ("chart", "decision chart of a complaint"),
        "loadtest": ("loadtest", "readings of a load test"),
        "trace": ("trace", "read a frequency trace"),
        "trim": ("trim", "adjust, trial by trial"),
        "drill": ("drill", "learn on a made-up set"),
        "report": ("report", "print the record of a job"),
        "knowledge": ("knowledge", "edit and prove the knowledge"),
    },
    ("hertzwright: why will this set", "not hold its frequency?", "", "At a set, type: hertzwright start"),
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Returns the exit status."""
    for stream in (sys.stdout, sys.stderr):
        # An old code page shows what it can; it is no reason to stop.
        getattr(stream, "reconfigure", lambda **_: None)(errors="backslashreplace")
    try:
        status = _run(list(sys.argv[1:] if argv is None else argv))
        sys.stdout.flush()
        return status
    except KeyboardInterrupt:
        print("\ninterrupted; what was answered is kept", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # Whoever read our output has enough; without this, Python complains once more while closing it.
        _silence()
        return 0
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EIO):
            raise
        _silence()
        print(f"hertzwright: what was to be printed cannot be written: {error.strerror}", file=sys.stderr)
        return 2
    except Exception as error:
        from ..engine.problem import HertzwrightError, printable

        if not isinstance(error, HertzwrightError):
            raise
        for line in str(error).splitlines():
            print(f"hertzwright: {printable(line)}", file=sys.stderr)
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
