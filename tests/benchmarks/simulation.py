"""How fast the simulated set runs: simulated seconds in a second of processor time, and what one whole check costs.

    python -m tests.benchmarks.simulation

Prints a table; nothing is asserted. Processor time of this process counts, so that others on the machine do not.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from hertzwright.engine import load_knowledge
from hertzwright.engine.simulated.bench import Bench
from hertzwright.engine.simulated.equilibrium import equilibrium, with_no_load
from hertzwright.engine.simulated.faults import afflict
from hertzwright.engine.simulated.running import RunSegment, run
from hertzwright.engine.simulated.sound_set import sound_set

SETS: tuple[tuple[str, tuple[tuple[str, float], ...], dict[str, str]], ...] = (
    ("sound", (), {}),
    ("sound, no booster", (), {"booster": "none"}),
    ("sound, four cylinders", (), {"cylinders": "4"}),
    ("lost motion", (("linkage_worn", 0.7),), {}),
    ("lean idle", (("idle_mixture_lean", 0.7),), {}),
    ("load that comes and goes", (("load_cycles", 0.7),), {}),
    ("three faults", (("linkage_binding", 0.5), ("fuel_starvation", 0.5), ("vacuum_leak", 0.5)), {}),
)
LOADS = (RunSegment(60.0), RunSegment(60.0, 0.5), RunSegment(60.0, 1.0), RunSegment(60.0))
ROUNDS = 5


def spent(work: Callable[[], object], times: int = 1) -> float:
    """Least seconds of processor time of one call, of a few rounds."""
    rounds = []
    for _ in range(ROUNDS):
        begin = time.process_time()
        for _ in range(times):
            work()
        rounds.append((time.process_time() - begin) / times)
    return min(rounds)


def main() -> None:
    knowledge = load_knowledge()
    print(f"{'set':26} simulated seconds a second (wanted: at least 1,000)")
    simulated = sum(stretch.seconds for stretch in LOADS)
    for name, faults, features in SETS:
        plant = afflict(sound_set(knowledge.features(features)), faults)
        print(f"{name:26} {simulated / spent(lambda plant=plant: run(plant, LOADS, seed=1)):8,.0f}")  # type: ignore[misc]
    plant = sound_set(knowledge.features({}))
    print(f"\n{'work':26} milliseconds")
    print(f"{'static balance':26} {1e3 * spent(lambda: equilibrium(plant, 0.5), 20):8.1f}")
    print(f"{'speed set to 61.7 Hz':26} {1e3 * spent(lambda: with_no_load(plant, 61.7)):8.1f}")
    features = knowledge.features({})
    checks = [check for check in knowledge.checks if knowledge.applies(check, features)]
    seeds = iter(range(ROUNDS))

    def all_checks() -> None:
        bench = Bench(features, (("linkage_worn", 0.7),), seed=next(seeds))
        for check in checks:
            bench.answer(check)

    print(f"{f'all {len(checks)} checks of a set':26} {1e3 * spent(all_checks):8.1f}")


if __name__ == "__main__":
    main()
