"""The command line: which command, and how it ends.

Purpose: find the command's module, give it its arguments, and turn every way it can end into an exit status:
0 fine, 1 problems found, 2 wrong use or unreadable input, 130 interrupted.
Law: a command's module is imported only when that command is given, so that a prompt comes quickly.
Not here: what the commands do.
"""

from __future__ import annotations

import argparse
import contextlib
import difflib
import importlib
import importlib.util
import os
import sys
from collections.abc import Sequence
from typing import NoReturn, Protocol, cast

# Command -> module beside this one, and what it does. A command whose module is not there is left out of the help.
COMMANDS: dict[str, tuple[str, str]] = {
    "start": ("start", "begin a job at a set"),
    "resume": ("resume", "go on with a job"),
    "jobs": ("jobs", "list the jobs kept here"),
    "rank": ("rank", "rank the causes for a file of facts"),
    "loadtest": ("loadtest", "take the readings of a load test"),
    "trace": ("trace", "read a recorded frequency trace"),
    "report": ("report", "print the record of a job"),
    "knowledge": ("knowledge", "check, prove and show the knowledge base"),
}


class Command(Protocol):
    """What the module of a command offers."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None: ...

    def run(self, arguments: argparse.Namespace) -> int: ...


class Parser(argparse.ArgumentParser):
    """Says what was wrong in one line, and where the help is."""

    def error(self, message: str) -> NoReturn:
        print(f"{self.prog}: {message}; see {self.prog} --help", file=sys.stderr)
        raise SystemExit(2)


def present() -> dict[str, tuple[str, str]]:
    """The commands whose module is there."""
    found = {}
    for name, (module, brief) in COMMANDS.items():
        if importlib.util.find_spec(f".{module}", __package__) is not None:
            found[name] = (module, brief)
    return found


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Returns the exit status."""
    try:
        status = _run(list(sys.argv[1:] if argv is None else argv))
        sys.stdout.flush()
        return status
    except KeyboardInterrupt:
        print("\ninterrupted; what was answered is kept", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # Whoever read our output has enough; without this, Python complains once more while closing it.
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        from ..engine.problem import HertzwrightError, printable

        if not isinstance(error, HertzwrightError):
            raise
        for line in str(error).splitlines():
            print(f"hertzwright: {printable(line)}", file=sys.stderr)
        return 2


def _run(words: list[str]) -> int:
    if not words or words[0] in ("-h", "--help", "help"):
        print(short_help())
        return 0
    if words[0] in ("-V", "--version"):
        print(f"hertzwright {version()}")
        return 0
    commands = present()
    name, rest = words[0], words[1:]
    if name not in commands:
        from ..engine.problem import quoted

        near = difflib.get_close_matches(name, list(commands), 1, 0.5)
        help_text = f"did you mean {near[0]}?" if near else f"commands are {', '.join(commands)}"
        print(f"hertzwright: no command {quoted(name)}; {help_text}", file=sys.stderr)
        return 2
    module = cast(Command, importlib.import_module(f".{commands[name][0]}", __package__))
    parser = Parser(prog=f"hertzwright {name}", description=f"{commands[name][1].capitalize()}.", allow_abbrev=False)
    module.add_arguments(parser)
    try:
        arguments = parser.parse_args(rest)
    except SystemExit as leaving:  # argparse after --help or an error
        return leaving.code if isinstance(leaving.code, int) else 2
    return module.run(arguments)


def version() -> str:
    """The version of the installed package."""
    from importlib.metadata import PackageNotFoundError
    from importlib.metadata import version as installed

    try:
        return installed("hertzwright")
    except PackageNotFoundError:
        return "unknown"


def short_help() -> str:
    """What `hertzwright` alone prints."""
    commands = present()
    room = max(len(name) for name in commands)
    rows = [f"  {name:<{room}}  {brief}" for name, (_, brief) in commands.items()]
    return "\n".join(
        [
            "hertzwright: why will this set",
            "not hold its frequency?",
            "",
            "At a set, type: hertzwright start",
            "",
            *rows,
            "",
            "hertzwright COMMAND --help says more.",
        ]
    )
