"""The next step: close to the optimum on small problems, bound by the order rules, far fewer minutes than the order."""

from __future__ import annotations

import dataclasses
import statistics
from collections.abc import Sequence

import pytest
from hard_problems import KINDS, PIECES, excess_line, followed_job, made_up

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.planning.planner import Look, Mend, Planner, PlanningProblem
from hertzwright.engine.rehearsal.many_jobs import ends, rehearse

from optimum import START, Followed, Optimum, random_problem

pytestmark = pytest.mark.whole_ways

MOVES = {("stopped", "running"): 4.0, ("running", "stopped"): 2.0}


def problem(**changes: object) -> PlanningProblem:
    """Two causes; a look that tells them apart; a cheap and a dear remedy."""

    def likelihood(check: str, present: frozenset[str]) -> Sequence[float]:
        shown = {"feel": "binds", "trial": "lean"}[check] in present
        return (0.1, 0.9) if shown else (0.95, 0.05)

    given = PlanningProblem(
        looks=(Look("feel", 3.0, "stopped"), Look("trial", 4.0, "running")),
        mends=(Mend("free", 25.0, "stopped", {"binds": 0.9}), Mend("set", 8.0, "running", {"lean": 0.9})),
        moves=MOVES,
        proof_minutes=6.0,
        proof_state="running",
        refer=240.0,
        likelihood=likelihood,
        look_first={},
        cure_first={},
    )
    return dataclasses.replace(given, **changes)  # type: ignore[arg-type]


EVEN = ((frozenset({"binds"}), 0.5), (frozenset({"lean"}), 0.5))


def first(
    given: PlanningProblem, sets: Sequence[tuple[frozenset[str], float]], here: str = "stopped", **options: object
) -> str:
    return Planner(given).choose(sets, here, options.pop("made", frozenset()), **options)[0].id  # type: ignore[arg-type]


def test_a_known_cause_is_remedied_at_once() -> None:
    assert first(problem(), ((frozenset({"binds"}), 1.0),)) == "free"


def test_a_cheap_look_comes_before_a_dear_remedy() -> None:
    assert first(problem(), EVEN) == "feel"


def test_where_nothing_is_wrong_the_proof_run_closes_the_job() -> None:
    assert first(problem(), ((frozenset(), 0.98), (frozenset({"lean"}), 0.02))) == "done"


def test_the_set_up_state_decides_between_equal_looks() -> None:
    alike = problem(
        looks=(Look("feel", 3.0, "stopped"), Look("trial", 3.0, "running")),
        mends=(Mend("free", 25.0, "stopped", {"binds": 0.9}), Mend("set", 25.0, "stopped", {"lean": 0.9})),
        moves={("stopped", "running"): 20.0, ("running", "stopped"): 20.0},
    )
    assert first(alike, EVEN, "stopped") == "feel"
    assert first(alike, EVEN, "running") == "trial"


def test_a_hopeless_set_is_handed_over() -> None:
    assert first(problem(mends=(), looks=()), EVEN) == "refer"
    assert first(problem(refer=5.0), EVEN) == "refer"


def test_no_sets_at_all_means_handing_over() -> None:
    assert [step.kind for step in Planner(problem()).choose((), "stopped", frozenset())] == ["refer"]


def test_a_look_that_a_rule_wants_first_blocks_the_remedy() -> None:
    ruled = problem(look_first={"free": ("feel",)})
    certain = ((frozenset({"binds"}), 1.0),)
    ids = [step.id for step in Planner(ruled).choose(certain, "stopped", frozenset())]
    assert "free" not in ids
    assert first(ruled, certain, made=frozenset({"feel"})) == "free"


def test_a_remedy_that_a_rule_wants_first_blocks_the_other_while_its_cause_is_suspected() -> None:
    ruled = problem(cure_first={"set": ("free",)})
    for sets, blocked in ((EVEN, True), (((frozenset({"binds"}), 0.02), (frozenset({"lean"}), 0.98)), False)):
        ids = [step.id for step in Planner(ruled).choose(sets, "running", frozenset(), limit=9)]
        assert ("set" not in ids) is blocked


def test_a_remedy_is_not_proposed_more_often_than_it_may_be_tried() -> None:
    ids = [step.id for step in Planner(problem()).choose(EVEN, "running", frozenset(), {"set": 2}, limit=9)]
    assert "set" not in ids
    assert "free" in ids


def test_a_rule_is_kept_by_a_look_that_was_answered_once_even_if_a_remedy_has_touched_it_since() -> None:
    ruled = problem(look_first={"free": ("feel",)})
    certain = ((frozenset({"binds"}), 1.0),)
    assert first(ruled, certain, answered=frozenset({"feel"})) == "free"


