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
from .sentences import (
    case_lines,
    change_line,
    chart_set,
    count,
    grouped,
    led,
    meaning_lines,
    most,
    ordered,
    outcome,
    parting,
    truth,
    verdict,
)

_SIDE_BY_SIDE = 80
_BAD = ("WORSE", "FAILS", "DELETED")
_CASES, _ENTRIES, _ROWS, _DIFF = 10, 12, 8, 12
"""Most cases in the table, entries that are not folded, rows of what is folded, rows of a chart that differ."""
HOW = (
    "A job is a made-up set worked to its end by the version taken to be right, as deep as at the terminal. Where the "
    "other one would do something else, it is charged what the right one expects that to cost."
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
            mark = "WORSE: " if case.worse else "FAILS: " if case.failing else ""
            screen.line(mark + case.id, "bold")
            for row in case_lines(case):
                screen.line(row, indent="  - ")
    if found.jobs:
        screen.note(HOW)
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
    yield from _case_table(found)
    if found.changes:
        rows = [f"- {kind} {code(name)} {markdown_safe(said)}" for kind, name, said in meaning_lines(found.changes)]
        yield from _folding("Meaning of the edit", rows, _ENTRIES)
    if found.reworded:
        yield from ("", "Reworded only: " + ", ".join(f"{kind} {code(name)}" for kind, name in found.reworded))
    yield from _charts(found)
    if found.jobs:
        yield from ("", f"<sub>{markdown_safe(HOW)}</sub>")


def _case_table(found: Effects) -> Iterator[str]:
    """What decides in a table, what fails with its faults below, the rest folded."""
    cases = ordered(found.cases)
    decide = [case for case in cases if case.decides]
    if decide:
        yield from ("", "### Solved cases that come out otherwise", "")
        yield from ("| Case | What it expects | First cause | Outcome |", "|---|---|---|---|")
        for case in decide[:_CASES]:
            told = (truth(case), led(case), outcome(case))
            bold = "**" if case.failing else ""
            yield f"| {code(case.id)} | {' | '.join(f'{bold}{markdown_safe(each)}{bold}' for each in told)} |"
        faults = [
            f"- {code(case.id)}: {markdown_safe('; '.join((case.new.faults if case.new else ()) or case.as_before))}"
            for case in decide[:_CASES]
            if case.as_before or case.failing
        ]
        yield from ("", *faults) if faults else ()
    rest = [*decide[_CASES:], *(case for case in cases if not case.decides)]
    rows = [f"- {code(case.id)}: {markdown_safe('; '.join(case_lines(case)))}" for case in rest]
    if rows:
        yield from _folded_away(f"{count(len(rows), 'more case')}: first suggestions and probabilities", rows)


def _folding(title: str, rows: Sequence[str], most_open: int) -> Iterator[str]:
    """A list under its title; all of it folded away where it is long."""
    if len(rows) > most_open:
        yield from _folded_away(f"{title}: {count(len(rows), 'entry', 'entries')}", rows)
    else:
        yield from ("", f"### {title}", "", *rows)


def _folded_away(summary: str, rows: Sequence[str]) -> Iterator[str]:
    yield from ("", f"<details><summary>{markdown_safe(summary)}</summary>", "")
    yield from rows[:_ROWS]
    if len(rows) > _ROWS:
        yield f"- and {len(rows) - _ROWS} more (`--json` has all)"
    yield from ("", "</details>")


def _charts(found: Effects) -> Iterator[str]:
    """The charts that changed, folded: where each parts, and the rows that differ of the one that is drawn."""
    if not found.charts:
        return
    summary = f"{count(len(found.charts), 'decision chart')} changed, of {chart_set(found) or 'the usual set'}"
    rows = [f"- {markdown_safe(each.title)}: {markdown_safe(parting(each))}" for each in found.charts]
    yield from _folded_away(summary, rows)
    for each in found.charts:
        if each.drawn:
            yield from ("", f"<details><summary>The chart of {markdown_safe(each.title.lower())}</summary>", "")
            yield from ("```diff", *_difference(each.drawn), "```", "", "</details>")


def _difference(drawn: Sequence[Sequence[str]]) -> list[str]:
    """The rows that differ of a chart as `chart` draws it, with a row around them; no row can end the block."""
    rows = list(difflib.unified_diff(drawn[0], drawn[1], "before", "after", lineterm="", n=1))[2:]
    shown = [printable(row).replace("```", "~~~") for row in rows[:_DIFF]]
    if not rows:
        shown.append("# the first steps are the same; it parts further on")
    return shown + ([f"# and {len(rows) - _DIFF} more rows"] if len(rows) > _DIFF else [])


def code(text: str) -> str:
    """An id or a name as code; what could end the code or the table is shown as an apostrophe or a slash."""
    return f"`{printable(text).replace('`', chr(39)).replace('|', '/')}`"


# ---- JSON


def as_json(found: Effects) -> str:
    """The whole comparison as JSON."""
    return json.dumps(
        {
            "version": 2,
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
            "failing": len(found.failing),
            "renamed": dict(found.renamed),
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
        "failing": case.failing,
        "minutes_saved": case.saved,
        "before": _verdict_json(case.old),
        "after": _verdict_json(case.new),
        "faults_as_written_before": list(case.as_before),
    }


def _jobs_json(each: MinutesDifference) -> dict[str, object]:
    same, unsure = each.same == each.count, math.isnan(each.low)
    return {
        "right": each.right,
        "count": each.count,
        "same": each.same,
        "parted": each.parted,
        "minutes": each.minutes,
        "difference": None if same else each.mean,
        "low": None if unsure or same else each.low,
        "high": None if unsure or same else each.high,
        "smaller_than": None if unsure or same or each.told_apart else most(each),
    }


def _verdict_json(each: CaseVerdict | None) -> dict[str, object] | None:
    if each is None:
        return None
    return {
        "passed": each.passes,
        "faults": list(each.faults),
        "leading": each.leading,
        "probability": each.chance,
        "expected": each.truth,
        "next_step": each.proposed or None,
        "left": each.left if each.proposed else None,
    }
