"""What a trainee has drilled, and what should come back.

Purpose: one file for each trainee; from its drills the box of every cause and what is due.
Law: the file is written whole and put in place in one step, so that it is always the old one or the new one. One that
cannot be read is set aside beside the new one and never written over.
The rule: a cause comes back after days that grow with every time it was found, by the same law as a unit of the course
(see `teaching.repetition`); one that was missed is due in the next drill already, and until it is found. When something
is due, three drills of five deal what is most forgotten.
A file of the first form has drills alone; its drills without a day count as long ago.
Not here: what a drill and a unit are (see the engine).
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from ...engine.problems import HertzwrightError, printable
from ...engine.simulated import Draws
from ...engine.teaching import FORGOTTEN, GOOD, HARD, Review, due_again, grade, still_known
from ..files import whole_file

VERSION = 2
DUE_SHARE = 0.6
_LARGEST = 10_000_000


class ProgressError(HertzwrightError):
    """A trainee's file that cannot be used or written. The message names it."""


@dataclass(frozen=True, slots=True)
class KeptDrill:
    """One drill as kept. truth, missed: ids of causes; broken: ids of order rules. score: of 100; None where a file
    of before has none."""

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
    score: float | None = None


@dataclass(frozen=True, slots=True)
class KeptUnit:
    """A unit gone through once: how many of its questions were right, and when."""

    unit: str
    right: int
    asked: int
    at: str = ""


@dataclass(frozen=True, slots=True)
class TraineeProgress:
    """A trainee, his drills and units, the oldest first."""

    name: str
    drills: tuple[KeptDrill, ...] = field(default=())
    units: tuple[KeptUnit, ...] = field(default=())

    @property
    def met(self) -> dict[str, tuple[Review, ...]]:
        """Of every cause dealt, how it went each time: missed, found with hints, or found."""
        found: dict[str, tuple[Review, ...]] = {}
        for drill in self.drills:
            for cause in drill.truth:
                went = FORGOTTEN if cause in drill.missed else HARD if drill.hints else GOOD
                found[cause] = (*found.get(cause, ()), Review(_day(drill.at), went))
        return found

    @property
    def read(self) -> dict[str, tuple[Review, ...]]:
        """Of every unit gone through, how it went each time."""
        found: dict[str, tuple[Review, ...]] = {}
        for each in self.units:
            before = found.get(each.unit, ())
            went = grade(each.right, each.asked, not before)
            found[each.unit] = (*before, Review(_day(each.at), went))
        return found

    def comes_back(self, cause: str) -> date | None:
        """The day from which a cause is due; None where it was never dealt, or was missed and is due at once."""
        made = self.met.get(cause, ())
        return None if not made or made[-1].grade == FORGOTTEN else due_again(made)

    def due(self, day: date) -> tuple[str, ...]:
        """Causes that are due on a day: those missed when they were dealt last, then the most forgotten first."""
        known = {}
        for cause, made in self.met.items():
            back = due_again(made)
            if made[-1].grade == FORGOTTEN:
                known[cause] = -1.0
            elif back is not None and back <= day:
                known[cause] = still_known(made, day)
        return tuple(sorted(known, key=lambda cause: known[cause]))

    def wanted(self, day: date) -> tuple[int, str]:
        """The first seed to try for the next drill, and the cause it should have; no cause where any will do."""
        draws = Draws("progress", self.name, len(self.drills))
        seed = int(draws.uniform() * 1_000_000)
        due = self.due(day)
        return seed, due[0] if due and draws.uniform() < DUE_SHARE else ""


LONG_AGO = date(2000, 1, 1)


def _day(at: str) -> date:
    """The day of something kept, where it was done; long ago where that was not written down."""
    try:
        return datetime.fromisoformat(at).date()
    except ValueError:
        return LONG_AGO


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
        units = found.get("units", []) if found["version"] > 1 else []
        return TraineeProgress(str(found["name"]), tuple(map(_kept, found["drills"])), tuple(map(_kept_unit, units)))
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise DamagedError(f"{printable(str(path))}: damaged: {printable(str(error))[:100]}") from None


def read_or_begun(path: Path, name: str) -> TraineeProgress:
    """A trainee's progress; a damaged file is set aside, which is said on standard error."""
    try:
        return read(path, name)
    except DamagedError as error:
        aside = set_aside(path)
        print(f"hertzwright: {error}; kept as {printable(str(aside))}, and begun anew", file=sys.stderr)
        return TraineeProgress(name)


def _kept(found: Mapping[str, Any]) -> KeptDrill:
    def names(key: str) -> tuple[str, ...]:
        if not isinstance(found[key], list) or not all(isinstance(each, str) for each in found[key]):
            raise ValueError(f"{key} is no list of ids")
        return tuple(found[key])

    level, hints, unsafe = (int(found[key]) for key in ("level", "hints", "unsafe"))
    minutes, engine = float(found["minutes"]), float(found["engine_minutes"])
    return KeptDrill(
        str(found["seed"]), level, names("truth"), names("missed"), str(found["end"]), minutes, engine, hints, unsafe,
        names("broken"), str(found.get("at", "")), None if found.get("score") is None else float(found["score"]),
    )  # fmt: skip


def _kept_unit(found: Mapping[str, Any]) -> KeptUnit:
    right, asked = int(found["right"]), int(found["asked"])
    if not 0 <= right <= asked <= 100:
        raise ValueError(f"{right} of {asked} right")
    return KeptUnit(str(found["unit"]), right, asked, str(found.get("at", "")))


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


def add(path: Path, name: str, done: KeptDrill | KeptUnit) -> TraineeProgress:
    """Add a drill or a unit to a trainee's file, also while another terminal does. Raises ProgressError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(f"{path}.lock", timeout=5):
            before = read(path, name)
            drills, units = before.drills, before.units
            if isinstance(done, KeptUnit):
                units = (*units, done)
            else:
                drills = (*drills, done)
            after = TraineeProgress(name, drills, units)
            whole_file.replace(path, as_text(after).encode("utf-8"), 0o600)
            return after
    except Timeout:
        raise ProgressError(f"{printable(str(path))}: another terminal holds it; this is not kept") from None
    except OSError as error:
        raise ProgressError(f"{printable(str(path))}: cannot be written: {error.strerror or error}") from None


def as_text(found: TraineeProgress) -> str:
    """A trainee's file as it is written and exported."""
    body = {"version": VERSION, **asdict(found)}
    return json.dumps(body, sort_keys=True, indent=1) + "\n"


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
