"""What a change of the knowledge does to jobs: the same sets worked with the old and with the new.

Purpose: minutes of many jobs with either version, paired set by set, and how sure the difference is.
A set is drawn from one of the two versions, as if that one were right; so each version is tried in its own world and
in that of the other. A technician with better knowledge should be quicker where it is right, and lose little where it
is not. The world's own minutes are charged in both cases: writing a smaller figure makes nobody faster.
What only the other version knows (a check, a remedy) is in that world as the other version says.
Law: set number n of a seed is the same for both versions and whoever plays it (common random numbers), its features
too; which sets are worth playing `scope` says.
Source: paired comparison with common random numbers and Student's t, A. M. Law, Simulation Modeling and Analysis (from
memory).
Not here: what changed (see `changes`), one job (see `rehearsal`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from ..compiler import Knowledge
from ..job import Job, Step
from ..rehearsal import (
    CAME_BACK,
    FIXED,
    REFERRED,
    DrawnSet,
    Played,
    by_suggestions,
    chunks,
    drawn_sets,
    interval,
    worked,
)
from ..simulated import Draws
from .scope import known_features

OLD, NEW = "old", "new"
_CHUNK = 4

Memo = dict[tuple[tuple[tuple[str, object], ...], tuple[tuple[str, str, str], ...]], tuple[Step, ...]]


@dataclass(frozen=True, slots=True)
class PairedJob:
    """One set worked with both versions. `right`: the version it was drawn from. Minutes are the world's own.

    `same`: every step was the same. `old_fixed`, `new_fixed`: nothing was left wrong at the end.
    """

    number: int
    right: str
    old_minutes: float
    new_minutes: float
    old_fixed: bool
    new_fixed: bool
    same: bool


@dataclass(frozen=True, slots=True)
class MinutesDifference:
    """Expected minutes of a job, old and new, and new less old with its 95 % interval (nan below five pairs).

    `count` jobs, of which `same` went the same way step by step; `old_fixed`, `new_fixed`: ended with nothing wrong.
    """

    right: str
    count: int
    same: int
    old: float
    new: float
    mean: float
    low: float
    high: float
    old_fixed: int
    new_fixed: int

    @property
    def told_apart(self) -> bool:
        """Whether the interval leaves out nil."""
        return self.low > 0.0 or self.high < 0.0


class SetOfOneVersion:
    """A set of one version's world, met by somebody who works by the other version."""

    def __init__(self, world: Knowledge, known: Knowledge, drawn: DrawnSet, seed: str) -> None:
        self._world, self._known, self._drawn, self._seed = world, known, drawn, seed
        self.complaint = drawn.complaint
        self.features: Mapping[str, object] = dict(drawn.features)
        self._treated: dict[str, int] = {}

    @property
    def faults(self) -> frozenset[str]:
        return self._drawn.faults

    def answer(self, check: str) -> str:
        if check in self._world.network.leak:
            shown = self._drawn.answer(check)
        else:
            shared = frozenset(cause for cause in self.faults if cause in self._known.causes)
            shown = DrawnSet(self._known, self.features, shared, self._seed).answer(check)
        return shown if shown in self._known.checks[check].outcomes else "unknown"

    def treat(self, remedy: str) -> bool:
        if remedy in self._world.network.cures:
            return self._drawn.treat(remedy)
        time = self._treated[remedy] = self._treated.get(remedy, 0) + 1
        cures = self._known.remedies[remedy].cures
        self._drawn.faults -= {
            cause
            for cause in self.faults & cures.keys()
            if Draws(self._seed, "cure", remedy, cause, time).uniform() < cures[cause]
        }
        return self.prove()

    def prove(self) -> bool:
        return self._drawn.prove()


class _Remembering(Job):
    """A job that asks no question twice that another job with the same knowledge has asked at the same point."""

    memo: Memo

    def next_steps(self, limit: int = 5, deepen: int = 4) -> tuple[Step, ...]:
        key = (tuple(self.features.items()), tuple((event.kind, event.id, event.answer) for event in self.standing))
        steps = self.memo.get(key)
        if steps is None:
            steps = self.memo[key] = super().next_steps(limit, deepen)
        return steps


