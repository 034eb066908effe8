"""What every test shares: two tiers, two sizes of fuzz, the shipped knowledge read once, and no job planned twice.

The quick tier is what `bash tests/run` runs; tests marked `nightly` join with `--all`. Examples are the same at every
run, so that a red build means a change, not a draw; the `nightly` profile only draws more of them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from weakref import WeakKeyDictionary

import pytest
from hypothesis import settings

import hertzwright.engine
from hertzwright.engine import Job, Knowledge, Step
from hertzwright.engine.planning import planner

settings.register_profile("quick", derandomize=True, deadline=None, max_examples=50)
settings.register_profile("nightly", parent=settings.get_profile("quick"), max_examples=300)
settings.load_profile("quick")

_load = hertzwright.engine.load_knowledge
_shipped = cache(_load)


def _shared(path: str | Path | None = None) -> Knowledge:
    """Knowledge never changes once it is loaded, so all modules of a process share the shipped one.

    That of a folder is read as ever; a test that needs a second reading asks for `__wrapped__`.
    """
    return _load(path) if path is not None else _shipped()


_shared.__wrapped__ = _load  # type: ignore[attr-defined]
hertzwright.engine.load_knowledge = _shared

_plan = Job.next_steps
_planned: WeakKeyDictionary[Knowledge, dict[object, tuple[Step, ...]]] = WeakKeyDictionary()


def _next_steps(job: Job, limit: int = 5, deepen: int = 4) -> tuple[Step, ...]:
    """What a job proposes is a function of the knowledge and the events, so each command of a test need not plan anew.

    Another reading of the same files plans for itself, as does another process; `__wrapped__` always does.
    """
    events = tuple(
        (each.kind, each.id, each.answer, tuple(each.features.items()), each.tolerance, tuple(each.cells.items()))
        for each in job.events
    )
    known = _planned.setdefault(job.knowledge, {})
    key = events, limit, deepen, planner.WORK
    found = known.get(key)
    if found is None:
        found = known[key] = _plan(job, limit, deepen)
    return found


_next_steps.__wrapped__ = _plan  # type: ignore[attr-defined]
Job.next_steps = _next_steps  # type: ignore[method-assign]


@pytest.fixture(autouse=True)
def _short_ways(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the terminal does with a step does not hang on how far the ways behind it were followed, which is half of the
    time of such tests: in the quick tier they are followed a little. With --all they are followed as they ship."""
    file = request.path.name
    # Those that give work to other processes follow as far as these do.
    terminal = file.startswith("test_cli_") and file not in ("test_cli_rehearse.py", "test_cli_compare.py")
    terminal = terminal or file == "test_injection.py"
    if terminal and "not nightly" in request.config.getoption("markexpr"):
        monkeypatch.setattr(planner, "WORK", 600)
