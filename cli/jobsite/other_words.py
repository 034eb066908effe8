"""An answer that is none as it stands: what it may mean, said back, confirmed, and then recorded.

Purpose: the one hook between a check's prompt and the grammar of the engine.
Law: what stands as an answer is taken as it always was; so is what can hardly be meant otherwise and is no danger.
Anything else counts only once it was confirmed. What was read together is recorded together, also where the first of
it holds the job.
Not here: what may be meant (see the engine's `readings.grammar`).
"""

from __future__ import annotations

from collections.abc import Callable

from ...engine import AnswerError, JobError
from ...engine.compiler import Check
from ...engine.readings import (
    Meaning,
    base_of,
    denies,
    difference,
    elsewhere,
    meanings,
    outcome_named,
    same_sense,
    went_to,
)
from ..record import kept_words
from ..terminal import finder
from . import visit_told
from .session import Session

_NONE = "no: type it again"


def is_answer(check: Check, text: str) -> bool:
    """Whether words name an outcome of a check, whole or by what it means."""
    return names_outcome(check, text) or bool(meanings(check, text, {}, {}))


def names_outcome(check: Check, text: str) -> bool:
    """Whether words are the whole text of an outcome, its name or what it means."""
    return outcome_named(check, text.rstrip("?")) is not None


def ways_of(session: Session, check: Check, text: str) -> tuple[Meaning, ...]:
    """What a text may mean at a check of this job that is no answer as it stands."""
    catalogue = session.knowledge.catalogue
    also = catalogue.costs.also_fine.get(check.id, ())
    return meanings(check, text, session.job.features, session.job.checks, catalogue.typed, also, _settled(session))


def _settled(session: Session) -> dict[str, float]:
    """The last readings of one figure on the set as it is now, by check."""
    job = session.job
    read = [made for made in job.made if made.epoch == job.epoch and len(made.answer.values) == 1]
    return {made.check: made.answer.values[0] for made in read}


def record(
    session: Session, check: Check, text: str, plain: Callable[[Session, Check, str], bool]
) -> bool | tuple[str, str]:
    """Record an answer, by `plain` where it stands as one. False where nothing was recorded; a command with its words
    where it was no answer but a sentence about the visit."""
    if (peak := _peak(session, check, text)) is not None:
        return bool(peak) and plain(session, check, peak)
    try:
        session.job.understand(check.id, text)
    except (AnswerError, JobError) as error:
        ways = ways_of(session, check, text)
        if ways:
            return _confirmed(session, text, ways, plain)
        if _measured(session, check, text):
            return bool(session.job.held)
        if (guess := visit_told.guessed(session, text)) is not None:
            return guess
        if _stops_all(session, text) or _of_another(session, check, text):
            return bool(session.job.held)
        refused(session, check, text, error)
        return False
    return plain(session, check, text)


def _stops_all(session: Session, text: str) -> bool:
    """Whether a text says what stops everything, at whatever it was typed: it ran away. It is kept at once."""
    known = session.knowledge.complaints
    phrases = {name: each.phrases for name, each in known.items() if each.retired is None}
    scored = finder.scored(text, phrases, same=session.knowledge.catalogue.same_words)
    if not scored or scored[0][1] < finder.SURE or not known[scored[0][0]].stop_first or denies(text):
        return False
    session.record(scored[0][0], "present", said=text)
    session.screen.line(f"Kept: {known[scored[0][0]].title}.")
    return True


def _peak(session: Session, check: Check, text: str) -> str | None:
    """The answer of a text that says where the speed went and not how far, where no settled reading is known, or where
    it may be either; None where it says no such thing, empty where it is to be typed again."""
    job, reading = session.job, check.reading
    found = went_to(check, text.rstrip("?"), job.features, job.checks)
    if found is None or found[0] is not None or reading is None:
        return None
    extreme, doubt = found[1], "?" if text.endswith("?") else ""
    went = f"{extreme:g} {reading.unit}"
    settled = _settled(session).get(base_of(check))
    if _figure_alone(session, check, text):
        rows = (f"it went to {went}", f"it went {went} away from where it settles", _NONE)
        at = session.choose(f'"{text}": which is it?', rows)
        if at:
            return text if at == 1 else ""
    elif settled is not None and difference(check, settled, extreme) is not None:
        return None  # the grammar says it back
    if settled is None:
        settled, sure = _stood(session, job.checks[base_of(check)], went)
        doubt = doubt if sure else "?"
    away = difference(check, settled, extreme)
    if away is None:
        told = f"understood as {went}, which is not {'above' if reading.above else 'below'} the settled {settled:g}"
        session.screen.problem(f'"{text}": {told} {reading.unit}; expected how far it went')
        return ""
    session.screen.line(f"Understood: {away:.4g} {reading.unit} from the settled {settled:g} {reading.unit}.")
    return f"{away:.4g} {reading.unit}{doubt}"


def _stood(session: Session, base: Check, went: str) -> tuple[float, bool]:
    """The settled reading that a speed went away from, asked and kept, and whether it is sure; the rated one where
    nobody knows it, so that the danger of it is seen."""
    while True:
        given = session.ask(f"It went to {went}. Where did it stand settled? {base.ask}")
        try:
            answer = session.job.understand(base.id, given)
        except (AnswerError, JobError) as error:
            session.screen.problem(str(error))
            continue
        if answer.values:
            session.record(base.id, given, happened=True)
            return answer.values[0], answer.sure
        if not answer.outcomes:
            rated = float(session.job.features["hertz"])
            session.screen.note(f"Counted from the rated {rated:g} Hz, not sure.")
            return rated, False
        session.screen.problem(f'"{given}": expected a figure, or unknown')


