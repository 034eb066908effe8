"""What every test shares: two tiers, two sizes of fuzz, the same knowledge read once, and no job planned twice.

The quick tier is what `bash tests/run` runs; tests marked `nightly` join with `--all`. Examples are the same at every
run, so that a red build means a change, not a draw; the `nightly` profile only draws more of them.

What the program does with a step does not hang on how far the ways behind it were followed, which is half of the time of
such tests. So in the quick tier they are followed a little (`--ways short`), but for tests marked `whole_ways`: their
subject is which step comes first, or they give work to other processes. With `--all` all are followed as they ship.
"""

from __future__ import annotations

import gc
import hashlib
import os
from contextlib import suppress
from functools import cache
from importlib import import_module
from pathlib import Path
from weakref import WeakKeyDictionary

import pytest
from hypothesis import settings

import hertzwright.engine
from hertzwright.engine import Job, Knowledge, Step
from hertzwright.engine.planning import planner

settings.register_profile("quick", derandomize=True, deadline=None, max_examples=30)
settings.register_profile("nightly", parent=settings.get_profile("quick"), max_examples=300)
settings.load_profile("quick")

SHORT = 600  # what `planner.WORK` is with --ways short


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--ways", choices=("short", "whole"), help="how far planned ways are followed: short in the quick tier"
    )


@pytest.fixture(autouse=True)
def _ways(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    quick = "not nightly" in request.config.getoption("markexpr")
    ways = request.config.getoption("ways") or ("short" if quick else "whole")
    if ways == "short" and request.node.get_closest_marker("whole_ways") is None:
        monkeypatch.setattr(planner, "WORK", SHORT)


gc.disable()  # until all is collected: what that makes stays, and walking it took a third of the time


def pytest_collection(session: pytest.Session) -> None:
    """Assertions are rewritten once for all processes, not once in each: every other one begins at the other end of the
    files, and finds the rest done when they meet. What fails here is told when it is collected."""
    if not os.environ.get("PYTEST_XDIST_WORKER", "gw0").endswith(tuple("13579")) or len(session.config.args) > 1:
        return
    for path in sorted(Path(__file__).parent.glob("test_*.py"), reverse=True):
        with suppress(Exception, pytest.skip.Exception):
            import_module(path.stem)


def pytest_collection_finish() -> None:
    """What collection leaves behind stays to the end: the garbage collector need not walk it again and again."""
    gc.enable()
    gc.collect()
    gc.freeze()


_load = hertzwright.engine.load_knowledge
_shipped = cache(_load)
_by_bytes: dict[bytes, Knowledge] = {}


def _shared(path: str | Path | None = None) -> Knowledge:
    """Knowledge is a function of the bytes of its files and never changes once it is loaded: all tests of a process share
    what was read from the same ones. A test that needs a second reading asks for `__wrapped__`."""
    if path is None:
        return _shipped()
    digest = hashlib.sha256()
    try:
        for file in sorted(each for each in Path(path).rglob("*") if each.suffix or not each.is_dir()):
            if not file.is_file():  # a pipe, or a folder where a file is wanted, which is for the reader to refuse
                return _load(path)
            digest.update(repr((str(file.relative_to(path)), file.read_bytes())).encode())
    except OSError:
        return _load(path)
    key = digest.digest()
    if key not in _by_bytes:
        known = _load(path)
        if len(_by_bytes) >= 8:
            _by_bytes.pop(next(iter(_by_bytes)))
        _by_bytes[key] = known
    return _by_bytes[key]


_shared.__wrapped__ = _load  # type: ignore[attr-defined]
hertzwright.engine.load_knowledge = _shared

_plan = Job.next_steps
_planned: WeakKeyDictionary[Knowledge, dict[object, tuple[Step, ...]]] = WeakKeyDictionary()


def _next_steps(job: Job, limit: int = 5, deepen: int = 4, also: tuple[str, ...] = ()) -> tuple[Step, ...]:
    """What a job proposes is a function of the knowledge and the events, so each command of a test need not plan anew.

    Another process plans for itself; `__wrapped__` always does.
    """
    events = tuple(
        (each.kind, each.id, each.answer, tuple(each.features.items()), each.tolerance, tuple(each.cells.items()))
        for each in job.events
    )
    known = _planned.setdefault(job.knowledge, {})
    key = events, limit, deepen, also, planner.WORK
    found = known.get(key)
    if found is None:
        found = known[key] = _plan(job, limit, deepen, also)
    return found


_next_steps.__wrapped__ = _plan  # type: ignore[attr-defined]
Job.next_steps = _next_steps  # type: ignore[method-assign]
