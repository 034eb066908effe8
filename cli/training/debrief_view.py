"""What is shown of a debrief.

Purpose: put a debrief into words at any width, and into JSON.
Law: reads, changes nothing.
Not here: what is in a debrief (see the engine), how text is drawn (see `screen`).
"""

from __future__ import annotations

from ...engine import Knowledge
from ...engine.job import of_steps
from ...engine.rehearsal import PlayedStep as Played
from ...engine.teaching import (
    AGAIN,
    BLUNT,
    EXPECTED,
    FAULT_LEFT,
    FIXED,
    GIVEN_UP,
    NOT_FIXED,
    PROOF_MOVE,
    REFERRED,
    Broken,
    Debrief,
    Scenario,
    ToldNothing,
    UnsafeMove,
)
from ..terminal import Bar, Screen, minutes, percent, wrapping
from .drill_view import DANGERS, move_as_phrase, titled

_MOST = 6
_ENDS = {
    FIXED: "Fixed and proven: nothing is wrong with it any more.",
    FAULT_LEFT: "It passes the proof run, with a fault still in it. It may well come back.",
    NOT_FIXED: "Not fixed.",
    REFERRED: "Handed over.",
    GIVEN_UP: "Stopped before it was fixed.",
}
_GRADES = ((0.45, "mild"), (0.7, "plain"), (1.1, "bad"))


def debriefed(screen: Screen, knowledge: Knowledge, dealt: Scenario, found: Debrief) -> None:
    """The whole debrief."""
    screen.heading("Debrief")
    screen.line(_ENDS[found.verdict.end], "bold")
    for cause, severity in found.truth:
        grade = next(word for most, word in _GRADES if severity < most)
        left = " Still in it." if cause in found.verdict.left else ""
        screen.line(f"It was: {knowledge.causes[cause].title} ({grade}).{left}", hanging="  ")
        screen.line(knowledge.causes[cause].brief, indent="  ")
    if dealt.hide:
        screen.line("Somebody had turned the speed adjuster to hide it.")
    mine = f"You: {minutes(found.minutes)}{'' if found.verdict.end in (FIXED, FAULT_LEFT) else ', not fixed'}"
    if found.hint_minutes:
        mine += f", {minutes(found.hint_minutes)} of them for hints"
    engine = {FIXED: "fixed", "came back": "passed, with a fault left"}.get(found.engine.end, "handed over")
    screen.line(f"{mine}. The program on the same set: {minutes(found.engine_minutes)}, {engine}.")
    _paths(screen, knowledge, found)
    _unsafe(screen, knowledge, found)
    _broken(screen, knowledge, found)
    _nothing(screen, knowledge, found)
    if found.needless:
        screen.heading("Remedies it did not need")
        for at in found.needless:
            move = found.path[at]
            screen.line(f"{titled(knowledge, move.id)}, {minutes(move.spent)}", indent="  - ")
    _belief(screen, knowledge, found)


def _paths(screen: Screen, knowledge: Knowledge, found: Debrief) -> None:
    mine = [
        move_as_phrase(knowledge, move.kind, move.id, move.answer, move.minutes)
        for move in found.path
        if move.kind != "safe"
    ]
    theirs = [_engine(knowledge, move) for move in found.engine.moves]
    if screen.width >= 96 and screen.drawn:
        screen.heading("Your path, and the program's")
        _columns(screen, ("You", *mine), ("The program", *theirs))
        return
    screen.heading("Your path")
    screen.numbered(mine)
    screen.heading("The program's path")
    screen.numbered(theirs)


def _engine(knowledge: Knowledge, move: Played) -> str:
    return move_as_phrase(knowledge, move.kind, move.id, move.answer, move.minutes)


def _columns(screen: Screen, left: tuple[str, ...], right: tuple[str, ...]) -> None:
    """Two lists beside each other, each wrapped in its half."""
    room = (screen.width - 3) // 2
    for at in range(max(len(left), len(right))):
        number = f"{at}. " if at else ""
        cells = [
            wrapping.wrap(number + side[at], room, following="   ") if at < len(side) else [] for side in (left, right)
        ]
        for row in range(max(map(len, cells))):
            one, other = (cell[row] if row < len(cell) else "" for cell in cells)
            screen.line(f"{wrapping.fill(one, room)}   {other}".rstrip(), "" if at else "bold")


def _unsafe(screen: Screen, knowledge: Knowledge, found: Debrief) -> None:
    if not found.unsafe:
        return
    screen.heading("Unsafe moves")
    for at in found.unsafe:
        move = found.path[at]
        names = dict.fromkeys(name for danger in move.dangers for name in danger.cautions)
        dangers = ", ".join(knowledge.catalogue.cautions[name].title.lower() for name in names)
        screen.line(f"{titled(knowledge, move.id)}: {dangers}", indent="  - ")
        for danger in move.dangers:
            screen.line(DANGERS[danger.kind] + ".", indent="    ")


