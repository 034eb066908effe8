"""The knowledge as outside programs see it: likelihoods are probabilities and obey the noisy-MAX law, features prune."""

from __future__ import annotations

from functools import cache
from itertools import combinations
from math import prod
from pathlib import Path

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hertzwright.engine import KnowledgeError, load_knowledge
from hertzwright.engine.compiler.graph import PROOF_RUN

from small_knowledge import FILES, write

KNOWLEDGE = load_knowledge()
PRESENT = st.frozensets(st.sampled_from(sorted(KNOWLEDGE.causes)), max_size=6)


@given(st.sampled_from(sorted(KNOWLEDGE.checks)), PRESENT)
def test_outcomes_of_a_check_sum_to_one(check: str, present: frozenset[str]) -> None:
    outcomes = [outcome.id for outcome in KNOWLEDGE.checks[check].outcomes]
    chances = [KNOWLEDGE.likelihood(check, outcome, present) for outcome in outcomes]
    assert all(chance >= 0.0 for chance in chances)
    assert sum(chances) == pytest.approx(1.0, abs=1e-12)
    assert tuple(chances) == pytest.approx(KNOWLEDGE.distribution(check, present))


@given(st.sampled_from(sorted(KNOWLEDGE.checks)), PRESENT)
def test_at_most_this_outcome_is_a_product_over_causes_and_leak(check_id: str, present: frozenset[str]) -> None:
    check = KNOWLEDGE.checks[check_id]
    seen = 0.0
    for place, outcome in enumerate(check.outcomes):
        seen += KNOWLEDGE.likelihood(check_id, outcome.id, present)
        product = sum(check.leak[: place + 1]) * prod(
            sum(KNOWLEDGE.causes[cause].shows[check_id][: place + 1])
            for cause in present
            if check_id in KNOWLEDGE.causes[cause].shows
        )
        assert seen == pytest.approx(product, abs=1e-12)


@given(st.sampled_from(sorted(KNOWLEDGE.checks)), PRESENT, st.sampled_from(sorted(KNOWLEDGE.causes)))
def test_one_more_cause_never_makes_the_normal_outcome_more_probable(
    check: str, present: frozenset[str], another: str
) -> None:
    normal = KNOWLEDGE.checks[check].normal
    assert (
        KNOWLEDGE.likelihood(check, normal, present | {another}) <= KNOWLEDGE.likelihood(check, normal, present) + 1e-12
    )


def test_unknown_ids_are_errors_of_the_caller() -> None:
    with pytest.raises(KeyError):
        KNOWLEDGE.likelihood("no_such_check", "right", frozenset())
    with pytest.raises(ValueError, match="no_such_outcome"):
        KNOWLEDGE.likelihood("linkage_feel", "no_such_outcome", frozenset())
    with pytest.raises(KeyError):
        KNOWLEDGE.likelihood("linkage_feel", "free", frozenset({"no_such_cause"}))
    with pytest.raises(KeyError):
        KNOWLEDGE.prior("no_such_cause")


def test_features_prune_causes_and_checks() -> None:
    without = KNOWLEDGE.features({"booster": "none"})
    for cause in KNOWLEDGE.causes.values():
        if cause.area == "booster":
            assert KNOWLEDGE.prior(cause.id, {"booster": "none"}) == 0.0
            assert KNOWLEDGE.prior(cause.id, {"booster": "vacuum"}) > 0.0
    assert not KNOWLEDGE.applies("booster_passage", without)
    assert KNOWLEDGE.applies("linkage_feel", without)
    assert not KNOWLEDGE.applies("fuel_sample", KNOWLEDGE.features({"fuel": "lp_gas"}))
    assert not KNOWLEDGE.applies("cylinder_drop_trial", KNOWLEDGE.features({"cylinders": 1}))
    assert not KNOWLEDGE.applies("main_needle_trial", KNOWLEDGE.features({"main_jet": "fixed"}))


CHOICES = {
    feature.id: st.sampled_from(feature.choices) for feature in KNOWLEDGE.catalogue.features.values() if feature.choices
}


