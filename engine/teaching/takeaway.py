"""What a trainee takes away from a drill: the reading that gave it away, and what to do next time.

Purpose: a drill with the belief after each move -> for each true cause the reading that spoke most for it, whether it
was found or cured by luck, and the one thing most worth doing otherwise.
Law: pure. A cause counts as found where it may well have been what was mended, by all that was known then. What spoke
most for a cause is measured as weight of evidence, the difference of log odds: of the reading as it came, or of the
reading by itself where the complaint had said it before. A reading that is not right comes before any that is.
Source: weight of evidence, I. J. Good, Probability and the Weighing of Evidence (1950), from memory.
Not here: everything else that there is to say (see `debrief`), and the words (see the command line).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log

from ..job import ContradictionError, Job
from ..rehearsal import Played
from .drill import FAULT_LEFT, Drill, DrillMove, DrillVerdict
from .expert import DEPTH

HARDLY = 0.03
"""Belief in no cause moved by more than this: the check told nothing."""
FOUND = 0.2
"""Belief in a cause from which on its repair is no luck: it may well be (see the words for a suspect)."""
LATE = 4
"""Checks before the one that gave it away, from which on it is worth saying that it could have come sooner."""


SPOKE = log(1.5)
"""Weight of evidence from which on a reading spoke for a cause at all: by half of its odds more."""
PLAINLY = log(3.0)
"""Weight by which another reading, that was not made, spoke so much plainer that it is named instead."""
DEAR = 8.0
"""Minutes of expectation from which on a choice is worth a word."""
_LOOKED_AT = 3
"""Choices that look dearest at a glance, of which the dearest is worked out at the depth of the expert."""


@dataclass(frozen=True, slots=True)
class GaveAway:
    """The reading that spoke most for a true cause before it was mended, and the belief in it before and after.

    at: its place on the trainee's path; None where only the program read it. alone: the beliefs are those of this
    reading by itself, since what the customer said had told as much before it was read. wrong: the reading is not one
    that a sound set gives. weight: of its evidence, the natural logarithm of how much it lifted the odds.
    """

    cause: str
    check: str
    answer: str
    before: float
    after: float
    at: int | None
    alone: bool = False
    wrong: bool = True
    weight: float = 0.0


ProgramReading = tuple[str, str, tuple[str, ...], Mapping[str, float], Mapping[str, float], int | None]
"""A check, its answer, the outcomes of it, the beliefs before and after, and its place on the trainee's path."""


@dataclass(frozen=True, slots=True)
class Moved:
    """What an answer told: the cause that it moved most, and the belief in that before and after."""

    cause: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class NextTime:
    """What to do next time. kind: safe (id: a step), order (an order rule), look (a check that gave it away and was not
    made), choice (a step that would have been better than `instead`), sooner (a check that was made late), needless (a
    remedy), prove, same (nothing to do otherwise). cost: the minutes that it made longer, where that is known."""

    kind: str
    id: str = ""
    instead: str = ""
    cost: float = 0.0


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
    drill: Drill, beliefs: Sequence[Mapping[str, float]], cured: Mapping[str, int], theirs: Sequence[ProgramReading]
) -> tuple[GaveAway, ...]:
    """For each true cause the reading that spoke most for it, of the trainee's; else of the program's."""
    mine: list[ProgramReading] = [
        (move.id, move.answer, move.outcomes, beliefs[at], beliefs[at + 1], at)
        for at, move in enumerate(drill.moves)
        if move.kind == "check"
    ]
    lifts: dict[tuple[str, str], tuple[Mapping[str, float], Mapping[str, float]]] = {}
    found = []
    for cause in drill.dealt.truth:
        until = cured.get(cause, len(drill.moves))
        own = _plainest(drill, cause, [each for each in mine if each[5] is not None and each[5] < until], lifts)
        other = _plainest(drill, cause, theirs, lifts)
        # What hardly spoke for it gave nothing away where another reading would have.
        weak = own is None or own.after < FOUND or cause not in cured
        if weak and other is not None and (own is None or _plainer(other, own)):
            own = other
        if own is not None and own.weight >= SPOKE:
            found.append(own)
    return tuple(found)


def _plainer(other: GaveAway, own: GaveAway) -> bool:
    return other.wrong >= own.wrong and other.weight >= own.weight + PLAINLY and other.check != own.check


def _rank(each: GaveAway) -> tuple[bool, float]:
    """What is not right speaks plainer than what is, whatever it weighs; but it must have spoken."""
    return each.wrong and each.weight >= SPOKE, each.weight


def _plainest(
    drill: Drill,
    cause: str,
    readings: Sequence[ProgramReading],
    alone: dict[tuple[str, str], tuple[Mapping[str, float], Mapping[str, float]]],
) -> GaveAway | None:
    """The reading that spoke most for a cause. alone: what readings say by themselves, as far as that is worked out."""
    found = []
    for check, answer, outcomes, before, after, at in readings:
        if not outcomes or not before or not after:
            continue
        wrong = drill.knowledge.checks[check].normal not in outcomes
        chances = before.get(cause, 0.0), after.get(cause, 0.0)
        found.append(GaveAway(cause, check, answer, *chances, at, False, wrong, _weight(*chances)))
        if (check, answer) not in alone:
            job = Job(drill.knowledge, drill.dealt.features)
            prior = job.posterior()
            job.record(check, answer, happened=True)
            alone[check, answer] = prior, job.posterior()
        chances = alone[check, answer][0].get(cause, 0.0), alone[check, answer][1].get(cause, 0.0)
        found.append(GaveAway(cause, check, answer, *chances, at, True, wrong, _weight(*chances)))
    return max(found, key=_rank, default=None)


