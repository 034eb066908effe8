"""Sentences about a comparison of two versions, the same in every form that it is told in.

Purpose: the verdict first, one sentence for each thing a reviewer decides on, and a line for each change and case.
Law: pure; no figure of minutes where no job went another way, and none where no set met the edit.
Not here: screen, Markdown and JSON (see `compared`), working anything out (see `effects`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from ...engine.review import NEW, Change, Deleted, MinutesDifference
from ..terminal import percent
from .effects import CaseChange, CaseVerdict, Effects

_STEPS = {"refer": "hand over", "done": "proof run", "": "nothing"}


def verdict(found: Effects) -> list[str]:
    """What a reviewer wants to know first, one sentence each."""
    if not found.changes and not found.deleted:
        said = "Nothing changed in meaning."
        if found.reworded:
            said += f" Reworded only: {count(len(found.reworded), 'entry', 'entries')}."
        return [said]
    told = [deletion(each) for each in found.deleted]
    told.append(f"{count(len(found.changes), 'change')} of meaning.")
    if found.reworded:
        told[-1] += f" Reworded only: {count(len(found.reworded), 'entry', 'entries')}."
    told += _of_cases(found)
    told += _of_jobs(found)
    if found.chart_set is not None:
        charts = len(found.charts)
        told.append(f"{count(charts, 'decision chart')} changed." if charts else "No decision chart changed.")
    return told


def _of_cases(found: Effects) -> list[str]:
    told = []
    worse, better = len(found.worse), sum(case.better for case in found.cases)
    if worse:
        told.append(f"WORSE: {count(worse, 'solved case')} passed before and {'fails' if worse == 1 else 'fail'} now.")
    if better:
        told.append(f"{count(better, 'solved case')} failed before and {'passes' if better == 1 else 'pass'} now.")
    others = len(found.cases) - worse - better
    if others:
        told.append(f"{count(others, 'solved case')} otherwise changed.")
    if found.bearing and not found.cases_met and not found.cases:
        told.append("No solved case is on a set that this edit meets: write one (`hertzwright knowledge new case`).")
    elif not found.cases:
        told.append("Every solved case comes out as before.")
    return told


def _of_jobs(found: Effects) -> list[str]:
    """What the jobs say; where none was played, why. A figure is only given where some job went another way."""
    if found.told and not found.bearing:
        return [
            "No job was played: nothing changed that suggestions on made-up sets rest on. "
            "Limits of readings show in the solved cases alone."
        ]
    if not found.jobs:
        return [unmet(found)] if found.sets.drawn else []
    told = []
    for each in found.jobs:
        right = f"if the {each.right} knowledge is right"
        if each.same == each.count:
            told.append(f"{no_other_way(each)[0].upper()}{no_other_way(each)[1:]}, {right}.")
            continue
        surely = "" if each.told_apart else ", which may be chance"
        told.append(f"{each.mean:+.1f} min a job {right}{surely}.")
    told.append(f"Those are sets that this edit meets: {_share(found)}.")
    return told


def unmet(found: Effects) -> str:
    """That no set drawn meets the edit, and how to make one."""
    said = f"No set drawn meets this edit ({found.sets.drawn} drawn over all features), so no job says anything of it."
    if not found.wanted:
        return f"{said} What changed may stand in no set's way; see the changes of meaning."
    asked = "; or ".join(found.wanted)
    return f"{said} It asks for {asked}: make such sets with --set, as --set booster=none."


def no_other_way(each: MinutesDifference) -> str:
    """That no job went another way, and how many would at most: the rule of three for a share, 95 %."""
    most = 100.0 * (1.0 - 0.05 ** (1.0 / each.count))
    return f"none of {count(each.count, 'job')} went another way (at most {most:.0f} % of such jobs would, 95 %)"


def _share(found: Effects) -> str:
    return f"{len(found.sets.met)} of {count(found.sets.drawn, 'set')} drawn over all features"


def deletion(each: Deleted) -> str:
    """A published id that is gone, and what to do."""
    whose = f" of {each.of}" if each.of else ""
    help_ = "put it back with `retired:`" if each.retirable else "put it back"
    return f"DELETED: {each.kind} {each.id}{whose} was published, not retired; job files and results name it: {help_}."


def job_sentence(each: MinutesDifference) -> str:
    """Minutes of a job in one world, and how sure the difference is."""
    world = "the new knowledge is right" if each.right == NEW else "the old knowledge is right"
    if each.same == each.count:
        return f"If {world}, a job takes {each.new:.1f} min; {no_other_way(each)}."
    said = f"If {world}, a job takes {each.new:.1f} min in place of {each.old:.1f}"
    if math.isnan(each.low):
        return f"{said}; too few jobs to say how sure that is."
    said += f": {each.mean:+.1f} min (95 % interval {each.low:+.1f} to {each.high:+.1f})"
    clear = "" if each.told_apart else ", which may be chance"
    return f"{said}{clear}; {each.count - each.same} of {count(each.count, 'job')} went another way."


def fixed(each: MinutesDifference) -> str:
    return f"fixed {each.new_fixed} in place of {each.old_fixed} of {each.count}"


def count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def chart_set(found: Effects) -> str:
    """Features of the set that the charts are of, as `--set` takes them."""
    return ", ".join(f"{name}={_plain(value)}" for name, value in (found.chart_set or {}).items())


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def grouped(found: Iterable[Change]) -> dict[tuple[str, str], list[Change]]:
    groups: dict[tuple[str, str], list[Change]] = {}
    for change in found:
        groups.setdefault((change.kind, change.id), []).append(change)
    return groups


def change_line(change: Change) -> str:
    """A change without its entry: `how common: scarcely (0.02) -> seldom (0.1), commoner`."""
    if not change.what:
        return f"{change.direction}: {change.after or change.before}".rstrip(": ")
    if not change.before or not change.after:
        return f"{change.what}: {change.direction} ({change.after or change.before})"
    tail = "" if change.direction == "changed" else f", {change.direction}"
    return f"{change.what}: {change.before} -> {change.after}{tail}"


def case_lines(case: CaseChange) -> list[str]:
    old, new = case.old, case.new
    told: list[str] = []
    if old is None and new is not None:
        told.append("new case" + ("" if new.passes else "; it fails"))
        told += new.faults
    elif new is None:
        told.append("case taken out" + ("; the new knowledge would fail it:" if case.as_before else ""))
        told += case.as_before
    elif old is not None:
        if old.passes != new.passes:
            told.append("fails now, passed before:" if old.passes else "passes now, failed before")
        told += new.faults
        if case.as_before and new.passes:
            told.append("passes only because it was rewritten; as it was before:")
            told += case.as_before
        if old.leading != new.leading:
            told.append(f"leading: {_led(old)} -> {_led(new)}")
        if old.proposed != new.proposed:
            told.append(f"first suggestion: {_step(old)} -> {_step(new)}")
        if abs(old.total - new.total) >= 1.0:
            told.append(f"minutes: {_minutes(old)} -> {_minutes(new)}")
    return told


def _led(each: CaseVerdict) -> str:
    return f"{each.leading} {percent(each.chance)}" if each.leading else "no ranking"


def _step(each: CaseVerdict) -> str:
    return _STEPS.get(each.proposed, each.proposed)


def _minutes(each: CaseVerdict) -> str:
    return f"{each.total:.0f} ({each.minutes:.0f} of the facts, {each.left:.0f} expected after)"


def ordered(cases: Sequence[CaseChange]) -> list[CaseChange]:
    """Worse first, then those that fail or only pass rewritten, then better, then the rest."""
    return sorted(
        cases,
        key=lambda case: (
            not case.worse,
            not (case.as_before or (case.new is not None and not case.new.passes)),
            not case.better,
        ),
    )
