"""Keys in a drill: what is asked within a move can be left alone, and no key does what it was not meant for."""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.terminal import Screen
from hertzwright.cli.terminal.page import Page, lay_out
from hertzwright.cli.training import debrief_view, drill_session, drill_words
from hertzwright.cli.training import drill as command
from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.rehearsal import Played
from hertzwright.engine.teaching import LEVELS, Drill, Scenario, debrief, shown_in
from hertzwright.engine.teaching.drill_set import DrillSet

from technician import Phone

NOBODY = Played("", (), (), "fixed", 0.0, ())


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


class Watched(Phone):
    """A phone that keeps the words of each page."""

    def __init__(self, screen: Screen, lines: Iterable[str]) -> None:
        super().__init__(screen, lines)
        self.shown: list[str] = []

    def kept(self, page: Page) -> None:
        leaves = lay_out(page, self, self.said)
        self.shown.append(" ".join(" ".join(row.text for leaf in leaves for row in leaf.rows).split()))


def played(knowledge: Knowledge, *lines: str) -> tuple[Drill, Watched]:
    """A drill on a lean idle circuit, worked with these lines at a phone."""
    made = Scenario("own", LEVELS[1], knowledge.features(), (("idle_mixture_lean", 0.7),), 0.0, ("hunts_no_load",))
    drill, screen = Drill(knowledge, made), Screen(False, io.StringIO(), 40)
    phone = Watched(screen, lines)
    drill_session.work(drill, screen, phone)
    return drill, phone


@pytest.mark.parametrize("word", ["x", "", "back", "z", "quit"])
@pytest.mark.parametrize("asks", ["guess linkage_feel", "refer", "safe swing_no_load", "mixture", "set_idle_mixturx"])
def test_a_question_is_left_alone_and_the_drill_goes_on(knowledge: Knowledge, asks: str, word: str) -> None:
    if asks.startswith("safe") and not word:
        pytest.skip("Enter says there that none applies")
    drill, phone = played(knowledge, asks, word, "linkage_feel")
    assert not phone.left
    assert [move.id for move in drill.moves] == ["linkage_feel"]
    assert drill.verdict is None
    drill, _ = played(knowledge, asks, word, "guess linkage_feel", "x", "linkage_feel")
    assert drill.moves[-1].predicted == ""  # what was left alone foretells nothing


def test_to_stop_is_asked_once_something_was_done(knowledge: Knowledge) -> None:
    drill, phone = played(knowledge, "linkage_feel", "x", "n", "arm_clamp", "x", "y", "linkage_feel")
    assert [move.id for move in drill.moves] == ["linkage_feel", "arm_clamp"]
    assert phone.left == ["linkage_feel"]
    assert any("Stop here?" in page for page in phone.shown)
    _, phone = played(knowledge, "x", "linkage_feel")
    assert phone.left == ["linkage_feel"]  # nothing done, nothing to ask


def test_words_typed_below_a_list_are_the_next_move(knowledge: Knowledge) -> None:
    drill, phone = played(knowledge, "list linkage", "linkage_feel", "list linkage", "back", "path", "arm_clamp")
    assert [move.id for move in drill.moves] == ["linkage_feel", "arm_clamp"]
    assert "Or type what you do" in phone.shown[1]


def test_a_number_that_no_list_has_shown_is_asked_first(knowledge: Knowledge) -> None:
    """An answer to a question that never came must be no step, let alone an unsafe one."""
    drill, phone = played(knowledge, "1", "", "1", "n")
    assert not drill.moves
    assert "1 is: " in phone.shown[1]
    drill, _ = played(knowledge, "1", "y")
    assert len(drill.moves) == 1
    drill, _ = played(knowledge, "list all", "1")
    assert len(drill.moves) == 1


def test_safe_puts_back_what_is_off_and_does_the_step(knowledge: Knowledge) -> None:
    """A check that takes a part off, then a run: one `safe` meets all that was called out, and the run is made."""
    drill, _ = played(knowledge, "air_cleaner_look", "swing_no_load", "safe")
    kinds = [(move.kind, move.id) for move in drill.moves]
    assert ("unsafe", "swing_no_load") in kinds
    assert any(danger.kind == "off" for move in drill.moves for danger in move.dangers)
    assert drill.moves[-1].kind == "check"
    assert drill.moves[-1].id == "swing_no_load"


def test_what_only_reads_is_taken_before_a_long_page_is_read_to_its_end() -> None:
    assert {"x", "quit", "?", "hint", "list", "help", "path"} <= drill_words.FREE
    assert not {"safe", "prove", "fixed", "shut", "refer"} & drill_words.FREE


def test_the_keys_take_one_row_once_they_are_known(knowledge: Knowledge) -> None:
    """At 24 rows a second row of keys would often make a leaf of nothing but the prompt."""
    _, phone = played(knowledge, "linkage_feel")
    assert "list steps | ? was it good" in phone.shown[0]
    assert phone.shown[1].endswith("list | ? | hint | prove | fixed | help")


def test_enter_does_not_close_a_debrief_and_a_key_leads_on_from_a_sheet(knowledge: Knowledge) -> None:
    made = Scenario("own", LEVELS[1], knowledge.features(), (("idle_mixture_lean", 0.7),), 0.0, ("hunts_no_load",))
    drill = Drill(knowledge, made)
    drill.check("linkage_feel")
    drill.give_up()
    found = debrief(drill, played=NOBODY)
    screen = Screen(False, io.StringIO(), 40)
    phone = Watched(screen, ["", "p", "s", "", "x", "p"])
    debrief_view.debriefed(screen, phone, knowledge, made, found)
    assert phone.left == ["p"]
    assert "or x when you have read it" in phone.shown[1]
    assert "Score: " in phone.shown[3]


