"""What a trainee has drilled, and what should come back.

Purpose: one file for each trainee; from its drills the box of every cause and what is due.
Law: the file is written whole and put in place in one step, so that it is always the old one or the new one. One that
cannot be read is set aside beside the new one and never written over.
The rule: every cause dealt sits in a box, 1 to 5. Cured without being told, it goes up one; left in the set, or its
remedy named by a hint, it goes back to the first. It is due again 1, 2, 4, 8 or 16 drills after it was dealt, by its
box. When something is due, three drills of five deal what has waited longest. (Boxes of cards, common practice.)
Not here: what a drill is (see the engine).
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from ...engine.problems import HertzwrightError, printable
from ...engine.simulated import Draws
from ..files import whole_file

VERSION = 1
BOXES = 5
DUE_SHARE = 0.6
_LARGEST = 10_000_000


class ProgressError(HertzwrightError):
    """A trainee's file that cannot be used or written. The message names it."""


@dataclass(frozen=True, slots=True)
class KeptDrill:
    """One drill as kept. truth, missed: ids of causes; broken: ids of order rules."""

    seed: str
    level: int
    truth: tuple[str, ...]
    missed: tuple[str, ...]
    end: str
    minutes: float
    engine_minutes: float
    hints: int
    unsafe: int
    broken: tuple[str, ...]
    at: str = ""


@dataclass(frozen=True, slots=True)
class TraineeProgress:
    """A trainee and his drills, the oldest first."""

    name: str
    drills: tuple[KeptDrill, ...] = field(default=())

    @property
    def boxes(self) -> dict[str, tuple[int, int]]:
        """Of every cause dealt: its box, and the number of the drill in which it was last dealt (1 is the first)."""
        found: dict[str, tuple[int, int]] = {}
        for number, drill in enumerate(self.drills, 1):
            for cause in drill.truth:
                box = found.get(cause, (1, 0))[0]
                found[cause] = (1 if cause in drill.missed else min(BOXES, box + 1), number)
        return found

    @property
    def due(self) -> tuple[str, ...]:
        """Causes that are due in the next drill, the one that has waited longest past its time first."""
        coming = len(self.drills) + 1
        late = {
            cause: coming - last - 2 ** (box - 1) for cause, (box, last) in self.boxes.items()
        }  # 0: due just now; below: not yet
        boxes = self.boxes
        return tuple(
            sorted(
                (cause for cause, over in late.items() if over >= 0),
                key=lambda cause: (-late[cause], boxes[cause][0], cause),
            )
        )

    def wanted(self) -> tuple[int, str]:
        """The first seed to try for the next drill, and the cause it should have; no cause where any will do."""
        draws = Draws("progress", self.name, len(self.drills))
        seed = int(draws.uniform() * 1_000_000)
        due = self.due
        return seed, due[0] if due and draws.uniform() < DUE_SHARE else ""


def path_of(folder: Path, name: str) -> Path:
    """The file of a trainee: his name where that is a plain one, else what is plain of it and a mark of the whole."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40]
    if plain != name:
        plain = f"{plain or 'trainee'}-{hashlib.sha256(name.encode('utf-8', 'surrogatepass')).hexdigest()[:8]}"
    return folder / f"{plain}.json"


def clean_name(name: str) -> str:
    """A trainee's name as it is kept: one line, at most 60 characters. Raises ProgressError where nothing is left."""
    cleaned = printable(" ".join(name.split()))[:60].strip()
    if not cleaned:
        raise ProgressError("the name of a trainee is empty; give one, such as --trainee kim")
    return cleaned


def read(path: Path, name: str) -> TraineeProgress:
    """A trainee's progress, empty where there is no file yet.

    Raises ProgressError where the file cannot be read, is damaged (then `damaged` is what to do) or is of a later form.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return TraineeProgress(name)
    except OSError as error:
        raise ProgressError(f"{printable(str(path))}: cannot be read: {error.strerror or error}") from None
    return _read(path, data, name)


class DamagedError(ProgressError):
    """The file is not what was written."""


def _read(path: Path, data: bytes, name: str) -> TraineeProgress:
    try:
        if len(data) > _LARGEST:
            raise ValueError("it is too long")
        found = json.loads(data)
        if not isinstance(found, dict) or not isinstance(found.get("version"), int):
            raise ValueError("it has no version")
        if found["version"] > VERSION:
            raise ProgressError(
                f"{printable(str(path))}: written by a later Hertzwright (form {found['version']}, here {VERSION}); "
                "give another --trainee, or use the later one"
            )
        return TraineeProgress(str(found["name"]), tuple(_kept(drill) for drill in found["drills"]))
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise DamagedError(f"{printable(str(path))}: damaged: {printable(str(error))[:100]}") from None


def _kept(found: Mapping[str, Any]) -> KeptDrill:
    def names(key: str) -> tuple[str, ...]:
        if not isinstance(found[key], list) or not all(isinstance(each, str) for each in found[key]):
            raise ValueError(f"{key} is no list of ids")
        return tuple(found[key])

    level, hints, unsafe = (int(found[key]) for key in ("level", "hints", "unsafe"))
    minutes, engine = float(found["minutes"]), float(found["engine_minutes"])
    return KeptDrill(
        str(found["seed"]), level, names("truth"), names("missed"), str(found["end"]), minutes, engine, hints, unsafe,
        names("broken"), str(found.get("at", "")),
    )  # fmt: skip


def set_aside(path: Path) -> Path:
    """Move a damaged file out of the way, to a name that nothing has. Returns where it is now."""
    for number in range(1, 1000):
        aside = path.with_name(f"{path.stem}.damaged-{number}")
        if not aside.exists():
            try:
                path.rename(aside)
            except OSError as error:
                raise ProgressError(
                    f"{printable(str(path))}: damaged, and cannot be set aside: {error.strerror or error}"
                ) from None
            return aside
    raise ProgressError(f"{printable(str(path))}: damaged, and too many are set aside already")


def add(path: Path, name: str, drill: KeptDrill) -> TraineeProgress:
    """Add a drill to a trainee's file, also while another terminal does. Raises ProgressError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(f"{path}.lock", timeout=5):
            before = read(path, name)
            after = TraineeProgress(name, (*before.drills, drill))
            body = {"version": VERSION, "name": name, "drills": [asdict(each) for each in after.drills]}
            whole_file.replace(path, (json.dumps(body, sort_keys=True, indent=1) + "\n").encode("utf-8"), 0o600)
            return after
    except Timeout:
        raise ProgressError(f"{printable(str(path))}: another terminal holds it; this drill is not kept") from None
    except OSError as error:
        raise ProgressError(f"{printable(str(path))}: cannot be written: {error.strerror or error}") from None


def listed(folder: Path) -> tuple[Sequence[TraineeProgress], Sequence[str]]:
    """Every trainee of a folder, by name, and what is wrong with files that cannot be read."""
    found, wrong = [], []
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix == ".json" and not path.name.startswith("."))
    except FileNotFoundError:
        return (), ()
    except OSError as error:
        return (), (f"{printable(str(folder))}: the folder of trainees cannot be read: {error.strerror or error}",)
    for path in paths:
        try:
            found.append(read(path, path.stem))
        except ProgressError as error:
            wrong.append(str(error))
    return tuple(found), tuple(wrong)
