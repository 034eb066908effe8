"""`hertzwright curve`: frequency against load or swing against time, and what a turn does to it.

Purpose: draw a curve of the simulated set, in the terminal or as SVG, beside that of the same set with an adjuster
turned; both with one scale.
Law: nothing is kept; the same options give the same bytes. Plain output gives the figures in words.
Not here: the curves themselves (see the engine), how a plot is drawn (see `plot`).
"""

from __future__ import annotations

import argparse
import json

from ...engine.problems import HertzwrightError, quoted
from ...engine.teaching import ADJUSTERS, Curve, curve, made_up_set, turned
from ..files import add_features, features_given, output_file, store
from ..terminal import Screen, svg_plot, text_plot

_HIGH, _STACKED = 8, 5
"""Rows of a plot, and of two that stand one above the other on a screen of 24 rows."""
_SIDE_BY_SIDE, _WIDEST = 76, 60
_SECONDS_A_COLUMN, _LEAST_SECONDS = 0.125, 4.0
"""Of a run against time, so that a swing of one a second has eight columns."""
_SIGN = {
    "speed": ("faster", "slower"),
    "sensitivity": ("sharper", "more sluggish"),
    "booster": ("more pull", "less pull"),
}
_NEEDLE = ("richer", "leaner")


class CurveOptionError(HertzwrightError):
    """An option of `curve` that cannot be used. The message says what was expected."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add = parser.add_argument
    add("of", choices=("load", "time"), nargs="?", default="load",
        help="load: frequency against load (default); time: swing against time")  # fmt: skip
    add("--turn", metavar="ADJUSTER=TURNS", help=f"beside it, with one adjuster turned: {', '.join(ADJUSTERS)}; "
        "+ is more speed, sharper, more pull or richer, such as sensitivity=1")  # fmt: skip
    add("--cause", metavar="ID", action="append", default=[], help="a fault that the set has (may be given again)")
    add("--severity", metavar="SHARE", type=float, default=0.6, help="how bad it is, 0 to 1 (default 0.6)")
    add("--load", metavar="PERCENT", type=float, default=0.0, help="load of the run against time (default 0)")
    add_features(parser, "a feature of the set, such as booster=none")
    add("--svg", metavar="OUT", help="write it as a drawing (- for standard output)")
    add("--force", action="store_true", help="write over a file that is there already")
    add("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    """Run the command. Returns the exit status; raises HertzwrightError for what cannot be used."""
    if arguments.json and arguments.svg == "-":
        raise CurveOptionError("only one of --svg - and --json can go to standard output")
    knowledge = store.knowledge(arguments.knowledge)
    faults = tuple((cause, arguments.severity) for cause in arguments.cause)
    bench = made_up_set(knowledge, features_given(knowledge, arguments.features), faults)
    turn = _turn(arguments.turn)
    before = curve(bench, arguments.of, arguments.load / 100)
    after = curve(turned(bench, *turn), arguments.of, arguments.load / 100) if turn else None
    out = output_file.claimed(arguments.svg, arguments.force) if arguments.svg else None
    if out is not None:
        out.put(drawing(before, after, turn).encode("utf-8"))
    if arguments.json:
        body = {"version": 1, "of": arguments.of, "points": before.points, "turned": after.points if after else None,
                "turn": dict([turn]) if turn else None}  # fmt: skip
        print(json.dumps(body, sort_keys=True, indent=2, allow_nan=False))
    elif out is None:
        show(Screen(arguments.plain), before, after, turn)
    return 0


def _turn(written: str | None) -> tuple[str, float] | None:
    if written is None:
        return None
    adjuster, sign, turns = written.partition("=")
    try:
        if not sign:
            raise ValueError
        return adjuster.strip(), float(turns)
    except ValueError:
        raise CurveOptionError(f"--turn {quoted(written)}: expected ADJUSTER=TURNS, such as sensitivity=1") from None


def told(turn: tuple[str, float]) -> str:
    """A turn in words: "sensitivity 1 turn sharper"."""
    adjuster, turns = turn
    more, less = _SIGN.get(adjuster, _NEEDLE)
    count = f"{abs(turns):g} turn{'' if abs(turns) == 1 else 's'}"
    return f"{adjuster.replace('_', ' ')} {count} {more if turns >= 0 else less}"


def in_words(drawn: Curve) -> str:
    """What a curve shows, in figures."""
    if drawn.of == "load":
        return f"{drawn.first:.1f} Hz, loaded {drawn.last:.1f} Hz, {drawn.first - drawn.last:.1f} Hz apart."
    low, high = drawn.range
    return f"{low:.1f} to {high:.1f} Hz, {high - low:.1f} Hz from peak to peak."


def show(screen: Screen, before: Curve, after: Curve | None, turn: tuple[str, float] | None) -> None:
    """One curve, or two with one scale: beside each other where there is room, else one above the other."""
    ends = [end for each in (before, after) if each is not None for end in each.range]
    limits = min(ends), max(ends)
    named = [("As it is", before)]
    if after is not None and turn is not None:
        title = told(turn)
        named.append((title[0].upper() + title[1:], after))
    beside = len(named) == 2 and screen.width >= _SIDE_BY_SIDE
    if screen.drawn and beside:
        wide = (screen.width - 2) // 2
        left, right = ([title, *_plot(screen, each, wide, limits, _HIGH)] for title, each in named)
        for one, other in zip(left, right, strict=True):
            screen.line(f"{one:<{wide}}  {other}".rstrip(), hanging="")
    for title, each in named:
        screen.fact(title, in_words(each))
        if screen.drawn and not beside:
            high = _HIGH if len(named) == 1 else _STACKED
            for row in _plot(screen, each, min(screen.width, _WIDEST), limits, high):
                screen.line(row, hanging="")


def _plot(screen: Screen, drawn: Curve, wide: int, limits: tuple[float, float], high: int) -> list[str]:
    points = _dense(drawn)
    if drawn.of == "time":
        # A swing of a second or less is a grey block where a column holds several of it: the last seconds are enough.
        begin = points[-1][0] - max(_LEAST_SECONDS, wide * _SECONDS_A_COLUMN)
        points = [point for point in points if point[0] >= begin]
    x, y = zip(*points, strict=True)
    end = x[-1]

    def label(value: float) -> str:
        if drawn.of == "time":
            return f"{value - x[0]:.0f} s"
        return f"{value:.0f} % load" if value == end else f"{value:.0f} %"

    return text_plot(x, y, width=wide, height=high, ascii_only=not screen.blocks, limits=limits, label=label)


def _dense(drawn: Curve) -> list[tuple[float, float]]:
    """The points with those between them, so that a plot has one in every column."""
    if drawn.of == "time":
        return list(drawn.points)
    found = []
    for (x, y), (x_next, y_next) in zip(drawn.points, drawn.points[1:], strict=False):
        found += [(x + (x_next - x) * part / 8, y + (y_next - y) * part / 8) for part in range(8)]
    return [*found, drawn.points[-1]]


def drawing(before: Curve, after: Curve | None, turn: tuple[str, float] | None) -> str:
    """The curves as one SVG, that of the turned set dashed."""
    x, y = zip(*before.points, strict=True)
    beside = [hertz for _, hertz in after.points] if after is not None else []
    title = "Frequency against load" if before.of == "load" else "Swing against time"
    if turn:
        title += f"; dashed: {told(turn)}"
    label = "load, % of full" if before.of == "load" else "seconds"
    return svg_plot(x, y, title=title, x_label=label, y_label="Hz", beside=beside, label="{:.0f}".format)
