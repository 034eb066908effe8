"""What the tally finds of words that are wrong by one step, on jobs whose true words are known.

python -m tests.benchmarks.tally [--jobs 300] [--seed 1] [--worth 20] [--over 0.1] [--among]

The true words are those that ship but for five, each a step up or down. Sets are drawn by the true words and called out
for what is said of them. A technician makes the checks that show what the shipped knowledge suspects, then mends what
is there, and closes the set as fixed and proven; every tenth is handed over with its looks. What is counted is the
shipped knowledge's own: it knows nothing of the true words. Nothing is planned, so 300 jobs take a minute or two.
"It takes" tells how many jobs must bear on a word until it can be told from the true one at all. --among works only sets
that have one of the causes with a wrong word, as a workshop that sees the same few troubles; how common a cause is then
says nothing and is left out.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import log
from statistics import fmean

from hertzwright.engine import ContradictionError, Event, Job, Knowledge, load_knowledge
from hertzwright.engine.compiler.model import Word
from hertzwright.engine.rehearsal.virtual_set import DrawnSet
from hertzwright.engine.review.call_outs import called_out
from hertzwright.engine.review.tally import ClosedJob, Count, as_closed_job, tally, updated
from hertzwright.engine.simulated.draws import Draws
from hertzwright.engine.teaching import any_features

SUSPECTED, CHECKS = 5, 20
"""Causes that the technician has in mind, and the checks that he makes."""


@dataclass(frozen=True, slots=True)
class WrongWord:
    """A word of the shipped knowledge that is wrong: what is written and what is true. No check: how common."""

    cause: str
    check: str
    outcome: str
    written: str
    true: str


WRONG = (
    WrongWord("idle_mixture_lean", "", "", "", "up"),
    WrongWord("sensitivity_sharp", "swing_no_load", "slow_swing", "", "down"),
    WrongWord("misfire_one_cylinder", "popping_loaded", "bangs_in_exhaust", "", "up"),
    WrongWord("speed_set_high", "voltage_no_load", "high", "", "up"),
    WrongWord("speed_set_low", "frequency_half_load", "low", "", "down"),
)


def stepped(knowledge: Knowledge, chance: float, way: str) -> Word | None:
    """The word one step up or down from the one nearest to a chance."""
    words = sorted({word.value: word for word in knowledge.catalogue.words.values()}.values(), key=lambda w: w.value)
    at = min(range(len(words)), key=lambda place: abs(log(words[place].value / chance)))
    place = at + (1 if way == "up" else -1)
    return words[place] if 0 <= place < len(words) else None


def with_true_words(shipped: Knowledge) -> tuple[Knowledge, tuple[WrongWord, ...]]:
    """The knowledge as it truly is, and the words of the shipped one that are wrong, with both numbers."""
    causes = dict(shipped.catalogue.causes)
    told = []
    for each in WRONG:
        cause = causes[each.cause]
        if not each.check:
            word = stepped(shipped, cause.how_common, each.true)
            assert word is not None, each
            told.append(replace(each, written=f"{cause.how_common:g}", true=f"{word.value:g}"))
            causes[each.cause] = replace(cause, how_common=word.value)
            continue
        row = list(cause.shows[each.check])
        place = shipped.checks[each.check].index(each.outcome)
        word = stepped(shipped, row[place], each.true)
        assert word is not None, each
        told.append(replace(each, written=f"{row[place]:g}", true=f"{word.value:g}"))
        row[0] += row[place] - word.value
        row[place] = word.value
        assert row[0] >= 0.0, each
        causes[each.cause] = replace(cause, shows={**cause.shows, each.check: tuple(row)})
    return Knowledge(replace(shipped.catalogue, causes=causes)), tuple(told)


def looks(knowledge: Knowledge, job: Job, made: set[str]) -> Iterator[str]:
    """Checks that show what is suspected at least one time in four, the most suspected first."""
    ranked = sorted(job.posterior().items(), key=lambda item: (-item[1], item[0]))[:SUSPECTED]
    for cause, _ in ranked:
        rows = knowledge.causes[cause].shows.items()
        for check, row in sorted(rows, key=lambda item: (item[1][0], item[0])):
            if check in job.checks and check not in made and 1.0 - row[0] >= 0.25:
                yield check


def closed(
    shipped: Knowledge, truth: Knowledge, number: int, seed: int, over: float, among: frozenset[str] | None = None
) -> ClosedJob | None:
    """A set by the true words, worked and closed by one who has the shipped knowledge; None where nothing was wrong, or
    nothing of what is worked (`among`)."""
    draws = Draws("tally", seed, number)
    features = any_features(shipped, draws, {})
    drawn = called_out(truth, (shipped, truth), features, f"tally/{seed}/{number}")
    if not drawn.faults or (among is not None and not drawn.faults & among):
        return None
    job = Job(shipped, features)
    job.record(drawn.complaint, "present")
    made: set[str] = set()
    while len(made) < CHECKS:
        check = next(looks(shipped, job, made), None)
        if check is None:
            break
        made.add(check)
        job.record(check, drawn.answer(check))
        if job.held:
            job.secure("the technician")
    mended = draws.uniform() >= over and mend(shipped, job, drawn)
    closing = Event("closed", "fixed" if mended else "handed_over")
    try:
        return as_closed_job(Job.replay(shipped, [*job.events, closing]))
    except ContradictionError:
        return None


def mend(knowledge: Knowledge, job: Job, drawn: DrawnSet) -> bool:
    """The best remedy of each cause that is there, as one who finds it in the end, until the proof run passes."""
    for cause in sorted(drawn.faults) * 2:
        remedy = max(
            (each for each in knowledge.remedies.values() if cause in each.cures and each.retired is None),
            key=lambda each: (each.cures[cause], each.id),
        )
        if drawn.treat(remedy.id):
            job.carry_out(remedy.id, "cured")
            return True
        job.carry_out(remedy.id, "not cured")
    return False


def it_takes(each: WrongWord, worth: float) -> int:
    """Jobs that bear on a word until the interval leaves it out, where they turn out as is true."""
    written, true = float(each.written), float(each.true)
    for jobs in range(5, 10_000):
        _, low, high = updated(written, worth, true * jobs, jobs)
        if not low <= written <= high:
            return jobs
    return 10_000


def table(knowledge: Knowledge, counts: Sequence[Count], told: Sequence[WrongWord], worth: float) -> None:
    by = {(count.cause, count.check, count.outcome): count for count in counts}
    print("| Wrong word | Written | True | Jobs | It takes | Counted | 90 % interval | Proposed |")
    print("|---|---|---|---|---|---|---|---|")
    for each in told:
        name = f"{each.cause} {each.check} {each.outcome}".strip()
        count = by.get((each.cause, each.check, each.outcome))
        takes = it_takes(each, worth)
        if count is None:
            print(f"| {name} | {each.written} | {each.true} | 0 | {takes} | | | |")
            continue
        word = knowledge.catalogue.words[count.word].value if count.word else None
        right = (
            ""
            if word is None
            else " (right)"
            if f"{word:g}" == each.true
            else " (right way)"
            if (word > count.present) == (float(each.true) > count.present)
            else " (WRONG way)"
        )
        print(
            f"| {name} | {each.written} | {each.true} | {count.jobs} | {takes} | {count.mean:.3f} | "
            f"{count.low:.3f} to {count.high:.3f} | {'none' if word is None else f'{count.word} {word:g}{right}'} |"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--worth", type=float, default=20.0)
    parser.add_argument("--over", type=float, default=0.1, help="share of sets that are handed over")
    parser.add_argument("--among", action="store_true", help="only sets with one of the causes that have a wrong word")
    given = parser.parse_args()
    shipped = load_knowledge()
    truth, told = with_true_words(shipped)
    among = frozenset(each.cause for each in told) if given.among else None
    jobs: list[ClosedJob] = []
    number = 0
    while len(jobs) < given.jobs:
        number += 1
        found = closed(shipped, truth, number, given.seed, given.over, among)
        jobs += [found] if found is not None else []
    counted = tally(shipped, jobs, given.worth)
    if given.among:
        counted = replace(counted, counts=tuple(count for count in counted.counts if count.check))
    wrong = {(each.cause, each.check, each.outcome) for each in told}
    others = [count for count in counted.counts if (count.cause, count.check, count.outcome) not in wrong]
    changed = [count for count in others if count.word]
    enough = [count for count in others if count.jobs >= 5]
    print(
        f"{counted.jobs} jobs, {counted.handed_over} handed over; {sum(bool(each.cause) for each in jobs)} tell one cause."
    )
    table(shipped, counted.counts, told, given.worth)
    print(f"Right words borne on by five jobs or more: {len(enough)}; wrongly changed: {len(changed)}.")
    outside = fmean(not count.low <= count.present <= count.high for count in enough) if enough else 0.0
    print(f"Of their 90 % intervals {100 * outside:.0f} % leave out the right word.")
    for count in changed:
        name = f"{count.cause} {count.check} {count.outcome}".strip()
        print(
            f"- {name}: {count.present:g} -> {count.word} ({count.seen:.1f} of {count.jobs} jobs, {count.own:.1f} its own)"
        )
    print(f"Unlisted answers told: {len(counted.unlisted)}.")


if __name__ == "__main__":
    main()
