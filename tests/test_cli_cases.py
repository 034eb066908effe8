"""`hertzwright knowledge cases`: the path of a case, why it fails, and a whole job played on it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.problems.problem import HertzwrightError
from hertzwright.engine.rehearsal.played_job import least_minutes
from hertzwright.engine.review.cases import CaseSet, decisive_fact, judge, path, play_case

import small_knowledge as small

pytestmark = pytest.mark.whole_ways

SHIPPED = load_knowledge()
ROD = "rod_long_after_overhaul"


def test_a_case_is_judged_as_the_job_is(tmp_path: Path) -> None:
    known = load_knowledge(small.write(tmp_path))
    case = known.cases["rod_after_overhaul"]
    job = Job(known, dict(case.set))
    for fact in case.facts:
        job.record(fact.get("check") or fact["complaint"], fact["answer"])
    found = judge(known, case)
    assert found.faults == ()
    assert found.ranking == tuple(job.ranking())
    assert found.minutes == job.minutes
    step = job.next_steps(1, 0)[0]
    assert (found.proposed, found.left) == (step.id, step.expected_minutes)


def test_the_path_ends_where_the_case_is_judged() -> None:
    case = SHIPPED.cases[ROD]
    points = path(SHIPPED, case)
    found = judge(SHIPPED, case)
    assert [point.answer for point in points] == [fact["answer"] for fact in case.facts]
    assert (points[-1].leading, points[-1].chance) == found.ranking[0]
    assert (points[-1].minutes, points[-1].left, points[-1].proposed) == (found.minutes, found.left, found.proposed)
    assert [point.minutes for point in points] == sorted(point.minutes for point in points)
    taken = decisive_fact(case, points)
    assert taken is not None
    assert all(point.leading == "throttle_rod_long" for point in points[taken:])
    assert taken == 0 or points[taken - 1].leading != "throttle_rod_long"


def test_the_lead_that_is_lost_again_does_not_count() -> None:
    case = SHIPPED.cases[ROD]
    point = path(SHIPPED, case)[-1]
    other = replace(point, leading="meter_wrong")
    assert decisive_fact(case, (point, other, point)) == 2
    assert decisive_fact(case, (point, other)) is None
    assert decisive_fact(case, (point, point)) == 0


def test_a_case_that_does_not_fit_says_where() -> None:
    case = SHIPPED.cases[ROD]
    wrong = replace(case, facts=({"check": "no_such_check", "answer": "right"},))
    found = judge(SHIPPED, wrong)
    assert found.ranking == ()
    assert case.place is not None
    assert f"{case.place.file}:{case.place.line}: no check" in found.faults[0]
    with pytest.raises(HertzwrightError, match="no check"):
        path(SHIPPED, wrong)
    assert judge(SHIPPED, replace(case, set={"choke": "wooden"})).faults


def test_a_played_case_begins_with_its_findings_and_ends_proven() -> None:
    case = SHIPPED.cases[ROD]
    played = play_case(SHIPPED, case)
    assert played.end == "fixed"
    assert played.left == ()
    assert played.minutes >= least_minutes(SHIPPED, frozenset(case.truth))
    found = {fact["check"]: fact["answer"] for fact in case.facts if "check" in fact}
    seen = {move.id: move.answer for move in played.moves if move.kind == "check"}
    assert seen.keys() & found.keys()
    assert all(seen[check] == found[check] for check in seen.keys() & found.keys())
    assert play_case(SHIPPED, case) == played
    assert play_case(SHIPPED, case, 3) == play_case(SHIPPED, case, 3)


def test_a_finding_holds_until_a_remedy_bears_on_it() -> None:
    called = CaseSet(SHIPPED, SHIPPED.cases[ROD])
    assert called.answer("wide_open_stop_gap") == "0.000 in"
    assert called.answer("spring_look") == "sound"  # what such a set shows most often
    assert not called.prove()
    assert not called.treat("warm_up")
    assert called.answer("wide_open_stop_gap") == "0.000 in"
    assert called.treat("set_rod_length")
    assert called.faults == frozenset()
    assert called.answer("wide_open_stop_gap") == "right"


def test_draws_follow_the_likelihoods() -> None:
    case = replace(SHIPPED.cases[ROD], facts=())
    seen = [CaseSet(SHIPPED, case, seed).answer("frequency_no_load") for seed in range(300)]
    expected = SHIPPED.likelihood("frequency_no_load", "high", frozenset(case.truth))
    assert seen.count("high") / 300 == pytest.approx(expected, abs=0.08)


def test_one_line_a_case_and_the_path_of_named_ones(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    assert main(["knowledge", "cases", ROD]) == 0
    out = capsys.readouterr().out
    assert out.startswith(f"ok      {ROD}: throttle_rod_long 0.")
    assert "would propose" in out
    assert "throttle_rod_long leads from fact" in out
    assert "1 of 1 cases as expected." in out


def test_a_case_that_fails_shows_why_and_its_path(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = small.FILES["cases/linkage.yaml"].replace('at_least: "0.5"', 'at_least: "0.99"')
    folder = str(small.write(tmp_path, {"cases/linkage.yaml": text}))
    assert main(["knowledge", "cases", "--knowledge", folder]) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "FAILED rod_after_overhaul" in out
    assert "expected at least 0.99" in out
    assert "1. floats_high = present" in out
    assert "0 of 1 cases as expected." in out


def test_play_and_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(small.write(tmp_path))
    assert main(["knowledge", "cases", "--knowledge", folder, "--play"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "; played: fixed after " in out
    assert "Played: 1 of 1 fixed; " in out
    words = ["knowledge", "cases", "rod_after_overhaul", "--knowledge", folder, "--play", "--seed", "2", "--json"]
    assert main(words) == 0
    found = json.loads(capsys.readouterr().out)["cases"][0]
    assert found["played"]["steps"]
    assert found["played"]["least_minutes"] <= found["played"]["minutes"]
    assert len(found["path"]) == 3
    assert found["path"][-1]["expected_minutes_left"] == found["expected_minutes_left"]


def test_a_seed_without_play_is_wrong_use(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "cases", "--seed", "2"]) == 2
    assert "--seed is for --play" in capsys.readouterr().err


@pytest.mark.parametrize("plain", [[], pytest.param(["--plain"], marks=pytest.mark.nightly)])
def test_the_path_fits_a_telephone(
    plain: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert main(["knowledge", "cases", ROD, "--play", *plain]) == 0
    out = capsys.readouterr().out
    assert max(len(row) for row in out.splitlines()) <= 40
    assert "Played from the complaint" in " ".join(out.split())
