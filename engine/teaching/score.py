"""The score of a drill: repair, first check, order, safety, minutes against the program on the same set.

Purpose: a drill that is done -> five parts, `PARTS` points each, with the figure that it rests on.
Law: pure. What was not left fixed and proven has half of every part for what was done, of the repair by the share of
the faults that are out, and nothing for its minutes: so it never comes to what any fixed set has. The first step is
whole where what it leaves to be expected is within `NEAR` of the best one's and nothing from `FAR` on; a check counts
at worst as its own minutes lost. A step that a hint had named earns nothing. Order is less `PER_RULE` for each rule
broken; safety is less `PER_UNSAFE` for each unsafe move, `PER_LEFT_OUT` for each list that was not filled, and
`PER_VAIN` for each caution that was named and does not apply, since who names all of them has told nothing apart;
minutes are the program's over the trainee's, whole for whoever is as fast or faster.
Sources: the weights are ours, from memory of how practical tests are marked; nothing outside asks for them.
Not here: what there is to say of each part (see `debrief`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .drill import FIXED, Drill, DrillMove, DrillVerdict

PARTS: Mapping[str, float] = {"repair": 40.0, "first": 10.0, "order": 15.0, "safety": 15.0, "minutes": 20.0}
"""Points of each part, 100 in all."""
NEAR, FAR = 0.05, 0.5
PER_RULE, PER_UNSAFE, PER_LEFT_OUT, PER_VAIN = 5.0, 6.0, 3.0, 1.0
NOT_PROVEN = 0.5


@dataclass(frozen=True, slots=True)
class DrillScore:
    """Points of the five parts (see `PARTS`), and what they rest on.

    first_right: whether the first step was as good as the best; None where none was made. first_told: a hint had named
    it. best: the first step of the program. cured, faults: how many of the dealt faults are out, of how many. rules,
    unsafe, left_out, vain: how many. ratio: the program's minutes over the trainee's, at most 1; 0 where it was not
    fixed.
    """

    repair: float
    first: float
    order: float
    safety: float
    minutes: float
    first_right: bool | None
    first_told: bool
    best: str
    cured: int
    faults: int
    rules: int
    unsafe: int
    left_out: int
    vain: int
    ratio: float

    @property
    def total(self) -> float:
        return self.repair + self.first + self.order + self.safety + self.minutes


def score(drill: Drill, rules: int, verdict: DrillVerdict, engine_minutes: float) -> DrillScore:
    """The score of a drill of which so many order rules were broken. engine_minutes: the program's on the same set."""
    steps = [move for move in drill.moves if move.kind in ("check", "remedy")]
    advice = drill.advice(steps[0].events if steps else len(drill.job.events))
    share, told = (_first(drill, steps[0]), _told(drill, steps[0])) if steps and advice else (None, False)
    unsafe = sum(move.kind == "unsafe" for move in drill.moves)
    left_out = sum(bool(move.left_out) for move in drill.moves)
    vain = sum(len(move.vain) for move in drill.moves)
    slips = PER_UNSAFE * unsafe + PER_LEFT_OUT * left_out + PER_VAIN * vain
    faults = len(drill.dealt.truth)
    cured = sum(cause not in verdict.left for cause in drill.dealt.truth)
    fixed = verdict.end == FIXED
    whole = 1.0 if fixed else NOT_PROVEN
    ratio = min(1.0, engine_minutes / verdict.minutes) if fixed and verdict.minutes > 0.0 else 0.0
    return DrillScore(
        whole * PARTS["repair"] * (cured / faults if faults else 1.0),
        whole * PARTS["first"] * (0.0 if told else share or 0.0),
        whole * max(0.0, PARTS["order"] - PER_RULE * rules) if steps else 0.0,
        whole * max(0.0, PARTS["safety"] - slips) if steps else 0.0,
        PARTS["minutes"] * ratio,
        share == 1.0 if share is not None else None,
        told,
        advice[0].id if advice else "",
        cured,
        faults,
        rules,
        unsafe,
        left_out,
        vain,
        ratio,
    )


def _first(drill: Drill, move: DrillMove) -> float:
    """How good the first step was, 0 to 1: by the minutes that were to be expected after it and after the best."""
    advice = drill.advice(move.events)
    best = advice[0].expected_minutes
    ways = [step.expected_minutes for step in advice if step.id == move.id]
    if move.kind == "check":
        ways.append(best + move.spent)
    if not ways or best <= 0.0:
        return 0.0
    more = min(ways) / best - 1.0
    return 1.0 if more <= NEAR else max(0.0, (FAR - more) / (FAR - NEAR))


def _told(drill: Drill, first: DrillMove) -> bool:
    """Whether a hint had named the first step before it was taken."""
    before = drill.moves[: drill.moves.index(first)]
    return any(move.kind == "hint" and move.id == first.id and move.rung in ("step", "reason") for move in before)
