"""A trainee's file: written whole, never lost, and what was missed comes back sooner."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from hertzwright.cli.training import progress
from hertzwright.cli.training.progress import (
    DamagedError,
    KeptDrill,
    ProgressError,
    TraineeProgress,
    add,
    path_of,
    read,
    set_aside,
)


def kept(cause: str, missed: bool = False) -> KeptDrill:
    return KeptDrill(
        "7",
        1,
        (cause,),
        (cause,) if missed else (),
        "given up" if missed else "fixed",
        30.0,
        20.0,
        1,
        0,
        ("rule",),
        "2026-11-25T10:00:00+00:00",
    )


def test_what_is_written_is_read_again(tmp_path: Path) -> None:
    path = path_of(tmp_path / "trainees", "kim")
    assert path.name == "kim.json"
    assert read(path, "kim") == TraineeProgress("kim")
    add(path, "kim", kept("linkage_worn"))
    found = add(path, "kim", kept("linkage_binding", missed=True))
    assert read(path, "kim") == found
    assert [drill.truth for drill in found.drills] == [("linkage_worn",), ("linkage_binding",)]
    assert json.loads(path.read_text("utf-8"))["version"] == 1
    assert not [left for left in path.parent.iterdir() if left.name.endswith(".tmp") or left.name.startswith(".")]


@pytest.mark.parametrize("name", ["../../etc/passwd", "a/b", "Jörg", "CON", "x" * 300, ".", "\x1b[2J", "Kim"])
def test_any_name_is_a_file_in_the_folder(name: str, tmp_path: Path) -> None:
    path = path_of(tmp_path, progress.clean_name(name))
    assert path.parent == tmp_path
    assert len(path.name) < 80
    assert path.name.isascii()
    add(path, name, kept("linkage_worn"))
    assert list(tmp_path.glob("*.json")) == [path]


def test_names_that_look_alike_have_files_of_their_own() -> None:
    names = ["kim", "Kim", "kim.", "k im", "KIM"]
    assert len({path_of(Path("x"), name) for name in names}) == len(names)


def test_an_empty_name_is_refused() -> None:
    with pytest.raises(ProgressError, match="empty"):
        progress.clean_name("  ")


@pytest.mark.parametrize(
    "body", ["", "{", "[]", '{"version": 1}', '{"version": 1, "name": "a", "drills": [{"seed": 1}]}', "\x00", "[" * 5000,
             '{"version": 1, "name": "a", "drills": [{"seed": "1", "level": 1, "truth": "abc", "missed": [], "end": "", "minutes": 1, "engine_minutes": 1, "hints": 0, "unsafe": 0, "broken": []}]}'],
)  # fmt: skip
def test_a_damaged_file_is_set_aside_and_kept(body: str, tmp_path: Path) -> None:
    path = path_of(tmp_path, "kim")
    path.write_text(body, "utf-8")
    with pytest.raises(DamagedError, match=r"kim\.json: damaged"):
        read(path, "kim")
    first = set_aside(path)
    assert first.read_text("utf-8") == body
    add(path, "kim", kept("linkage_worn"))
    path.write_text("again", "utf-8")
    assert set_aside(path) != first
    assert first.read_text("utf-8") == body


def test_a_file_of_a_later_form_is_left_alone(tmp_path: Path) -> None:
    path = path_of(tmp_path, "kim")
    path.write_text('{"version": 99, "name": "kim", "drills": []}', "utf-8")
    with pytest.raises(ProgressError, match="later Hertzwright") as found:
        read(path, "kim")
    assert not isinstance(found.value, DamagedError)
    with pytest.raises(ProgressError):
        add(path, "kim", kept("linkage_worn"))
    assert "99" in path.read_text("utf-8")


def test_a_write_that_fails_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = path_of(tmp_path, "kim")
    add(path, "kim", kept("linkage_worn"))
    before = path.read_bytes()

    def fails(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fails)
    with pytest.raises(ProgressError, match="No space left"):
        add(path, "kim", kept("linkage_binding"))
    assert path.read_bytes() == before
    assert not list(tmp_path.glob(".kim*"))


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "trainees").write_text("a file", "utf-8")
    with pytest.raises(ProgressError, match="cannot be written"):
        add(path_of(tmp_path / "trainees", "kim"), "kim", kept("linkage_worn"))


# ---- the rule of the boxes


def test_boxes_go_up_by_one_and_back_to_the_first() -> None:
    found = TraineeProgress(
        "kim", (kept("a"), kept("a"), kept("b", missed=True), kept("a"), kept("a"), kept("a"), kept("a"))
    )
    assert found.boxes == {"a": (5, 7), "b": (1, 3)}
    assert TraineeProgress("kim", (*found.drills, kept("a", missed=True))).boxes["a"] == (1, 8)


def test_a_cause_is_due_after_the_drills_of_its_box() -> None:
    others = [kept(name) for name in "pqrstuvwxyz"]
    for number in range(len(others) + 1):
        missed = TraineeProgress("kim", (kept("a", missed=True), *others[:number]))
        cured = TraineeProgress("kim", (kept("a"), *others[:number]))
        assert "a" in missed.due  # box 1: due in the very next drill
        assert ("a" in cured.due) == (number >= 1)  # box 2: after two
        twice = TraineeProgress("kim", (kept("a"), kept("a"), *others[:number]))
        assert ("a" in twice.due) == (number >= 3)  # box 3: after four


def test_what_waited_longest_is_dealt_first_and_in_three_drills_of_five() -> None:
    wanted = [
        TraineeProgress(f"trainee {number}", (kept("a", True), kept("b", True))).wanted()[1] for number in range(400)
    ]
    assert set(wanted) == {"", "a"}
    assert 0.5 < wanted.count("a") / 400 < 0.7


def test_what_was_missed_comes_back_sooner_than_what_was_cured() -> None:
    def drills_until(missed: bool, trainee: int) -> int:
        """Drills until the cause is asked for again, where every other drill deals some other cause and cures it."""
        found = TraineeProgress(f"trainee {trainee}", (kept("a", missed),))
        for number in range(1, 60):
            wanted = found.wanted()[1]
            if wanted == "a":
                return number
            found = TraineeProgress(found.name, (*found.drills, kept(wanted or f"other {number}")))
        return 60

    missed = [drills_until(True, number) for number in range(200)]
    cured = [drills_until(False, number) for number in range(200)]
    assert all(one <= other for one, other in zip(missed, cured, strict=True))
    assert sum(missed) / 200 < sum(cured) / 200 - 0.5
    assert max(missed) < 20


def test_the_next_drill_is_the_same_on_every_machine() -> None:
    found = TraineeProgress("kim", (kept("a", True),))
    assert found.wanted() == TraineeProgress("kim", (kept("a", True),)).wanted()
    assert found.wanted() == (found.wanted()[0], found.wanted()[1])
    assert TraineeProgress("kim").wanted()[0] != TraineeProgress("lee").wanted()[0]


def test_everybody_is_listed_and_what_cannot_be_read_is_said(tmp_path: Path) -> None:
    assert progress.listed(tmp_path / "none") == ((), ())
    add(path_of(tmp_path, "kim"), "kim", kept("a"))
    add(path_of(tmp_path, "lee"), "lee", kept("a"))
    path_of(tmp_path, "max").write_text("{", "utf-8")
    found, wrong = progress.listed(tmp_path)
    assert [each.name for each in found] == ["kim", "lee"]
    assert len(wrong) == 1
