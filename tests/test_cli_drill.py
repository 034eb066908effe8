"""`hertzwright drill` as a trainee meets it."""

from __future__ import annotations

import functools
import io
import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.terminal import Stop
from hertzwright.cli.terminal.page import Leaf, Page, lay_out
from hertzwright.cli.terminal.screen import Screen
from hertzwright.cli.training import (
    debrief_view,
    drill_list,
    drill_session,
    drill_view,
    drill_words,
    lesson,
    progress,
    script,
)
from hertzwright.cli.training import drill as command
from hertzwright.engine import load_knowledge
from hertzwright.engine.rehearsal.played_job import Played
from hertzwright.engine.teaching.dealing import new_scenario
from hertzwright.engine.teaching.debrief import debrief, program_path
from hertzwright.engine.teaching.drill import Drill
from hertzwright.engine.teaching.scenario import LEVELS, Scenario

from technician import Phone
from tiers import some

SEED = "own"
TODAY = date(2026, 11, 26)
GOOD = ["feel linkage", "safe swing_no_load", "safe frequency_full_load", "safe set_idle_mixture", "fixed"]


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"")))


@pytest.fixture
def own(monkeypatch: pytest.MonkeyPatch) -> Scenario:
    """A drill of our own, whatever the seed: a lean idle circuit, plain and not hidden."""
    known = load_knowledge()
    made = Scenario(SEED, LEVELS[1], known.features(), (("idle_mixture_lean", 0.7),), 0.0, ("hunts_no_load",))
    monkeypatch.setattr(command, "new_scenario", lambda *_, **__: made)
    monkeypatch.setattr(command, "program_path", lambda knowledge, dealt: _one())
    return made


@functools.cache
def _one() -> Played:
    """The program's path, one step deep: quick, and enough for what is shown."""
    known = load_knowledge()
    made = Scenario(SEED, LEVELS[1], known.features(), (("idle_mixture_lean", 0.7),), 0.0, ("hunts_no_load",))
    return program_path(known, made, 0)


def moves(tmp_path: Path, lines: Iterable[str]) -> str:
    path = tmp_path / "moves.txt"
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return str(path)


def test_a_whole_drill_from_a_file(own: Scenario, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["drill", "--seed", str(SEED), "--answers", moves(tmp_path, ["# a comment", *GOOD])]) == 0
    out = capsys.readouterr().out
    first, _, rest = out.partition("Debrief")
    assert "mixture" not in first.partition("> safe set_idle_mixture")[0].lower().replace(
        "main jet", ""
    )  # nothing is given away
    for words in (
        "The customer says",
        "Hunts with no load",
        "CAUTION: Carbon monoxide",
        "Hz (slow swing)",
        "Proof run: passed",
    ):
        assert words in first
    for words in (
        "Fixed and proven",
        "Idle mixture",
        "The program's path",
        "Order rules",
        "How belief in the truth moved",
    ):
        assert words in rest
    assert f"hertzwright drill --level 1 --seed {SEED}" in rest
    assert not (tmp_path / "home" / "trainees").exists()  # nobody was named


def test_moves_on_standard_input_and_json(
    own: Scenario, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = b"frequency_full_load\nfeel linkage\nset_idle_mixture\nquit\n"
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(typed)))
    assert main(["drill", "--seed", str(SEED), "--json"]) == 1  # not fixed
    out = capsys.readouterr().out
    found = json.loads(out)
    assert out == json.dumps(found, sort_keys=True, indent=2) + "\n"
    assert found["version"] == 1
    assert found["seed"] == str(SEED)
    assert found["truth"][0]["cause"] == "idle_mixture_lean"
    assert [move["kind"] for move in found["path"]] == ["unsafe", "check", "unsafe", "given_up"]
    assert "backfeed" in [name for danger in found["path"][0]["dangers"] for name in danger["cautions"]]
    assert found["verdict"]["end"] == "given up"
    assert found["missed"] == ["idle_mixture_lean"]
    assert found["minutes"]["yours"] == found["path"][-1]["minutes"]


