"""A lesson: the causes of one area, how each shows, and what tells it from its look-alikes.

Purpose: turn the strengths of the knowledge into what somebody has to learn of an area.
Law: pure; everything follows from the knowledge, so that a lesson changes when the knowledge does.
What looks alike is what looks alike to everybody (see `belief.resemblance`).
Not here: the drill after a lesson (see `scenario`), and how a lesson is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..belief import look_alikes
from ..compiler import Knowledge
from ..problems import close_to, quoted
from .made_up import DrillError

MOST_SHOWN, MOST_ALIKE = 4, 2


@dataclass(frozen=True, slots=True)
class SignOfCause:
    """How a cause shows: an abnormal outcome of a check, with its chance where this cause alone is there."""

    check: str
    outcome: str
    chance: float


@dataclass(frozen=True, slots=True)
class LookAlike:
    """A look-alike, how alike it is (0 to 1), and the check that tells the two apart best for its minutes: the outcome
    and its chance with the cause, and with the look-alike."""

    cause: str
    likeness: float
    check: str
    outcome: str
    chance: float
    other_chance: float


@dataclass(frozen=True, slots=True)
class LessonEntry:
    """One cause of a lesson."""

    cause: str
    shows: tuple[SignOfCause, ...]
    alike: tuple[LookAlike, ...]


def lesson(knowledge: Knowledge, area: str, features: Mapping[str, object] | None = None) -> tuple[LessonEntry, ...]:
    """One page for each cause of an area that a set with these features can have, the commonest first.

    Raises DrillError for an area that is none, AnswerError for features that are none.
    """
    areas = dict.fromkeys(each.area for each in knowledge.causes.values())
    if area not in areas:
        raise DrillError(f"no area {quoted(area)}; {close_to(area, areas) or 'known are ' + ', '.join(areas)}")
    known = knowledge.features(features)
    priors = {name: each.prior(known) for name, each in knowledge.causes.items()}
    there = [name for name, prior in priors.items() if prior > 0.0]
    checks = [
        name for name, each in knowledge.checks.items()
        if knowledge.applies(name, known) and each.derived_from is None
    ]  # fmt: skip
    pages = []
    for name in sorted(
        (each for each in there if knowledge.causes[each].area == area), key=lambda each: (-priors[each], each)
    ):
        own = _abnormal(knowledge, name).items()
        shown = sorted(
            (SignOfCause(check, outcome, chance) for (check, outcome), chance in own if check in checks),
            key=lambda each: (-each.chance, each.check),
        )
        nearest = look_alikes(knowledge, name, MOST_ALIKE, there)
        best = dict.fromkeys(each.check for each in shown)
        pages.append(
            LessonEntry(
                name,
                tuple(next(each for each in shown if each.check == check) for check in best)[:MOST_SHOWN],
                tuple(_told_apart(knowledge, checks, name, other, much) for other, much in nearest),
            )
        )
    return tuple(pages)


def _abnormal(knowledge: Knowledge, cause: str) -> dict[tuple[str, str], float]:
    found = {}
    for name, row in knowledge.causes[cause].shows.items():
        for outcome, chance in zip(knowledge.checks[name].outcomes[1:], row[1:], strict=True):
            if chance > 0.0:
                found[name, outcome.id] = chance
    return found


def _told_apart(knowledge: Knowledge, checks: list[str], cause: str, other: str, likeness: float) -> LookAlike:
    """The check whose outcomes differ most between two causes, a little less for every minute that it takes."""
    best: tuple[float, LookAlike] | None = None
    for name in checks:
        check = knowledge.checks[name]
        here = knowledge.distribution(name, frozenset({cause}))
        there = knowledge.distribution(name, frozenset({other}))
        at = max(range(len(here)), key=lambda place: abs(here[place] - there[place]))
        worth = abs(here[at] - there[at]) / (1.0 + 0.02 * check.minutes)
        if best is None or worth > best[0]:
            best = (worth, LookAlike(other, likeness, name, check.outcomes[at].id, here[at], there[at]))
    assert best is not None, "every set has checks"
    return best[1]
