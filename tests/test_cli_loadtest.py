"""`hertzwright loadtest` as a technician meets it."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.measuring import load_questions

FOUND = "load;Hz;volts;amps;steady;swing\nno load;63,4;245;0;slow swing;1,4\n1/2;60,9;240;18,4/18,9;steady;0,3\nfull;57,2;231;36/36,4;steady;0,3\n"
LEFT = "load,Hz,volts,amps,steady,swing,recovery\nno load,61.6,241,0,steady,0.1,2.0\n25 %,61.2,241,9.2/9.5,steady,0.1,\nfull,59.9,238,37.0/37.6,steady,0.1,2.5\n"


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    found, left = tmp_path / "found.csv", tmp_path / "left.csv"
    found.write_text(FOUND, encoding="utf-8-sig")
    left.write_text(LEFT, encoding="utf-8")
    return str(found), str(left)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_without_a_terminal_it_says_what_to_give(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    assert main(["loadtest"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "--readings FILE" in err
    assert "--plan" in err


def test_the_status_is_that_of_the_last_run(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    found, left = files
    assert main(["loadtest", "--readings", found]) == 1
    assert main(["loadtest", "--readings", found, "--as-left", left]) == 0
    assert main(["loadtest", "--readings", left, "--as-left", found]) == 1
    capsys.readouterr()


def test_readings_that_contradict_each_other_end_with_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "r.csv"
    path.write_text("load;Hz;rpm\nno load;61.5;1845\nfull;59.8;1500\n")
    assert main(["loadtest", "--readings", str(path)]) == 1
    assert "Question" in capsys.readouterr().out


def test_json_holds_the_numbers_and_the_answers(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    main(["loadtest", "--readings", files[0], "--as-left", files[1], "--json", "--meter-accuracy", "0.1 Hz, V=1%+1"])
    text = capsys.readouterr().out
    given = json.loads(text)
    assert given["version"] == 1
    assert text == json.dumps(given, sort_keys=True, indent=2) + "\n"
    assert [run["run"] for run in given["runs"]] == ["as_found", "as_left"]
    assert given["runs"][0]["measures"]["spread"]["value"] == pytest.approx(6.2)
    assert given["runs"][0]["measures"]["spread"]["guard"] == pytest.approx(2 * (0.1 + 0.05))
    assert given["runs"][0]["calls"]["default"] == "fail"
    assert {"check": "swing_no_load", "answer": "1.4 Hz slow swing"} in given["runs"][0]["answers"]
    assert given["meter_accuracy"]["V"] == {"absolute": 0.0, "percent": 1.0, "digits": 1.0}


def test_forty_columns_without_colour(
    files: tuple[str, str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    monkeypatch.setenv("NO_COLOR", "1")
    main(["loadtest", "--readings", files[0], "--as-left", files[1], "--plan"])
    out = capsys.readouterr().out
    assert max(len(line) for line in out.splitlines()) <= 40
    assert "\x1b" not in out


def test_marks_differ_without_colour_and_the_allowed_fall_is_shaded(
    files: tuple[str, str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "72")
    main(["loadtest", "--readings", files[0], "--as-left", files[1]])
    rows = re.findall(r"^ *(\d\d\.\d\d) \|(.*)$", capsys.readouterr().out, re.MULTILINE)
    drawn = {(float(hertz), mark) for hertz, row in rows for mark in row if mark in "oX*"}
    assert sum(mark == "o" for _, mark in drawn) == 3
    assert sum(mark == "X" for _, mark in drawn) == 3
    step = float(rows[0][0]) - float(rows[1][0])
    shaded = [float(hertz) for hertz, row in rows if row.count("\u2591") > 40]
    assert max(shaded) == pytest.approx(61.6, abs=step)
    assert min(shaded) == pytest.approx(58.6, abs=step)
    for hertz, row in rows:  # the full load as found stands at its own frequency, at the right edge
        if "o" in row and row.index("o") > 40:
            assert float(hertz) == pytest.approx(57.2, abs=step)


def test_plain_is_one_fact_a_line_without_drawing(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    main(["loadtest", "--readings", files[0], "--plain"])
    out = capsys.readouterr().out
    assert "\u2591" not in out
    assert " |" not in out
    assert "\n\n" not in out
    assert "default, at most 3 Hz: FAIL, 3.2 Hz beyond" in out


def test_the_plan_names_the_rule_and_how_far_the_rules_differ(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["loadtest", "--plan", "--plain", "--set", "altitude=5000", "--set", "rated_kw=10"]) == 0
    out = capsys.readouterr().out
    assert "SAE J1349" in out
    assert "The rules differ" in out
    assert main(["loadtest", "--plan", "--plain", "--set", "rated_kw=10", "--set", "altitude=5500 ft",
                 "--derating", "three_percent"]) == 0  # fmt: skip
    assert "full load: 8.50 kW, 35.4 A per hot leg" in capsys.readouterr().out


def test_three_phases_and_connected_loads(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["--set", "phases=3", "--set", "volts=208", "--set", "rated_kw=15", "--derating", "none"]
    assert (
        main(["loadtest", "--plan", "--plain", *arguments, "--power-factor", "0.8", "--connected", "resistive 3 kW"])
        == 0
    )
    out = capsys.readouterr().out
    assert "full load: 15.00 kW, 52.0 A per hot leg" in out
    assert "Connected loads: 3 kW" in out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--set", "rated_kw"], "expected KEY=VALUE"),
        (["--set", "rated_kv=9"], "did you mean"),
        (["--tolerance", "g4"], "known are default, g1"),
        (["--derating", "sea"], "no derating rule"),
        (["--overload"], "--overload-allowed"),
        (["--overload", "80", "--overload-allowed"], "from 1 to 50"),
        (["--meter-accuracy", "good"], "not understood"),
        (["--power-factor", "2"], "from 0.1 to 1"),
        (["--barometer", "30 psi"], "station pressure"),
        (["--connected", "welder 5 kVA"], "needs its power factor"),
        (["--connected", "resistive 1 kW leg 3"], "this set has 2"),
        (["--readings", "no such file.csv"], "cannot be read"),
    ],
)
def test_wrong_use_is_told_and_ends_with_two(
    arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["loadtest", "--plan", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert told in err
    assert "Traceback" not in err


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", b"\x00\x01\x02", b"\x80abc", b"", b"- a\n- b\n"])
def test_files_that_are_no_readings_end_with_two(
    data: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for suffix in (".csv", ".yaml"):
        path = tmp_path / f"r{suffix}"
        path.write_bytes(data)
        assert main(["loadtest", "--readings", str(path)]) == 2
        assert "Traceback" not in capsys.readouterr().err


def test_yaml_readings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "r.yaml"
    path.write_text("readings:\n  - {load: no load, hz: 61.5}\n  - {load: full, hz: 59.5, amps: [37, 37]}\n")
    assert main(["loadtest", "--readings", str(path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["runs"][0]["measures"]["spread"]["value"] == pytest.approx(2.0)


def typed(monkeypatch: pytest.MonkeyPatch, lines: list[str]) -> None:
    monkeypatch.setattr("sys.stdin", Terminal("\n".join(lines) + "\n"))
    monkeypatch.setattr("sys.stderr", Terminal())


def test_readings_typed_at_the_prompt(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    typed(
        monkeypatch, ["yes", "61.9 Hz", "back", "61.5 Hz 241 V", "60.O", "", "full 59.5 Hz", "as left", "61.4", "done"]
    )
    assert main(["loadtest", "--json"]) == 0
    found, left = json.loads(capsys.readouterr().out)["runs"]
    assert [(point["step"], point["hertz"]) for point in found["points"]] == [("no_load", 61.5), ("full_load", 59.5)]
    assert [(point["step"], point["hertz"]) for point in left["points"]] == [("no_load", 61.4)]


def test_cautions_come_first_and_must_be_acknowledged(monkeypatch: pytest.MonkeyPatch) -> None:
    typed(monkeypatch, ["no"])
    talk = Terminal()
    monkeypatch.setattr("sys.stderr", talk)
    assert main(["loadtest"]) == 2
    said = " ".join(talk.getvalue().split())
    for words in ("carbon monoxide", "backfeed", "electric shock", "overspeed", "Local codes and licensed practice"):
        assert words.lower() in said.lower()
    assert "no load test was begun" in said


def test_an_overload_is_left_out_where_full_load_failed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, ["yes", "63.5", "", "", "", "", "57.0", "done"])
    talk = Terminal()
    monkeypatch.setattr("sys.stderr", talk)
    assert main(["loadtest", "--json", "--overload", "--overload-allowed"]) == 1
    assert "overload is left out" in " ".join(talk.getvalue().split())
    capsys.readouterr()


def test_an_interrupt_shows_what_was_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter(["yes", "61.5 Hz"])

    def type_one(prompt: str) -> str:
        try:
            return next(answers)
        except StopIteration:
            raise KeyboardInterrupt from None

    typed(monkeypatch, [])
    talk = Terminal()
    monkeypatch.setattr("sys.stderr", talk)
    monkeypatch.setattr(load_questions, "_typed", type_one)
    assert main(["loadtest"]) == 130
    assert "as found: 61.5 Hz" in talk.getvalue()
