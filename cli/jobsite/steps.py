"""The job at the terminal: the next step, its answer, and again, until it is proven or put down.

Purpose: the loop of the main job, and what each command does.
Law: holds nothing that the events do not hold, but for what was put off and which cautions were read; so a job can be
left at any prompt and gone on with.
Not here: asking a check (`checking`), a remedy and its proof run (`mending`, `proving`), closing (`closing`).
"""

from __future__ import annotations

from math import fsum

from ...engine import ContradictionError, Step
from ...engine.job import Event, out_of_order
from ..terminal import Stop, choose, finder
from . import check_prompt, closing, putting_back, remedy_prompt, safety, view
from .check_prompt import PromptReply
from .session import Session

_NONE = "none of these"


def run(desk: Session) -> int:
    """Work on the job until it is closed or left. Returns the exit status."""
    try:
        remedy_prompt.go_on(desk)
        while not turn(desk):
            pass
    except Stop:
        if desk.journal is not None:
            desk.screen.line(f"Kept as job {desk.journal.ident}. Go on: hertzwright resume {desk.journal.ident}")
    except KeyboardInterrupt:
        if desk.journal is not None:
            desk.screen.line(f"Kept as job {desk.journal.ident}.")
        raise
    return 0


def turn(desk: Session) -> bool:
    """One step. Returns whether the job is closed."""
    safety.make_safe(desk)
    if not desk.job.standing[1:] or not any(event.kind in ("complaint", "check") for event in desk.job.standing):
        complaint(desk, "")
    try:
        proposals = desk.steps()
    except ContradictionError as error:
        contradiction(desk, error)
        return False
    step = proposed(desk, proposals)
    if desk.shown != (step.id, len(desk.job.events)):
        view.show_state(desk)
    if step.kind == "check":
        return after(desk, one_check(desk, step.id, step), step)
    if step.kind == "remedy":
        return after(desk, remedy_prompt.ask(desk, step.id, step), step)
    return last_steps(desk, step)


def proposed(desk: Session, proposals: tuple[Step, ...]) -> Step:
    """The best step that was not put off."""
    left = [step for step in proposals if step.id not in desk.passed]
    if desk.still_off == len(desk.job.events):
        left = [step for step in left if not step.put_back] or left
    if not left:
        desk.passed.clear()
        desk.screen.note("Everything was put off once; from the top again.")
        left = list(proposals)
    return left[0]


def one_check(desk: Session, name: str, step: Step | None = None) -> PromptReply:
    """Show a check with its cautions and ask it."""
    check = desk.job.checks[name]
    view.step(desk, check, step)
    cautions = putting_back.precautions(desk, "check", name)
    if said := putting_back.ready(desk, "check", name, check_prompt.command_of):
        return check_prompt.command_of(said) or PromptReply("skip")
    if not safety.of_step(desk, check.id, check.state, cautions, check.dangerous):
        return PromptReply("skip")
    return check_prompt.ask(desk, check)


def after(desk: Session, given: PromptReply, step: Step | None) -> bool:
    """Do what a prompt came to. Returns whether the job is closed."""
    while given.command == "more":
        given = check_prompt.menu(desk)
    command = given.command
    if command in ("", "none") or check_prompt.stays(desk, given, None):
        return False
    if command == "how":
        if step is not None and step.kind == "check":
            view.how(desk, desk.knowledge.checks[step.id])
    elif command == "skip":
        if step is not None:
            desk.passed.add(step.id)
    elif command == "unknown":
        if step is not None and step.kind == "check":
            desk.record(step.id, "unknown")
        elif step is not None:
            desk.passed.add(step.id)
    elif command == "why":
        try:
            view.why(desk)
        except ContradictionError as error:
            contradiction(desk, error)
    elif command == "back":
        back(desk)
    elif command == "other":
        other(desk, given.rest)
    elif command == "remedy":
        remedy(desk, given.rest)
    elif command == "complaint":
        complaint(desk, given.rest)
    elif command == "finish":
        return closing.close(desk)
    return False


def back(desk: Session) -> None:
    mistake = slip(desk, desk.last())
    taken = desk.back(mistake)
    if taken is None:
        desk.screen.problem("There is nothing to take back.")
    else:
        desk.screen.line(f"Taken back: {view.event_told(desk, taken)}.")


def slip(desk: Session, event: Event | None) -> bool:
    """Whether what is taken back never was so; asked only where the job is held, since it stays held otherwise."""
    if event is None or not desk.job.held or event.kind not in ("check", "complaint", "load_reading"):
        return False
    told = view.event_told(desk, event)
    asked = f"The job is held. {told}: was that never so, such as a slip of the finger?"
    answers = ("it was so, or may have been: it stays held", "it never was so")
    return choose(desk.asker, desk.screen, asked, answers, 0) == 1


def last_steps(desk: Session, step: Step) -> bool:
    """When no check or remedy is best: prove it and close, or hand the set over."""
    screen = desk.screen
    screen.heading(f"Next: {desk.title(step)}")
    screen.fact("Why", step.why)
    first = "prove it and close" if step.kind == "done" else "close and hand it over, with the record"
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
    at = choose(desk.asker, screen, "", rows, 0, also=keys)
    if at == 0:
        return closing.close(desk, refer=step.kind == "refer")
    return after(desk, PromptReply(commands[at]), step)


