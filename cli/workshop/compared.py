"""A comparison of two versions of the knowledge, told: on the screen, as Markdown, as JSON.

Purpose: the same facts in the same order in every form: the verdict first, then what stands behind it.
Law: pure but for the screen; texts from files are escaped for where they go.
Not here: working anything out (see `effects`).
"""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest

from ...engine.changes import Change
from ...engine.effect import NEW, Difference
from ...engine.problem import columns, printable
from .. import wrapping
from ..markdown import safe
from ..screen import Screen, percent
from .effects import CHART_DEPTH, CaseChange, ChartChange, Effects, Verdict

_SIDE_BY_SIDE = 80
_STEPS = {"refer": "hand over", "done": "proof run", "": "nothing"}


# ---- sentences that every form uses


def verdict(found: Effects) -> list[str]:
    """What a reviewer wants to know first, one sentence each."""
    if not found.changes:
        said = "Nothing changed in meaning."
        if found.reworded:
            said += f" Reworded only: {_count(len(found.reworded), 'entry', 'entries')}."
        return [said]
    told = [f"{_count(len(found.changes), 'change')} of meaning."]
    if found.reworded:
        told[0] += f" Reworded only: {_count(len(found.reworded), 'entry', 'entries')}."
    worse, better = len(found.worse), sum(case.better for case in found.cases)
    if worse:
        told.append(f"WORSE: {_count(worse, 'solved case')} passed before and {'fails' if worse == 1 else 'fail'} now.")
    if better:
        told.append(f"{_count(better, 'solved case')} failed before and {'passes' if better == 1 else 'pass'} now.")
    others = len(found.cases) - worse - better
    if others:
        told.append(f"{_count(others, 'solved case')} otherwise changed.")
    if not found.cases:
        told.append("Every solved case comes out as before.")
    for each in found.jobs:
        right = f"if the {each.right} knowledge is right"
        surely = "" if each.told_apart or each.same == each.count else ", which may be chance"
        told.append(f"{each.mean:+.1f} min a job {right}{surely}.")
    if found.reasoning:
        charts = len(found.charts)
        told.append(f"{_count(charts, 'decision chart')} changed." if charts else "No decision chart changed.")
    return told


def job_sentence(each: Difference) -> str:
    """Minutes of a job in one world, and how sure the difference is."""
    world = "the new knowledge is right" if each.right == NEW else "the old knowledge is right"
    said = f"If {world}, a job takes {each.new:.1f} min in place of {each.old:.1f}"
    if math.isnan(each.low):
        return f"{said}; too few jobs to say how sure that is."
    said += f": {each.mean:+.1f} min (95 % interval {each.low:+.1f} to {each.high:+.1f})"
    if each.same == each.count:
        return f"{said}; every one of {_count(each.count, 'job')} went the same way."
    clear = "" if each.told_apart else ", which may be chance"
    return f"{said}{clear}; {each.count - each.same} of {_count(each.count, 'job')} went another way."


def _fixed(each: Difference) -> str:
    return f"fixed {each.new_fixed} in place of {each.old_fixed} of {each.count}"


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def _grouped(found: Iterable[Change]) -> dict[tuple[str, str], list[Change]]:
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


def _case_lines(case: CaseChange) -> list[str]:
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


def _led(each: Verdict) -> str:
    return f"{each.leading} {percent(each.chance)}" if each.leading else "no ranking"


def _step(each: Verdict) -> str:
    return _STEPS.get(each.proposed, each.proposed)


def _minutes(each: Verdict) -> str:
    return f"{each.total:.0f} ({each.minutes:.0f} of the facts, {each.left:.0f} expected after)"


def _ordered(cases: Sequence[CaseChange]) -> list[CaseChange]:
    """Worse first, then those that fail or only pass rewritten, then better, then the rest."""
    return sorted(
        cases,
        key=lambda case: (
            not case.worse,
            not (case.as_before or (case.new is not None and not case.new.passes)),
            not case.better,
        ),
    )


