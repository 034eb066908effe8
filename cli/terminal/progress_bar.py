"""A bar on the terminal while something long is worked out.

Purpose: show how far it is, to somebody who waits.
Law: on standard error, and only where that is a terminal; gone when it is done, so that results stand alone.
Not here: what takes so long.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress(label: str, total: int, plain: bool = False) -> Iterator[Callable[[int], None]]:
    """Gives a function to call with how many of `total` are done."""
    if plain or not sys.stderr.isatty():
        yield lambda done: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(10), MofNCompleteColumn(), TimeRemainingColumn(compact=True))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(label, total=total)
        yield lambda done: bar.update(task, completed=done)
