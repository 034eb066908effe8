"""What a trainee takes away: the reading that gave it away, and the choice that cost most.

A mechanic's judgement (common practice) is the outside measure: 63.7 Hz with no load is what tells that a speed
adjuster is set too high, not a swing that is steady.
"""

from __future__ import annotations

import io

import pytest

from hertzwright.cli.terminal import Screen
from hertzwright.cli.training import debrief_view
from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.rehearsal import Played
from hertzwright.engine.simulated import Bench
from hertzwright.engine.teaching import LEVELS, PROOF_MOVE, Drill, NextTime, Scenario, debrief
from hertzwright.engine.teaching.scenario import customer_says

NOBODY = Played("", (), (), "fixed", 0.0, ())


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
        ("linkage_binding", ("fuel_in_tank", "linkage_feel", "swing_no_load"), "linkage_feel"),
        ("idle_mixture_lean", ("linkage_feel", "part_choke_trial", "frequency_full_load"), "part_choke_trial"),
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
