"""At every prompt ? helps and answers nothing, and back goes back or says that nothing is before this.

Outside: none.
"""

from __future__ import annotations

import ast
import io
from collections.abc import Callable
from pathlib import Path

import pytest

from hertzwright.cli.jobsite import check_prompt, complaint_prompt, putting_back, remedy_prompt, set_prompt
from hertzwright.cli.jobsite.session import Session
from hertzwright.cli.terminal import Back, Stop, choose, confirm
from hertzwright.cli.terminal.screen import Screen
from hertzwright.engine import Job, Knowledge, load_knowledge

from technician import Script, by_list, desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def at_list(asker: Script, screen: Screen, knowledge: Knowledge) -> object:
    return choose(asker, screen, "Which?", ("one", "two"), back=True)


def at_gate(asker: Script, screen: Screen, knowledge: Knowledge) -> object:
    return confirm(asker, screen, "Are you safe?", "yes", "no", back=True)


def at_features(asker: Script, screen: Screen, knowledge: Knowledge) -> object:
    return set_prompt.ask_features(asker, screen, knowledge, {})


def at_number(asker: Script, screen: Screen, knowledge: Knowledge) -> object:
    return set_prompt._ask_feature(asker, screen, knowledge, "rated_kw", 9.0, set())


def at_choice(asker: Script, screen: Screen, knowledge: Knowledge) -> object:
    return set_prompt._ask_feature(asker, screen, knowledge, "booster", "none", set())


def at_standing(asker: Script, screen: Screen, knowledge: Knowledge) -> object:
    return set_prompt.ask_stands(asker, screen, Job(knowledge))


AT = [at_list, at_gate, at_features, at_number, at_choice, at_standing]


@pytest.mark.parametrize("ask", AT)
@pytest.mark.parametrize("word", ["?", "help"])
def test_help_is_no_answer_and_says_what_is_expected(
    ask: Callable[[Script, Screen, Knowledge], object], word: str, knowledge: Knowledge
) -> None:
    """? at "Is that right?" became a feature that was not understood, and at a list a refusal."""
    out = Script(by_list([word]))
    with pytest.raises(Stop):
        ask(out, Screen(True, out.out, 100), knowledge)
    assert "x stops" in out.out.getvalue()
    assert "Not taken" not in out.out.getvalue()


@pytest.mark.parametrize("ask", AT)
@pytest.mark.parametrize("word", ["z", "back", "undo"])
def test_back_goes_back(ask: Callable[[Script, Screen, Knowledge], object], word: str, knowledge: Knowledge) -> None:
    out = Script(by_list([word]))
    with pytest.raises(Back):
        ask(out, Screen(True, out.out, 100), knowledge)


@pytest.mark.parametrize("word", ["z", "back", "?", "help"])
def test_no_set_is_called_back_or_help(word: str) -> None:
    """ "back" at the name of the set became its name."""
    out = Script(by_list([word, "north pump"]))
    assert set_prompt.ask_name(out, Screen(True, out.out, 100), {}) == "north pump"
    assert "x stops" in out.out.getvalue()
    with pytest.raises(Stop):
        set_prompt.ask_name(Script(by_list(["x"])), Screen(True, io.StringIO(), 100), {})


def test_where_nothing_is_before_a_question_that_is_said() -> None:
    out = io.StringIO()
    assert choose(Script(by_list(["z", "2"])), Screen(True, out, 100), "", ("one", "two")) == 1
    assert "nothing before this" in out.getvalue()


def test_a_word_for_help_in_the_job_shows_help_and_keeps_nothing(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    job.record("hunts_no_load", "present")
    job.take_off("air_cleaner")
    before = job.standing

    def at_check(session: Session) -> object:
        return check_prompt.ask(session, job.checks["linkage_feel"])

    def at_remedy(session: Session) -> object:
        return remedy_prompt.one(session, "set_idle_mixture", None)

    def at_back_on(session: Session) -> object:
        return putting_back.ready(session, "check", "frequency_no_load", check_prompt.command_of)

    def at_note(session: Session) -> object:
        return check_prompt.stays(session, check_prompt.PromptReply("note"))

    def at_complaint(session: Session) -> object:
        return complaint_prompt.complaint(session, "")

    for at in (at_check, at_remedy, at_back_on, at_note, at_complaint):
        session, script = desk_of(job, by_list(["?"]), tmp_path / at.__name__)
        try:
            given = at(session)
        except Stop:
            assert "x stops" in script.out.getvalue(), at.__name__
            assert "nothing like" not in script.out.getvalue(), at.__name__
        else:
            assert given in ("?", check_prompt.PromptReply("more")), at.__name__
        assert job.standing == before, at.__name__


def test_every_prompt_of_its_own_knows_help_and_back() -> None:
    """Whoever reads a line by itself, and not by choose, confirm or session.ask, names both kinds of words."""
    root = Path(__file__).parents[1] / "cli"
    for path in sorted([*root.glob("jobsite/*.py"), *root.glob("measuring/*.py")]):
        text = path.read_text("utf-8")
        for node in ast.walk(ast.parse(text)):
            if not isinstance(node, ast.FunctionDef):
                continue
            calls = [each for each in ast.walk(node) if isinstance(each, ast.Call)]
            own = [
                each
                for each in calls
                if ast.unparse(each.func) in ("asker.ask", "_typed")
                or (ast.unparse(each.func) == "present" and ast.unparse(each.args[0]) == "asker")
            ]
            for word in ("BACK_WORDS", "HELP_WORDS") if own else ():
                assert word in ast.unparse(node), f"{path.name}: {node.name}"
