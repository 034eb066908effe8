"""A remedy at the terminal: its steps, what it makes due, and the proof run.

Purpose: have a remedy carried out and proven, with every reading kept as it comes.
Law: the remedy is kept before its proof run begins, so that a proof run that is broken off loses nothing.
Not here: the verdict (see `verdict`), and closing the job (see `closing`).
"""

from __future__ import annotations

from ..engine import Job, Step
from . import checking, safety, view
from .asking import choose
from .checking import Given
from .desk import Desk
from .verdict import complaints, due, needed, outside, present, told

_ACTIONS = (
    "carried out",
    "not now: another step",
    "show why",
    "pick another remedy",
    "take back the last answer",
    "write a note",
    "save and stop",
)
_MEANING = ("", "skip", "why", "remedy", "back", "note", "stop")


def ask(desk: Desk, name: str, step: Step | None) -> Given:
    """Show a remedy, and where it is carried out, all that follows from it."""
    given = one(desk, name, step)
    if given.command:
        return given
    chain = [name]
    while (following := [other for other in due(desk.job) if other not in chain]) and len(chain) < 6:
        remedy = desk.knowledge.remedies[following[0]]
        desk.screen.heading(f"Due after this: {remedy.title}")
        for reason in _reasons(desk, chain[-1], remedy.id):
            desk.screen.fact("Why", reason)
        chain.append(remedy.id)
        now_or_later = ("do it now, before the proof run", "first see what the readings say")
        at = choose(desk.asker, desk.screen, "", now_or_later, 0)
        if at == 0 and one(desk, remedy.id, None).command:
            desk.screen.note("Left for later; it stays on the list of what is due.")
    prove(desk, [part for part in chain if part in {event.id for event in desk.job.standing}])
    return Given("")


def _reasons(desk: Desk, before: str, after: str) -> list[str]:
    rules = desk.knowledge.catalogue.order.values()
    return [rule.why for rule in rules if rule.kind == "do_again" and before in rule.before and after in rule.after][:1]


def one(desk: Desk, name: str, step: Step | None) -> Given:
    """One remedy without its proof run. The command is empty where it was carried out."""
    screen = desk.screen
    remedy = desk.knowledge.remedies[name]
    if not safety.make_safe(desk) and safety.runs(desk.knowledge, remedy.state):
        screen.problem("This needs the engine running; not before the throttle is proven to close.")
        return Given("skip")
    view.step(desk, remedy, step)
    if not safety.of_step(desk, remedy.id, remedy.state, remedy.cautions, remedy.dangerous):
        return Given("skip")
    screen.numbered(remedy.steps)
    while True:
        given = _action(desk)
        if given.command == "" or not checking.stays(desk, given):
            break
    if given.command == "":
        desk.carry_out(name)
        screen.line(f"Kept: {remedy.title}, carried out.", "green")
    return given


def _action(desk: Desk) -> Given:
    """Carried out, or something else; keys of the commands work as they do beside a check."""
    screen = desk.screen
    screen.line()
    screen.options((str(number), text) for number, text in enumerate(_ACTIONS, 1))
    while True:
        text = desk.asker.ask("> ", _ACTIONS)
        if text.isdecimal() and 1 <= int(text) <= len(_ACTIONS):
            return Given(_MEANING[int(text) - 1])
        if text.lower() in ("y", "yes", "done", "carried out"):
            return Given("")
        given = checking.command_of(text) if text else None
        if given is not None:
            return Given("skip") if given.command == "unknown" else given
        screen.problem(f"expected 1 to {len(_ACTIONS)}" + (f', not "{text}"' if text else ""))


def readings(desk: Desk, chain: list[str]) -> list[str]:
    """Checks that prove the remedies of a chain, those that need the same set-up together."""
    wanted: list[str] = []
    for name in chain:
        wanted += [check for check in desk.knowledge.remedies[name].proof if check not in wanted]
    wanted += [check for check in needed(desk.job) if check not in wanted]
    checks = desk.job.checks
    there = [name for name in wanted if name in checks and checks[name].derived_from is None]
    states = list(desk.knowledge.catalogue.states)
    return sorted(there, key=lambda name: (states.index(checks[name].state), there.index(name)))


def prove(desk: Desk, chain: list[str]) -> None:
    """The proof run: its readings, then whether the trouble is gone. Everything may be skipped."""
    screen, job = desk.screen, desk.job
    if not chain:
        return
    if not safety.make_safe(desk):
        return
    wanted = readings(desk, chain)
    screen.heading("Proof run")
    titles = ", ".join(job.checks[name].title[0].lower() + job.checks[name].title[1:] for name in wanted)
    screen.line(f"Readings: {titles}. Each may be skipped with s.")
    for place, name in enumerate(wanted, 1):
        check = job.checks[name]
        if present(job, name) is not None:
            continue
        if change := view.move(desk, check.state):
            screen.fact("Set-up", change)
        screen.line()
        screen.line(f"{place} of {len(wanted)}: {check.title}")
        if not safety.of_step(desk, check.id, check.state, check.cautions, check.dangerous):
            continue
        given = checking.ask(desk, check, hint=False)
        if given.command == "unknown":
            desk.record(name, "unknown")
        elif given.command in ("finish", "back"):
            break
        elif given.command not in ("", "skip"):
            screen.note("First the proof run; that key works again after it. Skipped.")
        if safety.held(job) and not safety.make_safe(desk):
            return
    ask_gone(desk)
    for made in outside(job):
        screen.problem(f"{job.checks[made.check].title}: {told(made)}, outside the tolerance")


def ask_gone(desk: Desk) -> None:
    """Whether each complaint is gone, on the set as it is now."""
    knowledge, screen = desk.knowledge, desk.screen
    for name, answer in complaints(desk.job).items():
        if answer != "present" and answer != "unsure":
            continue
        title = knowledge.complaints[name].title
        answers = ("gone", "still there", "not sure", "not tried yet")
        at = choose(desk.asker, screen, f"{title}: is that trouble gone?", answers, 3)
        if at < 3:
            desk.record(name, ("absent", "present", "unsure")[at])


def unfinished(job: Job) -> list[str]:
    """Remedies at the end of the job whose proof run was not brought to its end; none where it was."""
    chain: list[str] = []
    for event in job.standing:
        if event.kind == "remedy":
            chain.append(event.id)
        elif event.kind == "complaint":
            chain = []
    return [name for name in dict.fromkeys(chain) if complaints(job)]


def go_on(desk: Desk) -> None:
    """Offer the rest of a proof run that was broken off."""
    chain = unfinished(desk.job)
    if not chain:
        return
    titles = ", ".join(desk.knowledge.remedies[name].title.lower() for name in chain)
    desk.screen.line(f"The proof run was not finished: {titles}.")
    if choose(desk.asker, desk.screen, "", ("go on with the proof run", "not now"), 0) == 0:
        prove(desk, chain)
