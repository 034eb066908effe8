"""The job at the terminal: the next step, its answer, and again, until it is proven or put down.

Purpose: the loop of the main job, and what each command does.
Law: holds nothing that the events do not hold, but for what was put off and which cautions were read; so a job can be
left at any prompt and gone on with.
Not here: a check (`check_prompt`), a remedy and its proof run (`remedy_prompt`, `proof_run`), closing (`closing`).
"""

from __future__ import annotations

from collections.abc import Mapping
from math import fsum

from ...engine import ContradictionError, Step
from ...engine.compiler import Check
from ...engine.job import Event, due, out_of_order, unexplained
from ...engine.problems import in_sentence
from ..record import answer_words, complaints, fixed, titled
from ..terminal import Back, Stop, finder, percent
from . import (
    check_prompt,
    closing,
    first_start,
    proof_run,
    putting_back,
    remedy_prompt,
    safety,
    setting,
    step_page,
    view,
)
from .check_prompt import PromptReply
from .complaint_prompt import complaint
from .session import GONE, Elsewhere, Session

_NONE = "none of these"
_MAY_HOLD = ("check", "complaint", "load_reading")


def run(session: Session) -> int:
    """Work on the job until it is closed or left. Returns the exit status."""
    session.aside = check_prompt.beside
    try:
        while True:
            try:
                remedy_prompt.go_on(session)
                break
            except Back:
                back(session)
        while not turn(session):
            pass
    except Stop:
        if session.journal is not None:
            session.screen.line(
                f"Kept as job {session.journal.ident}. Go on: hertzwright resume {session.journal.ident}"
            )
    except KeyboardInterrupt:
        if session.journal is not None:
            session.screen.line(f"Kept as job {session.journal.ident}.")
        raise
    return 0


def turn(session: Session) -> bool:
    """One step. Returns whether the job is closed."""
    try:
        return _turn(session)
    except Back:
        back(session)
        return False
    except Elsewhere as leaving:
        return after(session, PromptReply(*leaving.args), None)


def _turn(session: Session) -> bool:
    session.step = None
    safety.make_safe(session)
    if session.job.setting:
        return set_in_order(session)
    again, session.again = session.again, None
    if again == GONE:
        session.step = GONE
        proof_run.ask_gone(session, since_the_work=True)
        return False
    if again is not None and again[0] == "complaint":
        complaint(session, "")
        return False
    if not session.job.standing[1:] or not any(event.kind in ("complaint", "check") for event in session.job.standing):
        complaint(session, "")
        if session.job.setting:
            return False
    try:
        proposals = session.steps()
    except ContradictionError as error:
        contradiction(session, error)
        return False
    step = _asked_again(session, again, proposals) or closing_first(session) or proposed(session, proposals)
    session.step = (step.kind, step.id)
    if step.kind == "check":
        return after(session, one_check(session, step.id, step), step)
    if step.kind == "remedy":
        return after(session, remedy_prompt.ask(session, step.id, step), step)
    return last_steps(session, step)


def _asked_again(session: Session, again: tuple[str, str] | None, proposals: tuple[Step, ...]) -> Step | None:
    """The check or remedy whose answer was taken back, as it is proposed or by itself; None where there is none."""
    kind, name = again or ("", "")
    known: Mapping[str, object] = (
        session.job.checks if kind == "check" else session.knowledge.remedies if kind == "remedy" else {}
    )
    if name not in known:
        return None
    return next((step for step in proposals if (step.kind, step.id) == again), None) or own_choice(session, kind, name)


def own_choice(session: Session, kind: str, name: str) -> Step:
    """A check or remedy that was not proposed, as a step."""
    what = session.job.checks[name] if kind == "check" else session.knowledge.remedies[name]
    return Step("check" if kind == "check" else "remedy", name, what.minutes, what.minutes, "")


def set_in_order(session: Session) -> bool:
    """One step of setting, or of the search that it was left for. Returns whether the job is closed."""
    try:
        given, step, closed = setting.one(session)
    except ContradictionError as error:
        contradiction(session, error)
        return False
    if given.command == "search" and step is not None:
        if step.id in session.passed:
            step = proposed(session, session.steps())
        if step.kind == "check":
            return after(session, one_check(session, step.id, step), step)
        if step.kind == "remedy":
            return after(session, remedy_prompt.one(session, step.id, step), step)
        return last_steps(session, step)
    return closed or after(session, given, step)


def proposed(session: Session, proposals: tuple[Step, ...]) -> Step:
    """The best step that was not put off."""
    left = [step for step in proposals if step.id not in session.passed]
    if session.still_off == len(session.job.events):
        left = [step for step in left if not step.put_back] or left
    if not left:
        session.passed.clear()
        session.screen.note("Everything was put off once; from the top again.")
        left = list(proposals)
    return left[0]


