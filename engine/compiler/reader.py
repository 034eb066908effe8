"""From a folder of knowledge files to a `Catalogue` of frozen values, or to the list of all problems.

Purpose: find the files, read them, run every check over them, and build only where there is no error.
Law: the same files give the same catalogue and the same problems; files of a folder are read in the order of their
names. Nothing that the files hold makes this raise.
Not checked here: see `source` (text), `schema` (shape), `names` (references), `rules` (sense), `writing` (habits).
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from ..problems import Problem, printable, worst_first
from . import names, rules, schema, source
from .builder import build
from .catalogue import Catalogue
from .entries import Entries, collect
from .source import SourceFile

__all__ = ["Catalogue", "Readout", "entries_of", "read_catalogue", "read_folder"]

FOLDERS = {"areas": "area", "checks": "checks", "cases": "cases"}
SINGLE = (
    "words", "sources", "features", "cautions", "fittings", "states", "tolerances", "order", "complaints", "trimming",
    "setting", "family", "drills", "tools", "phrases", "drawings", "units",
)  # fmt: skip
# Younger than the rest: a folder without fittings has steps that take nothing off, one without a family no sets, one
# without setting no course from the ground up, one without drills only the usual set to practise on, one without tools
# names them as it likes, one without drawings shows none, one without units teaches no course.
OPTIONAL = ("fittings", "setting", "family", "drills", "tools", "phrases", "drawings", "units")
LIMIT = 500  # problems of one file
NAMING = frozenset({"K031", "K032", "K033"})
"""A name that leads nowhere: the rules about the whole would report once more what it leaves open."""


@dataclass(frozen=True, slots=True)
class Readout:
    """All that reading a folder gives: the catalogue where there are no errors, every problem, and every page.

    `pages` maps a file name as problems give it to its page, for showing the line of a problem. `counts` says how
    many items of each kind there are, retired ones too. `whole`: every file was read and has its right shape, so that
    the rules about the whole were held.
    """

    catalogue: Catalogue | None
    problems: tuple[Problem, ...]
    pages: Mapping[str, SourceFile]
    counts: Mapping[str, int] = field(default_factory=dict)
    whole: bool = True

    def text_line(self, problem: Problem) -> str:
        """The source line of a problem, empty where there is none."""
        page = self.pages.get(problem.file)
        return page.text_line(problem.line) if page is not None else ""


def read_catalogue(folder: Path) -> tuple[Catalogue | None, tuple[Problem, ...]]:
    """Read a knowledge folder.

    Returns the catalogue, or None where there are errors, and all problems, worst first. Warnings leave the
    catalogue usable. Never raises for anything the files hold.
    """
    readout = read_folder(folder)
    return readout.catalogue, readout.problems


def read_folder(folder: Path, built: bool = True) -> Readout:
    """Read a knowledge folder and keep its pages, so that problems can be shown with their lines.

    built: where only the problems are wanted, False saves the time of building the catalogue.
    """
    found, problems = _pages(folder)
    for _, page in found.values():
        problems.extend(page.problems)
    whole = not problems or all(problem.severity == "warning" for problem in problems)
    for kind, page in found.values():
        problems.extend(schema.problems(kind, page))
    entries = collect(found)
    shaped = whole and all(problem.severity == "warning" for problem in problems)
    problems.extend(entries.problems)
    problems.extend(names.problems(entries))
    named = all(problem.code not in NAMING for problem in problems)
    problems.extend(rules.problems(entries, whole=shaped and named))
    ordered = _listable(once(problems))
    catalogue = None
    if built and all(problem.severity == "warning" for problem in ordered):
        catalogue = build(entries, _fingerprint(found))
    counts = {kind: len(items) for kind, items in entries.tables.items()}
    return Readout(catalogue, ordered, entries.pages, counts, shaped and named)


def entries_of(folder: Path) -> Entries:
    """The items of a knowledge folder, as far as its files can be read; nothing is checked."""
    return collect(_pages(folder)[0])


def _pages(folder: Path) -> tuple[dict[str, tuple[str, SourceFile]], list[Problem]]:
    """The pages of a folder by file name, and problems with the files themselves."""
    problems: list[Problem] = []
    pages: dict[str, tuple[str, SourceFile]] = {}
    if not folder.is_dir():
        return pages, [Problem.of("K001", ".", 1, 1, "no such folder", "give the folder that holds words.yaml")]
    for kind in SINGLE:
        file = f"{kind}.yaml"
        if kind in OPTIONAL and not (folder / file).exists():
            continue
        pages[file] = (kind, source.read(folder / file, file))
    for name, kind in FOLDERS.items():
        paths = _listed(folder / name, problems, name)
        if not paths and name != "cases":
            problems.append(Problem.of("K001", name, 1, 1, "no .yaml file in this folder"))
        for path in paths:
            file = f"{name}/{path.name}"
            pages[file] = (kind, source.read(path, file))
    for path in _listed(folder, problems, ""):
        if path.name not in pages:
            advice = "move it, rename it or delete it"
            problems.append(Problem.of("K013", path.name, 1, 1, "this file is not read", advice))
    return pages, problems


def _listed(folder: Path, problems: list[Problem], name: str) -> list[Path]:
    """The .yaml files of a folder, by name. Files that look meant to be read are reported."""
    try:
        paths = sorted(path for path in folder.iterdir() if not path.name.startswith("."))
    except FileNotFoundError:
        return []
    except OSError as error:  # no empty folder: what it holds is not known
        problems.append(Problem.of("K001", name or ".", 1, 1, f"cannot be read: {error.strerror or error}"))
        return []
    for path in paths:
        file = printable(f"{name}/{path.name}" if name else path.name)
        if path.suffix.lower() in (".yml", ".yaml") and path.suffix != ".yaml":
            problems.append(Problem.of("K013", file, 1, 1, "this file is not read", "let its name end in .yaml"))
        elif path.suffix == ".yaml" and not path.name.isprintable():
            problems.append(Problem.of("K013", file, 1, 1, "this file is not read", "its name cannot be seen whole"))
    return [path for path in paths if path.suffix == ".yaml" and path.name.isprintable()]


def once(problems: Iterable[Problem]) -> list[Problem]:
    """One problem for one slip: of several at one place the one that says most, and none that only follows.

    A word that does not fit is reported as a word (K033), not as a shape (K024); a name that is none (K027), a key
    that is unknown (K020) and nothing where something belongs (K025) are not looked up; an item whose own name was
    mistyped is not missed where it is named.
    """
    listed = list(problems)
    at = {(problem.file, problem.line, problem.column, problem.code) for problem in listed}
    share = {
        (problem.file, problem.line, problem.column)
        for problem in listed
        if problem.code == "K024" and problem.help.startswith("write")
    }
    mistyped = {written for problem in listed if problem.code in ("K020", "K027") for written in _names(problem)}
    kept: list[Problem] = []
    empty: dict[tuple[str, int], int] = {}
    for problem in listed:
        if problem.code == "K025":
            row = (problem.file, problem.line)
            empty[row] = min(problem.column, empty.get(row, problem.column))
    for problem in listed:
        place = (problem.file, problem.line, problem.column)
        if problem.code == "K024" and (*place, "K033") in at and place not in share:
            continue
        if problem.code == "K033" and place in share:
            continue
        if problem.code in NAMING and {(*place, "K027"), (*place, "K025")} & at:
            continue
        if problem.code == "K031" and mistyped & _names(problem):
            continue
        if problem.code == "K025" and problem.column > empty[problem.file, problem.line]:
            continue
        kept.append(problem)
    return kept


def _names(problem: Problem) -> set[str]:
    return {re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_") for name in re.findall(r'"([^"]+)"', problem.message)}


def _listable(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Worst first, and of each file no more than anybody reads; the last of them says so."""
    listed: dict[str, list[Problem]] = {}
    more: Counter[str] = Counter()
    for problem in worst_first(problems):
        found = listed.setdefault(problem.file, [])
        if len(found) < LIMIT:
            found.append(problem)
        else:
            more[problem.file] += 1
    for file, count in more.items():
        last = listed[file][-1]
        told = f"{count} more problem{'' if count == 1 else 's'} in this file"
        listed[file][-1] = replace(last, help=f"{last.help}; {told}" if last.help else told)
    return worst_first(problem for found in listed.values() for problem in found)


def _fingerprint(pages: Mapping[str, tuple[str, SourceFile]]) -> str:
    digest = hashlib.sha256()
    for file in sorted(pages):
        kind, page = pages[file]
        if kind in ("cases", "phrases", "units"):
            continue
        lines = [line.rstrip() for line in page.lines]
        kept = [line for line in lines if line and not line.lstrip().startswith("#")]
        digest.update("\n".join([file, *kept, "", ""]).encode("utf-8", "surrogatepass"))
    return digest.hexdigest()
