"""What is off on a set: which steps take it off, what must be on before a step, and what that takes.

That a rod, spring or guard goes back on before a set is started is common practice (and the warnings of the manuals
named in fittings.yaml).
"""

from __future__ import annotations

import random

import pytest

from hertzwright.engine import Event, Job, JobError, load_knowledge
from hertzwright.engine.job.order import applies, due
from hertzwright.engine.job.precautions import of_step, of_steps

from tiers import some

KNOWLEDGE = load_knowledge()
CATALOGUE = KNOWLEDGE.catalogue


def names(job: Job) -> list[str]:
    return [each.fitting for each in job.off]


def runs(state: str) -> bool:
    return CATALOGUE.states[state].runs


# ---- the state


def test_the_first_look_takes_the_rod_off_and_no_running_check_is_made_without_it() -> None:
    job = Job(KNOWLEDGE)
    job.record("hunts_no_load", "present")
    job.record("linkage_feel", "free")
    assert names(job) == ["rod"]
    before = job.minutes
    checks = [step for step in job.next_steps(60, 0) if step.kind == "check"]
    step = next(step for step in checks if runs(KNOWLEDGE.checks[step.id].state))
    assert step.put_back == ("rod",)
    check = KNOWLEDGE.checks[step.id]
    plain = CATALOGUE.costs.moves[job.here, check.state] + check.minutes
    assert step.minutes == pytest.approx(plain + CATALOGUE.fittings["rod"].minutes)
    job.record(step.id, check.outcomes[0])
    assert "rod" not in names(job)
    assert job.minutes - before == pytest.approx(step.minutes)


def test_nothing_is_taken_off_twice_and_a_reading_that_needs_it_puts_it_back() -> None:
    job = Job(KNOWLEDGE)
    job.record("linkage_feel", "free")
    job.record("closed_stop", "just_touches")
    job.record("arm_travel", job.checks["arm_travel"].outcomes[0])
    assert names(job) == ["rod", "governor_spring"]
    before = job.minutes
    job.record("wide_open_stop_gap", "right")  # measured with rod and spring on, on the standing set
    assert names(job) == []
    own = KNOWLEDGE.checks["wide_open_stop_gap"].minutes
    back = CATALOGUE.fittings["rod"].minutes + CATALOGUE.fittings["governor_spring"].minutes
    assert job.minutes - before == pytest.approx(own + back)


def test_a_remedy_puts_back_in_its_own_minutes_and_is_asked_about_all_the_same() -> None:
    plain, after = Job(KNOWLEDGE), Job(KNOWLEDGE)
    after.record("linkage_feel", "binds")
    plain.record("throttle_shaft_play", "snug")
    begun = plain.minutes, after.minutes
    for job in (plain, after):
        job.carry_out("free_linkage")
    assert after.minutes - begun[1] == pytest.approx(plain.minutes - begun[0])
    assert "rod" in after.to_put_back("check", "frequency_no_load")
    assert all(each.minutes == 0.0 for each in after.off)
    after.prove("passed")
    assert after.off == ()


def test_off_as_found_takes_no_minutes_and_stands_in_the_events() -> None:
    job = Job(KNOWLEDGE)
    job.take_off("rod", as_found=True)
    assert job.minutes == 0.0
    assert [each.as_found for each in job.off] == [True]
    job.record("linkage_feel", "free")
    assert [(each.fitting, each.as_found) for each in job.off] == [("rod", True)]
    job.put_back("rod")
    assert job.off == ()
    assert [event.kind for event in job.events] == ["set", "taken_off", "check", "put_back"]
    assert job.events[1] == Event.from_dict(job.events[1].as_dict())
    again = Job.replay(KNOWLEDGE, job.events)
    assert (again.off, again.minutes, again.line()) == (job.off, job.minutes, job.line())
    job.step_back()
    assert names(job) == ["rod"]


def test_what_is_not_off_or_not_known_is_refused() -> None:
    job = Job(KNOWLEDGE)
    for wrong in (lambda: job.put_back("rod"), lambda: job.take_off("rods"), lambda: job.put_back("rdo")):
        with pytest.raises(JobError, match="rod"):
            wrong()
    with pytest.raises(JobError, match="perhaps"):
        Job.replay(KNOWLEDGE, [Event("set"), Event("taken_off", "rod", "perhaps")])
    assert len(job.events) == 1


def test_a_guard_found_off_while_it_runs_is_put_back_on_the_standing_set() -> None:
    job = Job(KNOWLEDGE)
    job.record("frequency_no_load", "61.5 Hz")
    job.take_off("guards", as_found=True)
    before, moves = job.minutes, CATALOGUE.costs.moves
    job.record("swing_no_load", "steady")
    stop_and_go = moves["warm_no_load", "stopped"] + moves["stopped", "warm_no_load"]
    assert job.minutes - before == pytest.approx(
        stop_and_go + CATALOGUE.fittings["guards"].minutes + KNOWLEDGE.checks["swing_no_load"].minutes
    )


