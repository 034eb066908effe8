"""Dealing: how many sets are dealt, what was refused and why, and whether what is dealt is plausible and solved.

    python -m tests.benchmarks.dealing [--sets N] [--minutes M] [--first SEED] [--quick] [--out FILE]

Deals sets of all levels in turn until N are dealt or M minutes are over, and says how many. --quick leaves open whether
the program solves them, which takes a tenth of the time. Prints, for each level, sets dealt, seconds of the processor,
steps and minutes of the expert, and what was refused by reason; then the combinations of features that were not kept,
and every law of `tests.plausible` that a dealt set breaks. Status 1 where one does. --out: a JSON line for each set.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from pathlib import Path
from statistics import median

from hertzwright.engine import load_knowledge
from hertzwright.engine.teaching import LEVELS, REFUSALS, DrillError, Scenario, new_scenario
from tests.plausible import built_wrong, of_no_part, read_wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sets", type=int, default=2000)
    parser.add_argument("--minutes", type=float, default=1e9)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--quick", action="store_true", help="leave open whether the program solves them")
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    knowledge, began = load_knowledge(), time.monotonic()
    refused = {level: Counter[str]() for level in LEVELS}
    dealt: dict[int, list[tuple[Scenario, float]]] = {level: [] for level in LEVELS}
    broken: list[str] = []
    for seed in range(given.first, given.first + given.sets):
        if time.monotonic() - began > 60.0 * given.minutes:
            break
        level, start = seed % len(LEVELS) + 1, time.process_time()
        try:
            found = new_scenario(knowledge, f"dealing {seed}", level, solved=not given.quick, refused=refused[level])
        except DrillError:
            refused[level]["no set was found for the seed"] += 1
            continue
        seconds = time.process_time() - start
        dealt[level].append((found, seconds))
        words = [f"{cause.replace('_', ' ')} {knowledge.causes[cause].title}" for cause in found.truth]
        words += [f"{knowledge.complaints[name].title} {knowledge.complaints[name].brief}" for name in found.complaints]
        laws = [*built_wrong(found.features), *read_wrong(found.bench)]
        laws += [f"it speaks of {part}" for each in words for part in of_no_part(found.features, each)]
        broken += [f"level {level}, seed {seed}, {', '.join(found.truth)}: {law}" for law in laws]
        if given.out is not None:
            with given.out.open("a", encoding="utf-8") as file:
                steps = len(found.expert.played.moves) if found.expert is not None else None
                minutes = found.expert.played.minutes if found.expert is not None else None
                row = {"seed": seed, "level": level, "truth": found.truth, "seconds": round(seconds, 2)}
                print(json.dumps({**row, "steps": steps, "minutes": minutes, "broken": laws}), file=file)
    _told(refused, dealt)
    combinations = Counter[str]()
    for count in refused.values():
        combinations.update({name: times for name, times in count.items() if name in knowledge.catalogue.combinations})
    print("\ndraws of features that were given up, by combination:")
    for name, times in combinations.most_common():
        print(f"{times:8}  {knowledge.catalogue.combinations[name].why}")
    print(f"\nlaws broken by dealt sets: {len(broken)}")
    print("\n".join(broken))
    return 1 if broken else 0


def _told(refused: dict[int, Counter[str]], dealt: dict[int, list[tuple[Scenario, float]]]) -> None:
    whole = sum(map(len, dealt.values()))
    print(f"{whole} sets dealt")
    for level, sets in dealt.items():
        if not sets:
            continue
        seconds = sorted(each for _, each in sets)
        paths = [found.expert.played for found, _ in sets if found.expert is not None]
        line = f"level {level}: {len(sets)} ({len(sets) / whole:.0%}), {median(seconds):.1f} s of the processor each"
        line += f" (a tenth above {seconds[int(0.9 * len(seconds))]:.1f})"
        if paths:
            steps, spent = (median(each) for each in ([len(p.moves) for p in paths], [p.minutes for p in paths]))
            line += f"; expert {steps:.0f} steps, {spent:.0f} min"
        print(line)
    print("\nrefused:" + "".join(f"{f'level {level}':>9}" for level in LEVELS))
    for reason in (*REFUSALS, "no set was found for the seed"):
        counts = [refused[level][reason] for level in LEVELS]
        if any(counts):
            print("        " + "".join(f"{count:>9}" for count in counts) + f"  {REFUSALS.get(reason, reason)}")


if __name__ == "__main__":
    sys.exit(main())
