"""A decision chart in words: what stands at each step, for the terminal and for paper alike.

Purpose: number the steps, give each remedy that an end names a letter, and put each node, branch and remark of a chart
into one short line.
Law: pure; the same chart and knowledge give the same words. A share is never called 0 % or 100 % where it is not. Where
a way ends, the likely causes stand with their remedies.
Not here: where the words stand (see `chart`, `chart_page`), and the rows of the remedies (see `remedy_row`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from string import ascii_uppercase

from ...engine import Hold, Job, Knowledge
from ...engine.compiler import Drawing, drawing_of
from ...engine.job import GeneratingSet, danger
from ...engine.problems import in_sentence
from ...engine.setting import course_of
from ...engine.teaching import PROOF, Branch, Causes, Chart, ChartStep, cautions, walk
from ..terminal import minutes, percent
from . import remedy_row
from .remedy_row import RemedyRow

_NAMED = 0.02
_LIKELY, _MOST = 0.05, 3
"""Where a way ends: the least chance of a cause that is named, but for the first, and how many are."""
NOTHING = "No cause stands out: go on with a job"


@dataclass(frozen=True, slots=True)
class LikelyCause:
    """A cause where a way ends, with its remedy and the letter of that; empty where the knowledge has none for it."""

    cause: str
    chance: str
    remedy: str
    letter: str

    @property
    def said(self) -> str:
        """With the remedy in full."""
        return f"{self.short}, {in_sentence(self.remedy)}" if self.letter else self.short

    @property
    def short(self) -> str:
        """With the letter of the remedy alone."""
        return f"{self.cause} {self.chance}: {self.letter or 'hand the set over'}"


class ChartWords:
    """A chart with its knowledge: every text about it."""

    def __init__(self, knowledge: Knowledge, chart: Chart) -> None:
        self.knowledge = knowledge
        self.chart = chart
        self._job = Job(knowledge, dict(chart.features), chart.tolerance)
        self._known = GeneratingSet(knowledge, chart.features, chart.tolerance).remedies
        steps = [node for node in walk(chart.root) if not node.ends]
        self._numbers = {id(node): number for number, node in enumerate(steps, 1)}
        self._commonest = {id(node) for node in _commonest(chart.root)}
        named = dict.fromkeys(self._remedy_of(cause) for cause, _ in self._at_ends())
        self._letters = {remedy: _letter(at) for at, remedy in enumerate(filter(None, named))}

    @cached_property
    def remedies(self) -> tuple[RemedyRow, ...]:
        """Every remedy that an end names, in the order of their letters."""
        course = course_of(self.knowledge, self._job.features)
        known = self._known
        return tuple(remedy_row.row(self._job, course, known[name], letter) for name, letter in self._letters.items())

    @property
    def proof(self) -> str:
        """What is read after every remedy, with its limits."""
        return f"After every remedy the proof run: {remedy_row.proof(self._job)}."

    def commonest(self, node: ChartStep) -> bool:
        """Whether a node lies on the commonest way."""
        return id(node) in self._commonest

    def likely_causes(self, causes: Causes, most: int = _MOST) -> tuple[LikelyCause, ...]:
        """The leading causes where a way ends, each with its remedy."""
        return tuple(
            LikelyCause(
                in_sentence(self.knowledge.causes[cause].title),
                percent(chance),
                self.knowledge.remedies[remedy].title if remedy else "",
                self._letters.get(remedy, ""),
            )
            for cause, chance in _leading(causes, most)
            for remedy in [self._remedy_of(cause)]
        )

    def _at_ends(self) -> Iterator[tuple[str, float]]:
        """What every end names, in the order of the chart."""
        for node in walk(self.chart.root):
            if node.kind == "depth":
                yield from _leading(node.causes, _MOST)
            if node.folded:
                yield from _leading(node.folded_causes, _MOST if not node.branches else 1)

    def _remedy_of(self, cause: str) -> str:
        """The remedy that cures a cause most surely, the shorter one of two; empty where the set has none."""
        known = self._known
        named = [known[name] for name in self.knowledge.causes[cause].remedies if name in known]
        return min(named, key=lambda each: (-each.cures[cause], each.minutes, each.id)).id if named else ""

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
        first = " after what was said has been measured" if chart.measured else ""
        said = [
            f"{chart.depth} step{'s' if chart.depth > 1 else ''} deep{first}. Shares are of the sets that come to the "
            "step, worked out from the knowledge, not counted. A letter is a remedy, told under that letter."
        ]
        if chart.least > 0.0 and any(node.folded for node in walk(chart.root)):
            said.append(
                f"Else: fewer than {_share(chart.least)} of the sets with this complaint would come each such way."
            )
        return tuple(said)

    def cautions(self) -> tuple[tuple[str, str], ...]:
        """(title, first sentence) of every caution that complaint, steps and the remedies of the ends call for."""
        catalogue = self.knowledge.catalogue.cautions
        return tuple(
            (catalogue[name].title, catalogue[name].text.strip().splitlines()[0])
            for name in cautions(self.knowledge, self.chart, self._letters)
        )

    def head(self, node: ChartStep) -> str:
        """What to do at a node."""
        if node.kind == "check":
            return f"Check: {self.knowledge.checks[node.id].title}"
        if node.kind == "remedy":
            return f"Remedy: {self.knowledge.remedies[node.id].title}"
        if node.kind == "done":
            return "Close: fixed and proven" if node.ends else "Proof run"
        return {"refer": "Hand the set over", "other": "Not as it was said"}.get(node.kind, "")

    def end(self, node: ChartStep) -> str:
        """Where a way ends: what is then likely, each cause with its remedy."""
        return self._sentence(self.ending(node))

    def ending(self, node: ChartStep, *, short: bool = False) -> tuple[str, ...]:
        """The same in rows. short: only the likeliest cause with its remedy in full, the others with its letter."""
        if node.kind == "depth":
            return self._told(node.causes, _MOST, short)
        likely = self.likely(node) if node.kind == "refer" else ""
        return (self.head(node) + (f"; most likely: {likely}" if likely else ""),)

    def _told(self, causes: Causes, most: int, short: bool = False) -> tuple[str, ...]:
        likely = self.likely_causes(causes, most)
        return tuple(each.short if short and at else each.said for at, each in enumerate(likely)) or (NOTHING,)

    def _sentence(self, told: tuple[str, ...]) -> str:
        said = "; ".join(told)
        return said[:1].upper() + said[1:]

    def elsewhere(self, branch: Branch) -> str:
        """What to do where it is not as it was said: what else the complaint may mean, and charts that begin so."""
        known, chart = self.knowledge.complaints, self.chart
        said = known[chart.complaint]
        others = [
            self.knowledge.checks[name] for name in said.says if name != chart.measured and name in self._job.checks
        ]
        told = [f"measure too: {', '.join(in_sentence(each.title) for each in others)}"] if others else []
        for outcome in branch.outcomes:
            titles = [
                each.title
                for each in known.values()
                if each.retired is None and each.id != chart.complaint and outcome in each.says.get(chart.measured, ())
                and self.knowledge.checks[chart.measured].normal != outcome
            ]  # fmt: skip
            if titles:
                told.append(f"{outcome.replace('_', ' ')}: chart {' or '.join(titles)}")
        return "; ".join([*told, "or ask when it shows, and measure then"])

    def folded(self, node: ChartStep, *, short: bool = False) -> str:
        """What is folded at a step, with what is then likely; empty where nothing is. short: as in `ending`."""
        if not node.folded:
            return ""
        if node.branches:
            told = tuple(each.short if short else each.said for each in self.likely_causes(node.folded_causes, 1))
        else:
            told = self._told(node.folded_causes, _MOST, short)
        return f"{self.other(node)}: {'; '.join(told or (NOTHING,))}"

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

    @property
    def measures(self) -> str:
        """Title of the check with which the chart begins because it is what was said."""
        return self.knowledge.checks[self.chart.measured].title if self.chart.measured else ""

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
        stop = self._stops(node, branch.outcomes)
        return f"{self.outcomes(node, branch.outcomes)}, {_percent(branch.chance)}{stop}"

    def _stops(self, node: ChartStep, outcomes: Iterable[str]) -> str:
        """What comes first after an answer that holds a job."""
        limits = self.knowledge.catalogue.danger.values()
        held = node.kind == "check" and any(set(outcomes) & set(limit.outcomes.get(node.id, ())) for limit in limits)
        if not held:
            return ""
        charts = [
            each.title
            for each in self.knowledge.complaints.values()
            if each.retired is None and each.stop_first and each.id != self.chart.complaint
            and set(outcomes) & set(each.says.get(node.id, ()))
        ]  # fmt: skip
        then = f", then chart {' or '.join(charts)}" if charts else ""
        return f": STOP, shut down, prove that the throttle closes{then}"

    def other(self, node: ChartStep) -> str:
        """What is folded at a step; empty where nothing is."""
        if not node.folded:
            return ""
        held = [outcome for outcome in node.folded if self._stops(node, (outcome,))]
        rest = self._stops(node, held) if len(held) == len(node.folded) else ""
        first = f"{self.outcomes(node, held)}{self._stops(node, held)}; " if held and not rest else ""
        if not node.branches:
            return f"{first}whatever it shows{rest}"
        return f"{first}else {self.outcomes(node, node.folded)}, {_percent(node.folded_chance)}{rest}"


def _commonest(root: ChartStep) -> Iterator[ChartStep]:
    """The nodes on the commonest way, from the first; what is not as it was said is on no way."""
    node: ChartStep | None = root
    while node is not None:
        yield node
        node = next((branch.then for branch in node.branches if branch.then.kind != "other"), None)


def _leading(causes: Causes, most: int) -> list[tuple[str, float]]:
    """The causes that an end names: the first where it counts at all, and others that are likely as well."""
    named = [pair for pair in causes[:most] if pair[1] >= _LIKELY]
    return named or [pair for pair in causes[:1] if pair[1] >= _NAMED]


def _letter(at: int) -> str:
    """A to Z, then AA to AZ and so on."""
    rest, last = divmod(at, len(ascii_uppercase))
    return (_letter(rest - 1) if rest else "") + ascii_uppercase[last]


def _value(value: str | float) -> str:
    return value.replace("_", " ") if isinstance(value, str) else f"{value:g}"


def _percent(chance: float) -> str:
    """A share; what several outcomes add up to may miss the whole by a rounding."""
    return percent(round(chance, 9))


def _share(least: float) -> str:
    """A small share in words that a wall can be read by."""
    hundred = 100 * least
    return f"{hundred:g} in 100" if hundred >= 1 else f"{10 * hundred:g} in 1,000"
