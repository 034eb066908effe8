"""A decision chart as a value: its steps and ways, what is in it, and how two of them differ.

Purpose: the tree that `chart` works out, for whoever draws it, folds it or compares it.
Law: pure; a chart never changes. The chances of a node's branches, with those folded, sum to one.
Not here: how a chart comes about (see `chart`), and its words and its looks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import fsum

from ..compiler import Knowledge
from ..job import of_steps

PROOF = ("passed", "failed")

Causes = tuple[tuple[str, float], ...]
"""Causes with their probabilities, the most probable first."""


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

    kind: check, remedy, done (a proof run, or with no branches: fixed and proven, close), refer (hand the set over),
    other (measured, and it is not what was said) or depth (the chart ends here; the job does not). `minutes` of the
    step itself and `expected_minutes` from here to fixed and proven as in `job.Step`; `elapsed` is what the way here
    took. `causes`: every cause with its probability here, most probable first. `due`: remedies that rules ask for again
    after this one. `folded`: outcomes that too few sets would show, left out, with their chance `folded_chance` and the
    causes after any of them, `folded_causes`.
    `put_back`: fittings that earlier steps took off and that go back on before it.
    """

    kind: str
    id: str
    minutes: float
    expected_minutes: float
    elapsed: float
    why: str
    causes: Causes
    branches: tuple[Branch, ...] = ()
    folded: tuple[str, ...] = ()
    folded_chance: float = 0.0
    due: tuple[str, ...] = ()
    put_back: tuple[str, ...] = ()
    folded_causes: Causes = ()

    @property
    def ends(self) -> bool:
        """Whether the way ends here."""
        return not self.branches and not self.folded

    @property
    def step(self) -> str:
        """What to do here, in two words: "check linkage_feel", "close", "proof run"."""
        if self.kind == "done":
            return "close" if self.ends else "proof run"
        return {"refer": "hand over", "depth": "go on", "other": "not as said"}.get(self.kind, f"{self.kind} {self.id}")

    def after(self, outcome: str) -> ChartStep | None:
        """The node after an outcome; None where it is folded or cannot be seen here."""
        return next((branch.then for branch in self.branches if outcome in branch.outcomes), None)


@dataclass(frozen=True, slots=True)
class Chart:
    """The chart of one complaint at one set. `depth`: most steps on one way. `least`: ways that fewer sets than this
    share would go are folded, but for a proof run that passes. `fingerprint`: that of the knowledge it is made from.
    `measured`: the check that its root makes because it is what was said, beyond `depth`; empty where the set must not
    run, or nothing can be measured."""

    complaint: str
    features: Mapping[str, str | float]
    tolerance: str
    depth: int
    least: float
    fingerprint: str
    root: ChartStep
    measured: str = ""


@dataclass(frozen=True, slots=True)
class ChartDifference:
    """Where two charts part: `path` is (step, outcome) from the start, `old` and `new` what each says there."""

    path: tuple[tuple[str, str], ...]
    old: str
    new: str


# ---- what is in a chart


def walk(node: ChartStep) -> Iterator[ChartStep]:
    """The node and every node after it, each before what follows it, most probable branch first."""
    yield node
    for branch in node.branches:
        yield from walk(branch.then)


def cautions(knowledge: Knowledge, drawn: Chart, remedies: Iterable[str] = ()) -> tuple[str, ...]:
    """Ids of the cautions of the complaint, of every step and of more remedies, in the knowledge's order."""
    named = [("complaint", drawn.complaint), *(("remedy", name) for name in remedies)]
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
        if {"depth", "other"} & {one.kind, other.kind}:
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


def mean(parts: Sequence[tuple[float, Causes]]) -> Causes:
    """Causes with the mean of their probabilities, weighted; the most probable first."""
    total = fsum(weight for weight, _ in parts)
    causes: dict[str, list[float]] = {}
    for weight, listed in parts:
        for cause, chance in listed:
            causes.setdefault(cause, []).append(weight * chance / total)
    means = ((cause, fsum(chances)) for cause, chances in causes.items())
    return tuple(sorted(means, key=lambda item: (-item[1], item[0])))


def fold(drawn: Chart, least: float) -> Chart:
    """The same chart with ways folded that fewer than this share of the sets would go, as in `chart`; nothing is
    planned anew. What is folded already stays so."""

    def kept(node: ChartStep) -> ChartStep:
        branches, rare = [], []
        for branch in node.branches:
            whole = branch.then.kind == "other" or (node.kind != "check" and branch.outcomes == ("passed",))
            if branch.reach < least and not whole:
                rare.append(branch)
            else:
                branches.append(replace(branch, then=kept(branch.then)))
        parts = [(node.folded_chance, node.folded_causes)] if node.folded else []
        return replace(
            node,
            branches=tuple(branches),
            folded=(*(name for branch in rare for name in branch.outcomes), *node.folded),
            folded_chance=fsum([node.folded_chance, *(branch.chance for branch in rare)]),
            folded_causes=mean([*((branch.chance, branch.then.causes) for branch in rare), *parts])
            if rare or parts
            else (),
        )

    return replace(drawn, least=max(least, drawn.least), root=kept(drawn.root))
