"""`hertzwright knowledge`: check the files, prove the solved cases, show one item.

Purpose: what an editor of the knowledge needs at the terminal.
Law: results on standard output, in a stated order; the status is 1 where something is wrong with the knowledge.
Not here: the checks themselves (see `engine.rules` and its neighbours), the page of one item (see `page`).
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path

from ..engine import HertzwrightError, Knowledge
from ..engine.codes import CODES
from ..engine.model import Case
from ..engine.problem import Problem, close_to, quoted, render
from ..engine.reader import Readout, read_folder
from . import facts, page, store
from .screen import Screen

_SLOW = 1.0


class UsageError(HertzwrightError):
    """A name that the knowledge does not have."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    commands = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    check = commands.add_parser("check", help="every problem in the files", allow_abbrev=False)
    form = check.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON")
    form.add_argument("--github", action="store_true", help="print annotations for a pull request")
    form.add_argument("--explain", metavar="CODE", help="say what a code means, with a bad and a good example")
    cases = commands.add_parser("cases", help="replay the solved cases and compare", allow_abbrev=False)
    cases.add_argument("--json", action="store_true", help="print JSON")
    cases.add_argument("only", nargs="*", metavar="CASE", help="only these cases")
    show = commands.add_parser("show", help="one page on a cause, check, remedy or complaint", allow_abbrev=False)
    show.add_argument("id", metavar="ID", help="id of the item")
    show.add_argument("--json", action="store_true", help="print JSON")
    for each in (check, cases, show):
        store.add_knowledge(each)
        store.add_plain(each)


def run(arguments: argparse.Namespace) -> int:
    if arguments.action == "check":
        return _explain(arguments.explain) if arguments.explain else _check(arguments)
    knowledge = store.knowledge(arguments.knowledge)
    if arguments.action == "cases":
        return _cases(arguments, knowledge)
    return page.show(knowledge, arguments.id, Screen(arguments.plain), arguments.json)


# ---- check


def _check(arguments: argparse.Namespace) -> int:
    folder = arguments.knowledge
    if folder is not None:
        if not Path(folder).is_dir():
            raise UsageError(f"{folder}: no such folder")
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
        print(f"hertzwright knowledge check --explain {code} says more about {code}.")
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


def _explain(code: str) -> int:
    known = CODES.get(code.upper())
    if known is None:
        raise UsageError(
            f"no code {quoted(code)}; {close_to(code.upper(), CODES, f'codes run from {min(CODES)} to {max(CODES)}')}"
        )
    print(f"{known.code} ({known.severity}): {known.title}\n")
    print(known.why)
    for label, passage in (("Bad", known.bad), ("Good", known.good)):
        if passage:
            print(f"\n{label}, in {known.file}:\n")
            print("\n".join(f"  {line}" for line in passage.strip("\n").splitlines()))
    return 0


# ---- cases


@dataclass(frozen=True, slots=True)
class Proved:
    """One solved case as the knowledge now judges it. `faults` is empty where it is as expected."""

    case: Case
    leading: tuple[tuple[str, float], ...]
    faults: tuple[str, ...]


def prove(knowledge: Knowledge, case: Case) -> Proved:
    """Replay a case and compare with what it expects."""
    found = facts.Facts(
        case.place.file if case.place else case.id,
        case.set,
        dict.fromkeys(case.set, case.place.line if case.place else 1),
        tuple(_fact(fact, case.place.line if case.place else 1) for fact in case.facts),
    )
    try:
        job = facts.job_of(knowledge, found)
        ranking = job.ranking()
        faults = []
        places = {name: (place, chance) for place, (name, chance) in enumerate(ranking, 1)}
        for name in case.leading:
            if name not in places:
                faults.append(f"{name}: this set cannot have it (see its features)")
                continue
            place, chance = places[name]
            if place > case.within_first:
                ahead = ", ".join(f"{other} {value:.2f}" for other, value in ranking[: place - 1][:3])
                faults.append(f"{name}: place {place}, expected within the first {case.within_first}; ahead: {ahead}")
            if chance < case.at_least:
                faults.append(f"{name}: probability {chance:.2f}, expected at least {case.at_least:g}")
        if case.next_step:
            step = job.next_steps(1)[0]
            if step.id not in case.next_step:
                faults.append(f"next step {step.id}, expected {' or '.join(case.next_step)}")
    except HertzwrightError as error:
        return Proved(case, (), (str(error),))
    return Proved(case, tuple(ranking[:3]), tuple(faults))


def _fact(fact: object, line: int) -> facts.Fact:
    assert hasattr(fact, "items")
    for kind in facts.KINDS:
        if kind in fact:  # type: ignore[operator]
            return facts.Fact(kind, fact[kind], fact["result" if kind == "remedy" else "answer"], line)  # type: ignore[index]
    raise AssertionError("checked when the knowledge was read")


def _cases(arguments: argparse.Namespace, knowledge: Knowledge) -> int:
    cases = list(knowledge.cases.values())
    if arguments.only:
        for name in arguments.only:
            if name not in knowledge.cases:
                raise UsageError(f"no case {quoted(name)}; {close_to(name, knowledge.cases)}".rstrip("; "))
        cases = [knowledge.cases[name] for name in arguments.only]
    proved = _all(knowledge, cases, Screen(arguments.plain))
    failed = [each for each in proved if each.faults]
    if arguments.json:
        found = [
            {
                "id": each.case.id,
                "area": each.case.area,
                "passed": not each.faults,
                "faults": list(each.faults),
                "truth": list(each.case.truth),
                "leading": [{"id": name, "probability": chance} for name, chance in each.leading],
            }
            for each in proved
        ]
        print(json.dumps({"version": 1, "cases": found, "failed": len(failed)}, sort_keys=True, indent=2))
        return 1 if failed else 0
    screen = Screen(arguments.plain)
    for each in proved:
        leading = f"{each.leading[0][0]} {each.leading[0][1]:.2f}" if each.leading else "no ranking"
        alone = bool(each.leading) and each.case.truth == (each.leading[0][0],)
        truth = "" if alone else f" (truth: {', '.join(each.case.truth)})"
        screen.line(f"{each.case.id}: {leading}{truth}", indent="FAILED  " if each.faults else "ok      ")
    for each in failed:
        screen.line()
        where = f" ({each.case.place.file}:{each.case.place.line})" if each.case.place else ""
        screen.line(f"{each.case.id}{where}: {each.case.title}", "bold")
        for fault in each.faults:
            screen.line(fault, indent="  - ")
    screen.line()
    screen.line(f"{len(proved) - len(failed)} of {len(proved)} cases as expected.")
    return 1 if failed else 0


def _all(knowledge: Knowledge, cases: list[Case], screen: Screen) -> list[Proved]:
    """All cases, with a progress bar on standard error where it takes more than a second."""
    began = time.monotonic()
    proved = []
    for at, case in enumerate(cases):
        proved.append(prove(knowledge, case))
        if time.monotonic() - began > _SLOW and sys.stderr.isatty() and screen.drawn:
            done = round(20 * (at + 1) / len(cases))
            print(f"\r[{'#' * done}{'.' * (20 - done)}] {at + 1} of {len(cases)}", end="", file=sys.stderr, flush=True)
    if time.monotonic() - began > _SLOW and sys.stderr.isatty() and screen.drawn:
        print("\r" + " " * 40 + "\r", end="", file=sys.stderr, flush=True)
    return proved
