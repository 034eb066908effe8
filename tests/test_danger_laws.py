"""Laws of danger, over every limit of the knowledge: where a hold begins, in which meter, and what it says.

Held against: f = poles * rpm / 120 (TM 5-6115-584-34, para 7-1). A swing is read from peak to peak, so that its top
stands half of it above the reading: common practice.
"""

from __future__ import annotations

import math

import pytest

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.job import danger
from hertzwright.engine.loadtest.entry_table import Figure, ReadingRow, read_mappings

KNOWLEDGE = load_knowledge()
CATALOGUE = KNOWLEDGE.catalogue
METERS = ("hertz", "highest_hertz", "volts", "highest_volts")
SETS = [{}, {"hertz": "50", "volts": "400"}, {"poles": "2"}]


def features(given: dict[str, str]) -> dict[str, str | float]:
    return dict(KNOWLEDGE.features(given))


def row(**cells: float) -> ReadingRow:
    """A reading of a load test with these figures, at no load."""
    (found,) = read_mappings([{"load": "no load", "hz": "60"}], "here").rows
    empty = dict.fromkeys(("hertz", "rpm", "volts", "swing", "highest", "volts_swing", "highest_volts"))
    figures = {name: Figure(value, 0.1) for name, value in cells.items()}
    return type(found)(**{name: {**empty, **figures}.get(name, getattr(found, name)) for name in found.__slots__})


def limits(held: tuple[danger.Hold, ...]) -> set[str]:
    return {hold.limit for hold in held}


@pytest.mark.parametrize("given", SETS)
@pytest.mark.parametrize("meter", METERS)
def test_a_meter_holds_from_its_lowest_limit_on_and_not_below(meter: str, given: dict[str, str]) -> None:
    known = features(given)
    least = danger.lowest_that_holds(CATALOGUE, known, meter)
    of = "hertz" if "hertz" in meter else "volts"
    percents = [limit.from_percent for limit in CATALOGUE.danger.values() if meter in limit.meters]
    assert least == pytest.approx(min(percents) * float(known[of]) / 100.0)
    unit = {"hertz": "Hz", "volts": "V"}[of]
    assert danger.of_meters(CATALOGUE, known, {meter: least - 0.01}, "Log") == ()
    # What floating point makes of the limit itself still holds: 66 Hz worked out from rpm may come out as 65.999999999.
    for value in (least, least * (1.0 - 1e-10), least + 0.01):
        (hold, *_) = danger.of_meters(CATALOGUE, known, {meter: value}, "Log")
        assert (hold.unit, hold.at_least) == (unit, round(least, 6))
        assert hold.value == round(value, 6)
        assert hold.finding == f"Log, {value:.4g} {unit}"
        assert hold.title == CATALOGUE.danger[hold.limit].title
        assert hold.cautions == CATALOGUE.danger[hold.limit].cautions


def test_a_meter_that_no_limit_is_about_never_holds() -> None:
    assert danger.lowest_that_holds(CATALOGUE, features({}), "amps") == math.inf
    bare = {name: value for name, value in features({}).items() if name != "volts"}
    assert danger.lowest_that_holds(CATALOGUE, bare, "volts") == math.inf, "a set of no known voltage has no limit"
    assert danger.of_meters(CATALOGUE, bare, {"volts": 900.0}, "Log") == ()


@pytest.mark.parametrize("given", SETS)
def test_rpm_is_held_against_the_same_limit_as_hertz(given: dict[str, str]) -> None:
    known = features(given)
    least = danger.lowest_that_holds(CATALOGUE, known, "hertz")
    rpm = least * 120.0 / float(known["poles"])
    assert "overspeed" in limits(danger.of_row(CATALOGUE, known, row(rpm=rpm), "x"))
    assert danger.of_row(CATALOGUE, known, row(rpm=rpm - 2.0), "x") == ()
    # Of two readings of one speed the higher counts, whichever it is.
    assert danger.of_row(CATALOGUE, known, row(rpm=rpm, hertz=least - 3.0), "x")
    assert danger.of_row(CATALOGUE, known, row(rpm=rpm - 60.0, hertz=least), "x")


