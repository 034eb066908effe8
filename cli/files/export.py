"""Jobs as one file, to be sent and taken in elsewhere.

Purpose: export whole job files, each line as it is on the disk, with an end mark, and import them into another folder.
Law: what is imported is, event for event, what was exported; nothing is taken from a file that is damaged in any
place; no job is ever written over unasked, and what is replaced is kept beside.
The file: JSON, {"format": "hertzwright jobs", "version": 1, "jobs": [{"id", "lines"}], "sum"}, where `lines` are
those of the job file and `sum` is the SHA-256 of `jobs` written with sorted keys and no blanks. Without names the
events are the same but for what somebody wrote, and no line holds an hour.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from ...engine import Event, HertzwrightError
from ...engine.problems import printable
from . import input_file, job_file, journal, whole_file

FORMAT = "hertzwright jobs"
VERSION = 1
_LARGEST = 200_000_000
_WRITTEN = ("note", "acknowledged", "load_reading")
_SOMEBODY = "the technician"
_TOKEN = re.compile(r"job [0-9a-f]{16}")
_TURNS = re.compile(r"[-+]?\d+([./]\d+)?")


class ExchangeError(HertzwrightError):
    """A file of jobs that cannot be written, or of which nothing is taken."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one job of a file. `ident`: under which id it is here now."""

    wanted: str
    ident: str
    what: Literal["new", "renamed", "same", "replaced"]


def packed(paths: Sequence[Path], nameless: bool = False) -> tuple[bytes, list[str]]:
    """The file for these jobs, and remarks on what of them is damaged. Raises JobError, ExchangeError.

    nameless: without the name of any set and what `without_names` leaves out.
    """
    jobs, remarks = [], []
    for path in paths:
        record = journal.read(path)
        if record.damage and not record.torn:
            raise ExchangeError(
                f"{record.damage}; mend it first with: hertzwright resume {record.ident} --accept-damage"
            )
        if record.damage:
            remarks.append(record.damage)
        if nameless:
            sound = _nameless(record)
        else:
            sound = journal.finished(path.read_bytes()[: record.sound], len(record.entries))
        lines = sound.decode("ascii").splitlines()
        jobs.append({"id": record.ident, "lines": lines})
    whole = {"format": FORMAT, "version": VERSION, "jobs": jobs, "sum": _sum(jobs)}
    return (json.dumps(whole, sort_keys=True, indent=1) + "\n").encode("ascii"), remarks


def without_names(events: Iterable[Event]) -> tuple[Event, ...]:
    """The events of a job without what somebody wrote: notes, what was acknowledged, readings of a load test, where
    something was put, and who secured the set. A step back goes with what it took back."""
    kept: list[Event] = []
    standing: list[Event] = []
    for event in events:
        if event.kind != "step_back":
            standing.append(event)
            gone = event
        elif len(standing) > 1:
            gone = standing.pop()
        else:
            continue
        if gone.kind not in _WRITTEN:
            kept.append(_unsigned(event))
    return tuple(kept)


def _unsigned(event: Event) -> Event:
    if event.kind == "secured":
        return replace(event, answer=_SOMEBODY)
    return replace(event, cells={key: cell for key, cell in event.cells.items() if _TURNS.fullmatch(cell)})


def token(record: journal.JobFileContent) -> str:
    """A name for a job that tells nothing of it; without names it keeps the one it had with them."""
    if _TOKEN.fullmatch(record.head.set):
        return record.head.set
    told = [record.head.created, *((entry.at, entry.event.as_dict()) for entry in record.entries)]
    return f"job {hashlib.sha256(json.dumps(told, sort_keys=True).encode('ascii')).hexdigest()[:16]}"


def _nameless(record: journal.JobFileContent) -> bytes:
    """A job file of this job without names: the day it was begun and every event stay as they are."""
    events, created = without_names(record.events), record.head.created[:10]
    head = {"format": job_file.FORMAT, "knowledge": record.head.knowledge, "set": token(record), "created": created}
    lines = [job_file.sealed({**head, "ends": True})]
    lines += [job_file.sealed({**each.as_dict(), "seq": place, "at": created}) for place, each in enumerate(events, 1)]
    return job_file.finished(b"".join(lines), len(events))


def _sum(jobs: object) -> str:
    return hashlib.sha256(json.dumps(jobs, sort_keys=True, separators=(",", ":")).encode("ascii")).hexdigest()


def unpacked(name: str) -> list[tuple[str, bytes]]:
    """(id, content of the job file) for each job of a file. Raises ExchangeError with what is wrong."""
    shown = input_file.file_name(name)
    data = input_file.read_whole(name, _LARGEST, ExchangeError, ", so not a file of jobs")
    try:
        found = json.loads(data)
    except (ValueError, RecursionError) as error:
        if data.startswith(b'{"') and b'"seq":' in data[:4000]:
            raise ExchangeError(
                f"{shown}: a job file itself, not a file of jobs; put it into the folder of jobs, or export it first"
            ) from None
        raise ExchangeError(f"{shown}: not a file of jobs, or damaged: {_json_fault(error)}") from None
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise ExchangeError(f'{shown}: not a file of jobs; expected one made by "hertzwright jobs --export"')
    if found.get("version") != VERSION:
        version = printable(str(found.get("version")))[:20]
        raise ExchangeError(f"{shown}: a file of jobs of version {version}; this one reads version {VERSION}")
    try:
        sound = _sum(found.get("jobs")) == found.get("sum")
    except (ValueError, RecursionError):
        sound = False
    if not sound:
        raise ExchangeError(f"{shown}: damaged: its checksum does not fit; nothing was taken from it")
    return _jobs(found.get("jobs"), shown)


