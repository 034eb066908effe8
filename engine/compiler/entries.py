"""The items of all knowledge files, by kind and name, still as trees.

Purpose: one place to look up what the files say, before anybody has decided whether it is right.
Law: nothing here fails on a tree of the wrong shape; what is missing reads as empty. So every check can run on
every knowledge base, and all problems are found at once.
Not checked here: anything but names that are used twice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from ..problems import Problem, quoted
from .source import MappingNode, Node, ScalarNode, SequenceNode, SourceFile

# Kind of item: the key of its table. Areas hold two kinds.
TABLES: Mapping[str, tuple[str, ...]] = {
    "words": ("words",),
    "sources": ("sources",),
    "features": ("features",),
    "cautions": ("cautions",),
    "fittings": ("fittings", "closing"),
    "states": ("states",),
    "tolerances": ("tolerances", "danger"),
    "order": ("order", "from_the_top"),
    "complaints": ("complaints",),
    "trimming": ("adjusters", "pairs"),
    "drawings": ("drawings",),
    "units": ("units",),
    "setting": ("setting",),
    "family": ("spreads", "shares"),
    "drills": ("made_up", "combinations", "slips"),
    "tools": ("tools",),
    "phrases": ("phrases",),
    "checks": ("checks",),
    "area": ("causes", "remedies"),
    "cases": ("cases",),
}
SINGULAR: Mapping[str, str] = {
    "words": "word",
    "sources": "source",
    "features": "feature",
    "cautions": "caution",
    "fittings": "fitting",
    "closing": "point of the closing list",
    "states": "state",
    "tolerances": "tolerance set",
    "danger": "danger limit",
    "order": "order rule",
    "from_the_top": "stage of the published order",
    "complaints": "complaint",
    "adjusters": "adjuster",
    "pairs": "pair of adjusters",
    "drawings": "drawing",
    "units": "unit",
    "setting": "step of setting",
    "spreads": "spread of the family",
    "shares": "share of the family",
    "made_up": "share of made-up sets",
    "combinations": "combination",
    "slips": "slip",
    "tools": "tool",
    "phrases": "phrase",
    "checks": "check",
    "causes": "cause",
    "remedies": "remedy",
    "cases": "case",
}
# An answer may name one of these without saying which kind it is.
_SHARED = ("complaints", "checks", "remedies", "setting")


@dataclass(frozen=True, slots=True)
class Entry:
    """One item: its kind, its name where it is written, the mapping under it, and the area of its file."""

    kind: str
    file: str
    key: ScalarNode
    node: MappingNode
    area: str = ""

    @property
    def id(self) -> str:
        return self.key.value

    def problem(self, code: str, message: str, help: str = "", at: Node | None = None) -> Problem:  # noqa: A002
        """A problem at a node of this item, or at its name."""
        where = self.key if at is None else at
        return Problem.of(code, self.file, where.line, where.column, message, help)


@dataclass(frozen=True, slots=True)
class Entries:
    """All items. `broken` are the kinds of which a file has no tree, so that names may be missing unjustly."""

    pages: Mapping[str, SourceFile]
    tables: Mapping[str, Mapping[str, Entry]]
    tops: Mapping[str, tuple[tuple[SourceFile, MappingNode], ...]]
    broken: frozenset[str] = frozenset()
    problems: tuple[Problem, ...] = ()
    strengths: Mapping[str, float | None] = field(default_factory=dict)
    worked_out: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)
    """What several rules need and one has worked out, by the name of what it is."""

    def all(self, *kinds: str) -> Iterator[Entry]:
        for kind in kinds or tuple(self.tables):
            yield from self.tables[kind].values()

    def of(self, kind: str) -> Mapping[str, Entry]:
        return self.tables[kind]

    def strength(self, text: str) -> float | None:
        """The probability that a word of strength or a number stands for; None where it stands for none."""
        if text in self.strengths:
            return self.strengths[text]
        value = number_in(text)
        return value if value is not None and 0 <= value <= 1 else None


@dataclass(slots=True)
class _Collector:
    tables: dict[str, dict[str, Entry]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def take(self, kind: str, page: SourceFile, area: str, table: MappingNode) -> None:
        known = self.tables[kind]
        for name, node in table.values.items():
            if not isinstance(node, MappingNode):
                continue
            entry = Entry(kind, page.file, table.keys[name], node, area)
            rivals = [other for other in _SHARED if other != kind] if kind in _SHARED else []
            for other in [kind, *rivals]:
                first = self.tables[other].get(name)
                if first is not None:
                    what = f"the {SINGULAR[other]} in {first.file}, line {first.key.line}"
                    said = f"the name {quoted(name)} again, first used by {what}"
                    self.problems.append(entry.problem("K030", said, "choose another name"))
                    break
            known.setdefault(name, entry)


def collect(pages: Mapping[str, tuple[str, SourceFile]]) -> Entries:
    """Sort the items of all pages. `pages` maps a file to its kind (a schema's name) and page, in reading order."""
    collector = _Collector({name: {} for names in TABLES.values() for name in names})
    tops: dict[str, list[tuple[SourceFile, MappingNode]]] = {kind: [] for kind in TABLES}
    broken: set[str] = set()
    for kind, page in pages.values():
        if not isinstance(page.root, MappingNode):
            broken.update(TABLES[kind])
            continue
        tops[kind].append((page, page.root))
        area = text(page.root, "area")
        for name in TABLES[kind]:
            collector.take(name, page, area.value if area else "", table(page.root, name))
    return Entries(
        {file: page for file, (_, page) in pages.items()},
        collector.tables,
        {kind: tuple(found) for kind, found in tops.items()},
        frozenset(broken),
        tuple(collector.problems),
        {name: number(word.node.values.get("value")) for name, word in collector.tables["words"].items()},
    )


# ---- looking into a tree whose shape is not known to be right --------------------------------------------------

_NOTHING = MappingNode({}, {}, 1, 1)


def text(node: Node | None, key: str) -> ScalarNode | None:
    """The scalar under a key, or None."""
    found = node.values.get(key) if isinstance(node, MappingNode) else None
    return found if isinstance(found, ScalarNode) else None


def value(node: Node | None, key: str, otherwise: str = "") -> str:
    """The string under a key."""
    found = text(node, key)
    return otherwise if found is None else found.value


def table(node: Node | None, key: str) -> MappingNode:
    """The mapping under a key, or an empty one."""
    found = node.values.get(key) if isinstance(node, MappingNode) else None
    return found if isinstance(found, MappingNode) else _NOTHING


def nodes(node: Node | None, key: str) -> tuple[Node, ...]:
    """The items of the list under a key, or none."""
    found = node.values.get(key) if isinstance(node, MappingNode) else None
    return found.items if isinstance(found, SequenceNode) else ()


def strings(node: Node | None, key: str) -> tuple[ScalarNode, ...]:
    """The scalars of the list under a key."""
    return tuple(item for item in nodes(node, key) if isinstance(item, ScalarNode))


def listed_names(node: Node | None, key: str) -> tuple[str, ...]:
    """The strings of the list under a key."""
    return tuple(item.value for item in strings(node, key))


def pairs(node: MappingNode) -> Iterator[tuple[ScalarNode, Node]]:
    """Keys with their places, and what stands under them."""
    for name, under in node.values.items():
        yield node.keys[name], under


def number_in(written: str) -> float | None:
    """A finite number written with figures, sign and point; None for anything else."""
    try:
        found = float(written)
    except ValueError:
        return None
    return found if isfinite(found) and not set(written) & set("_eEnNfF ") else None


def number(node: Node | None) -> float | None:
    """The number that a scalar holds."""
    return number_in(node.value) if isinstance(node, ScalarNode) else None


def yes(node: Node | None, key: str, otherwise: bool = False) -> bool:
    """Whether `yes` (or true) stands under a key."""
    found = text(node, key)
    return otherwise if found is None else found.value.lower() in ("yes", "true")
