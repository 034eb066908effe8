"""A technician at a terminal that is killed: trials that `test_kill` looks at.

Run as a program: `python killing.py terminal|writer FOLDER KNOWLEDGE TRIALS SEED`. It imports everything once and forks
for each trial; the fork is a process of its own with a terminal (pty) of its own, runs the real command, and dies by a
real SIGKILL. For each trial it prints one line of JSON: what was killed where, and what had been acknowledged on the
screen by then. Only the draws of what is typed, and when the kill comes, are seeded; the clock of the machine is not.
"""

from __future__ import annotations

import json
import os
import pty
import random
import re
import select
import signal
import sys
import time
from pathlib import Path

from hertzwright.cli import app
from hertzwright.cli.files import journal
from hertzwright.cli.jobsite import check_prompt, closing, remedy_prompt, resume, safety, session, start, steps, view
from hertzwright.cli.terminal import finder, prompts
from hertzwright.engine import load_knowledge
from hertzwright.engine.job import Event
from hertzwright.engine.planning import planner

IMPORTED = (prompts, check_prompt, closing, session, finder, remedy_prompt, planner, resume, safety, steps, start, view)
_PROMPT = re.compile(r"(?:^|[\r\n])\w*> \Z")
_PATIENCE = 60.0


class Terminal:
    """The other end of the terminal of one command."""

    def __init__(self, words: list[str]) -> None:
        self.text = ""
        self.open = True
        self.pid, self.handle = pty.fork()
        if self.pid == 0:
            status = 70
            try:
                status = app.main(words)
            finally:
                os._exit(status)

    def more(self, seconds: float) -> bool:
        """Take in what was printed. Returns whether something was."""
        ready, _, _ = select.select([self.handle], [], [], seconds)
        if not ready:
            return False
        try:
            data = os.read(self.handle, 65536)
        except OSError:  # the other end is gone
            data = b""
        self.open = bool(data)
        self.text += data.decode("utf-8", "replace")
        return self.open

    def prompt(self) -> bool:
        """Wait for a prompt. Returns whether there is one; not where the command has ended."""
        end = time.monotonic() + _PATIENCE
        while self.open and not _PROMPT.search(self.text[-40:]):
            self.more(0.5)
            if time.monotonic() > end:
                raise TimeoutError(f"no prompt:\n{self.text[-2000:]}")
        return self.open

    def kill(self) -> bool:
        """Kill the command, and take in the rest of what it had printed. Returns whether it was still running."""
        os.kill(self.pid, signal.SIGKILL)
        _, status = os.waitpid(self.pid, 0)
        while self.more(0):
            pass
        os.close(self.handle)
        return os.WIFSIGNALED(status)


def typed(asked: str, chance: random.Random, number: int) -> tuple[str, str]:
    """A line to type after what was printed, and the answer that is kept if it is taken; none where that may depend."""
    if "What is the trouble?" in asked:
        return "floats high", ""
    if "Anything else?" in asked:
        return "", ""
    if asked.endswith("note> "):
        return f"mark {number}", f"mark {number}"
    if "1  prove it and close" in asked or "1  close and hand it over" in asked:
        return chance.choice(("7", "7", "7", "7", "z", "s")), ""
    if "Are you safe" in asked or "Is it so?" in asked or "Is all of it so?" in asked or "expected y or n" in asked:
        return "y", ""
    if "expected 1" in asked or "What do you want" in asked or "Which" in asked:
        return "1", ""
    kind = chance.choices(("note", "reading", "1", "2", "s", "z"), (60, 15, 15, 5, 3, 2))[0]
    if kind == "note":
        return f"n mark {number}", f"mark {number}"
    if kind == "reading":
        return f"o frequency = {61 + number / 10_000:.4f} Hz", f"{61 + number / 10_000:.4f} Hz"
    return kind, ""


def at_terminal(folder: Path, knowledge: Path, trials: int, chance: random.Random) -> None:
    number = 0
    where = ["--folder", str(folder), "--knowledge", str(knowledge), "--plain"]
    begin = [
        "start",
        "--name",
        "pump house",
        "--acknowledge",
        "--complaint",
        "floats_high",
        "--set",
        "booster=none",
        *where,
    ]
    killed = 0
    life = 0
    while killed < trials:
        listed = journal.listed(folder / "jobs")
        whole = [path for path in listed[-1:] if b'"set"' in path.read_bytes() and path.read_bytes().count(b"\n") > 1]
        life = (life + 1) % 8
        words = ["resume", whole[0].stem, *where] if whole and life else begin
        terminal = Terminal(words)
        sent: list[tuple[str, str, int]] = []
        acknowledged: list[str] = []
        for _ in range(chance.choice((0, 1, 2, 3, 4, 6, 8))):
            if not terminal.prompt():
                break
            number += 1
            line, answer = typed(terminal.text[sent[-1][2] if sent else 0 :], chance, number)
            sent.append((line, answer, len(terminal.text)))
            os.write(terminal.handle, f"{line}\n".encode())
            terminal.text += "\n"
        delay = chance.random() * (0.03 if sent else 0.2)
        end = time.monotonic() + delay
        while terminal.open and (left := end - time.monotonic()) > 0:
            terminal.more(left)
        died = terminal.kill()
        ends = [*(at for _, _, at in sent[1:]), len(terminal.text)]
        kept = 0
        for (_, answer, at), stop in zip(sent, ends, strict=False):
            said = terminal.text[at:stop]
            if "Noted." in said or re.search(r"^Kept: ", said, re.MULTILINE):
                kept += 1
                if answer:
                    acknowledged.append(answer)
        killed += died
        path = journal.listed(folder / "jobs")[-1:]
        told = {
            "words": words[0], "died": died, "inputs": len(sent), "acknowledged": acknowledged, "kept": kept,
            "job": path[0].stem if path else "", "text": terminal.text[-1500:],
        }  # fmt: skip
        if path:
            told["data"] = path[0].read_bytes().decode("latin-1")
        print(json.dumps(told), flush=True)


def at_writer(folder: Path, trials: int, chance: random.Random) -> None:
    """The journal alone, appending as fast as it can, each event acknowledged through a pipe."""
    for trial in range(trials):
        mine, theirs = os.pipe()
        pid = os.fork()
        if pid == 0:
            try:
                events = [Event("set", features={"booster": "none"}, tolerance="default")]
                with journal.Journal.create(folder / str(trial), "f" * 64, "x") as file:
                    while True:
                        file.sync(events)
                        os.write(theirs, b"%d\n" % len(events))
                        events.append(Event("note", answer=f"{len(events)} " + "x" * (len(events) * 37 % 5000)))
            finally:
                os._exit(70)
        os.close(theirs)
        if trial % 4:
            os.read(mine, 1)
        time.sleep(chance.random() * 0.02)
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        said = b""
        while data := os.read(mine, 65536):
            said += data
        os.close(mine)
        last = int(said.rsplit(b"\n", 2)[-2].rpartition(b"\n")[2] or 0) if b"\n" in said else 0
        print(json.dumps({"died": os.WIFSIGNALED(status), "acknowledged": last}), flush=True)


def run(how: str, folder: str, knowledge: str, trials: str, seed: str) -> None:
    os.environ.update(TERM="dumb", COLUMNS="100")
    chance = random.Random(int(seed))
    if how == "terminal":
        load_knowledge(knowledge)  # imports what reading it needs
        at_terminal(Path(folder), Path(knowledge), int(trials), chance)
    else:
        at_writer(Path(folder), int(trials), chance)


if __name__ == "__main__":
    run(*sys.argv[1:])