def _json_fault(error: Exception) -> str:
    if isinstance(error, json.JSONDecodeError):
        return f"no JSON at line {error.lineno}, column {error.colno}"
    return "no JSON"


def _jobs(listed: object, shown: str) -> list[tuple[str, bytes]]:
    jobs: dict[str, bytes] = {}
    if not isinstance(listed, list) or not listed:
        raise ExchangeError(f"{shown}: holds no jobs")
    for number, item in enumerate(listed, 1):
        ident, lines = (item.get("id"), item.get("lines")) if isinstance(item, dict) else (None, None)
        if not isinstance(ident, str) or not journal.is_ident(ident):
            raise ExchangeError(f"{shown}: job {number} has no id such as 2026-11-25-a; nothing was taken")
        if ident in jobs:
            raise ExchangeError(f"{shown}: job {ident} is there twice; nothing was taken")
        if not isinstance(lines, list) or not all(isinstance(line, str) and "\n" not in line for line in lines):
            raise ExchangeError(f"{shown}: job {ident} has no lines; nothing was taken")
        jobs[ident] = "".join(f"{line}\n" for line in lines).encode("utf-8", "surrogatepass")
    return list(jobs.items())


def take_in(name: str, folder: Path, force: bool = False) -> list[Taken]:
    """Put every job of a file into a folder of jobs, all or, where one is refused, none.

    A job whose id another job has here gets a free id. The same job in another state is refused unless `force`, and
    then what was here is kept beside it. Raises ExchangeError, JobError.
    """
    jobs = unpacked(name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".import-") as room:
            waiting = [_checked(ident, data, Path(room), name) for ident, data in jobs]
            plans = [_plan(ident, path, folder, force) for ident, path in waiting]
            taken = [_placed(path, folder, plan) for (_, path), plan in zip(waiting, plans, strict=True)]
            whole_file.sync_folder(folder)
            return taken
    except OSError as error:
        raise ExchangeError(f"{folder}: cannot be written: {error.strerror or error}") from None


def _checked(ident: str, data: bytes, room: Path, name: str) -> tuple[str, Path]:
    """The job in a room of its own, read as any job file is. Raises ExchangeError where any of it is unsound."""
    path = room / f"{ident}.jsonl"
    whole_file.create(path, data)
    try:
        record = journal.read(path)
    except HertzwrightError as error:
        detail = str(error).replace(str(path), path.name)
        raise ExchangeError(f"{input_file.file_name(name)}: {detail}; nothing was taken") from None
    if record.damage:
        raise ExchangeError(f"{input_file.file_name(name)}: {record.damage}; nothing was taken")
    if not record.entries or record.entries[0].event.kind != "set":
        raise ExchangeError(f"{input_file.file_name(name)}: job {ident} does not begin with a set; nothing was taken")
    return ident, path


def _plan(ident: str, path: Path, folder: Path, force: bool) -> Taken:
    here = folder / f"{ident}.jsonl"
    new = journal.without_end(path.read_bytes())
    for other in sorted(journal.listed(folder), key=lambda other: other != here):
        old = journal.without_end(other.read_bytes())
        if not _same_job(old, new, other == here):
            continue
        there = other.name.removesuffix(".jsonl")
        if old == new:
            return Taken(ident, there, "same")
        if not force:
            more = "an earlier state" if new.startswith(old) else "another state"
            raise ExchangeError(
                f"job {ident} is here already as {there}, in {more}; --force puts the one of the file in its place "
                "and keeps the other beside it"
            )
        return Taken(ident, there, "replaced")
    return Taken(ident, ident, "renamed" if here.exists() else "new")


def _same_job(old: bytes, new: bytes, same_name: bool) -> bool:
    """Whether two files are states of one job: begun alike, and either of one name or one going on from the other."""
    if old.split(b"\n", 1)[0] != new.split(b"\n", 1)[0]:
        return False
    return same_name or old.startswith(new) or new.startswith(old)


def _placed(path: Path, folder: Path, plan: Taken) -> Taken:
    if plan.what == "same":
        return plan
    if plan.what == "replaced":
        here = folder / f"{plan.ident}.jsonl"
        with journal.Journal.reopen(here)[0]:
            _aside(here)
            whole_file.replace(here, path.read_bytes())
        return plan
    for ident in _free(plan.wanted):
        # A link never lands on a name that is taken, even by a job begun this moment.
        try:
            whole_file.link(path, folder / f"{ident}.jsonl")
        except FileExistsError:
            continue
        return Taken(plan.wanted, ident, "new" if ident == plan.wanted else "renamed")
    raise ExchangeError(f"no free id for job {plan.wanted}")


def _free(ident: str) -> list[str]:
    """The id itself, then others of its day."""
    alphabet = "abcdefghijklmnopqrstuvwxyz"
    day = ident[:10]
    return [ident, *(f"{day}-{a}" for a in alphabet), *(f"{day}-{a}{b}" for a in alphabet for b in alphabet)]


def _aside(path: Path) -> None:
    for number in range(1, 1000):
        aside = path.with_name(f"{path.name}.replaced-{number}")
        with contextlib.suppress(FileExistsError):
            whole_file.link(path, aside)
            return
    raise ExchangeError(f"{path}: too many replaced states beside it")
