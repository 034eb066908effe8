"""Posteriors equal to two general-purpose libraries: pyAgrum (junction tree) and pgmpy (variable elimination).

The network is written for them from the public values of the knowledge (priors, parts, strengths, leaks), not from the
engine's tables: a part is one variable with a state for each of its causes. A check with up to forty parents cannot be
one table, so it is a chain in the knowledge's own order, the standard decomposition of a noisy-MAX: each link is the
higher of what was seen so far and of what one more part produces; the last link is the check.

Outcomes that the finding does not tell apart are one state there. Normal findings are folded into the priors (each link is then a factor of one part alone), and parts without an abnormal
finding are left out for pgmpy; both are exact, and without them the general methods do not finish. Checks of different
groups, no remedies: the shared draw and lives of causes are compared with enumeration in `test_belief`.

Sources: Diez, "generalized noisy OR-gate", UAI 1993; reference networks by pyAgrum and pgmpy.
"""

from __future__ import annotations

import random
import warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.belief import Finding, tables
from hertzwright.engine.belief.elimination import solve
from hertzwright.engine.compiler.graph import PROOF_RUN, Network

from strategies import networks, priors_of

with warnings.catch_warnings():
    # While they are imported, both libraries use parts of their own and of others that are on their way out.
    warnings.simplefilter("ignore", DeprecationWarning)
    warnings.simplefilter("ignore", FutureWarning)
    LACKING = "the outside libraries come with the extra `oracle`"
    pyagrum = pytest.importorskip("pyagrum", reason=LACKING, exc_type=ImportError)
    pytest.importorskip("pgmpy", reason=LACKING, exc_type=ImportError)
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

# In the quick tier `test_belief` holds the same posteriors against a sum over all worlds.
pytestmark = pytest.mark.nightly
EXACT = 1e-9
KNOWLEDGE = load_knowledge()


@dataclass(frozen=True)
class Plain:
    """A two-level network in the form both libraries are built from.

    parts: part -> (cause ids, P(sound), P(each cause)...). checks: abnormal checks only, name -> (leak, part -> rows),
    where rows[state] is the distribution of what that state of the part produces. seen: name -> weight of each outcome.
    """

    parts: Mapping[str, tuple[tuple[str, ...], tuple[float, ...]]]
    checks: Mapping[str, tuple[Sequence[float], Mapping[str, Sequence[Sequence[float]]]]]
    seen: Mapping[str, Sequence[float]]


def plain(
    parts: Mapping[str, Sequence[str]],
    priors: Mapping[str, float],
    leak: Mapping[str, Sequence[float]],
    shows: Mapping[str, Mapping[str, Sequence[float]]],
    seen: Mapping[str, Sequence[float]],
) -> Plain:
    """Fold findings that are normal for sure into the priors; keep the others with their parents."""
    known: dict[str, tuple[tuple[str, ...], tuple[float, ...]]] = {}
    for part, causes in parts.items():
        there = tuple(cause for cause in causes if priors.get(cause, 0.0) > 0.0)
        if there:
            weights = [1.0 - sum(priors[cause] for cause in there), *(priors[cause] for cause in there)]
            for check, weight in seen.items():
                if weight[0] == 1.0 and not any(weight[1:]):
                    for place, cause in enumerate(there, start=1):
                        weights[place] *= shows[check][cause][0] if cause in shows[check] else 1.0
            total = sum(weights)
            known[part] = (there, tuple(value / total for value in weights))
    checks = {}
    for check, weight in seen.items():
        if any(weight[1:]):
            sound = (1.0, *[0.0] * (len(weight) - 1))
            rows = {
                part: [sound, *(shows[check].get(cause, sound) for cause in causes)]
                for part, (causes, _) in known.items()
                if any(cause in shows[check] for cause in causes)
            }
            checks[check] = (leak[check], rows)
    return coarse(Plain(known, checks, {check: seen[check] for check in checks}))


def coarse(network: Plain) -> Plain:
    """Outcomes next to each other that weigh the same become one: of two, the higher stays the higher."""
    checks, seen = {}, {}
    for check, (leak, rows) in network.checks.items():
        weights = network.seen[check]
        classes = [0]
        for before, weight in pairwise(weights):
            classes.append(classes[-1] + (weight != before))
        merge = partial(_merged, classes)
        checks[check] = (merge(leak), {part: [merge(row) for row in produced] for part, produced in rows.items()})
        seen[check] = [weights[classes.index(found)] for found in range(classes[-1] + 1)]
    return Plain(network.parts, checks, seen)


def _merged(classes: Sequence[int], values: Sequence[float]) -> list[float]:
    return [
        sum(value for found, value in zip(classes, values, strict=True) if found == place)
        for place in range(classes[-1] + 1)
    ]


