"""What a trainee's words mean in a drill: a command, or one of the steps.

Purpose: the commands with their other words, and from words or a number to a check or remedy.
Law: anything less than an id, a title or a number is proposed and never taken unasked.
Not here: what a move does (see `drill_session`), which steps a list shows (see `drill_list`).
"""

from __future__ import annotations

import re

from ...engine.teaching import Drill
from ..terminal import BACK_WORDS, STOP_WORDS, Asker, Screen, finder
from . import drill_list, drill_view

COMMANDS: dict[str, tuple[tuple[str, ...], str]] = {
    "list": (("l",), "what can be done, by area; list WORDS: some of it, numbered, such as list governor; list all"),
    "how": (("h",), "how WORDS: how it is done, free"),
    "safe": (("s",), "safe WORDS: say which cautions apply, meet them, then do it; safe alone: those of a running set"),
    "guess": (("predict", "g"), "guess WORDS: say what a check will show, then make it and hear why"),
    "now": ((), "now WORDS: do it without changing the set-up"),
    "shut": (("shutdown", "shut down"), "shut the set down and prove that the throttle closes"),
    "prove": (("p",), "a proof run"),
    "reset": (("reset breaker", "close breaker"), "close the breaker again after it has tripped"),
    "?": (("feedback",), "what the last step told, and what would have been better; free"),
    "hint": ((), "where to look, for 1 minute; again: what kind of step, which step, why, 5 minutes in all"),
    "path": (("done", "log"), "what was done so far"),
    "say": (("customer", "set"), "the set and the customer again"),
    "fixed": (("f",), "it is fixed: proof run and debrief"),
    "refer": ((), "hand it over, for the price of that"),
    "quit": (("q", "x", "exit", "stop"), "stop here, with the debrief"),
    "help": (("m", "more", "menu"), "all of this"),
}
_WITH_WORDS = ("list", "how", "safe", "guess", "now")
LEAVES = frozenset((*STOP_WORDS, *BACK_WORDS))
_UNIT_WORDS = {"Hz": ("hertz",), "V": ("volts",), "A": ("amps",), "inHg": ("vacuum",)}
"""What somebody asks for by its unit."""
_ASKED = re.compile(
    r"^(?:(?:how (?:many|much)|what (?:is|are)|check|measure|read|look (?:at|for|up)|test|try)(?: the| a| its)?\s+)+",
    re.I,
)
"""Words before what is meant."""
_LOST = re.compile(r"^(?:i )?(?:dont|don't|do not) know|^no idea|^what now|^help me|^stuck\b", re.I)
FREE = frozenset(
    word for name in ("quit", "help", "list", "say", "path", "?", "hint") for word in (name, *COMMANDS[name][0])
)
"""What may be typed before a long page was read to its end: nothing that does a step."""


class Instead(Exception):  # noqa: N818 - a wish of the trainee, not an error
    """Another move was typed where one of several was asked for."""


def words_for(drill: Drill) -> list[str]:
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


def which(drill: Drill, screen: Screen, asker: Asker, text: str) -> str:
    """The check or remedy that words or a number mean; empty for none.

    Its id, its title, its number, or whole words of one title alone. Anything less is proposed and never taken unasked;
    so is a remedy by some words of its title, since "open the choke" is what a hand does in passing, too.
    """
    checks, remedies, known = drill.checks, drill.remedies, drill.knowledge
    if text in checks or text in remedies:
        return text
    if text.isdecimal():
        step = drill_list.step_numbered(known, int(text[:9]))
        if step in checks or step in remedies:
            return step
        why = f"{drill_view.titled(known, step)}: nothing of that on this set" if step else "no such number"
        screen.problem(f"{text}: {why}; list shows the numbers")
        return ""
    phrases: dict[str, tuple[str, ...]] = {
        name: (each.title, each.ask, *_UNIT_WORDS.get(each.reading.unit if each.reading else "", ()))
        for name, each in checks.items()
    }
    causes = drill.knowledge.causes
    for name, each in remedies.items():
        phrases[name] = (each.title, each.brief, *(causes[cause].title for cause in each.cures))
    titles = {name: step.title for name, step in drill.steps.items()}
    same = [name for name, title in titles.items() if title.lower() == text.lower()] or [
        name for name, title in titles.items() if drill_list.has(f"{title} {name}", text, whole=True)
    ]
    whole = getattr(asker, "scripted", False) or any(titles[name].lower() == text.lower() for name in same)
    if len(same) == 1 and (same[0] in checks or whole):
        return same[0]
    begun = [name for name, title in titles.items() if drill_list.has(f"{title} {name}", text)]
    asked = _ASKED.sub("", text) or text
    found = begun if len(begun) == 1 else tuple(dict.fromkeys((*same, *finder.find(asked, phrases))))
    if not found or _LOST.search(text):
        nothing = "" if _LOST.search(text) else f'nothing is like "{text}"; '
        screen.problem(f"{nothing}list shows all there is, hint says where to look")
        return ""
    rows = [f"{titles[name]} ({'check' if name in checks else 'remedy'})" for name in found]
    screen.line("Which one? A number, or Enter for none.")
    screen.options((str(number), row) for number, row in enumerate(rows, 1))
    given = asker.ask("> ", rows).strip()
    if given.isdecimal() and 1 <= int(given[:9]) <= len(found):
        return found[int(given[:9]) - 1]
    if given and given.lower() not in LEAVES:
        raise Instead(given)
    return ""
