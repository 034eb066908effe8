"""Knowledge as it was: from a folder, or from a revision that git keeps.

Purpose: load one side of a comparison; where some of its files do not load by today's rules, as far as they do.
Law: nothing is checked out and no repository is changed. A revision is given to git as one argument that can be no
option; only plain .yaml files of the knowledge folder are taken from it, into a temporary folder.
Not here: what is compared (see `compare`).
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath

from ...engine import HertzwrightError, Knowledge
from ...engine.compiler import Readout, read_folder
from ...engine.problems import Problem, printable, quoted
from ...engine.review import Published, published, renamed
from . import checkout

_MARK = "words.yaml"
_TIMEOUT = 60.0
_MOST_FILES, _MOST_BYTES = 1000, 20_000_000
_SHOWN = 3


class RevisionError(HertzwrightError):
    """A folder or revision from which no knowledge can be read."""


@dataclass(frozen=True, slots=True)
class KnowledgeVersion:
    """One side of a comparison. `notes`: files that do not load by today's rules and were taken from the other.

    published: the ids of its own files, of those that do not load too. renamed: ids of its files that the other side
    has under another name, which they have in `knowledge` too.
    """

    name: str
    knowledge: Knowledge
    published: Published
    notes: tuple[str, ...] = ()
    renamed: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Found:
    name: str
    readout: Readout
    texts: dict[str, bytes]


def sides(old: str, new: str | None, knowledge: str | None) -> tuple[KnowledgeVersion, KnowledgeVersion]:
    """The two sides. `new` None: the folder of --knowledge, else that of the checkout one stands in, else as shipped.

    Raises RevisionError where one cannot be read, or the new one holds errors.
    """
    second = _read(new if new is not None else knowledge, Path(knowledge) if knowledge else None)
    if second.readout.catalogue is None:
        raise RevisionError(_refused(second.name, second.readout.problems))
    first = _read(old, Path(knowledge) if knowledge else None)
    own = published(second.readout.pages.values())
    newer = KnowledgeVersion(second.name, Knowledge(second.readout.catalogue), own)
    return _followed(first, _mended(first, second), newer), newer


def _followed(first: _Found, mended: KnowledgeVersion, newer: KnowledgeVersion) -> KnowledgeVersion:
    """The old side with the names that the new side has for the same things, as far as its files load with them."""
    names = renamed(mended.knowledge, newer.knowledge)
    if not names or mended.notes:
        return mended
    word = re.compile(rf"(?<![\w.-])({'|'.join(map(re.escape, names))})(?![\w-])".encode())
    known = {old.encode(): new.encode() for old, new in names.items()}
    texts = {file: word.sub(lambda met: known[met[0]], text) for file, text in first.texts.items()}
    readout = _written(first.name, texts).readout
    if readout.catalogue is None:
        return mended
    return KnowledgeVersion(mended.name, Knowledge(readout.catalogue), mended.published, mended.notes, names)


def _read(given: str | None, near: Path | None) -> _Found:
    if given is None:
        here = checkout.find()
        return _folder(here.folder, "the knowledge shipped" if here.shipped else f"{here.shown or '.'} as it is now")
    path = Path(given)
    if path.is_dir():
        return _folder(_inside(path), given)
    if path.exists():
        raise RevisionError(f"{quoted(given)} is a file; expected a folder of knowledge or a git revision")
    return _revision(given, near)


def _inside(path: Path) -> Path:
    """The folder itself, or its `knowledge` where it is a whole checkout."""
    inner = path / "knowledge"
    return inner if not (path / _MARK).exists() and (inner / _MARK).exists() else path


def _folder(folder: Path, name: str) -> _Found:
    if not (folder / _MARK).is_file():
        raise RevisionError(f"{quoted(name)}: no knowledge in this folder; expected one that holds {_MARK}")
    texts = {}
    for path in sorted(folder.rglob("*.yaml")):
        if path.is_file():
            texts[path.relative_to(folder).as_posix()] = path.read_bytes()
    return _Found(name, read_folder(folder), texts)


# ---- git


def _git(arguments: Sequence[str], folder: Path) -> subprocess.CompletedProcess[bytes]:
    program = shutil.which("git")
    if program is None:
        raise RevisionError("git is not installed; give a folder instead of a revision")
    try:
        return subprocess.run(
            [program, "-C", str(folder), *arguments],
            capture_output=True,
            stdin=subprocess.DEVNULL,
            timeout=_TIMEOUT,
            check=False,
            env={**os.environ, "GIT_TERMINAL_PROMPT": "0", "LC_ALL": "C"},
        )
    except subprocess.TimeoutExpired:
        raise RevisionError(f"git did not answer within {_TIMEOUT:.0f} s") from None
    except (OSError, ValueError) as error:
        raise RevisionError(f"git cannot be run: {printable(str(error))}") from None


@dataclass(frozen=True, slots=True)
class LastChange:
    """When and by whom some lines of a file were changed last: the day (ISO), the author's name, the commit."""

    day: str
    who: str
    commit: str


def last_change(path: Path, first: int, last: int) -> LastChange | None:
    """The newest commit that touched lines `first` to `last` (from 1) of a file; None where git does not keep it.

    Lines that are changed and not committed are nobody's yet and are passed over.
    """
    try:
        found = _git(["blame", "--porcelain", f"-L{first},{last}", "--", path.name], path.parent)
    except RevisionError:
        return None
    facts: dict[str, dict[str, str]] = {}
    commit = ""
    for row in found.stdout.decode("utf-8", "replace").splitlines():
        key, _, rest = row.partition(" ")
        if len(key) >= 40 and set(key) <= set("0123456789abcdef"):
            commit = key
        elif not row.startswith("\t"):
            facts.setdefault(commit, {})[key] = rest
    written = [(int(each["author-time"]), name) for name, each in facts.items() if set(name) != {"0"}]
    if not written:
        return None
    moment, commit = max(written)
    day = datetime.fromtimestamp(moment, UTC).date().isoformat()
    return LastChange(day, printable(facts[commit].get("author", "")), commit[:10])


