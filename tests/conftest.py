"""What every test shares: two tiers, two sizes of fuzz, and the shipped knowledge read once.

The quick tier is what `bash tests/run` runs; tests marked `nightly` join with `--all`. Examples are the same at every
run, so that a red build means a change, not a draw; the `nightly` profile only draws more of them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from hypothesis import settings

import hertzwright.engine
from hertzwright.engine import Knowledge

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
