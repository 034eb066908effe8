"""The decision chart of a complaint: what to do first, and what after each thing that may then be seen.

Purpose: walk the way of a job before the job is there. What was said is measured first, where the set may run; from
there on every node is the step that a job would propose (see `job`), every branch one thing that the step may show,
with its chance. Remedies and proof runs pass or fail.
Law: pure and deterministic. The chances of a node's branches, with those folded, sum to one; they are exact: the
probability of everything seen and of the branch, over that of everything seen.
Not here: the tree itself (see `chart_tree`) and the drawing. Not in the chart: answers that are not sure, checks passed
over, and readings that say more than their outcome (a frequency typed at no load and full load gives the spread).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from math import fsum
from types import MappingProxyType

from ..belief import solve
from ..compiler import Knowledge
from ..job import Diagnosis, GeneratingSet, Job, Step, read_state, unknown
from .chart_tree import PROOF, Branch, Causes, Chart, ChartStep, mean

Stands = tuple[tuple[str, str, str], ...]
"""Kind, id and answer of the events that stand."""
MOST_DEPTH = 50
"""Steps along one way; a job that takes more has long been handed over."""


@dataclass(slots=True)
class WorkedOut:
    """What jobs on the ways of one complaint and set came to, by the events that stand: what they propose, what they
    believe, and how probable everything seen is. It fills while charts are made."""

    steps: dict[Stands, Step] = field(default_factory=dict)
    causes: dict[Stands, Causes] = field(default_factory=dict)
    weights: dict[Stands, float] = field(default_factory=dict)


def chart(
    knowledge: Knowledge,
    complaint_id: str,
    features: Mapping[str, object] | None = None,
    depth: int = 3,
    *,
    tolerance: str = "default",
    least: float = 0.02,
    deepen: int = 4,
    measured: bool = True,
    known: WorkedOut | None = None,
    watch: Callable[[int], None] | None = None,
) -> Chart:
    """The decision chart of a complaint.

    features, tolerance: of the set, as for a `Job`. depth: steps along each way, after what was said has been measured,
    1 to MOST_DEPTH. least: branches that a smaller share of sets with this complaint would come to are folded, but for
    a proof run that passes. deepen: as in `Job.next_steps`. measured: what was said is measured first; without it the
    first step is the job's own, too. known: charts of one complaint and set that only fold more
    or less share it, and work out nothing twice. watch: called with the number of steps worked out so far.
    Raises JobError for an unknown complaint or tolerance set, AnswerError for a feature that cannot be used, ValueError
    for a depth or share out of range.
    """
    if not 1 <= depth <= MOST_DEPTH:
        raise ValueError(f"depth is {depth}, expected 1 to {MOST_DEPTH}")
    if not 0.0 <= least < 1.0:
        raise ValueError(f"least is {least}, expected a share from 0 up to but not including 1")
    if complaint_id not in knowledge.complaints or knowledge.complaints[complaint_id].retired:
        raise unknown("complaint", complaint_id, knowledge.complaints)
    job = Job(knowledge, features, tolerance)
    job.record(complaint_id, "present")
    if job.held:
        job.secure(_READER)
    walker = _Walker(job, least, deepen, watch or (lambda _: None), known or WorkedOut())
    first = walker.speaks_for(complaint_id) if measured else ""
    root = walker.measured(first, complaint_id, depth) if first else walker.node(depth, 1.0)
    kept = MappingProxyType(walker.job.features)
    return Chart(complaint_id, kept, tolerance, depth, least, knowledge.fingerprint, root, first)


_MEASURED = "What was said is measured before anything is done about it."
_READER = "who reads the chart"
"""A chart says to shut the set down where that is due, and goes on from there."""


class _Weighing(Diagnosis):
    """A diagnosis that is only asked how probable everything seen is, which may be impossible."""

    def weight(self) -> float:
        found, order = self._affordable()
        return solve(found.weights, found.clues, order).total


class _Walker:
    """One job led down every way and back again."""

    def __init__(self, job: Job, least: float, deepen: int, watch: Callable[[int], None], known: WorkedOut) -> None:
        self.job = job
        self._known = known
        self._least = least
        self._deepen = deepen
        self._watch = watch
        self._priced = 0
        self._genset = GeneratingSet(job.knowledge, job.features, job.tolerance)

    def speaks_for(self, complaint_id: str) -> str:
        """The check of a complaint that is likeliest to show what was said, of those in which that is not the usual;
        empty where the record wants nothing of the set as found (see `Job.owed`): it must not run, or may run away; and
        where handing over is cheapest."""
        job, said = self.job, self.job.knowledge.complaints[complaint_id].says
        if not job.owed or job.next_steps(1, deepen=0)[0].kind == "refer":
            return ""
        found, most = "", 0.0
        for name in (each for each in said if each in job.checks and job.checks[each].normal not in said[each]):
            step = Step("check", name, 0.0, 0.0, "")
            weights = {outcome.id: self._weight(step, outcome.id) for outcome in job.checks[name].outcomes}
            shown = fsum(weights[outcome] for outcome in said[name]) / fsum(weights.values())
            if shown > most + 1e-9:
                found, most = name, shown
        return found

    def measured(self, name: str, complaint_id: str, depth: int) -> ChartStep:
        """The check that a complaint speaks of, and all that follows where it shows what was said."""
        job = self.job
        check, costs = job.checks[name], job.knowledge.catalogue.costs
        minutes = costs.move(job.here, check.state) + check.minutes
        step = Step("check", name, round(minutes, 2), 0.0, _MEASURED)
        said = frozenset(job.knowledge.complaints[complaint_id].says[name])
        made = self._branched(step, depth + 1, 1.0, self._causes(), said)
        # What is still to come is that of the sets that show it: of the others the chart knows no more.
        shown = [branch for branch in made.branches if branch.then.kind != "other"]
        share = fsum(branch.chance for branch in shown)
        if share:
            rest = fsum(branch.chance * branch.then.expected_minutes for branch in shown) / share
            return replace(made, expected_minutes=round(minutes + rest, 2))
        return made

    def node(self, depth: int, reach: float) -> ChartStep:
        """What the job proposes now, and all that follows."""
        job = self.job
        causes = self._causes()
        proven = self._proven()
        if depth == 0 and not proven:
            return ChartStep("depth", "", 0.0, 0.0, job.minutes, "", causes)
        stands = self._stands()
        step = self._known.steps.get(stands) or job.next_steps(1, self._deepen)[0]
        self._known.steps[stands] = step
        self._priced += 1
        self._watch(self._priced)
        if step.kind == "refer" or (step.kind == "done" and proven):
            return ChartStep(step.kind, step.id, step.minutes, step.expected_minutes, job.minutes, step.why, causes)
        if depth == 0:
            return ChartStep("depth", "", 0.0, 0.0, job.minutes, "", causes)
        return self._branched(step, depth, reach, causes)

    def _branched(
        self,
        step: Step,
        depth: int,
        reach: float,
        causes: Causes,
        said: frozenset[str] = frozenset(),
    ) -> ChartStep:
        """said: outcomes that the complaint means, where the step measures it; any other ends the way."""
        job = self.job
        elapsed = job.minutes
        outcomes = PROOF if step.kind != "check" else tuple(outcome.id for outcome in job.checks[step.id].outcomes)
        weights = {outcome: self._weight(step, outcome) for outcome in outcomes}
        total = fsum(weights.values())
        branches, folded = [], []
        rare: list[tuple[float, Causes]] = []
        for outcome, weight in weights.items():
            chance = weight / total
            if chance <= 0.0:
                continue
            # A proof run that passes is where every way is meant to end, so it is always followed; and that it is not
            # as it was said takes no following.
            passes = step.kind != "check" and outcome == "passed"
            other = bool(said) and outcome not in said
            if reach * chance < self._least and not passes and not other:
                folded.append((outcome, chance))
                self._take(step, outcome)
                rare.append((chance, self._causes()))
                self._undo()
                continue
            self._take(step, outcome)
            if other:
                then = ChartStep("other", "", 0.0, 0.0, job.minutes, "", self._causes())
            else:
                then = self.node(depth - 1, reach * chance)
            self._undo()
            branches.append(Branch((outcome,), chance, reach * chance, then))
        return ChartStep(
            step.kind,
            step.id,
            step.minutes,
            step.expected_minutes,
            elapsed,
            step.why,
            causes,
            _merged(branches, outcomes),
            tuple(outcome for outcome, _ in folded),
            fsum(chance for _, chance in folded),
            self._due(step),
            step.put_back,
            mean(rare),
        )

    def _weight(self, step: Step, outcome: str) -> float:
        """Probability of everything seen so far and this outcome of the step."""
        job = self.job
        self._take(step, outcome)
        stands = self._stands()
        if stands not in self._known.weights:
            state = read_state(self._genset, job.standing)
            self._known.weights[stands] = _Weighing(self._genset, state).weight()
        self._undo()
        return self._known.weights[stands]

    def _stands(self) -> Stands:
        return tuple((event.kind, event.id, event.answer) for event in self.job.standing)

    def _causes(self) -> Causes:
        """Every cause with its probability, the most probable first."""
        stands = self._stands()
        if stands not in self._known.causes:
            self._known.causes[stands] = tuple(self.job.ranking())
        return self._known.causes[stands]

    def _proven(self) -> bool:
        """A proof run has passed on the set as it is now."""
        proofs = [event.answer for event in self.job.standing if event.kind in ("remedy", "proof")]
        return bool(proofs) and proofs[-1] in ("cured", "passed")

    def _undo(self) -> None:
        """Take back what was only supposed, with the word that the set was made safe."""
        while (event := self.job.step_back(mistake=True)) is not None and event.kind == "secured":
            pass

    def _take(self, step: Step, outcome: str) -> None:
        if step.kind == "check":
            self.job.record(step.id, outcome)
        elif step.kind == "remedy":
            self.job.carry_out(step.id, "cured" if outcome == "passed" else "not cured")
        else:
            self.job.prove(outcome)
        if self.job.held:
            self.job.secure(_READER)

    def _due(self, step: Step) -> tuple[str, ...]:
        """Remedies that follow a remedy: those it names itself and those that rules ask for again."""
        if step.kind != "remedy":
            return ()
        knowledge = self.job.knowledge
        named = dict.fromkeys(knowledge.remedies[step.id].then)
        for rule in knowledge.catalogue.order.values():
            if rule.kind == "do_again" and step.id in rule.before:
                named.update(dict.fromkeys(rule.after))
        return tuple(name for name in named if name in self._genset.remedies and name != step.id)


# ---- branches that come to the same


def _shape(node: ChartStep) -> object:
    """What is done from here on, without the numbers."""
    return (
        node.step,
        node.folded,
        frozenset((branch.outcomes, _shape(branch.then)) for branch in node.branches),
    )


def _merged(branches: list[Branch], order: tuple[str, ...]) -> tuple[Branch, ...]:
    """Outcomes after which the same is done become one branch; most probable first, ties by the check's own order."""
    groups: dict[object, list[Branch]] = {}
    for branch in branches:
        # Where the chart breaks off, nothing is known to be the same; and to pass is never the same as to fail.
        apart = branch.then.kind == "depth" or order == PROOF
        key = branch.outcomes if apart else (_shape(branch.then),)
        groups.setdefault(key, []).append(branch)
    found = [group[0] if len(group) == 1 else _one_of(group) for group in groups.values()]
    return tuple(sorted(found, key=lambda branch: (-branch.chance, order.index(branch.outcomes[0]))))