def test_unsafe_is_said_first_and_safe_goes_on(
    own: Scenario, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(
        ["drill", "--seed", str(SEED), "--plain", "--answers", moves(tmp_path, ["frequency_full_load", "safe", "quit"])]
    )
    after = capsys.readouterr().out.partition("> frequency_full_load\n")[2]
    assert after.startswith("Not taken: UNSAFE. Frequency at full load was not done.")
    assert "backfeed into the supply: Isolate the set" in " ".join(after.split())
    assert "All of it is met.\nFrequency at full load: " in after


def test_feedback_is_free_and_a_hint_is_not(own: Scenario, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(
        [
            "drill",
            "--seed",
            str(SEED),
            "--plain",
            "--answers",
            moves(tmp_path, ["linkage_feel", "?", "hint", "path", "quit"]),
        ]
    )
    out = capsys.readouterr().out
    assert "3 min | stopped, cold\n> ?" in out
    feedback = out.partition("> ?")[2].partition("> hint")[0]
    assert "Feel of the linkage: 3 min with the set-up." in feedback
    assert "The program would have" in feedback
    assert "4 min | stopped, cold" in out.partition("> hint")[2]


@pytest.mark.parametrize("width", [40, 100])
def test_every_line_fits(
    own: Scenario, width: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    monkeypatch.setenv("NO_COLOR", "1")
    lines = [
        "list",
        "help",
        "how linkage_feel",
        "how set_sensitivity",
        "say",
        "frequency_full_load",
        "safe",
        "?",
        "now free linkage",
        "fixed",
        "refer",
        "2",
    ]
    main(["drill", "--seed", str(SEED), "--answers", moves(tmp_path, lines)])
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert [row for row in out.splitlines() if len(row) > width and not row.startswith("> ")] == []
    assert "Handed over." in out


def test_progress_is_kept_for_who_is_named(own: Scenario, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for lines in (GOOD, ["linkage_feel", "quit"]):
        main(["drill", "--seed", str(SEED), "--trainee", "kim", "--answers", moves(tmp_path, lines)])
    out = capsys.readouterr().out
    assert "due again on 20" in out
    assert "missed; due in the next drill" in out
    assert main(["drill", "--progress", "--trainee", "kim", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["version"], found["drills"], found["fixed"]) == (2, 2, 1)
    assert found["causes"]["idle_mixture_lean"]["due"] is None  # missed last: due at once
    assert found["due"] == ["idle_mixture_lean"]
    assert main(["drill", "--progress", "--trainee", "kim"]) == 0
    assert ", due" in capsys.readouterr().out
    assert main(["drill", "--list-trainees"]) == 0
    assert "kim" in capsys.readouterr().out


def test_to_quit_at_once_keeps_nothing(own: Scenario, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["drill", "--seed", str(SEED), "--trainee", "kim", "--answers", moves(tmp_path, ["list", "quit"])])
    assert "nothing is kept" in capsys.readouterr().out
    assert not list((tmp_path / "home").glob("trainees/*.json"))


def test_what_was_missed_is_dealt_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    known = load_knowledge()
    name = next(
        each
        for each in (f"kim {n}" for n in range(40))
        if progress.TraineeProgress(each, (_missed(),)).wanted(TODAY)[1]
    )
    before = progress.TraineeProgress(name, (_missed(),))
    parser = command.argparse.ArgumentParser()
    command.add_arguments(parser)
    dealt = command._scenario(known, parser.parse_args([]), before, {})
    assert dealt.truth == ("linkage_worn",)
    # The seed alone deals it again, to anybody.
    assert new_scenario(known, dealt.seed, 1) == dealt


def _missed() -> progress.KeptDrill:
    return progress.KeptDrill("7", 1, ("linkage_worn",), ("linkage_worn",), "given up", 30.0, 20.0, 0, 0, ())


def test_a_damaged_file_is_set_aside_and_said(
    own: Scenario, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = progress.path_of(tmp_path / "home" / "trainees", "kim")
    path.parent.mkdir(parents=True)
    path.write_text("{", "utf-8")
    main(["drill", "--seed", str(SEED), "--trainee", "kim", "--answers", moves(tmp_path, ["linkage_feel", "quit"])])
    err = capsys.readouterr().err
    assert "damaged" in err
    assert "kim.damaged-1" in err
    assert path.with_name("kim.damaged-1").read_text("utf-8") == "{"
    assert len(progress.read(path, "kim").drills) == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["drill"], "no terminal to ask at; give --answers FILE"),
        (["drill", "--json"], "--json prints the debrief of a drill that is done"),
        (["drill", "--cause", "linkage_bindng", "--answers", "-"], 'no cause "linkage_bindng"; did you mean'),
        (["drill", "--lesson", "linkag"], 'no area "linkag"; did you mean'),
        (["drill", "--set", "booster", "--answers", "-"], "expected KEY=VALUE"),
        (["drill", "--set", "booster=maybe", "--answers", "-"], "booster"),
        (["drill", "--cause", "booster_diaphragm_leak", "--set", "booster=none", "--answers", "-"], "no set was found"),
        (["drill", "--level", "9"], "invalid choice"),
        (["drill", "--answers", "/none/such"], "cannot be read"),
        (["drill", "--trainee", " ", "--progress"], "empty"),
    ],
)
def test_wrong_use_is_said_with_what_was_wrong(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"quit\n" if "-" in words else b"")))
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert said in err
    assert "Traceback" not in out + err


def test_help_says_what_the_levels_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["drill", "--help"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert all(f"{level.number}, {level.told}" in out for level in LEVELS.values())


# ---- finding a step


class Script:
    def __init__(self, lines: Iterable[str]) -> None:
        self.left = iter(lines)

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        for line in self.left:
            return line
        raise Stop


def test_every_step_is_found_by_id_by_title_and_by_number(own: Scenario) -> None:
    drill = Drill(load_knowledge(), own)
    screen = Screen(True, io.StringIO(), 100)
    for name, step in drill.steps.items():
        for typed in (name, step.title, str(drill_list.number_of(load_knowledge(), name))):
            assert drill_words.which(drill, screen, Script([]), typed) == name, typed
    assert drill_words.which(drill, screen, Script([]), "999") == ""
    assert drill_words.which(drill, screen, Script([]), "zzzz") == ""
    assert drill_words.which(drill, screen, Script(["1"]), "idle mixture") == "set_idle_mixture"


def test_commands_do_not_hide_steps(own: Scenario) -> None:
    drill = Drill(load_knowledge(), own)
    for step in drill.steps.values():
        assert drill_words.command_of(step.title) == ("", step.title)


def test_a_crash_of_the_wire_keeps_the_drill(own: Scenario, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Breaks:
        def __init__(self, lines: Iterable[str], screen: object) -> None:
            self.left = iter(["linkage_feel"])

        def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
            for line in self.left:
                return line
            raise KeyboardInterrupt

    monkeypatch.setattr(script, "Lines", Breaks)
    assert main(["drill", "--seed", str(SEED), "--trainee", "kim", "--answers", moves(tmp_path, ["x"])]) == 130
    assert progress.read(progress.path_of(tmp_path / "home" / "trainees", "kim"), "kim").drills[0].end == "given up"


# ---- lessons


def test_the_units_of_an_area_are_shown_before_its_drill(capsys: pytest.CaptureFixture[str]) -> None:
    known = load_knowledge()
    assert main(["drill", "--lesson", "linkage"]) == 0
    out = capsys.readouterr().out
    assert known.units["linkage_and_stops"].title in out
    assert "TOO LONG:  hard on the stop" in out
    assert main(["drill", "--lesson", "linkage", "--plain"]) == 0
    assert "o=====" not in capsys.readouterr().out
    assert main(["drill", "--lesson", "linkage", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["version"] == 2
    assert [unit["id"] for unit in found["units"]] == ["linkage_and_stops"]
    assert main(["drill", "--lesson", "likage"]) == 2
    assert 'no area "likage"; did you mean "linkage"?' in capsys.readouterr().err


def test_no_lesson_is_a_lecture(capsys: pytest.CaptureFixture[str]) -> None:
    """Two thousand words were read by nobody: a unit with its drawing, cautions and sources stays under 600."""
    for name in load_knowledge().units:
        assert main(["lesson", name, "--read", "--plain"]) == 0
        assert len(capsys.readouterr().out.split()) < 600, name


def test_a_booster_lesson_needs_a_booster(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["drill", "--lesson", "booster", "--set", "booster=none"]) == 0
    assert "has nothing of the area booster" in capsys.readouterr().out


def test_a_lesson_is_walked_unit_by_unit() -> None:
    known = load_knowledge()
    first, second = lesson.of_features(known, "mixture", {})[:2]
    out = io.StringIO()
    assert lesson.walked(Screen(True, out, 40), Script(["2"]), known, "mixture", {})
    assert first.text.split()[-1] in out.getvalue()
    assert second.prediction.question.split()[0] not in out.getvalue().partition("straight")[2]
    assert not lesson.walked(Screen(True, out, 40), Script(["3"]), known, "mixture", {})


@pytest.mark.parametrize("word", ["fixed", "prove"])
def test_safe_before_a_proof_run_makes_that_proof_run(
    own: Scenario, tmp_path: Path, capsys: pytest.CaptureFixture[str], word: str
) -> None:
    main(["drill", "--seed", SEED, "--answers", moves(tmp_path, [f"safe {word}", "path", "quit"])])
    assert "roof run" in capsys.readouterr().out.partition("> path")[2].partition("> quit")[0]


@pytest.mark.parametrize("typed", ["safe list", "now hint", "safe quit"])
def test_a_command_behind_a_command_is_no_step(
    own: Scenario, tmp_path: Path, capsys: pytest.CaptureFixture[str], typed: str
) -> None:
    main(["drill", "--seed", SEED, "--answers", moves(tmp_path, [typed, "quit"])])
    assert "is a command and no step" in capsys.readouterr().out


def test_an_inexact_match_is_proposed_and_not_done(own: Scenario) -> None:
    from hertzwright.cli.training.drill_words import which

    class Nobody:
        asked = 0

        def ask(self, prompt: str, words: object = ()) -> str:
            self.asked += 1
            return ""

    drill, screen = Drill(load_knowledge(), own), Screen(True, io.StringIO(), 100)
    for name, step in list(drill.steps.items())[::9]:  # what is exact is found by the test of every step
        asker = Nobody()
        assert which(drill, screen, asker, step.title + "x") == "", name  # type: ignore[arg-type]


def test_a_right_repair_works() -> None:
    """Every fault on every draw of chance: the remedy that cures it best does cure it."""
    from hertzwright.engine.teaching.drill_set import DrillSet

    known = load_knowledge()
    for remedy in known.remedies.values():
        for cause, chance in remedy.cures.items():
            if chance < 0.5:
                continue
            for seed in ("a", "b", "c", "d"):
                made = Scenario(seed, LEVELS[1], known.features(), ((cause, 0.7),), 0.0, ("hunts_no_load",))
                assert DrillSet(known, made).chances(remedy.id)[cause] == 1.0
    for name in ("choke_stuck_closed", "idle_mixture_lean"):
        best = max(known.remedies.values(), key=lambda each: each.cures.get(name, 0.0))
        for seed in range(30):
            made = Scenario(str(seed), LEVELS[1], known.features(), ((name, 0.7),), 0.0, ("hunts_no_load",))
            working = DrillSet(known, made)
            working.mend(best.id)
            assert not working.faults, (name, seed)


# ---- on a phone


class Paged(Phone):
    """A phone that keeps the leaves of each page, without the blank rows at their top."""

    def __init__(self, screen: Screen, lines: Iterable[str]) -> None:
        super().__init__(screen, lines)
        self.pages: list[tuple[Leaf, ...]] = []

    def kept(self, page: Page) -> None:
        while self.said and not self.said[0].text:
            del self.said[0]
        top = page if page.top else replace(page, top="Drill, level 1", status=("120 min", "safe"))
        self.pages.append(lay_out(top, self, self.said))


@pytest.mark.parametrize("seed", some(range(6), 3))
def test_the_first_screen_fits_a_phone(seed: int) -> None:
    known = load_knowledge()
    made = new_scenario(known, f"phone {seed}", seed % 4 + 1, solved=False)
    screen = Screen(False, io.StringIO(), 40)
    phone = Paged(screen, [])
    drill_view.customer(screen, known, made)
    screen.line()
    drill_session.introduced(screen)
    drill_session.work(Drill(known, made), screen, phone)
    (first,) = phone.pages
    assert len(first) == 1
    shown = "\n".join(row.text for row in first[0].rows)
    assert known.complaints[made.complaints[0]].title.split()[0] in shown
    assert f"{made.features['rated_kw']:g} kW" in shown
    assert "What do you do?" in shown
    assert all(len(row.text) <= 40 for row in first[0].rows)


def test_cautions_are_chosen_and_the_debrief_stands_behind_keys(own: Scenario) -> None:
    known = load_knowledge()
    screen = Screen(False, io.StringIO(), 40)
    drill = Drill(known, own)
    listed = drill.offered("swing_no_load")
    due = set(drill.safety.due("swing_no_load"))
    right = " ".join(str(at) for at, name in enumerate(listed, 1) if name in due)
    phone = Paged(
        screen,
        ["safe swing_no_load", "9", right, "guess part_choke_trial", "3", "hint", "hint", "hint", "hint", "hint", "list",
         "", "list spring", "", "quit"],
    )  # fmt: skip
    drill_session.work(drill, screen, phone)
    shown = ["\n".join(row.text for leaf in page for row in leaf.rows) for page in phone.pages]
    assert "Which of these can hurt here?" in shown[1]
    assert '"9": expected numbers from 1 to' in " ".join(shown[2].split())
    assert "That is all of it" in shown[3]
    assert "You said smooths out: right." in shown[5]
    assert drill.hint_minutes == 5.0
    assert "Hint, 4 of 4" in shown[9]
    assert "Hint, 4 of 4" in shown[10]
    drill.make_safe("set_idle_mixture")
    drill.remedy("set_idle_mixture")
    drill.make_safe("proof run")
    drill.finish()
    found = debrief(drill, played=_one())
    phone = Paged(screen, ["p", "", "g", "", "s", "", "t", "", "d", "", "b", "", "zz", ""])
    debrief_view.debriefed(screen, phone, known, own, found)
    shown = ["\n".join(row.text for leaf in page for row in leaf.rows) for page in phone.pages]
    first = shown[0]
    assert first.index("It was:") < first.index("What gave it away:") < first.index("Next time:")
    assert len(phone.pages[0]) == 1
    assert "expected one of p, g, s, t, d, b" in " ".join(shown[-1].split())
    assert all(len(row.text) <= 40 for page in phone.pages for leaf in page for row in leaf.rows)
