"""What a trainee takes away: the reading that gave it away, and the choice that cost most.

A mechanic's judgement (common practice) is the outside measure: 63.7 Hz with no load is what tells that a speed
adjuster is set too high, not a swing that is steady.
"""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest

from hertzwright.cli.terminal import Screen
from hertzwright.cli.training import debrief_view, drill_view
from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.rehearsal import Played, PlayedStep
from hertzwright.engine.simulated import Bench
from hertzwright.engine.teaching import (
    LEVELS,
    PROOF_MOVE,
    Drill,
    NextTime,
    Scenario,
    debrief,
    program_path,
    rules_broken,
)
from hertzwright.engine.teaching.customer import customer_says

NOBODY = Played("", (), (), "fixed", 0.0, ())
NIGHTLY = pytest.mark.nightly


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def worked(knowledge: Knowledge, faults: tuple[tuple[str, float], ...], *steps: str, level: int = 1) -> Drill:
    """A drill with every caution met, these steps done, and given up."""
    features = knowledge.features()
    said = customer_says(knowledge, Bench(features, faults, 1, 0.0))
    drill = Drill(knowledge, Scenario("own", LEVELS[level], features, faults, 0.0, said[:1]))
    if drill.safety.held:
        drill.job.secure("test")
    drill.safety.met.update((*knowledge.catalogue.cautions, *drill.steps))
    for name in steps:
        drill.make_safe(name)
        drill.check(name) if name in drill.checks else drill.remedy(name)
    drill.make_safe(PROOF_MOVE)
    drill.give_up()
    return drill


def test_the_reading_that_is_wrong_gave_it_away_and_not_one_that_is_right(knowledge: Knowledge) -> None:
    """The complaint says "runs fast" already, so that belief moves more at a steady swing than at 63 Hz read."""
    drill = worked(knowledge, (("speed_set_high", 0.6),), "swing_no_load", "frequency_no_load", "linkage_feel")
    found = debrief(drill, played=NOBODY)
    (told,) = found.gave_away
    assert told.check == "frequency_no_load"
    assert told.after > told.before
    assert told.weight > 0.4
    assert "frequency_no_load" not in [each.check for each in found.told_nothing]
    out = io.StringIO()
    debrief_view.lead(Screen(True, out, 100), knowledge, drill.dealt, found)
    assert "What gave it away: frequency with no load" in out.getvalue()


@pytest.mark.parametrize(
    ("cause", "steps", "check"),
    [
        ("choke_stuck_open", ("linkage_feel", "choke_plate_cold", "popping_cold"), "choke_plate_cold"),
        pytest.param(
            "linkage_binding", ("fuel_in_tank", "linkage_feel", "swing_no_load"), "linkage_feel", marks=NIGHTLY
        ),
        pytest.param(
            "idle_mixture_lean",
            ("linkage_feel", "part_choke_trial", "frequency_full_load"),
            "part_choke_trial",
            marks=NIGHTLY,
        ),
    ],
)
def test_what_gave_a_plain_fault_away_is_what_a_mechanic_would_name(
    knowledge: Knowledge, cause: str, steps: tuple[str, ...], check: str
) -> None:
    found = debrief(worked(knowledge, ((cause, 0.8),), *steps), played=NOBODY)
    assert [each.check for each in found.gave_away] == [check]


def test_the_costliest_choice_stands_beside_what_could_have_hurt(knowledge: Knowledge) -> None:
    drill = worked(knowledge, (("idle_mixture_lean", 0.7),), "linkage_feel")
    fresh = Drill(knowledge, drill.dealt)
    fresh.check("frequency_full_load")  # unsafe, not done
    fresh.safety.met.update((*knowledge.catalogue.cautions, *fresh.steps))
    for name in ("swing_no_load", "overhaul_governor", "set_idle_mixture"):
        fresh.make_safe(name)
        fresh.check(name) if name in fresh.checks else fresh.remedy(name)
    fresh.make_safe(PROOF_MOVE)
    fresh.finish()
    found = debrief(fresh, played=NOBODY)
    safe, choice = found.next_time
    assert safe == NextTime("safe", "frequency_full_load")
    assert choice.kind in ("needless", "choice")
    assert "overhaul_governor" in (choice.id, choice.instead)
    assert choice.cost >= 60.0
    out = io.StringIO()
    debrief_view.lead(Screen(True, out, 40), knowledge, fresh.dealt, found)
    text = " ".join(out.getvalue().split())
    assert "Next time: before frequency at full load" in text
    assert "And: " in text


# ---- what is said of a step


def told(knowledge: Knowledge, drill: Drill, width: int = 100) -> str:
    out = io.StringIO()
    drill_view.feedback(Screen(False, out, width), drill)
    return " ".join(out.getvalue().split())


