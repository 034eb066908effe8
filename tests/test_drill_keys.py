"""Keys in a drill: what is asked within a move can be left alone, and no key does what it was not meant for."""

from __future__ import annotations

import io
from collections.abc import Iterable

import pytest

from hertzwright.cli.terminal import Screen, Stop
from hertzwright.cli.terminal.page import Page, lay_out
from hertzwright.cli.training import debrief_view, drill_session
from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.rehearsal import Played
from hertzwright.engine.teaching import LEVELS, Drill, Scenario, debrief

NOBODY = Played("", (), (), "fixed", 0.0, ())


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


class Phone:
    """A terminal of 40 columns and 24 rows that is answered from a list, and keeps what it showed."""

    width, height, drawn, blocks = 40, 24, True, True

    def __init__(self, screen: Screen, lines: Iterable[str]) -> None:
        self.said: list = []
        self.shown: list[str] = []
        self.left = list(lines)
        screen.give_to(self)

    def take(self, row) -> None:
        self.said.append(row)

    def size(self) -> tuple[int, int]:
        return 40, 24

    def leave(self) -> None:
        return

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        return self.present(Page(prompt=prompt))

    def present(self, page: Page) -> str:
        leaves = lay_out(page, self, self.said)
        self.shown.append(" ".join(" ".join(row.text for leaf in leaves for row in leaf.rows).split()))
        self.said.clear()
        if not self.left:
            raise Stop
        return self.left.pop(0)


def played(knowledge: Knowledge, *lines: str) -> tuple[Drill, Phone]:
    """A drill on a lean idle circuit, worked with these lines at a phone."""
    made = Scenario("own", LEVELS[1], knowledge.features(), (("idle_mixture_lean", 0.7),), 0.0, ("hunts_no_load",))
    drill, screen = Drill(knowledge, made), Screen(False, io.StringIO(), 40)
    phone = Phone(screen, lines)
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
    assert {"x", "quit", "?", "hint", "list", "help", "path"} <= drill_session._FREE
    assert not {"safe", "prove", "fixed", "shut", "refer"} & drill_session._FREE


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
    phone = Phone(screen, ["", "p", "s", "", "x", "p"])
    debrief_view.debriefed(screen, phone, knowledge, made, found)
    assert phone.left == ["p"]
    assert "or x when you have read it" in phone.shown[1]
    assert "Score: " in phone.shown[3]
