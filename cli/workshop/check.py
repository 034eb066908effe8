"""`hertzwright knowledge check`: every problem in the files.

Purpose: problems as text, JSON or annotations of a pull request, all at once, worst first; and again at every save.
Law: results on standard output, in a stated order; the status is 1 where something is wrong with the knowledge.
The whole knowledge is always checked, since an edit in one file can break another.
Not here: the checks themselves (see `compiler.rules` and its neighbours), what a code means (see `explain`), which
folder is meant (see `checkout`), what counts as a save (see `watching`).
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from ...engine import HertzwrightError
from ...engine.compiler import OF_THE_WHOLE, SINGULAR, Readout, read_folder
from ...engine.problems import WIDEST, Problem, printable, render
from ..files import store
from ..terminal import wrapping
from . import checkout, watching
from .checkout import Checkout


class WatchError(HertzwrightError):
    """A form of output that cannot go on."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "paths",
        nargs="*",
        metavar="PATH",
        help="a knowledge folder, or files whose problems are shown; otherwise the knowledge/ you stand in, else the "
        "knowledge shipped",
    )
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON")
    form.add_argument("--github", action="store_true", help="print annotations for a pull request")
    parser.add_argument("--watch", action="store_true", help="check again at every save, until Ctrl-C")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    if arguments.watch and arguments.github:
        raise WatchError("--watch goes with text or --json, not with --github")
    found = checkout.find(arguments.paths, arguments.knowledge)
    where = "the knowledge shipped with this version" if found.shipped else found.shown
    print(f"checking {printable(where)}", file=sys.stderr)
    before = watching.marks(found.folder) if arguments.watch else {}
    readout = read_folder(found.folder, built=False)
    if arguments.watch and arguments.json:
        print(json.dumps(_changed((), readout.problems, readout), sort_keys=True), flush=True)
    elif arguments.json:
        print(json.dumps(_all_as_json(readout, found), sort_keys=True, indent=2))
    elif arguments.github:
        for problem in readout.problems:
            if found.asked(problem.file):
                print(annotation(problem, "knowledge/" if found.shipped else found.shown.rstrip("/") + "/"))
    else:
        _print_all(readout, found)
    if arguments.watch:
        return _watch(found, readout, before, arguments.json)
    return 1 if _count(readout.problems, "error") else 0


# ---- all at once -------------------------------------------------------------------------------------------------


def _print_all(readout: Readout, found: Checkout) -> None:
    shown = [problem for problem in readout.problems if found.asked(problem.file)]
    for problem in shown:
        print(_rendered(problem, readout, found), end="\n\n")
    if shown:
        code = shown[0].code
        print(f"hertzwright knowledge explain {code} says more about {code}.")
    print(summary(readout, found))


def _rendered(problem: Problem, readout: Readout, found: Checkout) -> str:
    return render(replace(problem, file=found.named(problem.file)), readout.text_line(problem), _room())


def _room() -> int:
    """Columns for the line of a problem: a terminal that breaks it would put the caret somewhere else."""
    return max(30, min(WIDEST, wrapping.terminal(WIDEST + 2) - 2))


def summary(readout: Readout, found: Checkout) -> str:
    """How many problems there are, in one line; what was read where there are none."""
    asked = [problem for problem in readout.problems if found.asked(problem.file)]
    others = [problem for problem in readout.problems if not found.asked(problem.file)]
    where = f" in {', '.join(sorted(found.only))}" if 0 < len(found.only) <= 3 else ""
    elsewhere = f" Other files: {_counted(others)}; first: {others[0].file}:{others[0].line}." if others else ""
    if asked:
        return printable(f"{_counted(asked)}{where}.{elsewhere}")
    if others:
        return printable(f"No problems{where}.{elsewhere}")
    held = ", ".join(
        f"{count} {SINGULAR[kind] if count == 1 else kind}"
        for kind in ("causes", "checks", "complaints", "remedies", "cases")
        for count in (readout.counts.get(kind, 0),)
    )
    return printable(f"No problems{where}: {held}.")


def _counted(problems: Iterable[Problem]) -> str:
    listed = list(problems)
    errors, warnings = _count(listed, "error"), _count(listed, "warning")
    return f"{errors} {'error' if errors == 1 else 'errors'}, {warnings} {'warning' if warnings == 1 else 'warnings'}"


