"""Setting from the ground up on sets of the family: as the program says, beside the book's order and the book's steps.

    python -m tests.benchmarks.setting --sets 40 --faults 0 --seed 1 [--held-out] [--no-book] [--out FILE]

Prints the share of sets that end within all limits, minutes of both ways with 95 % intervals, and what became of the
faults on sets that have one besides; --out keeps a JSON line for each set, as each is done.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from dataclasses import asdict
from pathlib import Path
from statistics import fmean

from hertzwright.engine import load_knowledge
from hertzwright.engine.rehearsal import ratio
from hertzwright.engine.rehearsal.interval import half_width
from hertzwright.engine.rehearsal.setting_visit import (
    SettingResult,
    as_advised,
    by_the_book,
    mis_set,
    set_in_order,
)

SETTINGS = (
    "speed_set_high", "speed_set_low", "sensitivity_sharp", "sensitivity_sluggish", "booster_set_strong",
    "booster_set_weak", "idle_mixture_lean", "idle_mixture_rich", "main_mixture_lean", "main_mixture_rich",
    "throttle_rod_long", "throttle_rod_short", "throttle_stop_open", "throttle_not_reaching_full",
    "choke_set_too_rich",
)  # fmt: skip
"""Causes that are nothing but a wrong setting."""


def _line(name: str, results: list[SettingResult]) -> str:
    count = len(results)
    within = sum(result.within for result in results)
    minutes = [result.minutes for result in results]
    half = half_width(minutes)
    spent = f"{fmean(minutes):.0f} min" + (f" +- {half:.0f}" if half is not None else "")
    ends = Counter(result.end for result in results)
    told = "/".join(str(ends[end]) for end in ("done", "handed over", "wandering"))
    return f"{name:<16}{count:>5}  {told:<14}{100 * within / count:>6.1f} % within   {spent}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sets", type=int, default=40)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--faults", type=int, default=0)
    parser.add_argument("--seed", default="1")
    parser.add_argument("--held-out", action="store_true")
    parser.add_argument("--no-book", action="store_true")
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    knowledge = load_knowledge()
    mine: list[SettingResult] = []
    book: list[SettingResult] = []
    for number in range(given.first, given.first + given.sets):
        called = mis_set(knowledge, f"{given.seed}.{number}", SETTINGS, given.faults, given.held_out)
        again = called.again()
        mine.append(set_in_order(knowledge, called, as_advised))
        if not given.no_book:
            book.append(set_in_order(knowledge, again, by_the_book))
        if given.out:
            with given.out.open("a", encoding="utf-8") as file:
                pair = {"number": number, "program": asdict(mine[-1]), "book": asdict(book[-1]) if book else None}
                file.write(json.dumps(pair, sort_keys=True) + "\n")
    print(f"{len(mine)} sets, seed {given.seed}, {given.faults} faults besides{', held out' * given.held_out}")
    print(f"{'':<16}{'sets':>5}  done/over/lost")
    print(_line("as advised", mine))
    if book:
        print(_line("by the book", book))
        value = ratio([result.minutes for result in mine], [result.minutes for result in book])
        print(f"minutes as advised over the book's: {value[0]:.2f} +- {value[1] or 0:.2f}")
    for name, results in (("as advised", mine), ("by the book", book)):
        if given.faults and results:
            over = sum(bool(result.over) for result in results)
            good = sum(result.good for result in results)
            told = Counter(cause for result in results for cause in result.over)
            print(f"{name}: set over a fault {over} of {len(results)}, good ends {good}; {dict(told.most_common(12))}")
    outside = Counter(name for result in mine if result.end == "done" for name in result.outside)
    print(f"called right, and outside: {dict(outside)}")
    for place, result in enumerate(mine):
        if not result.good:
            print(
                f"  {given.first + place}: {result.end}, {result.settings}, faults {result.faults}, outside {result.outside}, over {result.over}, {result.tasks} tasks"
            )


if __name__ == "__main__":
    main()
