"""The full screen: keys, leaves, what is typed ahead, and a terminal that is left as it was.

Keys go through a pipe of prompt_toolkit. The screen of the real command is read by pyte, a terminal emulator that knows
nothing of this program, at 40 columns and 24 rows.
"""

from __future__ import annotations

import io
import os
import pty
import re
import select
import signal
import struct
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from prompt_toolkit.data_structures import Size
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output import DummyOutput

from hertzwright.cli.terminal import Back, Choice, Line, Page, Row, Screen, Stop, choose, confirm, present, sheet
from hertzwright.cli.terminal.full_screen import FullScreen
from hertzwright.cli.terminal.page import lay_out

fcntl = pytest.importorskip("fcntl")
import termios  # noqa: E402 - where there is no fcntl there is no termios

pyte = pytest.importorskip("pyte")

YES = ("yes, all of it is met", "no, not now")
TITLES = ("hunts with no load", "floats high", "surges")


class Phone(DummyOutput):
    """An output of 40 columns and 24 rows."""

    rows = 24

    def get_size(self) -> Size:
        return Size(rows=self.rows, columns=40)


@pytest.fixture
def keys() -> Iterator[PipeInput]:
    with create_pipe_input() as found:
        yield found


def desk(
    keys: PipeInput, guard: float = 0.0, clock: Callable[[], float] = time.monotonic
) -> tuple[FullScreen, Screen, io.StringIO]:
    out = io.StringIO()
    screen = Screen(False, out, 40)
    return FullScreen(screen, keys, Phone(), guard, clock, pause=0.2), screen, out


def test_a_digit_answers_at_once_and_a_word_by_enter(keys: PipeInput) -> None:
    asker, screen, _ = desk(keys)
    keys.send_text("2")
    assert choose(asker, screen, "Which?", TITLES) == 1
    keys.send_text("surges\r")
    assert choose(asker, screen, "Which?", TITLES) == 2
    keys.send_text("z\r")
    with pytest.raises(Back):
        choose(asker, screen, "Which?", TITLES, back=True)
    keys.send_text("hun\t\r")
    assert choose(asker, screen, "Which?", TITLES) == 0


def test_a_double_tap_does_not_answer_the_next_question(keys: PipeInput) -> None:
    """The second tap of a double tap is there before the next page could be read."""
    now = [0.0]
    asker, screen, _ = desk(keys, guard=0.3, clock=lambda: now[0])

    def later(text: str) -> None:
        now[0] += 1.0
        keys.send_text(text)

    threading.Timer(0.5, later, ("1",)).start()
    assert choose(asker, screen, "First?", TITLES) == 0
    keys.send_text("11")  # before the next page stands
    threading.Timer(0.6, later, ("\r3",)).start()
    assert choose(asker, screen, "Second?", TITLES) == 2


def test_of_a_line_that_was_begun_too_soon_nothing_is_taken(keys: PipeInput) -> None:
    """The 6 of 61.2 came while the page was drawn: the 1 is no answer to it."""
    now = [0.0]
    asker, screen, _ = desk(keys, guard=0.3, clock=lambda: now[0])

    def later(text: str) -> None:
        now[0] += 1.0
        keys.send_text(text)

    keys.send_text("its a 6kw\n6")
    threading.Timer(0.5, later, ("1.2\r",)).start()
    threading.Timer(1.1, later, ("2",)).start()
    assert choose(asker, screen, "Every lock nut tight?", ("done", "not now")) == 1


@pytest.mark.parametrize(("typed", "taken"), [("1.2\r2", 1), ("1", 0), ("1\x7f2", 1), ("12\r1", 0), ("1 2\r1", 0)])
def test_a_digit_answers_alone_once_nothing_comes_after_it(typed: str, taken: int, keys: PipeInput) -> None:
    """A reading ticks no menu."""
    asker, screen, _ = desk(keys)
    threading.Timer(0.3, keys.send_text, (typed.rpartition("\r")[2],)).start()
    keys.send_text(typed.rpartition("\r")[0] + "\r" if "\r" in typed else "")
    assert choose(asker, screen, "Every lock nut tight?", ("done", "not now")) == taken


