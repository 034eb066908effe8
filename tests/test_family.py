"""The family of simulated sets: in its ranges, the same for ever, sound before it has a fault, a tenth kept aside."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.compiler import Spread
from hertzwright.engine.rehearsal.family_jobs import family_job, family_jobs, figures, paired
from hertzwright.engine.rehearsal.family_set import FamilySet, call_out
from hertzwright.engine.rehearsal.visit import (
    ENDS,
    HANDED,
    LEFT,
    RIGHT,
    Visit,
    as_proposed,
    from_the_top_listening,
    visit,
)
from hertzwright.engine.simulated.equilibrium import equilibrium
from hertzwright.engine.simulated.family import (
    ASIDE,
    draw_faults,
    draw_features,
    draw_spread,
    family_member,
    is_sound,
    kept_aside,
    pair_aside,
    pairs_aside,
)
from hertzwright.engine.simulated.faults import FAULTS, FaultError
from hertzwright.engine.simulated.plant import Plant
from hertzwright.engine.simulated.sound_set import rated_load

pytestmark = pytest.mark.whole_ways

KNOWLEDGE = load_knowledge()
SPREADS = KNOWLEDGE.catalogue.spreads
SOUND = Plant()


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return KNOWLEDGE


# ---- ranges


@pytest.mark.parametrize("spread", SPREADS.values(), ids=SPREADS)
def test_a_range_is_of_something_that_the_simulated_set_has(spread: Spread) -> None:
    if spread.part not in ("owner", "fault"):
        assert hasattr(getattr(SOUND, spread.part), spread.value)


@pytest.mark.parametrize("spread", SPREADS.values(), ids=SPREADS)
def test_tuning_never_draws_from_the_tenth_that_is_kept_aside(spread: Spread) -> None:
    low, high = kept_aside(spread)
    assert spread.lowest <= low < high <= spread.highest
    assert high - low == pytest.approx(ASIDE * (spread.highest - spread.lowest))
    tuned = [draw_spread(spread, f"set {number}") for number in range(200)]
    assert all(spread.lowest <= value <= spread.highest for value in tuned)
    assert not [value for value in tuned if low < value < high]
    final = [draw_spread(spread, f"set {number}", held_out=True) for number in range(200)]
    assert all(spread.lowest <= value <= spread.highest for value in final)
    inside = sum(low <= value <= high for value in final) / 200
    assert 0.27 < inside < 0.53  # a third, and a tenth of the other two


def test_both_ends_are_kept_aside_of_some_ranges() -> None:
    ends = [kept_aside(spread)[0] > spread.lowest for spread in SPREADS.values()]
    assert 0.25 < sum(ends) / len(ends) < 0.75


def test_a_tenth_of_the_pairs_of_causes_comes_in_the_final_test_only(knowledge: Knowledge) -> None:
    aside = pairs_aside(FAULTS)
    every = list(combinations(sorted(FAULTS), 2))
    assert 0.07 < len(aside) / len(every) < 0.13
    assert all(pair_aside(two, one) for one, two in aside)
    member = family_member(knowledge, "pairs")
    drawn = [draw_faults(knowledge, replace(member, seed=f"pairs {n}"), 2) for n in range(300)]
    assert not {tuple(cause for cause, _ in faults) for faults in drawn} & set(aside)
    final = [draw_faults(knowledge, replace(member, seed=f"pairs {n}", held_out=True), 2) for n in range(300)]
    assert {tuple(cause for cause, _ in faults) for faults in final} & set(aside)


def test_a_range_of_nothing_is_refused(knowledge: Knowledge) -> None:
    wrong = replace(SPREADS["flywheel"], id="wings", value="wings")
    catalogue = replace(knowledge.catalogue, spreads={"wings": wrong})
    with pytest.raises(FaultError, match="wings"):
        family_member(Knowledge(catalogue), 1)
    with pytest.raises(FaultError, match=r"family\.yaml"):
        family_member(Knowledge(replace(knowledge.catalogue, spreads={})), 1)


# ---- members


def test_the_member_of_a_seed_is_the_same_for_ever(knowledge: Knowledge) -> None:
    one, again, other = (family_member(knowledge, seed) for seed in ("a", "a", "b"))
    assert one == again
    assert one.made != other.made
    assert family_member(knowledge, "a", held_out=True).made != one.made
    assert draw_faults(knowledge, one, 2) == draw_faults(knowledge, again, 2)


def test_a_further_range_or_cause_leaves_the_other_draws_as_they_were(knowledge: Knowledge) -> None:
    more = {"new_one": replace(SPREADS["flywheel"], id="new_one", part="meter", value="restless", how="is"), **SPREADS}
    wider = Knowledge(replace(knowledge.catalogue, spreads=more))
    one, two = family_member(knowledge, 3), family_member(wider, 3)
    assert one.features == two.features
    assert one.made.engine == two.made.engine
    fewer = [cause for cause in FAULTS if cause != "vacuum_leak"]
    for seed in range(40):
        member = replace(one, seed=f"causes {seed}")
        every, some = draw_faults(knowledge, member, 1), draw_faults(knowledge, member, 1, fewer)
        assert every == some or every[0][0] == "vacuum_leak"


def test_members_share_out_as_the_family_says(knowledge: Knowledge) -> None:
    drawn = [draw_features(knowledge, f"set {number}") for number in range(1000)]
    for share in knowledge.catalogue.shares.values():
        whole = sum(share.of.values())
        for value, weight in share.of.items():
            wanted = knowledge.features({share.id: value})[share.id]
            seen = sum(features[share.id] == wanted for features in drawn) / 1000
            assert seen == pytest.approx(weight / whole, abs=0.05), (share.id, value)


@pytest.mark.parametrize("seed", range(3))
def test_a_member_without_a_fault_is_left_as_common_practice_leaves_it(knowledge: Knowledge, seed: int) -> None:
    # About 61 to 62 Hz with no load, 3 Hz less at full load at the most, steady: common practice.
    member = family_member(knowledge, seed)
    plant = member.made
    none, full = (60.0 * equilibrium(plant, load).speed for load in (0.0, rated_load(plant)))
    assert 61.2 <= none <= 62.1
    assert 0.5 < none - full < 3.0
    assert is_sound(plant)
    called = FamilySet(knowledge, member.with_faults(()))
    for check in knowledge.catalogue.costs.proof_checks:
        assert called.outcomes(check) == (knowledge.checks[check].normal,), check


@pytest.mark.nightly
@pytest.mark.parametrize(
    "held_out",
    [
        False,
        # Measured on 200: settling after a load step 60, its dip 46, of the ranges kept aside.
        pytest.param(True, marks=pytest.mark.xfail(strict=True, reason="12 and 11 of 40 after a load step")),
    ],
)
def test_sound_members_seldom_look_wrong(knowledge: Knowledge, held_out: bool) -> None:
    """A check on sets without a fault shows something at most as often as one in five, over 40 sets."""
    counts: dict[str, list[bool]] = {}
    for seed in range(40):
        member = family_member(knowledge, f"sound {seed}", held_out)
        called = FamilySet(knowledge, member.with_faults(()))
        for check in knowledge.checks.values():
            if knowledge.applies(check.id, member.features) and (outcomes := called.outcomes(check.id)):
                counts.setdefault(check.id, []).append(check.normal not in outcomes)
    often = {check: sum(seen) / len(seen) for check, seen in counts.items() if sum(seen) > 0.2 * len(seen)}
    assert often == {}


# ---- sets that are called out, and visits


def test_a_set_complains_of_what_it_shows_and_would_not_if_it_were_sound(knowledge: Knowledge) -> None:
    for seed in range(2):
        called = call_out(knowledge, seed)
        assert len(called.faults) == 1
        assert called.again().shows(called.complaint)
        assert called.member is not None
        assert not FamilySet(knowledge, called.member.with_faults(())).shows(called.complaint)
    mistaken = call_out(knowledge, 1, faults=0)
    assert not mistaken.faults
    assert not mistaken.again().shows(mistaken.complaint)


def test_a_set_again_is_the_set_as_it_was_found(knowledge: Knowledge) -> None:
    called = call_out(knowledge, 2)
    (cause,) = called.faults
    fresh = called.again()
    remedy = knowledge.causes[cause].remedies[0]
    for _ in range(6):
        called.mend(remedy)
    again = called.again()
    assert again.bench == fresh.bench
    assert again.answer("frequency_no_load") == fresh.answer("frequency_no_load")


def test_the_speed_is_set_by_the_meter_at_hand(knowledge: Knowledge) -> None:
    """A meter that is off leaves the set off by as much, and such a set is not right."""
    member = family_member(knowledge, 4)
    called = FamilySet(knowledge, member.with_faults((("meter_wrong", 0.4),)))
    called.mend("set_no_load_speed")
    offset = called.bench.plant.meter.offset
    assert called.bench.true_no_load == pytest.approx(61.7 - offset * 60.0 / called.bench.plant.hertz, abs=0.1)
    while called.faults:
        called.mend("use_true_meter")
    assert not called.right
    called.mend("set_no_load_speed")
    assert called.right


def test_one_visit_to_its_close(knowledge: Knowledge) -> None:
    """A sticking-out case, end to end: a set far off speed is set right by what is proposed, and proven."""
    called = next(
        found
        for found in (call_out(knowledge, f"high {seed}", causes=["speed_set_high"]) for seed in range(9))
        if found.bench.faults[0][1] > 0.5 and found.complaint in ("floats_high_no_load", "off_frequency_everywhere")
    )
    seen: list[str] = []
    played = visit(knowledge, called.again(), as_proposed(0, watch=lambda job: seen.append(job.line())))
    assert played.end == RIGHT
    assert played.good
    assert played.left == ()
    assert played.wrong == ()
    assert "set_no_load_speed" in [move.id for move in played.moves]
    assert [move.minutes for move in played.moves] == sorted(move.minutes for move in played.moves)
    assert seen[0].endswith(f"{called.complaint}=present")
    assert visit(knowledge, called.again(), as_proposed(0)) == played
    lazy = visit(knowledge, called.again(), as_proposed(0, most=1))
    assert not lazy.good
    assert lazy.left == ("speed_set_high",)
    assert lazy.minutes >= knowledge.catalogue.costs.refer


@pytest.mark.nightly
def test_the_fair_player_listens_first_and_then_goes_on(knowledge: Knowledge) -> None:
    called = call_out(knowledge, "fair", causes=["vacuum_leak"])
    played = visit(knowledge, called.again(), from_the_top_listening)
    assert played.end in ENDS
    made = [move.id for move in played.moves if move.kind == "check"]
    bearing = {
        stage.check
        for stage in knowledge.catalogue.from_the_top.values()
        for remedy in stage.do.values()
        if "vacuum_leak" in knowledge.remedies[remedy].cures
    }
    assert bearing & set(made)


def test_figures_and_pairs() -> None:
    def made(end: str, minutes: float, complaint: str = "hunts_no_load") -> Visit:
        return Visit(complaint, (("linkage_worn", 0.5),), (), False, end, minutes, ())

    first = {number: made(RIGHT if number % 2 else LEFT, 100.0 + number) for number in range(10)}
    second = {number: made(HANDED if number == 0 else each.end, 0.5 * each.minutes) for number, each in first.items()}
    found = figures(list(first.values()))
    assert found.ends[RIGHT] == found.ends[LEFT] == 5
    assert found.good[0] == 0.5
    both = paired(first, second)
    assert (both.numbers, both.unlike) == (tuple(range(10)), 0)
    assert both.good[0] == pytest.approx(0.1)
    assert both.minutes == (pytest.approx(0.5), pytest.approx(0.0, abs=1e-9))
    assert both.put_right == (0,)
    assert both.spoilt == ()
    assert paired(first, {**second, 3: made(RIGHT, 1.0, "jiggles")}).unlike == 1
    with pytest.raises(ValueError, match="share no set"):
        paired(first, {1: made(RIGHT, 1.0, "jiggles")})


@pytest.mark.nightly
def test_jobs_are_the_same_whoever_plays_them(knowledge: Knowledge) -> None:
    numbers = random.Random(3).sample(range(1000), 3)
    jobs = family_jobs(knowledge, numbers, seed="who", deepen=0)
    assert [job.number for job in jobs] == numbers
    assert jobs[1] == family_job(knowledge, "who", numbers[1], deepen=0)
    assert all(job.published is not None for job in jobs)


@pytest.mark.nightly
def test_two_files_of_the_benchmark_are_paired(knowledge: Knowledge, tmp_path: Path) -> None:
    from benchmarks import family as benchmark

    jobs = family_jobs(knowledge, range(2), seed="kept", deepen=0, published=False)
    run = {"seed": "kept", "faults": 1, "held_out": False}
    file = tmp_path / "jobs.jsonl"
    file.write_text("\n".join(benchmark.as_line(job, run) for job in jobs) + "\n{broken", encoding="utf-8")
    kept_run, kept = benchmark.read(file)
    assert kept_run == run
    assert [job.proposed for job in kept.values()] == [job.proposed for job in jobs]
    benchmark.compare(file, file)
    like = family_jobs(knowledge, range(2), seed="another", deepen=0, published=False, like=kept)
    assert like == jobs
    lost = {0: replace(kept[0], member="family/kept/9/9")}
    with pytest.raises(LookupError, match="not as it was"):
        family_jobs(knowledge, [0], like=lost)
