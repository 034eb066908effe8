"""What a change of the knowledge does, gathered: its meaning, the solved cases, played jobs and decision charts.

Purpose: one value that every form of `compare` is printed from.
Law: pieces of work go through anything with `submit`; the value is the same whoever does them and in whatever order.
Only what can have changed is worked out: with no change of meaning there is nothing to play.
Not here: the two versions (see `revision`), how they are told (see `compared`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from ...engine import HertzwrightError, Knowledge
from ...engine.compiler import Case
from ...engine.rehearsal import chunks, worked
from ...engine.review import (
    DEPTH,
    DRAWN_FOR_EACH,
    NEW,
    OLD,
    Change,
    Deleted,
    Judged,
    MinutesDifference,
    PairedSet,
    Sets,
    asked_for,
    beliefs_only,
    changes,
    condition,
    deleted,
    difference,
    effect,
    job_of_case,
    judge,
    known_features,
    reasons_differ,
    reworded,
    sets,
)
from ...engine.review import reasoning as all_reasoning
from ...engine.teaching import ChartDifference as Parting
from ...engine.teaching import chart, differences, lines
from ..training import chart_rows
from .revision import KnowledgeVersion

_CASES_AT_ONCE = 8
CHART_DEPTH = 2
_MOVED = 0.05
"""Change of a probability from which on it is told."""
_HOLDS = ("danger limit", "tolerance", "caution", "state", "costs")
"""What changes for every case, whatever set it is of."""
_SAME = 1e-3
"""Probability up to which two rankings are the same, and suggest the same."""
_UNFOLLOWED = ("not followed", "cannot be seen")


@dataclass(frozen=True, slots=True)
class CaseVerdict:
    """A solved case as one version judges it. truth: probability of what it expects in the lead. left: minutes expected
    from its facts to the end. proposed: the first suggestion, empty where none was asked for.
    """

    id: str
    faults: tuple[str, ...]
    leading: str
    chance: float
    truth: float
    proposed: str = ""
    left: float = 0.0

    @property
    def passes(self) -> bool:
        return not self.faults


@dataclass(frozen=True, slots=True)
class CaseChange:
    """A solved case before and after; None where it was not, or is no more, there.

    as_before: the faults of the case as it was written before, judged by the new version; only where it was rewritten
    or taken out. saved: minutes that the first suggestion saves against that of the old version, both by the new one;
    None where it is the same or is not to be told.
    """

    id: str
    old: CaseVerdict | None
    new: CaseVerdict | None
    as_before: tuple[str, ...] = ()
    saved: float | None = None

    @property
    def failing(self) -> bool:
        """Whether it fails now and did not before: it passed, or was not there."""
        return self.new is not None and not self.new.passes and (self.old is None or self.old.passes)

    @property
    def moved(self) -> float:
        """By how much the probability of what the case expects changed."""
        return self.new.truth - self.old.truth if self.old is not None and self.new is not None else 0.0

    @property
    def decides(self) -> bool:
        """Whether the first cause or the outcome changed, or the case itself did."""
        old, new = self.old, self.new
        if old is None or new is None or self.as_before:
            return True
        return old.passes != new.passes or old.leading != new.leading

    @property
    def worse(self) -> bool:
        return self.old is not None and self.new is not None and self.old.passes and not self.new.passes

    @property
    def better(self) -> bool:
        return self.old is not None and self.new is not None and not self.old.passes and self.new.passes

    @property
    def told(self) -> bool:
        """Whether there is anything to tell of it: first cause, outcome, first suggestion, or a probability."""
        return self.decides or self.saved is not None or abs(self.moved) >= _MOVED


@dataclass(frozen=True, slots=True)
class ChartChange:
    """A complaint whose decision chart changed: all its lines before and after by the quick look ahead, and where the
    two part. drawn: the rows of both as `chart` draws them, none where it was not drawn.
    """

    complaint: str
    title: str
    old: tuple[str, ...]
    new: tuple[str, ...]
    partings: tuple[Parting, ...]
    drawn: tuple[tuple[str, ...], ...] = ()


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
    renamed: Mapping[str, str]
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
    def failing(self) -> tuple[CaseChange, ...]:
        """Cases that fail now and did not before, new ones too."""
        return tuple(case for case in self.cases if case.failing)

    @property
    def told(self) -> bool:
        """Whether anything but solved cases changed in meaning."""
        return any(change.kind != "case" for change in self.changes)


class _Pieces:
    """Pieces of work, told to the one who watches as they get done."""

    def __init__(self, all_: int, watch: Callable[[int, int], None] | None) -> None:
        self._all, self._watch, self._done = all_, watch, 0

    def more(self, count: int) -> None:
        """So many more are done."""
        self._done += count
        if self._watch is not None:
            self._watch(self._done, self._all)

    def mark(self) -> Callable[[int], None]:
        """What tells how many are done since now, all in all."""
        before = self._done
        return lambda count: self.more(before + count - self._done)


def compare_versions(
    first: KnowledgeVersion,
    second: KnowledgeVersion,
    jobs: int,
    seed: int,
    executor: Executor | None,
    watch: Callable[[int, int], None] | None = None,
    given: Mapping[str, object] | None = None,
    deepen: int = DEPTH,
) -> Effects:
    """Compare two versions. watch: called with pieces done and pieces there are; given: features of every made-up set.

    Raises WorkerError where the executor fails, AnswerError for a feature that is none.
    """
    old, new = first.knowledge, second.knowledge
    new.features(given)
    found = changes(old, new)
    told = any(change.kind != "case" for change in found)
    touched = frozenset(change.id for change in found if change.kind == "case")
    names = _to_judge(old, new, found, touched)
    bearing = told and all_reasoning(old) != all_reasoning(new)
    drawn = sets(old, new, jobs * DRAWN_FOR_EACH, seed, given) if bearing and jobs else Sets((), 0)
    chart_set = _chart_set(old, new, drawn, given) if bearing else None
    complaints = [] if chart_set is None else _can_be_said(old, new, chart_set)
    pieces = _Pieces(len(names) + len(complaints) + len(drawn.met), watch)
    both = (old, new)
    parts = [(part, touched) for part in chunks(names, _CASES_AT_ONCE)]
    judged = worked(executor, _judged, both, parts, lambda part: pieces.more(len(part)))
    verdicts = {case.id: case for part in judged for case in part}
    charted = worked(executor, _charted, both, [(name, chart_set) for name in complaints], lambda _: pieces.more(1))
    twins: tuple[PairedSet, ...] = ()
    if drawn.met:
        since = pieces.mark()
        twins = effect(old, new, drawn.met, jobs, seed=seed, deepen=deepen, executor=executor, done=since)
    return Effects(
        first.name,
        second.name,
        first.notes,
        found,
        reworded(old, new),
        tuple(verdicts[name] for name in names if verdicts[name].told),
        tuple(difference(twins, right) for right in (NEW, OLD)) if twins else (),
        _one_drawn(old, new, [each for each in charted if each.partings], chart_set or {}),
        first.renamed,
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
    """The set that charts are drawn of: the usual one where the edit meets it, else the first one that it meets. Only
    what is not usual of it is told."""
    asked = dict(given or {})
    found = asked if reasons_differ(old, new, asked) else next(iter(drawn.met), None)
    usual = new.features({})
    return None if found is None else {name: value for name, value in found.items() if value != usual.get(name)}


def _can_be_said(old: Knowledge, new: Knowledge, features: Mapping[str, object]) -> list[str]:
    """Complaints that somebody can say of such a set by both versions."""
    return [name for name in new.complaints if all(_said_of(each, name, features) for each in (old, new))]


def _said_of(knowledge: Knowledge, complaint: str, features: Mapping[str, object]) -> bool:
    """Whether somebody can say this of such a set."""
    found = knowledge.complaints.get(complaint)
    known = knowledge.features(known_features(knowledge, features))
    return found is not None and found.retired is None and all(knowledge.applies(check, known) for check in found.says)


def _to_judge(old: Knowledge, new: Knowledge, found: Sequence[Change], touched: frozenset[str]) -> list[str]:
    """The solved cases that may come out otherwise: those touched, and those that a change of anything else reaches."""
    told = any(change.kind != "case" for change in found)
    everywhere = any(change.kind in _HOLDS for change in found)
    return [
        name
        for name in dict.fromkeys((*new.cases, *old.cases))
        if name in touched or (told and (everywhere or _may_differ(old, new, name)))
    ]


def _may_differ(old: Knowledge, new: Knowledge, name: str) -> bool:
    """Whether a case that is in both may come out otherwise: its set is reasoned of, or its answers read, otherwise."""
    if name not in old.cases or name not in new.cases:
        return True
    case = new.cases[name]
    return reasons_differ(old, new, case.set) or _read(old, case) != _read(new, case)


def _read(knowledge: Knowledge, case: Case) -> object:
    """How the answers of a case are understood; None where they are not."""
    try:
        job = job_of_case(knowledge, case)
        return [job.understand(fact["check"], fact["answer"]).fits for fact in case.facts if "check" in fact]
    except HertzwrightError:
        return None


def _judged(old: Knowledge, new: Knowledge, names: Sequence[str], touched: frozenset[str]) -> list[CaseChange]:
    beliefs = beliefs_only(old, new)
    return [_case_change(old, new, name, name in touched, beliefs) for name in names]


def _case_change(old: Knowledge, new: Knowledge, name: str, touched: bool, beliefs: bool) -> CaseChange:
    if not touched and beliefs and name in old.cases and name in new.cases:
        # Where both believe the same, both suggest the same.
        first, second = (judge(each, each.cases[name], plan=False) for each in (old, new))
        chances = dict(first.ranking)
        if first.ranking and all(abs(chances.get(cause, 0.0) - value) < _SAME for cause, value in second.ranking):
            return CaseChange(name, _verdict(first), _verdict(second))
    one = judge(old, old.cases[name]) if name in old.cases else None
    two = judge(new, new.cases[name]) if name in new.cases else None
    as_before: tuple[str, ...] = ()
    if touched and one is not None and not one.faults:
        as_before = judge(new, old.cases[name]).faults
    saved = None
    if one is not None and two is not None and one.proposed != two.proposed:
        priced = dict(two.priced)
        if one.proposed in priced and two.proposed in priced:
            saved = priced[one.proposed] - priced[two.proposed]
    told = None if saved is None or abs(saved) < 1.0 else saved
    before, after = (None if each is None else _verdict(each) for each in (one, two))
    return CaseChange(name, before, after, as_before, told)


def _verdict(judged: Judged) -> CaseVerdict:
    leading, chance = judged.ranking[0] if judged.ranking else ("", 0.0)
    return CaseVerdict(judged.case.id, judged.faults, leading, chance, judged.truth, judged.proposed, judged.left)


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


def _one_drawn(
    old: Knowledge, new: Knowledge, charts: Sequence[ChartChange], features: Mapping[str, object]
) -> tuple[ChartChange, ...]:
    """The charts, the one that parts soonest first, and that one as the technician gets it."""
    if not charts:
        return ()
    first, *rest = sorted(charts, key=lambda each: (len(each.partings[0].path), each.complaint))
    drawn = tuple(
        tuple(chart_rows(each, chart(each, first.complaint, known_features(each, features)))) for each in (old, new)
    )
    return (replace(first, drawn=drawn), *rest)


__all__ = ["CHART_DEPTH", "NEW", "OLD", "CaseChange", "CaseVerdict", "ChartChange", "Effects", "compare_versions"]
