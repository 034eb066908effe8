"""One check at the terminal: the question, its answers by key, a typed reading, and the commands beside them.

Purpose: get one answer recorded, or find out what the technician wants to do instead.
Law: what was typed is parsed once, into a command or an answer (`parse`); digits and the letters a to e are answers,
every other single letter is a command; a digit that may be an answer's number as well as a reading is asked about,
never guessed.
Not here: what a command does (see `session`).
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from ...engine import AnswerError, ContradictionError, JobError
from ...engine.compiler import Check, Remedy, SettingStep, spoken
from ...engine.job import doubted_load
from ...engine.readings import outcome_said, yes_or_no
from ..record import kept_words
from ..terminal import BACK_WORDS, Back, Page, Stop
from . import other_words, putting_back, step_page, view, visit_told
from .safety import Cautioned
from .session import Elsewhere, Session, Waits

# Command -> its key, other words for it, and what it does.
COMMANDS: dict[str, tuple[str, tuple[str, ...], str]] = {
    "how": ("h", ("how", "how to"), "how it is done, and with what tools"),
    "picture": ("v", ("picture", "view", "drawing"), "a picture of the part"),
    "why": ("w", ("why",), "what speaks for and against, and what the others cost"),
    "causes": ("k", ("causes", "cause"), "the leading causes"),
    "skip": ("s", ("skip", "later"), "put it off, show the next best step"),
    "unknown": ("u", ("unknown", "don't know", "dont know", "dk"), "don't know, cannot be found out"),
    "back": ("z", ("back", "undo", "step back"), "take back the last answer"),
    "other": ("o", ("other", "pick", "check"), "another check or reading, by words"),
    "remedy": ("r", ("remedy", "fix"), "a remedy of your choice"),
    "complaint": ("p", ("complaint", "problem"), "a further complaint"),
    "off": ("t", ("off", "was off", "already off"), "something was off or open already when I came"),
    "without": ("nh", ("not here", "without"), "a tool is not here today, or the set must not be loaded"),
    "come": ("hc", ("here", "has come"), "a tool that was not here has come"),
    "before": ("b4", ("before", "already", "done before"), "what somebody did before you came, in a line"),
    "note": ("n", ("note",), "write a note into the record"),
    "list": ("l", ("list", "done", "log"), "all that was found and done"),
    "finish": ("f", ("close", "finish", "end"), "prove it and close the job"),
    "stop": ("x", ("stop", "save", "quit", "exit", "q"), "save and stop; resume goes on"),
    "more": ("m", ("more", "help", "?", "menu"), "all keys"),
}
LEAVING = frozenset(
    word for name in ("skip", "back", "stop", "more") for word in (COMMANDS[name][0], *COMMANDS[name][1])
)
"""What may be typed before a page was read to its end."""
_WITH_WORDS = ("other", "remedy", "complaint", "off", "without", "come", "before", "note")
_LETTERS = "abcde"


@dataclass(frozen=True, slots=True)
class PromptReply:
    """What came of a prompt: `command` is empty where an answer was recorded, "none" where the step waits or was left;
    `rest` are the words after a command."""

    command: str
    rest: str = ""


def command_of(session: Session, text: str) -> PromptReply | None:
    """The command that a text is, with the words after it; None where it is none."""
    lowered = text.lower()
    for name, (key, words, _) in COMMANDS.items():
        if lowered == key or lowered in words:
            return PromptReply(name)
    if spoken(text) in session.knowledge.catalogue.typed.not_known:
        return PromptReply("unknown")
    if (told := visit_told.command(session, text)) is not None:
        return PromptReply(*told)
    first, _, rest = text.partition(" ")
    for name in _WITH_WORDS:
        key, words, _ = COMMANDS[name]
        if not rest.strip() or first.lower() not in (key, *words):
            continue
        if name != "off" or first.lower() == key or visit_told.fits_on(session, rest.strip()):  # not "off frequency"
            return PromptReply(name, rest.strip())
    return None


def parse(session: Session, text: str, check: Check) -> PromptReply | str:
    """What was typed at a check: a command, or an answer as `Job.record` takes it.

    A key is told as the outcome that it stands for; a reading stays as typed, and is understood where it is recorded.
    """
    if (outcome := _outcome_of(check, text)) is not None:
        return outcome
    if text.lower() == "n" and outcome_said(check, "no") is not None:
        return text
    given = command_of(session, text)
    if given is not None and not other_words.names_outcome(check, text):
        told = visit_told.command(session, text) is not None
        if not (told and other_words.is_answer(check, text)):
            return given
    return PromptReply("other", text) if "=" in text else text


def answer_of(check: Check, text: str) -> str:
    """An answer given where no command can be, as `Job.record` takes it."""
    return _outcome_of(check, text) or text


def _outcome_of(check: Check, text: str) -> str | None:
    """The outcome that a key stands for, with the question mark of an unsure answer; None where it is no key."""
    doubt = "?" if text.endswith("?") else ""
    key = text.rstrip("?").strip().lower()
    # A letter that answers a gate is no answer to what is asked after it: it is said back first.
    if len(key) > 1 and (said := outcome_said(check, key)) is not None:
        return said + doubt
    if len(key) == 1 and key in _LETTERS[: len(check.outcomes)]:
        return check.outcomes[_LETTERS.index(key)].id + doubt
    if check.reading is None and key.isdecimal() and 1 <= int(key[:9]) <= len(check.outcomes):
        return check.outcomes[int(key[:9]) - 1].id + doubt
    return None


def ask(
    session: Session, check: Check, page: Page | None = None, hint: bool = True, cautions: Sequence[str] = ()
) -> PromptReply:
    """Ask one check until it is answered or a command is given that leads elsewhere. Raises Stop.

    page: what stands above the question, its cautions and what it tells (see `step_page`). cautions: their ids.
    """
    page = page or step_page.of_check(session, check, Page(), Cautioned(), "", hint)
    session.hinted = session.hinted or hint
    names = [outcome.id.replace("_", " ") for outcome in check.outcomes]
    page = replace(page, words=(*names, *(words[0] for _, words, _ in COMMANDS.values())), commands=LEAVING)
    again, offered = False, ""
    while True:
        text = " ".join(session.present(page, again).split())
        text = offered if offered and yes_or_no(text) else text
        session.offered = ""
        page = read_by(session, page, text, cautions)
        again, offered = True, ""
        if not text:
            session.screen.problem("expected an answer, or a key such as h, how it is done")
            continue
        several = [PromptReply(*each) for each in visit_told.several(session, text)]
        if several:
            for each in several:
                stays(session, each)
            if any(waits(session, "check", check.id, each) for each in several):
                return PromptReply("none")
            continue
        given = parse(session, text, check)
        if isinstance(given, str):
            before = len(session.job.events)
            try:
                told = other_words.record(session, check, which(session, check, given), record_answer)
            except Back:  # at what was asked of the answer: it alone is taken back, and the question stands
                if len(session.job.events) > before:
                    session.unsay()
                again = False
                continue
            finally:
                session.gated = False
            if isinstance(told, tuple):  # no answer, but a sentence about the visit
                again = not stays(session, PromptReply(*told))
                if waits(session, "check", check.id, PromptReply(*told)):
                    return PromptReply("none")
            elif told:
                return PromptReply("")
            offered = session.offered
        elif stays(session, given, check):
            if waits(session, "check", check.id, given):
                return PromptReply("none")
            page, again = step_page.renewed(session, page, check), False
        else:
            return given


def read_by(session: Session, page: Page, text: str, cautions: Sequence[str]) -> Page:
    """The page as it is shown after an answer: its cautions were read to their end, unless it was only left.

    cautions: their ids.
    """
    if not page.cautions or text.lower() in LEAVING:
        return page
    session.seen.update(cautions)
    return replace(page, cautions=())


def waits(session: Session, kind: str, name: str, given: PromptReply) -> bool:
    """Whether a step is asked for no more since something was said of the visit: it lacks a tool, or what has come lets
    another one be better. kind, name: of the step."""
    return given.command == "come" or (given.command == "without" and bool(session.job.lacking(kind, name)))


def stays(session: Session, given: PromptReply, check: Check | None = None, remedy: Remedy | None = None) -> bool:
    """Do a command that leads nowhere else. Returns whether it was one. Raises Stop."""
    step = check or remedy
    if given.command == "stop":
        raise Stop
    if given.command == "how" and step is not None:
        session.sheet(lambda: view.how(session, step))
    elif given.command == "off":
        with suppress(Back):
            putting_back.as_found(session, given.rest, step)
    elif given.command in ("without", "come", "before"):
        told = {"without": visit_told.not_here, "come": visit_told.has_come, "before": visit_told.done_before}
        with suppress(Back):
            told[given.command](session, given.rest)
            if given.command == "without" and step is not None:
                visit_told.ask_instead(session, "check" if check is not None else "remedy", step.id)
    elif given.command == "note":
        with suppress(Back):
            if text := given.rest or session.ask(prompt="note> "):
                session.note(text)
                session.screen.note("Noted.")
    elif given.command == "list":
        session.sheet(lambda: view.everything(session))
    elif given.command == "causes":
        session.sheet(lambda: view.causes(session))
    elif given.command == "picture" and step is not None:
        session.sheet(lambda: view.picture(session, step))
    elif given.command == "why":
        try:
            session.job.ranking()
        except ContradictionError:
            return False
        session.sheet(lambda: view.why(session, step))
    else:
        return False
    return True


def beside(session: Session, what: Check | Remedy | SettingStep, text: str) -> bool:
    """Do what is typed at the dangers of a step and is neither yes nor no: a command, or a sentence about the visit.
    Returns whether it was one. Raises Waits where the step waits for it, Elsewhere where it leads to another one."""
    given = command_of(session, text)
    if given is None or given.command in ("skip", "unknown", "back"):
        return False
    check = what if isinstance(what, Check) else None
    remedy = what if isinstance(what, Remedy) else None
    if stays(session, given, check, remedy):
        kind = "check" if check is not None else "remedy" if remedy is not None else "setting"
        if waits(session, kind, what.id, given):
            raise Waits
        return True
    if given.command in ("finish", "other", "remedy", "complaint"):
        raise Elsewhere(given.command, given.rest)
    return False


def menu(session: Session) -> PromptReply:
    """All commands, numbered."""
    names = [name for name in COMMANDS if name != "more"]
    rows = [f"{COMMANDS[name][0]} {COMMANDS[name][1][0]}: {COMMANDS[name][2]}" for name in names]
    rows[names.index("back")] = f"{COMMANDS['back'][2]}, as z does at the question"
    # Its keys work where they are shown; z is here as everywhere the way back, to the question.
    also = {word: at for at, name in enumerate(names) for word in (COMMANDS[name][0], *COMMANDS[name][1])}
    also = {word: at for word, at in also.items() if word not in BACK_WORDS}
    try:
        return PromptReply([*names, "none"][session.choose("", [*rows, "go back to the question"], len(names), also)])
    except Back:
        return PromptReply("none")


def which(session: Session, check: Check, text: str) -> str:
    """What a bare digit means where there is a reading: an answer's number, or the reading; asked if it can be both."""
    digit = text.rstrip("?").strip()
    if check.reading is None or not digit.isdecimal() or not 1 <= int(digit[:9]) <= len(check.outcomes):
        return text
    outcome = check.outcomes[int(digit[:9]) - 1]
    doubt = "?" if text.endswith("?") else ""
    if takes(session, check, digit):
        if not session.digits:
            name = outcome.id.replace("_", " ")
            asked = f"Is {digit} the answer or the reading? The same is meant from here on."
            rows = (f"the answer {digit}, {name}", f"a reading of {digit} {check.reading.unit}")
            session.digits = ("answer", "reading")[session.choose(asked, rows)]
        if session.digits == "reading":
            return text
    return outcome.id + doubt


