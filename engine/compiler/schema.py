"""The shape of a knowledge file: does the tree fit the JSON Schema of its kind, and if not, where exactly.

Purpose: hold a tree against knowledge/schemas/<kind>.json and put each breach at its line and column.
Law: a JSON Schema validator decides what is wrong. `accepts` only recognises trees that are right, so that a right
file costs a fraction and the validator is not even imported; where it is in doubt it says no. Tests hold the two
against each other. The schemas are always those that came with this version of the engine.
Not checked here: whether names exist (see `names`) or values make sense together (see `rules`).
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import islice
from typing import TYPE_CHECKING, Any

from ..problems import Problem, close_to, quoted
from .source import MappingNode, Node, ScalarNode, SequenceNode, SourceFile, plain

if TYPE_CHECKING:
    from jsonschema import ValidationError

KINDS = (
    "words", "sources", "features", "cautions", "fittings", "states", "tolerances", "order", "complaints", "trimming",
    "setting", "family", "drills", "tools", "phrases", "drawings", "units", "checks", "area", "cases",
)  # fmt: skip
LIMIT = 200

Accept = Callable[[Node], bool]
_ID = "^[a-z][a-z0-9]*(_[a-z0-9]+)*$"
_NAMES = {"string": "a text", "number": "a number", "boolean": "yes or no", "array": "a list", "object": "a mapping"}


@cache
def schema(kind: str) -> Mapping[str, Any]:
    """The schema of a kind of file, as a dictionary. KeyError when there is no such kind."""
    if kind not in KINDS:
        raise KeyError(kind)
    folder = files("hertzwright.knowledge") / "schemas"
    loaded: Mapping[str, Any] = json.loads((folder / f"{kind}.json").read_text(encoding="utf-8"))
    return loaded


def problems(kind: str, page: SourceFile) -> tuple[Problem, ...]:
    """Every breach of the schema of `kind` in a page that has a tree, at most `LIMIT`."""
    if page.root is None or accepts(kind, page.root):
        return ()
    from jsonschema import Draft202012Validator  # late: most starts never need it, and it is slow to import

    found: dict[tuple[int, int, str], Problem] = {}
    validator = Draft202012Validator(schema(kind))
    for error in islice(validator.iter_errors(plain(page.root)), LIMIT):
        for problem in _problems(_deepest(error), page, schema(kind)):
            found.setdefault((problem.line, problem.column, _family(problem)), problem)
            if len(found) >= LIMIT:
                return tuple(found.values())
    return tuple(found.values())


def accepts(kind: str, root: Node) -> bool:
    """True only for a tree that fits the schema of its kind."""
    return _acceptor(kind)(root)


def key_order(kind: str, *path: str) -> tuple[str, ...]:
    """The keys of a mapping in a file of `kind`, in the order in which they are to be written.

    `path` holds names of properties; "*" stands for any key of a table of items.
    """
    whole = schema(kind)
    here: Mapping[str, Any] = whole
    for step in path:
        here = _followed(here["additionalProperties"] if step == "*" else here["properties"][step], whole)
    return tuple(here["properties"])


def _followed(part: Mapping[str, Any], whole: Mapping[str, Any]) -> Mapping[str, Any]:
    while "$ref" in part:
        part = whole["$defs"][part["$ref"].rpartition("/")[2]]
    return part


# ---- what is right, quickly ------------------------------------------------------------------------------------


@cache
def _acceptor(kind: str) -> Accept:
    return _Compiler(schema(kind)).compile(schema(kind))


class _Compiler:
    """Turns a schema into nested functions over nodes, where every scalar is a string."""

    def __init__(self, whole: Mapping[str, Any]) -> None:
        self.whole = whole
        self.done: dict[str, Accept] = {}

    def compile(self, part: Mapping[str, Any]) -> Accept:
        tests: list[Accept] = []
        if part.keys() - _UNDERSTOOD:
            return lambda node: False  # in doubt: the validator decides
        if "$ref" in part:
            tests.append(self.reference(part["$ref"]))
        if "type" in part:
            kinds = [part["type"]] if isinstance(part["type"], str) else part["type"]
            shapes = tuple(_SHAPES[kind] for kind in kinds if kind in _SHAPES)
            tests.append(lambda node: isinstance(node, shapes))
        if "enum" in part:
            choices = frozenset(choice for choice in part["enum"] if isinstance(choice, str))
            tests.append(lambda node: isinstance(node, ScalarNode) and node.value in choices)
        if "if" in part:
            condition, then = self.compile(part["if"]), self.compile(part.get("then", {}))
            otherwise = self.compile(part.get("else", {}))
            tests.append(lambda node: then(node) if condition(node) else otherwise(node))
        by_shape = {ScalarNode: self.text(part), SequenceNode: self.items(part), MappingNode: self.table(part)}
        wanted = part.get("type")
        if len(tests) == 1 and isinstance(wanted, str) and wanted in _SHAPES:
            shape = _SHAPES[wanted]
            inside = by_shape[shape]
            return lambda node: type(node) is shape and (inside is None or inside(node))
        if any(by_shape.values()):
            tests.append(lambda node: (test := by_shape[type(node)]) is None or test(node))
        if not tests:
            return lambda node: True
        whole, *others = tests
        for test in others:
            whole = _both(whole, test)
        return whole

    def reference(self, name: str) -> Accept:
        if name not in self.done:
            self.done[name] = lambda node: False
            self.done[name] = self.compile(self.whole["$defs"][name.rpartition("/")[2]])
        return self.done[name]

    def text(self, part: Mapping[str, Any]) -> Accept | None:
        if not part.keys() & {"pattern", "minLength", "maxLength"}:
            return None
        fits = re.compile(part.get("pattern", "")).search
        shortest, longest = part.get("minLength", 0), part.get("maxLength", float("inf"))
        return lambda node: (
            isinstance(node, ScalarNode) and shortest <= len(node.value) <= longest and fits(node.value) is not None
        )

    def items(self, part: Mapping[str, Any]) -> Accept | None:
        if not part.keys() & {"items", "minItems", "maxItems", "uniqueItems"}:
            return None
        each = self.compile(part.get("items", {}))
        fewest, most = part.get("minItems", 0), part.get("maxItems", float("inf"))
        unique = part.get("uniqueItems", False)

        def test(node: Node) -> bool:
            assert isinstance(node, SequenceNode)
            if not fewest <= len(node.items) <= most or not all(each(item) for item in node.items):
                return False
            values = {item.value for item in node.items if isinstance(item, ScalarNode)}
            return not unique or len(values) == len(node.items)

        return test

    def table(self, part: Mapping[str, Any]) -> Accept | None:
        if not part.keys() & {"properties", "required", "additionalProperties", "propertyNames", "minProperties"}:
            return None
        each = {key: self.compile(value) for key, value in part.get("properties", {}).items()}
        rest: Any = part.get("additionalProperties", {})
        other = None if rest is False else self.compile(rest)
        required = frozenset(part.get("required", ()))
        name = self.compile(part["propertyNames"]) if "propertyNames" in part else None
        fewest = part.get("minProperties", 0)

        def test(node: Node) -> bool:
            assert isinstance(node, MappingNode)
            if len(node.values) < fewest or not required <= node.values.keys():
                return False
            for key, value in node.values.items():
                accept = each.get(key, other)
                if accept is None or not accept(value):
                    return False
            return name is None or all(map(name, node.keys.values()))

        return test


def _both(first: Accept, then: Accept) -> Accept:
    return lambda node: first(node) and then(node)


_SHAPES: Mapping[str, type[Node]] = {"string": ScalarNode, "array": SequenceNode, "object": MappingNode}
_UNDERSTOOD = frozenset(
    {"$schema", "$defs", "$ref", "title", "description", "type", "enum", "if", "then", "else", "pattern"}
    | {"minLength", "maxLength"}
    | {"minimum", "maximum", "items", "minItems", "maxItems", "uniqueItems", "properties", "required", "minProperties"}
    | {"additionalProperties", "propertyNames", "examples"}
)


# ---- what is wrong, exactly ------------------------------------------------------------------------------------


def _deepest(error: ValidationError) -> ValidationError:
    """Of the errors inside an error, the one furthest down: it is nearest to what the writer meant."""
    while error.context:
        error = max(error.context, key=lambda inner: len(inner.absolute_path))
    return error


def _family(problem: Problem) -> str:
    return problem.message if problem.code in ("K020", "K021", "K051") else ""


def _find(page: SourceFile, path: list[str | int]) -> tuple[Node, ScalarNode | None]:
    """The node at a path, and the key it stands under."""
    assert page.root is not None
    node: Node = page.root
    key: ScalarNode | None = None
    for step in path:
        if isinstance(node, MappingNode) and isinstance(step, str):
            key = node.keys[step]
            node = node.values[step]
        elif isinstance(node, SequenceNode) and isinstance(step, int):
            node, key = node.items[step], None
    return node, key


@dataclass(frozen=True, slots=True)
class _Breach:
    """A broken rule of the schema and where: `node` is what breaks it, `key` the key above, `at` what to point at.

    whole: the schema of the file, for what its parts refer to.
    """

    error: ValidationError
    file: str
    node: Node
    key: ScalarNode | None
    whole: Mapping[str, Any]

    @property
    def at(self) -> Node:
        return self.node if self.key is None else self.key  # a missing or empty thing is best shown at the key above it

    @property
    def under(self) -> str:
        return f" under {quoted(self.key.value)}" if self.key is not None else ""

    @property
    def rule(self) -> Any:
        return self.error.validator_value

    def properties(self) -> Mapping[str, Any]:
        """Keys that the schema knows here."""
        assert isinstance(self.error.schema, Mapping)
        found: Mapping[str, Any] = self.error.schema.get("properties", {})
        return found

    def problem(self, code: str, where: Node, message: str, advice: str = "") -> Problem:
        return Problem.of(code, self.file, where.line, where.column, message, advice)


def _problems(error: ValidationError, page: SourceFile, whole: Mapping[str, Any]) -> Iterator[Problem]:
    node, key = _find(page, list(error.absolute_path))
    breach = _Breach(error, page.file, node, key, whole)
    names = "propertyNames" in list(error.absolute_schema_path)
    wanted = str(error.validator)
    value: Any = error.instance
    if names and isinstance(node, MappingNode):
        where = node.keys.get(value, breach.at)
        yield breach.problem("K027", where, f"{quoted(value)} is not a name", _name_help(value))
    elif wanted == "additionalProperties" and isinstance(node, MappingNode):
        yield from _unknown_keys(breach, node)
    elif wanted == "required" and isinstance(node, MappingNode):
        yield from _missing_keys(breach, node)
    elif wanted in ("minLength", "minItems", "minProperties") or value == "":
        yield _empty(breach, wanted, value)
    elif wanted in ("maxItems", "uniqueItems"):
        yield _too_many(breach, wanted)
    else:
        yield _unfit(breach, wanted, value)


def _unknown_keys(breach: _Breach, node: MappingNode) -> Iterator[Problem]:
    known = list(breach.properties())
    for extra in (name for name in node.values if name not in known):
        free = [name for name in known if name not in node.values]
        advice = _misplaced(breach, node.values[extra]) or close_to(extra, free, f"known here: {', '.join(known)}")
        yield breach.problem("K020", node.keys[extra], f"unknown key {quoted(extra)}", advice)


def _misplaced(breach: _Breach, under: Node) -> str:
    """What to do where an unknown key is an entry that stands at the wrong depth; empty where it is none."""
    if not isinstance(under, MappingNode):
        return ""
    if len(under.values.keys() & breach.properties().keys()) > 1:
        return "it reads like an entry of its own: take two spaces out in front of it and of its lines"
    for name, held in breach.properties().items():
        inside = held.get("additionalProperties")
        if isinstance(inside, Mapping):
            wanted = _followed(inside, breach.whole).get("properties", {})
            if len(under.values.keys() & wanted.keys()) > 1:
                return f"it reads like an entry of `{name}`: put two spaces in front of it and of its lines"
    return ""


def _missing_keys(breach: _Breach, node: MappingNode) -> Iterator[Problem]:
    slips = [name for name in node.values if name not in breach.properties()][:LIMIT]
    for name in breach.rule:
        if name not in node.values and not close_to(name, slips):  # a slip is reported once, as an unknown key
            code = "K051" if name == "sources" else "K021"
            source = "name a source, `common practice` or `from memory`" if code == "K051" else ""
            advice = source or _about(breach.error, name)
            yield breach.problem(code, breach.at, f"no {quoted(name)}{breach.under}", advice)


def _empty(breach: _Breach, wanted: str, value: object) -> Problem:
    code = "K051" if breach.key is not None and breach.key.value == "sources" else "K025"
    rule = breach.rule
    few = f"{rule} or more needed" if wanted == "minItems" and rule > 1 and value else "nothing"
    return breach.problem(code, breach.at, few + (breach.under or " here"), _described(breach.error))


def _too_many(breach: _Breach, wanted: str) -> Problem:
    if wanted == "maxItems":
        what, advice = f"more than {breach.rule} entries", _described(breach.error)
    else:
        what, advice = f"{quoted(_twice(breach.node))} twice", "keep one of them"
    return breach.problem("K026", breach.at, what + breach.under, advice)


def _unfit(breach: _Breach, wanted: str, value: Any) -> Problem:
    """A value of the wrong shape, choice or pattern, or one that breaks a rule without words of its own."""
    node, rule, under, described = breach.node, breach.rule, breach.under, _described(breach.error)
    if wanted == "type" and rule == "array" and isinstance(node, ScalarNode):
        return breach.problem("K022", node, f"a text where a list belongs{under}", _as_list(breach, node))
    if wanted == "type":
        kinds = [rule] if isinstance(rule, str) else list(rule)
        there = {ScalarNode: "a text", SequenceNode: "a list", MappingNode: "a mapping"}[type(node)]
        right = " or ".join(_NAMES.get(kind, kind) for kind in kinds if kind in _SHAPES)
        return breach.problem("K022", node, f"{there} where {right} belongs{under}", described)
    if wanted == "enum" and isinstance(value, str):
        choices = [choice for choice in rule if isinstance(choice, str)]
        advice = close_to(value, choices, f"one of: {', '.join(choices)}")
        return breach.problem("K023", node, f"{quoted(value)} is not one of the choices{under}", advice)
    if wanted == "enum":
        choice = ", ".join(str(choice) for choice in rule)
        return breach.problem("K022", node, f"one of {choice} belongs here{under}")
    if wanted == "pattern" and rule == _ID:
        return breach.problem("K027", node, f"{quoted(value)} is not a name", _name_help(value))
    if wanted == "pattern":
        advice = (_share(value) if "probability" in described else "") or described
        return breach.problem("K024", node, f"{quoted(value)} does not fit{under}", advice)
    return breach.problem("K028", node, f"breaks the rule {quoted(wanted)} of the schema{under}", described)


def _as_list(breach: _Breach, node: ScalarNode) -> str:
    """How the text that stands where a list belongs is made one."""
    if node.value.startswith("-"):
        return f"a space belongs behind the dash: `- {node.value.lstrip('-').split(chr(10))[0][:40]}`"
    if breach.key is not None and node.line > breach.key.line:
        return "start each item with `- `"
    return _described(breach.error) if set(node.value) & set(":,[]{}#") else f"write `[{node.value}]`"


def _share(value: str) -> str:
    """A share that was written in percent, with a comma or as a number out of a hundred, as it should be; or empty."""
    match = re.fullmatch(r"([0-9]+(?:[.,][0-9]+)?) ?(%?)", value.strip())
    if match is None:
        return ""
    found = float(match[1].replace(",", "."))
    if match[2] or (found > 1 and found == int(found)):
        found /= 100
    return f'write "{found:g}", a share of one' if 0 <= found <= 1 else ""


def _twice(node: Node) -> str:
    seen: set[str] = set()
    for item in node.items if isinstance(node, SequenceNode) else ():
        text = item.value if isinstance(item, ScalarNode) else str(plain(item))
        if text in seen:
            return text
        seen.add(text)
    return "an entry"


def _described(error: ValidationError) -> str:
    text = error.schema.get("description", "") if isinstance(error.schema, Mapping) else ""
    return f"expected: {text[0].lower()}{text[1:]}".rstrip(".") if text else ""


def _about(error: ValidationError, name: str) -> str:
    """What a missing key is for."""
    schema_here = error.schema if isinstance(error.schema, Mapping) else {}
    text = schema_here.get("properties", {}).get(name, {}).get("description", "")
    return f"expected: {text[0].lower()}{text[1:]}".rstrip(".") if text else ""


def _name_help(value: str) -> str:
    if ":" in value.strip(":"):
        return "put a space behind the colon"
    better = re.sub(r"[^a-z0-9]+", "_", value.lower()).strip("_")
    wanted = "lower-case letters, figures and single underscores, starting with a letter"
    return f"write {better}" if re.match(_ID, better) else f"a name has {wanted}"
