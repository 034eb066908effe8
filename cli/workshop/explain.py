"""`hertzwright knowledge explain [CODE]`: the long story of a problem code, or the list of all codes.

Purpose: why the code is there, with a bad and a good example.
Law: says only what the register of codes says (see `problems.codes`); a test checks both examples.
Not here: finding problems (see `check`).
"""

from __future__ import annotations

import argparse
import json
from itertools import groupby

from ...engine import HertzwrightError
from ...engine.problems import CODES, Code, close_to, printable, quoted
from ..files import store
from ..terminal import Screen

_GROUPS = {
    "K00": "The text",
    "K01": "The text",
    "K02": "The shape",
    "K03": "Names",
    "K04": "The reasoning",
    "K05": "The work",
    "K06": "The writing",
}


class UnknownCodeError(HertzwrightError):
    """No problem has this code."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "code", nargs="?", metavar="CODE", help="code of a problem, as `knowledge check` prints it; otherwise all codes"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    screen = Screen(arguments.plain)
    if arguments.code is None:
        if arguments.json:
            _print_json({"codes": [_as_json(known) for known in CODES.values()]})
        else:
            _list(screen)
        return 0
    code = arguments.code.upper()
    known = CODES.get(code)
    if known is None:
        raise UnknownCodeError(
            f"no code {quoted(arguments.code)}; {close_to(code, CODES, f'codes run from {min(CODES)} to {max(CODES)}')}"
        )
    if arguments.json:
        _print_json(_as_json(known))
    else:
        _tell(screen, known)
    return 0


def _list(screen: Screen) -> None:
    for heading, codes in groupby(CODES.values(), lambda code: _GROUPS.get(code.code[:3], "More")):
        screen.line(heading, "bold")
        for code in codes:
            warning = " (warning)" if code.severity == "warning" else ""
            screen.line(f"{code.title}{warning}", indent=f"  {code.code}  ", hanging=" " * 8)
    screen.line()
    screen.line("hertzwright knowledge explain CODE tells more.")


def _tell(screen: Screen, code: Code) -> None:
    screen.line(f"{code.code} ({code.severity}): {code.title}", "bold")
    screen.line()
    screen.line(code.why)
    for label, passage in (("Bad", code.bad), ("Good", code.good)):
        if passage:
            screen.line()
            screen.line(f"{label}, in {code.file}:")
            screen.line()
            for line in passage.strip("\n").splitlines():
                print(printable(f"  {line}"))  # never wrapped: it is YAML


def _as_json(code: Code) -> dict[str, object]:
    return {
        "code": code.code,
        "severity": code.severity,
        "title": code.title,
        "why": code.why,
        "file": code.file,
        "bad": code.bad,
        "good": code.good,
    }


def _print_json(found: dict[str, object]) -> None:
    print(json.dumps({"version": 1, **found}, sort_keys=True, indent=2))
