"""`hertzwright knowledge check`: every problem in the files.

Purpose: problems as text, JSON or annotations of a pull request, all at once, worst first.
Law: results on standard output, in a stated order; the status is 1 where something is wrong with the knowledge.
Not here: the checks themselves (see `engine.rules` and its neighbours), what a code means (see `explain`).
"""

from __future__ import annotations

import argparse
import json
from importlib.resources import as_file, files
from pathlib import Path

from ...engine import HertzwrightError
from ...engine.problem import Problem, render
from ...engine.reader import Readout, read_folder
from .. import store


class FolderError(HertzwrightError):
    """No folder of knowledge is where it should be."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON")
    form.add_argument("--github", action="store_true", help="print annotations for a pull request")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    folder = arguments.knowledge
    if folder is not None:
        if not Path(folder).is_dir():
            raise FolderError(f"{folder}: no such folder")
        readout = read_folder(Path(folder))
    else:
        with as_file(files("hertzwright.knowledge")) as shipped:
            readout = read_folder(shipped)
    errors = sum(problem.severity == "error" for problem in readout.problems)
    warnings = len(readout.problems) - errors
    if arguments.json:
        found = [_as_json(problem) for problem in readout.problems]
        print(
            json.dumps(
                {"version": 1, "errors": errors, "warnings": warnings, "problems": found}, sort_keys=True, indent=2
            )
        )
    elif arguments.github:
        prefix = "" if folder is None else Path(folder).as_posix().rstrip("/") + "/"
        for problem in readout.problems:
            print(annotation(problem, "knowledge/" if folder is None else prefix))
    else:
        _print_problems(readout, errors, warnings)
    return 1 if errors else 0


def _print_problems(readout: Readout, errors: int, warnings: int) -> None:
    for problem in readout.problems:
        print(render(problem, readout.text_line(problem)), end="\n\n")
    if readout.problems:
        code = readout.problems[0].code
        print(
            f"{errors} {'error' if errors == 1 else 'errors'}, {warnings} {'warning' if warnings == 1 else 'warnings'}."
        )
        print(f"hertzwright knowledge explain {code} says more about {code}.")
    elif readout.catalogue is not None:
        found = readout.catalogue
        print(
            f"No problems: {len(found.causes)} causes, {len(found.checks)} checks, {len(found.complaints)} complaints, "
            f"{len(found.remedies)} remedies, {len(found.cases)} cases."
        )


def _as_json(problem: Problem) -> dict[str, object]:
    return {
        "code": problem.code,
        "severity": problem.severity,
        "file": problem.file,
        "line": problem.line,
        "column": problem.column,
        "message": problem.message,
        "help": problem.help,
    }


def annotation(problem: Problem, prefix: str) -> str:
    """The problem as a line that a GitHub workflow turns into a remark beside the file."""
    message = problem.message + (f" (help: {problem.help})" if problem.help else "")
    place = f"file={_property(prefix + problem.file)},line={problem.line},col={problem.column}"
    place += f",title={_property(problem.code)}"
    return f"::{problem.severity} {place}::{_data(message)}"


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")
