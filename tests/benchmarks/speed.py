"""How long a technician waits: answer to suggestion, posteriors against two libraries, ten times the knowledge, memory.

    python -m tests.benchmarks.speed [ours|libraries|tenfold|memory ...]

Prints medians, 95th percentiles and the worst, in milliseconds of wall time; nothing is asserted.

The libraries get the network of `test_outside_libraries`: normal findings folded into the priors and outcomes that the
findings do not tell apart merged, which is the most that can be done for them; only inference is timed, not building the
network. A whole next-step choice needs one posterior for each outcome of each check that could be made: with the libraries
that is the number of such outcomes times the measured time of one posterior, an estimate and marked so.
"""

from __future__ import annotations

import random
import resource
import statistics
import sys
import time
import tracemalloc
from collections.abc import Callable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))  # the test modules import one another by their bare names

from test_outside_libraries import Evidence, Plain, build_pgmpy, build_pyagrum, evidence_sets, shipped

from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.belief import Finding, tables
from hertzwright.engine.belief.elimination import fold, solve
from hertzwright.engine.belief.fault_sets import explain
from hertzwright.engine.compiler.graph import Network
from hertzwright.engine.job.generating_set import GeneratingSet
from hertzwright.engine.job.planned_set import problem_of
from hertzwright.engine.planning.planner import Planner


def timed(work: Callable[[], object]) -> float:
    """Milliseconds."""
    begin = time.perf_counter()
    work()
    return 1000.0 * (time.perf_counter() - begin)


def row(name: str, times: Sequence[float]) -> None:
    ordered = sorted(times)
    print(
        f"{name:<52}{len(ordered):>6}{statistics.median(ordered):>10.2f}{ordered[int(0.95 * len(ordered))]:>10.2f}"
        f"{ordered[-1]:>10.2f}",
        flush=True,
    )


def head(title: str) -> None:
    print(f"\n{title}\n{'':<52}{'times':>6}{'median':>10}{'95th':>10}{'most':>10}   ms")


def ours(knowledge: Knowledge) -> None:
    """After every answer of every solved case."""
    head("one answer to a suggestion, over the solved cases")
    belief, first, deep = [], [], []
    for case in knowledge.cases.values():
        job = Job(knowledge, case.set)
        for fact in case.facts:
            if "remedy" in fact:
                job.carry_out(fact["remedy"], fact.get("result", "unknown"))
            else:
                job.record(fact.get("check") or fact["complaint"], fact["answer"])
            belief.append(timed(job.posterior))
            first.append(belief[-1] + timed(lambda: job.next_steps(5, 0)))  # noqa: B023
            deep.append(timed(lambda: job.next_steps(5, 4)))  # noqa: B023
    row("posterior of all causes", belief)
    row("posterior and first suggestion", first)
    row("deepened suggestion", deep)


def runs_of(knowledge: Knowledge, evidence: Evidence) -> tuple[Callable[[], object], Callable[[], object]]:
    """Ours: inference alone, as the libraries are timed; and everything from the findings on, nothing kept."""
    known = knowledge.features(evidence.features)
    priors = {cause.id: cause.prior(known) for cause in knowledge.causes.values()}
    findings = [
        Finding(check, 0, tuple(float(other == outcome) for other in knowledge.checks[check].outcomes))
        for check, outcome in evidence.answers.items()
    ]
    network = knowledge.network  # compiled once, outside the time
    found = tables(network, priors, findings)
    weights, clues = fold(found.weights, found.clues)

    def from_findings() -> object:
        built = tables(network, priors, findings)
        return solve(built.weights, built.clues)

    return lambda: solve(weights, clues), from_findings


def pyagrum_run(network: Plain) -> Callable[[], object]:
    engine, parts = build_pyagrum(network)

    def run() -> object:
        engine.makeInference()
        return [engine.posterior(part) for part in parts]

    return run


