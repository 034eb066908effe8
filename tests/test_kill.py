"""Killed at random moments, two hundred times a night and 8 times in the quick tier: nothing that was acknowledged is lost.

The command under test is the real one at a real terminal (a pty), ended by a real SIGKILL. So that two hundred starts
do not take minutes, `killing` imports everything once and forks for each trial; a fork is a whole process to the
kernel, and what a kill does to its files and locks is the same. Acknowledged is what the screen had said was kept
("Kept: ..." or "Noted.") before the process died, whether or not anybody had time to read it.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.files.journal import Journal, listed, read, without_end
from hertzwright.engine.job import Event

from small_knowledge import write

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs fork, pty and SIGKILL")
FEW, TRIALS = 8, 200
BOTH = pytest.mark.parametrize("count", [FEW, pytest.param(TRIALS, marks=pytest.mark.nightly)])
SEED = 20261125


def trials(how: str, folder: Path, knowledge: Path, count: int) -> list[dict[str, object]]:
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("killing.py")), how, str(folder), str(knowledge), str(count), str(SEED)],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    return [json.loads(line) for line in done.stdout.splitlines()]


@BOTH
def test_no_answer_acknowledged_at_the_terminal_is_lost(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], count: int
) -> None:
    knowledge = write(tmp_path / "knowledge")
    told = trials("terminal", tmp_path, knowledge, count)
    assert sum(bool(trial["died"]) for trial in told) == count
    after: dict[str, list[str]] = {}
    kept: dict[str, int] = {}
    copy = tmp_path / "2026-01-01-a.jsonl"
    torn = 0
    for number, trial in enumerate(told):
        said, more = trial["acknowledged"], trial["kept"]
        assert isinstance(said, list)
        assert isinstance(more, int)
        job = str(trial["job"])
        if not job:
            assert not more
            continue
        after.setdefault(job, []).extend(said)
        kept[job] = kept.get(job, 0) + more
        data = str(trial["data"]).encode("latin-1")
        if data.count(b"\n") == 0:  # killed before the first line was whole, and so before anything was asked
            assert not kept[job], (number, trial["text"])
            continue
        copy.write_bytes(data)  # the file as it was at this moment
        record = read(copy)
        torn += record.torn
        assert record.torn or not record.damage, (number, record.damage)
        answers = [event.answer for event in record.events if event.kind != "set"]
        assert set(after[job]) <= set(answers), (number, trial["text"])
        assert len(answers) >= kept[job]
        order = [answers.index(answer) for answer in after[job]]
        assert order == sorted(order)
    assert sum(len(said) for said in after.values()) > count / 2  # the kills came among answers, not only before
    assert len({job for job in after if kept[job]}) > count / 40
    # And each job is whole for everything that reads it, now that the last to write it is gone.
    for path in listed(tmp_path / "jobs"):
        if without_end(path.read_bytes()).count(b"\n") < 2:  # killed before the set was on the disk
            continue
        words = ["--folder", str(tmp_path), "--knowledge", str(knowledge), "--plain"]
        assert main(["resume", path.stem, "--show", *words]) == 0
        assert main(["resume", path.stem, "--note", "after all", *words]) == 0
        assert read(path).events[-1] == Event("note", answer="after all")
        assert not read(path).damage
    capsys.readouterr()


@BOTH
def test_no_event_acknowledged_by_the_journal_is_lost(tmp_path: Path, count: int) -> None:
    told = trials("writer", tmp_path, tmp_path, count)
    assert sum(bool(trial["died"]) for trial in told) == count
    most = 0
    for number, trial in enumerate(told):
        paths = listed(tmp_path / str(number))
        said = trial["acknowledged"]
        assert isinstance(said, int)
        most = max(most, said)
        if not paths or b"\n" not in paths[0].read_bytes():
            assert not said
            continue
        record = read(paths[0])
        assert len(record.events) >= said
        assert [event.answer.partition(" ")[0] for event in record.events[1:]] == [
            str(place) for place in range(1, len(record.events))
        ]
        assert record.torn or not record.damage
        file, again = Journal.reopen(paths[0])  # the lock died with its owner
        with file:
            file.sync((*again.events, Event("note", answer="after")))
        assert read(paths[0]).events == (*record.events, Event("note", answer="after"))
        assert not read(paths[0]).damage
    assert most > 1
