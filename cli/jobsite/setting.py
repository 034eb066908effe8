"""Setting a set in order at the terminal: one screen for one step, until all is set and proven.

Purpose: show what `engine/setting` advises, with where it stands, what is right and what to turn; take the reading, the
turn or the work; go over to the ordinary search where a fault is likelier, and come back.
Law: holds nothing that the events do not hold, but for what was put off; cautions and what is off are asked as
everywhere.
Not here: what comes next and why (see the engine), the ordinary steps (see `steps`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from ...engine import Job, JobError, Step
from ...engine.compiler import SettingStep
from ...engine.problems import AnswerError, in_sentence
from ...engine.readings import is_order, may_be_order, read_turns
from ...engine.setting import (
    SettingAdvice,
    advise,
    course_of_job,
    not_responding,
    plan,
    progress,
    put,
    turned,
    unresponsive,
    verdict,
)
from ..record import CLOSINGS, fixed, missing, open_points, show_settings, turns_told
from ..terminal import Back, Choice, Line, Page, minutes, percent, position
from . import check_prompt, closing_list, first_start, proof_run, putting_back, remedy_prompt, safety, step_page, view
from .check_prompt import PromptReply
from .session import Session

_WAY_UP = (61.5, 61.0, 60.5, 60.0, 59.5)
"""Readings at 60 Hz for an example: no load, by quarters, full load."""


def asked_for(session: Session, words: str) -> bool:
    """Whether words at the complaint say that there is none, but all to be set; asked where they may say it. Raises
    Back."""
    catalogue = session.knowledge.catalogue
    if is_order(catalogue, words):
        return True
    if not may_be_order(catalogue, words):
        return False
    rows = ("nothing is wrong yet: set everything in order", "something is wrong, or was done before: go on")
    return session.choose(f'"{words}": which is it?', rows) == 0


def begin(session: Session, wanted: Sequence[str] = (), only_disturbed: bool = False) -> None:
    """Set the set in order from here on; after a cure only what was disturbed."""
    session.job.begin_setting(wanted, only_disturbed)
    session.keep()
    scope = (
        "what was disturbed or found wrong, and the proof"
        if only_disturbed
        else "from the ground up: what is right is left alone"
    )
    session.screen.line(f"Set in order, {scope}.", "green")


def offer(session: Session) -> bool:
    """Once faults are cured: go on into setting, where work has disturbed what is set. Returns whether it is."""
    job = session.job
    worked = any(event.kind == "remedy" for event in job.standing)
    if job.setting or not worked or any(event.kind == "setting" for event in job.standing) or job.held:
        return False
    # What was read again since, and is right, stands.
    doubtful = [each for each in progress(job) if each.because and not each.step.last and not each.right]
    if not doubtful:
        return False
    names = ", ".join(in_sentence(each.step.title) for each in doubtful[:4])
    asked = f"What was done has disturbed: {names}. Set the set in order now?"
    answers = (
        f"yes, what was disturbed ({_minutes(job, only_disturbed=True)})",
        "no, close the job",
        f"yes, everything from the ground up ({_minutes(job)})",
    )
    at = session.choose(asked, answers, 1)
    if at != 1:
        begin(session, only_disturbed=at == 0)
    else:
        job.leave_setting()
        session.keep()
    return job.setting


def _minutes(job: Job, only_disturbed: bool = False) -> str:
    """What setting would take from here, as far as it is known now."""
    begun = Job.replay(job.knowledge, job.events)
    begun.begin_setting((), only_disturbed)
    return f"about {minutes(plan(begun).minutes)}"


def one(session: Session) -> tuple[PromptReply, Step | None, bool]:
    """One step of setting: what came of its prompt, the ordinary step that it was, and whether the job is closed.

    Raises ContradictionError, Stop.
    """
    advice = _not_put_off(session)
    handled = {"turn": _turn, "place": _do, "do": _do, "stuck": _stuck}
    if advice.kind in ("search", "refer") and advice.found is not None:
        _say_search(session, advice)
        return PromptReply("search"), advice.found, False
    if advice.kind in ("done", "refer"):
        return _finish(session, advice)
    if advice.kind == "read":
        step = Step("check", advice.check, advice.minutes, advice.minutes, " ".join(advice.why))
        return _read(session, advice), step, False
    if advice.kind == "work":
        step = Step("remedy", advice.remedy, advice.minutes, advice.minutes, " ".join(advice.why))
        return remedy_prompt.one(session, advice.remedy, None), step, False
    given = handled[advice.kind](session, advice)
    if given.command == "skip":
        session.put_off("setting", advice.step)
    return given, None, False


def _not_put_off(session: Session) -> SettingAdvice:
    """What comes next; where all that can be done was put off, from the top again, and said so. Raises
    ContradictionError."""
    advice = advise(session.job, session.passed, session.deepen)
    name = _task(advice)
    if not name or name not in session.passed:
        return advice
    session.passed.clear()
    if _task(advise(session.job, {name}, 0)) != name:
        session.screen.note("Everything was put off once; from the top again.")
        return advise(session.job, (), session.deepen)
    waiting = [each.step.title for each in progress(session.job) if advice.step in each.waits_for]
    told = (
        f"what is left waits for it ({', '.join(map(in_sentence, waiting[:3]))})" if waiting else "nothing else is left"
    )
    session.screen.attention(f"It cannot be put off: {told}. Cannot be found out: u. No tool for it: nh.")
    return advice


def _task(advice: SettingAdvice) -> str:
    """What is put off where a step of setting is; empty for what cannot be."""
    return "" if advice.kind in ("search", "refer", "done", "held") else advice.check or advice.remedy or advice.step


# ---- what is shown


def _head(session: Session, advice: SettingAdvice, state: str = "") -> Page:
    """What stands above a step: how far the course has come, which step it is, and what it is for."""
    course = course_of_job(session.job)
    step = course.steps[advice.step]
    name, *status = session.top()
    right = len(course.steps) - len(advice.left)
    each = next(each for each in progress(session.job, course) if each.id == step.id)
    body = [] if each.readings or each.worked else [Line(step.brief)]
    if change := view.move(session, state or step.state):
        body.append(Line(f"Set-up: {change}", hanging="  "))
    body += safety.risk_lines(session, state or step.state)
    return Page(
        top=name, status=(*status, f"setting {right} of {len(course.steps)}"), title=step.title, body=tuple(body)
    )


def _all_loads(session: Session, advice: SettingAdvice) -> str:
    """How several loads are read on the way up and typed in one line, where more than one is still to be read."""
    checks, hertz = session.job.checks, float(session.job.features["hertz"]) / 60.0
    each = next(each for each in progress(session.job) if each.id == advice.step)
    loads = [checks[name].reading for name in each.unread]
    if sum(reading is not None and bool(reading.load) for reading in loads) < 2:
        return ""
    return f"All of the way up in one line, no load first: {' '.join(f'{at * hertz:.3g}' for at in _WAY_UP)}"


def told_turns(session: Session, advice: SettingAdvice) -> tuple[str, ...]:
    """What to turn, which way and how far, one sentence each, in the order in which it is turned."""
    told = turns_told(session.knowledge, advice.turns)
    if len(told) < 2:
        return told
    return tuple(f"{'Then' if number else 'First'} {in_sentence(each)}" for number, each in enumerate(told))


def _stands(session: Session, step: SettingStep) -> str:
    """What was read last for a step, in one line."""
    each = next(each for each in progress(session.job) if each.id == step.id)
    checks = session.job.checks
    return "; ".join(f"{in_sentence(checks[name].title)} {answer.text}" for name, answer in each.readings.items())


# ---- what is asked


def _read(session: Session, advice: SettingAdvice) -> PromptReply:
    check = session.job.checks[advice.check]
    if said := putting_back.ready(session, "check", check.id, check_prompt.command_of):
        return check_prompt.command_of(session, said) or PromptReply("skip")
    if (instead := first_start.ready(session, check.state, check.id)) is not None:
        return instead
    above = _head(session, advice, check.state)
    cautioned = safety.of_step(session, check, putting_back.precautions(session, "check", check.id), above)
    if cautioned is None:
        return PromptReply("skip")
    page = step_page.of_check(session, check, above, cautioned, " ".join(advice.why))
    page = replace(page, hint=_all_loads(session, advice) or page.hint)
    return check_prompt.ask(session, check, page, cautions=cautioned.named)


def _turn(session: Session, advice: SettingAdvice) -> PromptReply:
    job, screen, step = session.job, session.screen, session.knowledge.catalogue.setting[advice.step]
    body = [Line(f"Now: {_stands(session, step)}", hanging="  ")]
    body += [Line(told, "bold") for told in told_turns(session, advice)]
    rows = ("turned so", "turned otherwise", "it cannot be turned, or nothing moves")
    while True:
        given = _own_work(session, advice, step, body, rows, " ".join(advice.why))
        if not given.command.isdecimal():
            return given
        if given.command == "2":
            return _stuck(session, advice)
        made = dict(advice.turns) if given.command == "0" else _otherwise(session, advice, given.rest)
        if made is not None:
            turned(job, advice, made)
            session.keep()
            screen.line("Kept. Now it is read again.", "green")
            return PromptReply("")


def _otherwise(session: Session, advice: SettingAdvice, said: str = "") -> dict[str, float] | None:
    """How far each adjuster was really turned, + as told; None where it was not understood. said: of the only one."""
    made = {}
    for name, told in advice.turns.items():
        adjuster = session.knowledge.catalogue.adjusters[name]
        example = f"such as {abs(told):g} {adjuster.more if told > 0 else adjuster.less}, or 0"
        try:
            asked = f"{adjuster.title}: how far was it turned, and which way? {example}"
            text = said or _turns_of(session.ask(asked, "turns> ", told=f"Turns and a way, {example}."))
        except Back:
            return None
        try:
            made[name] = read_turns(text, adjuster, 1.0 if told > 0 else -1.0)
        except AnswerError as error:
            session.screen.problem(str(error))
            return None
    return made


def _do(session: Session, advice: SettingAdvice) -> PromptReply:
    job, step = session.job, session.knowledge.catalogue.setting[advice.step]
    body = []
    if advice.kind == "place":
        body.append(Line(f"Now: {_stands(session, step)}", hanging="  "))
        body.append(Line(f"Put it to: {step.starts}", "bold", hanging="  "))
    body += [Line(view.with_load(session, text), "", f" {number}. ") for number, text in enumerate(step.how, 1)]
    given = _own_work(session, advice, step, body, ("done", "not now: another step"), " ".join(advice.why))
    if given.command == "1":
        return PromptReply("skip")
    if given.command != "0":
        return given
    at = ""
    if advice.kind == "place":
        try:
            at = session.ask(f"Where does it stand now? Enter: {in_sentence(step.starts)}")
        except Back:
            return PromptReply("none")
    put(job, advice, at)
    session.keep()
    session.screen.line(f"Kept: {step.title}.", "green")
    return PromptReply("")


def _own_work(
    session: Session, advice: SettingAdvice, step: SettingStep, body: Sequence[Line], rows: Sequence[str], lead: str
) -> PromptReply:
    """The page of a step's own work: the place of the row that was taken, or a command. Raises Back."""
    # What is turned can be turned on a standing set as well, with no move and nothing put back.
    moves = advice.kind != "turn" or session.job.runs(session.job.here)
    if moves and (said := putting_back.ready(session, "setting", step.id, check_prompt.command_of)):
        return check_prompt.command_of(session, said) or PromptReply("skip")
    above = _head(session, advice, step.state if moves else session.job.here)
    cautioned = safety.of_step(session, step, putting_back.precautions(session, "setting", step.id), above)
    if cautioned is None:
        return PromptReply("skip")
    choices = tuple(Choice(str(number), row) for number, row in enumerate(rows, 1))
    keys = (("h", "how"), ("s", "skip"), ("z", "back"), ("m", "more"))
    page = replace(
        above, body=(*above.body, *body), cautions=cautioned.new, known=cautioned.known, choices=choices, lead=lead,
        keys=keys, words=tuple(rows), commands=check_prompt.LEAVING, at_once=not advice.turns,
    )  # fmt: skip
    again = False
    while True:
        text = session.present(page, again)
        again = True
        page = check_prompt.read_by(session, page, text, cautioned.named)
        if (at := position(text, rows)) is not None:
            return PromptReply(str(at))
        if len(advice.turns) == 1 and _says_turns(session, advice, text):
            return PromptReply("1", _turns_of(text))
        if session.says_done(text, ("y", "yes", "done", "all done", *rows[:1])):
            return PromptReply("0")
        given = check_prompt.command_of(session, text) if text else None
        if given is None:
            told = f'"{text}": ' if text else ""
            session.screen.problem(f"{told}expected 1 to {len(rows)}, or a key such as h, how it is done")
        elif given.command == "how":
            session.sheet(lambda: _how(session, step))
            again = False
        elif check_prompt.stays(session, given):
            if check_prompt.waits(session, "setting", step.id, given):
                return PromptReply("none")
            again = False
        else:
            return PromptReply("skip") if given.command == "unknown" else given