def higher(seen: int, produced: Sequence[float]) -> list[float]:
    """Distribution of the higher of an outcome and one more draw."""
    return [
        0.0 if outcome < seen else sum(produced[: outcome + 1]) if outcome == seen else produced[outcome]
        for outcome in range(len(produced))
    ]


def links(network: Plain) -> Iterator[tuple[str, str, str, Sequence[Sequence[float]]]]:
    """(link, link before, part, rows) for each parent of each check, the check's last link last."""
    for check, (_, rows) in network.checks.items():
        before = f"{check}:leak"
        for part, produced in rows.items():
            yield f"{check}:{part}", before, part, produced
            before = f"{check}:{part}"


def last_link(network: Plain, check: str) -> str:
    rows = network.checks[check][1]
    return f"{check}:{[*rows][-1]}" if rows else f"{check}:leak"


def build_pyagrum(network: Plain) -> tuple[pyagrum.LazyPropagation, list[str]]:
    """The engine with its evidence, and the parts to be asked."""
    net = pyagrum.BayesNet()
    for part, (causes, priors) in network.parts.items():
        net.add(pyagrum.LabelizedVariable(part, part, ["sound", *causes]))
        net.cpt(part).fillWith(list(priors))
    for check, (leak, _) in network.checks.items():
        net.add(pyagrum.RangeVariable(f"{check}:leak", check, 0, len(leak) - 1))
        net.cpt(f"{check}:leak").fillWith(list(leak))
    for link, before, part, produced in links(network):
        size = len(produced[0])
        net.add(pyagrum.RangeVariable(link, link, 0, size - 1))
        net.addArc(before, link)
        net.addArc(part, link)
        for state, row in enumerate(produced):
            for outcome in range(size):
                net.cpt(link)[{before: outcome, part: state}] = higher(outcome, row)
    engine = pyagrum.LazyPropagation(net)
    for check, weights in network.seen.items():
        engine.addEvidence(last_link(network, check), list(weights))
    return engine, list(network.parts)


def with_pyagrum(network: Plain) -> dict[str, float]:
    engine, _ = build_pyagrum(network)
    found = {}
    engine.makeInference()
    for part, (causes, _) in network.parts.items():
        values = engine.posterior(part).tolist()
        found.update(dict(zip(causes, values[1:], strict=True)))
    return found


def build_pgmpy(network: Plain) -> tuple[VariableElimination, dict[str, int], list[str]]:
    """The engine, its evidence, and the parts to be asked: those that an abnormal finding touches."""
    touched = {part for _, rows in network.checks.values() for part in rows}
    parts = [part for part in network.parts if part in touched]
    net = DiscreteBayesianNetwork()
    tables_ = []
    for part in parts:
        net.add_node(part)
        priors = network.parts[part][1]
        tables_.append(TabularCPD(part, len(priors), [[value] for value in priors]))
    for check, (leak, _) in network.checks.items():
        net.add_node(f"{check}:leak")
        tables_.append(TabularCPD(f"{check}:leak", len(leak), [[value] for value in leak]))
    for link, before, part, produced in links(network):
        net.add_edges_from([(before, link), (part, link)])
        size = len(produced[0])
        columns = [higher(outcome, row) for outcome in range(size) for row in produced]
        tables_.append(
            TabularCPD(
                link, size, [list(row) for row in zip(*columns, strict=True)], [before, part], [size, len(produced)]
            )
        )
    net.add_cpds(*tables_)
    engine = VariableElimination(net)
    evidence = {last_link(network, check): list(weights).index(1.0) for check, weights in network.seen.items()}
    return engine, evidence, parts


def with_pgmpy(network: Plain) -> dict[str, float]:
    engine, evidence, parts = build_pgmpy(network)
    found = {}
    for part, (causes, priors) in network.parts.items():
        values = priors
        if part in parts:
            values = engine.query([part], evidence=evidence, show_progress=False).values
        found.update({cause: float(value) for cause, value in zip(causes, values[1:], strict=True)})
    return found


@dataclass(frozen=True)
class Evidence:
    """Answers on one set: outcome ids by check, made from `truth`."""

    features: Mapping[str, object]
    truth: frozenset[str]
    answers: Mapping[str, str]

    @property
    def abnormal(self) -> int:
        return sum(KNOWLEDGE.checks[check].normal != outcome for check, outcome in self.answers.items())


SETS: tuple[Mapping[str, object], ...] = (
    {},
    {"booster": "none"},
    {"fuel": "lp_gas", "choke": "manual"},
    {"main_jet": "fixed", "ignition": "magneto"},
    {"booster": "none", "cylinders": 1, "altitude": 6000},
)


