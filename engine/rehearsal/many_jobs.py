"""Many jobs played at once, and what they say of the knowledge as a whole.

Purpose: play jobs on sets drawn from the knowledge or simulated, by the suggestions and from the top of the published
order, through any executor; count what is fixed, how long it takes, what is missed and what is never used.
Law: job number n of a seed is the same job whoever plays it and in whatever order; so are all figures.
An executor is anything with `submit` as in `concurrent.futures.Executor`; knowledge and tasks can be pickled.
Not here: one job (see `played_job`), the sets (see `virtual_set`).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from ..compiler import Knowledge
from ..job import Job
from .interval import half_width
from .played_job import CAME_BACK, FIXED, REFERRED, Played, by_suggestions, from_the_top, least_minutes, play
from .relaxation import Relaxation, courses
from .virtual_set import Given, VirtualSet, bench_sets, drawn_sets
from .workers import chunks, worked

WORLDS: Mapping[str, Callable[[Knowledge, str, Given], Iterator[VirtualSet]]] = {
    "knowledge": drawn_sets,
    "bench": bench_sets,
}
CHUNK = 5


@dataclass(frozen=True, slots=True)
class WorkedTwice:
    """The same set worked in two ways, and the bound that no way can beat, min. unforeseen: where asked for, how near
    the plan of such a job is to a bound under every way that does not foresee."""

    number: int
    suggested: Played
    published: Played | None
    bound: float
    unforeseen: Unforeseen | None = None


@dataclass(frozen=True, slots=True)
class Unforeseen:
    """One course of what the planner is told of a job (see `relaxation`), min: what one comes to who knows all that is
    wrong, the least of any way that does not foresee, and the planner's own choices. Their means over many jobs count:
    the first is below the second, and the optimum is between the second and the third."""

    known: float
    least: float
    planned: float


@dataclass(frozen=True, slots=True)
class Minutes:
    """Minutes a job: mean with the half-width of its 95 % interval (None from few), median, 95th percentile."""

    mean: float
    half_width: float | None
    median: float
    most: float


def one_job(
    knowledge: Knowledge, world: str, seed: int, number: int, deepen: int = 0, published: bool = True,
    features: Mapping[str, object] | None = None, unforeseen: bool = False,
) -> WorkedTwice:  # fmt: skip
    """Job `number` of a seed in a world. unforeseen: with the bound on its plan, on sets drawn from the knowledge.

    Raises ValueError for a world that is none of WORLDS.
    """
    if world not in WORLDS:
        raise ValueError(f"no world {world!r}; expected one of {', '.join(WORLDS)}")

    def called() -> VirtualSet:
        return next(WORLDS[world](knowledge, f"{seed}/{number}", features))

    suggested = play(knowledge, called(), by_suggestions(deepen))
    other = play(knowledge, called(), from_the_top) if published else None
    bound = least_minutes(knowledge, frozenset(suggested.faults))
    against = None
    if unforeseen and world == "knowledge":
        against = on_one_course(knowledge, features, suggested.complaint, f"{seed}/{number}", deepen)
    return WorkedTwice(number, suggested, other, bound, against)


def on_one_course(
    knowledge: Knowledge, features: Mapping[str, object] | None, complaint: str, seed: str, deepen: int = 0
) -> Unforeseen:
    """The plan of a job that begins with a complaint against the bound, on one course."""
    job = Job(knowledge, features)
    job.record(complaint, "present")
    problem, sets = job.planned_over()
    relaxed = Relaxation(problem, sets, job.here)
    course = next(courses(sets, seed, 1))
    return Unforeseen(relaxed.start(), relaxed.least(course).minutes, relaxed.planned(course, deepen))


def _some_jobs(
    knowledge: Knowledge, world: str, seed: int, numbers: Sequence[int], deepen: int, published: bool,
    features: Mapping[str, object] | None, unforeseen: bool,
) -> list[WorkedTwice]:  # fmt: skip
    return [one_job(knowledge, world, seed, number, deepen, published, features, unforeseen) for number in numbers]


def rehearse(
    knowledge: Knowledge,
    count: int,
    *,
    world: str = "knowledge",
    seed: int = 1,
    deepen: int = 0,
    published: bool = True,
    features: Mapping[str, object] | None = None,
    unforeseen: bool = False,
    executor: Executor | None = None,
    done: Callable[[int], None] | None = None,
) -> tuple[WorkedTwice, ...]:
    """Play `count` jobs, in the order of their numbers.

    unforeseen: with the bound on the plan of each job, on sets drawn from the knowledge.
    executor: plays chunks of jobs, None plays them here. done: called with the number of jobs finished so far.
    Raises WorkerError where the executor fails.
    With a fleet of machines: `Client(address).get_executor()` of dask.distributed, or whatever offers `submit`.
    """
    finished: list[WorkedTwice] = []

    def take(pairs: list[WorkedTwice]) -> None:
        finished.extend(pairs)
        if done is not None:
            done(len(finished))

    pieces = [(world, seed, chunk, deepen, published, features, unforeseen) for chunk in chunks(range(count), CHUNK)]
    worked(executor, _some_jobs, (knowledge,), pieces, take)
    return tuple(sorted(finished, key=lambda pair: pair.number))


# ---- what they say


def spread(values: Sequence[float]) -> Minutes:
    """Mean, its 95 % interval, median and 95th percentile (nearest rank) of at least one value."""
    ordered, count = sorted(values), len(values)
    mean = math.fsum(values) / count
    middle = 0.5 * (ordered[(count - 1) // 2] + ordered[count // 2])
    return Minutes(mean, half_width(values), middle, ordered[math.ceil(0.95 * count) - 1])


def ends(played: Sequence[Played]) -> dict[str, int]:
    """How many jobs were fixed, handed over, or came back."""
    counted = Counter(each.end for each in played)
    return {end: counted[end] for end in (FIXED, REFERRED, CAME_BACK)}


def missed(played: Sequence[Played]) -> list[tuple[str, int, int]]:
    """(cause, times still there at the end, times there), the most often missed first; only those ever missed."""
    there = Counter(cause for each in played for cause in each.faults)
    left = Counter(cause for each in played for cause in each.left)
    return sorted(((cause, left[cause], there[cause]) for cause in left), key=lambda row: (-row[1], row[2], row[0]))


def never_chosen(knowledge: Knowledge, played: Sequence[Played]) -> list[str]:
    """Checks of the knowledge that were made in none of the jobs."""
    made = {move.id for each in played for move in each.moves if move.kind == "check"}
    return [check.id for check in knowledge.checks.values() if check.retired is None and check.id not in made]


def confused(played: Sequence[Played]) -> list[tuple[str, str, int]]:
    """(cause that was there, cause that was treated in its place, times), the most often first.

    A remedy none of whose causes was there counts for each cause of the set.
    """
    counted = Counter(
        (cause, move.blamed) for each in played for move in each.moves if move.blamed for cause in each.faults
    )
    return sorted(((*pair, times) for pair, times in counted.items()), key=lambda row: (-row[2], row[0], row[1]))
