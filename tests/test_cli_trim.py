"""`hertzwright trim` from the command line."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.measuring import trial_text, trim_view
from hertzwright.engine import load_knowledge
from hertzwright.engine.problems.problem import AnswerError

GOOD = "speed,sensitivity,no_load,full_load,hunting\n0,0,63.8,60.0,steady\n"
STUCK = "speed,no_load,full_load,hunting\n0,63.8,61.0,steady\n2 out,63.8,61.0,steady\n"


class Piped(io.TextIOWrapper):
    def isatty(self) -> bool:
        return False


@pytest.fixture
def trials(tmp_path: Path) -> Path:
    path = tmp_path / "trials.csv"
    path.write_text(GOOD, encoding="utf-8")
    return path


def stuck(tmp_path: Path) -> Path:
    path = tmp_path / "stuck.csv"
    path.write_text(STUCK, encoding="utf-8")
    return path


def test_it_says_what_to_turn(trials: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trim", "--trials", str(trials)]) == 0
    said = capsys.readouterr().out
    for words in (
        "Speed adjuster:",
        "Sensitivity adjuster:",
        "toward sharp",
        "Expect: no load",
        "±",
        "overspeed",
    ):
        assert words in said


@pytest.mark.parametrize("plain", [(), ("--plain",)])
def test_forty_columns_hold_it(
    trials: Path, plain: tuple[str, ...], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert main(["trim", "--trials", str(trials), *plain]) == 0
    said = capsys.readouterr().out
    assert max(len(line) for line in said.splitlines()) <= 40
    assert "\x1b" not in said


def test_json_has_a_version_and_sorted_keys(trials: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trim", "--trials", str(trials), "--json"]) == 0
    said = capsys.readouterr().out
    found = json.loads(said)
    assert found["version"] == 1
    assert json.dumps(found, sort_keys=True, indent=2) + "\n" == said
    assert found["advice"]["kind"] == "turn"
    assert found["advice"]["step"]["sensitivity"] > 0
    assert found["limits"]["no_load"] == {"low": 60.5, "high": 62.5, "target": 61.5}


def test_the_same_trials_in_yaml_json_and_by_pipe(
    tmp_path: Path, trials: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    main(["trim", "--trials", str(trials), "--json"])
    wanted = capsys.readouterr().out
    yaml, made = tmp_path / "t.yaml", tmp_path / "t.json"
    yaml.write_text("trials:\n  - {no_load: 63.8 Hz, full_load: 60.0, hunting: steady}\n", encoding="utf-8")
    made.write_text('[{"no_load": "63.8", "full_load": "60", "hunting": "no"}]', encoding="utf-8")
    for path in (yaml, made):
        assert main(["trim", "--trials", str(path), "--json"]) == 0
        assert capsys.readouterr().out == wanted
    monkeypatch.setattr(sys, "stdin", Piped(io.BytesIO(GOOD.encode())))
    assert main(["trim", "--json"]) == 0
    assert capsys.readouterr().out == wanted


def test_what_adjusting_cannot_mend_goes_on_as_facts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, facts = stuck(tmp_path), tmp_path / "facts.yaml"
    assert main(["trim", "--trials", str(path), "--facts", str(facts)]) == 1
    said = capsys.readouterr()
    assert "no response" in said.out
    assert "hertzwright start --from" in said.err
    assert main(["rank", str(facts), "--json"]) == 0
    ranked = json.loads(capsys.readouterr().out)
    assert ranked["causes"][0]["probability"] > 0.1
    assert main(["trim", "--trials", str(path), "--facts", "-"]) == 1
    assert "{check: speed_adjuster_trial, answer: " in capsys.readouterr().out


def test_overspeed_stops_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "fast.csv"
    path.write_text("no_load,full_load,hunting\n67.2,61,steady\n", encoding="utf-8")
    assert main(["trim", "--trials", str(path)]) == 1
    assert "STOP: overspeed" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("speed,no_load\n1/x,61\n", '"1/x" for the speed adjuster; the ways are in and out'),
        ("speed,no_load\nhalf,61\n", '"half" for the speed adjuster; expected turns such as 1/4 in'),
        ("speed,no_load\n1 sideways,61\n", "the ways are in and out"),
        ("speed,no_load\n0,6l\n", '"6l" for no load; expected Hz, such as 61.5'),
        ("speed,no_load\n0,610\n", '"610" for no load; expected 20 to 150 Hz'),
        ("speed,no_load,hunting\n0,61,perhaps\n", "expected steady, hunting, or the swing"),
        ("speeed,no_load\n0,61\n", 'unknown name "speeed"; did you mean "speed"?'),
        ("speed,no_load\n0,61,5,7\n", "4 fields; expected 2"),
        ("a,b\n1,2\n", "expected a first line of names"),
        ("speed,no_load\n", "no trial under them"),
        ("speed,no_load\n99,61\n", "trial 1: speed at 99 turns; expected -28 to 28"),
        ("trials: 5\n", "expected a list of trials"),
        ("- {no_load: 61, x: [1]}\n", "expected a trial"),
        ("no_load,minutes\n61,-5\n", "expected 0 to 1440"),
        ("\x00\x01", "expected a first line of names"),
    ],
)
def test_bad_input_is_shown_with_what_was_expected(
    tmp_path: Path, text: str, message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bad"
    path.write_text(text, encoding="utf-8")
    assert main(["trim", "--trials", str(path)]) == 2
    said = capsys.readouterr()
    assert message in said.err
    assert said.out == ""
    assert "Traceback" not in said.err


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--close", "9"], '--close "9"; expected 0.1 to 5 Hz'),
        (["--target-no-load", "fast"], "expected Hz"),
        (["--pair", "choke"], 'no pair "choke"'),
        (["--pair", "booster", "--set", "booster=none"], "this set has none"),
        (["--tolerance", "defualt"], 'did you mean "default"?'),
        (["--set", "booster"], "expected KEY=VALUE"),
        (["--trials", "/nowhere/at/all"], "cannot be read"),
    ],
)
def test_wrong_options_are_refused(
    trials: Path, options: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    given = options if "--trials" in options else ["--trials", str(trials), *options]
    if "booster" in options:
        trials.write_text("booster,no_load,full_load\n0,61.5,58\n", encoding="utf-8")
    assert main(["trim", *given]) == 2
    assert message in capsys.readouterr().err


def test_without_a_terminal_it_says_what_to_give(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", Piped(io.BytesIO(b"")))
    assert main(["trim"]) == 2
    assert "give --trials FILE" in capsys.readouterr().err


def test_turns_are_read_as_they_are_shown() -> None:
    made = load_knowledge().catalogue.adjusters
    for eighths in range(-40, 41):
        turns = eighths / 8.0
        for adjuster in made.values():
            shown = trim_view.standing(turns, adjuster)
            if turns:
                assert trial_text.read_turns(shown, adjuster) == turns
    assert trial_text.read_turns("3 flats out", made["speed"]) == -0.5
    assert trim_view.turned(0.5, made["speed"]) == "1/2 turn in, faster (0.5, 3 flats of a nut)"
    with pytest.raises(AnswerError, match="not both"):
        trial_text.read_turns("-1/2 in", made["speed"])
