"""What is shown of a drill while it goes on: the customer, what can be done, a move, its dangers, feedback.

Purpose: put a drill into words.
Law: reads, changes nothing; nothing shown here knows the truth.
Not here: asking (see `drill_session`), the debrief (see `debrief_view`), how text is drawn (see `screen`).
"""

from __future__ import annotations

from ...engine import Knowledge, Step
from ...engine.simulated import COLLAPSES, STALLS, TRIPS
from ...engine.teaching import PROOF_MOVE, RUNGS, Drill, DrillMove, Scenario, rules_broken, shown_in
from ..terminal import Bar, Screen, minutes, percent

DANGERS = {
    "held": "it overspeeds, and nobody has shut it down and proven that the throttle closes (shut)",
    "running": "hands would be in a set that turns; this is done stopped",
    "off": "the set would run with something off or open",
    "state": "going there asks for precautions that were not taken",
    "step": "this step is dangerous, and its cautions were not met",
}


DID = {
    STALLS: "The engine stalls under it.",
    COLLAPSES: "The engine runs on, and the volts are gone: the field has collapsed. "
    "A frequency meter lives on the volts, so that it shows nothing.",
    TRIPS: "The breaker trips within these minutes: more current than it holds. No load goes on until: reset.",
}
"""What a load did to the set."""


def titled(knowledge: Knowledge, name: str) -> str:
    """The title of a check, remedy or complaint; the name where it is none."""
    for found in (knowledge.checks, knowledge.remedies, knowledge.complaints):
        if name in found:
            return str(found[name].title)
    return "Proof run" if name == PROOF_MOVE else name.replace("_", " ")


def words(knowledge: Knowledge, check: str, answer: str, outcomes: tuple[str, ...] = ()) -> str:
    """An answer in words: "63.4 Hz (high)"."""
    if answer == "unknown":
        if knowledge.checks[check].kind == "trial":
            return "cannot be told now: what this trial watches, such as a swing, is not there"
        return "cannot be told now: the set does not run so that it could be read"
    reading = knowledge.checks[check].reading
    if answer in outcomes and reading is not None and reading.load is not None:
        return f"nothing on the meter ({answer.replace('_', ' ')})"
    if any(letter.isdigit() for letter in answer) and outcomes:
        return f"{answer} ({' or '.join(each.replace('_', ' ') for each in outcomes)})"
    brief = next((each.brief for each in knowledge.checks[check].outcomes if each.id == answer), "")
    return f"{answer.replace('_', ' ')}. {brief}" if brief else answer.replace("_", " ")


# ---- while it goes on


_NAMEPLATE = ("rated_kw", "volts", "phases", "hertz", "poles")
_FITTED = ("fuel", "cylinders", "choke", "ignition", "booster")


def customer(screen: Screen, knowledge: Knowledge, dealt: Scenario, whole: bool = False) -> None:
    """What the customer says, and the nameplate. whole: with all that is known of the set."""
    screen.line("The customer says:")
    for name in dealt.complaints:
        complaint = knowledge.complaints[name]
        screen.line(f'"{complaint.title}. {complaint.brief}"', "bold")
        if shown := shown_in(knowledge, dealt, name):
            screen.line(f"It shows in: {', '.join(titled(knowledge, each).lower() for each in shown)}.", indent="  ")
    screen.line("The set:" if whole else "The nameplate, and what you see:")
    if whole:
        screen.line(f"{'; '.join(_feature(knowledge, dealt, name) for name in dealt.features)}.")
    else:
        told = [_feature(knowledge, dealt, name) for name in _NAMEPLATE + _FITTED if name in dealt.features]
        screen.line(f"{', '.join(told)}.")
    if dealt.level.step:
        screen.line(f"Your frequency meter is an old one with reeds: it shows every {dealt.level.step:g} Hz.")


