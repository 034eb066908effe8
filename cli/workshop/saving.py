"""Saving a knowledge file: whole or not at all.

Purpose: write the text of a file of the knowledge beside it and put it in its place.
Law: a file is never left half written; its permissions stay; nothing outside the knowledge folder is written, not even
through a link.
Not here: what is written (see `new` and `tidy`).
"""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from ...engine import HertzwrightError
from .checkout import as_typed


class SaveError(HertzwrightError):
    """A file that cannot be written, or must not be."""


def inside(path: Path, folder: Path) -> Path:
    """The file that a path leads to. Raises SaveError where that lies outside the folder."""
    real = path.resolve()
    if not real.is_relative_to(folder.resolve()):
        raise SaveError(f"{as_typed(path)} leads out of {as_typed(folder)}, to {real}; it is not written")
    return real


def save(path: Path, text: str, folder: Path) -> None:
    """Put a text in a file, as UTF-8 with the line ends that the text has. Raises SaveError."""
    real = inside(path, folder)
    beside = ""
    try:
        real.parent.mkdir(exist_ok=True)
        handle, beside = tempfile.mkstemp(dir=real.parent, prefix=f".{real.name}.")
        with os.fdopen(handle, "wb") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(beside, real.stat().st_mode & 0o777 if real.exists() else 0o644)
        os.replace(beside, real)
        beside = ""
    except OSError as error:
        raise SaveError(f"{as_typed(path)} cannot be written: {error.strerror or error}") from error
    finally:
        if beside:
            with suppress(OSError):
                os.unlink(beside)
