"""The adjusting coach: its arithmetic against general-purpose libraries, its bounds, and what it notices."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.simulated.equilibrium import equilibrium
from hertzwright.engine.simulated.sound_set import sound_set
from hertzwright.engine.trim.anomalies import Anomaly
from hertzwright.engine.trim.coach import Coach, NextTurn, TrimError, facts_of, goal_of, order_of, pair_of
from hertzwright.engine.trim.response import Response, Slope, prior
from hertzwright.engine.trim.stability_limit import boundary, normal_cdf
from hertzwright.engine.trim.trial import Trial

from hartnell import governor_slopes, hartnell_load, hartnell_speed, relative_speed


@lru_cache(maxsize=1)
def shipped() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return shipped()


def coach_of(knowledge: Knowledge, name: str = "speed+sensitivity", close: float | None = None, **given: str) -> Coach:
    features = knowledge.features(given)
    pair = pair_of(knowledge, name, features)
    return Coach.begin(knowledge, pair, features, goal_of(knowledge, pair, features), close)


# ---- the learned line ------------------------------------------------------------------------------------------------

SLOPES = (Slope((0.75, 0.78), 0.25, (0.02, 0.04)), Slope((-0.5, -0.34), 0.25, (0.03, 0.04)))
trials = st.lists(
    st.tuples(
        st.floats(-5, 5),
        st.floats(-5, 5),
        st.floats(50, 70),
        st.floats(50, 70),
        st.floats(0.02, 0.5),
        st.floats(0.02, 0.5),
    ),
    min_size=1,
    max_size=6,
)


def recursion(found: list[tuple[float, ...]], bend: float) -> Response:
    line = replace(prior((0.0, 0.0), SLOPES, 2, bend), at=found[0][:2])
    for speed, sensitivity, none, full, first, second in found:
        line = line.moved((speed, sensitivity)).learned((none, full), (first, second))
    return line


@given(trials)
def test_the_recursion_is_batch_least_squares_with_the_same_prior(found: list[tuple[float, ...]]) -> None:
    numpy = pytest.importorskip("numpy")
    line = recursion(found, 0.0)
    # Batch: stacked rows of [1, turns from the first place], whitened, with the prior as rows of its own (ridge).
    start = prior((0.0, 0.0), SLOPES, 2, 0.0)
    covariance, mean = numpy.array(start.covariance), numpy.array(start.mean)
    rows, values = [], []
    for speed, sensitivity, none, full, *noise in found:
        for reading, (value, deviation) in enumerate(zip((none, full), noise, strict=True)):
            row = numpy.zeros(6)
            row[3 * reading : 3 * reading + 3] = [1.0, speed - found[0][0], sensitivity - found[0][1]]
            rows.append(row / deviation)
            values.append(value / deviation)
    root = numpy.linalg.inv(numpy.linalg.cholesky(covariance))
    design, wanted = numpy.vstack([root, *rows]), numpy.concatenate([root @ mean, values])
    batch = numpy.linalg.lstsq(design, wanted, rcond=None)[0]
    spread = numpy.linalg.inv(design.T @ design)
    # The recursion stands at the last place; take it back to the first, where the batch stands.
    back = line.moved(found[0][:2])
    assert numpy.allclose(back.mean, batch, rtol=1e-9, atol=1e-8)
    assert numpy.allclose(back.covariance, spread, rtol=1e-7, atol=1e-8)


@given(trials, st.floats(0.0, 0.1))
def test_a_bending_line_is_generalised_least_squares(found: list[tuple[float, ...]], bend: float) -> None:
    """Each move adds an unknown change of slope: the whole path as one Gaussian, conditioned at once by numpy."""
    numpy = pytest.importorskip("numpy")
    line = recursion(found, bend)
    start = prior((0.0, 0.0), SLOPES, 2, bend)
    size, count = 6, len(found)
    total = size + 4 * (count - 1)  # state at first, then a change of slope for each move: reading by adjuster
    covariance = numpy.zeros((total, total))
    covariance[:size, :size] = start.covariance
    state = numpy.zeros((size, total))
    state[:, :size] = numpy.eye(size)
    here, rows, values, noises = found[0][:2], [], [], []
    for number, (speed, sensitivity, none, full, *noise) in enumerate(found):
        step = (speed - here[0], sensitivity - here[1])
        if number:
            base = size + 4 * (number - 1)
            for part in range(4):
                covariance[base + part, base + part] = (bend * math.hypot(*step)) ** 2
            for reading in range(2):
                for k in range(2):
                    change = numpy.zeros(total)
                    change[base + 2 * reading + k] = 1.0
                    state[3 * reading] += step[k] * (state[3 * reading + 1 + k] + 0.5 * change)
                    state[3 * reading + 1 + k] += change
        here = (speed, sensitivity)
        for reading, (value, deviation) in enumerate(zip((none, full), noise, strict=True)):
            rows.append(state[3 * reading].copy())
            values.append(value)
            noises.append(deviation**2)
    design = numpy.array(rows)
    mean = numpy.concatenate([start.mean, numpy.zeros(total - size)])
    gain = covariance @ design.T @ numpy.linalg.inv(design @ covariance @ design.T + numpy.diag(noises))
    after = mean + gain @ (numpy.array(values) - design @ mean)
    assert numpy.allclose(line.mean, state @ after, rtol=1e-6, atol=1e-6)


@given(trials, st.floats(0.0, 0.1))
def test_a_measurement_never_makes_anything_less_certain(found: list[tuple[float, ...]], bend: float) -> None:
    line = replace(prior((0.0, 0.0), SLOPES, 2, bend), at=found[0][:2])
    for speed, sensitivity, none, full, first, second in found:
        line = line.moved((speed, sensitivity))
        after = line.learned((none, full), (first, second))
        for place in range(6):
            assert after.covariance[place][place] <= line.covariance[place][place] * (1.0 + 1e-9)
            assert after.covariance[place][place] >= -1e-9
        line = after


def test_a_reading_that_was_not_taken_teaches_nothing_but_what_goes_with_it() -> None:
    line = prior((0.0, 0.0), SLOPES, 2, 0.0)
    assert line.learned((None, None), (0.1, 0.1)) == line
    assert line.learned((61.0, None), (0.1, 0.1)).mean[0] == pytest.approx(61.0, abs=1e-3)


# ---- theory ----------------------------------------------------------------------------------------------------------


def test_slopes_follow_a_published_hartnell_governor() -> None:
    """B. K. Sarkar, Theory of Machines, ch. 7, Illustration 7, p. 203: 1217 N and 320 rpm, 327.9 rpm after 15 mm of lift."""
    first = hartnell_load(3.0, 0.12, 320.0, 0.12, 0.08)
    assert first == pytest.approx(1217.0, rel=0.005)
    grown = (first + 20000.0 * 0.015) / first
    radius = (0.12 + 0.015 * 0.12 / 0.08) / 0.12
    assert 320.0 * relative_speed(grown, radius) == pytest.approx(327.9, rel=0.001)
    # More tension alone: the same root, against the governor solved outright.
    for part in (-0.05, 0.01, 0.1):
        solved = hartnell_speed(first * (1.0 + part), 3.0, 0.12, 0.12, 0.08)
        assert 320.0 * relative_speed(1.0 + part) == pytest.approx(solved, rel=1e-6)
        assert governor_slopes(320.0, part, 0.0, 1.0)[0] == pytest.approx(solved - 320.0, abs=0.02)


@pytest.mark.parametrize("booster", ["vacuum", "none"])
def test_the_knowledge_slopes_hold_what_theory_gives_for_the_simulated_governor(
    knowledge: Knowledge, booster: str
) -> None:
    plant = sound_set(knowledge.features({"booster": booster}))
    governor = plant.governor
    pair = knowledge.catalogue.pairs["speed_and_sensitivity"]
    for reading, load in enumerate((0.0, 1.0)):
        rest = equilibrium(plant, load)
        pull = governor.pull + governor.rate * governor.lever * rest.travel
        share = governor.pull / pull
        tension, lever = governor.tension_per_turn / governor.pull, governor.lever_per_turn / governor.lever
        speed, sensitivity = governor_slopes(60.0 * rest.speed, tension, -lever, share)
        for adjuster, theory in (("speed", speed), ("sensitivity", sensitivity)):
            moves = pair.response[adjuster]
            typical = moves.per_turn[reading]
            scatter = math.hypot(moves.scale * typical, moves.scatter[reading])
            assert abs(theory - typical) < 2.0 * scatter, (booster, adjuster, reading)


# ---- the edge of hunting ---------------------------------------------------------------------------------------------


@given(st.floats(0.5, 3.0), st.booleans(), st.floats(0.5, 3.0))
def test_the_edge_moves_the_way_it_was_seen(measure: float, hunts: bool, asked: float) -> None:
    edge = boundary(1.5, 0.45, 0.12)
    told = edge.learned(measure, hunts)
    assert sum(told.weights) == pytest.approx(1.0)
    if hunts:
        assert told.chance(asked) >= edge.chance(asked) - 1e-9
    else:
        assert told.chance(asked) <= edge.chance(asked) + 1e-9


def test_the_edge_before_any_trial_is_the_normal_one() -> None:
    edge = boundary(1.5, 0.45, 0.12)
    for measure in (0.8, 1.2, 1.5, 2.0):
        assert edge.chance(measure) == pytest.approx(normal_cdf((1.5 - measure) / math.hypot(0.45, 0.12)), abs=0.004)


@pytest.mark.parametrize("measure", [1.5, 2.2, 3.0])
def test_an_edge_far_beyond_every_expectation_is_learned_all_the_same(measure: float) -> None:
    edge = boundary(0.3, 0.3, 0.12)
    for _ in range(2):
        edge = edge.learned(measure, True)
    assert edge.chance(measure) > 0.5


# ---- the coach -------------------------------------------------------------------------------------------------------


def straight(place: tuple[float, ...], start: tuple[float, float], speed: float, sharp: float) -> Trial:
    """A set that is a straight line, without noise, steady everywhere."""
    none = start[0] + speed * place[0] - 0.5 * sharp * place[1]
    full = start[1] + speed * 1.03 * place[0] - 0.34 * sharp * place[1]
    return Trial(place, (none, full), False)


@settings(max_examples=40)
@given(st.floats(57.5, 65.0), st.floats(0.9, 3.8), st.floats(0.55, 1.0), st.floats(0.75, 1.35))
def test_a_straight_set_without_noise_is_right_within_three_trials(
    none: float, fall: float, speed: float, sharp: float
) -> None:
    coach = coach_of(shipped())
    place: tuple[float, ...] = (0.0, 0.0)
    for number in range(4):
        coach = coach.after(straight(place, (none, none - fall), speed, sharp))
        advice = coach.advice()
        if advice.kind == "done":
            break
        assert advice.kind in ("turn", "read again"), advice
        before = place
        place = tuple(at + turns for at, turns in zip(place, advice.step, strict=True))
        for old, new, limits in zip(before, place, coach.adjusters, strict=True):
            assert limits.lowest <= new <= limits.highest
            assert abs(new - old) <= limits.longest
            assert (new - old) / limits.finest == pytest.approx(round((new - old) / limits.finest))
        assert number < 3, advice
    assert coach.goal.holds(coach.trials[-1].values)


def test_fifty_hertz_is_the_same_scaled(knowledge: Knowledge) -> None:
    sixty, fifty = coach_of(knowledge), coach_of(knowledge, hertz="50")
    one = sixty.after(Trial((0.0, 0.0), (63.6, 60.0), False)).advice()
    other = fifty.after(Trial((0.0, 0.0), (53.0, 50.0), False)).advice()
    assert one.step == pytest.approx(other.step, abs=0.26)


def test_it_stops_only_with_margin(knowledge: Knowledge) -> None:
    coach = coach_of(knowledge)
    assert coach.advice().kind == "begin"
    assert coach.after(Trial((0.0, 0.0), (61.5, 59.3), False)).advice().kind == "done"
    # Within by a hair: the meter may err by as much.
    assert coach.after(Trial((0.0, 0.0), (62.49, 59.5), False)).advice().kind == "turn"
    assert coach.after(Trial((0.0, 0.0), (61.5, 59.3), True)).advice().kind == "turn"
    close = coach_of(knowledge, close=0.5)
    assert close.after(Trial((0.0, 0.0), (60.8, 59.0), False)).advice().kind == "turn"


def test_a_hunting_set_is_eased_and_a_drooping_one_sharpened(knowledge: Knowledge) -> None:
    hunting = coach_of(knowledge).after(Trial((0.0, 0.0), (61.5, 60.9), True)).advice()
    assert hunting.step[1] < 0.0
    assert any("hunts" in reason for reason in hunting.reasons)
    drooping = coach_of(knowledge).after(Trial((0.0, 0.0), (62.5, 57.5), False)).advice()
    assert drooping.step[1] > 0.0
    assert drooping.choice is not None
    assert drooping.choice.hunting < 0.3


def test_overspeed_stops_everything(knowledge: Knowledge) -> None:
    assert coach_of(knowledge).after(Trial((0.0, 0.0), (66.4, 62.0), False)).advice().kind == "stop"


def test_an_advised_trial_keeps_away_from_overspeed(knowledge: Knowledge) -> None:
    coach = coach_of(knowledge).after(Trial((0.0, 0.0), (65.4, 58.0), False))
    advice = coach.advice()
    assert advice.choice is not None
    assert advice.choice.mean[0] + 2.0 * advice.choice.deviation[0] < 66.0


def played(coach: Coach, *found: Trial) -> tuple[Coach, NextTurn]:
    for trial in found:
        coach = coach.after(trial)
    return coach, coach.advice()


def answers(knowledge: Knowledge, coach: Coach, advice: NextTurn) -> dict[str, str]:
    return dict(facts_of(coach, knowledge, knowledge.features({}), advice))


def test_no_response_is_noticed_and_handed_on(knowledge: Knowledge) -> None:
    found = (Trial((0.0, 0.0), (63.8, 61.0), False), Trial((-2.0, 0.0), (63.7, 61.0), False))
    coach, advice = played(coach_of(knowledge), *found)
    assert advice.kind == "diagnose"
    facts = answers(knowledge, coach, advice)
    assert facts["speed_adjuster_trial"] == "no_response"
    assert facts["frequency_no_load"] == "63.8 Hz"
    job = Job(knowledge, {})
    for check, answer in facts.items():
        job.record(check, answer)
    assert job.posterior()["speed_set_high"] < 0.5


def test_the_wrong_direction_is_noticed(knowledge: Knowledge) -> None:
    found = (Trial((0.0, 0.0), (63.8, 61.0), False), Trial((-1.5, 0.0), (64.6, 61.7), False))
    coach, advice = played(coach_of(knowledge), *found)
    assert advice.kind == "diagnose"
    assert "wrong direction" in advice.reasons[0]
    assert answers(knowledge, coach, advice)["speed_adjuster_trial"] == "no_response"


def test_a_place_that_does_not_repeat_is_noticed(knowledge: Knowledge) -> None:
    found = (
        Trial((0.0, 0.0), (63.8, 61.0), False),
        Trial((-2.0, 0.0), (62.4, 59.6), False),
        Trial((0.0, 0.0), (63.0, 60.2), False),
    )
    coach, advice = played(coach_of(knowledge), *found)
    assert advice.kind == "diagnose"
    assert answers(knowledge, coach, advice)["no_load_repeatability"] == "0.8 Hz"


@pytest.mark.parametrize(("end", "way"), [(64.6, "climbs"), (61.9, "falls")])
def test_a_drift_while_warming_is_noticed(knowledge: Knowledge, end: float, way: str) -> None:
    found = (
        Trial((0.0, 0.0), (63.2, 61.0), False, minutes=3.0),
        Trial((0.0, 0.0), (end, end - 2.4), False, minutes=14.0),
    )
    coach, advice = played(coach_of(knowledge), *found)
    assert advice.kind == "diagnose"
    assert answers(knowledge, coach, advice)["frequency_change_warming"] == way


def test_easing_that_does_not_calm_is_noticed(knowledge: Knowledge) -> None:
    found = (Trial((0.0, 0.0), (61.5, 58.5), True), Trial((0.0, -8.0), (65.4, 60.2), True))
    coach, advice = played(coach_of(knowledge), *found)
    assert advice.kind == "diagnose"
    assert answers(knowledge, coach, advice)["sensitivity_trial"] == "swing_unchanged"
    worse = (Trial((0.0, 0.0), (61.5, 60.0), True, 1.0), Trial((0.0, -2.0), (62.4, 60.6), True, 2.0))
    coach, advice = played(coach_of(knowledge), *worse)
    assert answers(knowledge, coach, advice)["sensitivity_trial"] == "swing_worse"


def test_a_surprise_is_read_again_before_it_is_believed(knowledge: Knowledge) -> None:
    found = (Trial((0.0, 0.0), (63.8, 61.0), False), Trial((-1.0, 1.0), (64.9, 58.0), False))
    coach, advice = played(coach_of(knowledge), *found)
    assert advice.kind == "read again"
    assert not any(advice.step)
    assert coach.after(Trial((-1.0, 1.0), (64.9, 58.0), False)).advice().kind == "turn"


def test_what_the_trials_show_of_a_sound_set_is_handed_on_too(knowledge: Knowledge) -> None:
    found = (Trial((0.0, 0.0), (61.5, 60.9), True), Trial((-2.0, -6.0), (63.0, 61.0), False))
    coach, advice = played(coach_of(knowledge), *found)
    assert answers(knowledge, coach, advice)["sensitivity_trial"] == "swing_stops"


# ---- other pairs -----------------------------------------------------------------------------------------------------


def test_the_booster_is_turned_for_full_load(knowledge: Knowledge) -> None:
    advice = coach_of(knowledge, "booster").after(Trial((0.0,), (61.5, 58.0), False)).advice()
    assert advice.kind == "turn"
    assert advice.step[0] > 0.0


def test_a_place_that_has_just_swung_is_left_for_one_that_is_clear_of_it(knowledge: Knowledge) -> None:
    """A swing that the booster has far from where one expects it: the last place is not turned to and fro about."""
    coach = coach_of(knowledge, "booster")
    for place, full in ((0.0, 60.0), (-1.0, 59.6)):
        coach = coach.after(Trial((place,), (61.9, full), True, 0.5))
        advice = coach.advice()
        assert advice.kind == "turn"
        assert advice.step[0] <= -1.0


def test_a_fall_that_no_single_turn_takes_away_is_gone_at_with_both(knowledge: Knowledge) -> None:
    """Out of reach at once, both adjusters are turned the whole way that is allowed, not one a little to and fro."""
    coach = coach_of(knowledge, booster="none", hertz="50").after(Trial((0.0, 0.0), (51.6, 46.9), False, 0.1))
    step = coach.advice().step
    assert step[0] > 2.0
    assert step[1] > 4.0


def test_a_lean_idle_needle_that_surges_is_opened(knowledge: Knowledge) -> None:
    advice = coach_of(knowledge, "idle_needle").after(Trial((0.75,), (60.9,), True)).advice()
    assert advice.kind == "turn"
    assert advice.step[0] > 0.0


def test_a_pair_that_is_not_there_is_refused(knowledge: Knowledge) -> None:
    with pytest.raises(TrimError, match="this set has none"):
        coach_of(knowledge, "booster", booster="none")
    with pytest.raises(TrimError, match=r"no pair .*bosster.*did you mean .booster"):
        coach_of(knowledge, "bosster")


def test_impossible_trials_are_refused(knowledge: Knowledge) -> None:
    with pytest.raises(TrimError, match="speed at 400 turns; expected -28 to 28"):
        coach_of(knowledge).after(Trial((400.0, 0.0), (61.0, 60.0), False))
    with pytest.raises(TrimError, match="no load of 610 Hz"):
        coach_of(knowledge).after(Trial((0.0, 0.0), (610.0, 60.0), False))


def test_a_target_that_cannot_be_is_refused(knowledge: Knowledge) -> None:
    features = knowledge.features({})
    pair = pair_of(knowledge, "speed+sensitivity", features)
    with pytest.raises(TrimError, match="apart"):
        goal_of(knowledge, pair, features, target=(62.0, 58.5))
    with pytest.raises(TrimError, match="target of 75 Hz"):
        goal_of(knowledge, pair, features, target=(75.0, None))
    assert goal_of(knowledge, pair, features, target=(61.0, None)).target == (61.0, pytest.approx(58.8))


# ---- what a slip in the coach would change ---------------------------------------------------------------------------


def test_a_reading_taken_while_it_swings_counts_for_less(knowledge: Knowledge) -> None:
    """Common practice: the middle of a swinging needle is a worse reading than a needle at rest."""
    fresh = coach_of(knowledge)
    calm, swinging = (fresh.after(Trial((0.0, 0.0), (64.0, 60.0), hunts)) for hunts in (False, True))
    steady, loose = fresh.pair.noise
    assert calm._noise(calm.trials[0]) == pytest.approx((steady, steady))
    assert swinging._noise(swinging.trials[0]) == pytest.approx((loose, steady))
    sure, unsure = (coach.line.predict((0.0, 0.0))[1] for coach in (calm, swinging))
    assert unsure[0][0] > 2.0 * sure[0][0]
    assert unsure[1][1] == pytest.approx(sure[1][1], rel=0.2)


def test_a_surprise_is_read_again_once_and_then_believed(knowledge: Knowledge) -> None:
    began = coach_of(knowledge).after(Trial((0.0, 0.0), (64.0, 61.5), False))
    strange = Trial((0.5, 0.0), (64.4, 55.0), False)
    first = began.after(strange)
    assert (first.puzzled, first.advice().kind) == (True, "read again")
    # What is not believed yet has taught nothing.
    assert first.line.predict(strange.place)[0] == began.line.moved(strange.place).predict(strange.place)[0]
    again = replace(first, trials=began.trials).after(strange)
    assert not again.puzzled
    assert again.line.predict(strange.place)[0][1] < 59.0


@pytest.mark.parametrize(("hertz", "limit"), [("60", 66.0), ("50", 55.0)])
def test_the_limit_of_overspeed_itself_is_overspeed(knowledge: Knowledge, hertz: str, limit: float) -> None:
    """An overspeed trip centred at 66 Hz for a 60 Hz set, 110 % (TM 9-6115-643-24): at the trip point it is tripped."""
    fresh = coach_of(knowledge, hertz=hertz)
    assert fresh.goal.overspeed == pytest.approx(limit)
    at = fresh.goal.overspeed
    assert fresh.after(Trial((0.0, 0.0), (at, at - 3.0), False)).advice().kind == "stop"
    assert fresh.after(Trial((0.0, 0.0), (at - 0.1, at - 3.0), False)).advice().kind != "stop"


def test_an_edge_that_is_read_from_a_meter_is_blurred_by_its_reading(knowledge: Knowledge) -> None:
    for name in knowledge.catalogue.pairs:
        features = knowledge.features()
        try:
            fresh = coach_of(knowledge, name)
        except TrimError:
            continue
        values = (62.0, 60.0)[: len(fresh.pair.readings)]
        found = fresh.after(Trial((0.0,) * len(fresh.names), values, True)).edge.boundary
        before, place = fresh.edge.boundary, fresh.edge.measure((0.0,) * len(fresh.names), list(values))
        sharp, blurred = before.learned(place, True, 0.0), before.learned(place, True, 0.1 * features["hertz"] / 60)
        assert sharp != blurred
        assert found == (blurred if fresh.edge.adjuster is None else sharp), name


@pytest.mark.parametrize(("slope", "told"), [(0.31, True), (0.29, False), (0.19, False), (-0.5, False)])
def test_that_speed_follows_is_told_from_three_deviations_on(knowledge: Knowledge, slope: float, told: bool) -> None:
    """Three standard deviations: JCGM 100:2008, Table G.1, coverage 99.73 %."""
    coach = coach_of(knowledge)
    for place, values in (((0.0, 0.0), (62.0, 59.5)), ((1.0, 0.0), (62.7, 60.2)), ((0.0, 0.0), (62.0, 59.5))):
        coach = coach.after(Trial(place, values, False))

    class Line:
        def slope(self, reading: int, k: int) -> tuple[float, float]:
            return slope, 0.1

    seen = replace(coach, line=Line())  # type: ignore[arg-type]
    facts = dict(facts_of(seen, knowledge, knowledge.features(), NextTurn("turn")))
    assert (facts.get("speed_adjuster_trial") == "follows") is told


def test_of_two_adjusters_the_one_that_slows_the_set_is_turned_first(knowledge: Knowledge) -> None:
    """Speed in and sensitivity toward sharp each move no load by hertz, against one another: done in the other order the
    set stood at its shutdown limit half-way."""
    coach = coach_of(knowledge).after(Trial((0.0, 0.0), (61.6, 56.7), False))
    step = (4.625, 7.125)
    assert [name for name, _ in coach.in_order(step)] == ["sensitivity", "speed"]
    assert [name for name, _ in coach.in_order((-4.625, -7.125))] == ["speed", "sensitivity"]
    assert coach.in_order((0.0, 1.0)) == (("sensitivity", 1.0),)
    here = coach.line.predict(coach.line.at)[0][0]
    on_the_way = here + coach.line.slope(0, 1)[0] * step[1]
    assert on_the_way < here


# ---- what small errors in the coach went unnoticed without -----------------------------------------------------------


def test_a_swing_that_stopped_while_only_the_speed_was_turned_is_no_trial_of_the_sensitivity(
    knowledge: Knowledge,
) -> None:
    coach = coach_of(knowledge)
    for place, hunts in (((0.0, 0.0), True), ((-1.0, 0.0), False)):
        coach = coach.after(Trial(place, (62.0 + place[0], 59.5 + place[0]), hunts))
    assert "sensitivity_trial" not in answers(knowledge, coach, NextTurn("turn"))
    back = coach.after(Trial((-1.0, 0.0), (61.0, 58.5), True)).after(Trial((-1.0, -1.0), (61.4, 58.6), False))
    assert answers(knowledge, back, NextTurn("turn"))["sensitivity_trial"] == "swing_stops"


def test_what_was_found_of_the_adjuster_is_not_told_over_by_the_line(knowledge: Knowledge) -> None:
    coach = coach_of(knowledge)
    for place in (0.0, 1.0, 0.0):
        coach = coach.after(Trial((place, 0.0), (61.0 + 0.75 * place, 58.5 + 0.75 * place), False))
    assert answers(knowledge, coach, NextTurn("turn"))["speed_adjuster_trial"] == "follows"
    finding = Anomaly("speed_adjuster_trial", "no_response", "Found.")
    assert answers(knowledge, coach, NextTurn("diagnose", findings=(finding,)))["speed_adjuster_trial"] == "no_response"


def test_what_comes_before_turning_has_its_reason_and_is_nothing_that_is_done_again_after_it(
    knowledge: Knowledge,
) -> None:
    coach = coach_of(knowledge)
    told = dict(order_of(coach, knowledge))
    assert told
    assert all(told.values())
    remedies = {knowledge.catalogue.adjusters[name].remedy for name in coach.names}
    whys = {rule.why for rule in knowledge.catalogue.order.values()
            if rule.kind != "do_again" and remedies & set(rule.after)}  # fmt: skip
    assert set(told.values()) <= whys


def test_once_secured_what_was_read_before_holds_no_longer_and_what_comes_after_does(knowledge: Knowledge) -> None:
    coach = coach_of(knowledge).after(Trial((0.0, 0.0), (66.4, 62.0), False))
    assert coach.held
    assert not coach.secured().held
    assert coach.secured().after(Trial((-1.0, 0.0), (66.4, 62.0), False)).held