def _top(near: Path | None) -> Path | None:
    """The top of the repository that holds a folder, or the current one."""
    found = _git(["rev-parse", "--show-toplevel"], near if near is not None and near.is_dir() else Path.cwd())
    return Path(os.fsdecode(found.stdout.removesuffix(b"\n"))) if found.returncode == 0 else None


def _revision(ref: str, near: Path | None) -> _Found:
    if ref.startswith("-") or not ref.isprintable() or not ref:
        raise RevisionError(f"{quoted(ref)} is no revision and no folder")
    standing = checkout.find()
    if near is None and not standing.shipped:
        near = standing.folder
    top = _top(near)
    if top is None:
        raise RevisionError(f"{quoted(ref)}: no such folder, and no git repository here to look for a revision")
    resolved = _git(["rev-parse", "--verify", "--quiet", "--end-of-options", f"{ref}^{{commit}}"], top)
    commit = resolved.stdout.decode("ascii", "replace").strip()
    if resolved.returncode != 0 or not commit.isalnum():
        raise RevisionError(
            f"{quoted(ref)}: no such folder, and no such revision in this repository; "
            "fetch it first, or see `git log --oneline`"
        )
    inside = "knowledge"
    if near is not None:
        resolved_near = near.resolve()
        if resolved_near != top.resolve() and resolved_near.is_relative_to(top.resolve()):
            inside = resolved_near.relative_to(top.resolve()).as_posix()
    packed = _git(["archive", "--format=tar", commit, "--", inside], top)
    if packed.returncode != 0:
        raise RevisionError(f"{quoted(ref)}: this revision has no folder {quoted(inside)}")
    texts = unpacked(packed.stdout, inside)
    short = commit[:10]
    name = ref if commit.startswith(ref) else f"{ref} ({short})"
    return _written(name, texts)


def unpacked(packed: bytes, inside: str) -> dict[str, bytes]:
    """The plain .yaml files under a folder of a tar archive, by their path in it. Raises RevisionError."""
    found: dict[str, bytes] = {}
    room = _MOST_BYTES
    base = PurePosixPath(inside)
    try:
        with tarfile.open(fileobj=io.BytesIO(packed), mode="r:") as archive:
            for member in archive:
                path = PurePosixPath(member.name)
                if not member.isreg() or path.suffix != ".yaml" or path.is_absolute() or ".." in path.parts:
                    continue
                if not path.is_relative_to(base):
                    continue
                room -= member.size
                if room < 0 or len(found) >= _MOST_FILES:
                    raise RevisionError("this revision holds more than a knowledge base ever does")
                held = archive.extractfile(member)
                if held is not None:
                    found[path.relative_to(base).as_posix()] = held.read()
    except tarfile.TarError as error:
        raise RevisionError(f"git gave no archive: {printable(str(error))}") from None
    return found


def _written(name: str, texts: dict[str, bytes]) -> _Found:
    """The readout of texts, by way of a temporary folder."""
    if _MARK not in texts:
        raise RevisionError(f"{quoted(name)}: no knowledge in this revision; expected {_MARK} in its folder")
    with tempfile.TemporaryDirectory(prefix="hertzwright-") as temporary:
        root = Path(temporary).resolve()
        for file, text in texts.items():
            path = root / file
            if not path.resolve().is_relative_to(root):
                raise RevisionError(f"{quoted(name)}: {quoted(file)} lies outside of the knowledge folder")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text)
        return _Found(name, read_folder(root), texts)


# ---- what does not load


def _mended(first: _Found, second: _Found) -> KnowledgeVersion:
    """The old side; files that do not load by today's rules are taken from the new side, so nothing differs there."""
    texts, readout, notes = dict(first.texts), first.readout, dict[str, str]()
    for _ in range(8):
        if readout.catalogue is not None:
            told = tuple(f"{file}: {why}; taken from {second.name}" for file, why in sorted(notes.items()))
            return KnowledgeVersion(
                first.name, Knowledge(readout.catalogue), published(first.readout.pages.values()), told
            )
        wrong: dict[str, list[Problem]] = {}
        for problem in readout.problems:
            if problem.severity == "error":
                wrong.setdefault(problem.file, []).append(problem)
        fresh = [file for file in wrong if file not in notes]
        if not fresh:
            break
        for file in fresh:
            missing = file not in first.texts
            count = len(wrong[file])
            notes[file] = "not there" if missing else f"{count} error{'' if count == 1 else 's'} by today's rules"
            if file in second.texts:
                texts[file] = second.texts[file]
            else:
                texts.pop(file, None)
        readout = _written(first.name, texts).readout
    raise RevisionError(_refused(first.name, first.readout.problems))


def _refused(name: str, problems: Sequence[Problem]) -> str:
    errors = [problem for problem in problems if problem.severity == "error"]
    count = f"{len(errors)} error{'' if len(errors) == 1 else 's'}"
    lines = [f"{printable(name)} does not load: {count}"]
    lines += [f"  {problem}" for problem in errors[:_SHOWN]]
    if len(errors) > _SHOWN:
        lines.append(f"  and {len(errors) - _SHOWN} more; `hertzwright knowledge check` tells all of them")
    return "\n".join(lines)
