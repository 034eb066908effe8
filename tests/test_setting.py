"""Setting a set in order: progress from events, what is done again, what does not respond, and the verdict."""

from __future__ import annotations

import sys

import pytest

from hertzwright.engine import Job, JobError, Knowledge, Step, load_knowledge
from hertzwright.engine.job import Event, HeldError, fixed
from hertzwright.engine.setting import (
    AGAIN,
    FOUND,
    LEFT_OUT,
    NOT_YET,
    SET,
    STUCK,
    Course,
    SettingAdvice,
    StepProgress,
    advise,
    course_of,
    not_responding,
    plan,
    progress,
    put,
    sheet,
    suspected,
    turned,
    verdict,
)
from hertzwright.engine.setting.turning import AdjusterPlace, by_pair

# The room's door has a function of this name.
progress_module = sys.modules["hertzwright.engine.setting.progress"]

FIGURES = {
    "frequency_no_load": "61.5 Hz", "frequency_full_load": "59.4 Hz", "frequency_quarter_load": "61.0 Hz",
    "swing_no_load": "0.1 Hz", "swing_full_load": "0.2 Hz",
}  # fmt: skip


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def begun(knowledge: Knowledge, **features: str) -> Job:
    job = Job(knowledge, {"booster": "none", **features})
    job.begin_setting()
    return job


def right(job: Job, check: str) -> str:
    return FIGURES.get(check, job.checks[check].normal)


def follow(job: Job, until: str = "", answers: dict[str, str] | None = None, most: int = 150) -> SettingAdvice:
    """Do as advised, everything right unless `answers` say otherwise, until a step (or the end) is come to."""
    for _ in range(most):
        advice = advise(job)
        if advice.kind in ("done", "refer", "search", "stuck") or (until and advice.step == until):
            return advice
        if advice.kind == "read":
            job.record(advice.check, (answers or {}).pop(advice.check, None) or right(job, advice.check))
        elif advice.kind == "work":
            job.carry_out(advice.remedy)
        elif advice.kind == "turn":
            turned(job, advice)
        elif advice.kind in ("place", "do"):
            put(job, advice)
        else:
            job.secure("Kim")
    raise AssertionError(f"no end after {most} steps: {job.line()}")


def stands(job: Job, step: str) -> StepProgress:
    return next(each for each in progress(job) if each.id == step)


