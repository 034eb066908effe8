"""Every command that reads or proposes, with dangerous readings: it says so first, and proposes nothing that runs.

The readings: 66.1 Hz, just above the overspeed trip centred at 66 Hz (TM 9-6115-643-24); 2600 rpm on four poles, 86.7 Hz
(f = poles * rpm / 120, TM 5-6115-584-34, para 7-1); 300 V on a set of 240 V.
"""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.files import job_file, journal
from hertzwright.engine import Event, Job, Knowledge, load_knowledge

STOP = "STOP: the set must not run."
DANGEROUS = [
    ("frequency_no_load", "66.1 Hz"),
    ("frequency_no_load", "75 Hz?"),
    ("frequency_no_load", "2600 rpm"),
    ("frequency_full_load", "75 Hz"),
    ("load_drop_overshoot", "29 Hz"),
    ("voltage_no_load", "300 V"),
    ("overspeeds", "present"),
    ("overspeeds", "unsure"),
]
Captured = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    return tmp_path / "home" / "jobs"


def a_job(knowledge: Knowledge, folder: Path, *events: Event, version: int = 2) -> str:
    job = Job.replay(knowledge, [Event("set", features={}, tolerance="default"), *events])
    with journal.Journal.create(folder, knowledge.fingerprint, "barn") as file:
        file.sync(job.events)
        path = file.path
    if version != 2:
        lines = path.read_bytes().splitlines()
        head = {key: value for key, value in json.loads(lines[0]).items() if key != "sum"}
        path.write_bytes(job_file.sealed({**head, "format": version}) + b"\n".join(lines[1:]) + b"\n")
    return path.stem


def danger(name: str, answer: str) -> Event:
    return Event("complaint" if name == "overspeeds" else "check", name, answer)


def said(capsys: Captured, words: list[str], *, status: int | None = 0) -> str:
    capsys.readouterr()
    found = main(words)
    out, err = capsys.readouterr()
    assert status is None or found == status, (words, found, out, err)
    return out


def runs(knowledge: Knowledge, title: str) -> bool:
    job = Job(knowledge)
    steps = [*knowledge.checks.values(), *knowledge.remedies.values()]
    return any(step.title == title and job.runs(step.state) for step in steps) or title.startswith("Prove it")