def pgmpy_run(network: Plain) -> Callable[[], object]:
    engine, evidence, parts = build_pgmpy(network)
    return lambda: [engine.query([part], evidence=evidence, show_progress=False) for part in parts]


def libraries(knowledge: Knowledge) -> None:
    """One run, the same evidence in the same order. Up to five abnormal findings: with more, memory runs out."""
    head("the same posterior, inference alone, normal findings folded in")
    cells: dict[tuple[str, int], list[float]] = {}
    ratios: dict[str, list[float]] = {"pyAgrum": [], "pgmpy": []}
    choices: dict[str, list[float]] = {"pyAgrum": [], "pgmpy": []}
    for evidence in evidence_sets(40, 5, seed=3):
        network, (run, whole) = shipped(evidence), runs_of(knowledge, evidence)
        mine = statistics.median(timed(run) for _ in range(5))
        cells.setdefault(("ours", evidence.abnormal), []).append(mine)
        cells.setdefault(("ours from the findings", evidence.abnormal), []).append(timed(whole))
        job = Job(knowledge, evidence.features)
        for check, outcome in evidence.answers.items():
            job.record(check, outcome)
        job.posterior()
        choice = timed(lambda: job.next_steps(5, 0))  # noqa: B023
        looks = [
            check for name, check in job.checks.items() if name not in evidence.answers and check.derived_from is None
        ]
        outcomes = sum(len(check.outcomes) for check in looks)
        for name, build, most in (("pyAgrum", pyagrum_run, 5), ("pgmpy", pgmpy_run, 4)):
            if evidence.abnormal > most:
                continue
            taken = timed(build(network))
            cells.setdefault((name, evidence.abnormal), []).append(taken)
            ratios[name].append(taken / mine)
            choices[name].append(outcomes * taken / choice)
    for (name, abnormal), times in sorted(cells.items(), key=lambda cell: (not cell[0][0].startswith("ours"), cell[0])):
        row(f"{name}, {abnormal} abnormal", times)
    for name, values in ratios.items():
        print(f"times as long as ours, {name:<28} median {statistics.median(values):>8.0f}   least {min(values):>8.1f}")
    for name, values in choices.items():
        print(
            f"whole choice, times ours, {name} (estimate)".ljust(52)
            + f"median {statistics.median(values):>8.0f}   least {min(values):>8.1f}"
        )


