"""A debrief as plain values, for JSON.

Purpose: everything that a debrief holds, with ids in place of words.
Law: keys are added and never given another meaning; `version` says which they are.
Not here: the same in words (see `debrief_view`).
"""

from __future__ import annotations

from ...engine import Knowledge
from ...engine.job import of_steps
from ...engine.teaching import Broken, Debrief, Scenario, ToldNothing, UnsafeMove


def as_dict(knowledge: Knowledge, dealt: Scenario, found: Debrief) -> dict[str, object]:
    """The whole debrief as plain values."""
    return {
        "version": 1,
        "seed": dealt.seed,
        "level": dealt.level.number,
        "set": dict(dealt.features),
        "complaints": list(dealt.complaints),
        "truth": [{"cause": cause, "severity": severity} for cause, severity in found.truth],
        "hidden": dealt.hide,
        "verdict": {
            "end": found.verdict.end,
            "left": list(found.verdict.left),
            "outside": list(found.verdict.outside),
            "still": list(found.verdict.still),
        },
        "cautions": list(of_steps(knowledge.catalogue, _steps(found))),
        "minutes": {"yours": found.minutes, "hints": found.hint_minutes, "engine": found.engine_minutes},
        "engine": {"end": found.engine.end, "path": _engine_path(found)},
        "path": _path(found),
        "belief_at_start": dict(found.belief[0]),
        "told_nothing": [_vain_check(each) for each in found.told_nothing],
        "broken": [_broken_rule(each) for each in found.broken],
        "needless": list(found.needless),
        "unsafe": list(found.unsafe),
        "missed": list(found.missed),
        "lucky": list(found.lucky),
        "gave_away": [
            {
                "cause": each.cause, "check": each.check, "answer": each.answer, "before": each.before,
                "after": each.after, "at": each.at, "alone": each.alone, "weight": each.weight,
            }
            for each in found.gave_away
        ],
        "next_time": {"kind": found.next_time[0].kind, "id": found.next_time[0].id},
        "next_times": [
            {"kind": each.kind, "id": each.id, "instead": each.instead, "cost": each.cost} for each in found.next_time
        ],
        "better": found.better,
        "slip": {"id": dealt.slip, "remedy": found.slipped} if found.slipped else None,
        "score": {
            "total": found.score.total, "repair": found.score.repair, "first": found.score.first,
            "order": found.score.order,
            "safety": found.score.safety, "minutes": found.score.minutes, "best_first": found.score.best,
        },
    }  # fmt: skip


def _engine_path(found: Debrief) -> list[dict[str, object]]:
    """What the program would have done, with the reason of each move."""
    moves = found.engine.moves
    return [
        {"kind": move.kind, "id": move.id, "answer": move.answer, "minutes": move.minutes, "why": why}
        for move, why in zip(moves, found.reasons or ("",) * len(moves), strict=True)
    ]


def _vain_check(each: ToldNothing) -> dict[str, object]:
    """A check that told nothing, with what it shows and could have shown."""
    return {
        "at": each.at, "check": each.check, "why": each.why, "asked": each.asked,
        "shows": [{"cause": cause, "probability": chance} for cause, chance in each.shows],
        "could": [
            {"outcome": could.outcome, "chance": could.chance, "cause": could.cause, "probability": could.belief}
            for could in each.could
        ],
    }  # fmt: skip


def _broken_rule(each: Broken) -> dict[str, object]:
    return {
        "at": each.at, "step": each.step, "rule": each.rule.id, "kind": each.rule.kind, "why": each.rule.why,
        "missing": list(each.missing), "cost": each.cost, "sources": [str(item) for item in each.rule.sources],
    }  # fmt: skip


def _path(found: Debrief) -> list[dict[str, object]]:
    """What the trainee did, with the belief after each move."""
    return [
        {
            "kind": move.kind, "id": move.id, "answer": move.answer, "minutes": move.minutes,
            "spent": move.spent, "belief": dict(belief),
            "rung": move.rung, "predicted": move.predicted, "left_out": list(move.left_out),
            "vain": list(move.vain), "did": move.did,
            "dangers": [_danger(danger) for danger in move.dangers],
        }
        for move, belief in zip(found.path, found.belief[1:], strict=True)
    ]  # fmt: skip


def _steps(found: Debrief) -> list[tuple[str, str]]:
    """Every step that either path names."""
    kinds = {"check": "check", "remedy": "remedy", "proof": "proof", "fixed": "proof", "done": "proof"}
    named = [(move.kind, move.id) for move in found.path] + [(move.kind, move.id) for move in found.engine.moves]
    return [(kinds[kind], name) for kind, name in named if kind in kinds]


def _danger(danger: UnsafeMove) -> dict[str, object]:
    return {"kind": danger.kind, "cautions": list(danger.cautions), "fittings": list(danger.fittings)}
