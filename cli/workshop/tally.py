"""`hertzwright knowledge tally JOBS...`: what closed jobs say of the words.

Purpose: count what jobs turned out to be, and print the changes of words that the counts call for, as a patch with
the evidence beside each.
Law: no file is changed. Nothing of a customer is printed: no name of a set, no note, no name of a job file that was
read without trouble.
Not here: the counting (see `review.tally`), the patch (see `review.word_patch`).
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from importlib.resources import as_file, files
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory

from ...engine import ContradictionError, HertzwrightError, Job, Knowledge
from ...engine.job import closing, current, standing_of
from ...engine.problems import printable
from ...engine.review import LEAST, LEVEL, SURE, ClosedJob, Count, Tally, WordChange, as_closed_job, tally, word_changes
from ..files import export, journal, store
from ..terminal import Screen

_COUNTED = ("fixed", "handed_over")


_NOTHING = (
    "No job was counted, so nothing is said of any word. A job counts once it is closed as fixed and proven, or handed "
    "over; name job files, files of exported jobs or folders of them, or close jobs here."
)


class TallyError(HertzwrightError):
    """Nothing can be counted."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "jobs",
        nargs="*",
        metavar="JOBS",
        help="job files, exported jobs, or folders of them (default: your own jobs)",
    )
    parser.add_argument(
        "--worth", type=_worth, default=20.0, metavar="N", help="jobs that a present word is worth (default 20)"
    )
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--markdown", action="store_true", help="print Markdown for a pull request")
    form.add_argument("--json", action="store_true", help="print JSON")
    store.add_folder(parser)
    store.add_knowledge(parser)
    store.add_plain(parser)


