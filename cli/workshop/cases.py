"""`hertzwright knowledge cases`: replay the solved cases and compare.

Purpose: which solved cases the knowledge still judges as it should, and why a case fails.
Law: results on standard output, in the order of the files; the status is 1 where a case fails.
Not here: what a job concludes from facts (see `engine.job`).
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import dataclass

from ...engine import HertzwrightError, Knowledge
from ...engine.model import Case
from ...engine.problem import close_to, quoted
from .. import facts, store
from ..screen import Screen

_SLOW = 1.0


class UnknownCaseError(HertzwrightError):
    """No solved case has this id."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("only", nargs="*", metavar="CASE", help="only these cases")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    return _cases(arguments, store.knowledge(arguments.knowledge))


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
                raise UnknownCaseError(f"no case {quoted(name)}; {close_to(name, knowledge.cases)}".rstrip("; "))
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
