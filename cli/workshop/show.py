"""`hertzwright knowledge show ID [OTHER]`: one page on one thing, or on what tells two things apart.

Purpose: everything the knowledge holds about one item, of whatever kind, on one page.
Law: reads the knowledge, changes nothing.
Not here: the pages themselves (see `page`, `leaflet` and `pair`).
"""

from __future__ import annotations

import argparse
from pathlib import Path

from ...engine import Knowledge
from ..files import store
from ..terminal import Screen
from . import checkout, page, pair, revision


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("id", metavar="ID", help="id of the item")
    parser.add_argument("other", metavar="OTHER", nargs="?", help="a second id: what tells the two apart")
    parser.add_argument("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    found_in = checkout.find((), arguments.knowledge)
    knowledge = store.knowledge(str(found_in.folder))
    screen = Screen(arguments.plain)
    if arguments.other is None:
        status = page.show(knowledge, arguments.id, screen, arguments.json)
        if not arguments.json and not found_in.shipped:
            _changed_last(knowledge, arguments.id, found_in.folder, screen)
        return status
    kinds = []
    for name in (arguments.id, arguments.other):
        found = page.kinds_of(knowledge, name)
        if not found:
            raise page.unknown(knowledge, name)
        kinds.append(found[0])
    return pair.show(knowledge, (kinds[0], arguments.id), (kinds[1], arguments.other), screen, arguments.json)


def _changed_last(knowledge: Knowledge, name: str, folder: Path, screen: Screen) -> None:
    """When and by whom the item was changed last, where git keeps its file."""
    for kind in page.kinds_of(knowledge, name):
        place = getattr(page.tables(knowledge)[kind][name], "place", None)
        if place is None:
            continue
        path = folder / place.file
        rows = path.read_text(encoding="utf-8").splitlines()
        deeper = " " * place.column
        last = place.line
        while last < len(rows) and (rows[last].startswith(deeper) or not rows[last].strip()):
            last += 1
        changed = revision.last_change(path, place.line, last)
        if changed is not None:
            screen.fact("Changed last", f"{changed.day}, {changed.who} ({changed.commit})")
