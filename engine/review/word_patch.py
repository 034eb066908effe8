"""Changes of single words in the knowledge files, as a patch.

Purpose: put other words in the place of present ones, byte for byte as written everywhere else.
Law: nothing is written; each change is a patch of its own, made on the file as the changes before it leave it, so that
they can be taken one by one or together, in order.
Not here: which words to change (see `tally`).
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import unified_diff
from pathlib import Path

from ..compiler import Entries, ScalarNode, entries_of, table, text
from ..problems import HertzwrightError
from .tally import Count


@dataclass(frozen=True, slots=True)
class WordChange:
    """One word changed. `patch` is a unified diff, paths from the root of the repository."""

    count: Count
    file: str
    line: int
    before: str
    after: str
    patch: str


class PlaceError(HertzwrightError):
    """The word is not where it was read."""


def word_changes(folder: Path, counts: tuple[Count, ...], prefix: str = "knowledge/") -> tuple[WordChange, ...]:
    """A change for each count that proposes a word. Raises PlaceError where a file does not say what was counted."""
    entries = entries_of(folder)
    texts: dict[str, str] = {}
    found = []
    placed = [(*_place(entries, count), count) for count in counts if count.word]
    # From the right to the left of a line, so that the places of what is still to change stay where they are.
    for file, place, count in sorted(placed, key=lambda each: (each[0], each[1].line, -each[1].column)):
        with (folder / file).open(encoding="utf-8", newline="") as stream:  # line ends stay as they are
            before = texts.get(file) or stream.read()
        lines = before.splitlines(keepends=True)
        line, start = lines[place.line - 1], place.column - 1
        written = f"{place.style}{place.value}{place.style}"
        if line[start : start + len(written)] != written:
            raise PlaceError(f"{file}:{place.line}:{place.column}: expected {written} here")
        lines[place.line - 1] = line[:start] + count.word + line[start + len(written) :]
        after = "".join(lines)
        name = prefix + file
        patch = "".join(_lines(unified_diff(before.splitlines(keepends=True), lines, f"a/{name}", f"b/{name}", n=3)))
        texts[file] = after
        found.append(WordChange(count, file, place.line, place.value, count.word, patch))
    return tuple(found)


def _lines(rows: object) -> list[str]:
    listed = [str(row) for row in rows]  # type: ignore[attr-defined]
    return [row if row.endswith("\n") else f"{row}\n\\ No newline at end of file\n" for row in listed]


def _place(entries: Entries, count: Count) -> tuple[str, ScalarNode]:
    cause = entries.of("causes")[count.cause]
    under = table(table(cause.node, "shows"), count.check) if count.check else cause.node
    place = text(under, count.outcome or "how_common")
    if place is None or place.style not in ("", "'", '"'):
        raise PlaceError(f"{cause.file}:{cause.key.line}: no word for {count.cause} {count.check} {count.outcome}")
    return cause.file, place
