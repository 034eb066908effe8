"""Set-up states: what going between them costs, and how a set stands when the technician comes.

Outside source: that a settled reading needs about 15 minutes of running from cold, TM 5-4110-234-14 p. 4-83, c(1).
"""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.jobsite import proof_run, set_prompt
from hertzwright.cli.terminal.leaving import Back
from hertzwright.cli.terminal.screen import Screen
from hertzwright.engine import Job, JobError, load_knowledge
from hertzwright.engine.job import Event, out_of_order
from hertzwright.engine.planning import Look, Mend, PlanningProblem
from hertzwright.engine.planning.remaining import Remaining
from hertzwright.engine.review.cases import job_of_case, record

from technician import Script, by_list, desk_of

KNOWLEDGE = load_knowledge()
COSTS = KNOWLEDGE.catalogue.costs
STATES = tuple(KNOWLEDGE.catalogue.states)


@pytest.mark.parametrize(("start", "over", "end"), tuple(product(STATES, STATES, STATES)))
def test_no_detour_is_shorter_than_the_way_itself(start: str, over: str, end: str) -> None:
    """A cold set was warm four minutes after it had been looked at standing still, so that every job began with that."""
    between = COSTS.standing(start, over)
    whole = COSTS.move(start, over) + COSTS.move(between, end)
    assert COSTS.move(start, end) <= whole + 1e-9


def test_a_cold_set_is_warmed_up_once_whatever_is_looked_at_before() -> None:
    """Source: TM 5-4110-234-14 p. 4-83, c(1), about 15 minutes."""
    job = Job(KNOWLEDGE)
    job.record("throttle_shaft_play", "snug")
    before = job.minutes
    job.record("frequency_no_load", "61 Hz")
    assert job.minutes - before == pytest.approx(15 + KNOWLEDGE.checks["frequency_no_load"].minutes)
    job.record("spring_look", "sound")
    before = job.minutes
    job.record("swing_no_load", "steady")
    assert job.minutes - before < 10, "warm from then on"


@pytest.mark.parametrize("found", COSTS.found)
def test_where_a_set_stands_is_said_in_any_of_its_words(found: str) -> None:
    for words in COSTS.found[found].names:
        job = Job(KNOWLEDGE)
        job.stands(words.upper())
        assert (job.here, job.minutes) == (COSTS.found[found].state, 0.0)
        assert Job.replay(KNOWLEDGE, job.events).here == job.here


def test_a_job_that_does_not_say_how_the_set_stood_begins_as_jobs_always_did() -> None:
    assert Job(KNOWLEDGE).here == COSTS.start_state == "stopped_cold"


@pytest.mark.parametrize("words", ["", "on its head", "1", "stopped_warm"])
def test_what_is_no_way_a_set_stands_is_refused_and_shown(words: str) -> None:
    job = Job(KNOWLEDGE)
    with pytest.raises(JobError, match=f'"{words}" is no way a set stands; expected cold, running, warm, apart'):
        job.stands(words)
    assert len(job.events) == 1
    with pytest.raises(JobError):
        Job.replay(KNOWLEDGE, [*job.events, Event("stands", "upside_down")])


def test_a_running_set_is_read_before_it_is_stopped_and_a_warm_one_costs_no_warming() -> None:
    minutes = {}
    for found in COSTS.found:
        job = Job(KNOWLEDGE)
        job.stands(found)
        job.record("frequency_no_load", "61 Hz")
        minutes[found] = job.minutes
    assert minutes["running"] < minutes["warm"] < minutes["cold"] < minutes["apart"]


# ---- readings of the set as found


def test_readings_as_found_are_owed_until_the_first_work_on_a_fault() -> None:
    job = Job(KNOWLEDGE)
    assert job.owed == COSTS.as_found
    job.record("bogs_on_load_step", "present")
    assert job.owed == (*COSTS.as_found, "load_step_dip"), "a complaint that nobody met cannot be proven gone"
    job.step_back()
    job.record("frequency_no_load", "61 Hz")
    job.record("voltage_no_load", "unknown")
    assert job.owed == tuple(name for name in COSTS.as_found if name not in ("frequency_no_load", "voltage_no_load"))
    job.carry_out("warm_up", "unknown")
    assert job.owed, "warming up is no work on a fault"
    job.carry_out("set_rod_length", "not cured")
    assert job.owed == ()


def test_nothing_is_run_for_the_record_where_the_set_may_run_away_or_lay_in_parts() -> None:
    racing, apart = Job(KNOWLEDGE), Job(KNOWLEDGE)
    racing.record("overspeeds", "present")
    racing.record("linkage_by_hand", "comes_back")
    apart.stands("apart")
    assert racing.owed == apart.owed == ()


