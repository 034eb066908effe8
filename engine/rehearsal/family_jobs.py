"""Many visits to sets of the family, and what two ways, or two versions of the program, made of the same sets.

Purpose: visits by number and seed through any executor; shares of the ends, wrong remedies, minutes, with intervals;
the pairing of two runs over the same sets.
Law: job number n of a seed is the same set whoever plays it; runs are paired by number, and only where the set, its
faults and its complaint are the same in both.
Not here: one visit (see `visit`), intervals (see `interval`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from ..compiler import Knowledge
from .family_set import call_out, called_again
from .interval import half_width, ratio
from .visit import ENDS, Visit, as_proposed, from_the_top_listening, visit
from .workers import chunks, worked

CHUNK = 2
Figure = tuple[float, float | None]
"""A figure and the half-width of its 95 % interval, None from few."""


@dataclass(frozen=True, slots=True)
class FamilyJob:
    """One set worked on as proposed and, where asked for, through the published order."""

    number: int
    features: Mapping[str, object]
    proposed: Visit
    published: Visit | None
    member: str = ""
    """The seed of the member that the set is."""


def family_job(
    knowledge: Knowledge, seed: int | str, number: int, faults: int = 1, *,
    held_out: bool = False, deepen: int = 4, published: bool = True, like: FamilyJob | None = None,
) -> FamilyJob:  # fmt: skip
    """Job `number` of a seed; like: or the set of a job that was played before. LookupError where there is no set."""
    if like is None:
        called = call_out(knowledge, f"{seed}/{faults}/{number}", faults, held_out)
    else:
        called = called_again(knowledge, like.member, like.proposed.faults, like.proposed.complaint, held_out)
    other = visit(knowledge, called.again(), from_the_top_listening) if published else None
    played = visit(knowledge, called.again(), as_proposed(deepen))
    return FamilyJob(number, called.features, played, other, called.member.seed if called.member else "")


def _some_jobs(
    knowledge: Knowledge, seed: int | str, numbers: Sequence[int], faults: int, held_out: bool, deepen: int,
    published: bool, like: Mapping[int, FamilyJob],
) -> list[FamilyJob]:  # fmt: skip
    return [
        family_job(
            knowledge, seed, number, faults, held_out=held_out, deepen=deepen, published=published,
            like=like.get(number),
        )
        for number in numbers
    ]  # fmt: skip


def family_jobs(
    knowledge: Knowledge,
    numbers: Sequence[int],
    *,
    seed: int | str = 1,
    faults: int = 1,
    held_out: bool = False,
    deepen: int = 4,
    published: bool = True,
    like: Mapping[int, FamilyJob] | None = None,
    executor: Executor | None = None,
    done: Callable[[Sequence[FamilyJob]], None] | None = None,
) -> tuple[FamilyJob, ...]:
    """Play jobs, in the order of their numbers. executor, done: as in `many_jobs.rehearse`, done with jobs finished.

    like: jobs played before, by number, whose very sets are played again, also where the knowledge has grown since.
    """
    like = like or {}
    pieces = [
        (seed, chunk, faults, held_out, deepen, published, {number: like[number] for number in chunk if number in like})
        for chunk in chunks(numbers, CHUNK)
    ]
    found = worked(executor, _some_jobs, (knowledge,), pieces, done)
    return tuple(job for jobs in found for job in jobs)


@dataclass(frozen=True, slots=True)
class VisitFigures:
    """Of many visits: how many ended how, share of good ends, wrong remedies and minutes a job."""

    count: int
    ends: Mapping[str, int]
    good: Figure
    wrong: Figure
    minutes: Figure


def figures(visits: Sequence[Visit]) -> VisitFigures:
    """The figures of at least one visit."""
    counted = Counter(each.end for each in visits)

    def mean(values: Sequence[float]) -> Figure:
        return sum(values) / len(values), half_width(values)

    return VisitFigures(
        len(visits),
        {end: counted[end] for end in ENDS},
        mean([float(each.good) for each in visits]),
        mean([float(len(each.wrong)) for each in visits]),
        mean([each.minutes for each in visits]),
    )


@dataclass(frozen=True, slots=True)
class Paired:
    """Two runs over the same sets: what the second has more than the first, and its minutes over those of the first.

    numbers: of the jobs that are compared; put_right, spoilt: of those that only the second, or only the first,
    brought to a good end.
    """

    numbers: tuple[int, ...]
    unlike: int
    good: Figure
    wrong: Figure
    minutes: Figure
    put_right: tuple[int, ...]
    spoilt: tuple[int, ...]


def paired(first: Mapping[int, Visit], second: Mapping[int, Visit]) -> Paired:
    """Runs compared set by set. Raises ValueError where they share none."""
    both = sorted(first.keys() & second.keys())
    same = [
        number
        for number in both
        if (first[number].faults, first[number].complaint) == (second[number].faults, second[number].complaint)
    ]
    if not same:
        raise ValueError(f"{len(first)} and {len(second)} jobs share no set with the same faults and complaint")
    pairs = [(first[number], second[number]) for number in same]

    def more(of: Callable[[Visit], float]) -> Figure:
        values = [of(two) - of(one) for one, two in pairs]
        return sum(values) / len(values), half_width(values)

    return Paired(
        tuple(same),
        len(both) - len(same),
        more(lambda each: float(each.good)),
        more(lambda each: float(len(each.wrong))),
        ratio([two.minutes for _, two in pairs], [one.minutes for one, _ in pairs]),
        tuple(number for number in same if second[number].good and not first[number].good),
        tuple(number for number in same if first[number].good and not second[number].good),
    )
