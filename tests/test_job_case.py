"""A case made of a job: what was found, what was wrong, and nothing of whom it was at."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.files import export, journal
from hertzwright.cli.workshop.job_case import JobCaseError, events_of, job_case
from hertzwright.engine import Event, Job, Knowledge, load_knowledge
from hertzwright.engine.compiler.reader import read_folder

Captured = pytest.CaptureFixture[str]
ROOT = Path(__file__).parent.parent
SECRETS = ("Example", "barn", "Mill Road", "eggs", "Alex", "0170")


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The knowledge in a checkout that is stood in, and a home without jobs."""
    shutil.copytree(ROOT / "knowledge", tmp_path / "knowledge", ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    return tmp_path / "knowledge"


def told(knowledge: Knowledge, proven: bool = True) -> Job:
    """A job full of what is nobody's business: the program wrong at first, the rod long in truth."""
    job = Job(knowledge, {"rated_kw": 12, "booster": "none", "altitude": 1200})
    job.acknowledge("job", "the cautions, Alex at Mill Road")
    job.record("floats_high_no_load", "present")
    job.note("Mrs Example, Mill Road 7, call 0170")
    job.record("frequency_no_load", "1938 rpm")
    job.record("frequency_no_load", "1944 rpm")
    job.record("linkage_feel", "unknown")
    job.record("swing_no_load", "steady?")
    job.carry_out("set_no_load_speed", "unknown")
    job.prove("failed")
    job.record("frequency_no_load", "64 Hz")
    job.record("wide_open_stop_gap", "0 mm")
    job.carry_out("set_rod_length", "unknown")
    job.prove("passed")
    job.note("paid in eggs")
    if not proven:
        return job
    return Job.replay(knowledge, [*job.events, Event("closed", "fixed")])


def kept(folder: Path, job: Job) -> Path:
    with journal.Journal.create(folder, job.knowledge.fingerprint, "Mrs Example's barn") as file:
        file.sync(job.events)
        return file.path


def test_the_facts_come_in_order_in_the_words_of_the_knowledge_and_end_where_the_set_was_mended(
    knowledge: Knowledge,
) -> None:
    made = job_case(knowledge, told(knowledge).events, ["throttle_rod_long"])
    assert made.given["facts"].split("\n") == [
        "",
        "      - {complaint: floats_high_no_load, answer: present}",
        "      - {check: frequency_no_load, answer: 64.8 Hz}",
        "      - {remedy: set_no_load_speed, result: not cured}",
        "      - {check: frequency_no_load, answer: 64 Hz}",
        "      - {check: wide_open_stop_gap, answer: 0 in}",
    ]
    assert made.given["set"] == '{rated_kw: "12", booster: none, altitude: "1200"}'
    assert made.truth == ("throttle_rod_long",)
    assert made.left_out == ("2 notes", "1 answer that nobody was sure of")
    assert not any(secret in repr(made) for secret in SECRETS)


@pytest.mark.parametrize("how", ["id", *(pytest.param(how, marks=pytest.mark.nightly) for how in ("file", "export"))])
def test_one_command_makes_a_case_of_a_job_that_names_nobody(
    how: str, knowledge: Knowledge, folder: Path, capsys: Captured
) -> None:
    path = kept(folder.parent / "home" / "jobs", told(knowledge))
    name = str(path)
    if how == "id":
        name = path.stem
    elif how == "export":
        data, _ = export.packed([path])
        (folder.parent / "sent.json").write_bytes(data)
        name = "sent.json"
    before = (folder / "cases/linkage.yaml").read_text(encoding="utf-8")
    assert main(["knowledge", "new", "case", "rod_at_the_mill", "--from", name, "--for", "throttle_rod_long"]) == 0
    out = capsys.readouterr().out
    after = (folder / "cases/linkage.yaml").read_text(encoding="utf-8")
    assert after.startswith(before.rstrip("\n"))
    assert not any(secret in after[len(before) - 1 :] + out for secret in SECRETS)
    assert "Left out, with every name: 2 notes;" in " ".join(out.split())
    assert "It passes: throttle_rod_long" in " ".join(out.split())
    assert not read_folder(folder).problems
    assert main(["knowledge", "tidy", "knowledge", "--check"]) == 1  # the names that an editor offers have one more
    assert ", 0 not tidy." in capsys.readouterr().out
    assert main(["knowledge", "cases", "rod_at_the_mill", "--knowledge", "knowledge"]) == 0


def test_a_case_that_the_program_gets_wrong_says_by_how_much(
    knowledge: Knowledge, folder: Path, capsys: Captured
) -> None:
    path = kept(folder.parent / "jobs", told(knowledge))
    words = ["knowledge", "new", "case", "drive_worn_at_a_mill", "--from", str(path), "--for", "governor_drive_worn"]
    assert main([*words, "--dry-run"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("  drive_worn_at_a_mill:\n    title: ")
    assert "It fails, as a case does that the program gets wrong: governor_drive_worn" in " ".join(err.split())
    assert "drive_worn_at_a_mill" not in (folder / "cases/governor.yaml").read_text(encoding="utf-8")
    assert main([*words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["file"], found["open"], found["written"]) == ("cases/governor.yaml", [], True)
    assert found["left_out"][0] == "2 notes"
    assert any("expected at least 0.5" in fault for fault in found["faults"])
    assert main(["knowledge", "cases", "drive_worn_at_a_mill", "--knowledge", "knowledge"]) == 1


def test_a_job_that_was_proven_says_itself_what_was_wrong(knowledge: Knowledge) -> None:
    job = told(knowledge)
    if max(job.as_found().values()) >= 0.9:
        assert job_case(knowledge, job.events, ()).truth == ("throttle_rod_long",)
    with pytest.raises(JobCaseError, match=r"not proven: --for CAUSE; by what was found: throttle_rod_long \d+ %"):
        job_case(knowledge, told(knowledge, proven=False).events, ())
    with pytest.raises(JobCaseError, match="no complaint, check or remedy"):
        job_case(knowledge, Job(knowledge).events, ["throttle_rod_long"])


def test_facts_are_taken_from_a_file_too_and_what_is_none_is_said(
    knowledge: Knowledge, folder: Path, capsys: Captured
) -> None:
    facts = {"set": {"booster": "none"}, "facts": [{"complaint": "hunts_no_load", "answer": "present"}]}
    for name in ("facts.yaml", "facts.json"):
        (folder.parent / name).write_text(json.dumps(facts), encoding="utf-8")
        assert [event.kind for event in events_of(name, knowledge, None)] == ["set", "complaint"]
    for words, told_so in (
        (["case", "a_case", "--from", "nothing.jsonl"], "nothing.jsonl: no job kept here"),
        (["case", "a_case", "--from", "facts.yaml"], "--for CAUSE"),
        (["cause", "a_cause", "--from", "facts.yaml"], "--from makes a case of a job"),
        (["case", "a_case", "--from", "facts.yaml", "--for", "sensitivty_sharp"], 'did you mean "sensitivity_sharp"?'),
        (["case", "rod_long_after_overhaul", "--from", "facts.yaml"], "is there already"),
    ):
        assert main(["knowledge", "new", *words]) == 2
        assert told_so in " ".join(capsys.readouterr().err.split())
    one = kept(folder.parent / "jobs", told(knowledge))
    (folder.parent / "one.json").write_bytes(export.packed([one])[0])
    assert list(events_of(str(one), knowledge, None)) == list(events_of("one.json", knowledge, None))
    kept(folder.parent / "jobs", told(knowledge))
    data, _ = export.packed(sorted((folder.parent / "jobs").glob("*.jsonl")))
    (folder.parent / "two.json").write_bytes(data)
    with pytest.raises(JobCaseError, match="holds 2 jobs"):
        events_of("two.json", knowledge, None)
