"""Processes of this machine, for work that is given out.

Purpose: the one pool that commands use.
Law: processes start fresh, since a fork of a process that has threads may hang; what still waits when the command ends
or is interrupted is dropped.
Not here: giving work out, and what happens when it fails (see `rehearsal.workers`).
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context


@contextmanager
def processes(count: int) -> Iterator[Executor | None]:
    """A pool of `count` processes; None where one is to do the work itself."""
    if count < 2:
        yield None
        return
    pool = ProcessPoolExecutor(count, get_context("spawn"))
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)