def _worth(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.5 <= value <= 10_000:
        raise argparse.ArgumentTypeError(f'"{printable(text)}": expected a number of jobs from 0.5 to 10000')
    return value


def run(arguments: argparse.Namespace) -> int:
    if find_spec("scipy") is None:
        raise TallyError("tally needs scipy; install it with: pip install 'hertzwright[trace]'")
    knowledge = store.knowledge(arguments.knowledge)
    with ExitStack() as stack:
        room = Path(stack.enter_context(TemporaryDirectory()))
        named = arguments.jobs or [str(store.jobs_folder(arguments.folder))]
        found, skipped = _told(knowledge, [path for name in named for path in _files(name, room)])
        counted = tally(knowledge, found, arguments.worth)
        shipped = files("hertzwright.knowledge")
        folder = Path(arguments.knowledge) if arguments.knowledge else stack.enter_context(as_file(shipped))
        made = word_changes(folder, counted.counts)
    for reason, times in skipped.items():
        print(f"not counted: {times} {'job' if times == 1 else 'jobs'} {reason}", file=sys.stderr)
    if arguments.json:
        print(json.dumps(as_json(counted, made, skipped, arguments.worth), sort_keys=True, indent=2))
    elif arguments.markdown:
        print("\n".join(_markdown(knowledge, counted, made, arguments.worth)))
    else:
        _show(knowledge, counted, made, Screen(arguments.plain), arguments.worth)
    return 0


def _files(name: str, room: Path) -> Iterator[Path]:
    """Job files that a name on the command line stands for. Exported jobs are unpacked into `room`."""
    path = Path(name)
    if path.is_dir():
        try:
            listed = sorted(each for each in path.iterdir() if each.suffix in (".jsonl", ".json") and each.is_file())
        except OSError as error:
            raise TallyError(f"{printable(name)}: cannot be read: {error.strerror or error}") from None
        for each in listed:
            yield from _files(str(each), room)
    elif path.suffix == ".json":
        inner = room / str(len(list(room.iterdir())))
        inner.mkdir()
        for ident, content in export.unpacked(name):
            (inner / f"{ident}.jsonl").write_bytes(content)
            yield inner / f"{ident}.jsonl"
    elif path.is_file():
        yield path
    else:
        raise TallyError(f"{printable(name)}: no such job file, file of jobs or folder")


def _told(knowledge: Knowledge, paths: list[Path]) -> tuple[list[ClosedJob], dict[str, int]]:
    """What the jobs tell, and why others tell nothing. The same job twice counts once."""
    found: list[ClosedJob] = []
    skipped: dict[str, int] = {}
    seen: set[str] = set()

    def skip(reason: str) -> None:
        skipped[reason] = skipped.get(reason, 0) + 1

    for path in paths:
        try:
            record = journal.read(path)
            key = export.token(record)  # it may come under another id, and with names or without
            if key in seen:
                skip("given twice")
                continue
            seen.add(key)
            if record.damage:
                skip("damaged")
            elif closing(standing_of(record.events)) not in _COUNTED:
                skip("neither closed as fixed and proven nor handed over")
            else:
                events, _ = current(knowledge, record.events)
                found.append(as_closed_job(Job.replay(knowledge, events)))
                if record.head.knowledge != knowledge.fingerprint:
                    skipped.setdefault("made with other knowledge, and counted all the same", 0)
                    skipped["made with other knowledge, and counted all the same"] += 1
        except ContradictionError:
            skip("whose findings cannot all be right")
        except HertzwrightError:
            skip("that cannot be read with this knowledge")
    other = "made with other knowledge, and counted all the same"
    if other in skipped:
        skipped[other] = skipped.pop(other)
    return found, skipped


# ---- what is printed


def evidence(knowledge: Knowledge, count: Count) -> str:
    """What the jobs say of one word, in a sentence without any figure that is not needed."""
    title = knowledge.causes[count.cause].title
    if count.check:
        check = knowledge.checks[count.check]
        what = f'{title}: {check.title} showed "{count.outcome}" in {count.seen:.0f} of {count.jobs} jobs'
        if count.seen - count.own >= 0.05:
            what += f", {count.own:.1f} of them by itself"
    else:
        what = f"{title}: there in {count.seen:.1f} of {count.jobs} jobs, {count.said:.1f} expected of what was said"
    return (
        f"{what}; now {count.present:.3g}, with the jobs {count.mean:.3g} "
        f"(90 % interval {count.low:.3g} to {count.high:.3g})"
    )


def _rules(worth: float) -> str:
    return (
        f"A present word is worth {worth:g} jobs. A change is proposed from {LEAST} jobs on, where the {LEVEL:.0%} "
        f"interval leaves out the present number and another word is nearer. How strongly: only jobs that tell one "
        f"cause ({SURE:.0%} sure). Sets handed over count for how common causes are; sets left open do not count."
    )


def _show(knowledge: Knowledge, counted: Tally, made: tuple[WordChange, ...], screen: Screen, worth: float) -> None:
    # A patch can be piped on: everything but the patch and its evidence goes to standard error.
    err = Screen(True, file=sys.stderr)
    if not counted.jobs:
        err.line(_NOTHING)
        return
    over = f", {counted.handed_over} of them handed over" if counted.handed_over else ""
    err.line(f"{counted.jobs} jobs counted{over}, {len(counted.counts)} words borne on, {len(made)} changes proposed.")
    err.line(_rules(worth))
    for cause, check, outcome, times, jobs in counted.unlisted:
        err.line(
            f'{knowledge.causes[cause].title} is not said to show "{outcome}" in {knowledge.checks[check].title}; '
            f"seen in {times} of {jobs} jobs.",
            hanging="  ",
        )
    for change in made:
        print(f"# {evidence(knowledge, change.count)}")
        print(change.patch)


def _markdown(knowledge: Knowledge, counted: Tally, made: tuple[WordChange, ...], worth: float) -> list[str]:
    if not counted.jobs:
        return [_NOTHING]
    rows = [f"{counted.jobs} closed jobs; {len(made)} changes proposed. {_rules(worth)}", ""]
    for change in made:
        rows += [f"- {evidence(knowledge, change.count)}", "", "```diff", change.patch.rstrip("\n"), "```", ""]
    return rows


def as_json(counted: Tally, made: tuple[WordChange, ...], skipped: dict[str, int], worth: float) -> dict[str, object]:
    """Everything that `--json` prints."""
    patches = {(change.count.cause, change.count.check, change.count.outcome): change.patch for change in made}
    return {
        "version": 1,
        "jobs": counted.jobs,
        "handed_over": counted.handed_over,
        "not_counted": skipped,
        "worth": worth,
        "counts": [
            {
                "cause": count.cause, "check": count.check, "outcome": count.outcome, "present": count.present,
                "seen": count.seen, "own": count.own, "said": count.said, "jobs": count.jobs,
                "mean": count.mean, "low": count.low, "high": count.high,
                "word": count.word, "patch": patches.get((count.cause, count.check, count.outcome), ""),
            }
            for count in counted.counts
        ],
        "unlisted": [
            {"cause": cause, "check": check, "outcome": outcome, "seen": times, "jobs": jobs}
            for cause, check, outcome, times, jobs in counted.unlisted
        ],
    }  # fmt: skip