@given(st.fixed_dictionaries({}, optional=CHOICES))
def test_priors_of_a_part_never_exceed_one_on_any_set(features: dict[str, str]) -> None:
    parts: dict[str, float] = {}
    for cause in KNOWLEDGE.causes.values():
        parts[cause.part] = parts.get(cause.part, 0.0) + KNOWLEDGE.prior(cause.id, features)
    assert max(parts.values()) < 0.5
    assert min(parts.values()) >= 0.0


def test_every_cause_of_a_set_can_be_met_by_a_remedy_and_seen_by_a_check() -> None:
    for cause in KNOWLEDGE.causes.values():
        assert cause.remedies, cause.id
        assert cause.shows, cause.id
        for check in cause.shows:
            assert cause.id in KNOWLEDGE.checks[check].parents


def test_no_two_causes_look_the_same_in_every_check() -> None:
    @cache
    def shown(check: str, cause: str) -> tuple[float, ...]:
        return tuple(
            KNOWLEDGE.likelihood(check, outcome.id, frozenset({cause})) for outcome in KNOWLEDGE.checks[check].outcomes
        )

    for one, other in combinations(KNOWLEDGE.causes.values(), 2):
        gap = max(
            abs(a - b)
            for check in {*one.shows, *other.shows}
            for a, b in zip(shown(check, one.id), shown(check, other.id), strict=True)
        )
        assert gap >= 0.25, f"{one.id} and {other.id}: no check differs by more than {gap:.2f}"


def test_the_tables_come_from_the_graph_and_say_the_same_as_the_files() -> None:
    network, graph = KNOWLEDGE.network, KNOWLEDGE.graph
    for cause in KNOWLEDGE.causes.values():
        for check, strengths in cause.shows.items():
            assert graph.edges[cause.id, check]["strengths"] == strengths
            assert network.shows[check][cause.id] == strengths
        assert cause.id in network.parts[cause.part]
    for check in KNOWLEDGE.checks.values():
        assert network.leak[check.id] == check.leak
        assert set(network.shows[check.id]) == set(check.parents)
    for remedy in KNOWLEDGE.remedies.values():
        assert network.cures[remedy.id] == dict(remedy.cures)
    assert set(network.shows[PROOF_RUN]) == set(KNOWLEDGE.causes)


def test_the_graph_is_typed_and_its_order_rules_have_no_circle() -> None:
    graph = KNOWLEDGE.graph
    kinds = {"area", "part", "cause", "check", "complaint", "remedy", "caution", "state", "setting"}
    assert {data["kind"] for _, data in graph.nodes(data=True)} <= kinds
    before = [(one, other) for one, other, data in graph.edges(data=True) if data["kind"] == "before"]
    assert before
    assert nx.is_directed_acyclic_graph(nx.DiGraph(before))


def test_the_same_files_give_the_same_fingerprint_and_a_change_another(tmp_path: Path) -> None:
    first = load_knowledge(write(tmp_path / "first"))
    again = load_knowledge.__wrapped__(write(tmp_path / "again"))  # type: ignore[attr-defined]
    assert again is not first
    assert first.fingerprint == again.fingerprint
    changed = FILES["areas/linkage.yaml"].replace("frequency: {high: usually}", "frequency: {high: sometimes}", 1)
    assert changed != FILES["areas/linkage.yaml"]
    other = load_knowledge(write(tmp_path / "other", {"areas/linkage.yaml": changed}))
    assert other.fingerprint != first.fingerprint


def test_wrong_knowledge_is_refused_with_all_its_problems(tmp_path: Path) -> None:
    wrong = FILES["areas/linkage.yaml"].replace("stop_gap: {none: usually}", "stop_gap: {nun: usually}")
    wrong = wrong.replace("cures: {speed_high: usually}", "cures: {sped_high: usually}")
    with pytest.raises(KnowledgeError) as refused:
        load_knowledge(write(tmp_path, {"areas/linkage.yaml": wrong}))
    assert len(refused.value.problems) >= 2


@settings(max_examples=20)
@given(st.sampled_from(sorted(KNOWLEDGE.causes)))
def test_no_outcome_is_certain_or_ruled_out_by_one_cause_that_bears_on_it(cause_id: str) -> None:
    for check_id in KNOWLEDGE.causes[cause_id].shows:
        chances = KNOWLEDGE.distribution(check_id, frozenset({cause_id}))
        assert max(chances) < 1.0
        assert min(chances) > 0.0