def test_a_reading_that_is_owed_costs_the_plan_nothing_and_is_told_with_its_minutes() -> None:
    job = Job(KNOWLEDGE)
    job.stands("running")
    job.record("sags_under_load", "present")
    step = job.next_steps(1, 0)[0]
    assert step.id in COSTS.as_found
    assert step.minutes == COSTS.move(job.here, KNOWLEDGE.checks[step.id].state) + KNOWLEDGE.checks[step.id].minutes


# ---- order and price


def two_remedies(look_first: dict[str, tuple[str, ...]]) -> PlanningProblem:
    """Two remedies of the running set, and a look at the stopped one that tells nothing."""
    moves = {("stopped", "running"): 4.0, ("running", "stopped"): 2.0}
    return PlanningProblem(
        looks=(Look("feel", 3.0, "stopped"),),
        mends=(Mend("speed", 5.0, "running", {"low": 1.0}), Mend("sense", 12.0, "running", {"sharp": 1.0})),
        moves=moves,
        proof_minutes=6.0,
        proof_state="running",
        refer=240.0,
        likelihood=lambda check, present: (1.0,),
        look_first=look_first,
        cure_first={},
    )


def price(problem: PlanningProblem, made: frozenset[str] = frozenset()) -> float:
    remaining = Remaining(problem)
    belief = [(remaining.number(frozenset({cause})), 0.5) for cause in ("low", "sharp")]
    return remaining.rest(belief, "running", (0, 0), remaining.waiting(made))


def test_a_look_that_several_remedies_wait_for_is_paid_for_once_with_its_stop_and_restart() -> None:
    """By hand: 2 + 3 + 4 minutes once, however many wait. Paid for by each, a look would save many times its minutes."""
    free = price(two_remedies({}))
    assert free == pytest.approx(0.5 * 11 + 0.5 * (11 + 18))
    one = price(two_remedies({"speed": ("feel",)}))
    both = price(two_remedies({"speed": ("feel",), "sense": ("feel",)}))
    assert both == pytest.approx(free + 9)
    assert one <= both
    assert price(two_remedies({"speed": ("feel",), "sense": ("feel",)}), frozenset({"feel"})) == pytest.approx(free)


@pytest.mark.parametrize("complaint", ["sags_under_load", "hunts_no_load", "floats_high_no_load"])
def test_a_fault_that_was_seen_is_mended_before_more_is_measured(complaint: str) -> None:
    """Common practice: a hose that is seen to be cracked is renewed; nobody puts full load on first."""
    job = Job(KNOWLEDGE)
    job.record(complaint, "present")
    job.record("hose_look", "hose_cracked")
    step = job.next_steps(1)[0]
    assert step.id in ("clear_booster_passage", "booster_passage")


def test_nothing_is_taken_off_or_turned_before_the_set_was_read_as_found_while_it_can_be() -> None:
    job = Job(KNOWLEDGE)
    job.record("hunts_no_load", "present")
    touching = KNOWLEDGE.catalogue.order["as_found_before_touching"].after
    assert not {step.id for step in job.next_steps(99, 0)} & set(touching)
    assert out_of_order(job, "linkage_feel")
    for name, answer in (("frequency_no_load", "61 Hz"), ("swing_no_load", "slow_swing"), ("linkage_by_hand", "slack")):
        job.record(name, answer)
    assert not out_of_order(job, "linkage_feel")
    racing = Job(KNOWLEDGE)
    racing.record("overspeeds", "present")
    racing.record("linkage_by_hand", "slack")
    assert not out_of_order(racing, "linkage_feel"), "what must not run is not run for the record"
    assert "linkage_feel" in {step.id for step in racing.next_steps(99, 0)}


@pytest.mark.parametrize(
    "names",
    [
        ("points_and_sensitivity_turned_up", "booster_diaphragm_torn"),  # in the first long work is first
        pytest.param(tuple(KNOWLEDGE.catalogue.cases)[1::6], marks=pytest.mark.nightly, id="every sixth"),
    ],
)
def test_a_look_comes_before_long_work_or_the_margin_is_told(names: tuple[str, ...]) -> None:
    """A remedy of a quarter of an hour does not come before the look of two minutes that would confirm it by chance. What
    a look has shown already needs no other to confirm it."""
    long = 0
    for case in [KNOWLEDGE.catalogue.cases[name] for name in names]:
        job = job_of_case(KNOWLEDGE, case)
        for fact in case.facts:
            record(job, fact)
            long += long_work_first(job, case.id)
    assert long


