"""What has moved on a set between two visits.

Purpose: how a set was left, how it was found, and what differs from one to the other.
Law: pure. A reading counts as left only while no later remedy bore on it; one that differs by no more than the last
digits written says nothing has moved.
Not here: which visits there were, and how a reading is told.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from math import fsum
from typing import Literal

from ..compiler import Check
from ..problems import AnswerError
from .event import JobError
from .job import Job
from .state import CheckMade

Kind = Literal["same", "moved", "crossed"]


_NUMBER = re.compile(r"(?:(?P<whole>\d+)[ -]+)?(?P<over>\d+)\s*/\s*(?P<under>\d+)|(?P<decimal>\d+(?:[.,]\d+)?|[.,]\d+)")


@dataclass(frozen=True, slots=True)
class ComparedReading:
    """An answer, and what one step of its last digit as typed is worth in the unit of the check (0: not known)."""

    made: CheckMade
    digit: float


@dataclass(frozen=True, slots=True)
class ReadingChange:
    """One check answered at both visits.

    kind: "same" within the last digits written, "moved" but meaning the same as before, "crossed" into another outcome.
    change: now less before, in the unit of the check, the largest of several values; None where one is no reading.
    """

    check: str
    before: CheckMade
    now: CheckMade
    kind: Kind
    change: float | None


def answers_as_found(job: Job) -> dict[str, ComparedReading]:
    """The latest answers from before the first remedy, by check."""
    return {made.check: figure_as_typed(job, made) for made in job.made if made.epoch == 0 and made.answer.outcomes}


def answers_as_left(job: Job) -> dict[str, ComparedReading]:
    """The latest answer to every check that no remedy since has borne on, by check.

    A remedy bears on a check where it cures a cause that the check can show; a setting that was put elsewhere since
    stands where it was put.
    """
    remedies = [event.id for event in job.standing if event.kind == "remedy"]
    latest = {made.check: made for made in sorted(job.made, key=lambda made: made.epoch) if made.answer.outcomes}
    still = {}
    for name, made in latest.items():
        touched = {cause for remedy in remedies[made.epoch :] for cause in job.knowledge.remedies[remedy].cures}
        if touched & set(job.knowledge.checks[name].parents):
            continue
        moved = _put_since(job, name)
        if moved is None:
            still[name] = figure_as_typed(job, made)
        elif moved and name in job.checks:
            # What it was put to stands; what it was put to by a turn alone is known by the next reading.
            with suppress(AnswerError, JobError):
                put = replace(made, answer=job.understand(name, moved), epoch=job.epoch)
                still[name] = ComparedReading(
                    put, last_digit(moved, put.answer.values[0]) if put.answer.values else 0.0
                )
    return still


def _put_since(job: Job, check: str) -> str | None:
    """Where a setting that a check reads was put after the check was last answered, as it was said; empty where that
    was not said or it was turned alone, None where it was not touched since."""
    found: str | None = None
    parts = (check, *(job.knowledge.checks[check].derived_from or ()))
    for event in job.standing:
        if event.kind == "check" and event.id in parts:
            found = None
        elif event.kind == "set_to" and event.answer in ("set", "turned"):
            step = job.knowledge.catalogue.setting[event.id]
            if check in step.accepts and (step.starts or step.adjuster or step.pair):
                found = event.cells.get("at", "") if event.answer == "set" else ""
    return found


def figure_as_typed(job: Job, made: CheckMade) -> ComparedReading:
    """An answer with the size of its last digit, as it was typed; of a derived one, that of its parts together."""
    if not made.answer.values:
        return ComparedReading(made, 0.0)
    parts = job.knowledge.checks[made.check].derived_from
    if made.derived and parts is not None:
        others = [other for other in job.made if other.check in parts and other.epoch == made.epoch]
        return ComparedReading(made, fsum(figure_as_typed(job, other).digit for other in others))
    epoch, typed = 0, ""
    for event in job.standing:
        epoch += event.kind == "remedy"
        if event.kind == "check" and event.id == made.check and epoch == made.epoch:
            typed = event.answer
    return ComparedReading(made, last_digit(typed, made.answer.values[0]))


def last_digit(typed: str, value: float) -> float:
    """What one step of the last digit of the first number of a text is worth, where that number means `value`.

    "61.50 Hz" is good to 0.01, "1/32 in" to 1/32; "1845 rpm", meaning 61.5 Hz, to 1/30. 0 where there is no number.
    """
    match = _NUMBER.search(typed)
    if match is None:
        return 0.0
    if match["under"]:
        under = int(match["under"]) or 1
        number, step = int(match["whole"] or 0) + int(match["over"]) / under, 1.0 / under
    else:
        number = float(match["decimal"].replace(",", "."))
        step = 10.0 ** -len(match["decimal"].replace(",", ".").partition(".")[2])
    return step * abs(value / number) if number and value else step


def compared_answers(
    before: Mapping[str, ComparedReading], now: Mapping[str, ComparedReading], checks: Mapping[str, Check]
) -> tuple[ReadingChange, ...]:
    """Every check answered both times, what crossed into another outcome first, then in the order of the knowledge."""
    both = [_compared_answer(name, before[name], now[name]) for name in checks if name in before and name in now]
    rank = {"crossed": 0, "moved": 1, "same": 2}
    return tuple(sorted(both, key=lambda item: rank[item.kind]))


def _compared_answer(name: str, before: ComparedReading, now: ComparedReading) -> ReadingChange:
    crossed = not set(before.made.answer.outcomes) & set(now.made.answer.outcomes)
    first, second = before.made.answer.values, now.made.answer.values
    change = None
    if first and len(first) == len(second):
        change = max((b - a for a, b in zip(first, second, strict=True)), key=abs)
    if crossed:
        return ReadingChange(name, before.made, now.made, "crossed", change)
    # Half of the last digit of either; a hair more, for the arithmetic of floating point.
    guard = (before.digit + now.digit) / 2.0 * (1.0 + 1e-9) + 1e-9
    return ReadingChange(
        name, before.made, now.made, "moved" if change is not None and abs(change) > guard else "same", change
    )
