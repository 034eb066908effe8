"""What several kinds of item share: strengths, sources, conditions, readings.

Purpose: parts of an item's tree -> frozen values, for `builder` and `work_builder`.
Law: see `builder`: everything met here has been checked.
Not checked here: anything.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import fsum
from types import MappingProxyType
from typing import TypeVar

from . import model
from .entries import Entries, Entry, listed_names, nodes, number, number_in, pairs, table, text, value
from .source import MappingNode, Node, ScalarNode, SequenceNode

T = TypeVar("T")


class Parts:
    """Reads the parts; strengths in words and published sources are those of its entries."""

    def __init__(self, entries: Entries) -> None:
        self.entries = entries
        self.sources_known = {
            entry.id: model.Source("published", value(entry.node, "title"), value(entry.node, "number"))
            for entry in entries.all("sources")
        }

    def strength(self, node: Node | None) -> float:
        found = self.entries.strength(node.value) if isinstance(node, ScalarNode) else None
        assert found is not None, "checked before"
        return found

    def place(self, entry: Entry) -> model.Place:
        return model.Place(entry.file, entry.key.line, entry.key.column)

    def sources(self, node: MappingNode) -> tuple[model.Source, ...]:
        found: list[model.Source] = []
        for item in nodes(node, "sources"):
            if isinstance(item, ScalarNode):
                found.append(model.Source(item.value))
            else:
                known = self.sources_known[value(item, "source")]
                found.append(replace(known, section=value(item, "section")))
        return tuple(found)

    def experimental(self, node: MappingNode) -> model.Experimental | None:
        if "experimental" not in node.values:
            return None
        under = table(node, "experimental")
        return model.Experimental(value(under, "since"), prose(value(under, "reason")))

    def retired(self, node: MappingNode) -> model.Retired | None:
        if "retired" not in node.values:
            return None
        under = table(node, "retired")
        return model.Retired(value(under, "since"), prose(value(under, "reason")), value(under, "replaced_by"))

    def condition(self, node: Node | None) -> model.Condition:
        if not isinstance(node, MappingNode):
            return model.ALWAYS
        tests: list[model.Comparison] = []
        for key, wanted in pairs(node):
            if isinstance(wanted, ScalarNode):
                tests.append(model.Comparison(key.value, (wanted.value,)))
            elif isinstance(wanted, SequenceNode):
                tests.append(model.Comparison(key.value, listed_names(node, key.value)))
            else:
                at_least, below = number(wanted.values.get("at_least")), number(wanted.values.get("below"))
                tests.append(model.Comparison(key.value, (), at_least, below))
        return model.Condition(tuple(tests))

    def by_check(self, node: MappingNode) -> Mapping[str, tuple[str, ...]]:
        return frozen({key.value: listed_names(node, key.value) for key, _ in pairs(node)})

    def bands(self, node: Node | None, key: str) -> tuple[model.Band, ...]:
        found: list[model.Band] = []
        for band in nodes(node, key):
            one = text(band, "outcome")
            outcomes = (one.value,) if one is not None else listed_names(band, "outcome")
            low, high = (
                number(band.values.get(end)) if isinstance(band, MappingNode) else None for end in ("from", "below")
            )
            found.append(
                model.Band(outcomes, float("-inf") if low is None else low, float("inf") if high is None else high)
            )
        return tuple(found)

    def reading(self, node: MappingNode) -> model.Reading | None:
        if "reading" not in node.values:
            return None
        under = table(node, "reading")
        lowest, highest = (number_in(limit) or 0.0 for limit in listed_names(under, "range"))
        uneven = None
        if "uneven" in under.values:
            wanted = table(under, "uneven")
            above = number(wanted.values.get("above")) or 0.0
            uneven = model.Uneven(value(wanted, "outcome"), value(wanted, "measure"), above)
        return model.Reading(
            value(under, "unit"),
            lowest,
            highest,
            self.bands(under, "bands"),
            value(under, "per"),
            value(under, "scale"),
            uneven,
            number(under.values.get("uncertainty")) or 0.0,
            number(under.values.get("load")),
            value(under, "swing"),
            value(under, "above"),
            value(under, "below"),
        )

    def row(self, node: Node | None, outcomes: tuple[str, ...]) -> tuple[float, ...]:
        """Strengths aligned with outcomes; the normal one gets what is left of 1."""
        assert isinstance(node, MappingNode)
        found = [self.strength(node.values[name]) if name in node.values else 0.0 for name in outcomes[1:]]
        return (max(0.0, 1.0 - fsum(found)), *found)


def frozen(found: dict[str, T]) -> Mapping[str, T]:
    return MappingProxyType(found)


def fits(node: MappingNode) -> model.Fits:
    """What a step needs on, takes off, puts back and runs without."""
    return model.Fits(*(listed_names(node, key) for key in ("needs_on", "takes_off", "puts_back", "runs_without")))


def prose(written: str) -> str:
    """Text as one line: line ends and runs of blanks become one blank."""
    return " ".join(written.split())


def lines(written: str) -> str:
    """Text with one sentence a line, without blanks at the ends."""
    return "\n".join(line.strip() for line in written.strip().split("\n"))
