"""Whether the course of setting can notice a fault at all: each has a reading that comes out other than for a sound set.

Purpose: no cause passes the course by; what only the first minutes or an open plug hole show is read there; and what a
turn would hide is looked at before it is turned.
Law: the simulated set, which reads nothing of the knowledge's strengths, is asked every reading of the course. Readings
that a step takes for fine are not counted.
Not here: whether the belief then finds the fault (see `tests.benchmarks.setting`).
"""

from __future__ import annotations

import pytest
from benchmarks.setting import SETTINGS

from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.readings import read_answer
from hertzwright.engine.setting import (
    Course,
    advise,
    course_of,
    not_responding,
    progress,
    put,
    sheet,
    suspected,
    turned,
)
from hertzwright.engine.simulated.bench import CHECKS, Bench
from hertzwright.engine.simulated.faults import FAULTS

MODERATE = 0.5


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def _not_right(knowledge: Knowledge, course: Course, bench: Bench) -> set[str]:
    """Readings of the course that come out other than right on a set."""
    bands = knowledge.catalogue.tolerances["default"].bands
    found = set()
    for name, step in course.steps.items():
        for check in course.read(name):
            answer = bench.answer(check) if check in CHECKS else "unknown"
            if answer == "unknown":
                continue
            known = knowledge.checks[check]
            outcomes = set(read_answer(known, answer, course.features, bands.get(check)).outcomes)
            fine = {known.normal, *knowledge.catalogue.costs.also_fine.get(check, ()), *step.fine.get(check, ())}
            if outcomes and not outcomes <= fine:
                found.add(check)
    return found


def _unnoticed(knowledge: Knowledge, given: dict[str, str], causes: list[str]) -> list[str]:
    features = knowledge.features(given)
    course = course_of(knowledge, features)
    sound = _not_right(knowledge, course, Bench(features))
    return [
        cause
        for cause in causes
        if knowledge.causes[cause].fault
        and knowledge.prior(cause, features) > 0.0
        and not _not_right(knowledge, course, Bench(features, ((cause, MODERATE),), seed=7)) - sound
    ]


@pytest.mark.parametrize("choke", ["electric", "thermostatic"])
def test_a_choke_that_opens_late_and_carbon_are_seen_where_it_costs_least(knowledge: Knowledge, choke: str) -> None:
    seen = _unnoticed(knowledge, {"choke": choke}, ["choke_slow_opening", "carbon_in_cylinders", "choke_stuck_open"])
    assert not seen


@pytest.mark.nightly
def test_no_moderate_fault_passes_the_course_by(knowledge: Knowledge) -> None:
    assert not _unnoticed(knowledge, {}, [cause for cause in knowledge.causes if cause in FAULTS])


def test_the_words_too_say_that_every_fault_can_be_noticed(knowledge: Knowledge) -> None:
    """By the knowledge's own strengths: the chance that some reading is not right, `fine` answers left out, is at least
    two in three for every fault of a usual set."""
    features = knowledge.features({})
    course = course_of(knowledge, features)
    shows = knowledge.network.shows
    weak = {}
    for cause, known in knowledge.causes.items():
        if not known.fault or knowledge.prior(cause, features) <= 0.0:
            continue
        passes = 1.0
        for check in {check for name in course.steps for check in course.read(name)}:
            order = list(knowledge.checks[check].outcomes)
            fine = {check_fine for step in course.steps.values() for check_fine in step.fine.get(check, ())}
            chances = shows[check].get(cause)
            if chances is not None:
                passes *= sum(
                    chance for outcome, chance in zip(order, chances, strict=True)
                    if outcome == order[0] or outcome in fine
                )  # fmt: skip
        if passes > 1.0 / 3.0:
            weak[cause] = passes
    assert not weak


def test_volts_are_seen_before_the_fall_is_set(knowledge: Knowledge) -> None:
    """A regulator or slip rings that fail swing the load: seen only in the proof, the fall was set over and over."""
    course = course_of(knowledge, knowledge.features({}))
    assert "voltage_seen_steady" in course.before["fall_set"]


SEEN_OTHERWISE = {
    # Tightened to the end of its thread and still short of its speed: every adjustment comes first (TM 5-4110-234-14).
    "governor_spring_weak",
    # No turn takes away what these do to the volts, so that the proof bars them.
    "voltage_regulator_unstable", "brushes_worn", "slip_rings_rough", "diodes_failed", "legs_unbalanced",
}  # fmt: skip


