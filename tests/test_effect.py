"""What an edit does to jobs: an exact sum over all findings against the weighted mean of those that are picked."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from hertzwright.engine import Job, Knowledge, Step, load_knowledge
from hertzwright.engine.rehearsal.virtual_set import DrawnSet, draw_faults
from hertzwright.engine.review.call_outs import call_out
from hertzwright.engine.review.cases import judge
from hertzwright.engine.review.effect import (
    NEW,
    OLD,
    Memo,
    PairedSet,
    _Hands,
    _kept,
    difference,
    effect,
)
from hertzwright.engine.review.stake import LEAST, at_stake, beliefs_only, drifts, stakes, touched
from hertzwright.engine.simulated import Draws

import small_knowledge as small

LINKAGE, CHECKS = "areas/linkage.yaml", "checks/linkage.yaml"
WEAK = (LINKAGE, "stop_gap: {none: usually}", "stop_gap: {none: very_seldom}")
COMMON = (LINKAGE, "how_common: very_seldom\n    only_if", "how_common: sometimes\n    only_if")
LONG = (CHECKS, 'minutes: "2"', 'minutes: "7"')


def of(folder: Path, *changes: tuple[str, str, str]) -> Knowledge:
    """The small knowledge with passages replaced."""
    texts = dict(small.FILES)
    for file, old, new in changes:
        assert old in texts[file], old
        texts[file] = texts[file].replace(old, new, 1)
    return load_knowledge(small.write(folder, texts))


def every_job(right: _Hands, other: _Hands, share: float) -> Iterator[float]:
    """What the other version's steps cost along every job that may come of the findings so far, times its share."""
    step, another = right.first(), other.first()
    if (step.kind, step.id) != (another.kind, another.id):
        one, two = (each.shown((step, another)) for each in (right, other))
        if (one[0].kind, one[0].id) != (two[0].kind, two[0].id):
            yield share * right.cost(two[0], one)
    if step.kind == "refer" or (step.kind == "done" and step.minutes == 0.0):
        return
    mark = [len(each.job.standing) for each in (right, other)]
    answers = right.answers(step)
    chances = dict(zip(answers, (chance for chance, _ in right.ahead(step, answers)), strict=True))
    total = math.fsum(chances.values())
    for answer, chance in chances.items():
        if share * chance / total < 1e-7 or answer == "passed":
            continue
        right.take(step, answer)
        other.take(step, answer)
        yield from every_job(right, other, share * chance / total)
        right.back(mark[0])
        other.back(mark[1])


def exactly(world: Knowledge, known: Knowledge) -> float:
    """The mean over all jobs at the usual set: every complaint as often as it is said, every answer as it is likely."""
    said, cost = [], []
    for complaint in world.complaints:
        hands = [_Hands(each, {}, 0, Memo()) for each in (world, known)]
        for each in hands:
            each.job.record(complaint, "present")
        said.append(hands[0].job.chance())
        cost.append(said[-1] * math.fsum(every_job(*hands, 1.0)))
    return math.fsum(cost) / math.fsum(said)


@pytest.mark.parametrize(
    ("edit", "count"),
    [
        # The quick tier holds the interval against the exact effect, below.
        pytest.param(WEAK, 90, id="weak", marks=pytest.mark.nightly),
        pytest.param(COMMON, 300, id="common", marks=pytest.mark.nightly),
        pytest.param((CHECKS, 'minutes: "2"', 'minutes: "20"'), 300, id="long", marks=pytest.mark.nightly),
    ],
)
def test_the_weighted_mean_is_that_of_all_jobs(edit: tuple[str, str, str], count: int, tmp_path: Path) -> None:
    """Within four standard errors of the exact sum over the tree of all findings, which no draw bears on."""
    old, new = of(tmp_path / "old"), of(tmp_path / "new", edit)
    found = effect(old, new, [{}] * count, count, seed=1, deepen=0)
    for right, world, known, sign in ((NEW, new, old, -1.0), (OLD, old, new, 1.0)):
        each = difference(found, right)
        assert each.same < each.count
        assert abs(each.mean - sign * exactly(world, known)) < 2.0 * (each.high - each.mean) + 1e-9


def said_of_one_drawn(world: Knowledge, name: str) -> str:
    """What is said of a set that is drawn as the beliefs of a world take it: any faults or none, and a complaint of what
    it shows, or a mistaken one, each as often as it is made."""
    complaints = list(world.complaints.values())
    for number in range(1, 100_000):
        draws = Draws(f"{name}/{number}")
        complaint = complaints[int(draws.uniform() * len(complaints))]
        customer = DrawnSet(world, {}, draw_faults(world, {}, draws), f"{name}/{number}")
        shown = [customer.answer(check) in outcomes for check, outcomes in complaint.says.items()]
        so = any(shown) if complaint.mode == "any" else all(shown)
        if draws.uniform() < (complaint.true_when_said if so else complaint.said_when_not):
            return complaint.id
    raise AssertionError(f"{name}: nobody is called out")


