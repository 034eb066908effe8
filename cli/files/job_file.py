"""A job file as it is read: JSON Lines, one event a line.

Purpose: the text of a job file -> its head and its events, with what is wrong with it; and the lines as bytes.
Law: the first line is the head: {"format", "knowledge", "set", "created", "ends", "sum"}. Every other line is
`Event.as_dict()` with "at" (local time), "seq" (1, 2, 3 ...) and "sum", the first eight figures of the SHA-256 of the
line without it. A line is sound when it is, byte for byte, what would be written for what it says. The last line is
the end mark, {"end", "sum"}, with the number of the last event. A file in which a line says "ends" must have one, so
that a file cut at the end of a line is told from a whole one. Files from before the mark say so only once an event is
added. A file of format 1 is read as what it meant; a line that is added to one says "format" for itself.
Not here: how lines come into the file (see `journal`), which file is meant (see `job_folder`), and whether the events
make sense with the knowledge (see `Job.replay`).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from stat import S_ISFIFO

from ...engine.job import Event, JobError, of_the_first_format
from ...engine.problems import printable, quoted

FORMAT = 2
SUFFIX = ".jsonl"
_LONGEST_NAME = 60
_LARGEST = 20_000_000


@dataclass(frozen=True, slots=True)
class Head:
    """First line: format, fingerprint of the knowledge, name of the set, time of creation (ISO 8601)."""

    format: int
    knowledge: str
    set: str
    created: str


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """One event with the time it was written."""

    at: str
    event: Event


@dataclass(frozen=True, slots=True)
class JobFileContent:
    """What a job file says. `damage` tells what is wrong with it, empty where nothing is; `torn` where that is only
    its end. `entries` are the lines before the damage, and `sound` how many bytes they take with the head. `ends`: the
    file says that it has an end mark; `whole`: the bytes of `sound` with the mark, where there is one that fits."""

    path: Path
    head: Head
    entries: tuple[JournalEntry, ...]
    damage: str = ""
    torn: bool = False
    sound: int = 0
    ends: bool = False
    whole: int = 0

    @property
    def ident(self) -> str:
        return self.path.name.removesuffix(SUFFIX)

    @property
    def events(self) -> tuple[Event, ...]:
        return tuple(entry.event for entry in self.entries)


def clean_name(name: str) -> str:
    """A set's name as it is kept: one line, nothing that moves a cursor, not longer than 60 characters."""
    return printable(" ".join(name.split()))[:_LONGEST_NAME].strip() or "unnamed set"


def read(path: Path) -> JobFileContent:
    """Everything sound at the start of a job file. Raises JobError where there is nothing to go on with."""
    try:
        if S_ISFIFO(path.stat().st_mode):  # reading one could wait for ever
            raise JobError(f"{path}: cannot be read: not a file")
        with path.open("rb") as stream:
            data = stream.read(_LARGEST + 1)
    except OSError as error:
        raise JobError(f"{path}: cannot be read: {error.strerror or error}") from None
    if len(data) > _LARGEST:
        raise JobError(f"{path}: longer than {_LARGEST:,} bytes, so not a job file")
    if not data.strip():
        raise JobError(f"{path}: the file is empty: the job was stopped before its first line was written")
    lines = data.split(b"\n")
    end = _end_of(lines)
    if end is not None:
        del lines[-2]
    head, damage, ends = _head(path, lines[0])
    entries: list[JournalEntry] = []
    sound = len(lines[0]) + 1
    for number, line in enumerate(lines[1:], 2):
        is_last = number == len(lines)
        if is_last and not line:
            break
        try:
            entry, marked = _entry(line, len(entries) + 1, head.format)
            ends = ends or marked
            if is_last:
                raise ValueError("it has no end")
        except (ValueError, JobError, RecursionError) as error:
            after = any(rest.strip() and not _is_left(rest) for rest in lines[number:])
            what = f"{printable(path.name)}:{number}: the line is damaged ({printable(str(error))})"
            if after:
                what += f"; the {len(entries)} events before it can be read, what comes after is left out"
            else:
                what += f"; the last line was left out: {quoted(line.decode('utf-8', 'replace'), 80)}"
            what = f"{damage}; {what}" if damage else what
            return JobFileContent(path, head, tuple(entries), what, not after, sound, ends, sound)
        entries.append(entry)
        sound += len(line) + 1
    if not entries and len(lines) == 1:
        raise JobError(f"{path}: the first line has no end: the job was stopped before it was written")
    count = len(entries)
    whole = sound + len(end_mark(count)) if end == count else sound
    if end == count or (end is None and not ends):
        return JobFileContent(path, head, tuple(entries), damage, False, sound, ends, whole)
    told = "its end mark is missing" if end is None else f"it says that it has {end} events"
    what = f"{printable(path.name)}: the file was cut: {told}; the {count} events that are there can be read"
    return JobFileContent(
        path, head, tuple(entries), f"{damage}; {what}" if damage else what, not damage, sound, ends, whole
    )


