"""Who does the work that is given out: processes of this machine, or a cluster.

Purpose: the one place that makes an executor for commands, and the options that ask for it.
Law: processes start fresh, since a fork of a process that has threads may hang; what still waits when the command ends
or is interrupted is dropped. Figures are the same whoever does the work. A cluster is any that the `distributed`
library reaches (an extra, `cluster`); its workers need this program in the same version.
Not here: giving work out, and what happens when it fails (see `rehearsal.workers`).
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

from ...engine import HertzwrightError
from ...engine.problems import printable, quoted

_MOST = 512
_WAIT = "20s"


class ClusterError(HertzwrightError):
    """A cluster that cannot be used."""


def add_workers(parser: argparse.ArgumentParser) -> None:
    """The options --workers and --dask."""
    group = parser.add_mutually_exclusive_group()
    group.add_argument(
        "--workers", "--processes", type=_some, metavar="N", help="processes at work here (default: one for each core)"
    )
    group.add_argument("--dask", metavar="ADDRESS", help="a cluster that does the work, as tcp://10.0.0.5:8786")


def _some(text: str) -> int:
    found = int(text) if text.isdecimal() else 0
    if not 1 <= found <= _MOST:
        raise argparse.ArgumentTypeError(f"{text!r}; expected a number of processes from 1 to {_MOST}")
    return found


@contextmanager
def workers(arguments: argparse.Namespace) -> Iterator[Executor | None]:
    """The executor that the options ask for; None where this process does the work itself. Raises ClusterError."""
    if arguments.dask:
        with _cluster(arguments.dask) as executor:
            yield executor
    else:
        with processes(arguments.workers or os.cpu_count() or 1) as executor:
            yield executor


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


@contextmanager
def _cluster(address: str) -> Iterator[Executor]:
    try:
        from distributed import Client  # heavy, and only there where somebody wants it
    except ImportError:
        raise ClusterError(
            "--dask needs the library distributed, which is not installed: pip install 'hertzwright[cluster]'"
        ) from None
    try:
        client = Client(address, timeout=_WAIT)
    except (OSError, TimeoutError, ValueError) as error:
        told = printable(" ".join(str(error).split())[:200])
        raise ClusterError(f"no cluster at {quoted(address)}: {told}") from None
    try:
        yield client.get_executor()
    finally:
        client.close()
