"""The installed package holds exactly the files of the tree."""

from __future__ import annotations

from importlib.metadata import distribution
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FOLDERS = {
    "cli/hertzwright": "hertzwright",
    "cli": "hertzwright/cli",
    "cli/workshop": "hertzwright/cli/workshop",
    "engine": "hertzwright/engine",
    "engine/simulated": "hertzwright/engine/simulated",
}


def installed() -> set[str]:
    files = distribution("hertzwright").files or []
    names = {str(file) for file in files if str(file).startswith("hertzwright/")}
    return {name for name in names if "__pycache__" not in name}


def expected() -> set[str]:
    names = set()
    for folder, package in FOLDERS.items():
        names |= {f"{package}/{path.name}" for path in (ROOT / folder).iterdir() if path.suffix == ".py"}
    names.add("hertzwright/py.typed")
    names.add("hertzwright/knowledge/__init__.py")
    for pattern in ("*.yaml", "*.json", "*.md"):
        names |= {
            f"hertzwright/knowledge/{path.relative_to(ROOT / 'knowledge').as_posix()}"
            for path in (ROOT / "knowledge").rglob(pattern)
        }
    return names


def test_the_package_holds_exactly_the_files_of_the_tree() -> None:
    found = installed()
    if not found:
        pytest.skip("an editable installation lists no files; CI installs the wheel")
    assert found == expected()
