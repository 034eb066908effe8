"""Ids that users' files name, as a version of the knowledge published them, and those that are gone.

Purpose: what an edit may retire but never delete, and what it named anew.
Law: read from the trees of the files, so that a version which no longer loads by today's rules still says what it
published. Facts files and job files name complaints, checks with their answers, remedies, steps of setting, features
with their values and tolerance sets; results name causes and cautions too.
Not here: cases, words, states, sources, order rules and adjusters: they are named inside the knowledge alone, where a
name that leads nowhere is an error (see `names`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..compiler import Knowledge, MappingNode, SourceFile, listed_names, pairs, table
from ..problems import HertzwrightError

_KINDS: Mapping[str, str] = {
    "causes": "cause",
    "checks": "check",
    "remedies": "remedy",
    "complaints": "complaint",
    "features": "feature",
    "tolerances": "tolerance set",
    "cautions": "caution",
    "setting": "step of setting",
}
_RETIRABLE = frozenset({"cause", "check", "remedy", "complaint", "step of setting"})

Published = Mapping[str, Mapping[str, tuple[str, ...]]]
"""Kind -> id -> its answers (of a check) or values (of a feature: its choices, or the ends of its range)."""


@dataclass(frozen=True, slots=True)
class Deleted:
    """A published id that is gone. `of`: the check or feature that it belonged to, empty where it is an item itself.

    retirable: whether it can be put back as retired; an answer or a value is put back as it was.
    """

    kind: str
    id: str
    of: str = ""
    retirable: bool = False


def published(pages: Iterable[SourceFile]) -> Published:
    """What the files publish, retired items too, as far as they have a tree."""
    found: dict[str, dict[str, tuple[str, ...]]] = {kind: {} for kind in _KINDS.values()}
    for page in pages:
        for key, kind in _KINDS.items():
            for name, node in pairs(table(page.root, key)):
                if isinstance(node, MappingNode):
                    of = tuple(table(node, "outcomes").values) if kind == "check" else ()
                    if kind == "feature":
                        of = listed_names(node, "choices") or listed_names(node, "range")
                    found[kind][name.value] = of
    return found


def deleted(before: Published, knowledge: Knowledge) -> tuple[Deleted, ...]:
    """Every id that was published and that a version no longer holds, not even retired."""
    catalogue = knowledge.catalogue
    now: Mapping[str, Mapping[str, object]] = {
        "cause": knowledge.causes,
        "check": knowledge.checks,
        "remedy": knowledge.remedies,
        "complaint": knowledge.complaints,
        "feature": catalogue.features,
        "tolerance set": catalogue.tolerances,
        "caution": catalogue.cautions,
        "step of setting": catalogue.setting,
    }
    found = []
    for kind, items in before.items():
        for name, of in items.items():
            if name not in now[kind]:
                found.append(Deleted(kind, name, retirable=kind in _RETIRABLE))
            elif kind == "check":
                kept = {outcome.id for outcome in knowledge.checks[name].outcomes}
                found.extend(Deleted("answer", each, name) for each in of if each not in kept)
            elif kind == "feature":
                found.extend(Deleted("value", each, name) for each in of if not _takes(knowledge, name, each))
    return tuple(found)


def renamed(old: Knowledge, new: Knowledge) -> dict[str, str]:
    """Ids of causes, checks, remedies and complaints that a version has under another name: old id -> new id.

    One is renamed where it is retired in favour of an id that was not there, or is gone while one that was not there
    has its title.
    """
    found: dict[str, str] = {}
    for one, two in (
        (old.causes, new.causes),
        (old.checks, new.checks),
        (old.remedies, new.remedies),
        (old.complaints, new.complaints),
    ):
        came = {entry.title: name for name, entry in two.items() if name not in one and entry.retired is None}
        for name, entry in one.items():
            if entry.retired is not None:
                continue
            retired = two[name].retired if name in two else None
            if name not in two and entry.title in came:
                found[name] = came[entry.title]
            elif retired is not None and retired.replaced_by in came.values():
                found[name] = retired.replaced_by
    return found


def _takes(knowledge: Knowledge, feature: str, value: str) -> bool:
    try:
        knowledge.features({feature: value})
    except HertzwrightError:
        return False
    return True
