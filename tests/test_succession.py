"""An old job says the same, or says why not, after what it names was renamed or withdrawn."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import hertzwright.knowledge
from hertzwright.cli.app import main
from hertzwright.cli.files import journal
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.job.event import Event
from hertzwright.engine.job.succession import current
from hertzwright.engine.problems.problem import HertzwrightError

from small_knowledge import FILES, write

Captured = pytest.CaptureFixture[str]
SET = Event("set", features={"cylinders": "2"}, tolerance="default")
EVENTS = (
    SET,
    Event("complaint", "floats_high", "present"),
    Event("check", "frequency", "64.1 Hz"),
    Event("check", "stop_gap", "none"),
    Event("remedy", "set_rod", "not cured"),
    Event("set_to", "rod_matched", "set"),
)


def item(text: str, name: str) -> str:
    """The lines of an item."""
    lines = text.splitlines(keepends=True)
    start = lines.index(f"  {name}:\n")
    end = next((at for at in range(start + 1, len(lines)) if not lines[at].startswith("   ")), len(lines))
    return "".join(lines[start:end])


def retired(file: str, name: str, heir: str) -> str:
    """The text of a file in which an item got another name and the old one is kept as retired."""
    own = item(FILES[file], name)
    reason = f"    retired: {{since: 2026-01-31, reason: Renamed.{f', replaced_by: {heir}' if heir else ''}}}\n"
    changed = FILES[file].replace(own, own + reason)
    return changed.replace(own, own.replace(f"  {name}:\n", f"  {heir}:\n", 1) + own) if heir else changed


def renamed(folder: Path) -> Knowledge:
    """The small knowledge with stop_gap, set_rod and floats_high under other names."""
    checks = retired("checks/linkage.yaml", "stop_gap", "gap_at_stop")
    area = retired("areas/linkage.yaml", "set_rod", "fit_rod").replace("stop_gap", "gap_at_stop")
    complaints = retired("complaints.yaml", "floats_high", "runs_away")
    cases = FILES["cases/linkage.yaml"].replace("stop_gap", "gap_at_stop").replace("floats_high", "runs_away")
    order = FILES["order.yaml"].replace("[set_rod]", "[fit_rod]")
    setting = retired("setting.yaml", "rod_matched", "rod_fitted").replace("stop_gap", "gap_at_stop")
    setting = setting.replace("set_rod", "fit_rod").replace("needs: [rod_matched]", "needs: [rod_fitted]")
    return load_knowledge(
        write(
            folder,
            {
                "checks/linkage.yaml": checks,
                "areas/linkage.yaml": area,
                "complaints.yaml": complaints,
                "cases/linkage.yaml": cases,
                "order.yaml": order,
                "setting.yaml": setting,
                "units.yaml": None,
                "drawings.yaml": FILES["drawings.yaml"].replace("stop_gap", "gap_at_stop"),
            },
        )
    )


def test_a_job_with_renamed_items_gives_the_same_figures_and_says_so(tmp_path: Path) -> None:
    old = load_knowledge(write(tmp_path / "old"))
    new = renamed(tmp_path / "new")
    events, told = current(new, EVENTS)
    assert [event.id for event in events] == ["", "runs_away", "frequency", "gap_at_stop", "fit_rod", "rod_fitted"]
    assert told == (
        'the complaint "floats_high" is called "runs_away" since 2026-01-31',
        'the check "stop_gap" is called "gap_at_stop" since 2026-01-31',
        'the remedy "set_rod" is called "fit_rod" since 2026-01-31',
        'the step of setting "rod_matched" is called "rod_fitted" since 2026-01-31',
    )
    assert Job.replay(new, events).posterior() == pytest.approx(Job.replay(old, EVENTS).posterior())
    assert current(old, EVENTS) == (EVENTS, ()), "what is in use comes back as it is"


def test_an_item_without_a_replacement_becomes_a_remark_and_steps_back_stay_right(tmp_path: Path) -> None:
    area = FILES["areas/linkage.yaml"]
    for gone in ("      stop_gap: {none: usually}\n", "      stop_gap: {wide: usually}\n"):
        assert area.count(gone) == 1
        area = area.replace(gone, "")
    adjuster = "brief: Somebody turned the adjuster.\n    shows:\n      frequency: {high: "
    assert area.count(adjuster) == 1
    changes = {
        "areas/linkage.yaml": area.replace(f"{adjuster}usually", f"{adjuster}sometimes"),
        "checks/linkage.yaml": retired("checks/linkage.yaml", "stop_gap", ""),
        "cases/linkage.yaml": FILES["cases/linkage.yaml"].replace("      - {check: stop_gap, answer: none}\n", ""),
        "setting.yaml": None,
        "drawings.yaml": None,
        "units.yaml": None,
    }
    new = load_knowledge(write(tmp_path, changes))
    events, told = current(new, (*EVENTS[:4], Event("step_back")))
    assert events[3].kind == "note"
    assert events[3].answer == "check stop_gap: none (no longer weighed; retired since 2026-01-31: Renamed.)"
    assert "is kept as a remark and no longer weighed" in told[0]
    assert [event.id for event in Job.replay(new, events).standing] == ["", "floats_high", "frequency"]


def test_an_answer_that_the_replacement_does_not_take_is_kept_as_a_remark(tmp_path: Path) -> None:
    new = renamed(tmp_path)
    events, told = current(new, (SET, Event("check", "stop_gap", "gone")))
    assert events[1].kind == "note"
    assert '"gap_at_stop", which replaces it since 2026-01-31, does not take "gone"' in told[0]


def test_what_was_never_known_still_fails(tmp_path: Path) -> None:
    new = renamed(tmp_path)
    events, told = current(new, (SET, Event("check", "no_such", "right")))
    assert told == ()
    with pytest.raises(HertzwrightError):
        Job.replay(new, events)


def shipped_with_a_new_name(folder: Path) -> Path:
    """The shipped knowledge in which a check has another name, the old one kept as retired."""
    shipped = Path(next(iter(hertzwright.knowledge.__path__)))
    for path in shipped.rglob("*.yaml"):
        to = folder / path.relative_to(shipped)
        to.parent.mkdir(parents=True, exist_ok=True)
        text = path.read_text(encoding="utf-8")
        changed = text.replace("exhaust_colour", "smoke_colour")
        if "  exhaust_colour:\n    title" in text:
            changed = changed.rstrip("\n") + "\n" + item(text, "exhaust_colour").rstrip("\n") + "\n"
            changed += "    retired: {since: 2026-01-31, reason: Renamed., replaced_by: smoke_colour}\n"
        to.write_text(changed, encoding="utf-8")
    return folder


def test_an_old_job_file_is_resumed_and_reported_under_the_new_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    new = ["--knowledge", str(shipped_with_a_new_name(tmp_path / "new"))]
    assert main(["start", "--name", "Set 4", "--complaint", "hunts_no_load", "--acknowledge"]) == 0
    (path,) = (tmp_path / "home" / "jobs").glob("*.jsonl")
    assert main(["resume", path.stem, "--record", "exhaust_colour=black"]) == 0
    before = path.read_bytes()
    capsys.readouterr()
    assert main(["resume", path.stem, "--show", *new]) == 0
    said = 'the check "exhaust_colour" is called "smoke_colour" since 2026-01-31'
    assert f"Since this job, {said}." in capsys.readouterr().err
    assert path.read_bytes() == before, "what was written stays as it was"
    assert main(["resume", path.stem, "--record", "smoke_colour=clear", *new]) == 0
    assert path.read_bytes().startswith(journal.without_end(before))
    capsys.readouterr()
    assert main(["report", path.stem, "--json", *new]) == 0
    told = json.loads(capsys.readouterr().out)
    assert f"Since then, {said}." in json.dumps(told, ensure_ascii=False).replace('\\"', '"')


@pytest.mark.parametrize("kind", ["check", "complaint", "remedy"])
def test_whatever_names_a_retired_item_in_a_facts_file_is_told_so(
    kind: str, tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Well retired, with nothing in the knowledge that names it: a facts file that still does once was a KeyError."""
    renamed(tmp_path / "new")
    name, heir, answer = {
        "check": ("stop_gap", "gap_at_stop", "answer: none"),
        "complaint": ("floats_high", "runs_away", "answer: present"),
        "remedy": ("set_rod", "fit_rod", "result: not cured"),
    }[kind]
    facts = tmp_path / "facts.yaml"
    facts.write_text(f"facts:\n  - {{complaint: runs_away, answer: present}}\n  - {{{kind}: {name}, {answer}}}\n")
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    for words in (["rank", str(facts)], ["start", "--from", str(facts), "--name", "one", "--acknowledge"]):
        assert main([*words, "--knowledge", str(tmp_path / "new")]) == 2
        err = capsys.readouterr().err
        assert f"facts.yaml:3: {name}: retired since 2026-01-31; use {heir}" in " ".join(err.split())
    job = Job(load_knowledge(tmp_path / "new"))
    with pytest.raises(HertzwrightError, match=f"{name}: retired since 2026-01-31; use {heir}"):
        Job.replay(job.knowledge, [SET, Event(kind, name, answer.split(": ")[1])])
    if kind == "complaint":
        assert main(["chart", name, "--knowledge", str(tmp_path / "new")]) == 2
        assert f"{name}: retired since 2026-01-31; use {heir}" in " ".join(capsys.readouterr().err.split())
    assert job.events[1:] == ()