def test_what_the_program_itself_would_propose_is_never_called_out_of_order(knowledge: Knowledge) -> None:
    """A set that may run away is not run for the record, so nothing waits for its readings."""
    drill = worked(knowledge, (("flyweights_sticking", 0.8),))
    drill.verdict = None
    for _ in range(3):
        belief = drill.belief()
        for step in drill.advice(len(drill.job.events), 0):
            if step.kind in ("check", "remedy"):
                assert not rules_broken(drill.job, step.id, belief), step.id
        best = drill.advice(len(drill.job.events), 0)[0]
        drill.make_safe(best.id)
        drill.check(best.id) if best.kind == "check" else drill.remedy(best.id)


def test_a_step_out_of_order_says_what_it_takes_off_and_what_comes_before(knowledge: Knowledge) -> None:
    drill = worked(knowledge, (("idle_mixture_lean", 0.7),), "throttle_reaches_full")
    drill.verdict = None
    text = told(knowledge, drill)
    assert "It takes this off: governor-to-throttle rod." in text
    assert "Before it comes: frequency with no load, swing with no load." in text


def test_after_a_proof_run_that_passed_nothing_is_expected_any_more(knowledge: Knowledge) -> None:
    drill = worked(knowledge, (("idle_mixture_lean", 0.7),), "linkage_feel", "set_idle_mixture")
    drill.verdict = None
    drill.make_safe(PROOF_MOVE)
    drill.prove()
    text = told(knowledge, drill)
    assert "It is proven, after " in text
    assert "more to fixed and proven" not in text


def test_how_belief_moved_is_said_on_a_phone_too(knowledge: Knowledge) -> None:
    drill = worked(knowledge, (("idle_mixture_lean", 0.7),), "swing_no_load", "frequency_no_load")
    drill.verdict = None
    assert "(was " in told(knowledge, drill, 40)
    assert not re.search(r"[\u2588\u2591#.]under", told(knowledge, drill, 100))


def test_the_path_of_the_program_says_what_its_answers_told(knowledge: Knowledge) -> None:
    """ "61.8 Hz. Why: if low points to ..." told what another answer would have said."""
    drill = worked(knowledge, (("idle_mixture_lean", 0.7),), "linkage_feel")
    found = debrief(drill, played=program_path(knowledge, drill.dealt, 0))
    assert any(found.told)
    out = io.StringIO()
    debrief_view._paths(Screen(True, out, 100), knowledge, found)
    for at, move in enumerate(found.engine.moves[: len(found.told)]):
        row = next(
            line
            for line in " ".join(out.getvalue().split()).split(f"{at + 1}. ")
            if drill_view.titled(knowledge, move.id) in line
        )
        assert "It told" in row
    assert " If " not in out.getvalue().partition("The program's path")[2].partition("It told: ")[2].splitlines()[0]


def test_what_the_trainee_read_himself_is_not_told_as_unread(knowledge: Knowledge) -> None:
    """The program reads the same swing earlier, when it weighs a little more: it stays the trainee's reading."""
    drill = worked(knowledge, (("sensitivity_sharp", 0.7),), "linkage_by_hand", "swing_no_load")
    found = debrief(drill, played=program_path(knowledge, drill.dealt, 0))
    own = next((each for each in found.gave_away if each.check == "swing_no_load"), None)
    assert own is None or own.at is not None
    assert NextTime("look", "swing_no_load") not in found.next_time
    assert "It bears out what was known" in told(knowledge, drill)


def test_who_beat_the_program_is_told_of_no_shorter_way(knowledge: Knowledge) -> None:
    drill = worked(knowledge, (("sensitivity_sharp", 0.7),), "swing_no_load", "fuel_sample", "exhaust_back_pressure")
    drill.verdict = None
    slow = Played("", (), (), "fixed", 0.0, (PlayedStep("remedy", "overhaul_governor", "passed", 1000.0),))
    for name in ("linkage_feel", "set_sensitivity"):
        drill.make_safe(name)
        drill.check(name) if name in drill.checks else drill.remedy(name)
    drill.make_safe(PROOF_MOVE)
    drill.finish()
    assert debrief(drill, played=NOBODY).next_time[-1].kind == "choice"
    found = debrief(drill, played=slow)
    assert found.better > 1.0
    assert "choice" not in [each.kind for each in found.next_time]
    out = io.StringIO()
    debrief_view.lead(Screen(True, out, 40), knowledge, drill.dealt, found)
    assert "You did better than the program, by" in " ".join(out.getvalue().split())
    same = Played("", (), (), "fixed", 0.0, (PlayedStep("done", "", "passed", found.minutes),))
    out = io.StringIO()
    debrief_view.lead(Screen(True, out, 40), knowledge, drill.dealt, debrief(drill, played=same))
    assert "better than the program" not in " ".join(out.getvalue().split())


def test_a_reading_that_left_the_cause_unlikely_did_not_give_it_away(knowledge: Knowledge) -> None:
    drill = worked(knowledge, (("sensitivity_sharp", 0.7),), "swing_no_load")
    found = debrief(drill, played=NOBODY)
    for chance, words in ((0.04, "What spoke for it most: "), (0.3, "What gave it away: ")):
        one = replace(found, gave_away=(replace(found.gave_away[0], after=chance),))
        out = io.StringIO()
        debrief_view.lead(Screen(True, out, 100), knowledge, drill.dealt, one)
        assert words in out.getvalue()
