"""`hertzwright chart`: the decision chart of a complaint, as a tree in the terminal or on one page for the wall.

Purpose: what to do first at a complaint, and what after each thing that may be seen, before there is a job.
Law: nothing is kept; the same knowledge and options give the same bytes. Cautions stand above the first step.
Not here: the chart itself (see `teaching.chart`), its words (see `chart_words`) and the page (see `chart_page`).
"""

from __future__ import annotations

import argparse
import io
import json
import re
import sys
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from ...engine import HertzwrightError, Knowledge
from ...engine.job import unknown
from ...engine.problems import close_to, printable, quoted
from ...engine.teaching import MOST_DEPTH, Branch, Chart, ChartStep, cautions, chart
from ..files import Outfile, add_features, output_file, store
from ..record import LOCAL_CODES, held
from ..terminal import ProgressBar, Screen, finder, letters, minutes, wrapping
from .chart_words import ChartWords

if TYPE_CHECKING:
    from .chart_page import Sheet

_CAUSES = 5
_ROOM = 24
"""Columns that a step must have for itself; where less is left, the chart goes on further down."""


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
        help="write one page for the wall, A4 or Letter (- for standard output)",
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
    with ProgressBar() as bar:
        told = _told(knowledge, complaint, arguments, bar.to)
    if outs:
        _put(told, outs)
    if arguments.json:
        print(json.dumps(as_json(told), sort_keys=True, indent=2, allow_nan=False))
    elif not outs:
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
            sheets.append(chart_page.sheet(_told(knowledge, name, arguments, lambda _: None)))
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
    knowledge: Knowledge, complaint: str, arguments: argparse.Namespace, watch: Callable[[int], None]
) -> ChartWords:
    from ..files import features_given

    knowledge.tolerance(arguments.tolerance)
    features = features_given(knowledge, arguments.features)
    drawn = chart(
        knowledge,
        complaint,
        features,
        arguments.depth,
        tolerance=arguments.tolerance,
        least=arguments.least,
        watch=watch,
    )
    return ChartWords(knowledge, drawn)


def _put(told: ChartWords, outs: list[tuple[str, Outfile]]) -> None:
    from . import chart_page

    laid = chart_page.sheet(told)
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


# ---- what is printed


def as_json(told: ChartWords) -> dict[str, object]:
    """Everything that `--json` prints."""
    drawn = told.chart

    def node_of(node: ChartStep) -> dict[str, object]:
        return {
            "kind": node.kind,
            "id": node.id,
            "number": told.number(node),
            "says": told.head(node),
            "ends": node.ends,
            "minutes": node.minutes,
            "expected_minutes": node.expected_minutes,
            "elapsed_minutes": node.elapsed,
            "why": node.why,
            "causes": [{"id": name, "probability": chance} for name, chance in node.causes[:_CAUSES]],
            "due": list(node.due),
            "put_back": list(node.put_back),
            "folded": {
                "outcomes": list(node.folded),
                "chance": node.folded_chance,
                "causes": [{"id": name, "probability": chance} for name, chance in node.folded_causes[:_CAUSES]],
            },
            "commonest": told.commonest(node),
            "branches": [
                {
                    "outcomes": list(branch.outcomes),
                    "chance": branch.chance,
                    "reach": branch.reach,
                    "then": node_of(branch.then),
                }
                for branch in node.branches
            ],
        }

    return {
        "version": 1,
        "held": held.as_json(told.holds),
        "complaint": drawn.complaint,
        "title": told.knowledge.complaints[drawn.complaint].title,
        "features": dict(drawn.features),
        "tolerance": drawn.tolerance,
        "depth": drawn.depth,
        "least": drawn.least,
        "knowledge": drawn.fingerprint,
        "cautions": list(cautions(told.knowledge, drawn, [each.id for each in told.remedies])),
        "measured": drawn.measured,
        "remedies": [
            {
                "letter": each.letter,
                "id": each.id,
                "title": each.title,
                "where": each.where,
                "start": each.start,
                "right_when": each.right,
            }
            for each in told.remedies
        ],
        "first": node_of(drawn.root),
    }


def show(screen: Screen, told: ChartWords, why: bool = False) -> None:
    """Cautions, then the chart: a tree where lines can be drawn, else one numbered fact a line."""
    screen.heading(told.title)
    if told.stop:
        screen.line(told.stop, "bold")
    screen.line(LOCAL_CODES, "bold")
    for title, sentence in told.cautions():
        screen.caution(title, sentence)
    screen.line()
    screen.line(told.set)
    for remark in told.remarks:
        screen.note(remark)
    screen.line()
    if screen.drawn:
        _Tree(screen, told, why).draw()
    else:
        _facts(screen, told, why)
    if told.remedies:
        screen.heading("Remedies")
    for row in told.remedies:
        screen.line(f"{row.letter}. {row.title}", "bold")
        screen.line(row.said, indent="   ", hanging="   ")
    screen.line()
    screen.line(told.proof)


