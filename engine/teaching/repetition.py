"""When something learned is due again: expanding intervals by the FSRS model of memory.

Purpose: the days on which a thing was gone through, and how it went -> the day on which it is due, and how likely it is
still known on another.
Law: pure; days are given, no clock is read; nothing is left to chance (the library's fuzz is off, so that the same
reviews give the same day for everyone). Whole days count, never hours: what was learned in the evening may be due
next morning.
Source: the free spaced repetition scheduler of the `fsrs` package (MIT), its published default parameters; it was
fitted to reviews of flash cards, which short drills are taken to be like (an assumption).
Not here: what is due first (see `course`), where reviews are kept (see the command line).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from fsrs import Card, Rating, Scheduler

AGAIN, HARD, GOOD = "again", "hard", "good"
GRADES = (AGAIN, HARD, GOOD)
KEPT = 0.9
"""Chance of being known still at which a thing is due again; the library's default."""
_RATINGS = {AGAIN: Rating.Again, HARD: Rating.Hard, GOOD: Rating.Good}
# No steps of minutes: a thing is gone through once a day.
_SCHEDULER = Scheduler(desired_retention=KEPT, learning_steps=(), relearning_steps=(), enable_fuzzing=False)


@dataclass(frozen=True, slots=True)
class Review:
    """A day on which something was gone through, and how it went: one of GRADES."""

    day: date
    grade: str


def due(reviews: Iterable[Review]) -> date | None:
    """The day on which it is due again; None where it was never gone through. Of one day the worst review counts."""
    card = _card(reviews)
    return card.due.date() if card is not None else None


def known(reviews: Iterable[Review], day: date) -> float:
    """Chance, 0 to 1, that it is still known on a day; 0 where it was never gone through."""
    card = _card(reviews)
    return _SCHEDULER.get_card_retrievability(card, _noon(day)) if card is not None else 0.0


def _card(reviews: Iterable[Review]) -> Card | None:
    worst: dict[date, str] = {}
    for review in reviews:
        before = worst.get(review.day, GOOD)
        worst[review.day] = min(review.grade, before, key=GRADES.index)
    card: Card | None = None
    for day in sorted(worst):
        card = card or Card(card_id=0, due=_noon(day))
        card, _ = _SCHEDULER.review_card(card, _RATINGS[worst[day]], _noon(day))
    return card


def _noon(day: date) -> datetime:
    return datetime.combine(day, time(12), UTC)