def closing_first(session: Session) -> Step | None:
    """Closing, where work was done, the proof is within the tolerance, what was complained of is gone, and nothing that
    was seen is unexplained or due; None where not, and then what is unexplained is said, once."""
    job = session.job
    said = complaints(job)
    gone = bool(said) and set(said.values()) <= {"absent", "explained"}
    if not (job.epoch and gone and fixed(job)) or "done" in session.passed:
        return None
    points = [f"{job.checks[made.check].title}, {answer_words(made)}" for made in unexplained(job)]
    points += [f"{session.knowledge.remedies[name].title}, due" for name in (*due(job), *job.to_mend)]
    if points:
        told = (
            f"The proof is right and the trouble is gone. Looked at further, since not explained: {'; '.join(points)}."
        )
        if told != session.told_open:
            session.told_open = told
            session.screen.attention(told)
        return None
    looks = ", ".join(in_sentence(job.checks[name].title) for name in closing.looks(job))
    more = f" Looked at with it, each may be skipped: {looks}." if looks else ""
    why = f"The proof is within the tolerance, and what was complained of is gone.{more}"
    return Step("done", "done", 0.0, 0.0, why)


def one_check(session: Session, name: str, step: Step | None = None) -> PromptReply:
    """Show a check with its cautions and ask it. Raises Back."""
    check = session.job.checks[name]
    if step is not None and name in session.job.first_looks:
        return first_start.go_through(session, session.job.first_looks) or PromptReply("")
    if (instead := first_start.ready(session, check.state, name)) is not None:
        return instead
    if said := putting_back.ready(session, "check", name, check_prompt.command_of):
        return check_prompt.command_of(session, said) or PromptReply("skip")
    above = step_page.head(session, check, step)
    cautioned = safety.of_step(session, check, putting_back.precautions(session, "check", name), above)
    if cautioned is None:
        return PromptReply("skip")
    page = step_page.of_check(session, check, above, cautioned, step_page.lead(session, step))
    return check_prompt.ask(session, check, page, cautions=cautioned.named)


def after(session: Session, given: PromptReply, step: Step | None) -> bool:
    """Do what a prompt came to. Returns whether the job is closed."""
    mark = len(session.job.events)
    try:
        return _after(session, given, step)
    except Back:
        if len(session.job.events) > mark:
            back(session)
        return False


def _after(session: Session, given: PromptReply, step: Step | None) -> bool:
    while given.command == "more":
        given = check_prompt.menu(session)
    command = given.command
    what = session.what(step) if step is not None else None
    check, remedied = (what, None) if isinstance(what, Check) else (None, what)
    if command in ("", "none") or check_prompt.stays(session, given, check, remedied):
        return False
    if command == "skip":
        if step is not None:
            session.put_off(step.kind, step.id)
    elif command == "unknown":
        if step is not None and step.kind == "check":
            session.record(step.id, "unknown")
        elif step is not None:
            session.put_off(step.kind, step.id)
    elif command == "why":
        try:
            view.why(session)
        except ContradictionError as error:
            contradiction(session, error)
    elif command == "back":
        back(session)
    elif command == "other":
        other(session, given.rest)
    elif command == "remedy":
        remedy(session, given.rest)
    elif command == "complaint":
        complaint(session, given.rest)
    elif command == "finish":
        return close(session)
    return False


def close(session: Session, refer: bool = False, looked_at: bool = False) -> bool:
    """Close the job (see `closing`); z there takes back one answer of it and goes on at its question. Raises Back where
    none was given."""
    before = len(session.job.standing)
    while True:
        try:
            return closing.close(session, refer, looked_at)
        except Back:
            if len(session.job.standing) <= before:
                raise
            back(session)
            session.again = None


def back(session: Session) -> None:
    if name := session.take_up():
        session.screen.line(f"Asked again: {titled(session.knowledge, name) or name}.")
        return
    together = session.together()
    holding = (event for event in reversed(together) if event.kind in _MAY_HOLD)
    mistake = slip(session, next(holding, None))
    told = [view.event_told(session, event) for event in together if event.kind in (*_MAY_HOLD, "remedy", "set_to")]
    taken = session.back(mistake)
    if taken is None:
        session.screen.problem("There is nothing to take back.")
    else:
        session.screen.line(f"Taken back: {'; '.join(told or [view.event_told(session, taken)])}.")


def slip(session: Session, event: Event | None) -> bool:
    """Whether what is taken back never was so; asked only where the job is held, since it stays held otherwise."""
    if event is None or not session.job.held or event.kind not in _MAY_HOLD:
        return False
    told = view.event_told(session, event)
    asked = f"The job is held. {told}: was that never so, such as a slip of the finger?"
    answers = ("it was so, or may have been: it stays held", "it never was so")
    return session.choose(asked, answers, 0) == 1