# ---- complaints, and steps of one's own choice


def complaint(desk: Session, words: str) -> None:
    """Find one or more complaints by words, or from the list, and record them."""
    knowledge, screen = desk.knowledge, desk.screen
    usable = {
        name: each for name, each in knowledge.complaints.items()
        if each.retired is None and all(check in desk.job.checks for check in each.says)
    }  # fmt: skip
    phrases = {name: (each.title, each.brief, *each.synonyms) for name, each in usable.items()}
    listed = list(usable)
    taken = 0
    while True:
        if not words:
            screen.line()
            if taken:
                screen.line("Anything else? A few words, or Enter to go on.", "bold")
            else:
                screen.line("What is the trouble? A few words, or Enter for the list.", "bold")
            words = desk.asker.ask("> ", [usable[name].title for name in listed])
            if not words and taken:
                return
            given = check_prompt.command_of(words) if len(words) == 1 else None
            if given is not None and given.command in ("stop", "note", "list"):
                check_prompt.stays(desk, given)
                words = ""
                continue
        found = finder.find(words, phrases) if words else listed
        if not found:
            screen.problem(f'nothing like "{words}" is known; here is all of it')
            found = listed
        words = ""
        doubt = "none of these: other words"
        rows = [f"{usable[name].title}: {usable[name].brief}" for name in found]
        at = choose(desk.asker, screen, "", [*rows, doubt], 0 if len(found) <= 5 else None)
        if at == len(found):
            continue
        desk.record(found[at], "present")
        taken += 1
        screen.line(f"Kept: {usable[found[at]].title}.", "green")
        if usable[found[at]].stop_first:
            return


def other(desk: Session, words: str) -> None:
    """A check or reading that was not asked for: "full load = 58.2 Hz", or words to find it by."""
    checks = desk.job.checks
    screen = desk.screen
    named, _, answer = (part.strip() for part in words.partition("="))
    if not named:
        screen.line("Which check? A few words, or Enter for the ones proposed.", "bold")
        named = desk.asker.ask("> ", [check.title for check in checks.values()])
    phrases = {name: (check.title, check.ask) for name, check in checks.items() if check.retired is None}
    if answer:  # only checks that such an answer can be given to
        phrases = {name: texts for name, texts in phrases.items() if check_prompt.takes(desk, checks[name], answer)}
    if named in checks:
        found = [named]
    elif named:
        found = finder.find(named, phrases)
    else:
        found = [step.id for step in desk.job.next_steps(9) if step.kind == "check"]
    if not found:
        screen.problem(f'no check is like "{named}"')
        return
    at = 0
    if found != [named]:
        rows = [f"{checks[name].title}: {checks[name].ask}" for name in found]
        at = choose(desk.asker, screen, "", [*rows, _NONE], 0)
        if at == len(found):
            return
    check = checks[found[at]]
    if answer:
        if desk.job.runs(check.state):
            safety.make_safe(desk)
        check_prompt.take(desk, check, check_prompt.outcome_of(check, answer) or answer)
        return
    for reason in _order(desk, check.id):
        screen.fact("Out of order", reason)
    if not safety.make_safe(desk) and desk.job.runs(check.state):
        return
    after(desk, one_check(desk, check.id), None)


def remedy(desk: Session, words: str) -> None:
    """A remedy of one's own choice, by words or from those that fit the leading causes."""
    knowledge, screen = desk.knowledge, desk.screen
    chances = desk.job.posterior()
    usable = {name: each for name, each in knowledge.remedies.items() if any(chances.get(c, 0) > 0 for c in each.cures)}
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
    rows = [f"{usable[name].title} (chance that it helps {100 * worth[name]:.0f} %)" for name in found]
    at = choose(desk.asker, screen, "Which remedy?", [*rows, "other words", _NONE], None)
    if at == len(found):
        remedy(desk, desk.asker.ask("remedy> ", [each.title for each in usable.values()]))
        return
    if at > len(found):
        return
    for reason in _order(desk, found[at]):
        screen.fact("Out of order", reason)
    after(desk, remedy_prompt.ask(desk, found[at], None), None)


def _order(desk: Session, step: str) -> tuple[str, ...]:
    try:
        return out_of_order(desk.job, step)
    except ContradictionError:
        return ()


def contradiction(desk: Session, error: ContradictionError) -> None:
    """Say what cannot all be right, and take back one of it."""
    screen = desk.screen
    screen.heading("These findings cannot all be right")
    screen.line("No combination of known causes explains them together. Nothing is lost; one of them must go.")
    events = desk.causes_of(error.findings)
    rows = [view.event_told(desk, event) for event in events]
    at = choose(desk.asker, screen, "Which one is wrong?", [*rows, "the last answer", "stop here, saved"])
    if at == len(rows) + 1:
        raise Stop
    if at == len(rows):
        back(desk)
        return
    desk.take_out(events[at], slip(desk, events[at]))
    screen.line(f"Taken back: {rows[at]}.")
