"""Readings taken in a row at the terminal: the proof run, what is missing for a verdict, and the set as found.

Purpose: ask several readings one after the other, with their cautions, and then whether the trouble is gone.
Law: every reading may be skipped and is kept as it comes; an overspeed ends the row at once.
Not here: what the readings say of the set (see `condition`), and which of them a remedy or a verdict needs.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from ...engine import Job
from ...engine.compiler import Complaint
from ...engine.job import no_load_today, only_under_load, readings_in_order, tried_under_load, within_tolerance
from ...engine.problems import in_sentence
from ..record import answer_words, beside, complaints, limits, needed, outside, present
from ..terminal import Back, Page, minutes
from . import check_prompt, first_start, putting_back, safety, step_page
from .check_prompt import PromptReply
from .session import GONE, Elsewhere, Session

AS_FOUND = "As found"
_TAKE = ("y", "take", "take it", "take it now")
_LEAVE = ("n", "s", "skip", "go on", "without", "go on without")

_GONE = ("yes", "y", "its gone", "it is gone", "cured")
_THERE = (
    "no", "n", "not gone", "is not gone", "not yet", "no change", "still the same", "the same", "still does it",
)  # fmt: skip
"""Ways to say whether a trouble is gone, beside those of the list."""


def in_order(session: Session, names: Sequence[str], proving: bool = True) -> list[str]:
    """Those of the checks that can be read today, in the order in which they are taken (see the engine's `order`)."""
    listed = readings_in_order(session.job, names, proving)
    return [name for name in listed if not session.job.lacking("check", name)]


def take_readings(
    session: Session, heading: str, names: Sequence[str], taken: list[tuple[int, bool]] | None = None
) -> bool:
    """Ask readings one after the other. False where the set must not run: after an overspeed, or with something off.

    taken: the places that were answered, and whether that was kept; where it is not empty the row is gone back into,
    and its last is asked again. Raises Back where z is typed before anything of it was answered.
    """
    screen, job = session.screen, session.job
    taken = [] if taken is None else taken
    at = 0
    if taken:
        at = _last_of(session, taken)
    else:
        screen.line(f"{heading}. Readings: {_titles(job, names)}. Each may be skipped with s.")
    while at < len(names):
        name = names[at]
        if present(job, name) is not None or job.lacking("check", name):
            at += 1
            continue
        try:
            given = _one(session, name, f"{heading}, {at + 1} of {len(names)}: ")
            if given is None:
                return False
            if given.command == "unknown":
                session.record(name, "unknown")
            elif given.command == "back":
                raise Back
            elif given.command == "finish":
                break
            elif given.command not in ("", "skip", "none"):
                # A key pressed by mistake, or for help, costs no reading.
                screen.note("First these readings: s skips this one, f ends them; that key works again after them.")
                continue
            taken.append((at, given.command in ("", "unknown")))
            if given.command == "" and heading != AS_FOUND:
                say_at_once(session, name)
            if not safety.make_safe(session):
                return False
            at += 1
            if given.command == "" and heading != AS_FOUND and _leaves_off(session, name, names[at:]):
                break
        except Elsewhere as leaving:
            if leaving.args[0] != "finish":
                raise
            break
        except Back:
            if not taken:
                raise
            at = _last_of(session, taken)
    return True


def _last_of(session: Session, taken: list[tuple[int, bool]]) -> int:
    """The place of the last reading of a row, whose answer is taken back."""
    at, kept = taken.pop()
    if kept:
        session.unsay()
    return at


def _one(session: Session, name: str, heading: str) -> PromptReply | None:
    """One reading of a row. None where the set must not run. Raises Back."""
    check = session.job.checks[name]
    session.step = ("check", name)
    if first_start.ready(session, check.state) is not None or putting_back.ready(session, "check", name):
        return None
    above = step_page.head(session, check, None, heading)
    cautioned = safety.of_step(session, check, putting_back.precautions(session, "check", name), above)
    if cautioned is None:
        return PromptReply("skip")
    page = step_page.of_check(session, check, above, cautioned, "", hint=False)
    return check_prompt.ask(session, check, page, False, cautioned.named)


def _leaves_off(session: Session, name: str, left: Sequence[str]) -> bool:
    """Whether the row ends with a reading that has failed the proof: what is left would only load the set for nothing.
    Asked, since somebody may want the whole curve."""
    job = session.job
    titles = [in_sentence(job.checks[each].title) for each in left if present(job, each) is None]
    failed = [made for made in outside(job) if name in (made.check, *(job.checks[made.check].derived_from or ()))]
    if not failed or not titles:
        return False
    asked = f"That fails the proof. Not read yet: {', '.join(titles)}."
    return session.choose(asked, ("leave off, and find out why", "read on all the same"), 0) == 0


def _titles(job: Job, names: Sequence[str]) -> str:
    return ", ".join(in_sentence(job.checks[name].title) for name in names)


def prove(session: Session, chain: Sequence[str], resumed: bool = False) -> None:
    """The proof run of remedies: its readings, then whether the trouble is gone. Everything may be skipped.

    resumed: it was broken off, and goes on after the last of its readings that was answered.
    """
    job = session.job
    if not chain or not safety.make_safe(session):
        return
    proofs = [check for name in chain for check in session.knowledge.remedies[name].proof]
    names = in_order(session, [*proofs, *needed(job)])
    if resumed:
        answered = {made.check for made in job.made if made.epoch == job.epoch}
        names = names[max((at + 1 for at, name in enumerate(names) if name in answered), default=0) :]
    taken: list[tuple[int, bool]] = []
    while True:
        if names and not take_readings(session, "Proof run", names, taken):
            return
        try:
            ask_gone(session, since_the_work=resumed)
            break
        except Back:
            if not taken:
                raise
    say_outside(session)


def ask_missing(session: Session, wanted: Sequence[str], taken: list[tuple[int, bool]]) -> bool:
    """Ask the readings without which nothing is called fixed. False where the set must not run. taken: see
    `take_readings`."""
    return not wanted or take_readings(session, "To prove it", wanted, taken)


def say_at_once(session: Session, name: str) -> None:
    """What a reading of the proof, or what follows from it, shows that is not as it should be: not only at the end."""
    job = session.job
    for made in job.made:
        check = job.checks[made.check]
        if made.epoch != job.epoch or (made.check != name and name not in (check.derived_from or ())):
            continue
        if made.answer.outcomes and not within_tolerance(job, made):
            right = limits(job, check)
            told = f"; right is {right}" if right else ""
            session.screen.attention(f"{check.title}: {answer_words(made)}, not as it should be{told}")


def say_outside(session: Session) -> None:
    """The readings of the proof that are not within the tolerance."""
    for made in outside(session.job):
        session.screen.attention(f"{session.job.checks[made.check].title}: {answer_words(made)}, outside the tolerance")


def say_beside(session: Session) -> bool:
    """Other answers on the set as it is now that are not as they should be. Returns whether there are any."""
    bad = beside(session.job)
    for made in bad:
        session.screen.attention(f"{session.job.checks[made.check].title}: {answer_words(made)}, not as it should be")
    return bool(bad)


def ask_gone(session: Session, since_the_work: bool = False) -> None:
    """Whether each complaint is gone, on the set as it is now. since_the_work: but for those that were asked since."""
    knowledge = session.knowledge
    asked = _asked_since(session.job) if since_the_work else frozenset[str]()
    names = [
        name
        for name, answer in complaints(session.job).items()
        if answer in ("present", "unsure") and name not in asked
    ]
    kept: list[bool] = []
    session.step = GONE
    while len(kept) < len(names):
        try:
            kept.append(_ask_gone(session, knowledge.complaints[names[len(kept)]]))
        except Back:
            if not kept:
                raise
            if kept.pop():
                session.unsay()


def _ask_gone(session: Session, said: Complaint) -> bool:
    """Whether one complaint is gone. Returns whether an answer was kept. Raises Back."""
    untried = only_under_load(session.job, said.id) and not tried_under_load(session.job)
    if untried and no_load_today(session.job):
        session.screen.attention(f"{said.title}: shows only under load, and it cannot be loaded today. It stays.")
        return False
    asked = f"{said.title}: is that trouble gone? {said.gone_when}".rstrip()
    answers = ("gone", "still there", "not sure", "not tried yet", "explained: no fault of the set")
    also = dict.fromkeys(_GONE, 0) | dict.fromkeys(_THERE, 1) | dict.fromkeys(("s", "skip"), 3)
    # "Still hunting": still, with what it does.
    also |= {f"still {word}": 1 for word in _doing(said)}
    while True:
        at = session.choose(asked, answers, 3, also)
        try:
            tried = at or not untried or session.confirm(
                "It shows only under load, and no load was on since. Did you try it loaded?", "yes, loaded, and gone",
                "no: not tried yet",
            )  # fmt: skip
        except Back:
            continue
        if at == 3 or not tried:
            return False
        session.record(said.id, ("absent", "present", "unsure", "", "explained")[at])
        return True


def _asked_since(job: Job) -> frozenset[str]:
    """Complaints that were answered after the last remedy."""
    at = max((at for at, event in enumerate(job.standing) if event.kind == "remedy"), default=0)
    return frozenset(event.id for event in job.standing[at:] if event.kind == "complaint")


def _doing(complaint: Complaint) -> set[str]:
    """The ways to say that a complaint is there, of its own words: hunts and hunting."""
    words = {word for text in (complaint.title, *complaint.synonyms) for word in re.findall(r"[a-z]+", text.lower())}
    stems = {word.removesuffix("s") for word in words}
    return words | {f"{stem}ing" for stem in stems} | {f"{stem.removesuffix('e')}ing" for stem in stems}


# ---- the set as found


def unread(job: Job) -> tuple[str, ...]:
    """Readings with no load and full load that nothing is known of as found, while they can still be taken.

    Of those that the record wants (see `Job.owed`) the ones without which nothing is called fixed.
    """
    needed = job.knowledge.catalogue.costs.proof_needed
    return tuple(name for name in job.owed if name in needed)


def offer_as_found(session: Session, remedy_id: str) -> PromptReply:
    """Before the first work on a fault: offer to take the readings as found, once.

    The command is empty where the remedy may be gone on with, "none" where readings were taken, else another command.
    """
    knowledge, job, screen = session.knowledge, session.job, session.screen
    works = any(knowledge.causes[cause].fault for cause in knowledge.remedies[remedy_id].cures)
    wanted = in_order(session, unread(job), proving=False) if works and not session.as_found_offered else []
    if not wanted:
        return PromptReply("")
    asked = (
        f"Next would be: {in_sentence(knowledge.remedies[remedy_id].title)}. "
        f"Not read as found: {_titles(job, wanted)}; after the remedy it is too late. "
        f"y: take it now ({_minutes(session, wanted)}). Enter: go on without."
    )
    again = False
    while True:
        text = session.present(Page(question=asked, words=("yes", "no")), again)
        again = True
        if not text or session.says(text, _LEAVE):
            session.as_found_offered = True
            return PromptReply("")
        if session.says(text, _TAKE):
            session.as_found_offered = True
            before = len(job.events)
            try:
                take_readings(session, AS_FOUND, wanted)
            except Back:
                session.as_found_offered, again = False, False
                continue
            return PromptReply("none" if any(event.kind == "check" for event in job.events[before:]) else "")
        command = check_prompt.command_of(session, text)
        if command is None:
            screen.problem(f'"{text}": expected y, or Enter')
        elif not check_prompt.stays(session, command):
            return command


def _minutes(session: Session, names: Sequence[str]) -> str:
    """What it takes to read them from here."""
    costs, here, total = session.knowledge.catalogue.costs, session.job.here, 0.0
    for name in names:
        check = session.job.checks[name]
        total += check.minutes + costs.move(here, check.state)
        here = costs.standing(here, check.state)
    return minutes(total)
