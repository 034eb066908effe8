"""Dealing a drill: a made-up set, what is wrong with it, and what its customer says.

Purpose: from a seed and a level to features, faults with their severities, a speed adjuster turned to hide them, and
the complaints that the simulated set truly shows; and the set itself, to be worked on.
Law: the same knowledge, seed, level and wishes deal the same drill on every machine: all chance is `Draws`. A fault
is dealt only where the set can have it, where something that the customer says shows on a set with it alone, and where
the sound set would have none.
A set is dealt only where the program, always taking its own first suggestion, comes to fixed with no fault left: what
the program cannot solve teaches nothing. That path stands in the scenario. What is cheap to refuse is refused first:
what belongs in the shop before anything is simulated, what does not show every time before anything is played, and of
several faults those that the program does not solve by its quick first answers either.
Assumed, from memory: how mild a fault is at each level.
Not here: which features go together (see `made_up`), working on the set (see `drill`), who needs which drill (see the
command line).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import fsum

from ..compiler import Cause, Features, Knowledge
from ..problems import close_to, quoted
from ..readings import read_answer
from ..rehearsal import FIXED, BenchSet, least_minutes
from ..simulated import CHECKS, FAULTS, Bench, Draws
from .customer import always_shows, customer_says, said_of
from .expert import DEPTH, ExpertPath, expert_path
from .made_up import DrillError, made_up_features

ATTEMPTS = 80
SEVERITIES = 3
MOST_PLAYED = 24
"""Sets that the program plays to the end until one of them is solved."""
RARER = 0.25
"""Share of its usual prior up to which a cause is there for a set that was described wrongly, such as points on an
electronic ignition; a made-up set is described as it is."""
SLIPPED = 0.7
"""Severity of what botched work leaves: plain enough to be found by its check."""
_NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Level:
    """How hard a drill is. severity: from, to (0 just there, 1 as bad as is met). hide: from, to, how far somebody
    has turned the speed adjuster to bring no load back. step: the frequency meter shows only multiples of it, Hz.
    slips: how often a right repair is botched once, which a check can see."""

    number: int
    faults: int
    severity: tuple[float, float]
    hide: tuple[float, float]
    step: float
    slips: float
    told: str


LEVELS: Mapping[int, Level] = {
    level.number: level
    for level in (
        Level(1, 1, (0.5, 0.95), (0.0, 0.0), 0.0, 0.0, "one plain fault, nothing hidden"),
        Level(2, 1, (0.25, 0.65), (0.6, 1.0), 0.0, 0.0, "one milder fault, hidden with the speed adjuster"),
        Level(3, 2, (0.45, 0.9), (0.0, 0.0), 0.0, 0.25, "two faults at once, nothing hidden; work may be botched"),
        Level(
            4,
            2,
            (0.25, 0.65),
            (0.5, 1.0),
            0.5,
            0.35,
            "two milder faults, hidden, a reed meter that shows half hertz; a repair may be botched once",
        ),
    )
}


@dataclass(frozen=True)
class Scenario:
    """A drill as dealt. faults: (cause, severity); complaints: what the customer says, the first the loudest.

    slip: the slip (an id of the knowledge) that happens once to whoever does its work first; none at lower levels.
    expert: how the program comes to fixed on it; None where nobody played it.
    """

    seed: str
    level: Level
    features: Features
    faults: tuple[tuple[str, float], ...]
    hide: float
    complaints: tuple[str, ...]
    slip: str = ""
    expert: ExpertPath | None = field(default=None, compare=False, repr=False)

    @property
    def truth(self) -> tuple[str, ...]:
        return tuple(cause for cause, _ in self.faults)

    def adjuster_is_fault(self, knowledge: Knowledge) -> bool:
        """Whether the speed adjuster is itself one of the faults, so that nobody can be said to have hidden with it."""
        adjuster = knowledge.catalogue.adjusters.get("speed")  # by which a fault is hidden
        own = knowledge.remedies[adjuster.remedy].cures if adjuster is not None else {}
        return any(cause in own for cause in self.truth)

    @cached_property
    def bench(self) -> Bench:
        return Bench(self.features, self.faults, _number(self.seed), self.hide)


@dataclass(frozen=True, slots=True)
class ProofReading:
    """One reading of a proof run; `fine` is None where the set does not let it be read."""

    check: str
    answer: str
    fine: bool | None


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof run: its readings, the complaints that are still there, and what the load did (see `Bench.under`)."""

    readings: tuple[ProofReading, ...]
    still: tuple[str, ...]
    did: str = ""

    @property
    def passed(self) -> bool:
        return not self.still and not self.did and all(reading.fine is not False for reading in self.readings)


