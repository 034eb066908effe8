"""One safety question for the readings of one run: a load test asked four times the same is not read the fourth time.

Outside: none; what is dangerous, and its cautions, are those of the knowledge.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.jobsite import proof_run, putting_back, safety
from hertzwright.cli.terminal import Page
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.job import Risk

from technician import desk_of

STEPS = ("load_step_dip", "load_step_recovery", "load_step_settling", "load_drop_overshoot")


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def asked_of(job: Job, folder: Path, *rows: tuple[str, ...], between: str = "") -> int:
    """How often it was asked whether somebody is safe, over rows of readings with a remedy between them."""
    asked: list[str] = []

    def answer(text: str) -> str:
        asked.append(text)
        return "y" if "so?" in text or "Are you safe" in text else "a"

    session, _ = desk_of(job, answer, folder)
    for at, row in enumerate(rows):
        if at and between:
            session.carry_out(between)
        assert proof_run.take_readings(session, "Proof run", row)
    return sum("Are you safe" in text for text in asked)


def test_one_load_test_is_one_question(knowledge: Knowledge, tmp_path: Path) -> None:
    assert asked_of(Job(knowledge), tmp_path, STEPS) == 1


def test_a_stop_between_begins_anew(knowledge: Knowledge, tmp_path: Path) -> None:
    assert asked_of(Job(knowledge), tmp_path, (STEPS[0], "linkage_feel", STEPS[1])) == 2


def test_what_was_worked_on_begins_anew(knowledge: Knowledge, tmp_path: Path) -> None:
    rows = (STEPS[:1], STEPS[1:2])
    assert asked_of(Job(knowledge), tmp_path, *rows, between="set_no_load_speed") == 2


def test_another_danger_is_asked_about(knowledge: Knowledge, tmp_path: Path) -> None:
    """Plug leads, spray at the joints and fuel are not met by what was met for a load step."""
    others = ("fuel_use", "spark_under_load")
    assert asked_of(Job(knowledge), tmp_path, (STEPS[0], *others)) == 3


def test_the_same_danger_in_the_same_state_of_a_run_is_one_question_whatever_the_part(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    """A stranger was asked again for the next reading of the same run, since it stands in another area."""
    checks = knowledge.checks
    one, other = checks["load_drop_overshoot"], checks["return_after_load"]
    assert (one.state, one.cautions) == (other.state, other.cautions)
    assert one.area != other.area
    assert asked_of(Job(knowledge), tmp_path, (one.id, other.id)) == 1


def test_shock_that_goes_with_every_load_does_not_do_for_a_hand_at_the_regulator(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    """Entering the loaded state asks of its own dangers; live work asks of itself."""
    assert "shock" in knowledge.catalogue.states["warm_loaded"].cautions
    assert asked_of(Job(knowledge), tmp_path, ("frequency_full_load", "regulator_fixed_trial")) == 2


def test_another_reason_for_the_same_danger_asks_anew_only_after_a_stop_or_in_another_state(
    knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = Job(knowledge)
    reasons = ["one is suspected"]
    monkeypatch.setattr(
        safety, "risks_of", lambda session, state: [Risk("overspeed", "Overspeed", tuple(reasons), ("overspeed",))]
        if session.job.runs(state) else [],
    )  # fmt: skip
    session, script = desk_of(job, lambda text: "y", tmp_path)

    def asks(name: str) -> bool:
        check, before = knowledge.checks[name], script.prompts
        assert safety.of_step(session, check, (), Page()) is not None
        return script.prompts > before

    assert asks("frequency_no_load")
    assert not asks("swing_no_load")
    reasons.append("another is suspected")
    assert not asks("swing_no_load"), "the same danger, met in this state of this run"
    reasons.append("a third is suspected")
    assert asks("frequency_full_load"), "another state"
    reasons.append("a fourth is suspected")
    assert not asks("frequency_quarter_load")
    assert not asks("hose_look")  # stopped
    assert asks("frequency_quarter_load")


def test_what_the_opening_said_in_full_is_named_in_a_line_and_asked_about(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, script = desk_of(job, lambda text: "y", tmp_path)
    safety.opening(session)
    script.out.truncate(0)
    script.out.seek(0)
    check = knowledge.checks["frequency_full_load"]
    cautioned = safety.of_step(session, check, putting_back.precautions(session, "check", check.id), Page())
    assert cautioned is not None
    said = " ".join(script.out.getvalue().split())
    assert "Are you safe to do this?" in said
    cautions = knowledge.catalogue.cautions
    assert not cautions["carbon_monoxide"].short
    assert cautions["carbon_monoxide"].title.lower() in said.lower()
    assert cautions["carbon_monoxide"].text.split(".")[0] not in said
    assert cautions["backfeed"].short
    assert cautions["backfeed"].text.split(".")[0] in said, "what the opening said in a sentence, in full at its step"
