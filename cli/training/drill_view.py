"""What is shown of a drill while it goes on: the customer, what can be done, a move, its dangers, feedback.

Purpose: put a drill into words.
Law: reads, changes nothing; nothing shown here knows the truth.
Not here: asking (see `drill_session`), the debrief (see `debrief_view`), how text is drawn (see `screen`).
"""

from __future__ import annotations

import re

from ...engine import ContradictionError, Knowledge
from ...engine.teaching import PROOF_MOVE, Drill, DrillMove, Scenario, rules_broken
from ..terminal import Bar, Screen, minutes

DANGERS = {
    "held": "it overspeeds, and nobody has shut it down and proven that the throttle closes (shut)",
    "running": "hands would be in a set that turns; this is done stopped",
    "off": "the set would run with something off or open",
    "state": "going there asks for precautions that were not taken",
    "step": "this step is dangerous, and its cautions were not met",
}


def titled(knowledge: Knowledge, name: str) -> str:
    """The title of a check, remedy or complaint; the name where it is none."""
    for found in (knowledge.checks, knowledge.remedies, knowledge.complaints):
        if name in found:
            return str(found[name].title)
    return "Proof run" if name == PROOF_MOVE else name.replace("_", " ")


def words(knowledge: Knowledge, check: str, answer: str, outcomes: tuple[str, ...] = ()) -> str:
    """An answer in words: "63.4 Hz (high)"."""
    if answer == "unknown":
        return "cannot be told on this set as it is"
    if any(letter.isdigit() for letter in answer) and outcomes:
        return f"{answer} ({' or '.join(each.replace('_', ' ') for each in outcomes)})"
    brief = next((each.brief for each in knowledge.checks[check].outcomes if each.id == answer), "")
    return f"{answer.replace('_', ' ')}. {brief}" if brief else answer.replace("_", " ")


# ---- while it goes on


def customer(screen: Screen, knowledge: Knowledge, dealt: Scenario) -> None:
    """The set, and what its customer says."""
    told = knowledge.catalogue.features
    rows = []
    for name, value in dealt.features.items():
        feature = told[name]
        shown = f"{value:g}" if isinstance(value, float) else str(value).replace("_", " ")
        rows.append(f"{feature.title.lower()} {shown}{' ' + feature.unit if feature.unit else ''}")
    screen.heading("The set")
    screen.line("; ".join(rows) + ".")
    if dealt.level.step:
        screen.line(f"Your frequency meter is an old one with reeds: it shows every {dealt.level.step:g} Hz.")
    screen.heading("The customer says")
    for name in dealt.complaints:
        complaint = knowledge.complaints[name]
        screen.line(f'"{complaint.title}. {complaint.brief}"', "bold")


def status(screen: Screen, drill: Drill) -> None:
    """The clock and the set-up, in one line."""
    there = drill.knowledge.catalogue.states[drill.job.here].title
    screen.note(f"{minutes(drill.minutes)} | {there[0].lower()}{there[1:]}")


def has(title: str, text: str, whole: bool = False) -> bool:
    """Whether every word typed begins a word of the title, or is one. Text without a word fits every title, or none."""
    there = re.findall(r"[a-z0-9]+", title.lower().replace("_", " "))
    typed = re.findall(r"[a-z0-9]+", text.lower())
    if whole:
        return bool(typed) and set(typed) <= set(there)
    return all(any(word.startswith(part) for word in there) for part in typed)


def choices(screen: Screen, drill: Drill, some: str = "") -> None:
    """Every check and remedy with its number and minutes, by the set-up state that it needs.

    some: words of the title, the area, the set-up state or the kind of those that are wanted.
    """
    shown = False
    steps = drill.steps
    places = {name: str(place) for place, name in enumerate(steps, 1)}
    for kind in ("Checks", "Remedies"):
        for state, there in drill.knowledge.catalogue.states.items():
            rows = [
                (places[name], f"{step.title}, {minutes(step.minutes)}")
                for name, step in steps.items()
                if step.state == state
                and (name in drill.checks) == (kind == "Checks")
                and has(f"{step.title} {name} {step.area} {there.title} {kind}", some)
            ]
            if rows:
                screen.heading(f"{kind}: {there.title.lower()}")
                screen.options(rows)
                shown = True
    if not shown:
        screen.problem(f'nothing in the list is like "{some}"')
        return
    screen.note("Minutes are hands-on; getting into the set-up comes on top. Type a number or words.")


def outcome_of_move(screen: Screen, drill: Drill, move: DrillMove) -> None:
    """What a move brought."""
    knowledge = drill.knowledge
    title = titled(knowledge, move.id)
    if move.kind == "check":
        screen.fact(title, words(knowledge, move.id, move.answer, move.outcomes))
    elif move.kind == "remedy":
        screen.line(f"{title}: carried out. A proof run says whether it helped (prove).")
    elif move.kind in ("proof", "fixed") and move.proof is not None:
        screen.line(f"Proof run: {move.answer}.", "bold")
        for reading in move.proof.readings:
            word = {True: "ok", False: "not right", None: "cannot be told"}[reading.fine]
            answer = reading.answer.replace("_", " ")
            screen.line(f"{titled(knowledge, reading.check)}: {answer}, {word}", indent="  - ")
        for name in move.proof.still:
            screen.line(f"Still there: {titled(knowledge, name).lower()}", indent="  - ")
        if move.kind == "proof" and move.proof.passed:
            screen.line("If you are content with it: fixed.")
    status(screen, drill)


