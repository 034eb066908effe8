"""`hertzwright knowledge new cause|check|remedy|case ID`: the skeleton of a new item.

Purpose: put a commented skeleton where the item belongs, and say what to fill in and what to run next; or a whole case
made of a job, and say whether it passes.
Law: everything else in the file stays byte for byte; an id that is there, or was retired, is refused. The skeleton
is meant to fail `knowledge check` until it is filled in: each open line is a problem with its place.
Not here: what the skeleton holds (see `skeleton`), a job as a case (see `job_case`).
"""

from __future__ import annotations

import argparse
import difflib
import json
import re
import shutil
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from ...engine import HertzwrightError
from ...engine.compiler import SINGULAR, entries_of, parse, table, value
from ...engine.problems import close_to, printable, quoted
from ...engine.review import Judged, judge
from ..files import store
from ..terminal import Screen, percent
from . import checkout, saving
from .checkout import Checkout, as_typed
from .job_case import JobCase, events_of, job_case
from .skeleton import TABLES, Skeleton, inserted, skeleton

_ID = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")
_SHARED = ("complaints", "checks", "remedies")
_FOLDERS = {"area": "areas", "checks": "checks", "cases": "cases"}


class NewError(HertzwrightError):
    """An item that cannot be begun."""


@dataclass(frozen=True, slots=True)
class PlacedSkeleton:
    """A skeleton with its file and the line, counted from 1, at which it starts; `before` and `after` are the texts."""

    file: str
    line: int
    before: str
    after: str
    skeleton: Skeleton


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("kind", choices=list(TABLES), help="what is new")
    parser.add_argument("id", metavar="ID", help="its name for ever: lower-case words joined by _")
    parser.add_argument("--area", metavar="AREA", help="the area it belongs to")
    parser.add_argument(
        "--for",
        dest="causes",
        action="append",
        default=[],
        metavar="CAUSE",
        help="the cause a remedy cures or a case is about; may be given again",
    )
    parser.add_argument(
        "--from",
        dest="job",
        metavar="JOB",
        help="make the case of a job kept here, a job file, an exported job or a file of facts; no name goes into it",
    )
    parser.add_argument("--dry-run", action="store_true", help="print the skeleton, write nothing")
    parser.add_argument("--json", action="store_true", help="print JSON")
    store.add_folder(parser)
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    found = checkout.find((), arguments.knowledge)
    if found.shipped and not arguments.dry_run:
        raise NewError("stand in a checkout, or give --knowledge: the knowledge shipped here is not changed")
    known = _Known(found)
    known.refuse(arguments.kind, arguments.id)
    if arguments.job is not None:
        return _of_job(arguments, found, known)
    area = known.area(arguments.kind, arguments.id, arguments.area, arguments.causes)
    begun = known.begun(arguments.kind, arguments.id, area, skeleton(arguments.kind, arguments.id, _given(arguments)))
    if not arguments.dry_run:
        saving.save(found.folder / begun.file, begun.after, found.folder)
    if arguments.json:
        _print_json(begun, not arguments.dry_run)
    else:
        _print(arguments, found, begun)
    return 0


def _of_job(arguments: argparse.Namespace, found: Checkout, known: _Known) -> int:
    """A case made of a job, and what the knowledge makes of it now."""
    if arguments.kind != "case":
        raise NewError(f"--from makes a case of a job; a {arguments.kind} cannot be made of one")
    knowledge = store.knowledge(str(found.folder))
    for cause in arguments.causes:
        known.area("case", arguments.id, arguments.area, [cause])
    made = job_case(knowledge, events_of(arguments.job, knowledge, arguments.folder), arguments.causes)
    area = known.area("case", arguments.id, arguments.area, made.truth)
    begun = known.begun("case", arguments.id, area, skeleton("case", arguments.id, made.given, bare=True))
    judged = _judged(found, begun, arguments.id)
    if not arguments.dry_run:
        saving.save(found.folder / begun.file, begun.after, found.folder)
    if arguments.json:
        _print_json(begun, not arguments.dry_run, {"faults": list(judged.faults), "left_out": list(made.left_out)})
        return 0
    _print_case(arguments, found, begun, made, judged)
    return 0


def _judged(found: Checkout, begun: PlacedSkeleton, name: str) -> Judged:
    """The case as the knowledge judges it, in a copy. Raises NewError where it breaks a rule of cases."""
    with TemporaryDirectory() as room:
        folder = Path(room) / "knowledge"
        shutil.copytree(found.folder, folder, ignore=shutil.ignore_patterns("__pycache__", "*.md"))
        (folder / begun.file).write_text(begun.after, encoding="utf-8", newline="")
        knowledge = store.knowledge(str(folder))
    return judge(knowledge, knowledge.cases[name], plan=False)


