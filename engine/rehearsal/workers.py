"""Work given out to an executor, and its end: all of it done, or a loud error.

Purpose: the one way in which anything here is worked by others: threads, processes, machines of a cluster.
Law: what all pieces share is pickled once, here, before anything is given out, so that what cannot be sent is told at
once and never in a thread that nobody waits for. A piece that raises, or a worker that dies, ends the whole work with
a WorkerError that says which piece and why; what still waits is called off. Results are in the order of the pieces.
An executor is anything with `submit` as in `concurrent.futures.Executor`; None works here, and an error is then raised
as it is.
Not here: which executor (see the command line), what the work is.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, as_completed
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar

from ..problems import HertzwrightError

T = TypeVar("T")


class WorkerError(HertzwrightError):
    """Work given to others that did not come back: a worker died, or its work raised."""


@dataclass(frozen=True, slots=True)
class _Raised:
    """What a piece raised, in a form that any process can send."""

    why: str


def chunks(items: Sequence[T], size: int) -> list[Sequence[T]]:
    """The items in their order, `size` at a time: so many go to a worker in one go, as sending costs something too."""
    return [items[start : start + size] for start in range(0, len(items), size)]


def worked(
    executor: Executor | None,
    task: Callable[..., T],
    shared: tuple[object, ...],
    pieces: Sequence[tuple[object, ...]],
    done: Callable[[T], None] | None = None,
) -> list[T]:
    """`task(*shared, *piece)` of every piece, in their order. done: called with each result as it comes.

    Raises WorkerError where an executor is given and a piece is not done.
    """
    if executor is None:
        found = []
        for piece in pieces:
            found.append(task(*shared, *piece))
            if done is not None:
                done(found[-1])
        return found
    try:
        sent = pickle.dumps(shared)
    except Exception as error:
        raise WorkerError(f"the work cannot be given out: {_why(error)}") from error
    waiting: dict[Future[Any], int] = {}
    results: dict[int, T] = {}
    try:
        for place, piece in enumerate(pieces):
            waiting[executor.submit(_piece, task, sent, piece)] = place
        for future in as_completed(waiting):
            place = waiting[future]
            result = future.result()
            if isinstance(result, _Raised):
                raise WorkerError(f"piece {place + 1} of {len(pieces)} of the work failed: {result.why}")
            results[place] = result
            if done is not None:
                done(result)
    except (WorkerError, KeyboardInterrupt):
        raise
    except BrokenExecutor as error:
        told = "a process that worked on it ended before it was done: killed, or out of memory"
        raise WorkerError(f"{told} ({len(results)} of {len(pieces)} pieces were done)") from error
    except Exception as error:
        raise WorkerError(f"the work did not come back: {_why(error)}") from error
    finally:
        for future in waiting:
            future.cancel()
    return [results[place] for place in range(len(pieces))]


def _piece(task: Callable[..., T], sent: bytes, piece: tuple[object, ...]) -> T | _Raised:
    try:
        return task(*_received(sent), *piece)
    except Exception as error:
        return _Raised(_why(error))


@lru_cache(maxsize=2)
def _received(sent: bytes) -> tuple[object, ...]:
    found: tuple[object, ...] = pickle.loads(sent)
    return found


def _why(error: BaseException) -> str:
    """An error in one line: its own words where it is one of ours, its kind too where it is not."""
    said = " ".join(str(error).split())
    return said if isinstance(error, HertzwrightError) and said else f"{type(error).__name__}: {said}".rstrip(": ")
