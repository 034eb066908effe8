"""The report as Markdown.

Purpose: a record that reads well as plain text and in any viewer of Markdown.
Law: what was typed can make no markup, no HTML and no link; every text goes through `markdown_safe`.
Not here: what the report says (see `sections`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from . import sections
from .load_view import RUN_TITLES
from .parts import Blanks, BulletRows, FactRows, Grid, LoadCurve, Part, Sketches, Words
from .service_record import ServiceRecord, clean

_MARKS = re.compile(r"([\\`*_\[\]{}~|$#!^])")
_LINK = re.compile(r"(?i)\b(https?|ftp|mailto|javascript|data|file)(:)|(www)(\.)|(@)")
_START = re.compile(r"^(\s*)([-+=](?=[-+=\s]|$)|\d+(?=[.)](?:\s|$)))")


def markdown_safe(text: str) -> str:
    """Text for one line or cell of Markdown. `&`, `<` and `>` become entities, the marks of Markdown are escaped."""
    bare = clean(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    escaped = _LINK.sub(_unlinked, _MARKS.sub(r"\\\1", bare))
    # At the start of a line a dash or a number would begin a list.
    start = _START.match(escaped)
    if start is None:
        return escaped
    end = start.end()
    return escaped[:end] + "\\" + escaped[end:] if start[2].isdigit() else f"\\{escaped}"


def _unlinked(match: re.Match[str]) -> str:
    """The same characters to the eye, but nothing that a viewer takes for an address."""
    if match[5]:
        return "&#64;"
    return f"{match[1]}&#58;" if match[1] else f"{match[3]}&#46;"


def page(record: ServiceRecord) -> str:
    """The whole file."""
    lines = [f"# Service record: {markdown_safe(record.set_name)}", "", f"Job {markdown_safe(record.job)}"]
    for section in sections.sections(record):
        lines += ["", f"## {markdown_safe(section.title)}"]
        for part in section.parts:
            drawn = list(_part(part))
            if drawn:
                lines += ["", *drawn]
    return "\n".join(lines) + "\n"


def _part(part: Part) -> Iterable[str]:
    if isinstance(part, Words):
        text = markdown_safe(part.text)
        yield f"**{text}**" if part.strong else text
    elif isinstance(part, FactRows):
        yield from (f"- {markdown_safe(label)}: {markdown_safe(text)}" for label, text in part.rows if clean(text))
    elif isinstance(part, BulletRows):
        for number, row in enumerate(part.rows, 1):
            yield f"{f'{number}.' if part.numbered else '-'} {markdown_safe(row)}"
    elif isinstance(part, LoadCurve):
        for result in part.load_test.results:
            points = sorted((point.load, point.hertz.value) for point in result.points if point.hertz)
            told = ", ".join(f"{hertz:.2f} Hz at {load:.0%}" for load, hertz in points)
            yield f"- Frequency against load, {RUN_TITLES[result.run]}: {told}"
    elif isinstance(part, Sketches):
        for each in part.drawings:
            yield from (f"**{markdown_safe(each.title)}**", "", *(f"    {row}".rstrip() for row in each.art), "")
    elif isinstance(part, Blanks):
        for label in part.labels:
            yield from (f"{markdown_safe(label)}: \\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_", "")
    else:
        yield from _table(part)


def _table(grid: Grid) -> Iterable[str]:
    if grid.caption:
        yield from (f"**{markdown_safe(grid.caption)}**", "")
    yield f"| {' | '.join(markdown_safe(header) for header in grid.headers)} |"
    yield f"| {' | '.join('---' for _ in grid.headers)} |"
    for row in grid.rows:
        yield f"| {' | '.join(markdown_safe(cell) for cell in row)} |"
