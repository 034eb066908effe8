"""A sketch in plain text as SVG: the same rows, with lines instead of letters.

Purpose: make of the rows of a drawing one picture that prints, every letter of a line becoming a stroke in its place.
Law: reads nothing but the rows, so that the picture never shows anything else than they do. Black on white; text is
words of two letters and more and single letters that mean no line; capitals are bold and smaller, so that every usual
face stays within the places that the letters have in the rows. The same rows give the same bytes.
Not here: what is drawn (see the knowledge), escaping and rows of text (see `svg`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from . import svg
from .page import Row
from .screen import Screen

ACROSS, DOWN, SIZE, CAPITALS = 10, 20, 14.0, 12.0
"""Width and height of a letter's place, the size of text and that of words in capitals, in units of the picture."""
_FACE = "'Liberation Sans', Arial, Helvetica, sans-serif"
_WORD = re.compile(r"[A-Za-z0-9]+(?:[-/.,'][A-Za-z0-9]+)*[?:%,]?")
_SHAPES = frozenset("oOv")
_INK = 'fill="none" stroke="#000" stroke-width="1.6" stroke-linecap="round" stroke-linejoin="round"'
_PIVOT = {"o": 4.0, "O": 7.0, "*": 3.5}
_LEVEL, _UPRIGHT = frozenset("-=+.'<>oO*"), frozenset("|:+.'^voO*")
# What a joint or a pivot has round it, by where it stands: row, column, the signs that run into it, and its edge there.
_LEFT, _RIGHT = (0, -1, _LEVEL, -5.0, 0.0), (0, 1, _LEVEL, 5.0, 0.0)
_ABOVE = ((-1, 0, _UPRIGHT, 0.0, -10.0), (-1, -1, frozenset("\\"), -5.0, -10.0), (-1, 1, frozenset("/"), 5.0, -10.0))
_BELOW = ((1, 0, _UPRIGHT, 0.0, 10.0), (1, -1, frozenset("/"), -5.0, 10.0), (1, 1, frozenset("\\"), 5.0, 10.0))
_ROUND = {
    "+": (_LEFT, _RIGHT, *_ABOVE, *_BELOW),
    ".": (_LEFT, _RIGHT, *_BELOW),
    "'": (_LEFT, _RIGHT, *_ABOVE),
}

_Beside = tuple[int, int, frozenset[str], float, float]


@dataclass(frozen=True, slots=True)
class Written:
    """A piece of text: the row and column where it begins, counted from 0."""

    row: int
    column: int
    text: str


def texts(rows: Sequence[str]) -> tuple[Written, ...]:
    """The pieces of text in the rows; words with one blank between them are one piece, up to a colon."""
    found: list[Written] = []
    for number, row in enumerate(rows):
        end = -2  # of the piece that another word may join
        for match in _WORD.finditer(row):
            if match.group() in _SHAPES:
                continue
            if match.start() == end + 1 and row[end] == " " and not found[-1].text.endswith(":"):
                last = found.pop()
                found.append(Written(number, last.column, f"{last.text} {match.group()}"))
            else:
                found.append(Written(number, match.start(), match.group()))
            end = match.end()
    return tuple(found)


def sketched(rows: Sequence[str], title: str, in_words: str = "") -> str:
    """The picture as one <svg> element, for a page or as a file of its own. in_words: for who cannot see it."""
    wide, high = max(map(len, rows), default=0) * ACROSS, len(rows) * DOWN
    said = svg.safe(" ".join(in_words.split()))
    name = svg.safe(" ".join(title.split()))
    paper = svg.rect(-6, -6, wide + 12, high + 12, 'fill="#fff"')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-6 -6 {wide + 12} {high + 12}" role="img" '
        f'aria-label="{f"{name}. {said}" if said else name}" font-family="{_FACE}" fill="#000">\n'
        f"<title>{name}</title>{f'<desc>{said}</desc>' if said else ''}\n"
        f"{paper}\n" + "\n".join(_Drawn(rows).body()) + "\n</svg>"
    )


