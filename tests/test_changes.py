"""What changed in meaning: every kind of edit is seen, with its direction; a change of words only is not."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import hertzwright.knowledge
from hertzwright.engine import load_knowledge
from hertzwright.engine.belief import look_alikes
from hertzwright.engine.compiler.knowledge import Knowledge
from hertzwright.engine.compiler.model import Comparison, Condition
from hertzwright.engine.rehearsal.interval import LEAST, _hall, interval, skew_interval, student
from hertzwright.engine.review.changes import KINDS, Change, changes
from hertzwright.engine.review.contrast import causes_borne_on, discriminating_powers, divergence, indistinct
from hertzwright.engine.review.meaning import (
    ADDED,
    CHANGED,
    DIRECTIONS,
    REMOVED,
    RETIRED,
    condition,
    meaning,
    strength,
)
from hertzwright.engine.review.wording import reworded
from hertzwright.engine.simulated import Draws

import small_knowledge as small

SHIPPED = load_knowledge()
SHIPPED_FOLDER = Path(next(iter(hertzwright.knowledge.__path__)))


def of(folder: Path, edits: dict[str, str | bytes | None] | None = None) -> Knowledge:
    return load_knowledge(small.write(folder, edits))


def edited(tmp_path: Path, file: str, good: str, bad: str) -> tuple[Change, ...]:
    text = small.FILES[file]
    assert text.count(good) == 1, f"{good!r} stands {text.count(good)} times in {file}"
    old, new = of(tmp_path / "old"), of(tmp_path / "new", {file: text.replace(good, bad)})
    return changes(old, new)


def test_the_shipped_knowledge_does_not_differ_from_itself() -> None:
    again = load_knowledge.__wrapped__(SHIPPED_FOLDER)  # type: ignore[attr-defined]  # another reading of the same files, not the shared one
    assert again is not SHIPPED
    assert changes(SHIPPED, again) == ()
    assert reworded(SHIPPED, again) == ()


LINKAGE, CHECKS = "areas/linkage.yaml", "checks/linkage.yaml"
EDITS = [
    (LINKAGE, "stop_gap: {wide: usually}", "stop_gap: {wide: sometimes}",
     Change("cause", "rod_short", "stop_gap: wide", "usually (0.75)", "sometimes (0.25)", "weakened")),
    (LINKAGE, "frequency: {low: sometimes, high: very_seldom}", "frequency: {low: usually, high: very_seldom}",
     Change("cause", "rod_short", "frequency: low", "sometimes (0.25)", "usually (0.75)", "strengthened")),
    (LINKAGE, "frequency: {low: sometimes, high: very_seldom}", "frequency: {low: sometimes}",
     Change("cause", "rod_short", "frequency: high", "very seldom (0.05)", "", REMOVED)),
    (LINKAGE, "stop_gap: {wide: usually}", "stop_gap: {wide: usually, none: very_seldom}",
     Change("cause", "rod_short", "stop_gap: none", "", "very seldom (0.05)", ADDED)),
    (LINKAGE, "how_common: almost_never}", "how_common: very_seldom}",
     Change("cause", "rod_long", "how common where cylinders at least 2", "almost never (0.03)", "very seldom (0.05)",
            "commoner")),
    (LINKAGE, 'how_common: very_seldom\n    only_if', 'how_common: "0.012"\n    only_if',
     Change("cause", "speed_high", "how common", "very seldom (0.05)", "0.012", "rarer")),
    (LINKAGE, "only_if: {booster: vacuum}", "only_if: {booster: none}",
     Change("cause", "speed_high", "exists", "booster vacuum", "booster none", CHANGED)),
    (LINKAGE, "cures: {speed_high: usually}", "cures: {speed_high: sometimes}",
     Change("remedy", "set_speed", "cures speed_high", "usually (0.75)", "sometimes (0.25)", "weakened")),
    (LINKAGE, 'minutes: "10"', 'minutes: "12"',
     Change("remedy", "set_rod", "minutes", "10 min", "12 min", "longer")),
    (LINKAGE, "cautions: [hot_parts]", "cautions: [hot_parts, rotating_parts]",
     Change("remedy", "set_speed", "cautions", "hot_parts", "hot_parts, rotating_parts", CHANGED)),
    (CHECKS, "leak: {none: almost_never, wide: almost_never}", "leak: {none: very_seldom, wide: almost_never}",
     Change("check", "stop_gap", "without any known cause: none", "almost never (0.03)", "very seldom (0.05)",
            "commoner")),
    (CHECKS, 'minutes: "2"', 'minutes: "1"', Change("check", "stop_gap", "minutes", "2 min", "1 min", "shorter")),
    (CHECKS, '{outcome: low, below: "60.5"}\n        - {outcome: right, from: "60.5"',
     '{outcome: low, below: "60"}\n        - {outcome: right, from: "60"',
     Change("check", "frequency", "band low", "below 60.5 Hz", "below 60 Hz", CHANGED)),
    ("order.yaml", "kind: cure_first", "kind: do_again",
     Change("order rule", "rod_before_speed", "kind", "cure_first", "do_again", CHANGED)),
    ("complaints.yaml", 'true_when_said: "0.9"', 'true_when_said: "0.8"',
     Change("complaint", "floats_high", "said where it is so", "0.9", "0.8", "weakened")),
    ("complaints.yaml", "frequency: [high]", "frequency: [high, low]",
     Change("complaint", "floats_high", "says of frequency", "high", "high, low", CHANGED)),
    ("states.yaml", 'stopped: {warm: "4"}', 'stopped: {warm: "5"}',
     Change("costs", "minutes and proof", "from stopped to warm", "4 min", "5 min", "longer")),
    ("states.yaml", 'minutes: "240"', 'minutes: "120"',
     Change("costs", "minutes and proof", "handing over", "240 min", "120 min", "shorter")),
    ("states.yaml", 'minutes: "360"', 'minutes: "420"',
     Change("costs", "minutes and proof", "coming back", "360 min", "420 min", "longer")),
    ("tolerances.yaml", 'spread_hz_max: "3"', 'spread_hz_max: "2.5"',
     Change("tolerance", "default", "limit spread_hz_max", "3", "2.5", "lower")),
    ("features.yaml", "default: vacuum", "default: none",
     Change("feature", "booster", "default", "vacuum", "none", CHANGED)),
    ("drawings.yaml", "of: [frequency]", "of: []",
     Change("drawing", "meter", "shown with", "frequency", "none", CHANGED)),
    ("cases/linkage.yaml", 'at_least: "0.5"', 'at_least: "0.3"',
     Change("case", "rod_after_overhaul", "with at least", "0.5", "0.3", "looser")),
]  # fmt: skip


@pytest.mark.parametrize(("file", "good", "bad", "expected"), EDITS, ids=lambda value: str(value)[:30])
def test_every_kind_of_edit_is_seen_with_its_direction(
    file: str, good: str, bad: str, expected: Change, tmp_path: Path
) -> None:
    found = edited(tmp_path, file, good, bad)
    assert expected in found
    # A band moves its neighbour's edge, too; everything else is one change.
    assert len(found) == (2 if expected.what.startswith("band") else 1)


def test_a_word_that_changes_is_told_once_with_its_uses(tmp_path: Path) -> None:
    text = small.FILES["words.yaml"].replace('value: "0.75"', 'value: "0.8"')
    found = changes(of(tmp_path / "old"), of(tmp_path / "new", {"words.yaml": text}))
    assert [(each.kind, each.id, each.direction) for each in found] == [("word", "usually", "higher")]
    uses = small.FILES[LINKAGE].count("usually") + small.FILES["states.yaml"].count("usually")
    assert found[0].after == f"0.8, in {uses} figures"


def test_an_entry_that_comes_or_goes_is_one_change(tmp_path: Path) -> None:
    text = small.FILES[LINKAGE]
    start, end = text.index("  rod_short:"), text.index("  speed_high:")
    cut = (
        (text[:start] + text[end:])
        .replace("rod_short: usually", "")
        .replace("rod_long: usually, }", "rod_long: usually}")
    )
    old, new = of(tmp_path / "old"), of(tmp_path / "new", {LINKAGE: cut})
    gone = changes(old, new)
    told = Change("cause", "rod_short", "", "Rod too short; very seldom (0.05), 3 links", "", REMOVED)
    assert told in gone
    assert Change("remedy", "set_rod", "cures rod_short", "usually (0.75)", "", REMOVED) in gone
    assert len(gone) == 2
    assert Change("cause", "rod_short", "", "", told.before, ADDED) in changes(new, old)


def test_retiring_is_told_with_the_replacement(tmp_path: Path) -> None:
    bad = """    sources: [from memory]
    retired:
      since: "2026-01-02"
      reason: Told by the gap.
      replaced_by: rod_long
