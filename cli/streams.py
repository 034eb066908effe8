"""Standard input, output and error where one of them is closed.

Purpose: give every command three streams it can use, whatever it was started with (`>&-`, `<&-`, `2>&-`).
Law: the three descriptors are always taken, so that no file that is opened ever stands in the place of one and gets
what was meant for a reader. What was to be printed to a closed standard output is lost, and that is known (`lost`);
what was said to a closed standard error is lost too; a closed standard input is an empty one. What is asked there is
answered by yes or no alone.
Not here: a reader that goes away, or a full disk (see `app`).
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable
from typing import TextIO, cast


class Closed(io.TextIOBase):
    """A stream that takes everything and keeps nothing, and knows whether anything came."""

    encoding = "utf-8"
    errors = "backslashreplace"

    def __init__(self) -> None:
        self.lost = False

    def writable(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.lost = self.lost or bool(text)
        return len(text)


def complete() -> None:
    """Put something in the place of each standard stream that is closed."""
    try:
        taken = os.open(os.devnull, os.O_RDWR)
        while taken <= 2:
            taken = os.open(os.devnull, os.O_RDWR)
        os.close(taken)
    except OSError:  # a machine without a null device; then nothing is worse than it was
        pass
    if sys.stdin is None:
        sys.stdin = io.TextIOWrapper(io.BytesIO(b""), "utf-8")
    if sys.stdout is None:
        sys.stdout = cast(TextIO, Closed())
    if sys.stderr is None:
        sys.stderr = cast(TextIO, Closed())


def lost() -> bool:
    """Whether something was to be printed and standard output is closed."""
    out: object = sys.stdout
    return isinstance(out, Closed) and out.lost


def line_of(prompt: str) -> str | None:
    """A line from standard input, None at its end. The prompt goes to standard error, beside the results."""
    from ..engine.problems import printable  # late: most commands never ask

    sys.stderr.write(printable(prompt))
    sys.stderr.flush()
    line = sys.stdin.readline()
    return line.strip() if line else None


def yes(prompt: str, ask: Callable[[str], str | None] = line_of) -> bool:
    """Whether a question is answered with yes; Enter and the end of the input are a no, and what is neither yes nor no
    is asked again."""
    from ..engine.problems import printable
    from ..engine.readings import yes_or_no

    while True:
        line = ask(prompt)
        if not line:
            return False
        answer = yes_or_no(line, plain=True)
        if answer is not None:
            return answer
        sys.stderr.write(f'"{printable(line)}": expected yes, or no\n')
