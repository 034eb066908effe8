"""Saving a knowledge file: whole or not at all.

Purpose: write the text of a file of the knowledge beside it and put it in its place.
Law: a file is never left half written; its permissions stay; nothing outside the knowledge folder is written, not even
through a link.
Not here: what is written (see `new` and `tidy`).
"""

from __future__ import annotations

from pathlib import Path

from ...engine import HertzwrightError
from ..files import whole_file
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
    try:
        real.parent.mkdir(exist_ok=True)
        whole_file.replace(real, text.encode("utf-8"), 0o644)
    except OSError as error:
        raise SaveError(f"{as_typed(path)} cannot be written: {error.strerror or error}") from error
