"""The values of the knowledge base: what a cause, a check, a remedy is.

Purpose: frozen values in a stated order, each with the place it was written at.
Law: nothing here reads a file, computes a probability or knows a terminal.
Not checked here: whether the values make sense together (see `rules`) or are well formed (see `schema`).
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
        return all(test.holds(features) for test in self.tests)


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
    answers.
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


@dataclass(frozen=True, slots=True)
class Uneven:
    """Several values that differ too much: `outcome` when the measure passes `above`.

    "spread_over_mean" is (highest - lowest) / mean, "drop_from_highest" is 1 - lowest / highest.
    """

    outcome: str
    measure: str
    above: float


@dataclass(frozen=True, slots=True)
class Fitting:
    """Something that comes off or is opened in the work, and has to be on before the set runs.

    `question` proves it back on. It is put back in the set-up state `state`, in `minutes`. `cautions`: of work on it
    and of the first run after it.
    """

    id: str
    title: str
    question: str
    state: str
    minutes: float
    cautions: tuple[str, ...]
    sources: tuple[Source, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Tool:
    """Something that work takes. `names`: its title and what else it is called, in small letters. `states`: set-up
    states that cannot be entered without it."""

    id: str
    title: str
    names: tuple[str, ...]
    states: tuple[str, ...] = ()
    place: Place | None = None


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
    `parents` are the causes that bear on it, in the order of the knowledge base.
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
    retired: Retired | None = None
    place: Place | None = None
    fits: Fits = NO_FITS

    @property
    def normal(self) -> str:
        return self.outcomes[0].id

    def index(self, outcome: str) -> int:
        """Position of an outcome; ValueError when the check has no such outcome."""
        for position, candidate in enumerate(self.outcomes):
            if candidate.id == outcome:
                return position
        raise ValueError(f"{self.id} has no outcome {outcome!r}")


@dataclass(frozen=True, slots=True)
class Retired:
    """Why an item is no longer used. Its id is never given to another."""

    since: str
    reason: str
    replaced_by: str = ""


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that can be wrong. Causes with the same `part` exclude one another.

    `shows[check][i]` is the probability that this cause alone produces outcome i of the check.
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
    remedies: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    retired: Retired | None = None
    place: Place | None = None

    def prior(self, features: Features) -> float:
        """Probability, before anything is known of this set, that a set called out has this cause."""
        if self.retired is not None or not self.only_if.holds(features):
            return 0.0
        value = self.how_common
        for condition, how_common in self.when:
            if condition.holds(features):
                value = how_common
        return value


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something to do. `cures[cause]` is the chance that it removes the cause where it is present."""

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
    retired: Retired | None = None
    place: Place | None = None
    fits: Fits = NO_FITS


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


