"""The skeleton of a new item: its keys in order, each with what it is for, nothing filled in.

Purpose: make the lines of a new cause, check, remedy or case from the schema, and find where they go in a file.
Law: what is said about a key is what the schema says. Needed keys stand there empty, so that `knowledge check` names
each one that is still open and nothing half filled in gets merged; keys that may be left out are comments. Every help
starts with `#?` and is taken out by `knowledge tidy`. Lines are only added: all others stay byte for byte.
Not here: whether the id may be used, and the writing (see `new`).
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ...engine.compiler import MappingNode, SourceFile, schema
from ...engine.problems import HertzwrightError
from .layout import SKELETON

WIDEST = 100
TABLES: Mapping[str, tuple[str, str]] = {
    "cause": ("area", "causes"),
    "remedy": ("area", "remedies"),
    "check": ("checks", "checks"),
    "case": ("cases", "cases"),
}
"""Kind of item: the schema of its file, and the key of the table it goes into."""


class NoPlaceError(HertzwrightError):
    """A file that has no place for a new item."""


@dataclass(frozen=True, slots=True)
class Skeleton:
    """Lines to put in. `open`: which of them (from 0) wait to be filled in, with the key."""

    lines: tuple[str, ...]
    open: tuple[tuple[int, str], ...]


def skeleton(kind: str, name: str, given: Mapping[str, str], bare: bool = False) -> Skeleton:
    """The skeleton of an item. `given`: what stands under a key already, as YAML on one line, or on lines below the key
    where it begins with a line end. `bare`: without helps and without what may be left out."""
    whole = schema.schema(TABLES[kind][0])
    part = _followed(whole["properties"][TABLES[kind][1]]["additionalProperties"], whole)
    lines, waiting = [f"  {name}:"], []
    for key, about in part["properties"].items():
        if key == "retired":
            continue
        needed = key in part.get("required", ())
        if not bare:
            lines += _help(about, "" if needed else "May be left out. ")
        if key in given:
            lines += f"    {key}:{'' if given[key].startswith(chr(10)) else ' '}{given[key]}".split("\n")
            if "{" in given[key] and ": }" in given[key]:
                waiting.append((len(lines) - 1, key))
        elif needed:
            lines += list(_empty(key, about, whole, waiting, len(lines), given, bare))
        elif not bare:
            lines.append(f"    {SKELETON}{key}:")
    return Skeleton(tuple(lines), tuple(waiting))


def _followed(part: Any, whole: Mapping[str, Any]) -> Mapping[str, Any]:
    while "$ref" in part:
        part = whole["$defs"][part["$ref"].rpartition("/")[2]]
    found: Mapping[str, Any] = part
    return found


def _help(about: Mapping[str, Any], before: str = "", indent: int = 4) -> Iterator[str]:
    start = " " * indent + SKELETON
    yield from textwrap.wrap(
        f"{before}{about.get('description', '')}", WIDEST, initial_indent=start, subsequent_indent=start
    )
    for example in about.get("examples", ())[:1]:
        shown = flow(example)
        if len(start) + len(shown) < WIDEST + 20:
            yield f"{start}Example: {shown}"
    if "enum" in about:
        yield f"{start}One of: {', '.join(str(one) for one in about['enum'])}"


def _empty(
    key: str,
    about: Mapping[str, Any],
    whole: Mapping[str, Any],
    waiting: list[tuple[int, str]],
    at: int,
    given: Mapping[str, str],
    bare: bool,
) -> Iterator[str]:
    """A needed key with nothing under it; a mapping with fixed keys is laid out with them."""
    inner = _followed(about, whole)
    fixed = inner.get("properties") if inner.get("type") == "object" else None
    if not fixed:
        waiting.append((at, key))
        yield f"    {key}:"
        return
    yield f"    {key}:"
    at += 1
    for name in fixed:
        if name not in inner.get("required", ()):
            continue
        for line in () if bare else _help(fixed[name], indent=6):
            yield line
            at += 1
        if name in given:
            yield f"      {name}: {given[name]}"
        else:
            waiting.append((at, f"{key}.{name}"))
            yield f"      {name}:"
        at += 1


def flow(value: object) -> str:
    """A value as YAML on one line, quoted where it must be."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {flow(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(flow(each) for each in value) + "]"
    text = str(value)
    plain = text[:1].isalpha() and not set(text) & set(":,[]{}#&*!|>'\"%@`")
    return text if plain else '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def inserted(page: SourceFile, kind: str, lines: tuple[str, ...]) -> int:
    """Where (counted from 0) the lines of a new item go in a page: at the end of their table.

    Raises PlaceError where the page has no such table that lines can be added to.
    """
    key = TABLES[kind][1]
    root = page.root
    table = root.values.get(key) if isinstance(root, MappingNode) else None
    if not isinstance(root, MappingNode) or not isinstance(table, MappingNode) or not table.keys:
        raise NoPlaceError(f"{page.file} has no items under {key} to put a new one after; write the first one by hand")
    columns = {each.column for each in table.keys.values()}
    if columns != {3} or table.line == root.keys[key].line:
        raise NoPlaceError(f"{page.file}: put the items under {key} one below the other, indented by two blanks")
    after = [each.line - 1 for each in root.keys.values() if each.line > root.keys[key].line]
    end = min(after, default=len(page.lines))
    while end > 0 and (not page.lines[end - 1].strip() or (after and page.lines[end - 1].startswith("#"))):
        end -= 1
    return end
