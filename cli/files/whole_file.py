"""A file written whole: beside its place, on the disk, and only then put there.

Purpose: the one way in which a file is replaced or a new one made, so that nobody ever finds half of it.
Law: `replace` keeps the permissions and, where that may be, the owner of what it replaces; `create` never lands on
a name that is taken, even by a file made this moment. What was written beside is taken away where anything fails.
Not here: whether it may be written at all (see `output_file`), nor a file that only grows (see `journal`).
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from stat import S_IMODE


def replace(path: Path, data: bytes, mode: int | None = None) -> None:
    """Put data in the place of a file, or make it. mode: permissions of a new file, else those usual here.

    A link is replaced and not followed: give where it leads. Raises OSError, and then what was there still is.
    """
    try:
        before = path.stat()
    except FileNotFoundError:
        before = None
    with _beside(path, data) as beside:
        if before is None:
            os.chmod(beside, _usual() if mode is None else mode)
        else:
            with contextlib.suppress(OSError, AttributeError):  # only root can give a file away
                os.chown(beside, before.st_uid, before.st_gid)
            os.chmod(beside, S_IMODE(before.st_mode))
        os.replace(beside, path)
    sync_folder(path.parent)


def create(path: Path, data: bytes) -> None:
    """Make a file under a name that must be free. Raises FileExistsError where it is not, and OSError."""
    with _beside(path, data) as beside:
        os.chmod(beside, _usual())
        link(beside, path)
    sync_folder(path.parent)


def link(path: Path, name: Path) -> None:
    """Give a file that is on the disk a further name, which must be free. Raises FileExistsError where it is not."""
    try:
        os.link(path, name)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        data = path.read_bytes()
        with name.open("xb") as stream:
            try:
                _write(stream.fileno(), data)
            except OSError:
                with contextlib.suppress(OSError):
                    name.unlink()
                raise


def sync_folder(folder: Path) -> None:
    """Have the folder itself on the disk, so that a new name is found after a crash."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # a system that does not open folders
        return
    with contextlib.suppress(OSError):
        os.fsync(handle)
    os.close(handle)


@contextlib.contextmanager
def _beside(path: Path, data: bytes) -> Iterator[Path]:
    """A synced file with this data in the same folder, taken away at the end unless it was moved."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:100]}.")
    beside = Path(name)
    try:
        try:
            _write(handle, data)
        finally:
            os.close(handle)
        yield beside
    finally:
        with contextlib.suppress(OSError):
            beside.unlink()


def _write(handle: int, data: bytes) -> None:
    left = memoryview(data)
    while left:
        left = left[os.write(handle, left) :]
    os.fsync(handle)


def _usual() -> int:
    """Permissions of a new file, as `open` would give them."""
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