def _broken(screen: Screen, knowledge: Knowledge, found: Debrief) -> None:
    screen.heading("Order rules")
    if not found.broken:
        screen.line("None was broken.")
    for each in found.broken:
        screen.line(f"{titled(knowledge, each.step)}: {each.rule.why}", indent="  - ")
        missing = ", ".join(titled(knowledge, name).lower() for name in each.missing)
        when = "Due after it" if each.rule.kind == "do_again" else "First"
        screen.line(f"{when}: {missing}.", indent="    ")
        screen.line(_cost(each), indent="    ")
        screen.line(f"Source: {'; '.join(map(str, each.rule.sources))}.", "dim", indent="    ")


def _cost(each: Broken) -> str:
    if each.cost is None:
        return "What that cost was not worked out."
    if each.rule.kind == "do_again":
        return f"It cost a proof run that could not pass, {minutes(each.cost)}."
    if each.cost >= 0.5:
        return f"By what was known then, it made the way about {minutes(each.cost)} longer."
    return "This time it cost nothing."


def _nothing(screen: Screen, knowledge: Knowledge, found: Debrief) -> None:
    screen.heading("Checks that told nothing")
    if not found.told_nothing:
        screen.line("None: each moved the belief in some cause.")
    order = {AGAIN: 0, BLUNT: 1, EXPECTED: 3}
    listed = sorted(found.told_nothing, key=lambda each: (order.get(each.why, 2), each.at))
    for each in listed[:_MOST]:
        spent = minutes(found.path[each.at].spent)
        screen.line(f"{titled(knowledge, each.check)} ({spent}): {_why(knowledge, each)}", indent="  - ")
    if len(listed) > _MOST:
        screen.note(f"And {len(listed) - _MOST} more of the kind.")


def _why(knowledge: Knowledge, each: ToldNothing) -> str:
    shows = [f"{knowledge.causes[name].title.lower()} ({percent(chance)})" for name, chance in each.shows[:3]]
    if each.why == AGAIN:
        return "nothing had been changed since you last made it."
    if each.why == BLUNT:
        return f"none of its answers could have told much. What can show in it: {', '.join(shows) or 'nothing here'}."
    if each.why == EXPECTED:
        best = each.could[0]
        tail = " An order rule asks for it." if each.asked else " Worth a look if it costs little."
        return (
            f"the answer was the likely one. With {percent(best.chance)} it would have been "
            f"{best.outcome.replace('_', ' ')}, and spoken for {knowledge.causes[best.cause].title.lower()}.{tail}"
        )
    return f"it could not be told on this set as it was. It is for: {', '.join(shows)}."


def _belief(screen: Screen, knowledge: Knowledge, found: Debrief) -> None:
    screen.heading("How belief in the truth moved")
    for cause, _ in found.truth:
        screen.line(knowledge.causes[cause].title, "bold")
        last = found.belief[0][cause]
        rows = [Bar("what the customer says", last)]
        for move, chances in zip(found.path, found.belief[1:], strict=True):
            if abs(chances[cause] - last) >= 0.01:
                rows.append(Bar(titled(knowledge, move.id or PROOF_MOVE), chances[cause]))
                last = chances[cause]
        screen.bars(rows)


# ---- as JSON


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
        "engine": {
            "end": found.engine.end,
            "path": [
                {"kind": move.kind, "id": move.id, "answer": move.answer, "minutes": move.minutes}
                for move in found.engine.moves
            ],
        },
        "path": [
            {
                "kind": move.kind, "id": move.id, "answer": move.answer, "minutes": move.minutes,
                "spent": move.spent, "belief": dict(belief),
                "dangers": [_danger(danger) for danger in move.dangers],
            }
            for move, belief in zip(found.path, found.belief[1:], strict=True)
        ],
        "belief_at_start": dict(found.belief[0]),
        "told_nothing": [
            {
                "at": each.at, "check": each.check, "why": each.why, "asked": each.asked,
                "shows": [{"cause": cause, "probability": chance} for cause, chance in each.shows],
                "could": [
                    {
                        "outcome": could.outcome, "chance": could.chance, "cause": could.cause,
                        "probability": could.belief,
                    }
                    for could in each.could
                ],
            }
            for each in found.told_nothing
        ],
        "broken": [
            {
                "at": each.at, "step": each.step, "rule": each.rule.id, "kind": each.rule.kind, "why": each.rule.why,
                "missing": list(each.missing), "cost": each.cost, "sources": [str(item) for item in each.rule.sources],
            }
            for each in found.broken
        ],
        "needless": list(found.needless),
        "unsafe": list(found.unsafe),
        "missed": list(found.missed),
    }  # fmt: skip


def _steps(found: Debrief) -> list[tuple[str, str]]:
    """Every step that either path names."""
    kinds = {"check": "check", "remedy": "remedy", "proof": "proof", "fixed": "proof", "done": "proof"}
    named = [(move.kind, move.id) for move in found.path] + [(move.kind, move.id) for move in found.engine.moves]
    return [(kinds[kind], name) for kind, name in named if kind in kinds]


def _danger(danger: UnsafeMove) -> dict[str, object]:
    return {"kind": danger.kind, "cautions": list(danger.cautions), "fittings": list(danger.fittings)}
