"""`hertzwright knowledge cases`: replay the solved cases and compare.

Purpose: which solved cases the knowledge still judges as it should, why a case fails, what would have been proposed at
each point, and how a whole job on such a set would go.
Law: results on standard output, in the order of the files; the status is 1 where a case fails.
Not here: what a job concludes from facts (see `engine.job`), replaying itself (see `review.cases`).
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from math import fsum

from ...engine import HertzwrightError, Knowledge
from ...engine.compiler import Case
from ...engine.problems import close_to, quoted
from ...engine.rehearsal import Played, least_minutes
from ...engine.review import CasePoint, Judged, decisive_fact, judge, path, play_case
from ..files import store
from ..terminal import ProgressBar, Screen, minutes, percent
from . import checkout, phrases


class UnknownCaseError(HertzwrightError):
    """No solved case has this id."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("only", nargs="*", metavar="CASE", help="only these cases, each with its path")
    parser.add_argument("--play", action="store_true", help="play whole jobs on sets with the truth of the cases")
    parser.add_argument(
        "--seed", type=int, metavar="N", help="with --play: draw what a set shows, not what it shows most often"
    )
    parser.add_argument(
        "--minutes", action="store_true", help="plan too: the step after the facts and the minutes to the end"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    if arguments.seed is not None and not arguments.play:
        print("hertzwright knowledge cases: --seed is for --play", file=sys.stderr)
        return 2
    return _cases(arguments, store.knowledge(str(checkout.find((), arguments.knowledge).folder)))


def _cases(arguments: argparse.Namespace, knowledge: Knowledge) -> int:
    cases = list(knowledge.cases.values())
    if arguments.only:
        cases = [_chosen(knowledge, name) for name in dict.fromkeys(arguments.only)]
    screen = Screen(arguments.plain)
    judged: list[Judged] = []
    paths: dict[str, tuple[CasePoint, ...]] = {}
    played: dict[str, Played] = {}
    with ProgressBar(len(cases), plain=not screen.drawn) as bar:
        for case in cases:
            found = judge(knowledge, case, plan=bool(arguments.only) or arguments.minutes)
            judged.append(found)
            if found.ranking and (arguments.only or found.faults):
                paths[case.id] = path(knowledge, case)
            if arguments.play and found.ranking:
                played[case.id] = play_case(knowledge, case, arguments.seed)
            bar.step()
    failed = [each for each in judged if each.faults]
    said = () if arguments.only else phrases.judge_phrases(knowledge)
    if arguments.json:
        listed = [_as_json(knowledge, each, paths.get(each.case.id), played.get(each.case.id)) for each in judged]
        whole: dict[str, object] = {"version": 1, "cases": listed, "failed": len(failed)}
        if said:
            whole["phrases"] = {name: _shares_as_json(part) for name, part in _parted(said).items()}
        print(json.dumps(whole, sort_keys=True, indent=2))
        return 1 if failed else 0
    for each in judged:
        screen.line(_line(knowledge, each, played.get(each.case.id)), indent="FAILED  " if each.faults else "ok      ")
    for each in judged if arguments.only else failed:
        _details(knowledge, each, paths.get(each.case.id, ()), played.get(each.case.id), screen)
    screen.line()
    screen.line(f"{len(judged) - len(failed)} of {len(judged)} cases as expected.")
    _said(said, screen)
    if played:
        _sum_up(knowledge, list(played.values()), screen)
    if not arguments.only:
        screen.note("Minutes: of the facts; with --minutes + what is expected to the end. `cases CASE` shows the path.")
    return 1 if failed else 0


def _parted(said: Sequence[phrases.JudgedPhrase]) -> dict[str, list[phrases.JudgedPhrase]]:
    return {
        "open": [each for each in said if not each.aside],
        "kept_aside": [each for each in said if each.aside],
    }


def _shares_as_json(said: Sequence[phrases.JudgedPhrase]) -> dict[str, object]:
    count, first, near = phrases.shares(said)
    none = [each for each in said if not each.phrase.means]
    return {
        "phrases": count, "first": round(first, 3), "first_three": round(near, 3),
        "none_of_ours": len(none), "none_taken_for_sure": sum(not each.near for each in none),
    }  # fmt: skip


def _said(said: Sequence[phrases.JudgedPhrase], screen: Screen) -> None:
    """The phrases: which lead elsewhere, and the shares; those kept aside are only counted."""
    if not said:
        return
    for each in said:
        if not each.near and not each.aside:
            meant = ", ".join(each.phrase.means) or "no complaint of ours"
            screen.note(f'"{each.phrase.said}" means {meant}; offered: {", ".join(each.offered) or "nothing"}')
    for title, part in zip(("Phrases", "Phrases kept aside"), _parted(said).values(), strict=True):
        count, first, near = phrases.shares(part)
        none = [each for each in part if not each.phrase.means]
        screen.line(
            f"{title}: {count}; meant first {percent(first)}, all in the first {phrases.FIRST} {percent(near)}; "
            f"{sum(each.near for each in none)} of {len(none)} that are none of ours are offered as nothing sure."
        )


def _line(knowledge: Knowledge, judged: Judged, played: Played | None) -> str:
    if not judged.ranking:
        return f"{judged.case.id}: cannot be replayed"
    name, chance = judged.ranking[0]
    alone = judged.case.truth == (name,)
    truth = "" if alone else f" (truth: {', '.join(judged.case.truth)})"
    to_go = f" + {judged.left:.0f}" if judged.proposed else ""
    told = f"{judged.case.id}: {name} {chance:.2f}{truth}, {judged.minutes:.0f}{to_go} min"
    if played is not None:
        steps = len(played.moves)
        told += f"; played: {played.end} after {played.minutes:.0f} min, {steps} step{'' if steps == 1 else 's'}"
    return told


def _details(
    knowledge: Knowledge, judged: Judged, points: Sequence[CasePoint], played: Played | None, screen: Screen
) -> None:
    case = judged.case
    screen.line()
    where = f" ({case.place.file}:{case.place.line})" if case.place else ""
    screen.line(f"{case.id}{where}: {case.title}", "bold")
    for fault in judged.faults:
        screen.line(fault, indent="  - ")
    if points:
        screen.line()
        for number, point in enumerate(points, 1):
            screen.line(f"{point.id} = {point.answer}", "bold", indent=f"{number}. ")
            rival = f" ({' or '.join(case.leading)} {percent(point.expected)})"
            sought = "" if point.leading in case.leading else rival
            proposed = point.proposed.replace("refer", "hand over").replace("done", "proof run")
            screen.line(
                f"{point.minutes:.0f} min gone; {point.leading} leads with {percent(point.chance)}{sought}; "
                f"would propose {proposed}, {point.left:.0f} min to go",
                indent="   ",
            )
        taken = decisive_fact(case, tuple(points))
        who = " or ".join(case.leading)
        if taken is None:
            screen.line(f"{who} does not lead at the end.")
        else:
            point = points[taken]
            screen.line(f"{who} leads from fact {taken + 1} of {len(points)} on: {point.id} = {point.answer}.")
    if played is not None:
        _played(knowledge, played, screen)


def _played(knowledge: Knowledge, played: Played, screen: Screen) -> None:
    screen.line()
    least = least_minutes(knowledge, frozenset(played.faults))
    screen.line(
        f"Played from the complaint: {played.end} after {minutes(played.minutes)}; "
        f"nobody can do it in less than {minutes(least)}.",
        "bold",
    )
    before = 0.0
    for number, move in enumerate(played.moves, 1):
        named = {"done": "proof run" if move.minutes > before else "close", "refer": "hand over"}
        told = f"{move.id or named[move.kind]}" + (f": {move.answer.replace('_', ' ')}" if move.id else "")
        screen.line(told, indent=f"{number:>2}. {move.minutes:>4.0f} min  ")
        before = move.minutes
    if played.left:
        screen.line(f"Still there at the end: {', '.join(played.left)}.")


def _sum_up(knowledge: Knowledge, played: Sequence[Played], screen: Screen) -> None:
    fixed = sum(each.end == "fixed" for each in played)
    mean = fsum(each.minutes for each in played) / len(played)
    least = fsum(least_minutes(knowledge, frozenset(each.faults)) for each in played) / len(played)
    screen.line(
        f"Played: {fixed} of {len(played)} fixed; {minutes(mean)} a job on average, at the very least {minutes(least)}."
    )


def _as_json(
    knowledge: Knowledge, judged: Judged, points: Sequence[CasePoint] | None, played: Played | None
) -> dict[str, object]:
    case = judged.case
    found: dict[str, object] = {
        "id": case.id,
        "area": case.area,
        "passed": not judged.faults,
        "faults": list(judged.faults),
        "truth": list(case.truth),
        "leading": [{"id": name, "probability": chance} for name, chance in judged.ranking[:3]],
        "minutes": judged.minutes,
        "expected_minutes_left": judged.left if judged.proposed else None,
        "next_step": judged.proposed or None,
    }
    if points is not None:
        found["path"] = [
            {
                "kind": point.kind,
                "id": point.id,
                "answer": point.answer,
                "minutes": point.minutes,
                "leading": point.leading,
                "probability": point.chance,
                "probability_expected": point.expected,
                "next_step": point.proposed,
                "expected_minutes_left": point.left,
            }
            for point in points
        ]
        found["lead_taken_at_fact"] = None if (at := decisive_fact(case, tuple(points))) is None else at + 1
    if played is not None:
        found["played"] = {
            "end": played.end,
            "minutes": played.minutes,
            "least_minutes": least_minutes(knowledge, frozenset(played.faults)),
            "left": list(played.left),
            "steps": [
                {"kind": move.kind, "id": move.id, "answer": move.answer, "minutes": move.minutes}
                for move in played.moves
            ],
        }
    return found


def _chosen(knowledge: Knowledge, name: str) -> Case:
    """The case of an id. Raises UnknownCaseError."""
    if name not in knowledge.cases:
        raise UnknownCaseError(f"no case {quoted(name)}; {close_to(name, knowledge.cases)}".rstrip("; "))
    return knowledge.cases[name]
