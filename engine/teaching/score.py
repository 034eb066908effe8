"""The score of a drill: first check, order, safety, minutes against the program on the same set.

Purpose: a drill that is done -> four parts of 25 points, each with the figure that it rests on.
Law: pure. The first step is whole where what it leaves to be expected is within `NEAR` of the best one's; order is less
`PER_RULE` for each rule broken; safety is less `PER_UNSAFE` for each unsafe move and `PER_LEFT_OUT` for each list that
was not filled; minutes are the program's over the trainee's, and none where the set was not left fixed. Whoever did not
bring the set through a proof run has kept order and safety on half a job, and gets half of those.
Sources: the weights are ours, from memory of how practical tests are marked; nothing outside asks for them.
Not here: what there is to say of each part (see `debrief`).
"""

from __future__ import annotations

from dataclasses import dataclass

from .drill import FAULT_LEFT, FIXED, Drill, DrillVerdict

PART = 25.0
NEAR = 0.05
PER_RULE, PER_UNSAFE, PER_LEFT_OUT = 8.0, 12.0, 6.0


@dataclass(frozen=True, slots=True)
class DrillScore:
    """Points of the four parts, 0 to 25 each, and what they rest on.

    first_right: whether the first step was as good as the best; None where none was made. best: the first step of the
    program. rules, unsafe, left_out: how many. ratio: the program's minutes over the trainee's, at most 1.
    """

    first: float
    order: float
    safety: float
    minutes: float
    first_right: bool | None
    best: str
    rules: int
    unsafe: int
    left_out: int
    ratio: float

    @property
    def total(self) -> float:
        return self.first + self.order + self.safety + self.minutes


def score(drill: Drill, rules: int, verdict: DrillVerdict, engine_minutes: float) -> DrillScore:
    """The score of a drill of which so many order rules were broken. engine_minutes: the program's on the same set."""
    steps = [move for move in drill.moves if move.kind in ("check", "remedy")]
    advice = drill.advice(steps[0].events if steps else len(drill.job.events))
    right: bool | None = None
    if steps and advice:
        mine = next((step for step in advice if step.id == steps[0].id), None)
        right = mine is not None and mine.expected_minutes <= (1.0 + NEAR) * advice[0].expected_minutes
    unsafe = sum(move.kind == "unsafe" for move in drill.moves)
    left_out = sum(bool(move.left_out) for move in drill.moves)
    whole = 1.0 if verdict.end in (FIXED, FAULT_LEFT) else 0.5
    fixed = verdict.end == FIXED and verdict.minutes > 0.0
    ratio = min(1.0, engine_minutes / verdict.minutes) if fixed else 0.0
    return DrillScore(
        PART if right else 0.0,
        whole * max(0.0, PART - PER_RULE * rules) if steps else 0.0,
        whole * max(0.0, PART - PER_UNSAFE * unsafe - PER_LEFT_OUT * left_out) if steps else 0.0,
        PART * ratio,
        right,
        advice[0].id if advice else "",
        rules,
        unsafe,
        left_out,
        ratio,
    )
