"""Before the first start of a job, at the terminal: the looks of a few minutes that every set gets, on one page.

Purpose: have oil, leaks and air ways looked at before the engine is run, with one answer where all is as it should be.
Law: what is not as it should be is asked by its own question; nothing is taken as looked at that nobody said to be so.
Not here: which looks these are (see the knowledge), and when they are due (see `Job.first_looks`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from ...engine.compiler import Check
from ...engine.problems import in_sentence
from ..record import complaints
from ..terminal import Back, Choice, Line, Page, minutes, prompts
from . import check_prompt, putting_back, safety, step_page
from .check_prompt import PromptReply
from .session import Session

_NUMBERED = re.compile(r"(\d{1,2})[.:]? [a-z][a-z ]*", re.IGNORECASE)
_ALL = ("y", "yes all of it", "all of it", "all", "all right", "right")


def ready(session: Session, state: str, step: str = "") -> PromptReply | None:
    """Ask the looks that are due before a step in a set-up state, and how it started. None where the step may be gone
    on with at once; "skip" where a look was not right and is not mended, and the step would run the set; "none" where
    what comes next is to be worked out anew. step: its id. Raises Back."""
    unfit = session.job.unfit if session.job.runs(state) else ()
    for name in unfit:
        check = session.job.checks[name]
        session.screen.attention(f"{check.title}: not right. It is put right before the set runs.")
    if unfit:
        return PromptReply("skip")
    if not session.job.runs(state):
        return None
    names = session.job.first_looks
    given = go_through(session, names) if names else None
    asks = [name for name in session.job.asked_of_start if name not in session.passed]
    if given is not None or not asks or step in asks:
        return given
    return _started(session, session.job.checks[asks[0]])


def _started(session: Session, check: Check) -> PromptReply | None:
    """Ask how the set started, before anything is read on it. An answer that is a complaint by itself is kept as one:
    a set that does not start is not read. Raises Back."""
    given = _by_itself(session, check, "First: ")
    if given is None or given.command == "skip":
        session.put_off("check", check.id)
        return None
    if given.command == "unknown":
        session.record(check.id, "unknown")
        return None
    if given.command == "back":
        raise Back
    if given.command:
        return given
    made = next((made for made in session.job.made if made.check == check.id), None)
    found = made.answer.outcomes if made is not None else ()
    for complaint in session.knowledge.complaints.values():
        if complaint.retired is not None or complaint.id in complaints(session.job):
            continue
        if found and set(found) <= set(complaint.says.get(check.id, ())):
            session.record(complaint.id, "present")
            session.screen.line(f"Kept: {complaint.title}.", "green")
            return PromptReply("none")
    return None


def go_through(session: Session, names: Sequence[str]) -> PromptReply | None:
    """Ask these looks on one page. None where all is as it should be, "none" where something was asked by itself, else
    what the technician wants instead. Raises Back, Stop."""
    checks = [session.job.checks[name] for name in names]
    page = _page(session, checks)
    if page is None:
        return PromptReply("skip")
    again = False
    while True:
        text = " ".join(session.present(page, again).split())
        again = True
        wrong = _places(text, len(checks))
        if session.says(text, _ALL):
            wrong = ()
        if wrong is not None:
            for at, check in enumerate(checks):
                if at not in wrong:
                    session.record(check.id, check.normal)
            return _asked(session, [checks[at] for at in wrong]) if wrong else None
        given = check_prompt.command_of(session, text) if text else None
        if given is None:
            session.screen.problem(f'"{text}": expected y, or the numbers of what is not so' if text else "expected y")
        elif given.command == "unknown":
            for check in checks:
                session.record(check.id, "unknown")
            return None
        elif given.command == "how":
            session.sheet(lambda: _how(session, checks))
            again = False
        elif check_prompt.stays(session, given):
            if any(session.job.lacking("check", name) for name in names):
                return PromptReply("none")
            again = False
        elif given.command == "more":
            session.screen.note(
                "y: all of it is so. Else the numbers of what is not, such as 2. s skips, h tells how, z goes back."
            )
        elif given.command == "back":
            raise Back
        else:
            return given


def _places(text: str, count: int) -> tuple[int, ...] | None:
    """What is not so, by its numbers ("2", "all but 2", "2 drips"); all of it after a plain no. None for the rest."""
    if text.lower() in ("n", "no", "none of it"):
        return tuple(range(count))
    text = prompts.all_but(text)
    if (first := _NUMBERED.fullmatch(text)) is not None:
        text = first[1]
    return prompts.numbered(text, count)


def _asked(session: Session, checks: Sequence[Check]) -> PromptReply:
    """The looks that are not as they should be, each by its own question; the step that they come before waits."""
    for check in checks:
        given = _by_itself(session, check, "Before the first start: ")
        if given is None:
            continue
        if given.command == "unknown":
            session.record(check.id, "unknown")
        elif given.command:
            return given
    return PromptReply("none")


def _by_itself(session: Session, check: Check, heading: str) -> PromptReply | None:
    """One look by its own question. None where its dangers are not met."""
    above = step_page.head(session, check, None, heading)
    cautioned = safety.of_step(session, check, putting_back.precautions(session, "check", check.id), above)
    if cautioned is None:
        return None
    page = step_page.of_check(session, check, above, cautioned, "", hint=False)
    return check_prompt.ask(session, check, page, False, cautioned.named)


def _page(session: Session, checks: Sequence[Check]) -> Page | None:
    """One page for all of these looks with their cautions; None where those are not met."""
    name, *status = session.top()
    first = session.knowledge.catalogue.costs.first_start
    said = [
        f"{check.title}: {in_sentence(next(each.brief for each in check.outcomes if each.id == check.normal))}"
        for check in checks
    ]
    body = [Line(text, "", f"{at:2} ", "   ") for at, text in enumerate(said, 1)]
    above = Page(
        top=name, status=tuple(status), body=(*body, Line(first.also)),
        title=f"Before the first start ({minutes(sum(check.minutes for check in checks))})",
    )  # fmt: skip
    cautions: dict[str, tuple[str, str]] = {}
    known: dict[str, None] = {}
    for check in checks:
        found = safety.of_step(session, check, putting_back.precautions(session, "check", check.id), above)
        if found is None:
            return None
        cautions.update({title: (title, text) for title, text in found.new})
        known.update(dict.fromkeys(found.known))
        session.seen.update(found.named)
    return replace(
        above, cautions=tuple(cautions.values()), known=tuple(title for title in known if title not in cautions),
        question="Is all of it so?",
        choices=(
            Choice("y", "yes, all of it"),
            Choice("1 3", "all but these numbers: they are asked next"),
        ),
        keys=(("h", "how"), ("u", "not looked at, go on"), ("s", "skip"), ("z", "back")),
        lead=first.why, commands=check_prompt.LEAVING, fresh=True,
    )  # fmt: skip


def _how(session: Session, checks: Sequence[Check]) -> None:
    for check in checks:
        session.screen.heading(check.title)
        session.screen.numbered(check.how)
