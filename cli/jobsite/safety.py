"""Cautions before steps, and what stops everything.

Purpose: show what can hurt before it can, have it acknowledged where it is dangerous, and have a held job secured.
Law: a caution is shown before its step, and nothing dangerous is gone on with before it was acknowledged.
Not here: saying that a set must not run (see `held`), what holds a job and what is refused then (see the engine), the
text of the cautions (see the knowledge).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from ...engine.compiler import Check, Remedy, SettingStep
from ...engine.job import Risk
from ...engine.problems import in_sentence
from ..record import LOCAL_CODES
from ..terminal import Back, Line, Page, Stop, confirm
from . import rating, view
from .session import Session, Waits

_SHUT_DOWN = "Shut it down now: fuel off, ignition off, or choke the air. Nothing else comes before that."
_STAYS = "Do not start it. Only what is done on the stopped set is proposed until the throttle closes."


@dataclass(frozen=True, slots=True)
class Cautioned:
    """The cautions of a step: their ids, and how its page shows them, the new ones in full, the others in one line."""

    named: tuple[str, ...] = ()
    new: tuple[tuple[str, str], ...] = ()
    known: tuple[str, ...] = ()


def opening(session: Session) -> None:
    """The cautions of the whole job, before anything else: in full what kills while the set only runs, the others in a
    sentence, and those of a dangerous state in full where it is entered first. Raises Stop where they are not met."""
    catalogue = session.knowledge.catalogue
    found = {name for state in catalogue.states.values() for name in state.cautions}
    named = [name for name in catalogue.cautions if name in found]
    full = [name for name in named if not catalogue.cautions[name].short]
    cautions = tuple((catalogue.cautions[name].title, catalogue.cautions[name].text) for name in full)
    sign = "! " if session.screen.drawn else "Caution: "
    more = tuple(
        Line(f"{each.title}: {each.short}", "", sign, "  ")
        for each in (catalogue.cautions[name] for name in named)
        if each.short
    )
    name, *status = session.top()
    page = Page(
        name, tuple(status), "Before you begin", (Line(LOCAL_CODES, "bold"), *more), cautions,
        hint="Those of load in full before load.",
    )  # fmt: skip
    if not confirm(session.asker, session.screen, "", "understood, go on", "not now, stop", page=page):
        raise Stop
    # What only dangerous states have is shown in full where the first of them is entered.
    calm = {name for state in catalogue.states.values() if not state.dangerous for name in state.cautions}
    met = {*full} | calm
    session.seen.update(met)
    session.acknowledged.update(f"caution {caution}" for caution in met)
    session.acknowledge("job", "the cautions of the job; local codes and licensed practice come first.")


def of_step(session: Session, what: Check | Remedy | SettingStep, own: Iterable[str], above: Page) -> Cautioned | None:
    """The cautions of a step for its page, asked about first where they are dangerous. None where that is not met.

    above: what stands above the step on its page. Raises Back.
    """
    rating.ask_under_load(session, what.state)
    catalogue = session.knowledge.catalogue
    there = catalogue.states[what.state]
    own = list(own)
    named = list(dict.fromkeys([*own, *there.cautions]))
    entering = there.dangerous and f"state {what.state}" not in session.acknowledged
    met = _met_here(session, what.state)
    risks = {f"risk {risk.limit} {reason}": risk for risk in risks_of(session, what.state) for reason in risk.reasons}
    new_risks = [
        risk for reason, risk in risks.items() if reason not in session.acknowledged and f"risk {risk.limit}" not in met
    ]
    asks = (what.dangerous and not _met(session, what, met)) or entering or bool(new_risks)
    # Where a step is dangerous its own are shown in full until they were met once, whatever the opening said of them.
    again = {caution for caution in own if asks and f"caution {caution}" not in session.acknowledged}
    again.update(caution for risk in new_risks for caution in risk.cautions)
    fresh = [caution for caution in named if caution not in session.seen or caution in again]
    new = tuple((catalogue.cautions[caution].title, catalogue.cautions[caution].text) for caution in fresh)
    known = titles(session, [caution for caution in named if caution not in fresh])
    if not asks:
        return Cautioned(tuple(named), new, known)
    asked = what.ask if isinstance(what, Check) else what.brief
    page = replace(
        above,
        body=(*above.body, Line(f"To do: {view.with_load(session, asked)}", hanging="  ")),
        cautions=new,
        known=known,
    )
    try:
        safe = session.confirm(
            "Are you safe to do this?", "yes, all of it is met", "no, not this step now", page,
            lambda text: session.aside(session, what, text),
        )  # fmt: skip
    except Waits:
        return None
    if not safe:
        session.note_once(f"Not done, its dangers not met: {in_sentence(what.title)}.")
        return None
    session.seen.update(named)
    session.acknowledged.update((what.id, f"state {what.state}", *(f"caution {caution}" for caution in named), *risks))
    told = ", ".join(titles(session, named)).lower()
    session.acknowledge(what.id, f"{told}, before {what.id.replace('_', ' ')}.")
    met.update(f"risk {risk.limit}" for risk in risks.values())
    if isinstance(what, Check) and what.dangerous and not what.fits.takes_off:
        met.update(what.cautions)
    return Cautioned(tuple(named), (), titles(session, named))


def _met_here(session: Session, state: str) -> set[str]:
    """What was acknowledged in a set-up state since the set was started and worked on last: the cautions of what is
    dangerous by itself, and what may come of the set. It ends with the run, which a step on the standing set does."""
    # Also what goes back on, and securing it, is done on the standing set.
    work = sum(event.kind in ("remedy", "put_back", "secured") for event in session.job.standing)
    if not session.job.runs(state) or session.met_after != work:
        session.met, session.met_after = {}, work
    return session.met.setdefault(state, set())


def _met(session: Session, what: Check | Remedy | SettingStep, met: Collection[str]) -> bool:
    """Whether what is dangerous in a step was acknowledged: for itself, or, of a reading, for another with the same
    dangers in this state of the run. One load test is one question."""
    if what.id in session.acknowledged:
        return True
    return isinstance(what, Check) and not what.fits.takes_off and bool(what.cautions) and {*what.cautions} <= {*met}


def risks_of(session: Session, state: str) -> tuple[Risk, ...]:
    """What may come of the set in a set-up state; nothing where it does not run."""
    return session.job.risks if session.job.runs(state) else ()


def risk_lines(session: Session, state: str) -> list[Line]:
    """What may come of the set in a set-up state, one line each with its first reason."""
    sign = "! " if session.screen.drawn else "Attention: "
    return [
        Line(f"{risk.title} may come: {in_sentence(risk.reasons[0])}.", "bold red", sign, "  ")
        for risk in risks_of(session, state)
    ]


def titles(session: Session, cautions: Iterable[str]) -> tuple[str, ...]:
    """What cautions are called."""
    return tuple(session.knowledge.catalogue.cautions[name].title for name in cautions)


def make_safe(session: Session) -> bool:
    """Where the job is held: have the set shut down and the throttle proven. Returns whether it is safe to run."""
    if not session.job.held:
        return True
    catalogue = session.knowledge.catalogue
    name, *status = session.top()
    page = Page(
        name, tuple(status), "STOP: the set must not run",
        tuple(Line(str(hold), "bold red", "! " if session.screen.drawn else "Attention: ", "  ")
              for hold in session.job.held),
        tuple(
            (catalogue.cautions[name].title, catalogue.cautions[name].text)
            for name in dict.fromkeys(name for hold in session.job.held for name in hold.cautions)
        ),
    )  # fmt: skip
    while True:
        while not session.confirm("Is the set shut down?", "yes, it stands still", "no, it still runs", page):
            session.screen.problem(_SHUT_DOWN)
            page = replace(page, cautions=())
        try:
            if not session.confirm(
                "Engine stopped: does the throttle plate close fully and freely when you move it by hand?",
                "yes, it closes", "no, or not sure",
            ):  # fmt: skip
                break
            who = session.ask("Who says so? A name for the record, or Enter.", "name> ")
        except Back:  # to the first question of these
            page = replace(page, cautions=())
            continue
        session.secure(who or "the technician")
        return True
    session.screen.problem(_STAYS)
    return False
