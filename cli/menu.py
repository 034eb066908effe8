"""A menu of commands: which one is meant, and what there is.

Purpose: find the module of a command by its name and give it its arguments; a command may be a menu of its own.
Law: a module is imported only when its command is given, so that a prompt comes quickly; one that is not there is
left out of the help.
Not here: what the commands do, and what becomes of their errors (see `app`).
"""

from __future__ import annotations

import argparse
import difflib
import importlib
import importlib.util
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
        from ..engine.problem import printable

        print(printable(f"{self.prog}: {message}; see {self.prog} --help"), file=sys.stderr)
        raise SystemExit(2)


@dataclass(frozen=True, slots=True)
class Menu:
    """Commands by name, each a module of `package` and what it does; `head` stands above them in the help."""

    prog: str
    package: str
    commands: Mapping[str, str]
    head: tuple[str, ...]

    @property
    def present(self) -> dict[str, str]:
        """The commands whose module is there."""
        return {
            name: brief
            for name, brief in self.commands.items()
            if importlib.util.find_spec(f"{self.package}.{name}") is not None
        }

    def run(self, words: Sequence[str]) -> int:
        """Run the command that the first word names with the others. Returns the exit status."""
        if not words or words[0] in ("-h", "--help", "help"):
            print(self.help())
            return 0
        name, rest = words[0], list(words[1:])
        commands = self.present
        if name not in commands:
            from ..engine.problem import quoted

            near = difflib.get_close_matches(name, list(commands), 1, 0.5)
            help_text = f"did you mean {near[0]}?" if near else f"commands are {', '.join(commands)}"
            print(f"{self.prog}: no command {quoted(name)}; {help_text}", file=sys.stderr)
            return 2
        module = importlib.import_module(f"{self.package}.{name}")
        inner = getattr(module, "MENU", None)
        if isinstance(inner, Menu):
            return inner.run(rest)
        command = cast(Command, module)
        brief = commands[name]
        parser = Parser(prog=f"{self.prog} {name}", description=f"{brief[0].upper()}{brief[1:]}.", allow_abbrev=False)
        command.add_arguments(parser)
        try:
            arguments = parser.parse_args(rest)
        except SystemExit as leaving:  # argparse after --help or an error
            return leaving.code if isinstance(leaving.code, int) else 2
        return command.run(arguments)

    def help(self) -> str:
        """What the menu alone prints."""
        commands = self.present
        room = max(len(name) for name in commands)
        rows = [f"  {name:<{room}}  {brief}" for name, brief in commands.items()]
        return "\n".join([*self.head, "", *rows, "", f"{self.prog} COMMAND --help", "says more."])
