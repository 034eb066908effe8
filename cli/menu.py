"""A menu of commands: which one is meant, and what there is.

Purpose: find the module of a command by its name and give it its arguments; a command may be a menu of its own.
Law: a module is imported only when its command is given, so that a prompt comes quickly.
Not here: what the commands do, and what becomes of their errors (see `app`).
"""

from __future__ import annotations

import argparse
import difflib
import importlib
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NoReturn, Protocol, cast


class Command(Protocol):
    """What the module of a command offers, where it is no menu itself."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None: ...

    def run(self, arguments: argparse.Namespace) -> int: ...


class Parser(argparse.ArgumentParser):
    """Says what was wrong in one line, and where the help is."""

    def error(self, message: str) -> NoReturn:
        from ..engine.problems import printable

        print(printable(f"{self.prog}: {message}; see {self.prog} --help"), file=sys.stderr)
        raise SystemExit(2)


@dataclass(frozen=True, slots=True)
class Menu:
    """Commands by name, each with its module in `package` and what it does; `head` stands above them in the help."""

    prog: str
    package: str
    commands: Mapping[str, tuple[str, str]]
    head: tuple[str, ...]

    def run(self, words: Sequence[str]) -> int:
        """Run the command that the first word names with the others. Returns the exit status."""
        if not words or words[0] in ("-h", "--help", "help"):
            print(self.help())
            return 0
        name, rest = words[0], list(words[1:])
        if name not in self.commands:
            from ..engine.problems import quoted

            near = difflib.get_close_matches(name, list(self.commands), 1, 0.5)
            help_text = f"did you mean {near[0]}?" if near else f"commands are {', '.join(self.commands)}"
            print(f"{self.prog}: no command {quoted(name)}; {help_text}", file=sys.stderr)
            return 2
        where, brief = self.commands[name]
        module = importlib.import_module(f"{self.package}.{where}")
        inner = getattr(module, "MENU", None)
        if isinstance(inner, Menu):
            return inner.run(rest)
        command = cast(Command, module)
        parser = Parser(prog=f"{self.prog} {name}", description=f"{brief[0].upper()}{brief[1:]}.", allow_abbrev=False)
        command.add_arguments(parser)
        try:
            arguments = parser.parse_args(rest)
        except SystemExit as leaving:  # argparse after --help or an error
            return leaving.code if isinstance(leaving.code, int) else 2
        return command.run(arguments)

    def help(self) -> str:
        """What the menu alone prints."""
        room = max(len(name) for name in self.commands)
        rows = [f"  {name:<{room}}  {brief}" for name, (_, brief) in self.commands.items()]
        return "\n".join([*self.head, "", *rows, "", f"{self.prog} COMMAND --help", "says more."])