def test_coming_back_has_a_price_of_its_own() -> None:
    """One fault, a remedy that works nine times in ten: a tenth of the runs has the fault left, half of them pass."""
    certain = ((frozenset({"lean"}), 1.0),)
    honest, dear = (
        Planner(problem(luck=0.5, come_back=minutes)).choose(certain, "running", frozenset(), {"set": 1})[0]
        for minutes in (None, 440.0)
    )
    assert honest.id == dear.id == "set"
    assert dear.expected - honest.expected == pytest.approx(0.1 * 0.5 * (440.0 - 240.0))


def test_handing_over_is_not_proposed_before_what_looks_together_can_show_was_followed() -> None:
    """Three looks of two minutes each show one of eight faults; alone none of them saves its own minutes."""
    names = [f"fault{place}" for place in range(8)]

    def likelihood(check: str, present: frozenset[str]) -> Sequence[float]:
        bit = int(check[-1])
        return (0.0, 1.0) if any(int(name[-1]) >> bit & 1 for name in present) else (1.0, 0.0)

    given = problem(
        looks=tuple(Look(f"look{bit}", 2.0, "running") for bit in range(3)),
        mends=tuple(Mend(f"mend {name}", 60.0, "running", {name: 1.0}) for name in names),
        likelihood=likelihood,
        refer=100.0,
    )
    even = tuple((frozenset({name}), 1 / 8) for name in names)
    for deepen in (0, 4):
        step = Planner(given).choose(even, "running", frozenset(), deepen=deepen)[0]
        assert (step.kind, step.expected) == ("check", pytest.approx(3 * 2.0 + 60.0 + 6.0))


def test_a_remedy_proven_useless_waits_until_something_new_speaks_for_it() -> None:
    knowledge = load_knowledge()
    job = Job(knowledge, {"booster": "none"})
    for name, answer in (
        ("floats_high_no_load", "present"),
        ("linkage_feel", "free"),
        ("arm_clamp", knowledge.checks["arm_clamp"].normal),
        ("throttle_reaches_full", knowledge.checks["throttle_reaches_full"].normal),
        ("frequency_no_load", "64.1 Hz"),
        ("wide_open_stop_gap", "none"),
    ):
        job.record(name, answer)
    assert job.next_steps(1, 0)[0].id == "set_rod_length"
    job.carry_out("set_rod_length", "not cured")
    assert "set_rod_length" not in [step.id for step in job.next_steps(99, 0)]
    before = job.posterior()["throttle_rod_long"]
    job.record("wide_open_stop_gap", "none")  # the gap is looked at again: still none
    assert job.posterior()["throttle_rod_long"] > 2.0 * before
    assert "set_rod_length" in [step.id for step in job.next_steps(99, 0)]


def test_an_answered_look_is_not_proposed_again() -> None:
    ids = [step.id for step in Planner(problem()).choose(EVEN, "stopped", frozenset({"feel"}), limit=9)]
    assert "feel" not in ids


@pytest.mark.parametrize("seeds", [range(4), pytest.param(range(4, 12), marks=pytest.mark.nightly)], ids=str)
def test_the_choice_does_not_depend_on_the_order_or_scale_of_the_sets(seeds: range) -> None:
    for seed in seeds:
        given, sets = random_problem(seed, faults=2)
        straight = Planner(given).choose(sets, START, frozenset(), deepen=4)
        turned = Planner(given).choose([(s, 7.0 * w) for s, w in reversed(sets)], START, frozenset(), deepen=4)
        assert [step.id for step in straight] == [step.id for step in turned]
        assert [step.expected for step in straight] == pytest.approx([step.expected for step in turned], rel=1e-9)


@pytest.mark.parametrize("seeds", [range(10), pytest.param(range(10, 25), marks=pytest.mark.nightly)], ids=str)
def test_the_price_of_the_rest_can_be_followed_and_so_is_never_below_the_optimum(seeds: range) -> None:
    for seed in seeds:
        given, sets = random_problem(seed, faults=1)
        best = Optimum(given).value(sets, START)
        for deepen in (0, 4):
            assert Planner(given).choose(sets, START, frozenset(), deepen=deepen)[0].expected >= best - 1e-6


@pytest.mark.parametrize("seeds", [range(2), pytest.param(range(2, 8), marks=pytest.mark.nightly)], ids=str)
def test_the_price_of_the_rest_keeps_the_order_rules(seeds: range) -> None:
    knowledge = load_knowledge()
    for seed in seeds:
        made = made_up("order rules", seed, knowledge)
        best = Optimum(made.problem).value(made.sets, made.job.here)
        for deepen in (0, 4):
            found = Planner(made.problem).choose(made.sets, made.job.here, frozenset(), deepen=deepen)
            # Fault sets of next to no weight are dropped where a way is followed.
            assert found[0].expected >= 0.998 * best, (seed, deepen)