def test_a_double_tap_is_one_tap(keys: PipeInput) -> None:
    asker, screen, _ = desk(keys, guard=0.3)
    threading.Timer(1.0, keys.send_text, ("2",)).start()
    threading.Timer(1.1, keys.send_text, ("2",)).start()
    assert choose(asker, screen, "Every lock nut tight?", ("done", "not now")) == 1


def test_what_is_typed_at_a_sheet_answers_what_is_asked_behind_it(keys: PipeInput) -> None:
    asker, screen, _ = desk(keys)

    def shown() -> None:
        sheet(asker, screen, lambda: screen.line("How it is done."))

    keys.send_text("62.0\r")
    shown()
    assert present(asker, screen, Page(question="How many hertz?")) == "62.0"
    keys.send_text("x\r")
    shown()
    assert present(asker, screen, Page(question="How many hertz?")) == "x"
    for left in (" ", "\r", "z\r"):
        keys.send_text(left)
        shown()
        keys.send_text("7\r")
        assert present(asker, screen, Page(question="How many hertz?")) == "7"


def test_what_is_typed_at_a_sheet_confirms_nothing(keys: PipeInput) -> None:
    asker, screen, _ = desk(keys)
    keys.send_text("y\r")
    sheet(asker, screen, lambda: screen.line("How it is done."))
    keys.send_text("n\r")
    assert not confirm(asker, screen, "Are you safe to do this?", *YES)


def test_after_a_refusal_a_long_page_is_not_begun_again(keys: PipeInput) -> None:
    """What is refused stands on the leaf of the question; nobody reads twelve steps twice for one Enter too many."""
    asker, screen, _ = desk(keys)
    body = tuple(Line(f"Step {number} of a long work.") for number in range(60))
    page = Page("set", ("1 min", "safe"), "Long", body, question="Done?", choices=(Choice("1", "carried out"),))
    leaves = len(lay_out(page, screen))
    keys.send_text("\r" * leaves)
    assert present(asker, screen, page) == ""
    screen.problem("expected 1")
    keys.send_text("1\r")
    assert present(asker, screen, page, again=True) == "1"
    rows = [row.text for row in lay_out(replace(page, read=True), screen, [Row("! expected 1")])[-1].rows]
    assert rows.index("! expected 1") < rows.index("Done?")


@pytest.mark.parametrize(
    ("typed", "met"), [("1\ry\r", True), ("12\r\r2\rno\r", False), ("\r1\ryes\r", True), ("s\r", False)]
)
def test_safety_takes_y_and_no_number_nor_enter(typed: str, met: bool, keys: PipeInput) -> None:
    asker, screen, _ = desk(keys)
    keys.send_text(typed)
    assert confirm(asker, screen, "Are you safe to do this?", *YES) is met


def test_what_is_long_is_read_to_its_end_before_it_is_answered(keys: PipeInput) -> None:
    asker, screen, _ = desk(keys)
    body = tuple(Line(f"Row {number} of a long text.") for number in range(60))
    page = Page("set", ("1 min", "safe"), "Long", body, choices=(Choice("1", "carried out"),), at_once=True)
    turns = len(lay_out(page, screen)) - 1
    keys.send_text("1 " * turns + "1")  # 1 is no answer before the last leaf, and space turns
    assert turns > 1
    assert asker.present(page) == "1"
    keys.send_text("\x04")
    with pytest.raises(Stop):
        asker.present(page)
    keys.send_text("\x03")
    with pytest.raises(KeyboardInterrupt):
        asker.present(page)


def test_what_is_printed_stands_on_the_next_page_and_what_is_left_in_the_scroll(keys: PipeInput) -> None:
    asker, screen, out = desk(keys)
    screen.line("Kept: something.")
    keys.send_text("1")
    choose(asker, screen, "", TITLES)
    assert out.getvalue() == ""
    with screen:
        screen.line("Kept as job 2026-01-01-a.")
    assert out.getvalue() == "Kept as job 2026-01-01-a.\n"
    screen.line("After.")
    assert out.getvalue().endswith("After.\n")


# ---- the real command on a real terminal, read by an emulator


