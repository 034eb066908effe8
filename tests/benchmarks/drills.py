"""Drills: what was refused and why, what the program solves, and what is said of a step that a hint gave.

Run: python -m tests.benchmarks.drills [sets a level] [first seed] [--played]. Prints tables; with --played also plays
the hints to the end, each with `?` after it, and gives status 1 where one was scolded, or a right repair failed.
"""

from __future__ import annotations

import io
import sys
import time
from collections import Counter
from statistics import median

from hertzwright.cli.terminal.screen import Screen
from hertzwright.cli.training.drill_view import feedback
from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.teaching import LEVELS, PROOF_MOVE, REFUSALS, Drill, Scenario, new_scenario


def main() -> int:
    numbers = [int(each) for each in sys.argv[1:] if each.isdecimal()]
    count, first = numbers[0] if numbers else 10, numbers[1] if len(numbers) > 1 else 0
    knowledge, failed = load_knowledge(), 0
    refused: Counter[str] = Counter()
    for level in LEVELS:
        here: Counter[str] = Counter()
        dealt, seconds = [], []
        for seed in range(first, first + count):
            began = time.perf_counter()
            dealt.append(new_scenario(knowledge, seed, level, refused=here))
            seconds.append(time.perf_counter() - began)
        refused += here
        steps = [len(each.expert.played.moves) for each in dealt if each.expert is not None]
        spent = [each.expert.played.minutes for each in dealt if each.expert is not None]
        print(
            f"level {level}: {count} dealt, not solved and refused {here['not solved']}, "
            f"program {median(steps):.0f} steps and {median(spent):.0f} min, {median(seconds):.1f} s to deal, "
            f"{sum(bool(each.slip) for each in dealt)} with a slip"
        )
        if "--played" in sys.argv:
            said = [_played(knowledge, each) for each in dealt]
            scolded, hints, lasting = (sum(row[at] for row in said) for at in range(3))
            print(f"  hints obeyed {hints}, of them scolded {scolded}; right repairs that failed {lasting}")
            failed += scolded + (lasting if level == 1 else 0)
    print("refused, by reason:")
    for name, times in refused.most_common():
        combination = knowledge.catalogue.combinations.get(name)
        print(f"{times:7}  {name}: {combination.why if combination else REFUSALS[name]}")
    return 1 if failed else 0


def _played(knowledge: Knowledge, dealt: Scenario) -> tuple[int, int, int]:
    """A drill played by hints: how many were scolded, how many there were, and causes that a right repair left."""
    drill = Drill(knowledge, dealt)
    drill.safety.met.update((*knowledge.catalogue.cautions, *drill.steps))
    scolded = hints = lasting = 0
    for _ in range(60):
        if drill.over:
            break
        if drill.safety.held:
            drill.shut_down()
        step = drill.hint()
        if step is None or step.kind in ("done", "refer"):
            break
        hints += 1
        drill.make_safe(step.id)
        if step.kind == "check":
            drill.check(step.id)
        else:
            right = drill.set.faults & {
                cause for cause, chance in knowledge.remedies[step.id].cures.items() if chance >= 0.5
            }
            drill.remedy(step.id)
            lasting += len(right & drill.set.faults)
        out = io.StringIO()
        feedback(Screen(True, out, 100), drill)
        scolded += "would have taken another" in out.getvalue() or "Out of order" in out.getvalue()
        if step.kind == "remedy":
            drill.make_safe(PROOF_MOVE)
            drill.prove()
    return scolded, hints, lasting


if __name__ == "__main__":
    sys.exit(main())
