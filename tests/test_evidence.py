"""What was found turned into tables: the same draw, remedies that fail, complaints that stand in, soft answers."""

from __future__ import annotations

import pytest

from hertzwright.engine.belief import Complaining, Finding, evidence, tables
from hertzwright.engine.belief.elimination import solve
from hertzwright.engine.compiler.graph import PROOF_RUN, Network

from brute import enumerate_sets, marginals

LOW, HIGH = (1.0, 0.0), (0.0, 1.0)


def network(**changes: object) -> Network:
    """Two causes, three checks; `half` and `full` look at the same thing again."""
    given: dict[str, object] = {
        "parts": {"rod": ("long", "short"), "joint": ("worn",)},
        "leak": {"swing": (0.95, 0.05), "half": (0.9, 0.1), "full": (0.9, 0.1), PROOF_RUN: (0.98, 0.02)},
        "shows": {
            "swing": {"worn": (0.2, 0.8)},
            "half": {"long": (0.5, 0.5), "worn": (0.6, 0.4)},
            "full": {"long": (0.3, 0.7)},
            PROOF_RUN: {"long": (0.08, 0.92), "short": (0.08, 0.92), "worn": (0.08, 0.92)},
        },
        "group": {"swing": "swing", "half": "load", "full": "load", PROOF_RUN: PROOF_RUN},
        "cures": {"set_rod": {"long": 0.9, "short": 0.9}, "renew": {"worn": 1.0}},
        "says": {
            "swings": ("any", {"swing": (1,)}),
            "sags": ("any", {"half": (1,), "full": (1,)}),
            "both": ("all", {"swing": (1,), "full": (0,)}),
        },
    }
    return Network(**{**given, **changes})  # type: ignore[arg-type]


PRIORS = {"long": 0.1, "short": 0.05, "worn": 0.2}


def belief(
    findings: list[Finding],
    reports: list[Complaining] | None = None,
    remedies: tuple[str, ...] = (),
    net: Network | None = None,
) -> dict[str, float]:
    found = tables(net or network(), PRIORS, findings, reports or [], remedies)
    solution = solve(found.weights, found.clues)
    present = dict.fromkeys(PRIORS, 0.0)
    for states, values in zip(found.lives, solution.marginals, strict=True):
        for life, value in zip(states, values, strict=True):
            if life.cause is not None and life.last == found.now:
                present[life.cause] += value
    return present


