"""What differs in meaning between two versions of the knowledge.

Purpose: causes, links, strengths, bands, minutes, rules and cases that came, went or changed, each as one value.
Law: pure; the same two versions give the same changes in the same order. What only a reader sees (titles, notes,
steps, sources, order of writing) is no change of meaning (see `wording`).
A word of strength whose number changes is told once, not at every place that uses it.
Not here: what the changes do to jobs (see `effect`) and to the solved cases (see `solved`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from ..compiler import Knowledge
from .meaning import ADDED, CHANGED, REMOVED, RETIRED, SIZE, STRENGTH, Meaning, Statement, meaning, of_cause, strength

KINDS = (
    "word", "feature", "state", "costs", "tolerance", "danger limit", "caution", "fitting", "closing point",
    "cause", "check", "remedy",
    "complaint", "order rule", "published order", "adjuster", "trim", "setting",
    "setting rules", "spread", "share", "made-up set", "combination", "slip", "drawing", "unit", "case",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Change:
    """One change. `what` is the fact of the entry `id` that changed, empty where the entry itself came or went.

    before, after: as told, empty where there was or is nothing. `direction` is one of DIRECTIONS.
    """

    kind: str
    id: str
    what: str
    before: str
    after: str
    direction: str


def changes(old: Knowledge, new: Knowledge) -> tuple[Change, ...]:
    """Every change of meaning, by kind in the order of KINDS, then in the order of the files."""
    before, after = meaning(old), meaning(new)
    found = []
    for kind in KINDS:
        names = list(dict.fromkeys((*after[kind], *before[kind])))
        for name in names:
            if name not in before[kind] and "retired" in after[kind][name]:
                # The entry that a renamed one leaves behind (see `published.renamed`).
                found.append(Change(kind, name, "", "", after[kind][name]["retired"].text, RETIRED))
            elif name not in before[kind]:
                found.append(Change(kind, name, "", "", _summary(new, kind, name), ADDED))
            elif name not in after[kind]:
                found.append(Change(kind, name, "", _summary(old, kind, name), "", REMOVED))
            else:
                found.extend(_compared(kind, name, before[kind][name], after[kind][name]))
    return tuple(_with_uses(found, after))


def _compared(kind: str, name: str, before: Meaning, after: Meaning) -> Iterator[Change]:
    if "retired" in after and "retired" not in before:
        yield Change(kind, name, "", "", after["retired"].text, RETIRED)
        return
    for what in dict.fromkeys((*before, *after)):
        one, two = before.get(what), after.get(what)
        if one is None and two is not None:
            yield Change(kind, name, what, "", two.text, ADDED)
        elif one is not None and two is None:
            yield Change(kind, name, what, one.text, "", REMOVED)
        elif one is not None and two is not None and not _same(one, two):
            direction = CHANGED
            if one.number is not None and two.number is not None:
                direction = two.senses[0] if two.number > one.number else two.senses[1]
            yield Change(kind, name, what, one.text, two.text, direction)


def _same(one: Statement, two: Statement) -> bool:
    if one.number is None or two.number is None:
        return one.text == two.text
    return one.number == two.number or bool(one.word and one.word == two.word)


def _with_uses(found: Iterable[Change], after: Mapping[str, Mapping[str, Meaning]]) -> Iterator[Change]:
    """A word that changed says how many figures are written with it."""
    for change in found:
        if change.kind == "word" and change.direction in SIZE:
            entries = [entry for kind, of in after.items() if kind != "word" for entry in of.values()]
            uses = sum(said.word == change.id for entry in entries for said in entry.values())
            told = f"{change.after}, in {uses} figure{'' if uses == 1 else 's'}"
            yield Change(change.kind, change.id, change.what, change.before, told, change.direction)
        else:
            yield change


def _summary(knowledge: Knowledge, kind: str, name: str) -> str:
    """An entry that came or went, in a few words."""
    if kind == "cause":
        cause = knowledge.causes[name]
        told = strength(knowledge, cause.how_common).text
        links = sum(said.senses == STRENGTH for said in of_cause(knowledge, cause).values())
        return f"{cause.title}; {told}, {links} link{'' if links == 1 else 's'}"
    tables: Mapping[str, Mapping[str, object]] = {
        "word": knowledge.catalogue.words, "feature": knowledge.catalogue.features,
        "state": knowledge.catalogue.states, "tolerance": knowledge.catalogue.tolerances,
        "caution": knowledge.catalogue.cautions, "fitting": knowledge.catalogue.fittings,
        "closing point": knowledge.catalogue.closing,
        "check": knowledge.checks, "remedy": knowledge.remedies,
        "complaint": knowledge.complaints, "order rule": knowledge.catalogue.order, "case": knowledge.cases,
        "danger limit": knowledge.catalogue.danger, "adjuster": knowledge.catalogue.adjusters,
        "trim": knowledge.catalogue.pairs, "spread": knowledge.catalogue.spreads,
        "drawing": knowledge.drawings, "unit": knowledge.units, "made-up set": knowledge.catalogue.made_up,
        "combination": knowledge.catalogue.combinations, "slip": knowledge.catalogue.slips,
        "share": knowledge.catalogue.shares, "setting": knowledge.catalogue.setting,
    }  # fmt: skip
    entry = tables.get(kind, {}).get(name)
    return str(getattr(entry, "title", "") or getattr(entry, "why", "") or getattr(entry, "value", ""))