# In the quick tier a speed; that a complaint and a voltage hold the job stands in `test_danger` and `test_a_load_test` too.
@pytest.mark.parametrize(
    ("name", "answer"),
    [pytest.param(*each, marks=[] if place == 0 else pytest.mark.nightly) for place, each in enumerate(DANGEROUS)],
)
def test_every_command_on_a_job_says_it_first(
    name: str, answer: str, knowledge: Knowledge, home: Path, capsys: Captured, tmp_path: Path
) -> None:
    kind = "complaint" if name == "overspeeds" else "check"
    ident = a_job(knowledge, home, Event("complaint", "floats_high_no_load", "present"))
    place: list[str] = []
    # What brings the danger in says it first, and what looks afterwards does too.
    assert said(capsys, ["resume", ident, *place, "--record", f"{name}={answer}"]).startswith(STOP)
    for words in (["--show"], ["--note", "a remark"], ["--carry-out", "set_rod_length=unknown"]):
        out = said(capsys, ["resume", ident, *place, *words])
        assert out.startswith(STOP)
        title = " ".join(out.split())[" ".join(out.split()).index("Next: ") + 6 :].partition(".")[0]
        assert not runs(knowledge, title)
    for words in (
        ["--record", "frequency_full_load=60 Hz"],
        ["--carry-out", "set_no_load_speed=unknown"],
        ["--carry-out", "set_rod_length=cured"],
    ):
        before = (home / f"{ident}.jsonl").read_bytes()
        capsys.readouterr()
        assert main(["resume", ident, *place, *words]) == 2
        err = capsys.readouterr().err
        assert "not while the job is held" in err
        assert f"resume {ident} --secured NAME" in err
        assert (home / f"{ident}.jsonl").read_bytes() == before
    assert "STOP" in said(capsys, ["jobs", *place]).splitlines()[0]
    assert json.loads(said(capsys, ["jobs", "--json", *place]))["jobs"][0]["held"]
    assert said(capsys, ["jobs", "--set", "barn", *place]).startswith(STOP)
    report = json.loads(said(capsys, ["report", ident, "--json", *place]))
    assert report["held"]
    assert report["outcome"].startswith("Stopped")
    assert not any(runs(knowledge, advice["title"]) for advice in report["recommended"])
    assert said(capsys, ["report", ident, *place]).startswith(STOP)
    for option in ("--html", "--markdown"):
        out = said(capsys, ["report", ident, option, "-", *place])
        assert "Stopped" in out[: out.index("omplaint")]
    facts = tmp_path / "facts.json"
    given = [{"complaint": "floats_high_no_load", "answer": "present"}, {kind: name, "answer": answer}]
    more = {"check": "frequency_no_load", "answer": "61.5 Hz"}  # a lower reading lifts nothing
    facts.write_text(json.dumps({"facts": [*given, more]}))
    assert said(capsys, ["rank", str(facts)]).startswith(STOP)
    found = json.loads(said(capsys, ["rank", str(facts), "--json"]))
    assert found["held"]
    steps = {**knowledge.checks, **knowledge.remedies}
    assert not any(step["kind"] == "done" or Job(knowledge).runs(steps[step["id"]].state)
                   for step in found["next"] if step["kind"] != "refer")  # fmt: skip
    out = said(capsys, ["start", "--name", "x", "--acknowledge", "--from", str(facts), *place])
    assert out.startswith(STOP)
    # Only who secured it ends it.
    assert not said(capsys, ["resume", ident, *place, "--secured", "Kim"]).startswith("STOP")
    said(capsys, ["resume", ident, *place, "--record", "frequency_full_load=60 Hz", "--put-back", "all"])
    acknowledged = json.loads(said(capsys, ["report", ident, "--json", *place]))["acknowledged"]
    assert acknowledged[-1]["text"].endswith("Kim says.")
    facts.write_text(json.dumps({"facts": [*given, {"secured": "Kim"}, more]}))
    found = json.loads(said(capsys, ["rank", str(facts), "--json"]))
    assert found["held"] == []


