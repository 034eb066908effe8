"""The moves of a drill, as the trainee types them.

Purpose: from words, numbers and a few commands to moves of the drill, until it is over or put down.
Law: what is unsafe is called out before anything is done or asked; time is never taken back.
Not here: what a move does (see the engine), what is shown of it (see `drill_view`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from ...engine.teaching import NOT_FIXED, PROOF_MOVE, Drill, DrillError, DrillMove
from ..terminal import Asker, Screen, Stop, choose, finder, minutes
from . import drill_view

COMMANDS: dict[str, tuple[tuple[str, ...], str]] = {
    "list": (("l",), "everything that can be done, numbered; list WORDS: some of it, such as list governor"),
    "how": (("h",), "how WORDS: how it is done, free"),
    "safe": (("s",), "safe WORDS: read and meet its cautions, then do it; safe alone: those of a running set"),
    "now": ((), "now WORDS: do it without changing the set-up"),
    "shut": (("shutdown", "shut down"), "shut the set down and prove that the throttle closes"),
    "prove": (("p",), "a proof run"),
    "?": (("feedback",), "what the last step told, and what would have been better; free"),
    "hint": ((), "what to do next, for 5 minutes"),
    "path": (("done", "log"), "what was done so far"),
    "say": (("customer", "set"), "the set and the customer again"),
    "fixed": (("f",), "it is fixed: proof run and debrief"),
    "refer": ((), "hand it over, for the price of that"),
    "quit": (("q", "x", "exit", "stop"), "stop here, with the debrief"),
    "help": (("m", "more", "menu"), "all of this"),
}
LONG = 30.0
"""Minutes of a change of set-up from which on it is asked whether that is meant."""
_WITH_WORDS = ("list", "how", "safe", "now")
_SAFE_COMMANDS = ("prove", "fixed")
"""Commands that safe can stand before: those that make a proof run."""


def introduced(screen: Screen) -> None:
    """What one has to know to begin."""
    screen.line("Type what you would do: words, or a number of the list. You decide what comes first.")
    screen.line("Before a step that can hurt, type safe and the step: safe load step. What is left out is called out.")
    screen.line("A right repair works at every level; no work is botched here.")
    screen.note("list | ? feedback | hint | prove | fixed | quit | help")


@dataclass(slots=True)
class Hand:
    """What a trainee works with. `pending`: the unsafe step called out last, which `safe` alone then does; `seen`:
    cautions that were shown in full."""

    drill: Drill
    screen: Screen
    asker: Asker
    pending: str = ""
    claimed: bool = False
    """The proof run called out last was that of a claim that it is fixed."""
    seen: set[str] = field(default_factory=set)


def work(drill: Drill, screen: Screen, asker: Asker) -> None:
    """Take moves until the drill is over or the trainee stops."""
    hand = Hand(drill, screen, asker)
    drill_view.status(screen, drill)
    waiting = ""
    while not drill.over:
        try:
            text = waiting or asker.ask("> ", _words(drill))
            waiting = ""
            if text := " ".join(text.split()):
                _take(hand, text)
        except _Instead as other:
            waiting = str(other)
        except Stop:
            return
        except DrillError as error:
            screen.problem(str(error))


def _words(drill: Drill) -> list[str]:
    return [*COMMANDS, *(step.title for step in drill.steps.values())]


def command_of(text: str) -> tuple[str, str]:
    """The command that a text is, with the words after it; no command where it is none."""
    lowered = text.lower()
    for name, (others, _) in COMMANDS.items():
        if lowered == name or lowered in others:
            return name, ""
    first, _, rest = text.partition(" ")
    for name in _WITH_WORDS:
        if rest.strip() and (first.lower() == name or first.lower() in COMMANDS[name][0]):
            return name, rest.strip()
    return "", text


def _take(hand: Hand, text: str) -> None:
    """Do what was typed."""
    drill, screen = hand.drill, hand.screen
    command, rest = command_of(text)
    plain: dict[str, Callable[[], None]] = {
        "?": lambda: drill_view.feedback(screen, drill),
        "hint": lambda: _hint(drill, screen),
        "path": lambda: drill_view.path_so_far(screen, drill),
        "say": lambda: drill_view.customer(screen, drill.knowledge, drill.dealt),
        "help": lambda: _help(screen),
        "prove": lambda: _done(hand, drill.prove()),
        "fixed": lambda: _fixed(hand),
        "shut": lambda: _shut(drill, screen),
        "refer": lambda: _refer(drill, screen, hand.asker),
    }
    if command == "quit":
        raise Stop
    if command in plain:
        plain[command]()
        return
    if command == "list":
        drill_view.choices(screen, drill, rest)
        return
    if command == "safe" and not rest:
        _safe(hand)
        return
    if command in ("how", "now") and not rest:
        screen.problem(f"{command} what? Put words or a number after it")
        return
    named = command_of(rest)[0] if command else ""
    if command == "safe" and named in _SAFE_COMMANDS:
        drill_view.cautions(screen, drill.knowledge, drill.make_safe(PROOF_MOVE), hand.seen)
        screen.line("All of it is met.")
        plain[named]()
        return
    if named and not rest.isdecimal():
        screen.problem(f'{command} {rest}: "{named}" is a command and no step; type {named} alone')
        return
    step = which(drill, screen, hand.asker, rest)
    if not step:
        return
    if command == "how":
        _how(drill, screen, step)
        return
    if command == "safe":
        drill_view.cautions(screen, drill.knowledge, drill.make_safe(step), hand.seen)
        screen.line("All of it is met.")
    _do(hand, step, command == "now")


def which(drill: Drill, screen: Screen, asker: Asker, text: str) -> str:
    """The check or remedy that words or a number mean; empty for none.

    Its id, its title, its number, or whole words of one title alone. Anything less is proposed and never taken unasked.
    """
    checks, remedies = drill.checks, drill.remedies
    listed = [*checks, *remedies]
    if text in listed:
        return text
    if text.isdecimal():
        if 1 <= int(text[:9]) <= len(listed):
            return listed[int(text[:9]) - 1]
        screen.problem(f"{text}: the list goes from 1 to {len(listed)}")
        return ""
    phrases: dict[str, tuple[str, ...]] = {name: (each.title, each.ask) for name, each in checks.items()}
    causes = drill.knowledge.causes
    for name, each in remedies.items():
        phrases[name] = (each.title, each.brief, *(causes[cause].title for cause in each.cures))
    titles = {name: step.title for name, step in drill.steps.items()}
    same = [name for name, title in titles.items() if title.lower() == text.lower()] or [
        name for name, title in titles.items() if drill_view.has(f"{title} {name}", text, whole=True)
    ]
    if len(same) == 1:
        return same[0]
    begun = [name for name, title in titles.items() if drill_view.has(f"{title} {name}", text)]
    found = begun if len(begun) == 1 else finder.find(text, phrases)
    if not found:
        screen.problem(f'nothing is like "{text}"; list shows all there is')
        return ""
    rows = [f"{titles[name]} ({'check' if name in checks else 'remedy'})" for name in found]
    screen.line("Which one? A number, or Enter for none.")
    screen.options((str(number), row) for number, row in enumerate(rows, 1))
    given = asker.ask("> ", rows).strip()
    if given.isdecimal() and 1 <= int(given[:9]) <= len(found):
        return found[int(given[:9]) - 1]
    if given:
        raise _Instead(given)
    return ""


class _Instead(Exception):  # noqa: N818 - a wish of the trainee, not an error
    """Another move was typed where one of several was asked for."""


def _do(hand: Hand, step: str, as_it_stands: bool = False) -> None:
    if step == PROOF_MOVE:
        if hand.claimed:
            _fixed(hand)
        else:
            _done(hand, hand.drill.prove())
        return
    if not as_it_stands and not _waits(hand, step):
        return
    made = hand.drill.check if step in hand.drill.checks else hand.drill.remedy
    _done(hand, made(step, as_it_stands))


def _waits(hand: Hand, step: str) -> bool:
    """Whether a long change of the set-up is meant: a slip of a key should not cost an hour."""
    costs, here, there = hand.drill.knowledge.catalogue.costs, hand.drill.job.here, hand.drill.steps[step].state
    spent = costs.move(here, there)
    if spent < LONG or hand.drill.safety.dangers(step) or getattr(hand.asker, "scripted", False):
        return True
    state = hand.drill.knowledge.catalogue.states[there].title.lower()
    title = drill_view.titled(hand.drill.knowledge, step)
    hand.screen.line(f"{title} needs the set {state}: {minutes(spent)} of waiting. Type wait, or Enter for not now.")
    given = hand.asker.ask("> ", ("wait",)).strip()
    if given.lower() in ("", "n", "no", "not now"):
        return False
    if given.lower() not in ("w", "wait", "y", "yes"):
        raise _Instead(given)
    return True


def _done(hand: Hand, move: DrillMove) -> None:
    hand.pending, hand.claimed = "", False
    if move.kind == "unsafe":
        drill_view.unsafe(hand.screen, hand.drill, move, hand.seen)
        if all(danger.kind in ("state", "step") for danger in move.dangers):
            hand.pending = move.id
        return
    drill_view.moved(hand.screen, hand.drill, move)
    if hand.drill.safety.held:
        hand.screen.problem("It runs away. What comes first?")


def _safe(hand: Hand) -> None:
    drill, screen = hand.drill, hand.screen
    if hand.pending:
        step = hand.pending
        drill.make_safe(step)
        screen.line("All of it is met.")
        _do(hand, step)
        return
    drill_view.cautions(screen, drill.knowledge, drill.make_safe(), hand.seen)
    screen.line("The cautions of a running set are met. A load and a dangerous step have more: safe and the step.")


def _fixed(hand: Hand) -> None:
    drill = hand.drill
    found = drill.finish()
    if isinstance(found, DrillMove):
        _done(hand, found)
        hand.claimed = True
        return
    move = drill.moves[-1]
    if move.proof is not None:
        drill_view.moved(hand.screen, drill, move)
    hand.pending, hand.claimed = "", False
    if found.end == NOT_FIXED:
        hand.screen.line("So it is not fixed. Go on.")


def _shut(drill: Drill, screen: Screen) -> None:
    if drill.shut_down():
        screen.line("Shut down. With the engine stopped the throttle plate closes freely by hand.")
    else:
        screen.line("Nothing called for that; no harm done.")


def _refer(drill: Drill, screen: Screen, asker: Asker) -> None:
    price = minutes(drill.knowledge.catalogue.costs.refer)
    at = choose(asker, screen, f"Hand it over? That counts {price}.", ("no, go on", "yes, hand it over"), 0)
    if at == 1:
        drill.refer()


def _hint(drill: Drill, screen: Screen) -> None:
    screen.note("Thinking ...")
    step = drill.hint()
    if step is None:
        screen.line("The findings contradict each other; no hint can be given.")
        return
    title = {"done": "prove it and close", "refer": "hand it over"}.get(
        step.kind, drill_view.titled(drill.knowledge, step.id)
    )
    screen.fact("Hint", f"{title}. {step.why}")
    drill_view.status(screen, drill)


def _how(drill: Drill, screen: Screen, step: str) -> None:
    knowledge = drill.knowledge
    if step in drill.checks:
        check = drill.checks[step]
        screen.heading(check.title)
        screen.numbered(check.how or (check.ask,))
        screen.fact("Does not prove", check.does_not_prove)
        return
    remedy = drill.remedies[step]
    screen.heading(remedy.title)
    screen.line(remedy.brief)
    screen.numbered(remedy.steps)
    for name in remedy.then:
        screen.fact("Part of it", knowledge.remedies[name].title)


def _help(screen: Screen) -> None:
    screen.options((name, told) for name, (_, told) in COMMANDS.items())
    screen.line("Anything else is a step: words of its name, or its number in the list.")