def test_each_fault_is_brought_up_by_a_reading_of_its_own(knowledge: Knowledge) -> None:
    """What full load lacks, or an idle that is off, is turned away by speed, sensitivity and needles, and with it the only
    sign of a weak pump, a needle that leaks or ice. So of every fault some reading of the course tells by itself, in a
    quarter of its cases or more: a step has a remedy for it, or the belief goes after it on that finding alone."""
    features = knowledge.features({})
    course = course_of(knowledge, features)
    steps = course.steps.values()
    fine = {(check, outcome) for step in steps for check, listed in step.fine.items() for outcome in listed}
    checks = [check for name in course.steps for check in course.read(name)]
    checks += [look for step in steps for look in step.looks if knowledge.applies(look, features)]
    brought: dict[str, float] = {}
    for check in dict.fromkeys(checks):
        shows = knowledge.network.shows[check]
        for at, outcome in enumerate(knowledge.checks[check].outcomes):
            if at == 0 or (check, outcome) in fine:
                continue
            job = Job(knowledge)
            job.begin_setting()
            job.record(check, outcome, happened=True)
            causes = {cause for cause, _ in suspected(job, ())}
            for step in steps:
                remedy = step.remedy_for(check, [outcome]) if check in step.accepts else ""
                causes |= set(knowledge.remedies[remedy].cures) if remedy else set()
            for cause in causes & shows.keys():
                brought[cause] = max(brought.get(cause, 0.0), shows[cause][at])
    least = knowledge.catalogue.words["sometimes"].value
    faults = {
        cause
        for cause, known in knowledge.causes.items()
        if known.fault and cause not in SETTINGS and knowledge.prior(cause, features) > 0.0
    }
    passed = {cause for cause in faults if brought.get(cause, 0.0) < least}
    assert passed == SEEN_OTHERWISE


def _until(job: Job, answers: dict[str, str], check: str = "", remedy: str = "") -> None:
    """Do as advised, everything right but what `answers` says, until a check or a remedy is advised."""
    for _ in range(120):
        told = advise(job)
        if (check and told.check == check) or (remedy and told.remedy == remedy):
            return
        if told.check:
            job.record(told.check, answers.get(told.check) or _right(job, told.check))
        elif told.remedy:
            job.carry_out(told.remedy)
        elif told.kind == "turn":
            turned(job, told)
        elif told.kind == "stuck":
            not_responding(job, told)
        elif told.kind in ("place", "do"):
            put(job, told)
        else:
            break
    raise AssertionError(f"{told.kind} and no {check or remedy}: {job.line()}")


def _right(job: Job, check: str) -> str:
    figures = {"frequency_no_load": "61.5 Hz", "frequency_full_load": "59.4 Hz"}
    return figures.get(check, job.checks[check].normal)


def _begun(knowledge: Knowledge, **features: str) -> Job:
    job = Job(knowledge, {"booster": "none", **features})
    job.begin_setting()
    return job


@pytest.mark.parametrize(
    ("trial", "look", "shown", "fault"),
    [
        ("better_leaner", "bowl_level", "high_or_flooding", "float_needle_leaking"),
        ("better_richer", "joint_spray_trial", "speed_changes", "vacuum_leak"),
    ],
)
def test_a_needle_is_not_turned_for_a_fault_that_asks_for_the_same(
    knowledge: Knowledge, trial: str, look: str, shown: str, fault: str
) -> None:
    job = _begun(knowledge)
    _until(job, {}, check="idle_needle_trial")
    job.record("idle_needle_trial", trial)
    told = advise(job)
    assert (told.kind, told.step, told.check) == ("read", "idle_mixture_set", look)
    assert "a fault may ask for the same" in told.why[0]
    sound = Job.replay(knowledge, job.events)
    sound.record(look, sound.checks[look].normal)
    assert advise(sound).remedy == "set_idle_mixture"  # asked once, and then it is turned
    job.record(look, shown, happened=True)
    told = advise(job)
    assert told.kind == "search"
    assert fault in dict(told.causes)


def test_a_feed_that_is_short_is_gone_after_whichever_of_its_faults_it_is(knowledge: Knowledge) -> None:
    """No fault behind a weak flow is likelier than not, and together they are."""
    job = _begun(knowledge)
    _until(job, {}, check="fuel_flow")
    job.record("fuel_flow", "weak")
    told = advise(job)
    assert told.kind == "search"
    assert {"fuel_starvation", "fuel_pump_weak"} <= dict(told.causes).keys()
    assert all(chance < knowledge.catalogue.setting_rules.suspected for _, chance in told.causes)