class Terminal:
    """The real command in a terminal of its own."""

    def __init__(self, words: list[str], wide: int, high: int, home: Path) -> None:
        self.screen = pyte.Screen(wide, high)
        self.stream = pyte.ByteStream(self.screen)
        self.seen = b""
        self.pid, self.handle = pty.fork()
        if self.pid == 0:
            env = {**os.environ, "TERM": "xterm", "NO_COLOR": "1", "HERTZWRIGHT_HOME": str(home)}
            for name in ("COLUMNS", "LINES"):
                env.pop(name, None)
            os.execve(sys.executable, [sys.executable, "-m", "hertzwright", *words], env)
        fcntl.ioctl(self.handle, termios.TIOCSWINSZ, struct.pack("HHHH", high, wide, 0, 0))

    def wait(self, sign: str, patience: float = 60.0) -> str:
        """The screen, once it shows something at a prompt."""
        end = time.monotonic() + patience
        while time.monotonic() < end:
            ready, _, _ = select.select([self.handle], [], [], 0.2)
            if ready:
                try:
                    data = os.read(self.handle, 65536)
                except OSError:
                    data = b""
                if not data:
                    return self.text
                self.seen += data
                self.stream.feed(data)
            elif re.search(sign, self.text):
                return self.text
        raise AssertionError(f"no {sign!r}:\n{self.text}")

    @property
    def text(self) -> str:
        return "\n".join(row.rstrip() for row in self.screen.display).strip("\n")

    def type(self, keys: str) -> None:
        time.sleep(0.2)  # it stood as long before `wait` saw it, and a key is not taken within GUARD
        os.write(self.handle, keys.encode())


def test_a_job_on_a_telephone_of_40_by_24(tmp_path: Path) -> None:
    words = "start --complaint hunts_no_load --stands cold --set booster=none --name"
    terminal = Terminal([*words.split(), "pump house"], 40, 24, tmp_path)
    first = terminal.wait("Enter or space: more")
    assert first.splitlines()[0].startswith("pump h... | 0 min | safe | stopped, cold")
    assert "Local codes and licensed practice" in first
    for _ in range(9):
        if "understood, go on" in terminal.text:
            break
        terminal.type(" ")
        terminal.wait("Enter or space: more|understood")
    assert "CAUTION: Carbon monoxide" in terminal.text
    terminal.type("1\r")  # a number is no answer here
    assert "expected y or n" in terminal.wait("expected y or n")
    for _ in range(9):
        if "understood, go on" in terminal.text:
            break
        terminal.type(" ")
        terminal.wait("Enter or space: more|understood")
    terminal.type("y\r")
    page = terminal.wait("Next: ")
    assert "| 0 min | safe" in page
    assert "CAUTION" not in page  # acknowledged, once
    assert "Caution, as before: " in page
    terminal.type("w\r")
    assert "Why" in terminal.wait("back>")
    for _ in range(9):
        if "Next: " in terminal.text:
            break
        terminal.type(" ")
        terminal.wait("back>|Next: ")
    assert terminal.wait("Next: ") == page
    terminal.type("1")
    assert "Kept: " in terminal.wait("Kept: ")
    terminal.type("x\r")
    end = terminal.wait("hertzwright resume")
    assert terminal.seen.count(b"\x1b[?1049h") == terminal.seen.count(b"\x1b[?1049l") == 1
    assert "Kept as job" in end
    assert "Next: " not in end.rpartition("Kept as job")[2]


@pytest.mark.parametrize(("deadly", "answered"), [(signal.SIGTERM, 1), (signal.SIGHUP, 0)])
def test_a_killed_full_screen_leaves_the_terminal_as_it_was(
    deadly: signal.Signals, answered: int, tmp_path: Path
) -> None:
    words = ["start", "--complaint", "hunts_no_load", "--stands", "cold", "--set", "booster=none", "--name", "x"]
    terminal = Terminal(words, 40, 24, tmp_path)
    before = termios.tcgetattr(terminal.handle)
    terminal.wait("Enter or space: more")
    for _ in range(answered):
        terminal.type(" ")
        terminal.wait("Enter or space: more|understood")
    os.kill(terminal.pid, deadly)
    terminal.wait("never there")  # until the program is gone
    _, status = os.waitpid(terminal.pid, 0)
    assert os.WTERMSIG(status) == deadly
    assert terminal.seen.count(b"\x1b[?1049h") == terminal.seen.count(b"\x1b[?1049l") == 1
    assert terminal.seen.rstrip().endswith((b"\x1b[?25h", b"\x1b[?1049l", b"\x1b[0m"))
    assert termios.tcgetattr(terminal.handle)[3] == before[3]