def chart_rows(knowledge: Knowledge, drawn: Chart) -> list[str]:
    """The rows of a chart as `show` draws them on a wide screen, without the cautions above it."""
    paper = io.StringIO()
    _Tree(Screen(file=paper, width=100), ChartWords(knowledge, drawn), why=False).draw()
    return paper.getvalue().splitlines()


def _about(told: ChartWords, node: ChartStep, why: bool) -> list[str]:
    """What stands under a step."""
    likely, due = told.likely(node), told.due(node)
    takes = told.takes(node)
    rest = f"; about {minutes(node.expected_minutes)} to fixed and proven" if takes else ""
    found = [f"{takes}{rest}" if takes else ""]
    back = told.put_back(node)
    found.append(f"first put back on: {back}" if back else "")
    found.append(f"then due, before the proof run: {due}" if due else "")
    found.append(f"most likely: {likely}" if likely else "")
    found.append(node.why if why else "")
    return [text for text in found if text]


def _then(told: ChartWords, branch: Branch) -> str:
    """What stands where a way ends."""
    if branch.then.kind == "other":
        return f"{told.end(branch.then)}; {told.elsewhere(branch)}"
    return told.end(branch.then)


def _facts(screen: Screen, told: ChartWords, why: bool) -> None:
    """One fact a line, every step by its number."""
    queue = [told.chart.root]
    while queue:
        node = queue.pop(0)
        number = told.number(node)
        if not number:  # a chart that has nothing to propose but to hand over
            screen.line(f"{told.end(node)}.")
            continue
        screen.line(f"Step {number}. {told.head(node)}; {'; '.join(_about(told, node, why))}.")
        for branch in node.branches:
            number_then = told.number(branch.then)
            follows = f"step {number_then}" if number_then else _then(told, branch)
            commonest = ", the commonest way" if told.commonest(branch.then) else ""
            screen.line(f"Step {number}, {told.branch(node, branch)}{commonest}: {follows}.")
        if node.folded:
            screen.line(f"Step {number}, {told.folded(node)}.")
        queue[:0] = [branch.then for branch in node.branches if told.number(branch.then)]


class _Tree:
    """The chart as a tree; where it gets too deep for the width, it goes on below under the number of the step."""

    def __init__(self, screen: Screen, told: ChartWords, why: bool) -> None:
        self._screen, self._told, self._why = screen, told, why
        fine = (getattr(sys.stdout, "encoding", None) or "ascii").lower().startswith("utf")
        wide = not screen.narrow
        if fine:
            self._fork, self._last, self._bar = ("├─ ", "└─ ", "│  ") if wide else ("├ ", "└ ", "│ ")
        else:
            self._fork, self._last, self._bar = ("+- ", "+- ", "|  ") if wide else ("+ ", "+ ", "| ")
        self._later: list[ChartStep] = []

    def draw(self) -> None:
        self._node(self._told.chart.root, "", "")
        while self._later:
            node = self._later.pop(0)
            self._screen.line()
            self._node(node, "", "")

    def _node(self, node: ChartStep, first: str, prefix: str) -> None:
        told = self._told
        number = told.number(node)
        below = prefix + (self._bar if node.branches or node.folded else " " * len(self._bar))
        if not number:
            self._say(told.end(node), "", first, prefix)
            return
        self._say(f"{number}. {told.head(node)}", "bold", first, below)
        for text in _about(told, node, self._why):
            self._say(text, "", below, below)
        rows = len(node.branches) + bool(node.folded)
        for place, branch in enumerate(node.branches, 1):
            last = place == rows
            inner = prefix + (" " * len(self._bar) if last else self._bar)
            style = "bold" if told.commonest(branch.then) else ""
            self._say(told.branch(node, branch), style, prefix + (self._last if last else self._fork), inner)
            self._then(branch, inner)
        if node.folded:
            self._say(told.folded(node), "", prefix + self._last, prefix + " " * len(self._bar))

    def _say(self, text: str, style: str, first: str, following: str) -> None:
        """Text, wrapped so that a figure keeps its unit."""
        whole = re.sub(r"(?<=\d) (?=%|min\b|h\b)", "\xa0", printable(text))
        rows = wrapping.wrap(whole, self._screen.width - len(first)) or [""]
        for number, row in enumerate(rows):
            edge = following if number else first
            self._screen.line(row.replace("\xa0", " "), style, edge, edge)

    def _then(self, branch: Branch, prefix: str) -> None:
        node = branch.then
        if node.ends and node.kind == "other":
            self._say(_then(self._told, branch), "", prefix, prefix)
        elif self._told.number(node) and len(prefix) + len(self._bar) > self._screen.width - _ROOM:
            self._say(f"step {self._told.number(node)}, further down", "", prefix, prefix)
            self._later.append(node)
        else:
            self._node(node, prefix, prefix)
