"""Every YAML block of the guide for technicians is a real item of the shipped knowledge, word for word in meaning."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

import hertzwright.knowledge
from hertzwright.engine.reader import read_folder

FOLDER = Path(next(iter(hertzwright.knowledge.__path__)))
GUIDE = (FOLDER / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```yaml\n(.*?)```", GUIDE, re.DOTALL)
PLACES = {"area.json": "areas", "checks.json": "checks", "cases.json": "cases"}


def plain(text: str) -> object:
    """YAML with every scalar as a string, as the loader reads it."""
    return yaml.load(text, Loader=yaml.BaseLoader)


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.splitlines()[1])
def test_a_block_of_the_guide_stands_in_the_files(block: str) -> None:
    schema = re.search(r"schemas/(\w+\.json)", block)
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
