"""Laws of a verdict: what each quantity of a load test is made of, with its guard band, and what each call says.

Definitions: TM 9-6115-464-34, para 4-13 and 4-14 (percent of rated; past the edge of the band seen after the change).
Guard bands add in the worst case, half of the last digit written for each figure (JCGM 100:2008, F.2.2.1).
"""

from __future__ import annotations

import dataclasses

import pytest

from hertzwright.engine import load_knowledge
from hertzwright.engine.compiler.work_model import Tolerance
from hertzwright.engine.loadtest.entry_table import read_mappings
from hertzwright.engine.loadtest.loadtest import Accuracy, Quantity, Test, points
from hertzwright.engine.loadtest.verdict import RULES, Measure, judge, measures, overall

KNOWLEDGE = load_knowledge()
SET = Test(KNOWLEDGE.features({"rated_kw": 9, "volts": 240}), 9.0)
HZ, VOLTS, SECONDS = 0.2, 1.5, 0.4
STATED = dataclasses.replace(SET, accuracy=Accuracy({"Hz": (HZ, 0, 0), "V": (VOLTS, 0, 0), "s": (SECONDS, 0, 0)}))


def made_of(*cells: dict[str, str], test: Test = STATED) -> dict[str, Measure]:
    return measures(test, points(test, read_mappings(list(cells), "r").rows))


def value_of(made: dict[str, Measure], name: str) -> Quantity:
    found = made[name].value
    assert found is not None, name
    return found


def of_rated(hertz: float) -> float:
    return 100.0 * hertz / 60.0


NO_LOAD = {"load": "0", "hz": "62.0", "volts": "242"}
FULL = {"load": "100 %", "hz": "59.0", "volts": "238"}
GUARD, VOLT_GUARD, TIME_GUARD = HZ + 0.05, VOLTS + 0.5, SECONDS + 0.05


@pytest.mark.parametrize(
    ("name", "value", "guard"),
    [
        ("no_load_lowest", 62.0, GUARD),
        ("no_load_highest", 62.0, GUARD),
        ("spread", 3.0, 2 * GUARD),
        ("droop", of_rated(3.0), of_rated(2 * GUARD)),
        ("speed_regulation", 100 * 3.0 / 59.0, 100 * 2 * GUARD / 59.0),
        ("frequency_deviation", of_rated(2.0), of_rated(GUARD)),
        ("highest_speed", of_rated(62.0), of_rated(GUARD)),
        ("voltage_deviation", 100 * 2 / 240, 100 * VOLT_GUARD / 240),
        ("voltage_regulation", 100 * 4 / 238, 100 * 2 * VOLT_GUARD / 238),
    ],
)
def test_what_two_steady_readings_come_to(name: str, value: float, guard: float) -> None:
    found = value_of(made_of(NO_LOAD, FULL), name)
    assert (found.value, found.guard) == (pytest.approx(value), pytest.approx(guard))


DIPPED = {
    **FULL,
    "swing": "0.6",
    "lowest hz": "55.0",
    "recovery": "3.0",
    "lowest volts": "210",
    "volts recovery": "1.0",
}
RISEN = {**NO_LOAD, "swing": "0.4", "highest hz": "65.0", "recovery": "2.0", "highest volts": "270", "volts swing": "6"}


@pytest.mark.parametrize(
    ("name", "value", "guard"),
    [
        ("steady_band", of_rated(0.6), of_rated(GUARD)),
        ("frequency_variation", of_rated(0.3), of_rated(GUARD / 2)),
        ("voltage_variation", 100 * 3 / 240, 100 * VOLT_GUARD / 2 / 240),
        ("transient_drop", of_rated(4.0), of_rated(2 * GUARD)),
        # The three guards add, that of the band by half, as the band itself counts.
        ("undershoot", of_rated(59.0 - 0.3 - 55.0), of_rated(2.5 * GUARD)),
        ("transient_rise", of_rated(5.0), of_rated(GUARD)),
        ("overshoot", of_rated(65.0 - 62.0 - 0.2), of_rated(2.5 * GUARD)),
        ("highest_speed", of_rated(65.0), of_rated(GUARD)),
        ("recovery", 3.0, TIME_GUARD),
        ("recovery_load_on", 3.0, TIME_GUARD),
        ("recovery_load_off", 2.0, TIME_GUARD),
        ("voltage_drop", 100 * 30 / 240, 100 * VOLT_GUARD / 240),
        ("voltage_rise", 100 * 30 / 240, 100 * VOLT_GUARD / 240),
        ("voltage_transient", 100 * 32 / 242, 100 * 2 * VOLT_GUARD / 242),
        ("voltage_recovery", 1.0, TIME_GUARD),
    ],
)
def test_what_a_change_of_load_comes_to(name: str, value: float, guard: float) -> None:
    found = value_of(made_of(RISEN, DIPPED), name)
    assert (found.value, found.guard) == (pytest.approx(value), pytest.approx(guard))


