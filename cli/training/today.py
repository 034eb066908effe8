"""Which day it is, for what comes back after days: the one place of this room that reads the clock.

Purpose: the day of today where the trainee is, or the one that an option names; and the moment that is kept.
Law: nothing else here reads a clock, so that every lesson can be gone through on any day.
Not here: what is due (see the engine).
"""

from __future__ import annotations

import argparse
from datetime import date, datetime

from ...engine.problems import quoted


def add_day(parser: argparse.ArgumentParser) -> None:
    """The option that takes another day for today."""
    parser.add_argument("--day", metavar="YYYY-MM-DD", type=_day, help="take this day for today")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{quoted(text)}: expected a day, such as 2026-03-02") from None


def day_of(given: date | None = None) -> date:
    """The day given, or today where the trainee is."""
    return given or datetime.now().astimezone().date()


def moment(day: date) -> str:
    """The moment that is kept with what was done on a day: now, or noon of another day."""
    now = datetime.now().astimezone()
    then = now if now.date() == day else datetime(day.year, day.month, day.day, 12).astimezone()
    return then.isoformat(timespec="seconds")
