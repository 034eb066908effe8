"""Sense of causes: their strengths, how they are seen and complained of, and what cures them.

Purpose: one small function for each rule about chances, causes and remedies (see `rules` for how they are run).
Law: a rule looks at trees and yields problems; it is named after what must hold.
Not here: the work (see `work_rules`), bands and ranges (see `reading_rules`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from math import fsum

from ..problems import Problem, quoted
from .entries import Entries, Entry, nodes, pairs, strings, table, text, value
from .reference import used
from .source import MappingNode, Node, ScalarNode

SLACK = 1e-9
NEIGHBOURS = 5
"""So many causes beside one make a custom of an area that is worth asking about."""
NEARLY_ALL = 0.9
"""The share of them that shows in a check which the one leaves out."""


def _row(entries: Entries, row: Node | None) -> dict[str, float]:
    """The strengths of a mapping from outcomes, those that can be read."""
    found = {}
    for outcome, strength in pairs(row) if isinstance(row, MappingNode) else ():
        number_of = entries.strength(strength.value) if isinstance(strength, ScalarNode) else None
        if number_of is not None:
            found[outcome.value] = number_of
    return found


def _rows(entries: Entries) -> Mapping[str, list[tuple[ScalarNode, dict[str, float]]]]:
    """For each cause, the checks it shows in with the strengths that can be read."""
    found: dict[str, list[tuple[ScalarNode, dict[str, float]]]] | None = entries.worked_out.get("rows")
    if found is None:
        found = {
            cause.id: [(check, _row(entries, row)) for check, row in pairs(table(cause.node, "shows"))]
            for cause in entries.all("causes")
        }
        entries.worked_out["rows"] = found
    return found


def _shown(entries: Entries) -> Mapping[str, Mapping[str, list[Entry]]]:
    """For each check and outcome, the causes in use that produce it."""
    found: dict[str, dict[str, list[Entry]]] | None = entries.worked_out.get("shown")
    if found is None:
        found = {}
        rows = _rows(entries)
        for cause in used(entries, "causes"):
            for check, row in rows[cause.id]:
                for outcome, strength in row.items():
                    if strength > 0:
                        found.setdefault(check.value, {}).setdefault(outcome, []).append(cause)
        entries.worked_out["shown"] = found
    return found


def strengths_sum_to_one(entries: Entries) -> Iterator[Problem]:
    """The strengths of a cause in one check, and the leaks of a check, are shares of one whole."""
    rows = _rows(entries)
    for cause in entries.all("causes"):
        for check, row in rows[cause.id]:
            total = fsum(row.values())
            if total > 1 + SLACK:
                what = f"the strengths of {quoted(cause.id)} in {quoted(check.value)} sum to {total:.4g}"
                advice = "they sum to 1 at most; what is left of 1 shows the normal outcome"
                yield cause.problem("K047", what, advice, check)
    for entry in entries.all("checks"):
        total = fsum(_row(entries, table(entry.node, "leak")).values())
        if total > 1 + SLACK:
            what = f"the leaks of {quoted(entry.id)} sum to {total:.4g}"
            yield entry.problem("K047", what, "they sum to less than 1", entry.node.keys.get("leak"))


def part_sums_to_less_than_one(entries: Entries) -> Iterator[Problem]:
    """How common the causes of one part are leaves something for the sound state, on every set."""
    parts: dict[str, list[tuple[Entry, float]]] = {}
    for cause in used(entries, "causes"):
        written = [value(cause.node, "how_common")]
        written += [value(exception, "how_common") for exception in nodes(cause.node, "when")]
        worst = max((entries.strength(word) or 0.0 for word in written), default=0.0)
        parts.setdefault(value(cause.node, "part") or cause.id, []).append((cause, worst))
    for part, members in parts.items():
        total = fsum(worst for _, worst in members)
        if total >= 1 - SLACK:
            what = f"the causes of {quoted(part)} can be as common as {total:.4g} together"
            last = members[-1][0]
            yield last.problem("K056", what, "their sum must stay below 1", text(last.node, "how_common"))


def leaks_are_given(entries: Entries) -> Iterator[Problem]:
    """Every abnormal outcome has a leak."""
    for check in entries.all("checks"):
        leak = table(check.node, "leak")
        for outcome in list(table(check.node, "outcomes").keys.values())[1:]:
            if "leak" in check.node.values and outcome.value not in leak.values:
                what = f"no leak for the outcome {quoted(outcome.value)} of {quoted(check.id)}"
                yield check.problem("K049", what, f"add `{outcome.value}: almost_never` or what is true", outcome)


def outcomes_are_possible(entries: Entries) -> Iterator[Problem]:
    """Every outcome can be seen: somebody would be told of a contradiction otherwise."""
    shown = _shown(entries)
    for check in used(entries, "checks"):
        leak = _row(entries, table(check.node, "leak"))
        named = list(table(check.node, "outcomes").keys.values())
        if named and 1 - SLACK <= fsum(leak.values()) <= 1 + SLACK:
            what = f"{quoted(named[0].value)}, the normal outcome of {quoted(check.id)}, cannot be"
            yield check.problem("K048", what, "the leaks must sum to less than 1", named[0])
        for outcome in named[1:]:
            if outcome.value in shown.get(check.id, {}):
                continue
            if leak.get(outcome.value, 1.0) > 0:
                what = f"no cause shows {quoted(outcome.value)} in {quoted(check.id)}"
                yield check.problem("K046", what, "say which cause shows it, or drop the outcome", outcome)
            else:
                what = f"{quoted(outcome.value)} of {quoted(check.id)} cannot be: no cause shows it and its leak is 0"
                yield check.problem("K048", what, "give it a leak above 0", outcome)


def causes_are_shown(entries: Entries) -> Iterator[Problem]:
    """Some check in use shows each cause."""
    shown = _shown(entries)
    asked = {check.id for check in used(entries, "checks")}
    seen = {cause.id for name, rows in shown.items() if name in asked for causes in rows.values() for cause in causes}
    for cause in used(entries, "causes"):
        if cause.id not in seen:
            yield cause.problem(
                "K040", f"no check shows the cause {quoted(cause.id)}", "say how it shows under `shows`"
            )


def causes_are_complained_of(entries: Entries) -> Iterator[Problem]:
    """Some complaint speaks of a check and outcome that each cause shows."""
    shown = _shown(entries)
    heard: set[str] = set()
    for complaint in used(entries, "complaints"):
        says = table(complaint.node, "says")
        for check in says.values:
            for outcome in strings(says, check):
                heard.update(cause.id for cause in shown.get(check, {}).get(outcome.value, ()))
    for cause in used(entries, "causes"):
        if cause.id not in heard and table(cause.node, "shows").values:
            what = f"no complaint speaks of anything that the cause {quoted(cause.id)} shows"
            yield cause.problem("K041", what, "add a complaint, or how it shows in a check that one speaks of")


def causes_are_told_apart(entries: Entries) -> Iterator[Problem]:
    """No two causes show the same in every check."""
    rows = _rows(entries)
    first: dict[tuple[tuple[str, tuple[tuple[str, float], ...]], ...], Entry] = {}
    for cause in used(entries, "causes"):
        shows = []
        for check, row in rows[cause.id]:
            strengths = tuple(sorted(item for item in row.items() if item[1] > 0))
            if strengths:
                shows.append((check.value, strengths))
        key = tuple(sorted(shows))
        twin = first.setdefault(key, cause)
        if key and twin is not cause and not _never_together(twin, cause):
            what = f"{quoted(twin.id)} and {quoted(cause.id)} show the same in every check"
            unused = [check.id for check in used(entries, "checks") if check.id not in dict(shows)]
            where = f", for example {unused[0]}" if unused else ""
            yield cause.problem("K042", what, f"a check in which only one of them shows would tell them apart{where}")


def _never_together(one: Entry, other: Entry) -> bool:
    """Whether no set has both: their `only_if` ask for different values of one feature."""
    first, second = table(one.node, "only_if"), table(other.node, "only_if")
    for feature, wanted in first.values.items():
        rival = second.values.get(feature)
        if isinstance(wanted, ScalarNode) and isinstance(rival, ScalarNode) and wanted.value != rival.value:
            return True
    return False


def left_out_is_meant(entries: Entries) -> Iterator[Problem]:
    """A check that nearly every cause of an area shows in is shown by the last ones too, or said not to be affected."""
    rows = _rows(entries)
    beside: dict[str, list[Entry]] = {}
    for cause in used(entries, "causes"):
        beside.setdefault(cause.area, []).append(cause)
    asked = {check.id for check in used(entries, "checks")}
    for area, causes in beside.items():
        shown = {cause.id: {check.value for check, _ in rows[cause.id]} for cause in causes}
        count = Counter(check for checks in shown.values() for check in checks & asked)
        for cause in causes:
            answered = shown[cause.id].union(name.value for name in strings(cause.node, "unaffected"))
            others = len(causes) - 1
            left = [one for one in count if one not in answered and count[one] >= NEARLY_ALL * others]
            if left and others >= NEIGHBOURS:
                names = ", ".join(sorted(left))
                what = f"nearly every other cause of {quoted(area)} shows in {names}; {quoted(cause.id)} does not"
                advice = f"say how it shows under `shows`, or write `unaffected: [{names}]`"
                yield cause.problem("K100", what, advice, cause.node.keys.get("shows"))


def affected_or_not(entries: Entries) -> Iterator[Problem]:
    """No check is both shown in and not affected."""
    rows = _rows(entries)
    for cause in entries.all("causes"):
        shown = {check.value for check, _ in rows[cause.id]}
        for name in strings(cause.node, "unaffected"):
            if name.value in shown:
                what = f"{quoted(cause.id)} shows in {quoted(name.value)} and is said not to affect it"
                yield cause.problem("K101", what, "take it out of `shows` or out of `unaffected`", name)


def causes_have_a_remedy(entries: Entries) -> Iterator[Problem]:
    """Something can be done about each cause."""
    cured: set[str] = set()
    for remedy in used(entries, "remedies"):
        cured.update(name for name, chance in _cures(entries, remedy).items() if chance > 0)
    for cause in used(entries, "causes"):
        if cause.id not in cured:
            what = f"no remedy cures the cause {quoted(cause.id)}"
            yield cause.problem("K043", what, "name it under `cures` of a remedy")


def remedies_cure(entries: Entries) -> Iterator[Problem]:
    """Each remedy removes some cause."""
    for remedy in used(entries, "remedies"):
        if not any(chance > 0 for chance in _cures(entries, remedy).values()):
            what = f"the remedy {quoted(remedy.id)} cures nothing"
            yield remedy.problem(
                "K044", what, "name the causes it removes, and the chance", remedy.node.keys.get("cures")
            )


def _cures(entries: Entries, remedy: Entry) -> Mapping[str, float]:
    return _row(entries, table(remedy.node, "cures"))
