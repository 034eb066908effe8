"""Cautions before steps, and what stops everything.

Purpose: show what can hurt before it can, have it acknowledged where it is dangerous, and have a held job secured.
Law: a caution is shown before its step, and nothing dangerous is gone on with before it was acknowledged.
Not here: saying that a set must not run (see `held`), what holds a job and what is refused then (see the engine), the
text of the cautions (see the knowledge).
"""

from __future__ import annotations

from collections.abc import Iterable

from ..record import LOCAL_CODES
from ..terminal import Stop, confirm
from .session import Session


def opening(session: Session) -> None:
    """The cautions of the whole job, before anything else. Raises Stop where they are not acknowledged."""
    knowledge, screen = session.knowledge, session.screen
    screen.heading("Before you begin")
    screen.line(LOCAL_CODES, "bold")
    named = {name for state in knowledge.catalogue.states.values() for name in state.cautions}
    for name, caution in knowledge.catalogue.cautions.items():
        if name not in named:
            continue
        screen.caution(caution.title, caution.text.splitlines()[0])
    screen.note("Each step shows its own cautions in full.")
    if not confirm(session.asker, screen, "", "understood, go on", "not now, stop"):
        raise Stop
    session.acknowledge("job", "the cautions of the job; local codes and licensed practice come first.")


def of_step(session: Session, name: str, state: str, own: Iterable[str], dangerous: bool) -> bool:
    """Show the cautions of a step, in full the first time. False where they are not acknowledged and must be."""
    knowledge, screen = session.knowledge, session.screen
    there = knowledge.catalogue.states[state]
    named = list(dict.fromkeys([*own, *there.cautions]))
    entering = there.dangerous and f"state {state}" not in session.acknowledged
    asks = (dangerous and name not in session.acknowledged) or entering
    fresh = [caution for caution in named if caution not in session.seen or (asks and caution in set(own))]
    for caution in fresh:
        screen.caution(knowledge.catalogue.cautions[caution].title, knowledge.catalogue.cautions[caution].text)
    known = [knowledge.catalogue.cautions[caution].title.lower() for caution in named if caution not in fresh]
    if known:
        screen.line(f"{', '.join(known)}.", indent="Caution, as before: ", hanging="  ")
    session.seen.update(named)
    if not asks:
        return True
    if not confirm(session.asker, screen, "Are you safe to do this?", "yes, all of it is met", "no, not this step now"):
        return False
    session.acknowledged.update((name, f"state {state}"))
    titles = ", ".join(knowledge.catalogue.cautions[caution].title.lower() for caution in named)
    session.acknowledge(name, f"{titles}, before {name.replace('_', ' ')}.")
    return True


def make_safe(session: Session) -> bool:
    """Where the job is held: have the set shut down and the throttle proven. Returns whether it is safe to run."""
    if not session.job.held:
        return True
    screen, knowledge = session.screen, session.knowledge
    screen.heading("STOP: the set must not run")
    for hold in session.job.held:
        screen.attention(str(hold))
    for name in dict.fromkeys(name for hold in session.job.held for name in hold.cautions):
        screen.caution(knowledge.catalogue.cautions[name].title, knowledge.catalogue.cautions[name].text)
    while not confirm(session.asker, screen, "Is the set shut down?", "yes, it stands still", "no, it still runs"):
        screen.problem("Shut it down now: fuel off, ignition off, or choke the air. Nothing else comes before that.")
    closes = confirm(
        session.asker,
        screen,
        "Engine stopped: does the throttle plate close fully and freely when you move it by hand?",
        "yes, it closes",
        "no, or not sure",
    )
    if closes:
        screen.line("Who says so? A name for the record, or Enter.", "bold")
        session.secure(session.asker.ask("name> ") or "the technician")
        return True
    screen.problem("Do not start it. Only what is done on the stopped set is proposed until the throttle closes.")
    return False