def takes(session: Session, check: Check, text: str) -> bool:
    """Whether a text can be an answer to a check."""
    try:
        session.job.understand(check.id, answer_of(check, text))
    except (AnswerError, JobError):
        return False
    return True


def record_answer(session: Session, check: Check, text: str) -> bool:
    """Record an answer and say how it was understood. False where it cannot be used."""
    screen = session.screen
    try:
        answer = session.record(check.id, text)
        if len(answer.outcomes) > 1 and answer.values and not session.job.held:
            kinds = [outcome for outcome in check.outcomes if outcome.id in answer.outcomes]
            rows = [f"{kind.id.replace('_', ' ')}: {kind.brief}" for kind in kinds]
            at = session.choose("Which of these is it?", [*rows, "cannot tell"], len(kinds))
            if at < len(kinds):
                doubt = "" if answer.sure else "?"
                session.record(check.id, f"{text.rstrip('?').strip()} {kinds[at].id}{doubt}")
    except (AnswerError, JobError) as error:
        other_words.refused(session, check, text, error)
        return False
    made = next(made for made in session.job.made if (made.check, made.epoch) == (check.id, session.job.epoch))
    screen.line(f"Kept: {check.title}, {kept_words(session.job, made)}.", "green")
    by = session.knowledge.catalogue.costs.full_load_by
    of_load = check.reading is not None and (check.reading.load == 1.0 or check.id == by)
    if of_load and (doubt := doubted_load(session.job)):
        screen.attention(f"{doubt}.")
    return True