def _figure_alone(session: Session, check: Check, text: str) -> bool:
    """Whether a text is a figure that the check takes as it stands."""
    try:
        return bool(session.job.understand(check.id, text).values)
    except (AnswerError, JobError):
        return False


def _measured(session: Session, check: Check, text: str) -> bool:
    """Whether a figure typed at a look belongs to the check that measures what is looked at: said back, and kept there
    where it is confirmed. What was asked is asked again after it."""
    other = session.job.checks.get(check.measured_by)
    if check.reading is not None or other is None or not any(letter.isdigit() for letter in text):
        return False
    if _figure_alone(session, other, text):
        answer, told = text, session.job.understand(other.id, text).text
    else:
        ways = [way for way in ways_of(session, other, text) if len(way.answers) == 1]
        if len(ways) != 1:
            return False
        answer, told = ways[0].answers[0][1], ways[0].told
    asked = f'"{text}" is a reading, and this is a look. It belongs to: {other.title}.'
    if session.choose(asked, (f"yes: keep it there, {told}", "no: leave it")) == 1:
        return True
    try:
        session.record(other.id, answer, happened=True)
    except (AnswerError, JobError) as error:
        session.screen.problem(str(error))
        return True
    session.screen.line(f"Kept: {other.title}, {told}. And what was asked:", "green")
    return True


def _of_another(session: Session, check: Check, text: str) -> bool:
    """Whether what was typed is what another check would find: said back, and kept where it is confirmed. What was
    asked is asked again after it."""
    catalogue, checks = session.knowledge.catalogue, session.job.checks
    used = {name: each for name, each in checks.items() if each.retired is None}
    ways = elsewhere(check, text, used, catalogue.complaints, catalogue.typed)
    if not ways:
        return False
    rows = [f"keep it: {way.told}" for way in ways]
    also = {"y": 0, "yes": 0, "n": 1, "no": 1} if len(ways) == 1 else None
    at = session.choose(f'"{text}" is no answer to this. It may be seen elsewhere:', [*rows, "no: leave it"], also=also)
    if at == len(ways):
        return True
    name, answer = ways[at].answers[0]
    try:
        session.record(name, answer, happened=True)
    except (AnswerError, JobError) as error:
        session.screen.problem(str(error))
        return True
    session.screen.line(f"Kept: {checks[name].title}, {answer.replace('_', ' ')}. And what was asked:", "green")
    return True


def refused(session: Session, check: Check, text: str, error: Exception) -> None:
    """Say why an answer is none, with the one that it is the start of. What alone is proposed, y takes right then."""
    names = [each.id.replace("_", " ") for each in check.outcomes]
    near = [at for at, name in enumerate(names, 1) if name.startswith(text.lower()) and same_sense(text, name)]
    one = check.outcomes[near[0] - 1].id if len(near) == 1 else ""
    told, meant = str(error), error.meant if isinstance(error, AnswerError) else ""
    if one and one != meant:
        told, meant = f"{told}; did you mean {near[0]}, {one.replace('_', ' ')}?", "" if meant else one
    session.screen.problem(told)
    session.offered = meant


def _confirmed(
    session: Session, text: str, ways: tuple[Meaning, ...], plain: Callable[[Session, Check, str], bool]
) -> bool:
    screen = session.screen
    twice = session.gated and len(text) == 1
    if len(ways) == 1 and ways[0].plain and not twice and not session.job.dangerous(*ways[0].answers[0]):
        ((name, answer),) = ways[0].answers
        return plain(session, session.job.checks[name], answer)
    asked = f'"{text}": understood as' if len(ways) == 1 else f'"{text}" may be one of these:'
    rows = [way.told for way in ways]
    if len(ways) == 1:
        rows[0] = f"yes: {rows[0]}"
    at = session.choose(asked, [*rows, _NONE], also={"y": 0, "n": len(rows)} if len(ways) == 1 else None)
    if at == len(ways):
        return False
    checks = session.job.checks
    if len(ways[at].answers) == 1:
        name, answer = ways[at].answers[0]
        return plain(session, checks[name], answer)
    for name, answer in ways[at].answers:
        try:
            session.record(name, answer, happened=True)
        except (AnswerError, JobError) as error:
            screen.problem(str(error))
            continue
        made = next(made for made in session.job.made if (made.check, made.epoch) == (name, session.job.epoch))
        screen.line(f"Kept: {checks[name].title}, {kept_words(session.job, made)}.", "green")
    _which_swing(session, ways[at], plain)
    return True


def _which_swing(session: Session, way: Meaning, plain: Callable[[Session, Check, str], bool]) -> None:
    """What kind of swing it is, where the figure leaves that open and the set may go on."""
    for name, answer in way.answers:
        made = next(made for made in session.job.made if (made.check, made.epoch) == (name, session.job.epoch))
        if len(made.answer.outcomes) > 1 and not session.job.held:
            plain(session, session.job.checks[name], answer)