def test_a_meter_is_held_against_another_before_a_speed_is_turned_by_it(knowledge: Knowledge) -> None:
    job = _begun(knowledge)
    _until(job, {}, check="frequency_no_load")
    job.record("frequency_no_load", "56 Hz")
    told = advise(job)
    assert told.check == "second_meter"
    assert "second_meter" in next(each for each in progress(job) if each.id == "speed_brought_near").unread
    job.record("second_meter", "disagrees")
    told = advise(job)
    assert (told.kind, told.remedy) in (("work", "use_true_meter"), ("search", "use_true_meter"))
    job.carry_out("use_true_meter")
    # What was read by the wrong one is read again, and no turn is made of it.
    _until(job, {}, check="frequency_no_load")
    assert not [event for event in job.standing if event.kind == "set_to" and event.answer == "turned"]


def test_of_a_set_that_runs_too_fast_the_speed_is_taken_off_first(knowledge: Knowledge) -> None:
    course = course_of(knowledge, knowledge.features({}))
    assert not course.steps["speed_brought_near"].looks_for("frequency_no_load", ["very_high"])


@pytest.mark.parametrize(
    ("check", "shown", "remedy"),
    [
        ("choke_opening_time", "late", "set_choke"),
        ("setting_altitude", "much_higher", "set_mixture_for_height"),
        ("carburetor_frost", "frosted", "warm_intake_air"),
    ],
)
def test_what_only_a_look_shows_is_mended_before_the_needles_are_turned(
    knowledge: Knowledge, check: str, shown: str, remedy: str
) -> None:
    job = _begun(knowledge)
    _until(job, {check: shown}, remedy=remedy)
    assert not [event for event in job.standing if event.id in ("set_idle_mixture", "idle_needle_trial")]


def test_black_plugs_are_cleaned_and_not_asked_for_again(knowledge: Knowledge) -> None:
    job = _begun(knowledge)
    _until(job, {}, check="plug_colour")
    job.record("plug_colour", "sooty")
    told = advise(job)
    assert (told.kind, told.step) == ("place", "plugs_clean")
    put(job, told)
    assert advise(job).step != "plugs_clean"
    # A look that was right is right still once a fault is gone: nobody takes the plugs out again for it.
    sound = _begun(knowledge)
    _until(sound, {}, check="idle_needle_trial")
    sound.carry_out("clean_idle_passages")
    assert next(each for each in progress(sound) if each.id == "plugs_clean").right


def test_what_cannot_be_mended_here_is_not_called_left_out_as_untouched(knowledge: Knowledge) -> None:
    """A sheet said both, left out since the work has not touched it, and not right."""
    job = _begun(knowledge)
    job.not_here("straightedge")
    _until(job, {"hose_look": "joint_loose"}, check="spring_look")
    line = next(each for each in sheet(job) if each.step == "hoses_tight")
    assert (line.state, line.wrong) == ("looked at", ("look at hoses and intake joints",))
    assert [each for each in line.unseen if "not here: straightedge" in each]


def test_the_idle_needle_is_set_without_a_vacuum_gauge(knowledge: Knowledge) -> None:
    """TM 5-4110-234-14, p. 4-83, c(2) sets it between surging and rolling, with no gauge."""
    job = _begun(knowledge)
    job.not_here("vacuum_gauge")
    assert not job.lacking("remedy", "set_idle_mixture")


@pytest.mark.parametrize(
    ("fault", "check", "shown"),
    [("float_needle_leaking", "throat_look", "wet"), ("carburetor_icing", "carburetor_frost", "frosted")],
)
def test_the_simulated_set_shows_what_the_looks_ask_for(
    knowledge: Knowledge, fault: str, check: str, shown: str
) -> None:
    features = knowledge.features({})
    assert Bench(features, ((fault, 0.1),)).answer(check) == shown
    assert Bench(features).answer(check) == knowledge.checks[check].normal


def test_a_choke_that_was_set_once_is_set_again_before_it_is_read_again(knowledge: Knowledge) -> None:
    """Set for a late opening, and warm still part shut: its plate was read over and over, since the set was warm."""
    job = _begun(knowledge, choke="thermostatic")
    _until(job, {"choke_opening_time": "not_open"}, check="choke_plate_warm")
    job.record("choke_plate_warm", "part_open")
    job.record("choke_housing_warmth", "hot")
    asked = []
    for _ in range(12):
        told = advise(job)
        asked.append(told.check or told.remedy)
        if told.remedy:
            break
        if told.check:
            job.record(told.check, "part_open" if told.check == "choke_plate_warm" else _right(job, told.check))
        else:
            put(job, told)
    assert "choke_plate_warm" not in asked
