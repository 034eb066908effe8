"""Sense of the course: a unit is short, asks one thing, shows its figures, and its drills can be told.

Purpose: one small function for each rule about units (see `rules` for how they are run).
Law: a rule looks at trees and yields problems; it is named after what must hold.
Not here: whether the figure of an example is right: that is held against the program's own function by a test.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ..problems import Problem, quoted
from .entries import Entries, Entry, listed_names, nodes, number_in, pairs, strings, table, text, value, yes
from .source import MappingNode, ScalarNode, texts
from .unit import MOST_WORDS

_FIGURE = re.compile(r"\d+(?:\.\d+)?")
_PROSE = ("text", "example", "prediction")


def units_are_short(entries: Entries) -> Iterator[Problem]:
    """What is to be read of a unit is no more than `MOST_WORDS`."""
    for unit in entries.all("units"):
        count = sum(len(each.value.split()) for each in _read(unit))
        if count > MOST_WORDS:
            what = f"{count} words, more than {MOST_WORDS}"
            yield unit.problem("K092", what, "say less, or make two units of it", text(unit.node, "text"))


def _read(unit: Entry) -> Iterator[ScalarNode]:
    """What a trainee reads of a unit before its drills."""
    for key in _PROSE:
        under = unit.node.values.get(key)
        if isinstance(under, ScalarNode):
            yield under
        elif isinstance(under, MappingNode):
            yield from filter(None, (text(under, "text"), text(under, "question")))
            for answer in nodes(under, "answers"):
                yield from texts(answer)


def one_answer_is_right(entries: Entries) -> Iterator[Problem]:
    """Of the answers of a prediction one alone is right."""
    for unit in entries.all("units"):
        asked = table(unit.node, "prediction")
        right = [text(answer, "right") for answer in nodes(asked, "answers") if yes(answer, "right")]
        if nodes(asked, "answers") and not right:
            advice = "write `right: yes` at one of them"
            yield unit.problem("K093", "none of the answers is marked as right", advice, text(asked, "question"))
        for surplus in right[1:]:
            yield unit.problem("K093", "a second answer is marked as right", "leave one of them right", surplus)


def examples_show_their_figures(entries: Entries) -> Iterator[Problem]:
    """Every figure that an example is computed from, and its result, stand in its text."""
    for unit in entries.all("units"):
        example = table(unit.node, "example")
        shown = {float(figure) for figure in _FIGURE.findall(value(example, "text"))}
        figures = [each for _, each in pairs(table(example, "given")) if isinstance(each, ScalarNode)]
        result = text(example, "gives")
        for figure in [*figures, *([result] if result is not None else [])]:
            found = number_in(figure.value)
            if found is None:
                yield unit.problem("K024", f"{quoted(figure.value)} is no number", "", figure)
            elif abs(found) not in shown:
                what = f"the figure {figure.value} does not stand in the text of the example"
                yield unit.problem("K094", what, "write it there, or leave it out", figure)


def short_drills_can_be_told(entries: Entries) -> Iterator[Problem]:
    """No two causes of a short drill show the same in all of its looks."""
    for unit in entries.all("units"):
        for plan in nodes(unit.node, "drills"):
            looks = listed_names(plan, "looks")
            first: dict[object, str] = {}
            for cause in strings(plan, "causes"):
                known = entries.of("causes").get(cause.value)
                if known is None:
                    continue
                rows = (table(table(known.node, "shows"), look) for look in looks)
                shown = tuple(frozenset((key.value, value(row, key.value)) for key, _ in pairs(row)) for row in rows)
                other = first.setdefault(shown, cause.value)
                if other != cause.value:
                    what = f"{quoted(other)} and {quoted(cause.value)} show the same in all of the looks"
                    yield unit.problem("K095", what, "add a look that tells them apart", cause)
