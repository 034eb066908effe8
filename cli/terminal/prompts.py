"""Asking at the terminal.

Purpose: one line of an answer, with history and completion where the terminal can do that, and plain where not.
Law: a prompt is never needed: where there is no terminal, `terminal` says which option gives the same.
Not here: what an answer means (see `session`).
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, runtime_checkable

from ...engine.problems import HertzwrightError
from ...engine.readings import after_yes_or_no, harmless, same_sense, yes_or_no
from . import wrapping
from .killed import kept_in_order
from .leaving import Back, Stop
from .page import Choice, Page, lay_out
from .screen import Screen


class NoTerminalError(HertzwrightError):
    """There is nobody to ask. The message says which options to give instead."""


BACK_WORDS = ("z", "back", "undo")
HELP_WORDS = ("?", "help")
STOP_WORDS = ("x", "stop", "quit", "q", "exit")


class Asker(Protocol):
    """Something that answers prompts: a terminal, or a list of answers in tests."""

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        """One line. `words` are offered for completion. Raises Stop at the end of the input."""
        ...


@runtime_checkable
class PageAsker(Asker, Protocol):
    """An asker that shows whole pages by itself."""

    def present(self, page: Page) -> str:
        """What is answered to a page."""
        ...


class PlainAsker:
    """Reads lines with `input`, for screen readers and terminals that cannot move the cursor."""

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        if not sys.stdin.isatty():  # asked after all, where options said everything: nobody's silence is an answer
            raise NoTerminalError("no terminal to ask at")
        try:
            return input(prompt).strip()
        except EOFError:
            print()
            raise Stop from None


class TerminalAsker:
    """Reads lines with prompt_toolkit: history with the arrow keys, completion with Tab."""

    def __init__(self) -> None:
        from prompt_toolkit import PromptSession
        from prompt_toolkit.history import InMemoryHistory

        self._session: PromptSession[str] = PromptSession(history=InMemoryHistory())

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        from prompt_toolkit.completion import WordCompleter

        completer = WordCompleter(sorted(set(words)), ignore_case=True, sentence=True, match_middle=True)
        try:
            with kept_in_order():
                return self._session.prompt(prompt, completer=completer, complete_while_typing=False).strip()
        except EOFError:
            raise Stop from None


def terminal(plain: bool, instead: str, screen: Screen | None = None) -> Asker:
    """The asker of this terminal. Raises NoTerminalError, with the options that do the same, where there is none.

    screen: one that may be given the whole of the terminal, until it is left.
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise NoTerminalError(f"no terminal to ask at; {instead}")
    if plain or os.environ.get("TERM", "dumb") == "dumb":
        return PlainAsker()
    if screen is not None:
        from .full_screen import LEAST, FullScreen

        if wrapping.terminal() >= LEAST[0] and wrapping.rows() >= LEAST[1]:
            return FullScreen(screen)
    return TerminalAsker()


@dataclass(frozen=True, slots=True)
class _Rest:
    """A screen below rows that stand on it already."""

    width: int
    height: int | None
    drawn: bool
    blocks: bool


def present(asker: Asker, screen: Screen, page: Page, again: bool = False) -> str:
    """Show a page and take one line. again: it was shown, and what was typed could not be used."""
    if screen.ahead and not page.sheet:
        given, screen.ahead = screen.ahead, ""
        if not page.fresh:
            return given
        screen.problem(f'"{given}": not taken, typed before this was asked')
    if isinstance(asker, PageAsker):
        return asker.present(replace(page, read=again))
    if not again:
        height = screen.height
        if height is not None and screen.since < height // 2:
            height -= screen.since
        for leaf in lay_out(page, _Rest(screen.width, height, screen.drawn, screen.blocks)):
            screen.rows(leaf.rows)
            if not leaf.last:
                given = asker.ask("more> ")
                if given in leaf.answers or given.lower() in page.commands or ((page.sheet or page.anywhere) and given):
                    screen.since = 0
                    return given
                if given:
                    screen.problem(f'"{given}": not taken, first read on')
    if page.fresh and forget():
        dropped = asker.ask("")
        screen.problem(f'"{dropped}": not taken, begun before this was asked')
    given = asker.ask(page.prompt, page.words)
    screen.since = 0
    return given


def sheet(asker: Asker, screen: Screen, write: Callable[[], None], hint: str = "") -> str:
    """Show in place what `write` prints, until it was read; only print it where nothing scrolls away. A line that is
    typed there answers what is asked next, but for a word for back, which it is.

    hint: said below it where words typed there count; they are returned, and are empty for a word that only goes back.
    """
    if screen.height is None:
        write()
        return ""
    rows = screen.captured(write)
    while rows and not rows[0].text:
        rows = rows[1:]
    leave = frozenset((*BACK_WORDS, *STOP_WORDS))
    page = Page(body=rows, question=hint, commands=leave, anywhere=True)
    given = present(asker, screen, page if hint else replace(page, sheet=True, anywhere=False, prompt="back> "))
    if not hint:  # a word to stop with stops, as it does at the question
        screen.ahead = "" if given.lower() in BACK_WORDS else given
        return ""
    return "" if given.lower() in leave else given


