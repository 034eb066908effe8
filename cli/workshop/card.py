"""`hertzwright knowledge card`: one sheet for the toolbox, both sides A4 or Letter, or the same as text.

Purpose: the order of setting, the limits, the first looks and the cautions, to be carried where no screen is.
Law: reads the knowledge and changes nothing; the same knowledge and set give the same bytes; writes over no file unless
told to.
Not here: what stands on it (see `card_side`), how it looks on paper (see `card_page`).
"""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections.abc import Sequence

from ...engine import HertzwrightError
from ..files import add_features, features_given, output_file, store
from ..terminal import ProgressBar, Screen, sketch
from . import card_page, checkout
from .card_side import Side, sides

_TEXT_WIDE = 72


class CardError(HertzwrightError):
    """A card that cannot be written as asked."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add = parser.add_argument
    add("--out", metavar="FILE", help="write the sheet to FILE as a page to print (- for standard output)")
    add("--text", action="store_true", help="text, as it is without --out, also in FILE")
    add_features(parser)
    add("--tolerance", metavar="NAME", default="default", help="tolerance set (default: default)")
    add("--force", action="store_true", help="write over a file that is there already")
    add("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    """Run the command. Returns the exit status; raises HertzwrightError for what cannot be used."""
    if arguments.json and arguments.out == output_file.STANDARD_OUTPUT:
        raise CardError("the sheet and --json cannot both go to standard output; give --out FILE")
    knowledge = store.knowledge(str(checkout.find((), arguments.knowledge).folder))
    knowledge.tolerance(arguments.tolerance)
    features = features_given(knowledge, arguments.features)
    out = output_file.claimed(arguments.out, arguments.force) if arguments.out else None
    with ProgressBar() as bar:
        found = card_page.shared_out(sides(knowledge, knowledge.features(features), arguments.tolerance, bar.to))
    if out is not None:
        out.put((in_text(found) if arguments.text else card_page.page(found)).encode("utf-8"))
        small = [laid for side in found if not (laid := card_page.laid(side)).fits]
        for each in small if not arguments.text else ():
            print(f"{each.side.title}: more than one side, even in the smallest letters.", file=sys.stderr)
    if arguments.json:
        print(json.dumps(as_json(found), sort_keys=True, indent=2))
    elif out is None:
        show(Screen(arguments.plain), found)
    return 0


def in_text(found: Sequence[Side]) -> str:
    """The card as a text file."""
    kept = io.StringIO()
    show(Screen(file=kept, width=_TEXT_WIDE), found)
    return kept.getvalue()


def show(screen: Screen, found: Sequence[Side]) -> None:
    """The card on the screen, one side after the other."""
    for side in found:
        screen.heading(side.title)
        screen.line(side.note)
        for block in side.blocks:
            if block.drawing is not None:
                screen.line()
                screen.line(block.lead, "bold")
                sketch.show(screen, block.drawing.art, block.drawing.in_words)
            elif block.heading:
                screen.line()
                screen.line(block.lead, "bold")
            else:
                screen.line(f"{block.lead}: {block.text}" if block.text else block.lead, hanging="  ")


def as_json(found: Sequence[Side]) -> dict[str, object]:
    """Everything that `--json` prints."""
    return {
        "version": 1,
        "sides": [
            {
                "title": side.title,
                "note": side.note,
                "blocks": [
                    {
                        "lead": block.lead,
                        "text": block.text,
                        "heading": block.heading,
                        "drawing": block.drawing.id if block.drawing is not None else None,
                    }
                    for block in side.blocks
                ],
            }
            for side in found
        ],
    }
