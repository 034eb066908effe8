"""The work around the steps, as values: set-up states, costs, order, cautions, fittings, limits, adjusters, the family.

Purpose: what says how work is done safely, what it costs and what a set is held to.
Law: frozen; everything in the order written.
Not here: causes, checks, remedies and complaints (see `model`), where the values come from (see `work_builder`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .model import Band, Condition, Features, Place, Source


@dataclass(frozen=True, slots=True)
class Fitting:
    """Something that comes off or is opened in the work, and has to be on before the set runs.

    `question` proves it back on. It is put back in the set-up state `state`, in `minutes`. `cautions`: of work on it
    and of the first run after it. `looks`: checks made while it is off, since it is in the hand then.
    """

    id: str
    title: str
    question: str
    state: str
    minutes: float
    cautions: tuple[str, ...]
    sources: tuple[Source, ...]
    place: Place | None = None
    looks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ClosingPoint:
    """Something that is seen to before the technician leaves. `title`: how it is to be.

    Asked while the set is in one of the states `standing`, of sets for which `only_if` holds, and where work was done
    in one of the states `after` or one of `fittings` was off in the job; what is empty asks nothing. `runs`: it runs
    the set, and is not asked while that must not run.
    """

    id: str
    title: str
    standing: tuple[str, ...]
    after: tuple[str, ...]
    fittings: tuple[str, ...]
    runs: bool
    only_if: Condition
    sources: tuple[Source, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Tool:
    """Something that work takes. `names`: its title and what else it is called, in small letters. `states`: set-up
    states that cannot be entered without it. `stands_for`: tools whose place it takes once it is said to be there.
    `goes_with`: tools that lie in one box with it."""

    id: str
    title: str
    names: tuple[str, ...]
    states: tuple[str, ...] = ()
    place: Place | None = None
    stands_for: tuple[str, ...] = ()
    goes_with: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Caution:
    """A danger and what keeps people clear of it. short: the same in one sentence, for the list before a job; empty
    where the whole text stands there."""

    id: str
    title: str
    text: str
    sources: tuple[Source, ...]
    short: str = ""
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
class FirstStart:
    """What is looked at on every set that stands before it is started for the first time in a job: `checks`, however
    unlikely they show something, and what else at the same time (`also`); and why. `asks`: what is asked of that start
    before anything is read; an answer that is a complaint leads on to it. `read`: what is read at once after it."""

    checks: tuple[str, ...] = ()
    also: str = ""
    why: str = ""
    read: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()


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
    `full_load_by`: the check of the amps at full load, which is believed from `full_load_from` of what it comes to.
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
    full_load_by: str = ""
    full_load_from: float = 0.0
    first_start: FirstStart = FirstStart()

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
    `kind` "glance_first": as "look_first", while a check in `before` is likely to show something.
    `kind` "before_start": as "glance_first", while the set stands where the check is made; and a running set is not
    stopped for it alone while it is not likely to show something. With one of `complaints` it comes first in any case.
    `kind` "prefer": a check in `before` comes before one in `after` that is not better by more than its minutes.
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
    complaints: tuple[str, ...] = ()


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
class MayCome:
    """What makes a danger possible before a reading shows it: causes at least `at_least` probable, answers seen, or the
    first run after a remedy of `first_run`; where any is named, that of a set apart or to be set in order too."""

    at_least: float
    causes: tuple[str, ...]
    seen: Mapping[str, tuple[str, ...]]
    first_run: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DangerLimit:
    """Readings that hold a job: from `from_percent` of the rated value (the feature `of`) on.

    meters: kinds of readings of load tests, trials and recordings that it is about (hertz, highest_hertz, volts,
    highest_volts). readings: the checks whose readings it is about. outcomes: answers that are as dangerous, by check.
    may_come: what makes it possible; None where nothing is known to.
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
    may_come: MayCome | None = None
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Adjuster:
    """Something that is turned. + turns are called `more`, - turns `less`; finest to highest are in turns. gives: what
    + and - turns do, a word each, or nothing where their names say it."""

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
    gives: tuple[str, ...] = ()

    def way(self, turns: float) -> str:
        """Which way turns go, and what that does: in, faster."""
        more = turns > 0.0
        return ", ".join((self.more if more else self.less, *self.gives[not more :][:1]))


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
class Combination:
    """What goes with what: a set of which `where` holds is as `has` says."""

    id: str
    where: Condition
    has: Condition
    why: str
    sources: tuple[Source, ...] = ()
    place: Place | None = None

    def kept(self, features: Features) -> bool:
        """Whether a set keeps it."""
        return not self.where.holds(features) or self.has.holds(features)


@dataclass(frozen=True, slots=True)
class Slip:
    """Work that was botched: remedies in which it happens, the cause it leaves, and the check and outcome that tell."""

    id: str
    of: tuple[str, ...]
    leaves: str
    check: str
    outcome: str
    brief: str
    sources: tuple[Source, ...] = ()
    place: Place | None = None