def forget() -> bool:
    """Drop what was typed ahead at the terminal, so that it is no answer to what is asked next. Returns whether the
    last line of it has no end yet: then what is still typed of it is none either."""
    try:
        import termios

        if not sys.stdin.isatty():
            return False
        handle = sys.stdin.fileno()
        before = termios.tcgetattr(handle)
    except (ImportError, OSError, ValueError):
        return False
    # Only without line editing does the terminal tell of a line that is not ended.
    raw = [*before[:3], before[3] & ~termios.ICANON, *before[4:6], [*before[6]]]
    raw[6][termios.VMIN], raw[6][termios.VTIME] = 0, 0
    typed = b""
    try:
        termios.tcsetattr(handle, termios.TCSANOW, raw)
        while more := os.read(handle, 4096):
            typed += more
    except OSError:
        return False
    finally:
        termios.tcsetattr(handle, termios.TCSANOW, before)
    return bool(typed) and not typed.endswith((b"\n", b"\r"))


Heard = Callable[[str], Sequence[str]]
"""A text as it may be meant: itself, and the same without words that say nothing."""
Aside = Callable[[str], bool]
"""Does what a text says beside the answers of a question. Returns whether it says anything."""


def choose(
    asker: Asker,
    screen: Screen,
    question: str,
    options: Sequence[str],
    default: int | None = None,
    also: Mapping[str, int] | None = None,
    back: bool = False,
    heard: Heard | None = None,
    leave: str = "",
    aside: Aside | None = None,
) -> int:
    """Position of the option taken, by its number or its text. Enter takes `default`, if there is one. The start of a
    text is not taken: the option that it may mean is named, to be confirmed by its number, or by y right then.

    also: further words, each with the position that it means. back: whether z goes back, by raising Back. heard: what a
    text may be meant as. leave: said below where Enter and every word that stops or goes back leave this question
    alone, by raising Back. aside: does what a text says that is none of the options; whether it was anything.
    """
    return choose_several(asker, screen, question, options, 0, default, also, back, heard, leave, aside)[0]


def choose_several(
    asker: Asker,
    screen: Screen,
    question: str,
    options: Sequence[str],
    together: int,
    default: int | None = None,
    also: Mapping[str, int] | None = None,
    back: bool = False,
    heard: Heard | None = None,
    leave: str = "",
    aside: Aside | None = None,
) -> tuple[int, ...]:
    """The same for a list of which the first so many options may be taken together, by two or more numbers."""
    choices = tuple(
        Choice(str(number), text + (" (Enter)" if default == number - 1 else ""))
        for number, text in enumerate(options, 1)
    )
    commands = frozenset((*STOP_WORDS, *HELP_WORDS, *(BACK_WORDS if back or leave else ()), *(also or {})))
    page = Page(
        question=question, choices=choices, words=tuple(options), commands=commands, at_once=together < 2,
        hint="Several? Their numbers, such as 2 1" if together > 1 else leave,
    )  # fmt: skip
    again, offered = False, list[int]()
    while True:
        given = present(asker, screen, page, again)
        again = True
        if (numbers := several(given, together)) is not None:
            return numbers
        # What says nothing at all, such as ! or ?, is no Enter.
        for text in dict.fromkeys((given, *(filter(None, heard(given)) if heard and given else ()))):
            found = _meant(text, options, also or {}, default)
            if found is None:
                found = _with_yes_or_no(text, options, also or {}, heard)
            if found is not None:
                return (found,)
        if leave and given.lower() in ("", *STOP_WORDS, *BACK_WORDS):
            raise Back
        if _led_off(screen, given, back, _help_for(len(options), default, leave)):
            continue
        if len(offered) == 1 and yes_or_no(given):
            return (offered[0],)
        if aside is not None and given and aside(given):
            again = False
            continue
        expected = f"1 to {len(options)}" if len(options) > 1 else "1"
        offered = [at for at, text in enumerate(options) if given and _begins(text, given)]
        hint = f"; did you mean {offered[0] + 1}, {options[offered[0]]}?" if len(offered) == 1 else ""
        numbers_read = re.findall(r"\d+", given) if not re.search(r"\d\.\d", given) else []
        if len(numbers_read) > 1:
            hint = f"; understood as the numbers {' and '.join(numbers_read)}"
            hint += "" if together > 1 else ", and one is asked"
        screen.problem(f'"{given}": expected {expected}{hint}' if given else f"expected {expected}")


def _meant(given: str, options: Sequence[str], also: Mapping[str, int], default: int | None = None) -> int | None:
    """The option that a text is a word for, or the text of; a yes or no in other words is the yes or no of the list."""
    said = yes_or_no(given)
    words = (given.lower(), *(() if said is None else ("yes", "y") if said else ("no", "n")))
    at = next((also[word] for word in words if word in also), None)
    return position(given, options, default) if at is None else at


