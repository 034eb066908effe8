"""What a command may write where: only regular files, never a job, never unasked, whole or not at all."""

from __future__ import annotations

import io
import os
import stat
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.files import output_file, whole_file
from hertzwright.cli.files.journal import Journal, read
from hertzwright.cli.files.output_file import OutfileError, claimed
from hertzwright.engine.job import Event

FEATURES = {"booster": "none", "rated_kw": 9.0}
EVENTS = (Event("set", features=FEATURES, tolerance="default"), Event("complaint", "hunts_no_load", "present"))
TRIALS = "speed,sensitivity,no_load,full_load,hunting\n0,0,62.9,59.4,steady\n"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"")))
    return tmp_path / "home"


def job(folder: Path) -> Path:
    with Journal.create(folder, "f" * 64, "pump house") as file:
        file.sync(EVENTS)
        return file.path


# ---- one target


def test_a_new_file_is_made_with_the_usual_permissions(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    claimed(str(tmp_path / "new.txt")).put(b"text")
    assert (tmp_path / "new.txt").read_bytes() == b"text"
    mask = os.umask(0)
    os.umask(mask)
    assert stat.S_IMODE((tmp_path / "new.txt").stat().st_mode) == 0o666 & ~mask
    assert "Written: " in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["new.txt"]


def test_a_file_that_is_there_wants_force_and_keeps_its_permissions(tmp_path: Path) -> None:
    path = tmp_path / "old.txt"
    path.write_bytes(b"old")
    path.chmod(0o640)
    with pytest.raises(OutfileError, match=r"is there already; give another name, or --force"):
        claimed(str(path))
    claimed(str(path), force=True).put(b"new")
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_link_stays_and_what_it_leads_to_is_written(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    real, link = tmp_path / "there" / "real.txt", tmp_path / "link.txt"
    real.write_bytes(b"old")
    link.symlink_to(real)
    claimed(str(link), force=True).put(b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"
    real.unlink()
    claimed(str(link)).put(b"again")  # a link that led nowhere
    assert link.is_symlink()
    assert real.read_bytes() == b"again"


@pytest.mark.skipif(sys.platform == "win32", reason="has no such files")
@pytest.mark.parametrize("kind", ["pipe", "device", "link to a device", "folder", "ring"])
def test_what_is_no_regular_file_is_refused_and_stays(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "out"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path = Path(os.devnull)
    elif kind == "link to a device":
        path.symlink_to(os.devnull)
    elif kind == "folder":
        path.mkdir()
    else:
        path.symlink_to(path)
    before = os.lstat(path).st_mode
    with pytest.raises(OutfileError, match=r"no regular file|is a folder|symbolic links") as caught:
        claimed(str(path), force=True)
    assert str(path) in str(caught.value)
    assert os.lstat(path).st_mode == before


def test_a_job_is_known_by_what_it_holds(tmp_path: Path) -> None:
    path = job(tmp_path / "elsewhere")
    data = path.read_bytes()
    for name, content in (
        ("notes.txt", data), ("cut.txt", data[:-40]), ("no head.txt", data.split(b"\n", 1)[1]),
        ("broken head.txt", b"x" + data),
    ):  # fmt: skip
        copy = tmp_path / name
        copy.write_bytes(content)
        with pytest.raises(OutfileError, match="is a job file"):
            claimed(str(copy), force=True)
        assert copy.read_bytes() == content


def test_what_lies_among_the_jobs_is_known_by_its_place(tmp_path: Path, home: Path) -> None:
    path = job(home / "jobs")
    (home / "trainees").mkdir()
    trainee, lock = home / "trainees" / "kim.json", Path(f"{path}.lock")
    trainee.write_text("{}")
    lock.touch()
    path.write_bytes(b"\x00" * 50)  # nothing tells that this was a job but its place
    link = tmp_path / "link.html"
    link.symlink_to(path)
    for target in (path, trainee, lock, link, home / "jobs" / "2026-11-25-zz.jsonl"):
        with pytest.raises(OutfileError, match="lies among the jobs and trainees kept here"):
            claimed(str(target), force=True)
    with pytest.raises(OutfileError, match="lies among the jobs"):
        claimed(str(path), force=True, folder=home / "jobs")
    claimed(str(home / "jobs" / "report.html")).put(b"new")


def test_what_is_read_is_not_written(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("1,60")
    with pytest.raises(OutfileError, match="is the file that is read"):
        claimed(str(tmp_path / "log.csv"), force=True, reads=[tmp_path / "log.csv"])


@pytest.mark.parametrize(("answer", "done"), [("yes\n", True), ("\n", False), ("no\n", False), ("", False)])
def test_at_a_terminal_it_asks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: str, done: bool) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    path, asked = tmp_path / "old.txt", Terminal()
    path.write_bytes(b"old")
    monkeypatch.setattr(sys, "stdin", Terminal(answer))
    monkeypatch.setattr(sys, "stderr", asked)
    if done:
        claimed(str(path)).put(b"new")
    else:
        with pytest.raises(OutfileError, match="is there already"):
            claimed(str(path))
    assert "Write over it? Type yes: " in asked.getvalue()
    assert path.read_bytes() == (b"new" if done else b"old")


def test_a_name_taken_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    target = claimed(str(tmp_path / "new.txt"))
    (tmp_path / "new.txt").write_bytes(b"another's")
    with pytest.raises(OutfileError, match="is there already"):
        target.put(b"mine")
    assert (tmp_path / "new.txt").read_bytes() == b"another's"


@pytest.mark.parametrize("fails", ["write", "fsync", "replace"])
def test_a_write_that_fails_leaves_the_old_file_and_nothing_beside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails: str
) -> None:
    path = tmp_path / "old.txt"
    path.write_bytes(b"old")
    target = claimed(str(path), force=True)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(whole_file.os, fails, full)
        with pytest.raises(OutfileError, match="cannot be written: No space left on device"):
            target.put(b"new")
    assert path.read_bytes() == b"old"
    assert [each.name for each in tmp_path.iterdir()] == ["old.txt"]


def test_it_is_on_the_disk_before_it_is_in_its_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    for name in ("fsync", "replace", "link"):
        real: Callable[..., object] = getattr(os, name)

        def noted(*given: object, name: str = name, real: Callable[..., object] = real) -> object:
            done.append(name)
            return real(*given)

        monkeypatch.setattr(whole_file.os, name, noted)
    claimed(str(tmp_path / "a")).put(b"new")
    assert done[:2] == ["fsync", "link"]
    done.clear()
    claimed(str(tmp_path / "a"), force=True).put(b"newer")
    assert done[:2] == ["fsync", "replace"]


# ---- every command that writes


def commands(folder: Path) -> dict[str, list[str]]:
    trials, log = folder / "trials.csv", folder / "log.csv"
    trials.write_text(TRIALS)
    log.write_text("time,frequency\n" + "".join(f"{n / 5},{60 + (n % 3) / 10}\n" for n in range(300)))
    return {
        "report html": ["report", "--html"],
        "report markdown": ["report", "--markdown"],
        "chart html": ["chart", "hunts_no_load", "--depth", "1", "--html"],
        "chart svg": ["chart", "hunts_no_load", "--depth", "1", "--svg"],
        "export": ["jobs", "--export", "all"],
        "trim": ["trim", "--trials", str(trials), "--facts"],
        "trace": ["trace", str(log), "--svg"],
        "draw": ["knowledge", "draw", "linkage", "--out"],
    }


@pytest.mark.skipif(sys.platform == "win32", reason="has no pipes and links of the kind")
@pytest.mark.parametrize(
    "name",
    [
        "report html",
        "chart svg",
        "export",
        "trim",
        *(pytest.param(name, marks=pytest.mark.nightly) for name in ("report markdown", "chart html", "trace", "draw")),
    ],
)
def test_every_command_writes_by_the_same_rules(
    name: str, tmp_path: Path, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = commands(tmp_path)[name]
    path = job(home / "jobs")
    before = path.read_bytes()
    out, copy, pipe = tmp_path / "out", tmp_path / "copy", tmp_path / "pipe"
    copy.write_bytes(before)
    assert main([*words, str(out)]) in (0, 1), capsys.readouterr().err
    first = out.read_bytes()
    assert first
    out.write_bytes(b"mine")
    assert main([*words, str(out)]) == 2
    assert "is there already; give another name, or --force" in capsys.readouterr().err
    assert out.read_bytes() == b"mine"
    link = tmp_path / "link"
    link.symlink_to(out)
    assert main([*words, str(link), "--force"]) in (0, 1)
    assert out.read_bytes() == first
    assert link.is_symlink()
    os.mkfifo(pipe)
    for wrong in (path, copy, pipe, Path(os.devnull), tmp_path):
        assert main([*words, str(wrong), "--force"]) == 2
        assert "Traceback" not in capsys.readouterr().err
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert path.read_bytes() == copy.read_bytes() == before
    assert not read(path).damage


def test_nothing_else_in_the_terminal_writes_files() -> None:
    """Files are written in the few places that are meant to: elsewhere, `output_file` and `whole_file` do it."""
    folder = Path(output_file.__file__).parent.parent
    own = {"files/whole_file.py", "files/journal.py"}
    # In temporary folders of their own.
    rooms = {"workshop/job_case.py", "workshop/new.py", "workshop/revision.py", "workshop/tally.py"}
    for path in sorted(folder.rglob("*.py")):
        text = path.read_text("utf-8")
        name = path.relative_to(folder).as_posix()
        if name not in rooms:
            assert ".write_text(" not in text, name
            assert ".write_bytes(" not in text, name
        if name not in own:
            assert "os.replace(" not in text, name
            assert "mkstemp(" not in text, name
            assert 'open("xb")' not in text, name
