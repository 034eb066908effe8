"""`hertzwright knowledge check` and `explain`: which files, what is printed, and what a save sets off."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.workshop import check, checkout, watching
from hertzwright.engine.compiler.reader import read_folder
from hertzwright.engine.compiler.rules import OF_THE_WHOLE
from hertzwright.engine.problems.codes import CODES
from hertzwright.engine.problems.problem import Problem, columns, render

from small_knowledge import FILES, replaced, write

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def standing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A checkout with the small knowledge, stood in."""
    write(tmp_path / "knowledge")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def spoil(folder: Path, file: str, good: str, bad: str) -> None:
    path = folder / "knowledge" / file
    text = path.read_text(encoding="utf-8")
    assert text.count(good) == 1
    path.write_text(text.replace(good, bad), encoding="utf-8")


# ---- which knowledge ---------------------------------------------------------------------------------------------


def test_the_knowledge_stood_in_is_checked_from_anywhere_inside(
    standing: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    assert main(["knowledge", "check"]) == 0
    out, err = capsys.readouterr()
    assert err == "checking knowledge\n"
    assert out == "No problems: 3 causes, 2 checks, 1 complaint, 2 remedies, 1 case.\n"
    monkeypatch.chdir(standing / "knowledge" / "areas")
    assert checkout.find().folder == standing / "knowledge"


def test_without_a_checkout_the_shipped_knowledge_is_checked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    (tmp_path / "areas").mkdir()  # a folder of somebody else
    monkeypatch.chdir(tmp_path)
    assert main(["knowledge", "check"]) == 0
    assert capsys.readouterr().err == "checking the knowledge shipped with this version\n"


@pytest.mark.parametrize("path", ["", "knowledge", "knowledge/areas", "knowledge/areas/linkage.yaml"])
def test_a_path_may_be_the_checkout_a_folder_or_a_file(path: str, standing: Path) -> None:
    found = checkout.find([path or str(standing)])
    assert found.folder.resolve() == (standing / "knowledge").resolve()
    assert found.only == (frozenset({"areas/linkage.yaml"}) if "areas" in path else frozenset())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nowhere.yaml"], "nowhere.yaml: no such file or folder"),
        (["notes.txt"], '"notes.txt" is in no knowledge folder; one holds words.yaml and areas/'),
        (["knowledge", "other"], "other is not in knowledge; give paths of one knowledge at a time"),
        (["--knowledge", "nowhere"], "nowhere: no such folder"),
        (["--watch", "--github"], "--watch goes with text or --json, not with --github"),
    ],
)
def test_what_cannot_be_checked_is_said(words: list[str], said: str, standing: Path, capsys: Captured) -> None:
    (standing / "notes.txt").write_text("x")
    write(standing / "other")
    assert main(["knowledge", "check", *words]) == 2
    assert capsys.readouterr().err.splitlines()[-1] == f"hertzwright: {said}"


# ---- what is printed ---------------------------------------------------------------------------------------------


def test_all_problems_worst_first_each_with_place_line_caret_and_help(standing: Path, capsys: Captured) -> None:
    spoil(standing, "areas/linkage.yaml", "The arm runs out of travel.", "The arm runs out. It stops.")
    spoil(standing, "cases/linkage.yaml", "answer: 64.1 Hz", "answer: 64.1 V")
    spoil(standing, "checks/linkage.yaml", "kind: look", "kind: lok")
    assert main(["knowledge", "check"]) == 1
    out = capsys.readouterr().out.splitlines()
    heads = [line for line in out if re.match(r"\S+:\d+:\d+: ", line)]
    assert [line.split(": ")[0].split(":")[0] for line in heads] == [
        "knowledge/cases/linkage.yaml",
        "knowledge/checks/linkage.yaml",
        "knowledge/areas/linkage.yaml",
    ]
    assert [line.split(": ")[1] for line in heads] == ["error K037", "error K023", "warning K061"]
    for head in heads:
        at = out.index(head)
        assert out[at + 2].strip() == "^"
        assert out[at + 3].startswith("help: ")
    assert out[-1] == "2 errors, 1 warning."
    assert out[-2] == "hertzwright knowledge explain K037 says more about K037."