class DrillSet(BenchSet):
    """The dealt set, to be worked on by whoever it is: trainee and program see the same answers to the same looks."""

    def __init__(self, knowledge: Knowledge, dealt: Scenario) -> None:
        super().__init__(knowledge, dealt.bench, dealt.complaints[0] if dealt.complaints else "")
        self.dealt = dealt
        self.slipped = ""
        """The remedy that was botched, empty as long as none was."""

    def copy(self) -> DrillSet:
        """The set as it is now; what is done to one is not done to the other."""
        made = DrillSet(self.knowledge, self.dealt)
        made.bench, made._looks, made.slipped = self.bench, dict(self._looks), self.slipped
        return made

    def answer(self, check: str) -> str:
        """As the bench answers; an older meter shows only multiples of its step."""
        text = super().answer(check)
        step, reading = self.dealt.level.step, self.knowledge.checks[check].reading
        if not step or reading is None or reading.unit != "Hz" or reading.lowest <= 0.0:
            return text
        return _NUMBER.sub(lambda match: f"{round(float(match[0]) / step) * step:.1f}", text, count=1)

    def mend(self, remedy: str) -> None:
        """Carry out a remedy. It works; what may go wrong once is what the scenario says, and leaves a cause behind."""
        super().mend(remedy)
        slip = self.knowledge.catalogue.slips.get(self.dealt.slip)
        if slip is None or self.slipped or remedy not in slip.of:
            return
        self.slipped = remedy
        if slip.leaves not in self.faults:
            self.bench = replace(self.bench, faults=(*self.bench.faults, (slip.leaves, SLIPPED)))

    def chances(self, remedy: str) -> Mapping[str, float]:
        """A right repair works: no hidden dice. Where several remedies are for one cause, those that seldom cure it
        where another often does are not the right one, and never do."""
        known = self.knowledge.remedies
        return {
            cause: float(chance >= 0.5 or chance >= max(each.cures.get(cause, 0.0) for each in known.values()))
            for cause, chance in known[remedy].cures.items()
        }

    def proof(self) -> Proof:
        """A proof run as the set is now."""
        readings = []
        for name in self.knowledge.catalogue.costs.proof_checks:
            check, answer = self.knowledge.checks[name], self.answer(name)
            bands = self.knowledge.catalogue.tolerances["default"].bands.get(name)
            outcomes = read_answer(check, answer, self.bench.features, bands).outcomes
            readings.append(ProofReading(name, answer, check.normal in outcomes if outcomes else None))
        still = tuple(name for name in self.dealt.complaints if self.shows(name))
        # What is still complained of is read too: a run that fails says by what.
        said = [check for name in still for check in self.knowledge.complaints[name].says]
        for name in dict.fromkeys(said):
            check = self.knowledge.checks[name]
            if name in self.knowledge.catalogue.costs.proof_checks or check.reading is None or check.derived_from:
                continue
            answer = self.answer(name)
            bands = self.knowledge.catalogue.tolerances["default"].bands.get(name)
            outcomes = read_answer(check, answer, self.bench.features, bands).outcomes
            if outcomes and check.normal not in outcomes:
                readings.append(ProofReading(name, answer, False))
        return Proof(tuple(readings), still, self.bench.under(1.0, self.knowledge.catalogue.costs.proof))

    def under(self, check: str) -> str:
        """What the load of a check does to the set as it is, see `Bench.under`; empty where it puts none on."""
        made = self.knowledge.checks[check]
        load = made.reading.load if made.reading is not None else None
        return self.bench.under(load, made.minutes) if load else ""

    def prove(self) -> bool:
        return self.proof().passed


def shown_in(knowledge: Knowledge, dealt: Scenario, complaint: str) -> tuple[str, ...]:
    """Checks in which a complaint shows, where it speaks of several and not of all; else none. A customer who is asked
    says when: hard to start is hard cold, hot, or both."""
    said = knowledge.complaints[complaint]
    if said.mode != "any" or len(said.says) < 2:
        return ()
    found = BenchSet(knowledge, dealt.bench)
    shown = tuple(check for check, outcomes in said.says.items() if set(found.outcomes(check)) & set(outcomes))
    return shown if len(shown) < len(said.says) else ()


# ---- what is dealt