def _given(arguments: argparse.Namespace) -> dict[str, str]:
    """What is known from the options, as YAML on one line."""
    causes = arguments.causes
    if not causes or arguments.kind not in ("remedy", "case"):
        return {}
    if arguments.kind == "remedy":
        return {"cures": "{" + ", ".join(f"{cause}: " for cause in causes) + "}"}
    return {key: f"[{', '.join(causes)}]" for key in ("truth", "leading")}


class _Known:
    """What is in the knowledge already, as far as it can be read."""

    def __init__(self, found: Checkout) -> None:
        self.found = found
        self.entries = entries_of(found.folder)
        self.areas = sorted(path.stem for path in (found.folder / "areas").glob("*.yaml"))

    def refuse(self, kind: str, name: str) -> None:
        """Raise NewError where the id is no name, or is or was that of another item."""
        if not _ID.fullmatch(name):
            better = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")
            advice = f"write {better}" if _ID.fullmatch(better) else "an id is lower-case words joined by _"
            raise NewError(f"{quoted(name)} is no id; {advice}")
        own = TABLES[kind][1]
        for other in dict.fromkeys((own, *(_SHARED if own in _SHARED else ()))):
            entry = self.entries.of(other).get(name)
            if entry is None:
                continue
            where = f"{self.found.named(entry.file)}:{entry.key.line}"
            what = f"the {SINGULAR[other]} {quoted(name)}"
            if "retired" in entry.node.values:
                since = value(table(entry.node, "retired"), "since")
                raise NewError(f"{what} was retired on {since} ({where}); a retired id is never used again")
            raise NewError(f"{what} is there already: {where}")

    def area(self, kind: str, name: str, area: str | None, causes: Sequence[str]) -> str:
        """The area that is meant, by the option or by the causes. Raises NewError, with a suggestion."""
        for cause in causes:
            entry = self.entries.of("causes").get(cause)
            if entry is None or "retired" in entry.node.values:
                near = close_to(cause, self.entries.of("causes"))
                raise NewError(f"no cause in use is named {quoted(cause)}; {near}".rstrip("; "))
            if kind == "remedy" and area not in (None, entry.area):
                raise NewError(f"a remedy stands in the area of the causes it cures: {entry.area}, not {area}")
            area = area or entry.area
        if area in self.areas:
            return area or ""
        if area is not None:
            raise NewError(f"no area {quoted(area)}; {close_to(area, self.areas, f'one of: {_joined(self.areas)}')}")
        best = self._nearest(name)
        advice = f"perhaps --area {best}" if best else "give --area AREA"
        raise NewError(f"which area? {advice}; there are {_joined(self.areas)}")

    def _nearest(self, name: str) -> str:
        """The area whose ids share most words with a name; empty where none does."""
        words = set(name.split("_"))
        shared: dict[str, float] = dict.fromkeys(self.areas, 0.0)
        for kind in ("causes", "checks", "remedies"):
            for entry in self.entries.all(kind):
                if entry.area in shared:
                    shared[entry.area] += len(words & set(entry.id.split("_"))) / len(words)
        for area in shared:
            shared[area] += 3.0 * len(words & set(area.split("_")))
        best = max(shared, key=lambda area: shared[area], default="")
        return best if best and shared[best] > 0 else ""

    def begun(self, kind: str, name: str, area: str, made: Skeleton) -> PlacedSkeleton:
        """The skeleton in its file. Raises NewError or PlaceError where the file cannot take it."""
        file = self.file(kind, area)
        path = self.found.folder / file
        if not path.exists():
            schema, key = TABLES[kind]
            head = [f"# yaml-language-server: $schema=../editor/{schema}.json", f"area: {area}", f"{key}:"]
            return PlacedSkeleton(file, len(head) + 1, "", "\n".join([*head, *made.lines, ""]), made)
        try:
            text = path.read_bytes().decode("utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise NewError(f"{as_typed(path)} cannot be read; hertzwright knowledge check says why") from error
        page = parse(text, self.found.named(file))
        if page.root is None or page.problems:
            raise NewError(f"{as_typed(path)} has a problem; hertzwright knowledge check says which. Mend that first")
        at = inserted(page, kind, made.lines)
        end = "\r\n" if "\r\n" in text else "\n"
        kept = text.splitlines(keepends=True) if end == "\r\n" else text.split("\n")
        if end == "\n":
            kept = [line + "\n" for line in kept[:-1]] + ([kept[-1]] if kept[-1] else [])
        gap = 1 if at > 0 and page.lines[at - 1].strip() and _spaced(page.lines) else 0
        new = [f"{line}{end}" for line in (*[""] * gap, *made.lines)]
        if at == len(kept) and kept and not kept[-1].endswith("\n"):
            new.insert(0, end)
        return PlacedSkeleton(file, at + gap + 1, text, "".join([*kept[:at], *new, *kept[at:]]), made)

    def file(self, kind: str, area: str) -> str:
        """The file that an item of a kind and area goes into: of several, the one named after the area, or the last."""
        folder = _FOLDERS[TABLES[kind][0]]
        own = f"{folder}/{area}.yaml"
        if (self.found.folder / own).exists() or folder != "checks":
            return own
        others = sorted({entry.file for entry in self.entries.all("checks") if entry.area == area})
        return others[-1] if others else own


def _spaced(lines: tuple[str, ...]) -> bool:
    """Whether the items of a file stand with a blank line between them."""
    return any(not line.strip() for line in lines[:-1])


def _joined(words: list[str]) -> str:
    return ", ".join(words)


# ---- what is said ------------------------------------------------------------------------------------------------


def _print(arguments: argparse.Namespace, found: Checkout, begun: PlacedSkeleton) -> None:
    where = found.named(begun.file)
    if arguments.dry_run:
        lines = difflib.unified_diff(
            begun.before.splitlines(), begun.after.splitlines(), f"a/{where}", f"b/{where}", lineterm=""
        )
        print("\n".join(printable(line) for line in lines))
        print("nothing is written (--dry-run)", file=sys.stderr)
        return
    screen = Screen(arguments.plain)
    screen.line(f"{where}:{begun.line}: the {arguments.kind} {arguments.id}, to be filled in")
    screen.line()
    screen.line("Fill in:")
    for at, key in begun.skeleton.open:
        screen.line(f"line {begun.line + at}: {key}", indent="  ")
    screen.line()
    for number, (why, command) in enumerate(_next(arguments, where), 1):
        screen.line(why, indent=f"{number}. ")
        if command:
            screen.line(command, indent="     ", hanging="       ")


def _next(arguments: argparse.Namespace, where: str) -> list[tuple[str, str]]:
    """What to do after this, and the command for it."""
    name, place = arguments.id, "" if arguments.knowledge is None else f" --knowledge {arguments.knowledge}"
    knowledge = "hertzwright knowledge"
    steps = [
        ("See at every save what is still open:", f"{knowledge} check {where} --watch"),
        ("When all is filled in, take out the lines that start with #?:", f"{knowledge} tidy {where}"),
    ]
    if arguments.kind == "cause":
        steps.append(
            ("Say what cures it, here or in a remedy there is:", f"{knowledge} new remedy ID --for {name}{place}")
        )
        steps.append(("Add a solved job that it must get right:", f"{knowledge} new case ID --for {name}{place}"))
    if arguments.kind == "check":
        steps.append(("Name it under `shows` of each cause that it tells apart.", ""))
    if arguments.kind != "case":
        steps.append(("Read the page as others will:", f"{knowledge} show {name}{place}"))
    steps.append(("See whether all solved jobs still come out right:", f"{knowledge} cases{place}"))
    return steps


def _print_case(
    arguments: argparse.Namespace, found: Checkout, begun: PlacedSkeleton, made: JobCase, judged: Judged
) -> None:
    screen = Screen(arguments.plain)
    where = found.named(begun.file)
    if arguments.dry_run:
        for line in begun.skeleton.lines:
            print(printable(line))
        screen = Screen(True, file=sys.stderr)
        screen.line("Nothing is written (--dry-run).")
    else:
        screen.line(f"{where}:{begun.line}: the case {arguments.id}, of {len(judged.case.facts)} facts")
    if made.left_out:
        screen.line(f"Left out, with every name: {'; '.join(made.left_out)}.", hanging="  ")
    truth = " and ".join(made.truth)
    said = f"{truth} {percent(judged.truth)} now" + (f", {judged.leading} leads" if judged.leading else "")
    if judged.faults:
        screen.line(f"It fails, as a case does that the program gets wrong: {said}.", "bold", hanging="  ")
        for fault in judged.faults:
            screen.line(fault, indent="  - ")
    else:
        screen.line(f"It passes: {said}.", "bold", hanging="  ")
    if not arguments.dry_run:
        screen.line("Read it: is every fact one that a stranger may see, and does the title say what mattered? Then:")
        screen.line("hertzwright knowledge tidy", indent="  ")


def _print_json(begun: PlacedSkeleton, written: bool, more: Mapping[str, object] | None = None) -> None:
    lines = [{"line": begun.line + at, "key": key} for at, key in begun.skeleton.open]
    print(
        json.dumps(
            {
                "version": 1,
                "file": begun.file,
                "line": begun.line,
                "open": lines,
                "skeleton": list(begun.skeleton.lines),
                "written": written,
                **(more or {}),
            },
            sort_keys=True,
            indent=2,
        )
    )