def _feature(knowledge: Knowledge, dealt: Scenario, name: str) -> str:
    """A feature of the set with its value: "6.5 kW", "choke none"."""
    feature, value = knowledge.catalogue.features[name], dealt.features[name]
    shown = f"{value:g}" if isinstance(value, float) else str(value).replace("_", " ")
    if name in ("hertz", "volts", "rated_kw"):
        return f"{shown} {feature.unit or 'Hz'}"
    title = feature.title.lower()
    if name == "poles" and "hertz" in dealt.features:
        return f"{120.0 * float(dealt.features['hertz']) / float(value):.0f} rpm"
    if name in ("phases", "cylinders"):
        return f"{shown} {title if shown != '1' else title.removesuffix('s')}"
    return f"{title} {shown}{' ' + feature.unit if feature.unit else ''}"


def status(screen: Screen, drill: Drill) -> None:
    """The clock and the set-up, in one line; a full screen has them above all else."""
    if screen.full:
        return
    there = drill.knowledge.catalogue.states[drill.job.here].title
    screen.note(f"{minutes(drill.minutes)} | {there[0].lower()}{there[1:]}")


def outcome_of_move(screen: Screen, drill: Drill, move: DrillMove) -> None:
    """What a move brought."""
    knowledge = drill.knowledge
    title = titled(knowledge, move.id)
    if move.kind == "check":
        screen.fact(title, words(knowledge, move.id, move.answer, move.outcomes))
        if move.did:
            screen.line(DID[move.did])
        if made_before(drill, move):
            screen.line(f"Nothing was changed since you last made it; it took {minutes(move.spent)} all the same.")
        if move.predicted:
            foretold(screen, drill, move)
    elif move.kind == "remedy":
        part = ", ".join(titled(knowledge, each).lower() for each in knowledge.remedies[move.id].then)
        done = f"carried out, and what belongs to it: {part}" if part else "carried out"
        screen.line(f"{title}: {done}. A proof run says whether it helped (prove).")
    elif move.kind in ("proof", "fixed") and move.proof is not None:
        screen.line(f"Proof run: {move.answer}.", "bold")
        for reading in move.proof.readings:
            word = {True: "ok", False: "not right", None: "cannot be told"}[reading.fine]
            answer = reading.answer.replace("_", " ")
            screen.line(f"{titled(knowledge, reading.check)}: {answer}, {word}", indent="  - ")
        if move.did:
            screen.line(DID[move.did], indent="  - ")
        for name in move.proof.still:
            screen.line(f"Still there: {titled(knowledge, name).lower()}", indent="  - ")
        if move.kind == "proof" and move.proof.passed:
            screen.line("If you are content with it: fixed.")
    status(screen, drill)


def made_before(drill: Drill, move: DrillMove) -> bool:
    """Whether a check was made before, with no remedy in between."""
    for other in reversed(drill.moves[: drill.moves.index(move)]):
        if other.kind == "remedy":
            return False
        if other.kind == "check" and other.id == move.id:
            return True
    return False


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


def feedback(screen: Screen, drill: Drill) -> None:
    """What the last step told, and what the program would have done in its place. Nothing of the truth."""
    knowledge = drill.knowledge
    steps = [at for at, move in enumerate(drill.moves) if move.kind in ("check", "remedy", "proof", "fixed")]
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
        check = knowledge.checks.get(move.id)
        if check is not None and move.outcomes and check.normal not in move.outcomes:
            screen.line("It bears out what was known before it, so it moved no cause by as much as one in a hundred.")
        else:
            screen.line("It moved no cause by as much as one in a hundred.")
    else:
        screen.line("What it moved, by all that was found so far:")
        screen.bars([Bar(knowledge.causes[name].title, move.belief[name], before[name]) for name in told])
    if drill.proven:
        screen.line(f"It is proven, after {minutes(drill.minutes)}. If you are content with it: fixed.")
        return
    advice = drill.advice(move.events)
    if not advice:
        return
    best, mine = advice[0], next((step for step in advice if _same(move, step)), None)
    if _same(move, best):
        screen.line("The program would have done the same.")
        return
    job = drill.job_before(move)
    for rule, missing in rules_broken(job, move.id, before):
        screen.line(f"Out of order: {rule.why}", hanging="  ")
        for fitting in drill.steps[move.id].fits.takes_off:
            screen.line(f"It takes this off: {knowledge.catalogue.fittings[fitting].title.lower()}.", indent="  ")
        first = ", ".join(titled(knowledge, name).lower() for name in missing)
        screen.line(f"Before it comes: {first}.", indent="  ")
    if mine is not None and mine.expected_minutes - best.expected_minutes < _AS_GOOD:
        screen.line("The program would have taken another step; yours is as good.")
        return
    # Its name would be a hint, and those cost minutes.
    kind = kind_of(knowledge, best.kind, best.id)
    screen.line(f"The program would have taken another step then: {kind}.", hanging="  ")
    if mine is not None:
        gone = move.minutes - move.spent
        screen.line(
            f"Gone before it: {minutes(gone)}. From there to fixed and proven, as far as could be expected: "
            f"{minutes(best.expected_minutes)} that way, {minutes(mine.expected_minutes)} by yours."
        )


