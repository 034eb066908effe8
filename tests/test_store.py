"""Folders that are not there or cannot be read, and the one loader of the knowledge."""

from __future__ import annotations

import argparse
import ast
import io
import json
import sys
from pathlib import Path

import pytest

from hertzwright.cli import app
from hertzwright.cli.app import main
from hertzwright.cli.files import store
from hertzwright.cli.files.journal import Journal, is_ident, listed
from hertzwright.cli.files.store import FolderError, jobs_folder
from hertzwright.cli.workshop import knowledge
from hertzwright.engine import JobError
from hertzwright.engine.job import Event

from mutations import POWERLESS, limited

CLI = Path(store.__file__).parent.parent
WALK = f"""{POWERLESS}
import contextlib, io, json
from hertzwright.cli import app
said = []
for words in json.loads(sys.argv[2]):
    with contextlib.redirect_stdout(io.StringIO()) as out, contextlib.redirect_stderr(io.StringIO()) as err:
        status = app.main([*words, "--folder", sys.argv[1]])
    said.append([words, status, out.getvalue(), err.getvalue()])
print(json.dumps(said))
"""
"""Runs every command in one child: a traceback ends the child, and so the test."""
NOBODY = "~nobody_that_there_is_123/x"


@pytest.fixture(autouse=True)
def _no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"")))


def test_a_home_of_nobody_is_said_and_no_traceback(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(FolderError, match="no home of"):
        jobs_folder(NOBODY)
    for words in (["jobs"], ["resume"], ["report"], ["start", "--acknowledge", "--complaint", "hunts_no_load"], ["drill"],
                  ["knowledge", "tally"], ["chart", "hunts_no_load", "--depth", "1", "--html", "x"]):  # fmt: skip
        monkeypatch.setenv(store.HOME, NOBODY)
        assert main(words) == 2, words
        said = capsys.readouterr().err
        assert f'{store.HOME} "{NOBODY}": no home of "~nobody_that_there_is_123" is known; give a folder' in said
        monkeypatch.delenv(store.HOME)
        if "--html" not in words and "tally" not in words:
            assert main([*words, "--folder", NOBODY]) == 2, words
            assert f'--folder "{NOBODY}"' in capsys.readouterr().err


def test_a_home_of_ones_own_is_found(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    assert jobs_folder("~/kept") == tmp_path / "kept" / "jobs"


@pytest.mark.skipif(sys.platform == "win32", reason="needs the permissions of POSIX")
@pytest.mark.parametrize("mode", [0o300, pytest.param(0o000, marks=pytest.mark.nightly)], ids=oct)
def test_a_folder_that_cannot_be_read_is_not_called_empty(mode: int, tmp_path: Path) -> None:
    with Journal.create(tmp_path / "jobs", "f" * 64, "pump house") as file:
        file.sync([Event("set", features={"booster": "none"}, tolerance="default")])
    ident = file.ident
    (tmp_path / "trainees").mkdir()
    asked = [["jobs"], ["jobs", "--json"], ["resume"], ["report"], ["jobs", "--set", "pump house"],
             ["jobs", "--export", "all", "-"], ["knowledge", "tally"], ["resume", "no-such-job"], ["resume", ident],
             ["start", "--name", "x", "--acknowledge", "--complaint", "hunts_no_load"], ["drill", "--list-trainees"]]  # fmt: skip
    try:
        for name in ("jobs", "trainees"):
            (tmp_path / name).chmod(mode)
        if limited(f"{POWERLESS}\nimport os\nos.listdir(sys.argv[1])", tmp_path / "jobs").returncode == 0:
            pytest.skip("whoever runs this may read everywhere")
        walk = limited(WALK, tmp_path, json.dumps(asked))
        assert walk.returncode == 0, walk.stderr
        for words, status, out, err in json.loads(walk.stdout):
            if words[0] == "drill":
                assert "the folder of trainees cannot be read: Permission denied" in err
            elif words != ["resume", ident] or mode == 0:  # without a list, a job that is named is still found
                assert status == 2, (words, out)
                assert "Permission denied" in err, (words, err)
                assert "holds no jobs" not in err + out
                assert out == ""
    finally:
        for name in ("jobs", "trainees"):
            (tmp_path / name).chmod(0o700)


def test_a_file_in_the_place_of_the_folder_is_said(tmp_path: Path) -> None:
    (tmp_path / "jobs").write_text("")
    with pytest.raises(JobError, match="the folder of jobs cannot be read: Not a directory"):
        listed(tmp_path / "jobs")
    assert listed(tmp_path / "none") == []


@pytest.mark.parametrize(
    ("text", "sound"),
    [
        ("2026-11-25-a", True), ("2024-02-29-abcd", True), ("2026-02-29-a", False), ("2026-13-01-a", False),
        ("2026-00-10-a", False), ("0000-01-01-a", False), ("2026-11-25-A", False), ("2026-11-25-abcde", False),
        ("\u0662\u0660\u0662\u0666-11-25-a", False), ("2026-11-2\uff15-a", False), ("2026-11-25-\u00e4", False),
        ("2026-11-25-a\n", False),
    ],
)  # fmt: skip
def test_an_id_is_a_day_that_there_is_in_plain_digits(text: str, sound: bool) -> None:
    """Days of the Gregorian calendar, as ISO 8601 writes them."""
    assert is_ident(text) is sound


# ---- one loader


def test_only_the_store_loads_the_knowledge() -> None:
    for path in sorted(CLI.rglob("*.py")):
        names = {node.id for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.Name)}
        assert ("load_knowledge" in names) == (path.name == "store.py"), path.name


def _modules() -> list[tuple[str, str]]:
    """Every command with its module, as the menus name it."""
    menus = (("", app.MENU), ("knowledge ", knowledge.MENU))
    found = [
        (f"{before}{name}", f"{menu.package}.{module}")
        for before, menu in menus
        for name, (module, _) in menu.commands.items()
    ]
    return [each for each in found if each[0] != "knowledge"]


@pytest.mark.parametrize(("name", "place"), _modules(), ids=[name for name, _ in _modules()])
def test_every_command_that_uses_knowledge_takes_another(name: str, place: str) -> None:
    import importlib

    module = importlib.import_module(place)
    parser = argparse.ArgumentParser()
    module.add_arguments(parser)
    text = Path(str(module.__file__)).read_text("utf-8")
    if "store.knowledge(" in text or "checkout.find(" in text:
        assert "--knowledge" in parser.format_help(), name


@pytest.mark.parametrize("words", [["trace", "LOG"], ["loadtest", "--plan"], ["trim", "--trials", "LOG"]])
def test_knowledge_that_is_not_there_is_said(
    words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "log.csv").write_text("time,frequency\n0,60\n1,60\n")
    given = [str(tmp_path / "log.csv") if word == "LOG" else word for word in words]
    assert main([*given, "--knowledge", str(tmp_path / "none")]) == 2
    assert "no such folder" in capsys.readouterr().err
