"""`hertzwright lesson`, `progress` and `curve` as a trainee and a foreman meet them."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from xml.etree import ElementTree

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.training import progress, progress_view, unit_view
from hertzwright.cli.training.progress import KeptDrill, KeptUnit, TraineeProgress
from hertzwright.engine import load_knowledge
from hertzwright.engine.teaching import due_today
from hertzwright.engine.teaching.short_drill import short_drill

from tiers import some

KNOWLEDGE = load_knowledge()
FIRST, SECOND = list(KNOWLEDGE.units)[:2]
MONDAY = "2026-03-02"


@pytest.fixture(autouse=True)
def _home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("hertzwright.engine.load_knowledge", lambda path=None: KNOWLEDGE)
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"")))


def answers(tmp_path: Path, unit: str, name: str = "me", times: int = 0, wrong: int = 0) -> str:
    """A file with the right answers to a unit, the last few of them wrong."""
    plan = KNOWLEDGE.units[unit]
    shown = unit_view.mixed(plan, f"{name} {unit} {times}")
    right = [next(at for at, each in enumerate(shown, 1) if each.right)]
    counts = [len(plan.prediction.answers)]
    for number, drill in enumerate(plan.drills, 1):
        dealt = short_drill(KNOWLEDGE, drill, f"{name} {unit} {times} {number}")
        right.append(dealt.causes.index(dealt.truth) + 1)
        counts.append(len(dealt.causes))
    for place in range(len(right) - wrong, len(right)):
        right[place] = right[place] % counts[place] + 1
    path = tmp_path / "answers.txt"
    path.write_text("\n".join(map(str, right)) + "\n", "utf-8")
    return str(path)


def test_ten_minutes_on_monday_are_due_again_on_tuesday(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lesson", "--day", MONDAY, "--answers", answers(tmp_path, FIRST)]) == 0
    out = capsys.readouterr().out
    assert "3 of 3 right. It comes back on 2026-03-03." in " ".join(out.split())
    assert main(["lesson", "--day", MONDAY, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["today"], found["next_day"]) == ([], "2026-03-03")
    assert main(["lesson", "--day", "2026-03-03", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["today"] == [FIRST, SECOND]


def test_what_is_wrong_is_said_with_its_reason_and_the_unit_is_read_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["lesson", FIRST, "--day", MONDAY, "--answers", answers(tmp_path, FIRST)])
    capsys.readouterr()
    file = answers(tmp_path, FIRST, times=1, wrong=2)
    assert main(["lesson", FIRST, "--day", "2026-03-03", "--answers", file]) == 0
    out = capsys.readouterr().out
    assert out.count("No, it is: ") == 2
    assert "Read it once more." in out
    assert "1 of 3 right. It comes back on 2026-03-04." in " ".join(out.split())


def test_a_stop_keeps_what_was_done_and_nothing_half_done(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "stop.txt"
    file.write_text("1\nx\n", "utf-8")
    assert main(["lesson", "--day", MONDAY, "--answers", str(file)]) == 1
    assert "Stopped." in capsys.readouterr().out
    assert not list((tmp_path / "home").glob("trainees/*.json"))


def test_with_nobody_to_ask_the_unit_is_shown_whole(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lesson", "--day", MONDAY]) == 0
    out = capsys.readouterr().out
    unit = KNOWLEDGE.units[FIRST]
    assert unit.prediction.question.split()[0] in out
    assert "To be asked: give --answers FILE" in out


@pytest.mark.parametrize("words", ["speed_against_sensitivity", "Speed against sensitivity", "against"])
def test_a_unit_by_id_title_or_words(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lesson", *words.split(), "--read"]) == 0
    assert "2 of 13: Speed against sensitivity" in capsys.readouterr().out


def test_a_unit_that_is_none_is_said_with_what_may_be_meant(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lesson", "bosoter"]) == 2
    assert 'no unit "bosoter"' in capsys.readouterr().err
    assert main(["lesson", "--day", "yesterday"]) == 2
    assert '"yesterday": expected a day, such as 2026-03-02' in capsys.readouterr().err


@pytest.mark.parametrize("unit", some(KNOWLEDGE.units, 4))
def test_a_unit_fits_forty_columns(
    unit: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    monkeypatch.setenv("NO_COLOR", "1")
    assert main(["lesson", unit, "--day", MONDAY, "--answers", answers(tmp_path, unit)]) == 0
    out = capsys.readouterr().out
    assert [row for row in out.splitlines() if len(row) > 40] == []
    assert "\x1b" not in out
    assert main(["lesson", "--list"]) == 0
    assert [row for row in capsys.readouterr().out.splitlines() if len(row) > 40] == []


# ---- progress and the foreman


def drill(cause: str, day: int, missed: bool = False, minutes: float = 30.0) -> KeptDrill:
    return KeptDrill(
        "7", 1, (cause,), (cause,) if missed else (), "given up" if missed else "fixed", minutes, 20.0, 0, int(missed),
        (), f"2026-03-{day:02}T18:00:00+00:00",
    )  # fmt: skip


def exported(folder: Path, file: str, name: str, *drills: KeptDrill) -> str:
    path = folder / file
    path.write_text(progress.as_text(TraineeProgress(name, drills, (KeptUnit(FIRST, 3, 3, ""),))), "utf-8")
    return str(path)


def test_a_foreman_sees_several_trainees_in_one_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kim = exported(tmp_path, "a.json", "Kim", drill("linkage_worn", 2), drill("linkage_worn", 5))
    lee = exported(tmp_path, "b.json", "Lee \x1b[2J", drill("booster_set_weak", 3, missed=True))
    assert main(["progress", kim, lee, "--day", "2026-03-09", "--json"]) == 0
    found = {row["name"]: row for row in json.loads(capsys.readouterr().out)["trainees"]}
    assert found["Kim"]["fixed"] == 2
    assert found["Kim"]["expert_share"] == pytest.approx(20 / 30)
    assert set(found["Kim"]["areas"]) == {"linkage"}
    for option in ([], ["--plain"]):
        assert main(["progress", kim, lee, "--day", "2026-03-09", *option]) == 0
        out = capsys.readouterr().out
        assert "\x1b" not in out
        assert "Lee \\x1b[2J" in out
        assert "linkage" in out
    assert main(["progress", kim, str(tmp_path / "none.json")]) == 1
    assert "no such file" in capsys.readouterr().err
    (tmp_path / "bad.json").write_text("{", "utf-8")
    assert main(["progress", str(tmp_path / "bad.json")]) == 2
    assert (tmp_path / "bad.json").read_text("utf-8") == "{"  # read, never set aside


def test_what_is_exported_is_what_a_foreman_reads(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["lesson", "--trainee", "kim", "--day", MONDAY, "--answers", answers(tmp_path, FIRST, "kim")])
    out = tmp_path / "kim.json"
    assert main(["progress", "--trainee", "kim", "--export", str(out)]) == 0
    capsys.readouterr()
    assert main(["progress", str(out), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["trainees"][0]["units"] == 1
    assert main(["progress", "--trainee", "kim", "--export", str(out)]) == 2  # never written over unasked
    assert main(["progress", str(out), "--export", str(out)]) == 2


def test_the_small_plot_falls_while_nothing_is_drilled_and_rises_after() -> None:
    found = TraineeProgress("kim", (drill("linkage_worn", 2), drill("linkage_worn", 20)))
    values = [progress_view.known_in(KNOWLEDGE, found, "linkage", date(2026, 3, day)) for day in (1, 2, 10, 19, 20)]
    assert values[0] is None
    shares = [value for value in values[1:] if value is not None]
    assert shares[0] > shares[1] > shares[2] < shares[3]
    assert len(progress_view.small_plot(values, True)) == 5
    assert progress_view.small_plot(values, False).isascii()


# ---- curves


@pytest.mark.parametrize("of", ["load", "time"])
def test_two_curves_with_one_scale(
    of: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for columns in (40, 100):
        monkeypatch.setenv("COLUMNS", str(columns))
        assert main(["curve", of, "--turn", "sensitivity=1"]) == 0
        out = capsys.readouterr().out
        assert [row for row in out.splitlines() if len(row) > columns] == []
        assert "Sensitivity 1 turn sharper" in out
    assert main(["curve", of, "--turn", "sensitivity=1", "--svg", str(tmp_path / "a.svg")]) == 0
    drawn = ElementTree.fromstring((tmp_path / "a.svg").read_text("utf-8"))
    dashed = [path for path in drawn.iter("{http://www.w3.org/2000/svg}path") if path.get("stroke-dasharray") == "6 4"]
    assert len(dashed) == 1
    assert main(["curve", of, "--turn", "sensitivity=1", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert len(found["points"]) == len(found["turned"]) > 10


def test_sharper_is_less_droop_and_more_is_a_swing(capsys: pytest.CaptureFixture[str]) -> None:
    """TM 5-4110-234-14, p. 4-83, c(5): too large a drop, raise the sensitivity; surging, lower it."""

    def apart(turns: int, of: str) -> float:
        assert main(["curve", of, "--turn", f"sensitivity={turns}", "--json"]) == 0
        values = [hertz for _, hertz in json.loads(capsys.readouterr().out)["turned"]]
        return values[0] - values[-1] if of == "load" else max(values) - min(values)

    falls = [apart(turns, "load") for turns in (-4, 0, 4)]
    assert falls == sorted(falls, reverse=True)
    assert apart(10, "time") > 3 * apart(0, "time")


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (["load", "--turn", "sensitivty=1"], 'did you mean "sensitivity"?'),
        (["load", "--turn", "sensitivity"], "expected ADJUSTER=TURNS"),
        (["load", "--turn", "speed=99"], "99 turns; expected -20 to 20"),
        (["load", "--cause", "linkage_wrn"], 'did you mean "linkage_worn"?'),
        (["load", "--cause", "linkage_worn", "--severity", "2"], "severity of 2; expected 0 to 1"),
        (["time", "--load", "150"], "load of 150 %; expected 0 to 100 %"),
    ],
)
def test_an_option_that_cannot_be_used_says_what_was_expected(
    given: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["curve", *given]) == 2
    assert told in capsys.readouterr().err


def test_the_course_takes_two_weeks_of_new_units_and_then_only_comes_back() -> None:
    """One new unit a day, right each time: within a month all are begun, and no day has more than a few."""
    found = TraineeProgress("kim")
    most = 0
    for number in range(30):
        day = date.fromordinal(date(2026, 3, 2).toordinal() + number)
        today = due_today(KNOWLEDGE, found.read, day)
        most = max(most, len(today))
        done = tuple(KeptUnit(each.unit.id, 3, 3, f"{day.isoformat()}T18:00:00+00:00") for each in today)
        found = TraineeProgress("kim", (), (*found.units, *done))
    assert set(found.read) == set(KNOWLEDGE.units)
    assert most <= 4


# ---- found by number, and what a trainee is told


def test_a_unit_is_found_by_its_number_and_titles_are_offered(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["lesson", "2", "--read", "--plain"]) == 0
    assert KNOWLEDGE.units[SECOND].title in capsys.readouterr().out
    assert main(["lesson", "99", "--read"]) == 2
    assert 'no unit "99"; expected 1 to 13' in capsys.readouterr().err
    assert main(["lesson", "lean", "--read"]) == 2
    assert (
        KNOWLEDGE.units["lean_and_rich_at_idle"].title in capsys.readouterr().err
    )  # a title, and no id with underscores
    main(["lesson", "--day", MONDAY, "--answers", answers(tmp_path, FIRST)])
    assert "To go on with the next unit today: hertzwright lesson 2." in " ".join(capsys.readouterr().out.split())


def test_words_of_an_answer_are_offered_and_a_question_mark_is_answered(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    right = next(each.say for each in KNOWLEDGE.units[FIRST].prediction.answers if each.right)
    path = tmp_path / "answers.txt"
    path.write_text(f"?\n{' '.join(right.split()[:3])}\nx\n", "utf-8")
    main(["lesson", FIRST, "--answers", str(path), "--day", MONDAY])
    out = " ".join(capsys.readouterr().out.split())
    assert "say what you think; it is told after" in out
    assert "Did you mean" in out
    assert right in out.partition("Did you mean")[2]


def test_a_drawing_says_what_to_see(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    assert main(["lesson", SECOND, "--read"]) == 0
    drawing = KNOWLEDGE.drawings[KNOWLEDGE.units[SECOND].drawing]
    assert drawing.in_words.splitlines()[1] in " ".join(capsys.readouterr().out.split())


def test_what_was_missed_is_not_known_and_an_area_is_all_of_its_causes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    day = date(2026, 3, 2)
    found = TraineeProgress("kim", (drill("linkage_worn", 2),))
    share = progress_view.known_in(KNOWLEDGE, found, "linkage", day)
    assert share is not None
    there = sum(each.area == "linkage" for each in KNOWLEDGE.causes.values())
    assert share <= 1.0 / (there - 1)
    missed = TraineeProgress("kim", (drill("linkage_worn", 2, missed=True),))
    assert progress_view.known_in(KNOWLEDGE, missed, "linkage", day) == 0.0
    monkeypatch.setenv("COLUMNS", "40")
    many = [drill(cause, 2, missed=at == 3) for at, cause in enumerate(list(KNOWLEDGE.causes)[:30])]
    kim = exported(tmp_path, "kim.json", "kim", *many)
    folder = tmp_path / "home" / "trainees"
    folder.mkdir(parents=True)
    (folder / "kim.json").write_text(Path(kim).read_text("utf-8"), "utf-8")
    assert main(["progress", "--trainee", "kim", "--day", "2026-03-03"]) == 0
    out = capsys.readouterr().out
    assert "missed last time, due again now" in " ".join(out.split())
    assert len(out.splitlines()) < 45


def test_a_foreman_sees_level_score_what_was_missed_and_the_last_day_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scored = replace(drill("linkage_worn", 2, missed=True), score=61.0, level=3)
    kim = exported(tmp_path, "a.json", "Kim", scored)
    assert main(["progress", kim, kim, str(tmp_path / "." / "a.json"), "--day", "2026-03-09", "--json"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["trainees"]
    assert (row["level"], row["score"], row["missed"], row["last_day"]) == (3, 61.0, ["linkage_worn"], "2026-03-02")
    other = exported(tmp_path, "b.json", "Kim", scored)
    assert main(["progress", kim, other, "--day", "2026-03-09"]) == 0
    shown = capsys.readouterr()
    assert "the same as a file before it" in shown.err
    assert KNOWLEDGE.causes["linkage_worn"].title.lower() in " ".join(shown.out.split())