"""
    text = small.FILES[LINKAGE]
    cut = text.replace("    sources: [from memory]\n", bad)
    old = of(tmp_path / "old")
    cut = cut.replace("cures: {rod_long: usually, rod_short: usually}", "cures: {rod_long: usually}")
    new = of(tmp_path / "new", {LINKAGE: cut})
    assert Change("cause", "rod_short", "", "", "use rod_long", RETIRED) in changes(old, new)


def test_comments_order_and_line_breaks_are_no_change(tmp_path: Path) -> None:
    linkage = small.FILES[LINKAGE]
    rod, speed = linkage.index("  rod_long:"), linkage.index("  speed_high:")
    end = linkage.index("remedies:")
    moved = "# a remark\n" + linkage[:rod] + linkage[speed:end] + linkage[rod:speed] + linkage[end:]
    moved = moved.replace(
        "    brief: The throttle cannot close.\n", "    brief: >-\n      The throttle\n      cannot close.\n"
    )
    assert moved != linkage
    old, new = of(tmp_path / "old"), of(tmp_path / "new", {LINKAGE: moved})
    assert changes(old, new) == ()
    assert reworded(old, new) == ()


def test_another_wording_is_named_but_is_no_change(tmp_path: Path) -> None:
    text = small.FILES[LINKAGE].replace("Turn the rod end.", "Turn the rod end by half turns.")
    old, new = of(tmp_path / "old"), of(tmp_path / "new", {LINKAGE: text})
    assert changes(old, new) == ()
    assert reworded(old, new) == (("remedy", "set_rod"),)


LINKS = [
    (cause.id, check, at)
    for cause in SHIPPED.causes.values()
    if cause.retired is None
    for check, row in cause.shows.items()
    for at in range(1, len(row))
    if row[at] > 0.0
]


@settings(max_examples=25)
@given(st.sampled_from(LINKS), st.floats(0.0, 1.0))
def test_a_moved_strength_is_one_change_in_the_right_direction(link: tuple[str, str, int], share: float) -> None:
    name, check, at = link
    cause = SHIPPED.causes[name]
    row = list(cause.shows[check])
    before = row[at]
    row[at] = share * (row[0] + row[at])
    row[0] = row[0] + before - row[at]
    shows = {**cause.shows, check: tuple(row)}
    words = {**cause.words, check: {}}
    changed = replace(cause, shows=MappingProxyType(shows), words=MappingProxyType(words))
    causes = MappingProxyType({**SHIPPED.causes, name: changed})
    found = changes(SHIPPED, Knowledge(replace(SHIPPED.catalogue, causes=causes)))
    if row[at] == before:
        assert found == ()
        return
    direction = REMOVED if row[at] == 0.0 else "strengthened" if row[at] > before else "weakened"
    outcome = SHIPPED.checks[check].outcomes[at]
    assert [(each.kind, each.id, each.what, each.direction) for each in found] == [
        ("cause", name, f"{check}: {outcome}", direction)
    ]


def test_every_change_has_a_known_kind_and_direction(tmp_path: Path) -> None:
    found = changes(of(tmp_path / "small"), SHIPPED)
    assert {each.kind for each in found} <= set(KINDS)
    assert {each.direction for each in found} <= set(DIRECTIONS)
    there_and_back = {(each.kind, each.id, each.what) for each in changes(SHIPPED, of(tmp_path / "small"))}
    assert {(each.kind, each.id, each.what) for each in found} == there_and_back


def test_the_meaning_of_every_entry_is_told() -> None:
    told = meaning(SHIPPED)
    assert tuple(told) == KINDS
    assert set(told["cause"]) == set(SHIPPED.causes)
    assert told["cause"]["throttle_rod_long"]["wide_open_stop_gap: none"].number == pytest.approx(
        SHIPPED.causes["throttle_rod_long"].shows["wide_open_stop_gap"][
            SHIPPED.checks["wide_open_stop_gap"].index("none")
        ]
    )


def test_conditions_and_strengths_in_words() -> None:
    assert condition(Condition()) == "on any set"
    both = Condition((Comparison("fuel", ("lp_gas", "natural_gas")), Comparison("cylinders", (), 2.0, 5.0)))
    assert condition(both) == "cylinders at least 2 and below 5 and fuel lp_gas or natural_gas"
    assert strength(SHIPPED, 0.75).text == "usually (0.75)"
    assert strength(SHIPPED, 0.745).text == "0.745"


# ---- telling causes apart


def test_power_is_the_divergence_that_scipy_finds() -> None:
    from scipy import stats

    for one, two in (("throttle_rod_long", "speed_set_high"), ("idle_mixture_lean", "vacuum_leak")):
        for each in discriminating_powers(SHIPPED, one, two):
            here, there = (SHIPPED.distribution(each.check, frozenset({cause})) for cause in (one, two))
            assert each.toward_first == pytest.approx(float(stats.entropy(here, there)), abs=1e-12)
            assert each.toward_second == pytest.approx(float(stats.entropy(there, here)), abs=1e-12)


@given(st.lists(st.tuples(st.floats(0.001, 1.0), st.floats(0.001, 1.0)), min_size=2, max_size=5))
def test_divergence_against_scipy(rows: list[tuple[float, float]]) -> None:
    from scipy import stats

    one, two = ([row[side] / sum(each[side] for each in rows) for row in rows] for side in (0, 1))
    assert divergence(one, two) == pytest.approx(float(stats.entropy(one, two)), abs=1e-9)


def test_an_answer_that_settles_it_has_no_finite_power() -> None:
    assert divergence((0.5, 0.5), (1.0, 0.0)) == math.inf
    assert divergence((1.0, 0.0), (0.5, 0.5)) == pytest.approx(math.log(2.0))
    assert divergence((0.3, 0.7), (0.3, 0.7)) == 0.0


def test_what_tells_apart_does_so_both_ways_round() -> None:
    one = {each.check: each for each in discriminating_powers(SHIPPED, "throttle_rod_long", "speed_set_high")}
    two = {each.check: each for each in discriminating_powers(SHIPPED, "speed_set_high", "throttle_rod_long")}
    assert one.keys() == two.keys()
    for check, each in one.items():
        assert (each.toward_first, each.first) == (two[check].toward_second, two[check].second)
    assert not {each.check for each in indistinct(tuple(one.values()))} & {
        each.check for each in list(one.values())[:3]
    }


def test_a_look_alike_is_not_the_cause_itself() -> None:
    for name in SHIPPED.causes:
        found = [other for other, _ in look_alikes(SHIPPED, name)]
        assert name not in found
        assert len(found) == len(set(found)) <= 3


def test_two_checks_name_every_cause_of_either() -> None:
    found = causes_borne_on(SHIPPED, "frequency_no_load", "frequency_full_load")
    parents = {*SHIPPED.checks["frequency_no_load"].parents, *SHIPPED.checks["frequency_full_load"].parents}
    assert {row.cause for row in found} == parents
    assert all((row.first is None) == ("frequency_no_load" not in SHIPPED.causes[row.cause].shows) for row in found)


# ---- what it does to jobs


@given(st.lists(st.floats(-500.0, 500.0), min_size=LEAST, max_size=60))
def test_the_paired_interval_is_that_of_scipy(gaps: list[float]) -> None:
    from scipy import stats

    mean, low, high = interval(gaps)
    if max(gaps) - min(gaps) < 1e-3:
        return
    expected = stats.ttest_1samp(gaps, 0.0).confidence_interval(0.95)
    width = expected.high - expected.low
    assert low == pytest.approx(expected.low, abs=1e-3 * width)
    assert high == pytest.approx(expected.high, abs=1e-3 * width)
    assert mean == pytest.approx(sum(gaps) / len(gaps))


def test_halls_transformation_is_undone_as_the_cubic_of_his_paper_says() -> None:
    """Hall 1992: t + c t^2/3 + c^2 t^3/27 + c/6 of the error of the mean is Student's t at either bound; by numpy."""
    import numpy as np

    values = [0.0, 0.0, 1.0, 0.5, 0.0, 9.0, 0.0, 2.0]
    low, high = _hall(values, 0.95)
    many = np.array(values)
    spread, count = float(many.std()), len(values)
    skew = float(((many - many.mean()) ** 3).mean()) / spread**3 / math.sqrt(count)
    for bound, sign in ((low, 1.0), (high, -1.0)):
        t = (float(many.mean()) - bound) / (spread / math.sqrt(count - 1))
        cubic = t + skew * t**2 / 3.0 + skew**2 * t**3 / 27.0 + skew / 6.0
        assert cubic == pytest.approx(sign * student(0.975, count - 1))
    assert high - sum(values) / count > sum(values) / count - low


