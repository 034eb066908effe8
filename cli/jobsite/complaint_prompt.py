"""What the trouble is, in the customer's words: found, confirmed, kept, one or several.

Purpose: complaints by words, by a list, or by several numbers of it ("6 4"); two that cannot both be are asked about.
Law: what was only near is never kept unless its number is given; what is none of ours is said to be.
Not here: how words are compared (see `terminal.finder`), and which complaints exclude each other (see the knowledge).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from ...engine.compiler import Complaint
from ..record import complaints
from ..terminal import BACK_WORDS, STOP_WORDS, Back, Choice, Page, Stop, finder, position
from . import check_prompt, setting, visit_told
from .session import Session

_OTHER = "none of these: other words"


def complaint(session: Session, words: str) -> None:
    """Find one or more complaints by words, or from the list, and record them."""
    screen, usable = session.screen, _usable(session)
    phrases = {name: (each.title, each.brief, *each.synonyms) for name, each in usable.items()}
    taken = 0
    while True:
        if not words:
            asked = "Anything else? A few words, or Enter to go on."
            if not taken:
                asked = "What is the trouble? A few words, or Enter for the list. "
                asked += "Nothing wrong, all to be set: set in order."
            words = session.ask(asked, words=[each.title for each in usable.values()])
            if not taken and setting.asked_for(words):
                setting.begin(session)
                return
            if not words and taken:
                return
            if _command(session, words):
                words = ""
                continue
        scored = finder.scored(words, phrases, same=session.knowledge.catalogue.same_words) if words else []
        found = [name for name, _ in scored] if words else list(usable)
        if not found:
            screen.problem(f'nothing like "{words}" is known; here is all of it')
            found = list(usable)
        elif words and scored[0][1] < finder.SURE:
            screen.note(f'"{words}" is no complaint for sure; the nearest are:')
        try:
            chosen = _chosen(session, [usable[name] for name in found], words)
        except Back:
            words = ""
            continue
        words = ""
        for each in chosen:
            if agrees(session, each):
                session.record(each.id, "present")
                taken += 1
                screen.line(f"Kept: {each.title}.", "green")
                if each.stop_first:
                    return


def _usable(session: Session) -> Mapping[str, Complaint]:
    return {
        name: each for name, each in session.knowledge.complaints.items()
        if each.retired is None and all(check in session.job.checks for check in each.says)
    }  # fmt: skip


def _command(session: Session, words: str) -> bool:
    """Do a command that can be given where complaints are asked for. Returns whether it was one."""
    given = check_prompt.command_of(words)
    if given is None or (len(words) > 1 and given.command not in ("stop", "without", "come", "before")):
        return False
    if given.command not in ("stop", "note", "list", "without", "come", "before"):
        return False
    if given.command == "without" and not visit_told.names_a_tool(session, given.rest):
        return False  # "no power" is a complaint
    check_prompt.stays(session, given)
    return True


def _chosen(session: Session, found: Sequence[Complaint], words: str) -> list[Complaint]:
    """Those taken of a list: by one number, by a title, or by several numbers."""
    screen, typed = session.screen, words.lower()
    exact = next((at for at, each in enumerate(found) if typed in (each.id, each.title.lower())), None)
    rows = [f"{each.title}: {each.brief}" for each in found] + [_OTHER]
    if len(found) > 1:
        screen.note("Several? Their numbers, such as 2 1")
    choices = tuple(
        Choice(str(number), text + (" (Enter)" if exact == number - 1 else "")) for number, text in enumerate(rows, 1)
    )
    page = Page(choices=choices, words=tuple(rows), commands=frozenset((*STOP_WORDS, *BACK_WORDS)))
    again = False
    while True:
        given = session.present(page, again)
        again = True
        if given.lower() in BACK_WORDS:
            raise Back
        if given.lower() in STOP_WORDS:
            raise Stop
        if (numbers := several(given, len(found))) is not None:
            return [found[at] for at in numbers]
        if (at := position(given, rows, exact)) is not None:
            return [found[at]] if at < len(found) else []
        numbers_read = re.findall(r"\d+", given)
        read = f", understood as the numbers {' and '.join(numbers_read)}" if len(numbers_read) > 1 else ""
        screen.problem(f'"{given}"{read}: expected 1 to {len(rows)}' if given else f"expected 1 to {len(rows)}")


def several(given: str, count: int) -> tuple[int, ...] | None:
    """Places by two or more numbers ("6 4", "6, 4", "6 and 4"), each once; None for anything else."""
    if not re.fullmatch(r"\d{1,4}(?:\s*(?:,|;|\+|&|and)\s*\d{1,4}|\s+\d{1,4})+", given.strip(), re.IGNORECASE):
        return None
    numbers = [int(each) for each in re.findall(r"\d+", given)]
    if not all(1 <= number <= count for number in numbers):
        return None
    return tuple(dict.fromkeys(number - 1 for number in numbers))


def agrees(session: Session, new: Complaint) -> bool:
    """Whether a complaint is kept beside those that stand; one that cannot be true as well is asked about."""
    known = session.knowledge.complaints
    for name, answer in complaints(session.job).items():
        if answer != "present" or name == new.id or not (name in new.excludes or new.id in known[name].excludes):
            continue
        asked = f"{known[name].title}, and now: {new.title}. Of one set both cannot be so. Which is it?"
        rows = (f"{new.title}; not the first", f"{known[name].title}; not the second", "both are said: keep both")
        at = session.choose(asked, rows)
        if at == 0:
            session.record(name, "unknown")
        elif at == 1:
            return False
    return True
