"""The same examples at every run: a red build means a change, not a draw."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("house", derandomize=True, deadline=None)
settings.load_profile("house")
