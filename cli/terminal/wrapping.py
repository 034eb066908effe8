"""Text laid out by the columns of a terminal: wrapped, filled up, cut.

Purpose: what `textwrap` and the widths of format strings do by counting letters, done by the columns that letters take.
Law: a wide letter (East Asian, emoji) takes two columns and a mark over another letter none, by `problem.columns`; for
text of plain letters the rows are those of `textwrap`.
Not here: escaping (see `problem.printable`), and how wide the terminal is (see `screen`).
"""

from __future__ import annotations

import shutil
import textwrap

from ...engine.problems import columns


class _Piece(str):
    """A text whose length is the columns it takes, for a wrapper that asks for lengths."""

    __slots__ = ()

    def __len__(self) -> int:
        return columns(str(self))


class _Wrapper(textwrap.TextWrapper):
    def _split(self, text: str) -> list[str]:
        return [_Piece(chunk) for chunk in super()._split(text)]

    def _handle_long_word(self, reversed_chunks: list[str], cur_line: list[str], cur_len: int, width: int) -> None:
        whole = str(reversed_chunks[-1])
        room = max(width - cur_len, 0 if cur_line else 1)
        first = cut(whole, room)
        if not first and not cur_line:  # a wide letter where there is room for a narrow one
            first = whole[:1]
        if first:
            cur_line.append(_Piece(first))
            reversed_chunks[-1] = _Piece(whole[str.__len__(first) :])


def wrap(text: str, width: int, first: str = "", following: str = "", hyphens: bool = False) -> list[str]:
    """Rows of at most so many columns; none for a text of blanks. hyphens: a row may end at one."""
    if text.isascii() and first.isascii() and following.isascii():
        return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=following, break_on_hyphens=hyphens)
    wrapper = _Wrapper(
        width, initial_indent=_Piece(first), subsequent_indent=_Piece(following), break_on_hyphens=hyphens
    )
    return [str(row) for row in wrapper.wrap(text)]


def cut(text: str, room: int) -> str:
    """As much of the start of a text as fits; marks stay with the letter they are on."""
    taken = 0
    for place, letter in enumerate(text):
        taken += columns(letter)
        if taken > room:
            return text[:place]
    return text


def fill(text: str, room: int) -> str:
    """The text with blanks after it up to so many columns."""
    return text + " " * (room - columns(text))


def terminal(otherwise: int = 80) -> int:
    """Columns of the terminal: COLUMNS where it is set, whatever kind the terminal says it is."""
    return shutil.get_terminal_size((otherwise, 24)).columns


def rows(otherwise: int = 24) -> int:
    """Rows of the terminal: LINES where it is set."""
    return shutil.get_terminal_size((80, otherwise)).lines