def _weight(before: float, after: float) -> float:
    """Weight of evidence from one chance to another; 0 where either is none or certain before."""
    if not 0.0 < before < 1.0 or after <= 0.0:
        return 0.0
    return log(after / max(1.0 - after, 1e-12)) - log(before / (1.0 - before))


def program_readings(drill: Drill, played: Played) -> list[ProgramReading]:
    """The program's checks before its first remedy: id, answer, outcomes, and belief before and after."""
    job = Job(drill.knowledge, drill.dealt.features)
    for name in drill.dealt.complaints:
        job.record(name, "present")
    found: list[ProgramReading] = []
    before: Mapping[str, float] = drill.start
    for move in played.moves:
        if move.kind != "check":
            break
        read = job.record(move.id, move.answer, happened=True)
        try:
            after: Mapping[str, float] = job.posterior()
        except ContradictionError:
            break
        found.append((move.id, move.answer, read.outcomes, before, after, None))
        before = after
    return found


def most_moved(reading: ProgramReading) -> Moved | None:
    """The cause that a reading moved most, up or down; None where it hardly moved any."""
    before, after = reading[3], reading[4]
    if not before:
        return None
    cause = max(sorted(before), key=lambda name: abs(after.get(name, 0.0) - before[name]))
    moved = Moved(cause, before[cause], after.get(cause, 0.0))
    return moved if abs(moved.after - moved.before) >= HARDLY else None


def next_time(
    drill: Drill,
    broken: Sequence[tuple[str, float | None]],
    needless: Sequence[int],
    gave_away: Sequence[GaveAway],
    verdict: DrillVerdict,
    better: float = 0.0,
) -> tuple[NextTime, ...]:
    """What is most worth doing otherwise, at most two: what could have hurt, and the costliest choice in the looking.

    broken: order rules with what each cost, in minutes. better: minutes by which the program was beaten; whoever did
    that is told of no step that would have been shorter."""
    hurt = next((move.id for move in drill.moves if move.kind == "unsafe" or move.left_out), None)
    found = [NextTime("safe", hurt)] if hurt is not None else []
    choice = _choice(drill, broken, needless, gave_away, verdict, better)
    if choice is not None:
        found.append(choice)
    return tuple(found) or (NextTime("same"),)


def _choice(
    drill: Drill,
    broken: Sequence[tuple[str, float | None]],
    needless: Sequence[int],
    gave_away: Sequence[GaveAway],
    verdict: DrillVerdict,
    better: float,
) -> NextTime | None:
    """The costliest choice: a look that was never made where that left the fault in, else by its minutes."""
    for each in gave_away:
        if each.at is None:
            return NextTime("look", each.check)
    dear = [NextTime("order", rule, "", cost) for rule, cost in broken if cost is not None and cost >= 1.0]
    dear += [NextTime("needless", drill.moves[at].id, "", drill.moves[at].spent) for at in needless]
    if better < 1.0 and (worse := _worse_than_best(drill)) is not None:
        dear.append(worse)
    if verdict.end == FAULT_LEFT:
        return NextTime("prove")
    if dear:
        return max(dear, key=lambda each: (each.cost, each.kind, each.id))
    looks = [at for at, move in enumerate(drill.moves) if move.kind == "check"]
    for each in gave_away:
        if each.at is not None and looks.index(each.at) >= LATE:
            return NextTime("sooner", each.check)
    return NextTime("order", broken[0][0]) if broken else None


def _worse_than_best(drill: Drill) -> NextTime | None:
    """The step that by what was known then left most more to be expected than the best one; None below `DEAR`."""
    steps = [move for move in drill.moves if move.kind in ("check", "remedy")]
    dearest = sorted(steps, key=lambda move: -_more(drill, move, 0)[0])[:_LOOKED_AT]
    rows = [(*_more(drill, move, DEPTH), move.id) for move in dearest]
    more, best, mine = max(rows, default=(0.0, "", ""))
    return NextTime("choice", best, mine, more) if more >= DEAR else None


def _more(drill: Drill, move: DrillMove, deepen: int) -> tuple[float, str]:
    """Minutes that were to be expected after a step beyond those after the best check or remedy, and that one's id.

    A check costs at most its own minutes more than the best step."""
    advice = drill.advice(move.events, deepen)
    if not advice or not advice[0].id or advice[0].id == move.id:
        return 0.0, ""
    best = advice[0].expected_minutes
    ways = [step.expected_minutes - best for step in advice if step.id == move.id]
    if move.kind == "check":
        ways.append(move.spent)
    return max(0.0, min(ways, default=0.0)), advice[0].id
