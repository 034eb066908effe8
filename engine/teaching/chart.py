"""The decision chart of a complaint: what to do first, and what after each thing that may then be seen.

Purpose: walk the way of a job before the job is there. Every node is the step that a job would propose (see `job`),
every branch one thing that the step may show, with its chance. Remedies and proof runs pass or fail.
Law: pure and deterministic. The chances of a node's branches, with those folded, sum to one; they are exact: the
probability of everything seen and of the branch, over that of everything seen.
Not here: the drawing. Not in the chart: answers that are not sure, checks passed over, and readings that say more
than their outcome (a frequency typed at no load and one at full load also give the spread).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import fsum
from types import MappingProxyType

from ..belief import Clue, solve
from ..compiler import Knowledge
from ..job import Diagnosis, GeneratingSet, Job, Step, of_steps, read_state, unknown

PROOF = ("passed", "failed")
MOST_DEPTH = 50
"""Steps along one way; a job that takes more has long been handed over."""


@dataclass(frozen=True, slots=True)
class Branch:
    """One thing that a step may show. `outcomes`: ids of the check's outcomes that all lead to `then`, in their order;
    "passed" or "failed" for a proof run. `chance` at the step, `reach` from the start of the chart."""

    outcomes: tuple[str, ...]
    chance: float
    reach: float
    then: ChartStep


@dataclass(frozen=True, slots=True)
class ChartStep:
    """A step, or where the way ends.

    kind: check, remedy, done (a proof run, or with no branches: fixed and proven, close), refer (hand the set over) or
    depth (the chart ends here; the job does not). `minutes` of the step itself and `expected_minutes` from here to
    fixed and proven as in `job.Step`; `elapsed` is what the way here took. `causes`: every cause with its probability
    here, most probable first. `due`: remedies that rules ask for again after this one. `folded`: outcomes that too few
    sets would show, left out, with their chance `folded_chance`. `put_back`: fittings that earlier steps took off and
    that go back on before it.
    """

    kind: str
    id: str
    minutes: float
    expected_minutes: float
    elapsed: float
    why: str
    causes: tuple[tuple[str, float], ...]
    branches: tuple[Branch, ...] = ()
    folded: tuple[str, ...] = ()
    folded_chance: float = 0.0
    due: tuple[str, ...] = ()
    put_back: tuple[str, ...] = ()

    @property
    def ends(self) -> bool:
        """Whether the way ends here."""
        return not self.branches and not self.folded

    @property
    def step(self) -> str:
        """What to do here, in two words: "check linkage_feel", "close", "proof run"."""
        if self.kind == "done":
            return "close" if self.ends else "proof run"
        return {"refer": "hand over", "depth": "go on"}.get(self.kind, f"{self.kind} {self.id}")

    def after(self, outcome: str) -> ChartStep | None:
        """The node after an outcome; None where it is folded or cannot be seen here."""
        return next((branch.then for branch in self.branches if outcome in branch.outcomes), None)


@dataclass(frozen=True, slots=True)
class Chart:
    """The chart of one complaint at one set. `depth`: most steps on one way. `least`: ways that fewer sets than this
    share would go are folded, but for a proof run that passes. `fingerprint`: that of the knowledge it is made from."""

    complaint: str
    features: Mapping[str, str | float]
    tolerance: str
    depth: int
    least: float
    fingerprint: str
    root: ChartStep


@dataclass(frozen=True, slots=True)
class ChartDifference:
    """Where two charts part: `path` is (step, outcome) from the start, `old` and `new` what each says there."""

    path: tuple[tuple[str, str], ...]
    old: str
    new: str


def chart(
    knowledge: Knowledge,
    complaint_id: str,
    features: Mapping[str, object] | None = None,
    depth: int = 3,
    *,
    tolerance: str = "default",
    least: float = 0.02,
    deepen: int = 4,
    watch: Callable[[int], None] | None = None,
) -> Chart:
    """The decision chart of a complaint.

    features, tolerance: of the set, as for a `Job`. depth: steps along each way, 1 to MOST_DEPTH. least: branches that
    a smaller share of sets with this complaint would come to are folded, but for a proof run that passes. deepen: as in
    `Job.next_steps`. watch: called with the number of steps worked out so far.
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
    walker = _Walker(job, least, deepen, watch or (lambda _: None))
    root = walker.node(depth, 1.0)
    kept = MappingProxyType(walker.job.features)
    return Chart(complaint_id, kept, tolerance, depth, least, knowledge.fingerprint, root)


_READER = "who reads the chart"
"""A chart says to shut the set down where that is due, and goes on from there."""


class _Weighing(Diagnosis):
    """A diagnosis that is only asked how probable everything seen is, which may be impossible."""

    def weight(self) -> float:
        found = self._affordable()
        return solve(found.weights, found.clues).total