def pick(
    knowledge: Knowledge,
    seed: str,
    level: Level,
    given: Mapping[str, object] | None = None,
    areas: Iterable[str] = (),
    cause: str = "",
    attempt: int = 0,
    refused: Counter[str] | None = None,
) -> tuple[Features, tuple[str, ...]]:
    """Features and causes of an attempt to deal, without the simulation; no causes where this set cannot have them.

    A cause is drawn with the square root of its prior: the common ones come up more often, the rare ones do come up.
    """
    draws = Draws("drill", seed, level.number, attempt)
    features = made_up_features(knowledge, draws, given, refused)
    wanted = frozenset(areas)
    chances = {
        name: knowledge.causes[name].prior(features) ** 0.5
        for name in FAULTS
        if name in knowledge.causes
        and _may_have(knowledge.causes[name], features)
        and (not wanted or knowledge.causes[name].area in wanted)
        # Nobody hides with the speed adjuster what is no fault of the set.
        and (knowledge.causes[name].fault or not level.hide[1])
    }
    chosen: list[str] = []
    if cause:
        if not _may_have(knowledge.causes[cause], features):
            return features, ()
        chosen.append(cause)
    while len(chosen) < level.faults:
        parts = {knowledge.causes[name].part or name for name in chosen}
        left = {
            name: chance for name, chance in chances.items()
            if chance > 0.0 and (knowledge.causes[name].part or name) not in parts
        }  # fmt: skip
        if not left:
            return features, ()
        chosen.append(_drawn(left, draws))
    return features, tuple(chosen)


def _may_have(cause: Cause, features: Features) -> bool:
    """Whether a set that is described rightly may have a cause."""
    return cause.prior(features) > RARER * cause.how_common


def _drawn(chances: Mapping[str, float], draws: Draws) -> str:
    place = draws.uniform() * fsum(chances.values())
    for name, chance in chances.items():
        place -= chance
        if place < 0.0:
            return name
    return next(reversed(list(chances)))


def new_scenario(
    knowledge: Knowledge,
    seed: int | str,
    level: int = 1,
    *,
    given: Mapping[str, object] | None = None,
    areas: Sequence[str] = (),
    cause: str = "",
    solved: bool = True,
    refused: Counter[str] | None = None,
    each: Callable[[], None] = lambda: None,
) -> Scenario:
    """A drill. given: features that the set must have; areas: of the causes; cause: one that must be there.

    solved: only one that the program solves, which takes the seconds of its path; False leaves that open.
    refused: takes what was not dealt, counted by a combination of the knowledge or by one of REFUSALS. each: called
    before every step that the program plays on a set.
    Raises DrillError where there is no such level, area or cause, or no set of these features that shows it;
    AnswerError for features that are none.
    """
    if level not in LEVELS:
        raise DrillError(f"no level {level}; expected {', '.join(map(str, LEVELS))}")
    _known(knowledge, given, areas, cause)
    grade, name, played = LEVELS[level], str(seed), 0
    count: Counter[str] = Counter() if refused is None else refused
    for attempt in range(ATTEMPTS):
        features, causes = pick(knowledge, name, grade, given, areas, cause, attempt, count)
        if why := _never(knowledge, features, causes):
            count[why] += 1
            continue
        draws = Draws("drill", name, level, attempt, "severity")
        for _ in range(SEVERITIES):
            dealt = _dealt(knowledge, name, grade, features, causes, draws, count)
            if dealt is None:
                continue
            path = _solved(knowledge, dealt, each) if solved else None
            if path is not None or not solved:
                return replace(dealt, expert=path)
            count["not solved"] += 1
            played += 1
            break
        if played == MOST_PLAYED:
            break
    wish = f"{knowledge.causes[cause].title.lower()} " if cause else ""
    raise DrillError(
        f"no set was found on which {wish or 'a fault '}shows{' and the program finds it' if played else ''} "
        f"at level {level}; try another level or set"
    )


def _never(knowledge: Knowledge, features: Features, causes: tuple[str, ...]) -> str:
    """Why a set with these causes is never dealt, however bad they are; empty where it may be."""
    if not causes:
        return "no such cause"
    if _for_the_shop(knowledge, causes):
        return "for the shop"
    return "" if sound_set_passes(knowledge, features) else "sound set fails"


def _for_the_shop(knowledge: Knowledge, causes: Iterable[str]) -> bool:
    """Whether nobody mends a set in fewer minutes than handing it over takes, though he knew what it has."""
    return least_minutes(knowledge, frozenset(causes)) >= knowledge.catalogue.costs.refer


def _solved(knowledge: Knowledge, dealt: Scenario, each: Callable[[], None]) -> ExpertPath | None:
    """The expert's path on a set; None where it does not come to fixed."""
    path: ExpertPath | None = None
    # By its first answers, a tenth of the time, the program solves nearly all that it solves at its full depth.
    for deepen in (0, DEPTH) if len(dealt.faults) > 1 else (DEPTH,):
        path = expert_path(knowledge, dealt.features, dealt.complaints, DrillSet(knowledge, dealt), deepen, each)
        if path.played.end != FIXED:
            return None
    return path


