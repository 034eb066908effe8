"""The customer of a made-up set: what he could say of it, and what of that he says.

Purpose: a simulated set -> the complaints that it truly shows, and those that are made.
Law: nothing is said that the set does not show; of several faults each is in something that is said. All chance is the
draws that are handed in.
Not here: the words (knowledge/complaints.yaml), which sets are dealt (see `dealing`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..compiler import Knowledge
from ..rehearsal import BenchSet
from ..simulated import Bench, Draws


def customer_says(knowledge: Knowledge, bench: Bench) -> tuple[str, ...]:
    """Every complaint that a customer could truly make of a set, in the order of the knowledge. Each is held against a
    set that nobody has read yet: a second reading differs by the noise of the meter, near a limit by its outcome."""
    return tuple(
        name
        for name, each in knowledge.complaints.items()
        if each.retired is None and BenchSet(knowledge, bench).shows(name)
    )


def said_of(
    complaints: tuple[str, ...], alone: Sequence[BenchSet], knowledge: Knowledge, draws: Draws
) -> tuple[str, ...]:
    """What is said, of what could be: what endangers people always, and first; of each fault something that it shows
    by itself; none where that cannot be. Of a set with one fault one thing or two.

    alone: the set with each of several faults by itself. A customer who told of one fault alone would have the set
    fixed of that one, and nobody could know of the other."""
    urgent = [name for name in complaints if knowledge.complaints[name].stop_first]
    rest = [name for name in complaints if name not in urgent]
    said = urgent[:1]
    for found in alone:
        if any(found.shows(name) for name in said):
            continue
        told = sorted(rest, key=lambda name: draws.uniform())
        shown = next((name for name in told if found.shows(name)), None)
        if shown is None:
            return ()
        said.append(shown)
    for chance in (1.0, 0.5):
        left = [name for name in rest if name not in said]
        if left and len(said) < 2 and draws.uniform() < chance:
            said.append(left[int(draws.uniform() * len(left))])
    return tuple(said)


def always_shows(knowledge: Knowledge, bench: Bench, said: tuple[str, ...]) -> bool:
    """Whether something of what is said shows on a set in other runs of it too, as those after a repair will be."""
    return all(any(BenchSet(knowledge, replace(bench, steps=steps)).shows(name) for name in said) for steps in (1, 2))