def test_of_a_file_its_own_problems_are_shown_and_others_counted(standing: Path, capsys: Captured) -> None:
    spoil(standing, "checks/linkage.yaml", "      wide: A wide gap.\n", "")  # breaks what other files say
    assert main(["knowledge", "check", "knowledge/areas/linkage.yaml"]) == 1
    out = capsys.readouterr().out
    assert "knowledge/areas/linkage.yaml:" in out
    assert "knowledge/checks/linkage.yaml:" not in out
    assert out.splitlines()[-1].startswith(
        "1 error, 0 warnings in areas/linkage.yaml. Other files: 2 errors, 0 warning"
    )
    assert main(["knowledge", "check", "knowledge/words.yaml", "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["problems"] == []
    assert (found["errors"], found["other_problems"], found["folder"]) == (3, 3, "knowledge")
    assert main(["knowledge", "check", "knowledge/words.yaml"]) == 1
    assert capsys.readouterr().out.startswith("No problems in words.yaml. Other files: 3 errors, 0 warnings; first: ")


def test_annotations_name_files_from_where_one_stands(standing: Path, capsys: Captured) -> None:
    spoil(standing, "checks/linkage.yaml", "kind: look", "kind: lok")
    assert main(["knowledge", "check", "--github"]) == 1
    assert capsys.readouterr().out.startswith("::error file=knowledge/checks/linkage.yaml,line=30,col=11,title=K023::")


@pytest.mark.parametrize(
    "before", ["plain", "\t", "\u65e5\u672c\u8a9e", "e\u0301", "\uff21\uff22", "x" * 200, "\u65e5" * 120]
)
def test_the_caret_stands_under_its_place(before: str) -> None:
    shown = render(Problem.of("K005", "a.yaml", 1, len(before) + 1, "here"), f"{before}# rest")
    _, line, caret = shown.split("\n")
    under = columns(caret) - 1
    place = next(at for at in range(len(line)) if columns(line[:at]) == under and line[at] == "#")
    assert line[place:].startswith("# rest")


def test_columns_are_those_of_a_terminal() -> None:
    """Against the library that the terminal interface counts with."""
    from wcwidth import wcswidth

    for text in ("abc", "\u65e5\u672c\u8a9e", "e\u0301x", "\uff21", "\u00e9", "\uac00", "caf\u00e9 \u2014 90 \u00b0F"):
        assert columns(text) == wcswidth(text)


# ---- at every save -----------------------------------------------------------------------------------------------


def problem(message: str, line: int, code: str = "K031") -> Problem:
    return Problem.of(code, "a.yaml", line, 1, message)


def test_a_problem_that_only_moved_is_neither_fixed_nor_new() -> None:
    before = [problem("one", 3), problem("two", 5), problem("two", 9)]
    after = [problem("one", 13), problem("two", 15), problem("three", 1)]
    fixed, new = check.compared(before, after)
    assert [each.message for each in fixed] == ["two"]
    assert [each.message for each in new] == ["three"]
    assert check.compared(before, before) == ([], [])


WARNED = "    stop_gap: {wide: usually}\n"


def test_what_is_not_looked_for_while_a_shape_is_wrong_is_not_told_again(
    standing: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    area = standing / "knowledge/areas/linkage.yaml"
    area.write_text(area.read_text().replace(WARNED, '    stop_gap: {wide: "0"}\n'))  # K046, found over the whole
    right = area.read_text()

    def saves(look: object, before: object) -> Iterator[list[str]]:
        for text in (right.replace("title: Rod too short", "titel: Rod too short"), right, right):
            area.write_text(text)
            yield ["areas/linkage.yaml"]
        raise KeyboardInterrupt

    monkeypatch.setattr(watching, "changes", saves)
    assert main(["knowledge", "check", "--watch", "--json"]) == 0
    first, broken, mended = (json.loads(line) for line in capsys.readouterr().out.splitlines())
    assert [one["code"] for one in first["new"]] == ["K046"]
    assert ([one["code"] for one in broken["new"]], broken["fixed"]) == (["K020"], [])
    assert ([one["code"] for one in mended["fixed"]], mended["new"]) == (["K020"], [])


@pytest.mark.parametrize("name", sorted(name for name in OF_THE_WHOLE if CODES[name].bad))
def test_codes_of_the_whole_are_those_not_looked_for_while_a_shape_is_wrong(name: str, tmp_path: Path) -> None:
    code = CODES[name]
    text, _ = replaced(code.file, code.good, code.bad)
    alone = read_folder(write(tmp_path / "a", {code.file: text}))
    assert alone.whole
    assert name in {one.code for one in alone.problems}
    broken = read_folder(write(tmp_path / "b", {code.file: text, "sources.yaml": "sources:\n  a: {titel: T}\n"}))
    assert not broken.whole
    assert not OF_THE_WHOLE & {one.code for one in broken.problems}


def looks(*states: dict[str, tuple[int, int, int]]) -> Iterator[dict[str, tuple[int, int, int]]]:
    yield from states
    while True:
        yield states[-1]


def changed(*states: dict[str, tuple[int, int, int]], count: int = 1) -> tuple[list[list[str]], list[float]]:
    seen, pauses = looks(*states), []
    found = watching.changes(lambda: next(seen), pause=pauses.append)
    return [next(found) for _ in range(count)], pauses


OLD, NEW, NEWER = (1, 10, 1), (2, 11, 2), (3, 12, 3)


def test_a_save_is_told_once_it_has_come_to_rest() -> None:
    found, pauses = changed({"a": OLD}, {"a": OLD}, {"a": NEW}, {"a": NEWER}, {"a": NEWER})
    assert found == [["a"]]
    assert pauses == [watching.PAUSE, watching.REST, watching.REST]


def test_a_file_that_is_away_for_a_moment_is_waited_for() -> None:
    found, _ = changed({"a": OLD, "b": OLD}, {"b": OLD}, {"b": OLD}, {"b": OLD}, {"a": NEW, "b": OLD})
    assert found == [["a"]]


def test_a_file_that_stays_away_is_told_in_the_end_and_one_that_came_back_unchanged_never() -> None:
    found, pauses = changed({"a": OLD, "b": OLD}, {"b": OLD})
    assert found == [["a"]]
    assert pauses.count(watching.REST) == watching.PATIENCE
    found, _ = changed({"a": OLD}, {}, {"a": OLD}, {"a": OLD}, {"a": OLD}, {"a": NEW}, {"a": NEW})
    assert found == [["a"]]


def test_marks_see_renames_and_leave_out_what_editors_put_beside(tmp_path: Path) -> None:
    folder = write(tmp_path)
    before = watching.marks(folder)
    assert set(before) == set(FILES)
    (folder / "areas" / ".linkage.yaml.swp").write_text("x")
    (folder / "areas" / "linkage.yaml~").write_text("x")
    assert watching.marks(folder) == before
    beside = folder / "areas" / "new.tmp"
    beside.write_bytes((folder / "areas/linkage.yaml").read_bytes())
    os.utime(beside, ns=(before["areas/linkage.yaml"][0],) * 2)
    beside.replace(folder / "areas" / "linkage.yaml")
    after = watching.marks(folder)
    assert after != before, "a rename changes the file even where time and size stay"


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_a_real_watch_tells_what_each_save_did_and_ends_with_ctrl_c(standing: Path) -> None:
    command = [sys.executable, "-m", "hertzwright", "knowledge", "check", "--watch"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=standing) as running:
        watchdog = threading.Timer(60, running.kill)
        watchdog.start()
        try:
            assert running.stdout is not None
            assert running.stdout.readline().startswith("No problems: ")
            spoil(standing, "checks/linkage.yaml", "kind: look", "kind: lok")
            said = [running.stdout.readline() for _ in range(7)]
            assert re.fullmatch(r"\d\d:\d\d:\d\d checks/linkage.yaml: new 1\n", said[1])
            assert said[2].startswith("knowledge/checks/linkage.yaml:30:11: error K023: ")
            assert said[-1] == "1 error, 0 warnings.\n"
            running.send_signal(signal.SIGINT)
            assert running.wait(30) == 1, "the status is that of the last check"
            assert running.stderr is not None
            assert "Traceback" not in running.stderr.read()
        finally:
            watchdog.cancel()
            running.kill()


# ---- explain -----------------------------------------------------------------------------------------------------


def test_every_code_is_listed_and_explained(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert main(["knowledge", "explain"]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 40
    assert re.findall(r"^  (K\d+)  ", out, re.MULTILINE) == list(CODES)
    for code in CODES.values():
        assert main(["knowledge", "explain", code.code.lower(), "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        assert (found["title"], found["bad"], found["good"]) == (code.title, code.bad, code.good)
        assert main(["knowledge", "explain", code.code, "--plain"]) == 0
        assert code.title.split()[0] in capsys.readouterr().out
    assert main(["knowledge", "explain", "K999"]) == 2
    assert "no code" in capsys.readouterr().err
