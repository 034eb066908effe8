"""The installed package holds exactly the files of the tree, and pyproject.toml lists every package that is in it."""

from __future__ import annotations

import tomllib
from importlib.metadata import distribution
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def folders() -> dict[str, str]:
    """Every folder of the tree that holds a package, with the name it has when installed.

    Where a folder goes is said once, by `package-dir` of pyproject.toml; below such a folder each `__init__.py` makes
    a package. `cli/hertzwright` is the package itself, so that it is not one of `cli`.
    """
    places = {folder: name for name, folder in setuptools()["package-dir"].items()}
    found = {}
    for top in sorted({folder.partition("/")[0] for folder in places}):
        for path in (ROOT / top, *sorted((ROOT / top).rglob("*"))):
            if path.is_dir() and (path / "__init__.py").exists():
                below = path.relative_to(ROOT)
                start = next(each for each in (below, *below.parents) if each.as_posix() in places)
                rest = below.relative_to(start).parts
                found[below.as_posix()] = ".".join((places[start.as_posix()], *rest))
    return found


def setuptools() -> dict[str, dict[str, str]]:
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)["tool"]["setuptools"]  # type: ignore[no-any-return]


def test_every_package_of_the_tree_is_listed() -> None:
    listed, there = set(setuptools()["packages"]), folders()
    add = [f'add to packages in pyproject.toml:   "{name}",' for name in sorted(set(there.values()) - listed)]
    drop = [f'no such folder, drop from pyproject.toml:   "{name}",' for name in sorted(listed - set(there.values()))]
    assert "\n".join(add + drop) == ""


def test_no_folder_with_modules_is_left_without_its_init() -> None:
    bare = {
        path.parent.relative_to(ROOT).as_posix()
        for top in ("cli", "engine")
        for path in (ROOT / top).rglob("*.py")
        if not (path.parent / "__init__.py").exists()
    }
    assert bare == set(), "a folder without __init__.py is left out of the wheel"


def installed() -> set[str]:
    files = distribution("hertzwright").files or []
    names = {str(file) for file in files if str(file).startswith("hertzwright/")}
    return {name for name in names if "__pycache__" not in name}


def expected() -> set[str]:
    names = set()
    for folder, package in folders().items():
        home = package.replace(".", "/")
        names |= {f"{home}/{path.name}" for path in (ROOT / folder).iterdir() if path.suffix == ".py"}
    names.add("hertzwright/py.typed")
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