@pytest.mark.parametrize(
    ("reading", "swing", "peak"), [("hertz", "swing", "highest_hertz"), ("volts", "volts_swing", "highest_volts")]
)
def test_the_top_of_a_swing_is_a_peak_half_of_it_above_the_reading(reading: str, swing: str, peak: str) -> None:
    known = features({})
    least = danger.lowest_that_holds(CATALOGUE, known, peak)
    base = float(known[reading])
    reach = 2.0 * (least - base)
    (hold,) = danger.of_row(CATALOGUE, known, row(**{reading: base, swing: reach}), "x")
    assert hold.value == pytest.approx(least)
    assert danger.of_row(CATALOGUE, known, row(**{reading: base, swing: reach - 0.1}), "x") == ()
    # A peak that was read counts where it is higher, and is not hidden by a swing that is less.
    shown = "highest" if reading == "hertz" else "highest_volts"
    (read,) = danger.of_row(CATALOGUE, known, row(**{reading: base, swing: 1.0, shown: least + 5.0}), "x")
    assert read.value == pytest.approx(least + 5.0)


def test_a_swing_alone_is_taken_about_the_rated_speed() -> None:
    known = features({})
    least = danger.lowest_that_holds(CATALOGUE, known, "highest_hertz")
    reach = 2.0 * (least - float(known["hertz"]))
    assert danger.of_row(CATALOGUE, known, row(swing=reach), "x")
    assert danger.of_row(CATALOGUE, known, row(swing=reach - 0.1), "x") == ()


def test_every_dangerous_reading_of_a_load_test_is_said_with_its_place_once() -> None:
    known = features({})
    text = [{"load": "0", "hz": "61"}, {"load": "0", "hz": "75"}, {"load": "50 %", "hz": "70", "volts": "300"}]
    rows = read_mappings(text, "table").rows
    held = danger.of_rows(CATALOGUE, known, [*rows, rows[1]])
    assert [hold.finding for hold in held] == [
        f"{rows[1].place}, 75 Hz",
        f"{rows[2].place}, 70 Hz",
        f"{rows[2].place}, 300 V",
    ]
    assert danger.of_row(CATALOGUE, known, rows[1], "Load test")[0].finding == "Load test, 75 Hz"


@pytest.mark.parametrize(("answer", "said"), [("present", "said"), ("unsure", "said, not sure")])
def test_a_complaint_that_stops_everything_says_how_sure_it_was(answer: str, said: str) -> None:
    for complaint in KNOWLEDGE.complaints.values():
        job = Job(KNOWLEDGE)
        job.record(complaint.id, answer)
        expected = [(complaint.id, complaint.title, said, complaint.cautions)] if complaint.stop_first else []
        assert [(hold.limit, hold.title, hold.finding, hold.cautions) for hold in job.held] == expected


def test_an_outcome_and_a_rise_are_told_in_words() -> None:
    job = Job(KNOWLEDGE)
    job.record("frequency_no_load", "very_high")
    (hold,) = job.held
    limit = CATALOGUE.danger[hold.limit]
    title = KNOWLEDGE.checks["frequency_no_load"].title
    assert (hold.title, hold.finding, hold.cautions) == (limit.title, f"{title}, very high", limit.cautions)
    assert (hold.value, hold.at_least) == (None, None)
    job = Job(KNOWLEDGE)
    job.record("frequency_no_load", "62.5 Hz")
    job.record("load_drop_overshoot", "9 Hz")
    (hold,) = job.held
    assert hold.finding == f"{KNOWLEDGE.checks['load_drop_overshoot'].title}, 9 Hz on 62.5"
    assert hold.value == pytest.approx(71.5)


def test_a_speed_that_goes_up_and_down_holds_by_its_highest_point() -> None:
    """Its middle is within the limits; what may burst is turned at the top."""
    least = danger.lowest_that_holds(CATALOGUE, features({}), "hertz")
    job = Job(KNOWLEDGE)
    job.record("frequency_no_load", f"{least - 8.0:g} to {least + 1.0:g} Hz")
    assert [hold.value for hold in job.held] == [least + 1.0]
    calm = Job(KNOWLEDGE)
    calm.record("frequency_no_load", f"{least - 8.0:g} to {least - 1.0:g} Hz")
    assert calm.held == ()


def test_a_hold_is_told_to_other_programs_under_the_same_names() -> None:
    hold = danger.Hold("overspeed", "Overspeed", "Log, 75 Hz", ("shock",), 75.0, 66.0, "Hz", True)
    assert hold.as_dict() == {
        "limit": "overspeed", "title": "Overspeed", "finding": "Log, 75 Hz", "value": 75.0, "at_least": 66.0,
        "unit": "Hz", "cautions": ["shock"], "taken_back": True,
    }  # fmt: skip
    assert str(hold) == "Overspeed: Log, 75 Hz, and 66 Hz is the limit (taken back)"
    assert str(danger.Hold("x", "Overspeeds", "said", ())) == "Overspeeds: said"
