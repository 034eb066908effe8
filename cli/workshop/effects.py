"""What a change of the knowledge does, gathered: its meaning, the solved cases, played jobs and decision charts.

Purpose: one value that every form of `compare` is printed from.
Law: pieces of work go through anything with `submit`; the value is the same whoever does them and in whatever order.
Only what can have changed is worked out: with no change of meaning there is nothing to play.
Not here: the two versions (see `revision`), how they are told (see `compared`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from ...engine import Knowledge
from ...engine.rehearsal import chunks, worked
from ...engine.review import (
    NEW,
    OLD,
    Change,
    Deleted,
    MinutesDifference,
    PairedJob,
    Sets,
    asked_for,
    changes,
    condition,
    deleted,
    difference,
    effect,
    judge,
    known_features,
    reasons_differ,
    reworded,
    sets,
)
from ...engine.review import reasoning as all_reasoning
from ...engine.teaching import ChartDifference as Parting
from ...engine.teaching import chart, differences, lines
from .revision import KnowledgeVersion

_CASES_AT_ONCE = 8
CHART_DEPTH = 2
_UNFOLLOWED = ("not followed", "cannot be seen")


@dataclass(frozen=True, slots=True)
class CaseVerdict:
    """A solved case as one version judges it. minutes: of its facts; left: expected from there to the end."""

    id: str
    faults: tuple[str, ...]
    leading: str
    chance: float
    proposed: str
    minutes: float
    left: float

    @property
    def passes(self) -> bool:
        return not self.faults

    @property
    def total(self) -> float:
        return self.minutes + self.left


@dataclass(frozen=True, slots=True)
class CaseChange:
    """A solved case before and after; None where it was not, or is no more, there.

    as_before: the faults of the case as it was written before, judged by the new version; only where it was rewritten
    or taken out.
    """

    id: str
    old: CaseVerdict | None
    new: CaseVerdict | None
    as_before: tuple[str, ...] = ()

    @property
    def worse(self) -> bool:
        return self.old is not None and self.new is not None and self.old.passes and not self.new.passes

    @property
    def better(self) -> bool:
        return self.old is not None and self.new is not None and not self.old.passes and self.new.passes

    @property
    def told(self) -> bool:
        """Whether there is anything to tell of it: leading cause, first suggestion, minutes, pass or fail."""
        old, new = self.old, self.new
        if old is None or new is None:
            return True
        return (
            old.passes != new.passes
            or old.leading != new.leading
            or old.proposed != new.proposed
            or abs(old.total - new.total) >= 1.0
            or bool(self.as_before)
        )


@dataclass(frozen=True, slots=True)
class ChartChange:
    """A complaint whose decision chart changed: all its lines before and after, and where the two part."""

    complaint: str
    title: str
    old: tuple[str, ...]
    new: tuple[str, ...]
    partings: tuple[Parting, ...]


@dataclass(frozen=True, slots=True)
class Effects:
    """Everything that `compare` tells. `jobs` has one entry per world, none where no job was played.

    deleted: published ids that are gone. bearing: whether anything changed that made-up jobs are reasoned from.
    sets: made-up sets drawn and those that the edit meets. wanted: what a set must be to be met, in words.
    cases_met: solved cases on a set that the edit meets. chart_set: features of the set that the charts are of, empty
    for the usual one; None where the edit meets no set to draw a chart of.
    """

    old: str
    new: str
    notes: tuple[str, ...]
    changes: tuple[Change, ...]
    reworded: tuple[tuple[str, str], ...]
    cases: tuple[CaseChange, ...]
    jobs: tuple[MinutesDifference, ...]
    charts: tuple[ChartChange, ...]
    jobs_asked: int
    deleted: tuple[Deleted, ...]
    bearing: bool
    sets: Sets
    wanted: tuple[str, ...]
    cases_met: int
    chart_set: Mapping[str, object] | None

    @property
    def worse(self) -> tuple[CaseChange, ...]:
        return tuple(case for case in self.cases if case.worse)

    @property
    def told(self) -> bool:
        """Whether anything but solved cases changed in meaning."""
        return any(change.kind != "case" for change in self.changes)


def compare_versions(
    first: KnowledgeVersion,
    second: KnowledgeVersion,
    jobs: int,
    seed: int,
    executor: Executor | None,
    watch: Callable[[int, int], None] | None = None,
    given: Mapping[str, object] | None = None,
) -> Effects:
    """Compare two versions. watch: called with pieces done and pieces there are; given: features of every made-up set.

    Raises WorkerError where the executor fails, AnswerError for a feature that is none.
    """
    old, new = first.knowledge, second.knowledge
    new.features(given)
    found = changes(old, new)
    told = any(change.kind != "case" for change in found)
    touched = {change.id for change in found if change.kind == "case"}
    names = [name for name in dict.fromkeys((*new.cases, *old.cases)) if told or name in touched]
    parts = [(part, frozenset(touched)) for part in chunks(names, _CASES_AT_ONCE)]
    bearing = told and all_reasoning(old) != all_reasoning(new)
    drawn = sets(old, new, jobs, seed, given) if bearing and jobs else Sets((), 0)
    chart_set = _chart_set(old, new, drawn, given) if bearing else None
    complaints = [] if chart_set is None else _can_be_said(old, new, chart_set)
    pieces = len(names) + len(complaints) + len(drawn.met)
    done = 0

    def more(count: int) -> None:
        nonlocal done
        done += count
        if watch is not None:
            watch(done, pieces)

    both = (old, new)
    judged = worked(executor, _judged, both, parts, lambda part: more(len(part)))
    verdicts = {case.id: case for part in judged for case in part}
    charted = worked(executor, _charted, both, [(name, chart_set) for name in complaints], lambda _: more(1))
    before = done
    twins: tuple[PairedJob, ...] = ()
    if drawn.met:
        twins = effect(
            old, new, drawn.met, seed=seed, executor=executor, done=lambda count: more(before + count - done)
        )
    return Effects(
        first.name,
        second.name,
        first.notes,
        found,
        reworded(old, new),
        tuple(verdicts[name] for name in names if verdicts[name].told),
        tuple(difference(twins, right) for right in (NEW, OLD)) if twins else (),
        tuple(each for each in charted if each.partings),
        jobs if told else 0,
        deleted(first.published, new),
        bearing,
        drawn,
        tuple(condition(each) for each in asked_for(old, new)) if bearing else (),
        sum(reasons_differ(old, new, case.set) for case in new.cases.values()) if bearing else 0,
        chart_set,
    )


def _chart_set(
    old: Knowledge, new: Knowledge, drawn: Sets, given: Mapping[str, object] | None
) -> Mapping[str, object] | None:
    """The set that charts are drawn of: the usual one where the edit meets it, else the first one that it meets."""
    usual = dict(given or {})
    return usual if reasons_differ(old, new, usual) else next(iter(drawn.met), None)


def _can_be_said(old: Knowledge, new: Knowledge, features: Mapping[str, object]) -> list[str]:
    """Complaints that somebody can say of such a set by both versions."""
    return [name for name in new.complaints if all(_said_of(each, name, features) for each in (old, new))]


def _said_of(knowledge: Knowledge, complaint: str, features: Mapping[str, object]) -> bool:
    """Whether somebody can say this of such a set."""
    found = knowledge.complaints.get(complaint)
    known = knowledge.features(known_features(knowledge, features))
    return found is not None and found.retired is None and all(knowledge.applies(check, known) for check in found.says)


def _judged(old: Knowledge, new: Knowledge, names: Sequence[str], touched: frozenset[str]) -> list[CaseChange]:
    return [_case_change(old, new, name, name in touched) for name in names]


def _case_change(old: Knowledge, new: Knowledge, name: str, touched: bool) -> CaseChange:
    one = _verdict(old, old, name) if name in old.cases else None
    two = _verdict(new, new, name) if name in new.cases else None
    as_before: tuple[str, ...] = ()
    if touched and one is not None and one.passes:
        as_before = _verdict(new, old, name).faults
    return CaseChange(name, one, two, as_before)


def _verdict(knowledge: Knowledge, written: Knowledge, name: str) -> CaseVerdict:
    judged = judge(knowledge, written.cases[name])
    leading, chance = judged.ranking[0] if judged.ranking else ("", 0.0)
    return CaseVerdict(name, judged.faults, leading, chance, judged.proposed, judged.minutes, judged.left)


def _charted(old: Knowledge, new: Knowledge, complaint: str, features: Mapping[str, object]) -> ChartChange:
    one, two = (
        chart(knowledge, complaint, known_features(knowledge, features), depth=CHART_DEPTH, deepen=0)
        for knowledge in (old, new)
    )
    # A way that crosses the share below which ways are folded is no other proposal.
    partings = tuple(
        each for each in differences(one, two) if each.old not in _UNFOLLOWED and each.new not in _UNFOLLOWED
    )
    return ChartChange(complaint, new.complaints[complaint].title, lines(one), lines(two), partings)


__all__ = ["CHART_DEPTH", "NEW", "OLD", "CaseChange", "CaseVerdict", "ChartChange", "Effects", "compare_versions"]