def _count(problems: Iterable[Problem], severity: str) -> int:
    return sum(problem.severity == severity for problem in problems)


def _all_as_json(readout: Readout, found: Checkout) -> dict[str, object]:
    others = [problem for problem in readout.problems if not found.asked(problem.file)]
    return {
        "version": 1,
        "errors": _count(readout.problems, "error"),
        "warnings": _count(readout.problems, "warning"),
        "folder": found.shown,
        "problems": [_as_json(problem) for problem in readout.problems if found.asked(problem.file)],
        "other_problems": len(others),
    }


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
    return printable(f"::{problem.severity} {place}::{_data(message)}")


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")


# ---- at every save -----------------------------------------------------------------------------------------------


def compared(before: Iterable[Problem], after: Iterable[Problem]) -> tuple[list[Problem], list[Problem]]:
    """The problems that are fixed and those that are new. One that has only moved to another line is neither."""
    old, new = list(before), list(after)
    return _without(old, new), _without(new, old)


def _without(problems: list[Problem], others: list[Problem]) -> list[Problem]:
    left = Counter(_sameness(problem) for problem in others)
    found = []
    for problem in problems:
        if left[_sameness(problem)] > 0:
            left[_sameness(problem)] -= 1
        else:
            found.append(problem)
    return found


def _sameness(problem: Problem) -> tuple[str, str, str]:
    return (problem.code, problem.file, problem.message)


def _watch(found: Checkout, readout: Readout, before: watching.Marks, as_json: bool) -> int:
    """Check again at every save. Ctrl-C is how a watch ends: the status is that of the last check."""
    print("watching; Ctrl-C ends it", file=sys.stderr, flush=True)
    told = list(readout.problems)
    try:
        for changed in watching.changes(lambda: watching.marks(found.folder), before):
            later = read_folder(found.folder, built=False)
            same = all(_text(later, file) == _text(readout, file) for file in changed)
            if same and later.problems == readout.problems:
                continue  # an editor that saves in two steps, or saves what was there
            now = [*later.problems, *_waiting(told, later)]
            fixed, new = compared(told, now)
            earlier, readout, told = readout, later, now  # before anything is said: then Ctrl-C may come
            if as_json:
                print(json.dumps(_changed(fixed, new, later), sort_keys=True), flush=True)
            else:
                _print_changed(changed, fixed, new, earlier, later, found)
    except KeyboardInterrupt:
        print(file=sys.stderr)
    return 1 if _count(readout.problems, "error") else 0


def _waiting(told: Iterable[Problem], later: Readout) -> list[Problem]:
    """What was told of the whole and is not looked for while a file has a wrong shape: neither fixed nor new."""
    return [] if later.whole else [problem for problem in told if problem.code in OF_THE_WHOLE]


def _text(readout: Readout, file: str) -> tuple[str, ...] | None:
    page = readout.pages.get(file)
    return None if page is None else page.lines


def _print_changed(
    changed: list[str],
    fixed: list[Problem],
    new: list[Problem],
    readout: Readout,
    later: Readout,
    found: Checkout,
) -> None:
    told = [file if file in later.pages or file not in readout.pages else f"{file} (gone)" for file in changed]
    names = ", ".join(told[:3]) + (f" and {len(changed) - 3} more" if len(changed) > 3 else "")
    said = (
        ", ".join(part for part in (f"fixed {len(fixed)}" * bool(fixed), f"new {len(new)}" * bool(new)) if part)
        or "nothing fixed, nothing new"
    )
    print(f"\n{time.strftime('%H:%M:%S')} {printable(names)}: {said}")
    for problem in new:  # an edit breaks other files than its own: all are shown
        print(_rendered(problem, later, found))
    print(summary(later, found), flush=True)


def _changed(fixed: Iterable[Problem], new: Iterable[Problem], readout: Readout) -> dict[str, object]:
    return {
        "version": 1,
        "errors": _count(readout.problems, "error"),
        "warnings": _count(readout.problems, "warning"),
        "fixed": [_as_json(problem) for problem in fixed],
        "new": [_as_json(problem) for problem in new],
    }