def _same(move: DrillMove, step: Step) -> bool:
    """Whether a move is a proposed step; a proof run is what "prove it and close" begins with."""
    return step.id == move.id if move.id else step.kind == "done"


def foretold(screen: Screen, drill: Drill, move: DrillMove) -> None:
    """What was foretold of a check beside what came, and one sentence why."""
    knowledge = drill.knowledge
    said, at = move.predicted.replace("_", " "), drill.moves.index(move)
    if move.foretold is None:
        screen.line(f"You said {said}; on this set it cannot be told.")
        return
    came = " or ".join(each.replace("_", " ") for each in move.outcomes)
    screen.line(f"You said {said}: {'right.' if move.foretold else f'it is {came}.'}", "bold")
    before = drill.moves[at - 1].belief if at else drill.start
    shifts = {cause: move.belief.get(cause, 0.0) - chance for cause, chance in before.items()}
    most = max(sorted(shifts), key=lambda cause: abs(shifts[cause]), default="")
    if not most or abs(shifts[most]) < 0.01:
        screen.line(f"Why: by what was known, {came} was to be expected, and so it tells nothing new.", hanging="  ")
        return
    way = "for" if shifts[most] > 0.0 else "against"
    title = knowledge.causes[most].title.lower()
    screen.line(f"Why: {came} speaks {way} {title}, now {percent(move.belief[most])}.", hanging="  ")


def hinted(screen: Screen, drill: Drill, step: Step, rung: str) -> None:
    """A hint as far as a rung of it: where, what kind, which step, why."""
    knowledge = drill.knowledge
    title = {"done": "prove it and close", "refer": "hand it over"}.get(step.kind, titled(knowledge, step.id))
    found = drill.steps.get(step.id)
    said = {
        "area": found.area.replace("_", " ") if found is not None else "the looking is done",
        "kind": kind_of(knowledge, step.kind, step.id),
        "step": title,
        "reason": step.why.rstrip("."),
    }
    order = list(RUNGS)
    told = said[rung]
    screen.fact(f"Hint, {order.index(rung) + 1} of {len(order)}", told if told.endswith("?") else f"{told}.")
    if rung != order[-1]:
        following = order[order.index(rung) + 1]
        price = f"{minutes(RUNGS[following])} more" if RUNGS[following] else "free"
        screen.note(f"hint again says {_RUNG_TOLD[following]} ({price}).")


_RUNG_TOLD = {"kind": "what kind of step", "step": "which step", "reason": "why"}
_AS_GOOD = 1.0
"""Minutes of expectation within which two steps are as good as one another."""


def how(screen: Screen, drill: Drill, step: str) -> None:
    """How a check or remedy is done."""
    knowledge = drill.knowledge
    if step in drill.checks:
        check = drill.checks[step]
        screen.heading(check.title)
        screen.numbered(check.how or (check.ask,))
        screen.fact("Does not prove", check.does_not_prove)
        return
    remedy = drill.remedies[step]
    screen.heading(remedy.title)
    screen.line(remedy.brief)
    screen.numbered(remedy.steps)
    for name in remedy.then:
        screen.fact("Part of it", knowledge.remedies[name].title)


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


def kind_of(knowledge: Knowledge, kind: str, name: str) -> str:
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
        "reset": "Breaker closed again",
        "refer": "Handed over",
        "referred": "Handed over",
        "given_up": "Stopped",
    }
    return phrases.get(kind, kind) + clock