def evidence_sets(count: int, most_abnormal: int, seed: int) -> list[Evidence]:
    """Sets with one to four faults, and ten to eighteen checks of different groups answered as the faults show."""
    draw = random.Random(seed)
    made: list[Evidence] = []
    while len(made) < count:
        features = SETS[len(made) % len(SETS)]
        known = KNOWLEDGE.features(features)
        causes = [cause for cause in KNOWLEDGE.causes.values() if cause.prior(known) > 0.0]
        faults = {cause.part: cause.id for cause in draw.sample(causes, 1 + len(made) % 4)}
        truth = frozenset(faults.values())
        groups: dict[str, str] = {}
        names = [name for name, check in KNOWLEDGE.checks.items() if KNOWLEDGE.applies(name, known)]
        draw.shuffle(names)
        for name in names:
            groups.setdefault(KNOWLEDGE.checks[name].group or name, name)
        checks = sorted(list(groups.values())[: draw.randint(10, 18)])
        answers = {
            check: draw.choices(
                [outcome.id for outcome in KNOWLEDGE.checks[check].outcomes], KNOWLEDGE.distribution(check, truth)
            )[0]
            for check in checks
        }
        evidence = Evidence(features, truth, answers)
        if 1 <= evidence.abnormal <= most_abnormal:
            made.append(evidence)
    return made


def shipped(evidence: Evidence) -> Plain:
    known = KNOWLEDGE.features(evidence.features)
    parts: dict[str, list[str]] = {}
    for cause in KNOWLEDGE.causes.values():
        parts.setdefault(cause.part, []).append(cause.id)
    shows: dict[str, dict[str, Sequence[float]]] = {check: {} for check in evidence.answers}
    for cause in KNOWLEDGE.causes.values():
        for check, strengths in cause.shows.items():
            if check in shows:
                shows[check][cause.id] = strengths
    seen = {}
    for check, outcome in evidence.answers.items():
        place = KNOWLEDGE.checks[check].index(outcome)
        seen[check] = [float(other == place) for other in range(len(KNOWLEDGE.checks[check].outcomes))]
    return plain(
        parts,
        {cause.id: cause.prior(known) for cause in KNOWLEDGE.causes.values()},
        {check: KNOWLEDGE.checks[check].leak for check in evidence.answers},
        shows,
        seen,
    )


def ours(evidence: Evidence) -> dict[str, float]:
    job = Job(KNOWLEDGE, evidence.features)
    for check, outcome in evidence.answers.items():
        job.record(check, outcome)
    return job.posterior()


def worst(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    assert set(one) == set(other)
    return max(abs(value - other[cause]) for cause, value in one.items())


def test_posteriors_on_the_shipped_knowledge_equal_pyagrum(capsys: pytest.CaptureFixture[str]) -> None:
    sets = evidence_sets(48, 5, seed=1)
    gaps = []
    for evidence in sets:
        gaps.append(worst(ours(evidence), with_pyagrum(shipped(evidence))))
        assert gaps[-1] <= EXACT, (evidence.answers, gaps[-1])
    assert sum(len(evidence.truth) > 1 for evidence in sets) >= 24
    assert sum(evidence.abnormal >= 3 for evidence in sets) >= 12
    with capsys.disabled():
        print(
            f"\n{len(sets)} evidence sets, up to {max(e.abnormal for e in sets)} abnormal: "
            f"pyAgrum differs by at most {max(gaps):.1e}"
        )


def test_posteriors_on_the_shipped_knowledge_equal_pgmpy(capsys: pytest.CaptureFixture[str]) -> None:
    sets = evidence_sets(20, 3, seed=2)
    gaps = []
    for evidence in sets:
        gaps.append(worst(ours(evidence), with_pgmpy(shipped(evidence))))
        assert gaps[-1] <= EXACT, (evidence.answers, gaps[-1])
    with capsys.disabled():
        print(f"\n{len(sets)} evidence sets: pgmpy differs by at most {max(gaps):.1e}")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_posteriors_on_small_random_networks_equal_pyagrum(data: st.DataObject) -> None:
    network: Network = data.draw(networks(most_parts=4, most_checks=6))
    priors = data.draw(priors_of(network))
    if not any(priors.values()):
        return
    seen = {}
    for check, leak in network.leak.items():
        if check != PROOF_RUN and network.group[check] == check:
            place = data.draw(st.integers(0, len(leak) - 1))
            several = data.draw(st.booleans())
            seen[check] = [float(other == place) or (0.25 if several else 0.0) for other in range(len(leak))]
    found = tables(network, priors, [Finding(check, 0, tuple(weights)) for check, weights in seen.items()])
    solution = solve(found.weights, found.clues)
    if solution.total < 1e-12:
        return
    mine = {
        life.cause: value
        for states, values in zip(found.lives, solution.marginals, strict=True)
        for life, value in zip(states, values, strict=True)
        if life.cause is not None
    }
    theirs = with_pyagrum(plain(network.parts, priors, network.leak, network.shows, seen))
    assert mine == pytest.approx(theirs, abs=EXACT)
