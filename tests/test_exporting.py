"""Jobs as one file: exported, taken in elsewhere, and refused whole where anything in the file is unsound."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from pathlib import Path

import pytest

from hertzwright.cli.files import export, journal
from hertzwright.cli.files.export import ExchangeError, packed, take_in
from hertzwright.engine import Job, Knowledge, load_knowledge

ANSI = "\x1b[31mred\x1b[0m \x1b]0;title\x07\x9b2Jend"


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def kept(job: Job, folder: Path, name: str = "north barn") -> journal.JobFileContent:
    with journal.Journal.create(folder, job.knowledge.fingerprint, name) as file:
        file.sync(job.events)
        return journal.read(file.path)


def whole_job(knowledge: Knowledge, *notes: str) -> Job:
    """A job with an event of every kind."""
    job = Job(knowledge, {"booster": "none", "altitude": 4200})
    job.record("hunts_no_load", "present")
    job.record("frequency_no_load", "64.6 Hz")
    job.record("linkage_feel", "free")
    job.step_back()
    for note in notes:
        job.note(note)
    job.carry_out("set_rod_length")
    job.record("frequency_no_load", "61.6 Hz")
    job.prove("passed")
    job.record("hunts_no_load", "absent")
    return job


def exported(knowledge: Knowledge, folder: Path, out: Path, jobs: int = 2) -> list[journal.JobFileContent]:
    records = [kept(whole_job(knowledge, f"job {number} {ANSI}"), folder, f"set {number}") for number in range(jobs)]
    data, remarks = packed([record.path for record in records])
    assert remarks == []
    out.write_bytes(data)
    return records


def everything(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if not path.name.endswith(".lock")}


def test_export_then_import_gives_the_same_events(knowledge: Knowledge, tmp_path: Path) -> None:
    records = exported(knowledge, tmp_path / "a", tmp_path / "jobs.json")
    taken = take_in(str(tmp_path / "jobs.json"), tmp_path / "b")
    assert [(item.ident, item.what) for item in taken] == [(record.ident, "new") for record in records]
    for record in records:
        back = journal.read(tmp_path / "b" / record.path.name)
        assert (back.entries, back.head, back.damage) == (record.entries, record.head, "")
    assert everything(tmp_path / "a") == everything(tmp_path / "b")
    assert [item.what for item in take_in(str(tmp_path / "jobs.json"), tmp_path / "b")] == ["same", "same"]


def test_an_id_that_another_job_has_is_not_written_over(knowledge: Knowledge, tmp_path: Path) -> None:
    (record,) = exported(knowledge, tmp_path / "a", tmp_path / "jobs.json", 1)
    mine = kept(Job(knowledge), tmp_path / "b", "my own set")
    before = mine.path.read_bytes()
    for force in (False, True):
        (taken,) = take_in(str(tmp_path / "jobs.json"), tmp_path / "b", force)
        assert taken.what == ("same" if force else "renamed")
        assert journal.read(tmp_path / "b" / f"{taken.ident}.jsonl").entries == record.entries
    assert mine.path.read_bytes() == before


def test_another_state_of_a_job_needs_force_and_the_old_one_is_kept(knowledge: Knowledge, tmp_path: Path) -> None:
    (record,) = exported(knowledge, tmp_path / "a", tmp_path / "jobs.json", 1)
    here = tmp_path / "b" / record.path.name
    here.parent.mkdir()
    older = journal.finished(b"".join(line + b"\n" for line in record.path.read_bytes().split(b"\n")[:4]), 3)
    here.write_bytes(older)
    with pytest.raises(ExchangeError, match="an earlier state; --force"):
        take_in(str(tmp_path / "jobs.json"), here.parent)
    assert everything(here.parent) == {here.name: older}
    (taken,) = take_in(str(tmp_path / "jobs.json"), here.parent, force=True)
    assert taken.what == "replaced"
    assert everything(here.parent) == {here.name: record.path.read_bytes(), f"{here.name}.replaced-1": older}


def test_where_one_job_is_refused_none_is_taken(knowledge: Knowledge, tmp_path: Path) -> None:
    records = exported(knowledge, tmp_path / "a", tmp_path / "jobs.json")
    here = tmp_path / "b" / records[1].path.name
    here.parent.mkdir()
    here.write_bytes(b"\n".join(records[1].path.read_bytes().split(b"\n")[:4]) + b"\n")
    with pytest.raises(ExchangeError, match="--force"):
        take_in(str(tmp_path / "jobs.json"), here.parent)
    assert list(everything(here.parent)) == [here.name]


def resealed(data: bytes, change: dict[str, object] | None = None, lines: Sequence[str] | None = None) -> bytes:
    """A file with its checksum made to fit again after a change."""
    found = json.loads(data)
    found.update(change or {})
    if lines is not None:
        found["jobs"][0]["lines"] = list(lines)
    found["sum"] = export._sum(found["jobs"])
    return json.dumps(found).encode()


@pytest.mark.parametrize(
    ("what", "message"),
    [
        ("flipped", "damaged"), ("cut", "damaged: no JSON"), ("empty", "not a file of jobs"),
        ("list", "not a file of jobs"),
        ("other id", "its checksum does not fit"),
        ("foreign", "not a file of jobs; expected"), ("version", "version 9; this one reads version 1"),
        ("binary", "not a file of jobs"), ("job file", "a job file itself"), ("line", "the line is damaged"),
        ("no set", "does not begin with a set"), ("path", "no id such as"), ("digits", "no id such as"), ("no such day", "no id such as"),
        ("none", "holds no jobs"),
        ("deep", "not a file of jobs"), ("newline", "has no lines"),
    ],
)  # fmt: skip
def test_nothing_is_taken_from_a_damaged_or_foreign_file(
    knowledge: Knowledge, tmp_path: Path, what: str, message: str
) -> None:
    (record,) = exported(knowledge, tmp_path / "a", tmp_path / "jobs.json", 1)
    good = (tmp_path / "jobs.json").read_bytes()
    lines = json.loads(good)["jobs"][0]["lines"]
    bad = {
        "flipped": good.replace(b"64.6 Hz", b"61.6 Hz"),
        "cut": good[: len(good) // 2],
        "empty": b"",
        "other id": good.replace(f'"{record.ident}"'.encode(), b'"2026-11-24-q"'),
        "list": b"[1, 2]",
        "foreign": b'{"format": "something else", "version": 1}',
        "version": resealed(good, {"version": 9}),
        "binary": bytes(range(256)),
        "job file": record.path.read_bytes(),
        "line": resealed(good, lines=[*lines[:3], lines[3].replace("64.6", "61.6"), *lines[4:]]),
        "no set": resealed(good, lines=journal.finished(lines[0].encode() + b"\n", 0).decode().splitlines()),
        "path": resealed(good, {"jobs": [{"id": "../../2026-11-25-a", "lines": lines}]}),
        "digits": resealed(good, {"jobs": [{"id": "\u0662\u0660\u0662\u0666-11-25-a", "lines": lines}]}),
        "no such day": resealed(good, {"jobs": [{"id": "2026-02-30-a", "lines": lines}]}),
        "none": resealed(good, {"jobs": []}),
        "deep": b"[" * 200_000,
        "newline": resealed(good, lines=[lines[0] + "\n" + lines[1], *lines[2:]]),
    }[what]
    (tmp_path / "bad.json").write_bytes(bad)
    with pytest.raises(ExchangeError, match=message) as caught:
        take_in(str(tmp_path / "bad.json"), tmp_path / "b")
    assert "bad.json" in str(caught.value)
    assert not (tmp_path / "b").exists() or everything(tmp_path / "b") == {}


def test_any_flipped_byte_is_refused_or_changes_nothing(knowledge: Knowledge, tmp_path: Path) -> None:
    (record,) = exported(knowledge, tmp_path / "a", tmp_path / "jobs.json", 1)
    good = (tmp_path / "jobs.json").read_bytes()
    chosen = random.Random(7)
    refused = 0
    for trial in range(120):
        data = bytearray(good)
        data[chosen.randrange(len(data))] ^= 1 << chosen.randrange(8)
        (tmp_path / "bad.json").write_bytes(bytes(data))
        folder = tmp_path / f"b{trial}"
        try:
            (taken,) = take_in(str(tmp_path / "bad.json"), folder)
        except ExchangeError:
            refused += 1
            continue
        assert journal.read(folder / f"{taken.ident}.jsonl").entries == record.entries
    assert refused > 100


def test_a_job_damaged_in_the_middle_is_not_exported(knowledge: Knowledge, tmp_path: Path) -> None:
    path = kept(whole_job(knowledge), tmp_path).path
    lines = path.read_bytes().split(b"\n")
    path.write_bytes(b"\n".join([*lines[:3], b"nonsense", *lines[4:]]))
    with pytest.raises(ExchangeError, match="--accept-damage"):
        packed([path])


def test_a_torn_end_is_left_out_and_told(knowledge: Knowledge, tmp_path: Path) -> None:
    path = kept(whole_job(knowledge), tmp_path).path
    path.write_bytes(path.read_bytes()[:-15])
    data, remarks = packed([path])
    assert "left out" in remarks[0]
    (tmp_path / "jobs.json").write_bytes(data)
    (taken,) = take_in(str(tmp_path / "jobs.json"), tmp_path / "b")
    assert journal.read(tmp_path / "b" / f"{taken.ident}.jsonl").entries == journal.read(path).entries


def test_without_names_nothing_that_somebody_wrote_goes_out_and_the_job_is_the_same(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    job = Job(knowledge, {"booster": "none"})
    job.acknowledge("job", "read by Alex")
    job.record("frequency_no_load", "70 Hz")
    job.secure("Alex of Mill Road")
    job.note("Mrs Example, Mill Road 7")
    job.step_back(mistake=True)
    job.note("paid in eggs")
    job.record("swing_no_load", "steady")
    job.step_back()
    job.record("swing_no_load", "slow swing")
    job.load_reading("as_found", {"load": "0 kW", "frequency": "63 Hz", "remark": "Mrs Example"})
    with journal.Journal.create(tmp_path / "here", knowledge.fingerprint, "Mrs Example's barn") as file:
        file.sync(job.events)
    data, remarks = export.packed([file.path], nameless=True)
    assert not remarks
    text = data.decode("ascii")
    assert not any(name in text for name in ("Example", "Mill", "Alex", "eggs", "barn"))
    (tmp_path / "sent.json").write_bytes(data)
    (taken,) = export.take_in(str(tmp_path / "sent.json"), tmp_path / "there")
    record = journal.read(tmp_path / "there" / f"{taken.ident}.jsonl")
    again = Job.replay(knowledge, record.events)
    assert (record.head.set, record.damage) == (export.token(journal.read(file.path)), "")
    assert again.posterior() == job.posterior()
    assert [(each.kind, each.id) for each in again.standing] == [
        (each.kind, each.id) for each in job.standing if each.kind not in ("note", "acknowledged", "load_reading")
    ]
    assert not again.held
