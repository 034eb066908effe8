"""The moves of a drill, as the trainee types them.

Purpose: from what is typed to moves of the drill, until it is over or put down.
Law: what is unsafe is called out before anything is done or asked; time is never taken back. Whatever is asked within a
move is left alone by Enter or a word that stops; only at the move itself does such a word end the drill, once asked.
Not here: which step words mean (see `drill_words`), what a move does (see the engine), what is shown of it (see
`drill_view`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from ...engine.readings import yes_or_no
from ...engine.teaching import NOT_FIXED, PROOF_MOVE, RUNGS, Drill, DrillError, DrillMove
from ..terminal import (
    BACK_WORDS,
    Asker,
    Back,
    Choice,
    Page,
    Screen,
    Stop,
    choose,
    confirm,
    minutes,
    present,
    sheet,
)
from . import drill_list, drill_view
from .drill_words import COMMANDS, FREE, LEAVES, Instead, command_of, which, words_for

LONG = 30.0
"""Minutes of a change of set-up from which on it is asked whether that is meant."""
_LEAVE = "Enter or x: leave it"
_READ_ON = "Enter: back. Or type what you do."
_SAFE_COMMANDS = ("prove", "fixed")
"""Commands that safe can stand before: those that make a proof run."""


def introduced(screen: Screen) -> None:
    """What one has to know to begin."""
    screen.line('Type what you do, in words. Before a step that can hurt put the word safe: "safe load step".')


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
    listed: set[str] = field(default_factory=set)
    """Steps that a list has shown: their numbers are known, and mean them."""

    @property
    def scripted(self) -> bool:
        """Whether the moves come from a list, and nobody reads what is shown."""
        return bool(getattr(self.asker, "scripted", False))

    def ask(self) -> str:
        """The next move, below what the last one brought."""
        words = words_for(self.drill)
        if not self.screen.full:
            return self.asker.ask("> ", words)
        standing = self.drill.knowledge.catalogue.states[self.drill.job.here].title
        state = "HELD: must not run" if self.drill.safety.held else "safe"
        self.screen.top = (f"Drill, level {self.drill.dealt.level.number}", minutes(self.drill.minutes), state)
        page = Page(
            question=f"{standing}. What do you do?",
            keys=_KEYS if not self.drill.begun else tuple((key, "") for key, _ in _KEYS),
            words=tuple(words),
            commands=FREE,
        )
        return present(self.asker, self.screen, page)


_KEYS = (
    ("list", "steps"), ("?", "was it good"), ("hint", "where"), ("prove", "run"), ("fixed", "done"), ("help", "all"),
)  # fmt: skip


def work(drill: Drill, screen: Screen, asker: Asker) -> None:
    """Take moves until the drill is over or the trainee stops."""
    hand = Hand(drill, screen, asker)
    if not screen.full:
        drill_view.status(screen, drill)
    waiting = ""
    while not drill.over:
        try:
            text = waiting or hand.ask()
            waiting = ""
            if text := " ".join(text.split()):
                _take(hand, text)
        except Instead as other:
            waiting = str(other)
        except Back:
            screen.line("Left alone; nothing was done.")
        except Stop:
            return
        except DrillError as error:
            screen.problem(str(error))


def _take(hand: Hand, text: str) -> None:
    """Do what was typed."""
    drill, screen = hand.drill, hand.screen
    command, rest = command_of(text)
    if command in ("help", "list", "say", "path"):
        if command == "list" and rest:
            hand.listed.update(drill_list.fitting(drill, rest))
        if not screen.full:
            _shown(drill, screen, command, rest)
        elif given := sheet(hand.asker, screen, lambda: _shown(drill, screen, command, rest), _READ_ON):
            raise Instead(given)
        return
    plain: dict[str, Callable[[], None]] = {
        "?": lambda: drill_view.feedback(screen, drill),
        "hint": lambda: _hint(drill, screen),
        "prove": lambda: _done(hand, drill.prove()),
        "fixed": lambda: _fixed(hand),
        "shut": lambda: _shut(drill, screen),
        "reset": lambda: screen.line("Closed again." if drill.reset() else "It has not tripped; nothing was done."),
        "refer": lambda: _refer(drill, screen, hand.asker),
    }
    if command == "quit":
        _quit(hand)
        return
    if not command and text.lower() in BACK_WORDS:
        screen.problem("there is no step back in a drill: its time is spent. Type what you do next")
        return
    if command in plain:
        plain[command]()
        return
    if command == "safe" and not rest:
        _safe(hand)
        return
    if command in ("how", "now", "guess") and not rest:
        screen.problem(f"{command} what? Put words or a number after it")
        return
    named = command_of(rest)[0] if command else ""
    if command == "safe" and named in _SAFE_COMMANDS:
        _meet(hand, PROOF_MOVE)
        plain[named]()
        return
    if named and not rest.isdecimal():
        screen.problem(f'{command} {rest}: "{named}" is a command and no step; type {named} alone')
        return
    step = which(drill, screen, hand.asker, rest)
    if not step or (rest.isdecimal() and command != "how" and not _number_meant(hand, rest, step)):
        return
    if command == "how":
        drill_view.how(screen, drill, step)
        return
    if command == "guess":
        _guess(hand, step)
        return
    if command == "safe":
        _meet(hand, step)
    _do(hand, step, command == "now")


def _quit(hand: Hand) -> None:
    """End the drill, after asking where anything was done and somebody reads."""
    if not hand.scripted and hand.drill.begun:
        question = "Stop here? It counts as not fixed, and you hear what it was."
        if not confirm(hand.asker, hand.screen, question, "stop, and the debrief", "go on with the drill"):
            return
    raise Stop


def _number_meant(hand: Hand, number: str, step: str) -> bool:
    """Whether a number means its step: one that no list has shown may be the answer to something else."""
    if hand.scripted or step in hand.listed:
        return True
    title = drill_view.titled(hand.drill.knowledge, step)
    hand.screen.line(f"{number} is: {title}. y: that is meant. Enter: no.")
    given = hand.asker.ask("> ", ("y",)).strip()
    if yes_or_no(given):
        hand.listed.add(step)
        return True
    if given and yes_or_no(given) is None and given.lower() not in LEAVES:
        raise Instead(given)
    return False


def _shown(drill: Drill, screen: Screen, command: str, rest: str) -> None:
    """What is only read: the list, the set, the path, the help."""
    if command == "list":
        if rest:
            drill_list.choices(screen, drill, rest)
        else:
            drill_list.areas(screen, drill)
    elif command == "say":
        drill_view.customer(screen, drill.knowledge, drill.dealt, whole=True)
    elif command == "path":
        drill_view.path_so_far(screen, drill)
    else:
        _help(screen)


def _meet(hand: Hand, step: str = "") -> None:
    """Have the cautions of a step, or of a running set, chosen from a list, and met; only met where nobody reads."""
    drill, screen, knowledge = hand.drill, hand.screen, hand.drill.knowledge
    listed = () if hand.scripted else drill.offered(step)
    if not listed:
        drill_view.cautions(screen, knowledge, drill.make_safe(step), hand.seen)
        screen.line("All of it is met.")
        return
    titles = {name: knowledge.catalogue.cautions[name].title for name in listed}
    what = drill_view.titled(knowledge, step) if step else "A running set"
    page = Page(
        title=f"Before: {what}",
        question="Which of these can hurt here? Type their numbers, such as 1 3. Enter: none of them. x: leave it.",
        choices=tuple(Choice(str(at), title) for at, title in enumerate(titles.values(), 1)),
        fresh=True,
    )
    again = False
    while True:
        typed = present(hand.asker, screen, page, again)
        if typed.lower() in LEAVES:
            raise Back
        given = typed.replace(",", " ").split()
        wrong = next((each for each in given if not (each.isdecimal() and 1 <= int(each[:9]) <= len(listed))), None)
        if wrong is None:
            break
        screen.problem(f'"{wrong}": expected numbers from 1 to {len(listed)}, Enter for none, or x to leave it')
        again = True
    found = drill.choose_safe([listed[int(each[:9]) - 1] for each in given], step)
    if found.left_out:
        screen.problem(f"Left out: {', '.join(titles[name].lower() for name in found.left_out)}.")
        drill_view.cautions(screen, knowledge, found.left_out, hand.seen)
    if found.vain:
        screen.line(f"Not called for here, and counted: {', '.join(titles[name].lower() for name in found.vain)}.")
    if found.beside:
        screen.line("What goes with it besides:")
        drill_view.cautions(screen, knowledge, found.beside, hand.seen)
    hand.seen.update(found.named)
    screen.line("Now all of it is met." if found.left_out or found.beside else "That is all of it, and it is met.")


def _guess(hand: Hand, step: str) -> None:
    """Foretell a check, then make it."""
    drill, screen = hand.drill, hand.screen
    check = drill.checks.get(step)
    if check is None:
        screen.problem(f"{drill_view.titled(drill.knowledge, step)} is a remedy; what a check will show can be guessed")
        return
    names = tuple(each.id.replace("_", " ") for each in check.outcomes)
    at = choose(hand.asker, screen, f"{check.ask} What will it be?", names, leave=_LEAVE)
    if drill.safety.dangers(step):
        _meet(hand, step)
    drill.predict(step, check.outcomes[at].id)
    _do(hand, step)


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
    if spent < LONG or hand.drill.safety.dangers(step) or hand.scripted:
        return True
    state = hand.drill.knowledge.catalogue.states[there].title.lower()
    title = drill_view.titled(hand.drill.knowledge, step)
    hand.screen.line(f"{title} needs the set {state}: {minutes(spent)} of waiting. Type wait, or Enter for not now.")
    given = hand.asker.ask("> ", ("wait",)).strip()
    if yes_or_no(given) is False or given.lower() in ("", "not now", *LEAVES):
        return False
    if given.lower() not in ("w", "wait") and not yes_or_no(given):
        raise Instead(given)
    return True


def _done(hand: Hand, move: DrillMove) -> None:
    hand.pending, hand.claimed = "", False
    if move.kind == "unsafe":
        drill_view.unsafe(hand.screen, hand.drill, move, hand.seen)
        # What `safe` can put right: cautions met, and what is off put back on.
        if all(danger.kind in ("off", "state", "step") for danger in move.dangers):
            hand.pending = move.id
        return
    drill_view.outcome_of_move(hand.screen, hand.drill, move)
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
    _meet(hand)
    screen.line("That is for a running set. A load and a dangerous step have more: safe and the step.")


def _fixed(hand: Hand) -> None:
    drill = hand.drill
    found = drill.finish()
    if isinstance(found, DrillMove):
        _done(hand, found)
        hand.claimed = True
        return
    move = drill.moves[-1]
    if move.proof is not None:
        drill_view.outcome_of_move(hand.screen, drill, move)
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
    question = f"Hand it over? That counts {price}."
    at = choose(asker, screen, question, ("no, go on", "yes, hand it over"), leave=_LEAVE)
    if at == 1:
        drill.refer()


def _hint(drill: Drill, screen: Screen) -> None:
    """One rung more than was told as the job stands; the last one again costs nothing."""
    order = list(RUNGS)
    told = drill.rung_told
    rung = order[min(order.index(told) + 1, len(order) - 1)] if told else order[0]
    step = drill.hint(rung=rung)
    if step is None:
        screen.line("The findings contradict each other; no hint can be given.")
        return
    drill_view.hinted(screen, drill, step, rung)
    drill_view.status(screen, drill)


def _help(screen: Screen) -> None:
    screen.options((name, told) for name, (_, told) in COMMANDS.items())
    screen.line("Anything else is a step: words of its name, or its number in the list.")
