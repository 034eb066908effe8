"""Ten minutes a day: which unit of the course is due today.

Purpose: what was gone through on which day -> the unit for today, and when each other comes back.
Law: pure; the day is given. What is due again comes before anything new, the most forgotten first; of new units the
first of the course; one new unit a day, since ten minutes hold no two.
Not here: what a unit says (see the knowledge), how intervals expand (see `repetition`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ..compiler import Knowledge, Unit
from . import repetition
from .repetition import AGAIN, GOOD, HARD, Review

SOME = 0.4
"""Share of the causes that a unit's drills ask for, from which on it is about their area."""


@dataclass(frozen=True, slots=True)
class UnitStanding:
    """A unit and where a trainee stands with it. due: None where it is new; known: chance that it is known today."""

    unit: Unit
    times: int
    due: date | None
    known: float

    @property
    def new(self) -> bool:
        return self.due is None


def standings(knowledge: Knowledge, reviews: Mapping[str, Sequence[Review]], day: date) -> tuple[UnitStanding, ...]:
    """Every unit in the order of the course. reviews: of each unit, by its id; those of unknown units count nothing."""
    found = []
    for name, unit in knowledge.units.items():
        made = reviews.get(name, ())
        found.append(UnitStanding(unit, len(made), repetition.due(made), repetition.known(made, day)))
    return tuple(found)


def due_today(knowledge: Knowledge, reviews: Mapping[str, Sequence[Review]], day: date) -> tuple[UnitStanding, ...]:
    """What is due on a day, in the order in which it is gone through: repeats, the most forgotten first, then one new
    unit where none was begun that day. Empty where nothing is due."""
    every = standings(knowledge, reviews, day)
    again = sorted((each for each in every if each.due is not None and each.due <= day), key=lambda each: each.known)
    begun = any(made and min(review.day for review in made) == day for made in reviews.values())
    fresh = [each for each in every if each.new][: 0 if begun else 1]
    return (*again, *fresh)


def next_day(knowledge: Knowledge, reviews: Mapping[str, Sequence[Review]], day: date) -> date | None:
    """The first day after this one on which anything is due; None where the course has no units."""
    every = standings(knowledge, reviews, day)
    if any(each.new for each in every):
        return date.fromordinal(day.toordinal() + 1)
    later = [max(each.due, date.fromordinal(day.toordinal() + 1)) for each in every if each.due is not None]
    return min(later, default=None)


def grade(right: int, asked: int, first: bool) -> str:
    """How a unit went: all right is good, one wrong is hard, more is again.

    first: it was read a minute before, so that even all right is hard: what is due tomorrow then shows what was kept.
    """
    wrong = asked - right
    if wrong > 1:
        return AGAIN
    return HARD if wrong or first else GOOD


def of_area(knowledge: Knowledge, area: str) -> tuple[Unit, ...]:
    """The units whose drills ask for a cause of an area, those first that ask for most of them; ties by the course."""
    causes = knowledge.causes

    def share(unit: Unit) -> float:
        asked = [cause for plan in unit.drills for cause in plan.causes]
        return sum(causes[cause].area == area for cause in asked) / len(asked)

    some = [unit for unit in knowledge.units.values() if share(unit) >= SOME]
    return tuple(sorted(some, key=lambda unit: -share(unit)))
