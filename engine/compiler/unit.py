"""A unit of the course: ten minutes in which one thing about governed sets is learned.

Purpose: the units of units.yaml as frozen values, in the order in which they are learned.
Law: see `builder`: everything met here has been checked. A figure of an example is that of a function of the program;
which functions there are, and whether they agree, is not known here (see the room `teaching`).
Not here: when a unit is due (see the room `teaching`), whether it is short enough (see `unit_rules`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .entries import Entry, listed_names, nodes, number, number_in, pairs, table, value, yes
from .model import Place, Source
from .parts import Parts, frozen, lines, prose
from .source import MappingNode, Node, ScalarNode

MOST_WORDS = 300
"""Words of a unit, its example and its questions included: about two minutes of reading."""


@dataclass(frozen=True, slots=True)
class UnitCurve:
    """A curve of the simulated set before and after a turn. of: load or time; turns: of the adjuster, + is more speed,
    sharper, more pull or richer."""

    of: str
    adjuster: str
    turns: float


@dataclass(frozen=True, slots=True)
class WorkedExample:
    """An example in words. by: the function that computes it; given: its arguments; gives: its result as written."""

    text: str
    by: str
    given: Mapping[str, float]
    gives: str


@dataclass(frozen=True, slots=True)
class UnitAnswer:
    """One answer to a question, and why it is right or wrong."""

    say: str
    right: bool
    because: str


@dataclass(frozen=True, slots=True)
class Prediction:
    """A question to be thought about before its answer is read; one of its answers is right."""

    question: str
    answers: tuple[UnitAnswer, ...]


@dataclass(frozen=True, slots=True)
class ShortDrillPlan:
    """A short drill: one of these causes, these checks made on a made-up set that has it, and what tells them apart.
    also: causes that the set has besides, which the trainee is told."""

    causes: tuple[str, ...]
    looks: tuple[str, ...]
    why: str
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit. text: one sentence a line. drawing: id of one of drawings.yaml. curve: None where it has none."""

    id: str
    title: str
    text: str
    drawing: str
    example: WorkedExample
    prediction: Prediction
    drills: tuple[ShortDrillPlan, ...]
    curve: UnitCurve | None = None
    cautions: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    place: Place | None = None


def unit_of(parts: Parts, entry: Entry) -> Unit:
    """The unit of an entry of units.yaml."""
    node = entry.node
    asked = table(node, "prediction")
    return Unit(
        id=entry.id,
        title=prose(value(node, "title")),
        text=lines(value(node, "text")),
        drawing=value(node, "drawing"),
        example=_example(table(node, "example")),
        prediction=Prediction(
            prose(value(asked, "question")),
            tuple(
                UnitAnswer(prose(value(item, "say")), yes(item, "right"), prose(value(item, "because")))
                for item in nodes(asked, "answers")
            ),
        ),
        drills=tuple(
            ShortDrillPlan(
                listed_names(item, "causes"),
                listed_names(item, "looks"),
                prose(value(item, "why")),
                listed_names(item, "also"),
            )
            for item in nodes(node, "drills")
        ),
        curve=_curve(node),
        cautions=listed_names(node, "cautions"),
        sources=parts.sources(node),
        place=parts.place(entry),
    )


def _example(node: MappingNode) -> WorkedExample:
    given = {key.value: number_in(each.value) or 0.0 for key, each in _scalars(table(node, "given"))}
    return WorkedExample(prose(value(node, "text")), value(node, "by"), frozen(given), value(node, "gives"))


def _curve(node: Node) -> UnitCurve | None:
    if not isinstance(node, MappingNode) or "curve" not in node.values:
        return None
    under = table(node, "curve")
    return UnitCurve(value(under, "of"), value(under, "adjuster"), number(under.values.get("turns")) or 0.0)


def _scalars(node: MappingNode) -> list[tuple[ScalarNode, ScalarNode]]:
    return [(key, each) for key, each in pairs(node) if isinstance(each, ScalarNode)]
