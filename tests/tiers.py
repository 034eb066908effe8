"""The two tiers, said in one place: which examples of a law the quick tier keeps.

The rule is stable, by place and never by chance, so that the quick tier is the same at every run; what it leaves out is
marked `nightly` and joins with `bash tests/run --all`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

import pytest


def some(values: Iterable[Any], every: int) -> list[Any]:
    """Parameters of which the quick tier takes the first and each `every`-th after it."""
    return [
        pytest.param(value, marks=pytest.mark.nightly if place % every else ()) for place, value in enumerate(values)
    ]


def rows(values: Iterable[tuple[Any, ...]], every: int) -> list[Any]:
    """The same for rows of several parameters."""
    return [
        pytest.param(*value, marks=pytest.mark.nightly if place % every else ()) for place, value in enumerate(values)
    ]


def only(quick: Collection[Any], values: Iterable[Any]) -> list[Any]:
    """Parameters of which the quick tier takes the named ones."""
    return [pytest.param(value, marks=() if value in quick else pytest.mark.nightly) for value in values]