def unsafe(screen: Screen, drill: Drill, move: DrillMove, seen: set[str]) -> None:
    """What would have hurt, before anything else is said."""
    screen.problem(f"UNSAFE. {titled(drill.knowledge, move.id)} was not done.")
    for danger in move.dangers:
        screen.line(f"Why: {DANGERS[danger.kind]}.", hanging="  ")
        for name in danger.fittings:
            screen.line(drill.knowledge.catalogue.fittings[name].question, indent="  - ")
        cautions(screen, drill.knowledge, danger.cautions, seen)
    kinds = {danger.kind for danger in move.dangers}
    if "held" in kinds:
        screen.line("First: shut.")
    elif "running" in kinds:
        screen.line("Choose it without now, and the set is stopped first.")
    else:
        screen.line("safe: meet all of this and do it. Or choose another step.")


def cautions(screen: Screen, knowledge: Knowledge, names: tuple[str, ...], seen: set[str]) -> None:
    """Cautions, in full the first time, later by their titles."""
    known = [knowledge.catalogue.cautions[name].title.lower() for name in names if name in seen]
    for name in names:
        if name not in seen:
            caution = knowledge.catalogue.cautions[name]
            screen.caution(caution.title, caution.text)
    seen.update(names)
    if known:
        screen.line(f"{', '.join(known)}.", indent="Caution, as before: ", hanging="  ")


def feedback(screen: Screen, drill: Drill, deepen: int = 2) -> None:
    """What the last step told, and what the program would have done in its place. Nothing of the truth."""
    knowledge = drill.knowledge
    steps = [at for at, move in enumerate(drill.moves) if move.kind in ("check", "remedy", "proof")]
    screen.heading("Feedback")
    if not steps:
        screen.line("Nothing has been done yet.")
        return
    at = steps[-1]
    move, before = drill.moves[at], drill.moves[at - 1].belief if at else drill.start
    screen.line(f"{titled(knowledge, move.id or PROOF_MOVE)}: {minutes(move.spent)} with the set-up.")
    shifts = sorted(before, key=lambda cause: (-abs(move.belief.get(cause, 0.0) - before[cause]), cause))[:3]
    told = [cause for cause in shifts if abs(move.belief.get(cause, 0.0) - before[cause]) >= 0.01]
    if not told:
        screen.line("It moved no cause by as much as one in a hundred.")
    else:
        screen.line("What it moved, by all that was found so far:")
        screen.bars([Bar(knowledge.causes[name].title, move.belief[name], before[name]) for name in told])
    job = drill.job_before(move)
    for rule, missing in rules_broken(job, move.id, before):
        screen.line(f"Out of order: {rule.why}", hanging="  ")
        screen.line(f"First: {', '.join(titled(knowledge, name).lower() for name in missing)}.", indent="  ")
    try:
        steps_then = job.next_steps(8, deepen)
    except ContradictionError:
        return
    best = steps_then[0]
    mine = next((step for step in steps_then if step.id == move.id), None)
    if best.id == move.id:
        screen.line("The program would have done the same.")
        return
    # Its name would be a hint, and those cost minutes.
    screen.line(f"The program would have taken another step: {_kind(knowledge, best.kind, best.id)}.", hanging="  ")
    if mine is not None:
        screen.line(
            f"Expected to fixed and proven: {minutes(best.expected_minutes)} that way, "
            f"{minutes(mine.expected_minutes)} by yours."
        )


def path_so_far(screen: Screen, drill: Drill) -> None:
    """What was done, with the clock after each."""
    screen.heading("Done so far")
    rows = [
        move_as_phrase(drill.knowledge, move.kind, move.id, move.answer, move.minutes)
        for move in drill.moves
        if move.kind != "safe"
    ]
    if rows:
        screen.numbered(rows)
    else:
        screen.line("Nothing yet.")
    status(screen, drill)


def _kind(knowledge: Knowledge, kind: str, name: str) -> str:
    if kind == "check":
        check = knowledge.checks[name]
        return f"a check, {check.area.replace('_', ' ')}, {knowledge.catalogue.states[check.state].title.lower()}"
    if kind == "remedy":
        return f"a remedy, {knowledge.remedies[name].area.replace('_', ' ')}"
    return "a proof run" if kind == "done" else "handing it over"


def move_as_phrase(knowledge: Knowledge, kind: str, name: str, answer: str, at: float) -> str:
    """A move of either path as a phrase, with the clock after it."""
    clock = f" [{minutes(at)}]"
    if kind == "check":
        return f"{titled(knowledge, name)}: {answer.replace('_', ' ')}{clock}"
    if kind == "remedy":
        return f"{titled(knowledge, name)}{'' if answer == 'carried out' else f', proof run: {answer}'}{clock}"
    phrases = {
        "proof": f"Proof run: {answer}",
        "fixed": f'"It is fixed", proof run: {answer}',
        "done": f"Proof run: {answer}",
        "hint": "Hint",
        "unsafe": f"UNSAFE, not done: {titled(knowledge, name).lower()}",
        "shut_down": "Shut down, throttle proven",
        "refer": "Handed over",
        "referred": "Handed over",
        "given_up": "Stopped",
    }
    return phrases.get(kind, kind) + clock
