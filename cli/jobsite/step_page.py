"""The page of one step: what is asked, what is right, what the answers are, and what it tells.

Purpose: the description of one screen from the job and the knowledge, one for the full screen and the plain scroll.
Law: reads the job, changes nothing. Limits come from the tolerance of the job, for the hertz of this set.
Not here: how a page looks (see `terminal.page`), and what an answer does.
"""

from __future__ import annotations

from dataclasses import replace

from ...engine import ContradictionError, Step
from ...engine.compiler import Check, Remedy
from ...engine.problems import in_sentence
from ..record import limits
from ..terminal import Choice, Line, Page, minutes
from . import putting_back, safety, view
from .safety import Cautioned
from .session import Session

_KEYS = (("h", "how"), ("w", "why"), ("s", "skip"), ("u", "unknown"), ("z", "back"), ("f", "close"), ("m", "more"))
_REMEDY_KEYS = (("w", "why"), ("s", "skip"), ("z", "back"), ("m", "more"))
_EACH = {"cylinder": ", one for each cylinder", "leg": ", one for each leg"}
DOUBT = "Not sure? Put a question mark after the answer: 1?"


def head(session: Session, what: Check | Remedy, proposal: Step | None, heading: str = "") -> Page:
    """What stands above a step: the set, its title with the minutes of the work, and the change of the set-up."""
    name, *status = session.top()
    heading = heading or ("Next: " if proposal else "")
    body = []
    in_hand = isinstance(what, Check) and session.job.in_hand(what.id)
    if change := "" if in_hand else view.move(session, what.state):
        body.append(Line(f"Set-up: {change}", hanging="  "))
    if in_hand and view.move(session, what.state):
        here = session.knowledge.catalogue.states[session.job.here].title
        body.append(
            Line(f"Set-up: as it stands, {in_sentence(here)}; what is looked at is in your hand.", hanging="  ")
        )
    body += safety.risk_lines(session, what.state)
    title = f"{heading}{what.title} ({minutes(what.minutes)})"
    return Page(top=name, status=tuple(status), title=title, body=tuple(body))


def of_check(session: Session, check: Check, above: Page, cautioned: Cautioned, lead: str, hint: bool = True) -> Page:
    """The page of a check."""
    names = [outcome.id.replace("_", " ") for outcome in check.outcomes]
    briefs = [outcome.brief for outcome in check.outcomes]
    features = session.job.features
    choices = tuple(
        Choice(str(at), *each)
        for at, each in enumerate(zip(names, briefs, strict=True), 1)
        if check.offers(check.outcomes[at - 1].id, features)
    )
    form, body = "", list(above.body)
    if check.reading is not None:
        unit = "inches" if check.reading.unit == "in" else check.reading.unit
        form = f"or type the reading in {unit}{_EACH.get(check.reading.per, '')}"
    if told := putting_back.takes_off(session, check):
        body.append(Line(told, "dim"))
    return replace(
        above, body=tuple(body), cautions=cautioned.new, known=cautioned.known,
        question=view.with_load(session, check.ask),
        limits=limits(session.job, check), choices=choices, form=form, lead=lead, keys=_KEYS if hint else _KEYS[:5],
        hint="" if session.hinted or not hint else DOUBT, at_once=check.reading is None,
    )  # fmt: skip


def of_remedy(session: Session, remedy: Remedy, above: Page, cautioned: Cautioned, lead: str) -> Page:
    """The page of a remedy: its steps, what they take off and what is due after them."""
    steps = [Line(text, "", f" {number}. ") for number, text in enumerate(view.remedy_steps(session, remedy), 1)]
    body = [*above.body, *steps]
    if told := putting_back.takes_off(session, remedy):
        body.append(Line(told, "dim"))
    if due := due_after(session, remedy):
        body.append(Line(f"Due after this: {due}.", hanging="  "))
    choices = (Choice("1", "carried out"), Choice("2", "not now: another step"))
    return replace(
        above, body=tuple(body), cautions=cautioned.new, known=cautioned.known, choices=choices, lead=lead,
        keys=_REMEDY_KEYS, words=tuple(choice.name for choice in choices), at_once=True,
        form="steps left undone: not 3 5",
    )  # fmt: skip


def renewed(session: Session, page: Page, step: Check | Remedy) -> Page:
    """The page after something was said of what is off: what the step still takes off, and nothing asked twice."""
    told = putting_back.takes_off(session, step)
    body = tuple(
        replace(line, text=told) if line.text.startswith(putting_back.TAKES_OFF) else line
        for line in page.body
        if told or not line.text.startswith(putting_back.TAKES_OFF)
    )
    return replace(page, body=body)


def due_after(session: Session, remedy: Remedy) -> str:
    """Remedies that an order rule makes due after this one, as a phrase; empty where there are none."""
    catalogue = session.knowledge.catalogue
    names = [
        name for rule in catalogue.order.values() if rule.kind == "do_again" and remedy.id in rule.before
        for name in rule.after if name in session.knowledge.remedies
    ]  # fmt: skip
    return ", ".join(in_sentence(session.knowledge.remedies[name].title) for name in dict.fromkeys(names))


def lead(session: Session, proposal: Step | None) -> str:
    """The leading cause and what this step tells, in one line; empty where nothing can be said."""
    try:
        said = view.leads(session)
    except (ContradictionError, IndexError):
        return ""
    if proposal is None or not proposal.why:
        return said
    first = proposal.why.partition("; ")[0].removesuffix(".")
    return f"{said} {first}{'' if first.endswith('?') else '.'}"