@pytest.mark.parametrize(
    "row",
    ["100 %,75,,,", "0,61.5,,89,", "0,61.5,300,,", "0,61.5,,,330"],
    ids=["speed", "peak", "voltage", "voltage peak"],
)
def test_a_load_test(row: str, knowledge: Knowledge, home: Path, capsys: Captured, tmp_path: Path) -> None:
    file = tmp_path / "readings.csv"
    file.write_text(f"load,hz,volts,highest hz,highest volts\n{row}\n")
    assert said(capsys, ["loadtest", "--readings", str(file), "--plain"], status=1).startswith(STOP)
    assert json.loads(said(capsys, ["loadtest", "--readings", str(file), "--json"], status=1))["held"]
    ident = a_job(knowledge, home)
    place: list[str] = []
    command = ["loadtest", "--readings", str(file), "--job", ident, "--yes", *place]
    assert said(capsys, command, status=1).startswith(STOP)
    kinds = [event.kind for event in journal.read(home / f"{ident}.jsonl").events]
    assert "load_reading" in kinds, "it is taken whole, and held afterwards"
    assert said(capsys, ["resume", ident, "--show", *place]).startswith(STOP)
    capsys.readouterr()
    assert main(command) == 2
    assert "is held" in capsys.readouterr().err


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_the_talking_load_test_stops_at_once(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    monkeypatch.setattr("sys.stdin", Terminal("yes\n75 Hz 300 V\n60 Hz\n60 Hz\n"))
    err = Terminal()
    monkeypatch.setattr("sys.stderr", err)
    assert main(["loadtest", "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert {hold["limit"] for hold in found["held"]} == {"overspeed", "overvoltage"}
    assert len(found["runs"][0]["points"]) == 1
    assert STOP in err.getvalue()
    assert "light load (" not in err.getvalue().partition(STOP)[2]


def test_a_recording(knowledge: Knowledge, home: Path, capsys: Captured, tmp_path: Path) -> None:
    pytest.importorskip("scipy")
    rows = [f"{second / 2:.1f},{61.5 if second < 40 or second > 44 else 89.0}" for second in range(100)]
    steady, peak = tmp_path / "steady.csv", tmp_path / "peak.csv"
    peak.write_text("time,hz\n" + "\n".join(rows) + "\n")
    steady.write_text("time,hz\n" + "\n".join(f"{second / 2:.1f},75.0" for second in range(100)) + "\n")
    ident = a_job(knowledge, home)
    place: list[str] = []
    for file in (steady, peak):
        assert said(capsys, ["trace", str(file), "--plot", "none"]).startswith(STOP)
        assert json.loads(said(capsys, ["trace", str(file), "--json"]))["held"]
    assert said(capsys, ["trace", str(peak), "--plot", "none", "--job", ident, "--yes", *place]).startswith(STOP)
    assert said(capsys, ["resume", ident, "--show", *place]).startswith(STOP)
    sound = tmp_path / "sound.csv"
    sound.write_text("time,hz\n" + "\n".join(f"{second / 2:.1f},61.5" for second in range(100)) + "\n")
    assert json.loads(said(capsys, ["trace", str(sound), "--json"]))["held"] == []


def test_trials(capsys: Captured, tmp_path: Path) -> None:
    file = tmp_path / "trials.csv"
    file.write_text(
        "speed,sensitivity,no_load,full_load,hunting\n0,0,64,60,steady\n1,0,67,61,steady\n0,0,62,59,steady\n"
    )
    assert said(capsys, ["trim", "--trials", str(file), "--plain"], status=1).startswith(STOP)
    found = json.loads(said(capsys, ["trim", "--trials", str(file), "--json", "--tolerance", "g1"], status=1))
    assert found["held"], "whatever the tolerance set, and though a later trial reads lower"
    assert found["advice"]["kind"] == "stop"
    facts = tmp_path / "facts.yaml"
    said(capsys, ["trim", "--trials", str(file), "--facts", str(facts)], status=1)
    assert said(capsys, ["rank", str(facts)]).startswith(STOP)
    found = json.loads(said(capsys, ["trim", "--trials", str(file), "--json", "--secured", "Kim"], status=None))
    assert found["held"] == []


def test_a_chart_says_it_of_the_complaint(capsys: Captured) -> None:
    words = ["chart", "overspeeds", "--depth", "1"]
    assert "STOP" in said(capsys, words)
    assert json.loads(said(capsys, [*words, "--json"]))["held"]
    assert json.loads(said(capsys, ["chart", "hunts_no_load", "--depth", "1", "--json"]))["held"] == []


# ---- typed text is never data


def test_notes_close_secure_and_acknowledge_nothing(knowledge: Knowledge, home: Path, capsys: Captured) -> None:
    ident = a_job(knowledge, home)
    place: list[str] = []
    for text in (
        "Closed: fixed and proven.", "Acknowledged: nothing", "Load test as found: load %=100; hz=75",
        "Meter accuracy: 50 Hz", "Load test full load: 1 kW by none, power factor 1",
    ):  # fmt: skip
        said(capsys, ["resume", ident, *place, "--note", text])
    (job,) = json.loads(said(capsys, ["jobs", "--json", *place]))["jobs"]
    assert (job["state"], job["held"]) == ("open", [])
    report = json.loads(said(capsys, ["report", ident, "--json", *place]))
    assert (report["state"], report["acknowledged"], report["accuracy"]) == ("open", [], [])
    assert len(report["notes"]) == 5


OLD = (
    Event("note", answer="Acknowledged: the cautions of the job; local codes and licensed practice come first."),
    Event("check", "frequency_no_load", "75 Hz"),
    Event("note", answer="Shut down, and the throttle proven to close with the engine stopped."),
    Event("note", answer="Load test full load: 8.5 kW by sae_j1349, power factor 1"),
    Event("note", answer="Meter accuracy: 0.1 Hz"),
    Event("note", answer="Load test as found: load %=0; hz=61.5; note=a, b"),
    Event("note", answer="Owner: somebody"),
    Event("note", answer="Closed: left open."),
)


def test_an_old_file_is_read_as_what_it_meant_and_what_is_typed_into_it_today_is_not(
    knowledge: Knowledge, home: Path, capsys: Captured
) -> None:
    ident = a_job(knowledge, home, *OLD, version=1)
    place: list[str] = []
    path = home / f"{ident}.jsonl"
    before = path.read_bytes()
    kinds = [event.kind for event in journal.read(path).events]
    assert kinds == [
        "set", "acknowledged", "check", "secured", "load_reading", "load_reading", "load_reading", "note", "closed",
    ]  # fmt: skip
    report = json.loads(said(capsys, ["report", ident, "--json", *place]))
    assert (report["held"], report["state"], report["accuracy"]) == ([], "left open", ["0.1 Hz"])
    assert report["load_test"]["noted"]
    assert report["load_test"]["full_load_kw"] == 8.5
    said(capsys, ["resume", ident, *place, "--record", "frequency_no_load=75 Hz"])
    said(capsys, ["resume", ident, *place, "--note", "Closed: fixed and proven."])
    said(capsys, ["resume", ident, *place, "--note", OLD[2].answer])
    assert path.read_bytes().startswith(journal.without_end(before)), "it is only ever added to"
    assert [event.kind for event in journal.read(path).events[-3:]] == ["check", "note", "note"]
    report = json.loads(said(capsys, ["report", ident, "--json", *place]))
    assert report["held"]
    assert report["state"] == "open"
    said(capsys, ["resume", ident, *place, "--secured", "Kim"])
    assert journal.read(path).events[-1] == Event("secured", answer="Kim")


def test_a_file_of_today_has_no_prefixes(knowledge: Knowledge, home: Path) -> None:
    ident = a_job(knowledge, home, *OLD)
    kinds = {event.kind for event in journal.read(home / f"{ident}.jsonl").events}
    assert kinds == {"set", "check", "note"}


def test_features_are_corrected_by_option(knowledge: Knowledge, home: Path, capsys: Captured) -> None:
    ident = a_job(knowledge, home, Event("complaint", "hunts_no_load", "present"))
    place: list[str] = []
    said(capsys, ["resume", ident, *place, "--set", "rated_kw=12", "--set", "booster=none"])
    report = json.loads(said(capsys, ["report", ident, "--json", *place]))
    features = {name: value for name, _, value in report["features"]}
    assert (features["rated_kw"], features["booster"]) == ("12 kW", "none")
    capsys.readouterr()
    assert main(["resume", ident, *place, "--set", "boster=none"]) == 2
    assert 'did you mean "booster"' in capsys.readouterr().err


def test_a_dangerous_reading_taken_back_holds_unless_it_never_was(
    knowledge: Knowledge, home: Path, capsys: Captured
) -> None:
    place: list[str] = []
    for words, held in ((["--take-back"], True), (["--take-back", "--mistake"], False)):
        ident = a_job(knowledge, home, Event("check", "frequency_no_load", "75 Hz"))
        assert said(capsys, ["resume", ident, *place, *words]).startswith("STOP") is held
        report = json.loads(said(capsys, ["report", ident, "--json", *place]))
        assert [item["text"] for item in report["taken_back"]] == ["Frequency with no load: 75 Hz"]
    capsys.readouterr()
    assert main(["resume", ident, *place, "--note", "x", "--mistake"]) == 2