def long_work_first(job: Job, case: str) -> int:
    """Whether long work comes first for a cause that no look has shown; a short look that would confirm it is then dearer
    by more than its minutes, and that is told."""
    best, *others = job.next_steps(99, 0)
    if best.kind != "remedy" or KNOWLEDGE.remedies[best.id].minutes < 15:
        return 0
    cures = KNOWLEDGE.remedies[best.id].cures
    for made in job.made:
        check = KNOWLEDGE.checks[made.check]
        seen = check.kind == "look" and made.answer.outcomes and check.normal not in made.answer.outcomes
        if seen and cures.keys() & KNOWLEDGE.network.shows[check.id].keys():
            return 0
    for step in others:
        if step.kind == "check" and step.minutes <= 2.0:
            sound, *_ = KNOWLEDGE.distribution(step.id, frozenset())
            if any(KNOWLEDGE.distribution(step.id, frozenset({cause}))[0] <= sound / 2 for cause in cures):
                assert step.expected_minutes - best.expected_minutes > step.minutes, f"{case}: {step.id}, {best.id}"
                assert KNOWLEDGE.checks[step.id].title in best.why or "is expected to take" in best.why
    return 1


def test_what_is_looked_at_standing_still_comes_before_the_restart(tmp_path: Path) -> None:
    names = ["frequency_full_load", "frequency_no_load", "linkage_feel", "choke_plate_cold"]
    orders = {}
    for stands in ("cold", "running", "warm"):
        job = Job(KNOWLEDGE)
        job.stands(stands)
        session, _ = desk_of(job, by_list([]), tmp_path / stands)
        orders[stands] = proof_run.in_order(session, names)
    assert orders["cold"][:2] == ["choke_plate_cold", "linkage_feel"]
    assert orders["warm"][0] == "linkage_feel"
    assert orders["running"].index("frequency_no_load") < orders["running"].index("frequency_full_load")


# ---- at the terminal


@pytest.mark.parametrize(
    ("key", "here"), [("", "stopped_cold"), ("2", "warm_no_load"), ("hot", "stopped_warm"), ("in pieces", "apart")]
)
def test_where_the_set_stands_is_asked_with_one_key(key: str, here: str, tmp_path: Path) -> None:
    job = Job(KNOWLEDGE)
    script = Script(by_list([key]))
    set_prompt.ask_stands(script, Screen(True, script.out, 40), job)
    assert job.here == here
    assert script.prompts == 1
    assert max(map(len, script.out.getvalue().splitlines())) <= 40


def test_back_works_before_there_is_a_job(tmp_path: Path) -> None:
    """z at how it stands goes to the description, there to the feature before, and from the whole of it to the name."""
    described = ["3", "5", "z", "2", "z", "1"]  # each in a row, where five are no poles; back; some of it; back
    script = Script(by_list([*described, "z", "1", "1"]))
    job = set_prompt.asked_job(script, Screen(True, script.out, 40), KNOWLEDGE, {}, "default", True, "")
    assert job.here == COSTS.start_state
    assert script.out.getvalue().count("Is that right?") == 4
    with pytest.raises(Back):
        set_prompt.asked_job(Script(by_list(["z"])), Screen(True, script.out, 40), KNOWLEDGE, {}, "default", True, "")


def test_options_and_facts_say_where_it_stands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    facts = tmp_path / "facts.yaml"
    facts.write_text("stands: running\nfacts:\n  - {complaint: sags_under_load, answer: present}\n", encoding="utf-8")
    assert main(["rank", str(facts), "--json"]) == 0
    step = json.loads(capsys.readouterr().out)["next"][0]
    assert step["minutes"] == KNOWLEDGE.checks[step["id"]].minutes
    facts.write_text("facts:\n  - {complaint: sags_under_load, answer: present}\n", encoding="utf-8")
    assert main(["rank", str(facts), "--json", "--stands", "Stopped, still warm"]) == 0
    first, *later = json.loads(capsys.readouterr().out)["next"]
    step = next(each for each in later if each["id"] == "frequency_no_load")
    assert first["minutes"] == KNOWLEDGE.checks[first["id"]].minutes  # before the first start
    assert first["id"] in COSTS.first_start.checks
    assert step["minutes"] == 4 + KNOWLEDGE.checks[step["id"]].minutes
    assert main(["rank", str(facts), "--stands", "aloft"]) == 2
    assert '"aloft" is no way a set stands; expected cold' in capsys.readouterr().err
    facts.write_text("stands: [cold]\nfacts: []\n", encoding="utf-8")
    assert main(["rank", str(facts)]) == 2
    assert "facts.yaml:1: `stands` is how the set stood" in capsys.readouterr().err
