"""Job files that are cut, flipped, mixed up or hostile, disks that are full and folders that take nothing: what is
readable is true, what is not is told, and nobody believes an answer kept that is not."""

from __future__ import annotations

import contextlib
import errno
import io
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hertzwright.cli.app import main
from hertzwright.cli.files import job_file, journal
from hertzwright.cli.files.journal import Journal, listed, read
from hertzwright.engine.job import Event, JobError

from mutations import POWERLESS, limited
from small_knowledge import FILES, write

posix = pytest.mark.skipif(sys.platform == "win32", reason="needs the processes and files of POSIX")
EVENTS = (
    Event("set", features={"booster": "none", "cylinders": 2.0}, tolerance="default"),
    Event("complaint", "floats_high", "present"),
    Event("check", "frequency", "64.1 Hz"),
    Event("note", answer="Rod looks bent \u00e4 \u202e \x1b[31m"),
    Event("remedy", "set_rod", "not cured"),
    Event("step_back"),
    Event("check", "stop_gap", "none"),
)
# What a report asks of every knowledge base.
MORE = "".join(
    f"""\
  {name}:
    title: {name.title().replace("_", " ")}
    brief: From the nameplate.
    ask: What is it?
    kind: number
    default: "{usual}"
    range: ["0", "9000"]
"""
    for name, usual in (("rated_kw", 9), ("volts", 240), ("phases", 1), ("altitude", 500), ("temperature", 70))
)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the small knowledge, and one whole job."""
    folder = tmp_path_factory.mktemp("journal")
    write(folder / "knowledge", {"features.yaml": FILES["features.yaml"] + MORE})
    with Journal.create(folder / "jobs", "f" * 64, "pump house") as file:
        file.sync(EVENTS)
    return folder


@pytest.fixture(scope="module")
def whole(home: Path) -> bytes:
    return listed(home / "jobs")[0].read_bytes()


def run(home: Path, *words: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    where = ["--folder", str(home), "--knowledge", str(home / "knowledge"), "--plain"]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main([*words, *where])
    return status, out.getvalue(), err.getvalue()


def visible(text: str) -> bool:
    return all(line.isprintable() for line in text.split("\n"))


def sound(path: Path, data: bytes, others: tuple[Event, ...] = ()) -> int:
    """Read a damaged file: what is read is a beginning of what was written, and the rest is told. How many events."""
    path.write_bytes(data)
    try:
        record = read(path)
    except JobError as error:
        assert path.name in str(error)
        return 0
    assert record.events == EVENTS[: len(record.events)] or record.events == others[: len(record.events)]
    if len(record.events) < len(EVENTS) and record.sound < len(data):
        assert record.damage
        assert visible(record.damage)
    assert record.sound <= len(data)
    return len(record.events)


def flipped(data: bytes, place: int, bit: int) -> bytes:
    return data[:place] + bytes([data[place] ^ 1 << bit]) + data[place + 1 :]


@given(st.data())
def test_a_cut_or_flipped_or_holed_file_gives_a_true_beginning(home: Path, whole: bytes, data: st.DataObject) -> None:
    damaged = whole
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, max(0, len(damaged) - 1)))
        kind = data.draw(st.sampled_from(("cut", "flip", "zeros", "out", "twice", "noise")))
        size = data.draw(st.integers(1, 200))
        if kind == "cut":
            damaged = damaged[:place]
        elif kind == "flip" and damaged:
            damaged = flipped(damaged, place, data.draw(st.integers(0, 7)))
        elif kind == "zeros":  # what a file system leaves where it knew the length and not the content
            damaged = damaged[:place] + b"\0" * size + damaged[place + size :]
        elif kind == "out":
            damaged = damaged[:place] + damaged[place + size :]
        elif kind == "twice":
            damaged = damaged[: place + size] + damaged[place:]
        else:
            damaged = damaged[:place] + data.draw(st.binary(max_size=20)) + damaged[place:]
    sound(home / "2026-01-01-a.jsonl", damaged)


def test_every_cut_gives_every_whole_line_before_it(home: Path, whole: bytes) -> None:
    head = whole.index(b"\n") + 1
    path = home / "2026-01-01-a.jsonl"
    for end in range(head, len(whole) + 1):
        assert sound(path, whole[:end]) == min(whole[:end].count(b"\n") - 1, len(EVENTS))
        assert bool(read(path).damage) is (end < len(whole))  # also where it ends with a line


def test_every_bit_of_an_event_line_is_guarded(home: Path, whole: bytes) -> None:
    first = whole.index(b"\n") + 1
    line = whole.index(b"64.1") - 5
    for place in [*range(first, first + 40), *range(line, line + 40)]:
        for bit in range(8):
            assert sound(home / "2026-01-01-a.jsonl", flipped(whole, place, bit)) == whole[: place + 1].count(
                b"\n"
            ) - 1 - (whole[place] == 10)


@given(st.permutations(range(len(EVENTS) + 1)))
def test_lines_in_another_order_are_not_believed(home: Path, whole: bytes, order: list[int]) -> None:
    lines = journal.without_end(whole).splitlines(keepends=True)
    right = next((place for place, line in enumerate(order) if place != line), len(lines))
    got = sound(home / "2026-01-01-a.jsonl", b"".join(lines[place] for place in order))
    assert got == max(0, right - 1) if right else got == 0


@given(st.lists(st.booleans(), min_size=4, max_size=14), st.integers(0, 60))
def test_lines_of_two_writers_mixed_give_what_one_of_them_wrote_first(
    home: Path, whole: bytes, turns: list[bool], torn: int
) -> None:
    others = (EVENTS[0], *(Event("note", answer=f"other {number}") for number in range(6)))
    other = [job_file.sealed({**event.as_dict(), "at": "x", "seq": seq}) for seq, event in enumerate(others, 1)]
    head, *mine = journal.without_end(whole).splitlines(keepends=True)
    data, theirs = head + mine[0], other[1:]
    own = mine[1:]
    for turn in turns:
        line = (own if turn else theirs)[:1]
        del (own if turn else theirs)[:1]
        data += b"".join(line)
    data = data[: len(data) - torn] if torn < len(data) else data
    path = home / "2026-01-01-a.jsonl"
    path.write_bytes(data)
    record = read(path)
    for number, event in enumerate(record.events):
        assert event in (EVENTS[number], others[number])  # each where its writer wrote it, under its own number
    assert record.damage or record.sound == len(data)


FOREIGN = (
    b"null", b"[]", b"3", b'"x"', b"{}", b"NaN", b'{"seq":1}', b'{"kind":3}', b'{"seq":' + b"9" * 5000 + b"}",
    b'{"a":' * 3000 + b"1" + b"}" * 3000, b"[" * 100_000, b'{"kind":"note","kind":"note"}', b'{"seq":1e400}', b"\xff\xfe",
    b'{"seq":true,"kind":"note","answer":"\\ud800"}', b"\xef\xbb\xbf{}", b" ", b"\r", b"\0" * 4096,
)  # fmt: skip


@pytest.mark.parametrize("line", FOREIGN)
@pytest.mark.parametrize("at", [0, 1, 4, 8])
def test_a_foreign_line_is_damage_wherever_it_stands(home: Path, whole: bytes, line: bytes, at: int) -> None:
    lines = whole.splitlines(keepends=True)
    data = b"".join([*lines[:at], line + b"\n", *lines[at:]])
    assert sound(home / "2026-01-01-a.jsonl", data) == max(0, at - 1)


values = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8)),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=4), inner, max_size=3)),
    max_leaves=6,
)
TOLD = {
    "kind": st.one_of(
        st.sampled_from(("set", "note", "check", "complaint", "remedy", "proof", "step_back", "\x1b[2J")), values
    ),
    "id": st.one_of(st.sampled_from(("frequency", "floats_high", "set_rod", "\x1b]0;x\x07")), values),
    "answer": st.one_of(
        st.sampled_from(("64.1 Hz", "present", "cured", "\x1b[2J\x9b\u202e", "9" * 400 + " Hz")), values
    ),
    "features": st.one_of(st.dictionaries(st.sampled_from(("booster", "cylinders", "\x1b")), values), values),
    "tolerance": values,
    "at": st.one_of(st.just("\x1b[2J"), values),
    "seq": st.one_of(st.just(2), values),
}


@settings(max_examples=20 if settings.default.max_examples < 100 else 200)
@given(st.fixed_dictionaries({}, optional=TOLD), st.fixed_dictionaries({}, optional={
    "format": st.sampled_from((1, 1, 1, 2, "1", None, "\x1b")), "knowledge": st.one_of(st.just("\x1b[2J\x9b"), values),
    "set": st.one_of(st.just("\u202e\x07"), values), "created": st.one_of(st.just("\x1b"), values),
}))  # fmt: skip
def test_a_well_made_line_with_any_content_is_an_event_or_an_error(
    home: Path, event: dict[str, object], head: dict[str, object]
) -> None:
    """Somebody can compute checksums: then commands still end as they should, and nothing moves a cursor."""
    where = home / "hostile"
    (where / "jobs").mkdir(parents=True, exist_ok=True)
    shutil.copytree(home / "knowledge", where / "knowledge", dirs_exist_ok=True)
    path = where / "jobs" / "2026-01-01-a.jsonl"
    lines = [
        {"format": 1, "knowledge": "f", "set": "x", "created": "2026-01-01T08:00:00+00:00", **head},
        {**EVENTS[0].as_dict(), "at": "", "seq": 1},
        {"kind": "note", "answer": "x", "at": "2026-01-01T08:00:00+00:00", "seq": 2, **event},
    ]
    path.write_bytes(b"".join(job_file.sealed(line) for line in lines))
    for words in (["jobs"], ["resume", "2026-01-01-a", "--show"], ["report", "2026-01-01-a"], ["jobs", "--set", "x"]):
        status, out, err = run(where, *words)
        assert status in (0, 2), words
        assert visible(out), words
        assert visible(err), words


@posix
def test_a_pipe_or_a_folder_among_the_jobs_holds_nothing_up(home: Path, tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    shutil.copytree(home / "knowledge", tmp_path / "knowledge")
    os.mkfifo(tmp_path / "jobs" / "2026-01-01-a.jsonl")
    (tmp_path / "jobs" / "2026-01-01-b.jsonl").mkdir()
    (tmp_path / "jobs" / "2026-01-01-c.jsonl").symlink_to("2026-01-01-c.jsonl")
    status, out, _ = run(tmp_path, "jobs")
    assert status == 0
    assert " ".join(out.split()).count("cannot be read:") == 3
    assert run(tmp_path, "start", "--name", "x", "--acknowledge", "--complaint", "floats_high")[0] == 0


def test_a_damaged_file_is_never_cut_without_a_copy(tmp_path: Path) -> None:
    with Journal.create(tmp_path, "f", "x") as file:
        file.sync(EVENTS)
        path = file.path
    torn = path.read_bytes()[:-3]
    path.write_bytes(torn)
    for number in range(1, 1000):
        path.with_name(f"{path.name}.damaged-{number}").touch()
    with pytest.raises(JobError, match="too many damaged copies"):
        Journal.reopen(path)
    assert path.read_bytes() == torn
    path.with_name(f"{path.name}.damaged-7").unlink()
    Journal.reopen(path)[0].close()
    assert path.with_name(f"{path.name}.damaged-7").read_bytes() == torn


# ---- disks that are full, folders that take nothing


class Disk:
    """Takes `room` bytes and no more; with `stuck`, it cannot even cut a file."""

    def __init__(self, patch: pytest.MonkeyPatch, room: int, stuck: bool = False) -> None:
        self.room, self.stuck = room, stuck
        self.write, self.cut = os.write, os.ftruncate
        patch.setattr(os, "write", self.take)
        patch.setattr(os, "ftruncate", self.shorten)

    def take(self, handle: int, data: bytes) -> int:
        some = bytes(data)[: min(self.room, 7)]  # a few bytes at a time, as a pipe or a network disk may
        if not some:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        self.room -= len(some)
        return self.write(handle, some)

    def shorten(self, handle: int, size: int) -> None:
        if self.stuck:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        self.cut(handle, size)


@settings(max_examples=25 if settings.default.max_examples < 100 else 300)
@given(st.integers(0, 1200), st.booleans())
def test_a_disk_that_fills_at_any_byte_leaves_whole_events_and_a_next_try(room: int, stuck: bool) -> None:
    with tempfile.TemporaryDirectory() as place, pytest.MonkeyPatch.context() as patch:
        disk = Disk(patch, room, stuck)
        try:
            file = Journal.create(Path(place), "f", "x")
        except JobError as error:
            assert "No space left on device" in str(error)
            assert listed(Path(place)) == []  # nothing is left that cannot be gone on with
            return
        with file:
            kept = 0
            try:
                for kept in range(len(EVENTS)):
                    file.sync(EVENTS[: kept + 1])
                kept = len(EVENTS)
            except JobError as error:
                assert "cannot be written" in str(error)
            assert file.kept == kept
            assert read(file.path).events == EVENTS[:kept]
            disk.room, disk.stuck = 10_000, False  # somebody made room
            file.sync(EVENTS)
            assert read(file.path).events == EVENTS
            assert read(file.path).damage == ""


@pytest.mark.parametrize("call", ["fsync", "fstat"])
def test_a_disk_that_cannot_say_that_it_is_written_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    def fails(*_: object) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with Journal.create(tmp_path, "f", "x") as file:
        file.sync(EVENTS[:2])
        with monkeypatch.context() as patch:
            patch.setattr(os, call, fails)
            with pytest.raises(JobError, match="cannot be written: Input/output error; what came before is safe"):
                file.sync(EVENTS)
        assert file.kept == 2
        assert read(file.path).events == EVENTS[:2]
        file.sync(EVENTS)
    assert read(listed(tmp_path)[0]).events == EVENTS


def test_a_file_that_another_program_wrote_to_is_left_alone(tmp_path: Path) -> None:
    """Where a file system knows no locks, two can have a job open; neither writes over the other."""
    with Journal.create(tmp_path, "f", "x") as file:
        file.sync(EVENTS[:2])
        line = job_file.sealed({**EVENTS[2].as_dict(), "at": "", "seq": 3})
        file.path.write_bytes(journal.finished(journal.without_end(file.path.read_bytes()) + line, 3))
        with pytest.raises(JobError, match="another program has changed the job; stop here and resume it"):
            file.sync((*EVENTS[:2], Event("note", answer="mine")))
        assert file.kept == 2
    assert read(listed(tmp_path)[0]).events == EVENTS[:3]


@posix
@pytest.mark.parametrize("command", ["start", "resume"])
def test_without_a_terminal_a_full_disk_is_an_error_and_the_answer_not_called_kept(
    home: Path, tmp_path: Path, command: str
) -> None:
    shutil.copytree(home / "knowledge", tmp_path / "knowledge")
    begin = ("start", "--name", "x", "--acknowledge", "--complaint", "floats_high")
    assert run(tmp_path, *begin)[0] == 0
    path = listed(tmp_path / "jobs")[0]
    before = path.read_bytes()
    words = begin if command == "start" else ("resume", path.stem, "--note", "y" * 4000)
    done = limited(
        """
        import signal
        from hertzwright.cli.app import main
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), int(sys.argv[1])))
        sys.exit(main(sys.argv[2:]))
        """,
        str(len(before) + (50 if command == "resume" else -20)),
        *words, "--folder", str(tmp_path), "--knowledge", str(tmp_path / "knowledge"), "--plain",
    )  # fmt: skip
    assert done.returncode == 2, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    assert "File too large" in done.stdout + done.stderr
    assert "not kept" in done.stdout + done.stderr
    assert "Kept as job" not in done.stdout
    assert path.read_bytes() == before
    for each in listed(tmp_path / "jobs"):
        assert not read(each).damage


def in_the_way(folder: Path) -> Path:
    (folder / "file").write_text("x")
    return folder / "file"


def of_the_system(folder: Path) -> Path:
    return Path("/proc")


def in_a_circle(folder: Path) -> Path:
    (folder / "loop").symlink_to(folder / "loop")
    return folder / "loop"


@posix
@pytest.mark.parametrize("make", [in_the_way, of_the_system, in_a_circle])
def test_a_folder_that_takes_no_job_is_told_before_anything_is_asked(
    home: Path, tmp_path: Path, make: Callable[[Path], Path]
) -> None:
    out, err = io.StringIO(), io.StringIO()
    words = [
        "start",
        "--name",
        "x",
        "--acknowledge",
        "--complaint",
        "floats_high",
        "--knowledge",
        str(home / "knowledge"),
    ]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main([*words, "--folder", str(make(tmp_path)), "--plain"])
    assert status == 2
    assert "no job can be kept here: " in err.getvalue() or "the folder of jobs cannot be read: " in err.getvalue()
    assert "name another folder with --folder" in err.getvalue()
    assert not out.getvalue()


@pytest.fixture
def read_only(home: Path) -> Iterator[Path]:
    """A job in a folder that others than its owner may only read."""
    folder = Path(tempfile.mkdtemp())
    shutil.copytree(home / "knowledge", folder / "knowledge")
    (folder / "jobs").mkdir()
    shutil.copy(listed(home / "jobs")[-1], folder / "jobs")
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    yield folder
    for path in (folder, *(path for path in folder.rglob("*") if path.is_dir())):
        path.chmod(0o755)
    shutil.rmtree(folder)


@posix
def test_a_read_only_folder_shows_its_jobs_and_takes_no_answer(read_only: Path) -> None:
    ident = listed(read_only / "jobs")[0].stem
    code = f"""{POWERLESS}