def figure(rows: Sequence[str], title: str, in_words: str) -> str:
    """The picture with its title, for a page of HTML."""
    caption = svg.safe(" ".join(title.split()))
    return f"<figure>{sketched(rows, title, in_words)}<figcaption>{caption}</figcaption></figure>\n"


def show(screen: Screen, rows: Sequence[str], in_words: str) -> None:
    """The rows as they stand, where the screen is wide enough for them; in words otherwise, and for a screen reader."""
    if not screen.plain and max(map(len, rows), default=0) <= screen.width:
        screen.rows(Row(row) for row in rows)
        return
    for sentence in in_words.splitlines():
        screen.line(sentence)


class _Drawn:
    """The rows as a grid of letters, text taken out of it."""

    def __init__(self, rows: Sequence[str]) -> None:
        self.words = texts(rows)
        wide = max(map(len, rows), default=0)
        self.grid = [list(row.ljust(wide)) for row in rows]
        for word in self.words:
            self.grid[word.row][word.column : word.column + len(word.text)] = " " * len(word.text)

    def body(self) -> list[str]:
        """Solid bodies below, then strokes, rods and pivots above them, and text on top."""
        ways: list[str] = []
        solids: list[str] = []
        rods: list[str] = []
        marks: list[str] = []
        for row, line in enumerate(self.grid):
            y = row * DOWN
            solids += [_solid(start * ACROSS, y, (end - start) * ACROSS) for start, end in self._runs(row, "#")]
            rods += [_rod(*self._reach(row, start, end), y) for start, end in self._runs(row, "=")]
            for start, end in self._runs(row, "-"):
                left, right = self._reach(row, start, end)
                ways.append(f"M{left} {y + 10}H{right}")
            for column, letter in enumerate(line):
                if letter in _PIVOT:
                    ways += self._joint(row, column, _ROUND["+"])
                    marks.append(_pivot(column * ACROSS + ACROSS / 2, y + DOWN / 2, letter))
                elif letter in _ROUND:
                    ways += self._joint(row, column, _ROUND[letter], letter != "+")
                elif letter in _STROKES:
                    ways.append(self._stroke(row, column, letter))
                elif letter not in " -=#":
                    marks.append(svg.text(column * ACROSS + ACROSS / 2, y + 15, letter, "middle", SIZE))
        strokes = [f'<path d="{"".join(ways)}" {_INK}/>'] if ways else []
        return [*solids, *strokes, *rods, *marks, *(self._said(word) for word in self.words)]

    def _at(self, row: int, column: int) -> str:
        if 0 <= row < len(self.grid) and 0 <= column < len(self.grid[row]):
            return self.grid[row][column]
        return " "

    def _runs(self, row: int, letter: str) -> list[tuple[int, int]]:
        """Where a letter stands several times in a row: first column, and the one after the last."""
        line = "".join(self.grid[row])
        return [match.span() for match in re.finditer(f"{re.escape(letter)}+", line)]

    def _reach(self, row: int, start: int, end: int) -> tuple[int, int]:
        """Both ends of a level run, drawn on to the middle of the upright line or pivot beside it."""
        left = 5 if self._at(row, start - 1) in ("|", ":", *_PIVOT) else 0
        right = 5 if self._at(row, end) in ("|", ":", *_PIVOT) else 0
        return start * ACROSS - left, end * ACROSS + right

    def _stroke(self, row: int, column: int, letter: str) -> str:
        """A line of one letter. An upright one goes on to the level line above or below it, a slanting one over the low
        lines beside it, as the slope of a plate that is nearly level."""
        x, y = column * ACROSS, row * DOWN
        up = -10 if letter == "|" and self._at(row - 1, column) in ("-", "=") else 0
        down = 10 if letter == "|" and self._at(row + 1, column) in ("-", "=") else 0
        right, left = x + ACROSS, x
        if letter == "\\":
            right += len(self._slope(row, column, "\\")) * ACROSS
        if letter == "/":
            left -= len(self._slope(row, column, "/")) * ACROSS
        if letter == "_" and self._slanting(row, column):
            return ""
        return _STROKES[letter].format(
            x=x, y=y, left=left, right=right, low=y + DOWN, middle=x + 5, half=y + 10, up=y + up, down=y + DOWN + down
        )

    def _slope(self, row: int, column: int, letter: str) -> str:
        """The low line, with a pivot in it or without, that a slanting one goes on over; none where it is a valley."""
        line = "".join(self.grid[row])
        if letter == "\\":
            found = re.match(r"o?_+(?!/)(?!_)", line[column + 1 :])
        else:
            found = re.match(r"o?_+(?!\\)(?!_)", line[:column][::-1])
        return found.group() if found else ""

    def _slanting(self, row: int, column: int) -> bool:
        """Whether a low line is part of a slanting one."""
        line = "".join(self.grid[row])
        return any(
            (at < column <= at + len(self._slope(row, at, "\\")) and letter == "\\")
            or (at - len(self._slope(row, at, "/")) <= column < at and letter == "/")
            for at, letter in enumerate(line)
        )

    def _joint(self, row: int, column: int, around: Sequence[_Beside], soft: bool = False) -> list[str]:
        """Lines from a joint or a pivot to what runs into it; two of them in a soft corner."""
        x, y = column * ACROSS + 5.0, row * DOWN + 10.0
        ends = [
            (x + across, y + down)
            for up, aside, signs, across, down in around
            if self._at(row + up, column + aside) in signs
        ]
        if soft and len(ends) == 2:
            (a, b), (c, d) = ends
            return [f"M{a:g} {b:g}Q{x:g} {y:g} {c:g} {d:g}"]
        return [f"M{x:g} {y:g}L{a:g} {b:g}" for a, b in ends]

    def _said(self, word: Written) -> str:
        """Text where it stands in the rows; before something it ends there, otherwise it begins where it begins."""
        row, end = "".join(self.grid[word.row]), word.column + len(word.text)
        before, after = row[max(0, word.column - 2) : word.column], row[end : end + 2]
        bold = word.text.isupper() and len(word.text) > 1
        y, size = word.row * DOWN + 15, CAPITALS if bold else SIZE
        if after.strip() and not before.strip():
            return svg.text(end * ACROSS - 1, y, word.text, "end", size, bold)
        return svg.text(word.column * ACROSS + 1, y, word.text, "", size, bold)


