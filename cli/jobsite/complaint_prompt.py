"""What the trouble is, in the customer's words: found, confirmed, kept, one or several.

Purpose: complaints by words, by a list, or by several numbers of it ("6 4"); two that cannot both be are asked about.
Law: what was only near is never kept unless its number is given; what is none of ours is said to be.
Not here: how words are compared (see `terminal.finder`), and which complaints exclude each other (see the knowledge).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ...engine.compiler import Complaint
from ...engine.readings import denies
from ..record import complaints
from ..terminal import Back, finder
from . import check_prompt, setting, visit_told
from .session import Session

_OTHER = "none of these: other words"
_SOME = ("y", "something", "something else")
_NO_MORE = ("n", "none", "nothing", "nothing else", "nothing more", "no more", "that is all", "that's all", "that's it")
"""What answers "Anything else?" and is no complaint."""


def complaint(session: Session, words: str) -> None:
    """Find one or more complaints by words, or from the list, and record them."""
    usable = _usable(session)
    session.step = ("complaint", "")
    phrases = {name: each.phrases for name, each in usable.items()}
    stood, said = _complaints_told(session), words
    more = len(session.job.standing) > 1 and bool(complaints(session.job)) and not words
    while True:
        if not words:
            taken = _complaints_told(session) > stood
            try:
                words = _asked(session, usable, taken or more)
            except Back:
                if not taken:
                    raise
                session.unsay()  # to the list that the last one was taken of
                words = said
                continue
            try:
                if _no_trouble(session, words, taken or more):
                    return
            except Back:
                words = ""
                continue
            told = _of_the_trouble(session, words, phrases)
            if told is None:
                words = ""
                continue
            said, words = words, told
        scored = finder.scored(words, phrases, same=session.knowledge.catalogue.same_words) if words else []
        if words and (not scored or scored[0][1] < finder.SURE) and (guess := visit_told.guessed(session, words)):
            check_prompt.stays(session, check_prompt.PromptReply(*guess))
            words = ""
            continue
        found = _listed(session, words, scored, usable)
        try:
            chosen = _chosen(session, found, words)
        except Back:
            words = ""
            continue
        words = ""
        if _kept(session, chosen, said):
            return


def _asked(session: Session, usable: Mapping[str, Complaint], further: bool) -> str:
    """The words typed where the trouble is asked for. further: one was told already. Raises Back."""
    asked = "Anything else? A few words, or Enter to go on."
    if not further:
        asked = "What is the trouble? A few words, or Enter for the list. "
        asked += "Nothing wrong, all to be set: set in order."
    told = "Say what it does and when, as the customer says it: hunts with no load. Enter alone: the list."
    return session.ask(asked, words=[each.title for each in usable.values()], told=told)


def _no_trouble(session: Session, words: str, further: bool) -> bool:
    """Whether the words ask for no complaint: nothing more, or the set is set in order, which begins. Raises Back."""
    if not further:
        if setting.asked_for(session, words):
            setting.begin(session)
            return True
    elif not words or session.says(words, _NO_MORE):
        session.put_off("complaint", "")
        return True
    return False


def _of_the_trouble(session: Session, words: str, phrases: Mapping[str, Sequence[str]]) -> str | None:
    """What the words say of the trouble, empty where the list is asked for; None where they say something else, which
    is seen to here."""
    if session.says(words, _SOME):
        session.screen.note("Say it in a few words, as the customer does: hunts with no load.")
        return None
    if not words:
        return ""
    return None if _command(session, words, phrases) else _beside(session, words) or None


def _listed(
    session: Session, words: str, scored: Sequence[tuple[str, float]], usable: Mapping[str, Complaint]
) -> list[Complaint]:
    """The complaints to choose from: those that the words come near to, or all. What is not sure is said."""
    found, screen = [usable[name] for name, _ in scored], session.screen
    if not words:
        return list(usable.values())
    if not found:
        screen.problem(f'nothing like "{words}" is known; here is all of it')
        return list(usable.values())
    if scored[0][1] < finder.SURE:
        screen.note(f'"{words}" is no complaint for sure; the nearest are:')
    elif denies(words) and not any(map(denies, found[0].phrases)):
        screen.note(f'"{words}" denies it; take one only if the set does it:')
    return found


def _kept(session: Session, chosen: Sequence[Complaint], said: str) -> bool:
    """Record those chosen, once they agree with what stands. Returns whether one of them stops everything else."""
    for each in chosen:
        try:
            kept = agrees(session, each)
        except Back:
            return False
        if kept:
            own = "" if said.lower() in ("", each.id, each.title.lower()) else said
            session.record(each.id, "present", said=own)
            session.screen.line(f"Kept: {each.title}.", "green")
            if each.stop_first:
                return True
    return False


def _complaints_told(session: Session) -> int:
    return sum(event.kind == "complaint" for event in session.job.standing)


def _beside(session: Session, words: str) -> str:
    """What is said of the trouble, after what the same line says of the visit was kept clause by clause."""
    clauses = [clause for clause in visit_told.CLAUSES.split(words) if clause]
    told = [clause for clause in clauses if len(clauses) > 1 and visit_told.command(session, clause) is not None]
    for clause in told:
        session.screen.note(f'"{clause}":')
        _command(session, clause)
    return ", ".join(clause for clause in clauses if clause not in told) if told else words


def _usable(session: Session) -> Mapping[str, Complaint]:
    return {
        name: each for name, each in session.knowledge.complaints.items()
        if each.retired is None and all(check in session.job.checks for check in each.says)
    }  # fmt: skip


def _command(session: Session, words: str, phrases: Mapping[str, Sequence[str]] | None = None) -> bool:
    """Do a command that can be given where complaints are asked for. Returns whether it was one: what fits the
    phrases of a complaint better than anything that may have been done before is a complaint."""
    given = check_prompt.command_of(session, words)
    if given is None or (len(words) > 1 and given.command not in ("stop", "off", "without", "come", "before")):
        return False
    if given.command not in ("stop", "note", "list", "off", "without", "come", "before"):
        return False
    if given.command == "before" and phrases:
        scored = finder.scored(words, phrases, same=session.knowledge.catalogue.same_words)
        if scored and scored[0][1] >= max(finder.SURE, visit_told.how_surely_done(session, words)):
            return False
    check_prompt.stays(session, given)
    return True


def _chosen(session: Session, found: Sequence[Complaint], words: str) -> list[Complaint]:
    """Those taken of a list: by one number, by a title, or by several numbers."""
    typed = words.lower()
    exact = next((at for at, each in enumerate(found) if typed in (each.id, each.title.lower())), None)
    rows = [f"{each.title}: {each.brief}" for each in found] + [_OTHER]
    taken = session.choose_several("", rows, len(found), exact)
    return [found[at] for at in taken if at < len(found)]


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