import contextlib, io, json
from hertzwright.cli import app
told = []
for words in json.loads(sys.argv[1]):  # a traceback ends the child
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()) as err:
        told.append((app.main(words), err.getvalue()))
print(json.dumps(told))
"""
    where = ("--folder", str(read_only), "--knowledge", str(read_only / "knowledge"), "--plain")
    if limited(f"{POWERLESS}\nopen(sys.argv[1], 'x')", read_only / "jobs" / "x").returncode == 0:
        pytest.skip("whoever runs this may write everywhere")
    asked = (
        (("jobs",), 0),
        (("resume", ident, "--show"), 0),
        (("resume", ident, "--note", "x"), 2),
        (("start", "--name", "x", "--acknowledge", "--complaint", "floats_high"), 2),
    )
    done = limited(code, json.dumps([[*words, *where] for words, _ in asked]))
    assert done.returncode == 0, done.stderr
    for (words, expected), (status, said) in zip(asked, json.loads(done.stdout), strict=True):
        assert status == expected, (words, said)
        assert ("Permission denied" in said) == bool(expected)
    assert len(list((read_only / "jobs").iterdir())) == 1


def test_two_terminals_on_one_job_get_a_clear_error_and_lose_nothing(home: Path) -> None:
    path = listed(home / "jobs")[-1]
    before = path.read_bytes()
    with Journal.reopen(path)[0]:
        status, _, err = run(home, "resume", path.stem, "--note", "from the second")
        assert status == 2
        assert f"job {path.stem} is open in another terminal; close it there first" in err
        assert run(home, "resume", path.stem, "--show")[0] == 0  # looking is allowed
    assert path.read_bytes() == before


def test_events_that_went_through_json_are_the_same(whole: bytes) -> None:
    """The line of an event is byte for byte what would be written for what it says: no second reading of it exists."""
    for line in whole.splitlines():
        assert job_file.sealed(job_file._unsealed(line)) == line + b"\n"
        assert json.loads(line) == {**job_file._unsealed(line), "sum": json.loads(line)["sum"]}
