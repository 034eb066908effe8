"""What is shown of a debrief.

Purpose: put a debrief into words at any width; the three lines first, and the rest behind keys where somebody is asked.
Law: reads, changes nothing.
Not here: what is in a debrief (see the engine), the same as JSON (see `debrief_json`).
"""

from __future__ import annotations

from ...engine import Knowledge
from ...engine.compiler import drawing_of
from ...engine.rehearsal import PlayedStep as Played
from ...engine.teaching import (
    AGAIN,
    BLUNT,
    EXPECTED,
    FAULT_LEFT,
    FIXED,
    GIVEN_UP,
    NOT_FIXED,
    PARTS,
    PROOF_MOVE,
    REFERRED,
    Broken,
    Debrief,
    NextTime,
    Scenario,
    ToldNothing,
)
from ..terminal import (
    STOP_WORDS,
    Asker,
    Bar,
    Page,
    Screen,
    Stop,
    minutes,
    percent,
    present,
    sheet,
    sketch,
    wrapping,
)
from .drill_view import DANGERS, move_as_phrase, titled

_MOST = 6
_GAVE = 0.1
"""Belief after a reading below which nobody would say that it gave the cause away."""
_ENDS = {
    FIXED: "Fixed and proven: nothing is wrong with it any more.",
    FAULT_LEFT: "It passes the proof run, with a fault still in it. It may well come back.",
    NOT_FIXED: "Not fixed.",
    REFERRED: "Handed over.",
    GIVEN_UP: "Stopped before it was fixed.",
}
_GRADES = ((0.45, "mild"), (0.7, "plain"), (1.1, "bad"))
_MILDER = ((0.45, "mild"), (1.1, "rather mild"))
"""For levels whose faults are milder ones: what they call plain is none."""


def debriefed(screen: Screen, asker: Asker | None, knowledge: Knowledge, dealt: Scenario, found: Debrief) -> None:
    """The debrief: what it was, what gave it away and what to do next time first. Where somebody can be asked, the
    rest stands behind keys; else all of it follows."""
    if asker is None or screen.height is None:
        lead(screen, knowledge, dealt, found)
        physics(screen, knowledge, found)
        _drawings(screen, knowledge, found)
        _details(screen, knowledge, found)
        return
    sheets = {
        "p": lambda: physics(screen, knowledge, found),
        "g": lambda: _drawings(screen, knowledge, found),
        "s": lambda: _scored(screen, knowledge, found),
        "t": lambda: _paths(screen, knowledge, found),
        "d": lambda: _details(screen, knowledge, found),
        "b": lambda: _belief(screen, knowledge, found),
    }
    keys = (("p", "physics"), ("g", "drawing"), ("s", "score"), ("t", "both paths"), ("d", "all"), ("b", "belief"),
            ("x", "done"))  # fmt: skip
    given = ""
    screen.top = ("Debrief", f"level {dealt.level.number}", f"score {found.score.total:.0f} of 100")
    while True:
        try:
            if not given:
                lead(screen, knowledge, dealt, found)
                given = present(asker, screen, Page(keys=keys, commands=frozenset((*sheets, *STOP_WORDS))))
                if given.lower() in STOP_WORDS:
                    return
            write = sheets.get(given.lower().strip())
            if write is not None:
                given = sheet(asker, screen, write, "Enter: back. Or another key.")
                continue
        except Stop:
            return
        # Enter alone closes nothing: it may have been meant for the page before.
        screen.problem(f'"{given}": expected one of {", ".join(sheets)}, or x when you have read it')
        given = ""