def test_a_skew_interval_holds_a_mean_of_few_and_large_ones_and_students_does_not() -> None:
    """Most nil, 15 of 100 log-normal, whose mean is exp(1/2). Of 400 right intervals fewer than 93 of 100 hold it once
    in twenty times (binomial distribution)."""
    held = dict.fromkeys((interval, skew_interval), 0)
    for sample in range(400):
        draws = Draws("skew", sample)
        values = [large if place < 0.15 else 0.0 for place, large in (_drawn(draws) for _ in range(50))]
        for by in held:
            _, low, high = by(values)
            held[by] += math.isnan(low) or low <= 0.15 * math.exp(0.5) <= high
    assert held[interval] < 0.85 * 400
    assert held[skew_interval] >= 0.93 * 400


def _drawn(draws: Draws) -> tuple[float, float]:
    return draws.uniform(), math.exp(draws.normal())


def test_few_that_are_not_nil_give_no_skew_interval() -> None:
    assert math.isnan(skew_interval([0.0] * 40 + [3.0, 5.0])[1])
    assert math.isnan(skew_interval([1.0, 2.0, 3.0, 4.0])[2])
    assert not math.isnan(skew_interval([0.0] * 40 + [3.0, 5.0, 1.0])[1])


def test_student_against_scipy() -> None:
    from scipy import stats

    for freedom in (4, 5, 9, 20, 99, 999):
        assert student(0.975, freedom) == pytest.approx(float(stats.t.ppf(0.975, freedom)), rel=1e-3)