@dataclass(frozen=True, slots=True)
class Caution:
    """A danger and what keeps people clear of it."""

    id: str
    title: str
    text: str
    sources: tuple[Source, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class SetUpState:
    """A set-up state of the engine while a step is done. runs: the engine turns in it."""

    id: str
    title: str
    brief: str
    dangerous: bool
    cautions: tuple[str, ...]
    place: Place | None = None
    runs: bool = False


@dataclass(frozen=True, slots=True)
class Standing:
    """One way a set may stand when the technician comes: as `title` and `words` say it, and the set-up state it is.
    `as_found`: readings of the set as found can be taken."""

    id: str
    title: str
    state: str
    as_found: bool
    words: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Everything that it is called, in lower case."""
        return tuple(name.lower() for name in (self.id, self.title, *self.words))


@dataclass(frozen=True, slots=True)
class Costs:
    """Minutes that belong to no single step.

    `moves[(from, to)]` between set-up states; `serves[state]`: states whose steps can be made in it as well, with the
    set left as it is; `found`: how a set may stand when the technician comes, `start_state` where nobody says;
    `as_found`: checks that the record wants of every set before its first fault is worked on; `proof` is the run that
    proves a remedy, made in `proof_state`; `refer` is the cost of handing the set over to the engine shop, `come_back`
    that of a set closed as fixed that comes back with a fault. `proof_needed`: of `proof_checks`, those without which
    nothing is called fixed. `also_fine[check]`: outcomes that are not the normal one and yet within any tolerance.
    `before_closing`: checks that are made once before a set is closed as fixed, for what else may be wrong with it.
    """

    moves: Mapping[tuple[str, str], float]
    serves: Mapping[str, tuple[str, ...]]
    start_state: str
    found: Mapping[str, Standing]
    as_found: tuple[str, ...]
    proof: float
    proof_state: str
    proof_checks: tuple[str, ...]
    proof_needed: tuple[str, ...]
    also_fine: Mapping[str, tuple[str, ...]]
    proof_shows: float
    proof_false: float
    refer: float
    come_back: float
    before_closing: tuple[str, ...] = ()

    def standing(self, here: str, state: str) -> str:
        """The set-up state that a set is in for a step of `state`, and after it: where it was, if that serves."""
        return here if state in self.serves.get(here, ()) else state

    def move(self, here: str, state: str) -> float:
        """Minutes from one set-up state to where a step of another can be made."""
        there = self.standing(here, state)
        return 0.0 if there == here else self.moves[here, there]


@dataclass(frozen=True, slots=True)
class OrderRule:
    """Do one of `before` (those that exist on this set), then `after`.

    `kind` "look_first": the checks in `before` are answered before any step in `after` is suggested.
    `kind` "cure_first": while a cause that a remedy in `before` cures is suspected, no step in `after` is suggested.
    `kind` "do_again": after any step in `before` has been carried out, the steps in `after` are due.
    """

    id: str
    kind: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    why: str
    sources: tuple[Source, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the published order worked through from the top: a check, and the remedy for an outcome."""

    check: str
    do: Mapping[str, str]
    sources: tuple[Source, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Tolerance:
    """A named set of limits. `bands[check]` replaces the bands of that check's reading."""

    id: str
    title: str
    brief: str
    bands: Mapping[str, tuple[Band, ...]]
    limits: Mapping[str, float]
    sources: tuple[Source, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Above:
    """A reading that stands above another: `share` of it is added to the reading of `check`, or, where that was not
    read and `or_rated` holds, to the rated value. No check: the reading is the value itself."""

    check: str = ""
    or_rated: bool = False
    share: float = 1.0


@dataclass(frozen=True, slots=True)
class DangerLimit:
    """Readings that hold a job: from `from_percent` of the rated value (the feature `of`) on.

    meters: kinds of readings of load tests, trials and recordings that it is about (hertz, highest_hertz, volts,
    highest_volts). readings: the checks whose readings it is about. outcomes: answers that are as dangerous, by check.
    """

    id: str
    title: str
    brief: str
    of: str
    from_percent: float
    meters: tuple[str, ...]
    readings: Mapping[str, Above]
    outcomes: Mapping[str, tuple[str, ...]]
    cautions: tuple[str, ...]
    sources: tuple[Source, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Adjuster:
    """Something that is turned. + turns are called `more`, - turns `less`; finest to highest are in turns."""

    id: str
    title: str
    brief: str
    more: str
    less: str
    remedy: str
    finest: float
    longest: float
    lowest: float
    highest: float
    sources: tuple[Source, ...] = ()
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class TurnResponse:
    """What one turn of an adjuster does to each reading of its pair, Hz at 60 Hz.

    `scale` is the part of it by which sets differ, for all readings together, `scatter` what each differs besides.
    """

    scale: float
    per_turn: tuple[float, ...]
    scatter: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PairWhen:
    """What is otherwise on some sets: where to aim, or where hunting begins."""

    condition: Condition
    target: tuple[float, ...] = ()
    below: float | None = None


@dataclass(frozen=True, slots=True)
class AdjusterPair:
    """Adjusters that are brought in together, one or two, against the readings that they move.

    `readings` maps a name to the check that reads it, `response` an adjuster to what it does, in the same order of
    readings. `noise` is the standard deviation of a reading, steady and hunting. Hunting begins where `hunts_on` (an
    adjuster, or "difference": first reading less last) falls below `hunts_below`, known to `hunts_scatter`;
    `hunts_width` is the blur of that edge. On the difference, the edge is that of a first reading of `hunts_at`, and
    rises by `hunts_per_hertz` with it. All in Hz at 60 Hz, or in turns.
    """

    id: str
    title: str
    brief: str
    only_if: Condition
    readings: Mapping[str, str]
    swing: str
    response: Mapping[str, TurnResponse]
    bend: float
    noise: tuple[float, float]
    target: tuple[float, ...]
    hunts_on: str
    hunts_below: float
    hunts_scatter: float
    hunts_width: float
    hunts_at: float = 0.0
    hunts_per_hertz: float = 0.0
    when: tuple[PairWhen, ...] = ()
    note: str = ""
    sources: tuple[Source, ...] = ()
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Spread:
    """How far sets of the trade differ in one thing that is right on all of them, or in how they are met.

    `value` of `part` (a part of the simulated set, "fault" or "owner") lies from `lowest` to `highest`; `how` it is
    meant: "is" the value, "factor" or "plus" on the usual one.
    """

    id: str
    title: str
    part: str
    value: str
    how: str
    lowest: float
    highest: float
    note: str = ""
    sources: tuple[Source, ...] = ()
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Share:
    """How sets of the trade share out over the values of the feature `id`; the weights need not add up to 1."""

    id: str
    of: Mapping[str, float]
    sources: tuple[Source, ...] = ()
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """A solved job: what was found, what was truly wrong, and what the tool must say (in bands, not digits)."""

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
    place: Place | None = None
