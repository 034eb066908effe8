"""Shape: the schemas themselves, what they accept, and where a breach is put."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

import hertzwright.knowledge
from hertzwright.engine.compiler import schema
from hertzwright.engine.compiler.source import MappingNode, SourceFile, parse, plain
from hertzwright.engine.problems.problem import Problem, render

from small_knowledge import FILES
from tiers import some

SHIPPED = Path(hertzwright.knowledge.__file__).parent
every_kind = pytest.mark.parametrize("kind", schema.KINDS)


def kind_of(file: str) -> str:
    folder, _, name = file.rpartition("/")
    return {"areas": "area", "checks": "checks", "cases": "cases"}.get(folder, name.removesuffix(".yaml"))


SMALL = {kind_of(file): text for file, text in FILES.items()}


def found(kind: str, text: str) -> list[str]:
    page = parse(text, f"{kind}.yaml")
    assert page.problems == ()
    problems = sorted(schema.problems(kind, page), key=lambda problem: problem.sort_key)
    return [render(problem, page.text_line(problem.line)) for problem in problems]


def properties(part: Any, path: str = "") -> Iterator[tuple[str, Mapping[str, Any]]]:
    if isinstance(part, Mapping):
        for name, value in part.get("properties", {}).items() if isinstance(part.get("properties"), Mapping) else ():
            yield f"{path}.{name}", value
        for name, value in part.items():
            yield from properties(value, f"{path}.{name}")
    elif isinstance(part, list):
        for value in part:
            yield from properties(value, path)


@every_kind
def test_schemas_are_valid_and_describe_every_property(kind: str) -> None:
    Draft202012Validator.check_schema(schema.schema(kind))
    listed = list(properties(schema.schema(kind)))
    assert listed
    assert [path for path, part in listed if not part.get("description")] == []


@every_kind
def test_no_schema_lets_unknown_keys_pass(kind: str) -> None:
    def closed(part: Any) -> bool:
        if isinstance(part, Mapping):
            if "properties" in part and isinstance(part["properties"], Mapping) and "additionalProperties" not in part:
                return False
            return all(closed(value) for value in part.values())
        return all(closed(value) for value in part) if isinstance(part, list) else True

    assert closed(schema.schema(kind))


@every_kind
def test_quick_acceptance_understands_the_whole_schema(kind: str) -> None:
    """Where it did not, every file of the kind would go the slow way. The parts that no small file has count as well."""
    page = parse(SMALL[kind], "small.yaml")
    assert page.root is not None
    assert schema.accepts(kind, page.root)

    def parts(part: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
        yield part
        tables = [part.get(name, {}) for name in ("properties", "$defs")]
        inner = [part.get(name) for name in ("items", "additionalProperties", "propertyNames", "if", "then", "else")]
        for each in (*(value for table in tables for value in table.values()), *inner):
            if isinstance(each, Mapping):
                yield from parts(each)

    assert [
        part.keys() - schema._UNDERSTOOD for part in parts(schema.schema(kind)) if part.keys() - schema._UNDERSTOOD
    ] == []


class Editor(getattr(yaml, "CSafeLoader", yaml.SafeLoader)):  # type: ignore[misc]
    """Reads YAML as an editor does: numbers and yes/no have types. Days stay text, as in YAML 1.2."""


Editor.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in found if tag != "tag:yaml.org,2002:timestamp"]
    for first, found in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


@every_kind
def test_an_editor_that_reads_numbers_as_numbers_agrees(kind: str) -> None:
    unquoted = SMALL[kind].replace('"', "")
    validator = Draft202012Validator(schema.schema(kind))
    assert [error.message for error in validator.iter_errors(yaml.load(unquoted, Editor))] == []


@pytest.mark.parametrize(
    "path", some(sorted(SHIPPED.rglob("*.yaml")), 3), ids=lambda path: str(path.relative_to(SHIPPED))
)
def test_shipped_files_fit_for_the_engine_and_for_an_editor(path: Path) -> None:
    file = path.relative_to(SHIPPED).as_posix()
    kind = kind_of(file)
    page = parse(path.read_bytes(), file)
    assert page.problems == ()
    assert [str(problem) for problem in schema.problems(kind, page)] == []
    loaded = yaml.load(path.read_text(encoding="utf-8"), Editor)
    assert [error.message for error in Draft202012Validator(schema.schema(kind)).iter_errors(loaded)] == []
    first = page.text_line(1)
    assert first == f"# yaml-language-server: $schema={'../' * file.count('/')}editor/{kind}.json"


WORD = "words:\n  usually:\n    value: '0.75'\n    brief: Often.\n    sources: [common practice]\n"
OTHERS = "".join(
    f"  {word}: {{value: '0.1', brief: Now and then., sources: [from memory]}}\n" for word in ("sometimes", "seldom")
)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "brief:",
            "breif:",
            'words.yaml:4:5: error K020: unknown key "breif"\n      breif: Often.\n      ^\n'
            'help: did you mean "brief"?',
        ),
        (
            "    brief: Often.\n",
            "",
            'words.yaml:2:3: error K021: no "brief" under "usually"\n    usually:\n    ^\n'
            "help: expected: the same in other words",
        ),
        (
            "    sources: [common practice]\n",
            "",
            'words.yaml:2:3: error K051: no "sources" under "usually"\n    usually:\n    ^\n'
            "help: name a source, `common practice` or `from memory`",
        ),
        (
            "[common practice]",
            "[]",
            'words.yaml:5:5: error K051: nothing under "sources"\n      sources: []\n      ^\n'
            "help: expected: where the statements come from, the most important first",
        ),
        (
            "[common practice]",
            "[hearsay]",
            'words.yaml:5:15: error K023: "hearsay" is not one of the choices\n      sources: [hearsay]\n'
            "                ^\nhelp: one of: common practice, from memory",
        ),
        (
            "[common practice]",
            "[{source: book, page: 4}]",
            'words.yaml:5:30: error K020: unknown key "page"\n      sources: [{source: book, page: 4}]\n'
            "                               ^\nhelp: known here: source, section",
        ),
        (
            "'0.75'",
            "often",
            'words.yaml:3:12: error K024: "often" does not fit under "value"\n      value: often\n             ^\n'
            "help: expected: a number between 0 and 1",
        ),
        (
            "'0.75'",
            "'1.2'",
            'words.yaml:3:12: error K024: "1.2" does not fit under "value"\n      value: \'1.2\'\n             ^\n'
            "help: expected: a number between 0 and 1",
        ),
        (
            "'0.75'",
            "[a]",
            'words.yaml:3:12: error K022: a list where a text belongs under "value"\n      value: [a]\n             ^\n'
            "help: expected: a number between 0 and 1",
        ),
        (
            "'0.75'",
            "",
            'words.yaml:3:5: error K025: nothing under "value"\n      value:\n      ^\n'
            "help: expected: a number between 0 and 1",
        ),
        (
            "usually:",
            "Very Often:",
            'words.yaml:2:3: error K027: "Very Often" is not a name\n    Very Often:\n    ^\nhelp: write very_often',
        ),
    ],
)
def test_breaches_are_said_where_they_are(old: str, new: str, expected: str) -> None:
    assert found("words", WORD + OTHERS) == []
    told = found("words", WORD.replace(old, new) + OTHERS)
    assert [each for each in told if 'no "usually"' not in each] == [expected]  # renamed, it is missed as well


def test_the_words_that_the_program_goes_by_are_missed() -> None:
    told = found("words", WORD)
    assert len(told) == 2
    assert all(word in " ".join(told) for word in ("sometimes", "seldom"))


def test_a_file_that_is_a_list_is_one_problem() -> None:
    assert found("words", "- a\n- b\n") == [
        "words.yaml:1:1: error K022: a list where a mapping belongs\n  - a\n  ^\n"
        "help: expected: each word of strength and the probability it stands for"
    ]


def test_too_many_entries_and_entries_twice() -> None:
    text = SMALL["checks"].replace('["20", "90"]', '["20", "90", "95"]')
    assert [line.split("\n")[0] for line in found("checks", text)] == [
        'checks.yaml:19:7: error K026: more than 2 entries under "range"'
    ]
    text = SMALL["states"].replace("[rotating_parts]", "[hot_parts, hot_parts]")
    assert [line.split("\n")[0] for line in found("states", text)] == [
        'states.yaml:12:5: error K026: "hot_parts" twice under "cautions"'
    ]


def test_a_rule_without_a_code_of_its_own_is_still_a_problem(monkeypatch: pytest.MonkeyPatch) -> None:
    strict = {"type": "object", "maxProperties": 1}
    monkeypatch.setattr(schema, "schema", lambda kind: strict)
    monkeypatch.setattr(schema, "accepts", lambda kind, root: False)
    problems = schema.problems("words", parse("a: x\nb: y\n", "words.yaml"))
    assert [problem.code for problem in problems] == ["K028"]
    assert problems[0].message == 'breaks the rule "maxProperties" of the schema'


def test_the_deepest_of_several_ways_to_fit_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    inner = {"type": "object", "properties": {"b": {"enum": ["x"], "description": "A letter."}}}
    monkeypatch.setattr(schema, "schema", lambda kind: {"properties": {"a": {"anyOf": [{"type": "string"}, inner]}}})
    monkeypatch.setattr(schema, "accepts", lambda kind, root: False)
    assert schema.problems("words", parse("a:\n  b: y\n", "words.yaml")) == (
        Problem.of("K023", "words.yaml", 2, 6, '"y" is not one of the choices under "b"', "one of: x"),
    )


def test_a_text_that_is_too_long_is_no_right_file() -> None:
    for long in ("Keep clear.", "Keep clear. " * 30):
        page = parse(SMALL["cautions"].replace("    text:", f"    short: {long}\n    text:", 1), "small.yaml")
        assert page.root is not None
        fits = Draft202012Validator(schema.schema("cautions")).is_valid(plain(page.root))
        assert (schema.accepts("cautions", page.root), fits) == (len(long) < 100, len(long) < 100)


def test_unknown_kind_is_misuse() -> None:
    with pytest.raises(KeyError):
        schema.schema("nonsense")


def test_keys_come_in_the_order_of_the_schema() -> None:
    assert schema.key_order("words") == ("words",)
    assert schema.key_order("words", "words", "*") == ("value", "brief", "sources")


pieces = st.sampled_from(
    ["x", "yes", "0.5", "-1", "[]", "{}", "[a, a]", "[a, [b]]", "{a: b}", "''", "Bad Name", "usually"]
)


@given(st.sampled_from(sorted(SMALL)), st.data())
def test_quick_acceptance_and_the_validator_never_disagree(kind: str, data: st.DataObject) -> None:
    lines = SMALL[kind].split("\n")
    for _ in range(data.draw(st.integers(1, 2))):
        number = data.draw(st.integers(0, len(lines) - 1))
        key, colon, _ = lines[number].partition(":")
        change = data.draw(st.sampled_from(["value", "key", "drop", "twice"]))
        if change == "value":
            lines[number] = f"{key}: {data.draw(pieces)}"
        elif change == "key":
            lines[number] = lines[number].replace(key.strip(), "other", 1)
        elif change == "drop":
            lines[number] = ""
        elif colon:
            lines.insert(number, lines[number])
    page = parse("\n".join(lines), "small.yaml")
    if not isinstance(page.root, MappingNode):
        return
    fits = Draft202012Validator(schema.schema(kind)).is_valid(plain(page.root))
    assert schema.accepts(kind, page.root) == fits
    assert bool(schema.problems(kind, page)) == (not fits)


def test_a_page_without_a_tree_has_no_shape_to_check() -> None:
    assert schema.problems("words", SourceFile("words.yaml")) == ()