def lead(screen: Screen, knowledge: Knowledge, dealt: Scenario, found: Debrief) -> None:
    """How it ended, and the three lines: what it was, what gave it away, what to do next time."""
    if not screen.full:
        screen.heading("Debrief")
    screen.line(_ENDS[found.verdict.end], "bold")
    for cause, severity in found.truth:
        milder = dealt.level.severity[1] < _GRADES[1][0]
        grade = next(word for most, word in (_MILDER if milder else _GRADES) if severity < most)
        left = " Still in it." if cause in found.verdict.left else ""
        screen.line(f"It was: {knowledge.causes[cause].title} ({grade}).{left}", hanging="  ")
    for each in found.gave_away:
        whose = "" if each.at is not None else " You did not read it."
        many = f" ({knowledge.causes[each.cause].title.lower()})" if len(found.truth) > 1 else ""
        what = "What gave it away" if each.after >= _GAVE else "What spoke for it most"
        moved = f"{'by itself ' if each.alone else ''}from {percent(each.before)} to {percent(each.after)}"
        read = f"{titled(knowledge, each.check).lower()}, {each.answer.replace('_', ' ')}"
        screen.line(f"{what}: {read}{many}: {moved}.{whose}", hanging="  ")
    if not found.gave_away:
        screen.line("What gave it away: no one reading; it was what was left over.", hanging="  ")
    for at, other in enumerate(found.next_time):
        screen.line(f"{'And' if at else 'Next time'}: {_next_time(knowledge, other)}", hanging="  ")
    mine = f"You: {minutes(found.minutes)}{'' if found.verdict.end in (FIXED, FAULT_LEFT) else ', not fixed'}"
    if found.hint_minutes:
        mine += f", {minutes(found.hint_minutes)} of them for hints"
    engine = {FIXED: "fixed", "came back": "passed, with a fault left"}.get(found.engine.end, "handed over")
    screen.line(f"{mine}. The program on the same set: {minutes(found.engine_minutes)}, {engine}.", hanging="  ")
    if found.better >= 1.0:
        screen.line(f"You did better than the program, by {minutes(found.better)}.", "bold", hanging="  ")
    if dealt.hide and not dealt.adjuster_is_fault(knowledge):
        screen.line("Somebody had turned the speed adjuster to hide it.", hanging="  ")
    if found.slipped:
        slip = knowledge.catalogue.slips[dealt.slip]
        screen.line(
            f"Botched on the way: {titled(knowledge, found.slipped).lower()}. {slip.brief} "
            f"{titled(knowledge, slip.check)} shows it: {slip.outcome.replace('_', ' ')}.",
            hanging="  ",
        )
    for cause in found.lucky:
        screen.line(
            f"Luck: {knowledge.causes[cause].title.lower()} went with a remedy that hardly anything spoke for.",
            hanging="  ",
        )


def _next_time(knowledge: Knowledge, told: NextTime) -> str:
    """One thing to do next time, as a sentence."""
    kind, name = told.kind, told.id
    title = titled(knowledge, name).lower()
    if kind == "safe":
        return f"before {title if name else 'a running set'}, stop and say what can hurt."
    if kind == "order":
        return knowledge.catalogue.order[name].why
    if kind == "needless":
        return f'let a reading speak for it before this: "{title}".'
    if kind == "choice":
        return f"{title} before {titled(knowledge, told.instead).lower()}; about {minutes(told.cost)} shorter."
    if kind in ("look", "sooner"):
        when = "sooner" if kind == "sooner" else "before anything is mended"
        return f"make this check {when}: {title}, {minutes(knowledge.checks[name].minutes)}."
    if kind == "prove":
        return "prove it at every load, and ask what else could make the complaint."
    return "the same again; nothing in it was wrong."


def physics(screen: Screen, knowledge: Knowledge, found: Debrief) -> None:
    """Why it shows what it shows, in two sentences for each cause."""
    for cause, _ in found.truth:
        screen.heading(knowledge.causes[cause].title)
        said = knowledge.causes[cause].note.splitlines()[:2] or [knowledge.causes[cause].brief]
        for sentence in said:
            screen.line(sentence)


def _drawings(screen: Screen, knowledge: Knowledge, found: Debrief) -> None:
    """The drawing of each part that was wrong, each once."""
    drawn = {each.id: each for cause, _ in found.truth if (each := drawing_of(knowledge, cause)) is not None}
    for drawing in drawn.values():
        screen.heading(drawing.title)
        sketch.show(screen, drawing.art, drawing.in_words)
    if not drawn and screen.full:
        screen.line("There is no drawing of this part.")