def paired_jobs(
    old: Knowledge, new: Knowledge, numbered: Sequence[tuple[int, Mapping[str, object]]], seed: int
) -> list[PairedJob]:
    """The jobs at sets with these numbers and features, in the world of the old and in that of the new version.

    A set whose complaint one version does not know is passed over for the next one that both know.
    """
    memos: dict[str, Memo] = {OLD: {}, NEW: {}}
    found = []
    for number, features in numbered:
        for right, world in ((OLD, old), (NEW, new)):
            name = f"{seed}/{number}"
            for drawn in drawn_sets(world, name, known_features(world, features)):
                if all(_knows(known, drawn.complaint) for known in (old, new)):
                    break
            played = {}
            for way, known in ((OLD, old), (NEW, new)):
                own = DrawnSet(world, drawn.features, drawn.faults, name, drawn.complaint)
                job = _Remembering(known, known_features(known, features))
                job.memo = memos[way]
                job.record(drawn.complaint, "present")
                met = SetOfOneVersion(world, known, own, f"{name}/other")
                played[way] = by_suggestions()(job, met)
            one, two = played[OLD], played[NEW]
            steps = [[(move.kind, move.id) for move in each.moves] for each in (one, two)]
            found.append(
                PairedJob(
                    number,
                    right,
                    charged(world, old, one),
                    charged(world, new, two),
                    one.end == FIXED,
                    two.end == FIXED,
                    steps[0] == steps[1],
                )
            )
    return found


def _knows(knowledge: Knowledge, complaint: str) -> bool:
    found = knowledge.complaints.get(complaint)
    return found is not None and found.retired is None


def charged(world: Knowledge, known: Knowledge, played: Played) -> float:
    """Minutes of a played job by the figures of a world; what that does not know is charged as the other says."""
    costs = world.catalogue.costs
    here, total, before = costs.start_state, 0.0, 0.0

    def go(state: str) -> float:
        nonlocal here
        start, here = here, costs.standing(here, state)
        if start == here:
            return 0.0
        state = here
        return costs.moves.get((start, state), known.catalogue.costs.moves.get((start, state), 0.0))

    for move in played.moves:
        if move.kind == "check":
            check = world.checks.get(move.id) or known.checks[move.id]
            if move.answer != "unknown":
                total += go(check.state) + check.minutes
        elif move.kind == "remedy":
            remedy = world.remedies.get(move.id) or known.remedies[move.id]
            total += go(remedy.state) + remedy.minutes
            total += go(costs.proof_state) + costs.proof
        elif move.kind == "done" and move.minutes > before:
            # The clock stands still where the last proof run was taken for the end.
            total += go(costs.proof_state) + costs.proof
        before = move.minutes
    return total + {FIXED: 0.0, REFERRED: costs.refer, CAME_BACK: costs.come_back}[played.end]


def effect(
    old: Knowledge,
    new: Knowledge,
    sets: Sequence[Mapping[str, object]],
    *,
    seed: int = 1,
    executor: Executor | None = None,
    done: Callable[[int], None] | None = None,
) -> tuple[PairedJob, ...]:
    """Jobs at sets with these features, drawn from either version, each worked with both, in the order of the sets.

    executor: anything with `submit`; None plays here. done: called with the number of sets finished so far.
    Raises WorkerError where the executor fails.
    """
    numbered = list(enumerate(sets, 1))
    pieces = [(part, seed) for part in chunks(numbered, _CHUNK)]
    finished = 0

    def took(part: list[PairedJob]) -> None:
        nonlocal finished
        finished += len(part) // 2
        if done is not None:
            done(finished)

    return tuple(twin for part in worked(executor, paired_jobs, (old, new), pieces, took) for twin in part)


# ---- how sure


def difference(found: Sequence[PairedJob], right: str) -> MinutesDifference:
    """Means and the paired difference over the jobs of one world. ValueError where there is none."""
    chosen = [twin for twin in found if twin.right == right]
    if not chosen:
        raise ValueError(f"no jobs in the world of {right}")
    gaps = [twin.new_minutes - twin.old_minutes for twin in chosen]
    mean, low, high = interval(gaps)
    return MinutesDifference(
        right,
        len(chosen),
        sum(twin.same for twin in chosen),
        math.fsum(twin.old_minutes for twin in chosen) / len(chosen),
        math.fsum(twin.new_minutes for twin in chosen) / len(chosen),
        mean,
        low,
        high,
        sum(twin.old_fixed for twin in chosen),
        sum(twin.new_fixed for twin in chosen),
    )
