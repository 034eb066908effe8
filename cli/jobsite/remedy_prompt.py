"""A remedy at the terminal: the set as found before it, its steps, what it makes due, and the proof run after it.

Purpose: have a remedy carried out and proven.
Law: the remedy is kept before its proof run begins, so that a proof run that is broken off loses nothing.
Not here: the readings of a proof run (see `proof_run`), and closing the job (see `closing`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from ...engine import AnswerError, Job, JobError, Step
from ...engine.compiler import Remedy
from ...engine.job import due, out_of_order
from ...engine.problems import in_sentence
from ..record import complaints
from ..terminal import Back, Page
from . import check_prompt, first_start, other_words, proof_run, putting_back, safety, step_page, view
from .check_prompt import PromptReply
from .session import Session

_BUT = re.compile(
    r"(?:(?:all|done|carried out|1),? )?(?:but not|but|except|not)(?: steps?)? (\d{1,3}(?:(?:,|;| and| )+\d{1,3})*)",
    re.I,
)


def ask(session: Session, name: str, step: Step | None) -> PromptReply:
    """Show a remedy, and where it is carried out, all that follows from it.

    Readings as found that are taken first may make another step the best: a remedy that was only proposed waits.
    """
    first = proof_run.offer_as_found(session, name)
    if first.command and (first.command != "none" or step is not None or session.job.held):
        return first
    given = one(session, name, step)
    if given.command:
        return given
    chain, kept, again = [name], [True], False
    while True:
        try:
            following = [other for other in _following(session.job) if other not in chain] if len(chain) < 6 else []
            if not following:
                proof_run.prove(session, [each for each, done in zip(chain, kept, strict=True) if done])
                return PromptReply("")
            kept.append(_now_or_later(session, chain[-1], following[0], again))
            chain.append(following[0])
            again = False
        except Back:  # to the remedy before it, of the first by whoever asked it
            if len(chain) == 1:
                raise
            chain.pop()
            if again := kept.pop():
                session.unsay()


def _now_or_later(session: Session, before: str, name: str, again: bool = False) -> bool:
    """Have a remedy carried out that is due or was seen, or leave it for later. Returns whether it was carried out.
    again: that it is done now was said, and it was taken back. Raises Back."""
    remedy = session.knowledge.remedies[name]
    while True:
        if not again:
            seen = remedy.id in session.job.to_mend
            session.screen.heading(f"{'Seen, and not mended yet' if seen else 'Due after this'}: {remedy.title}")
            for reason in _reasons(session, before, remedy.id):
                session.screen.fact("Why", reason)
            if session.choose("", ("do it now, before the proof run", "first see what the readings say"), 0):
                return False
        again, stood = False, len(session.job.standing)
        try:
            given = one(session, remedy.id, None)
            if given.command == "back":
                raise Back
        except Back:
            if len(session.job.standing) > stood:  # looks before the start, or what is back on
                session.unsay()
                again = True
            continue
        if given.command:
            session.screen.note("Left for later; it stays on the list of what is due.")
        return not given.command


def _following(job: Job) -> tuple[str, ...]:
    """What is done before a proof run: what a look has shown and nothing holds back, and what is due."""
    return (*(name for name in job.to_mend if not out_of_order(job, name)), *due(job))


def _reasons(session: Session, before: str, after: str) -> list[str]:
    rules = session.knowledge.catalogue.order.values()
    return [rule.why for rule in rules if rule.kind == "do_again" and before in rule.before and after in rule.after][:1]


def one(session: Session, name: str, step: Step | None) -> PromptReply:
    """One remedy without its proof run. The command is empty where it was carried out."""
    screen = session.screen
    remedy = session.knowledge.remedies[name]
    if not safety.make_safe(session) and session.job.runs(remedy.state):
        screen.problem("This needs the engine running; not before the throttle is proven to close.")
        return PromptReply("skip")
    if (instead := first_start.ready(session, remedy.state)) is not None:
        return instead
    if said := putting_back.ready(session, "remedy", name, check_prompt.command_of):
        return check_prompt.command_of(session, said) or PromptReply("skip")
    above = step_page.head(session, remedy, step)
    cautioned = safety.of_step(session, remedy, putting_back.precautions(session, "remedy", name), above)
    if cautioned is None:
        return PromptReply("skip")
    page = step_page.of_remedy(session, remedy, above, cautioned, step_page.lead(session, step))
    given = _action(session, replace(page, commands=check_prompt.LEAVING), remedy, cautioned.named)
    if given.command == "":
        undone = _undone(session, remedy, given.rest) or ()
        left = tuple(dict.fromkeys((*view.steps_left(session, remedy), *undone)))
        session.carry_out(name, left=left)
        told = f", but for {len(left)} step{'' if len(left) == 1 else 's'}" if left else ""
        screen.line(f"Kept: {remedy.title}, carried out{told}.", "green")
        if given.rest and not undone:  # where what it sets stands now, told with it
            check, _, at = given.rest.partition("=")
            _keep_reading(session, check, at, "as left")
        return PromptReply("")
    return given


def _undone(session: Session, remedy: Remedy, text: str) -> tuple[str, ...] | None:
    """The steps that were not done, by their numbers on the page: "not 3 5", "all but 4"; empty where the page has no
    such step. None where a text is not that."""
    found = _BUT.fullmatch(text.strip())
    if found is None:
        return None
    shown = view.remedy_steps(session, remedy)
    numbers = [int(number) for number in re.findall(r"\d{1,3}", found.group(1))]
    if not all(1 <= number <= len(shown) for number in numbers):
        return ()
    return tuple(shown[number - 1].removeprefix(view.NOT_TODAY) for number in numbers)


def _keep_reading(session: Session, check: str, at: str, when: str) -> None:
    try:
        session.record(check, at, happened=True)
    except (AnswerError, JobError) as error:
        session.screen.problem(str(error))
        return
    session.screen.line(f"Kept: {session.job.checks[check].title}, {at}, {when}.", "green")


def _where_it_stands(session: Session, remedy: Remedy, text: str) -> PromptReply | None:
    """What a reading typed at a remedy says: where what it sets stood, or stands now. None where it is no reading of a
    check that shows what the remedy cures; a reply without a command where it is the work done, "none" where not."""
    if text.isdecimal() or not any(letter.isdigit() for letter in text):
        return None
    shown = {check for cause in remedy.cures for check in session.knowledge.causes[cause].shows}
    found = []
    for name, check in session.job.checks.items():
        if name not in shown or check.reading is None or check.reading.per or check.retired is not None:
            continue
        if check_prompt.takes(session, check, text):
            found.append((name, text))
        else:
            found += [way.answers[0] for way in other_words.ways_of(session, check, text) if len(way.answers) == 1]
    found = [(name, at) for name, at in found if name in shown]
    # A reading with the unit of the work itself comes before one of what follows from it, as a frequency.
    own = [each for each in found if not session.job.runs(session.job.checks[each[0]].state)] or found
    if not own:
        return None
    rows = []
    for name, _ in own:
        title = session.job.checks[name].title
        rows += [f"{title}: as found, before this", f"{title}: as left, and the work is carried out"]
    at = session.choose(f'"{text}" is', [*rows, "neither: leave it"])
    if at == len(rows):
        return PromptReply("none")
    name, answer = own[at // 2]
    if at % 2:
        return PromptReply("", f"{name}={answer}")
    _keep_reading(session, name, answer, "as found")
    return PromptReply("none")


def _action(session: Session, page: Page, remedy: Remedy, cautions: Sequence[str]) -> PromptReply:
    """Carried out, or something else; keys of the commands work as they do beside a check."""
    again = False
    while True:
        text = session.present(page, again)
        again = True
        page = check_prompt.read_by(session, page, text, cautions)
        if (undone := _undone(session, remedy, text)) is not None:
            if undone:
                return PromptReply("", text)
            session.screen.problem(f'"{text}": expected steps 1 to {len(view.remedy_steps(session, remedy))}')
            continue
        if session.says_done(text, ("1", "y", "yes", "done", "carried out", "all done")):
            return PromptReply("")
        if session.says(text, ("2", "no", "not now", "not yet", "not now: another step")):
            session.note_once(f"Proposed and not done now: {in_sentence(remedy.title)}.")
            return PromptReply("skip")
        given = check_prompt.command_of(session, text) if text else None
        stood = _where_it_stands(session, remedy, text) if given is None else None
        if stood is not None:
            if stood.command == "":
                return stood
            again = False
        elif given is None:
            told = "expected 1 or 2, the steps not done, such as: not 3 5, or a key such as w"
            session.screen.problem(told + (f'; not "{text}"' if text else ""))
        elif check_prompt.stays(session, given, remedy=remedy):
            if check_prompt.waits(session, "remedy", remedy.id, given):
                return PromptReply("none")
            page, again = step_page.renewed(session, page, remedy), False
        else:
            return PromptReply("skip") if given.command == "unknown" else given


def unfinished(job: Job) -> list[str]:
    """Remedies at the end of the job whose proof run was not brought to its end; none where it was, and while the set
    is set in order."""
    chain: list[str] = []
    asked: set[str] = set()
    for event in job.standing:
        if event.kind == "remedy":
            chain, asked = ([] if asked else chain), set()
            chain.append(event.id)
        elif event.kind == "complaint":
            asked.add(event.id)
    left = [name for name, answer in complaints(job).items() if answer in ("present", "unsure") and name not in asked]
    return [] if job.setting or not left else list(dict.fromkeys(chain))


def go_on(session: Session) -> None:
    """Offer the rest of a proof run that was broken off, where it was. Raises Back."""
    chain = unfinished(session.job)
    if not chain:
        return
    titles = ", ".join(in_sentence(session.knowledge.remedies[name].title) for name in chain)
    session.screen.line(f"The proof run was not finished: {titles}.")
    if session.choose("", ("go on with the proof run", "not now"), 0) == 0:
        proof_run.prove(session, chain, resumed=True)
