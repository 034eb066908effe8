"""A trainee's file: written whole, never lost, and what was missed comes back sooner."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from hertzwright.cli.training import progress
from hertzwright.cli.training.progress import (
    DamagedError,
    KeptDrill,
    KeptUnit,
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
    assert json.loads(path.read_text("utf-8"))["version"] == 2
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


# ---- what comes back


DAY = date(2026, 3, 2)


def on(cause: str, days: int, missed: bool = False, hints: int = 0) -> KeptDrill:
    at = datetime.combine(DAY + timedelta(days), time(18), UTC).isoformat()
    return replace(kept(cause, missed), at=at, hints=hints)


def test_what_was_found_comes_back_after_days_that_grow() -> None:
    found, day, waits = TraineeProgress("kim"), 0, []
    for _ in range(5):
        found = replace(found, drills=(*found.drills, on("a", day)))
        back = found.comes_back("a")
        assert back is not None
        waits.append((back - DAY).days - day)
        assert "a" not in found.due(back - timedelta(1))
        assert found.due(back) == ("a",)
        day = (back - DAY).days
    assert waits == sorted(waits)
    assert waits[-1] > 5 * waits[0]


def test_what_was_missed_is_due_at_once_and_until_it_is_found() -> None:
    missed = TraineeProgress("kim", (on("a", 0, missed=True),))
    assert missed.due(DAY) == ("a",)
    assert missed.comes_back("a") is None
    found = replace(missed, drills=(*missed.drills, on("a", 0)))
    assert found.due(DAY) == ()
    assert found.due(DAY + timedelta(2)) == ("a",)


def test_hints_bring_it_back_sooner() -> None:
    alone = TraineeProgress("kim", (on("a", 0), on("a", 3))).comes_back("a")
    helped = TraineeProgress("kim", (on("a", 0, hints=1), on("a", 3, hints=2))).comes_back("a")
    assert alone is not None
    assert helped is not None
    assert helped < alone


def test_the_most_forgotten_is_dealt_first_and_in_three_drills_of_five() -> None:
    wanted = [
        TraineeProgress(f"trainee {number}", (on("a", 0, True), on("b", 1))).wanted(DAY + timedelta(9))[1]
        for number in range(400)
    ]
    assert set(wanted) == {"", "a"}
    assert 0.5 < wanted.count("a") / 400 < 0.7


def test_the_next_drill_is_the_same_on_every_machine() -> None:
    found = TraineeProgress("kim", (on("a", 0, True),))
    assert found.wanted(DAY) == TraineeProgress("kim", (on("a", 0, True),)).wanted(DAY)
    assert TraineeProgress("kim").wanted(DAY)[0] != TraineeProgress("lee").wanted(DAY)[0]


def test_a_file_of_the_first_form_is_read_and_its_drills_without_a_day_are_long_ago(tmp_path: Path) -> None:
    path = path_of(tmp_path, "kim")
    drill = {key: value for key, value in asdict(kept("linkage_worn")).items() if key != "at"}
    path.write_text(json.dumps({"version": 1, "name": "kim", "drills": [drill]}), "utf-8")
    found = read(path, "kim")
    assert (found.drills[0].at, found.units) == ("", ())
    assert found.due(DAY) == ("linkage_worn",)
    add(path, "kim", KeptUnit("booster_off_and_on", 2, 3, "2026-03-02T18:00:00+00:00"))
    after = read(path, "kim")
    assert after.drills == found.drills
    assert [each.unit for each in after.units] == ["booster_off_and_on"]


def test_units_are_kept_beside_drills_and_damage_in_them_is_found(tmp_path: Path) -> None:
    path = path_of(tmp_path, "kim")
    add(path, "kim", kept("linkage_worn"))
    found = add(path, "kim", KeptUnit("what_the_governor_does", 3, 3, "2026-03-02T18:00:00+00:00"))
    assert read(path, "kim") == found
    path.write_text(path.read_text("utf-8").replace('"right": 3', '"right": 4'), "utf-8")
    with pytest.raises(DamagedError, match="4 of 3 right"):
        read(path, "kim")


def test_everybody_is_listed_and_what_cannot_be_read_is_said(tmp_path: Path) -> None:
    assert progress.listed(tmp_path / "none") == ((), ())
    add(path_of(tmp_path, "kim"), "kim", kept("a"))
    add(path_of(tmp_path, "lee"), "lee", kept("a"))
    path_of(tmp_path, "max").write_text("{", "utf-8")
    found, wrong = progress.listed(tmp_path)
    assert [each.name for each in found] == ["kim", "lee"]
    assert len(wrong) == 1
