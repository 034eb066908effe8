"""`hertzwright knowledge explain CODE`: the long story of a problem code.

Purpose: why the code is there, with a bad and a good example.
Law: says only what the register of codes says (see `engine.codes`); a test checks both examples.
Not here: finding problems (see `check`).
"""

from __future__ import annotations

import argparse

from ...engine import HertzwrightError
from ...engine.codes import CODES
from ...engine.problem import close_to, quoted


class UnknownCodeError(HertzwrightError):
    """No problem has this code."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="code of a problem, as `knowledge check` prints it")


def run(arguments: argparse.Namespace) -> int:
    code = arguments.code
    known = CODES.get(code.upper())
    if known is None:
        raise UnknownCodeError(
            f"no code {quoted(code)}; {close_to(code.upper(), CODES, f'codes run from {min(CODES)} to {max(CODES)}')}"
        )
    print(f"{known.code} ({known.severity}): {known.title}\n")
    print(known.why)
    for label, passage in (("Bad", known.bad), ("Good", known.good)):
        if passage:
            print(f"\n{label}, in {known.file}:\n")
            print("\n".join(f"  {line}" for line in passage.strip("\n").splitlines()))
    return 0
