"""A comparison of two versions of the knowledge, told: on the screen, as Markdown, as JSON.

Purpose: the same facts in the same order in every form: the verdict first, then what stands behind it.
Law: pure but for the screen; texts from files are escaped for where they go.
Not here: working anything out (see `effects`), the words (see `sentences`).
"""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Iterator, Sequence
from itertools import zip_longest

from ...engine.problems import columns, printable
from ...engine.review import MinutesDifference
from ..record import markdown_safe
from ..terminal import Screen, wrapping
from .effects import CHART_DEPTH, CaseChange, CaseVerdict, ChartChange, Effects
from .sentences import case_lines, change_line, chart_set, count, fixed, grouped, job_sentence, ordered, verdict

_SIDE_BY_SIDE = 80
_BAD = ("WORSE", "DELETED")


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


def print_comparison(found: Effects, screen: Screen) -> None:
    """Print for the terminal."""
    screen.heading(f"From {found.old} to {found.new}")
    for note in found.notes:
        screen.problem(f"Not compared: {note}.")
    for sentence in verdict(found):
        screen.line(sentence, "bold red" if sentence.startswith(_BAD) else "", hanging="  ")
    if found.changes:
        screen.heading("Changes of meaning")
        for (kind, name), group in grouped(found.changes).items():
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
        for case in ordered(found.cases):
            screen.line(("WORSE: " if case.worse else "") + case.id, "bold")
            for row in case_lines(case):
                screen.line(row, indent="  - ")
    if found.jobs:
        screen.heading(f"Minutes on {count(len(found.sets.met), 'made-up set')}")
        for each in found.jobs:
            screen.line(f"{job_sentence(each)} {fixed(each)[0].upper()}{fixed(each)[1:]}.", indent="- ")
        screen.note("Both versions work the very same sets; minutes are charged by the version taken to be right.")
    if found.charts and found.chart_set:
        screen.note(f"Charts are of a set that the edit meets: {chart_set(found)}.")
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
        yield f"> Not compared: {markdown_safe(note)}."
    yield ""
    for sentence in verdict(found):
        marked = f"**{markdown_safe(sentence)}**" if sentence.startswith(_BAD) else markdown_safe(sentence)
        yield f"- {marked}"
    if found.changes:
        yield from ("", "### Changes of meaning", "", "| Entry | What | Before | After | |", "|---|---|---|---|---|")
        for change in found.changes:
            told = (
                markdown_safe(change.what),
                markdown_safe(change.before),
                markdown_safe(change.after),
                change.direction,
            )
            yield f"| {change.kind} {code(change.id)} | {' | '.join(told)} |"
    if found.reworded:
        listed = ", ".join(f"{kind} {code(name)}" for kind, name in found.reworded)
        yield from ("", "### Reworded only", "", listed)
    if found.cases:
        yield from ("", "### Solved cases", "")
        for case in ordered(found.cases):
            yield f"- {'**WORSE:** ' if case.worse else ''}{code(case.id)}"
            for row in case_lines(case):
                yield f"  - {markdown_safe(row)}"
    if found.jobs:
        yield from ("", f"### Minutes on {count(len(found.sets.met), 'made-up set')}", "")
        yield "| Taken to be right | Before | After | Difference | 95 % interval | Another way | Fixed |"
        yield "|---|---:|---:|---:|---:|---:|---:|"
        for each in found.jobs:
            bounds = "too few jobs" if math.isnan(each.low) else f"{each.low:+.1f} to {each.high:+.1f}"
            gap = f"{each.mean:+.1f}"
            if each.same == each.count:
                gap = bounds = "none seen"
            yield (
                f"| the {each.right} knowledge | {each.old:.1f} | {each.new:.1f} | {gap} | {bounds} "
                f"| {each.count - each.same} of {each.count} | {each.old_fixed}, then {each.new_fixed} |"
            )
        yield from ("", "Both versions work the very same sets; minutes are charged by the version taken to be right.")
    if found.charts and found.chart_set:
        yield from ("", f"Charts are of a set that the edit meets: {markdown_safe(chart_set(found))}.")
    for changed in found.charts:
        yield from ("", f"### Decision chart: {markdown_safe(changed.title)}", "")
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
    told = markdown_safe(bare)
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
            "cases": [_case_json(case) for case in ordered(found.cases)],
            "worse": len(found.worse),
            "deleted": [{"kind": each.kind, "id": each.id, "of": each.of} for each in found.deleted],
            "sets": {
                "drawn": found.sets.drawn,
                "met": len(found.sets.met),
                "wanted": list(found.wanted),
                "cases_met": found.cases_met,
                "charts_of": dict(found.chart_set) if found.chart_set is not None else None,
            },
            "jobs": [_jobs_json(each) for each in found.jobs],
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


def _case_json(case: CaseChange) -> dict[str, object]:
    return {
        "id": case.id,
        "worse": case.worse,
        "better": case.better,
        "before": _verdict_json(case.old),
        "after": _verdict_json(case.new),
        "faults_as_written_before": list(case.as_before),
    }


def _jobs_json(each: MinutesDifference) -> dict[str, object]:
    return {
        "right": each.right,
        "count": each.count,
        "same": each.same,
        "before": each.old,
        "after": each.new,
        "difference": None if each.same == each.count else each.mean,
        "low": None if math.isnan(each.low) or each.same == each.count else each.low,
        "high": None if math.isnan(each.high) or each.same == each.count else each.high,
        "fixed_before": each.old_fixed,
        "fixed_after": each.new_fixed,
    }


def _verdict_json(each: CaseVerdict | None) -> dict[str, object] | None:
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