def test_what_may_be_said_of_a_set_is_said_as_often_as_of_sets_that_are_drawn(tmp_path: Path) -> None:
    """Exact chances against 2000 sets with faults and a customer: within four standard errors of a share."""
    old, new = of(tmp_path / "old"), of(tmp_path / "new", COMMON)
    assert touched(old, new) == {"speed_high"}
    both = {OLD: old, NEW: new}
    exact = call_out(both, stakes(old, new), 1, {})
    for right, world in both.items():
        said = [said_of_one_drawn(world, f"said/{number}") for number in range(2000)]
        assert math.fsum(each.chance for each in exact.said[right]) == pytest.approx(1.0)
        for each in exact.said[right]:
            error = math.sqrt(each.chance * (1.0 - each.chance) / 2000)
            assert said.count(each.complaint) / 2000 == pytest.approx(each.chance, abs=4.0 * error + 1e-9)


def test_ways_are_followed_for_themselves_or_by_lot_and_stand_for_all() -> None:
    ways = [("much", 0.6, 0.5), ("some", 0.3, 0.2), ("little", 0.1, 0.1)]
    stands = dict.fromkeys((way for way, _, _ in ways), 0.0)
    for place in range(1000):
        kept = _kept(ways, 2.0, 0.2, (place + 0.5) / 1000)
        assert kept[0] == ("much", 1.2, 0.5)
        assert 1 <= len(kept) <= 2
        for way, counts, _ in kept:
            stands[way] += counts / 1000
    assert stands == {way: pytest.approx(2.0 * chance, rel=0.02) for way, chance, _ in ways}


def test_where_every_way_is_followed_the_sum_is_exact(tmp_path: Path) -> None:
    """What is decided by lot is less than one job in a thousand times what is at stake."""
    old, new = of(tmp_path / "old"), of(tmp_path / "new", WEAK)
    found = {each.right: each for each in effect(old, new, [{}], 300, seed=1, deepen=0)}
    assert found[NEW].gap == pytest.approx(-exactly(new, old), rel=0.05)
    assert found[OLD].gap == pytest.approx(exactly(old, new), rel=0.05)


@pytest.mark.parametrize(
    ("seeds", "least"),
    [
        pytest.param(5, 3, id="quick"),
        # By Student's t alone: 71 and 94 of 100.
        pytest.param(100, 90, id="all", marks=pytest.mark.nightly),
    ],
)
def test_the_exact_effect_is_in_95_of_100_intervals(seeds: int, least: int, tmp_path: Path) -> None:
    """Of 100 intervals that are right 19 times in 20 fewer than 90 hold it once in 100 times, of 5 fewer than 3 once in
    900: binomial distribution."""
    old, new = of(tmp_path / "old"), of(tmp_path / "new", WEAK)
    exact = {NEW: -exactly(new, old), OLD: exactly(old, new)}
    there = dict.fromkeys(exact, 0)
    for seed in range(1, seeds + 1):
        found = effect(old, new, [{}] * 60, 60, seed=seed, deepen=0)
        for right, wanted in exact.items():
            each = difference(found, right)
            there[right] += each.low <= wanted <= each.high
    assert min(there.values()) >= least, there


def test_the_more_is_suspected_that_an_edit_touches_the_more_is_at_stake(tmp_path: Path) -> None:
    old, new = of(tmp_path / "old"), of(tmp_path / "new", WEAK)
    held = stakes(old, new)
    assert held is not None
    assert at_stake(held, {}, {}) == 1.0
    assert at_stake(held, {"rod_long": 0.0}, {"rod_long": 0.0}) == LEAST
    assert at_stake(held, {"rod_long": 0.5}, {"rod_long": 0.5}) == pytest.approx(math.sqrt(0.5 * held["rod_long"]))
    assert at_stake(held, {"rod_long": 0.2}, {"rod_long": 0.5}) > at_stake(held, {"rod_long": 0.5}, {"rod_long": 0.5})
    assert at_stake(None, {}, {}) == 1.0


@pytest.mark.parametrize(
    ("edit", "causes"),
    [
        (LONG, {"rod_long", "rod_short"}),
        (("words.yaml", 'value: "0.75"', 'value: "0.76"'), None),
        (("states.yaml", 'warm: {stopped: "2"}', 'warm: {stopped: "90"}'), None),
        ((LINKAGE, "cures: {speed_high: usually}", "cures: {speed_high: sometimes}"), {"speed_high"}),
    ],
)
def test_what_an_edit_has_to_do_with(edit: tuple[str, str, str], causes: set[str] | None, tmp_path: Path) -> None:
    old, new = of(tmp_path / "old"), of(tmp_path / "new", edit)
    assert touched(old, new) == causes
    assert not beliefs_only(old, new)


