"""Work given out ends well or loudly, whoever does it and however it fails."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager, nullcontext
from multiprocessing import get_context

import pytest

from hertzwright.engine import load_knowledge
from hertzwright.engine.job.event import JobError
from hertzwright.engine.rehearsal.many_jobs import rehearse
from hertzwright.engine.rehearsal.workers import WorkerError, worked
from hertzwright.engine.review.effect import effect


def square(base: int, value: int) -> int:
    return base + value * value


def raising(base: int, value: int) -> int:
    if value == 3:
        raise {1: KeyError("stop_gap"), 2: JobError("stop_gap: retired")}[base]
    return value


class Two(Exception):  # noqa: N818
    """Cannot be made again from what it carries: such an error used to break the pool that sends it."""

    def __init__(self, one: str, two: str) -> None:
        super().__init__(one + two)


def raising_two(base: int, value: int) -> int:
    raise Two("no", " good")


def dying(base: int, value: int) -> int:
    if value == 3:
        os.kill(os.getpid(), signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
    return value


class CannotGo:
    """Knowledge whose tables cannot be made fails like this when it is to be sent."""

    def __reduce__(self) -> str:
        raise KeyError("stop_gap")


@contextmanager
def processes() -> Iterator[Executor]:
    pool = ProcessPoolExecutor(2, get_context("spawn"))
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


POOLS: dict[str, Callable[[], object]] = {"here": lambda: nullcontext(None), "threads": lambda: ThreadPoolExecutor(2)}


@pytest.mark.parametrize("kind", [*POOLS, "processes"])
def test_results_are_in_order_and_each_is_told_as_it_comes(kind: str) -> None:
    pool = processes() if kind == "processes" else POOLS[kind]()
    seen: list[int] = []
    with pool as executor:  # type: ignore[attr-defined]
        assert worked(executor, square, (1,), [(value,) for value in range(9)], seen.append) == [
            1 + value * value for value in range(9)
        ]
    assert sorted(seen) == [1 + value * value for value in range(9)]


def test_a_piece_that_raises_ends_all_of_it() -> None:
    with ThreadPoolExecutor(2) as threads:
        with pytest.raises(WorkerError, match=r"^piece 4 of 9 of the work failed: KeyError: 'stop_gap'$"):
            worked(threads, raising, (1,), [(value,) for value in range(9)])
        with pytest.raises(WorkerError, match=r"^piece 4 of 9 of the work failed: stop_gap: retired$"):
            worked(threads, raising, (2,), [(value,) for value in range(9)])
    with pytest.raises(KeyError, match="stop_gap"):
        worked(None, raising, (1,), [(3,)])


def test_processes_that_fail_or_die_end_all_of_it() -> None:
    with processes() as executor:
        with pytest.raises(WorkerError, match="failed: Two: no good"):
            worked(executor, raising_two, (1,), [(value,) for value in range(9)])
        with pytest.raises(WorkerError, match="killed, or out of memory"):
            worked(executor, dying, (1,), [(value,) for value in range(200)])
        with pytest.raises(WorkerError):  # a pool that is broken already says so at once
            worked(executor, square, (1,), [(1,)])


def test_what_cannot_be_sent_is_told_at_once() -> None:
    with processes() as executor, pytest.raises(WorkerError, match=r"^the work cannot be given out: KeyError"):
        worked(executor, square, (CannotGo(),), [(1,)])


class Dead(Executor):
    """An executor all of whose workers are gone."""

    def submit(self, task, /, *given, **named):  # type: ignore[no-untyped-def]
        raise RuntimeError("no worker is left")


def test_every_place_that_gives_out_work_is_loud() -> None:
    knowledge = load_knowledge()
    with pytest.raises(WorkerError, match="no worker is left"):
        rehearse(knowledge, 7, published=False, executor=Dead())
    with pytest.raises(WorkerError, match="no worker is left"):
        effect(knowledge, knowledge, [{}, {}], 2, executor=Dead())