REFUSALS: Mapping[str, str] = {
    "no such cause": "the set cannot have a cause that was asked for",
    "for the shop": "to mend it takes as long as to hand it over, so that the right end is no repair",
    "sound set fails": "a set of these features does not pass its proof run without any fault",
    "one fault hides": "nothing that the customer could say shows one of two faults, so that nobody could know of it",
    "nothing to complain of": "the customer would have nothing to complain of",
    "comes and goes": "what is said does not show every time, so that a proof run may pass with the fault still there",
    "not solved": "the program, by its own first suggestions, does not come to fixed",
}
"""Why a set was not dealt, beside the combinations of the knowledge."""


def _dealt(
    knowledge: Knowledge,
    name: str,
    grade: Level,
    features: Features,
    causes: tuple[str, ...],
    draws: Draws,
    refused: Counter[str],
) -> Scenario | None:
    """The set with severities drawn; None where nobody could complain of each of its faults."""
    faults = tuple((each, round(draws.uniform(*grade.severity), 3)) for each in causes)
    hide = round(draws.uniform(*grade.hide), 3)
    complaints = customer_says(knowledge, Bench(features, faults, _number(name), hide))
    if not complaints:
        refused["nothing to complain of"] += 1
        return None
    alone = [BenchSet(knowledge, Bench(features, (fault,), _number(name), hide)) for fault in faults]
    said = said_of(complaints, alone if len(faults) > 1 else (), knowledge, draws)
    if not said:
        refused["one fault hides"] += 1
        return None
    if not all(always_shows(knowledge, found.bench, said) for found in alone):
        refused["comes and goes"] += 1
        return None
    slip = _slip(knowledge, features, faults, draws) if draws.uniform() < grade.slips else ""
    return Scenario(name, grade, features, faults, hide, said, slip)


def _slip(knowledge: Knowledge, features: Features, faults: tuple[tuple[str, float], ...], draws: Draws) -> str:
    """A slip that a right repair of this set may end in, and that its check would show; empty where there is none."""
    truth = {cause for cause, _ in faults}
    parts = {knowledge.causes[cause].part or cause for cause in truth}
    fits = [
        name for name, slip in knowledge.catalogue.slips.items()
        if slip.leaves in FAULTS and slip.check in CHECKS
        and knowledge.causes[slip.leaves].prior(features) > 0.0
        and (knowledge.causes[slip.leaves].part or slip.leaves) not in parts
        and any(truth & knowledge.remedies[remedy].cures.keys() for remedy in slip.of)
        and knowledge.applies(slip.check, features)
        and slip.outcome in BenchSet(knowledge, Bench(features, ((slip.leaves, SLIPPED),))).outcomes(slip.check)
    ]  # fmt: skip
    return fits[int(draws.uniform() * len(fits))] if fits else ""


def _known(knowledge: Knowledge, given: Mapping[str, object] | None, areas: Sequence[str], cause: str) -> None:
    known = dict.fromkeys(each.area for each in knowledge.causes.values())
    for area in areas:
        if area not in known:
            raise DrillError(f"no area {quoted(area)}; {close_to(area, known) or 'known are ' + ', '.join(known)}")
    if cause and cause not in knowledge.causes:
        raise DrillError(f"no cause {quoted(cause)}; {close_to(cause, knowledge.causes) or 'see knowledge show'}")
    if cause and (cause not in FAULTS or knowledge.causes[cause].retired is not None):
        raise DrillError(f"{cause}: the simulated set cannot have it")
    if cause and _for_the_shop(knowledge, (cause,)):
        raise DrillError(
            f"{cause} belongs in the shop: to mend it takes as long as to hand it over, and a drill is fixed"
        )
    knowledge.features(given)


def sound_set_passes(knowledge: Knowledge, features: Features) -> bool:
    """Whether a set without any fault passes its proof run, so that there is a way for the drill to end well."""
    return DrillSet(knowledge, Scenario("sound", LEVELS[1], features, (), 0.0, ())).prove()


def seed_with(
    knowledge: Knowledge, first: int, level: int, cause: str, given: Mapping[str, object] | None = None
) -> int | None:
    """The first seed from `first` on whose drill has a cause, so that the seed alone deals it again; None where none
    of some hundreds has."""
    found = scenario_with(knowledge, first, level, cause, given)
    return None if found is None else int(found.seed)


def scenario_with(
    knowledge: Knowledge,
    first: int,
    level: int,
    cause: str,
    given: Mapping[str, object] | None = None,
    each: Callable[[], None] = lambda: None,
) -> Scenario | None:
    """The drill of `seed_with`."""
    for seed in range(first, first + 600):
        if cause not in pick(knowledge, str(seed), LEVELS[level], given)[1]:
            continue
        # Which of them the program solves is asked last: it takes seconds.
        if cause in new_scenario(knowledge, seed, level, given=given, solved=False).truth:
            found = new_scenario(knowledge, seed, level, given=given, each=each)
            if cause in found.truth:
                return found
    return None


def _number(seed: str) -> int:
    return int(Draws("bench", seed).uniform() * 1e9)