def test_the_same_knowledge_would_do_the_same_all_along(tmp_path: Path) -> None:
    old = of(tmp_path / "old")
    found = effect(old, old, [{}] * 6, 6, seed=5, deepen=0)
    assert [each.number for each in found] == [number for number in range(1, 7) for _ in (OLD, NEW)]
    assert all(each.gap == 0.0 and each.parted == 0.0 for each in found)
    each = difference(found, OLD)
    assert (each.mean, each.sets) == (0.0, 6)
    assert each.same == each.count >= 5
    assert math.isnan(each.low)
    assert not each.told_apart


def test_too_few_jobs_give_no_interval() -> None:
    sets = [PairedSet(1, OLD, 6.0, 1, 0, 1.0, 1.0, 10.0)]
    assert difference(sets, OLD).mean == 6.0
    assert math.isnan(difference(sets, OLD).low)
    sets += [PairedSet(number, OLD, 0.0, 1, 1, 0.0, 1.0, 10.0) for number in range(2, 30)]
    assert math.isnan(difference(sets, OLD).high)
    assert not difference(sets, OLD).told_apart
    with pytest.raises(ValueError, match="no jobs in the world of new"):
        difference(sets, NEW)


def test_a_step_costs_what_is_expected_after_each_of_its_answers(tmp_path: Path) -> None:
    """By hand: minutes of the look, and the mean of what is expected after its answers, by `Job` alone."""
    knowledge = of(tmp_path / "old")
    hands = _Hands(knowledge, {}, 0, Memo())
    hands.job.record("floats_high", "present")
    before = hands.job.chance()
    total = 0.0
    for answer in ("none", "right", "wide"):
        job = Job(knowledge, {})
        job.record("floats_high", "present")
        job.record("stop_gap", answer)
        total += job.chance() / before * (job.minutes + job.next_steps(1, 0)[0].expected_minutes)
    assert hands.after(Step("check", "stop_gap", 0.0, 0.0, "")) == pytest.approx(total, rel=1e-9)
    assert [event.id for event in hands.job.standing if event.kind == "check"] == []
    assert hands.after(Step("refer", "refer", 0.0, 0.0, "")) == knowledge.catalogue.costs.refer


def test_what_the_right_version_does_not_know_tells_it_nothing(tmp_path: Path) -> None:
    text = small.FILES[CHECKS]
    gap = text[text.index("  stop_gap:") :]
    more = gap.replace("stop_gap", "stop_mark").replace("Gap at the wide-open stop", "Mark at the stop")
    old = of(tmp_path / "old")
    link = (LINKAGE, "stop_gap: {none: usually}", "stop_gap: {none: usually}\n      stop_mark: {none: usually}")
    new = of(tmp_path / "new", (CHECKS, gap, gap + more), link)
    hands = _Hands(old, {}, 0, Memo())
    hands.job.record("floats_high", "present")
    assert hands.after(Step("check", "stop_mark", 2.0, 0.0, "")) == 2.0 + hands.first().expected_minutes
    hands.take(Step("check", "stop_mark", 2.0, 0.0, ""), "none")
    assert len(hands.job.standing) == 2
    pair = effect(old, new, [{}], 1, deepen=0)
    assert [each.right for each in pair] == [OLD, NEW]


def test_steps_that_are_asked_for_are_followed_as_the_best_are() -> None:
    """A price that is not followed is too high: laid beside one that is, it once cost a job ten minutes and more."""
    job = Job(load_knowledge())
    job.record("hunts_no_load", "present")
    alone = {each.id: each.expected_minutes for each in job.next_steps(1000, 1)}
    shown = {each.id: each.expected_minutes for each in job.next_steps(1000, 1, tuple(sorted(alone)))}
    assert shown.keys() >= alone.keys()
    assert sum(shown[name] < alone[name] - 1.0 for name in alone) >= 3


def test_no_step_of_the_other_version_gains_anything_by_the_reckoning_of_the_right_one(tmp_path: Path) -> None:
    old, new = of(tmp_path / "old"), of(tmp_path / "new", WEAK)
    found = effect(old, new, [{}] * 12, 12, seed=2, deepen=2)
    assert any(job.parted for job in found)
    assert all(job.gap <= 1e-9 for job in found if job.right == NEW)
    assert all(job.gap >= -1e-9 for job in found if job.right == OLD)


def test_only_what_shows_otherwise_keeps_two_versions_apart(tmp_path: Path) -> None:
    """usually, 0.75, against very seldom, 0.05, less what the leak shows anyhow; how common it is shows nothing."""
    old = of(tmp_path / "old")
    weak = drifts(old, of(tmp_path / "weak", WEAK))
    assert weak == {"rod_long": pytest.approx(0.66, abs=0.01)}
    assert set(drifts(old, of(tmp_path / "common", COMMON)).values()) == {0.0}


def test_of_several_expected_causes_the_least_probable_is_what_a_case_is_judged_by() -> None:
    """Their sum once stood in a review as 166 %."""
    knowledge = load_knowledge()
    case = next(each for each in knowledge.cases.values() if len(each.leading) > 1)
    judged = judge(knowledge, case, plan=False)
    chances = dict(judged.ranking)
    assert judged.truth == min(chances[cause] for cause in case.leading) <= 1.0
