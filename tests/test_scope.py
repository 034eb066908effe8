"""The sets that an edit meets: drawn over all features, the same before and after, and none where there is none."""

from __future__ import annotations

from pathlib import Path

import pytest

from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.problems.problem import AnswerError
from hertzwright.engine.review.effect import NEW, difference, effect
from hertzwright.engine.review.scope import (
    MOST,
    _changed_entries,
    _made_up,
    _reasons_differ,
    asked_for,
    known_features,
    reasoning,
    reasons_differ,
    scope,
    sets,
)
from hertzwright.engine.simulated.draws import Draws
from hertzwright.engine.teaching import any_features

import small_knowledge as small

LINKAGE, CHECKS, FEATURES = "areas/linkage.yaml", "checks/linkage.yaml", "features.yaml"
SHIPPED = load_knowledge()


def of(folder: Path, *changes: tuple[str, str, str]) -> Knowledge:
    """The small knowledge with passages replaced."""
    texts: dict[str, str | None] = {**small.FILES, "units.yaml": None}  # the course has no part in the reasoning
    for file, old, new in changes:
        text = texts[file]
        assert text is not None
        assert old in text, old
        texts[file] = text.replace(old, new, 1)
    return load_knowledge(small.write(folder, texts))


NO_BOOSTER = (LINKAGE, "only_if: {booster: vacuum}", "only_if: {booster: none}")
COMMONER = (LINKAGE, "how_common: very_seldom\n    only_if", "how_common: sometimes\n    only_if")


def test_an_edit_of_other_sets_is_played_on_those_sets(tmp_path: Path) -> None:
    old, new = of(tmp_path / "old", NO_BOOSTER), of(tmp_path / "new", NO_BOOSTER, COMMONER)
    assert not reasons_differ(old, new, {})  # the usual set has a booster
    found = sets(old, new, 20, 1)
    assert len(found.met) == 20 < found.drawn
    assert {features["booster"] for features in found.met} == {"none"}
    assert all(reasons_differ(old, new, features) for features in found.met)
    assert sets(old, new, 20, 1) == found
    assert sets(old, new, 20, 2) != found
    jobs = effect(old, new, found.met[:6], 6, seed=1, deepen=0)
    assert [each.number for each in jobs] == [number for each in range(1, 7) for number in (each, each)]
    assert difference(jobs, NEW).sets == 6


def test_where_the_scope_is_equal_so_is_every_belief_and_suggestion(tmp_path: Path) -> None:
    """The law of the scope, held by the job itself: at a set that is not met nothing may differ."""
    old, new = of(tmp_path / "old", NO_BOOSTER), of(tmp_path / "new", NO_BOOSTER, COMMONER)
    beliefs = []
    for features in ({"booster": "vacuum"}, {"booster": "none"}):
        jobs = [Job(each, features) for each in (old, new)]
        for job in jobs:
            job.record("floats_high", "present")
        beliefs.append(jobs[0].posterior() == jobs[1].posterior())
        assert (scope(old, jobs[0].features) == scope(new, jobs[1].features)) is beliefs[-1]
    assert beliefs == [True, False]


def test_an_edit_that_no_set_can_meet_is_met_by_none(tmp_path: Path) -> None:
    gap = (CHECKS, "  stop_gap:\n", "  stop_gap:\n    only_if: {booster: none}\n")
    link = (LINKAGE, "shows:\n      frequency: {high: usually}\n    sources: [common", "shows:\n      frequency: "
            "{high: usually}\n      stop_gap: {none: %s}\n    sources: [common")  # fmt: skip
    other = (LINKAGE, "frequency: {high: usually}", "frequency: {high: '0.7'}")  # not the twin of speed_high
    old, new = (
        of(tmp_path / word, gap, other, (link[0], link[1], link[2] % word)) for word in ("sometimes", "usually")
    )
    assert reasoning(old) != reasoning(new)
    found = sets(old, new, 20, 1)
    assert (found.met, found.drawn) == ((), MOST)


def test_a_size_that_the_edit_asks_for_is_drawn(tmp_path: Path) -> None:
    """No made-up set has seven cylinders in the small knowledge: one is made where the edit asks for it."""
    seven = (LINKAGE, "only_if: {booster: vacuum}", "only_if: {cylinders: {at_least: '7'}}")
    old, new = of(tmp_path / "old", seven), of(tmp_path / "new", seven, COMMONER)
    assert [test.feature for each in asked_for(old, new) for test in each.tests] == ["cylinders"]
    assert {float(str(each["cylinders"])) >= 7.0 for each in sets(old, new, 20, 1).met} == {True}


def test_draws_go_over_all_features_that_have_choices() -> None:
    drawn = [each for seed in range(60) for each in _drawn(seed)]
    for name, feature in SHIPPED.catalogue.features.items():
        if feature.choices:
            assert {f"{v:g}" if isinstance(v, float) else v for v in (each[name] for each in drawn)} == set(
                feature.choices
            ), name


def _drawn(seed: int) -> list[dict[str, object]]:
    return [dict(_made_up(SHIPPED, Draws("made-up set", seed, 1), (), None, True))]


def test_limits_and_words_alone_bear_on_no_made_up_job(tmp_path: Path) -> None:
    old = of(tmp_path / "old")
    new = of(tmp_path / "new", (LINKAGE, "Turn the rod end.", "Turn it."), (LINKAGE, "cautions: [hot_parts]",
             "cautions: [rotating_parts]"))  # fmt: skip
    assert reasoning(old) == reasoning(new)


def test_a_set_that_one_version_cannot_be_is_not_met(tmp_path: Path) -> None:
    old = of(tmp_path / "old")
    new = of(tmp_path / "new", (FEATURES, "choices: [none, vacuum]", "choices: [none, vacuum, spring]"), COMMONER)
    assert reasons_differ(old, new, {"booster": "vacuum"})
    assert not reasons_differ(old, new, {"booster": "spring"})
    assert known_features(old, {"booster": "none", "colour": "red"}) == {"booster": "none"}
    assert {each["booster"] for each in sets(old, new, 10, 1, {"booster": "vacuum"}).met} == {"vacuum"}
    with pytest.raises(AnswerError, match="colour"):
        sets(old, new, 10, 1, {"colour": "red"})


@pytest.mark.parametrize(
    "edit",
    [
        NO_BOOSTER,
        COMMONER,
        (LINKAGE, "stop_gap: {none: usually}", "stop_gap: {none: sometimes}"),
        (LINKAGE, "cures: {speed_high: usually}", "cures: {speed_high: sometimes}"),
        (CHECKS, 'minutes: "2"', 'minutes: "7"'),
        ("complaints.yaml", 'said_when_not: "0.05"', 'said_when_not: "0.02"'),
        ("order.yaml", "kind: cure_first", "kind: do_again"),
        ("states.yaml", 'warm: {stopped: "2"}', 'warm: {stopped: "90"}'),
    ],
)
def test_the_changed_entries_tell_what_all_of_them_tell(edit: tuple[str, str, str], tmp_path: Path) -> None:
    old, new = of(tmp_path / "old"), of(tmp_path / "new", edit)
    only = _changed_entries(old, new)
    for number in range(60):
        features = any_features(new, Draws("scope", number))
        assert _reasons_differ(old, new, only, features) == reasons_differ(old, new, features)
