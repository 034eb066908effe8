"""A step of the course of setting: what is brought to its place on a set, in which order, and the reading that says so.

Purpose: the steps of setting.yaml as frozen values, and what holds for all of them.
Law: see `builder`: everything met here has been checked; everything is in the order written.
Not here: the references and the order of steps (see `names`, `rules`), the course of one set (see the room `setting`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from .entries import Entry, listed_names, number, pairs, table, value, yes
from .model import ALWAYS, NO_FITS, Condition, Fits, Place, Retired, Source
from .parts import Parts, fits, frozen, lines, prose
from .source import MappingNode, ScalarNode


@dataclass(frozen=True, slots=True)
class SettingStep:
    """One step of setting a set from the ground up.

    needs: steps that are right before it. disturbs: steps that are gone through again once this one was worked on.
    accepts: check -> what is done on an answer that is not right, outcome -> remedy; the step is right where every one
    of its checks is, with `fine` as right as the normal outcome, and readings within `near` right enough for it, in the
    unit of the check on a 60 Hz set. No checks: it is done when somebody says so.
    looks_first: check -> outcome -> checks that are made before anything is turned or done for that answer, since a
    fault asks for the same.
    adjuster: the one that is turned for it; pair: of adjusters, whose coach says what to turn. starts: where it is put
    before anything has run, `start` in figures; a check that is not right is then put there and not read again.
    no_response: what it says of a set that does not answer to the work, check -> outcome. last: after every other step,
    and again after any work. on_request: only where it was asked for. waits_for_nothing: made only where the set
    stands so without waiting. state, minutes: of its own work, a turn or what is asked; a remedy has its own.
    """

    id: str
    title: str
    brief: str
    state: str
    minutes: float
    needs: tuple[str, ...] = ()
    disturbs: tuple[str, ...] = ()
    only_if: Condition = ALWAYS
    accepts: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    fine: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    near: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    looks_first: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)
    adjuster: str = ""
    pair: str = ""
    starts: str = ""
    start: float | None = None
    unit: str = ""
    how: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    dangerous: bool = False
    no_response: Mapping[str, str] = field(default_factory=dict)
    last: bool = False
    on_request: bool = False
    waits_for_nothing: bool = False
    note: str = ""
    sources: tuple[Source, ...] = ()
    retired: Retired | None = None
    place: Place | None = None
    fits: Fits = NO_FITS

    @property
    def turned(self) -> bool:
        """Whether it is something that a hand turns, and may have turned to hide what was wrong."""
        return bool(self.adjuster or self.pair or self.starts or self.no_response)

    @property
    def works(self) -> tuple[str, ...]:
        """The remedies that are its work, each once."""
        return tuple(dict.fromkeys(remedy for does in self.accepts.values() for remedy in does.values()))

    @property
    def looks(self) -> tuple[str, ...]:
        """The checks that an answer of it can ask for, each once."""
        asked = (check for asks in self.looks_first.values() for checks in asks.values() for check in checks)
        return tuple(dict.fromkeys(asked))

    def looks_for(self, check: str, outcomes: Iterable[str]) -> tuple[str, ...]:
        """What is looked at before anything is done for an answer that can be any of these outcomes, each once."""
        asks = self.looks_first.get(check, {})
        return tuple(dict.fromkeys(name for outcome in outcomes for name in asks.get(outcome, ())))

    def remedy_for(self, check: str, outcomes: Iterable[str]) -> str:
        """What is done on an answer that can be any of these outcomes; empty where nothing is named."""
        does = self.accepts[check]
        return next((does[outcome] for outcome in outcomes if outcome in does), "")


@dataclass(frozen=True, slots=True)
class SettingRules:
    """What holds for all steps. suspected: chance from which a fault that a step brought up is gone after. found: that
    one of the faults behind it is there, from which a finding that no turn makes is gone after. tries: how often a step
    is worked on before it counts as one that does not respond. wait: minutes of a move to a step that waits for
    nothing, from which on nobody makes it."""

    suspected: float = 0.5
    found: float = 0.25
    tries: int = 2
    wait: float = 30.0


def step_of(parts: Parts, entry: Entry) -> SettingStep:
    """The step of an entry of setting.yaml."""
    node = entry.node
    starts = table(node, "starts")
    return SettingStep(
        id=entry.id,
        title=prose(value(node, "title")),
        brief=prose(value(node, "brief")),
        state=value(node, "state"),
        minutes=number(node.values.get("minutes")) or 0.0,
        needs=listed_names(node, "needs"),
        disturbs=listed_names(node, "disturbs"),
        only_if=parts.condition(node.values.get("only_if")),
        accepts=frozen({check.value: _does(under) for check, under in pairs(table(node, "accepts"))}),
        fine=parts.by_check(table(node, "fine")),
        near=frozen(
            {
                key.value: (float(ends[0]), float(ends[1]))
                for key, _ in pairs(table(node, "near"))
                if len(ends := listed_names(table(node, "near"), key.value)) == 2
            }
        ),
        looks_first=frozen(
            {
                check.value: parts.by_check(under)
                for check, under in pairs(table(node, "looks_first"))
                if isinstance(under, MappingNode)
            }
        ),
        adjuster=value(node, "adjuster"),
        pair=value(node, "pair"),
        starts=prose(value(starts, "at")),
        start=number(starts.values.get("figure")),
        unit=value(starts, "unit"),
        how=tuple(prose(line) for line in listed_names(node, "how")),
        tools=listed_names(node, "tools"),
        cautions=listed_names(node, "cautions"),
        dangerous=yes(node, "dangerous"),
        no_response=frozen(
            {
                key.value: outcome.value
                for key, outcome in pairs(table(node, "no_response"))
                if isinstance(outcome, ScalarNode)
            }
        ),
        last=yes(node, "last"),
        on_request=yes(node, "on_request"),
        waits_for_nothing=yes(node, "waits_for_nothing"),
        note=lines(value(node, "note")),
        sources=parts.sources(node),
        retired=parts.retired(node),
        place=parts.place(entry),
        fits=fits(node),
    )


def rules_of(parts: Parts, top: MappingNode) -> SettingRules:
    """What the file says of all steps."""
    given = table(top, "rules")
    return SettingRules(
        parts.strength(given.values["suspected_from"]),
        parts.strength(given.values["found_from"]),
        int(number(given.values.get("tries")) or 2),
        number(given.values.get("waits_at_most")) or 0.0,
    )


def _does(under: object) -> Mapping[str, str]:
    if not isinstance(under, MappingNode):
        return MappingProxyType({})
    return frozen({key.value: name.value for key, name in pairs(under) if isinstance(name, ScalarNode)})