def _with_yes_or_no(given: str, options: Sequence[str], also: Mapping[str, int], heard: Heard | None) -> int | None:
    """The option that "yes, it is gone" names after its yes, "no, still there" after its no, where both say the same:
    a no before an option that no is not the word for is a denial of it."""
    said, rest = after_yes_or_no(given)
    if said is None:
        return None
    word = "yes" if said else "no"
    own = _meant(word, options, also)
    for text in dict.fromkeys((rest, *(heard(rest) if heard else ()))):
        found = _meant(text, options, also)
        if found is not None:
            return found if found == own or (own is None and said) else None
    if own is not None and "," in given.partition(" ")[0] and harmless(rest):
        return own
    return None


def _begins(text: str, given: str) -> bool:
    """Whether a text begins so; a no is not the beginning of normal."""
    return text.lower().startswith(given.lower()) and same_sense(given, " ".join(text.split()[: len(given.split())]))


def several(given: str, count: int) -> tuple[int, ...] | None:
    """Places by two or more numbers up to `count` ("6 4", "6,4", "6 and 4"), each once; None for anything else."""
    if not re.fullmatch(r"\d{1,4}(?:\s*(?:,|;|\+|&|and)\s*\d{1,4}|\s+\d{1,4})+", given.strip(), re.IGNORECASE):
        return None
    numbers = [int(each) for each in re.findall(r"\d+", given)]
    if not all(1 <= number <= count for number in numbers):
        return None
    return tuple(dict.fromkeys(number - 1 for number in numbers))


_ALL_BUT = re.compile(r"^(?:yes,? )?(?:all|yes),? (?:but|except|not) ", re.IGNORECASE)


def all_but(given: str) -> str:
    """What is left out of all of a list, without the words that say so: "all but 2 3" is "2 3"."""
    return _ALL_BUT.sub("", given)


def numbered(given: str, count: int) -> tuple[int, ...] | None:
    """The same, by one number too."""
    if given.isdecimal() and 1 <= int(given[:9]) <= count:
        return (int(given) - 1,)
    return several(given, count)


def _help_for(count: int, default: int | None, leave: str) -> str:
    parts = [f"Type the number of one of these, {f'1 to {count}' if count > 1 else '1'}, or its words."]
    parts += [f"Enter alone is {default + 1}."] if default is not None else []
    return " ".join([*parts, *([leave] if leave else [])])


def _led_off(screen: Screen, given: str, back: bool, told: str) -> bool:
    """Leave a question by a word that stops or goes back; whether what was typed was a wish for help, or to go back
    where nothing is before this, and was met. told: what can be answered."""
    typed = given.lower()
    if typed in STOP_WORDS:
        raise Stop
    if back and typed in BACK_WORDS:
        raise Back
    if typed in HELP_WORDS:
        screen.note(f"{told} {'z goes back, x' if back else 'x'} stops; what was kept stays.")
    elif typed in BACK_WORDS:
        screen.problem(f'"{given}": there is nothing before this to go back to; x stops')
    return typed in HELP_WORDS or typed in BACK_WORDS


def position(given: str, options: Sequence[str], default: int | None = None) -> int | None:
    """Which option an answer means: its number, its text, what stands before its first comma or colon, or yes, no, y
    or n where one option alone begins with that word; None where none of these."""
    if not given:
        return default
    if given.isdecimal():
        number = int(given[:9])
        return number - 1 if 1 <= number <= len(options) else None
    said = yes_or_no(given)
    typed = {given.lower(), *(() if said is None else ("yes",) if said else ("no",))}
    parts = "[,:]" if said is None else "[^a-z]"
    fits = [at for at, text in enumerate(options) if typed & {text.lower(), re.split(parts, text.lower())[0]}]
    return fits[0] if len(fits) == 1 else None


def confirm(
    asker: Asker, screen: Screen, question: str, yes: str, no: str, back: bool = False, page: Page | None = None,
    aside: Aside | None = None,
) -> bool:  # fmt: skip
    """A question that somebody has to mean: y or n answers it, or the word; no number does, nor Enter, nor what was
    typed before it was asked. The key that puts a step off means no.

    page: what stands above the question, such as cautions. aside: as of `choose`.
    """
    choices = (Choice("y", yes), Choice("n", no))
    commands = frozenset((*STOP_WORDS, *HELP_WORDS, *(BACK_WORDS if back else ()), "n", "no", "s", "skip"))
    page = replace(
        page or Page(), question=question, choices=choices, words=("yes", "no"), commands=commands, fresh=True
    )
    again = False
    while True:
        given = present(asker, screen, page, again)
        again = True
        answer = yes_or_no(given, plain=True)
        if answer or given.lower() == yes.lower():
            return True
        if answer is False or given.lower() in ("s", "skip", no.lower()):
            return False
        page = replace(page, cautions=())  # read to its end already
        if aside is not None and given and aside(given):
            again = False
            continue
        if not _led_off(screen, given, back, f"Type y: {yes}. Or n: {no}. Enter and numbers are no answer here."):
            screen.problem(f'"{given}": expected y or n' if given else "expected y or n")
