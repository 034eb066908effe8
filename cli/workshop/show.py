"""`hertzwright knowledge show ID`: one page on one thing.

Purpose: everything the knowledge holds about one cause, check, remedy or complaint, on one page.
Law: reads the knowledge, changes nothing.
Not here: the page itself (see `page`).
"""

from __future__ import annotations

import argparse

from .. import store
from ..screen import Screen
from . import page


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("id", metavar="ID", help="id of the item")
    parser.add_argument("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    return page.show(store.knowledge(arguments.knowledge), arguments.id, Screen(arguments.plain), arguments.json)