def _one_of(group: list[Branch]) -> Branch:
    total = fsum(branch.chance for branch in group)
    nodes = [(branch.chance / total, branch.then) for branch in group]
    outcomes = tuple(outcome for branch in group for outcome in branch.outcomes)
    return Branch(outcomes, total, fsum(branch.reach for branch in group), _mixed(nodes))


def _mixed(nodes: list[tuple[float, ChartStep]]) -> ChartStep:
    """Nodes of the same shape as one, with the mean of every number; the reason is that of the most probable."""
    likeliest = max(nodes, key=lambda item: item[0])[1]
    branches = []
    for branch in likeliest.branches:
        same = [(share, one) for share, node in nodes for one in node.branches if one.outcomes == branch.outcomes]
        chance = fsum(share * other.chance for share, other in same)
        inner = [(share * other.chance / chance, other.then) for share, other in same]
        branches.append(Branch(branch.outcomes, chance, fsum(other.reach for _, other in same), _mixed(inner)))
    return ChartStep(
        likeliest.kind,
        likeliest.id,
        fsum(share * node.minutes for share, node in nodes),
        fsum(share * node.expected_minutes for share, node in nodes),
        fsum(share * node.elapsed for share, node in nodes),
        likeliest.why,
        mean([(share, node.causes) for share, node in nodes]),
        tuple(sorted(branches, key=lambda branch: -branch.chance)),
        likeliest.folded,
        fsum(share * node.folded_chance for share, node in nodes),
        likeliest.due,
        tuple(dict.fromkeys(fitting for _, node in nodes for fitting in node.put_back)),
        mean([(share * node.folded_chance, node.folded_causes) for share, node in nodes if node.folded]),
    )
