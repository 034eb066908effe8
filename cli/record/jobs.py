"""`hertzwright jobs`: the jobs kept here.

Purpose: one row a job: id, date, set, complaint, fault or leading cause, state; the visits of one set; jobs out to a
file and in.
Law: a file that cannot be read is listed with the reason, not left out; only `--import` writes among the jobs.
Not here: the record of one job (see `report`), the file of jobs (see `export`).
"""

from __future__ import annotations

import argparse
import json
import sys
from itertools import pairwise
from pathlib import Path

from ...engine import ContradictionError, HertzwrightError, Job, JobError, Knowledge
from ...engine.job import complaints, current, standing_of
from ...engine.problems import in_sentence, printable
from ..files import journal, store
from ..terminal import Screen, percent
from . import held
from .event_text import state

_FAULT = 0.5
"""Chance as found from which an adjuster that was set was the fault itself."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--set", metavar="NAME", help="the visits of one set: how it was left, and what moved since")
    parser.add_argument(
        "--export", nargs=2, metavar=("JOB", "OUT"), help="write a job to one file (JOB: an id, or all, of --set NAME)"
    )
    parser.add_argument(
        "--without-names",
        action="store_true",
        help="with --export: no name of a set, no note, nothing that was written",
    )
    parser.add_argument("--import", metavar="FILE", dest="source", help="take in the jobs of such a file")
    parser.add_argument("--force", action="store_true", help="write over OUT; take in a job in place of its state here")
    store.add_folder(parser)
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    folder = store.jobs_folder(arguments.folder)
    if arguments.export and arguments.source:
        raise JobError("--export and --import are two commands; give one of them")
    if arguments.without_names and not arguments.export:
        raise JobError("--without-names goes with --export JOB OUT")
    if arguments.export:
        return _export(arguments, folder)
    if arguments.source:
        return _import(arguments, folder)
    if arguments.set:
        return _visits(arguments, folder)
    knowledge = store.knowledge(arguments.knowledge)
    found = [described(path, knowledge) for path in journal.listed(folder)]
    if arguments.json:
        print(json.dumps({"version": 1, "folder": str(folder), "jobs": found}, sort_keys=True, indent=2))
        return 0
    screen = Screen(arguments.plain)
    if not found:
        screen.line(f"No jobs in {folder}. Begin one with: hertzwright start")
        return 0
    rows = [
        (
            str(job["id"]),
            str(job["created"])[:10],
            str(job["set"]),
            str(job["complaint"]),
            str(job["fault"]),
            str(job["problem"] or ("STOP, must not run" if job["held"] else job["state"])),
        )
        for job in found
    ]
    for job in found:
        for hold in job["held"] if isinstance(job["held"], list) else ():
            screen.line(f"STOP: the set of job {job['id']} must not run. {hold['title']}: {hold['finding']}.", "bold")
    screen.table(("Job", "Date", "Set", "Complaint", "Fault", "State"), rows)
    return 0


def _export(arguments: argparse.Namespace, folder: Path) -> int:
    """Jobs to one file, or to standard output. Raises JobError, ExchangeError."""
    from ..files import export, output_file
    from .history import set_named

    ident, out = arguments.export
    paths = journal.listed(folder) if ident == "all" else [journal.find(ident, folder)]
    if arguments.set:
        name = set_named(folder, arguments.set)
        paths = [path for path in paths if described(path)["set"] == name]
    if not paths:
        raise JobError(f"{folder} holds no jobs to export")
    target = output_file.claimed(out, arguments.force, paths, folder)
    data, remarks = export.packed(paths, arguments.without_names)
    for remark in remarks:
        print(printable(remark), file=sys.stderr)
    target.put(data)
    return 0


def _import(arguments: argparse.Namespace, folder: Path) -> int:
    from ..files import export

    for taken in export.take_in(arguments.source, folder, arguments.force):
        answer_words = {
            "new": f"Taken in: job {taken.ident}.",
            "renamed": f"Taken in: job {taken.wanted} as {taken.ident}; another job has that id here.",
            "same": f"Job {taken.wanted} is here already, as {taken.ident}; nothing to do.",
            "replaced": f"Taken in: job {taken.ident}, in place of its state here, which is kept beside it.",
        }[taken.what]
        print(answer_words, file=sys.stderr)
    return 0


def _visits(arguments: argparse.Namespace, folder: Path) -> int:
    """The visits of one set, oldest first, and between them what moved. Raises JobError."""
    from . import history
    from .condition import answer_words

    name = history.set_named(folder, arguments.set)
    knowledge = store.knowledge(arguments.knowledge)
    visits = history.visits(knowledge, folder, name)
    between = [history.between(knowledge, first, second) for first, second in pairwise(visits)]
    if arguments.json:
        listed = [
            {
                "id": visit.ident, "created": visit.created, "state": visit.state, "problem": visit.problem,
                "held": held.as_json(visit.held), "remedies": list(visit.remedies),
                "found": {check: answer_words(seen.made) for check, seen in visit.found.items()},
                "left": {check: answer_words(seen.made) for check, seen in visit.left.items()},
                "moved_since_last": [
                    {
                        "check": item.check, "before": answer_words(item.before), "now": answer_words(item.now),
                        "kind": item.kind,
                        "change": item.change,
                    }
                    for item in moved
                ],
            }
            for visit, moved in zip(visits, [(), *between], strict=True)
        ]  # fmt: skip
        print(json.dumps({"version": 1, "set": name, "visits": listed}, sort_keys=True, indent=2))
        return 0
    screen = Screen(arguments.plain)
    if visits:
        held.say_holds(screen, visits[-1].held)
    screen.line(f"{name}: {len(visits)} visit{'' if len(visits) == 1 else 's'}", "bold")
    for visit, moved in zip(visits, [(), *between], strict=True):
        history.show_moved(screen, knowledge, moved)
        history.show_left(screen, knowledge, visit)
    return 0


def described(path: Path, knowledge: Knowledge | None = None) -> dict[str, object]:
    """What one job file says of itself; with the knowledge also what holds it."""
    found: dict[str, object] = {
        "id": path.stem, "set": "", "created": "", "answers": 0, "remedies": 0, "state": "", "problem": "",
        "complaint": "", "fault": "", "held": [],
    }  # fmt: skip
    try:
        record = journal.read(path)
    except HertzwrightError as error:
        found["problem"] = str(error)
        return found
    standing = standing_of(record.events)
    found.update(
        set=record.head.set,
        created=record.head.created,
        answers=sum(event.kind in ("check", "complaint") for event in standing),
        remedies=sum(event.kind == "remedy" for event in standing),
        state=state(standing),
        problem=record.damage,
    )
    if knowledge is not None:
        try:
            job = Job.replay(knowledge, current(knowledge, record.events)[0])
            found["held"] = held.as_json(job.held)
            said = [name for name, answer in complaints(job).items() if answer != "unknown"]
            found["complaint"] = ", ".join(knowledge.complaints[name].title for name in said)
            found["fault"] = _fault(job)
        except HertzwrightError as error:
            found["problem"] = record.damage or f"this knowledge cannot take the job: {error}"
    return found


def _fault(job: Job) -> str:
    """What was wrong by the remedies carried out, of a set that is fixed, and what was set besides; else the leading
    cause with its chance."""
    causes = job.knowledge.causes
    try:
        if job.closed == "fixed":
            return _found_and_set(job)
        if len(job.standing) == 1:
            return ""
        name, chance = job.ranking()[0]
    except ContradictionError:
        return "findings that cannot all be right"
    return f"{causes[name].title}, {percent(chance)}"


def _found_and_set(job: Job) -> str:
    """The faults that were mended, and apart from them the adjusters that were set without having been the likely
    fault: "Linkage binds; set: speed, sensitivity"."""
    knowledge, there = job.knowledge, job.as_found()
    adjusters = {each.remedy: each for each in knowledge.catalogue.adjusters.values()}
    faults, turned = dict[str, None](), dict[str, None]()
    for event in job.standing:
        if event.kind == "set_to" and event.answer == "turned":
            turned.update((knowledge.catalogue.adjusters[name].title, None) for name in event.cells)
        if event.kind != "remedy":
            continue
        likely = max(knowledge.remedies[event.id].cures, key=lambda cause: there.get(cause, 0.0))
        if event.id in adjusters and there.get(likely, 0.0) < _FAULT:
            turned[adjusters[event.id].title] = None
        else:
            faults[knowledge.causes[likely].title] = None
    names = ", ".join(in_sentence(title).removesuffix(" adjuster") for title in turned)
    return "; ".join(part for part in (", ".join(faults), f"set: {names}" if names else "") if part)