def last_steps(session: Session, step: Step) -> bool:
    """When no check or remedy is best: prove it and close, or hand the set over."""
    session.screen.heading(f"Next: {session.title(step)}")
    session.screen.fact("Why", step.why)
    first = (
        "say that it was not found, and close"
        if step.id == "not_found"
        else "prove it and close"
        if step.kind == "done"
        else "close and hand it over, with the record"
    )
    commands = ("finish", "other", "remedy", "why", "skip", "back", "note", "list")
    rows = (
        first,
        "go on: a check of your choice",
        "go on: a remedy of your choice",
        "show why",
        "put it off",
        "take back the last answer",
        "write a note",
        "all that was found and done",
    )
    keys = {word: at for at, name in enumerate(commands) for word in (name, check_prompt.COMMANDS[name][0])}
    at = session.choose("", rows, 0, keys)
    if at == 0:
        try:
            return close(session, refer=step.kind == "refer", looked_at=step.id == "done")
        except Back:
            return last_steps(session, step)
    return after(session, PromptReply(commands[at]), step)


# ---- steps of one's own choice


def other(session: Session, words: str) -> None:
    """A check or reading that was not asked for: "full load = 58.2 Hz", or words to find it by."""
    checks = session.job.checks
    screen = session.screen
    named, _, answer = (part.strip() for part in words.partition("="))
    if not named:
        asked = "Which check? A few words, or Enter for the ones proposed."
        named = session.ask(asked, words=[check.title for check in checks.values()])
    phrases = {name: (check.title, check.ask) for name, check in checks.items() if check.retired is None}
    if answer:  # only checks that such an answer can be given to
        phrases = {name: texts for name, texts in phrases.items() if check_prompt.takes(session, checks[name], answer)}
    if named in checks:
        found = [named]
    elif named:
        found = finder.find(named, phrases)
    else:
        found = [step.id for step in session.job.next_steps(9) if step.kind == "check"]
    if not found:
        screen.problem(f'no check is like "{named}"')
        return
    at = 0
    if found != [named]:
        rows = [f"{checks[name].title}: {checks[name].ask}" for name in found]
        default = _exact(named, {name: checks[name].title for name in found}) if named else 0
        at = session.choose("", [*rows, _NONE], default)
        if at == len(found):
            return
    check = checks[found[at]]
    if answer:
        if session.job.runs(check.state):
            safety.make_safe(session)
        check_prompt.record_answer(session, check, check_prompt.answer_of(check, answer))
        return
    for reason in _order(session, check.id):
        screen.fact("Out of order", reason)
    if not safety.make_safe(session) and session.job.runs(check.state):
        return
    session.step = ("check", check.id)
    after(session, one_check(session, check.id), own_choice(session, "check", check.id))


def remedy(session: Session, words: str) -> None:
    """A remedy of one's own choice, by words or from those that fit the leading causes."""
    knowledge, screen = session.knowledge, session.screen
    chances = session.job.posterior()
    usable = {
        name: each
        for name, each in knowledge.remedies.items()
        if each.only_if.holds(session.job.features) and any(chances.get(c, 0) > 0 for c in each.cures)
    }
    worth = {name: fsum(chances.get(c, 0.0) * cure for c, cure in each.cures.items()) for name, each in usable.items()}
    if words in usable:
        found = [words]
    elif words:
        phrases = {
            name: (each.title, each.brief, *(knowledge.causes[c].title for c in each.cures))
            for name, each in usable.items()
        }
        found = finder.find(words, phrases)
    else:
        found = sorted(usable, key=lambda name: (-worth[name], name))[:5]
    if not found:
        screen.problem(f'no remedy is like "{words}"')
        return
    rows = [f"{usable[name].title} (chance that it helps {percent(worth[name])})" for name in found]
    at = session.choose("Which remedy?", [*rows, "other words", _NONE])
    if at == len(found):
        remedy(session, session.ask(prompt="remedy> ", words=[each.title for each in usable.values()]))
        return
    if at > len(found):
        return
    for reason in _order(session, found[at]):
        screen.fact("Out of order", reason)
    session.step = ("remedy", found[at])
    after(session, remedy_prompt.ask(session, found[at], None), own_choice(session, "remedy", found[at]))


def _exact(words: str, titles: Mapping[str, str]) -> int | None:
    """The place of the one that words name whole, by id or title: what Enter takes. Near matches are only proposed."""
    typed = words.lower()
    return next((at for at, (name, title) in enumerate(titles.items()) if typed in (name, title.lower())), None)


def _order(session: Session, step: str) -> tuple[str, ...]:
    try:
        return out_of_order(session.job, step)
    except ContradictionError:
        return ()


def contradiction(session: Session, error: ContradictionError) -> None:
    """Say what cannot all be right, and take back one of it."""
    screen = session.screen
    screen.heading("These findings cannot all be right")
    screen.line("No combination of known causes explains them together. Nothing is lost; one of them must go.")
    events = session.causes_of(error.findings)
    rows = [view.event_told(session, event) for event in events]
    at = session.choose("Which one is wrong?", [*rows, "the last answer", "stop here, saved"])
    if at == len(rows) + 1:
        raise Stop
    if at == len(rows):
        back(session)
        return
    session.take_out(events[at], slip(session, events[at]))
    screen.line(f"Taken back: {rows[at]}.")
