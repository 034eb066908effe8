"""The same knowledge and the same facts give the same bytes on every Python.

From 3.12 on, the built-in sum() of floats carries the rounding along (see "What's New In Python 3.12", on sum()), so that
its last digits are not those of 3.11. Both ways of adding are put in its place here; nothing printed may depend on it.
"""

from __future__ import annotations

import builtins
import json
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

import hertzwright.engine
from hertzwright.cli.app import main
from hertzwright.engine import Job

FACTS = """\
set: {rated_kw: 9}
facts:
  - {complaint: hunts_no_load, answer: present}
  - {complaint: sags_under_load, answer: present}
  - {check: frequency_no_load, answer: 62.9 Hz}
  - {check: linkage_feel, answer: loose}
"""


def plain(values: Iterable[float], start: float = 0) -> float:
    """sum() as it was up to 3.11."""
    total = start
    for value in values:
        total = total + value
    return total


def carried(values: Iterable[float], start: float = 0) -> float:
    """sum() as it is from 3.12 on: Neumaier's compensated sum where all are floats."""
    items = list(values)
    if not all(type(value) in (int, float) for value in items) or not any(type(value) is float for value in items):
        return plain(items, start)
    total, lost = float(start), 0.0
    for value in items:
        after = total + value
        lost += (total - after) + value if abs(total) >= abs(value) else (value - after) + total
        total = after
    return total + lost


def test_the_two_ways_of_adding_differ() -> None:
    """The example of the Python documentation."""
    tenths = [0.1] * 10
    assert plain(tenths) == 0.9999999999999999
    assert carried(tenths) == 1.0


def printed(
    words: list[str], add: Callable[..., float], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> str:
    with monkeypatch.context() as patch:
        patch.setattr(builtins, "sum", add)
        # Read and planned anew: what other tests of this process share would be compared with itself.
        for owner, name in ((hertzwright.engine, "load_knowledge"), (Job, "next_steps")):
            patch.setattr(owner, name, getattr(owner, name).__wrapped__)
        status = main(words)
    out, err = capsys.readouterr()
    assert status == 0, err
    return out


@pytest.mark.parametrize(
    "words",
    [
        ["rank", "FACTS", "--json"],
        pytest.param(["chart", "hunts_no_load", "--depth", "2", "--json"], marks=pytest.mark.nightly),
        pytest.param(
            ["loadtest", "--plan", "--json", "--connected", "motor 2 hp efficiency 0.75", "--connected", "resistive 3 kW leg 1"],
            marks=pytest.mark.nightly,
        ),
        pytest.param(["knowledge", "draw", "linkage", "--json"], marks=pytest.mark.nightly),
        pytest.param(["knowledge", "show", "throttle_rod_long", "--json"], marks=pytest.mark.nightly),
    ],
    ids=lambda words: " ".join(words[:2]),
)  # fmt: skip
def test_what_is_printed_does_not_hang_on_how_python_adds(
    words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path))
    facts = tmp_path / "facts.yaml"
    facts.write_text(FACTS, "utf-8")
    given = [str(facts) if word == "FACTS" else word for word in words]
    first = printed(given, plain, monkeypatch, capsys)
    assert json.loads(first)
    assert printed(given, carried, monkeypatch, capsys) == first
