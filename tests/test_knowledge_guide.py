"""Every YAML block of the guide for technicians is a real item of the shipped knowledge, word for word in meaning."""

from __future__ import annotations

import json
import re
import shutil
from functools import cache
from pathlib import Path

import pytest
import yaml

import hertzwright.knowledge
from hertzwright.cli.workshop import layout
from hertzwright.engine.compiler import schema as shape
from hertzwright.engine.compiler.reader import read_folder
from hertzwright.engine.compiler.source import parse

FOLDER = Path(next(iter(hertzwright.knowledge.__path__)))
GUIDE = (FOLDER / "README.md").read_text(encoding="utf-8")
EVERY = re.findall(r"```yaml\n(.*?)```", GUIDE, re.DOTALL)
RETIRED = [block for block in EVERY if "    retired:" in block]
BLOCKS = [block for block in EVERY if block not in RETIRED]
PLACES = {
    "area.json": "areas",
    "checks.json": "checks",
    "cases.json": "cases",
    "fittings.json": ".",
    "drawings.json": ".",
    "units.json": ".",
    "setting.json": ".",
}


@cache
def plain(text: str) -> object:
    """YAML with every scalar as a string, as the loader reads it."""
    return yaml.load(text, Loader=getattr(yaml, "CBaseLoader", yaml.BaseLoader))


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.splitlines()[1])
def test_a_block_of_the_guide_stands_in_the_files(block: str) -> None:
    schema = re.search(r"editor/(\w+\.json)", block)
    assert schema is not None
    shown = plain(block)
    assert isinstance(shown, dict)
    shipped: dict[str, dict[str, object]] = {}
    for path in sorted((FOLDER / PLACES[schema[1]]).glob("*.yaml")):
        found = plain(path.read_text(encoding="utf-8"))
        assert isinstance(found, dict)
        for kind, items in found.items():
            if isinstance(items, dict):
                shipped.setdefault(kind, {}).update(items)
    compared = 0
    for kind, items in shown.items():
        if isinstance(items, dict):
            for name, item in items.items():
                assert shipped[kind][name] == item, f"{kind}.{name} in the guide is not as shipped"
                compared += 1
    assert compared


def test_the_guide_lists_every_word_with_its_number() -> None:
    readout = read_folder(FOLDER)
    assert readout.catalogue is not None
    for word in readout.catalogue.words:
        assert f"`{word}`" in GUIDE


def test_the_shipped_knowledge_has_no_errors() -> None:
    readout = read_folder(FOLDER)
    assert [str(problem) for problem in readout.problems if problem.severity == "error"] == []


@pytest.mark.parametrize("block", RETIRED, ids=lambda block: block.splitlines()[1])
def test_a_retired_item_of_the_guide_could_stand_in_the_files(block: str, tmp_path: Path) -> None:
    """Nothing shipped is retired yet: the example is put into a copy, where it makes no new problem."""
    shutil.copytree(FOLDER, tmp_path / "knowledge")
    area = re.search(r"^area: (\w+)", block, re.MULTILINE)
    assert area is not None
    path = tmp_path / "knowledge" / "checks" / f"{area[1]}.yaml"
    path.write_text(path.read_text(encoding="utf-8") + block.partition("checks:\n")[2], encoding="utf-8")
    before, after = read_folder(FOLDER), read_folder(tmp_path / "knowledge")
    assert [str(one) for one in after.problems] == [str(one) for one in before.problems]
    assert after.catalogue is not None
    (added,) = after.catalogue.checks.keys() - set(before.catalogue.checks if before.catalogue else ())
    heir = after.catalogue.checks[added].retired
    assert heir is not None
    assert heir.replaced_by in after.catalogue.checks
    # An old answer counts on under the new name, as the guide says.
    old = {outcome.id for outcome in after.catalogue.checks[added].outcomes}
    assert old == {outcome.id for outcome in after.catalogue.checks[heir.replaced_by].outcomes}


@pytest.mark.parametrize("block", EVERY, ids=lambda block: block.splitlines()[1])
def test_a_block_of_the_guide_is_laid_out_and_right_for_an_editor(block: str) -> None:
    schema = re.search(r"editor/(\w+)\.json", block)
    assert schema is not None
    place = PLACES[f"{schema[1]}.json"]
    assert layout.tidied(schema[1], "x.yaml" if place == "." else f"{place}/x.yaml", block) == block
    found = parse(block, "guide.yaml")
    assert found.problems == ()
    assert shape.problems(schema[1], found) == ()


def test_the_guide_shows_an_item_of_every_kind_that_is_written_by_hand() -> None:
    shown = {kind for block in EVERY for kind, items in yaml.safe_load(block).items() if isinstance(items, dict)}
    assert shown == {"causes", "remedies", "checks", "cases", "fittings", "drawings", "rules", "setting", "units"}
    assert RETIRED


def test_the_guide_names_every_command_of_an_editor_that_it_needs() -> None:
    for action in ("check", "check --watch", "explain", "new", "tidy", "cases", "show", "compare"):
        assert f"hertzwright knowledge {action}" in GUIDE


def keys_of(shape: object) -> set[str]:
    """Every key that a schema names, wherever it stands."""
    if isinstance(shape, list):
        return set().union(*map(keys_of, shape))
    if not isinstance(shape, dict):
        return set()
    own = shape.get("properties")
    return set(own if isinstance(own, dict) else ()).union(*map(keys_of, shape.values()))


SHAPES = sorted((FOLDER / "schemas").glob("*.json"))


@pytest.mark.parametrize("path", SHAPES, ids=lambda path: path.stem)
def test_the_guide_names_every_key_of_the_files(path: Path) -> None:
    """In a block, or between backquotes: nobody finds a key that only the schema knows."""
    blocks = " ".join(re.findall(r"([a-z_]+):", " ".join(EVERY)))
    named = set(re.findall(r"[a-z_]+", " ".join([blocks, *re.findall(r"`([^`\n]+)`", GUIDE)])))
    keys = keys_of(json.loads(path.read_text(encoding="utf-8")))
    assert keys
    assert sorted(keys - named) == []
