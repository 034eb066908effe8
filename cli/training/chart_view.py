"""A decision chart at the terminal: a tree where lines can be drawn, else one numbered fact a line, or JSON.

Purpose: cautions first, then the chart, then the remedies that its ends name.
Law: nothing is wider than the screen; where the tree gets too deep for it, it goes on further down.
Not here: the words (see `chart_words`), and the command (see `chart`).
"""

from __future__ import annotations

import io
import re
import sys

from ...engine import Knowledge
from ...engine.problems import printable
from ...engine.teaching import Branch, Chart, ChartStep, cautions
from ..record import LOCAL_CODES, held
from ..terminal import Screen, minutes, wrapping
from .chart_words import ChartWords

_CAUSES = 5
_ROOM = 24
"""Columns that a step must have for itself; where less is left, the chart goes on further down."""


def as_json(told: ChartWords) -> dict[str, object]:
    """Everything that `--json` prints."""
    drawn = told.chart

    def node_of(node: ChartStep) -> dict[str, object]:
        return {
            "kind": node.kind,
            "id": node.id,
            "number": told.number(node),
            "says": told.head(node),
            "ends": node.ends,
            "minutes": node.minutes,
            "expected_minutes": node.expected_minutes,
            "elapsed_minutes": node.elapsed,
            "why": node.why,
            "causes": [{"id": name, "probability": chance} for name, chance in node.causes[:_CAUSES]],
            "due": list(node.due),
            "put_back": list(node.put_back),
            "folded": {
                "outcomes": list(node.folded),
                "chance": node.folded_chance,
                "causes": [{"id": name, "probability": chance} for name, chance in node.folded_causes[:_CAUSES]],
            },
            "commonest": told.commonest(node),
            "branches": [
                {
                    "outcomes": list(branch.outcomes),
                    "chance": branch.chance,
                    "reach": branch.reach,
                    "then": node_of(branch.then),
                }
                for branch in node.branches
            ],
        }

    return {
        "version": 1,
        "held": held.as_json(told.holds),
        "complaint": drawn.complaint,
        "title": told.knowledge.complaints[drawn.complaint].title,
        "features": dict(drawn.features),
        "tolerance": drawn.tolerance,
        "depth": drawn.depth,
        "least": drawn.least,
        "knowledge": drawn.fingerprint,
        "cautions": list(cautions(told.knowledge, drawn, [each.id for each in told.remedies])),
        "measured": drawn.measured,
        "remedies": [
            {
                "letter": each.letter,
                "id": each.id,
                "title": each.title,
                "where": each.where,
                "start": each.start,
                "right_when": each.right,
            }
            for each in told.remedies
        ],
        "first": node_of(drawn.root),
    }


def show(screen: Screen, told: ChartWords, why: bool = False) -> None:
    """Cautions, then the chart: a tree where lines can be drawn, else one numbered fact a line."""
    screen.heading(told.title)
    if told.stop:
        screen.line(told.stop, "bold")
    screen.line(LOCAL_CODES, "bold")
    for title, sentence in told.cautions():
        screen.caution(title, sentence)
    screen.line()
    screen.line(told.set)
    for remark in told.remarks:
        screen.note(remark)
    screen.line()
    if screen.drawn:
        _Tree(screen, told, why).draw()
    else:
        _facts(screen, told, why)
    if told.remedies:
        screen.heading("Remedies")
    for row in told.remedies:
        screen.line(f"{row.letter}. {row.title}", "bold")
        screen.line(row.said, indent="   ", hanging="   ")
    screen.line()
    screen.line(told.proof)


def chart_rows(knowledge: Knowledge, drawn: Chart) -> list[str]:
    """The rows of a chart as `show` draws them on a wide screen, without the cautions above it."""
    paper = io.StringIO()
    _Tree(Screen(file=paper, width=100), ChartWords(knowledge, drawn), why=False).draw()
    return paper.getvalue().splitlines()