def test_a_set_that_is_right_is_left_alone_and_proven(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    assert follow(job).kind == "done"
    assert {each.state for each in progress(job) if not each.step.last} == {FOUND}
    assert not [event for event in job.standing if event.kind == "remedy"]
    assert verdict(job).passed
    assert fixed(job)
    assert [line.left for line in sheet(job) if line.step == "no_load_speed_set"] == ["61.5 Hz"]
    # The same events give the same progress and advice.
    again = Job.replay(knowledge, [Event.from_dict(event.as_dict()) for event in job.events])
    assert progress(again) == progress(job)
    assert again.minutes == job.minutes


def test_stopped_steps_come_together_then_warm_then_loaded(knowledge: Knowledge) -> None:
    job, seen = begun(knowledge), []
    while (advice := advise(job)).kind != "done":
        if advice.kind == "read":
            job.record(advice.check, right(job, advice.check))
        else:
            put(job, advice)
        if not seen or seen[-1] != job.here:
            seen.append(job.here)
    # Loaded once for the main needle and the fall, once for the proof: no move that the order does not ask for.
    assert seen == [
        "stopped_cold",
        "cold_running",
        "warm_no_load",
        "warm_loaded",
        "warm_no_load",
        "warm_loaded",
        "warm_no_load",
        "stopped",
    ]


def test_what_is_wrong_is_worked_on_and_read_again(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    advice = follow(job, "rod_length_matched")
    job.record("wide_open_stop_gap", "0.2 in")
    advice = advise(job)
    assert (advice.kind, advice.remedy) == ("work", "set_rod_length")
    job.carry_out("set_rod_length")
    assert advise(job).check == "wide_open_stop_gap"
    assert stands(job, "rod_length_matched").state == NOT_YET
    job.record("wide_open_stop_gap", "0.031 in")
    each = stands(job, "rod_length_matched")
    assert each.state == SET
    assert each.first["wide_open_stop_gap"].text == "0.2 in"
    assert [line.found for line in sheet(job) if line.step == "rod_length_matched"] == ["0.2 in"]


def test_needles_found_far_off_are_put_to_their_start_and_not_read_again(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    follow(job, "idle_needle_at_start")
    job.record("idle_needle_turns", "4 turns")
    advice = advise(job)
    assert (advice.kind, advice.step) == ("place", "idle_needle_at_start")
    put(job, advice)
    each = stands(job, "idle_needle_at_start")
    assert (each.state, each.placed) == (SET, "1.5 turns")


def test_two_tries_and_it_does_not_respond(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    follow(job, "rod_length_matched")
    for _ in range(2):
        job.record("wide_open_stop_gap", "0.2 in")
        assert advise(job).kind == "work"
        job.carry_out("set_rod_length")
    job.record("wide_open_stop_gap", "0.2 in")
    assert stands(job, "rod_length_matched").state == STUCK
    assert advise(job).kind in ("stuck", "search")


def test_a_needle_without_response_is_a_finding_and_setting_comes_back(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    job.record("swing_cold", "1.2 Hz slow_swing")
    follow(job, "idle_mixture_set")
    job.record("swing_no_load", "1.2 Hz slow_swing")
    job.record("idle_needle_trial", "no_response")
    advice = advise(job)
    assert advice.kind == "search"
    assert advice.causes[0][0] == "idle_passage_dirty"
    assert advice.causes[0][1] >= knowledge.catalogue.setting_rules.suspected
    assert advice.found is not None
    dirty = {
        "hold_throttle_still": "still_swings",
        "part_choke_trial": "smooths_out",
        "swing_no_load": "1.2 Hz slow_swing",
    }
    for _ in range(12):  # the ordinary search, which meets what such a passage shows
        if advice.kind not in ("search", "stuck"):
            break
        if advice.kind == "stuck":
            not_responding(job, advice)
        elif advice.check:
            job.record(advice.check, dirty.get(advice.check) or right(job, advice.check))
        else:
            job.carry_out(advice.remedy)
        advice = advise(job)
    assert "clean_idle_passages" in [event.id for event in job.standing]
    assert advice.kind == "read"
    assert not stands(job, "idle_mixture_set").right
    assert follow(job).kind == "done"


@pytest.mark.whole_ways
def test_nothing_is_set_over_a_fault_that_is_likelier_than_the_knowledge_allows(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    follow(job, "speed_brought_near")
    for check, answer in (("vacuum_needle", "flicks_down_regularly"), ("compression", "uneven")):
        job.record(check, answer)
    causes = suspected(job, progress(job))
    least = knowledge.catalogue.setting_rules.suspected
    chances = job.posterior()
    steps = progress(job)
    coming = {
        cause for each in steps if not each.right for r in each.step.works for cause in knowledge.remedies[r].cures
    }
    missed = [cause for cause, chance in chances.items() if chance >= least and cause not in coming]
    assert {cause for cause in missed if knowledge.causes[cause].fault} <= {cause for cause, _ in causes}
    # Beside these those that share a finding which no turn makes, and no others.
    shows = knowledge.network.shows
    behind = shows["vacuum_needle"].keys() | shows["compression"].keys()
    assert {cause for cause, chance in causes if chance < least} <= behind - coming
    assert causes
    # It is searched; or, where searching costs more than handing over, read on, and then handed over.
    for _ in range(60):
        advice = advise(job)
        if advice.kind != "read" or not suspected(job, progress(job)):
            break
        job.record(advice.check, right(job, advice.check))
    assert advice.kind in ("search", "refer") or not suspected(job, progress(job))


def test_what_is_handed_over_for_a_fault_is_read_on_and_not_set_over(
    knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the ordinary search would hand the set over, nothing is turned, put or mended first."""
    job = begun(knowledge)
    follow(job, "speed_brought_near")
    job.record("frequency_no_load", "65 Hz")
    job.record("second_meter", "agrees")
    assert advise(job).kind == "turn"
    refer = Step("refer", "", 0.0, 240.0, "Hand it over.")
    monkeypatch.setattr(Job, "next_steps", lambda self, limit=5, deepen=4: (refer,))
    module = sys.modules["hertzwright.engine.setting.advice"]
    monkeypatch.setattr(module, "suspected", lambda job, stands: (("valve_sticking", 0.7),))
    asked = []
    while (advice := advise(job)).kind == "read":
        asked.append(advice.check)
        said = {"frequency_no_load": "65 Hz"}
        job.record(advice.check, said.get(advice.check) or right(job, advice.check))
    assert advice.kind == "refer"
    assert dict(advice.causes) == {"valve_sticking": 0.7}
    assert not [event for event in job.standing if event.kind in ("set_to", "remedy")]


def test_what_a_step_disturbs_is_done_again_and_nothing_before_it(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    follow(job)
    for each in progress(job):
        if each.step.last:
            continue
        for remedy in each.step.works:
            other = Job.replay(knowledge, job.events)
            other.carry_out(remedy)
            after = {one.id: one for one in progress(other)}
            if each.step.waits_for_nothing:
                assert after[each.id].state == LEFT_OUT  # nobody waits for the set to cool again
                continue
            assert not after[each.id].right, (each.id, remedy)
            for name in each.step.disturbs:
                if name in after:
                    assert not after[name].right, (each.id, remedy, name)
            # And every proof is made again.
            assert not any(one.right for one in after.values() if one.step.last), remedy


def test_speed_is_due_again_where_an_order_rule_says_so(knowledge: Knowledge) -> None:
    """TM 5-6115-593-34, para 12-3 e, and TM 5-4320-300-14, p. 5-43 note: speed again after what moves the spring."""
    job = begun(knowledge)
    follow(job)
    job.carry_out("renew_governor_spring")
    each = stands(job, "no_load_speed_set")
    assert each.state == AGAIN
    assert each.because == knowledge.remedies["renew_governor_spring"].title


def test_a_turn_is_read_again_by_the_step_that_asked_for_it(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    follow(job, "fall_set")
    found = {"swing_no_load": "0.1 Hz", "frequency_full_load": "56.5 Hz"}
    found |= {"swing_half_load": "0.1 Hz", "swing_full_load": "0.1 Hz", "voltage_full_load": "240 V"}
    for check, answer in found.items():
        job.record(check, answer)
    # Whether the engine has its power is seen before what it lacks is made up by a sharper governor.
    advice = advise(job)
    assert (advice.kind, advice.step, advice.check) == ("read", "fall_set", "full_power_hold")
    assert "a fault may ask for the same" in advice.why[0]
    job.record("full_power_hold", "holds")
    assert advise(job).check == "intake_air_warmth"
    job.record("intake_air_warmth", "usual")
    advice = advise(job)
    assert (advice.kind, advice.step) == ("turn", "fall_set")
    assert advice.turns
    before = job.minutes
    turned(job, advice)
    assert [event.id for event in job.standing if event.kind == "remedy"] == [
        knowledge.catalogue.adjusters[name].remedy for name in advice.turns
    ]
    # The remedies begin with the turn, in its own minutes and those of the move.
    assert job.minutes - before <= 3 + knowledge.catalogue.setting["fall_set"].minutes
    assert stands(job, "no_load_speed_set").right
    assert stands(job, "fall_set").unread
    assert advise(job).step == "fall_set"
    turned(job, advice, {"speed": 0.5})
    assert stands(job, "fall_set").turns["speed"] == pytest.approx(advice.turns.get("speed", 0.0) + 0.5)


def test_an_adjuster_that_moves_nothing_is_stuck(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    follow(job, "speed_brought_near")
    job.record("frequency_no_load", "55 Hz")
    assert advise(job).check == "second_meter"
    job.record("second_meter", "agrees")
    first = advise(job)
    turned(job, first)
    job.record("frequency_no_load", "55.1 Hz")
    # What did nothing goes back, or the set runs away once the fault behind it is cured.
    advice = advise(job)
    assert (advice.kind, advice.turns) == ("turn", {"speed": -first.turns["speed"]})
    turned(job, advice)
    job.record("frequency_no_load", "55 Hz")
    advice = advise(job)
    assert (advice.kind, advice.step) == ("stuck", "speed_brought_near")
    assert "no response" in advice.why[0]
    not_responding(job, advice)
    assert advise(job).kind != "stuck"


def test_overspeed_holds_setting_and_the_turn_comes_first_then(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    advice = follow(job, "speed_brought_near")
    job.record("frequency_no_load", "66.5 Hz")
    assert advise(job).kind == "held"
    with pytest.raises(HeldError):
        turned(job, SettingAdvice("turn", "speed_brought_near", turns={"speed": -1.0}))
    job.secure("Kim")
    advice = advise(job)
    assert (advice.kind, advice.turns["speed"] < 0) == ("turn", True)
    minutes = job.minutes
    turned(job, advice)
    assert not job.runs(job.here)  # it is turned on the standing set, without a move
    assert job.minutes == minutes + knowledge.catalogue.setting["speed_brought_near"].minutes


def test_what_cannot_be_is_refused_and_old_events_are_readable(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    with pytest.raises(JobError, match='did you mean "fall_set"'):
        job.set_to("fal_set", "turned")
    with pytest.raises(JobError, match="expected set, turned, no response"):
        job.set_to("fall_set", "twisted")
    with pytest.raises(JobError):
        job.begin_setting(["no_such_step"])
    count = len(job.events)
    with pytest.raises(JobError):
        Job.replay(knowledge, [*job.events, Event("setting", answer="half")])
    assert len(job.events) == count
    job.leave_setting()
    assert not job.setting


def test_the_proof_that_is_outside_is_no_pass(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    advice = follow(job, answers={"load_step_dip": "8 Hz"})
    assert advice.kind in ("done", "search")
    found = verdict(job)
    assert not found.passed
    assert "load_step_dip" in {line.check for line in found.outside}


def test_setting_asks_no_readings_as_found(knowledge: Knowledge) -> None:
    assert begun(knowledge).owed == ()
    assert Job(knowledge).owed


def test_what_is_read_after_a_remedy_is_not_read_while_it_is_put_off(knowledge: Knowledge) -> None:
    """With the leak not mended, whether there is fuel was asked over and over."""
    job = Job(knowledge)
    job.begin_setting()
    step = advise(job).step
    while (told := advise(job)).kind == "read" and told.step == step:
        job.record(told.check, "drips" if told.check == "fuel_leak_look" else job.checks[told.check].normal)
    assert (told.kind, told.remedy) == ("work", "mend_fuel_leak")
    after = advise(job, {"mend_fuel_leak"})
    assert (after.step, after.kind) != (step, "read")


def test_a_step_that_is_put_off_comes_last(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    first = advise(job)
    other = advise(job, [first.step])
    assert other.step != first.step
    assert plan(job).tasks[0].name == first.check


@pytest.mark.parametrize("features", [
    {}, {"booster": "vacuum", "fuel": "lp_gas", "anti_surge": "dashpot"}, {"hertz": "50", "poles": "2", "cylinders": "1"},
    {"main_jet": "fixed", "choke": "manual", "idle_control": "fitted", "ignition": "electronic"},
])  # fmt: skip
def test_every_kind_of_set_comes_to_the_end(features: dict[str, str], knowledge: Knowledge) -> None:
    job = begun(knowledge, **features)
    if features.get("hertz") == "50":
        for check in FIGURES:
            figure, _, unit = FIGURES[check].partition(" ")
            FIGURES_50[check] = f"{float(figure) * (50 / 60 if 'frequency' in check else 1):.2f} {unit}"
    answers = dict(FIGURES_50) if features.get("hertz") == "50" else None
    while (advice := advise(job)).kind != "done":
        assert advice.kind in ("read", "do"), advice
        if advice.kind == "do":
            put(job, advice)
        else:
            job.record(advice.check, (answers or {}).get(advice.check) or right(job, advice.check))
    assert verdict(job).passed
    assert verdict(job).left == ()


FIGURES_50: dict[str, str] = {}


def test_a_puzzling_reading_is_read_once_more_and_then_believed(knowledge: Knowledge) -> None:
    """A coach that wants its readings again gets them; the same question does not come back for ever."""
    job = begun(knowledge)
    follow(job, "fall_set")
    job.record("swing_no_load", "0.1 Hz")
    job.record("frequency_full_load", "57.0 Hz")
    for _ in range(3):
        advice = advise(job)
        if advice.kind != "turn":
            break
        turned(job, advice)
        job.record("frequency_no_load", "62.4 Hz")
        job.record("swing_no_load", "0.1 Hz")
        job.record("frequency_full_load", "57.1 Hz")
    asked = []
    for _ in range(8):
        advice = advise(job)
        if advice.kind != "read":
            break
        asked.append(advice.check)
        answers = {"frequency_no_load": "62.4 Hz", "frequency_full_load": "57.1 Hz"}
        job.record(advice.check, answers.get(advice.check) or right(job, advice.check))
    assert len(asked) < 8, asked


def test_a_further_turn_disturbs_what_the_first_one_did(knowledge: Knowledge) -> None:
    job = begun(knowledge, booster="vacuum")
    follow(job, "booster_set")
    for check, answer in (("booster_link_movement", "moves_with_load"), ("swing_full_load", "1.0 Hz slow_swing")):
        job.record(check, answer)
    for _ in range(2):
        advice = follow(job, "booster_set", {"swing_full_load": "1.0 Hz slow_swing"})
        while advice.kind == "read":
            job.record(
                advice.check, "1.0 Hz slow_swing" if advice.check == "swing_full_load" else right(job, advice.check)
            )
            advice = follow(job, "booster_set")
        assert (advice.kind, advice.step) == ("turn", "booster_set")
        turned(job, advice)
        assert "frequency_full_load" in stands(job, "fall_set").unread
    assert follow(job).kind in ("done", "stuck", "search")


def test_a_turn_that_says_nothing_is_refused(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    with pytest.raises(JobError, match="expected turns"):
        job.set_to("fall_set", "turned", {"speed": "a bit"})
    with pytest.raises(JobError, match='did you mean "speed"'):
        job.set_to("fall_set", "turned", {"sped": "+1"})


def test_without_a_load_bank_nothing_is_turned_under_load(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    while (advice := advise(job)).kind in ("read", "do"):
        if advice.kind == "do":
            put(job, advice)
        else:
            loaded = job.checks[advice.check].state == "warm_loaded"
            job.record(advice.check, "unknown" if loaded else right(job, advice.check))
    assert advice.kind == "done"
    assert not verdict(job).passed
    assert not fixed(job)


def test_a_reading_told_in_a_word_is_turned_by_and_comes_to_an_end(knowledge: Knowledge) -> None:
    """A word that stays the same whatever is turned is no response; the adjuster ends where it was found."""
    job = begun(knowledge)
    follow(job, "speed_brought_near")
    job.record("second_meter", "agrees")
    made: list[float] = []
    for _ in range(40):
        advice = advise(job)
        if advice.kind == "turn":
            made.append(advice.turns["speed"])
            turned(job, advice)
        elif advice.kind == "read" and advice.step == "speed_brought_near":
            job.record("frequency_no_load", "low")
        else:
            break
    assert advice.kind in ("stuck", "search")
    assert [turn > 0 for turn in made] == [True] * (len(made) - 1) + [False]
    assert len(made) < 6
    assert sum(made) == 0.0


def test_turning_that_was_for_another_step_is_no_answer_of_this_one(knowledge: Knowledge) -> None:
    """Speed and sensitivity turned together for the fall say nothing of the speed adjuster alone."""
    job = begun(knowledge)
    follow(job, "fall_set")
    job.record("frequency_full_load", "56.5 Hz")
    job.record("swing_no_load", "0.1 Hz")
    advice = advise(job)
    assert advice.step == "fall_set"
    for number in range(10):
        turned(job, SettingAdvice("turn", "fall_set", turns={"speed": 1.0, "sensitivity": 2.0}))
        job.record("frequency_no_load", f"{63.0 + 0.01 * number:.2f} Hz")
        job.record("swing_no_load", "0.1 Hz")
        job.record("frequency_full_load", "57 Hz")
    not_responding(job, SettingAdvice("stuck", "fall_set"))
    job.record("frequency_no_load", "63.1 Hz")
    turning = stands(job, "no_load_speed_set").turning
    assert turning is not None
    assert turning.kind == "turn"
    assert turning.step["speed"] < 0


def test_what_the_proof_shows_is_gone_after_before_it_is_called_done(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    wrong = {"voltage_steadiness": "wavers", "voltage_full_load": "low", "voltage_no_load": "low"}
    advice = follow(job, answers=wrong)
    assert advice.kind == "search"
    assert not verdict(job).passed


def test_what_no_tool_is_there_for_is_not_asked_and_not_passed(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    job.not_here("load bank")
    asked = []
    while (advice := advise(job)).kind in ("read", "do"):
        if advice.kind == "do":
            put(job, advice)
        else:
            asked.append(advice.check)
            job.record(advice.check, right(job, advice.check))
    assert advice.kind == "done"
    assert not [check for check in asked if job.lacking("check", check)]
    assert not verdict(job).passed
    assert not fixed(job)


def test_what_was_worked_on_is_gone_through_once_more_before_it_counts_as_not_responding(knowledge: Knowledge) -> None:
    job = begun(knowledge)
    follow(job, "speed_brought_near")
    job.record("second_meter", "agrees")
    for time in range(2):
        job.record("frequency_no_load", "55 Hz")
        advice = advise(job)
        assert (advice.kind, advice.step) == ("turn", "speed_brought_near"), time
        turned(job, advice)
        job.record("frequency_no_load", "55.1 Hz")
        turned(job, advise(job))
        job.record("frequency_no_load", "55 Hz")
        assert stands(job, "speed_brought_near").state == STUCK
        not_responding(job, advise(job))
    assert stands(job, "speed_brought_near").state == STUCK
    assert advise(job).kind in ("search", "refer")
    # Once something was mended, it may well respond.
    job.carry_out("renew_governor_spring")
    assert stands(job, "speed_brought_near").state == NOT_YET


def test_every_fault_shows_in_what_the_course_reads(knowledge: Knowledge) -> None:
    """Nothing is set over a fault that no step could have shown: each shows in half of its cases or more."""
    shows = knowledge.network.shows
    # On the way from cold alone, which nobody waits for in setting.
    cold_only = {"choke_slow_opening"}
    for cause in knowledge.causes.values():
        if not cause.fault or cause.retired is not None or cause.id in cold_only:
            continue
        for features in ({}, {"fuel": "lp_gas"}, {"choke": "manual"}, {"ignition": "magneto"}, {"booster": "none"}):
            filled = knowledge.features(features)
            if not cause.prior(filled):
                continue
            read = {check for listed in course_of(knowledge, filled).checks.values() for check in listed}
            best = max((1.0 - shows[check][cause.id][0] for check in read if cause.id in shows[check]), default=0.0)
            assert best >= 0.5, (cause.id, features, best)


def test_after_a_cure_only_what_was_disturbed_is_set(knowledge: Knowledge) -> None:
    """Whoever has just renewed a rod joint is not asked for fuel and oil; what it disturbed and the proof remain."""
    job = Job(knowledge, {"booster": "none"})
    job.record("floats_high_no_load", "present")
    job.record("frequency_no_load", "65 Hz")
    job.record("wide_open_stop_gap", "0.2 in")
    job.carry_out("set_rod_length")
    job.begin_setting(only_disturbed=True)
    assert [each.id for each in progress(job) if each.id == "fuel_and_oil_seen" and each.state == LEFT_OUT]
    asked: list[str] = []
    found = {"frequency_no_load": "65 Hz"}
    while (advice := advise(job)).kind in ("read", "do", "turn", "place"):
        asked.append(advice.step)
        if advice.kind == "read":
            job.record(advice.check, found.pop(advice.check, None) or right(job, advice.check))
        elif advice.kind == "turn":
            turned(job, advice)
        else:
            put(job, advice)
    assert advice.kind == "done"
    assert verdict(job).passed
    assert not {"fuel_and_oil_seen", "air_way_open", "linkage_made_free", "choke_moves"} & set(asked)
    assert {"rod_length_matched", "fall_set", "nuts_locked", "proof_by_quarters"} <= set(asked)
    everything = Job.replay(knowledge, job.events)
    assert progress(everything) == progress(job)


def test_work_that_the_tools_are_not_there_for_is_left_out_and_not_proven(knowledge: Knowledge) -> None:
    job = Job(knowledge, {"booster": "none"})
    job.record("main_needle_trial", "better_richer")
    job.begin_setting(["overload_held"])
    job.not_here("loading")
    while (advice := advise(job)).kind in ("read", "do"):
        assert advice.step != "overload_held"
        if advice.kind == "do":
            put(job, advice)
        else:
            job.record(advice.check, right(job, advice.check))
    assert advice.kind == "done"
    assert stands(job, "main_mixture_set").state == LEFT_OUT
    assert "overload_held" in verdict(job).left


def test_a_screen_works_its_progress_out_once(knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    job = begun(knowledge)
    made: list[str] = []
    whole = progress_module._progress

    def counted(job: Job, course: Course) -> tuple[StepProgress, ...]:
        made.append(job.here)
        return whole(job, course)

    monkeypatch.setattr(progress_module, "_progress", counted)
    advice = advise(job)
    sheet(job)
    verdict(job)
    assert len(made) == 1
    job.record(advice.check, right(job, advice.check))
    assert advise(job) == advise(Job.replay(knowledge, job.events))


def test_a_set_without_booster_that_swings_only_loaded_is_eased_and_a_booster_is_turned_for_its_own(
    knowledge: Knowledge,
) -> None:
    """Not to hunt warm at any load is the limit (TM 5-4110-234-14, p. 4-83, c(5)); empty it may well be steady."""
    job = begun(knowledge)
    follow(job, "fall_set")
    for check, answer in (
        ("swing_no_load", "0.2 Hz"),
        ("swing_half_load", "0.2 Hz"),
        ("frequency_full_load", "59.4 Hz"),
        ("voltage_full_load", "240 V"),
    ):
        job.record(check, answer)
    job.record("swing_full_load", "0.6 Hz erratic")  # hardly more than the meter can tell from steady
    advice = advise(job)
    assert (advice.kind, advice.step) == ("turn", "fall_set")
    assert advice.turns["sensitivity"] < 0
    # What wanders far is no matter of turning.
    again = Job.replay(knowledge, job.events)
    again.record("swing_full_load", "2 Hz erratic")
    assert stands(again, "fall_set").state == STUCK
    assert "swing_full_load" not in course_of(knowledge, knowledge.features({})).checks["fall_set"]
    assert "swing_full_load" in course_of(knowledge, knowledge.features({"booster": "none"})).checks["fall_set"]


def test_a_proof_that_is_outside_is_never_called_done(knowledge: Knowledge) -> None:
    """A dull knock under load is bearings until somebody has looked (common practice), however rare they are."""
    job = begun(knowledge)
    advice = follow(job, answers={"knock_under_load": "dull_knock"})
    for _ in range(40):
        if advice.kind not in ("search", "stuck"):
            break
        if advice.check:
            job.record(advice.check, {"knock_under_load": "dull_knock"}.get(advice.check, right(job, advice.check)))
            advice = follow(job, answers={"knock_under_load": "dull_knock"})
        else:
            break
    assert advice.kind == "refer" or advice.remedy
    assert "bearings_loose" in dict(advice.causes)


def test_where_turning_ends_the_adjusters_go_back_to_where_it_stood_best(knowledge: Knowledge) -> None:
    """What is asked next is asked of a set near right, and not of one that the last attempt has thrown off its speed."""
    job = begun(knowledge, booster="vacuum")
    step = knowledge.catalogue.setting["fall_set"]

    def place(speed: float, sharp: float, none: float, full: float, swing: str) -> AdjusterPlace:
        said = {
            "frequency_no_load": f"{none} Hz",
            "frequency_full_load": f"{full} Hz",
            "swing_no_load": swing,
            "swing_half_load": "0.2 Hz",
        }
        return AdjusterPlace(
            {"speed": speed, "sensitivity": sharp}, {check: job.understand(check, text) for check, text in said.items()}
        )

    places = [place(0.0, 0.0, 61.6, 57.3, "0.1 Hz")]
    for number in range(7):
        places.append(place(4.5 + 0.125 * (number % 2), 6.0, 61.4, 58.5, "0.5 Hz slow_swing"))
    places.append(place(4.5, 2.75, 63.3, 59.4, "0.1 Hz"))
    said = by_pair(knowledge, job.features, job.tolerance, step, places)
    assert said.kind == "turn"
    assert said.step["sensitivity"] == pytest.approx(3.25)
    back = place(4.5 + said.step.get("speed", 0.0), 6.0, 61.4, 58.5, "0.5 Hz slow_swing")
    assert by_pair(knowledge, job.features, job.tolerance, step, [*places, back]).kind == "stuck"


def test_a_turn_asks_again_for_what_it_moves_and_not_for_the_looks_beside_it(knowledge: Knowledge) -> None:
    job = begun(knowledge, booster="vacuum")
    follow(job, "booster_set")
    for check, answer in (("booster_link_movement", "moves_with_load"), ("swing_full_load", "1.0 Hz slow_swing")):
        job.record(check, answer)
    advice = follow(job, "booster_set")
    assert (advice.kind, advice.step) == ("turn", "booster_set")
    turned(job, advice)
    unread = stands(job, "booster_set").unread
    assert set(unread) == {"frequency_no_load", "frequency_full_load", "swing_full_load"}
    # After the remedy that the look is for, it is made again.
    job.carry_out("free_booster_link")
    assert "booster_link_movement" in stands(job, "booster_set").unread


def test_a_set_with_a_booster_that_swings_at_half_load_alone_is_eased(knowledge: Knowledge) -> None:
    """Not to hunt warm at any load is the limit (TM 5-4110-234-14, p. 4-83, c(5)); the proof finds it, and is made again."""
    job = begun(knowledge, booster="vacuum")
    follow(job, "proof_by_quarters")
    job.record("swing_half_load", "0.8 Hz slow_swing")
    advice = advise(job)
    assert (advice.kind, advice.step) == ("turn", "fall_set")
    assert advice.turns["sensitivity"] < 0
    turned(job, advice)
    assert follow(job).kind == "done"
    assert verdict(job).passed


@pytest.mark.parametrize(("volts", "turns"), [("225 V", True), ("232 V", False), ("190 V", False)])
def test_a_voltage_that_is_low_for_want_of_speed_asks_for_more_of_it(
    volts: str, turns: bool, knowledge: Knowledge
) -> None:
    """Voltage follows speed at a steady field (common practice); where it would be low at rated speed too, the field is
    what it lacks, and no turn of the governor is made for it."""
    job = begun(knowledge)
    follow(job, "fall_set")
    found = {"frequency_no_load": "61.2 Hz", "frequency_full_load": "58.75 Hz", "voltage_full_load": volts}
    found |= dict.fromkeys(("swing_no_load", "swing_half_load", "swing_full_load"), "0.1 Hz")
    for check, answer in found.items():
        job.record(check, answer)
    each = stands(job, "fall_set")
    assert each.right != turns
    if turns:
        turning = each.turning
        assert turning is not None
        assert turning.expected["full_load"] > 59.3
        assert turning.expected["no_load"] < 62.5


@pytest.mark.parametrize(("dip", "end"), [("4.6 Hz", "done"), ("5.5 Hz", "refer")])
def test_what_two_standard_errors_cannot_tell_from_right_is_no_reason_to_hand_over(
    dip: str, end: str, knowledge: Knowledge
) -> None:
    """Beyond a limit is proven from twice the standard uncertainty on (ISO 14253-1, coverage factor 2; from memory). The
    verdict names the line all the same."""
    job = begun(knowledge)
    for _ in range(12):
        advice = follow(job, answers={"load_step_dip": dip})
        if advice.kind != "search":
            break
        if advice.remedy:
            job.carry_out(advice.remedy)
        else:
            job.record(advice.check, right(job, advice.check))
    assert advice.kind == end
    assert not verdict(job).passed
    assert "load_step_dip" in {line.check for line in verdict(job).outside}


@pytest.mark.parametrize(("none", "full", "turns"), [("60.6", "58.9", True), ("61.0", "59.0", False)])
def test_a_reading_nearer_to_its_limit_than_the_meter_is_true_is_turned_inside(
    none: str, full: str, turns: bool, knowledge: Knowledge
) -> None:
    """Right is proven from the uncertainty of the meter inside the limit on (guard band, ISO 14253-1; from memory)."""
    job = begun(knowledge, booster="vacuum")
    follow(job, "fall_set", {"frequency_no_load": f"{none} Hz"})
    found = {"frequency_no_load": f"{none} Hz", "frequency_full_load": f"{full} Hz", "voltage_full_load": "240 V"}
    found |= dict.fromkeys(("swing_no_load", "swing_half_load"), "0.1 Hz")
    for check, answer in found.items():
        job.record(check, answer)
    assert stands(job, "fall_set").right != turns


def test_a_set_that_was_walked_into_hunting_is_not_turned_further_inside_again(knowledge: Knowledge) -> None:
    """Right, further inside, hunting, eased, right: it would go to and fro for ever."""
    job = begun(knowledge)
    step = knowledge.catalogue.setting["fall_set"]

    def place(speed: float, none: float, full: float, swing: str) -> AdjusterPlace:
        said = {"frequency_no_load": f"{none} Hz", "frequency_full_load": f"{full} Hz", "voltage_full_load": "225 V"}
        said |= {"swing_no_load": swing, "swing_half_load": "0.2 Hz", "swing_full_load": "0.2 Hz"}
        answers = {check: job.understand(check, text) for check, text in said.items()}
        return AdjusterPlace({"speed": speed}, answers, own=bool(speed))

    right_at, hunts = place(0.0, 61.2, 58.75, "0.2 Hz"), place(1.0, 62.0, 59.5, "0.8 Hz slow_swing")
    for places, kind in (((right_at,), "turn"), ((right_at, hunts, right_at), "right")):
        said = by_pair(knowledge, job.features, job.tolerance, step, places)
        assert said.kind == kind
