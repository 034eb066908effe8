"""What is typed at the terminal: several complaints, the visit, and what was read in other words.

Outside: none; the sentences are invented, as the trade says them (common practice, from memory).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.jobsite import check_prompt, closing, complaint_prompt, steps
from hertzwright.cli.terminal import prompts
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.readings import visit_command

from technician import by_list, desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("no load bank", ("without", "load bank")),
        ("there is no vacuum pump", ("without", "vacuum pump")),
        ("load bank not here", ("without", "load bank")),
        ("loading is not allowed", ("without", "load")),
        ("the load bank has come", ("come", "load bank")),
        ("I have already cleaned the air filter", ("before", "I have already cleaned the air filter")),
        ("somebody took the linkage off", ("before", "somebody took the linkage off")),
        ("plugs are new", ("before", "plugs are new")),
        ("it's off already", ("off", "")),
        ("the rod was off already", ("off", "rod")),
        ("no load", None), ("61.5", None), ("no", None), ("i have to readjust it after half an hour", None),
        ("full load = 58.2 Hz", None), ("steady", None),
    ],
)  # fmt: skip
def test_sentences_about_the_visit(said: str, meant: tuple[str, str] | None, knowledge: Knowledge) -> None:
    assert visit_command(knowledge.catalogue, said) == meant


@pytest.mark.parametrize(
    ("typed", "places"),
    [("6 4", (5, 3)), ("6, 4", (5, 3)), ("1 and 2", (0, 1)), ("4 4", (3,)), ("6", None), ("9 1", None), ("six", None)],
)
def test_several_numbers_of_a_list(typed: str, places: tuple[int, ...] | None) -> None:
    assert prompts.several(typed, 6) == places


def test_no_phrase_of_a_customer_is_taken_for_a_command(knowledge: Knowledge, tmp_path: Path) -> None:
    session, _ = desk_of(Job(knowledge), by_list([]), tmp_path)
    named = {name: (each.title, each.brief, *each.synonyms) for name, each in knowledge.complaints.items()}
    for phrase in knowledge.catalogue.phrases.values():
        assert not complaint_prompt._command(session, phrase.said, named), phrase.said


def test_what_was_done_before_is_no_complaint(knowledge: Knowledge, tmp_path: Path) -> None:
    session, _ = desk_of(Job(knowledge), by_list(["1"]), tmp_path)
    named = {name: (each.title, each.brief, *each.synonyms) for name, each in knowledge.complaints.items()}
    assert complaint_prompt._command(session, "the owner changed the plugs last week", named)


def test_two_complaints_at_once_and_two_that_cannot_both_be(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, script = desk_of(job, by_list(["2 1", "runs slow with nothing on", "1", "2", ""]), tmp_path)
    complaint_prompt.complaint(session, "too fast unloaded and smokes black")
    said = [event.id for event in job.standing if event.kind == "complaint"]
    assert said == ["black_smoke", "floats_high_no_load"]
    assert "both cannot be so" in " ".join(script.out.getvalue().split())


def test_a_swing_is_said_back_and_kept_as_two_readings(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, script = desk_of(job, by_list(["60-63", "1", "1"]), tmp_path)
    session.record("hunts_no_load", "present")
    check_prompt.ask(session, job.checks["frequency_no_load"])
    kept = {made.check: made.answer for made in job.made}
    assert kept["frequency_no_load"].values == (61.5,)
    assert kept["swing_no_load"].outcomes == ("slow_swing",)
    assert "understood as" in script.out.getvalue()


def test_a_swing_into_danger_holds_the_job_and_all_of_it_is_kept(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, _ = desk_of(job, by_list(["61 to 67", "1"]), tmp_path)
    session.record("hunts_no_load", "present")
    check_prompt.ask(session, job.checks["frequency_no_load"])
    assert job.held
    assert {made.check for made in job.made} >= {"frequency_no_load", "swing_no_load"}


def test_a_reading_that_is_refused_is_never_kept(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, script = desk_of(job, by_list(["60-63", "2", "61-5", "u"]), tmp_path)
    session.record("hunts_no_load", "present")
    assert check_prompt.ask(session, job.checks["frequency_no_load"]).command == "unknown"
    assert not job.made
    assert "expected" in script.out.getvalue()


def test_what_is_told_of_the_visit_is_kept(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    answers = [
        "no vacuum pump",
        "I have already cleaned the air filter",
        "1",
        "somebody took the rod off",
        "1",
        "the vacuum pump has come",
        "x",
    ]
    session, script = desk_of(job, by_list(answers), tmp_path)
    session.record("sags_under_load", "present")
    steps.run(session)
    told = [
        (event.kind, event.id) for event in job.standing if event.kind in ("not_here", "before", "taken_off", "here")
    ]
    assert told == [
        ("not_here", "hand_vacuum_pump"),
        ("before", "clean_air_cleaner"),
        ("taken_off", "rod"),
        ("here", "hand_vacuum_pump"),
    ]
    assert job.minutes == 0.0
    assert "no minutes" in script.out.getvalue()


def test_without_a_load_it_is_closed_as_not_proven_under_load(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {"booster": "none"})
    session, script = desk_of(job, by_list(["1", "y"]), tmp_path)
    session.not_here("load bank")
    session.record("frequency_no_load", "61.2 Hz")
    session.record("swing_no_load", "steady")
    assert closing.close(session)
    assert job.closed == "not_proven_under_load"
    assert "not here: load bank" in " ".join(script.out.getvalue().split())


@pytest.mark.parametrize("word", ["z", "back", "undo"])
@pytest.mark.parametrize("command", ["b4", "n", "o", "nh"])
def test_back_leaves_what_a_command_asks(command: str, word: str, knowledge: Knowledge, tmp_path: Path) -> None:
    session, script = desk_of(Job(knowledge, {"booster": "none"}), by_list([command, word, "x"]), tmp_path)
    session.record("hunts_no_load", "present")
    before = session.job.events
    steps.run(session)
    assert session.job.events == before
    assert "nothing like" not in script.out.getvalue()
