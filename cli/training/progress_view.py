"""What a trainee has learned so far, whose progress is kept, and what a foreman sees of several.

Purpose: progress by area over time as small plots, what is due and what was missed; one table of several trainees.
Law: reads progress files, writes nothing; a trainee is named as he named himself.
Not here: how progress is kept (see `progress`).
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Sequence
from datetime import date
from math import fsum
from pathlib import Path

from ...engine import Knowledge
from ...engine.problems import printable
from ...engine.teaching import FORGOTTEN, Review, standings, still_known
from ..terminal import Screen, minutes, percent
from . import progress
from .progress import TraineeProgress

_CAUSES, _RULES = 8, 5
"""Causes and rules that are listed; all of them are in the JSON."""
STEPS = 10
_BLOCKS, _ASCII = "\u2581\u2582\u2583\u2584\u2585\u2586\u2587\u2588", ".:-=+*%#"


def known_in(knowledge: Knowledge, found: TraineeProgress, area: str, day: date) -> float | None:
    """Share of all the causes of an area that are known on a day, each by its chance, 0 to 1; None where none of them
    was met by then. What was never met counts as not known."""
    met = {
        cause: [review for review in made if review.day <= day]
        for cause, made in found.met.items()
        if cause in knowledge.causes and knowledge.causes[cause].area == area
    }
    chances = [known(made, day) for made in met.values() if made]
    there = sum(each.area == area and each.retired is None for each in knowledge.causes.values())
    return fsum(chances) / max(there, len(chances)) if chances else None


def known(made: Sequence[Review], day: date) -> float:
    """Chance that a cause is known on a day; none where it was missed the last time."""
    return 0.0 if made[-1].grade == FORGOTTEN else still_known(made, day)


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
                cause: {"times": len(made), "known": known(made, day), "due": _back(found, cause)}
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
    least = sorted(met, key=lambda name: (known(met[name], day), name))
    for cause in least[:_CAUSES]:
        back = found.comes_back(cause)
        when = "due again now" if cause in due or back is None else f"due again {back.isoformat()}"
        how = "missed last time" if met[cause][-1].grade == FORGOTTEN else f"{percent(known(met[cause], day))} known"
        screen.line(f"{titles.get(cause, cause)}: {how}, {when}", hanging="  ")
    if len(least) > _CAUSES:
        screen.note(f"And {len(least) - _CAUSES} better known; --json has all.")
    rules = Counter(rule for drill in found.drills for rule in drill.broken if rule in knowledge.catalogue.order)
    for name, count in sorted(rules.items(), key=lambda row: (-row[1], row[0]))[:_RULES]:
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
    screen.line("Of all that there is in an area, known from the first drill to today:", "bold")
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
                "level": each.drills[-1].level if each.drills else None,
                "score": mean_score(each),
                "missed": sorted(missed(each)),
                "last_day": _last_day(each),
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
        points, level = mean_score(each), str(each.drills[-1].level) if each.drills else ""
        counts = (len(each.read), len(each.drills), fixed, unsafe)
        score = "" if points is None else f"{points:.0f}"
        table.append((each.name, *map(str, counts), quick, level, score, _last_day(each) or ""))
    screen.table(("Trainee", "Units", "Drills", "Fixed", "Unsafe", "Pace", "Level", "Score", "Last day"), table)
    screen.note(
        "Pace: the program's minutes over theirs on the same sets, last ten fixed. Score: mean of the last ten."
    )
    for each in several:
        if each.met:
            screen.heading(each.name)
            _print_areas(screen, knowledge, each, day)
            titles = [knowledge.causes[cause].title.lower() for cause in missed(each) if cause in knowledge.causes]
            if titles:
                screen.line(f"Missed last time: {'; '.join(titles)}.", hanging="  ")


def missed(found: TraineeProgress) -> tuple[str, ...]:
    """Causes that were missed when they were dealt last."""
    return tuple(cause for cause, made in found.met.items() if made[-1].grade == FORGOTTEN)


def mean_score(found: TraineeProgress, last: int = 10) -> float | None:
    """Mean score of the last drills that have one, of 100; None where none has."""
    points = [drill.score for drill in found.drills if drill.score is not None][-last:]
    return fsum(points) / len(points) if points else None


def _last_day(found: TraineeProgress) -> str | None:
    """The last day on which anything was done; None where that was not written down."""
    days = [made[-1].day for made in (*found.met.values(), *found.read.values())]
    last = max(days, default=progress.LONG_AGO)
    return last.isoformat() if last > progress.LONG_AGO else None
