"""The owner's own words: kept beside what they were understood as, shown escaped, left out of files without names."""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.files import journal
from hertzwright.cli.files.export import without_names
from hertzwright.cli.jobsite.complaint_prompt import complaint
from hertzwright.cli.jobsite.view import summary
from hertzwright.cli.record.collection import collect
from hertzwright.cli.record.html import page
from hertzwright.engine import Job, load_knowledge

from technician import by_list, desk_of

KNOWLEDGE = load_knowledge()
TYPED = "hunts with no load at Kim's barn <b>"


def test_what_was_typed_stands_beside_what_it_was_understood_as(tmp_path: Path) -> None:
    job = Job(KNOWLEDGE, {"booster": "none"})
    session, _ = desk_of(job, by_list([TYPED, "1", ""]), tmp_path)
    complaint(session, "")
    assert job.standing[1].cells == {"said": TYPED}
    assert any(TYPED in phrase for phrase in summary(session))
    assert session.journal is not None
    session.journal.close()
    kept = journal.read(session.journal.path)
    record = collect(KNOWLEDGE, kept)
    assert record.complaints[0].said == TYPED
    shown = page(record)
    assert "Kim&#x27;s barn &lt;b&gt;" in shown
    assert "<b>" not in shown.split("owner", 1)[1].split("</section>")[0]
    assert all("Kim" not in str(event.as_dict()) for event in without_names(kept.events))


def test_the_title_itself_is_nobodys_words(tmp_path: Path) -> None:
    job = Job(KNOWLEDGE, {"booster": "none"})
    session, _ = desk_of(job, by_list(["hunts_no_load", "", ""]), tmp_path)
    complaint(session, "")
    assert [event.cells for event in job.standing if event.kind == "complaint"] == [{}]


@pytest.mark.parametrize("last", ["no", "nope", "nothing else", "that's all", "No."])
def test_no_more_is_no_complaint(tmp_path: Path, last: str) -> None:
    """ "no" was looked up, and a hard start offered."""
    job = Job(KNOWLEDGE, {"booster": "none"})
    session, _ = desk_of(job, by_list(["hunts with no load", "1", "yes", last]), tmp_path)
    complaint(session, "")
    assert [event.id for event in job.standing if event.kind == "complaint"] == ["hunts_no_load"]
