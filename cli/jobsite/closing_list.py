"""The closing list at the terminal: what is seen to last, on one screen, before the technician leaves.

Purpose: ask once of all that is still off and of all that this job calls for whether it is so.
Law: nothing counts as seen to that was not said to be so; what is not so, or was not gone through, stands in the
record.
Not here: what belongs on the list (see the engine's `closing_list`).
"""

from __future__ import annotations

from collections.abc import Sequence

from ...engine.job import closing_list, seen_to
from ..terminal import BACK_WORDS, STOP_WORDS, Back, Choice, Line, Page, Stop, prompts
from .session import Session

_SKIP = ("s", "skip", "later")
_NONE = ("n", "no", "none", "none of it")


def go_through(session: Session) -> None:
    """Ask the list, unless it was gone through since anything was last done. Raises Back, Stop."""
    names = [name for name in closing_list(session.job) if name not in seen_to(session.job)]
    if not names:
        return
    open_points = _not_so(session, names)
    if open_points is None:
        session.screen.note("The list was not gone through; the record says so.")
        return
    if open_points:
        session.screen.attention("What is not so stands in the record under what is left open.")
    for at, name in enumerate(names):
        session.leave(name, at not in open_points)
        if name in session.knowledge.catalogue.fittings and at not in open_points:
            session.put_back(name)


def _not_so(session: Session, names: Sequence[str]) -> tuple[int, ...] | None:
    """The places of what is not so; None where the list was put off."""
    catalogue = session.knowledge.catalogue
    asked = [
        catalogue.fittings[name].question if name in catalogue.fittings else catalogue.closing[name].title
        for name in names
    ]
    page = Page(
        title="Before you leave",
        body=tuple(Line(text, "", f"{at:2} ", "   ") for at, text in enumerate(asked, 1)),
        question="Is all of it so?" if len(asked) > 1 else "Is it so?",
        choices=(
            Choice("y", "yes, all of it"),
            Choice("n", "no, none of it"),
            *((Choice("2 5", "all but these numbers"),) if len(asked) > 1 else ()),
            Choice("s", "not gone through"),
        ),
        commands=frozenset((*STOP_WORDS, *BACK_WORDS)), fresh=True,
    )  # fmt: skip
    again = False
    while True:
        text = prompts.all_but(session.present(page, again).strip().lower())
        again = True
        if session.says(text, ("y", "yes all of it", "all of it", "all")):
            return ()
        if text in _NONE:
            return tuple(range(len(asked)))
        if text in _SKIP:
            return None
        if text in STOP_WORDS:
            raise Stop
        if text in BACK_WORDS:
            raise Back
        if (places := prompts.numbered(text, len(asked))) is not None:
            return places
        session.screen.problem(f'"{text}": expected y, the numbers of what is not so, or s' if text else "expected y")
