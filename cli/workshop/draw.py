"""`hertzwright knowledge draw [ID]`: a part of the knowledge as a picture.

Purpose: one cause, check, remedy, complaint, step of setting or area with what it is tied to, or which areas look
alike: SVG, DOT, JSON, or one fact a line.
Law: reads the knowledge and changes nothing; the same knowledge gives the same bytes; writes over no file unless told
to.
Not here: what is in a picture (see `neighbours`), how it looks (see `picture`).
"""

from __future__ import annotations

import argparse
import json
import sys

from ...engine import HertzwrightError
from ...engine.problems import quoted
from ..files import output_file, store
from ..terminal import Screen, letters
from . import checkout
from .bundle import bundled
from .neighbours import Scene, scene
from .picture import Picture, dot, picture, svg


class OutputError(HertzwrightError):
    """Two things that cannot both go to standard output."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add = parser.add_argument
    add(
        "id",
        nargs="?",
        metavar="ID",
        help="a cause, check, remedy, complaint, step of setting or area (default: the areas)",
    )
    add("--out", metavar="FILE", help="write the picture to FILE (- or without it: standard output)")
    add("--dot", action="store_true", help="DOT, for programs that lay out graphs, not SVG")
    add(
        "--least",
        metavar="PERCENT",
        type=_percent,
        help="leave out what shows in fewer of 100 sets (default: 10 and at most 18 checks for a cause, 20 and at most "
        "16 causes for a check or complaint, 80 and at most 3 checks a cause for an area, 0 for a remedy); of the "
        "areas, what is less alike (default: the two nearest of each)",
    )
    add("--force", action="store_true", help="write over a file that is there already")
    add("--json", action="store_true", help="print JSON: boxes and lines with their places")
    store.add_knowledge(parser)
    store.add_plain(parser)


def _percent(text: str) -> float:
    try:
        value = float(text.removesuffix("%"))
    except ValueError:
        value = -1.0
    if 0.0 <= value <= 100.0:
        return value / 100
    raise argparse.ArgumentTypeError(f"{quoted(text)}: expected a percentage from 0 to 100")


def run(arguments: argparse.Namespace) -> int:
    """Run the command. Returns the exit status; raises HertzwrightError for what cannot be used."""
    told = arguments.json or arguments.plain
    if told and (arguments.out == "-" or (arguments.dot and arguments.out is None)):
        raise OutputError("a picture and --json or --plain cannot both go to standard output; give --out FILE")
    knowledge = store.knowledge(str(checkout.find((), arguments.knowledge).folder))
    found = scene(knowledge, arguments.id, arguments.least)
    out = output_file.claimed(arguments.out or output_file.STANDARD_OUTPUT, arguments.force)
    if arguments.out is not None or not told:
        if arguments.dot:
            text = dot(found)
        else:
            drawn = picture(bundled(knowledge, found))
            text = svg(drawn)
            if drawn.points < letters.SMALLEST:
                small = f"On paper the letters are {drawn.points:.1f} points high; give a larger --least."
                print(small, file=sys.stderr)
        out.put(text.encode("utf-8"))
    if arguments.json:
        print(json.dumps(as_json(picture(bundled(knowledge, found))), sort_keys=True, indent=2, allow_nan=False))
    elif arguments.plain:
        print_in_words(Screen(plain=True), found)
    return 0


def print_in_words(screen: Screen, found: Scene) -> None:
    """The picture in words, one line of it a sentence."""
    screen.line(f"{found.title}.")
    for item in found.items:
        screen.line(f"{item.title} ({item.id}): {item.about}.")
    for sentence in dict.fromkeys((*(tie.sentence for tie in found.ties), *found.notes)):
        screen.line(sentence)


def as_json(drawn: Picture) -> dict[str, object]:
    """Everything that `--json` prints. Places are in units of which a letter has ten, from the top left corner."""
    found, layout = drawn.scene, drawn.layout
    return {
        "version": 1,
        "kind": found.kind,
        "id": found.id,
        "title": found.title,
        "notes": list(found.notes),
        "least": found.least,
        "left_out": found.left_out,
        "width": round(layout.wide, 1),
        "height": round(layout.high, 1),
        "nodes": [
            {
                "id": item.id,
                "kind": item.kind,
                "title": item.title,
                "about": item.about,
                "main": item.main,
                "parts": [{"title": part.title, "about": part.about} for part in item.parts],
                **{
                    name: round(value, 1)
                    for box in [layout.boxes[item.id]]
                    for name, value in (("x", box.x), ("y", box.y), ("width", box.wide), ("height", box.high))
                },
            }
            for item in found.items
        ],
        "edges": [
            {
                "source": tie.source,
                "target": tie.target,
                "kind": tie.kind,
                "words": tie.words,
                "sentence": tie.sentence,
                "chance": tie.chance,
                "points": [[round(x, 1), round(y, 1)] for x, y in way.points],
            }
            for tie, way in zip(found.ties, layout.ways, strict=True)
        ],
    }
