"""Retirement: each thing the shipped knowledge holds, retired in turn, is told wherever something in use names it.

The naming places are found here by a walk over every text of the files, not by the functions that are tested.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace
from functools import cache
from importlib.resources import as_file, files

import pytest

from hertzwright.engine import Job, Knowledge
from hertzwright.engine.compiler import names, rules
from hertzwright.engine.compiler.builder import build
from hertzwright.engine.compiler.entries import Entries, Entry
from hertzwright.engine.compiler.reader import entries_of
from hertzwright.engine.compiler.source import MappingNode, Node, ScalarNode, SequenceNode

RETIRABLE = ("causes", "checks", "remedies", "complaints", "setting")
# Keys under which a text that reads like an id is something else: a group of checks, a part, an area, an answer.
NO_REFERENCE = frozenset(
    {"group", "part", "area", "outcome", "outcomes", "answer", "result", "leak", "replaced_by", "said"}
)

with as_file(files("hertzwright.knowledge")) as _folder:
    ENTRIES = entries_of(_folder)


def retire(entries: Entries, *gone: tuple[str, str]) -> Entries:
    """The entries with these (kind, id) retired, as trees."""
    tables = {kind: dict(table) for kind, table in entries.tables.items()}
    for kind, name in gone:
        entry = tables[kind][name]
        reason = MappingNode({"since": ScalarNode("2026-01-31", 1, 1), "reason": ScalarNode("Tried.", 1, 1)}, {}, 1, 1)
        node = entry.node._replace(values={**entry.node.values, "retired": reason})
        tables[kind][name] = replace(entry, node=node)
    return replace(entries, tables=tables, worked_out={})


def said(node: Node, under: str = "", bare: Collection[str] = NO_REFERENCE) -> Iterator[tuple[str, ScalarNode]]:
    """Every text of a tree that may be a reference, keys too, with the nearest key above it. bare: not looked under."""
    if isinstance(node, ScalarNode):
        yield under, node
    elif isinstance(node, SequenceNode):
        for item in node.items:
            yield from said(item, under, bare)
    else:
        for name, value in node.values.items():
            yield under, node.keys.get(name, ScalarNode(name, 0, 0))
            if name not in bare:
                yield from said(value, name, bare)


@cache
def places() -> dict[str, list[tuple[str, str, str, int, int]]]:
    """Every text of the shipped files that may be a reference: kind and id of what holds it, file, line, column."""
    found: dict[str, list[tuple[str, str, str, int, int]]] = {}
    for entry in ENTRIES.all():
        own = [(entry.kind, entry.key)] if entry.kind == "from_the_top" else []
        for _, text in (*own, *said(entry.node, bare=bare_of(entry))):
            found.setdefault(text.value, []).append((entry.kind, entry.id, entry.file, text.line, text.column))
    for page, top in ENTRIES.tops["states"]:
        for key in ("proof", "start_state", "as_found", "first_start"):
            for _, text in said(top.values[key], key):
                found.setdefault(text.value, []).append(("", "", page.file, text.line, text.column))
    return found


def references(entries: Entries, kind: str, name: str) -> set[tuple[str, int, int]]:
    """Where something in use names an item: file, line, column."""
    retired = {(entry.kind, entry.id) for entry in entries.all() if "retired" in entry.node.values}
    return {place[2:] for place in places().get(name, ()) if place[:2] not in {*retired, (kind, name)}}


@pytest.mark.parametrize("every", [11, pytest.param(1, marks=pytest.mark.nightly)])
@pytest.mark.parametrize("kind", RETIRABLE)
def test_whatever_names_a_retired_thing_is_told(kind: str, every: int) -> None:
    named = 0
    for entry in list(ENTRIES.all(kind))[::every]:
        changed = retire(ENTRIES, (kind, entry.id))
        told = [problem for problem in names.problems(changed) if problem.code == "K036"]
        assert {(each.file, each.line, each.column) for each in told} == references(changed, kind, entry.id), entry.id
        named += len(told)
    assert named > len(ENTRIES.of(kind)) / every / 2


def test_what_is_retired_may_name_what_is_retired() -> None:
    entry: Entry = next(entry for entry in ENTRIES.all("causes") if references(ENTRIES, "causes", entry.id))
    places = references(ENTRIES, "causes", entry.id)
    namers = [
        (other.kind, other.id)
        for other in ENTRIES.all("remedies", "causes")
        if any((other.file, text.line, text.column) in places for _, text in said(other.node))
    ]
    assert namers
    both = retire(ENTRIES, ("causes", entry.id), *namers)
    about = f'the cause "{entry.id}" is retired'
    told = [each for each in names.problems(both) if each.code == "K036" and each.message == about]
    assert {(each.file, each.line, each.column) for each in told} == references(both, "causes", entry.id)
    assert len(told) < len(places)


def bare_of(entry: Entry) -> frozenset[str]:
    """Keys of an entry under which nothing is a reference.

    Outcomes of a danger limit stand under their checks; the `value` of a spread is one of the simulated set's.
    """
    if entry.kind == "danger":
        return NO_REFERENCE - {"outcomes"}
    return NO_REFERENCE | {"value"} if entry.kind == "spreads" else NO_REFERENCE


def without(node: Node, name: str, bare: Collection[str] = NO_REFERENCE) -> Node:
    """A tree without the lines that name an item. bare: as for `said`."""
    if isinstance(node, ScalarNode):
        return node
    if isinstance(node, SequenceNode):
        kept = [item for item in node.items if not (isinstance(item, ScalarNode) and item.value == name)]
        return node._replace(items=tuple(without(item, name, bare) for item in kept))
    left = {
        key: value if key in bare else without(value, name, bare)
        for key, value in node.values.items()
        if key != name
        and not (key == "derived" and name in {text.value for _, text in said(value)})  # a difference takes two
        and (key in bare or not (isinstance(value, ScalarNode) and value.value == name))
    }
    return node._replace(values=left)


def lawfully(kind: str, name: str) -> Entries:
    """The shipped entries with one retired as the guide says: whatever names it gone too, cases whole."""
    changed = retire(ENTRIES, (kind, name))
    tables: dict[str, dict[str, Entry]] = {}
    for each, table in changed.tables.items():
        tables[each] = {}
        for key, entry in table.items():
            if each in ("cases", "from_the_top") and (
                key == name or any(text.value == name for _, text in said(entry.node))
            ):
                continue
            trimmed = without(entry.node, name, bare_of(entry))
            assert isinstance(trimmed, MappingNode)
            tables[each][key] = entry if (each, key) == (kind, name) else replace(entry, node=trimmed)
    tops = dict(changed.tops)
    tops["states"] = tuple((page, without(top, name)) for page, top in changed.tops["states"])  # type: ignore[misc]
    return replace(changed, tables=tables, tops=tops)


@pytest.mark.parametrize("every", [60, pytest.param(9, marks=pytest.mark.nightly)])
@pytest.mark.parametrize("kind", RETIRABLE)
def test_what_is_retired_as_the_guide_says_works_or_is_told(kind: str, every: int) -> None:
    """Some items: the knowledge loads and a job goes on, or a problem says what nothing cures or shows any more."""
    worked = told = 0
    for entry in list(ENTRIES.all(kind))[::every]:
        entries = lawfully(kind, entry.id)
        found = [*names.problems(entries), *rules.problems(entries, whole=True)]
        errors = [problem for problem in found if problem.severity == "error"]
        assert not [problem for problem in errors if problem.code == "K036"], entry.id
        if errors:
            told += 1
            continue
        knowledge = Knowledge(build(entries, "x"))
        job = Job(knowledge, {})
        job.record(next(name for name, each in knowledge.complaints.items() if each.retired is None), "present")
        assert job.next_steps(3, 0)
        assert entry.id not in job.posterior() or job.posterior()[entry.id] == 0.0
        assert entry.id not in {step.id for step in job.next_steps(20, 0)}
        worked += 1
    assert worked or told
    assert worked or kind in ("causes", "remedies")  # most have one remedy only, and that is told
