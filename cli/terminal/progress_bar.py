"""A bar on the terminal while something long is worked out.

Purpose: show how far it is, to somebody who waits.
Law: on standard error, only where that is a terminal, and only where it takes more than a second; gone when it is done,
so that results stand alone. At most 40 columns.
Not here: what takes so long.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from types import TracebackType

SLOW = 1.0
"""Seconds of work that nobody needs to be shown."""
_WIDE = 10


class ProgressBar:
    """How far some work is. Used in a `with`, it is gone at the end.

    total: how many pieces there are; None where that is not known beforehand. what: what a piece is called then.
    """

    def __init__(
        self, total: int | None = None, what: str = "steps", plain: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        self._total, self._what, self._clock = total, what, clock
        self._begun, self._done, self._shown = clock(), 0, ""
        self._watched = sys.stderr.isatty() and not plain

    def __enter__(self) -> ProgressBar:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end()

    def step(self) -> None:
        """One piece more is done."""
        self.to(self._done + 1)

    def to(self, done: int, total: int | None = None) -> None:
        """So many pieces are done. total: of so many, where that is known by now only."""
        self._done, self._total = done, self._total if total is None else total
        passed = self._clock() - self._begun
        if not self._watched or passed < SLOW:
            return
        text = f"working it out: {done} {self._what}"
        if self._total is not None:
            full = round(_WIDE * done / self._total) if self._total else _WIDE
            text = f"[{'#' * full}{'.' * (_WIDE - full)}] {done} of {self._total}"
            if 0 < done < self._total:
                text += f", {_left(passed * (self._total - done) / done)}"
        print("\r" + text.ljust(len(self._shown)), end="", file=sys.stderr, flush=True)
        self._shown = text

    def end(self) -> None:
        """Take the bar away."""
        if self._shown:
            print(f"\r{' ' * len(self._shown)}\r", end="", file=sys.stderr, flush=True)
            self._shown = ""


def _left(seconds: float) -> str:
    return f"{seconds:.0f} s left" if seconds < 100 else f"{seconds / 60:.0f} min left"