def _says_turns(session: Session, advice: SettingAdvice, text: str) -> bool:
    """Whether what is typed is how far the only adjuster was turned: 3 1/8 out."""
    (name,) = advice.turns
    turns = _turns_of(text)
    try:
        read_turns(turns, session.knowledge.catalogue.adjusters[name])
    except AnswerError:
        return False
    return not text.isdecimal()


_DID = re.compile(r"^(?:(?:i|we|it|did|do|turned|gave|was|went|made|about|only|just)\s+)+(?=[-+\d.])", re.IGNORECASE)


def _turns_of(text: str) -> str:
    """Turns without what is said before them: "did 3", "I turned it 1/4 out"."""
    return _DID.sub("", text)


def _how(session: Session, step: SettingStep) -> None:
    """How a step's own work is done, with what, and where that comes from."""
    session.screen.numbered([view.with_load(session, text) for text in step.how or (step.brief,)])
    session.screen.fact("Tools", ", ".join(step.tools))
    for sentence in step.note.splitlines():
        session.screen.note(sentence)
    session.screen.note(f"Sources: {'; '.join(dict.fromkeys(str(source) for source in step.sources))}.")


def _stuck(session: Session, advice: SettingAdvice) -> PromptReply:
    step = session.knowledge.catalogue.setting[advice.step]
    session.screen.attention(f"{step.title}: it does not respond as it should.")
    for reason in advice.why:
        session.screen.line(reason)
    session.screen.note("That says something about the set; it is kept, and weighed.")
    not_responding(session.job, advice if advice.kind == "stuck" else unresponsive(session.job, advice.step))
    session.keep()
    return PromptReply("")


