"""What people type at a check, understood or said back; never a traceback, never a wrong reading in silence.

Outside: f = poles * rpm / 120 (TM 5-6115-584-34, para 7-1); the middle and the span of a swing are arithmetic.
"""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from hertzwright.engine import AnswerError, Job, Knowledge, load_knowledge
from hertzwright.engine.readings import meanings

KNOWLEDGE = load_knowledge()
JOB = Job(KNOWLEDGE)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return KNOWLEDGE


def meant(check: str, text: str, job: Job = JOB) -> list[tuple[tuple[str, str], ...]]:
    return [each.answers for each in meanings(job.checks[check], text, job.features, job.checks)]


SWING = (("frequency_no_load", "60 to 63 Hz"), ("swing_no_load", "3 Hz"))


@pytest.mark.parametrize(
    "text",
    ["60-63", "60 to 63", "between 60 and 63", "60 - 63 Hz", "from 60 to 63 hz", "63-60", "60..63", "swings from 60 to 63",
     "1800 to 1890 rpm"],
)  # fmt: skip
def test_a_swing_is_its_middle_and_its_span(text: str) -> None:
    assert meant("frequency_no_load", text) == [SWING]


def test_a_swing_at_the_check_of_the_swing_tells_the_speed_too() -> None:
    assert meant("swing_no_load", "60-63") == [SWING]
    assert meant("swing_no_load", "2-3") == [(("swing_no_load", "2.5 Hz"),)]
    assert meant("frequency_quarter_load", "60-61") == [(("frequency_quarter_load", "60 to 61 Hz"),)]


def test_the_upper_end_of_a_swing_is_what_is_dangerous(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    assert job.record("frequency_no_load", "60 to 63 Hz").values == (61.5,)
    assert not job.held
    job.record("frequency_no_load", "61 to 67 Hz")  # 64 Hz in the middle is no danger; 67 Hz is
    assert job.held
    assert Job.replay(knowledge, job.events).held


def test_readings_at_several_loads() -> None:
    five = ["no", "quarter", "half", "three_quarter", "full"]
    all_five = meant("frequency_half_load", "61.5 60.8 60.1 59.5 59")
    assert all_five == [
        tuple(
            (f"frequency_{load}_load", f"{value} Hz")
            for load, value in zip(five, ("61.5", "60.8", "60.1", "59.5", "59"), strict=True)
        )
    ]
    four = meant("frequency_no_load", "61.5 60.8 60.1 59")
    assert len(four) == 4  # asked: which load was left out
    assert all(way[0] == ("frequency_no_load", "61.5 Hz") for way in four)
    assert len(meant("frequency_full_load", "61.5, 60.1, 59")) > 1
    assert meant("frequency_no_load", "1 2 3 4 5 6") == []
    assert meant("wide_open_stop_gap", "0.8 0.9") == []


def test_a_bare_speed_is_confirmed_by_the_poles(knowledge: Knowledge) -> None:
    assert meant("frequency_no_load", "1926") == [(("frequency_no_load", "1926 rpm"),)]
    assert JOB.understand("frequency_no_load", "1926 rpm").values[0] == pytest.approx(4 * 1926 / 120)
    two = Job(knowledge, {"poles": "2"})
    assert meant("frequency_no_load", "3700", two) == [(("frequency_no_load", "3700 rpm"),)]
    assert meant("frequency_no_load", "9999") == []


def test_an_outcome_by_its_words_and_never_by_what_it_denies(knowledge: Knowledge) -> None:
    for check in knowledge.checks.values():
        for outcome in check.outcomes:
            for way in meanings(check, f"it is {outcome.id.replace('_', ' ')}", JOB.features, JOB.checks):
                assert way.answers[0][0] == check.id
        for way in meanings(check, "not", JOB.features, JOB.checks):
            raise AssertionError(way)
    assert meant("frequency_no_load", "above the limits") == [(("frequency_no_load", "high"),)]
    assert meant("exhaust_colour", "no smoke at all, purple") == []


ANY = st.one_of(
    st.text(max_size=30),
    st.from_regex(r"[0-9][0-9 .,/\-toand]{0,20}( ?(Hz|rpm|mm|in|kPa|V|turns))?\??", fullmatch=True),
    st.lists(st.floats(0, 4000).map(lambda v: f"{v:.1f}"), min_size=1, max_size=7).map(" ".join),
)


@settings(max_examples=150, deadline=None)
@given(name=st.sampled_from(sorted(JOB.checks)), text=ANY)
@example(name="frequency_no_load", text="61-5")
@example(name="frequency_no_load", text="60 to 1/0")
@example(name="wide_open_stop_gap", text="1-1/4")
def test_nothing_typed_is_an_error_or_read_wrong(name: str, text: str) -> None:
    """What is meant can be recorded as it is, and its figures lie between those that were typed."""
    for way in meanings(JOB.checks[name], text, JOB.features, JOB.checks):
        assert way.told
        for check, answer in way.answers:
            try:
                read = JOB.understand(check, answer)
            except AnswerError as error:  # pragma: no cover
                raise AssertionError((text, way)) from error
            assert read.outcomes
