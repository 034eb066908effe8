"""Dealing a drill: a made-up set, what is wrong with it, and what its customer says.

Purpose: from a seed and a level to features, faults with their severities, a speed adjuster turned to hide them, and
the complaints that the simulated set truly shows.
Law: the same knowledge, seed, level and wishes deal the same drill on every machine: all chance is `Draws`. A fault
is dealt only where the set can have it, where something that the customer says shows on a set with it alone, and where
the sound set would have none.
A set is dealt only where the program, always taking its own first suggestion, comes to fixed with no fault left: what
the program cannot solve teaches nothing. That path stands in the scenario. What is cheap to refuse is refused first:
what belongs in the shop before anything is simulated, what does not show every time before anything is played, and of
several faults those that the program does not solve by its quick first answers either.
Not here: which features go together (see `made_up`), working on the set (see `drill_set`, `drill`), who needs which
drill (see the command line).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from math import fsum

from ..compiler import Cause, Features, Knowledge
from ..problems import close_to, quoted
from ..rehearsal import FIXED, BenchSet, least_minutes
from ..simulated import CHECKS, FAULTS, Bench, Draws
from .customer import always_shows, customer_says, said_of
from .drill_set import SLIPPED, DrillSet, sound_set_passes
from .expert import DEPTH, ExpertPath, expert_path
from .made_up import DrillError, made_up_features
from .scenario import LEVELS, Level, Scenario, bench_seed

ATTEMPTS = 80
SEVERITIES = 3
MOST_PLAYED = 24
"""Sets that the program plays to the end until one of them is solved."""
RARER = 0.25
"""Share of its usual prior up to which a cause is there for a set that was described wrongly, such as points on an
electronic ignition; a made-up set is described as it is."""


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
    complaints = customer_says(knowledge, Bench(features, faults, bench_seed(name), hide))
    if not complaints:
        refused["nothing to complain of"] += 1
        return None
    alone = [BenchSet(knowledge, Bench(features, (fault,), bench_seed(name), hide)) for fault in faults]
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
