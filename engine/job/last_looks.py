"""The looks that come before a set is handed over.

Purpose: what may be wrong, and what was looked at -> the looks that still tell something of it, the one that tells most
for its minutes first.

Handing over is the dearest step there is and ends the search, and its price is compared with prices that rest on how
strongly causes show, which is known less well than what a look takes. Where several causes share the suspicion no
single look may seem to pay, though together they would show which it is: so those are made first.

Law: pure; nothing here is proposed that an order rule or a tool that is not there holds back.
Not here: when a set is to be handed over (see `advice`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from math import fsum

from .equipment import lacking
from .generating_set import GeneratingSet
from .state import JobState


def last_looks(
    genset: GeneratingSet,
    state: JobState,
    sets: Sequence[tuple[frozenset[str], float]],
    settled: Collection[str],
    waits: Mapping[str, Collection[str]],
    longest: float,
) -> tuple[tuple[str, float], ...]:
    """(check, minutes with the move to it), of at most `longest` minutes each.

    sets: fault sets with weights. settled: checks not worth asking again. waits: for a step, what comes before it. A
    look tells something where it moves, in the mean, as much of the belief as "seldom" stands for.
    """
    knowledge, costs = genset.knowledge, genset.knowledge.catalogue.costs
    least = knowledge.catalogue.words["seldom"].value
    answered = {name for name, _ in state.made}
    found = []
    for name, check in genset.checks.items():
        if check.derived_from is not None or name in settled or not answered.issuperset(waits.get(name, ())):
            continue
        minutes = costs.move(state.here, check.state) + check.minutes
        if minutes > longest or lacking(knowledge.catalogue, "check", name, state.absent):
            continue
        told = _told([(knowledge.distribution(name, present), weight) for present, weight in sets])
        if told >= least:
            found.append((-told / max(minutes, 1.0), name, minutes))
    return tuple((name, minutes) for _, name, minutes in sorted(found))


def _told(rows: Sequence[tuple[Sequence[float], float]]) -> float:
    """Share of the belief that a look moves, in the mean: of each row the chances of its outcomes, and its weight."""
    total = fsum(weight for _, weight in rows)
    moved = []
    for column in zip(*(chances for chances, _ in rows), strict=True):
        mean = fsum(chance * weight for chance, (_, weight) in zip(column, rows, strict=True)) / total
        moved += [abs(chance - mean) * weight for chance, (_, weight) in zip(column, rows, strict=True)]
    return fsum(moved) / (2.0 * total)
