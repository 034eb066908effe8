"""What is told of the visit: tools that are not there, what has come, and what somebody did before.

Purpose: "no vacuum pump", "the load bank has come", "I have already cleaned the air filter", in one line.
Law: what is told is looked for among tools, or among remedies, fittings and checks; nothing is kept before it was said
back and confirmed. It takes no minutes.
Not here: what follows from it (see the engine's `job.equipment`, `job.diagnosis`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from difflib import get_close_matches

from ...engine import AnswerError, ContradictionError, JobError
from ...engine.job import instead
from ...engine.readings import visit_command, visit_guess
from ..terminal import finder
from .session import Session

_NONE = "none of these"
_MOST = 5
_NEAR = 0.8
"""From here on a name is the same with a slip of the finger (ratio of difflib)."""
_DONE = re.compile(
    r"^(?:i|we|he|she|they|somebody|someone|the (?:owner|customer|last man)|owner|customer)\s+"
    r"(?:(?:has|have|had|did|is|was|were)\s+)?(?:(?:already|just)\s+)?",
    re.IGNORECASE,
)
_DULL = re.compile(r"\b(?:already|before i came|last week|yesterday|is|are|was|were|been|has|have|just|today)\b", re.I)
_OFF = re.compile(r"\b(?:off|took|taken|removed|disconnected|unhooked)\b", re.IGNORECASE)
_NO = re.compile(r"^(?:there is |there's |i have |we have |have |got )?no\s+", re.IGNORECASE)
_ABSENT = re.compile(r"\s+(?:is |are )?(?:not here|isn't here|missing|broken|at the shop|not allowed|forbidden)$", re.I)


def command(session: Session, text: str) -> tuple[str, str] | None:
    """(command, its words) of a sentence about the visit that is about something known; None where it is none."""
    told = visit_command(session.knowledge.catalogue, text)
    if told is None or told[0] == "before" or not told[1]:
        return told
    catalogue = session.knowledge.catalogue
    if told[0] == "off":
        return told if fits_on(session, told[1]) else None
    names = [name for each, tool in catalogue.tools.items() for name in (each, *tool.names)]
    return told if get_close_matches(told[1], names, 1, _NEAR) else None


def fits_on(session: Session, words: str) -> bool:
    """Whether words name something that comes off the set and goes back on."""
    fittings = session.knowledge.catalogue.fittings
    best = finder.scored(words, {name: (each.title,) for name, each in fittings.items()}, 1)
    return words in fittings or bool(best and best[0][1] >= finder.SURE)


CLAUSES = re.compile(r"\s*(?:[,;]|\.\s|\band\b|\bbut\b)\s*", re.IGNORECASE)


def several(session: Session, text: str) -> tuple[tuple[str, str], ...]:
    """(command, its words) of each clause, where a line is two or more sentences about the visit; else none."""
    clauses = [clause for clause in CLAUSES.split(text) if clause]
    if len(clauses) < 2:
        return ()
    told = [each for clause in clauses if (each := command(session, clause)) is not None]
    return tuple(told) if len(told) == len(clauses) else ()


def guessed(session: Session, text: str) -> tuple[str, str] | None:
    """(command, its words) of a text that may be a sentence about the visit, once that is confirmed; None for none."""
    guess = visit_guess(session.knowledge.catalogue, text)
    if guess is None:
        return None
    told = {
        "without": f"not here today: {guess[1]}",
        "come": f"here now: {guess[1]}",
        "off": "something was off or open already when you came",
        "before": "something was done before you came",
    }
    rows = (f"yes: {told[guess[0]]}", "no: something else")
    return guess if session.choose(f'"{text}": understood as', rows) == 0 else None


def not_here(session: Session, words: str) -> None:
    """Keep that a tool is not there today, or that the set must not be loaded."""
    tools = session.knowledge.catalogue.tools
    said = _ABSENT.sub("", _NO.sub("", words.strip())).strip()
    left = [each for each in tools if each not in session.job.absent]
    for name in _tools(session, said, left, "Which is not here today?"):
        session.not_here(name)
        session.screen.line(f"Kept: {tools[name].title}, not here today. Steps that need it wait.", "green")
        others = [tools[other].title for other in tools[name].goes_with if other not in session.job.absent]
        if others:
            session.screen.note(f"Missing too? Say so: {' or '.join(f'no {other}' for other in others)}.")


def ask_instead(session: Session, kind: str, name: str) -> None:
    """Whether what would do as well is there, where a step that is asked now could be done with it; else the same step
    would only come again. Raises Back."""
    tools = session.knowledge.catalogue.tools
    found = instead(session.knowledge.catalogue, kind, name, session.job.absent)
    if not found:
        return
    titles = " or ".join(tools[each].title.lower() for each in found)
    if session.choose(f"It can be done with: {titles}. Is that here?", ("yes", "no: this step waits")) == 1:
        for each in found:
            session.not_here(each)


def has_come(session: Session, words: str) -> None:
    """Keep that a tool that was not there has come."""
    absent = session.job.absent
    if not absent:
        session.screen.problem("Nobody said that anything is not here.")
        return
    said = re.sub(
        r"^(?:the|a|my)\s+|\s+(?:has|have|is|are)\s+(?:come|arrived|here(?: now)?)$", "", words.strip(), flags=re.I
    )
    said = re.sub(r"\s+(?:has come|has arrived|arrived|is here)$", "", said, flags=re.I)
    for name in _tools(session, said, absent, "Which has come?"):
        session.has_come(name)
        session.screen.line(f"Kept: {session.knowledge.catalogue.tools[name].title}, here now.", "green")


def _tools(session: Session, said: str, among: Sequence[str], question: str) -> list[str]:
    """The tools that are meant, confirmed where one was not named whole."""
    tools, screen = session.knowledge.catalogue.tools, session.screen
    exact = [each for each in among if said.lower() in (each, *tools[each].names)]
    if exact:
        return exact[:1]
    found = finder.find(said, {each: tools[each].names for each in among}, _MOST) if said else []
    if said and not found:
        screen.problem(f'nothing that work takes is like "{said}"')
        return []
    if not found:
        named = {text.lower() for text in _next_tools(session)}
        found = [each for each in among if each in session.job.absent or named & set(tools[each].names)]
        found = found or list(among)[:_MOST]
    taken = session.choose_several(question, [*(tools[each].title for each in found), _NONE], len(found))
    return [found[at] for at in taken if at < len(found)]


def _next_tools(session: Session) -> list[str]:
    """What the steps take that are proposed now."""
    try:
        steps = session.job.next_steps(_MOST)
    except ContradictionError:
        return []
    checks = [session.job.checks[step.id].tools for step in steps if step.kind == "check"]
    remedies = [session.knowledge.remedies[step.id].tools for step in steps if step.kind == "remedy"]
    return [tool for tools in (*checks, *remedies) for tool in tools]


def done_before(session: Session, words: str) -> None:
    """Keep what somebody did before the technician came: a remedy, something taken off, or a check."""
    screen, knowledge = session.screen, session.knowledge
    if not words:
        words = session.ask("What was done before you came? A few words.")
    found = _told_done(session, words)
    if _OFF.search(words):  # what was taken off stands first
        found.sort(key=lambda item: item[0] not in knowledge.catalogue.fittings)
    names = [name for name, _ in found][:_MOST]
    if not names:
        screen.problem(f'nothing like "{words}" is known; keep it as a note: n {words}')
        return
    rows = [_row(session, name) for name in names]
    for at in session.choose_several(f'"{words}" means:', [*rows, _NONE], len(names)):
        if at < len(names):
            _keep_done(session, names[at], rows[at])


def how_surely_done(session: Session, words: str) -> float:
    """How well words fit the best of what may have been done before, 0 to 1."""
    return max((fits for _, fits in _told_done(session, words)), default=0.0)


def _told_done(session: Session, words: str) -> list[tuple[str, float]]:
    said = " ".join(_DULL.sub(" ", _DONE.sub("", words)).split())
    return finder.scored(said, _phrases(session), 12, session.knowledge.catalogue.same_words) if said else []


def _keep_done(session: Session, name: str, told: str) -> None:
    answer = _result(session, name)
    if answer is None:
        return
    try:
        session.done_before(name, answer)
    except (AnswerError, JobError) as error:
        session.screen.problem(str(error))
        return
    session.screen.line(f"Kept: {told[0].upper()}{told[1:]}; no minutes.", "green")


def _phrases(session: Session) -> Mapping[str, Sequence[str]]:
    knowledge, off = session.knowledge, {each.fitting for each in session.job.off}
    remedies = {name: each for name, each in knowledge.remedies.items() if each.retired is None}
    return {
        **{name: (each.title, each.brief) for name, each in remedies.items()},
        **{name: (each.title,) for name, each in knowledge.catalogue.fittings.items() if name not in off},
        **{name: (each.title,) for name, each in session.job.checks.items() if each.retired is None},
    }


def _row(session: Session, name: str) -> str:
    knowledge = session.knowledge
    if name in knowledge.catalogue.fittings:
        return f"{knowledge.catalogue.fittings[name].title}: off as found"
    if name in knowledge.checks:
        return f"{knowledge.checks[name].title}: looked at before"
    return f"{knowledge.remedies[name].title}: done before"


def _result(session: Session, name: str) -> str | None:
    """The answer that goes with it; None where it is not to be kept."""
    if name in session.knowledge.checks:
        check = session.knowledge.checks[name]
        rows = [outcome.id.replace("_", " ") for outcome in check.outcomes]
        at = session.choose("What did they find?", [*rows, "not told: leave it"])
        return check.outcomes[at].id if at < len(rows) else None
    return "unknown"
