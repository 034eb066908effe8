"""Closed standard streams: every command ends as it should, with no traceback, and lost results are not called fine.

How a shell closes a stream: POSIX.1-2017, XCU 2.7 (redirection), `[n]<&-` and `[n]>&-`.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from hertzwright.cli import app
from hertzwright.cli.files.journal import Journal
from hertzwright.cli.workshop import knowledge
from hertzwright.engine.job import Event

ROOT = Path(__file__).parent.parent
FACTS = "facts:\n  - {complaint: hunts_no_load, answer: present}\n"
TRIALS = "speed,sensitivity,no_load,full_load,hunting\n0,0,62.9,59.4,steady\n"

# Every command with words that print something and ask nothing, and its status when all streams are there.
COMMANDS: dict[str, tuple[list[str], int]] = {
    "start": (["start", "--name", "x", "--acknowledge", "--complaint", "hunts_no_load", "--folder", "FOLDER/new"], 0),
    "resume": (["resume", "--show"], 0),
    "jobs": (["jobs"], 0),
    "rank": (["rank", "FOLDER/facts.yaml", "--json"], 0),
    "chart": (["chart", "hunts_no_load", "--depth", "1"], 0),
    "loadtest": (["loadtest", "--plan"], 0),
    "trace": (["trace", "FOLDER/log.csv"], 0),
    "trim": (["trim", "--trials", "FOLDER/trials.csv"], 0),
    "drill": (["drill", "--progress"], 0),
    "lesson": (["lesson", "--list"], 0),
    "curve": (["curve", "load"], 0),
    "progress": (["progress"], 0),
    "report": (["report", "--html", "-"], 0),
    "knowledge check": (["knowledge", "check"], 0),
    "knowledge cases": (["knowledge", "cases", "--json", "CASE"], 0),
    "knowledge show": (["knowledge", "show", "throttle_rod_long"], 0),
    "knowledge compare": (["knowledge", "compare", "no_such_revision"], 2),
    "knowledge draw": (["knowledge", "draw", "linkage"], 0),
    "knowledge card": (["knowledge", "card", "--text"], 0),
    "knowledge tally": (["knowledge", "tally", "--json"], 0),
    "knowledge explain": (["knowledge", "explain", "K001"], 0),
    "knowledge tidy": (["knowledge", "tidy", "--check"], 0),
    "knowledge new": (["knowledge", "new", "cause", "new_thing", "--area", "linkage", "--dry-run"], 0),
    "knowledge rehearse": (["knowledge", "rehearse", "--jobs", "0"], 2),
    "": ([], 0),
    "--version": (["--version"], 0),
    "nothing": (["nothing"], 2),
    "rank -": (["rank", "-"], 2),
    "trim asked": (["trim"], 2),
    "start asked": (["start"], 2),
    "resume asked": (["resume"], 2),
    "loadtest asked": (["loadtest"], 2),
}

# In the quick tier each command has one stream closed: those that read standard input that one, the others the other two
# in turn. With --all each has each.
_READS = [name for name in COMMANDS if name.endswith((" asked", " -"))]
_PRINTS = [name for name in COMMANDS if name not in _READS]
IN_TURN = {-1: list(COMMANDS), 0: [*_READS, "start", "drill"], 1: _PRINTS[::2], 2: _PRINTS[1::2]}

WALK = """
import contextlib, io, json, os, sys, traceback
folder, commands, streams = sys.argv[1], json.loads(sys.argv[2]), json.loads(sys.argv[3])
import hertzwright.cli.app as app
from hertzwright.cli.workshop import knowledge
from functools import cache
from importlib import import_module
import hertzwright.engine
from hertzwright.engine.planning import planner
planner.WORK = 600  # how far ways are followed has nothing to do with streams
hertzwright.engine.load_knowledge = cache(hertzwright.engine.load_knowledge)
hertzwright.engine.load_knowledge(None)
for menu in (app.MENU, knowledge.MENU):  # read and imported once, before the streams of a child are closed
    for module, _ in menu.commands.values():
        import_module(f"{menu.package}.{module}")
with contextlib.redirect_stdout(io.StringIO()):  # and what these need
    for name in ("rank", "trace"):
        app.main(commands[name])
for which, walked in streams.items():
    which = int(which)
    for name in walked:
        words = commands[name]
        pid = os.fork()
        if pid == 0:
            for number, end in ((1, "out"), (2, "err")):
                os.dup2(os.open(f"{folder}/{which}.{end}", os.O_WRONLY | os.O_CREAT | os.O_APPEND), number)
            if which >= 0:
                os.close(which)
                setattr(sys, ("stdin", "stdout", "stderr")[which], None)
            status, said = 70, ""
            try:
                status = app.main(words)
            except BaseException:
                said = traceback.format_exc()
            with open(f"{folder}/{which}.told", "a") as out:
                out.write(json.dumps([name, status, said]) + "\\n")
            os._exit(0)
        os.waitpid(pid, 0)
