"""The values of the knowledge base: what a cause, a check, a remedy is.

Purpose: frozen values in a stated order, each with the place it was written at.
Law: nothing here reads a file, computes a probability or knows a terminal.
Not here: the work around the steps (see `work_model`); whether the values make sense together (see `rules`) or are well
formed (see `schema`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Features = Mapping[str, str | float]


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where a value was written: file as given to the loader, line and column from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a statement comes from. `kind` is "published", "common practice" or "from memory"."""

    kind: str
    title: str = ""
    number: str = ""
    section: str = ""

    def __str__(self) -> str:
        return ", ".join(part for part in (self.title, self.number, self.section) if part) or self.kind


@dataclass(frozen=True, slots=True)
class Comparison:
    """One feature compared: equal to one of `values`, or a number at least / below a bound."""

    feature: str
    values: tuple[str, ...] = ()
    at_least: float | None = None
    below: float | None = None

    def holds(self, features: Features) -> bool:
        value = features[self.feature]
        if self.values:
            return str(value) in self.values or (
                not isinstance(value, str) and any(_same_number(value, text) for text in self.values)
            )
        number = float(value)
        return (self.at_least is None or number >= self.at_least) and (self.below is None or number < self.below)


def _same_number(value: float, text: str) -> bool:
    try:
        return float(text) == value
    except ValueError:
        return False


@dataclass(frozen=True, slots=True)
class Condition:
    """All of its tests hold. The empty condition always holds."""

    tests: tuple[Comparison, ...] = ()

    def holds(self, features: Features) -> bool:
        return not self.tests or all(test.holds(features) for test in self.tests)


ALWAYS = Condition()


@dataclass(frozen=True, slots=True)
class Word:
    """A word of strength and the probability it stands for."""

    id: str
    value: float
    brief: str
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class Feature:
    """A fact about the set that prunes causes and checks. `kind` is "choice" or "number"."""

    id: str
    title: str
    brief: str
    ask: str
    kind: str
    default: str | float
    choices: tuple[str, ...] = ()
    unit: str = ""
    lowest: float = 0.0
    highest: float = 0.0
    place: Place | None = None


class Outcome(str):
    """One answer of a check: its id, a string like any other, that carries the sentence shown beside it."""

    __slots__ = ("brief",)
    brief: str

    def __new__(cls, id: str, brief: str = "") -> Outcome:  # noqa: A002
        made = super().__new__(cls, id)
        made.brief = brief
        return made

    @property
    def id(self) -> str:
        return str(self)


@dataclass(frozen=True, slots=True)
class Band:
    """Readings from `low` up to but not including `high` mean one of `outcomes`."""

    outcomes: tuple[str, ...]
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Reading:
    """How a measured value becomes outcomes.

    `unit` is the unit of bands and range. `scale` is "" (as written), "rated_frequency" (bands are for
    60 Hz), "rated_volts" or "rated_amps" (bands are fractions of the rating). `per` is "", "cylinder" or
    "leg": one value for each. `uncertainty`: standard uncertainty of a reading against its limits, as the bands are
    scaled; 0 where none is stated, and then a reading belongs to its band for certain.
    `load`: share of the rated load at which a settled speed is read. `swing`: the check that a swing of this reading
    answers. `above`, `below`: the check of the settled reading that this one is counted up or down from.
    """

    unit: str
    lowest: float
    highest: float
    bands: tuple[Band, ...]
    per: str = ""
    scale: str = ""
    uneven: Uneven | None = None
    uncertainty: float = 0.0
    load: float | None = None
    swing: str = ""
    above: str = ""
    below: str = ""


@dataclass(frozen=True, slots=True)
class Uneven:
    """Several values that differ too much: `outcome` when the measure passes `above`.

    "spread_over_mean" is (highest - lowest) / mean, "drop_from_highest" is 1 - lowest / highest.
    """

    outcome: str
    measure: str
    above: float


