"""`hertzwright knowledge show ID [OTHER]`: one page on one thing, or on what tells two things apart.

Purpose: everything the knowledge holds about one item, of whatever kind, on one page.
Law: reads the knowledge, changes nothing.
Not here: the pages themselves (see `page`, `leaflet` and `pair`).
"""

from __future__ import annotations

import argparse

from ..files import store
from ..terminal import Screen
from . import checkout, page, pair


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("id", metavar="ID", help="id of the item")
    parser.add_argument("other", metavar="OTHER", nargs="?", help="a second id: what tells the two apart")
    parser.add_argument("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    knowledge = store.knowledge(str(checkout.find((), arguments.knowledge).folder))
    screen = Screen(arguments.plain)
    if arguments.other is None:
        return page.show(knowledge, arguments.id, screen, arguments.json)
    kinds = []
    for name in (arguments.id, arguments.other):
        found = page.kinds_of(knowledge, name)
        if not found:
            raise page.unknown(knowledge, name)
        kinds.append(found[0])
    return pair.show(knowledge, (kinds[0], arguments.id), (kinds[1], arguments.other), screen, arguments.json)
