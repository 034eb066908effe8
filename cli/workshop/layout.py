"""The layout of a knowledge file: keys in the order of the schema, one sentence a line, nothing else changed.

Purpose: turn the text of a file into the same text as it should be laid out.
Law: works on lines, with the places that the reader found, so that comments stay with the key they stand above and
everything that is right stays byte for byte. What the file says is the same before and after, which `same` checks.
(Libraries that keep comments hang them on the key before, so that they stay behind when a key moves.)
Not here: reading and writing files (see `tidy`), what is wrong with the knowledge (see `check`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from ...engine.compiler import (
    LONGEST,
    MappingNode,
    Node,
    ScalarNode,
    SequenceNode,
    SourceFile,
    drawn_at,
    schema,
    source,
    two_sentences,
)

SKELETON = "#? "
"""How a comment starts that only helps to fill in a new item (see `skeleton`); layout takes them out."""
_HEADER = re.compile(r"#\s*yaml-language-server:\s*\$schema=")
_ROUNDS = 3


def tidied(kind: str, file: str, text: str) -> str | None:
    """The text as it should be laid out, with \\n as line end; None where it is not YAML of the plain kind.

    Parameters: `kind` names the schema of the file, `file` is its name relative to the knowledge folder.
    """
    text = _one_line_end(text)
    for _ in range(_ROUNDS):
        page = source.parse(text, file)
        if page.root is None or page.problems:
            return None
        lines = _ordered(page, kind)
        page = source.parse("\n".join(lines), file)
        if page.root is None or page.problems:
            return None
        later = _finished(_sentences(page), file, kind)
        if later == text:
            break
        text = later
    return text


def same(kind: str, file: str, one: str, other: str) -> bool:
    """Whether two texts of a file say the same: values, order of items, and comments, whatever the blanks in prose."""
    first, second = source.parse(_one_line_end(one), file), source.parse(_one_line_end(other), file)
    if first.root is None or second.root is None:
        return False
    whole = schema.schema(kind)
    told, retold = (_meaning(page.root, whole, whole) for page in (first, second) if page.root is not None)
    return told == retold and _comments(first) == _comments(second)


def _one_line_end(text: str) -> str:
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


def _meaning(node: Node, part: Any, whole: Mapping[str, Any]) -> object:
    """A value in which only the order of keys that the schema lists is left out."""
    part = _followed(part, whole)
    if isinstance(node, ScalarNode):
        return " ".join(node.value.split())
    if isinstance(node, SequenceNode):
        return [_meaning(item, part.get("items", {}), whole) for item in node.items]
    pairs = [(key, _meaning(value, _part_of(part, key), whole)) for key, value in node.values.items()]
    return dict(pairs) if "properties" in part else pairs


def _comments(page: SourceFile) -> Counter[str]:
    """The comment lines, less those of a skeleton and the one that names the schema."""
    texts = {number for first, after in _blocks(page) for number in range(first, after)}
    found = (line.strip() for number, line in enumerate(page.lines) if number not in texts)
    return Counter(line for line in found if line.startswith("#") and not _is_help(line) and not _HEADER.match(line))


def _blocks(page: SourceFile) -> Iterator[tuple[int, int]]:
    """The lines of each block of text, from the first up to the one after the last, counted from 0."""
    for block in source.texts(page.root) if page.root is not None else ():
        if not block.end:
            continue
        least = _indent(page.lines[block.line - 1])
        after = block.line
        while after < min(block.end - 1, len(page.lines)) and _indent(page.lines[after]) > least:
            after += 1
        yield block.line, after


def _indent(line: str) -> int:
    """How far in a line starts; a line without anything goes with what stands round it."""
    return len(line) - len(line.lstrip(" ")) if line.strip() else 1 << 30


def _is_help(line: str) -> bool:
    return line.strip().startswith(SKELETON.strip())


# ---- keys --------------------------------------------------------------------------------------------------------


def _ordered(page: SourceFile, kind: str) -> list[str]:
    lines = list(page.lines)
    assert page.root is not None
    whole = schema.schema(kind)
    return _block(lines, page.root, whole, whole, 0, len(lines))


def _block(lines: list[str], node: Node, part: Any, whole: Mapping[str, Any], start: int, end: int) -> list[str]:
    """The lines from `start` up to `end`, which hold `node`, with all mappings in it in order."""
    part = _followed(part, whole)
    if isinstance(node, SequenceNode):
        places = [item.line - 1 for item in node.items]
        if not places or not _one_a_line(places, start, end):
            return lines[start:end]
        pieces = lines[start : places[0]]
        for item, (first, after) in zip(node.items, _spans(places, end), strict=True):
            pieces += _block(lines, item, part.get("items", {}), whole, first, after)
        return pieces
    if not isinstance(node, MappingNode) or not _in_block(lines, node, start, end):
        return lines[start:end]
    keys = list(node.keys.values())
    column = keys[0].column - 1
    starts = [_with_comments(lines, key.line - 1, column, start) for key in keys]
    first_line, stop = starts[0], _without_tail(lines, end, column, keys[-1].line)
    chunks = {}
    for key, (first, after) in zip(keys, _spans(starts, stop), strict=True):
        under = _part_of(part, key.value)
        head = key.line - 1
        chunks[key.value] = lines[first:head] + _block(lines, node.values[key.value], under, whole, head, after)
    wanted = list(part.get("properties", {}))
    order = sorted(chunks, key=lambda name: wanted.index(name) if name in wanted else len(wanted)) if wanted else chunks
    if lines[first_line][:column].strip():  # the first key stands behind a dash: it keeps its place
        order = list(chunks)
    return lines[start:first_line] + [line for name in order for line in chunks[name]] + lines[stop:end]


def _followed(part: Any, whole: Mapping[str, Any]) -> Mapping[str, Any]:
    while isinstance(part, Mapping) and "$ref" in part:
        part = whole["$defs"][part["$ref"].rpartition("/")[2]]
    return part if isinstance(part, Mapping) else {}


def _part_of(part: Mapping[str, Any], key: str) -> object:
    found = part.get("properties", {}).get(key)
    return part.get("additionalProperties", {}) if found is None else found


def _spans(starts: list[int], end: int) -> Iterator[tuple[int, int]]:
    yield from zip(starts, [*starts[1:], end], strict=True)


def _one_a_line(places: list[int], start: int, end: int) -> bool:
    return all(start <= place < end for place in places) and len(set(places)) == len(places)


def _in_block(lines: list[str], node: MappingNode, start: int, end: int) -> bool:
    """Whether the keys stand one below the other, as keys that a line starts with (behind a dash at most)."""
    keys = list(node.keys.values())
    if len({key.column for key in keys}) != 1 or not _one_a_line([key.line - 1 for key in keys], start, end):
        return False
    first, *others = keys
    before = lines[first.line - 1][: first.column - 1]
    return not before.strip(" -") and not any(lines[key.line - 1][: key.column - 1].strip() for key in others)


def _with_comments(lines: list[str], place: int, column: int, least: int) -> int:
    """Where the comments start that stand right above a key."""
    while place > least and _is_comment(lines[place - 1], column):
        place -= 1
    return place


def _is_comment(line: str, column: int) -> bool:
    return line[:column].strip() == "" and line[column : column + 1] == "#"


def _without_tail(lines: list[str], end: int, column: int, least: int) -> int:
    """Where the last key ends: blank lines and comments further left after it belong to what follows."""
    while end > least:
        line = lines[end - 1]
        indent = len(line) - len(line.lstrip(" "))
        if line.strip() and not (line.lstrip().startswith("#") and indent < column):
            break
        end -= 1
    return end


# ---- prose -------------------------------------------------------------------------------------------------------


def _sentences(page: SourceFile) -> list[str]:
    """The lines with one sentence on each line of a block; a text too long for one line becomes a block."""
    assert page.root is not None
    lines = list(page.lines)
    instead: dict[int, list[str]] = {}
    drawn = drawn_at(page)
    for first, after in _blocks(page):
        for number in range(first, after) if first not in drawn else ():
            instead[number] = _split(lines[number])
    for key, value in _plain(page.root):
        number = key.line - 1
        line = lines[number]
        if len(line) > LONGEST and two_sentences(value.value) and _whole_line(line, key, value):
            indent = " " * (key.column + 1)
            instead[number] = [f"{line[: key.column - 1]}{key.value}: >-", *_split(indent + value.value)]
    return [new for number, line in enumerate(lines) for new in instead.get(number, [line])]


def _split(line: str) -> list[str]:
    found = []
    indent = line[: len(line) - len(line.lstrip(" "))]
    while place := two_sentences(line):
        found.append(line[:place].rstrip())
        line = indent + line[place:]
    return [*found, line]


def _plain(node: Node) -> Iterator[tuple[ScalarNode, ScalarNode]]:
    """The keys whose value is a text on one line, with the text."""
    waiting: list[Node] = [node]
    while waiting:
        top = waiting.pop()
        if isinstance(top, SequenceNode):
            waiting.extend(top.items)
        elif isinstance(top, MappingNode):
            for name, value in top.values.items():
                if isinstance(value, ScalarNode) and not value.end:
                    yield top.keys[name], value
                waiting.append(value)


def _whole_line(line: str, key: ScalarNode, value: ScalarNode) -> bool:
    """Whether the line holds this key and all of its value and nothing else, no comment either."""
    written = line[value.column - 1 :].rstrip()
    quote = written[:1] if written[:1] in "\"'" else ""
    unquoted = written[1:-1] if quote and written.endswith(quote) else written
    between = line[: value.column - 1].strip()
    return value.line == key.line and unquoted == value.value and between == f"{key.value}:"


# ---- the whole file ----------------------------------------------------------------------------------------------


def _finished(lines: list[str], file: str, kind: str) -> str:
    """Without blanks at line ends and helps of a skeleton, with the line that names the schema, and one line end."""
    kept = [line.rstrip() for line in lines if not _is_help(line)]
    header = f"# yaml-language-server: $schema={'../' * file.count('/')}editor/{kind}.json"
    kept = [header, *(line for line in kept if not _HEADER.match(line))]
    while kept and not kept[-1]:
        kept.pop()
    return "\n".join([*kept, ""])
