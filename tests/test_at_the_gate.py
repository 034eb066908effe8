"""What is typed where dangers are asked, at closing and at the complaint, and is neither yes nor no nor an option.

Outside: none; the cases are those of blind tests at the set.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.jobsite import check_prompt, closing, putting_back, safety, step_page
from hertzwright.cli.jobsite.complaint_prompt import complaint
from hertzwright.cli.jobsite.session import Elsewhere
from hertzwright.engine import Job, Knowledge, load_knowledge

from technician import by_list, desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def at_the_gate(knowledge: Knowledge, folder: Path, *lines: str) -> tuple[Job, object]:
    job = Job(knowledge, {})
    session, _ = desk_of(job, by_list(lines), folder)
    session.aside = check_prompt.beside
    check = knowledge.checks["frequency_full_load"]
    return job, safety.of_step(session, check, check.cautions, step_page.head(session, check, None))


def test_no_load_bank_at_the_gate_is_kept_and_the_step_waits(knowledge: Knowledge, tmp_path: Path) -> None:
    job, found = at_the_gate(knowledge, tmp_path, "no load bank")
    assert found is None
    assert "load_bank" in job.absent


def test_a_note_at_the_gate_is_kept_and_the_gate_asks_on(knowledge: Knowledge, tmp_path: Path) -> None:
    job, found = at_the_gate(knowledge, tmp_path, "note owner is in a hurry", "sure")
    assert found is not None
    assert any(event.kind == "note" for event in job.standing)


def test_close_at_the_gate_leads_to_closing(knowledge: Knowledge, tmp_path: Path) -> None:
    with pytest.raises(Elsewhere, match="finish"):
        at_the_gate(knowledge, tmp_path, "close")


@pytest.mark.parametrize("said", ["1", "ok", ""])
def test_what_says_nothing_for_sure_is_no_yes(said: str, knowledge: Knowledge, tmp_path: Path) -> None:
    job, found = at_the_gate(knowledge, tmp_path, said, "n")
    assert found is None
    assert not any(event.kind == "acknowledged" for event in job.standing)


def test_load_that_has_come_is_taken_at_closing(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {"booster": "none"})
    session, script = desk_of(job, by_list(["here load"]), tmp_path)
    session.not_here("load")
    for name, answer in (("frequency_no_load", "61.5 Hz"), ("swing_no_load", "steady")):
        session.record(name, answer)
    session.passed.add("done")
    assert not closing.close(session)
    assert not job.absent
    assert "here now" in script.out.getvalue()


def test_a_complaint_that_begins_with_a_command_word_is_one(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {})
    title = next(each for each in knowledge.complaints.values() if each.title.lower().startswith("off "))
    session, _ = desk_of(job, by_list([title.title.lower(), "1", ""]), tmp_path)
    complaint(session, "")
    assert [event.id for event in job.standing if event.kind == "complaint"] == [title.id]
    for each in knowledge.complaints.values():
        given = check_prompt.command_of(session, each.title)
        assert given is None or given.command in ("before", "unknown"), each.title


def test_what_was_put_back_on_is_not_off_as_found(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {})
    session, script = desk_of(job, by_list([]), tmp_path)
    session.take_off("rod")
    session.put_back("rod")
    putting_back.as_found(session, "", knowledge.checks["linkage_feel"])
    assert not job.off
    assert "put back on in this job" in script.out.getvalue()
