"""`hertzwright report`, the visits of a set, export and import, and findings entered into a job, as they are met."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.files import journal

SCRIPT = "<script>alert(1)</script> \x1b[31m\u202egnp"
READINGS = "load;Hz;volts;amps;steady;swing;recovery\nno load;61,6;243;0;steady;0,1;\n1/2;60,4;240;18,0/18,3;steady;0,1;\nfull;59,1;237;36,3/36,8;steady;0,2;2,4\n"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "home" / "jobs"


def begun(home: Path, name: str = "north barn", complaint: str = "floats_high_no_load") -> str:
    assert main(["start", "--name", name, "--set", "booster=none", "--complaint", complaint, "--acknowledge"]) == 0
    return journal.listed(home)[-1].stem


def resumed(ident: str, *options: str) -> None:
    assert main(["resume", ident, *options]) == 0


def mended(home: Path, *notes: str) -> str:
    """A job from complaint to proof."""
    ident = begun(home)
    for note in notes:
        resumed(ident, "--note", note)
    found = ["frequency_no_load=64.6 Hz", "wide_open_stop_gap=0.000 in", "idle_needle_turns=1 1/2 turns"]
    resumed(ident, *(word for answer in found for word in ("--record", answer)))
    resumed(ident, "--carry-out", "set_rod_length=unknown", "--carry-out", "set_no_load_speed=unknown",
            "--put-back", "all")  # fmt: skip
    left = ["frequency_no_load=61.6 Hz", "frequency_full_load=59.2 Hz", "swing_no_load=0.2 Hz",
            "wide_open_stop_gap=0.031 in", "floats_high_no_load=absent"]  # fmt: skip
    resumed(ident, *(word for answer in left for word in ("--record", answer)), "--put-back", "all")
    return ident


def events(home: Path, ident: str) -> list[tuple[str, str, str]]:
    return [(event.kind, event.id, event.answer) for event in journal.read(home / f"{ident}.jsonl").events]


# ---- the report


def test_a_whole_job_to_a_report_in_every_form(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ident = mended(home, f"Owner: {SCRIPT}", "Meter: bench meter", "Meter accuracy: 5 Hz")
    before = (home / f"{ident}.jsonl").read_bytes()
    capsys.readouterr()
    assert (
        main(["report", ident, "--html", "out.html", "--markdown", "out.md", "--json", "--meter-accuracy", "0.1 Hz"])
        == 0
    )
    out, err = capsys.readouterr()
    assert err.splitlines() == ["Written: out.html", "Written: out.md"]
    found = json.loads(out)
    assert found["version"] == 1
    assert out == json.dumps(found, sort_keys=True, indent=2) + "\n"
    assert (found["outcome"], found["meter"], found["accuracy"]) == ("Fixed and proven", "bench meter", ["0.1 Hz"])
    assert [run["run"] for run in found["load_test"]["runs"]] == ["as_found", "as_left"]
    for name in ("out.html", "out.md"):
        text = (tmp_path / name).read_text(encoding="utf-8")
        assert "<script" not in text
        assert "\x1b" not in text
        assert "\u202e" not in text
        assert "&lt;script&gt;" in text
        for title in ("Set the governor-to-throttle rod length", "bench meter", "Fixed and proven", "Licence number"):
            assert title in text
        assert text.index("As found and as left") < text.index("Verdict by limit") < text.index("Signatures")
    assert (home / f"{ident}.jsonl").read_bytes() == before


@pytest.mark.parametrize("plain", [True, False])
def test_on_the_screen_it_fits_forty_columns(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], plain: bool
) -> None:
    mended(home, SCRIPT)
    capsys.readouterr()
    monkeypatch.setenv("COLUMNS", "40")
    assert main(["report", *(["--plain"] if plain else [])]) == 0
    out, _ = capsys.readouterr()
    assert max(len(line) for line in out.splitlines()) <= 40
    assert "\x1b" not in out
    assert "\u202e" not in out
    assert "Fixed and proven." in out


def test_to_standard_output(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ident = begun(home)
    capsys.readouterr()
    assert main(["report", ident, "--html", "-"]) == 0
    assert capsys.readouterr().out.startswith("<!DOCTYPE html>")
    assert main(["report", ident, "--markdown", "-", "--json"]) == 2
    assert "only one of" in capsys.readouterr().err


def test_what_the_report_is_told_stands_in_it_and_nowhere_else(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ident = mended(home)
    before = (home / f"{ident}.jsonl").read_bytes()
    capsys.readouterr()
    options = ["--set-name", "Barn 2", "--site", "By the gate", "--meter", "M1", "--meter-accuracy", "0.2 Hz"]
    assert main(["report", ident, "--json", *options]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["set_name"], found["place"], found["meter"]) == ("Barn 2", "By the gate", "M1")
    measures = found["load_test"]["runs"][1]["measures"]
    assert measures["no_load_highest"]["guard"] == pytest.approx(0.2 + 0.05)
    assert (home / f"{ident}.jsonl").read_bytes() == before


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["2026-01-01-z"], "no job"), (["--html", "missing/out.html"], "cannot be written"),
        (["--html", "."], "is a folder"),
        (["--meter-accuracy", "fine"], '"fine" is not understood'),
    ],
)  # fmt: skip
def test_wrong_use_is_one_clear_line(
    home: Path, capsys: pytest.CaptureFixture[str], words: list[str], message: str
) -> None:
    begun(home)
    capsys.readouterr()
    assert main(["report", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert message in err
    assert len(err.splitlines()) == 1


def test_without_jobs_it_says_how_to_begin(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report"]) == 2
    assert "hertzwright start" in capsys.readouterr().err


@pytest.mark.parametrize("option", ["--html", "--markdown"])
def test_a_report_is_written_over_nothing_without_force(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], option: str
) -> None:
    ident = begun(home)
    out = tmp_path / "mine.txt"
    out.write_text("mine")
    assert main(["report", ident, option, "mine.txt"]) == 2
    assert out.read_text() == "mine"
    assert "--force" in capsys.readouterr().err
    assert main(["report", ident, option, "mine.txt", "--force"]) == 0
    assert "Service record" in out.read_text(encoding="utf-8")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["home", "mine.txt"]


def test_a_job_file_is_never_written_over(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ident, other = begun(home), begun(home, "other")
    for name in (ident, other):
        path = home / f"{name}.jsonl"
        before = path.read_bytes()
        assert main(["report", ident, "--html", str(path), "--force"]) == 2
        assert main(["jobs", "--export", ident, str(path), "--force"]) == 2
        assert path.read_bytes() == before
    assert "is a job file" in capsys.readouterr().err


# ---- the visits of a set


def test_two_visits_of_a_set_show_what_has_moved(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first = mended(home)
    begun(home, "another set")
    second = begun(home)
    resumed(second, "--record", "frequency_no_load=63.4 Hz", "--record", "idle_needle_turns=1 1/2 turns")
    capsys.readouterr()
    assert main(["jobs", "--set", "North Barn", "--json"]) == 0
    out = capsys.readouterr().out
    found = json.loads(out)
    assert out == json.dumps(found, sort_keys=True, indent=2) + "\n"
    assert (found["version"], found["set"]) == (1, "north barn")
    assert [visit["id"] for visit in found["visits"]] == [first, second]
    old, new = found["visits"]
    assert old["left"]["frequency_no_load"] == "61.6 Hz (right)"
    assert old["left"]["idle_needle_turns"] == "1.5 turns (right)"
    assert old["moved_since_last"] == []
    moved = {item["check"]: (item["kind"], item["change"]) for item in new["moved_since_last"]}
    assert moved["frequency_no_load"] == ("crossed", pytest.approx(1.8))
    assert moved["idle_needle_turns"] == ("same", pytest.approx(0.0))
    assert main(["jobs", "--set", "north barn"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "north barn: 2 visits" in text
    assert "Settings: Turns of the idle needle: 1.5 turns (right)" in text
    assert "+1.8 Hz, no longer right" in text
    assert main(["report", second, "--json"]) == 0
    report = json.loads(capsys.readouterr().out)
    assert first in report["since"]
    assert report["moved"][0]["change"] == "+1.8 Hz, no longer right"


def test_a_set_that_is_not_known_is_not_guessed(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    begun(home)
    capsys.readouterr()
    assert main(["jobs", "--set", "north barm"]) == 2
    assert 'did you mean "north barn"?' in capsys.readouterr().err


# ---- export and import


def test_export_then_import_elsewhere(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ident = mended(home, SCRIPT)
    begun(home, "another set")
    assert main(["jobs", "--export", "all", "all.json"]) == 0
    assert main(["jobs", "--export", "all", "barn.json", "--set", "north barn"]) == 0
    assert main(["jobs", "--export", ident, "one.json"]) == 0
    assert (tmp_path / "one.json").read_bytes() == (tmp_path / "barn.json").read_bytes()
    other = tmp_path / "other"
    assert main(["jobs", "--import", "one.json", "--folder", str(other)]) == 0
    assert events(other / "jobs", ident) == events(home, ident)
    assert main(["jobs", "--import", "all.json", "--folder", str(other)]) == 0
    assert [path.name for path in journal.listed(other / "jobs")] == [path.name for path in journal.listed(home)]
    err = capsys.readouterr().err
    assert f"Job {ident} is here already, as {ident}; nothing to do." in err
    before = (tmp_path / "one.json").read_bytes()
    assert main(["jobs", "--export", "all", "one.json"]) == 2
    assert (tmp_path / "one.json").read_bytes() == before


def test_a_foreign_file_is_refused(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "x\x1b[31m.json").write_text('{"a": 1}')
    assert main(["jobs", "--import", "x\x1b[31m.json"]) == 2
    err = capsys.readouterr().err
    assert "not a file of jobs" in err
    assert "\x1b" not in err
    assert main(["jobs", "--import", "nowhere.json"]) == 2
    assert "cannot be read" in capsys.readouterr().err
    assert journal.listed(home) == []


# ---- findings entered into a job


@pytest.fixture
def readings(tmp_path: Path) -> str:
    (tmp_path / "readings.csv").write_text(READINGS, encoding="utf-8")
    return "readings.csv"


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_load_test_is_recorded_after_it_was_shown_and_agreed_to(
    home: Path, readings: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    ident = begun(home)
    before = events(home, ident)
    command = ["loadtest", "--readings", readings, "--job", ident]
    capsys.readouterr()
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    assert main(command) == 2
    assert "give --yes" in capsys.readouterr().err
    assert events(home, ident) == before
    monkeypatch.setattr("sys.stdin", Terminal("no\nyes\n"))
    monkeypatch.setattr("sys.stderr", Terminal())
    assert main(command) == 0
    assert events(home, ident) == before
    assert main(command) == 0
    added = events(home, ident)[len(before) :]
    assert ("check", "frequency_full_load", "59.1 Hz") in added
    kept = [event for event in journal.read(home / f"{ident}.jsonl").events if event.kind == "load_reading"]
    assert any(event.id == "as_found" and event.cells["load %"] == "100" for event in kept)
    assert not [text for kind, _, text in added if kind == "note"]


def test_a_load_test_in_a_job_comes_back_in_its_report(
    home: Path, readings: str, capsys: pytest.CaptureFixture[str]
) -> None:
    ident = mended(home)
    capsys.readouterr()
    assert main(["loadtest", "--readings", readings, "--job", ident, "--yes"]) == 2
    assert "give the readings with --as-left" in capsys.readouterr().err
    command = ["loadtest", "--as-left", readings, "--job", ident, "--yes", "--json", "--meter-accuracy", "0.05 Hz"]
    assert main(command) == 0
    out, err = capsys.readouterr()
    direct = json.loads(out)["runs"][0]
    assert "Recorded in job" in err
    assert main(["report", ident, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["load_test"]["noted"] is True
    run = next(run for run in found["load_test"]["runs"] if run["run"] == "as_left")
    for part in ("verdicts", "calls", "measures", "answers"):
        mine, own = json.dumps(run[part], sort_keys=True), json.dumps(direct[part], sort_keys=True)
        assert mine.replace("the job: reading 1", "") == _without_places(own), part
    assert found["notes"] == []
    assert found["fixed"] is True


def _without_places(text: str) -> str:
    for line in range(2, 6):
        text = text.replace(f"readings.csv:{line}", "")
    return text


def test_the_set_is_that_of_the_job(home: Path, readings: str, capsys: pytest.CaptureFixture[str]) -> None:
    ident = begun(home)
    capsys.readouterr()
    assert main(["loadtest", "--readings", readings, "--job", ident, "--set", "rated_kw=5"]) == 2
    assert "the set is that of the job" in capsys.readouterr().err


def test_a_trace_is_recorded_in_a_job(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("scipy")
    rows = "".join(f"{n * 0.5},{61.5 + 0.01 * (n % 3)}\n" for n in range(240))
    (tmp_path / "log.csv").write_text("time s,Hz\n" + rows)
    ident = begun(home)
    before = events(home, ident)
    capsys.readouterr()
    command = ["trace", "log.csv", "--loads", "0", "--job", ident]
    assert main([*command, "--hertz", "50"]) == 2
    assert "the set of the job has 60" in capsys.readouterr().err
    assert main([*command, "--yes", "--plain"]) == 0
    added = events(home, ident)[len(before) :]
    assert ("check", "frequency_no_load", "61.51 Hz") in added
    assert added[0][2].startswith("Trace log.csv: 240 readings")


def test_a_job_that_is_damaged_or_open_elsewhere_is_not_entered_into(
    home: Path, readings: str, capsys: pytest.CaptureFixture[str]
) -> None:
    ident = begun(home)
    path = home / f"{ident}.jsonl"
    command = ["loadtest", "--readings", readings, "--job", ident, "--yes"]
    with journal.Journal.reopen(path)[0]:
        assert main(command) == 2
        assert "open in another terminal" in capsys.readouterr().err
    path.write_bytes(path.read_bytes()[:-10])
    torn = path.read_bytes()
    assert main(command) == 2
    assert "--accept-damage" in capsys.readouterr().err
    assert path.read_bytes() == torn
