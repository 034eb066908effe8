"""A choice at the terminal: a number, a whole text or a documented key acts; what only comes near is proposed."""

from __future__ import annotations

import io
import os
import sys

import pytest

from hertzwright.cli.jobsite.steps import _exact
from hertzwright.cli.terminal import prompts
from hertzwright.cli.terminal.prompts import choose, position
from hertzwright.cli.terminal.screen import Screen

from technician import Typed

OPTIONS = ("close it: fixed and proven", "go on", "go back")


@pytest.mark.parametrize(
    ("given", "meant"),
    [("1", 0), ("close it", 0), ("Close it: fixed and proven", 0), ("GO ON", 1), ("4", None), ("", None)]
    + [(text, None) for text in ("close", "clo", "go", "go b", "fixed", "c")],
)
def test_only_a_number_or_a_whole_text_is_taken(given: str, meant: int | None) -> None:
    assert position(given, OPTIONS) == meant


@pytest.mark.parametrize(
    ("given", "meant"), [("y", 1), ("yes", 1), ("n", 0), ("No", 0), ("ye", None), ("yes, hand", None)]
)
def test_yes_and_no_are_keys(given: str, meant: int | None) -> None:
    assert position(given, ("no, go on", "yes, hand it over")) == meant


def test_the_start_of_a_text_is_proposed_and_done_by_its_number() -> None:
    out = io.StringIO()
    asker = Typed("close", "2")
    assert choose(asker, Screen(True, out, 80), "", OPTIONS) == 1
    assert "did you mean 1, close it: fixed and proven?" in out.getvalue()


def test_enter_takes_what_was_named_whole_and_nothing_near() -> None:
    titles = {"hunts_no_load": "Hunts with no load", "hunts_under_load": "Hunts under load"}
    assert _exact("hunts under LOAD", titles) == 1
    assert _exact("hunts_no_load", titles) == 0
    for near in ("hunts", "", "hunt under load", "under load"):
        assert _exact(near, titles) is None


@pytest.mark.parametrize(("typed", "unended"), [("", False), ("yes\n", False), ("ye", True), ("no\nye", True)])
def test_what_was_typed_ahead_is_forgotten_and_a_line_without_an_end_is_told(
    typed: str, unended: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without its end, what is typed next would be the rest of that line: the s of yes skips nothing."""
    pty = pytest.importorskip("pty")
    near, far = pty.openpty()
    with open(far, encoding="utf-8") as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        os.write(near, typed.encode())
        assert prompts.forget() is unended
        os.write(near, b"later\n")
        assert os.read(far, 100) == b"later\n"
    os.close(near)
