"""The text of a knowledge file, with positions: YAML in, a plain tree of nodes out.

Purpose: read the plain subset of YAML that the knowledge is written in. Every scalar stays the string it was
written as (YAML's own guesses turn `no` into false and `12:30` into 750), and every node knows its line and column.
Law: whatever the bytes are, the caller gets a `SourceFile`; what is wrong with them is in its `problems`, never raised.
Not checked here: whether keys and values make sense (see `schema` and `rules`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from stat import S_ISDIR, S_ISREG
from typing import Any, NamedTuple, TypeAlias

import yaml

from ..problems import Problem, quoted
from .slips import first_slip

try:
    from yaml import CSafeLoader as FastLoader
except ImportError:  # PyYAML without libyaml: same events, about forty times slower
    from yaml import SafeLoader as FastLoader  # type: ignore[assignment]

SIZE_LIMIT = 500_000
DEPTH_LIMIT = 40
PROBLEM_LIMIT = 20


class ScalarNode(NamedTuple):
    """A scalar as written. `style` is "", "'", '"', "|" or ">"; `end` is the first line after a block scalar."""

    value: str
    line: int
    column: int
    style: str = ""
    end: int = 0


class SequenceNode(NamedTuple):
    """A list."""

    items: tuple[Node, ...]
    line: int
    column: int


class MappingNode(NamedTuple):
    """A mapping, in the order written. `keys` holds the place of each key, `values` what stands under it."""

    values: Mapping[str, Node]
    keys: Mapping[str, ScalarNode]
    line: int
    column: int


Node: TypeAlias = "ScalarNode | SequenceNode | MappingNode"
Plain: TypeAlias = "str | list[Plain] | dict[str, Plain]"


@dataclass(frozen=True, slots=True)
class SourceFile:
    """One file read: `root` is None where no tree could be made, `lines` are its lines without line ends."""

    file: str
    lines: tuple[str, ...] = ()
    root: Node | None = None
    problems: tuple[Problem, ...] = ()

    def text_line(self, line: int) -> str:
        """The line as written, counted from 1; empty outside the file."""
        return self.lines[line - 1] if 0 < line <= len(self.lines) else ""


def read(path: Path, file: str, size_limit: int = SIZE_LIMIT, pipes: bool = False) -> SourceFile:
    """Read one file. `file` is the name that problems carry, relative to the knowledge folder.

    pipes: also from a pipe or device that somebody named; in a folder, reading one could wait for ever.
    """
    try:
        mode = path.stat().st_mode
        if not (pipes or S_ISREG(mode) or S_ISDIR(mode)):
            raise ValueError
        with path.open("rb") as stream:
            data = stream.read(size_limit + 1)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a file"
        return SourceFile(file, problems=(Problem.of("K001", file, 1, 1, f"cannot be read: {reason}"),))
    return parse(data, file, size_limit=size_limit)


def parse(
    data: bytes | str, file: str, loader: Any = FastLoader, size_limit: int = SIZE_LIMIT, depth_limit: int = DEPTH_LIMIT
) -> SourceFile:
    """Turn the bytes of one file into a `SourceFile`. Never raises for anything that the bytes hold."""
    if len(data) > size_limit:
        message = f"longer than {size_limit:,} bytes"
        return SourceFile(file, problems=(Problem.of("K002", file, 1, 1, message, "split the file by subject"),))
    try:
        text = data.decode("utf-8") if isinstance(data, bytes) else data
    except UnicodeDecodeError as error:
        before = _one_line_end(error.object[: error.start].decode("utf-8"))
        message = f"byte 0x{error.object[error.start]:02x} is not UTF-8"
        place = (before.count("\n") + 1, len(before) - before.rfind("\n"))
        lines = tuple(_one_line_end(error.object.decode("utf-8", "replace")).split("\n"))
        return SourceFile(file, lines, None, (Problem.of("K001", file, *place, message, "save the file as UTF-8"),))
    text = _one_line_end(text.removeprefix("\ufeff"))
    lines = tuple(text.split("\n"))
    problems = tuple(_characters(lines, file))
    if problems:
        return SourceFile(file, lines, None, problems)
    return _TreeBuilder(file, lines, depth_limit).build(loader, text)


def plain(node: Node) -> Plain:
    """The same tree as strings, lists and dictionaries, without places."""
    if isinstance(node, ScalarNode):
        return node.value
    if isinstance(node, SequenceNode):
        return [plain(item) for item in node.items]
    return {key: plain(value) for key, value in node.values.items()}


def _one_line_end(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


# Tabs, control characters, the line separators that only some programs count as line ends, marks that turn the
# direction of text so that it reads otherwise than it is, halves of surrogate pairs, the byte order mark, and what has
# no width or is a tag. (Joiners stay: some scripts and signs need them.)
_STRANGE = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\xad\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ud800-\udfff\ufeff"
    "\ufff9-\ufffb\ufffe\uffff\U000e0000-\U000e007f]"
)


def _characters(lines: tuple[str, ...], file: str) -> list[Problem]:
    problems: list[Problem] = []
    if _STRANGE.search("\n".join(lines)) is None:
        return problems
    for number, line in enumerate(lines, 1):
        for match in _STRANGE.finditer(line):
            column = match.start() + 1
            if match.group() == "\t":
                problems.append(Problem.of("K004", file, number, column, "a tab", "use spaces"))
                break
            problems.append(_strange(match.group(), file, number, column))
            if len(problems) >= PROBLEM_LIMIT:
                return problems
        if len(problems) >= PROBLEM_LIMIT:
            return problems
    return problems


def _strange(character: str, file: str, line: int, column: int) -> Problem:
    return Problem.of("K003", file, line, column, f"the character U+{ord(character):04X} cannot be seen", "take it out")


@dataclass(slots=True)
class _Open:
    """A list or mapping whose end has not come yet."""

    line: int
    column: int
    is_table: bool
    items: list[Node] = field(default_factory=list)
    values: dict[str, Node] = field(default_factory=dict)
    keys: dict[str, ScalarNode] = field(default_factory=dict)
    key: ScalarNode | None = None
    key_lost: bool = False  # the key cannot be used: its value is read and dropped
    expect_value: bool = False


class _TreeBuilder:
    """Makes the tree from the parser's events. No recursion, so that depth is a problem and not a crash."""

    def __init__(self, file: str, lines: tuple[str, ...], depth_limit: int) -> None:
        self.file = file
        self.lines = lines
        self.depth_limit = depth_limit
        self.problems: list[Problem] = []
        self.open: list[_Open] = []
        self.root: Node | None = None
        self.documents = 0
        self.broken = False  # no tree is handed back
        self.last = (1, 1)

    def build(self, loader: Any, text: str) -> SourceFile:
        parser = None
        try:
            parser = loader(text)
            following = parser.get_event
            while not self.broken and len(self.problems) < PROBLEM_LIMIT:
                event = following()
                if type(event) is yaml.ScalarEvent:  # two of three are, so nothing else is asked of them
                    self.scalar(event)
                elif event is None or isinstance(event, yaml.StreamEndEvent):
                    break
                else:
                    self.take(event)
        except yaml.YAMLError as error:
            self.not_yaml(error)
        except (ValueError, OverflowError):  # the pure parser, on an escape beyond Unicode
            self.report("K005", *self.last, "not YAML after this: an escape that is no character")
            self.broken = True
        finally:
            if parser is not None and hasattr(parser, "dispose"):
                parser.dispose()
        if self.documents == 0 and not self.problems:
            self.report("K011", 1, 1, "the file holds nothing", "write its content, or delete the file")
        whole = not (self.broken or self.open)
        return SourceFile(self.file, self.lines, self.root if whole else None, tuple(self.problems))

    def report(self, code: str, line: int, column: int, message: str, help: str = "") -> None:  # noqa: A002
        self.problems.append(Problem.of(code, self.file, line, column, message, help))

    def not_yaml(self, error: yaml.YAMLError) -> None:
        self.broken = True
        mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
        line, column = (mark.line + 1, mark.column + 1) if mark is not None else self.last
        if line > len(self.lines) or (line == len(self.lines) > 1 and not self.lines[-1]):  # past the last line end
            line = max(1, len(self.lines) - (not self.lines[-1]))
            column = len(self.lines[line - 1]) + 1
        said = str(getattr(error, "problem", None) or getattr(error, "reason", None) or "").lower()
        if "exceeded max" in said:  # libyaml looks ahead, and has a limit of its own
            self.report("K006", line, column, f"nested more than {self.depth_limit} deep")
            return
        slip = first_slip(self.lines, line)
        if slip is not None:
            self.report("K005", slip.line, slip.column, f"not YAML: {slip.what}", slip.advice)
            return
        for phrase, meaning, advice in _MEANINGS:
            if phrase in said:
                self.report("K005", line, column, f"not YAML: {meaning}", advice)
                return
        self.report("K005", line, column, f"not YAML: {quoted(said)[1:-1] or 'cannot be read'}")

    def take(self, event: Any) -> None:
        mark = event.start_mark
        line, column = mark.line + 1, mark.column + 1
        self.last = (line, column)
        if isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
            self.refuse(event, line, column)
            if len(self.open) >= self.depth_limit:
                self.report("K006", line, column, f"nested more than {self.depth_limit} deep")
                self.broken = True
                return
            self.open.append(_Open(line, column, isinstance(event, yaml.MappingStartEvent)))
        elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
            done = self.open.pop()
            if done.is_table:
                self.place(MappingNode(done.values, done.keys, done.line, done.column))
            else:
                self.place(SequenceNode(tuple(done.items), done.line, done.column))
        elif isinstance(event, yaml.AliasEvent):
            self.report("K008", line, column, f"the alias *{event.anchor}", "write the value out again")
            self.broken = True
        elif isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                self.report("K010", line, column, "a second document starts here", "keep one document in a file")
                self.broken = True

    def refuse(self, event: Any, line: int, column: int) -> None:
        if event.anchor:
            self.report("K008", line, column, f"the anchor &{event.anchor}", "take it out, and write repeats out")
        if event.tag:
            self.report("K009", line, column, f"the tag {quoted(event.tag)}", "take it out: the schema knows the kind")

    def scalar(self, event: Any) -> None:
        mark = event.start_mark
        line, column = self.last = mark.line + 1, mark.column + 1
        if event.anchor or event.tag:
            self.refuse(event, line, column)
        style = event.style
        if not style:
            self.place(ScalarNode(event.value, line, column))
            return
        end = event.end_mark.line + 1 if style in ("|", ">") else 0
        if style == '"':  # escapes can bring in what the text itself may not hold
            for match in _STRANGE.finditer(event.value):
                self.problems.append(_strange(match.group(), self.file, line, column))
                break
        self.place(ScalarNode(event.value, line, column, style if style != ":" else "", end))

    def place(self, node: Node) -> None:
        """Put a finished node where it belongs."""
        if not self.open:
            self.root = node
            return
        top = self.open[-1]
        if not top.is_table:
            top.items.append(node)
        elif top.expect_value:
            key = top.key
            if key is not None:
                top.keys[key.value] = key
                top.values[key.value] = node
            top.expect_value = False
        else:
            if isinstance(node, ScalarNode) and node.value and node.value not in top.values:
                top.key = node
            else:
                top.key = None
                self.refused_key(top, node)
            top.expect_value = True

    def refused_key(self, top: _Open, node: Node) -> None:
        """Say what is wrong with a key."""
        if not isinstance(node, ScalarNode):
            self.report("K012", node.line, node.column, "a list or mapping as a key", "a key is one plain word")
        elif not node.value:
            self.report("K012", node.line, node.column, "an empty key", "write the key before the colon")
        else:
            first = top.keys[node.value].line
            message = f"the key {quoted(node.value)} again, first in line {first}"
            self.report("K007", node.line, node.column, message, "keep one of them")


