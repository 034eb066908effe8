"""Jobs on sets of the family: as proposed, beside the published order by a fair technician; and two versions compared.

    python -m tests.benchmarks.family --jobs 40 --faults 1 --seed 1 [--held-out] [--deepen 4] [--workers 1] [--out FILE]
    python -m tests.benchmarks.family --like FILE --out FILE
    python -m tests.benchmarks.family compare FILE FILE

The first prints how the jobs ended, wrong remedies and minutes a job with 95 % intervals, what went wrong, and jobs a
second of processor time; --out keeps a JSON line for each job, as each is done. The second plays the very sets of such
a file again, with another checkout, whose knowledge may have grown. The third pairs two such files set by set.
`--held-out` draws what no tuning may see: for a final test only.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from hertzwright.engine import load_knowledge
from hertzwright.engine.rehearsal.family_jobs import FamilyJob, Figure, family_jobs, figures, paired
from hertzwright.engine.rehearsal.interval import ratio
from hertzwright.engine.rehearsal.played_job import PlayedStep
from hertzwright.engine.rehearsal.visit import LOST, Visit

MOST = 12


def told(figure: Figure, places: int = 2, scale: float = 1.0) -> str:
    value, half = figure
    within = "" if half is None else f" +- {half * scale:.{places}f}"
    return f"{value * scale:.{places}f}{within}"


def row(name: str, visits: Sequence[Visit]) -> str:
    found = figures(visits)
    ends = "/".join(str(count) for count in found.ends.values())
    return (
        f"{name:<18}{found.count:>5}  {ends:<20}{told(found.good, 0, 100):>12} %"
        f"{told(found.wrong):>18}{told(found.minutes, 0):>16}"
    )


def report(jobs: Sequence[FamilyJob]) -> None:
    proposed = [job.proposed for job in jobs]
    published = [job.published for job in jobs if job.published is not None]
    print(f"{'':<18}{'jobs':>5}  {'right/shop/left/':<20}{'good ends':>14}{'wrong remedies':>18}{'minutes':>16}")
    print(f"{'':<25}{'given up/lost':<20}")
    print(row("as proposed", proposed))
    if len(published) == len(jobs):
        print(row("published order", published))
        value = ratio([each.minutes for each in proposed], [each.minutes for each in published])
        print(f"minutes over those of the published order: {told(value)}")
    for heading, lines in classified(proposed):
        print(f"\n{heading}")
        print("\n".join(f"  {line}" for line in lines[:MOST]) or "  none")


def classified(visits: Sequence[Visit]) -> list[tuple[str, list[str]]]:
    """What went wrong, the most often first."""
    there = Counter(cause for each in visits for cause, _ in each.faults)
    bad: dict[str, Counter[str]] = {"end": Counter(), "cause": Counter()}
    remedies: Counter[str] = Counter()
    for each in visits:
        names = " + ".join(f"{cause} {severity:.2f}" for cause, severity in each.faults) or "nothing wrong"
        if not each.good:
            left = ", ".join(f"{cause} ({each.believed.get(cause, 0.0):.2f})" for cause in each.left)
            left = left or ("speed off" if each.off else "nothing")
            bad["end"][f"{each.end}: {each.complaint}; {names}; left {left}"] += 1
            bad["cause"].update(each.left)
        for move in each.moves:
            if move.answer == "wrong" and move.kind == "remedy":
                remedies[f"{' + '.join(cause for cause, _ in each.faults) or 'nothing wrong'}: {move.id}"] += 1
    steps = Counter[str]()
    for each in visits:
        for cause, _ in each.faults:
            steps[cause] += len(each.wrong)
    rows = [
        f"{cause:<30} left {bad['cause'][cause]} of {there[cause]}, wrong remedies {steps[cause] / there[cause]:.1f} a job"
        for cause in sorted(there, key=lambda cause: (-bad["cause"][cause] - steps[cause] / there[cause], cause))
        if bad["cause"][cause] or steps[cause]
    ]
    wrong = [f"{count} x {name}" for name, count in remedies.most_common()]
    return [
        ("by cause", rows),
        ("wrong remedies", wrong),
        ("bad ends", [name for name, _ in sorted(bad["end"].items())]),
    ]


# ---- kept as lines


def as_line(job: FamilyJob, run: Mapping[str, object]) -> str:
    visits = {name: as_json(each) for name in ("proposed", "published") if (each := getattr(job, name)) is not None}
    run = {**run, "member": job.member}
    return json.dumps({**run, "number": job.number, "features": dict(job.features), **visits}, sort_keys=True)


def as_json(each: Visit) -> dict[str, Any]:
    return {**asdict(each), "believed": dict(each.believed), "good": each.good, "wrong": list(each.wrong)}


def of_json(kept: Mapping[str, Any]) -> Visit:
    return Visit(
        kept["complaint"],
        tuple((cause, severity) for cause, severity in kept["faults"]),
        tuple(kept["left"]),
        kept["off"],
        kept["end"],
        kept["minutes"],
        tuple(PlayedStep(**move) for move in kept["moves"]),
        kept["believed"],
    )


def read(path: Path) -> tuple[dict[str, object], dict[int, FamilyJob]]:
    """The run and its jobs by number. A line that was broken off at the end is left out."""
    jobs: dict[int, FamilyJob] = {}
    run: dict[str, object] = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            kept = json.loads(line)
        except ValueError:
            continue
        run = {name: kept[name] for name in ("seed", "faults", "held_out")}
        visits = [of_json(kept[name]) if name in kept else None for name in ("proposed", "published")]
        assert visits[0] is not None
        jobs[kept["number"]] = FamilyJob(kept["number"], kept["features"], visits[0], visits[1], kept.get("member", ""))
    return run, jobs


def compare(first: Path, second: Path) -> None:
    (run, one), (other, two) = read(first), read(second)
    if run != other:
        raise SystemExit(f"{first} is of {run}, {second} of {other}: not the same sets")
    found = paired(
        {number: job.proposed for number, job in one.items()}, {number: job.proposed for number, job in two.items()}
    )
    print(
        f"{len(found.numbers)} sets in both{f', {found.unlike} more that are not the same' if found.unlike else ''}: {run}"
    )
    print(row("first", [one[number].proposed for number in found.numbers]))
    print(row("second", [two[number].proposed for number in found.numbers]))
    print(f"good ends, second less first: {told(found.good, 1, 100)} %")
    print(f"wrong remedies, second less first: {told(found.wrong)} a job")
    print(f"minutes, second over first: {told(found.minutes)}")
    for name, numbers in (("only the second put right", found.put_right), ("only the first put right", found.spoilt)):
        print(f"{name}: {', '.join(map(str, numbers)) or 'none'}")
        for number in numbers:
            worse = (one if numbers is found.put_right else two)[number].proposed
            print(f"  {number}: {worse.end}; {worse.complaint}; {worse.faults}; left {worse.left}")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.family", description=__doc__)
    parser.add_argument("what", nargs="*", help="compare FILE FILE")
    parser.add_argument("--jobs", type=int, default=40)
    parser.add_argument("--first", type=int, default=0, help="number of the first job")
    parser.add_argument("--faults", type=int, default=1)
    parser.add_argument("--seed", default="1")
    parser.add_argument("--held-out", action="store_true")
    parser.add_argument("--deepen", type=int, default=4)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--no-published", action="store_true", help="leave the published order out")
    parser.add_argument("--out", type=Path)
    parser.add_argument(
        "--like", type=Path, help="play the very sets of this file again, also if the knowledge has grown"
    )
    given = parser.parse_args()
    if given.what[:1] == ["show"] and len(given.what) == 2:
        report(list(read(Path(given.what[1]))[1].values()))
        return
    if given.what:
        if given.what[0] != "compare" or len(given.what) != 3:
            parser.error("expected: compare FILE FILE, or show FILE")
        compare(*map(Path, given.what[1:]))
        return
    run: dict[str, object] = {"seed": given.seed, "faults": given.faults, "held_out": given.held_out}
    numbers: Sequence[int] = range(given.first, given.first + given.jobs)
    like: dict[int, FamilyJob] = {}
    if given.like:
        run, like = read(given.like)
        numbers = [number for number in sorted(like) if number >= given.first][: given.jobs]
    out = given.out.open("w", encoding="utf-8") if given.out else None

    def keep(jobs: Sequence[FamilyJob]) -> None:
        for job in jobs if out else ():
            out.write(as_line(job, run) + "\n")
            out.flush()

    knowledge, wall, spent = load_knowledge(), time.perf_counter(), time.process_time()
    pool = ProcessPoolExecutor(given.workers, mp_context=get_context("spawn")) if given.workers > 1 else None
    jobs = family_jobs(
        knowledge, numbers, seed=str(run["seed"]), faults=int(str(run["faults"])), held_out=bool(run["held_out"]),
        like=like, deepen=given.deepen, published=not given.no_published, executor=pool, done=keep,
    )  # fmt: skip
    if pool is not None:
        pool.shutdown()
    print(f"{given.jobs} jobs from {given.first}, {run}, {given.deepen} steps deepened")
    report(jobs)
    wall, spent = time.perf_counter() - wall, time.process_time() - spent
    rate = f"; {given.jobs / spent:.2f} a second of processor time" if pool is None else ""
    print(f"\n{given.jobs / wall:.2f} jobs a second{rate}")
    lost = sum(job.proposed.end == LOST for job in jobs)
    if lost:
        print(f"{lost} went on past the most steps")


if __name__ == "__main__":
    main()
