"""What a trainee takes away from a drill: the reading that gave it away, and what to do next time.

Purpose: a drill with the belief after each move -> for each true cause the reading that spoke most for it, whether it
was found or cured by luck, and the one thing most worth doing otherwise.
Law: pure. A cause counts as found where it may well have been what was mended, by all that was known then.
Not here: everything else that there is to say (see `debrief`), and the words (see the command line).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..job import ContradictionError, Job
from ..rehearsal import Played
from .drill import FAULT_LEFT, Drill, DrillVerdict

HARDLY = 0.03
"""Belief in no cause moved by more than this: the check told nothing."""
FOUND = 0.2
"""Belief in a cause from which on its repair is no luck: it may well be (see the words for a suspect)."""
LATE = 4
"""Checks before the one that gave it away, from which on it is worth saying that it could have come sooner."""


@dataclass(frozen=True, slots=True)
class GaveAway:
    """The reading that lifted a true cause most before it was mended, and the belief in it before and after.

    at: its place on the trainee's path; None where only the program read it.
    """

    cause: str
    check: str
    answer: str
    before: float
    after: float
    at: int | None


@dataclass(frozen=True, slots=True)
class NextTime:
    """What to do next time. kind: safe (id: a step), order (an order rule), look (a check that gave it away and was not
    made), sooner (one that was made late), needless (a remedy), prove, same (nothing to do otherwise)."""

    kind: str
    id: str = ""


def cured_at(drill: Drill) -> dict[str, int]:
    """Causes that went out of the set, with the place of the move that did it."""
    after = [move.before for move in drill.moves[1:]] + [drill.set]
    return {
        cause: at
        for at, (move, then) in enumerate(zip(drill.moves, after, strict=True))
        for cause in sorted(move.before.faults - then.faults)
    }


def was_found(belief: Mapping[str, float], cause: str) -> bool:
    """Whether what was known spoke for a cause when it was cured: it may well have been, or led all others."""
    chance = belief.get(cause, 0.0)
    return chance >= FOUND or chance == max(belief.values(), default=1.0)


def gave_away_by(
    drill: Drill, beliefs: Sequence[Mapping[str, float]], cured: Mapping[str, int], played: Played
) -> tuple[GaveAway, ...]:
    """For each true cause the reading that spoke most for it, of the trainee's; else of the program's."""
    theirs = _program_readings(drill, played)
    found = []
    for cause in drill.dealt.truth:
        mine = [
            GaveAway(cause, move.id, move.answer, beliefs[at].get(cause, 0.0), beliefs[at + 1].get(cause, 0.0), at)
            for at, move in enumerate(drill.moves[: cured.get(cause, len(drill.moves))])
            if move.kind == "check"
        ]
        of_program = [
            GaveAway(cause, check, answer, before.get(cause, 0.0), after.get(cause, 0.0), None)
            for check, answer, before, after in theirs
        ]
        own, other = (max(group, key=_lift, default=None) for group in (mine, of_program))
        # What hardly spoke for it gave nothing away where another reading would have.
        if own is None or (own.after < FOUND and other is not None and _lift(other) > _lift(own)):
            own = other
        if own is not None and _lift(own) >= HARDLY:
            found.append(own)
    return tuple(found)


def _lift(each: GaveAway) -> float:
    return each.after - each.before


_Reading = tuple[str, str, Mapping[str, float], Mapping[str, float]]


def _program_readings(drill: Drill, played: Played) -> list[_Reading]:
    """The program's checks before its first remedy: id, answer, and belief before and after."""
    job = Job(drill.knowledge, drill.dealt.features)
    for name in drill.dealt.complaints:
        job.record(name, "present")
    found: list[_Reading] = []
    before: Mapping[str, float] = drill.start
    for move in played.moves:
        if move.kind != "check":
            break
        job.record(move.id, move.answer, happened=True)
        try:
            after: Mapping[str, float] = job.posterior()
        except ContradictionError:
            break
        found.append((move.id, move.answer, before, after))
        before = after
    return found


def next_time(
    drill: Drill,
    broken: Sequence[tuple[str, float | None]],
    needless: Sequence[int],
    gave_away: Sequence[GaveAway],
    verdict: DrillVerdict,
) -> NextTime:
    """The one thing most worth doing otherwise: what could have hurt first, then looking, then order, then mending.

    broken: order rules with what each cost, in minutes."""
    for move in drill.moves:
        if move.kind == "unsafe" or move.left_out:
            return NextTime("safe", move.id)
    for each in gave_away:
        if each.at is None:
            return NextTime("look", each.check)
    dear = [(cost, rule) for rule, cost in broken if cost is not None and cost >= 1.0]
    if dear:
        return NextTime("order", max(dear)[1])
    if verdict.end == FAULT_LEFT:
        return NextTime("prove")
    if needless:
        return NextTime("needless", drill.moves[needless[0]].id)
    looks = [at for at, move in enumerate(drill.moves) if move.kind == "check"]
    for each in gave_away:
        if each.at is not None and looks.index(each.at) >= LATE:
            return NextTime("sooner", each.check)
    if broken:
        return NextTime("order", broken[0][0])
    return NextTime("same")
