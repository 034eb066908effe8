"""Rules of the whole repository."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import hertzwright.engine

ROOT = Path(__file__).parent.parent
ENGINE = sorted((ROOT / "engine").rglob("*.py"))
CLI = sorted((ROOT / "cli").rglob("*.py"))
FORBIDDEN_IN_ENGINE = {"rich", "prompt_toolkit", "platformdirs", "filelock", "time", "random", "argparse", "getpass"}
OPTIONAL = {"numpy", "scipy"}


@cache
def parsed(path: Path) -> tuple[ast.Module, tuple[ast.AST, ...]]:
    """The tree of a file, and every node of it."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return tree, tuple(ast.walk(tree))


def imported(path: Path, *, top_only: bool) -> set[str]:
    """Names of absolute modules that a file imports; `top_only` leaves out those inside functions and TYPE_CHECKING."""
    tree, every = parsed(path)
    nodes = tree.body if top_only else every
    found = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            found.add(node.module.split(".")[0])
    return found


def _problems_in_the_engine(path: Path) -> list[str]:
    text = path.read_text(encoding="utf-8")
    found = [f"imports {name}" for name in sorted(imported(path, top_only=False) & FORBIDDEN_IN_ENGINE)]
    for node in parsed(path)[1]:
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in {"print", "input", "open"}
        ):
            found.append(f"calls {node.func.id} in line {node.lineno}")
    return found + [f"names {word}" for word in ("os.environ", "datetime.now") if word in text]


def told(problems: dict[Path, list[str]]) -> str:
    """One line for each problem, with the file that has it; empty where all is well."""
    return "\n".join(f"{path.relative_to(ROOT)}: {each}" for path, found in problems.items() for each in found)


def test_the_engine_knows_no_terminal_no_clock_and_no_printing() -> None:
    assert len(ENGINE) > 50
    assert told({path: _problems_in_the_engine(path) for path in ENGINE}) == ""


def test_a_grep_of_the_house_bites(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.py"
    wrong.write_text("import time\nfrom rich import box\nprint(os.environ)\n", encoding="utf-8")
    assert _problems_in_the_engine(wrong) == [
        "imports rich",
        "imports time",
        "calls print in line 3",
        "names os.environ",
    ]


def test_no_module_needs_the_optional_packages_to_be_imported() -> None:
    problems = {path: sorted(imported(path, top_only=True) & OPTIONAL) for path in [*ENGINE, *CLI]}
    assert told(problems) == "", "import these inside the function that needs them"


def test_nothing_in_the_engine_points_back_to_the_terminal() -> None:
    back = re.compile(r"from \.+cli.*|hertzwright\.cli.*")
    assert told({path: back.findall(path.read_text(encoding="utf-8")) for path in ENGINE}) == ""


def test_a_module_says_what_it_is_for() -> None:
    silent = [
        str(path.relative_to(ROOT))
        for path in [*ENGINE, *CLI]
        if path.name != "__init__.py" and len(ast.get_docstring(parsed(path)[0]) or "") <= 40
    ]
    assert silent == [], "say at the top: purpose, law, what it does not check"


# Longer on purpose, each with the reason; everything else is split into nouns, and functions into what they do.
LONG_MODULES = {
    "engine/problems/codes.py": "one list of all codes with their stories: it is looked up, and not read through",
}
LONG_FUNCTIONS = {
    "engine/simulated/running.py: _stretch": "each step of a run: three calls in it that do nothing cost a fifth of "
    "the speed",
}
LONGEST_MODULE, LONGEST_FUNCTION = 450, 60


def _long_functions(path: Path) -> dict[str, int]:
    """Lines of each function of a file that is longer than it should be, decorators left out."""
    lengths = [
        (node.name, (node.end_lineno or 0) - node.lineno + 1)
        for node in parsed(path)[1]
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
    ]
    return {name: lines for name, lines in lengths if lines > LONGEST_FUNCTION}


def test_modules_stay_short() -> None:
    """A module is a noun of about 400 lines at most: an eighth more is let pass."""
    lines = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in [*ENGINE, *CLI]}
    long = {str(path.relative_to(ROOT)): count for path, count in lines.items() if count > LONGEST_MODULE}
    assert {name: count for name, count in long.items() if name not in LONG_MODULES} == {}, (
        "split it into nouns, or say above why it reads better whole"
    )
    assert set(LONG_MODULES) <= set(long), "it is short now: leave it out above"


def test_functions_stay_short() -> None:
    """A function does one thing, in 60 lines at most."""
    long = {
        f"{path.relative_to(ROOT)}: {name}": lines
        for path in [*ENGINE, *CLI]
        for name, lines in _long_functions(path).items()
    }
    assert {name: lines for name, lines in long.items() if name not in LONG_FUNCTIONS} == {}, (
        "split it where it comes apart, or say above why it does not"
    )
    assert set(LONG_FUNCTIONS) <= set(long), "it is short now: leave it out above"


def test_a_long_function_is_seen(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.py"
    lines = ["class Set:", "    def runs(self) -> int:", *["        hertz = 60"] * LONGEST_FUNCTION, "def short(): ..."]
    wrong.write_text("\n".join(lines), encoding="utf-8")
    assert _long_functions(wrong) == {"runs": LONGEST_FUNCTION + 1}


def test_what_a_module_points_to_is_there() -> None:
    """`see X` at the top of a module names a module, or something of the code, that has not moved away since."""
    known: set[str] = set()
    for path in [*ENGINE, *CLI]:
        known |= {path.stem, path.parent.name}
        for node in parsed(path)[1]:
            known |= {str(getattr(node, field)) for field in ("name", "arg", "attr", "id") if hasattr(node, field)}
    gone = {}
    for path in [*ENGINE, *CLI]:
        top = ast.get_docstring(parsed(path)[0]) or ""
        pointed = [name for each in re.findall(r"\(see ([^()]*)\)", top) for name in re.findall(r"`([\w.]+)`", each)]
        gone[path] = [name for name in pointed if not set(name.split(".")) <= known]
    assert told(gone) == "", "say where it is now"


def test_public_names_are_sorted_and_exist() -> None:
    names = hertzwright.engine.__all__
    assert list(names) == sorted(names)
    assert all(hasattr(hertzwright.engine, name) for name in names)


def test_the_engine_loads_no_heavy_package_before_it_needs_one() -> None:
    # PyYAML is no heavy one, and every command that loads the knowledge needs it.
    code = (
        "import sys, hertzwright.engine; "
        "print([name for name in ('networkx', 'jsonschema', 'rich', 'prompt_toolkit', 'numpy', 'scipy') "
        "if name in sys.modules])"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"


def test_nothing_in_the_project_names_a_path_of_a_machine() -> None:
    pattern = re.compile(r"(?<![\w.~])/(?:work|farm|home/\w+|Users)/|files\.pythonhosted")
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    suffixes = {".py", ".md", ".yaml", ".yml", ".toml", ".json"}
    paths = [ROOT / name for name in listed if Path(name).suffix in suffixes and Path(name).name != "test_house.py"]
    named = {path: pattern.findall(path.read_text(encoding="utf-8")) for path in paths if path.exists()}
    assert told(named) == ""


def test_no_class_name_stands_for_two_things() -> None:
    homes: dict[str, list[str]] = {}
    for path in [*ENGINE, *CLI]:
        for node in parsed(path)[1]:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                homes.setdefault(node.name, []).append(str(path.relative_to(ROOT)))
    assert {name: paths for name, paths in homes.items() if len(paths) > 1} == {}, "one name, one meaning"
