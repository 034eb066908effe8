"""What is denied is never taken for what is: at every check, in every list, and by no y after a proposal.

Outside: none; English negation, from memory.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest

from hertzwright.cli.jobsite import check_prompt, complaint_prompt
from hertzwright.cli.jobsite.check_prompt import PromptReply
from hertzwright.cli.terminal import Stop
from hertzwright.cli.terminal.prompts import choose, confirm
from hertzwright.cli.terminal.screen import Screen
from hertzwright.engine import AnswerError, Job, Knowledge, load_knowledge
from hertzwright.engine.readings import denies, meanings, outcome_said, read_answer, same_sense

from technician import Typed, by_list, desk_of
from tiers import some


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.mark.parametrize(
    ("text", "no"),
    [
        ("no ping", True), ("isn't loose", True), ("isnt loose", True), ("wont close", True), ("neither", True),
        ("hardly any", True), ("pings", False), ("normal", False), ("knot", False), ("noisy", False), ("want", False),
    ],
)  # fmt: skip
def test_a_no_is_known(text: str, no: bool) -> None:
    assert denies(text) is no


@pytest.mark.parametrize(
    ("one", "other"),
    [("no", "normal"), ("no ping", "pings"), ("uneven", "even"), ("unsteddy", "steady"), ("incomplete", "complete")],
)
def test_a_word_and_its_denial_are_not_of_one_sense(one: str, other: str) -> None:
    assert not same_sense(one, other)
    assert not same_sense(other, one)
    assert same_sense(other, other)


@pytest.mark.parametrize("no", ["no {}", "not {}", "isn't {}", "never {}", "no more {}", "it is not {}", "without {}"])
def test_at_no_check_does_a_no_become_its_yes(no: str, knowledge: Knowledge) -> None:
    """Neither taken, nor proposed to be confirmed by y, nor understood as it: whatever outcome it is."""
    typed = knowledge.catalogue.typed
    for check in knowledge.checks.values():
        for outcome in check.outcomes:
            name = outcome.id.replace("_", " ")
            if denies(name):
                continue
            said = no.format(name)
            try:
                assert read_answer(check, said, knowledge.features({})).outcomes != (outcome.id,), said
            except AnswerError as error:
                assert not error.meant or denies(error.meant.replace("_", " ")), f"{check.id}: {said}"
                assert error.meant != outcome.id, f"{check.id}: {said}"
            ways = meanings(check, said, knowledge.features({}), knowledge.checks, typed)
            assert outcome.id not in {way.answers[0][1] for way in ways}, f"{check.id}: {said}"


def test_the_whole_text_of_a_choice_is_an_answer(knowledge: Knowledge) -> None:
    """Its name, what it means, or both as they stand on the screen, with or without the stop."""
    features = knowledge.features({})
    for check in knowledge.checks.values():
        briefs = [outcome.brief for outcome in check.outcomes]
        for outcome in check.outcomes:
            name = outcome.id.replace("_", " ")
            texts = [name, f"{name}: {outcome.brief}"]
            texts += [outcome.brief, outcome.brief.lower().rstrip(".")] if briefs.count(outcome.brief) == 1 else []
            for text in filter(None, texts):
                assert read_answer(check, text, features).outcomes == (outcome.id,), f"{check.id}: {text}"


def test_no_ping_is_kept_as_quiet_and_y_after_it_takes_nothing_else(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, script = desk_of(job, by_list(["no ping", "y", "neither"]), tmp_path)
    assert check_prompt.ask(session, knowledge.checks["knock_under_load"]) == PromptReply("")
    assert job.events[-1].answer == "quiet"
    assert check_prompt.ask(session, knowledge.checks["knock_under_load"]) == PromptReply("")
    assert job.events[-1].answer == "quiet"
    assert "did you mean" not in script.out.getvalue()


def test_a_no_is_not_the_start_of_normal() -> None:
    out = io.StringIO()
    assert choose(Typed("no", "y", "2"), Screen(True, out, 80), "How?", ("normal", "hot")) == 1
    assert "did you mean" not in out.getvalue()


def test_the_text_of_a_choice_is_an_answer_to_what_is_confirmed() -> None:
    ways = ("yes, all of it is met", "no, not this step now")
    assert confirm(Typed("Yes, all of it is met"), Screen(True, io.StringIO(), 80), "Safe?", *ways)
    assert not confirm(Typed("1", "no, not this step now"), Screen(True, io.StringIO(), 80), "Safe?", *ways)


def test_a_number_with_a_point_is_no_number_of_a_list() -> None:
    out = io.StringIO()
    assert choose(Typed("1.2", "y", "2"), Screen(True, out, 80), "How?", ("done", "not now")) == 1
    assert "understood as the numbers" not in out.getvalue()


@pytest.mark.parametrize(
    ("check", "said", "outcome"),
    [
        ("popping_cold", "no", "none"), ("popping_cold", "none", "none"), ("knock_under_load", "nothing", "quiet"),
        ("wide_open_stop_gap", "no gap", "none"), ("knock_under_load", "no knock", "quiet"),
        ("wide_open_stop_gap", "gap", None), ("linkage_feel", "no", None),
    ],
)  # fmt: skip
def test_a_no_alone_means_the_one_outcome_that_is_one(
    check: str, said: str, outcome: str | None, knowledge: Knowledge
) -> None:
    ways = meanings(knowledge.checks[check], said, knowledge.features({}), knowledge.checks, knowledge.catalogue.typed)
    assert [way.answers[0][1] for way in ways] == ([outcome] if outcome else [])


@pytest.mark.parametrize(("words", "told"), [("no black smoke", True), ("black smoke", False), ("no power", False)])
def test_a_complaint_that_is_denied_is_not_listed_as_if_it_were_said(
    words: str, told: bool, knowledge: Knowledge, tmp_path: Path
) -> None:
    session, script = desk_of(Job(knowledge), by_list([]), tmp_path)
    with pytest.raises(Stop):
        complaint_prompt.complaint(session, words)
    assert ("denies it" in script.out.getvalue()) is told


UNSAID = (
    "not really {}", "almost {}", "{} but not quite", "no longer {}", "far from {}", "anything but {}", "{}, not",
    "would be {} if it worked", "supposed to be {}", "should be {}", "used to be {}", "{} until it warms up",
    "stopped being {}", "yes, not {}", "no, not {}",
)  # fmt: skip


@pytest.mark.parametrize("way", some(UNSAID, 4))
def test_what_is_unsaid_is_not_understood_as_said(way: str, knowledge: Knowledge) -> None:
    """By any of its names: "far from tight" was understood as tight, since the word stands in it."""
    typed = knowledge.catalogue.typed
    for check in knowledge.checks.values():
        for outcome in check.outcomes:
            own = f"{outcome.id} {outcome.brief}".replace("_", " ").lower()
            for name in (outcome.id.replace("_", " "), *check.said.get(outcome.id, ())):
                said = way.format(name)
                if denies(name) or name == "yes" or re.search(r"almost|short of|should", own):
                    continue
                found = meanings(check, said, knowledge.features({}), knowledge.checks, typed)
                assert outcome.id not in {each.answers[0][1] for each in found}, f"{check.id}: {said}"
                assert outcome_said(check, said) != outcome.id, f"{check.id}: {said}"
