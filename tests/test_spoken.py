"""What is typed sloppily: sentences about the visit, words that say nothing, "as it should be", "not known".

Outside: none; the sentences are invented, as the trade says them (common practice, from memory). Most of what is tried
is made of the knowledge's own words.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hertzwright.cli.jobsite import (
    check_prompt,
    complaint_prompt,
    proof_run,
    remedy_prompt,
    set_prompt,
    steps,
    visit_told,
)
from hertzwright.cli.record import rows
from hertzwright.cli.terminal import Page, Screen, finder, prompts
from hertzwright.cli.workshop.phrases import texts_of
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.compiler import spoken
from hertzwright.engine.readings import elsewhere, heard_as, meanings, set_words, visit_command, visit_guess

from technician import by_list, desk_of
from tiers import some

KNOWLEDGE = load_knowledge()
CATALOGUE = KNOWLEDGE.catalogue
JOB = Job(KNOWLEDGE)
PARTS = dict(CATALOGUE.typed.parts)
TOOLS = [tool for tool in CATALOGUE.tools.values() if not tool.states]
SAID = [(each.command, each.of, said) for each in CATALOGUE.typed.sentences for said in each.said]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return KNOWLEDGE


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(SAID), st.data())
def test_every_sentence_of_the_knowledge_is_the_command_that_it_says(
    way: tuple[str, str, str], data: st.DataObject
) -> None:
    """Whatever stands for its parts, with what may be missing and without."""
    command, of, said = way
    said = re.sub(r"\[([^\]]*)\]", lambda match: match[1] if data.draw(st.booleans()) else "", said)

    def filled(match: re.Match[str]) -> str:
        if match[1] == "tool":
            return data.draw(st.sampled_from(TOOLS)).title
        if match[1] in ("thing", "rest"):
            return data.draw(st.sampled_from(["rod", "air cleaner", "governor cover"]))
        return data.draw(st.sampled_from(PARTS[match[1]]))

    text = re.sub(r"\{(\w+)\}", filled, said)
    found = visit_command(CATALOGUE, text, order=command == "order")
    assert found is not None, (said, text)
    if "{thing}" not in said and "{rest}" not in said:  # any words may be part of another sentence
        assert found[0] == command, (said, text)
    if of:
        assert found == (command, of), (said, text)


@pytest.mark.parametrize("tool", TOOLS, ids=lambda tool: tool.id)
def test_every_tool_can_be_told_to_be_away(tool: object) -> None:
    for name in tool.names:  # type: ignore[attr-defined]
        for text in (f"no {name}", f"I haven't got a {name} with me today", f"the {name} is at the shop"):
            assert visit_command(CATALOGUE, text) == ("without", spoken(name)), text


@pytest.mark.parametrize(
    "text",
    ["I am not allowed to load it", "owner says no load on the set", "can't load it today", "he won't let me",
     "we must not put any load on it", "they do not want it loaded", "loading is out of the question"],
)  # fmt: skip
def test_loading_refused_is_understood_however_it_is_said(text: str) -> None:
    assert visit_command(CATALOGUE, text) == ("without", "load")


def test_no_answer_title_or_synonym_is_a_command(knowledge: Knowledge, tmp_path: Path) -> None:
    session, _ = desk_of(Job(knowledge), by_list([]), tmp_path)
    for check in KNOWLEDGE.checks.values():
        for outcome in check.outcomes:
            name = outcome.id.replace("_", " ")
            assert check_prompt.parse(session, name, check) in (name, outcome.id)
            assert visit_told.command(session, name) is None
    for complaint in KNOWLEDGE.complaints.values():
        for text in (complaint.title, *complaint.synonyms):
            assert visit_told.command(session, text) is None, text


AFFIRMED = ("ok", "fine", "good", "normal", "looks ok")


@pytest.mark.parametrize("check", JOB.checks.values(), ids=lambda check: check.id)
def test_an_affirmation_is_the_one_outcome_within_limits_and_said_back(check: object) -> None:
    also = CATALOGUE.costs.also_fine.get(check.id, ())  # type: ignore[attr-defined]
    for text in (*AFFIRMED, "it looks fine", "ok?"):
        ids = [outcome.id for outcome in check.outcomes]  # type: ignore[attr-defined]
        if text in ids:
            continue  # the name of an outcome is an answer as it stands
        ways = meanings(check, text, JOB.features, JOB.checks, CATALOGUE.typed, also)  # type: ignore[arg-type]
        if also:
            continue
        doubt = "?" if text.endswith("?") else ""
        assert [way.answers for way in ways] == [((check.id, ids[0] + doubt),)], text  # type: ignore[attr-defined]
        assert ids[0].replace("_", " ") in ways[0].told


@pytest.mark.parametrize(
    ("check", "text", "answer"),
    [
        ("swing_no_load", "about 2 hz slowly", "2 hz slow_swing"),
        ("swing_no_load", "slow swing of 1 Hz", "1 Hz slow_swing"),
        ("frequency_no_load", "roughly 60", "60"),
        ("frequency_no_load", "it reads about 61.5 Hz steady?", "61.5 Hz?"),
        ("frequency_full_load", "just about 1800 rpm or so", "1800 rpm"),
        ("wide_open_stop_gap", "maybe 1/32 in", "1/32 in"),
    ],
)  # fmt: skip
def test_a_figure_among_words_that_say_nothing(check: str, text: str, answer: str) -> None:
    ways = meanings(JOB.checks[check], text, JOB.features, JOB.checks, CATALOGUE.typed)
    assert [way.answers for way in ways] == [((check, answer),)]
    JOB.understand(check, answer)


READ = sorted(name for name, check in JOB.checks.items() if check.reading is not None and not check.reading.per)


@settings(max_examples=200, deadline=None)
@given(
    st.sampled_from(READ),
    st.lists(st.sampled_from(CATALOGUE.typed.beside), max_size=2),
    st.lists(st.sampled_from(CATALOGUE.typed.beside), max_size=2),
    st.integers(0, 20),
)
def test_words_beside_a_reading_never_change_it(name: str, before: list[str], after: list[str], part: int) -> None:
    reading = JOB.checks[name].reading
    assert reading is not None
    value = f"{reading.lowest + (reading.highest - reading.lowest) * part / 20:.4g}".replace("-0", "0")
    text = " ".join((*before, f"{value} {reading.unit}", *after))
    for way in meanings(JOB.checks[name], text, JOB.features, JOB.checks, CATALOGUE.typed):
        for check, answer in way.answers:
            if check == name:
                assert JOB.understand(name, answer).values == JOB.understand(name, f"{value} {reading.unit}").values


@pytest.mark.parametrize("text", sorted(CATALOGUE.typed.not_known))
def test_not_known_is_not_known_however_it_is_said(text: str, knowledge: Knowledge, tmp_path: Path) -> None:
    session, _ = desk_of(Job(knowledge), by_list([]), tmp_path)
    assert check_prompt.parse(session, text, JOB.checks["fuel_flow"]) == check_prompt.PromptReply("unknown")
    assert check_prompt.parse(session, text, JOB.checks["frequency_no_load"]) == check_prompt.PromptReply("unknown")


def test_not_known_takes_the_option_that_says_so_and_fillers_are_nothing(knowledge: Knowledge, tmp_path: Path) -> None:
    session, _ = desk_of(Job(knowledge), by_list(["dunno", "its gone", "no idea", "1"]), tmp_path)
    answers = ("gone", "still there", "not sure", "not tried yet")
    assert session.choose("Gone?", ("gone", "still there", "not sure")) == 2
    assert session.choose("Gone?", answers[:2]) == 0
    assert session.choose("Which?", ("one", "two")) == 0  # nothing there says so: asked again


def test_y_takes_the_one_thing_that_was_offered_and_only_right_then(knowledge: Knowledge, tmp_path: Path) -> None:
    session, _ = desk_of(Job(knowledge), by_list(["sti", "y", "sti", "1", "y", "2"]), tmp_path)
    assert session.choose("Gone?", ("gone", "still there")) == 1
    assert session.choose("Gone?", ("gone", "still there")) == 0
    assert session.choose("Gone?", ("gone", "still there")) == 1  # y was of the question before
    assert prompts.position("y", ("gone", "still there")) is None


def test_y_takes_an_answer_that_a_check_offered(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, _ = desk_of(job, by_list(["fre", "purple", "y", "fre", "y"]), tmp_path)
    session.record("hunts_no_load", "present")
    assert check_prompt.ask(session, job.checks["linkage_feel"]).command == ""
    assert job.made[-1].answer.outcomes == ("free",)


def test_y_of_an_offer_never_answers_what_is_asked_next(knowledge: Knowledge, tmp_path: Path) -> None:
    """The overspeed that a confirmed reading brings up is asked about by its own question."""
    job = Job(knowledge)
    session, _ = desk_of(job, by_list(["fre", "s", "y", "s"]), tmp_path)
    session.record("hunts_no_load", "present")
    assert check_prompt.ask(session, job.checks["linkage_feel"]).command == "skip"
    assert check_prompt.ask(session, job.checks["spring_look"]).command == "skip"
    assert not job.made


@pytest.mark.parametrize("typed", ["1 2", "1,2", "1 and 2", "1 & 2"])
def test_every_list_that_takes_several_takes_their_numbers(typed: str, knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, _ = desk_of(job, by_list([typed, typed, typed, typed]), tmp_path)
    session.record("sags_under_load", "present")
    visit_told.not_here(session, "")
    assert len(job.absent) == 2
    visit_told.has_come(session, "")
    assert not job.absent
    steps.check_prompt.putting_back.as_found(session, "", None)
    assert len(job.off) == 2
    visit_told.done_before(session, "cleaned the air cleaner and the carburetor")
    assert sum(event.kind in ("before", "taken_off") for event in job.standing) >= 3


def test_a_list_that_takes_several_waits_for_enter(knowledge: Knowledge) -> None:
    """A digit that answers at once would leave the second number to the next question."""
    shown = []

    class Kept:
        def ask(self, prompt: str, words: object = ()) -> str:
            raise AssertionError

        def present(self, page: prompts.Page) -> str:
            shown.append(page)
            return "1 2"

    assert prompts.choose_several(Kept(), Screen(True), "", ("a", "b", "none"), 2) == (0, 1)
    assert not shown[0].at_once


def test_without_is_what_the_question_before_a_remedy_offers() -> None:
    assert "without" in proof_run._LEAVE


def test_heard_as_never_empties_what_was_said() -> None:
    for text in (*CATALOGUE.typed.beside, *CATALOGUE.typed.fillers, "today now here"):
        assert all(heard_as(CATALOGUE.typed, text))


@pytest.mark.parametrize(
    ("asked", "text", "check", "outcome"),
    [
        ("linkage_feel", "black smoke", "exhaust_colour", "black"),
        ("linkage_feel", "it smells of fuel", "fuel_leak_look", "drips"),
        ("frequency_no_load", "the hose is cracked", "hose_look", "hose_cracked"),
        ("spring_look", "vacuum needle flicks down regularly", "vacuum_needle", "flicks_down_regularly"),
    ],
)  # fmt: skip
def test_what_is_seen_in_the_middle_of_a_question_is_said_back_and_kept(
    asked: str, text: str, check: str, outcome: str, knowledge: Knowledge, tmp_path: Path
) -> None:
    ways = elsewhere(JOB.checks[asked], text, JOB.checks, KNOWLEDGE.complaints, CATALOGUE.typed)
    at = [way.answers for way in ways].index(((check, outcome),))
    job = Job(knowledge)
    key = "y" if len(ways) == 1 else str(at + 1)
    session, script = desk_of(job, by_list([text, key, "s"]), tmp_path)
    session.record("hunts_no_load", "present")
    assert check_prompt.ask(session, job.checks[asked]).command == "skip"  # it was asked again
    assert [(made.check, made.answer.outcomes) for made in job.made] == [(check, (outcome,))]
    assert f"Kept: {job.checks[check].title}" in script.out.getvalue()


def test_what_is_seen_elsewhere_is_not_kept_against_a_no(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, _ = desk_of(job, by_list(["black smoke", "n", "s"]), tmp_path)
    session.record("hunts_no_load", "present")
    check_prompt.ask(session, job.checks["linkage_feel"])
    assert not job.made


@pytest.mark.parametrize("name", some(sorted(JOB.checks), 3))
def test_every_outcome_out_of_limits_is_recognised_by_its_own_words_at_another_check(name: str) -> None:
    """Words of the knowledge itself: a title and the name of an outcome."""
    check = JOB.checks[name]
    other = JOB.checks["fuel_bought" if name != "fuel_bought" else "fuel_flow"]
    for outcome in check.outcomes[1:] if check.derived_from is None else ():
        text = f"{check.title}: {outcome.id.replace('_', ' ')}"
        ways = elsewhere(other, text, JOB.checks, KNOWLEDGE.complaints, CATALOGUE.typed)
        if any(letter.isdigit() for letter in text) or meanings(other, text, JOB.features, JOB.checks):
            continue
        assert ((name, outcome.id),) in [way.answers for way in ways] or not ways, text


def test_a_sentence_that_only_holds_the_words_is_asked_about(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    answers = ["the load bank is on another job", "y", "they had the points filed last week", "n", "s"]
    session, _ = desk_of(job, by_list(answers), tmp_path)
    session.record("hunts_no_load", "present")
    assert check_prompt.ask(session, job.checks["linkage_feel"]).command == "skip"
    assert job.absent == ("load_bank",)


def test_no_phrase_of_a_customer_that_is_found_is_guessed_to_be_of_the_visit() -> None:
    texts, same = texts_of(KNOWLEDGE), CATALOGUE.same_words
    for phrase in CATALOGUE.phrases.values():
        if phrase.means and finder.scored(phrase.said, texts, 1, same)[0][1] >= finder.SURE:
            continue
        assert not phrase.means or visit_guess(CATALOGUE, phrase.said) is None, phrase.said


# ---- several things in one line


@pytest.mark.parametrize("name", sorted(CATALOGUE.features))
def test_every_choice_of_every_feature_is_understood_by_its_own_words(name: str) -> None:
    feature = CATALOGUE.features[name]
    if feature.kind == "number":
        text = f"{feature.title} {feature.default:g} {feature.unit}"
        assert [word.may_be for word in set_words(text, CATALOGUE.features)] == [((name, feature.default),)]
        return
    for choice in feature.choices:
        spelled = choice.replace("_", " ")
        assert [word.may_be for word in set_words(f"{feature.title} {spelled}", CATALOGUE.features)] == [
            ((name, choice),)
        ]
    if "none" in feature.choices:
        assert [word.may_be for word in set_words(f"no {feature.title}", CATALOGUE.features)] == [((name, "none"),)]


def test_features_in_one_line_at_the_start() -> None:
    out = io.StringIO()
    lines = iter(["booster, manual choke, gas, 5 kw, single cylinder, purple", "1", "1"])

    class Asker:
        def ask(self, prompt: str, words: object = ()) -> str:
            return next(lines)

    found = set_prompt.ask_features(Asker(), Screen(True, out, 80), KNOWLEDGE, {})
    assert (found["booster"], found["choke"], found["fuel"]) == ("vacuum", "manual", "gasoline")  # gas was asked about
    assert (found["rated_kw"], found["cylinders"]) == (5.0, 1.0)
    assert '"purple": not understood' in out.getvalue()


def test_features_to_change_are_taken_by_several_numbers() -> None:
    lines = iter(["2", "1 2", "2", "50", ""])  # 2 is two poles, not the second answer

    class Asker:
        def ask(self, prompt: str, words: object = ()) -> str:
            return next(lines)

    found = set_prompt.ask_features(Asker(), Screen(True, io.StringIO(), 80), KNOWLEDGE, {})
    assert (found["poles"], found["hertz"]) == (2.0, 50.0)


def test_what_one_line_says_of_trouble_and_visit_is_all_kept(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    line = "hunts with no load, no load bank, and the owner cleaned the air filter"
    session, _ = desk_of(job, by_list([line, "1", "1", ""]), tmp_path)
    complaint_prompt.complaint(session, "")
    kept = {(event.kind, event.id) for event in job.standing}
    assert {("not_here", "load_bank"), ("before", "clean_air_cleaner"), ("complaint", "hunts_no_load")} <= kept


# ---- where it stands, typed at a remedy


@pytest.mark.parametrize(
    ("remedy", "text", "check"),
    [("set_idle_mixture", "7/8 turn", "idle_needle_turns"), ("set_main_mixture", "1 1/4 turns out", "main_needle_turns"),
     ("set_wide_open_stop", "about 1/32 in", "wide_open_stop_gap")],
)  # fmt: skip
def test_where_a_setting_stands_is_kept_as_found_and_as_left(
    remedy: str, text: str, check: str, knowledge: Knowledge, tmp_path: Path
) -> None:
    job = Job(knowledge)
    session, script = desk_of(job, by_list([text, "1", text, "2"]), tmp_path)
    session.as_found_offered = True
    session.record("hunts_no_load", "present")
    given = remedy_prompt._action(session, Page(), knowledge.remedies[remedy], ())
    assert given.command == ""
    assert given.rest.startswith(check)
    assert [made.check for made in job.made] == [check]
    session.carry_out(remedy)
    remedy_prompt._keep_reading(session, *given.rest.split("="), "as left")
    line = next(row for row in rows(job) if row.check == check)
    assert line.found
    assert line.left
    assert "as found" in script.out.getvalue()
    assert "as left" in script.out.getvalue()


@pytest.mark.parametrize("text", ["its running", "it is cold", "running now", "stopped and cold"])
def test_how_it_stands_is_heard_among_words_that_say_nothing(text: str) -> None:
    class Asker:
        def ask(self, prompt: str, words: object = ()) -> str:
            return text

    job = Job(KNOWLEDGE)
    set_prompt.ask_stands(Asker(), Screen(True, io.StringIO(), 80), job)
    assert job.standing[-1].kind == "stands"
