"""The schemas as an editor uses them: general validators on the types that YAML gives, not only our own loader."""

from __future__ import annotations

import datetime
import importlib.util
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

import hertzwright.knowledge
from hertzwright.engine.compiler import schema
from hertzwright.engine.compiler.reader import FOLDERS, read_folder
from hertzwright.engine.problems.codes import CODES

from small_knowledge import FILES, replaced

FOLDER = Path(next(iter(hertzwright.knowledge.__path__)))
SHIPPED = sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.yaml"))
HEADER = re.compile(r"# yaml-language-server: \$schema=(\S+)\n")
# Of the codes that say something about the shape of a file: those whose bad example a general validator must refuse.
SHAPE = {"K020", "K021", "K022", "K023", "K024", "K025", "K026", "K027", "K044", "K051"}
# K044, a remedy that cures nothing, is a mapping without entries: the shape of it is right.
BY_SENSE = {"K044"}


def as_an_editor(text: str) -> Any:
    """What YAML makes of a text: numbers, yes and no as true and false. JSON has no days: they are texts."""

    def plain(value: object) -> object:
        if isinstance(value, dict):
            return {key: plain(each) for key, each in value.items()}
        if isinstance(value, list):
            return [plain(each) for each in value]
        return value.isoformat() if isinstance(value, datetime.date) else value

    return plain(yaml.load(text, getattr(yaml, "CSafeLoader", yaml.SafeLoader)))


def errors(kind: str, text: str) -> list[str]:
    found = Draft202012Validator(schema.schema(kind)).iter_errors(as_an_editor(text))
    return [f"{error.json_path}: {error.message}" for error in found]


def kind_of(file: str) -> str:
    folder, _, name = file.rpartition("/")
    return FOLDERS.get(folder, name.removesuffix(".yaml"))


# In the quick tier the shortest file of each kind.
FIRST = {kind_of(file): file for file in sorted(SHIPPED, key=lambda file: -(FOLDER / file).stat().st_size)}.values()


@pytest.mark.parametrize(
    "file", [pytest.param(file, marks=() if file in FIRST else pytest.mark.nightly) for file in SHIPPED]
)
def test_an_editor_finds_the_schema_of_each_file_and_no_fault(file: str) -> None:
    text = (FOLDER / file).read_text(encoding="utf-8")
    header = HEADER.match(text)
    assert header is not None, "the first line names the schema"
    named = (FOLDER / file).parent / header[1]
    assert named.resolve() == (FOLDER / "editor" / f"{kind_of(file)}.json").resolve()
    rules = Draft202012Validator(json.loads(named.read_text(encoding="utf-8")))
    assert [f"{error.json_path}: {error.message}" for error in rules.iter_errors(as_an_editor(text))] == []
    assert errors(kind_of(file), text) == []


@pytest.mark.parametrize("file", sorted(FILES))
def test_an_editor_finds_no_fault_in_the_small_knowledge(file: str) -> None:
    assert errors(kind_of(file), FILES[file]) == []


def test_numbers_and_words_may_stand_without_quotes() -> None:
    text = FILES["checks/linkage.yaml"]
    bare = re.sub(r'"([-0-9.]+)"', r"\1", text)
    assert bare != text
    assert errors("checks", bare) == []


@pytest.mark.parametrize("name", sorted(SHAPE - BY_SENSE))
def test_a_general_validator_refuses_the_bad_example_of_a_shape(name: str) -> None:
    code = CODES[name]
    text, _ = replaced(code.file, code.good, code.bad)
    assert errors(kind_of(code.file), text)


def test_the_codes_of_the_shape_are_all_among_those() -> None:
    shaped = {name for name, code in CODES.items() if name.startswith("K02") and code.bad}
    assert shaped <= SHAPE


# ---- what an editor shows ----------------------------------------------------------------------------------------


def parts(node: object, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every property of a schema, by its path."""
    if isinstance(node, dict):
        for key, value in node.items():
            if key == "properties" and isinstance(value, dict):
                yield from ((f"{path}/{name}", part) for name, part in value.items())
            yield from parts(value, f"{path}/{key}")
    elif isinstance(node, list):
        for value in node:
            yield from parts(value, path)


@pytest.mark.parametrize("kind", schema.KINDS)
def test_a_schema_says_what_it_is_and_what_every_key_is_for(kind: str) -> None:
    found = json.loads((FOLDER / "schemas" / f"{kind}.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(found)
    assert found["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert found["title"]
    assert found["description"].endswith(".")
    counted = 0
    for path, part in parts(found):
        assert part.get("description", "").strip(), f"{path} has no description"
        assert len(part["description"].split()) > 1, f"{path}: a description is more than one word"
        counted += 1
    assert counted


@pytest.mark.parametrize("kind", schema.KINDS)
def test_examples_fit_where_they_stand(kind: str) -> None:
    whole = schema.schema(kind)
    shown = [(path, part) for path, part in (*parts(whole), *whole.get("$defs", {}).items()) if "examples" in part]
    for path, part in shown:
        judge = Draft202012Validator({**part, "$defs": whole.get("$defs", {})})
        for example in part["examples"]:
            assert judge.is_valid(example), f"{path}: {example}"


def test_the_words_that_an_editor_offers_are_the_words_there_are() -> None:
    catalogue = read_folder(FOLDER).catalogue
    assert catalogue is not None
    for kind in schema.KINDS:
        chance = schema.schema(kind).get("$defs", {}).get("chance")
        if chance is not None:
            assert set(chance["examples"]) == set(catalogue.words), kind
    for kind, item in (("area", "remedy"), ("checks", "check")):
        properties = schema.schema(kind)["$defs"][item]["properties"]
        assert set(properties["state"]["examples"]) == set(catalogue.states)
        assert {one for (one,) in properties["cautions"]["examples"]} == set(catalogue.cautions)


def test_examples_name_what_there_is() -> None:
    """An example that an editor puts in would otherwise be a problem at once."""
    catalogue = read_folder(FOLDER).catalogue
    assert catalogue is not None
    cause = schema.schema("area")["$defs"]["cause"]["properties"]
    for check, row in cause["shows"]["examples"][0].items():
        assert set(row) <= {outcome.id for outcome in catalogue.checks[check].outcomes}
    remedy = schema.schema("area")["$defs"]["remedy"]["properties"]
    assert set(remedy["cures"]["examples"][0]) <= set(catalogue.causes)
    assert set(remedy["proof"]["examples"][0]) <= set(catalogue.checks)
    assert set(remedy["then"]["examples"][0]) <= set(catalogue.remedies)
    case = schema.schema("cases")["$defs"]["case"]["properties"]
    assert set(case["truth"]["examples"][0]) <= set(catalogue.causes)


# ---- a second general validator, where it is installed -----------------------------------------------------------


@pytest.mark.skipif(importlib.util.find_spec("check_jsonschema") is None, reason="check-jsonschema is not installed")
def test_a_second_validator_agrees(tmp_path: Path) -> None:
    """One kind here: each start takes seconds."""
    command = [sys.executable, "-m", "check_jsonschema", "--schemafile", str(FOLDER / "schemas" / "area.json")]
    code = CODES["K020"]
    bad = tmp_path / "bad.yaml"
    bad.write_text(replaced(code.file, code.good, code.bad)[0])
    good = [str(FOLDER / file) for file in SHIPPED if kind_of(file) == "area"]
    assert good
    assert subprocess.run([*command, *good], capture_output=True, check=False).returncode == 0
    assert subprocess.run([*command, str(bad)], capture_output=True, check=False).returncode == 1
