"""How the knowledge is written: lines that can be read and compared, and keys where a reader looks for them.

Purpose: keep changes to the prose small and visible. Everything found here is a warning.
Law: looks at the lines as they stand in the file, so that folded text is held to the same habit.
Not checked here: what the prose says.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ..problems import Problem, quoted
from . import schema
from .entries import TABLES, Entries, table, text
from .source import MappingNode, Node, ScalarNode, SourceFile, texts

LONGEST = 140

# A full stop, question mark or exclamation mark, then a blank and the start of another sentence.
_END = re.compile(r"(?P<word>\S*[^\s.])[.!?][\"')\]]?\s+(?=[\"'(]?[A-Z0-9])")
_CUT = re.compile(r"^ *(?:- |[a-z_]+: )+[^\"'\[{|># ][^#]* #")
_CURLY = frozenset("\u201c\u201d\u2018\u2019\u00ab\u00bb")
_QUOTING = re.compile("[\\\\" + "".join(sorted(_CURLY)) + "]")  # a text may have curly quotes by an escape, too
_STOP = re.compile(r"[.!?][\"')\]]?\s")  # most lines have none inside, and are done with quickly
_SHORT = frozenset(
    {"e.g", "i.e", "no", "fig", "figs", "ch", "sec", "para", "p", "pp", "vol", "ex", "in", "ft", "lb", "approx"}
    | {"max", "min", "vs", "cf", "ed", "eq", "tab", "temp"}
)


def long_lines(entries: Entries) -> Iterator[Problem]:
    """No line is longer than `LONGEST` characters; comments too are read side by side."""
    for page in entries.pages.values():
        for number, line in enumerate(page.lines, 1):
            if len(line) > LONGEST:
                what = f"{len(line)} characters, more than {LONGEST}"
                yield Problem.of("K060", page.file, number, LONGEST + 1, what, "break the line after a sentence")


def sentences(entries: Entries) -> Iterator[Problem]:
    """A block of text has one sentence on each line."""
    for page in entries.pages.values():
        drawn = drawn_at(page)
        for block in texts(page.root) if page.root is not None else ():
            if not block.end or block.line in drawn:
                continue
            for number in range(block.line + 1, block.end):
                found = two_sentences(page.text_line(number))
                if found:
                    help_text = "start the second sentence on a line of its own"
                    yield Problem.of("K061", page.file, number, found + 1, "two sentences on one line", help_text)


def comments_stand_alone(entries: Entries) -> Iterator[Problem]:
    """Nothing stands behind a text after a blank and a `#`: YAML would leave it out in silence."""
    for page in entries.pages.values():
        behind = [
            (number, line)
            for number, line in enumerate(page.lines, 1)
            if " #" in line and not line.lstrip().startswith("#")
        ]
        prose: set[int] = set()
        for block in texts(page.root) if behind and page.root is not None else ():
            prose.update(range(block.line + 1, block.end))
        for number, line in behind:
            if number in prose:
                continue
            cut = _CUT.match(line)
            if cut is not None:
                help_text = "put quotes round the text, or the comment on a line of its own"
                what = f"{quoted(line[cut.end() - 1 :])} is a comment and is left out"
                yield Problem.of("K063", page.file, number, cut.end(), what, help_text)


def quotes_are_straight(entries: Entries) -> Iterator[Problem]:
    """No text stands in curly quotes: to YAML they are letters of the text."""
    for page in entries.pages.values():
        if page.root is None or _QUOTING.search("\n".join(page.lines)) is None:
            continue
        for found in texts(page.root):
            if found.value[:1] in _CURLY and found.value[-1:] in _CURLY:
                what = f"{quoted(found.value)} stands in quotes that belong to the text"
                yield Problem.of(
                    "K064",
                    page.file,
                    found.line,
                    found.column,
                    what,
                    'write straight ones, "',
                )


def drawn_at(page: SourceFile) -> frozenset[int]:
    """The lines at which the art of a drawing begins: its rows are no prose."""
    if page.file != "drawings.yaml" or not isinstance(page.root, MappingNode):
        return frozenset()
    arts = (text(drawing, "art") for drawing in table(page.root, "drawings").values.values())
    return frozenset(art.line for art in arts if art is not None)


def two_sentences(line: str) -> int:
    """The index at which a second sentence starts in a line, or 0."""
    if _STOP.search(line) is None:
        return 0
    for match in _END.finditer(line):
        word = match.group("word").lower().lstrip("\"'(")
        if word not in _SHORT and not (len(word) == 1 and word.isalpha()):
            return match.end()
    return 0


def key_order(entries: Entries) -> Iterator[Problem]:
    """The keys of an item stand in the order of the schema."""
    for kind, names in TABLES.items():
        for page, top in entries.tops[kind]:
            yield from _in_order(page.file, top, schema.key_order(kind))
        for name in names:
            wanted = schema.key_order(kind, name, "*")
            for entry in entries.all(name):
                yield from _in_order(entry.file, entry.node, wanted)


def _in_order(file: str, node: Node, wanted: tuple[str, ...]) -> Iterator[Problem]:
    if not isinstance(node, MappingNode):
        return
    furthest: ScalarNode | None = None
    for key, place in node.keys.items():
        if key not in wanted:
            continue
        if furthest is not None and wanted.index(key) < wanted.index(furthest.value):
            what = f"the key {quoted(key)} after {quoted(furthest.value)}"
            yield Problem.of("K062", file, place.line, place.column, what, f"the order is: {', '.join(wanted)}")
            return
        furthest = place
