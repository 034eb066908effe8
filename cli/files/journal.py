"""The job file: JSON Lines, one event a line, each on the disk before the next prompt.

Purpose: keep a job so that nothing that was acknowledged is lost by a crash, a kill or an empty battery.
Law: what was written is never written over. The first line is the head: {"format", "knowledge", "set", "created",
"ends", "sum"}. Every other line is `Event.as_dict()` with "at" (local time), "seq" (1, 2, 3 ...) and "sum", the first
eight figures of the SHA-256 of the line without it. A line is sound when it is, byte for byte, what would be written
for what it says. The last line is the end mark, {"end", "sum"}, with the number of the last event; the next event
takes its place, once the next mark stands behind it. A file in which a line says "ends" must have one, so that a file
cut at the end of a line is told from a whole one. Files from before the mark say so only once an event is added.
A file of format 1 is read as what it meant; a line that is added to one says "format" for itself.
Not checked here: whether the events make sense with the knowledge (see `Job.replay`).
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from stat import S_ISFIFO
from types import TracebackType

from filelock import FileLock, Timeout

from ...engine.job import Event, JobError, of_the_first_format
from ...engine.problems import printable, quoted
from . import whole_file

FORMAT = 2
_SUFFIX = ".jsonl"
_IDENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})-[a-z]{1,4}")
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
        return self.path.name.removesuffix(_SUFFIX)

    @property
    def events(self) -> tuple[Event, ...]:
        return tuple(entry.event for entry in self.entries)


def clean_name(name: str) -> str:
    """A set's name as it is kept: one line, nothing that moves a cursor, not longer than 60 characters."""
    return printable(" ".join(name.split()))[:_LONGEST_NAME].strip() or "unnamed set"


def is_ident(text: str) -> bool:
    """Whether a text is the id of a job, such as 2026-11-25-a: a day that there is, and one to four letters."""
    found = _IDENT.fullmatch(text)
    if found is None:
        return False
    try:
        date.fromisoformat(found[1])
    except ValueError:
        return False
    return True


def find(ident: str, folder: Path) -> Path:
    """The job file of an id such as 2026-11-25-a, or of a path that ends in .jsonl. Raises JobError."""
    if is_ident(ident):
        path = folder / f"{ident}{_SUFFIX}"
        if path.is_file():
            return path
    elif ident.endswith(_SUFFIX) and Path(ident).is_file():
        return Path(ident)
    known = [path.name.removesuffix(_SUFFIX) for path in listed(folder)]
    if not known:
        raise JobError(f"no job {quoted(ident)}: {folder} holds no jobs")
    near = [name for name in known if name.startswith(ident)] or known
    raise JobError(f"no job {quoted(ident)} in {folder}; the latest there are {', '.join(near[-3:])}")


def listed(folder: Path) -> list[Path]:
    """Job files of a folder, oldest first; none where there is no folder yet. Raises JobError for one that cannot be
    read: it is not an empty one."""
    try:
        names = list(folder.iterdir())
    except FileNotFoundError:
        return []
    except OSError as error:
        raise JobError(
            f"{folder}: the folder of jobs cannot be read: {error.strerror or error}; name another folder with --folder"
        ) from None
    found = [path for path in names if path.suffix == _SUFFIX and is_ident(path.name.removesuffix(_SUFFIX))]
    return sorted(found, key=lambda path: (path.name[:10], len(path.name), path.name))


def latest(folder: Path) -> Path:
    """The newest job file that says anything. Raises JobError where there is none."""
    found = listed(folder)
    for path in reversed(found):
        with contextlib.suppress(JobError):
            if read(path).entries:
                return path
    if found:
        return found[-1]  # whoever reads it says what is wrong with it
    raise JobError(f"{folder} holds no jobs; begin one with: hertzwright start")


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
    whole = sound + len(_end_mark(count)) if end == count else sound
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
    return without_end(data) + _end_mark(events)


def _end_mark(events: int) -> bytes:
    return _sealed({"end": events})


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


def _sealed(found: Mapping[str, object]) -> bytes:
    """The line for these values, with its checksum and line end."""
    return _written({**found, "sum": hashlib.sha256(_written(found)).hexdigest()[:8]}) + b"\n"


def _unsealed(line: bytes) -> dict[str, object]:
    """The values of a line. Raises ValueError where it is not exactly what `_sealed` writes."""
    try:
        found = json.loads(line)
    except ValueError:
        raise ValueError("not JSON") from None
    if not isinstance(found, dict):
        raise ValueError("not a JSON object")
    total = found.pop("sum", None)
    if not isinstance(total, str) or _sealed(found) != line + b"\n":
        raise ValueError("its checksum does not fit")
    return found


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")