def table(rows: dict[str, list[float]]) -> str:
    lines = [f"{'excess over the optimum':<28}{'problems':>9}{'mean':>8}{'95th':>8}{'most':>8}"]
    for name, excess in rows.items():
        ordered = sorted(excess)
        lines.append(
            f"{name:<28}{len(ordered):>9}{statistics.mean(ordered):>8.2%}"
            f"{ordered[int(0.95 * len(ordered))]:>8.2%}{ordered[-1]:>8.2%}"
        )
    return "\n".join(lines)


@pytest.mark.parametrize(("ones", "twos"), [(5, 1), pytest.param(140, 70, marks=pytest.mark.nightly)])
def test_expected_minutes_are_close_to_the_optimum(capsys: pytest.CaptureFixture[str], ones: int, twos: int) -> None:
    """Optimum by dynamic programming; random problems with set-up costs and remedies that may fail."""
    rows: dict[str, list[float]] = {}
    sizes = (("one fault", 1, ones, (2, 4), (2, 3)), ("two faults", 2, twos, (2, 3), (1, 3)))
    for name, faults, count, causes, looks in sizes:
        for seed in range(count):
            given, sets = random_problem(seed, faults=faults, causes=causes, looks=looks)
            best = Optimum(given).value(sets, START)
            for step, deepen in (("one step", 0), ("two steps", 4)):
                followed = Followed(given, deepen=deepen).value(sets, START)
                assert followed >= best - 1e-6  # or the optimum is none
                rows.setdefault(f"{name}, {step}", []).append(followed / best - 1.0)
    with capsys.disabled():
        print("\n" + table(rows))
    for name in ("one fault, two steps", "two faults, two steps"):
        excess = sorted(rows[name])
        assert statistics.mean(excess) <= 0.01, name
        assert excess[int(0.95 * len(excess))] <= 0.04, name


# Problems on which looking two steps ahead loses 10.1, 3.5 and 6.6 percent.
HARD = (("set-up states", 1000), ("nothing may be wrong", 1003), ("order rules", 1001))


@pytest.mark.parametrize(
    ("kind", "seed"), [*HARD[1:2], *(pytest.param(*each, marks=pytest.mark.nightly) for each in (HARD[0], *HARD[2:]))]
)
def test_where_two_steps_lose_following_the_rule_does_not(kind: str, seed: int) -> None:
    made = made_up(kind, seed, load_knowledge())
    best = Optimum(made.problem).value(made.sets, made.job.here)
    followed = Followed(made.problem, deepen=4).value(made.sets, made.job.here)
    assert best - 1e-6 <= followed <= 1.01 * best


@pytest.mark.nightly
def test_jobs_are_close_to_the_optimum_on_hard_problems_of_every_kind(capsys: pytest.CaptureFixture[str]) -> None:
    """Optimum by dynamic programming; what `Job.next_steps` proposes, to the end. Seeds that no tuning saw."""
    knowledge = load_knowledge()
    rows = {kind: [followed_job(kind, seed, knowledge) for seed in range(10)] for kind in (*KINDS, *PIECES)}
    everything = sorted(excess for found in rows.values() for excess in found)
    with capsys.disabled():
        print("\n" + "\n".join(excess_line(name, found) for name, found in (*rows.items(), ("all", everything))))
    assert statistics.mean(everything) <= 0.01
    assert everything[int(0.95 * len(everything))] <= 0.04


@pytest.mark.parametrize(("count", "most"), [(7, 0.75), pytest.param(60, 0.6, marks=pytest.mark.nightly)])
def test_simulated_jobs_take_far_fewer_minutes_than_the_published_order(
    capsys: pytest.CaptureFixture[str], count: int, most: float
) -> None:
    """The quick (one-step) suggestion on sets drawn from the shipped knowledge; `benchmarks.jobs` does 500, deepened."""
    pairs = rehearse(load_knowledge(), count, seed=20261125)
    suggested, in_order = [pair.suggested for pair in pairs], [pair.published for pair in pairs if pair.published]
    mine, theirs = (statistics.mean(each.minutes for each in played) for played in (suggested, in_order))
    with capsys.disabled():
        print(
            f"\n{len(pairs)} jobs: suggestions {mine:.0f} min, published order {theirs:.0f} min, ratio {mine / theirs:.2f}"
        )
    # Of few jobs one more or less is chance.
    assert ends(suggested)["fixed"] + max(1, count // 10) >= ends(in_order)["fixed"]
    # Half was the aim. Measured: 0.55 on seven, which scatter more; on sixty 0.53 with the quick suggestion, 0.56 deepened.
    assert mine <= most * theirs