def _about(told: ChartWords, node: ChartStep, why: bool) -> list[str]:
    """What stands under a step."""
    likely, due = told.likely(node), told.due(node)
    takes = told.takes(node)
    rest = f"; about {minutes(node.expected_minutes)} to fixed and proven" if takes else ""
    found = [f"{takes}{rest}" if takes else ""]
    back = told.put_back(node)
    found.append(f"first put back on: {back}" if back else "")
    found.append(f"then due, before the proof run: {due}" if due else "")
    found.append(f"most likely: {likely}" if likely else "")
    found.append(node.why if why else "")
    return [text for text in found if text]


def _then(told: ChartWords, branch: Branch) -> str:
    """What stands where a way ends."""
    if branch.then.kind == "other":
        return f"{told.end(branch.then)}; {told.elsewhere(branch)}"
    return told.end(branch.then)


def _facts(screen: Screen, told: ChartWords, why: bool) -> None:
    """One fact a line, every step by its number."""
    queue = [told.chart.root]
    while queue:
        node = queue.pop(0)
        number = told.number(node)
        if not number:  # a chart that has nothing to propose but to hand over
            screen.line(f"{told.end(node)}.")
            continue
        screen.line(f"Step {number}. {told.head(node)}; {'; '.join(_about(told, node, why))}.")
        for branch in node.branches:
            number_then = told.number(branch.then)
            follows = f"step {number_then}" if number_then else _then(told, branch)
            commonest = ", the commonest way" if told.commonest(branch.then) else ""
            screen.line(f"Step {number}, {told.branch(node, branch)}{commonest}: {follows}.")
        if node.folded:
            screen.line(f"Step {number}, {told.folded(node)}.")
        queue[:0] = [branch.then for branch in node.branches if told.number(branch.then)]


class _Tree:
    """The chart as a tree; where it gets too deep for the width, it goes on below under the number of the step."""

    def __init__(self, screen: Screen, told: ChartWords, why: bool) -> None:
        self._screen, self._told, self._why = screen, told, why
        fine = (getattr(sys.stdout, "encoding", None) or "ascii").lower().startswith("utf")
        wide = not screen.narrow
        if fine:
            self._fork, self._last, self._bar = ("├─ ", "└─ ", "│  ") if wide else ("├ ", "└ ", "│ ")
        else:
            self._fork, self._last, self._bar = ("+- ", "+- ", "|  ") if wide else ("+ ", "+ ", "| ")
        self._later: list[ChartStep] = []

    def draw(self) -> None:
        self._node(self._told.chart.root, "", "")
        while self._later:
            node = self._later.pop(0)
            self._screen.line()
            self._node(node, "", "")

    def _node(self, node: ChartStep, first: str, prefix: str) -> None:
        told = self._told
        number = told.number(node)
        below = prefix + (self._bar if node.branches or node.folded else " " * len(self._bar))
        if not number:
            self._say(told.end(node), "", first, prefix)
            return
        self._say(f"{number}. {told.head(node)}", "bold", first, below)
        for text in _about(told, node, self._why):
            self._say(text, "", below, below)
        rows = len(node.branches) + bool(node.folded)
        for place, branch in enumerate(node.branches, 1):
            last = place == rows
            inner = prefix + (" " * len(self._bar) if last else self._bar)
            style = "bold" if told.commonest(branch.then) else ""
            self._say(told.branch(node, branch), style, prefix + (self._last if last else self._fork), inner)
            self._then(branch, inner)
        if node.folded:
            self._say(told.folded(node), "", prefix + self._last, prefix + " " * len(self._bar))

    def _say(self, text: str, style: str, first: str, following: str) -> None:
        """Text, wrapped so that a figure keeps its unit."""
        whole = re.sub(r"(?<=\d) (?=%|min\b|h\b)", "\xa0", printable(text))
        rows = wrapping.wrap(whole, self._screen.width - len(first)) or [""]
        for number, row in enumerate(rows):
            edge = following if number else first
            self._screen.line(row.replace("\xa0", " "), style, edge, edge)

    def _then(self, branch: Branch, prefix: str) -> None:
        node = branch.then
        if node.ends and node.kind == "other":
            self._say(_then(self._told, branch), "", prefix, prefix)
        elif self._told.number(node) and len(prefix) + len(self._bar) > self._screen.width - _ROOM:
            self._say(f"step {self._told.number(node)}, further down", "", prefix, prefix)
            self._later.append(node)
        else:
            self._node(node, prefix, prefix)
