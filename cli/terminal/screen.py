"""The screen: wrapped text, bars, tables and cautions, at any width, with or without colour.

Purpose: one place that knows how wide the terminal is, whether it can draw, and how a probability looks.
Law: nothing is told by colour alone; with `plain` there are no bars, lines or escapes, and one fact a line.
Not here: what is said (see `view`, `session`).
The words for a probability are what is said at a set of a suspect, by common practice; no standard names them so.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Protocol, TextIO

from rich.console import Console
from rich.text import Text

from ...engine.problems import columns, percent, printable
from . import wrapping
from .page import Line, Row, caution_lines, choice_lines, rows_of

WIDEST = 100
NARROW = 60
_WORDS = (
    (95, "all but sure"),
    (70, "very likely"),
    (40, "likely"),
    (20, "may well be"),
    (8, "possible"),
    (2, "unlikely"),
    (0, "hardly"),
)
"""Percent as shown, from which each word is said: what is shown as one figure is called by one word."""


def chance_word(chance: float) -> str:
    """A word for the probability of a suspect, by the percent that is shown."""
    return next(word for least, word in _WORDS if round(100 * chance) >= least)


def minutes(value: float) -> str:
    """Minutes as shown, in hours from ten hours on."""
    if value < 600:
        return f"{value:.0f} min"
    return f"{value / 60:.1f} h"


@dataclass(frozen=True, slots=True)
class Bar:
    """A cause on the screen: its title, its probability, and what that was before the last answer."""

    title: str
    chance: float
    before: float | None = None


class Taker(Protocol):
    """Who shows what is printed: a full screen."""

    def take(self, row: Row) -> None: ...

    def size(self) -> tuple[int, int]:
        """Columns and rows."""
        ...

    def leave(self) -> None: ...


@dataclass(slots=True)
class _Kept:
    """Rows kept instead of shown."""

    given: tuple[int, int]
    rows: list[Row] = field(default_factory=list)

    def take(self, row: Row) -> None:
        self.rows.append(row)

    def size(self) -> tuple[int, int]:
        return self.given

    def leave(self) -> None:
        return


class _Console(Console):
    """A console that leaves it to the command line what a reader that goes away means."""

    def on_broken_pipe(self) -> None:
        raise BrokenPipeError


class Screen:
    """Prints to a terminal or a file. `plain`: for screen readers. `width`: None takes that of the terminal.

    since: rows printed since somebody was last asked. top: the set and its status, which a full screen
    shows above all else. ahead: a line typed at a sheet, which answers what is asked behind it.
    """

    def __init__(self, plain: bool = False, file: TextIO | None = None, width: int | None = None) -> None:
        self.plain = plain
        self._given = width is not None
        self._console = _Console(
            file=file,
            width=width,
            no_color=True if plain else None,
            color_system=None if plain else "auto",
            highlight=False,
            markup=False,
            emoji=False,
            legacy_windows=False,
        )
        encoding = (getattr(file or sys.stdout, "encoding", None) or "ascii").lower()
        self.drawn = not plain and os.environ.get("TERM") != "dumb"
        self.blocks = encoding.startswith("utf")
        self.since = 0
        self._file = file
        self.top: tuple[str, ...] = ()
        self.ahead = ""
        self._taker: Taker | None = None

    def __enter__(self) -> Screen:
        return self

    def __exit__(self, *ended: object) -> None:
        self.leave()

    def give_to(self, taker: Taker) -> None:
        """From here on rows are given away, to be shown with the next page."""
        self._taker = taker

    def leave(self) -> None:
        """Leave the full screen, where there is one; what is printed then stands in the scroll as ever."""
        if self._taker is not None:
            taker, self._taker = self._taker, None
            taker.leave()

    def captured(self, write: Callable[[], None]) -> tuple[Row, ...]:
        """The rows that `write` prints, which are not shown."""
        before, self._taker = self._taker, _Kept((self.width, self.height or 0))
        try:
            write()
            return tuple(self._taker.rows)
        finally:
            self._taker = before

    @property
    def full(self) -> bool:
        """Whether a full screen shows what is printed."""
        return self._taker is not None

    @property
    def height(self) -> int | None:
        """Rows of the terminal; None where what is printed has no end, as in a file."""
        if self._taker is not None:
            return self._taker.size()[1]
        if self._given or self._file is not None or not sys.stdout.isatty():
            return None
        return wrapping.rows()

    @property
    def width(self) -> int:
        if self._taker is not None:
            return max(20, min(self._taker.size()[0], WIDEST))
        # rich takes every dumb terminal for one of 80 columns.
        wide = wrapping.terminal() if self._console.is_dumb_terminal and not self._given else self._console.width
        return max(20, min(wide, WIDEST))

    @property
    def narrow(self) -> bool:
        return self.width < NARROW

    def line(self, text: str = "", style: str = "", indent: str = "", hanging: str | None = None) -> None:
        """Text, wrapped. `indent` starts the first line, `hanging` (else as many blanks) the others."""
        self.lines([Line(text, style, indent, hanging)])

    def lines(self, lines: Iterable[Line]) -> None:
        """Paragraphs, each wrapped."""
        for line in lines:
            self.rows(rows_of(line, self.width))

    def rows(self, rows: Iterable[Row]) -> None:
        """Rows that are laid out already."""
        for row in rows:
            self._row(row.text, row.style)

    def _wrapped(self, text: str, indent: str = "", hanging: str = "") -> list[str]:
        indent, hanging = printable(indent), printable(hanging)
        return wrapping.wrap(printable(text), self.width, indent, hanging) or [indent.rstrip()]

    def _row(self, row: str, style: str = "") -> None:
        self.since += 1
        if not self.blocks:
            row = row.encode("ascii", "replace").decode("ascii") if not row.isascii() else row
        if self._taker is not None:
            self._taker.take(Row(row, style))
            return
        self._console.print(Text(row, style=style if self.drawn else ""), soft_wrap=True)

    def heading(self, text: str) -> None:
        """The start of something new."""
        self._row("")
        rows = self._wrapped(text)
        for row in rows:
            self._row(row, "bold")
        if self.drawn:
            stroke = "\u2500" if self.blocks else "-"
            self._row(stroke * min(self.width, max(columns(row) for row in rows)), "dim")

    def fact(self, label: str, text: str) -> None:
        """A named fact: `Why: ...`, wrapped under itself."""
        if text:
            self.line(f"{label}: {text}", hanging="  ")

    def note(self, text: str) -> None:
        """Talk that may be passed over."""
        self.line(text, "dim")

    def problem(self, text: str) -> None:
        """Something that did not go as meant."""
        mark = "! " if self.drawn else "Not taken: "
        for number, part in enumerate(text.splitlines() or [""]):
            self.line(part, "bold red", indent=mark if number == 0 else "  ", hanging="  ")

    def attention(self, text: str) -> None:
        """Something about the set that is not as it should be."""
        self.line(text, "bold red", indent="! " if self.drawn else "Attention: ", hanging="  ")

    def options(self, rows: Iterable[tuple[str, str]]) -> None:
        """Keys and what they mean."""
        self.lines(choice_lines(list(rows)))

    def numbered(self, rows: Iterable[str]) -> None:
        """Steps to follow."""
        self.options((f"{number}.", row) for number, row in enumerate(rows, 1))

    def caution(self, title: str, text: str) -> None:
        """A danger, set off from everything else."""
        self.lines(caution_lines(title, text, self))

    def bars(self, rows: Sequence[Bar]) -> None:
        """The leading causes: title, bar, percentage, word, and how it moved."""
        titles = [printable(row.title) for row in rows]
        if not self.drawn:
            for title, row in zip(titles, rows, strict=True):
                self.line(f"{title}: {percent(row.chance)}, {chance_word(row.chance)}{self._moved(row)}")
            return
        if self.narrow:
            for title, row in zip(titles, rows, strict=True):
                self.line(title)
                # How it moved says more than a word for it, and there is no room for both.
                told = self._moved(row) or f" {chance_word(row.chance)}"
                self._row(f"  {self._bar(row.chance, 10)} {percent(row.chance)}{told}")
            return
        tails = [f" {percent(row.chance):>9} {chance_word(row.chance)}" for row in rows]
        cells = 10 if self.width < 90 else 16
        longest = max(map(columns, titles), default=0)
        room = min(longest, self.width - cells - 2 - max(map(len, tails), default=0))
        for title, row, tail in zip(titles, rows, tails, strict=True):
            if columns(title) > room:  # on a row of its own, whole
                self.line(title)
                title = ""
            drawn = f"{wrapping.fill(title, room)} {self._bar(row.chance, cells)}{tail}"
            moved = self._moved(row)
            self._row(drawn + (moved if columns(drawn) + len(moved) <= self.width else ""))

    def _bar(self, chance: float, cells: int) -> str:
        full = round(chance * cells)
        if chance >= 0.005:
            full = max(1, full)
        on, off = ("\u2588", "\u2591") if self.blocks else ("#", ".")
        return on * full + off * (cells - full)

    def _moved(self, row: Bar) -> str:
        if row.before is None or percent(row.before) == percent(row.chance):
            return ""
        return f" (was {percent(row.before)})"

    def table(self, headers: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Columns where they fit, else one block a row: the first cell, then `header: cell` under it."""
        headers = [printable(header) for header in headers]
        cells = [[printable(cell) for cell in row] for row in rows]
        widths = [max(map(columns, column)) for column in zip(headers, *cells, strict=True)] if cells else []
        if cells and sum(widths) + 2 * (len(widths) - 1) <= self.width and self.drawn:
            for number, row in enumerate([list(headers), *cells]):
                text = "  ".join(wrapping.fill(cell, room) for cell, room in zip(row, widths, strict=True))
                self._row(text.rstrip(), "bold" if number == 0 else "")
            return
        for row in cells:
            if self.drawn:
                self.line(row[0], "bold")
                for header, cell in zip(headers[1:], row[1:], strict=True):
                    if cell:
                        self.line(f"{header.lower()}: {cell}", indent="  ", hanging="    ")
            else:
                rest = "; ".join(
                    f"{head.lower()}: {cell}" for head, cell in zip(headers[1:], row[1:], strict=True) if cell
                )
                self.line(f"{row[0]}; {rest}")
