"""`hertzwright knowledge rehearse`: play many simulated jobs and count.

Purpose: what the knowledge as a whole is worth: how many sets get fixed, how long it takes against the bound that
nobody can beat and against the published order, what is missed, never used or confused.
Law: the same seed gives the same figures, with any number of workers.
Not here: the jobs and the counting (see `rehearsal.many_jobs`).
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict

from ...engine import Knowledge
from ...engine.rehearsal import WORLDS, WorkedTwice, confused, ends, missed, never_chosen, ratio, rehearse, spread
from ..files import store
from ..terminal import ProgressBar, Screen, minutes
from .workers import add_workers, workers

_SHOWN = 8
_CALLED = {"knowledge": "Sets drawn from the knowledge", "bench": "Simulated sets"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--jobs", type=_count(1), default=60, metavar="N", help="jobs in each world (default 60)")
    parser.add_argument(
        "--sets", choices=("both", *WORLDS), default="both", help="drawn from the knowledge, the simulated set, or both"
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="other sets (default 1)")
    parser.add_argument(
        "--deepen", type=_count(0), default=0, metavar="N", help="steps looked at two deep (default 0, the quick way)"
    )
    add_workers(parser)
    parser.add_argument("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def _count(least: int) -> Callable[[str], int]:
    def number(text: str) -> int:
        value = int(text) if text.isdecimal() else least - 1
        if value < least:
            raise argparse.ArgumentTypeError(f'"{text}": expected a whole number, {least} or more')
        return value

    return number


def run(arguments: argparse.Namespace) -> int:
    knowledge = store.knowledge(arguments.knowledge)
    worlds = list(WORLDS) if arguments.sets == "both" else [arguments.sets]
    played = {world: _play(knowledge, world, arguments) for world in worlds}
    if arguments.json:
        found = {
            "version": 1,
            "jobs": arguments.jobs,
            "seed": arguments.seed,
            "deepen": arguments.deepen,
            "worlds": {world: as_json(knowledge, pairs) for world, pairs in played.items()},
        }
        print(json.dumps(found, sort_keys=True, indent=2))
        return 0
    screen = Screen(arguments.plain)
    for world, pairs in played.items():
        _show(knowledge, world, pairs, screen)
    screen.line()
    screen.note(
        "Bound: knows every fault, every remedy works at once. The plan: its expected minutes on what the planner is "
        "told at the complaint, against a bound under all ways that learn only from what they look at. Handed over and "
        f"came back are charged {minutes(knowledge.catalogue.costs.refer)} more."
    )
    return 0


def _play(knowledge: Knowledge, world: str, arguments: argparse.Namespace) -> tuple[WorkedTwice, ...]:
    bar = ProgressBar(arguments.jobs, plain=arguments.plain)
    with workers(arguments) as executor, bar:
        return rehearse(
            knowledge,
            arguments.jobs,
            world=world,
            seed=arguments.seed,
            deepen=arguments.deepen,
            unforeseen=True,
            executor=executor,
            done=bar.to,
        )


def as_json(knowledge: Knowledge, pairs: Sequence[WorkedTwice]) -> dict[str, object]:
    """Everything that `--json` prints of a world."""
    suggested = [pair.suggested for pair in pairs]
    published = [pair.published for pair in pairs if pair.published is not None]
    mine, theirs = [each.minutes for each in suggested], [each.minutes for each in published]
    bound = [pair.bound for pair in pairs]
    return {
        "suggestions": {"ends": ends(suggested), "minutes": asdict(spread(mine))},
        "published_order": {"ends": ends(published), "minutes": asdict(spread(theirs))},
        "bound": {"minutes": asdict(spread(bound))},
        "ratio_to_published_order": _ratio(mine, theirs),
        "ratio_to_bound": _ratio(mine, bound),
        "unforeseen": _unforeseen(pairs),
        "missed": [{"cause": cause, "left": left, "there": there} for cause, left, there in missed(suggested)],
        "never_chosen": never_chosen(knowledge, suggested),
        "confused": [
            {"there": there, "treated": treated, "times": times} for there, treated, times in confused(suggested)
        ],
    }


def _unforeseen(pairs: Sequence[WorkedTwice]) -> dict[str, object] | None:
    """The plan against the bound under every way that does not foresee; None where it was not asked for."""
    found = [pair.unforeseen for pair in pairs if pair.unforeseen is not None]
    if not found:
        return None
    known, least, planned = zip(*((each.known, each.least, each.planned) for each in found), strict=True)
    return {
        "known": asdict(spread(known)),
        "least": asdict(spread(least)),
        "planned": asdict(spread(planned)),
        "ratio_of_plan_to_least": _ratio(planned, least),
    }


def _ratio(first: Sequence[float], second: Sequence[float]) -> dict[str, float | None]:
    found, half_width = ratio(first, second)
    return {"ratio": found, "half_width": half_width}


def _within(half_width: float | None, places: int) -> str:
    return "" if half_width is None else f" \u00b1 {half_width:.{places}f}"


def _show(knowledge: Knowledge, world: str, pairs: Sequence[WorkedTwice], screen: Screen) -> None:
    suggested = [pair.suggested for pair in pairs]
    published = [pair.published for pair in pairs if pair.published is not None]
    bound = [pair.bound for pair in pairs]
    screen.heading(f"{_CALLED[world]}: {len(pairs)} jobs")
    rows = []
    for label, played in (("Suggestions", suggested), ("Published order", published)):
        how = ends(played)
        found = spread([each.minutes for each in played])
        share = f"{100 * how['fixed'] / len(played):.0f} %"
        rows.append(
            (
                label,
                share,
                str(how["referred"]),
                str(how["came back"]),
                f"{found.mean:.0f}{_within(found.half_width, 0)}",
                f"{found.median:.0f}",
                f"{found.most:.0f}",
            )
        )
    least = spread(bound)
    rows.append(("Bound", "", "", "", f"{least.mean:.0f}", f"{least.median:.0f}", f"{least.most:.0f}"))
    screen.table(("Way", "Fixed", "Handed over", "Came back", "Mean min", "Median", "95th"), rows)
    mine = [each.minutes for each in suggested]
    for label, other in (("published order", [each.minutes for each in published]), ("bound", bound)):
        value, half_width = ratio(mine, other)
        screen.fact(f"Minutes against the {label}", f"{value:.2f}{_within(half_width, 2)} times")
    courses = [pair.unforeseen for pair in pairs if pair.unforeseen is not None]
    if courses:
        value, half_width = ratio([each.planned for each in courses], [each.least for each in courses])
        told = f"at most {value:.2f}{_within(half_width, 2)} times"
        screen.fact("The plan against any way that does not foresee", told)
    titles = {cause.id: cause.title for cause in knowledge.causes.values()}
    left = [f"{titles[cause]} ({times} of {there})" for cause, times, there in missed(suggested)]
    _list(screen, "Most often missed", left)
    _list(screen, "Checks never chosen", [knowledge.checks[name].title for name in never_chosen(knowledge, suggested)])
    pairs_ = [
        f"{titles[there]}, treated as {titles[treated]} ({times})" for there, treated, times in confused(suggested)
    ]
    _list(screen, "Stay confused", pairs_)


def _list(screen: Screen, title: str, rows: Sequence[str]) -> None:
    if not rows:
        screen.fact(title, "none")
        return
    screen.line(f"{title}:", "bold")
    for row in rows[:_SHOWN]:
        screen.line(row, indent="  - ")
    if len(rows) > _SHOWN:
        screen.line(f"and {len(rows) - _SHOWN} more (--json has all)", indent="  ")