def without_end(data: bytes) -> bytes:
    """The content of a job file without its end mark, to be compared with that of an earlier state."""
    lines = data.split(b"\n")
    if _end_of(lines) is not None:
        del lines[-2]
    return b"\n".join(lines)


def finished(data: bytes, events: int) -> bytes:
    """The sound lines of a job file with the end mark for so many events."""
    return without_end(data) + end_mark(events)


def end_mark(events: int) -> bytes:
    return sealed({"end": events})


def _is_left(line: bytes) -> bool:
    """Whether a line is what an unfinished write leaves behind the place of its event: nothing yet, then an end mark or
    the beginning of one."""
    return b'{"end":'.startswith(line.lstrip(b"\0")[:7])


def _end_of(lines: list[bytes]) -> int | None:
    """The number that the end mark of a file holds; None where its last line is none. lines: split at line ends."""
    if len(lines) < 3 or lines[-1]:
        return None
    try:
        end = _unsealed(lines[-2]).get("end")
    except (ValueError, RecursionError):
        return None
    return end if isinstance(end, int) else None


def _head(path: Path, line: bytes) -> tuple[Head, str, bool]:
    """The head, what is wrong with it, and whether it says that the file has an end mark."""
    try:
        found = _unsealed(line)
        version = found.get("format")
        if version not in (1, FORMAT):
            raise JobError(
                f"{path}:1: a job file of format {printable(str(version))}; this version reads formats 1 to {FORMAT}"
            )
        knowledge, name, created = (found.get(key) for key in ("knowledge", "set", "created"))
        if not (isinstance(knowledge, str) and isinstance(name, str) and isinstance(created, str)):
            raise ValueError("not the first line of a job file")
        format_ = 1 if version == 1 else FORMAT
        return Head(format_, printable(knowledge), clean_name(name), printable(created)), "", "ends" in found
    except (ValueError, RecursionError) as error:
        # The events are worth more than the head: they stand on their own. Of which format they are nobody knows
        # then; that of today takes no note for anything else.
        told = f"the first line is damaged ({printable(str(error))}); the events are read without it"
        what = f"{printable(path.name)}:1: {told}"
        return Head(FORMAT, "", "unnamed set", ""), what, False


def _entry(line: bytes, number: int, version: int) -> tuple[JournalEntry, bool]:
    """The entry of a line, and whether it says that the file has an end mark. Raises ValueError, JobError."""
    found = _unsealed(line)
    if found.get("seq") != number:
        raise ValueError(f"its number is {found.get('seq')}, expected {number}")
    at = found.get("at")
    if not isinstance(at, str):
        raise ValueError("it has no time")
    event = Event.from_dict(found)
    if found.get("format", version) != FORMAT:
        event = of_the_first_format(event)
    return JournalEntry(printable(at), event), "ends" in found


def _written(found: Mapping[str, object]) -> bytes:
    return json.dumps(found, sort_keys=True, separators=(",", ":")).encode("ascii")


def sealed(found: Mapping[str, object]) -> bytes:
    """The line for these values, with its checksum and line end."""
    return _written({**found, "sum": hashlib.sha256(_written(found)).hexdigest()[:8]}) + b"\n"


def _unsealed(line: bytes) -> dict[str, object]:
    """The values of a line. Raises ValueError where it is not exactly what `sealed` writes."""
    try:
        found = json.loads(line)
    except ValueError:
        raise ValueError("not JSON") from None
    if not isinstance(found, dict):
        raise ValueError("not a JSON object")
    total = found.pop("sum", None)
    if not isinstance(total, str) or sealed(found) != line + b"\n":
        raise ValueError("its checksum does not fit")
    return found