@pytest.mark.parametrize("most", [evidence.MOST_REMEMBERED, 1])
def test_sets_that_share_clues_have_them_as_if_they_did_not(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A set without one of the causes counts its parts otherwise; a remedy, an epoch and a prior are others again."""
    monkeypatch.setattr(evidence, "MOST_REMEMBERED", most)
    net, memo = network(), {}
    made = [Finding("half", 0, HIGH), Finding("swing", 0, LOW), Finding("full", 1, (0.9, 0.1))]
    heard = [Complaining("swings", 1, 0.9, 0.1)]
    for priors in (PRIORS, {**PRIORS, "worn": 0.5}, {"worn": 0.2}, {**PRIORS, "long": 0.0}, PRIORS):
        for remedies in (("set_rod",), ("renew",)):
            kept = tables(net, priors, made, heard, remedies, memo)
            assert kept == tables(net, priors, made, heard, remedies)
            assert 0 < len(memo) <= most


def test_states_of_one_part_exclude_one_another() -> None:
    found = tables(network(), PRIORS, [Finding("half", 0, HIGH)])
    assert [life.cause for life in found.lives[0]] == [None, "long", "short"]
    assert found.weights[0] == pytest.approx((0.85, 0.1, 0.05))


def test_a_cause_that_this_set_cannot_have_is_no_state() -> None:
    found = tables(network(), {**PRIORS, "worn": 0.0}, [])
    assert len(found.lives) == 1


def test_looking_again_on_an_unchanged_set_brings_no_new_chance_for_the_cause() -> None:
    # Without a leak the second look at the same thing is the same draw: it cannot add anything.
    silent = network(
        leak={"swing": (1.0, 0.0), "half": (1.0, 0.0), "full": (1.0, 0.0), PROOF_RUN: (1.0, 0.0)},
        group={"swing": "same", "half": "load", "full": "load", PROOF_RUN: PROOF_RUN},
    )
    once = belief([Finding("full", 0, LOW)], net=silent)
    # `half` is shown less readily than `full`: where full shows nothing, half cannot show it from this cause.
    twice = belief(
        [Finding("full", 0, LOW), Finding("half", 0, LOW)],
        net=network(leak=silent.leak, shows={**silent.shows, "half": {"long": (0.5, 0.5)}}),
    )
    assert twice["long"] == pytest.approx(once["long"], abs=1e-12)


def test_a_cause_cannot_show_the_weaker_and_hide_the_stronger_look_of_one_group() -> None:
    # `full` is shown more readily than `half` from the same draw, so half high and full low is the leak's doing.
    shared = belief([Finding("half", 0, HIGH), Finding("full", 0, LOW)])
    apart = network(group={"swing": "swing", "half": "half", "full": "full", PROOF_RUN: PROOF_RUN})
    separate = belief([Finding("half", 0, HIGH), Finding("full", 0, LOW)], net=apart)
    assert shared["long"] < separate["long"]
    # By hand: P(full low | long) = 0.3 * 0.9, half high then only by leak 0.1, against leaks alone or `worn`.
    worn, none = 0.2 * (1 - 0.6 * 0.9) * 0.9, 0.8 * 0.1 * 0.9
    long_worn, long = 0.2 * (1 - 0.6 * 0.9) * 0.3 * 0.9, 0.8 * 0.1 * 0.3 * 0.9
    total = 0.1 * (long + long_worn) + 0.9 * (none + worn)
    assert shared["long"] == pytest.approx(0.1 * (long + long_worn) / total, abs=1e-12)


def test_what_one_draw_rules_out_is_only_less_likely_where_checks_may_differ() -> None:
    """Half high and full low: no one draw of `long` gives it, one draw for each does (Bayes' rule by hand)."""
    silent = {"swing": (1.0, 0.0), "half": (1.0, 0.0), "full": (1.0, 0.0), PROOF_RUN: (1.0, 0.0)}
    findings = [Finding("half", 0, HIGH), Finding("full", 0, LOW)]
    only = {"swing": {}, "half": {"long": (0.5, 0.5)}, "full": {"long": (0.3, 0.7)}, PROOF_RUN: {}}
    totals = []
    for alike in (1.0, 0.75, 0.0):
        found = tables(network(leak=silent, shows=only, alike=alike), PRIORS, findings)
        totals.append(solve(found.weights, found.clues).total)
    assert totals == pytest.approx([0.0, 0.25 * 0.1 * 0.5 * 0.3, 0.1 * 0.5 * 0.3], abs=1e-12)


def test_what_is_mild_in_one_check_of_a_group_is_mild_in_the_next() -> None:
    """Both low: with one draw the larger of the two strengths, not their product (by hand)."""
    silent = {"swing": (1.0, 0.0), "half": (1.0, 0.0), "full": (1.0, 0.0), PROOF_RUN: (1.0, 0.0)}
    findings = [Finding("half", 0, LOW), Finding("full", 0, LOW)]
    only = {"swing": {}, "half": {"long": (0.5, 0.5)}, "full": {"long": (0.3, 0.7)}, PROOF_RUN: {}}
    found = tables(network(leak=silent, shows=only, alike=0.75), PRIORS, findings)
    by_hand = 0.1 * (0.75 * 0.3 + 0.25 * 0.5 * 0.3) + 0.9
    assert solve(found.weights, found.clues).total == pytest.approx(by_hand, abs=1e-12)


def test_a_remedy_that_failed_leaves_the_cause_less_probable() -> None:
    before = belief([Finding("full", 0, HIGH)])
    after = belief([Finding("full", 0, HIGH), Finding(PROOF_RUN, 1, HIGH)], remedies=("set_rod",))
    again = belief(
        [Finding("full", 0, HIGH), Finding(PROOF_RUN, 1, HIGH), Finding(PROOF_RUN, 2, HIGH)],
        remedies=("set_rod", "set_rod"),
    )
    assert before["long"] > after["long"] > again["long"] > 0.0


def test_a_remedy_without_a_proof_run_removes_the_cause_with_its_chance() -> None:
    before = belief([Finding("full", 0, HIGH)])
    after = belief([Finding("full", 0, HIGH)], remedies=("set_rod",))
    assert after["long"] == pytest.approx(0.1 * before["long"], rel=1e-12)
    assert after["worn"] == pytest.approx(before["worn"], rel=1e-12)


def test_findings_stay_evidence_of_the_set_as_it_was_then() -> None:
    # After the joints are renewed for certain, what the swing said still counts for the rod's rival, not for the joint.
    after = belief([Finding("swing", 0, HIGH), Finding("swing", 1, LOW)], remedies=("renew",))
    assert after["worn"] == 0.0
    assert after["long"] == pytest.approx(PRIORS["long"], abs=1e-12)


def test_a_complaint_speaks_until_its_check_is_made() -> None:
    heard = belief([], [Complaining("swings", 0, 0.9, 0.05)])
    made = belief([Finding("swing", 0, HIGH)], [Complaining("swings", 0, 0.9, 0.05)])
    only = belief([Finding("swing", 0, HIGH)])
    assert PRIORS["worn"] < heard["worn"] < made["worn"]
    assert made == pytest.approx(only, abs=1e-12)


def test_a_complaint_that_one_check_does_not_show_still_speaks_for_the_other() -> None:
    report = Complaining("sags", 0, 0.9, 0.05)
    contradicted = belief([Finding("half", 0, LOW)], [report])
    alone = belief([Finding("half", 0, LOW)])
    assert contradicted["long"] > alone["long"]


def test_an_absent_complaint_speaks_against_its_causes() -> None:
    assert belief([], [Complaining("swings", 0, 0.1, 0.95)])["worn"] < PRIORS["worn"]


def test_a_soft_answer_lies_between_none_and_a_sure_one() -> None:
    soft = belief([Finding("swing", 0, (0.25, 0.75))])
    sure = belief([Finding("swing", 0, HIGH)])
    assert PRIORS["worn"] < soft["worn"] < sure["worn"]


def test_a_complaint_that_wants_all_of_its_checks_equals_enumeration() -> None:
    report = Complaining("both", 0, 0.9, 0.02)
    for findings in ([], [Finding("half", 0, HIGH)], [Finding("swing", 0, HIGH)], [Finding("full", 0, HIGH)]):
        _, sets = enumerate_sets(network(), PRIORS, findings, [report])
        expected = marginals(sets)
        assert belief(findings, [report]) == pytest.approx({cause: expected[cause] for cause in PRIORS}, abs=1e-12)


def test_what_no_cause_explains_is_there_again_at_the_next_look() -> None:
    # A swing that stays after the joints are renewed for certain is the leak's; more so where leaks last.
    seen = [Finding("swing", 0, HIGH), Finding("swing", 1, HIGH)]
    totals = []
    for again in (0.0, 0.75, 1.0):
        found = tables(network(), PRIORS, seen, (), ("renew",), again=again)
        totals.append(solve(found.weights, found.clues).total)
    assert totals[0] < totals[1] < totals[2]
    # By hand for leaks that last for ever: 0.05 with and without the worn joint, which is gone by then.
    assert totals[2] == pytest.approx(0.05, abs=1e-12)


def test_a_memo_of_clues_changes_nothing() -> None:
    memo: dict[object, object] = {}
    findings = [Finding("swing", 0, HIGH), Finding("half", 0, HIGH)]
    for count in (1, 2, 2):
        with_memo = tables(network(), PRIORS, findings[:count], (), (), memo)  # type: ignore[arg-type]
        without = tables(network(), PRIORS, findings[:count])
        assert with_memo == without
    assert len(memo) == 2


def test_facts_say_what_each_clue_holds() -> None:
    found = tables(
        network(), PRIORS, [Finding("swing", 0, HIGH), Finding("half", 0, HIGH)], [Complaining("sags", 0, 0.9, 0.05)]
    )
    assert sorted(found.facts) == [(("half", 0),), (("sags", 0),), (("swing", 0),)]