def _scored(screen: Screen, knowledge: Knowledge, found: Debrief) -> None:
    """The score, part by part, with what each rests on."""
    score = found.score
    screen.heading(f"Score: {score.total:.0f} of 100")
    ends = {FIXED: "fixed and proven", FAULT_LEFT: "passed, with a fault still in it"}
    repair = ends.get(found.verdict.end, "not fixed and proven")
    if score.faults > 1 or (score.cured and found.verdict.end != FIXED):
        repair += f"; {score.cured} of {score.faults} out"
    first = {True: "as good as any", False: f"better: {titled(knowledge, score.best).lower()}", None: "none was made"}
    rules = f"{score.rules} order rule{'' if score.rules == 1 else 's'} broken" if score.rules else "kept"
    counted = ((score.unsafe, "unsafe"), (score.left_out, "with cautions left out"), (score.vain, "named in vain"))
    slips = ", ".join(f"{count} {what}" for count, what in counted if count) or "kept"
    ratio = (
        f"{minutes(found.engine_minutes)} against your {minutes(found.minutes)}" if score.ratio else "not left fixed"
    )
    rows = (
        ("repair", "Repair", score.repair, repair),
        ("first", "First check", score.first, "a hint had named it" if score.first_told else first[score.first_right]),
        ("order", "Order", score.order, rules),
        ("safety", "Safety", score.safety, slips),
        ("minutes", "Minutes", score.minutes, ratio),
    )
    for name, title, points, why in rows:
        screen.line(f"{title} {points:.0f} of {PARTS[name]:.0f}: {why}.", hanging="  ")
    if found.verdict.end != FIXED:
        screen.line("What is not left fixed and proven has half of each part, and nothing for its minutes.")


def _details(screen: Screen, knowledge: Knowledge, found: Debrief) -> None:
    """Everything else that there is to say."""
    _scored(screen, knowledge, found)
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
    theirs = [
        f"{_engine(knowledge, move)}{_told(knowledge, found, at) or (f' Why: {_ended(why)}' if why else '')}"
        for at, (move, why) in enumerate(zip(found.engine.moves, _reasons(found), strict=True))
    ]
    if screen.width >= 96 and screen.drawn:
        screen.heading("Your path, and the program's")
        _columns(screen, ("You", *mine), ("The program", *theirs))
        return
    screen.heading("Your path")
    screen.numbered(mine)
    screen.heading("The program's path")
    screen.numbered(theirs)


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith("?") else f"{sentence}."


def _told(knowledge: Knowledge, found: Debrief, at: int) -> str:
    """What an answer on the program's path told; what another answer would have is in the hints of the drill."""
    if at >= len(found.told):
        return ""
    moved = found.told[at]
    if moved is None:
        return " It told little."
    way = "up" if moved.after > moved.before else "down"
    title = knowledge.causes[moved.cause].title.lower()
    return f" It told: {title} {way} from {percent(moved.before)} to {percent(moved.after)}."


def _reasons(found: Debrief) -> list[str]:
    """The first reason of each step of the program, once where it goes on for several."""
    first = [why.partition("; ")[0].partition(". ")[0].removesuffix(".") for why in found.reasons]
    first += [""] * (len(found.engine.moves) - len(first))
    return [why if not at or why != first[at - 1] else "" for at, why in enumerate(first)]


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
    screen.heading("How belief in the truth moved, up to its repair")
    for cause, _ in found.truth:
        screen.line(knowledge.causes[cause].title, "bold")
        last = found.belief[0][cause]
        rows = [Bar("what the customer says", last)]
        until = found.cured.get(cause, len(found.path))  # what stands after its repair says nothing of finding it
        for move, chances in list(zip(found.path, found.belief[1:], strict=True))[:until]:
            if abs(chances[cause] - last) >= 0.01:
                rows.append(Bar(titled(knowledge, move.id or PROOF_MOVE), chances[cause]))
                last = chances[cause]
        screen.bars(rows)
