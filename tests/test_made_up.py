"""Made-up sets: what goes together on sets that a mechanic has seen, and what was refused and why."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.problems import AnswerError
from hertzwright.engine.rehearsal.virtual_set import BenchSet
from hertzwright.engine.simulated import FAULTS, Bench, Draws
from hertzwright.engine.teaching.drill_set import SLIPPED
from hertzwright.engine.teaching.made_up import DrillError, broken_combinations, made_up_features
from hertzwright.engine.teaching.scenario import LEVELS

GAS = ("lp_gas", "natural_gas")
OF_GASOLINE = re.compile(r"\bchoke[sd]?\b|\bfloat\b|\bbowl\b", re.IGNORECASE)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.mark.parametrize("count", [60, pytest.param(2000, marks=pytest.mark.nightly)])
def test_a_made_up_set_is_one_that_is_built(knowledge: Knowledge, count: int) -> None:
    """Rules of our own, in figures, beside those of the knowledge that make the sets.

    Sources: voltages of 60 Hz ANSI C84.1 and of 50 Hz IEC 60038 (both from memory); ten horsepower at most of one
    cylinder, no choke on gas, a light set at 3600 rpm: common practice.
    """
    refused: Counter[str] = Counter()
    kinds = Counter()
    for seed in range(count):
        features = made_up_features(knowledge, Draws("built", seed), None, refused)
        assert not broken_combinations(knowledge, features), features
        kw, cylinders = float(str(features["rated_kw"])), float(str(features["cylinders"]))
        gas = features["fuel"] in GAS
        assert (features["choke"] == "none") == gas
        assert 0.7 <= kw / cylinders <= 8.0, features
        assert features["poles"] != 2 or (kw <= 15.0 and cylinders <= 2)
        standard = {(60, 1): {120, 240}, (60, 3): {208, 240, 480}, (50, 1): {230}, (50, 3): {400}}
        assert features["volts"] in standard[int(features["hertz"]), int(features["phases"])]
        assert features["choke"] != "electric" or features["ignition"] != "magneto"
        assert features["booster"] == "none" or (features["poles"] != 2 and cylinders > 1)
        kinds.update((str(features["fuel"]), f"{cylinders:g} cylinders", f"{features['poles']:g} poles"))
    if count > 1000:
        # Every kind comes up: a rule that only ever refuses one says so here.
        shares = knowledge.catalogue.made_up
        assert {f"{float(n):g} cylinders" for n in shares["cylinders"].of} <= set(kinds)
        assert {"lp_gas", "natural_gas", "gasoline"} <= set(kinds)
        assert set(refused) == set(knowledge.catalogue.combinations), "a combination that never refuses is idle"


def test_a_gas_set_has_no_choke_and_no_float_bowl_to_talk_of(knowledge: Knowledge) -> None:
    for fuel in GAS:
        features = made_up_features(knowledge, Draws("gas", fuel), {"fuel": fuel})
        causes = [each for name, each in knowledge.causes.items() if knowledge.prior(name, features) > 0.0]
        talk = [each.title for each in causes]
        for name, check in knowledge.checks.items():
            if knowledge.applies(name, features):
                talk += [check.title, check.ask, *(outcome.brief for outcome in check.outcomes)]
        assert [text for text in talk if OF_GASOLINE.search(text)] == []


def test_what_is_asked_for_is_kept_and_what_is_never_built_is_said(knowledge: Knowledge) -> None:
    big = made_up_features(knowledge, Draws("big"), {"rated_kw": "45", "fuel": "natural_gas"})
    assert big["rated_kw"] == 45
    assert float(str(big["cylinders"])) >= 6
    with pytest.raises(DrillError, match=r"fuel=natural_gas, choke=electric is built so; always .*gas_needs_no_choke"):
        made_up_features(knowledge, Draws(1), {"fuel": "natural_gas", "choke": "electric"})
    with pytest.raises(AnswerError, match="rated_kw"):
        made_up_features(knowledge, Draws(1), {"rated_kw": "tiny"})


def test_the_same_draws_make_the_same_set(knowledge: Knowledge) -> None:
    assert made_up_features(knowledge, Draws("a", 1)) == made_up_features(knowledge, Draws("a", 1))


def test_botched_work_is_of_the_upper_levels_and_shows_in_its_check(knowledge: Knowledge) -> None:
    assert [level.slips > 0.0 for level in LEVELS.values()] == [False, False, True, True]
    features = knowledge.features({})
    for slip in knowledge.catalogue.slips.values():
        assert slip.leaves in FAULTS
        assert slip.outcome in BenchSet(knowledge, Bench(features, ((slip.leaves, SLIPPED),))).outcomes(slip.check)
        # The knowledge agrees that the check shows it.
        place = knowledge.checks[slip.check].index(slip.outcome)
        assert knowledge.causes[slip.leaves].shows[slip.check][place] >= 0.25
        assert not any(slip.leaves in knowledge.remedies[name].cures for name in slip.of)
