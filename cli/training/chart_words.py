"""A decision chart in words: what stands at each step, for the terminal and for paper alike.

Purpose: number the steps and put each node, branch and remark of a chart into one short line.
Law: pure; the same chart and knowledge give the same words. A share is never called 0 % or 100 % where it is not.
Not here: where the words stand (see `chart`, `chart_page`).
"""

from __future__ import annotations

from collections.abc import Iterable

from ...engine import Hold, Knowledge
from ...engine.compiler import Drawing, drawing_of
from ...engine.job import GeneratingSet, danger
from ...engine.problems import in_sentence
from ...engine.teaching import PROOF, Branch, Chart, ChartStep, cautions, walk
from ..terminal import minutes, percent

_NAMED = 0.02
GO_ON = "Go on with the program"


class ChartWords:
    """A chart with its knowledge: every text about it."""

    def __init__(self, knowledge: Knowledge, chart: Chart) -> None:
        self.knowledge = knowledge
        self.chart = chart
        steps = [node for node in walk(chart.root) if not node.ends]
        self._numbers = {id(node): number for number, node in enumerate(steps, 1)}

    def number(self, node: ChartStep) -> int:
        """Number of a step, from 1; 0 where the way ends."""
        return self._numbers.get(id(node), 0)

    @property
    def title(self) -> str:
        return f"Decision chart: {self.knowledge.complaints[self.chart.complaint].title}"

    @property
    def holds(self) -> tuple[Hold, ...]:
        """What the complaint holds, before anything was done."""
        genset = GeneratingSet(self.knowledge, self.chart.features, self.chart.tolerance)
        return danger.of_complaint(genset, self.chart.complaint, "present")

    @property
    def stop(self) -> str:
        """What comes before everything else; empty where nothing does."""
        if not self.holds:
            return ""
        return "STOP: shut the set down and prove that the throttle closes before anything else."

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        """The drawings of its steps, in the order of the steps, each once."""
        steps = [node.id for node in walk(self.chart.root) if node.kind in ("check", "remedy")]
        found = (drawing_of(self.knowledge, step) for step in steps)
        return tuple({each.id: each for each in found if each is not None}.values())

    @property
    def set(self) -> str:
        """The set that the chart is for: its features where they are not the usual ones."""
        usual = self.knowledge.features()
        catalogue = self.knowledge.catalogue
        unlike = [
            f"{catalogue.features[name].title.lower()} {_value(value)} {catalogue.features[name].unit}".rstrip()
            for name, value in self.chart.features.items()
            if value != usual[name]
        ]
        tolerance = catalogue.tolerances[self.chart.tolerance].title
        return f"For a set with {', '.join(unlike) or 'the usual features'}; limits: {tolerance}."

    @property
    def remarks(self) -> tuple[str, ...]:
        """How the chart is to be read, and what it leaves out."""
        chart = self.chart
        said = [
            f"{chart.depth} step{'s' if chart.depth > 1 else ''} deep. Shares are of the sets that come to the step, "
            "worked out from the knowledge, not counted."
        ]
        if chart.least > 0.0 and any(node.folded for node in walk(chart.root)):
            said.append(
                f"Else: fewer than {_share(chart.least)} of the sets with this complaint would come that way; "
                "there, and where an answer is not on the chart, go on with the program."
            )
        else:
            said.append("Where an answer is not on the chart, go on with the program.")
        return tuple(said)

    def cautions(self) -> tuple[tuple[str, str], ...]:
        """(title, first sentence) of every caution that complaint and steps call for."""
        catalogue = self.knowledge.catalogue.cautions
        return tuple(
            (catalogue[name].title, catalogue[name].text.strip().splitlines()[0])
            for name in cautions(self.knowledge, self.chart)
        )

    def head(self, node: ChartStep) -> str:
        """What to do at a node."""
        if node.kind == "check":
            return f"Check: {self.knowledge.checks[node.id].title}"
        if node.kind == "remedy":
            return f"Remedy: {self.knowledge.remedies[node.id].title}"
        if node.kind == "done":
            return "Close: fixed and proven" if node.ends else "Proof run"
        return "Hand the set over" if node.kind == "refer" else GO_ON

    def end(self, node: ChartStep) -> str:
        """Where a way ends, with what is then most likely."""
        likely = self.likely(node)
        return self.head(node) + (f"; most likely: {likely}" if likely else "")

    def takes(self, node: ChartStep) -> str:
        """Minutes and set-up state of a step; empty where the way ends."""
        if node.ends:
            return ""
        states, knowledge = self.knowledge.catalogue.states, self.knowledge
        if node.kind == "check":
            return f"{minutes(node.minutes)}, {in_sentence(states[knowledge.checks[node.id].state].title)}"
        if node.kind == "remedy":
            place = in_sentence(states[knowledge.remedies[node.id].state].title)
            return f"{minutes(node.minutes)} with the proof run, {place}"
        return f"{minutes(node.minutes)}, {in_sentence(states[knowledge.catalogue.costs.proof_state].title)}"

    def put_back(self, node: ChartStep) -> str:
        """What goes back on before a step."""
        fittings = self.knowledge.catalogue.fittings
        return ", ".join(in_sentence(fittings[name].title) for name in node.put_back)

    def likely(self, node: ChartStep, most: int = 2) -> str:
        """The leading causes at a node with their probability; empty at a closed job."""
        if node.ends and node.kind == "done":
            return ""
        named = [
            f"{in_sentence(self.knowledge.causes[cause].title)} {percent(chance)}"
            for cause, chance in node.causes[:most]
            if chance >= _NAMED
        ]
        return ", ".join(named)

    def due(self, node: ChartStep) -> str:
        """Remedies that follow a remedy before it is proven."""
        return ", ".join(in_sentence(self.knowledge.remedies[name].title) for name in node.due)

    def outcomes(self, node: ChartStep, names: Iterable[str]) -> str:
        """Outcomes of a step as one phrase."""
        listed = [name.replace("_", " ") for name in names]
        phrase = " or ".join(filter(None, (", ".join(listed[:-1]), listed[-1])))
        return f"proof run {phrase}" if node.kind != "check" and listed[0] in PROOF else phrase

    def branch(self, node: ChartStep, branch: Branch) -> str:
        """A branch with its share; where its answer holds a job, what comes first."""
        stops = any(
            set(branch.outcomes) & set(limit.outcomes.get(node.id, ()))
            for limit in self.knowledge.catalogue.danger.values()
        )
        stop = ": STOP, shut down, prove that the throttle closes" if stops and node.kind == "check" else ""
        return f"{self.outcomes(node, branch.outcomes)}, {_percent(branch.chance)}{stop}"

    def other(self, node: ChartStep) -> str:
        """What is folded at a step; empty where nothing is."""
        if not node.folded:
            return ""
        if not node.branches:
            return "whatever it shows"
        return f"else {self.outcomes(node, node.folded)}, {_percent(node.folded_chance)}"


def _value(value: str | float) -> str:
    return value.replace("_", " ") if isinstance(value, str) else f"{value:g}"


def _percent(chance: float) -> str:
    """A share; what several outcomes add up to may miss the whole by a rounding."""
    return percent(round(chance, 9))


def _share(least: float) -> str:
    """A small share in words that a wall can be read by."""
    hundred = 100 * least
    return f"{hundred:g} in 100" if hundred >= 1 else f"{10 * hundred:g} in 1,000"
