"""The journal of a job: its file open for appending, each event on the disk before the next prompt.

Purpose: keep a job so that nothing that was acknowledged is lost by a crash, a kill or an empty battery.
Law: what was written is never written over. The next event takes the place of the end mark, once the next mark stands
behind it. One terminal at a time has a job; what is damaged is copied aside before it is cut off.
Not here: what the lines say (see `job_file`), which file is meant (see `job_folder`).
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType

from filelock import FileLock, Timeout

from ...engine.job import Event, JobError
from . import whole_file
from .job_file import (
    FORMAT,
    SUFFIX,
    Head,
    JobFileContent,
    JournalEntry,
    clean_name,
    end_mark,
    finished,
    read,
    sealed,
    without_end,
)
from .job_folder import find, is_ident, latest, listed, new_file

# Whoever goes on with a job finds it and reads it first: the names of that are here too.
__all__ = [
    "Head",
    "JobFileContent",
    "Journal",
    "JournalEntry",
    "clean_name",
    "find",
    "finished",
    "is_ident",
    "latest",
    "listed",
    "read",
    "without_end",
]


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
        return self.path.name.removesuffix(SUFFIX)

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
            path = new_file(folder)
        except OSError as error:
            raise JobError(
                f"{folder}: no job can be kept here: {error.strerror or error}; name another folder with --folder"
            ) from None
        journal = cls(path, head, _locked(path), 0, 0, True)
        says = {"format": FORMAT, "knowledge": head.knowledge, "set": head.set, "created": head.created, "ends": True}
        try:
            journal._append(sealed(says), 0)
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
            self._append(sealed(says), self._kept + 1)
            self._kept += 1
            self._ends = True

    def _append(self, line: bytes, events: int) -> None:
        """Write a line in the place of the end mark, with the mark for so many events after it.

        The mark first, where it will stand: so the line is whole, and counts, only with its last byte.
        """
        try:
            if self._torn:
                self._finish()
            expected = self._sound + len(end_mark(self._kept)) if self._sound else 0
            if os.fstat(self._file).st_size != expected:  # where locks do not work
                raise JobError(f"{self.path}: another program has changed the job; stop here and resume it")
            if self._sound:
                self._write(end_mark(events), self._sound + len(line))
                self._write(line, self._sound)
            else:
                self._write(line + end_mark(events), 0)
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
        mark = end_mark(self._kept) if self._sound else b""
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
        name = path.name.removesuffix(SUFFIX)
        raise JobError(f"job {name} is open in another terminal; close it there first") from None
    except (OSError, NotImplementedError) as error:  # the latter where the file system knows no locks
        reason = error.strerror if isinstance(error, OSError) else None
        raise JobError(f"{path}: cannot be locked: {reason or error}") from None
    return lock


def _copy_aside(path: Path) -> None:
    """A copy of a damaged file under a name that is free, so that nothing is ever thrown away."""
    data = path.read_bytes()
    for number in range(1, 1000):
        with contextlib.suppress(FileExistsError):
            whole_file.create(path.with_name(f"{path.name}.damaged-{number}"), data)
            return
    raise JobError(f"{path}: damaged, and there are too many damaged copies beside it; put them elsewhere first")
