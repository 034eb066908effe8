"""What is to be drawn: an item of the knowledge with what it is tied to, or the areas and how alike they look.

Purpose: from an id to items in layers and ties between them, each with its words: causes left, checks in the middle,
complaints and remedies right.
Law: ties are those of the graph that the reasoning is compiled from; the strongest come first; what is left out is
counted and said.
Not here: places (see `review.layers`), the picture (see `picture`), everything on one item (see `page`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import fsum, prod

from ...engine import HertzwrightError, Knowledge
from ...engine.belief import look_alikes
from ...engine.problems import in_sentence, quoted
from ...engine.review import areas_alike, strength
from ..terminal import minutes, percent
from . import page

DRAWN = ("cause", "check", "remedy", "complaint", "setting", "area")
_LEAST = {"cause": 0.1, "remedy": 0.0, "check": 0.2, "complaint": 0.2, "setting": 0.0, "area": 0.8}
_CLEAR = 0.25
"""Chance from which a cause counts as showing a complaint, or a check, in the picture of another item."""
_MOST = {"cause": 18, "check": 16, "complaint": 16, "area": 3}
"""Checks of a cause, causes of a check or complaint, checks of each cause of an area, unless it is said how weak they
may be."""
_NEAREST = 2


class DrawError(HertzwrightError):
    """Nothing that can be drawn."""


@dataclass(frozen=True, slots=True)
class Part:
    """A row in a box that stands for several: title, what is told of it, and the sentences of its ties."""

    title: str
    about: str
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Item:
    """A box. about: what stands under its title. main: it is the one asked for. parts: what is bundled in it."""

    id: str
    kind: str
    title: str
    about: str
    layer: int
    main: bool = False
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class Tie:
    """A line from an item to one of a higher layer. kind: "shows", "says", "cures", "proves", "then", "before",
    "disturbs", "accepts", "works" or "alike".

    words: its label; sentence: the same for who cannot see it. chance: how strong, 0 to 1; None where that is no
    question.
    """

    source: str
    target: str
    kind: str
    words: str
    sentence: str
    chance: float | None = None


@dataclass(frozen=True, slots=True)
class Scene:
    """One picture. kind: one of DRAWN, or "overview", which has no id. left_out: ties too weak for `least`."""

    kind: str
    id: str
    title: str
    items: tuple[Item, ...]
    ties: tuple[Tie, ...]
    notes: tuple[str, ...]
    least: float
    left_out: int


def scene(knowledge: Knowledge, name: str | None, least: float | None = None) -> Scene:
    """The picture of an item, or the overview for None.

    least: chance below which ties are left out; None takes what suits the kind. Raises DrawError where there is
    nothing to draw, UnknownItemError where nothing has the id.
    """
    if name is None:
        return _overview(knowledge, least)
    kinds = page.kinds_of(knowledge, name)
    if not kinds:
        raise page.unknown(knowledge, name)
    kind = next((each for each in DRAWN if each in kinds), "")
    if not kind:
        raise DrawError(
            f"{quoted(name)} is a {kinds[0]}, which has no picture; drawn are a {', a '.join(DRAWN[:4])}, "
            f"a step of setting or an area; `hertzwright knowledge show {name}` tells about it"
        )
    retired = page.retirement(knowledge, kind, name)
    if retired is not None:
        instead = f"; draw {retired.replaced_by} instead" if retired.replaced_by else ""
        raise DrawError(f"{quoted(name)} is retired since {retired.since}: {retired.reason}{instead}")
    return _Sketch(knowledge, kind, name, least).scene()


class _Sketch:
    """The picture of one item while it is put together."""

    def __init__(self, knowledge: Knowledge, kind: str, name: str, least: float | None) -> None:
        self._knowledge, self._kind, self._name = knowledge, kind, name
        self._least = _LEAST[kind] if least is None else least
        self._most = _MOST.get(kind) if least is None else None
        self._graph = knowledge.graph
        self._items: dict[str, Item] = {}
        self._ties: list[Tie] = []
        self._notes: list[str] = []
        self._left_out = 0

    def scene(self) -> Scene:
        of = {
            "cause": self._cause,
            "check": self._check,
            "remedy": self._remedy,
            "complaint": self._complaint,
            "setting": self._setting,
            "area": self._area,
        }
        title = of[self._kind]()
        if self._name in self._items:
            self._items[self._name] = replace(self._items[self._name], main=True)
        if self._left_out:
            one = "cause" if self._kind in ("check", "complaint") else "line"
            what = f"{self._left_out} weaker {one}{'' if self._left_out == 1 else 's'}"
            self._notes.append(f"{what} left out; --least 0 draws everything.")
        ties = [tie for tie in self._ties if tie.source in self._items and tie.target in self._items]
        return Scene(
            self._kind, self._name, title, tuple(self._items.values()), tuple(ties), tuple(self._notes), self._least,
            self._left_out,
        )  # fmt: skip

    # ---- kinds

    def _cause(self) -> str:
        cause = self._knowledge.causes[self._name]
        self._add("cause", self._name, 0)
        for check in self._strongest(self._name, self._shown_in(self._name)):
            self._add("check", check, 1)
            self._shows(self._name, check)
        self._complaints_of(self._name)
        for remedy in cause.remedies:
            self._add("remedy", remedy, 2)
            self._cures(self._name, remedy)
        alike = [other for other, _ in look_alikes(self._knowledge, self._name)]
        if alike:
            told = "; ".join(f"{self._knowledge.causes[other].title} ({other})" for other in alike)
            self._notes.append(f"Looks most like: {told}.")
        return f"{cause.title}: how it shows and what cures it"

    def _check(self) -> str:
        check = self._knowledge.checks[self._name]
        causes = [each for each in check.parents if each in self._graph]
        for cause in self._kept({each: self._chance(each, self._name) for each in causes}):
            self._shows(cause, self._name)
        self._add("check", self._name, 1)
        for complaint, each in self._knowledge.complaints.items():
            if each.retired is None and self._name in each.says:
                self._says(self._name, complaint)
        for remedy, done in self._knowledge.remedies.items():
            if done.retired is None and self._name in done.proof:
                self._proves(self._name, remedy)
        return f"{check.title}: what shows in it and what it is good for"

    def _complaint(self) -> str:
        complaint = self._knowledge.complaints[self._name]
        checks = [check for check in complaint.says if check in self._graph]
        causes = [
            cause
            for cause, each in self._knowledge.causes.items()
            if each.retired is None and any(check in each.shows for check in checks)
        ]
        for cause in self._kept({each: self._says_so(each, self._name) for each in causes}):
            for check in checks:
                self._shows(cause, check, complaint.says[check])
        for check in checks:
            self._add("check", check, 1)
            self._says(check, self._name)
        return f"{complaint.title}: what may be behind it"

    def _remedy(self) -> str:
        remedy = self._knowledge.remedies[self._name]
        checks = [check for check in remedy.proof if check in self._graph]
        for cause in (each for each in remedy.cures if each in self._graph):
            self._add("cause", cause, 0)
            self._cures(cause, self._name)
            for check in checks:
                self._shows(cause, check)
        for check in checks:
            self._add("check", check, 1)
            self._proves(check, self._name)
        self._add("remedy", self._name, 2)
        for other in (each for each in remedy.then if each in self._graph):
            self._add("remedy", other, 3)
            title = self._knowledge.remedies[other].title
            self._tie(self._name, other, "then", "then due", f"After {remedy.title}, this is due: {title}")
        return f"{remedy.title}: what it cures and what proves it"

    def _setting(self) -> str:
        catalogue = self._knowledge.catalogue
        step = catalogue.setting[self._name]
        before = [each for each in step.needs if each in self._graph]
        for other in before:
            self._add("setting", other, 0)
        self._add("setting", self._name, 1)
        for other in before:
            self._course(other, self._name, "before", "before", "comes before")
        for check in (each for each in step.accepts if each in self._graph):
            self._add("check", check, 2)
            self._course(self._name, check, "accepts", "accepted by", "is accepted by")
        for remedy in (each for each in step.works if each in self._graph):
            self._add("remedy", remedy, 2)
            self._course(self._name, remedy, "works", "set by", "is set by")
        for each in catalogue.setting.values():
            if each.retired is None and self._name in each.needs:
                self._add("setting", each.id, 2)
                self._course(self._name, each.id, "before", "before", "comes before")
            elif each.retired is None and each.id in step.disturbs and each.id not in self._items:
                self._add("setting", each.id, 2)
                self._course(self._name, each.id, "disturbs", "disturbs", "disturbs")
        return f"{step.title}: what comes before it, what accepts it and what waits for it"

    def _course(self, source: str, target: str, kind: str, words: str, sentence: str) -> None:
        one, other = (self._items[each].title if each in self._items else each for each in (source, target))
        self._tie(source, target, kind, words, f"{one} {sentence} {other}")

    def _area(self) -> str:
        causes = list(self._graph.successors(f"area:{self._name}"))
        shown = {cause: self._strongest(cause, self._shown_in(cause)) for cause in causes}
        checks: dict[str, float] = {}
        for cause in causes:
            self._add("cause", cause, 0)
            for check in shown[cause]:
                checks[check] = max(checks.get(check, 0.0), self._chance(cause, check))
        for check, _ in sorted(checks.items(), key=lambda pair: -pair[1]):
            self._add("check", check, 1)
        for cause in causes:
            for check in shown[cause]:
                self._shows(cause, check)
            for remedy in self._knowledge.causes[cause].remedies:
                self._add("remedy", remedy, 2)
                self._cures(cause, remedy)
        return f"{self._knowledge.catalogue.areas[self._name]}: its causes, where they show and what cures them"

    # ---- items and ties

    def _kept(self, chances: dict[str, float]) -> list[str]:
        """Of causes and how strongly they show: those to be drawn, strongest first. They become items."""
        strong = [cause for cause, chance in chances.items() if chance >= self._least]
        kept = sorted(strong, key=lambda cause: -chances[cause])[: self._most]
        self._left_out += len(chances) - len(kept)
        for cause in kept:
            self._add("cause", cause, 0)
        return kept

    def _add(self, kind: str, name: str, layer: int) -> None:
        if name not in self._items:
            self._items[name] = Item(name, kind, self._title(kind, name), self._about(kind, name), layer)

    def _title(self, kind: str, name: str) -> str:
        return str(getattr(page.tables(self._knowledge)[kind][name], "title", name))

    def _about(self, kind: str, name: str) -> str:
        if kind == "cause":
            cause = self._knowledge.causes[name]
            area = "" if self._kind == "area" else f", {self._knowledge.catalogue.areas[cause.area].lower()}"
            return f"cause in {100 * cause.how_common:.2g} % of sets{area}"
        if kind == "complaint":
            complaint = self._knowledge.complaints[name]
            several = len(complaint.says) > 1
            return f"complaint, {complaint.mode} of {len(complaint.says)} checks" if several else "complaint"
        if kind == "setting":
            state = self._knowledge.catalogue.states[self._knowledge.catalogue.setting[name].state].title
            return f"setting, {in_sentence(state)}"
        step = self._knowledge.checks[name] if kind == "check" else self._knowledge.remedies[name]
        state = self._knowledge.catalogue.states[step.state].title
        return f"{kind}, {minutes(step.minutes)}, {in_sentence(state)}"

    def _shown_in(self, cause: str) -> list[str]:
        return [node for node in self._graph.successors(cause) if self._graph.edges[cause, node]["kind"] == "shows"]

    def _strongest(self, cause: str, checks: list[str]) -> list[str]:
        strong = [check for check in checks if self._chance(cause, check) >= self._least]
        kept = sorted(strong, key=lambda check: -self._chance(cause, check))[: self._most]
        self._left_out += len(checks) - len(kept)
        return kept

    def _chance(self, cause: str, check: str) -> float:
        """That the check shows anything but the normal answer."""
        row: tuple[float, ...] = self._graph.edges[cause, check]["strengths"]
        return fsum(row[1:])

    def _says_so(self, cause: str, complaint: str) -> float:
        """Chance that a cause alone shows what a complaint says."""
        said = self._knowledge.complaints[complaint]
        chances = [
            fsum(self._knowledge.likelihood(check, outcome, frozenset({cause})) for outcome in outcomes)
            for check, outcomes in said.says.items()
        ]
        return prod(chances) if said.mode == "all" else 1.0 - prod(1.0 - chance for chance in chances)

    def _complaints_of(self, cause: str) -> None:
        for complaint, each in self._knowledge.complaints.items():
            checks = [check for check in each.says if check in self._items]
            if each.retired is None and checks and self._says_so(cause, complaint) >= max(_CLEAR, self._least):
                for check in checks:
                    self._says(check, complaint)

    def _shows(self, cause: str, check: str, outcomes: tuple[str, ...] = ()) -> None:
        """That a cause shows in a check: in any answer but the normal one, or in the ones given."""
        if not self._graph.has_edge(cause, check):
            return
        names: tuple[str, ...] = self._graph.nodes[check]["outcomes"]
        row: tuple[float, ...] = self._graph.edges[cause, check]["strengths"]
        written = self._knowledge.causes[cause].words.get(check, {})
        wanted = outcomes or names[1:]
        shown = sorted((-chance, at) for at, chance in enumerate(row) if chance > 0.0 and names[at] in wanted)
        told = []
        for negative, at in shown:
            said = strength(self._knowledge, -negative, word=written.get(names[at], ""))
            told.append(f"{said.word or percent(-negative)} {names[at]}".replace("_", " "))
        if told:
            words = ", ".join(told)
            sentence = f"{self._title('cause', cause)} shows in {self._title('check', check)}: {words}"
            self._tie(cause, check, "shows", words, sentence, -fsum(negative for negative, _ in shown))

    def _says(self, check: str, complaint: str) -> None:
        outcomes = self._knowledge.complaints[complaint].says[check]
        words = " or ".join(outcome.replace("_", " ") for outcome in outcomes)
        self._add("complaint", complaint, 2)
        sentence = f"{self._title('complaint', complaint)} means that {self._title('check', check)} shows {words}"
        self._tie(check, complaint, "says", f"means {words}", sentence)

    def _cures(self, cause: str, remedy: str) -> None:
        chance = self._knowledge.remedies[remedy].cures[cause]
        word = strength(self._knowledge, chance).word.replace("_", " ") or f"{percent(chance)} of the time"
        sentence = f"{self._title('remedy', remedy)} cures {self._title('cause', cause)}: {word}"
        self._tie(cause, remedy, "cures", f"cured {word}", sentence, chance)

    def _proves(self, check: str, remedy: str) -> None:
        self._add("remedy", remedy, 2)
        sentence = f"{self._title('check', check)} proves {self._title('remedy', remedy)}"
        self._tie(check, remedy, "proves", "proves it", sentence)

    def _tie(self, source: str, target: str, kind: str, words: str, sentence: str, chance: float | None = None) -> None:
        self._ties.append(Tie(source, target, kind, words, f"{sentence}.", chance))


# ---- the areas


def _overview(knowledge: Knowledge, least: float | None) -> Scene:
    """The areas. Without `least`, each is tied to the two that it looks most like."""
    titles = knowledge.catalogue.areas
    items = []
    for area, title in titles.items():
        counts = []
        for table, one in ((knowledge.causes, "cause"), (knowledge.checks, "check"), (knowledge.remedies, "remedy")):
            count = sum(getattr(each, "area", "") == area and each.retired is None for each in table.values())
            if count:
                counts.append(f"{count} {one if count == 1 else 'remedies' if one == 'remedy' else f'{one}s'}")
        items.append(Item(area, "area", title, ", ".join(counts) or "empty", 0))
    every = areas_alike(knowledge)
    nearest: dict[str, int] = {}
    ties, notes = [], []
    for each in every:
        ends = (each.first, each.second)
        near = min(nearest.get(end, 0) for end in ends) < _NEAREST
        for end in ends:
            nearest[end] = nearest.get(end, 0) + 1
        if each.value < least if least is not None else not near:
            continue
        one, two = (titles[end] for end in ends)
        most = " and ".join(knowledge.causes[cause].title for cause in each.causes)
        told = f"{one} and {two} look alike by {percent(each.value)}; most alike are {most} ({percent(each.most)})."
        ties.append(Tie(*ends, "alike", percent(each.value), told, each.value))
        notes.append(told)
    what = (
        "Percentages: of what the causes of two areas show, how much is the same, each taken with the one of the other "
        "area that looks most like it."
    )
    out = len(every) - len(ties)
    rest = [f"{out} weaker {'line' if out == 1 else 'lines'} left out; --least 0 draws everything."] if out else []
    title = "Areas of the knowledge, and which look alike"
    return Scene("overview", "", title, tuple(items), tuple(ties), (what, *notes, *rest), least or 0.0, out)
