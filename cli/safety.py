"""Cautions before steps, and what stops everything.

Purpose: show what can hurt before it can, have it acknowledged where it is dangerous, and hold the job after an
overspeed until the set is shut down and its throttle is proven to close.
Law: whether the job is held follows from its events alone, so that it still is after a crash.
Not here: the text of the cautions (see the knowledge).
"""

from __future__ import annotations

from collections.abc import Iterable

from ..engine import Job, Knowledge
from .asking import Stop, confirm
from .desk import ACKNOWLEDGED, Desk

LOCAL_CODES = (
    "Local codes and licensed practice come first. Where they say otherwise than this program, follow them. "
    "Wiring, fuel gas and live work are for those licensed for them."
)
_SAFE_AGAIN = "Shut down, and the throttle proven to close with the engine stopped."


def runs(knowledge: Knowledge, state: str) -> bool:
    """Whether the engine turns in a set-up state."""
    return "rotating_parts" in knowledge.catalogue.states[state].cautions


def opening(desk: Desk) -> None:
    """The cautions of the whole job, before anything else. Raises Stop where they are not acknowledged."""
    knowledge, screen = desk.knowledge, desk.screen
    screen.heading("Before you begin")
    screen.line(LOCAL_CODES, "bold")
    named = {name for state in knowledge.catalogue.states.values() for name in state.cautions}
    for name, caution in knowledge.catalogue.cautions.items():
        if name not in named:
            continue
        screen.caution(caution.title, caution.text.splitlines()[0])
    screen.note("Each step shows its own cautions in full.")
    if not confirm(desk.asker, screen, "", "understood, go on", "not now, stop"):
        raise Stop
    desk.note(f"{ACKNOWLEDGED}the cautions of the job; local codes and licensed practice come first.")


def of_step(desk: Desk, name: str, state: str, own: Iterable[str], dangerous: bool) -> bool:
    """Show the cautions of a step, in full the first time. False where they are not acknowledged and must be."""
    knowledge, screen = desk.knowledge, desk.screen
    there = knowledge.catalogue.states[state]
    named = list(dict.fromkeys([*own, *there.cautions]))
    entering = there.dangerous and f"state {state}" not in desk.acknowledged
    asks = (dangerous and name not in desk.acknowledged) or entering
    fresh = [caution for caution in named if caution not in desk.seen or (asks and caution in set(own))]
    for caution in fresh:
        screen.caution(knowledge.catalogue.cautions[caution].title, knowledge.catalogue.cautions[caution].text)
    known = [knowledge.catalogue.cautions[caution].title.lower() for caution in named if caution not in fresh]
    if known:
        screen.line(f"{', '.join(known)}.", indent="Caution, as before: ", hanging="  ")
    desk.seen.update(named)
    if not asks:
        return True
    if not confirm(desk.asker, screen, "Are you safe to do this?", "yes, all of it is met", "no, not this step now"):
        return False
    desk.acknowledged.update((name, f"state {state}"))
    titles = ", ".join(knowledge.catalogue.cautions[caution].title.lower() for caution in named)
    desk.note(f"{ACKNOWLEDGED}{titles}, before {name.replace('_', ' ')}.")
    return True


def held(job: Job) -> bool:
    """Whether an overspeed was reported or read after the throttle was last proven to close."""
    knowledge = job.knowledge
    stops = {name: complaint.says for name, complaint in knowledge.complaints.items() if complaint.stop_first}
    fast = {(check, outcome) for says in stops.values() for check, named in says.items() for outcome in named}
    read = {(made.check, made.spell): made.answer.outcomes for made in job.made}
    spell, due = 0, False
    for event in job.standing:
        if event.kind == "remedy":
            spell += 1
        elif event.kind == "complaint" and event.id in stops and event.answer in ("present", "unsure"):
            due = True
        elif event.kind == "check":
            outcomes = read.get((event.id, spell), ())
            due = due or any((event.id, outcome) in fast for outcome in outcomes)
        elif event.kind == "note" and event.answer == _SAFE_AGAIN:
            due = False
    return due


def make_safe(desk: Desk) -> bool:
    """Where the job is held: have the set shut down and the throttle proven. Returns whether it is safe to run."""
    if not held(desk.job):
        return True
    screen, knowledge = desk.screen, desk.knowledge
    screen.heading("STOP: overspeed")
    named = dict.fromkeys(
        caution for complaint in knowledge.complaints.values() if complaint.stop_first for caution in complaint.cautions
    )
    for name in named:
        screen.caution(knowledge.catalogue.cautions[name].title, knowledge.catalogue.cautions[name].text)
    while not confirm(desk.asker, screen, "Is the set shut down?", "yes, it stands still", "no, it still runs"):
        screen.problem("Shut it down now: fuel off, ignition off, or choke the air. Nothing else comes before that.")
    closes = confirm(
        desk.asker,
        screen,
        "Engine stopped: does the throttle plate close fully and freely when you move it by hand?",
        "yes, it closes",
        "no, or not sure",
    )
    if closes:
        desk.note(_SAFE_AGAIN)
        return True
    screen.problem("Do not start it. Only what is done on the stopped set is proposed until the throttle closes.")
    return False


def out_of_order(job: Job, step: str) -> list[str]:
    """Why a step is not due yet by the order rules; empty where it is."""
    reasons = []
    made = {found.check for found in job.made}
    done = {event.id for event in job.standing if event.kind == "remedy"}
    for rule in job.knowledge.catalogue.order.values():
        if step not in rule.after:
            continue
        if rule.kind == "look_first":
            waiting = [name for name in rule.before if name in job.checks]
            if waiting and not made & set(waiting):
                reasons.append(rule.why)
        elif rule.kind == "cure_first":
            chances = job.posterior()
            suspected = [
                name for name in rule.before
                if name in job.knowledge.remedies and name not in done
                and any(chances.get(cause, 0.0) >= 0.15 for cause in job.knowledge.remedies[name].cures)
            ]  # fmt: skip
            if suspected:
                reasons.append(rule.why)
    return reasons
