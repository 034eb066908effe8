"""The commands as typed: exit status, messages, JSON, and no prompt where there is no terminal."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from hertzwright.cli import app
from hertzwright.cli.app import main
from hertzwright.cli.files import facts, journal
from hertzwright.cli.workshop import cases, check
from hertzwright.engine import load_knowledge
from hertzwright.engine.problems.problem import Problem

FACTS = """\
set: {rated_kw: 9, booster: none}
facts:
  - {complaint: floats_high_no_load, answer: present}
  - {check: frequency_no_load, answer: 64.1 Hz}
  - {check: wide_open_stop_gap, answer: 0.000 in}
"""


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"")))


def facts_file(folder: Path, text: str = FACTS, name: str = "facts.yaml") -> str:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_alone_it_prints_a_short_help_with_start_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    out = capsys.readouterr().out
    assert out.index("start") < out.index("resume") < out.index("rank")
    assert len(out.splitlines()) < 25
    assert max(len(line) for line in out.splitlines()) <= 70


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("hertzwright 0.")


@pytest.mark.parametrize(
    ("words", "status", "told"),
    [
        (["ranc"], 2, 'no command "ranc"; did you mean rank?'),
        (["\x1b[2J"], 2, "\\x1b[2J"),
        (["rank"], 2, "the following arguments are required: FILE"),
        (["rank", "none.yaml"], 2, "none.yaml:1: cannot be read: No such file or directory"),
        (["rank", "--bogus", "x"], 2, "--bogus"),
        (["resume"], 2, "holds no jobs; begin one with: hertzwright start"),
        (["resume", "../x"], 2, 'no job "../x"'),
        (
            ["start"],
            2,
            "no terminal to ask at; give --name NAME --acknowledge and --complaint ID, --from FILE or --set-in-order",
        ),
        (["start", "--acknowledge", "--complaint", "hunts_no_lod"], 2, 'did you mean "hunts_no_load"?'),
        (["start", "--acknowledge", "--complaint", "hunts_no_load", "--set", "booster"], 2, "expected KEY=VALUE"),
        (
            ["start", "--acknowledge", "--complaint", "hunts_no_load", "--set", "boster=none"],
            2,
            'did you mean "booster"?',
        ),
        (["start", "--acknowledge", "--complaint", "hunts_no_load", "--set", "poles=5"], 2, '"5" is none of 2, 4 or 6'),
        (["start", "--acknowledge", "--complaint", "hunts_no_load", "--tolerance", "g4"], 2, "known are default, g1"),
        (["knowledge", "show", "throttle_rod_lon"], 2, 'did you mean "throttle_rod_long"?'),
        (["knowledge", "check", "--knowledge", "/none/there"], 2, "/none/there: no such folder"),
        (["knowledge", "explain", "K9"], 2, 'no code "K9"'),
        (["knowledge", "cases", "no_such_case"], 2, 'no case "no_such_case"'),
        (["knowledge", "shw"], 2, "did you mean show?"),
    ],
)
def test_wrong_use_says_what_and_ends_with_its_status(
    words: list[str], status: int, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == status
    out, err = capsys.readouterr()
    assert told in err
    assert out == ""
    assert "Traceback" not in err


def test_interrupted_is_130(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def interrupted(words: list[str]) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(app, "_run", interrupted)
    assert main(["start"]) == 130
    assert "kept" in capsys.readouterr().err


def test_a_reader_that_goes_away_is_no_trouble(tmp_path: Path) -> None:
    command = f'"{sys.executable}" -m hertzwright knowledge show throttle_rod_long | head -n 1'
    done = subprocess.run(["bash", "-c", f"set -o pipefail; {command}"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    assert "BrokenPipe" not in done.stderr


def test_a_command_is_imported_only_when_it_is_given() -> None:
    code = (
        "import sys; from hertzwright.cli.app import main; main([]); main(['--version']);"
        "print([name for name in ('yaml', 'rich', 'prompt_toolkit', 'networkx', 'jsonschema') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


# ---- rank


def test_rank_prints_exactly_the_promised_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rank", facts_file(tmp_path), "--json"]) == 0
    out = capsys.readouterr().out
    found = json.loads(out)
    assert out == json.dumps(found, sort_keys=True, indent=2) + "\n"
    assert found["held"] == []
    assert set(found) == {"version", "held", "causes", "fault_sets", "next", "cautions", "set_aside"}
    assert found["version"] == 1
    base = load_knowledge()
    job = facts.job_of(base, facts.read_facts(str(tmp_path / "facts.yaml")))
    assert [(each["id"], each["probability"]) for each in found["causes"]] == job.ranking()
    first = found["causes"][0]
    assert set(first) == {"id", "title", "probability", "for", "against"}
    assert first["id"] == "throttle_rod_long"
    strongest = [weighed["facts"] for weighed in first["for"]][:2]
    assert sorted(strongest) == [["frequency_no_load = 64.1 Hz"], ["wide_open_stop_gap = 0 in"]]
    ratios = [weighed["ratio"] for weighed in first["for"]]
    assert ratios == sorted(ratios, reverse=True)
    for each in found["causes"]:
        assert all(weighed["ratio"] > 1 for weighed in each["for"])
        assert all(weighed["ratio"] < 1 for weighed in each["against"])
    assert sum(each["probability"] for each in found["fault_sets"]) <= 1.0
    for step in found["next"]:
        assert set(step) == {"kind", "id", "minutes", "expected_minutes", "why", "put_back"}
    assert set(found["cautions"]) <= set(base.catalogue.cautions)
    assert found["cautions"]


def test_rank_takes_json_standard_input_and_the_same_bytes_come_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    given = json.dumps({
        "set": {"rated_kw": 9, "booster": "none"},
        "facts": [
            {"complaint": "floats_high_no_load", "answer": "present"},
            {"check": "frequency_no_load", "answer": "64.1 Hz"},
            {"check": "wide_open_stop_gap", "answer": "0.000 in"},
        ],
    })  # fmt: skip
    main(["rank", facts_file(tmp_path), "--json"])
    first = capsys.readouterr().out
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(given.encode())))
    assert main(["rank", "-", "--json"]) == 0
    assert capsys.readouterr().out == first


def test_rank_prints_a_table_and_fits_40_columns(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert main(["rank", facts_file(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "Governor-to-throttle rod too long" in out
    assert max(len(line) for line in out.splitlines()) <= 40
    assert main(["rank", facts_file(tmp_path), "--plain"]) == 0
    plain = capsys.readouterr().out
    assert plain.isascii()
    assert "\x1b" not in plain


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("facts:\n  - {check: frequency_no_load, answer: 6l.5}\n", ':2: "6l.5'),
        ("facts:\n  - {check: frequency_no_lod, answer: high}\n", ':2: no check "frequency_no_lod"; did you mean'),
        ("facts:\n  - {check: hunts_no_load, answer: high}\n", ':2: no check "hunts_no_load"; it is a complaint'),
        ("facts:\n  - {complaint: hunts_no_load, answer: maybe}\n", ':2: "maybe" is no answer to a complaint'),
        ("facts:\n  - {remedy: set_rod_length, result: done}\n", ':2: "done" is no result'),
        ("facts:\n  - {check: frequency_no_load}\n", ":2: this check has no answer"),
        ("facts:\n  - {check: frequency_no_load, answer: [1]}\n", ":2: expected one value"),
        (
            "facts:\n  - {check: a, remedy: b, answer: c}\n",
            ":2: expected exactly one of complaint, check, remedy and before",
        ),
        ("facts:\n  - x\n", ":2: expected a fact"),
        ("facts: x\n", ":1: `facts` is a list"),
        ("fact: []\n", ':1: unknown key "fact"; did you mean "facts"?'),
        ("set: {booster: steam}\n", ':1: booster: "steam" is none of none or vacuum'),
        ("set:\n  boster: none\n", ':2: "boster" is no feature'),
        ("set: x\n", ":1: `set` holds features"),
        ("- x\n", ":1: expected a mapping"),
        ("set: {\n", ": "),
        ("set: &a {}\n", ":1: the anchor &a"),
        (
            "set: {booster: none}\nfacts:\n  - {check: booster_vacuum_hold, answer: holds}\n",
            ":3: booster_vacuum_hold: this set has no",
        ),
        ("", ":1: the file holds nothing"),
    ],
)
def test_wrong_facts_name_the_line(text: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rank", facts_file(tmp_path, text), "--json"]) == 2
    out, err = capsys.readouterr()
    assert told in err
    assert err.startswith(f"hertzwright: {tmp_path / 'facts.yaml'}:")
    assert out == ""


# ---- a job without a terminal


def test_a_job_can_be_worked_without_a_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["start", "--name", "pump house", "--acknowledge", "--from", facts_file(tmp_path), "--plain"]) == 0
    started = capsys.readouterr().out
    assert "Governor-to-throttle rod too long" in started
    assert main(["jobs", "--json"]) == 0
    (job,) = json.loads(capsys.readouterr().out)["jobs"]
    assert (job["set"], job["answers"], job["remedies"], job["state"]) == ("pump house", 3, 0, "open")
    assert main(["resume", job["id"], "--record", "linkage_feel=free", "--carry-out", "set_rod_length=unknown"]) == 0
    assert main(["resume", job["id"], "--record", "linkage_feel=purple"]) == 2
    assert "purple" in capsys.readouterr().err
    assert main(["resume", "--take-back"]) == 0
    path = journal.find(job["id"], tmp_path / "home" / "jobs")
    assert [event.kind for event in journal.read(path).events][-3:] == ["check", "remedy", "step_back"]
    assert main(["jobs"]) == 0


def test_wrong_facts_leave_no_job_behind(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = facts_file(tmp_path, "facts:\n  - {check: frequency_no_load, answer: 600 Hz}\n")
    assert main(["start", "--name", "x", "--acknowledge", "--from", bad]) == 2
    assert "facts.yaml:2:" in capsys.readouterr().err
    assert journal.listed(tmp_path / "home" / "jobs") == []


def test_a_job_of_other_knowledge_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from hertzwright.engine import Job

    base = load_knowledge()
    with journal.Journal.create(tmp_path / "home" / "jobs", "0" * 64, "x") as file:
        job = Job(base)
        job.record("hunts_no_load", "present")
        file.sync(job.events)
    assert main(["resume", file.ident, "--show"]) == 0
    assert "made with other knowledge (00000000)" in capsys.readouterr().err


def test_a_job_damaged_in_the_middle_offers_the_readable_part(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["start", "--name", "x", "--acknowledge", "--from", facts_file(tmp_path)])
    (path,) = journal.listed(tmp_path / "home" / "jobs")
    lines = path.read_bytes().split(b"\n")
    lines[4] = lines[4].replace(b"64.1", b"46.1")
    path.write_bytes(b"\n".join(lines))
    capsys.readouterr()
    assert main(["resume", path.stem, "--note", "still here"]) == 2
    err = capsys.readouterr().err
    assert f"{path.name}:5: the line is damaged" in err
    assert "--accept-damage" in err
    assert path.read_bytes() == b"\n".join(lines)
    assert main(["resume", path.stem, "--note", "still here", "--accept-damage"]) == 0
    assert [event.kind for event in journal.read(path).events] == ["set", "acknowledged", "complaint", "note"]


# ---- knowledge


def test_the_shipped_knowledge_has_no_error(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "check", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert set(found) == {"version", "errors", "folder", "warnings", "problems", "other_problems"}
    assert found["errors"] == 0


def test_problems_of_a_checkout_are_shown_and_end_with_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "words.yaml").write_text("words:\n\tx: 1\n")
    assert main(["knowledge", "check", "--knowledge", str(tmp_path)]) == 1
    out = capsys.readouterr().out
    assert "words.yaml:2:1: error K004" in out
    assert "^" in out
    assert main(["knowledge", "check", "--knowledge", str(tmp_path), "--github"]) == 1
    assert f"::error file={tmp_path}/words.yaml,line=2,col=1,title=K004::" in capsys.readouterr().out


def test_annotations_are_escaped() -> None:
    problem = Problem("K001", "error", "a,b:c.yaml", 1, 2, "50 % of\nit")
    assert check.annotation(problem, "") == "::error file=a%2Cb%3Ac.yaml,line=1,col=2,title=K001::50 %25 of%0Ait"


@pytest.mark.parametrize("name", ["throttle_rod_long", "frequency_no_load", "set_rod_length", "hunts_no_load"])
def test_show_prints_one_page_of_every_kind(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert main(["knowledge", "show", name]) == 0
    out = capsys.readouterr().out
    assert name in out
    assert "Sources: " in out
    assert max(len(line) for line in out.splitlines()) <= 40
    assert main(["knowledge", "show", name, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["id"] == name


def test_a_case_that_fails_is_told_with_why() -> None:
    from dataclasses import replace

    base = load_knowledge()
    case = next(iter(base.cases.values()))
    assert not cases.judge(base, case).faults
    wrong = cases.judge(base, replace(case, leading=("meter_wrong",), within_first=1, at_least=0.9))
    assert "meter_wrong: place" in wrong.faults[0]
    assert "expected within the first 1; ahead:" in wrong.faults[0]
    assert "expected at least 0.9" in wrong.faults[1]