def paired(old: Sequence[str], new: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """Lines side by side: what stands left, a mark (blank the same, ~ changed, - gone, + new), what stands right."""
    matcher = difflib.SequenceMatcher(None, old, new, autojunk=False)
    for tag, a, b, c, d in matcher.get_opcodes():
        if tag == "equal":
            yield from ((line, " ", line) for line in old[a:b])
            continue
        for left, right in zip_longest(old[a:b], new[c:d]):
            if left is None or right is None:
                yield (left or "", "-" if right is None else "+", right or "")
            else:
                yield (left, "~", right)


# ---- the screen


def tell(found: Effects, screen: Screen) -> None:
    """Print for the terminal."""
    screen.heading(f"From {found.old} to {found.new}")
    for note in found.notes:
        screen.problem(f"Not compared: {note}.")
    for sentence in verdict(found):
        screen.line(sentence, "bold red" if sentence.startswith("WORSE") else "", hanging="  ")
    if found.changes:
        screen.heading("Changes of meaning")
        for (kind, name), group in _grouped(found.changes).items():
            if len(group) == 1 and not group[0].what:
                screen.line(f"{kind} {name} {change_line(group[0])}", hanging="    ")
                continue
            screen.line(f"{kind} {name}", "bold")
            for change in group:
                screen.line(change_line(change), indent="  - ")
    if found.reworded:
        screen.heading("Reworded only")
        screen.line(", ".join(f"{kind} {name}" for kind, name in found.reworded))
    if found.cases:
        screen.heading("Solved cases")
        for case in _ordered(found.cases):
            screen.line(("WORSE: " if case.worse else "") + case.id, "bold")
            for row in _case_lines(case):
                screen.line(row, indent="  - ")
    if found.jobs:
        screen.heading(f"Minutes on {_count(found.jobs_asked, 'made-up set')}")
        for each in found.jobs:
            screen.line(f"{job_sentence(each)} {_fixed(each)[0].upper()}{_fixed(each)[1:]}.", indent="- ")
        screen.note("Both versions work the very same sets; minutes are charged by the version taken to be right.")
    for each_chart in found.charts:
        _tell_chart(each_chart, screen)


def _tell_chart(changed: ChartChange, screen: Screen) -> None:
    screen.heading(f"Decision chart: {changed.title} ({changed.complaint})")
    screen.note(f"{CHART_DEPTH} steps deep, by the quick look ahead.")
    rows = list(paired(changed.old, changed.new))
    if screen.drawn and screen.width >= _SIDE_BY_SIDE:
        half = (screen.width - 3) // 2
        screen.line(f"{'before':<{half}}   after", "bold")
        for left, mark, right in rows:
            for number, (one, two) in enumerate(zip_longest(_folded(left, half), _folded(right, half), fillvalue="")):
                screen.line(f"{wrapping.fill(one, half)} {mark if number == 0 else ' '} {two}".rstrip())
        return
    for left, mark, right in rows:
        if mark == " ":
            if screen.drawn:
                screen.line(left.lstrip(), indent="  " + " " * (len(left) - len(left.lstrip())))
            continue
        for sign, text, said in (("- ", left, "before: "), ("+ ", right, "after: ")):
            if text:
                blank = " " * (len(text) - len(text.lstrip()))
                screen.line(text.lstrip(), indent=(sign + blank) if screen.drawn else said)


def _folded(text: str, room: int) -> list[str]:
    """A line of a chart in a column: broken at blanks, its indentation kept."""
    bare = printable(text.lstrip())
    blank = " " * min(len(text) - len(text.lstrip()), room // 2)
    rows, row = [], blank
    for word in bare.split(" "):
        if row.strip() and columns(row) + 1 + columns(word) > room:
            rows.append(row)
            row = blank + "  "
        row += (" " if row.strip() else "") + word
    return [wrapping.cut(each, room) for each in (*rows, row)]


# ---- Markdown


def markdown(found: Effects) -> str:
    """The whole comparison for a pull request."""
    return "\n".join(_markdown(found)) + "\n"


def _markdown(found: Effects) -> Iterator[str]:
    yield "## What this change of the knowledge does"
    yield ""
    yield f"From {code(found.old)} to {code(found.new)}."
    for note in found.notes:
        yield ""
        yield f"> Not compared: {safe(note)}."
    yield ""
    for sentence in verdict(found):
        marked = f"**{safe(sentence)}**" if sentence.startswith("WORSE") else safe(sentence)
        yield f"- {marked}"
    if found.changes:
        yield from ("", "### Changes of meaning", "", "| Entry | What | Before | After | |", "|---|---|---|---|---|")
        for change in found.changes:
            told = (safe(change.what), safe(change.before), safe(change.after), change.direction)
            yield f"| {change.kind} {code(change.id)} | {' | '.join(told)} |"
    if found.reworded:
        listed = ", ".join(f"{kind} {code(name)}" for kind, name in found.reworded)
        yield from ("", "### Reworded only", "", listed)
    if found.cases:
        yield from ("", "### Solved cases", "")
        for case in _ordered(found.cases):
            yield f"- {'**WORSE:** ' if case.worse else ''}{code(case.id)}"
            for row in _case_lines(case):
                yield f"  - {safe(row)}"
    if found.jobs:
        yield from ("", f"### Minutes on {_count(found.jobs_asked, 'made-up set')}", "")
        yield "| Taken to be right | Before | After | Difference | 95 % interval | Another way | Fixed |"
        yield "|---|---:|---:|---:|---:|---:|---:|"
        for each in found.jobs:
            bounds = "too few jobs" if math.isnan(each.low) else f"{each.low:+.1f} to {each.high:+.1f}"
            yield (
                f"| the {each.right} knowledge | {each.old:.1f} | {each.new:.1f} | {each.mean:+.1f} | {bounds} "
                f"| {each.count - each.same} of {each.count} | {each.old_fixed}, then {each.new_fixed} |"
            )
        yield from ("", "Both versions work the very same sets; minutes are charged by the version taken to be right.")
    for changed in found.charts:
        yield from ("", f"### Decision chart: {safe(changed.title)}", "")
        yield f"{CHART_DEPTH} steps deep, by the quick look ahead. Rows that differ are bold."
        yield from ("", "| Before | After |", "|---|---|")
        for left, mark, right in paired(changed.old, changed.new):
            cells = (_cell(text, bold=mark != " ") for text in (left, right))
            yield f"| {' | '.join(cells)} |"


def code(text: str) -> str:
    """An id or a name as code; what could end the code or the table is shown as an apostrophe or a slash."""
    return f"`{printable(text).replace('`', chr(39)).replace('|', '/')}`"


def _cell(text: str, *, bold: bool) -> str:
    if not text:
        return ""
    bare = text.lstrip()
    told = safe(bare)
    return "&nbsp;" * (len(text) - len(bare)) + (f"**{told}**" if bold else told)


# ---- JSON


def as_json(found: Effects) -> str:
    """The whole comparison as JSON."""
    return json.dumps(
        {
            "version": 1,
            "old": found.old,
            "new": found.new,
            "notes": list(found.notes),
            "changes": [
                {
                    "kind": change.kind,
                    "id": change.id,
                    "what": change.what,
                    "before": change.before,
                    "after": change.after,
                    "direction": change.direction,
                }
                for change in found.changes
            ],
            "reworded": [{"kind": kind, "id": name} for kind, name in found.reworded],
            "cases": [
                {
                    "id": case.id,
                    "worse": case.worse,
                    "better": case.better,
                    "before": _verdict_json(case.old),
                    "after": _verdict_json(case.new),
                    "faults_as_written_before": list(case.as_before),
                }
                for case in _ordered(found.cases)
            ],
            "worse": len(found.worse),
            "jobs": [
                {
                    "right": each.right,
                    "count": each.count,
                    "same": each.same,
                    "before": each.old,
                    "after": each.new,
                    "difference": each.mean,
                    "low": None if math.isnan(each.low) else each.low,
                    "high": None if math.isnan(each.high) else each.high,
                    "fixed_before": each.old_fixed,
                    "fixed_after": each.new_fixed,
                }
                for each in found.jobs
            ],
            "charts": [
                {
                    "complaint": changed.complaint,
                    "before": list(changed.old),
                    "after": list(changed.new),
                    "partings": [
                        {"path": [list(step) for step in each.path], "before": each.old, "after": each.new}
                        for each in changed.partings
                    ],
                }
                for changed in found.charts
            ],
        },
        sort_keys=True,
        indent=2,
    )


def _verdict_json(each: Verdict | None) -> dict[str, object] | None:
    if each is None:
        return None
    return {
        "passed": each.passes,
        "faults": list(each.faults),
        "leading": each.leading,
        "probability": each.chance,
        "next_step": each.proposed,
        "minutes": each.minutes,
        "expected_minutes_left": each.left,
    }
