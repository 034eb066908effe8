"""What somebody says that happened, as an event.

Purpose: ids, answers and results as they are given, each held against the knowledge -> the event that keeps it.
Law: pure; changes nothing, and an error shows what was given and says what was expected.
Not here: what the event does (see `state`), what is refused while the job is held (see `job`), and whether an event
from a file fits the set (see `event_fit`).
"""

from __future__ import annotations

from collections.abc import Iterable

from ..compiler import Knowledge
from ..problems import AnswerError, printable, quoted, shown
from ..readings import UNKNOWN_WORDS, Answer
from .event import COMPLAINT_ANSWERS, PROOFS, RESULTS, Event, JobError, in_use, unknown
from .event_fit import must_fit
from .generating_set import GeneratingSet


def complained(knowledge: Knowledge, name: str, answer: str, said: str = "") -> tuple[Event, Answer]:
    """A complaint with one of COMPLAINT_ANSWERS, and how that was understood. said: in whose words it was.

    Raises JobError for a complaint that is not in use, AnswerError for another answer.
    """
    if not in_use(name, knowledge.complaints):
        raise unknown("complaint", name, knowledge.complaints)
    understood = " ".join(str(answer).lower().split())
    if understood in UNKNOWN_WORDS:
        understood = "unknown"
    if understood not in COMPLAINT_ANSWERS:
        wanted = ", ".join(COMPLAINT_ANSWERS)
        raise AnswerError(f'"{shown(str(answer))}" is no answer to a complaint; expected {wanted}')
    event = Event("complaint", name, understood, cells={"said": said} if said else {})
    return event, Answer((understood,) if understood != "unknown" else (), text=understood)


def mended(knowledge: Knowledge, remedy: str, result: str, left: Iterable[str] = ()) -> Event:
    """A remedy with one of RESULTS. left: the steps of it that were not done, in their words. Raises JobError."""
    if not in_use(remedy, knowledge.remedies):
        raise unknown("remedy", remedy, knowledge.remedies)
    if result not in RESULTS:
        raise JobError(f'"{shown(str(result))}" is no result; expected {", ".join(RESULTS)}')
    told = "; ".join(left)
    return Event("remedy", remedy, result, cells={"left": told} if told else {})


def proven(result: str) -> Event:
    """A proof run with one of PROOFS. Raises JobError."""
    if result not in PROOFS:
        raise JobError(f"{quoted(str(result))} is no result of a proof run; expected {', '.join(PROOFS)}")
    return Event("proof", answer=result)


def fitting(knowledge: Knowledge, kind: str, name: str, answer: str = "") -> Event:
    """A fitting that comes off or goes on. kind: taken_off or put_back. Raises JobError."""
    known = knowledge.catalogue.fittings
    if name not in known:
        raise unknown("fitting", name, known)
    return Event(kind, name, answer)


def done_before(
    genset: GeneratingSet, standing: Iterable[Event], name: str, answer: str
) -> tuple[Event, Answer | None]:
    """A remedy or a check of somebody who was there before; with how the answer to a check was understood, which is
    never sure. Raises JobError, AnswerError."""
    if name not in genset.knowledge.checks:
        event = Event("before", name, answer)
        must_fit(event, genset, standing)
        return event, None
    text = str(answer).strip().rstrip("?").strip()
    read = genset.understand(name, f"{text}?")
    return Event("before", name, f"{text}?" if read.outcomes else "unknown"), read


def stands(knowledge: Knowledge, found: str) -> Event:
    """How the set stands: an id of the knowledge's `found`, or one of its other names. Raises JobError."""
    known = knowledge.catalogue.costs.found
    wanted = " ".join(str(found).lower().replace("_", " ").split())
    named = next((name for name, each in known.items() if wanted in each.names), None)
    if named is None:
        raise JobError(f"{quoted(str(found))} is no way a set stands; expected {', '.join(known)}")
    return Event("stands", named)


def secured(who: str) -> Event:
    """The set is shut down and its throttle was proven to close. who: the one who says so. Raises JobError."""
    name = " ".join(printable(str(who)).split())[:60].strip()
    if not name:
        raise JobError("nobody is named; expected the name of the one who shut the set down and proved the throttle")
    return Event("secured", answer=name)


def taken_out(standing: list[Event], event: Event, mistake: str) -> list[Event]:
    """The steps back to one event that stands, and what came after it again. mistake: answer of the step back that
    takes it back itself. Raises JobError where there is no such event."""
    at = max((place for place, other in enumerate(standing) if place and other == event), default=0)
    if not at:
        raise JobError(f"there is no {event.kind} {quoted(event.id)} to take back")
    later = standing[at + 1 :]
    return [*[Event("step_back")] * len(later), Event("step_back", answer=mistake), *later]
