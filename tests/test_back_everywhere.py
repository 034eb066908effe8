"""One z takes back one thing that was typed and asks it again, at every prompt of a job.

A technician works a job to its end; then the same job is worked again up to each prompt and z is typed there: what is
asked next is what was asked before. That dangers were met is no answer: z at a step goes past the gate of the step, as
the step itself is not yet answered.
Outside: none; it is the issue's own demand.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from hertzwright.cli.jobsite import steps
from hertzwright.cli.jobsite.session import Session
from hertzwright.cli.terminal import Screen, Stop
from hertzwright.cli.terminal.page import Page
from hertzwright.engine import Job, Knowledge, load_knowledge

from technician import Knows
from tiers import some

GATES = ("Are you safe", "Is the set shut", "does the throttle plate close", "Who says so?")
MOST = 90


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def asked(page: Page) -> str:
    """What a page asks, without what only says how it stands."""
    title = re.sub(r"^Next: |^(?:As found|Proof run|To prove it|Before closing), \d+ of \d+: ", "", page.title)
    return f"{title} | {page.question} | {', '.join(choice.name for choice in page.choices)}"


class Pages:
    """Answers pages and keeps what each asked; at one of them types z, and then no more."""

    def __init__(self, answer: Callable[[str], str], at: int) -> None:
        self.answer, self.at = answer, at
        self.asked: list[str] = []
        self.given: list[str] = []

    def ask(self, prompt: str, words: object = ()) -> str:
        return self.present(Page(prompt=prompt))

    def present(self, page: Page) -> str:
        self.asked.append(asked(page))
        if len(self.asked) > (self.at + 1 if self.at >= 0 else MOST):
            raise Stop
        if len(self.asked) - 1 == self.at:
            return "z"
        text = " ".join([page.title, *(line.text for line in page.body), page.question, page.prompt])
        text += " " + " ".join(f"{choice.key} {choice.name}" for choice in page.choices)
        self.given.append(self.answer(re.sub(r"(load) \([\d.]+ kW\)", r"\1", text)))
        return self.given[-1]


class Works(Knows):
    """Knows the set; says what the trouble is; skips one in seven prompts that may be skipped, so that this is taken
    back too."""

    count = 0

    def __call__(self, text: str) -> str:
        self.count += 1
        for sign, word in (("What is the trouble", "hunts no load"), ("Anything else?", "")):
            if sign in text:
                return word
        if "Hunts with no load" in text and "none of these" in text:
            return "1"
        if self.count % 7 == 6 and "1 right" in text:
            return "s"
        return super().__call__(text)


def play(knowledge: Knowledge, features: Mapping[str, str], truth: list[str], folder: Path, at: int = -1) -> Pages:
    job = Job(knowledge, features)
    job.stands("cold")
    pages = Pages(Works(job, truth), at)
    with (folder / "out").open("w") as out:
        steps.run(Session(job, None, Screen(True, out, 80), pages, deepen=0))
    return pages


@pytest.mark.parametrize(
    "truth",
    some([["idle_mixture_lean"], ["speed_set_high", "linkage_binding"], ["fuel_leaks"], ["sensitivity_sharp"]], 4),
)
def test_z_asks_again_what_was_asked_before_it(truth: list[str], knowledge: Knowledge, tmp_path: Path) -> None:
    known = [name for name in truth if name in knowledge.causes]
    whole = play(knowledge, {"booster": "none"}, known, tmp_path)
    assert len(whole.asked) > 10
    wrong = []
    for at in range(1, len(whole.asked)):
        if any(gate in each for gate in GATES for each in whole.asked[at - 1 : at + 1]):
            continue
        again = play(knowledge, {"booster": "none"}, known, tmp_path, at)
        assert again.asked[: at + 1] == whole.asked[: at + 1]
        if again.asked[at + 1 :] != [whole.asked[at - 1]]:
            wrong.append(f"{at}: {whole.asked[at - 1]} -> {whole.asked[at]} -> z -> {again.asked[at + 1 :]}")
    assert not wrong, "\n" + "\n".join(wrong)
