"""`hertzwright knowledge tidy`: keys in order and one sentence a line.

Purpose: lay the files out as the schema and the habits of the knowledge ask, or say which are not.
Law: what a file says stays the same, which is checked before it is written: values, order of items, comments. A file
with a problem of its own is left alone. The schemas that editors complete names from are made anew.
Line ends become \\n, and a byte order mark goes.
Not here: the layout itself (see `layout`), what is wrong with the knowledge (see `check`).
"""

from __future__ import annotations

import argparse
import difflib
import json
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ...engine import HertzwrightError
from ...engine.compiler import FOLDERS, SINGLE, editor_schemas, entries_of
from ...engine.problems import printable
from ..files import store
from . import checkout, layout, saving
from .checkout import Checkout

EDITOR = "editor"
"""The folder of the schemas that an editor completes names from; they are written where a knowledge keeps it."""


class TidyError(HertzwrightError):
    """Nothing that could be made tidy."""


@dataclass(frozen=True, slots=True)
class Laid:
    """One file: its text as it stands and as it should be; `after` is None where it cannot be read."""

    kind: str
    file: str
    before: str
    after: str | None

    @property
    def is_tidy(self) -> bool:
        return self.after == self.before


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "paths",
        nargs="*",
        metavar="PATH",
        help="a knowledge folder or files of one; otherwise the knowledge/ you stand in",
    )
    parser.add_argument("--check", action="store_true", help="write nothing; name the files and end with 1")
    parser.add_argument("--diff", action="store_true", help="write nothing; show what would change")
    parser.add_argument("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    found = checkout.find(arguments.paths, arguments.knowledge)
    writes = not (arguments.check or arguments.diff)
    if found.shipped and writes:
        raise TidyError("stand in a checkout, or give a PATH: the knowledge shipped with this version is not changed")
    where = "the knowledge shipped with this version" if found.shipped else found.shown
    print(f"laying out {printable(where)}", file=sys.stderr)
    laid = [_laid(found, file, kind) for file, kind in _files(found)]
    stale = dict(_stale(found))
    untidy = [each for each in laid if each.after is not None and not each.is_tidy]
    unread = [each for each in laid if each.after is None]
    for each in untidy:
        if each.after is None or not layout.same(each.kind, each.file, each.before, each.after):
            raise TidyError(f"{found.named(each.file)}: the tidy text would say something else; nothing is written")
    if writes:
        for each in untidy:
            saving.save(found.folder / each.file, each.after or "", found.folder)
        stale = dict(_stale(found))
        for file, wanted in stale.items():
            saving.save(found.folder / file, wanted, found.folder)
    if arguments.json:
        _print_json(untidy, unread, stale, writes)
    else:
        _print(found, laid, untidy, unread, arguments.diff, writes)
        if stale:
            said = "written anew" if writes else "are not those of the files"
            print(printable(f"{found.named(EDITOR)}: the names that an editor offers {said}"))
    return 1 if unread or ((untidy or stale) and not writes) else 0


def _stale(found: Checkout) -> Iterator[tuple[str, str]]:
    """The schemas for editors that are not those of the items, with what should stand there, where they are kept."""
    if not (found.folder / EDITOR).is_dir():
        return
    for kind, wanted in editor_schemas(entries_of(found.folder)).items():
        file = f"{EDITOR}/{kind}.json"
        path = saving.inside(found.folder / file, found.folder)
        text = json.dumps(wanted, ensure_ascii=False, separators=(",", ":")) + "\n"
        try:
            same = path.read_text(encoding="utf-8") == text
        except (OSError, UnicodeDecodeError):
            same = False
        if not same:
            yield file, text


def _files(found: Checkout) -> Iterator[tuple[str, str]]:
    """The files asked for that are there, with the kind of each."""
    known = {f"{kind}.yaml": kind for kind in SINGLE}
    for name, kind in FOLDERS.items():
        known |= {f"{name}/{path.name}": kind for path in sorted((found.folder / name).glob("*.yaml"))}
    for file, kind in known.items():
        if found.asked(file) and (found.folder / file).is_file():
            yield file, kind


def _laid(found: Checkout, file: str, kind: str) -> Laid:
    path = saving.inside(found.folder / file, found.folder)
    try:
        text = path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError):
        return Laid(kind, file, "", None)
    return Laid(kind, file, text, layout.tidied(kind, file, text))


def _print(found: Checkout, laid: list[Laid], untidy: list[Laid], unread: list[Laid], shows: bool, wrote: bool) -> None:
    for each in untidy:
        name = found.named(each.file)
        if shows:
            _print_difference(each, name)
        else:
            print(printable(f"{name}: {'laid out' if wrote else 'not tidy'}"))
    for each in unread:
        print(printable(f"{found.named(each.file)}: left alone; hertzwright knowledge check says what is wrong in it"))
    tidy = len(laid) - len(untidy) - len(unread)
    alone = f", {len(unread)} left alone" if unread else ""
    changed = f"{len(untidy)} {'laid out' if wrote else 'not tidy'}"
    print(f"{tidy} {'file' if tidy == 1 else 'files'} tidy, {changed}{alone}.")


def _print_difference(each: Laid, name: str) -> None:
    lines = difflib.unified_diff(
        each.before.splitlines(), (each.after or "").splitlines(), f"a/{name}", f"b/{name}", lineterm=""
    )
    shown = [printable(line) for line in lines]
    print("\n".join(shown or [printable(f"{name}: line ends or the byte order mark")]))


def _print_json(untidy: list[Laid], unread: list[Laid], stale: Mapping[str, str], wrote: bool) -> None:
    print(
        json.dumps(
            {
                "version": 1,
                "not_tidy": [each.file for each in untidy] + sorted(stale),
                "not_read": [each.file for each in unread],
                "written": wrote and bool(untidy or stale),
            },
            sort_keys=True,
            indent=2,
        )
    )
