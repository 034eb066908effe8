"""Every cause of the knowledge acts on the simulated set, and only on what it is about."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.simulated.bench import Bench
from hertzwright.engine.simulated.equilibrium import equilibrium, limits, plate_at
from hertzwright.engine.simulated.faults import FAULTS, STANDS, FaultError, afflict
from hertzwright.engine.simulated.plant import Plant
from hertzwright.engine.simulated.sound_set import NO_LOAD, rated_load, sound_set


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def plant(knowledge: Knowledge) -> Plant:
    return sound_set(knowledge.features({}))


def test_the_ids_are_those_of_the_knowledge(knowledge: Knowledge) -> None:
    assert set(FAULTS) == {cause.id for cause in knowledge.causes.values() if cause.retired is None}


@pytest.mark.parametrize("cause", [cause for cause in FAULTS if cause != "engine_not_warm"])
@pytest.mark.parametrize("severity", [0.0, 0.5, 1.0])
def test_each_cause_changes_the_set(plant: Plant, cause: str, severity: float) -> None:
    assert afflict(plant, ((cause, severity),)) != plant


@pytest.mark.parametrize(
    ("area", "parts"),
    [
        ("linkage", {"linkage"}),
        ("governor", {"governor", "governor_play", "drive_jitter", "looks"}),
        ("booster", {"booster"}),
        ("mixture", {"carburetor"}),
        ("choke", {"carburetor", "looks"}),
        ("fuel_and_air", {"carburetor", "engine", "looks"}),
        ("engine", {"engine", "looks"}),
        ("load_and_instruments", {"generator", "meter"}),
    ],
)
def test_a_cause_changes_the_parts_of_its_area_only(
    knowledge: Knowledge, plant: Plant, area: str, parts: set[str]
) -> None:
    for cause, change in FAULTS.items():
        if knowledge.causes[cause].area == area:
            for severity in (0.0, 0.45, 0.75, 1.0):
                made = change(plant, severity)
                changed = {part.name for part in fields(plant) if getattr(made, part.name) != getattr(plant, part.name)}
                assert changed <= parts, (cause, severity)


@pytest.mark.parametrize("cause", sorted(STANDS))
@pytest.mark.parametrize(
    "other", ["choke_set_too_rich", "sensitivity_sluggish", "main_mixture_lean", "low_compression"]
)
def test_where_metal_stands_does_not_move_when_another_fault_is_cured(plant: Plant, cause: str, other: str) -> None:
    """A stop screw stays where it is when the choke is mended (common sense, and nothing else)."""
    alone, both = (afflict(plant, faults) for faults in (((cause, 0.4),), ((other, 0.8), (cause, 0.4))))
    assert both.linkage == alone.linkage
    assert (both.governor.innermost, both.governor.outermost) == (alone.governor.innermost, alone.governor.outermost)


def test_an_adjuster_that_is_found_at_its_end_answers_to_the_first_turn_back(plant: Plant) -> None:
    """Brought back to speed against a stop that holds the throttle, the speed adjuster is found all the way out."""
    made = afflict(plant, (("sensitivity_sluggish", 0.3), ("throttle_stop_open", 0.9)))
    assert made.governor.speed_turns == -made.governor.thread
    bench = Bench({}, (("sensitivity_sluggish", 0.3), ("throttle_stop_open", 0.9)), made=plant)
    assert bench.turn("speed", 2.0).plant.governor.pull > bench.plant.governor.pull


def test_nothing_wrong_is_the_sound_set(plant: Plant) -> None:
    assert afflict(plant, ()) == plant


@pytest.mark.parametrize("booster", ["vacuum", "none"])
@pytest.mark.parametrize("hertz", ["50", "60"])
@pytest.mark.parametrize("cylinders", ["1", "2", "4"])
def test_a_sound_set_stands_at_its_no_load_speed(
    knowledge: Knowledge, booster: str, hertz: str, cylinders: str
) -> None:
    made = sound_set(knowledge.features({"booster": booster, "hertz": hertz, "cylinders": cylinders}))
    assert equilibrium(made).speed * 60.0 == pytest.approx(NO_LOAD, abs=0.05)
    assert made.governor.speed_turns == 0.0


@pytest.mark.parametrize("feet", ["0", "3000", "8000"])
def test_thin_air_takes_from_full_load_what_it_takes_from_the_engine(knowledge: Knowledge, feet: str) -> None:
    made = sound_set(knowledge.features({"altitude": feet}))
    rest = equilibrium(made, rated_load(made))
    assert 58.4 < rest.speed * 60.0 < 61.6
    assert rest.plate < 0.95


def test_a_worse_fault_shows_more(plant: Plant) -> None:
    # Each of these reads by static balance: how far no load, or full load, is from where it belongs.
    for cause, load in (
        ("throttle_rod_long", 0.0),
        ("throttle_stop_open", 0.0),
        ("speed_set_high", 0.0),
        ("speed_set_low", 0.0),
        ("booster_diaphragm_leak", 0.0),
        ("throttle_rod_short", 1.0),
        ("throttle_not_reaching_full", 1.0),
        ("sensitivity_sluggish", 1.0),
        ("booster_set_weak", 1.0),
        ("main_mixture_lean", 1.0),
        ("air_cleaner_clogged", 1.0),
        ("exhaust_restricted", 1.0),
        ("overload", 1.0),
        ("fuel_starvation", 1.0),
    ):
        right = equilibrium(plant, load).speed
        off = []
        for severity in (0.1, 0.5, 0.9):
            made = afflict(plant, ((cause, severity),))
            off.append(abs(equilibrium(made, load).speed - right))
        assert off == sorted(off), cause
        assert off[2] > 0.006, cause


def test_the_gap_tells_a_long_rod_from_a_short_one(plant: Plant) -> None:
    def gap(cause: str) -> float:
        made = afflict(plant, ((cause, 0.5),))
        return made.linkage.stop_open - plate_at(made.linkage, limits(made)[0])

    assert gap("throttle_rod_long") == 0.0
    assert gap("throttle_rod_short") > 0.1


def test_who_turns_the_sensitivity_brings_the_speed_back(plant: Plant) -> None:
    for cause in ("sensitivity_sharp", "sensitivity_sluggish"):
        assert equilibrium(afflict(plant, ((cause, 0.6),))).speed * 60.0 == pytest.approx(NO_LOAD, abs=0.1)


def test_hiding_a_fault_turns_the_speed_and_leaves_the_fault(plant: Plant) -> None:
    fault = (("booster_diaphragm_leak", 1.0),)
    found, hidden = afflict(plant, fault), afflict(plant, fault, hide=1.0)
    assert equilibrium(found).speed * 60.0 > NO_LOAD + 1.0
    assert equilibrium(hidden).speed * 60.0 == pytest.approx(NO_LOAD, abs=0.1)
    assert hidden.booster == found.booster
    assert equilibrium(hidden, 1.0).speed < equilibrium(plant, 1.0).speed


def test_several_faults_add_up(plant: Plant) -> None:
    both = afflict(plant, (("linkage_worn", 0.5), ("main_mixture_rich", 0.5)))
    assert both.linkage == afflict(plant, (("linkage_worn", 0.5),)).linkage
    assert both.carburetor == afflict(plant, (("main_mixture_rich", 0.5),)).carburetor
    assert replace(both, linkage=plant.linkage, carburetor=plant.carburetor) == plant


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (("no_such_cause", 0.5), '"no_such_cause" is no cause that the simulated set knows'),
        (("linkage_worn", 1.5), "severity of 1.5 of linkage_worn; expected 0 to 1"),
        (("linkage_worn", float("nan")), "severity of nan of linkage_worn; expected 0 to 1"),
    ],
)
def test_what_is_no_fault_is_refused(plant: Plant, fault: tuple[str, float], said: str) -> None:
    with pytest.raises(FaultError, match=said):
        afflict(plant, (fault,))