_STROKES = {
    "/": "M{left} {low}L{right} {y}",
    "\\": "M{left} {y}L{right} {low}",
    "_": "M{x} {low}H{right}",
    "|": "M{middle} {up}V{down}",
    ":": "M{middle} {y}v3m0 4v3m0 4v3",
    "~": "M{x} {half}q2.5 -5 5 0t5 0",
    ">": "M{x} {half}m0 -5l10 5l-10 5",
    "<": "M{right} {half}m0 -5l-10 5l10 5",
    "^": "M{x} {half}m0 5l5 -10l5 10",
    "v": "M{x} {half}m0 -5l5 10l5 -10",
}


def _solid(x: int, y: int, wide: int) -> str:
    return svg.rect(x, y, wide, DOWN, 'fill="#bbb" stroke="#bbb" stroke-width="0.5"')


def _rod(left: int, right: int, y: int) -> str:
    return svg.rect(left, y + 7, right - left, 6, 'fill="#fff" stroke="#000" stroke-width="1.4"')


def _pivot(x: float, y: float, letter: str) -> str:
    fill = "#000" if letter == "*" else "#fff"
    return f'<circle cx="{x:g}" cy="{y:g}" r="{_PIVOT[letter]:g}" fill="{fill}" stroke="#000" stroke-width="1.6"/>'