def test_where_no_swing_was_read_an_excursion_counts_from_the_reading() -> None:
    dipped = {name: text for name, text in DIPPED.items() if name != "swing"}
    found = value_of(made_of(NO_LOAD, dipped), "undershoot")
    assert (found.value, found.guard) == (pytest.approx(of_rated(4.0)), pytest.approx(of_rated(2 * GUARD)))


def test_an_excursion_that_is_none_is_nothing_and_not_less() -> None:
    made = made_of({**NO_LOAD, "highest hz": "58"}, {**FULL, "lowest hz": "59.4", "lowest volts": "250"})
    for name in ("transient_rise", "overshoot", "transient_drop", "undershoot", "voltage_drop"):
        assert value_of(made, name).value == 0.0, name


def test_a_dip_belongs_to_load_on_and_a_rise_to_load_off() -> None:
    made = made_of({**NO_LOAD, "lowest hz": "55"}, {**FULL, "highest hz": "66"})
    assert all(made[name].value is None for name in ("transient_drop", "undershoot", "transient_rise", "overshoot"))
    assert value_of(made, "highest_speed").value == pytest.approx(of_rated(66.0))


def test_without_a_no_load_reading_nothing_is_said_of_a_fall() -> None:
    made = made_of(FULL, {"load": "50 %", "hz": "60.5", "volts": "240", "highest volts": "260"})
    gone = ("no_load_lowest", "no_load_highest", "spread", "droop", "speed_regulation", "voltage_regulation")
    assert all(made[name].value is None for name in (*gone, "voltage_transient"))
    assert value_of(made, "voltage_rise").value == pytest.approx(100 * 20 / 240)


def test_of_several_readings_the_worst_counts_with_its_guard() -> None:
    """A coarse reading that may be worse is worse than a fine one that looks so."""
    fine, coarse = {"load": "0", "hz": "62.04"}, {"load": "0", "hz": "62"}
    for rows in ((fine, coarse), (coarse, fine)):
        made = made_of(*rows, FULL)
        assert value_of(made, "no_load_highest") == Quantity(62.0, HZ + 0.5)
        assert value_of(made, "no_load_lowest") == Quantity(62.0, HZ + 0.5)
    returns = made_of({"load": "0", "hz": "61.0"}, FULL, NO_LOAD)
    assert value_of(returns, "spread").value == pytest.approx(3.0), "from the highest of the returns"
    assert value_of(returns, "no_load_lowest").value == 61.0


def test_light_load_is_a_tenth_and_no_load_is_none() -> None:
    made = made_of(NO_LOAD, {"load": "10 %", "hz": "61.6"}, {"load": "5 %", "hz": "61.9"}, FULL)
    assert value_of(made, "light_load").value == 61.6
    assert made_of(NO_LOAD, FULL)["light_load"].value is None


def test_a_fall_is_defined_up_to_the_rating_also_where_thin_air_leaves_less() -> None:
    thin = dataclasses.replace(STATED, full_kilowatts=6.0)
    rated = {"load": "9 kW", "hz": "57.0"}
    assert value_of(made_of(NO_LOAD, rated, test=thin), "spread").value == pytest.approx(5.0)
    over = {"load": "10.5 kW", "hz": "55.0"}
    assert made_of(NO_LOAD, over, test=thin)["spread"].value is None, "an overload is no part of the droop"
    assert made_of(NO_LOAD, {"load": "120 %", "hz": "55.0"})["spread"].value is None


