"""`hertzwright drill`: learn on a made-up set.

Purpose: from the options to a dealt drill, its end, its debrief, and the trainee's file.
Law: the seed and the options dealt by are the whole drill; what a trainee missed only chooses which seed comes next.
With no terminal the moves come from `--answers FILE` or standard input, one a line, and nothing is asked.
Exit: 0; with no terminal 1 where the set was not left fixed.
Not here: the moves (see `drill_session`), what is shown (see `drill_view`, `debrief_view`), lessons (see `lesson`).
"""

from __future__ import annotations

import argparse
import io
import json
import secrets
import sys
from collections.abc import Callable
from pathlib import Path

from ...engine import Knowledge
from ...engine.teaching import (
    FIXED,
    LEVELS,
    Debrief,
    Drill,
    DrillError,
    Scenario,
    debrief,
    new_scenario,
    program_path,
    scenario_with,
)
from ..files import add_features, features_given, store
from ..terminal import Asker, ProgressBar, Screen, Stop, wrapping
from . import debrief_json, debrief_view, drill_session, drill_view, lesson, progress, progress_view, today
from .progress import KeptDrill, TraineeProgress
from .script import asker_of, read_answers

_INSTEAD = "give --answers FILE, or the moves on standard input, one a line"
_LOOKING = "Looking for a set to practise on: the program works it first, so that it can be solved."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument
    levels = "; ".join(f"{level.number}, {level.told}" for level in LEVELS.values())
    add("--level", type=int, choices=tuple(LEVELS), default=1, help=f"{levels}; "
        "a right repair works at every level; what was botched at the upper ones, a check finds "
        "(default: 1)")  # fmt: skip
    add("--seed", metavar="N", help="deal this drill; the same seed deals the same on every machine")
    add("--trainee", metavar="NAME", help="whose progress is kept, so that what was missed comes back sooner "
        "(default: me; with no terminal nothing is kept unless a name is given)")  # fmt: skip
    add("--cause", metavar="ID", help="practise this cause")
    add("--lesson", metavar="AREA", help="the units of the course about one area, then a drill on it")
    add_features(parser, "a feature that the made-up set must have, such as booster=none")
    add("--answers", metavar="FILE", help="take the moves from a file, one a line; - for standard input")
    add("--progress", action="store_true", help="show what was drilled, what was missed and what is due")
    add("--list-trainees", action="store_true", help="show whose progress is kept here")
    add("--json", action="store_true", help="the debrief (or the progress, or the lesson) as JSON")
    store.add_folder(parser)
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    folder = store.trainees_folder(store.jobs_folder(arguments.folder))
    with Screen(arguments.plain) as screen:
        return _run(arguments, screen, folder)


def _run(arguments: argparse.Namespace, screen: Screen, folder: Path) -> int:
    if arguments.list_trainees:
        return progress_view.trainees(screen, folder, arguments.json, today.day_of())
    knowledge = store.knowledge(arguments.knowledge)
    if arguments.progress:
        name = progress.clean_name(arguments.trainee or "me")
        found = _progress(folder, name)
        return progress_view.print_progress(screen, knowledge, found, arguments.json, today.day_of())
    given = features_given(knowledge, arguments.features)
    lines = read_answers(arguments.answers)
    if arguments.lesson and arguments.json and lines is None:
        return lesson.as_json(knowledge, arguments.lesson, given)
    if arguments.json:
        if not lines:
            raise DrillError(f"--json prints the debrief of a drill that is done: {_INSTEAD}")
        screen = Screen(True, io.StringIO(), 100)
    asker = asker_of(lines, arguments.plain, _INSTEAD, screen)
    if asker is None:
        if arguments.lesson:
            return lesson.print_lesson(screen, knowledge, arguments.lesson, given)
        raise DrillError(f"no terminal to ask at; {_INSTEAD}")
    scripted = lines is not None
    try:
        if arguments.lesson and not lesson.walked(
            screen, None if scripted else asker, knowledge, arguments.lesson, given
        ):
            return 0
    except Stop:
        return 0
    name = progress.clean_name(arguments.trainee or "me") if arguments.trainee or not scripted else ""
    before = _progress(folder, name) if name else TraineeProgress("")
    if not scripted:
        print("\n".join(wrapping.wrap(_LOOKING, wrapping.terminal())), file=sys.stderr)
    with ProgressBar(what="steps tried", plain=arguments.plain or scripted) as bar:
        dealt = _scenario(knowledge, arguments, before, given, bar.step)
    return _drill(screen, asker, knowledge, dealt, arguments, folder, before, scripted)


