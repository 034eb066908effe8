"""`hertzwright knowledge new`: a skeleton in the right place, nothing else touched, and what is open is named."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.engine.compiler import schema
from hertzwright.engine.compiler.reader import read_folder

from small_knowledge import FILES, write

Captured = pytest.CaptureFixture[str]
RETIRED = "    retired: {since: 2026-01-31, reason: One was enough.}\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The small knowledge, in a checkout that is stood in."""
    monkeypatch.chdir(tmp_path)
    return write(tmp_path / "knowledge")


KINDS = [
    (["cause", "rod_bent", "--area", "linkage"], "areas/linkage.yaml", "area", "cause"),
    (["remedy", "straighten_rod", "--for", "rod_long"], "areas/linkage.yaml", "area", "remedy"),
    (["check", "rod_look", "--area", "linkage"], "checks/linkage.yaml", "checks", "check"),
    (["case", "bent_rod", "--for", "rod_long"], "cases/linkage.yaml", "cases", "case"),
]


@pytest.mark.parametrize(("words", "file", "kind", "item"), KINDS, ids=[words[0] for words, *_ in KINDS])
def test_a_skeleton_is_added_and_every_other_byte_stays(
    words: list[str], file: str, kind: str, item: str, folder: Path, capsys: Captured
) -> None:
    before = (folder / file).read_bytes()
    assert main(["knowledge", "new", *words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    after = (folder / file).read_bytes()
    block = ("\n".join(told["skeleton"]) + "\n").encode()
    assert after.count(block) == 1
    assert after.replace(block, b"") == before
    assert told["file"] == file
    lines = after.decode().splitlines()
    assert lines[told["line"] - 1] == f"  {words[1]}:"
    # Every needed key is there, in order, and those that wait are exactly the problems that checking finds.
    part = schema.schema(kind)["$defs"][item]
    keys = [match[1] for line in told["skeleton"] if (match := re.match(r"    (\w+):", line))]
    assert keys == [key for key in part["properties"] if key in part["required"]]
    found = read_folder(folder).problems
    assert {problem.code for problem in found} <= {"K025", "K051"}
    assert [problem.line for problem in sorted(found, key=lambda one: one.line)] == [
        one["line"] for one in told["open"]
    ]
    assert {problem.file for problem in found} == {file}
    # And the helps go with one command, leaving lines without comments.
    assert main(["knowledge", "tidy"]) == 0
    assert "#?" not in (folder / file).read_text()


def test_a_skeleton_that_is_filled_in_leaves_no_problem(folder: Path) -> None:
    path = folder / "areas/linkage.yaml"
    assert main(["knowledge", "new", "cause", "rod_bent", "--area", "linkage"]) == 0
    filled = {
        "title": "Rod bent",
        "how_common": "almost_never",
        "brief": "The rod is short by its bend.",
        "shows": "\n      stop_gap: {wide: sometimes}\n      frequency: {low: sometimes, high: sometimes}",
        "sources": "[from memory]",
    }
    text = path.read_text()
    for key, value in filled.items():
        head, _, tail = text.partition("  rod_bent:\n")
        text = head + "  rod_bent:\n" + tail.replace(f"    {key}:\n", f"    {key}: {value}\n", 1)
    path.write_text(text)
    assert {problem.code for problem in read_folder(folder).problems} == {"K043"}, "only the remedy is missing"
    assert main(["knowledge", "tidy"]) == 0
    path.write_text(path.read_text().replace("{rod_long: usually, rod", "{rod_long: usually, rod_bent: usually, rod"))
    assert read_folder(folder).problems == ()


def test_windows_line_ends_stay(folder: Path) -> None:
    path = folder / "checks/linkage.yaml"
    before = path.read_text().replace("\n", "\r\n").encode()
    path.write_bytes(before)
    assert main(["knowledge", "new", "check", "rod_look", "--area", "linkage"]) == 0
    after = path.read_bytes()
    assert after.startswith(before)
    assert after.count(b"\n") == after.count(b"\r\n")


def test_a_file_without_a_last_line_end_gets_one(folder: Path) -> None:
    path = folder / "checks/linkage.yaml"
    path.write_text(FILES["checks/linkage.yaml"].rstrip("\n"))
    assert main(["knowledge", "new", "check", "rod_look", "--area", "linkage"]) == 0
    assert path.read_text().startswith(FILES["checks/linkage.yaml"] + "  rod_look:\n")


def test_the_first_item_of_an_area_gets_a_file(folder: Path) -> None:
    (folder / "cases/linkage.yaml").unlink()
    assert main(["knowledge", "new", "case", "bent_rod", "--area", "linkage"]) == 0
    text = (folder / "cases/linkage.yaml").read_text()
    assert text.startswith("# yaml-language-server: $schema=../editor/cases.json\narea: linkage\ncases:\n  bent_rod:\n")


def test_a_dry_run_shows_the_lines_and_writes_nothing(folder: Path, capsys: Captured) -> None:
    before = (folder / "areas/linkage.yaml").read_bytes()
    assert main(["knowledge", "new", "cause", "rod_bent", "--area", "linkage", "--dry-run"]) == 0
    assert "+  rod_bent:\n" in capsys.readouterr().out
    assert (folder / "areas/linkage.yaml").read_bytes() == before


def test_what_to_fill_in_and_what_to_run_next_is_said_at_40_columns(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert main(["knowledge", "new", "cause", "rod_bent", "--area", "linkage"]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 40
    said = " ".join(out.split())
    assert "knowledge/areas/linkage.yaml:" in said
    assert "how_common" in said
    for command in ("knowledge check", "knowledge tidy", "knowledge new remedy ID --for rod_bent", "knowledge cases"):
        assert command in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["cause", "Rod-Bent", "--area", "linkage"], '"Rod-Bent" is no id; write rod_bent'),
        (["cause", "rod__", "--area", "linkage"], '"rod__" is no id; write rod'),
        (
            ["cause", "rod_long", "--area", "linkage"],
            'the cause "rod_long" is there already: knowledge/areas/linkage.yaml:5',
        ),
        (["remedy", "floats_high", "--area", "linkage"], 'the complaint "floats_high" is there already'),
        (["cause", "speed_high", "--area", "linkage"], 'the cause "speed_high" was retired on 2026-01-31'),
        (["cause", "rod_bent", "--area", "likage"], 'no area "likage"; did you mean "linkage"?'),
        (["cause", "rod_bent"], "which area? perhaps --area linkage; there are linkage"),
        (["cause", "quite_other"], "which area? give --area AREA; there are linkage"),
        (["case", "bent", "--for", "rod_lnog"], 'no cause in use is named "rod_lnog"; did you mean "rod_long"?'),
    ],
)
def test_what_cannot_be_begun_is_said_and_nothing_written(
    words: list[str], said: str, folder: Path, capsys: Captured
) -> None:
    path = folder / "areas/linkage.yaml"
    at = "    title: Speed set too high\n"
    path.write_text(path.read_text().replace(at, at + RETIRED))
    before = {each: each.read_bytes() for each in folder.rglob("*.yaml")}
    assert main(["knowledge", "new", *words]) == 2
    assert said in capsys.readouterr().err
    assert {each: each.read_bytes() for each in folder.rglob("*.yaml")} == before


@pytest.mark.parametrize("text", ["area: linkage\nchecks: {}\n", "area: linkage\nchecks: {a: {title: b}}\n", "a: ["])
def test_a_file_without_a_place_for_it_is_refused(text: str, folder: Path, capsys: Captured) -> None:
    (folder / "checks/linkage.yaml").write_text(text)
    assert main(["knowledge", "new", "check", "rod_look", "--area", "linkage"]) == 2
    assert "checks/linkage.yaml" in capsys.readouterr().err
    assert (folder / "checks/linkage.yaml").read_text() == text


def test_the_shipped_knowledge_gets_nothing_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["knowledge", "new", "cause", "rod_bent", "--area", "linkage"]) == 2
    assert "is not changed" in capsys.readouterr().err
    assert main(["knowledge", "new", "cause", "rod_bent", "--area", "linkage", "--dry-run"]) == 0
