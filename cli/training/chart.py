"""`hertzwright chart`: the decision chart of a complaint, as a tree in the terminal or on one page for the wall.

Purpose: what to do first at a complaint, and what after each thing that may be seen, before there is a job.
Law: nothing is kept; the same knowledge and options give the same bytes. Cautions stand above the first step.
Not here: the chart itself (see `teaching.chart`), its words (see `chart_words`), what is printed (see `chart_view`) and
the page (see `chart_page`).
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from ...engine import HertzwrightError, Knowledge
from ...engine.job import unknown
from ...engine.problems import close_to, quoted
from ...engine.teaching import MOST_DEPTH, WorkedOut, chart
from ..files import Outfile, add_features, output_file, store
from ..terminal import ProgressBar, Screen, finder, letters
from .chart_view import as_json, show
from .chart_words import ChartWords

if TYPE_CHECKING:
    from .chart_sheet import Sheet


class ChartError(HertzwrightError):
    """A chart that cannot be drawn as asked."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add = parser.add_argument
    add("complaint", nargs="*", metavar="COMPLAINT", help="id or title of a complaint, or another word for it")
    add("--depth", metavar="N", type=_depth, default=3, help="steps along each way (default 3)")
    add(
        "--least",
        metavar="PERCENT",
        type=_percent,
        default=0.02,
        help="fold ways that fewer of 100 such sets would go (default 2; 0 folds nothing)",
    )
    add_features(parser)
    add("--tolerance", metavar="NAME", default="default", help="tolerance set (default: default)")
    add("--why", action="store_true", help="show the reason of each step, too")
    add(
        "--html",
        metavar="OUT",
        help="write one page for the wall, A4 or Letter; rare ways are folded until its letters can be read, but for "
        "--least 0 (- for standard output)",
    )
    add("--booklet", metavar="OUT", help="write the charts of all complaints as one HTML file, a page each")
    add("--svg", metavar="OUT", help="write that page alone as a drawing (- for standard output)")
    add("--force", action="store_true", help="write over a file that is there already")
    add("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def _depth(text: str) -> int:
    if text.isascii() and text.isdecimal() and 1 <= int(text[:9]) <= MOST_DEPTH:
        return int(text)
    raise argparse.ArgumentTypeError(f"{quoted(text)}: expected a number of steps from 1 to {MOST_DEPTH}")


def _percent(text: str) -> float:
    try:
        value = float(text.removesuffix("%"))
    except ValueError:
        value = -1.0
    if 0.0 <= value <= 50.0:
        return value / 100
    raise argparse.ArgumentTypeError(f"{quoted(text)}: expected a percentage from 0 to 50")


def run(arguments: argparse.Namespace) -> int:
    """Run the command. Returns the exit status; raises HertzwrightError for what cannot be used."""
    if [arguments.html, arguments.svg, arguments.booklet].count("-") + arguments.json > 1:
        raise ChartError("only one of --html -, --svg -, --booklet - and --json can go to standard output")
    if arguments.booklet:
        return _booklet(arguments)
    knowledge = store.knowledge(arguments.knowledge)
    screen = Screen(arguments.plain)
    complaint = _complaint(knowledge, " ".join(arguments.complaint), screen, arguments.plain)
    if complaint is None:
        return 0
    named = (("html", arguments.html), ("svg", arguments.svg))
    outs = [(kind, output_file.claimed(name, arguments.force)) for kind, name in named if name]
    known = WorkedOut()
    with ProgressBar() as bar:
        laid = _laid(knowledge, complaint, arguments, known, bar.to) if outs else None
        told = None if outs and not arguments.json else _told(knowledge, complaint, arguments, known, bar.to)
    if laid:
        _put(laid, outs)
    if told and arguments.json:
        print(json.dumps(as_json(told), sort_keys=True, indent=2, allow_nan=False))
    elif told:
        show(screen, told, arguments.why)
    return 0


def _booklet(arguments: argparse.Namespace) -> int:
    """The charts of every complaint in use, in one file."""
    if arguments.complaint or arguments.html or arguments.svg or arguments.json:
        raise ChartError("--booklet has every complaint in it; give it without a complaint, --html, --svg and --json")
    from . import chart_page

    knowledge = store.knowledge(arguments.knowledge)
    out = output_file.claimed(arguments.booklet, arguments.force)
    used = [name for name, each in knowledge.complaints.items() if each.retired is None]
    with ProgressBar() as bar:
        sheets = []
        for number, name in enumerate(used, 1):
            sheets.append(_laid(knowledge, name, arguments, WorkedOut(), lambda _: None))
            bar.to(number, len(used))
    out.put(chart_page.booklet(sheets).encode("utf-8"))
    _warn(min(sheets, key=lambda each: each.points))
    return 0


# ---- which complaint


def _complaint(knowledge: Knowledge, words: str, screen: Screen, plain: bool) -> str | None:
    """The complaint that is meant; None where the technician would rather stop. Raises ChartError."""
    usable = {name: each for name, each in knowledge.complaints.items() if each.retired is None}
    if words.strip() in knowledge.complaints.keys() - usable.keys():
        raise unknown("complaint", words.strip(), knowledge.complaints)
    from ..terminal import Stop, prompts

    near: ChartError | None = None
    if words.strip():
        phrases = {name: (each.title, *each.synonyms) for name, each in usable.items()}
        try:
            return named(words, phrases)
        except ChartError as error:
            near, usable = error, {name: usable[name] for name in complaints_like(words, phrases)}
            if not usable:
                raise
    try:
        asker = prompts.terminal(plain, "")
    except prompts.NoTerminalError:
        if near is not None:
            raise near from None
        rows = [f"  {name}: {each.title}" for name, each in usable.items()]
        example = f"give one, such as: hertzwright chart {next(iter(usable))}"
        raise ChartError("\n".join(["which complaint?", *rows, example])) from None
    try:
        at = prompts.choose(asker, screen, "Which complaint?", [each.title for each in usable.values()])
    except Stop:
        return None
    return list(usable)[at]


def named(words: str, phrases: Mapping[str, tuple[str, ...]]) -> str:
    """The complaint that words name: its id, its title or, where no other title is like it, a synonym, whole.

    phrases: id -> title and synonyms. Raises ChartError with those that may be meant.
    """
    typed = _plain(words)
    for name, texts in phrases.items():
        if typed == _plain(name) or typed == _plain(texts[0]):
            return name
    fits = [name for name, texts in phrases.items() if typed in {_plain(text) for text in texts}]
    begun = _begun(words, phrases)
    if len(fits) == 1 and not set(begun) - set(fits):
        return fits[0]
    if near := complaints_like(words, phrases):
        raise ChartError(f"no complaint {quoted(words)}; did you mean {' or '.join(near)}?")
    hint = close_to(words, phrases, f"known are {', '.join(phrases)}")
    raise ChartError(f"no complaint {quoted(words)}; {hint}")


def complaints_like(words: str, phrases: Mapping[str, tuple[str, ...]]) -> list[str]:
    """Complaints that words may mean, best first: those whose title has them all, or else a few that come near."""
    return _begun(words, phrases) or finder.find(words, phrases, 3)


def _begun(words: str, phrases: Mapping[str, tuple[str, ...]]) -> list[str]:
    """Complaints each of whose titles has a word for every word typed that begins with it."""
    parts = _plain(words).split()
    return [
        name
        for name, texts in phrases.items()
        if all(any(word.startswith(part) for word in _plain(f"{name} {texts[0]}").split()) for part in parts)
    ]


def _plain(text: str) -> str:
    return " ".join(text.lower().replace("_", " ").replace("-", " ").split())


def _told(
    knowledge: Knowledge,
    complaint: str,
    arguments: argparse.Namespace,
    known: WorkedOut,
    watch: Callable[[int], None],
    least: float | None = None,
) -> ChartWords:
    """The chart as asked for. known: what was planned for it before. least: in place of what was asked for."""
    from ..files import features_given

    knowledge.tolerance(arguments.tolerance)
    features = features_given(knowledge, arguments.features)
    drawn = chart(
        knowledge,
        complaint,
        features,
        arguments.depth,
        tolerance=arguments.tolerance,
        least=arguments.least if least is None else least,
        known=known,
        watch=watch,
    )
    return ChartWords(knowledge, drawn)


def _laid(
    knowledge: Knowledge, complaint: str, arguments: argparse.Namespace, known: WorkedOut, watch: Callable[[int], None]
) -> Sheet:
    from . import chart_sheet

    def made(least: float) -> ChartWords:
        return _told(knowledge, complaint, arguments, known, watch, least)

    return chart_sheet.widest(made, arguments.least)


def _put(laid: Sheet, outs: list[tuple[str, Outfile]]) -> None:
    from . import chart_page

    for kind, out in outs:
        text = chart_page.page(laid) if kind == "html" else chart_page.drawing(laid)
        out.put(text.encode("utf-8"))
    _warn(laid)


def _warn(laid: Sheet) -> None:
    """Say where letters are too small for a wall."""
    if laid.points < letters.SMALLEST:
        print(
            f"On paper the letters are {laid.points:.1f} points high, small for a wall; "
            "give a smaller --depth or a larger --least.",
            file=sys.stderr,
        )