def tenfold(knowledge: Knowledge) -> None:
    """Ten copies of the knowledge side by side, every cause of a copy also bearing on some checks of the next."""
    copies, draw = 10, random.Random(5)
    old = knowledge.network
    known = knowledge.features()
    names = [check for check in old.leak if check in knowledge.checks]
    parts = {
        f"{part}.{copy}": tuple(f"{cause}.{copy}" for cause in causes)
        for copy in range(copies)
        for part, causes in old.parts.items()
    }
    leak = {f"{check}.{copy}": old.leak[check] for copy in range(copies) for check in names}
    shows: dict[str, dict[str, tuple[float, ...]]] = {}
    for copy in range(copies):
        for check in names:
            shows[f"{check}.{copy}"] = {f"{cause}.{copy}": given for cause, given in old.shows[check].items()}
            for cause, given in old.shows[check].items():
                if draw.random() < 0.05:
                    shows[f"{check}.{copy}"][f"{cause}.{(copy + 1) % copies}"] = given
    group = {f"{check}.{copy}": f"{old.group[check]}.{copy}" for copy in range(copies) for check in names}
    cures = {
        f"{remedy}.{copy}": {f"{cause}.{copy}": chance for cause, chance in given.items()}
        for copy in range(copies)
        for remedy, given in old.cures.items()
    }
    big = Network(parts, leak, shows, group, cures, {}, old.alike)
    priors = {
        f"{name}.{copy}": cause.prior(known) / 3 for copy in range(copies) for name, cause in knowledge.causes.items()
    }
    head(f"ten times the knowledge: {len(priors)} causes, {len(leak)} checks, {len(cures)} remedies")
    problem = problem_of(GeneratingSet(knowledge, None, "default"))
    split = type(problem.looks[0]), type(problem.mends[0])
    looks = tuple(
        split[0](f"{look.id}.{copy}", look.minutes, look.state) for copy in range(copies) for look in problem.looks
    )
    mends = tuple(
        split[1](f"{mend.id}.{copy}", mend.minutes, mend.state, {f"{c}.{copy}": q for c, q in mend.cures.items()})
        for copy in range(copies)
        for mend in problem.mends
    )

    def likelihood(check: str, present: frozenset[str]) -> Sequence[float]:
        at_most = []
        for place in range(len(leak[check])):
            product = sum(leak[check][: place + 1])
            for cause in present:
                if cause in shows[check]:
                    product *= sum(shows[check][cause][: place + 1])
            at_most.append(product)
        return [high - low for high, low in zip(at_most, [0.0, *at_most[:-1]], strict=True)]

    planning = type(problem)(
        looks, mends, problem.moves, problem.proof_minutes, problem.proof_state, problem.refer, likelihood, {}, {}
    )
    belief, first = [], []
    for _ in range(40):
        truth = frozenset(draw.sample(sorted(priors), draw.randint(1, 3)))
        near = [check for check in leak if any(cause in shows[check] for cause in truth)]
        asked = draw.sample(near, min(8, len(near))) + draw.sample(sorted(leak), 10)
        groups: dict[str, str] = {}
        for check in asked:
            groups.setdefault(group[check], check)
        findings = []
        for check in groups.values():
            chances = likelihood(check, truth)
            seen = draw.choices(range(len(chances)), chances)[0]
            findings.append(Finding(check, 0, tuple(float(place == seen) for place in range(len(chances)))))
        planner = Planner(planning)

        def run() -> None:
            found = tables(big, priors, findings)  # noqa: B023
            solution = solve(found.weights, found.clues)
            belief.append(1000.0 * (time.perf_counter() - begin))  # noqa: B023
            sets = explain(
                found, solution.marginals, solution.total, breadth=12, depth=4, floor=1e-3, absorb=True
            ).sets[:48]
            planner.choose(sets, "stopped", frozenset(finding.check for finding in findings))  # noqa: B023

        begin = time.perf_counter()
        first.append(timed(run))
    row("posterior of all causes", belief)
    row("posterior and first suggestion", first)


def memory(knowledge: Knowledge) -> None:
    print("\nmemory")
    tracemalloc.start()
    fresh = load_knowledge()
    fresh.network  # noqa: B018
    print(f"  knowledge loaded and compiled, kept      {tracemalloc.get_traced_memory()[0] / 1e6:>8.1f} MB")
    tracemalloc.reset_peak()
    before = tracemalloc.get_traced_memory()[0]
    job = Job(fresh)
    case = max(knowledge.cases.values(), key=lambda case: len(case.facts))
    for fact in case.facts:
        if "remedy" not in fact:
            job.record(fact.get("check") or fact["complaint"], fact["answer"])
    job.next_steps(5, 4)
    held, peak = tracemalloc.get_traced_memory()
    print(f"  longest solved case, held and at the most {(held - before) / 1e6:>7.1f} {(peak - before) / 1e6:>8.1f} MB")
    tracemalloc.stop()
    print(
        f"  this process at the most                 {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:>8.0f} MB"
    )


TABLES = {"ours": ours, "libraries": libraries, "tenfold": tenfold, "memory": memory}


def main(wanted: Sequence[str]) -> None:
    unknown = [name for name in wanted if name not in TABLES]
    if unknown:
        raise SystemExit(f"no table {unknown[0]!r}; there are {', '.join(TABLES)}")
    knowledge = load_knowledge()
    for name, table in TABLES.items():
        if not wanted or name in wanted:
            table(knowledge)


if __name__ == "__main__":
    main(sys.argv[1:])