@dataclass(frozen=True, slots=True)
class Phrase:
    """What somebody says, and the complaints meant by it; none where it is no complaint of ours."""

    id: str
    said: str
    means: tuple[str, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Fits:
    """What a step needs on, takes off, puts back by its own steps, and runs without on purpose: ids of fittings."""

    needs_on: tuple[str, ...] = ()
    takes_off: tuple[str, ...] = ()
    puts_back: tuple[str, ...] = ()
    runs_without: tuple[str, ...] = ()


NO_FITS = Fits()


@dataclass(frozen=True, slots=True)
class Check:
    """A look, a measurement or a trial. `outcomes[0]` is the normal one; dominance rises with the index.

    `leak[i]` is the probability that a set without any listed cause shows `outcomes[i]`.
    `parents` are the causes that bear on it, in the order of the knowledge base. `mend[outcome]` is the remedy of an
    outcome in which the fault itself is seen; `outcome_only_if[outcome]` is when a set has what an outcome names.
    """

    id: str
    title: str
    kind: str
    area: str
    state: str
    minutes: float
    ask: str
    outcomes: tuple[Outcome, ...]
    leak: tuple[float, ...]
    parents: tuple[str, ...] = ()
    how: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    reading: Reading | None = None
    group: str = ""
    derived_from: tuple[str, str] | None = None
    only_if: Condition = ALWAYS
    cautions: tuple[str, ...] = ()
    dangerous: bool = False
    does_not_prove: str = ""
    sources: tuple[Source, ...] = ()
    experimental: Experimental | None = None
    retired: Retired | None = None
    place: Place | None = None
    fits: Fits = NO_FITS
    mend: Mapping[str, str] = field(default_factory=dict)
    outcome_only_if: Mapping[str, Condition] = field(default_factory=dict)
    only_while: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """By check: its answers without which there is nothing to be seen in this one."""
    said: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """By outcome: what people say for it, beside its name and what it means."""
    measured_by: str = ""
    """The check that measures what this one looks at."""

    @property
    def normal(self) -> str:
        return self.outcomes[0].id

    def offers(self, outcome: str, features: Features) -> bool:
        """Whether a set with these features has what the outcome names."""
        condition = self.outcome_only_if.get(outcome)
        return condition is None or condition.holds(features)

    def index(self, outcome: str) -> int:
        """Position of an outcome; ValueError when the check has no such outcome."""
        for position, candidate in enumerate(self.outcomes):
            if candidate.id == outcome:
                return position
        raise ValueError(f"{self.id} has no outcome {outcome!r}")


@dataclass(frozen=True, slots=True)
class Experimental:
    """Why an item is still on trial. It is weighed like any other."""

    since: str
    reason: str


@dataclass(frozen=True, slots=True)
class Retired:
    """Why an item is no longer used. Its id is never given to another."""

    since: str
    reason: str
    replaced_by: str = ""


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that can be wrong. Causes with the same `part` exclude one another.

    `shows[check][i]` is the probability that this cause alone produces outcome i of the check. A check that is not
    there is not affected; `unaffected` names those of which its writer says so, and changes no figure.
    """

    id: str
    title: str
    area: str
    part: str
    how_common: float
    brief: str
    note: str = ""
    when: tuple[tuple[Condition, float], ...] = ()
    only_if: Condition = ALWAYS
    fault: bool = True
    shows: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    unaffected: tuple[str, ...] = ()
    remedies: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    experimental: Experimental | None = None
    retired: Retired | None = None
    place: Place | None = None

    def prior(self, features: Features) -> float:
        """Share of the sets with these features and of this age that have this cause, before any complaint."""
        if self.retired is not None or not self.only_if.holds(features):
            return 0.0
        value = self.how_common
        for condition, how_common in self.when:
            if condition.holds(features):
                value = how_common
        return value


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something to do. `cures[cause]` is the chance that it removes the cause where it is present. `under_load`,
    `light_load`: numbers of its steps, from 1 on, that are done with load on, and with so little that a lamp does;
    `without_load`: what to do in place of the former where the set cannot be loaded. `runs_from`: number of the first
    step with the engine running where the work begins on a standing set, 0 for none. `where`: its place on the set.
    `start`: the position from which the work begins, where no step of setting says it. `only_if`: the sets that it is
    for."""

    id: str
    title: str
    area: str
    brief: str
    state: str
    minutes: float
    cures: Mapping[str, float]
    steps: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    dangerous: bool = False
    proof: tuple[str, ...] = ()
    then: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    experimental: Experimental | None = None
    retired: Retired | None = None
    place: Place | None = None
    fits: Fits = NO_FITS
    under_load: tuple[int, ...] = ()
    light_load: tuple[int, ...] = ()
    runs_from: int = 0
    without_load: str = ""
    where: str = ""
    start: str = ""
    only_if: Condition = ALWAYS


@dataclass(frozen=True, slots=True)
class Complaint:
    """What somebody says. `says[check]` are outcomes; `mode` "any" (at least one) or "all" of the checks.
    `comes_and_goes`: chance that what is complained of does not show at a look at it; the look then finds the normal
    outcome. `gone_when`: what is to be seen once the trouble is gone.
    `excludes`: complaints that cannot be true as well."""

    id: str
    title: str
    brief: str
    mode: str
    says: Mapping[str, tuple[str, ...]]
    true_when_said: float
    said_when_not: float
    comes_and_goes: float = 0.0
    gone_when: str = ""
    synonyms: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()
    stop_first: bool = False
    cautions: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    retired: Retired | None = None
    place: Place | None = None

    @property
    def phrases(self) -> tuple[str, ...]:
        """The words that it is found by."""
        return (self.title, self.brief, *self.synonyms)


@dataclass(frozen=True, slots=True)
class Case:
    """A solved job: what was found, what was truly wrong, and what the tool must say (in bands, not digits).

    `beside` is the id of a case that differs in the answer of one fact alone, and in what is wrong.
    """

    id: str
    title: str
    area: str
    set: Mapping[str, str]
    facts: tuple[Mapping[str, str], ...]
    truth: tuple[str, ...]
    leading: tuple[str, ...]
    at_least: float
    within_first: int
    sources: tuple[Source, ...] = ()
    next_step: tuple[str, ...] = ()
    not_leading: tuple[str, ...] = ()
    beside: str = ""
    place: Place | None = None
