"""Columns of a terminal, not letters: wide letters, marks, and terminals that say nothing of themselves.

Widths are held against `rich.cells.cell_len`, a general-purpose library, and against UAX #11 (East Asian Width).
"""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from hertzwright.cli.app import main
from hertzwright.cli.record import load_view
from hertzwright.cli.terminal.screen import Bar, Screen
from hertzwright.cli.terminal.wrapping import cut, fill, wrap
from hertzwright.engine.problems.problem import columns

WIDE = "\u767a\u96fb\u6a5f\u306e\u5468\u6ce2\u6570\u304c\u5b89\u5b9a\u3057\u306a\u3044"  # a generator's frequency is not steady
WORDS = st.text("ab\u767a\u96fb\uff21\u0301\U0001f527-", min_size=1, max_size=12)


def test_columns_are_those_of_a_general_purpose_library() -> None:
    for text in (WIDE, "Hz", "\uff21\uff22", "e\u0301", "\U0001f527 ok", "\ud55c\uad6d\uc5b4", "\u00e4\u00f6\u00fc"):
        assert columns(text) == cell_len(text), text


@given(st.lists(WORDS, max_size=12), st.integers(2, 30))
def test_no_row_is_wider_than_it_may_be_and_nothing_is_lost(words: list[str], width: int) -> None:
    text = " ".join(words)
    rows = wrap(text, width)
    assert all(columns(row) <= width for row in rows)
    assert "".join(rows).replace(" ", "") == text.replace(" ", "")


@given(st.lists(st.text("abc-.", min_size=1, max_size=9), max_size=12), st.integers(8, 30), st.booleans())
def test_plain_letters_are_wrapped_as_by_textwrap(words: list[str], width: int, hyphens: bool) -> None:
    text = " ".join(words)
    rows = textwrap.wrap(text, width, initial_indent="- ", subsequent_indent="  ", break_on_hyphens=hyphens)
    assert wrap(text, width, "- ", "  ", hyphens) == rows


@given(WORDS, st.integers(0, 12))
def test_cut_and_filled_to_columns(text: str, room: int) -> None:
    assert columns(cut(text, room)) <= room
    assert columns(fill(cut(text, room), room)) == room


@pytest.mark.parametrize("width", [40, 60, 80])
def test_a_screen_holds_its_width_with_wide_letters(width: int) -> None:
    out = io.TextIOWrapper(io.BytesIO(), "utf-8")
    screen = Screen(file=out, width=width)
    long = " ".join([WIDE] * 4)
    screen.heading(WIDE)
    screen.line(long)
    screen.fact(WIDE, long)
    screen.problem(long)
    screen.caution(WIDE, long)
    screen.options([(WIDE[:3], long), ("x", "plain")])
    screen.bars([Bar(WIDE * 2, 0.5), Bar("plain", 0.3)])
    screen.table(("Set", "State"), [(WIDE, "open"), ("pump house", WIDE[:4])])
    out.flush()
    rows = out.buffer.getvalue().decode("utf-8").split("\n")  # type: ignore[attr-defined]
    assert max(columns(row) for row in rows) <= width


def test_columns_of_a_table_stand_under_each_other() -> None:
    out = io.TextIOWrapper(io.BytesIO(), "utf-8")
    Screen(file=out, width=80).table(("Set", "State"), [(WIDE, "open"), ("pump house", "open")])
    out.flush()
    rows = out.buffer.getvalue().decode("utf-8").splitlines()  # type: ignore[attr-defined]
    places = {columns(row[: row.index("open")]) for row in rows if "open" in row}
    assert len(places) == 1
    assert columns(rows[0][: rows[0].index("State")]) in places


def test_a_load_test_holds_its_width_too() -> None:
    out = io.StringIO()
    load_view.LoadPage(out, 40).line(" ".join([WIDE] * 5))
    assert max(columns(row) for row in out.getvalue().splitlines()) <= 40


FACTS = "facts:\n  - {complaint: hunts_no_load, answer: present}\n"
NARROW = (["rank", "facts.yaml"], ["chart", "hunts_no_load", "--depth", "1"], ["knowledge", "show", "linkage_worn"])


@pytest.mark.parametrize("term", ["dumb", "unknown", "xterm"])
def test_every_terminal_has_the_columns_it_has(
    term: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("facts.yaml").write_text(FACTS)
    for name, value in (("TERM", term), ("COLUMNS", "40"), ("HERTZWRIGHT_HOME", str(tmp_path))):
        monkeypatch.setenv(name, value)
    for words in NARROW:
        assert main(words) == 0
        assert max(columns(row) for row in capsys.readouterr().out.splitlines()) <= 40, words


@pytest.mark.nightly
@pytest.mark.parametrize("term", ["dumb", "unknown", "xterm"])
def test_so_it_has_in_a_process_of_its_own(term: str, tmp_path: Path) -> None:
    (tmp_path / "facts.yaml").write_text(FACTS)
    for words in NARROW:
        done = subprocess.run(
            [sys.executable, "-m", "hertzwright", *words], cwd=tmp_path, capture_output=True, text=True, check=False,
            env={**os.environ, "TERM": term, "COLUMNS": "40", "HERTZWRIGHT_HOME": str(tmp_path)},
        )  # fmt: skip
        assert done.stdout, done.stderr
        assert max(columns(row) for row in done.stdout.splitlines()) <= 40, words


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize("term", ["dumb", pytest.param("xterm", marks=pytest.mark.nightly)])
def test_a_terminal_is_asked_for_its_size(term: str, tmp_path: Path) -> None:
    import fcntl
    import pty
    import struct
    import termios

    facts = tmp_path / "facts.yaml"
    facts.write_text(FACTS)
    pid, handle = pty.fork()
    if pid == 0:
        fcntl.ioctl(1, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 40, 0, 0))
        # A test run may have COLUMNS in its environment without os.environ knowing (readline puts it there).
        own = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "LINES")}
        words = [sys.executable, "-m", "hertzwright", "rank", str(facts)]
        os.execve(sys.executable, words, {**own, "TERM": term})
    shown = b""
    try:
        while piece := os.read(handle, 65536):
            shown += piece
    except OSError:
        pass
    os.waitpid(pid, 0)
    os.close(handle)
    rows = [row for row in shown.decode("utf-8").splitlines() if "\x1b" not in row]
    assert rows
    assert max(map(columns, rows)) <= 40


def test_a_set_named_in_wide_letters_is_listed_within_the_width(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "40")
    words = ["start", "--name", WIDE, "--acknowledge", "--complaint", "hunts_no_load"]
    assert main(words) == 0
    capsys.readouterr()
    assert main(["jobs"]) == 0
    assert max(columns(row) for row in capsys.readouterr().out.splitlines()) <= 40
    assert main(["jobs", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["jobs"][0]["set"] == WIDE
