"""What is off on the set, at the terminal: put back before the set runs, off already as found.

Purpose: the question that proves a fitting back on, asked before any step that needs it on.
Law: nothing that needs a fitting on is gone on with before its question is answered with yes, and a yes is kept in the
record before the step. "No, it is still off" changes nothing.
Not here: what is off, and what must be on (see `job.fittings`); what is still off at the end (see `closing_list`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from ...engine import JobError
from ...engine.compiler import Check, Remedy
from ...engine.job import of_step
from ...engine.problems import close_to, quoted
from ..terminal import BACK_WORDS, STOP_WORDS, Back, Choice, Line, Page, Stop, finder
from .session import Session

ALL = "all"
TAKES_OFF = "Takes off: "
_YES = ("y", "yes", "on", "back on", "all on", "all back on", "all of it", "yes on", "yes back on")
_NO = (
    "n",
    "no",
    "off",
    "still off",
    "not yet",
    "not on",
    "no still off",
    "no, still off",
    "no, still off: another step",
)


def ready(
    session: Session, kind: str, name: str, command: Callable[[Session, str], object] = lambda session, text: None
) -> str:
    """Ask whether everything is on that a step needs, where that is not known. Empty where it is.

    Else what the technician said: "skip", it is still off, or the text of a command. command: whether a text is one.
    """
    first = session.job.to_put_back(kind, name)
    if not first:
        return ""
    screen, fittings = session.screen, session.knowledge.catalogue.fittings
    page = Page(
        title="Before this, back on",
        body=tuple(Line(fittings[fitting].question, "bold", "  - ") for fitting in first),
        question="Is it so?" if len(first) == 1 else "Is all of it so?",
        choices=(Choice("y", "yes"), Choice("n", "no, still off: another step")),
        words=("yes", "no"), fresh=True,
    )  # fmt: skip
    again = False
    while True:
        text = session.present(page, again)
        again = True
        if text.lower() in BACK_WORDS:
            raise Back
        if text.lower() in STOP_WORDS:
            raise Stop
        if session.says(text, _YES):
            for fitting in first:
                session.put_back(fitting)
            return ""
        if session.says(text, _NO):
            session.still_off = len(session.job.events)
            return "skip"
        if text and command(session, text) is not None:
            return text
        screen.problem("expected y or n, or a key such as o for another step")


def precautions(session: Session, kind: str, name: str) -> tuple[str, ...]:
    """The cautions of a step as the set stands; those of a proof run come with its readings."""
    off = [each.fitting for each in session.job.off]
    return of_step(session.knowledge.catalogue, kind, name, off, proof=False, risks=session.job.risks)


def takes_off(session: Session, step: Check | Remedy) -> str:
    """What a step takes off that is on, as a line for the screen; empty where it takes nothing off."""
    off = {each.fitting for each in session.job.off}
    fittings = session.knowledge.catalogue.fittings
    named = [fittings[name].title.lower() for name in step.fits.takes_off if name not in off]
    return f"{TAKES_OFF}{', '.join(named)}. Was it off already when you came? Type t." if named else ""


def as_found(session: Session, words: str, step: Check | Remedy | None) -> None:
    """Keep that something was off or open already when the technician came."""
    fittings, screen = session.knowledge.catalogue.fittings, session.screen
    off = {each.fitting for each in session.job.off}
    back = {event.id for event in session.job.standing if event.kind == "put_back"}
    own = [name for name in (step.fits.takes_off if step else ()) if name not in off | back]
    left = [name for name in fittings if name not in off | back]
    if words:
        found = finder.find(words, {name: (fittings[name].title, name) for name in left})
        if not found:
            screen.problem(f'nothing like "{words}" is on the set; here is all of it')
    else:
        found = own
    if step and not words and not own and back & {*step.fits.takes_off}:
        titles = ", ".join(fittings[name].title for name in step.fits.takes_off if name in back)
        screen.problem(f"{titles}: was put back on in this job, so it is not off as found.")
        return
    found = found or left
    if not found:
        screen.problem("Everything that is known is off already.")
        return
    taken: tuple[int, ...] = (0,)
    exact = words in found or words.lower() in (fittings[name].title.lower() for name in found)
    if len(found) > 1 or not (exact if words else own):
        rows = [fittings[name].title for name in found]
        asked = "What was off or open when you came?"
        taken = session.choose_several(asked, [*rows, "none of these"], len(rows), len(rows))
    for name in (found[at] for at in taken if at < len(found)):
        session.take_off(name, as_found=True)
        screen.line(f"Kept: {fittings[name].title}, off as found.", "green")


def known(session: Session, option: str, names: Sequence[str]) -> list[str]:
    """The fittings that an option names. Raises JobError."""
    fittings = session.knowledge.catalogue.fittings
    for name in names:
        if name not in fittings and not (option == "--put-back" and name == ALL):
            hint = close_to(name, fittings, f"one of: {', '.join(fittings)}")
            raise JobError(f"{option} {quoted(name)}: no such fitting; {hint}")
    return list(names)


def without_asking(session: Session, first: Iterable[str], step: str, given: Sequence[str]) -> None:
    """Put back what a step needs on, where the options say that it is on. Raises JobError where they do not."""
    fittings = session.knowledge.catalogue.fittings
    needed = list(first)
    if missing := [name for name in needed if name not in given and ALL not in given]:
        asked = " ".join(fittings[name].question for name in missing)
        options = " ".join(f"--put-back {name}" for name in missing)
        raise JobError(f"{step}: not before this is back on: {', '.join(missing)}. {asked} If so, give {options}")
    for name in needed:
        session.put_back(name)
