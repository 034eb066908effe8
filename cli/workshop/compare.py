"""`hertzwright knowledge compare REF`: what a change of the knowledge does.

Purpose: what changed in meaning, which solved cases come out otherwise, what it costs or saves at jobs, and which
decision charts changed; on the screen, as Markdown for the pull request, or as JSON.
Law: results on standard output; the status is 1 where a case got worse, a published id was deleted or a worker did not
come back, 2 for wrong use. The same versions, number of
jobs and seed give the same figures.
Not here: reading the versions (see `revision`), working it out (see `effects`), the words (see `compared`).
"""

from __future__ import annotations

import argparse
import os
import sys

from ..files import features_given, store
from ..terminal import ProgressBar, Screen
from . import compared, revision
from .effects import gather
from .workers import processes

JOBS = 50
"""Sets worked with both versions, so twice as many jobs: about a minute on two free cores."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument
    add("old", metavar="REF", help="git revision or folder to compare with, such as main")
    add("new", metavar="NEW", nargs="?", help="git revision or folder (default: the knowledge as it is now)")
    add("--jobs", type=_count, default=JOBS, metavar="N", help=f"made-up sets to play, 0 for none (default {JOBS})")
    add("--seed", type=int, default=1, metavar="N", help="other sets (default 1)")
    add("--set", action="append", default=[], metavar="KEY=VALUE", help="a feature that every made-up set has")
    add("--processes", type=_some, metavar="N", help="processes at work (default: one for each core)")
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


def _some(text: str) -> int:
    found = int(text) if text.isdecimal() else 0
    if not 1 <= found <= 512:
        raise argparse.ArgumentTypeError(f"{text!r}; expected a number of processes from 1 to 512")
    return found


def run(arguments: argparse.Namespace) -> int:
    first, second = revision.sides(arguments.old, arguments.new, arguments.knowledge)
    screen = Screen(arguments.plain)
    given = features_given(second.knowledge, arguments.set)
    with processes(arguments.processes or os.cpu_count() or 1) as executor, ProgressBar(plain=not screen.drawn) as bar:
        found = gather(first, second, arguments.jobs, arguments.seed, executor, bar.to, given)
    if arguments.json:
        print(compared.as_json(found))
    elif arguments.markdown:
        print(compared.markdown(found), end="")
    else:
        compared.tell(found, screen)
    sys.stdout.flush()
    return 1 if found.worse or found.deleted else 0
