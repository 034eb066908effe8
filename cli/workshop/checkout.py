"""Which knowledge an editor means: by the files or folders given, or by where the editor stands.

Purpose: find the knowledge folder that paths belong to, and which of its files were asked for.
Law: reads no file and changes nothing. A folder holds knowledge where it has words.yaml or a folder areas/.
Not here: what the files say (see `compiler.reader`).
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from ...engine import HertzwrightError
from ...engine.problems import quoted


class CheckoutError(HertzwrightError):
    """No folder of knowledge is where it should be."""


@dataclass(frozen=True, slots=True)
class Checkout:
    """A knowledge folder. `only`: the files asked for, as problems name them; empty for all. `shipped`: ours."""

    folder: Path
    only: frozenset[str] = frozenset()
    shipped: bool = False

    @property
    def shown(self) -> str:
        """The folder as the reader would type it from here; empty for the one shipped."""
        return "" if self.shipped else as_typed(self.folder)

    def named(self, file: str) -> str:
        """A file of it as the reader would type it from here."""
        return file if self.shipped else as_typed(self.folder / file)

    def asked(self, file: str) -> bool:
        """Whether a file is one of those asked for."""
        return not self.only or file in self.only


def as_typed(path: Path) -> str:
    """A path relative to where the reader stands, where it lies below; with slashes on every system."""
    whole = Path(os.path.abspath(path))
    here = Path.cwd()
    return (whole.relative_to(here) if whole.is_relative_to(here) else whole).as_posix()


def holds_knowledge(folder: Path) -> bool:
    """Whether a folder is a knowledge folder."""
    return (folder / "words.yaml").is_file() or (folder / "areas").is_dir()


def find(paths: Sequence[str] = (), option: str | None = None) -> Checkout:
    """The knowledge that is meant.

    Parameters: `paths` are files or folders, `option` is what `--knowledge` names. With neither it is the folder
    knowledge/ of the checkout one stands in, else the knowledge shipped. Raises CheckoutError where a path is not
    there, belongs to no knowledge, or to another one than the paths before it.
    """
    found = Checkout(_given(option)) if option is not None else None
    only: set[str] | None = set()
    for path in paths:
        folder, files_of = _belonging(path)
        if found is not None and not _same(found.folder, folder):
            raise CheckoutError(f"{path} is not in {as_typed(found.folder)}; give paths of one knowledge at a time")
        found = found or Checkout(folder)
        only = None if only is None or files_of is None else only | files_of
    if found is not None:
        return Checkout(found.folder, frozenset(only or ()))
    return _standing_in() or shipped()


def shipped() -> Checkout:
    """The knowledge that came with this version."""
    return Checkout(Path(str(files("hertzwright.knowledge"))), shipped=True)


def _given(option: str) -> Path:
    if not Path(option).is_dir():
        raise CheckoutError(f"{option}: no such folder")
    return Path(option)


def _standing_in() -> Checkout | None:
    here = Path.cwd()
    for folder in (here, *here.parents):
        for candidate in (folder, folder / "knowledge"):
            if (candidate / "words.yaml").is_file() and (candidate / "areas").is_dir():
                return Checkout(candidate)
    return None


def _belonging(path: str) -> tuple[Path, set[str] | None]:
    """The knowledge folder a path belongs to, and the files asked for: None for all of them."""
    asked = Path(path)
    if not asked.exists():
        raise CheckoutError(f"{path}: no such file or folder")
    if asked.is_dir():
        if holds_knowledge(asked):
            return asked, None
        if holds_knowledge(asked / "knowledge"):
            return asked / "knowledge", None
    whole = Path(os.path.abspath(asked))
    for folder in whole.parents:
        if holds_knowledge(folder):
            inside = [whole] if asked.is_file() else sorted(whole.rglob("*.yaml"))
            return folder, {each.relative_to(folder).as_posix() for each in inside}
    if asked.is_dir():
        return asked, None  # said to be knowledge: the reader tells what it lacks
    raise CheckoutError(f"{quoted(path)} is in no knowledge folder; one holds words.yaml and areas/")


def _same(one: Path, other: Path) -> bool:
    return os.path.abspath(one) == os.path.abspath(other)
