"""`hertzwright progress`: how one trainee comes along, or several from their exported files.

Purpose: with no file your own progress, by area over time; with files one table of their trainees; `--export` writes
the file that a trainee hands to a foreman.
Law: files are read and never changed; a trainee is named as he named himself, escaped.
Not here: what is shown (see `progress_view`), how progress is kept (see `progress`).
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from ...engine.problems import printable
from ..files import output_file, store
from ..terminal import Screen
from . import progress, progress_view, today


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add = parser.add_argument
    add("files", nargs="*", metavar="FILE", help="exported progress of trainees: one table of them all")
    add("--trainee", metavar="NAME", default="me", help="whose progress, without a FILE (default: me)")
    add("--export", metavar="OUT", help="write this trainee's progress as a file for a foreman (- for standard output)")
    add("--force", action="store_true", help="write over a file that is there already")
    add("--json", action="store_true", help="print JSON")
    today.add_day(parser)
    store.add_folder(parser)
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    """Run the command. Returns 1 where one of several files cannot be read; raises HertzwrightError otherwise."""
    screen, day = Screen(arguments.plain), today.day_of(arguments.day)
    if arguments.files:
        if arguments.export:
            raise progress.ProgressError("--export writes the progress kept here; leave the files away")
        return _several(arguments, screen)
    name = progress.clean_name(arguments.trainee)
    path = progress.path_of(store.trainees_folder(store.jobs_folder(arguments.folder)), name)
    found = progress.read(path, name)
    if arguments.export:
        out = output_file.claimed(arguments.export, arguments.force)
        out.put(progress.as_text(found).encode("utf-8"))
        return 0
    knowledge = store.knowledge(arguments.knowledge)
    return progress_view.print_progress(screen, knowledge, found, arguments.json, day)


def _several(arguments: argparse.Namespace, screen: Screen) -> int:
    found, wrong = [], 0
    # One file named twice is one trainee.
    for name in {os.path.realpath(name): name for name in arguments.files}.values():
        try:
            path = Path(name)
            if not path.is_file():
                raise progress.ProgressError(f"{printable(name)}: no such file; expected one that --export wrote")
            each = progress.read(path, path.stem)
            each = progress.TraineeProgress(progress.clean_name(each.name), each.drills, each.units)
            if each in found:
                print(f"hertzwright: {printable(name)}: the same as a file before it; left out", file=sys.stderr)
            else:
                found.append(each)
        except progress.ProgressError as error:
            print(f"hertzwright: {error}", file=sys.stderr)
            wrong += 1
    if found:
        knowledge = store.knowledge(arguments.knowledge)
        progress_view.foreman(screen, knowledge, found, arguments.json, today.day_of(arguments.day))
    return 2 if wrong and not found else 1 if wrong else 0
