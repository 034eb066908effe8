"""What a trainee has learned so far, whose progress is kept, and what a foreman sees of several.

Purpose: progress by area over time as small plots, what is due and what was missed; one table of several trainees.
Law: reads progress files, writes nothing; a trainee is named as he named himself.
Not here: how progress is kept (see `progress`).
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from datetime import date
from math import fsum
from pathlib import Path

from ...engine import Knowledge
from ...engine.problems import printable
from ...engine.teaching import standings, still_known
from ..terminal import Screen, minutes, percent
from . import progress
from .progress import TraineeProgress

MEANT = "One sign for every second day or more, oldest first: how much of what was met there is still known"
STEPS = 10
_BLOCKS, _ASCII = "\u2581\u2582\u2583\u2584\u2585\u2586\u2587\u2588", ".:-=+*%#"


def known_in(knowledge: Knowledge, found: TraineeProgress, area: str, day: date) -> float | None:
    """Mean chance, 0 to 1, that the causes of an area met by a day are known on it; None where none was met."""
    met = {
        cause: [review for review in made if review.day <= day]
        for cause, made in found.met.items()
        if cause in knowledge.causes and knowledge.causes[cause].area == area
    }
    chances = [still_known(made, day) for made in met.values() if made]
    return fsum(chances) / len(chances) if chances else None


def days_of(found: TraineeProgress, day: date, count: int = STEPS) -> tuple[date, ...]:
    """Some days from the first drill to today, evenly apart."""
    began = min(
        (review.day for made in found.met.values() for review in made if review.day > progress.LONG_AGO), default=day
    )
    span = max(0, day.toordinal() - began.toordinal())
    return tuple(dict.fromkeys(date.fromordinal(began.toordinal() + span * at // (count - 1)) for at in range(count)))


def small_plot(values: Sequence[float | None], blocks: bool) -> str:
    """Shares from 0 to 1 as one sign each; a blank where there is none."""
    signs = _BLOCKS if blocks else _ASCII
    return "".join(" " if value is None else signs[min(len(signs) - 1, int(value * len(signs)))] for value in values)


def areas(knowledge: Knowledge, found: TraineeProgress, day: date) -> list[tuple[str, list[float | None]]]:
    """Of each area that was met, how much was known on some days up to today."""
    days = days_of(found, day)
    rows = [(area, [known_in(knowledge, found, area, each) for each in days]) for area in knowledge.catalogue.areas]
    return [(area, values) for area, values in rows if values and values[-1] is not None]


def print_progress(screen: Screen, knowledge: Knowledge, found: TraineeProgress, as_text: bool, day: date) -> int:
    """What a trainee has gone through and drilled, what is due, and what was never met."""
    due, met = found.due(day), found.met
    course = standings(knowledge, found.read, day)
    if as_text:
        body = {
            "version": 2,
            "name": found.name,
            "drills": len(found.drills),
            "fixed": sum(drill.end == "fixed" for drill in found.drills),
            "causes": {
                cause: {"times": len(made), "known": still_known(made, day), "due": _back(found, cause)}
                for cause, made in met.items()
            },
            "areas": dict(areas(knowledge, found, day)),
            "units": {
                each.unit.id: {"times": each.times, "due": each.due.isoformat() if each.due else None}
                for each in course
                if each.times
            },
            "due": list(due),
        }
        print(json.dumps(body, sort_keys=True, indent=2))
        return 0
    screen.heading(f"Progress of {found.name}")
    begun = [each for each in course if each.times]
    if course:
        screen.line(f"Units of the course: {len(begun)} of {len(course)} begun.")
    if not found.drills:
        screen.line("No drill yet.")
        return 0
    fixed = [drill for drill in found.drills if drill.end == "fixed"]
    screen.line(f"Drills: {len(found.drills)}, fixed and proven: {len(fixed)}.")
    if fixed:
        mine, engine = (
            fsum(each) / len(fixed)
            for each in ([drill.minutes for drill in fixed], [drill.engine_minutes for drill in fixed])
        )
        screen.line(f"In the mean {minutes(mine)} for one fixed; the program on the same sets {minutes(engine)}.")
    screen.line(f"Unsafe moves: {sum(drill.unsafe for drill in found.drills)}.")
    _print_areas(screen, knowledge, found, day)
    titles = {name: each.title for name, each in knowledge.causes.items()}
    screen.line("Causes met, the least known first:", "bold")
    for cause in sorted(met, key=lambda name: (still_known(met[name], day), name)):
        back = found.comes_back(cause)
        when = "due" if cause in due or back is None else f"due {back.isoformat()}"
        screen.line(f"{titles.get(cause, cause)}: {percent(still_known(met[cause], day))}, {when}", hanging="  ")
    rules = {rule for drill in found.drills for rule in drill.broken}
    for name in sorted(rules & knowledge.catalogue.order.keys()):
        count = sum(name in drill.broken for drill in found.drills)
        times = "once" if count == 1 else f"{count} times"
        screen.line(f"Broken {times}: {knowledge.catalogue.order[name].why}", hanging="  ")
    never = sum(name not in met for name in titles)
    screen.note(f"{never} causes were never met.")
    return 0


def _back(found: TraineeProgress, cause: str) -> str | None:
    back = found.comes_back(cause)
    return back.isoformat() if back is not None else None


def _print_areas(screen: Screen, knowledge: Knowledge, found: TraineeProgress, day: date) -> None:
    rows = areas(knowledge, found, day)
    screen.line("Known by area, from the first drill to today:", "bold")
    room = max((len(area) for area, _ in rows), default=0)
    for area, values in rows:
        name, last = area.replace("_", " "), values[-1] or 0.0
        if screen.drawn:
            screen.line(f"{name:<{room}} {small_plot(values, screen.blocks)} {percent(last)}", hanging="  ")
        else:
            first = next(value for value in values if value is not None)
            screen.line(f"{name}: {percent(first)} at first, {percent(last)} now.")


def trainees(screen: Screen, folder: Path, as_text: bool, day: date) -> int:
    """Everybody whose progress is kept. Returns 1 where a file cannot be read."""
    found, wrong = progress.listed(folder)
    for problem in wrong:
        print(f"hertzwright: {problem}", file=sys.stderr)
    if as_text:
        rows = [{"name": each.name, "drills": len(each.drills), "due": len(each.due(day))} for each in found]
        print(json.dumps({"version": 1, "trainees": rows}, sort_keys=True, indent=2))
    elif not found:
        screen.line(f"No trainee is kept in {printable(str(folder))}.")
    else:
        screen.table(
            ("Trainee", "Drills", "Due"),
            [(each.name, str(len(each.drills)), str(len(each.due(day)))) for each in found],
        )
    return 1 if wrong else 0


# ---- of several


def share_of_expert(found: TraineeProgress, last: int = 10) -> float | None:
    """The expert's minutes over the trainee's, in the last drills that were fixed: 1 is as quick as the program; None
    where none was fixed."""
    fixed = [drill for drill in found.drills if drill.end == "fixed"][-last:]
    mine = fsum(drill.minutes for drill in fixed)
    return fsum(drill.engine_minutes for drill in fixed) / mine if mine else None


def foreman(screen: Screen, knowledge: Knowledge, several: Sequence[TraineeProgress], as_text: bool, day: date) -> None:
    """One table of several trainees: what they did, how quick and safe they are, and what they know by area."""
    if as_text:
        rows = [
            {
                "name": each.name,
                "units": len(each.read),
                "drills": len(each.drills),
                "fixed": sum(drill.end == "fixed" for drill in each.drills),
                "unsafe": sum(drill.unsafe for drill in each.drills),
                "expert_share": share_of_expert(each),
                "areas": {area: values[-1] for area, values in areas(knowledge, each, day)},
                "due": len(each.due(day)),
            }
            for each in several
        ]
        print(json.dumps({"version": 1, "day": day.isoformat(), "trainees": rows}, sort_keys=True, indent=2))
        return
    table = []
    for each in several:
        share = share_of_expert(each)
        fixed = sum(drill.end == "fixed" for drill in each.drills)
        unsafe = sum(drill.unsafe for drill in each.drills)
        quick = "" if share is None else percent(min(9.99, share))
        table.append((each.name, str(len(each.read)), str(len(each.drills)), str(fixed), str(unsafe), quick))
    screen.table(("Trainee", "Units", "Drills", "Fixed", "Unsafe", "Pace"), table)
    screen.note("Pace: the program's minutes over theirs on the same sets, last ten fixed.")
    for each in several:
        if each.met:
            screen.heading(each.name)
            _print_areas(screen, knowledge, each, day)