# Both parsers say the same things in different words: what they say (lower case, a part), what we say, our advice.
_MEANINGS = (
    ("mapping values are not allowed", "a colon where no key can be", 'put quotes round a text that has ": " in it'),
    ("could not find expected ':'", "a key without its colon", "write `key: value`, or indent the line under its text"),
    ("expected <block end>", "this does not line up with what is above", "line up the keys of one mapping"),
    ("did not find expected key", "this does not line up with what is above", "line up the keys of one mapping"),
    ("did not find expected '-' indicator", "this does not line up with the list above", "start each item with `- `"),
    ("expected ',' or ']'", "a list in brackets that is not closed", "write `[one, two]` on one line"),
    ("expected ',' or '}'", "a mapping in braces that is not closed", "write `{key: value}` on one line"),
    ("unexpected end of stream", "a quote that is not closed", "close the quote"),
    ("unexpected document separator", "a quote that is not closed", "close the quote"),
    ("block sequence entries are not allowed", "a list item where none can be", "start the list on a line of its own"),
    ("cannot start any token", "a text that starts with a reserved character", "put quotes round the text"),
    ("unknown escape character", "a backslash escape that YAML does not know", "use single quotes"),
    ("undefined alias", "an alias", "write the value out again"),
    ("did not find expected alphabetic or numeric", "a text that starts with & or *", "put quotes round the text"),
    ("expected alphabetic or numeric", "a text that starts with & or *", "put quotes round the text"),
)


def texts(node: Node) -> list[ScalarNode]:
    """Every scalar under a node that is a value, in the order written."""
    found: list[ScalarNode] = []
    waiting: list[Node] = [node]
    while waiting:
        top = waiting.pop()
        if isinstance(top, ScalarNode):
            found.append(top)
        else:
            children = top.items if isinstance(top, SequenceNode) else tuple(top.values.values())
            waiting.extend(reversed(children))
    return found
