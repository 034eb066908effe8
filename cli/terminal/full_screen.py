"""The full screen: one page at a time, in the place of the one before it.

Purpose: show a `Page` with prompt_toolkit on the alternate screen, take one answer, and leave the terminal as it was.
Law: the same leaves as in the plain scroll, laid out anew when the size changes. What is typed before a new page is
drawn, or within GUARD seconds of that, was typed before it was read: it is dropped to the end of its line, and said to
be, so that neither a double tap nor the rest of a reading ever answers the next question. A digit that answers alone
does so once nothing came after it for PAUSE seconds: 1 is an answer, and the start of 1.2 is none. What is printed
between two pages stands first on the next; what is printed after the last goes to the scroll. No mouse; colour only
where the environment allows it.
Not here: what stands on a page (see `page`), and terminals that cannot move the cursor (see `prompts`).
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from ...engine.problems import printable
from . import wrapping
from .killed import when_killed
from .leaving import Stop
from .page import Leaf, Page, Row, lay_out
from .screen import Screen

if TYPE_CHECKING:
    from prompt_toolkit.application import Application
    from prompt_toolkit.filters import Filter
    from prompt_toolkit.formatted_text import StyleAndTextTuples
    from prompt_toolkit.input import Input
    from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
    from prompt_toolkit.output import Output

GUARD = 0.3
"""Seconds; two taps of one finger are less apart (common practice of keyboards: a double click counts within 0.5 s)."""
PAUSE = 0.7
"""Seconds; who goes on typing presses the next key sooner (from memory: 20 words a minute are 0.6 s a key)."""
LEAST = (30, 12)
"""Columns and rows below which the scroll is the better screen."""
WORKING = "working it out ..."


class FullScreen:
    """Asks page by page on the whole of a terminal. source, output: of prompt_toolkit; None takes the terminal."""

    def __init__(
        self, screen: Screen, source: Input | None = None, output: Output | None = None, guard: float = GUARD,
        clock: Callable[[], float] = time.monotonic, pause: float = PAUSE,
    ) -> None:  # fmt: skip
        from prompt_toolkit.input import create_input
        from prompt_toolkit.output import create_output

        self._screen, self._guard, self._clock = screen, guard, clock
        self.pause = pause
        self._input = source or create_input()
        self._output = output or create_output()
        self._said: list[Row] = []
        self._restore: Callable[[], None] | None = None
        self._unheard: Callable[[], None] = lambda: None
        screen.give_to(self)

    # ---- what a screen needs of who shows what it prints

    def take(self, row: Row) -> None:
        self._said.append(row)

    def size(self) -> tuple[int, int]:
        found = self._output.get_size()
        return found.columns, found.rows

    def leave(self) -> None:
        """Leave the alternate screen; what was printed since the last page stands in the scroll."""
        self._unheard()
        self._undo()
        self._screen.rows(self._said)
        self._said.clear()

    def _undo(self) -> None:
        """The terminal as it was before the first page, wherever a page was left; once."""
        restore, self._restore = self._restore, None
        if restore is None:
            return
        self._output.reset_attributes()
        self._output.disable_bracketed_paste()
        self._output.quit_alternate_screen()
        self._output.show_cursor()
        self._output.flush()
        restore()

    # ---- asking

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        """One line, below what was printed since the last page."""
        return self.present(Page(prompt=prompt, words=tuple(words)))

    def present(self, page: Page) -> str:
        """Show a page until it is answered. Raises Stop at the end of the input, KeyboardInterrupt at Ctrl-C."""
        self._enter()
        if not page.top and self._screen.top:
            page = replace(page, top=self._screen.top[0], status=self._screen.top[1:])
        while self._said and not self._said[0].text:
            del self._said[0]
        shown = _Shown(self, page, tuple(self._said))
        given = shown.run()
        self._said.clear()
        self._screen.since = 0
        return given

    def _enter(self) -> None:
        if self._restore is None:
            self._restore = _without_echo(self._input)
            self._unheard = when_killed(self._undo)
            self._output.enter_alternate_screen()
            self._output.flush()

    def early(self, since: float | None) -> bool:
        """Whether a key comes too soon after a page was drawn to be an answer to it. since: None while it is not."""
        return self._guard > 0.0 and (since is None or self._clock() - since < self._guard)

    def now(self) -> float:
        return self._clock()

    @property
    def screen(self) -> Screen:
        return self._screen

    @property
    def input(self) -> Input:
        return self._input

    @property
    def output(self) -> Output:
        return cast("Output", _Held(self._output))

    def paint(self, rows: Iterable[Row]) -> None:
        """Rows at once, while nobody is asked."""
        self._output.erase_screen()
        self._output.cursor_goto(0, 0)
        self._output.write("\r\n".join(row.text for row in rows))
        self._output.hide_cursor()
        self._output.flush()


class _Held:
    """An output whose alternate screen stays up between two pages."""

    def __init__(self, output: Output) -> None:
        self._output = output

    def __getattr__(self, name: str) -> Any:
        return getattr(self._output, name)

    def enter_alternate_screen(self) -> None:
        self._output.cursor_goto(0, 0)

    def quit_alternate_screen(self) -> None:
        return


class _Shown:
    """One page while it is asked."""

    def __init__(self, on: FullScreen, page: Page, said: tuple[Row, ...]) -> None:
        from prompt_toolkit.buffer import Buffer

        self.on, self.page, self.said = on, page, said
        self.at = 0
        self.since: float | None = None
        self.buffer = Buffer(multiline=False)
        self.early_text = ""
        self.dropped, self.dropping = "", False
        self.tapped = 0.0
        self._size: tuple[int, int] = (0, 0)
        self._leaves: tuple[Leaf, ...] = ()

    @property
    def leaf(self) -> Leaf:
        if self.on.size() != self._size:
            first = not self._leaves
            self._size = self.on.size()
            self._leaves = lay_out(self.page, self.on.screen, self.said)
            last = len(self._leaves) - 1
            if first and self.page.read:  # where what is new stands
                new = {row for row in self.said if row.text}
                news = (at for at, leaf in enumerate(self._leaves) if new & set(leaf.rows))
                self.at = next(news, last)
            self.at = min(self.at, last)
        return self._leaves[self.at]

    def run(self) -> str:
        app = self._application()
        try:
            given = app.run()
        except EOFError:
            raise Stop from None
        self.on.paint([*self.leaf.rows, Row(WORKING)])
        return given.strip()

    def turn(self, by: int) -> None:
        """To another leaf; what is typed right then was meant for the one before."""
        at = max(0, min(len(self._leaves) - 1, self.at + by))
        if at != self.at:
            self.at, self.since, self.early_text = at, None, ""

    def drop(self, text: str) -> None:
        """Leave out what was typed too soon, with the rest of its line."""
        if text.isprintable() and (self.dropping or text.strip()):
            self.dropped = f"{self.dropped}{text}" if self.dropping else text
            self.dropping = True

    def _drawn(self) -> None:
        if self.since is None:
            self.since = self.on.now()

    # ---- prompt_toolkit

    def _application(self) -> Application[str]:
        from prompt_toolkit.application import Application
        from prompt_toolkit.layout import BufferControl, FormattedTextControl, HSplit, Layout, VSplit, Window

        prompt = Window(
            FormattedTextControl(lambda: [("bold", self._prompt())]), dont_extend_width=True, dont_extend_height=True
        )
        field = Window(BufferControl(self.buffer), height=1)
        rows = Window(FormattedTextControl(self._text), wrap_lines=False, always_hide_cursor=True)
        # The rows take what they need, and the input stands right below them.
        rows.height = lambda: min(len(self.leaf.rows), max(1, self.on.size()[1] - 1))
        rest = Window()
        layout = Layout(HSplit([rows, VSplit([prompt, field], height=1), rest]), focused_element=field)
        app: Application[str] = Application(
            layout=layout, key_bindings=self._keys(), full_screen=True, erase_when_done=True, input=self.on.input,
            output=self.on.output, mouse_support=False,
        )  # fmt: skip
        app.after_render += lambda _: self._drawn()
        return app

    def _prompt(self) -> str:
        """What stands before the input; what was typed too soon, or before the last leaf, is refused aloud."""
        if self.dropped and not self.buffer.text:
            said = f'"{wrapping.cut(printable(self.dropped), 10)}"'
            return f"Typed too soon: {said}. Enter > " if self.dropping else f"Not taken, too soon: {said} > "
        if self.early_text and not self.leaf.last:
            return "Not taken: first read on, Enter > "
        return self.page.prompt

    def _text(self) -> StyleAndTextTuples:
        found: StyleAndTextTuples = []
        for row in self.leaf.rows:
            style = row.style if self.on.screen.drawn else ""
            found.append((_STYLES.get(style, style), _shown(row.text, self.on.screen) + "\n"))
        return found

    def _keys(self) -> Any:
        from prompt_toolkit.filters import Condition
        from prompt_toolkit.key_binding import KeyBindings
        from prompt_toolkit.key_binding.bindings.basic import load_basic_bindings
        from prompt_toolkit.key_binding.key_bindings import merge_key_bindings

        keys = KeyBindings()
        early = Condition(lambda: self.dropping or self.on.early(self.since))
        self._too_early(keys, early)
        self._leaving(keys, ~early)
        self._leafing(keys, ~early)
        self._typing(keys, ~early)
        for choice in self.page.choices if self.page.at_once and len(self.page.choices) < 10 else ():
            self._at_once(keys, choice.key, ~early)
        return merge_key_bindings([load_basic_bindings(), keys])

    def _too_early(self, keys: KeyBindings, early: Filter) -> None:
        """What is typed before the page was read is dropped to the end of its line."""

        @keys.add("<any>", filter=early, eager=True)
        def too_early(event: KeyPressEvent) -> None:
            self.drop(" ".join(event.data.split()) if len(event.data) > 1 else event.data)

        @keys.add("enter", filter=early, eager=True)
        @keys.add("c-j", filter=early, eager=True)  # what the terminal made of Enter while nobody was asked
        def ended_early(event: KeyPressEvent) -> None:
            self.dropping = False

    def _leaving(self, keys: KeyBindings, wanted: Filter) -> None:
        """Ctrl-C, the end of the input, and the space that closes a sheet."""
        from prompt_toolkit.filters import Condition

        @keys.add("c-c", eager=True)
        def interrupted(event: KeyPressEvent) -> None:
            event.app.exit(exception=KeyboardInterrupt())

        @keys.add("c-d", filter=wanted)
        def ended(event: KeyPressEvent) -> None:
            event.app.exit(exception=EOFError())

        if self.page.sheet:

            @keys.add("space", filter=Condition(lambda: self.leaf.last and not self.buffer.text) & wanted, eager=True)
            def done_with(event: KeyPressEvent) -> None:
                event.app.exit(result="")

    def _leafing(self, keys: KeyBindings, wanted: Filter) -> None:
        """From leaf to leaf."""
        from prompt_toolkit.filters import Condition

        turns = Condition(lambda: not self.leaf.last and not self.buffer.text)

        @keys.add("space", filter=turns & wanted, eager=True)
        @keys.add("pagedown")
        @keys.add("down")
        def forward(event: KeyPressEvent) -> None:
            self.turn(1)

        @keys.add("pageup")
        @keys.add("up")
        def backward(event: KeyPressEvent) -> None:
            self.turn(-1)

    def _typing(self, keys: KeyBindings, wanted: Filter) -> None:
        """What is typed and ended with Enter: an answer where the page may be answered yet."""
        from prompt_toolkit.filters import Condition

        @keys.add("space", filter=Condition(lambda: not self.buffer.text))
        def no_blank_first(event: KeyPressEvent) -> None:
            return

        @keys.add("tab")
        def completed(event: KeyPressEvent) -> None:
            self._complete()

        @keys.add("enter", filter=wanted)
        def entered(event: KeyPressEvent) -> None:
            text = self.buffer.text.strip()
            anywhere = (self.page.anywhere or self.page.sheet) and bool(text)
            if self.leaf.last or anywhere or text in self.leaf.answers or text.lower() in self.page.commands:
                event.app.exit(result=text)
            elif not text:
                self.turn(1)
            else:
                self.buffer.reset()
                self.early_text = text

    def _at_once(self, keys: KeyBindings, key: str, wanted: Filter) -> None:
        from prompt_toolkit.filters import Condition

        seen = Condition(lambda: key in self.leaf.answers and not self.buffer.text)
        twice = Condition(lambda: self.buffer.text == key and self.on.early(self.tapped))

        @keys.add(key, filter=seen & wanted, eager=True)
        def taken(event: KeyPressEvent) -> None:
            self.buffer.insert_text(key)
            self.tapped = self.on.now()
            app = event.app

            def if_no_more() -> None:
                if self.buffer.text == key and app.future is not None and not app.future.done():
                    app.exit(result=key)

            assert app.loop is not None
            app.loop.call_later(self.on.pause, if_no_more)

        @keys.add(key, filter=twice & wanted, eager=True)
        def one_tap(event: KeyPressEvent) -> None:
            """The second tap of a double tap is none."""

        @keys.add(key, filter=Condition(lambda: key not in self.leaf.answers and not self.buffer.text), eager=True)
        def not_seen_yet(event: KeyPressEvent) -> None:
            """An answer that was not seen yet is none."""

    def _complete(self) -> None:
        """Finish a word where one alone begins so."""
        typed = self.buffer.text.lower()
        fits = [word for word in self.page.words if typed and word.lower().startswith(typed)]
        if len(fits) == 1:
            self.buffer.text = fits[0]
            self.buffer.cursor_position = len(fits[0])


_STYLES = {
    "bold red": "bold ansired", "bold yellow": "bold ansiyellow", "yellow": "ansiyellow", "green": "ansigreen",
    "dim": "",
}  # fmt: skip


def _shown(text: str, screen: Screen) -> str:
    return text if screen.blocks else text.encode("ascii", "replace").decode("ascii")


def _without_echo(source: Input) -> Callable[[], None]:
    """Stop the terminal from showing what is typed while nobody is asked. Returns what undoes it."""
    try:
        import termios

        handle = source.fileno()
        before = termios.tcgetattr(handle)
    except (ImportError, NotImplementedError, OSError, ValueError, termios.error):
        return lambda: None
    after = list(before)
    after[3] &= ~termios.ECHO
    termios.tcsetattr(handle, termios.TCSANOW, after)

    def restore() -> None:
        with contextlib.suppress(termios.error):
            termios.tcsetattr(handle, termios.TCSADRAIN, before)

    return restore
