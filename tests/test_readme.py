"""What the README shows is what happens."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import pictures
import pytest

from hertzwright.cli.app import main
from hertzwright.engine import load_knowledge

pytestmark = pytest.mark.whole_ways

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_recorded_job_is_what_happens() -> None:
    results = doctest.testfile(str(ROOT / "README.md"), module_relative=False)
    assert results.attempted > 10
    assert results.failed == 0


def test_the_file_of_facts_is_ranked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (block,) = re.findall(r"```yaml\n(.*?)```", README, re.DOTALL)
    facts = tmp_path / "facts.yaml"
    facts.write_text(block, encoding="utf-8")
    assert main(["rank", str(facts), "--plain"]) == 0
    assert "Speed adjuster set too high" in capsys.readouterr().out


@pytest.mark.parametrize("command", re.findall(r"^\| `hertzwright (\w+)", README, re.MULTILINE))
def test_every_command_of_the_table_has_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, "--help"]) == 0
    assert f"hertzwright {command}" in capsys.readouterr().out


def test_the_first_command_of_the_readme_installs_what_the_ci_installs() -> None:
    assert "pip install --quiet . " in README
    assert "bash tests/run" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "bash tests/run" in README


@pytest.mark.parametrize("name", pictures.PICTURES)
def test_the_pictures_are_what_the_program_shows(name: str) -> None:
    title, page = pictures.PICTURES[name]
    rows = page(load_knowledge()).rows
    assert len(rows) < pictures.HIGH
    shown = pictures.words((pictures.FOLDER / name).read_text(encoding="utf-8"))
    assert shown.replace("".join(title.split()), "", 1) == "".join("".join(row.text.split()) for row in rows)
    assert f".github/pictures/{name}" in README