@pytest.mark.parametrize("seed", some(range(12), 3))
def test_no_running_step_is_recorded_while_a_fitting_is_off(seed: int) -> None:
    """Whatever proposed step is taken next, in whatever order, its minutes hold what is put back before it."""
    draw = random.Random(seed)
    job = Job(KNOWLEDGE, {"booster": draw.choice(["none", "vacuum"])})
    job.record(draw.choice(sorted(KNOWLEDGE.complaints)), "present")
    if draw.random() < 0.5:
        job.take_off(draw.choice(sorted(CATALOGUE.fittings)), as_found=True)
    for _ in range(7):
        if job.held:
            job.secure("the one who tests")
        steps = [step for step in job.next_steps(60, 0) if step.kind in ("check", "remedy")]
        if not steps:
            break
        step = draw.choice(steps)
        before, off = job.minutes, set(names(job))
        known = KNOWLEDGE.checks[step.id] if step.kind == "check" else KNOWLEDGE.remedies[step.id]
        if runs(known.state):
            assert set(step.put_back) == off - set(known.fits.runs_without)
        if step.kind == "check":
            job.record(step.id, draw.choice(job.checks[step.id].outcomes))
        else:
            job.carry_out(step.id, "not cured")
        if not any(each.as_found for each in job.off):
            assert job.minutes - before == pytest.approx(step.minutes, abs=0.02)
        if runs(known.state) or step.kind == "remedy":
            assert set(names(job)) <= set(known.fits.takes_off) | set(known.fits.runs_without)


# ---- the planner


def test_looks_with_the_rod_off_are_cheaper_together() -> None:
    job = Job(KNOWLEDGE)
    job.record("hunts_no_load", "present")
    for name, answer in (("frequency_no_load", "61.3 Hz"), ("swing_no_load", "slow_swing")):
        job.record(name, answer)  # read as found, before anything comes off
    fresh = {step.id: step for step in job.next_steps(300, 0)}
    job.take_off("rod")
    off = {step.id: step for step in job.next_steps(300, 0)}
    assert off["linkage_feel"].minutes == fresh["linkage_feel"].minutes
    rod = CATALOGUE.fittings["rod"].minutes
    # Its own rod is to be put back in either case, so that the look costs no more than before; what runs costs the rod.
    assert off["linkage_feel"].expected_minutes == pytest.approx(fresh["linkage_feel"].expected_minutes, abs=0.02)
    assert off["idle_needle_trial"].minutes == pytest.approx(fresh["idle_needle_trial"].minutes + rod)
    later = fresh["idle_needle_trial"].expected_minutes + rod
    assert off["idle_needle_trial"].expected_minutes == pytest.approx(later, abs=0.02)


# ---- cautions


def test_what_touches_rod_spring_or_governor_warns_of_overspeed() -> None:
    for kind, table in (("check", KNOWLEDGE.checks), ("remedy", KNOWLEDGE.remedies)):
        for name, step in table.items():
            if {"rod", "governor_spring", "governor_cover", "booster_link"} & {*step.fits.takes_off}:
                assert "overspeed" in of_step(CATALOGUE, kind, name), name
    assert "overspeed" not in of_step(CATALOGUE, "check", "frequency_no_load")
    assert "overspeed" in of_step(CATALOGUE, "check", "frequency_no_load", ("rod",))
    assert "overspeed" in of_steps(CATALOGUE, [("done", "done")], ("governor_spring",))
    assert of_steps(CATALOGUE, [("refer", "refer")], ("rod",)) == ()


def test_cautions_of_steps_are_those_of_each_in_the_order_of_the_knowledge() -> None:
    steps = [("check", "linkage_feel"), ("check", "frequency_full_load"), ("remedy", "set_rod_length")]
    each = {caution for kind, name in steps for caution in of_step(CATALOGUE, kind, name)}
    assert of_steps(CATALOGUE, steps) == tuple(name for name in CATALOGUE.cautions if name in each)
    assert set(CATALOGUE.states["warm_loaded"].cautions) <= each


# ---- a remedy for some sets only


def test_a_needle_is_set_with_nothing_off_and_a_fixed_jet_with_the_bowl_off() -> None:
    """A blind trial: the main needle was set with "Takes off: fuel bowl", and then "Bowl and drain closed, no drip?"."""
    for jet, there, other in (("adjustable", "set_main_mixture", "change_main_jet"),
                              ("fixed", "change_main_jet", "set_main_mixture")):  # fmt: skip
        job = Job(KNOWLEDGE, {"main_jet": jet})
        job.record("lacks_full_power", "present")
        listed = {step.id for step in job.next_steps(300, 0)}
        assert other not in listed
        assert there in {remedy for remedy in KNOWLEDGE.remedies if applies(job, remedy)} - {other}
        job.carry_out(there)
        assert ("fuel_bowl" in KNOWLEDGE.remedies[there].fits.takes_off) == (jet == "fixed")
        assert "set_idle_mixture" in due(job), "its own last step says so"
        job.record("swing_no_load", "steady")
        assert "set_idle_mixture" in due(job), "steady is not tried"
        job.record("idle_needle_trial", "best_where_it_is")
        assert "set_idle_mixture" not in due(job)
