"""What a writer did where a text is no YAML: the slip itself, not the place where a parser could not go on.

Purpose: the line and column of an open quote, a line that is indented by one space too many or too few, an item
without its dash, a key without its colon.
Law: looks at lines only, down to where the parser stopped, and takes the first slip that it knows; a text without one
has none. It relies on the habits of the knowledge: two spaces a level, a quote closed in its line, prose in blocks.
Not here: whether the text is YAML (see `source`, which asks only where it is not).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

_BLOCK = re.compile(r"^(?P<indent> *)(?:- )?(?:[^\s:#]+:\s+)?[|>][0-9+-]*\s*$")
_KEY = re.compile(r"^ *(?:- )?[^\s:{}\[\],\"'#]+:(?:\s|$)")
_TIGHT = re.compile(r"^ *(?:- )?(?P<key>[a-z_]+):(?=[^\s:/])")
_BARE = re.compile(r"^ *(?P<key>[a-z_]+)(?: +\S.*)?$")
_OPENS = re.compile(r"""(?:^|(?<=[\s\[{,]))["']""")


class TextSlip(NamedTuple):
    """A slip, with its line and column from 1, what it is and what to do."""

    line: int
    column: int
    what: str
    advice: str


def first_slip(lines: Sequence[str], last: int) -> TextSlip | None:
    """The first slip in lines 1 to `last`, or None where none is known."""
    before, depth = "", 0
    held = list(_outside_blocks(lines))
    for (number, line), (_, after) in zip(held, [*held[1:], (0, "")], strict=True):
        if number > last:
            return None
        found = _open_quote(line) or (_indented(line, before) or _left_out(line, before, after) if not depth else None)
        if found is not None:
            return found._replace(line=number)
        depth = max(0, depth + _brackets(line))
        before = line
    return None


def _outside_blocks(lines: Sequence[str]) -> Iterator[tuple[int, str]]:
    """The lines that hold keys and values, with their numbers: no prose of a block, no comment, no blank line."""
    block: int | None = None
    for number, line in enumerate(lines, 1):
        text = line.strip()
        if not text:
            continue
        indent = len(line) - len(line.lstrip(" "))
        if block is not None and indent > block:
            continue
        block = None
        if text.startswith("#"):
            continue
        if (opens := _BLOCK.match(line)) is not None:
            block = len(opens["indent"])
        yield number, line


def _open_quote(line: str) -> TextSlip | None:
    """A quote that begins a value and is not closed in its line."""
    place, deep = 0, 0
    while place < len(line):
        letter, ahead = line[place], line[:place].rstrip()[-1:]
        if letter == "#" and line[place - 1 : place] == " ":
            return None
        if letter in "[{" and (deep or ahead in ("", ":", "-")):
            deep += 1
        elif letter in "]}":
            deep -= deep > 0
        elif letter in "\"'" and _OPENS.match(line, place) and (ahead in ("", ":", "-") or (deep and ahead in "[{,")):
            end = _closed(line, place)
            if end is None:
                return TextSlip(0, place + 1, "a quote that is not closed", f"close it with {letter}, or take it out")
            place = end
        place += 1
    return None


def _closed(line: str, opened: int) -> int | None:
    """The place of the quote that closes one, or None."""
    quote, place = line[opened], opened + 1
    while place < len(line):
        if line[place] == "\\" and quote == '"':
            place += 1
        elif line[place] == quote:
            if quote == "'" and line[place + 1 : place + 2] == "'":
                place += 1
            else:
                return place
        place += 1
    return None


def _indented(line: str, before: str) -> TextSlip | None:
    """A line that starts one space beside its neighbours."""
    indent = len(line) - len(line.lstrip(" "))
    if indent % 2 == 0:
        return None
    above = len(before) - len(before.lstrip(" "))
    if above == indent + 1:
        return TextSlip(
            0, indent + 1, f"one space too few: {indent} here, {above} above", "put one more in front of it"
        )
    return TextSlip(0, indent + 1, f"one space too many: {indent} in front of this line", "take one of them out")


def _left_out(line: str, before: str, after: str) -> TextSlip | None:
    """An item without its dash, or a key without its colon or without the space behind it."""
    indent = len(line) - len(line.lstrip(" "))
    text = line[indent:]
    if text[0] in "[]{}\"'" and not (before.startswith(" " * indent + "- ")):
        return None
    if before.startswith(" " * indent + "- ") and not text.startswith("- ") and not _KEY.match(line):
        spaced = text.startswith("-")
        what = "no space behind the dash" if spaced else "an item of the list above without its dash"
        return TextSlip(0, indent + 1, what, "write `- ` in front of each item")
    if text.startswith("-") or _KEY.match(line):
        return None
    if (tight := _TIGHT.match(line)) is not None:
        return TextSlip(0, tight.end() + 1, "no space behind the colon", f"write `{tight['key']}: `")
    beside = _KEY.match(after) is not None and after.startswith(" " * indent) and after[indent : indent + 1] != " "
    goes_on = before.rstrip().endswith((":", ",", "[", "{")) and not beside
    if (bare := _BARE.match(line)) is not None and not goes_on:
        return TextSlip(0, indent + 1, f'no colon behind "{bare["key"]}"', f"write `{bare['key']}: `")
    return None


def _brackets(line: str) -> int:
    """How many brackets of a value are open behind a line, less those that it closes."""
    quoted_out = re.sub(r"\"[^\"]*\"|'[^']*'", "", line)
    value = quoted_out.partition(": ")[2] if _KEY.match(quoted_out) else quoted_out
    if not value.lstrip(" -").startswith(("[", "{")):
        return 0 if value.strip(" ]}") else -value.count("]") - value.count("}")
    return sum(letter in "[{" for letter in value) - sum(letter in "]}" for letter in value)
