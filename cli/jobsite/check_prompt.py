"""One check at the terminal: the question, its answers by key, a typed reading, and the commands beside them.

Purpose: get one answer recorded, or find out what the technician wants to do instead.
Law: what was typed is parsed once, into a command or an answer (`parse`); digits and the letters a to e are answers,
every other single letter is a command; a digit that may be an answer's number as well as a reading is asked about,
never guessed.
Not here: what a command does (see `session`).
"""

from __future__ import annotations

from dataclasses import dataclass

from ...engine import AnswerError, JobError
from ...engine.compiler import Check, Remedy
from ..record import answer_words
from ..terminal import Stop, choose
from . import other_words, putting_back, view, visit_told
from .session import Session
from .visit_words import visit_command

# Command -> its key, other words for it, and what it does.
COMMANDS: dict[str, tuple[str, tuple[str, ...], str]] = {
    "how": ("h", ("how", "how to"), "how it is done"),
    "why": ("w", ("why",), "what speaks for and against, and what the others cost"),
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
    "finish": ("f", ("finish", "close", "end"), "prove it and close the job"),
    "stop": ("x", ("stop", "save", "quit", "exit", "q"), "save and stop; resume goes on"),
    "more": ("m", ("more", "help", "?", "menu"), "all keys"),
}
_WITH_WORDS = ("other", "remedy", "complaint", "off", "without", "come", "before", "note")
_LETTERS = "abcde"


@dataclass(frozen=True, slots=True)
class PromptReply:
    """What came of a prompt: `command` is empty where an answer was recorded; `rest` are the words after a command."""

    command: str
    rest: str = ""


def command_of(text: str) -> PromptReply | None:
    """The command that a text is, with the words after it; None where it is none."""
    lowered = text.lower()
    for name, (key, words, _) in COMMANDS.items():
        if lowered == key or lowered in words:
            return PromptReply(name)
    if (told := visit_command(text)) is not None:
        return PromptReply(*told)
    first, _, rest = text.partition(" ")
    for name in _WITH_WORDS:
        key, words, _ = COMMANDS[name]
        if rest.strip() and first.lower() in (key, *words):
            return PromptReply(name, rest.strip())
    return None


def parse(text: str, check: Check) -> PromptReply | str:
    """What was typed at a check: a command, or an answer as `Job.record` takes it.

    A key is told as the outcome that it stands for; a reading stays as typed, and is understood where it is recorded.
    """
    if (outcome := _outcome_of(check, text)) is not None:
        return outcome
    given = command_of(text)
    if given is not None and not (given.command == "without" and other_words.is_answer(check, text)):
        return given
    return PromptReply("other", text) if "=" in text else text


def answer_of(check: Check, text: str) -> str:
    """An answer given where no command can be, as `Job.record` takes it."""
    return _outcome_of(check, text) or text


def _outcome_of(check: Check, text: str) -> str | None:
    """The outcome that a key stands for, with the question mark of an unsure answer; None where it is no key."""
    doubt = "?" if text.endswith("?") else ""
    key = text.rstrip("?").strip().lower()
    if len(key) == 1 and key in _LETTERS[: len(check.outcomes)]:
        return check.outcomes[_LETTERS.index(key)].id + doubt
    if check.reading is None and key.isdecimal() and 1 <= int(key[:9]) <= len(check.outcomes):
        return check.outcomes[int(key[:9]) - 1].id + doubt
    return None


def ask(session: Session, check: Check, hint: bool = True) -> PromptReply:
    """Ask one check until it is answered or a command is given that leads elsewhere. Raises Stop."""
    screen = session.screen
    screen.line()
    screen.line(check.ask, "bold")
    options(session, check)
    if answer_words := putting_back.takes_off(session, check):
        screen.note(answer_words)
    if hint:
        keys(session, check)
    names = [outcome.id.replace("_", " ") for outcome in check.outcomes]
    while True:
        text = " ".join(session.asker.ask("> ", [*names, *(words[0] for _, words, _ in COMMANDS.values())]).split())
        if not text:
            view.how(session, check)
            options(session, check)
            continue
        given = parse(text, check)
        if isinstance(given, str):
            if other_words.record(session, check, which(session, check, given), record_answer):
                return PromptReply("")
        elif not stays(session, given, check):
            return given


def options(session: Session, check: Check) -> None:
    """The answers by key, and the form of a reading."""
    rows = []
    for number, outcome in enumerate(check.outcomes, 1):
        rows.append((str(number), f"{outcome.id.replace('_', ' ')}: {outcome.brief}" if outcome.brief else outcome.id))
    session.screen.options(rows)
    if check.reading is not None:
        each = {"cylinder": ", one for each cylinder", "leg": ", one for each leg"}.get(check.reading.per, "")
        session.screen.line(f"or type the reading in {check.reading.unit}{each}", indent="    ")


def keys(session: Session, check: Check) -> None:
    """One line of the commands that are used most; in full the first time."""
    session.screen.note("Enter how | w why | s skip | u unknown | z back | m more")
    if not session.hinted:
        session.screen.note("Not sure? Put a question mark after the answer: 1?")
        session.hinted = True


def stays(session: Session, given: PromptReply, check: Check | None = None, remedy: Remedy | None = None) -> bool:
    """Do a command that leads nowhere else. Returns whether it was one. Raises Stop."""
    if given.command == "stop":
        raise Stop
    if given.command == "how" and check is not None:
        view.how(session, check)
        options(session, check)
        return True
    if given.command == "off":
        putting_back.as_found(session, given.rest, check or remedy)
        return True
    if given.command in ("without", "come", "before"):
        told = {"without": visit_told.not_here, "come": visit_told.has_come, "before": visit_told.done_before}
        told[given.command](session, given.rest)
        return True
    if given.command == "note":
        text = given.rest or session.asker.ask("note> ")
        if text:
            session.note(text)
            session.screen.note("Noted.")
        return True
    if given.command == "list":
        view.everything(session)
        return True
    return False


def menu(session: Session) -> PromptReply:
    """All commands, numbered."""
    names = [name for name in COMMANDS if name != "more"]
    rows = [f"{COMMANDS[name][0]} {COMMANDS[name][1][0]}: {COMMANDS[name][2]}" for name in names]
    return PromptReply(
        [*names, "none"][choose(session.asker, session.screen, "", [*rows, "go back to the question"], len(names))]
    )


def which(session: Session, check: Check, text: str) -> str:
    """What a bare digit means where there is a reading: an answer's number, or the reading; asked if it can be both."""
    digit = text.rstrip("?").strip()
    if check.reading is None or not digit.isdecimal() or not 1 <= int(digit[:9]) <= len(check.outcomes):
        return text
    outcome = check.outcomes[int(digit[:9]) - 1]
    doubt = "?" if text.endswith("?") else ""
    if takes(session, check, digit):
        name = outcome.id.replace("_", " ")
        asked = f"Is {digit} the answer or the reading?"
        rows = (f"the answer {digit}, {name}", f"a reading of {digit} {check.reading.unit}")
        if choose(session.asker, session.screen, asked, rows) == 1:
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
            at = choose(session.asker, screen, "Which of these is it?", [*rows, "cannot tell"], len(kinds))
            if at < len(kinds):
                doubt = "" if answer.sure else "?"
                session.record(check.id, f"{text.rstrip('?').strip()} {kinds[at].id}{doubt}")
    except (AnswerError, JobError) as error:
        screen.problem(str(error))
        return False
    made = next(made for made in session.job.made if (made.check, made.epoch) == (check.id, session.job.epoch))
    screen.line(f"Kept: {check.title}, {answer_words(made)}.", "green")
    return True
