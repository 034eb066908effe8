"""Drills: what is dealt, the machine that takes moves, its clock, and what is called out."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Collection
from dataclasses import replace

import pytest

from hertzwright.cli.terminal.screen import Screen
from hertzwright.cli.training import debrief_view, drill_view
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.rehearsal.played_job import Played
from hertzwright.engine.rehearsal.virtual_set import BenchSet
from hertzwright.engine.simulated import COLLAPSES, FAULTS, STALLS, TRIPS
from hertzwright.engine.simulated.bench import Bench
from hertzwright.engine.teaching.customer import customer_says
from hertzwright.engine.teaching.dealing import new_scenario, pick, seed_with
from hertzwright.engine.teaching.debrief import debrief, program_path
from hertzwright.engine.teaching.drill import (
    FAULT_LEFT,
    FIXED,
    GIVEN_UP,
    HINT_MINUTES,
    NOT_FIXED,
    PROOF_MOVE,
    REFERRED,
    RUNGS,
    Drill,
    DrillMove,
    DrillVerdict,
)
from hertzwright.engine.teaching.drill_set import DrillSet, sound_set_passes
from hertzwright.engine.teaching.made_up import DrillError
from hertzwright.engine.teaching.scenario import LEVELS, Scenario
from hertzwright.engine.teaching.score import NOT_PROVEN, PARTS, DrillScore, score
from hertzwright.engine.teaching.takeaway import NextTime

from tiers import some

NOBODY = Played("", (), (), "fixed", 0.0, ())
"""A path of the program that nobody played."""

DEFAULTS: dict[str, str] = {}


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def dealt(knowledge: Knowledge, *faults: tuple[str, float], hide: float = 0.0, level: int = 1, **set_: str) -> Scenario:
    """A drill of our own choice, with what its customer can truly say."""
    features = knowledge.features(set_)
    said = customer_says(knowledge, Bench(features, faults, 1, hide))
    urgent = tuple(name for name in said if knowledge.complaints[name].stop_first)
    return Scenario("own", LEVELS[level], features, faults, hide, urgent or said[:1])


def ready(knowledge: Knowledge, *faults: tuple[str, float], **more: str) -> Drill:
    """A drill with every caution met, so that a test can be about something else."""
    drill = Drill(knowledge, dealt(knowledge, *faults, **more))
    if drill.safety.held:
        drill.job.secure("test")
    drill.safety.met.update((*knowledge.catalogue.cautions, *drill.steps))
    return drill


# ---- what is dealt


@pytest.mark.parametrize("level", some(LEVELS, 3))
@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.nightly) for seed in (1, 2))])
def test_a_drill_is_one_that_can_be_met(knowledge: Knowledge, level: int, seed: int) -> None:
    drill = new_scenario(knowledge, seed, level, solved=False)
    grade = LEVELS[level]
    assert len(drill.truth) == grade.faults == len(set(drill.truth))
    for cause, severity in drill.faults:
        assert knowledge.causes[cause].prior(drill.features) > 0.0
        assert grade.severity[0] <= severity <= grade.severity[1]
    assert grade.hide[0] <= drill.hide <= grade.hide[1]
    assert sound_set_passes(knowledge, drill.features)
    found = BenchSet(knowledge, drill.bench)
    assert drill.complaints
    assert all(found.shows(complaint) for complaint in drill.complaints)
    assert not DrillSet(knowledge, drill).prove()
    # Of two faults each shows by itself in something that is said; otherwise a set would pass its proof run with the
    # other in it, and nobody could have known. Before, 6 of 16 sets with two faults came back so. It shows in other
    # runs of the set too, as it will in a proof run after a repair that was none.
    for fault in drill.faults:
        for steps in (0, 1, 2):
            alone = BenchSet(knowledge, Bench(drill.features, (fault,), drill.bench.seed, drill.hide, steps=steps))
            assert any(alone.shows(name) for name in drill.complaints), (fault, steps)


@pytest.mark.nightly
def test_the_same_seed_deals_the_same_in_another_process(knowledge: Knowledge) -> None:
    script = (
        "from hertzwright.engine import load_knowledge\n"
        "from hertzwright.engine.teaching.dealing import new_scenario\n"
        "from hertzwright.engine.teaching.drill import Drill\n"
        "known = load_knowledge()\n"
        "for level in (4,):\n"
        "    drill = Drill(known, new_scenario(known, 5, level, solved=False)); drill.safety.held and drill.shut_down()\n"
        "    drill.safety.met.update((*known.catalogue.cautions, *drill.steps))\n"
        "    print(drill.dealt.features, drill.dealt.faults, drill.dealt.hide, drill.dealt.complaints)\n"
        "    print([(drill.make_safe(name), drill.check(name).answer)[1] for name in list(drill.checks)[:12]], drill.minutes)\n"
    )
    found = [
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": salt},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for salt in ("1", "2")
    ]
    assert found[0] == found[1]
    here = new_scenario(knowledge, 5, 4, solved=False)
    assert str(here.faults) in found[0]


def test_seeds_deal_different_drills(knowledge: Knowledge) -> None:
    picked = {pick(knowledge, str(seed), LEVELS[1])[1] for seed in range(120)}
    assert len(picked) >= 30


def test_what_was_asked_for_is_dealt(knowledge: Knowledge) -> None:
    assert "booster_diaphragm_leak" in new_scenario(knowledge, 1, 3, cause="booster_diaphragm_leak", solved=False).truth
    drill = new_scenario(knowledge, 2, 1, areas=("mixture",), given={"booster": "none", "hertz": "50"}, solved=False)
    assert knowledge.causes[drill.truth[0]].area == "mixture"
    assert drill.features["booster"] == "none"
    assert drill.features["hertz"] == 50


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"level": 5}, "no level 5; expected 1, 2, 3, 4"),
        ({"cause": "linkage_bindin"}, '"linkage_bindin"; did you mean'),
        ({"areas": ("linkag",)}, '"linkag"; did you mean'),
        ({"cause": "booster_diaphragm_leak", "given": {"booster": "none"}}, "no set was found"),
        # Its remedy takes as long as handing over, so that the right end of it is no repair; before, it was looked for
        # in 24 sets to their ends.
        ({"cause": "bearings_loose"}, "bearings_loose belongs in the shop"),
    ],
)
def test_what_cannot_be_dealt_is_said(knowledge: Knowledge, wish: dict[str, object], words: str) -> None:
    with pytest.raises(DrillError, match=words):
        new_scenario(knowledge, 1, **wish)  # type: ignore[arg-type]


def test_a_seed_is_found_for_a_cause(knowledge: Knowledge) -> None:
    seed = seed_with(knowledge, 100, 1, "linkage_worn")
    assert seed is not None
    assert seed >= 100
    assert new_scenario(knowledge, seed, 1).truth == ("linkage_worn",)


def test_a_reed_meter_shows_half_hertz(knowledge: Knowledge) -> None:
    old = DrillSet(knowledge, dealt(knowledge, ("speed_set_high", 0.5), level=4))
    new = DrillSet(knowledge, dealt(knowledge, ("speed_set_high", 0.5), level=1))
    shown, true = (float(each.answer("frequency_no_load").split()[0]) for each in (old, new))
    assert shown * 2 == round(shown * 2)
    assert abs(shown - true) <= 0.25 + 1e-9
    assert old.answer("swing_no_load") == new.answer("swing_no_load")


# ---- the machine


def test_the_clock_is_that_of_a_job(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("idle_mixture_lean", 0.7))
    job = Job(knowledge, drill.dealt.features)
    for name in drill.dealt.complaints:
        job.record(name, "present")
    for name in ("linkage_feel", "swing_no_load", "hold_throttle_still", "frequency_full_load"):
        drill.make_safe(name)  # puts the rod back, which a job takes for granted
        job.record(name, drill.check(name).answer)
        assert drill.minutes == job.minutes
    assert drill.hint(deepen=0) is not None
    drill.remedy("set_idle_mixture")
    assert drill.prove().answer == "passed"
    job.carry_out("set_idle_mixture", "cured")
    assert drill.minutes == job.minutes + HINT_MINUTES
    assert drill.moves[-1].minutes == drill.minutes
    assert sum(move.spent for move in drill.moves) == pytest.approx(drill.minutes)
    assert drill.finish() == DrillVerdict(FIXED, (), (), (), drill.minutes)


def test_belief_is_that_of_a_job(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("linkage_worn", 0.8))
    job = Job(knowledge, drill.dealt.features)
    job.record(drill.dealt.complaints[0], "present")
    assert drill.start == job.posterior()
    move = drill.check("linkage_feel")
    job.record("linkage_feel", move.answer)
    assert move.belief == job.posterior()


@pytest.mark.parametrize("every", [5, pytest.param(1, marks=pytest.mark.nightly)])
def test_every_check_answers(knowledge: Knowledge, every: int) -> None:
    for faults in (("booster_set_strong", 0.9),):
        drill = ready(knowledge, faults)
        for name in [*drill.checks][::every]:
            drill.make_safe(name)  # what an earlier check took off goes back on
            move = drill.check(name)
            assert move.kind == "check"
            assert move.answer == "unknown" or set(move.outcomes) <= set(knowledge.checks[name].outcomes)
        assert not any(each.derived_from for each in drill.checks.values())


@pytest.mark.parametrize("seed", [0, pytest.param(13, marks=pytest.mark.nightly)])
def test_to_follow_the_program_is_to_take_its_minutes(knowledge: Knowledge, seed: int) -> None:
    drill = Drill(knowledge, new_scenario(knowledge, seed, 1, solved=False))
    drill.safety.met.update((*knowledge.catalogue.cautions, *drill.steps))
    while not drill.over:
        if drill.safety.held:
            drill.shut_down()
        step = drill.job.next_steps(1, 0)[0]
        if step.kind in ("check", "remedy"):
            drill.make_safe(step.id)  # what must be back on goes back on
        if step.kind == "check":
            drill.check(step.id)
        elif step.kind == "remedy":
            drill.remedy(step.id)
            drill.make_safe(PROOF_MOVE)
            drill.prove()
        elif step.kind == "done":
            drill.make_safe(PROOF_MOVE)
            drill.finish()
        else:
            drill.refer()
    played = program_path(knowledge, drill.dealt, deepen=0)
    assert drill.minutes == played.moves[-1].minutes
    assert drill.verdict is not None
    assert drill.verdict.end == {"fixed": FIXED, "came back": FAULT_LEFT, "referred": REFERRED}[played.end]


def test_to_call_it_fixed_is_to_prove_it(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("idle_mixture_lean", 0.7))
    verdict = drill.finish()
    assert isinstance(verdict, DrillVerdict)
    assert verdict.end == NOT_FIXED
    assert verdict.left == ("idle_mixture_lean",)
    assert verdict.still == drill.dealt.complaints
    assert not drill.over
    costs = knowledge.catalogue.costs
    assert drill.minutes == costs.moves[costs.start_state, costs.proof_state] + costs.proof
    drill.remedy("set_idle_mixture")
    again = drill.finish()
    assert isinstance(again, DrillVerdict)
    assert again.end == FIXED
    with pytest.raises(DrillError, match="over"):
        drill.check("linkage_feel")


def test_a_fault_that_a_proof_run_does_not_show_is_not_called_none(knowledge: Knowledge) -> None:
    features = knowledge.features(DEFAULTS)
    drill = Drill(
        knowledge,
        Scenario(
            "own", LEVELS[3], features, (("idle_mixture_lean", 0.7), ("choke_stuck_open", 0.6)), 0.0, ("hunts_no_load",)
        ),
    )
    drill.safety.met.update((*knowledge.catalogue.cautions, *drill.steps))
    drill.remedy("set_idle_mixture")
    verdict = drill.finish()
    assert isinstance(verdict, DrillVerdict)
    assert verdict.end == FAULT_LEFT
    assert verdict.left == ("choke_stuck_open",)


def test_handing_over_has_its_price(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("idle_mixture_lean", 0.7))
    drill.check("linkage_feel")
    verdict = drill.refer()
    assert verdict.end == REFERRED
    assert verdict.minutes == drill.minutes + knowledge.catalogue.costs.refer
    assert ready(knowledge, ("idle_mixture_lean", 0.7)).give_up().end == GIVEN_UP


def test_wrong_names_are_refused_and_change_nothing(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("idle_mixture_lean", 0.7))
    for call, words in (
        (lambda: drill.check("linkage_fel"), "did you mean"),
        (lambda: drill.check("free_linkage"), "is a remedy"),
        (lambda: drill.remedy("linkage_feel"), "is a check"),
        (lambda: drill.check("frequency_spread"), "no check or remedy"),
    ):
        with pytest.raises(DrillError, match=words):
            call()
    assert not drill.moves


# ---- safety


def test_an_unsafe_step_is_called_out_before_anything_is_done(knowledge: Knowledge) -> None:
    drill = Drill(knowledge, dealt(knowledge, ("sensitivity_sluggish", 0.9)))
    states = knowledge.catalogue.states
    for name, step in drill.steps.items():
        drill.safety.met.clear()
        before = (drill.minutes, len(drill.job.events), drill.set.bench)
        hurts = step.dangerous or "rotating_parts" in states[step.state].cautions
        if not hurts:
            assert not drill.safety.dangers(name)
            continue
        move = drill.check(name) if name in drill.checks else drill.remedy(name)
        assert move.kind == "unsafe", name
        named = {caution for danger in move.dangers for caution in danger.cautions}
        assert named >= set(states[step.state].cautions if drill.job.runs(step.state) else step.cautions)
        assert before == (drill.minutes, len(drill.job.events), drill.set.bench)
        drill.make_safe(name)
        assert not drill.safety.dangers(name)


def test_a_load_asks_for_isolation_from_the_supply(knowledge: Knowledge) -> None:
    drill = Drill(knowledge, dealt(knowledge, ("sensitivity_sluggish", 0.9)))
    drill.make_safe()
    assert drill.check("frequency_no_load").kind == "check"
    move = drill.check("frequency_full_load")
    assert move.kind == "unsafe"
    assert "backfeed" in move.dangers[0].cautions
    assert "carbon_monoxide" not in move.dangers[0].cautions  # met before
    assert drill.prove().kind == "unsafe"
    assert isinstance(drill.finish(), DrillMove)
    drill.make_safe(PROOF_MOVE)
    assert drill.prove().kind == "proof"


def test_a_dangerous_step_is_acknowledged_for_itself(knowledge: Knowledge) -> None:
    drill = Drill(knowledge, dealt(knowledge, ("idle_mixture_lean", 0.7)))
    drill.make_safe()
    dangerous = next(name for name, check in drill.checks.items() if check.dangerous and check.state == "warm_no_load")
    move = drill.check(dangerous)
    assert [danger.kind for danger in move.dangers] == ["step"]
    assert move.dangers[0].cautions == drill.checks[dangerous].cautions


def test_nothing_runs_after_an_overspeed_until_it_is_shut_down(knowledge: Knowledge) -> None:
    drill = Drill(knowledge, dealt(knowledge, ("governor_spring_misplaced", 0.5), booster="none"))
    if "overspeeds" not in drill.dealt.complaints:
        drill = Drill(knowledge, dealt(knowledge, ("speed_set_high", 1.0)))
    assert drill.dealt.complaints == ("overspeeds",)
    drill.make_safe()
    move = drill.check("frequency_no_load")
    assert move.dangers[0].kind == "held"
    assert "overspeed" in move.dangers[0].cautions
    assert drill.check("linkage_feel").kind == "check"  # stopped
    assert drill.shut_down()
    assert not drill.shut_down()
    drill.make_safe("frequency_no_load")  # the rod goes back on
    # The reading says so again, and holds it again.
    assert drill.check("frequency_no_load").outcomes == ("very_high",)
    assert drill.check("swing_no_load").dangers[0].kind == "held"


def test_hands_stay_out_of_a_running_set(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("linkage_binding", 0.8))
    drill.check("frequency_no_load")
    move = drill.remedy("free_linkage", as_it_stands=True)
    assert [danger.kind for danger in move.dangers] == ["running"]
    assert "rotating_parts" in move.dangers[0].cautions
    assert drill.set.faults == {"linkage_binding"}
    with pytest.raises(DrillError, match="needs the set running warm, loaded, and it is running warm, no load"):
        drill.check("frequency_full_load", as_it_stands=True)
    assert drill.check("swing_no_load", as_it_stands=True).kind == "check"
    assert drill.remedy("free_linkage").kind == "remedy"


# ---- how good the engine's own path is


@pytest.mark.nightly
def test_the_engine_fixes_most_drills_of_the_first_level(knowledge: Knowledge) -> None:
    # One step deep and few drills, so that it is quick; on the first 40 seeds it fixes 35 (88 %).
    ends = [
        program_path(knowledge, new_scenario(knowledge, seed, 1, solved=False), deepen=0).end
        for seed in (0, 3, 9, 11, 13, 16, 19, 29)
    ]
    assert ends.count("fixed") >= 6


def test_a_set_does_not_run_with_the_rod_off(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("idle_mixture_lean", 0.7))
    drill.check("linkage_feel")
    before = drill.minutes
    move = drill.check("swing_no_load")
    assert (move.kind, [danger.kind for danger in move.dangers]) == ("unsafe", ["off"])
    assert move.dangers[0].fittings == ("rod",)
    assert "overspeed" in move.dangers[0].cautions
    assert drill.minutes == before
    drill.make_safe("swing_no_load")
    assert drill.minutes == before + knowledge.catalogue.fittings["rod"].minutes
    assert drill.check("swing_no_load").kind == "check"


def test_a_breaker_that_trips_takes_no_load_until_it_is_reset(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("legs_unbalanced", 0.9))
    move = drill.prove()
    assert (move.did, move.answer) == (TRIPS, "failed")
    with pytest.raises(DrillError, match="the breaker has tripped, and no load goes on; reset closes it again"):
        drill.check("frequency_full_load")
    assert drill.check("frequency_no_load").kind == "check"
    spent = drill.minutes
    assert drill.reset()
    assert not drill.reset()
    assert drill.minutes == spent
    move = drill.check("frequency_full_load")
    assert move.kind == "check"
    assert move.outcomes  # read before it could trip
    drill.make_safe("balance_legs")
    drill.remedy("balance_legs")
    drill.make_safe(PROOF_MOVE)
    assert drill.prove().did == ""


def test_it_is_said_whether_the_engine_stalls_or_the_field_is_gone(knowledge: Knowledge) -> None:
    for excitation, did, words in (("brushes", COLLAPSES, "volts are gone"), ("brushless", STALLS, "stalls under it")):
        drill = ready(knowledge, ("main_mixture_lean", 1.0), excitation=excitation)
        drill.make_safe("frequency_full_load")
        move = drill.check("frequency_full_load")
        assert move.did == did
        assert move.outcomes == ("very_low",)
        out = io.StringIO()
        drill_view.outcome_of_move(Screen(True, out, 40), drill, move)
        assert words in " ".join(out.getvalue().split())
        assert "nothing on the meter" in " ".join(out.getvalue().split())
        volts = drill.check("voltage_full_load").answer
        assert float(volts.split()[0]) <= 0.06 * float(str(drill.dealt.features["volts"]))


# ---- hints, feedback, guesses


def hint_steps(drill: Drill) -> list[str]:
    return [move.rung for move in drill.moves if move.kind == "hint"]


def test_a_hint_fades_and_asked_twice_costs_once(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("idle_mixture_lean", 0.7))
    first = drill.hint(deepen=0, rung="area")
    assert drill.minutes == RUNGS["area"]
    for _ in range(3):
        assert drill.hint(deepen=0, rung="area") == first
    assert drill.minutes == RUNGS["area"]
    for rung in ("kind", "step", "reason", "reason", "area"):
        assert drill.hint(deepen=0, rung=rung) == first
    assert drill.minutes == HINT_MINUTES == sum(RUNGS.values())
    assert hint_steps(drill) == list(RUNGS)
    assert drill.hints == 1
    assert first is not None
    drill.make_safe(first.id)
    assert drill.hint(deepen=0) == first  # nothing was found since
    assert drill.hint_minutes == HINT_MINUTES
    drill.check(first.id)
    assert drill.hint(deepen=0) != first
    assert drill.hint_minutes == 2 * HINT_MINUTES
    with pytest.raises(DrillError, match='"loud" is no rung of a hint; expected area, kind'):
        drill.hint(rung="loud")


@pytest.mark.parametrize("seed", [1, *(pytest.param(seed, marks=pytest.mark.nightly) for seed in range(2, 12))])
def test_what_is_said_of_a_step_never_scolds_what_a_hint_gave(knowledge: Knowledge, seed: int) -> None:
    """Before, the one looked four steps deep and the other two: 19 of 138 steps were scolded for obeying."""
    drill = Drill(knowledge, new_scenario(knowledge, seed, 1, solved=False))
    drill.safety.met.update((*knowledge.catalogue.cautions, *drill.steps))
    most = 4 if seed == 1 else 40
    while not drill.over and most:
        most -= 1
        if drill.safety.held:
            drill.shut_down()
        step = drill.hint()
        if step is None or step.kind in ("done", "refer"):
            break
        drill.make_safe(step.id)
        drill.check(step.id) if step.kind == "check" else drill.remedy(step.id)
        out = io.StringIO()
        drill_view.feedback(Screen(True, out, 100), drill)
        assert "The program would have done the same." in out.getvalue()
        assert "Out of order" not in out.getvalue()


def test_a_guess_is_held_against_the_reading(knowledge: Knowledge) -> None:
    drill = ready(knowledge, ("idle_mixture_lean", 0.7))
    drill.predict("part_choke_trial", "smooths_out")
    drill.make_safe("part_choke_trial")
    move = drill.check("part_choke_trial")
    assert move.predicted == "smooths_out"
    assert move.foretold is (move.answer == "smooths_out")
    assert drill.check("part_choke_trial").foretold is None
    with pytest.raises(DrillError, match='"quiet" is no outcome of part_choke_trial; expected no_change'):
        drill.predict("part_choke_trial", "quiet")
    with pytest.raises(DrillError, match="is a remedy"):
        drill.predict("set_idle_mixture", "cured")


def test_cautions_are_chosen_from_a_list_and_what_is_left_out_is_kept(knowledge: Knowledge) -> None:
    drill = Drill(knowledge, dealt(knowledge, ("idle_mixture_lean", 0.7)))
    step = "frequency_full_load"
    due = set(knowledge.catalogue.states[drill.checks[step].state].cautions)
    offered = drill.offered(step)
    listed = due & set(offered)
    assert {"backfeed", "load_bank_heat", "shock"} < listed  # what only a load brings is asked for
    assert offered == Drill(knowledge, drill.dealt).offered(step)  # in an order that tells nothing, and is the same
    right, wrong = sorted(listed)[0], sorted(set(offered) - due)[0]
    choice = drill.choose_safe([right, wrong], step)
    assert set(choice.left_out) == listed - {right}
    assert set(choice.beside) == due - listed
    assert choice.vain == (wrong,)
    assert (drill.moves[-1].left_out, drill.moves[-1].vain) == (choice.left_out, choice.vain)
    assert drill.check(step).kind == "check"  # what was left out was called out, and is met now
    assert drill.offered("frequency_half_load") == ()
    found = debrief(drill, played=NOBODY)
    assert (found.score.left_out, found.score.vain) == (1, 1)
    assert found.next_time[0] == NextTime("safe", step)
    assert len(found.next_time) <= 2


def test_to_name_every_caution_costs_something_and_less_than_to_leave_one_out(knowledge: Knowledge) -> None:
    """Before, all seven of a list could be ticked for nothing."""

    def safety(choose: Callable[[Drill, tuple[str, ...]], Collection[str]]) -> float:
        drill = Drill(knowledge, dealt(knowledge, ("idle_mixture_lean", 0.7)))
        drill.choose_safe(choose(drill, drill.offered("frequency_full_load")), "frequency_full_load")
        drill.check("frequency_full_load")
        return score(drill, 0, drill.give_up(), 30.0).safety / NOT_PROVEN

    right = safety(lambda drill, listed: set(listed) & set(drill.safety.applies("frequency_full_load")))
    all_of_it = safety(lambda drill, listed: listed)
    one_wrong = safety(
        lambda drill, listed: {
            *drill.safety.applies("frequency_full_load"),
            next(name for name in listed if name not in drill.safety.applies("frequency_full_load")),
        }
    )
    one_short = safety(lambda drill, listed: {*drill.safety.applies("frequency_full_load")} - {"backfeed"})
    assert right == PARTS["safety"]
    assert right > one_wrong > all_of_it
    assert one_wrong > one_short


@pytest.mark.parametrize("fuel", ["gasoline", "natural_gas"])
@pytest.mark.parametrize("met", [False, True])
def test_a_list_of_cautions_is_short_and_what_is_wrong_in_it_is_wrong(
    knowledge: Knowledge, fuel: str, met: bool
) -> None:
    """What does not apply, by common practice: nothing under load where none is on, no battery lead to take off while
    it runs, no exhaust gas nor live terminal of an engine that stands; and what any step on the same running set asks
    for is never called wrong."""
    drill = Drill(knowledge, dealt(knowledge, ("overload", 0.9), fuel=fuel))
    if met:
        drill.make_safe()
    for name in ("", PROOF_MOVE, *drill.steps):
        listed, apply, due = drill.offered(name), set(drill.safety.applies(name)), set(drill.safety.due(name))
        if not due:
            assert listed == ()
            continue
        true, wrong = apply & set(listed), set(listed) - apply
        assert 5 <= len(listed) <= 6
        assert min(2, len(apply)) <= len(true) <= 4
        assert len(wrong) >= 2
        assert set(due) <= true or len(true) == 4
        state = drill.safety.step(name)[0] if name else "warm_no_load"
        runs = knowledge.catalogue.states[state].runs
        never = {"shock", "rotating_parts", "hot_parts", "carbon_monoxide"} if runs else set()
        assert not wrong & never, (name, wrong)


# ---- work, right and botched


def test_a_right_repair_works_at_the_first_level(knowledge: Knowledge) -> None:
    features = knowledge.features({})
    for cause in FAULTS:
        if cause not in knowledge.causes or not knowledge.prior(cause, features) > 0.0:
            continue
        remedies = {name: each.cures[cause] for name, each in knowledge.remedies.items() if cause in each.cures}
        right = max(sorted(remedies), key=lambda name: remedies[name])
        for slip in ("", *(each for each, what in knowledge.catalogue.slips.items() if what.leaves != cause)):
            found = DrillSet(knowledge, Scenario("own", LEVELS[1], features, ((cause, 0.6),), 0.0, (), slip))
            found.mend(right)
            assert cause not in found.faults, (cause, right)
            assert bool(found.slipped) == (bool(slip) and right in knowledge.catalogue.slips[slip].of)


def test_botched_work_happens_once_leaves_a_cause_and_is_told(knowledge: Knowledge) -> None:
    slip = knowledge.catalogue.slips["rod_hooked_up_long"]
    features = knowledge.features({})
    own = Scenario("own", LEVELS[3], features, (("linkage_binding", 0.9),), 0.0, ("hunts_no_load",), slip.id)
    drill = Drill(knowledge, own)
    drill.safety.met.update((*knowledge.catalogue.cautions, *drill.steps))
    drill.remedy("free_linkage")
    assert drill.set.faults == {slip.leaves}
    assert slip.outcome in drill.check(slip.check).outcomes  # visible to whoever looks
    remedy = next(name for name, each in knowledge.remedies.items() if each.cures.get(slip.leaves, 0.0) >= 0.5)
    drill.make_safe(remedy)
    drill.remedy(remedy)
    assert drill.set.faults == frozenset()
    drill.remedy("free_linkage")
    assert drill.set.faults == frozenset()  # once
    drill.make_safe(PROOF_MOVE)
    assert drill.finish().end == FIXED  # type: ignore[union-attr]
    found = debrief(drill, played=NOBODY)
    assert found.slipped == "free_linkage"
    out = io.StringIO()
    debrief_view.lead(Screen(True, out, 100), knowledge, own, found)
    title = knowledge.remedies["free_linkage"].title.lower()
    assert f"Botched on the way: {title}. {slip.brief}" in " ".join(out.getvalue().split())


def test_luck_is_not_finding(knowledge: Knowledge) -> None:
    lucky = ready(knowledge, ("choke_stuck_open", 0.6))
    lucky.remedy("free_choke")
    lucky.finish()
    found = debrief(lucky, played=NOBODY)
    assert found.verdict.end == FIXED
    assert found.lucky == found.missed == ("choke_stuck_open",)
    sought = ready(knowledge, ("choke_stuck_open", 0.6))
    for name in ("choke_plate_cold", "choke_movement"):
        sought.make_safe(name)
        sought.check(name)
    sought.make_safe("free_choke")
    sought.remedy("free_choke")
    sought.make_safe(PROOF_MOVE)
    sought.finish()
    found = debrief(sought, played=NOBODY)
    assert (found.lucky, found.missed) == ((), ())
    assert found.gave_away[0].check in ("choke_plate_cold", "choke_movement")
    assert found.cured == {"choke_stuck_open": 5}


# ---- the program's path, and the score


def test_what_is_dealt_is_solved_and_the_path_stands_in_it_with_its_reasons(knowledge: Knowledge) -> None:
    refused: Counter[str] = Counter()
    drill = new_scenario(knowledge, 4, 1, refused=refused)
    assert drill.expert is not None
    assert program_path(knowledge, drill) is drill.expert.played
    assert drill.expert.played.end == "fixed"
    assert drill.expert.played.left == ()
    assert len(drill.expert.reasons) == len(drill.expert.played.moves)
    assert all(drill.expert.reasons)
    assert drill == new_scenario(knowledge, 4, 1, solved=False) or refused["not solved"]


def test_the_score_is_whole_for_the_expert_and_less_for_what_was_wrong(knowledge: Knowledge) -> None:
    def worked(*wrong: str) -> DrillScore:
        drill = ready(knowledge, ("idle_mixture_lean", 0.7))
        if "unsafe" in wrong:
            drill.safety.met.clear()
            drill.check("frequency_full_load")
            drill.safety.met.update((*knowledge.catalogue.cautions, *drill.steps))
        if "late" not in wrong:
            drill.check(drill.advice(len(drill.job.events))[0].id)
        for name in ("swing_no_load", "frequency_no_load"):
            drill.make_safe(name)
            drill.check(name)
        drill.make_safe("set_idle_mixture")
        drill.remedy("set_idle_mixture")
        drill.make_safe(PROOF_MOVE)
        verdict = drill.finish()
        assert isinstance(verdict, DrillVerdict)
        return score(drill, 1 if "order" in wrong else 0, verdict, 30.0)

    whole = worked()
    for part in ("repair", "first", "order", "safety"):
        assert getattr(whole, part) == PARTS[part]
    assert 0.0 < whole.minutes <= PARTS["minutes"]
    assert worked("unsafe").safety < whole.safety
    assert worked("order").order < whole.order
    lost = ready(knowledge, ("idle_mixture_lean", 0.7))
    nothing = score(lost, 0, lost.give_up(), 30.0)
    assert nothing.total == 0.0


def _worked(knowledge: Knowledge, *steps: str, end: str = "fixed", hint: str = "") -> Drill:
    """A lean idle circuit worked with these steps, to its end or given up."""
    drill = ready(knowledge, ("idle_mixture_lean", 0.7))
    if hint:
        drill.hint(rung=hint)
    for name in steps:
        drill.make_safe(name)
        if name in drill.checks:
            drill.check(name)
        else:
            drill.remedy(name)
    drill.make_safe(PROOF_MOVE)
    if end == "fixed":
        drill.finish()
    else:
        drill.give_up()
    return drill


def test_a_set_that_was_quit_never_scores_as_one_that_was_fixed(knowledge: Knowledge) -> None:
    """The worst way to fixed, with rules broken and unsafe moves, is worth more than the best way to nothing."""
    fixed = _worked(knowledge, "set_idle_mixture")
    quit_ = _worked(knowledge, "linkage_feel", "swing_no_load", "set_idle_mixture", end="quit")
    assert fixed.verdict is not None
    assert quit_.verdict is not None
    fixed.moves += [replace(fixed.moves[0], kind="unsafe")] * 9
    worst = score(fixed, 9, fixed.verdict, 0.1)
    best = score(quit_, 0, quit_.verdict, 1000.0)
    assert best.cured == 1  # mended, and not proven
    assert best.total < worst.total
    assert best.minutes == 0.0
    assert score(fixed, 0, fixed.verdict, 1000.0).minutes == PARTS["minutes"]  # faster than the program


def test_a_first_step_that_a_hint_named_earns_nothing_and_a_cheap_look_is_not_scolded(knowledge: Knowledge) -> None:
    alone = _worked(knowledge, "linkage_feel", "set_idle_mixture")
    drill = ready(knowledge, ("idle_mixture_lean", 0.7))
    best = drill.advice(len(drill.job.events))[0].id
    told = _worked(knowledge, best, "set_idle_mixture", hint="step")
    area = _worked(knowledge, best, "set_idle_mixture", hint="area")
    for drill in (alone, told, area):
        assert drill.verdict is not None
    assert score(told, 0, told.verdict, 30.0).first_told
    assert score(told, 0, told.verdict, 30.0).first == 0.0
    assert score(area, 0, area.verdict, 30.0).first == PARTS["first"]
    # A look of a minute where the set stands costs at worst that minute.
    cheap = min(
        (name for name, each in drill.checks.items() if each.state == knowledge.catalogue.costs.start_state),
        key=lambda name: (drill.checks[name].minutes, name),
    )
    looked = _worked(knowledge, cheap, "set_idle_mixture")
    assert score(looked, 0, looked.verdict, 30.0).first >= 0.9 * PARTS["first"]


def test_every_caution_of_a_step_is_asked_for_before_it(knowledge: Knowledge) -> None:
    """Electric shock where volts are read, fuel where fuel is drawn: also where the step is not one of the dangerous."""
    given = dealt(knowledge, ("idle_mixture_lean", 0.7))
    for name, step in Drill(knowledge, given).steps.items():
        drill = Drill(knowledge, given)
        wanted = {*step.cautions, *knowledge.catalogue.states[step.state].cautions}
        assert set(drill.safety.due(name)) == wanted, name
        assert set(drill.choose_safe(drill.offered(name), name).named) == wanted, name
        assert not drill.safety.due(name), name


def test_what_turns_the_speed_of_a_running_set_or_reads_its_volts_is_dangerous(knowledge: Knowledge) -> None:
    """Common practice: an engine whose adjuster is turned may run away, and open terminals are live.

    (TM 5-6115-323-14, warning on grounding; TM 9-6115-643-24, overspeed trip.)"""
    runs = knowledge.catalogue.states
    given = dealt(knowledge, ("idle_mixture_lean", 0.7))
    for name, step in {**knowledge.checks, **knowledge.remedies}.items():
        reads_volts = name == "voltage_no_load"
        if runs[step.state].runs and ("overspeed" in step.cautions or reads_volts):
            assert step.dangerous, name
            drill = Drill(knowledge, given)
            drill.make_safe("swing_no_load")  # what a running set asks for is met, and no more
            if name in drill.steps:
                assert [danger.kind for danger in drill.safety.dangers(name)][-1] == "step", name


@pytest.mark.nightly
def test_who_waits_for_a_set_sees_every_step_that_is_tried(knowledge: Knowledge) -> None:
    steps: list[int] = []
    made = new_scenario(knowledge, 13, 1, each=lambda: steps.append(1))
    assert made.expert is not None
    assert len(steps) >= len(made.expert.played.moves)