class Journal:
    """A job file open for appending, locked against other terminals. Use `create` or `reopen`; it closes itself
    at the end of a `with`."""

    def __init__(self, path: Path, head: Head, lock: FileLock, kept: int, sound: int, ends: bool) -> None:
        self.path = path
        self.head = head
        self._lock = lock
        self._kept = kept
        self._sound = sound
        self._ends = ends
        self._torn = False  # part of a line that could not be written may stand at the end
        self._file = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))

    @property
    def ident(self) -> str:
        return self.path.name.removesuffix(_SUFFIX)

    @property
    def kept(self) -> int:
        """How many events are on the disk."""
        return self._kept

    @classmethod
    def create(cls, folder: Path, knowledge: str, set_name: str) -> Journal:
        """Begin a job file. Raises JobError where it cannot be written."""
        head = Head(FORMAT, knowledge, clean_name(set_name), _now())
        try:
            folder.mkdir(parents=True, exist_ok=True)
            path = _new_file(folder)
        except OSError as error:
            raise JobError(
                f"{folder}: no job can be kept here: {error.strerror or error}; name another folder with --folder"
            ) from None
        journal = cls(path, head, _locked(path), 0, 0, True)
        says = {"format": FORMAT, "knowledge": head.knowledge, "set": head.set, "created": head.created, "ends": True}
        try:
            journal._append(_sealed(says), 0)
        except JobError:  # a job without its first line is nothing to go on with
            journal.close()
            with contextlib.suppress(OSError):
                path.unlink()
            raise
        whole_file.sync_folder(folder)
        return journal

    @classmethod
    def reopen(cls, path: Path) -> tuple[Journal, JobFileContent]:
        """Open a job file to go on with it.

        What is damaged at its end is copied aside (`.damaged`) and cut off; call this only after `read` was shown
        where there is damage. Raises JobError where the job is open elsewhere or cannot be written.
        """
        lock = _locked(path)
        try:
            record = read(path)
            size = path.stat().st_size
            if record.whole < size:
                _copy_aside(path)
            journal = cls(path, record.head, lock, len(record.entries), record.sound, record.ends)
            if record.damage or record.whole < size or record.whole == record.sound:
                journal._finish()
        except OSError as error:
            lock.release()
            raise JobError(f"{path}: cannot be written: {error.strerror or error}") from None
        except JobError:
            lock.release()
            raise
        return journal, record

    def sync(self, events: Sequence[Event]) -> None:
        """Write every event that is not yet in the file, and wait for the disk. Raises JobError; then call it again."""
        for event in events[self._kept :]:
            says = {**event.as_dict(), "at": _now(), "seq": self._kept + 1}
            if self.head.format != FORMAT:
                says["format"] = FORMAT
            if not self._ends:  # a file from before the end mark
                says["ends"] = True
            self._append(_sealed(says), self._kept + 1)
            self._kept += 1
            self._ends = True

    def _append(self, line: bytes, events: int) -> None:
        """Write a line in the place of the end mark, with the mark for so many events after it.

        The mark first, where it will stand: so the line is whole, and counts, only with its last byte.
        """
        try:
            if self._torn:
                self._finish()
            expected = self._sound + len(_end_mark(self._kept)) if self._sound else 0
            if os.fstat(self._file).st_size != expected:  # where locks do not work
                raise JobError(f"{self.path}: another program has changed the job; stop here and resume it")
            if self._sound:
                self._write(_end_mark(events), self._sound + len(line))
                self._write(line, self._sound)
            else:
                self._write(line + _end_mark(events), 0)
            os.fsync(self._file)
        except OSError as error:
            # A half-written line must not stand before the next try, which cuts it off where that fails now.
            self._torn = True
            with contextlib.suppress(OSError):
                os.ftruncate(self._file, self._sound)
                self._finish()
            raise JobError(
                f"{self.path}: cannot be written: {error.strerror or error}; what came before is safe"
            ) from None
        self._sound += len(line)

    def _write(self, data: bytes, place: int) -> None:
        os.lseek(self._file, place, os.SEEK_SET)
        left = memoryview(data)
        while left:
            left = left[os.write(self._file, left) :]

    def _finish(self) -> None:
        """Have the end mark after the last sound line, and nothing after that. Raises OSError."""
        mark = _end_mark(self._kept) if self._sound else b""
        self._write(mark, self._sound)
        os.ftruncate(self._file, self._sound + len(mark))
        os.fsync(self._file)
        self._torn = False

    def close(self) -> None:
        if self._file >= 0:
            os.close(self._file)
            self._file = -1
            self._lock.release()

    def __enter__(self) -> Journal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        self.close()


def _locked(path: Path) -> FileLock:
    lock = FileLock(f"{path}.lock")
    try:
        lock.acquire(blocking=False)
    except Timeout:
        name = path.name.removesuffix(_SUFFIX)
        raise JobError(f"job {name} is open in another terminal; close it there first") from None
    except (OSError, NotImplementedError) as error:  # the latter where the file system knows no locks
        reason = error.strerror if isinstance(error, OSError) else None
        raise JobError(f"{path}: cannot be locked: {reason or error}") from None
    return lock


def _new_file(folder: Path) -> Path:
    """A file of a name nobody has: the date and a, b, ... z, aa ... Two terminals cannot get the same."""
    day = datetime.now().astimezone().date().isoformat()
    for letters in _letters():
        path = folder / f"{day}-{letters}{_SUFFIX}"
        try:
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644))
        except FileExistsError:
            continue
        return path
    raise OSError("too many jobs in one day")


def _letters() -> Iterator[str]:
    alphabet = "abcdefghijklmnopqrstuvwxyz"
    yield from alphabet
    for first in alphabet:
        for second in alphabet:
            yield first + second


def _copy_aside(path: Path) -> None:
    """A copy of a damaged file under a name that is free, so that nothing is ever thrown away."""
    data = path.read_bytes()
    for number in range(1, 1000):
        with contextlib.suppress(FileExistsError):
            whole_file.create(path.with_name(f"{path.name}.damaged-{number}"), data)
            return
    raise JobError(f"{path}: damaged, and there are too many damaged copies beside it; put them elsewhere first")
