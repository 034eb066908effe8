"""Sentences about a comparison of two versions, the same in every form that it is told in.

Purpose: the verdict first, one sentence for each thing a reviewer decides on, and a line for each change and case.
Law: pure; no figure of minutes where no job went another way, and none where no set met the edit.
Not here: screen, Markdown and JSON (see `compared`), working anything out (see `effects`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from ...engine.review import Change, Deleted, MinutesDifference
from ..terminal import percent
from .effects import CaseChange, CaseVerdict, ChartChange, Effects

_STEPS = {"refer": "hand over", "done": "proof run", "": "nothing"}


def verdict(found: Effects) -> list[str]:
    """What a reviewer wants to know first, one sentence each."""
    if not found.changes and not found.deleted:
        said = "Nothing changed in meaning."
        if found.reworded:
            said += f" Reworded only: {count(len(found.reworded), 'entry', 'entries')}."
        return [said]
    told = [deletion(each, found.renamed) for each in found.deleted]
    told += [f"Renamed: {old} is {new} now, and is compared as that." for old, new in found.renamed.items()]
    told += _of_cases(found)
    told += _of_jobs(found)
    if found.chart_set is not None:
        charts = len(found.charts)
        told.append(f"{count(charts, 'decision chart')} changed." if charts else "No decision chart changed.")
    told.append(f"{count(len(found.changes), 'change')} of meaning.")
    if found.reworded:
        told[-1] += f" Reworded only: {count(len(found.reworded), 'entry', 'entries')}."
    return told


def _of_cases(found: Effects) -> list[str]:
    told = []
    worse, fresh = len(found.worse), len(found.failing) - len(found.worse)
    better = sum(case.better for case in found.cases)
    if worse:
        told.append(f"WORSE: {count(worse, 'solved case')} passed before and {'fails' if worse == 1 else 'fail'} now.")
    if fresh:
        told.append(f"FAILS: {count(fresh, 'new case')} {'fails' if fresh == 1 else 'fail'}.")
    if better:
        told.append(f"{count(better, 'solved case')} failed before and {'passes' if better == 1 else 'pass'} now.")
    led = sum(case.old.leading != case.new.leading for case in found.cases if case.old and case.new)
    if led:
        told.append(f"{count(led, 'solved case')} {'has' if led == 1 else 'have'} another first cause now.")
    slight = sum(not case.decides for case in found.cases)
    if slight:
        told.append(f"{count(slight, 'solved case')} otherwise changed: a first suggestion or a probability.")
    if found.bearing and not found.cases_met and not found.cases:
        told.append("No solved case is on a set that this edit meets: write one (`hertzwright knowledge new case`).")
    elif not found.cases:
        told.append("Every solved case comes out as before.")
    return told


def _of_jobs(found: Effects) -> list[str]:
    """What the jobs say; where none was worked, why. A figure is only given where it is told apart from nil."""
    if found.told and not found.bearing:
        if found.renamed:
            return ["No job was played: but for names nothing changed that suggestions on made-up sets rest on."]
        return [
            "No job was played: nothing changed that suggestions on made-up sets rest on. "
            "Limits of readings show in the solved cases alone."
        ]
    if not found.jobs:
        return [unmet(found)] if found.sets.drawn else []
    if all(each.same == each.count for each in found.jobs):
        said = no_other_way(found.jobs[0])
        told = [f"{said[0].upper()}{said[1:]}, whichever knowledge is right."]
    else:
        told = [job_sentence(each) for each in found.jobs]
    told.append(f"That is at sets that this edit meets, {_share(found)}.")
    return told


def unmet(found: Effects) -> str:
    """That no set drawn meets the edit, and how to make one."""
    said = f"No set drawn meets this edit ({found.sets.drawn} drawn over all features), so no job says anything of it."
    if not found.wanted:
        return f"{said} What changed may stand in no set's way; see the changes of meaning."
    asked = "; or ".join(found.wanted)
    return f"{said} It asks for {asked}: make such sets with --set, as --set booster=none."


def no_other_way(each: MinutesDifference) -> str:
    """That no job went another way, and how many would at most: the rule of three for a share, 95 %, for as many jobs
    as a point that was looked at stands for at most."""
    most = min(100.0, 100.0 * each.heaviest * (1.0 - 0.05 ** (1.0 / each.count)))
    return f"none of {count(each.count, 'job')} went another way (at most {most:.0f} % of such jobs would, 95 %)"


def _share(found: Effects) -> str:
    return f"{len(found.sets.met)} of {count(found.sets.drawn, 'set')} drawn over all features"


def deletion(each: Deleted, renamed: Mapping[str, str]) -> str:
    """A published id that is gone, and what to do."""
    whose = f" of {each.of}" if each.of else ""
    help_ = "put it back with `retired:`" if each.retirable else "put it back"
    if each.id in renamed:
        help_ += f" and `replaced_by: {renamed[each.id]}`"
    return f"DELETED: {each.kind} {each.id}{whose} was published, not retired; job files and results name it: {help_}."


def job_sentence(each: MinutesDifference) -> str:
    """Minutes of a job by the version taken to be right, and how sure the difference is."""
    world = f"if the {each.right} knowledge is right"
    if each.same == each.count:
        said = no_other_way(each)
        return f"{said[0].upper()}{said[1:]}, {world}."
    parted = f"about {100.0 * each.parted:.0f} % of jobs would go another way"
    whole = f"of about {each.minutes:.0f}"
    if math.isnan(each.low):
        found = each.count - each.same
        went = f"{found} of {count(each.count, 'job')} worked went another way"
        return f"Minutes not known yet, {world}: {went}, too few for a figure that holds; more with --jobs."
    if not each.told_apart:
        return f"No effect seen, smaller than {most(each):.1f} min a job {whole} (95 %), {world}; {parted}."
    return f"{each.mean:+.1f} min a job {whole} (95 %: {each.low:+.1f} to {each.high:+.1f}), {world}; {parted}."


def most(each: MinutesDifference) -> float:
    """The greatest difference that the interval leaves open, min."""
    return max(abs(each.low), abs(each.high))


def count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def chart_set(found: Effects) -> str:
    """Features of the set that the charts are of, as `--set` takes them."""
    return ", ".join(f"{name}={_plain(value)}" for name, value in (found.chart_set or {}).items())


def parting(each: ChartChange) -> str:
    """Where a chart first goes another way, and how often it does in all."""
    first = each.partings[0]
    way = ", ".join(f"{step} {answer}".strip() for step, answer in first.path)
    more = f"; {count(len(each.partings) - 1, 'more place')}" if len(each.partings) > 1 else ""
    return f"{f'after {way}' if way else 'at first'}: {first.old} -> {first.new}{more}"


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
    """Everything to tell of a case, a line each."""
    old, new = case.old, case.new
    told: list[str] = []
    if old is None and new is not None:
        told.append("new case" + ("" if new.passes else "; it fails:"))
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
        told.append(f"what it expects: {truth(case)}")
        if old.leading != new.leading:
            told.append(f"first cause: {led(case)}")
        if case.saved is not None:
            told.append(suggestion(case))
    return told


def truth(case: CaseChange) -> str:
    """The probability of what a case expects, before and after."""
    return " -> ".join(percent(each.truth) for each in (case.old, case.new) if each is not None)


def led(case: CaseChange) -> str:
    """The first cause before and after, once where it is the same."""
    named = [each.leading or "no ranking" for each in (case.old, case.new) if each is not None]
    return " -> ".join(dict.fromkeys(named))


def outcome(case: CaseChange) -> str:
    """How a case comes out, in a few words."""
    if case.new is None:
        return "taken out"
    said = "passes" if case.new.passes else "fails"
    if case.old is None:
        return f"new, {said}"
    if case.as_before and case.new.passes:
        return "passes only rewritten"
    return f"{said} now" if case.old.passes != case.new.passes else said


def suggestion(case: CaseChange) -> str:
    """The first suggestion before and after, and what that saves by the new version."""
    if case.old is None or case.new is None or case.saved is None:
        return ""
    gain = f"saves {case.saved:.0f} min" if case.saved > 0.0 else f"costs {-case.saved:.0f} min"
    return f"first suggestion: {_step(case.old)} -> {_step(case.new)}, which {gain} by the new knowledge"


def _step(each: CaseVerdict) -> str:
    return _STEPS.get(each.proposed, each.proposed)


def ordered(cases: Sequence[CaseChange]) -> list[CaseChange]:
    """Those that fail now first, then what else decides, then the rest; each by how far the truth's chance moved."""
    return sorted(
        cases,
        key=lambda case: (not case.failing, not case.decides, -abs(case.moved), case.id),
    )


def meaning_lines(found: Iterable[Change]) -> list[tuple[str, str, str]]:
    """(kind, id, what changed of it) of every entry, in one line each."""
    rows = []
    for (kind, name), group in grouped(found).items():
        rows.append((kind, name, "; ".join(change_line(change) for change in group)))
    return rows
