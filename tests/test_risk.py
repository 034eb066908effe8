"""What may come of a set as it is known: cautions of running steps that follow from findings and belief.

That a throttle which hangs, a loose arm or a governor that does not answer can let an engine run away, and that the
throttle is proven to close by hand before more is run, is trade fact: NAVEDTRA 14076 p. 3-36 (stop the engine,
disconnect the linkage, move the fuel control by hand; from memory) and common practice.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.jobsite import steps
from hertzwright.cli.terminal.screen import Screen
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.job import of_step

from technician import by_list, desk_of

LOOSE = [
    ("linkage_by_hand", "hangs"),
    ("linkage_by_hand", "slack"),
    ("linkage_feel", "binds"),
    ("linkage_feel", "loose"),
    ("arm_clamp", "slips"),
    ("closed_stop", "held_open"),
    ("return_spring_look", "weak_or_off"),
    ("governor_belt_look", "slips"),
    ("arm_travel", "gritty_or_sticky"),
]
FITTED = {"return_spring": "fitted", "governor_drive": "belt"}


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def cautions(job: Job, kind: str, name: str) -> tuple[str, ...]:
    off = [each.fitting for each in job.off]
    return of_step(job.knowledge.catalogue, kind, name, off, proof=False, risks=job.risks)


@pytest.mark.parametrize(("check", "answer"), LOOSE, ids=str)
@pytest.mark.parametrize("doubt", ["", "?"])
def test_every_running_step_warns_of_what_was_seen(knowledge: Knowledge, check: str, answer: str, doubt: str) -> None:
    known = {name: value for name, value in FITTED.items() if name in knowledge.features()}
    job = Job(knowledge, known)
    job.record("hunts_under_load", "present")
    job.record(check, f"{answer}{doubt}")
    for fitting in [each.fitting for each in job.off]:
        job.put_back(fitting)
    for name, each in job.checks.items():
        assert not job.runs(each.state) or "overspeed" in cautions(job, "check", name), name
    assert {"frequency_full_load", "load_drop_overshoot", "frequency_no_load"} <= set(job.checks)
    assert "overspeed" in cautions(job, "proof", "")
    assert "overspeed" not in cautions(job, "check", "hose_look")


def test_a_belief_warns_as_well(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    assert job.risks == ()
    job.record("throttle_rest_no_load", "arm_at_end_of_travel")
    job.record("frequency_no_load", "64.5 Hz")
    chances = job.posterior()
    bound = knowledge.catalogue.words["sometimes"].value
    listed = knowledge.catalogue.danger["overspeed"].may_come
    assert listed is not None
    believed = [name for name in listed.causes if chances.get(name, 0.0) >= bound]
    assert believed, "the case does not suspect anything"
    assert "overspeed" in cautions(job, "check", "frequency_full_load")
    assert sum(reason.endswith("is suspected") for reason in job.risks[0].reasons) == len(believed)


def test_the_first_start_after_the_work_is_still_one_to_stand_beside(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    job.record("linkage_by_hand", "hangs")
    job.carry_out("free_linkage")
    assert "overspeed" in cautions(job, "check", "frequency_no_load")
    assert "first run since the work" in str(job.risks[0])
    job.record("frequency_no_load", "61.3 Hz")
    assert not any("moved by hand" in reason for risk in job.risks for reason in risk.reasons)


def test_the_first_run_after_work_on_the_governor_warns_once(knowledge: Knowledge) -> None:
    """A blind trial: "first run since the work" was said at the second run too, after the speed was set on a running
    set; and after a spring was renewed, with nothing seen before, nothing was said at all."""
    job = Job(knowledge)
    job.record("linkage_by_hand", "hangs")
    job.carry_out("free_linkage")
    job.carry_out("set_no_load_speed")  # the set ran for it
    assert not any("first run" in reason for risk in job.risks for reason in risk.reasons)
    for remedy in ("renew_governor_spring", "set_rod_length", "overhaul_governor"):
        job = Job(knowledge)
        job.record("frequency_no_load", "61 Hz")
        assert not any("first run" in reason for risk in job.risks for reason in risk.reasons)
        job.carry_out(remedy)
        assert "overspeed" in cautions(job, "check", "frequency_no_load")
        assert "overspeed" in cautions(job, "proof", "")
        assert "overspeed" not in cautions(job, "check", "hose_look")
        job.record("frequency_no_load", "61.3 Hz")
        assert not any("first run" in reason for risk in job.risks for reason in risk.reasons)


def test_the_first_run_of_a_set_that_nobody_knows_warns(knowledge: Knowledge, tmp_path: Path) -> None:
    """A blind trial: a rebuilt engine was started for the first time with no word of overspeed."""
    job = Job(knowledge, {"booster": "none"})
    assert "overspeed" not in cautions(job, "check", "frequency_no_load")
    job.begin_setting()
    assert "overspeed" in cautions(job, "check", "frequency_no_load")
    session, script = desk_of(job, by_list(["n"]), tmp_path)
    session.screen = Screen(True, script.out, 40)
    session.seen.update(knowledge.catalogue.cautions)
    assert steps.one_check(session, "frequency_no_load").command == "skip"
    said = " ".join(script.out.getvalue().split())
    assert "Overspeed may come: first run" in said
    assert "keep a hand there" in said
    job.record("frequency_no_load", "61.3 Hz")
    assert "overspeed" not in cautions(job, "check", "frequency_no_load")
    job = Job(knowledge)
    job.stands("apart")
    assert "overspeed" in cautions(job, "check", "swing_no_load")
    job = Job(knowledge)
    job.stands("running")
    job.begin_setting()
    assert "overspeed" not in cautions(job, "check", "frequency_no_load")


def test_a_set_that_was_said_to_run_away_warns_after_it_was_secured(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    job.record("overspeeds", "present")
    job.secure("the one who tests")
    assert "overspeed" in cautions(job, "check", "frequency_no_load")
    job.record("overspeeds", "absent")
    assert not any(risk.limit == "overspeeds" for risk in job.risks)


def test_a_loaded_reading_is_not_asked_before_the_new_danger_was_met(knowledge: Knowledge, tmp_path: Path) -> None:
    """A blind trial: after "hangs" a reading at full load was asked with no word of overspeed."""
    job = Job(knowledge)
    job.record("hunts_under_load", "present")
    session, script = desk_of(job, by_list(["n", "y"]), tmp_path)
    session.screen = Screen(True, script.out, 40)
    # All of it was met before, on steps of a set that nothing was known of.
    session.seen.update(knowledge.catalogue.cautions)
    session.acknowledged.update(f"caution {name}" for name in knowledge.catalogue.cautions)
    session.acknowledged.update(f"state {name}" for name in knowledge.catalogue.states)
    session.record("linkage_by_hand", "hangs")
    assert steps.one_check(session, "frequency_full_load").command == "skip"
    said = " ".join(script.out.getvalue().split())
    assert "Overspeed may come: linkage moved by hand, rod on, hangs." in said
    assert "keep a hand there" in said
    assert "Are you safe to do this?" in said
    assert not any(made.check == "frequency_full_load" for made in job.made)


def test_rank_tells_it_for_programs(knowledge: Knowledge, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    facts = tmp_path / "facts.yaml"
    for answer, there in (("comes_back", False), ("hangs", True)):
        facts.write_text(f"facts:\n  - {{check: linkage_by_hand, answer: {answer}}}\n")
        assert main(["rank", str(facts), "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        runs = [step for step in found["next"] if step["kind"] == "check"
                and Job(knowledge).runs(knowledge.checks[step["id"]].state)]  # fmt: skip
        assert runs or there
        assert ("overspeed" in found["cautions"]) is there or not there


def test_every_cause_that_may_read_dangerously_is_named(knowledge: Knowledge) -> None:
    """A cause by which the no-load speed may be dangerous is one that may run away, or its reason is here."""
    otherwise = {
        "meter_wrong": "the set is right, the meter is not",
        "speed_set_high": "governed, though too high; it answers the governor",
        "booster_diaphragm_leak": "lifts the speed by a hertz or two, governed",
        "booster_passage_plugged": "lifts the speed by a hertz or two, governed",
        "vacuum_leak": "fast only where the mixture is lean, and the governor closes",
    }
    limit = knowledge.catalogue.danger["overspeed"]
    assert limit.may_come is not None
    for check, outcomes in limit.outcomes.items():
        for cause, chances in knowledge.network.shows[check].items():
            if any(chances[knowledge.checks[check].index(outcome)] > 0 for outcome in outcomes):
                assert cause in limit.may_come.causes or cause in otherwise, cause


def test_a_load_test_of_the_job_says_it_too(
    knowledge: Knowledge, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = ["--folder", str(tmp_path)]
    start = ["start", "--name", "barn", "--acknowledge", "--complaint", "hunts_under_load", *place]
    assert main(start) == 0
    capsys.readouterr()
    assert main(["jobs", "--json", *place]) == 0
    ident = json.loads(capsys.readouterr().out)["jobs"][0]["id"]
    assert main(["resume", ident, "--record", "linkage_by_hand=hangs", *place]) == 0
    assert main(["loadtest", "--plan", "--job", ident, *place]) == 0
    assert "Overspeed may come: Linkage moved by hand" in " ".join(capsys.readouterr().out.split())


def test_nothing_is_run_for_the_record_while_the_throttle_hangs(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    job.record("bogs_on_load_step", "present")
    assert job.owed
    job.record("linkage_by_hand", "hangs?")
    assert job.owed, "not sure is no sight of it"
    job.record("linkage_by_hand", "hangs")
    assert job.owed == ()
    assert job.next_steps(1, 0)[0].id == "linkage_feel"
