"""`hertzwright knowledge rehearse` at the terminal."""

from __future__ import annotations

import json

import pytest

from hertzwright.cli.app import main

pytestmark = pytest.mark.whole_ways


@pytest.mark.nightly  # the quick tier: test_cli_compare, the same figures by processes
def test_json_has_every_figure_and_is_the_same_with_any_number_of_workers(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["knowledge", "rehearse", "--jobs", "2", "--sets", "knowledge", "--json", "--seed", "5"]
    assert main([*words, "--workers", "1"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    found = json.loads(out)
    assert found["version"] == 1
    world = found["worlds"]["knowledge"]
    assert sum(world["suggestions"]["ends"].values()) == 2
    assert world["bound"]["minutes"]["mean"] <= world["suggestions"]["minutes"]["mean"]
    assert world["ratio_to_bound"]["ratio"] >= 1.0
    unforeseen = world["unforeseen"]
    assert unforeseen["known"]["mean"] < unforeseen["least"]["mean"] <= unforeseen["planned"]["mean"]
    assert unforeseen["ratio_of_plan_to_least"]["ratio"] >= 1.0
    assert main([*words, "--workers", "2"]) == 0
    assert capsys.readouterr().out == out


@pytest.mark.parametrize("extra", [["--plain"], pytest.param([], marks=pytest.mark.nightly)])
def test_it_fits_a_narrow_terminal(
    extra: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    monkeypatch.setenv("NO_COLOR", "1")
    assert main(["knowledge", "rehearse", "--jobs", "1", "--sets", "bench", "--workers", "1", *extra]) == 0
    out = capsys.readouterr().out
    assert all(len(line) <= 40 for line in out.splitlines())
    assert "Published order" in out
    assert "Stay confused" in out


@pytest.mark.parametrize(
    ("option", "value"), [("--jobs", "0"), ("--jobs", "many"), ("--workers", "-1"), ("--sets", "x")]
)
def test_wrong_use_shows_the_value(option: str, value: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "rehearse", f"{option}={value}"]) == 2
    err = capsys.readouterr().err
    assert value in err
    assert "Traceback" not in err