# ---- what is said


def said(knowledge: Knowledge, *lines: str) -> str:
    return " ".join(played(knowledge, *lines)[1].shown)


def test_what_cannot_be_read_says_why(knowledge: Knowledge) -> None:
    made = Scenario("own", LEVELS[1], knowledge.features(), (("speed_set_high", 0.5),), 0.0, ("floats_high_no_load",))
    drill, screen = Drill(knowledge, made), Screen(False, io.StringIO(), 100)
    phone = Watched(screen, ["safe sensitivity_trial", "", "sensitivity_trial"])
    drill_session.work(drill, screen, phone)
    assert drill.moves[-1].answer == "unknown"
    assert "what this trial watches, such as a swing, is not there" in " ".join(phone.shown)


def test_a_check_made_again_on_an_unchanged_set_says_so(knowledge: Knowledge) -> None:
    assert "Nothing was changed since you last made it" not in said(knowledge, "hose_look")
    assert "Nothing was changed since you last made it" in said(knowledge, "hose_look", "hose_look")


def test_a_customer_who_is_asked_says_when_it_starts_hard(knowledge: Knowledge) -> None:
    """ "Starts hard" beside "starts readily" from cold is no contradiction: it is hard when hot."""
    shown = {
        cause: shown_in(
            knowledge,
            Scenario("own", LEVELS[1], knowledge.features(), ((cause, 0.9),), 0.0, ("starts_hard",)),
            "starts_hard",
        )
        for cause in ("choke_stuck_open", "choke_stuck_closed")
    }
    assert shown["choke_stuck_open"] == ("start_cold",)
    assert shown["choke_stuck_closed"] == ("start_warm",)


def test_a_milder_fault_is_never_called_plain_and_an_adjuster_hides_nothing_of_itself(knowledge: Knowledge) -> None:
    for faults, words in (
        ((("idle_mixture_lean", 0.6),), "Somebody had turned the speed adjuster"),
        ((("speed_set_high", 0.6),), ""),
    ):
        made = Scenario("own", LEVELS[2], knowledge.features(), faults, 0.7, ("hunts_no_load",))
        drill = Drill(knowledge, made)
        drill.check("linkage_by_hand")
        drill.give_up()
        out = io.StringIO()
        debrief_view.lead(Screen(True, out, 100), knowledge, made, debrief(drill, played=NOBODY))
        assert "(plain)" not in out.getvalue()
        assert "(rather mild)" in out.getvalue()
        assert ("Somebody had turned" in out.getvalue()) == bool(words)


def test_a_proof_run_that_fails_says_by_what_reading(knowledge: Knowledge) -> None:
    """A set that hunts under load alone: no load reads right, and the reading that does not is shown."""
    made = Scenario("own", LEVELS[1], knowledge.features(), (("sensitivity_sharp", 0.3),), 0.0, ("hunts_under_load",))
    for severity in (0.3, 0.5, 0.7, 0.9):
        made = Scenario(
            "own", LEVELS[1], knowledge.features(), (("main_mixture_lean", severity),), 0.0, ("hunts_under_load",)
        )
        proof = DrillSet(knowledge, made).proof()
        if proof.still:
            break
    assert proof.still == ("hunts_under_load",)
    assert {"swing_half_load", "swing_full_load"} & {each.check for each in proof.readings if each.fine is False}


def test_to_quit_at_once_says_so_where_json_was_wanted(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    known = load_knowledge()
    made = Scenario("own", LEVELS[1], known.features(), (("idle_mixture_lean", 0.7),), 0.0, ("hunts_no_load",))
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path))
    monkeypatch.setattr(command, "new_scenario", lambda *_, **__: made)
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"quit\n")))
    assert main(["drill", "--json", "--seed", "1"]) == 1
    out, err = capsys.readouterr()
    assert not out
    assert "Nothing was done" in err
    assert "a check, a remedy or prove" in err


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        ("how many hertz", "frequency_no_load"),
        ("check the volts", "voltage_no_load"),
        ("measure the amps", "leg_currents"),
        ("look at the hoses", "hose_look"),
    ],
)
def test_what_is_asked_in_plain_words_is_offered(knowledge: Knowledge, typed: str, wanted: str) -> None:
    title = knowledge.checks[wanted].title
    assert title in said(knowledge, typed, "").partition("Which one?")[2] or wanted in [
        move.id for move in played(knowledge, typed, "")[0].moves
    ]


@pytest.mark.parametrize("typed", ["dont know", "I don't know", "no idea", "what now"])
def test_who_does_not_know_is_told_of_the_hint(knowledge: Knowledge, typed: str) -> None:
    text = said(knowledge, typed)
    assert "hint says where to look" in text
    assert "nothing is like" not in text


def test_a_remedy_is_not_taken_for_what_a_hand_does_in_passing(knowledge: Knowledge) -> None:
    """Before, "open the choke" was a repair at once: a title goes on "and show how it is used"."""
    drill = played(knowledge)[0]
    safe = [each.title for name, each in drill.remedies.items() if not drill.safety.dangers(name)]
    for title in [each for each in safe if len(each.split()) > 2][:4]:
        begun = title.rpartition(" ")[0]
        assert played(knowledge, begun, "")[0].moves == [], begun
        shown = said(knowledge, begun, "")
        assert "Which one?" in shown
        assert f"{title} (remedy)" in shown
        assert [move.kind for move in played(knowledge, title)[0].moves] == ["remedy"]