"""
Walks = dict[int, tuple[dict[str, tuple[int, str]], str, str]]


@pytest.fixture(scope="module")
def walks(folder: Path, request: pytest.FixtureRequest) -> Walks:
    """By the stream that is closed (-1: none): status and traceback of every command, and what all of them printed."""
    asked = [each for each in request.session.items if each.path == request.path and isinstance(each, pytest.Function)]
    asked_for = sorted({each.callspec.params["which"] for each in asked if "which" in each.fixturenames})
    quick = "not nightly" in request.config.getoption("markexpr")
    streams = {which: IN_TURN[which] if quick else list(COMMANDS) for which in asked_for}
    given = {name: [_placed(word, folder) for word in words] for name, (words, _) in COMMANDS.items()}
    subprocess.run(
        [sys.executable, "-c", WALK, str(folder), json.dumps(given), json.dumps(streams)],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, check=True, cwd=folder,
        env={**os.environ, "HERTZWRIGHT_HOME": str(folder / "home")},
    )  # fmt: skip
    found: Walks = {}
    for which in asked_for:
        told, out, err = ((folder / f"{which}.{end}").read_text() for end in ("told", "out", "err"))
        lines = [json.loads(line) for line in told.splitlines()]
        found[which] = {name: (status, said) for name, status, said in lines}, out, err
    return found


def _placed(word: str, folder: Path) -> str:
    case = "CASE"
    if word == case:
        from hertzwright.engine import load_knowledge

        return next(iter(load_knowledge().cases))
    return word.replace("FOLDER", str(folder))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("streams")
    (made / "facts.yaml").write_text(FACTS)
    (made / "trials.csv").write_text(TRIALS)
    (made / "log.csv").write_text("time,frequency\n" + "".join(f"{n / 5},{60 + n % 3 / 10}\n" for n in range(300)))
    with Journal.create(made / "home" / "jobs", "f" * 64, "pump house") as file:
        file.sync([
            Event("set", features={"booster": "none"}, tolerance="default"),
            Event("complaint", "hunts_no_load", "present"),
        ])  # fmt: skip
    return made


def test_every_command_of_the_program_is_walked() -> None:
    assert {name for which in (0, 1, 2) for name in IN_TURN[which]} == set(COMMANDS)
    listed = {name for name in app.MENU.commands if name != "knowledge"}
    listed |= {f"knowledge {name}" for name in knowledge.MENU.commands}
    assert listed <= set(COMMANDS)


@pytest.mark.skipif(sys.platform == "win32", reason="needs fork")
@pytest.mark.parametrize(
    "which",
    [pytest.param(-1, id="none closed", marks=pytest.mark.nightly),
     pytest.param(0, id="<&-"), pytest.param(1, id=">&-"), pytest.param(2, id="2>&-")],
)  # fmt: skip
def test_no_command_ends_in_a_traceback_where_a_stream_is_closed(walks: Walks, which: int) -> None:
    found, out, err = walks[which]
    assert set(found) in (set(COMMANDS), set(IN_TURN[which]))
    for name, (status, said) in found.items():
        words, usual = COMMANDS[name]
        assert not said, (name, said)
        # What was to be printed is lost with standard output, and a command that says 0 would have us believe it.
        expected = 2 if which == 1 else usual
        assert status == expected, (name, words, err)
    assert "Traceback" not in err
    if which == 1:
        assert out == ""
        assert "what was to be printed is lost: standard output is closed" in err
    if which == 2:
        assert err == ""
        assert "hertzwright: " not in out.replace("hertzwright: why will this set", "")  # talk is not printed elsewhere


@pytest.mark.skipif(sys.platform == "win32", reason="needs a POSIX shell")
@pytest.mark.parametrize(
    "closed", [*(pytest.param(one, marks=pytest.mark.nightly) for one in (">&-", "<&-", "2>&-")), "<&- >&- 2>&-"]
)
def test_what_is_begun_with_closed_streams_is_kept_whole(tmp_path: Path, closed: str) -> None:
    """A job file must not be opened in the place of a closed stream and get what was meant for the screen."""
    command = f'"{sys.executable}" -m hertzwright start --name x --acknowledge --complaint hunts_no_load {closed}'
    subprocess.run(["sh", "-c", command], check=False, env={**os.environ, "HERTZWRIGHT_HOME": str(tmp_path)})
    from hertzwright.cli.files.journal import listed, read

    (path,) = listed(tmp_path / "jobs")
    assert not read(path).damage
    assert read(path).events[0].kind == "set"


def test_a_stream_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    command = f'"{sys.executable}" -m hertzwright --version 1</dev/null'
    done = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr
