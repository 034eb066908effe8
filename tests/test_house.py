"""Rules of the whole repository."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

import hertzwright.engine

ROOT = Path(__file__).parent.parent
ENGINE = sorted((ROOT / "engine").rglob("*.py"))
CLI = sorted((ROOT / "cli").rglob("*.py"))
FORBIDDEN_IN_ENGINE = {"rich", "prompt_toolkit", "platformdirs", "filelock", "time", "random", "argparse", "getpass"}
OPTIONAL = {"numpy", "scipy"}


def imported(path: Path, *, top_only: bool) -> set[str]:
    """Names of absolute modules that a file imports; `top_only` leaves out those inside functions and TYPE_CHECKING."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    nodes = tree.body if top_only else list(ast.walk(tree))
    found = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            found.add(node.module.split(".")[0])
    return found


@pytest.mark.parametrize("path", ENGINE, ids=lambda path: path.stem)
def test_the_engine_knows_no_terminal_no_clock_and_no_printing(path: Path) -> None:
    assert not imported(path, top_only=False) & FORBIDDEN_IN_ENGINE
    calls = [
        node.func.id
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    ]
    assert not {"print", "input", "open"} & set(calls)
    text = path.read_text(encoding="utf-8")
    assert "os.environ" not in text
    assert "datetime.now" not in text


@pytest.mark.parametrize("path", [*ENGINE, *CLI], ids=lambda path: path.stem)
def test_no_module_needs_the_optional_packages_to_be_imported(path: Path) -> None:
    assert not imported(path, top_only=True) & OPTIONAL


@pytest.mark.parametrize("path", ENGINE, ids=lambda path: path.stem)
def test_nothing_in_the_engine_points_back_to_the_terminal(path: Path) -> None:
    assert not re.search(r"from \.+cli|hertzwright\.cli", path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", [*ENGINE, *CLI], ids=lambda path: path.stem)
def test_a_module_says_what_it_is_for(path: Path) -> None:
    docstring = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    assert len(docstring) > 40 or path.name == "__init__.py"


def test_public_names_are_sorted_and_exist() -> None:
    names = hertzwright.engine.__all__
    assert list(names) == sorted(names)
    assert all(hasattr(hertzwright.engine, name) for name in names)


def test_the_engine_loads_no_heavy_package_before_it_needs_one() -> None:
    code = (
        "import sys, hertzwright.engine; "
        "print([name for name in ('networkx', 'jsonschema', 'yaml', 'rich', 'prompt_toolkit', 'numpy', 'scipy') "
        "if name in sys.modules])"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"


def test_nothing_in_the_project_names_a_path_of_a_machine() -> None:
    pattern = re.compile(r"(?<![\w.~])/(?:work|farm|home/\w+|Users)/|files\.pythonhosted")
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    for name in filter(None, listed):
        path = ROOT / name
        if path.suffix in {".py", ".md", ".yaml", ".yml", ".toml", ".json"} and path.name != "test_house.py":
            assert not pattern.search(path.read_text(encoding="utf-8")), name
