"""A lesson at the terminal, and what was learned so far.

Purpose: walk the causes of an area one by one; show a trainee's progress, and whose progress there is.
Law: nothing is asked where there is nobody to ask: then the whole lesson is shown.
Not here: what is in a lesson (see the engine), the drill that follows it (see `drill`).
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from math import fsum
from pathlib import Path

from ...engine import Knowledge
from ...engine.compiler import drawing_of
from ...engine.problems import printable
from ...engine.teaching import LessonEntry, lesson
from ..terminal import Asker, Screen, chance_word, choose, minutes, percent, sketch
from . import progress
from .progress import TraineeProgress


def print_lesson(screen: Screen, knowledge: Knowledge, area: str, given: Mapping[str, object]) -> int:
    """The whole lesson, for a reader who cannot be asked."""
    walked(screen, None, knowledge, area, given)
    return 0


def walked(screen: Screen, asker: Asker | None, knowledge: Knowledge, area: str, given: Mapping[str, object]) -> bool:
    """Walk a lesson, page by page where there is somebody to ask. Returns whether the drill should follow."""
    pages = lesson(knowledge, area, given)
    if not pages:
        screen.line(f"A set with these features has nothing of the area {area.replace('_', ' ')}.")
        return False
    screen.heading(f"Lesson: {area.replace('_', ' ')}, {len(pages)} causes")
    for number, page in enumerate(pages, 1):
        _page(screen, knowledge, page, number, len(pages))
        if asker is None:
            continue
        last = number == len(pages)
        options = (
            ("a drill on this area", "stop here") if last else ("next cause", "straight to the drill", "stop here")
        )
        screen.line()
        at = choose(asker, screen, "", options, 0)
        if options[at] == "stop here":
            return False
        if options[at] == "straight to the drill":
            break
    return True


def _page(screen: Screen, knowledge: Knowledge, page: LessonEntry, number: int, count: int) -> None:
    cause = knowledge.causes[page.cause]
    screen.heading(f"{number} of {count}: {cause.title}{'' if cause.fault else ' (no fault)'}")
    screen.line(cause.brief)
    for sentence in cause.note.splitlines():
        screen.line(sentence)
    screen.line("How it shows", "bold")
    for each in page.shows:
        said = f"{knowledge.checks[each.check].title}: {each.outcome.replace('_', ' ')}"
        screen.line(f"{said} ({chance_word(each.chance)}, {percent(each.chance)})", indent="  - ")
    screen.line("What looks like it", "bold")
    for alike in page.alike:
        check = knowledge.checks[alike.check]
        screen.line(f"{knowledge.causes[alike.cause].title}. Told apart by: {check.title.lower()},", indent="  - ")
        screen.line(
            f"{alike.outcome.replace('_', ' ')} in {percent(alike.chance)} with this one, "
            f"in {percent(alike.other_chance)} with that one.",
            indent="    ",
        )
    drawing = drawing_of(knowledge, page.cause)
    if drawing is not None:
        screen.line(drawing.title, "bold")
        sketch.show(screen, drawing.art, drawing.in_words)
    titles = ", ".join(knowledge.remedies[name].title for name in cause.remedies)
    screen.fact("Remedy", titles)
    if cause.sources:
        screen.note(f"Sources: {'; '.join(dict.fromkeys(str(source) for source in cause.sources))}.")


def as_json(knowledge: Knowledge, area: str, given: Mapping[str, object]) -> int:
    """The lesson as JSON on standard output."""
    pages = [
        {
            "cause": page.cause,
            "title": knowledge.causes[page.cause].title,
            "shows": [{"check": each.check, "outcome": each.outcome, "chance": each.chance} for each in page.shows],
            "alike": [
                {
                    "cause": each.cause, "likeness": each.likeness, "check": each.check, "outcome": each.outcome,
                    "chance": each.chance, "other_chance": each.other_chance,
                }
                for each in page.alike
            ],
            "remedies": list(knowledge.causes[page.cause].remedies),
            "drawing": drawing.id if (drawing := drawing_of(knowledge, page.cause)) is not None else None,
        }
        for page in lesson(knowledge, area, given)
    ]  # fmt: skip
    print(json.dumps({"version": 1, "area": area, "causes": pages}, sort_keys=True, indent=2))
    return 0


# ---- progress


def print_progress(screen: Screen, knowledge: Knowledge, found: TraineeProgress, as_text: bool) -> int:
    """What a trainee has drilled, what is due, and what was never met."""
    boxes, due = found.boxes, found.due
    if as_text:
        body = {
            "version": 1,
            "name": found.name,
            "drills": len(found.drills),
            "fixed": sum(drill.end == "fixed" for drill in found.drills),
            "boxes": {cause: box for cause, (box, _) in boxes.items()},
            "due": list(due),
        }
        print(json.dumps(body, sort_keys=True, indent=2))
        return 0
    screen.heading(f"Progress of {found.name}")
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
    titles = {name: each.title for name, each in knowledge.causes.items()}
    screen.line("Causes met, by box (5 is known well):", "bold")
    for cause, (box, _) in sorted(boxes.items(), key=lambda row: (row[1][0], row[0])):
        late = ", due" if cause in due else ""
        screen.line(f"{box}: {titles.get(cause, cause)}{late}", indent="  ", hanging="     ")
    rules = {rule for drill in found.drills for rule in drill.broken}
    for name in sorted(rules & knowledge.catalogue.order.keys()):
        count = sum(name in drill.broken for drill in found.drills)
        times = "once" if count == 1 else f"{count} times"
        screen.line(f"Broken {times}: {knowledge.catalogue.order[name].why}", hanging="  ")
    never = sum(name not in boxes for name in titles)
    screen.note(f"{never} causes were never met.")
    return 0


def trainees(screen: Screen, folder: Path, as_text: bool) -> int:
    """Everybody whose progress is kept. Returns 1 where a file cannot be read."""
    found, wrong = progress.listed(folder)
    for problem in wrong:
        print(f"hertzwright: {problem}", file=sys.stderr)
    if as_text:
        rows = [{"name": each.name, "drills": len(each.drills), "due": len(each.due)} for each in found]
        print(json.dumps({"version": 1, "trainees": rows}, sort_keys=True, indent=2))
    elif not found:
        screen.line(f"No trainee is kept in {printable(str(folder))}.")
    else:
        screen.table(
            ("Trainee", "Drills", "Due"), [(each.name, str(len(each.drills)), str(len(each.due))) for each in found]
        )
    return 1 if wrong else 0
