"""What is only assumed of a set: the rated power, from which load steps and amps follow.

Outside: amps of a leg are watts over volts at power factor 1 on single phase (P = V I): 9 kW at 240 V is 37.5 A.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.cli.jobsite import rating, set_prompt, view
from hertzwright.cli.record import limits
from hertzwright.cli.terminal.screen import Screen
from hertzwright.engine import Job, Knowledge, load_knowledge

from technician import Typed, by_list, desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def test_what_nobody_said_is_assumed_until_it_is(knowledge: Knowledge) -> None:
    job = Job(knowledge, {}, assumed=("rated_kw",))
    assert job.assumed == ("rated_kw",)
    assert Job.replay(knowledge, job.events).assumed == ("rated_kw",)
    job.correct({"rated_kw": "9"})
    assert job.assumed == ()
    assert Job.replay(knowledge, job.events).assumed == ()
    assert Job(knowledge, {"rated_kw": 9}).assumed == ()


@pytest.mark.parametrize(("lines", "known"), [(["1"], False), (["6.5 kW", "1"], True), (["9 kW", "1"], True)])
def test_a_new_set_whose_rating_nobody_said_keeps_it_unknown(
    lines: list[str], known: bool, knowledge: Knowledge, tmp_path: Path
) -> None:
    with (tmp_path / "out").open("w+") as out:
        found = set_prompt.ask_features(Typed(*lines), Screen(True, out, 80), knowledge, {})
        out.seek(0)
        assert "9 kW, assumed" in out.read()
    assert ("rated_kw" in found) is known


@pytest.mark.parametrize(("said", "kilowatts", "assumed"), [("6.5 kW", 6.5, False), ("no idea", 9.0, True)])
def test_it_is_asked_before_load_comes_on_and_once(
    said: str, kilowatts: float, assumed: bool, knowledge: Knowledge, tmp_path: Path
) -> None:
    job = Job(knowledge, {}, assumed=("rated_kw",))
    session, script = desk_of(job, by_list([said]), tmp_path)
    rating.ask_under_load(session, "warm_no_load")
    assert script.prompts == 0
    rating.ask_under_load(session, "warm_loaded")
    rating.ask_under_load(session, "warm_loaded")
    assert script.prompts == 1
    assert "9 kW is only assumed" in script.out.getvalue()
    assert job.features["rated_kw"] == kilowatts
    assert (", assumed)" in view.with_load(session, "at full load")) is assumed


def test_the_amps_of_full_load_have_both_ends(knowledge: Knowledge) -> None:
    job = Job(knowledge, {"rated_kw": 9, "altitude": 0, "temperature": 60})
    told = limits(job, job.checks["full_load_amps"])
    assert "full load is about 37.5 A" in told
    assert "assumed" not in told
    assert "as 9 kW is assumed" in limits(Job(knowledge, {}, assumed=("rated_kw",)), knowledge.checks["full_load_amps"])
