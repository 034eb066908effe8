"""What a change of the knowledge does, gathered: its meaning, the solved cases, played jobs and decision charts.

Purpose: one value that every form of `compare` is printed from.
Law: pieces of work go through anything with `submit`; the value is the same whoever does them and in whatever order.
Only what can have changed is worked out: with no change of meaning there is nothing to play.
Not here: the two versions (see `revision`), how they are told (see `compared`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, as_completed
from dataclasses import dataclass
from typing import TypeVar

from ...engine import Knowledge
from ...engine.changes import Change, changes
from ...engine.chart import Difference as Parting
from ...engine.chart import chart, differences, lines
from ...engine.effect import NEW, OLD, Difference, Twin, difference, effect
from ...engine.solved import judge
from ...engine.wording import reworded
from .revision import Side

T = TypeVar("T")
_CASES_AT_ONCE = 8
CHART_DEPTH = 2
_UNFOLLOWED = ("not followed", "cannot be seen")


@dataclass(frozen=True, slots=True)
class Verdict:
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
    old: Verdict | None
    new: Verdict | None
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
    """Everything that `compare` tells. `jobs` has one entry per world, none where no job was played."""

    old: str
    new: str
    notes: tuple[str, ...]
    changes: tuple[Change, ...]
    reworded: tuple[tuple[str, str], ...]
    cases: tuple[CaseChange, ...]
    jobs: tuple[Difference, ...]
    charts: tuple[ChartChange, ...]
    jobs_asked: int

    @property
    def worse(self) -> tuple[CaseChange, ...]:
        return tuple(case for case in self.cases if case.worse)

    @property
    def reasoning(self) -> bool:
        """Whether anything changed that jobs are reasoned from."""
        return any(change.kind != "case" for change in self.changes)


def gather(
    first: Side,
    second: Side,
    jobs: int,
    seed: int,
    executor: Executor | None,
    watch: Callable[[int, int], None] | None = None,
) -> Effects:
    """Compare two versions. watch: called with pieces done and pieces there are."""
    old, new = first.knowledge, second.knowledge
    found = changes(old, new)
    reasoning = any(change.kind != "case" for change in found)
    touched = {change.id for change in found if change.kind == "case"}
    names = [name for name in dict.fromkeys((*new.cases, *old.cases)) if reasoning or name in touched]
    chunks = [names[at : at + _CASES_AT_ONCE] for at in range(0, len(names), _CASES_AT_ONCE)]
    complaints = [
        name
        for name, complaint in new.complaints.items()
        if reasoning and complaint.retired is None and name in old.complaints and old.complaints[name].retired is None
    ]
    jobs = jobs if reasoning else 0
    pieces = len(names) + len(complaints) + jobs
    done = 0

    def more(count: int) -> None:
        nonlocal done
        done += count
        if watch is not None:
            watch(done, pieces)

    verdicts: dict[str, CaseChange] = {}
    for part in _worked(executor, _judged, [(old, new, chunk, frozenset(touched)) for chunk in chunks]):
        verdicts.update((case.id, case) for case in part)
        more(len(part))
    charts: dict[str, ChartChange] = {}
    for each in _worked(executor, _charted, [(old, new, name) for name in complaints]):
        charts[each.complaint] = each
        more(1)
    before = done
    twins: tuple[Twin, ...] = ()
    if jobs:
        twins = effect(old, new, jobs, seed=seed, executor=executor, done=lambda count: more(before + count - done))
    return Effects(
        first.name,
        second.name,
        first.notes,
        found,
        reworded(old, new),
        tuple(verdicts[name] for name in names if verdicts[name].told),
        tuple(difference(twins, right) for right in (NEW, OLD)) if twins else (),
        tuple(charts[name] for name in complaints if charts[name].partings),
        jobs,
    )


def _worked(executor: Executor | None, work: Callable[..., T], given: Sequence[tuple[object, ...]]) -> list[T]:
    """The results, in the order of what was given."""
    if executor is None:
        return [work(*each) for each in given]
    waiting: list[Future[T]] = [executor.submit(work, *each) for each in given]
    try:
        for future in as_completed(waiting):
            future.result()
    finally:
        for future in waiting:
            future.cancel()
    return [future.result() for future in waiting]


def _judged(old: Knowledge, new: Knowledge, names: Sequence[str], touched: frozenset[str]) -> list[CaseChange]:
    return [_case_change(old, new, name, name in touched) for name in names]


def _case_change(old: Knowledge, new: Knowledge, name: str, touched: bool) -> CaseChange:
    one = _verdict(old, old, name) if name in old.cases else None
    two = _verdict(new, new, name) if name in new.cases else None
    as_before: tuple[str, ...] = ()
    if touched and one is not None and one.passes:
        as_before = _verdict(new, old, name).faults
    return CaseChange(name, one, two, as_before)


def _verdict(knowledge: Knowledge, written: Knowledge, name: str) -> Verdict:
    judged = judge(knowledge, written.cases[name])
    leading, chance = judged.ranking[0] if judged.ranking else ("", 0.0)
    return Verdict(name, judged.faults, leading, chance, judged.proposed, judged.minutes, judged.left)


def _charted(old: Knowledge, new: Knowledge, complaint: str) -> ChartChange:
    one, two = (chart(knowledge, complaint, depth=CHART_DEPTH, deepen=0) for knowledge in (old, new))
    # A way that crosses the share below which ways are folded is no other proposal.
    partings = tuple(
        each for each in differences(one, two) if each.old not in _UNFOLLOWED and each.new not in _UNFOLLOWED
    )
    return ChartChange(complaint, new.complaints[complaint].title, lines(one), lines(two), partings)


__all__ = ["CHART_DEPTH", "NEW", "OLD", "CaseChange", "ChartChange", "Effects", "Verdict", "gather"]