def _say_search(session: Session, advice: SettingAdvice) -> None:
    screen = session.screen
    screen.heading("Before more is set")
    for cause, chance in advice.causes[:3]:
        screen.line(f"{session.knowledge.causes[cause].title}: {percent(chance)}.", indent="  - ")
    screen.line("This is found first; setting goes on where it stopped.")


# ---- the end


def _finish(session: Session, advice: SettingAdvice) -> tuple[PromptReply, Step | None, bool]:
    """All is set and proven, or nothing is left that would help: the sheet, and closing the job."""
    screen, job = session.screen, session.job
    # What its own steps do not read again and yet showed a fault that was worked on.
    if advice.kind == "done" and not proof_run.ask_missing(session, proof_run.in_order(session, missing(job)), []):
        return PromptReply(""), None, False
    show_settings(screen, job)
    found = verdict(job)
    points = open_points(job)
    if advice.kind == "done" and found.passed and fixed(job):
        told = ", as far as it was looked at" if points else ": everything within its limits"
        screen.line(f"Set and proven{told}.", "green")
        for point in points:
            screen.line(f"Left open: {point}", hanging="  ")
        rows = ["close it: set and proven", "go on: a check of your choice"]
        ways = ["fixed", "other"]
    else:
        for line in found.outside:
            screen.attention(f"{line.title}: {line.answer}, outside the tolerance")
        for name in found.left:
            screen.attention(f"{session.knowledge.catalogue.setting[name].title}: not right")
        rows = ["close it as open", "hand the set over", "go on: a check of your choice"]
        ways = ["open", "handed_over", "other"]
    at = session.choose("", rows)
    if ways[at] == "other":
        return PromptReply("other"), None, False
    closing_list.go_through(session)
    try:
        session.close(ways[at])
    except JobError as error:
        screen.problem(str(error))
        return PromptReply(""), None, False
    screen.heading(f"Closed: {CLOSINGS[ways[at]]}.")
    if session.journal is not None:
        screen.fact("Record", str(session.journal.path))
    return PromptReply(""), None, True
