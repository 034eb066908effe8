"""`hertzwright lesson`: ten minutes a day, the unit of the course that is due.

Purpose: from a trainee's progress to the unit of today, through it, and to the day on which it comes back.
Law: what is due again comes before anything new. A new unit is thought about, read and drilled; one that comes back is
asked first and read again where something was wrong. Each unit is kept when it is done, so that a stop loses nothing.
With no terminal the answers come from `--answers FILE` or standard input, one a line; with none the unit is shown.
Not here: what is due (see the engine), how a unit looks (see `unit_view`), the long drill (see `drill`).
"""

from __future__ import annotations

import argparse
import io
import json
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from ...engine import Knowledge
from ...engine.compiler import Unit
from ...engine.problems import HertzwrightError, close_to, quoted
from ...engine.teaching import UnitStanding, due_again, due_today, next_day, of_area, standings
from ..files import store
from ..terminal import Asker, Screen, Stop, choose, finder
from . import progress, today, unit_view
from .progress import KeptUnit, TraineeProgress
from .script import asker_of, read_answers
from .unit_view import Asked

QUESTIONS = 3
"""Of a unit: its prediction and its two short drills."""
_INSTEAD = "give --answers FILE, or the answers on standard input, one a line"


class LessonError(HertzwrightError):
    """A unit or an area that there is none of. The message says what was expected."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add = parser.add_argument
    add(
        "unit",
        nargs="*",
        metavar="UNIT",
        help="a unit by its number in the list, its id or words of its title; otherwise what is due today",
    )
    add("--list", action="store_true", help="the units of the course, and when each is due")
    add("--read", action="store_true", help="only read, ask nothing and keep nothing")
    add("--trainee", metavar="NAME", default="me", help="whose progress is kept (default: me)")
    add("--answers", metavar="FILE", help="take the answers from a file, one a line; - for standard input")
    add("--json", action="store_true", help="what is due today and the unit as JSON; with --answers how it went")
    today.add_day(parser)
    store.add_folder(parser)
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    """Run the command. Returns the exit status; raises HertzwrightError for what cannot be used."""
    knowledge, day = store.knowledge(arguments.knowledge), today.day_of(arguments.day)
    name = progress.clean_name(arguments.trainee)
    path = progress.path_of(store.trainees_folder(store.jobs_folder(arguments.folder)), name)
    found = progress.read_or_begun(path, name)
    screen = Screen(arguments.plain)
    if arguments.list:
        return _list(screen, knowledge, found, day, arguments.json)
    wanted = _named(knowledge, " ".join(arguments.unit))
    units = [wanted] if wanted is not None else [each.unit for each in due_today(knowledge, found.read, day)]
    lines = read_answers(arguments.answers)
    if arguments.json and lines is None:
        return _print_json(knowledge, found, day, units)
    if arguments.read:
        for unit in units[:1]:
            unit_view.whole(screen, knowledge, unit)
        return 0 if units else _nothing(screen, knowledge, found, day)
    if not units:
        return _nothing(screen, knowledge, found, day)
    quiet = Screen(True, io.StringIO(), 100) if arguments.json else screen
    with quiet:
        asker = asker_of(lines, arguments.plain, _INSTEAD, quiet)
        if asker is None:
            unit_view.whole(screen, knowledge, units[0])
            screen.note(f"To be asked: {_INSTEAD}.")
            return 0
        done = _gone_through(Asked(quiet, asker, knowledge), units, path, found, day)
    if arguments.json:
        rows = [{"unit": each.unit, "right": each.right, "asked": each.asked} for each in done]
        print(json.dumps({"version": 1, "done": rows, **_when(knowledge, path, name, day)}, sort_keys=True, indent=2))
    return 0 if done or lines is None else 1


def _named(knowledge: Knowledge, words: str) -> Unit | None:
    """The unit that words mean; None where there are none. Raises LessonError."""
    if not words.strip():
        return None
    if not knowledge.units:
        raise LessonError("this knowledge has no course: no units.yaml")
    if words in knowledge.units:
        return knowledge.units[words]
    if words.strip().isdecimal():
        place, units = int(words.strip()[:9]), list(knowledge.units.values())
        if not 1 <= place <= len(units):
            raise LessonError(f"no unit {quoted(words)}; expected 1 to {len(units)}, as lesson --list numbers them")
        return units[place - 1]
    phrases = {name: (unit.title, name.replace("_", " ")) for name, unit in knowledge.units.items()}
    found = [name for name, texts in phrases.items() if words.lower() in (text.lower() for text in texts)]
    found = found or [name for name, texts in phrases.items() if any(words.lower() in text.lower() for text in texts)]
    if len(found) == 1:
        return knowledge.units[found[0]]
    near = [knowledge.units[name].title for name in found or finder.find(words, phrases, 3)]
    hint = f"did you mean {' or '.join(near)}?" if near else close_to(words, phrases, f"known are {', '.join(phrases)}")
    raise LessonError(f"no unit {quoted(words)}; {hint}")


# ---- through a unit


def _gone_through(asked: Asked, units: list[Unit], path: Path, found: TraineeProgress, day: date) -> list[KeptUnit]:
    """Units one after another, each kept when it is done."""
    done: list[KeptUnit] = []
    screen = asked.screen
    try:
        for number, unit in enumerate(units):
            if number:
                screen.line(f"Also due today: {unit.title}.")
                if choose(asked.asker, screen, "Go on with it?", ("yes, go on", "no, stop here"), 0) == 1:
                    break
            times = len(found.read.get(unit.id, ()))
            right = _unit(asked, unit, times, f"{found.name} {unit.id} {times}")
            kept = KeptUnit(unit.id, right, QUESTIONS, today.moment(day))
            found = progress.add(path, found.name, kept)
            done.append(kept)
            _result(screen, found, unit, right)
    except Stop:
        screen.line("Stopped. What was done is kept; a unit that was begun comes again.")
    screen.line(_next(asked.knowledge, found, day))
    return done


def _unit(asked: Asked, unit: Unit, times: int, seed: str) -> int:
    """One unit. Returns how many of its questions were right."""
    screen = asked.screen
    if times:
        screen.line(f"{unit_view.head(asked.knowledge, unit)} (again)", "bold")
    else:
        screen.line(f"{unit_view.head(asked.knowledge, unit)}: a few minutes", "bold")
    right = int(unit_view.predicted(asked, unit, seed))
    if not times:
        unit_view.walked(asked, unit)
    for number, plan in enumerate(unit.drills, 1):
        right += unit_view.drilled(asked, plan, number, f"{seed} {number}")
    if times and right < QUESTIONS:
        screen.line("Read it once more.")
        unit_view.walked(asked, unit)
    return right


def _result(screen: Screen, found: TraineeProgress, unit: Unit, right: int) -> None:
    back = due_again(found.read[unit.id])
    when = f" It comes back on {back.isoformat()}." if back is not None else ""
    screen.line(f"{unit.title}: {right} of {QUESTIONS} right.{when}", "bold")


def _next(knowledge: Knowledge, found: TraineeProgress, day: date) -> str:
    """What comes next, and when."""
    left = due_today(knowledge, found.read, day)
    if left:
        return f"Still due today: {', '.join(each.unit.title.lower() for each in left)}."
    after = next_day(knowledge, found.read, day)
    if after is None:
        return "This knowledge has no course."
    told = f"Nothing more is due today; the next is due on {after.isoformat()}. A whole drill: hertzwright drill."
    new = next((unit for unit in knowledge.units.values() if unit.id not in found.read), None)
    if new is None:
        return told
    return f"{told} To go on with the next unit today: hertzwright lesson {list(knowledge.units).index(new.id) + 1}."


def _nothing(screen: Screen, knowledge: Knowledge, found: TraineeProgress, day: date) -> int:
    screen.line(_next(knowledge, found, day))
    return 0


# ---- what is due, and lists


def _list(screen: Screen, knowledge: Knowledge, found: TraineeProgress, day: date, as_text: bool) -> int:
    course = standings(knowledge, found.read, day)
    if as_text:
        print(
            json.dumps({"version": 1, "day": day.isoformat(), "course": [*map(_row, course)]}, sort_keys=True, indent=2)
        )
        return 0
    screen.heading(f"The course of {found.name}")
    for number, each in enumerate(course, 1):
        when = "not begun" if each.due is None else "due" if each.due <= day else f"due {each.due.isoformat()}"
        screen.line(f"{number:>2} {each.unit.title}: {when}", hanging="   ")
    screen.note("hertzwright lesson gives what is due; with a number or words of a title that unit.")
    return 0


def _row(each: UnitStanding) -> dict[str, object]:
    due = each.due.isoformat() if each.due is not None else None
    return {"id": each.unit.id, "title": each.unit.title, "times": each.times, "due": due, "known": each.known}


def _print_json(knowledge: Knowledge, found: TraineeProgress, day: date, units: list[Unit]) -> int:
    after = next_day(knowledge, found.read, day)
    body = {
        "version": 1,
        "day": day.isoformat(),
        "today": [unit.id for unit in units],
        "unit": unit_view.as_dict(units[0]) if units else None,
        "next_day": after.isoformat() if after is not None else None,
    }
    print(json.dumps(body, sort_keys=True, indent=2))
    return 0


def _when(knowledge: Knowledge, path: Path, name: str, day: date) -> dict[str, object]:
    after = next_day(knowledge, progress.read(path, name).read, day)
    return {"next_day": after.isoformat() if after is not None else None}


# ---- before a drill on an area


def of_features(knowledge: Knowledge, area: str, given: Mapping[str, object]) -> tuple[Unit, ...]:
    """The units about an area, none where a set with these features has nothing of it. Raises LessonError."""
    if area not in knowledge.catalogue.areas:
        hint = close_to(area, knowledge.catalogue.areas, f"known are {', '.join(knowledge.catalogue.areas)}")
        raise LessonError(f"no area {quoted(area)}; {hint}")
    features = knowledge.features(given)
    if not any(each.area == area and each.prior(features) > 0.0 for each in knowledge.causes.values()):
        return ()
    return of_area(knowledge, area)


def print_lesson(screen: Screen, knowledge: Knowledge, area: str, given: Mapping[str, object]) -> int:
    """The units about an area, for a reader who cannot be asked."""
    walked(screen, None, knowledge, area, given)
    return 0


def walked(screen: Screen, asker: Asker | None, knowledge: Knowledge, area: str, given: Mapping[str, object]) -> bool:
    """Walk the units about an area where there is somebody to ask. Returns whether the drill should follow."""
    units = of_features(knowledge, area, given)
    if not units:
        screen.line(f"A set with these features has nothing of the area {area.replace('_', ' ')}.")
        return False
    for number, unit in enumerate(units, 1):
        unit_view.whole(screen, knowledge, unit)
        if asker is None:
            continue
        on = ("a drill on this area",) if number == len(units) else ("next unit", "straight to the drill")
        options = (*on, "stop here")
        screen.line()
        at = choose(asker, screen, "", options, 0)
        if options[at] == "stop here":
            return False
        if options[at] == "straight to the drill":
            break
    return True


def as_json(knowledge: Knowledge, area: str, given: Mapping[str, object]) -> int:
    """The units about an area as JSON on standard output."""
    units = [unit_view.as_dict(unit) for unit in of_features(knowledge, area, given)]
    print(json.dumps({"version": 2, "area": area, "units": units}, sort_keys=True, indent=2))
    return 0
