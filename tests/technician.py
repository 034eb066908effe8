"""Technicians who answer at the session: from a list, or knowing what is wrong with the set."""

from __future__ import annotations

import io
import random
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from hertzwright.cli.files.journal import Journal
from hertzwright.cli.jobsite.session import Session
from hertzwright.cli.record.event_text import CLOSINGS
from hertzwright.cli.terminal import Stop
from hertzwright.cli.terminal.page import Page, Row
from hertzwright.cli.terminal.screen import Screen
from hertzwright.engine import Job

MOST_PROMPTS = 120


class Script:
    """Answers prompts by a function of what was printed since the last prompt. Keeps all that was printed."""

    def __init__(self, answer: Callable[[str], str]) -> None:
        self.out = io.StringIO()
        self.answer = answer
        self.seen = 0
        self.prompts = 0
        self.text = ""

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        self.prompts += 1
        if self.prompts > MOST_PROMPTS:
            raise AssertionError(f"no end after {MOST_PROMPTS} prompts:\n{self.out.getvalue()[-3000:]}")
        printed = self.out.getvalue()
        # A share of load is told with its kilowatts; who answers knows the question as it is written.
        said = re.sub(r"(load) \([\d.]+ kW\)", r"\1", " ".join(printed[self.seen :].split()))
        self.text, self.seen = said, len(printed)
        given = self.answer(self.text + " " + prompt)
        self.out.write(f"{prompt}{given}\n")
        return given


def by_list(answers: Iterable[str]) -> Callable[[str], str]:
    left: Iterator[str] = iter(answers)

    def answer(text: str) -> str:
        try:
            return next(left)
        except StopIteration:
            raise Stop from None

    return answer


def desk_of(
    job: Job, answer: Callable[[str], str], folder: Path, plain: bool = True, width: int = 100
) -> tuple[Session, Script]:
    script = Script(answer)
    journal = Journal.create(folder / "jobs", job.knowledge.fingerprint, "test set")
    journal.sync(job.events)
    # One step deep is enough here, and quick; how good a choice is, other tests say.
    return Session(job, journal, Screen(plain, script.out, width), script, deepen=0), script


class Typed:
    """Lines that are typed, one after the other."""

    def __init__(self, *lines: str) -> None:
        self.lines = list(lines)

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        return self.lines.pop(0)


class Phone:
    """A terminal of 40 columns and 24 rows that is answered from a list; what it keeps of a page is said where it is used."""

    width, height, drawn, blocks = 40, 24, True, True

    def __init__(self, screen: Screen, lines: Iterable[str]) -> None:
        self.said: list[Row] = []
        self.left = list(lines)
        screen.give_to(self)

    def take(self, row: Row) -> None:
        self.said.append(row)

    def size(self) -> tuple[int, int]:
        return 40, 24

    def leave(self) -> None:
        return

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        return self.present(Page(prompt=prompt))

    def present(self, page: Page) -> str:
        self.kept(page)
        self.said.clear()
        if not self.left:
            raise Stop
        return self.left.pop(0)

    def kept(self, page: Page) -> None:
        """Keep what is to be looked at of a page, with what was said before it."""
        raise NotImplementedError


class Knows:
    """A technician whose set has these faults and shows what it would by chance. A remedy takes its causes away."""

    def __init__(self, job: Job, truth: Iterable[str], seed: int = 0) -> None:
        self.job = job
        self.truth = frozenset(truth)
        self.seed = seed

    def now(self) -> frozenset[str]:
        done = [event.id for event in self.job.standing if event.kind == "remedy"]
        return self.truth - {cause for remedy in done for cause in self.job.knowledge.remedies[remedy].cures}

    def shows(self, check: str) -> int:
        """The outcome, the same each time while the set is the same."""
        if not self.now():
            return 0
        row = self.job.knowledge.distribution(check, self.now())
        chance = random.Random(f"{self.seed} {check} {sorted(self.now())}").random()
        return next((place for place in range(len(row)) if chance < sum(row[: place + 1])), 0)

    def gone(self, complaint: str) -> bool:
        said = self.job.knowledge.complaints[complaint]
        so = [self.job.checks[check].outcomes[self.shows(check)].id in names for check, names in said.says.items()]
        return not (all(so) if said.mode == "all" else any(so))

    def __call__(self, text: str) -> str:
        knowledge = self.job.knowledge
        for sign in ("close it: fixed", "go on with the next step", "That fails the proof"):
            if sign in text:
                return "1"
        for sign in (
            "Are you safe",
            "Is the set shut",
            "does the throttle",
            "Is it so?",
            "Is all of it so?",
            "Before you leave",
        ):
            if sign in text:
                return "y"
        if "Set the set in order now?" in text:
            return "2"
        if "Who says so?" in text:
            return "Kim"
        if "is that trouble gone?" in text:
            title = text.rpartition(": is that trouble gone?")[0]
            name = next(name for name, each in knowledge.complaints.items() if title.endswith(each.title))
            return "1" if self.gone(name) else "2"
        if "Not read as found" in text:
            return "y" if self.seed == 0 else ""
        if "carried out 2" in text or "do it now" in text or "1 prove it and close" in text:
            return "1"
        if "close and hand it over" in text:
            return "1"
        asked = [(text.rfind(check.ask), name) for name, check in self.job.checks.items() if check.ask in text]
        if asked:
            return "abcde"[self.shows(max(asked)[1])]
        raise AssertionError(f"a prompt that nobody knows: {text[-600:]}")


def closed(job: Job) -> str:
    """How a job was closed, in words; empty where it is open."""
    return f"{CLOSINGS[job.closed]}." if job.closed else ""
