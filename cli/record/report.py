"""`hertzwright report`: the record of a job, on the screen, as HTML, Markdown or JSON.

Purpose: one command from a job file to a record that can be signed and filed.
Law: reads the job and changes nothing; writes over no file unless told to, and over a job file never.
Not here: what is collected (see `record`), what is said in which order (see `sections`).
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from ...engine import HertzwrightError, Job
from ...engine.problems import printable
from ..files import journal, output_file, store
from ..terminal import Screen, sketch
from . import collection, held, history, html, markdown, sections, service_record, setting_sections
from .parts import Blanks, BulletRows, FactRows, LoadCurve, Part, Sketches, Words, date
from .service_record import Details, ServiceRecord


class ReportError(HertzwrightError):
    """A report that cannot be written where it should go."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add = parser.add_argument
    add("job", nargs="?", metavar="JOB", help="id of the job, such as 2026-11-25-a (default: the latest)")
    add("--html", metavar="OUT", help="write one self-contained HTML file, to print and sign (- for standard output)")
    add("--markdown", metavar="OUT", help="write Markdown (- for standard output)")
    add("--json", action="store_true", help="print JSON")
    add("--force", action="store_true", help="write over a file that is there already")
    add("--set-name", metavar="NAME", default="", help="name of the set, as it shall stand in the report")
    add("--site", metavar="TEXT", default="", help="where the set stands")
    add("--meter", metavar="TEXT", default="", help="meter that was used")
    add("--meter-accuracy", action="append", default=[], metavar="TEXT", help='its stated accuracy: "0.1 Hz, V=1%%+2"')
    store.add_folder(parser)
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    """Run the command. Returns the exit status; raises HertzwrightError for what cannot be used."""
    folder = store.jobs_folder(arguments.folder)
    path = _job(arguments.job, folder)
    outs = [(name, draw) for name, draw in ((arguments.html, html.page), (arguments.markdown, markdown.page)) if name]
    if [name for name, _ in outs].count("-") + arguments.json > 1:
        raise ReportError("only one of --html -, --markdown - and --json can go to standard output")
    kept = journal.read(path)
    claimed = [(output_file.claimed(name, arguments.force, [path], folder), draw) for name, draw in outs]
    knowledge = store.knowledge(arguments.knowledge)
    details = Details(arguments.set_name, arguments.site, arguments.meter, tuple(arguments.meter_accuracy))
    earlier = history.last(knowledge, path.parent, kept.head.set, path)
    found = collection.collect(knowledge, kept, details, earlier)
    if found.damage:
        print(printable(found.damage), file=sys.stderr)
    if found.other_knowledge:
        print("This job was made with other knowledge; with this one figures may differ.", file=sys.stderr)
    for out, draw in claimed:
        out.put(draw(found).encode("utf-8"))
    if arguments.json:
        print(json.dumps(found.as_dict(), sort_keys=True, indent=2, allow_nan=False))
    elif not outs:
        show(Screen(arguments.plain), found)
    return 0


def _job(ident: str | None, folder: Path) -> Path:
    if ident is not None:
        return journal.find(ident, folder)
    return journal.latest(folder)


def show(screen: Screen, found: ServiceRecord) -> None:
    """The report on the screen: everything but the picture and the lines to sign."""
    held.say_holds(screen, found.held)
    screen.line(f"Service record: {service_record.clean(found.set_name)}", "bold")
    screen.line(f"Job {found.job}, begun {date(found.created)}")
    for section in sections.sections(found):
        if any(isinstance(part, Blanks) for part in section.parts):
            continue
        screen.heading(section.title)
        for part in section.parts:
            show_part(screen, part)


def show_part(screen: Screen, part: Part) -> None:
    """One part of a section on the screen."""
    clean = service_record.clean
    if isinstance(part, Words):
        screen.line(clean(part.text), "bold" if part.strong else "")
    elif isinstance(part, FactRows):
        for label, text in part.rows:
            screen.fact(label, clean(text))
    elif isinstance(part, BulletRows):
        for number, row in enumerate(part.rows, 1):
            screen.line(clean(row), indent=f"{number}. " if part.numbered else "- ", hanging="  ")
    elif isinstance(part, Sketches):
        for each in part.drawings:
            screen.line(each.title, "bold")
            sketch.show(screen, each.art, each.in_words)
    elif isinstance(part, LoadCurve | Blanks):
        return
    else:
        if part.caption:
            screen.line(part.caption, "bold")
        screen.table(part.headers, [[clean(cell) for cell in row] for row in part.rows])


def show_settings(screen: Screen, job: Job) -> None:
    """Every setting as found and as left, and the proof, as the record has them."""
    screen.heading("Settings, as found and as left")
    for part in setting_sections.setting_parts(collection.settings_of(job), collection.turned_of(job)):
        show_part(screen, part)
    screen.heading("Proof")
    for part in setting_sections.proof_parts(collection.proof_of(job)):
        show_part(screen, part)
