"""Entries of two versions of the knowledge that mean the same but read differently.

Purpose: name them, so that a reviewer knows where only words changed: titles, briefs, notes, steps, sources.
Law: pure; line breaks, blanks and the place in the file make no difference.
Not here: what changed in meaning (see `changes`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass

from ..compiler import Knowledge
from .meaning import meaning


def reworded(old: Knowledge, new: Knowledge) -> tuple[tuple[str, str], ...]:
    """(kind, id) of entries that mean the same but read differently: titles, briefs, steps, sources."""
    before, after = meaning(old), meaning(new)
    found = []
    for kind, (one, two) in _tables(old, new).items():
        for name in two:
            if name in one and before[kind][name] == after[kind][name] and _prose(one[name]) != _prose(two[name]):
                found.append((kind, name))
    return tuple(found)


def _tables(old: Knowledge, new: Knowledge) -> dict[str, tuple[Mapping[str, object], Mapping[str, object]]]:
    one, two = old.catalogue, new.catalogue
    return {
        "word": (one.words, two.words),
        "feature": (one.features, two.features),
        "state": (one.states, two.states),
        "tolerance": (one.tolerances, two.tolerances),
        "danger limit": (one.danger, two.danger),
        "caution": (one.cautions, two.cautions),
        "fitting": (one.fittings, two.fittings),
        "closing point": (one.closing, two.closing),
        "cause": (one.causes, two.causes),
        "check": (one.checks, two.checks),
        "remedy": (one.remedies, two.remedies),
        "complaint": (one.complaints, two.complaints),
        "order rule": (one.order, two.order),
        "adjuster": (one.adjusters, two.adjusters),
        "trim": (one.pairs, two.pairs),
        "setting": (one.setting, two.setting),
        "spread": (one.spreads, two.spreads),
        "share": (one.shares, two.shares),
        "made-up set": (one.made_up, two.made_up),
        "combination": (one.combinations, two.combinations),
        "slip": (one.slips, two.slips),
        "drawing": (one.drawings, two.drawings),
        "unit": (one.units, two.units),
        "case": (one.cases, two.cases),
    }


def _prose(entry: object) -> object:
    """What a reader sees of an entry, with line breaks and blanks evened out; where it was written is left out."""
    if is_dataclass(entry) and not isinstance(entry, type):
        return [_prose(getattr(entry, field.name)) for field in fields(entry) if field.name not in ("place", "parents")]
    if isinstance(entry, str):
        return [" ".join(entry.split()), " ".join(str(getattr(entry, "brief", "")).split())]
    if isinstance(entry, Mapping):
        return sorted((str(key), repr(_prose(value))) for key, value in entry.items())
    if isinstance(entry, tuple):
        return [_prose(value) for value in entry]
    return repr(entry)