class _Walker:
    """One job led down every way and back again."""

    def __init__(self, job: Job, least: float, deepen: int, watch: Callable[[int], None]) -> None:
        self.job = job
        self._least = least
        self._deepen = deepen
        self._watch = watch
        self._priced = 0
        self._genset = GeneratingSet(job.knowledge, job.features, job.tolerance)
        self._memo: dict[object, Clue] = {}

    def node(self, depth: int, reach: float) -> ChartStep:
        """What the job proposes now, and all that follows."""
        job = self.job
        causes = tuple(job.ranking())
        proven = self._proven()
        if depth == 0 and not proven:
            return ChartStep("depth", "", 0.0, 0.0, job.minutes, "", causes)
        step = job.next_steps(deepen=self._deepen)[0]
        self._priced += 1
        self._watch(self._priced)
        if step.kind == "refer" or (step.kind == "done" and proven):
            return ChartStep(step.kind, step.id, step.minutes, step.expected_minutes, job.minutes, step.why, causes)
        if depth == 0:
            return ChartStep("depth", "", 0.0, 0.0, job.minutes, "", causes)
        return self._branched(step, depth, reach, causes)

    def _branched(self, step: Step, depth: int, reach: float, causes: tuple[tuple[str, float], ...]) -> ChartStep:
        job = self.job
        elapsed = job.minutes
        outcomes = PROOF if step.kind != "check" else tuple(outcome.id for outcome in job.checks[step.id].outcomes)
        weights = {outcome: self._weight(step, outcome) for outcome in outcomes}
        total = fsum(weights.values())
        branches, folded = [], []
        for outcome, weight in weights.items():
            chance = weight / total
            if chance <= 0.0:
                continue
            # A proof run that passes is where every way is meant to end, so it is always followed.
            passes = step.kind != "check" and outcome == "passed"
            if reach * chance < self._least and not passes:
                folded.append((outcome, chance))
                continue
            self._take(step, outcome)
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
        )

    def _weight(self, step: Step, outcome: str) -> float:
        """Probability of everything seen so far and this outcome of the step."""
        job = self.job
        self._take(step, outcome)
        state = read_state(self._genset, job.standing)
        self._undo()
        return _Weighing(self._genset, state, self._memo).weight()

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
    causes: dict[str, float] = {}
    for share, node in nodes:
        for cause, chance in node.causes:
            causes[cause] = causes.get(cause, 0.0) + share * chance
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
        tuple(sorted(causes.items(), key=lambda item: (-item[1], item[0]))),
        tuple(sorted(branches, key=lambda branch: -branch.chance)),
        likeliest.folded,
        fsum(share * node.folded_chance for share, node in nodes),
        likeliest.due,
        tuple(dict.fromkeys(fitting for _, node in nodes for fitting in node.put_back)),
    )


# ---- what is in a chart


def walk(node: ChartStep) -> Iterator[ChartStep]:
    """The node and every node after it, each before what follows it, most probable branch first."""
    yield node
    for branch in node.branches:
        yield from walk(branch.then)


def cautions(knowledge: Knowledge, drawn: Chart) -> tuple[str, ...]:
    """Ids of the cautions of the complaint and of every step, in the knowledge's order."""
    named = [("complaint", drawn.complaint)]
    off: set[str] = set()
    for node in walk(drawn.root):
        if node.kind in ("check", "remedy") or (node.kind == "done" and not node.ends):
            named.append((node.kind, node.id))
        named += [("remedy", name) for name in node.due]
        off.update(node.put_back)
    return of_steps(knowledge.catalogue, named, sorted(off))


def lines(drawn: Chart) -> tuple[str, ...]:
    """The chart without its numbers, one node a line, indented by its depth: two charts that propose the same steps
    have the same lines. Branches stand in the order of the alphabet, passed before failed, not of their chances."""
    rows = [drawn.root.step]

    def below(node: ChartStep, indent: str) -> None:
        for branch in sorted(node.branches, key=lambda branch: _place(branch.outcomes[0])):
            rows.append(f"{indent}{' or '.join(branch.outcomes)}: {branch.then.step}")
            below(branch.then, indent + "  ")
        if node.folded:
            rows.append(f"{indent}{' or '.join(node.folded)}: not followed")

    below(drawn.root, "  ")
    return tuple(rows)


def _place(outcome: str) -> tuple[int, str]:
    return (PROOF.index(outcome) if outcome in PROOF else -1, outcome)


def differences(old: Chart, new: Chart) -> tuple[ChartDifference, ...]:
    """Where the two charts part, first along each way: another step, or an outcome that only one of them follows.

    What lies behind a difference is not compared, and where either chart ends by its depth, nothing is.
    """
    found: list[ChartDifference] = []

    def compare(one: ChartStep, other: ChartStep, path: tuple[tuple[str, str], ...]) -> None:
        if "depth" in (one.kind, other.kind):
            return
        if one.step != other.step:
            found.append(ChartDifference(path, one.step, other.step))
            return
        outcomes = [name for node in (one, other) for branch in node.branches for name in branch.outcomes]
        for outcome in dict.fromkeys((*outcomes, *one.folded, *other.folded)):
            here = (*path, (one.step, outcome))
            left, right = one.after(outcome), other.after(outcome)
            if left is not None and right is not None:
                compare(left, right, here)
            elif _said(one, outcome) != _said(other, outcome):
                found.append(ChartDifference(here, _said(one, outcome), _said(other, outcome)))

    compare(old.root, new.root, ())
    return tuple(found)


def _said(node: ChartStep, outcome: str) -> str:
    then = node.after(outcome)
    if then is not None:
        return then.step
    return "not followed" if outcome in node.folded else "cannot be seen"
