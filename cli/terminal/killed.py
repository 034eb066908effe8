"""What is undone when the program is ended from outside, by SIGTERM or SIGHUP.

Purpose: a terminal that is left usable: out of the alternate screen, with its echo and its cursor.
Law: what is undone is undone once, and then the program ends by the same signal, as whoever sent it expects. Nothing
of a job is kept here: every answer was on the disk before the next prompt.
Not here: Ctrl-C, which is an answer (see `full_screen`, `app`), and SIGKILL, which nobody hears.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections.abc import Callable, Iterator
from types import FrameType

_DEADLY = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))


def when_killed(undo: Callable[[], None]) -> Callable[[], None]:
    """Have `undo` called should the program be killed. Returns what ends that."""
    before: dict[signal.Signals, object] = {}

    def heard(number: int, frame: FrameType | None) -> None:
        over()
        with contextlib.suppress(OSError, ValueError):  # the terminal itself may be gone
            undo()
        signal.signal(number, signal.SIG_DFL)
        os.kill(os.getpid(), number)

    def over() -> None:
        for each, handler in before.items():
            signal.signal(each, handler)  # type: ignore[arg-type]  # what signal() itself returned
        before.clear()

    with contextlib.suppress(ValueError):  # not the main thread: somebody else minds the signals
        for each in _DEADLY:
            if signal.getsignal(each) == signal.SIG_DFL:  # nohup, or whoever called us, has the first word
                before[each] = signal.signal(each, heard)
    return over


@contextlib.contextmanager
def kept_in_order() -> Iterator[None]:
    """While a line is asked for by keys: killed then, the terminal shows again what is typed."""
    try:
        import termios

        handle = sys.stdin.fileno()
        before = termios.tcgetattr(handle)
    except (ImportError, OSError, ValueError, termios.error):
        yield
        return

    def undo() -> None:
        with contextlib.suppress(termios.error):
            termios.tcsetattr(handle, termios.TCSADRAIN, before)

    over = when_killed(undo)
    try:
        yield
    finally:
        over()
