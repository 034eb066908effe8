"""`hertzwright knowledge compare REF`: what a change of the knowledge does.

Purpose: what changed in meaning, which solved cases come out otherwise, what it costs or saves at jobs, and which
decision charts changed; on the screen, as Markdown for the pull request, or as JSON.
Law: results on standard output; the status is 1 where a case fails that did not, a new one too, a published id was
deleted or a worker did not come back, 2 for wrong use. The same versions, number of
jobs and seed give the same figures.
Not here: reading the versions (see `revision`), working it out (see `effects`), the words (see `compared`).
"""

from __future__ import annotations

import argparse
import sys

from ...engine.review import DEPTH
from ..files import features_given, store
from ..terminal import ProgressBar, Screen
from . import compared, revision
from .effects import compare_versions
from .workers import add_workers, workers

JOBS = 12
"""About so many jobs are worked if one version is right, and if the other is: about three minutes on two free cores."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument
    add("old", metavar="REF", help="git revision or folder to compare with, such as main")
    add("new", metavar="NEW", nargs="?", help="git revision or folder (default: the knowledge as it is now)")
    add(
        "--jobs",
        type=_count,
        default=JOBS,
        metavar="N",
        help=f"about so many jobs to work, 0 for none (default {JOBS})",
    )
    add("--seed", type=int, default=1, metavar="N", help="other sets (default 1)")
    add("--set", action="append", default=[], metavar="KEY=VALUE", help="a feature that every made-up set has")
    add("--deepen", type=_deep, default=DEPTH, metavar="N", help=f"how deep jobs look ahead (default {DEPTH})")
    add_workers(parser)
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--markdown", action="store_true", help="print Markdown for the pull request")
    form.add_argument("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def _count(text: str) -> int:
    found = int(text) if text.isdecimal() else -1
    if not 0 <= found <= 100_000:
        raise argparse.ArgumentTypeError(f"{text!r}; expected a number of jobs from 0 to 100000")
    return found


def _deep(text: str) -> int:
    found = int(text) if text.isdecimal() else -1
    if not 0 <= found <= 20:
        raise argparse.ArgumentTypeError(f"{text!r}; expected a number of steps from 0 to 20")
    return found


def run(arguments: argparse.Namespace) -> int:
    first, second = revision.sides(arguments.old, arguments.new, arguments.knowledge)
    screen = Screen(arguments.plain)
    given = features_given(second.knowledge, arguments.set)
    with workers(arguments) as executor, ProgressBar(plain=not screen.drawn) as bar:
        found = compare_versions(
            first, second, arguments.jobs, arguments.seed, executor, bar.to, given, arguments.deepen
        )
    if arguments.json:
        print(compared.as_json(found))
    elif arguments.markdown:
        print(compared.markdown(found), end="")
    else:
        compared.print_comparison(found, screen)
    sys.stdout.flush()
    return 1 if found.failing or found.deleted else 0