def _scenario(
    knowledge: Knowledge,
    arguments: argparse.Namespace,
    before: TraineeProgress,
    given: dict[str, object],
    each: Callable[[], None] = lambda: None,
) -> Scenario:
    """The drill asked for; without a seed, the one that the trainee's progress calls for. each: called at every step
    of the looking."""
    areas = (arguments.lesson,) if arguments.lesson else ()
    seed: int | str | None = arguments.seed
    if seed is None and before.name:
        seed, due = before.wanted(today.day_of())
        if due and not areas and not arguments.cause and due in knowledge.causes:
            found = scenario_with(knowledge, seed, arguments.level, due, given, each)
            if found is not None:
                return found
    if seed is None:
        seed = secrets.randbelow(1_000_000)
    return new_scenario(
        knowledge,
        " ".join(str(seed).split()),
        arguments.level,
        given=given,
        areas=areas,
        cause=arguments.cause or "",
        each=each,
    )


def _drill(
    screen: Screen, asker: Asker, knowledge: Knowledge, dealt: Scenario, arguments: argparse.Namespace, folder: Path,
    before: TraineeProgress, scripted: bool,
) -> int:  # fmt: skip
    drill = Drill(knowledge, dealt)
    screen.note(f"Level {dealt.level.number}: {dealt.level.told}. Seed {dealt.seed}.")
    drill_view.customer(screen, knowledge, dealt)
    screen.line()
    drill_session.introduced(screen)
    interrupted = False
    try:
        drill_session.work(drill, screen, asker)
    except KeyboardInterrupt:
        interrupted = True
    if drill.verdict is None and not drill.begun:
        nothing = "Nothing was done, so nothing is kept."
        if arguments.json:
            print(
                f"hertzwright: {nothing} A debrief needs a move at least: a check, a remedy or prove.", file=sys.stderr
            )
        else:
            screen.line(nothing)
        if interrupted:
            raise KeyboardInterrupt
        return 1 if scripted else 0
    if not drill.over:
        drill.give_up()
    if not scripted and not screen.full:
        print("Looking back over it ...", file=sys.stderr)
    found = debrief(drill, played=program_path(knowledge, dealt))
    after = None
    if before.name:
        after = progress.add(progress.path_of(folder, before.name), before.name, _kept(dealt, drill, found))
    if interrupted:
        raise KeyboardInterrupt
    if arguments.json:
        print(json.dumps(debrief_json.as_dict(knowledge, dealt, found), sort_keys=True, indent=2, allow_nan=False))
    else:
        debrief_view.debriefed(screen, None if scripted else asker, knowledge, dealt, found)
        screen.leave()
        if screen.height is not None and not scripted:
            debrief_view.lead(screen, knowledge, dealt, found)
        _next(screen, knowledge, dealt, found, arguments, after)
    return 1 if scripted and found.verdict.end != FIXED else 0


def _next(
    screen: Screen, knowledge: Knowledge, dealt: Scenario, found: Debrief, arguments: argparse.Namespace,
    after: TraineeProgress | None,
) -> None:  # fmt: skip
    """What comes back when, and how to have the same drill again."""
    screen.heading("Next")
    if after is not None:
        for cause, _ in found.truth:
            back = after.comes_back(cause)
            due = f"due again on {back.isoformat()}" if back is not None else "missed; due in the next drill"
            screen.line(f"{knowledge.causes[cause].title}: {due}.", hanging="  ")
    wishes = [f"--level {dealt.level.number}", f"--seed {dealt.seed}"]
    wishes += [f"--set {pair}" for pair in arguments.features]
    wishes += [f"--cause {arguments.cause}"] if arguments.cause else []
    wishes += [f"--lesson {arguments.lesson}"] if arguments.lesson else []
    screen.line(f"The same again: hertzwright drill {' '.join(wishes)}", hanging="  ")


def _kept(dealt: Scenario, drill: Drill, found: Debrief) -> KeptDrill:
    return KeptDrill(
        dealt.seed,
        dealt.level.number,
        dealt.truth,
        found.missed,
        found.verdict.end,
        found.minutes,
        found.engine_minutes,
        drill.hints,
        len(found.unsafe),
        tuple(dict.fromkeys(each.rule.id for each in found.broken)),
        today.moment(today.day_of()),
        round(found.score.total, 1),
    )


def _progress(folder: Path, name: str) -> TraineeProgress:
    """A trainee's progress; a damaged file is set aside, and that is said."""
    return progress.read_or_begun(progress.path_of(folder, name), name)