def test_short_of_full_load_only_what_no_load_shows_is_whole() -> None:
    half = {"load": "50 %", "hz": "60.5", "volts": "240", "swing": "0.3", "recovery": "2", "lowest hz": "58"}
    made = made_of({**RISEN}, half)
    whole = {name for name, each in made.items() if each.whole}
    assert whole == {"no_load_lowest", "no_load_highest", "light_load"}
    # What is read on the way back from full load is whole once full load was reached, the rest where it was read there.
    made = made_of({**RISEN}, FULL)
    whole = {name for name, each in made.items() if each.whole}
    assert {"transient_rise", "overshoot", "recovery_load_off", "voltage_rise", "highest_speed", "spread"} <= whole
    assert not {"steady_band", "recovery", "undershoot"} & whole


# ---- calls


def tolerance(bound: float, name: str) -> Tolerance:
    return Tolerance("mine", "Mine", "", {}, {name: bound}, ())


def call(
    name: str, value: Quantity | None, bound: float = 3.0, whole: bool = True, test: Test = SET
) -> tuple[object, ...]:
    rule = RULES.get(name)
    made = {rule.measure: Measure(rule.measure, "", "", value, "", whole)} if rule else {}
    (found,) = judge(test, made, [tolerance(bound, name)])
    assert (found.tolerance, found.limit, found.bound) == ("mine", name, bound)
    return found.call, found.margin, found.why


def test_each_call_says_why() -> None:
    single = dataclasses.replace(SET, features={**SET.features, "phases": "1"})
    three = dataclasses.replace(SET, features={**SET.features, "phases": "3"})
    assert call("spread_hz_max", Quantity(2.0, 0.1)) == ("pass", 1.0, "")
    assert call("spread_hz_max", Quantity(2.0, 0.1), whole=False) == ("untested", 1.0, "full load was not reached")
    assert call("spread_hz_max", Quantity(4.0, 0.1), whole=False) == ("fail", -1.0, "")
    assert call("spread_hz_max", Quantity(3.0, 0.125)) == ("too close to call", 0.0, "guard band 0.125")
    assert call("spread_hz_max", None) == ("untested", None, "not measured")
    assert call("light_load_hz", None) == ("aim", None, "not measured")
    assert call("light_load_hz", Quantity(4.0)) == ("aim", 1.0, "an aim, not a limit")
    assert call("noise_decibel_max", None) == ("untested", None, "not judged by a load test")
    name = "voltage_regulation_percent_max"
    assert call(name, Quantity(2.0), test=single) == ("not for this set", None, "for 3 phase")
    assert call(name, Quantity(2.0), test=three) == ("pass", 1.0, "")


@pytest.mark.parametrize("bound", [0.5, 3.0, 66.0])
def test_exactly_at_a_limit_passes_and_a_guard_that_just_reaches_it_leaves_it_open(bound: float) -> None:
    """A hair is left for the arithmetic, a billionth of the bound where that is more than 1, and no more than that."""
    hair = 1e-9 * max(1.0, bound)
    assert call("spread_hz_max", Quantity(bound), bound)[0] == "pass"
    assert call("spread_hz_max", Quantity(bound + 0.9 * hair), bound)[0] == "pass"
    assert call("spread_hz_max", Quantity(bound + 3 * hair), bound)[0] == "fail"
    assert call("spread_hz_max", Quantity(bound + 0.1, 0.1), bound)[0] == "too close to call"


def test_a_limit_nobody_knows_is_named_in_words() -> None:
    (found,) = judge(SET, {}, [tolerance(3.0, "noise_decibel_max")])
    assert (found.measure.id, found.measure.title) == ("noise_decibel_max", "noise decibel max")


def test_of_nothing_and_of_aims_alone_nothing_was_tested() -> None:
    assert overall(()) == "untested"
    made = {"light_load": Measure("light_load", "", "", Quantity(61.0), "", True)}
    assert overall(judge(SET, made, [tolerance(61.5, "light_load_hz")])) == "untested"
