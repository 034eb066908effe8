"""Names: does everything that is named exist, and may it be named there.

Purpose: every reference from one item to another, one small function for each kind of item that refers.
Law: a name that is missing because its file could not be read is not reported again. The time taken is bounded: at most
`LIMIT` problems of one kind of item.
Not here: how a name is looked up (see `reference`). Not checked: whether what is said makes sense (see `rules`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import islice

from ..problems import Problem, quoted
from . import reference, typed
from .entries import SINGULAR, Entries, Entry, nodes, pairs, strings, table, text, value
from .source import MappingNode, ScalarNode

FITS = ("needs_on", "takes_off", "puts_back", "runs_without")
LIMIT = 1000


def problems(entries: Entries) -> list[Problem]:
    """Every reference that leads nowhere."""
    found: list[Problem] = []
    items = (
        causes, remedies, checks, fittings, complaints, states, costs, tolerances, danger, order, from_the_top,
        trimming, setting, family, drills, tools, phrases, drawings, units, cases,
    )  # fmt: skip
    for refer in items:
        found.extend(islice(refer(entries), LIMIT))
    for everywhere in (sources, areas, retired):
        found.extend(islice(everywhere(entries), LIMIT))
    return found


def causes(entries: Entries) -> Iterator[Problem]:
    """The checks and outcomes a cause shows in, its words, and the features that it depends on."""
    for cause in entries.all("causes"):
        yield from reference.of_strength(entries, cause, text(cause.node, "how_common"))
        yield from reference.of_condition(entries, cause, table(cause.node, "only_if"))
        for exception in nodes(cause.node, "when"):
            yield from reference.of_condition(entries, cause, table(exception, "if"))
            yield from reference.of_strength(entries, cause, text(exception, "how_common"))
        for key, row in pairs(table(cause.node, "shows")):
            check = entries.of("checks").get(key.value)
            yield from reference.of_name(entries, cause, key, "checks")
            for outcome, strength in pairs(row) if isinstance(row, MappingNode) else ():
                yield from reference.of_outcome(cause, outcome, check, abnormal=True)
                yield from reference.of_strength(entries, cause, strength)
        yield from reference.of_names(entries, cause, strings(cause.node, "unaffected"), "checks")


def remedies(entries: Entries) -> Iterator[Problem]:
    """The causes a remedy cures, its state, cautions, proof, and what follows it."""
    for remedy in entries.all("remedies"):
        for key, chance in pairs(table(remedy.node, "cures")):
            yield from reference.of_name(entries, remedy, key, "causes")
            yield from reference.of_strength(entries, remedy, chance)
        yield from reference.of_name(entries, remedy, text(remedy.node, "state"), "states")
        yield from reference.of_names(entries, remedy, strings(remedy.node, "cautions"), "cautions")
        yield from reference.of_names(entries, remedy, strings(remedy.node, "proof"), "checks")
        yield from reference.of_names(entries, remedy, strings(remedy.node, "then"), "remedies")
        yield from reference.of_condition(entries, remedy, table(remedy.node, "only_if"))


def checks(entries: Entries) -> Iterator[Problem]:
    """The state, cautions and features of a check, and the outcomes that its leak and bands name."""
    for check in entries.all("checks"):
        yield from reference.of_name(entries, check, text(check.node, "state"), "states")
        yield from reference.of_names(entries, check, strings(check.node, "cautions"), "cautions")
        yield from reference.of_condition(entries, check, table(check.node, "only_if"))
        for outcome, chance in pairs(table(check.node, "leak")):
            yield from reference.of_outcome(check, outcome, check, abnormal=True)
            yield from reference.of_strength(entries, check, chance)
        for outcome, _ in pairs(offered := table(check.node, "outcome_only_if")):
            yield from reference.of_outcome(check, outcome, check, abnormal=True)
            yield from reference.of_condition(entries, check, table(offered, outcome.value))
        yield from _outcomes_by_check(entries, check, table(check.node, "only_while"))
        mend = table(check.node, "mend")
        for outcome, _ in pairs(mend):
            yield from reference.of_outcome(check, outcome, check, abnormal=True)
            yield from reference.of_name(entries, check, text(mend, outcome.value), "remedies")
        reading = table(check.node, "reading")
        for outcome in reference.band_outcomes(reading.values.get("bands")):
            yield from reference.of_outcome(check, outcome, check)
        uneven = text(table(reading, "uneven"), "outcome")
        if uneven is not None:
            yield from reference.of_outcome(check, uneven, check)
        yield from reference.of_names(entries, check, strings(table(check.node, "derived"), "minus"), "checks")
        for key in ("swing", "above", "below"):
            yield from reference.of_name(entries, check, text(reading, key), "checks")
        yield from reference.of_name(entries, check, text(check.node, "measured_by"), "checks")
        for outcome, _ in pairs(table(check.node, "said")):
            yield from reference.of_outcome(check, outcome, check)


def fittings(entries: Entries) -> Iterator[Problem]:
    """What a fitting and the closing list name, and the fittings that checks and remedies name."""
    for fitting in entries.all("fittings"):
        yield from reference.of_name(entries, fitting, text(fitting.node, "state"), "states")
        yield from reference.of_names(entries, fitting, strings(fitting.node, "cautions"), "cautions")
        yield from reference.of_names(entries, fitting, strings(fitting.node, "looks"), "checks")
    for step in entries.all("checks", "remedies"):
        for key in FITS:
            yield from reference.of_names(entries, step, strings(step.node, key), "fittings")
    for point in entries.all("closing"):
        for key, kind in (("while", "states"), ("after", "states"), ("fittings", "fittings")):
            yield from reference.of_names(entries, point, strings(point.node, key), kind)
        yield from reference.of_condition(entries, point, table(point.node, "only_if"))


def complaints(entries: Entries) -> Iterator[Problem]:
    """The checks and outcomes that a complaint speaks of."""
    for complaint in entries.all("complaints"):
        for key in ("true_when_said", "said_when_not", "comes_and_goes"):
            yield from reference.of_strength(entries, complaint, text(complaint.node, key))
        yield from reference.of_names(entries, complaint, strings(complaint.node, "cautions"), "cautions")
        yield from reference.of_names(entries, complaint, strings(complaint.node, "excludes"), "complaints")
        says = table(complaint.node, "says")
        for key_text, _ in pairs(says):
            yield from reference.of_name(entries, complaint, key_text, "checks")
            check = entries.of("checks").get(key_text.value)
            for outcome in strings(says, key_text.value):
                yield from reference.of_outcome(complaint, outcome, check)


def states(entries: Entries) -> Iterator[Problem]:
    """The cautions of a set-up state."""
    for state in entries.all("states"):
        yield from reference.of_names(entries, state, strings(state.node, "cautions"), "cautions")


def costs(entries: Entries) -> Iterator[Problem]:
    """The states and checks that the moves and the proof run name."""
    for page, top in entries.tops["states"]:
        here = Entry("states", page.file, ScalarNode("", 1, 1), top)
        proof = table(top, "proof")
        for start, ends in pairs(table(top, "moves")):
            yield from reference.of_name(entries, here, start, "states")
            if isinstance(ends, MappingNode):
                yield from reference.of_names(entries, here, [end for end, _ in pairs(ends)], "states")
        for stands, _ in pairs(table(top, "serves")):
            yield from reference.of_name(entries, here, stands, "states")
            yield from reference.of_names(entries, here, strings(table(top, "serves"), stands.value), "states")
        yield from reference.of_name(entries, here, text(top, "start_state"), "states")
        for _, found in pairs(table(top, "found")):
            yield from reference.of_name(entries, here, text(found, "state"), "states")
        yield from reference.of_names(entries, here, strings(top, "as_found"), "checks")
        for key in ("checks", "read", "asks"):
            yield from reference.of_names(entries, here, strings(table(top, "first_start"), key), "checks")
        yield from reference.of_name(entries, here, text(proof, "state"), "states")
        yield from reference.of_names(entries, here, strings(proof, "checks"), "checks")
        yield from reference.of_names(entries, here, strings(proof, "needed"), "checks")
        yield from reference.of_names(entries, here, strings(proof, "before_closing"), "checks")
        yield from reference.of_name(entries, here, text(proof, "full_load_by"), "checks")
        yield from _outcomes_by_check(entries, here, table(proof, "also_fine"))
        for key in ("shows", "false_alarm"):
            yield from reference.of_strength(entries, here, text(proof, key))


def tolerances(entries: Entries) -> Iterator[Problem]:
    """The checks and outcomes that the bands of a tolerance set name."""
    for tolerance in entries.all("tolerances"):
        bands = table(tolerance.node, "bands")
        for key, under in pairs(bands):
            check = entries.of("checks").get(key.value)
            yield from reference.of_name(entries, tolerance, key, "checks")
            for outcome in reference.band_outcomes(under):
                yield from reference.of_outcome(tolerance, outcome, check)


def danger(entries: Entries) -> Iterator[Problem]:
    """The feature, checks, outcomes, causes and cautions of a danger limit."""
    for limit in entries.all("danger"):
        of = text(limit.node, "of")
        if of is not None:
            yield from reference.of_feature(entries, limit, of, [])
        readings = table(limit.node, "readings")
        for key, under in pairs(readings):
            yield from reference.of_name(entries, limit, key, "checks")
            yield from reference.of_name(entries, limit, text(under, "above"), "checks")
        yield from _outcomes_by_check(entries, limit, table(limit.node, "outcomes"))
        may_come = table(limit.node, "may_come")
        yield from reference.of_strength(entries, limit, text(may_come, "from"))
        yield from reference.of_names(entries, limit, strings(may_come, "causes"), "causes")
        yield from _outcomes_by_check(entries, limit, table(may_come, "seen"))
        yield from reference.of_names(entries, limit, strings(may_come, "first_run"), "remedies")
        yield from reference.of_names(entries, limit, strings(limit.node, "cautions"), "cautions")


def _outcomes_by_check(entries: Entries, entry: Entry, named: MappingNode) -> Iterator[Problem]:
    for key, _ in pairs(named):
        yield from reference.of_name(entries, entry, key, "checks")
        for outcome in strings(named, key.value):
            yield from reference.of_outcome(entry, outcome, entries.of("checks").get(key.value))


def order(entries: Entries) -> Iterator[Problem]:
    """The steps that an order rule names: checks to look at first, remedies that cure first, either otherwise."""
    first = dict.fromkeys(("look_first", "glance_first", "before_start", "prefer"), ("checks",))
    first["cure_first"] = ("remedies",)
    for rule in entries.all("order"):
        kinds = first.get(value(rule.node, "kind"), ("checks", "remedies"))
        yield from reference.of_names(entries, rule, strings(rule.node, "before"), *kinds)
        yield from reference.of_names(entries, rule, strings(rule.node, "after"), "checks", "remedies")
        yield from reference.of_names(entries, rule, strings(rule.node, "complaints"), "complaints")


def from_the_top(entries: Entries) -> Iterator[Problem]:
    """The check of each stage, its outcomes, and the remedies for them."""
    for stage in entries.all("from_the_top"):
        yield from reference.of_name(entries, stage, stage.key, "checks")
        check = entries.of("checks").get(stage.id)
        do = table(stage.node, "do")
        for key, remedy in pairs(do):
            yield from reference.of_outcome(stage, key, check)
            if isinstance(remedy, ScalarNode):
                yield from reference.of_name(entries, stage, remedy, "remedies")


def trimming(entries: Entries) -> Iterator[Problem]:
    """The remedy of an adjuster; the checks, adjusters and features of a pair."""
    for adjuster in entries.all("adjusters"):
        yield from reference.of_name(entries, adjuster, text(adjuster.node, "remedy"), "remedies")
    for pair in entries.all("pairs"):
        yield from reference.of_condition(entries, pair, table(pair.node, "only_if"))
        for other in nodes(pair.node, "when"):
            yield from reference.of_condition(entries, pair, table(other, "if"))
        readings = table(pair.node, "readings")
        taken = [check for _, check in pairs(readings) if isinstance(check, ScalarNode)]
        yield from reference.of_names(entries, pair, taken, "checks")
        yield from reference.of_name(entries, pair, text(pair.node, "swing"), "checks")
        for key, _ in pairs(table(pair.node, "response")):
            yield from reference.of_name(entries, pair, key, "adjusters")
        on = text(table(pair.node, "hunts"), "by")
        if on is not None and on.value != "difference":
            yield from reference.of_name(entries, pair, on, "adjusters")


def setting(entries: Entries) -> Iterator[Problem]:
    """The steps, checks, outcomes, remedies, adjusters and features that a step of setting names."""
    for step in entries.all("setting"):
        for key, kind in (("needs", "setting"), ("disturbs", "setting"), ("cautions", "cautions")):
            yield from reference.of_names(entries, step, strings(step.node, key), kind)
        for key in FITS:
            yield from reference.of_names(entries, step, strings(step.node, key), "fittings")
        yield from reference.of_name(entries, step, text(step.node, "state"), "states")
        yield from reference.of_name(entries, step, text(step.node, "adjuster"), "adjusters")
        yield from reference.of_name(entries, step, text(step.node, "pair"), "pairs")
        yield from reference.of_condition(entries, step, table(step.node, "only_if"))
        for check, does in pairs(table(step.node, "accepts")):
            yield from reference.of_name(entries, step, check, "checks")
            for outcome, remedy in pairs(does) if isinstance(does, MappingNode) else ():
                yield from reference.of_outcome(step, outcome, entries.of("checks").get(check.value), abnormal=True)
                yield from reference.of_name(
                    entries, step, remedy if isinstance(remedy, ScalarNode) else None, "remedies"
                )
        yield from _outcomes_by_check(entries, step, table(step.node, "fine"))
        yield from reference.of_names(entries, step, [check for check, _ in pairs(table(step.node, "near"))], "checks")
        for check, asks in pairs(table(step.node, "looks_first")):
            yield from reference.of_name(entries, step, check, "checks")
            for outcome, _ in pairs(asks) if isinstance(asks, MappingNode) else ():
                yield from reference.of_outcome(step, outcome, entries.of("checks").get(check.value), abnormal=True)
                yield from reference.of_names(entries, step, strings(asks, outcome.value), "checks")
        for check, shown in pairs(table(step.node, "no_response")):
            yield from reference.of_name(entries, step, check, "checks")
            if isinstance(shown, ScalarNode):
                yield from reference.of_outcome(step, shown, entries.of("checks").get(check.value), abnormal=True)
    for page, top in entries.tops["setting"]:
        here = Entry("setting", page.file, ScalarNode("", 1, 1), top)
        for key in ("suspected_from", "found_from"):
            yield from reference.of_strength(entries, here, text(table(top, "rules"), key))


def family(entries: Entries) -> Iterator[Problem]:
    """The features, and their values, over which the sets of the family are shared out."""
    for share in entries.all("shares"):
        for key, _ in pairs(table(share.node, "of")):
            yield from reference.of_feature(entries, share, share.key, [key])


def drills(entries: Entries) -> Iterator[Problem]:
    """The features of made-up sets, and what a slip is of, leaves and is seen by."""
    for share in entries.all("made_up"):
        for key, _ in pairs(table(share.node, "of")):
            yield from reference.of_feature(entries, share, share.key, [key])
    for combination in entries.all("combinations"):
        for side in ("if", "has"):
            yield from reference.of_condition(entries, combination, table(combination.node, side))
    for slip in entries.all("slips"):
        yield from reference.of_names(entries, slip, strings(slip.node, "of"), "remedies")
        yield from reference.of_name(entries, slip, text(slip.node, "leaves"), "causes")
        yield from reference.of_name(entries, slip, text(slip.node, "check"), "checks")
        check, outcome = entries.of("checks").get(value(slip.node, "check")), text(slip.node, "outcome")
        if outcome is not None:
            yield from reference.of_outcome(slip, outcome, check, abnormal=True)


def drawings(entries: Entries) -> Iterator[Problem]:
    """The checks and remedies that a drawing is shown with."""
    for drawing in entries.all("drawings"):
        yield from reference.of_names(entries, drawing, strings(drawing.node, "of"), "checks", "remedies")


def units(entries: Entries) -> Iterator[Problem]:
    """The drawing and cautions of a unit, and the causes and checks of its drills."""
    for unit in entries.all("units"):
        yield from reference.of_name(entries, unit, text(unit.node, "drawing"), "drawings")
        yield from reference.of_names(entries, unit, strings(unit.node, "cautions"), "cautions")
        for plan in nodes(unit.node, "drills"):
            yield from reference.of_names(entries, unit, strings(plan, "causes"), "causes")
            yield from reference.of_names(entries, unit, strings(plan, "also"), "causes")
            yield from reference.of_names(entries, unit, strings(plan, "looks"), "checks")


def tools(entries: Entries) -> Iterator[Problem]:
    """The states that a tool is needed for, and the tools that checks and remedies name, where there is a list."""
    for tool in entries.all("tools"):
        yield from reference.of_names(entries, tool, strings(tool.node, "states"), "states")
        for key in ("stands_for", "goes_with"):
            yield from reference.of_names(entries, tool, strings(tool.node, key), "tools")
    if not entries.tops["tools"] or "tools" in entries.broken:
        return
    named: dict[str, ScalarNode] = {}
    for tool in entries.all("tools"):
        title = text(tool.node, "title")
        for name in ([title] if title is not None else []) + list(strings(tool.node, "also")):
            named.setdefault(" ".join(name.value.lower().split()), name)
    for step in entries.all("checks", "remedies"):
        for written in strings(step.node, "tools"):
            for one in alternatives(written.value, named):
                if one not in named:
                    what = f"no tool {quoted(one)}"
                    yield step.problem("K039", what, reference.close_to(one, named, "add it to tools.yaml"), written)


def alternatives(written: str, known: Collection[str]) -> tuple[str, ...]:
    """The tools of which one is enough, in small letters: "frequency meter or tachometer" is two of them, unless that
    whole is the name of one."""
    whole = " ".join(written.lower().split())
    return (whole,) if whole in known else tuple(part.strip() for part in whole.split(" or "))


def phrases(entries: Entries) -> Iterator[Problem]:
    """The complaints that a phrase means, and what the sentences about a visit name."""
    for phrase in entries.all("phrases"):
        yield from reference.of_names(entries, phrase, strings(phrase.node, "means"), "complaints")
    yield from typed.references(entries)


def cases(entries: Entries) -> Iterator[Problem]:
    """Everything a solved case names, and whether its answers can be understood."""
    for case in entries.all("cases"):
        for key, given in pairs(table(case.node, "set")):
            yield from reference.of_feature(entries, case, key, [given] if isinstance(given, ScalarNode) else [])
        for fact in nodes(case.node, "facts"):
            yield from reference.of_fact(entries, case, fact)
        expect = table(case.node, "expect")
        for name in (*strings(case.node, "truth"), *strings(expect, "leading"), *strings(expect, "not_leading")):
            yield from reference.of_name(entries, case, name, "causes")
        yield from reference.of_name(entries, case, text(case.node, "beside"), "cases")
        yield from reference.of_names(entries, case, strings(expect, "next_step"), "checks", "remedies")


def sources(entries: Entries) -> Iterator[Problem]:
    """The published sources that any item names."""
    costs_too = [Entry("states", page.file, ScalarNode("", 1, 1), top) for page, top in entries.tops["states"]]
    for entry in (*entries.all(), *costs_too):
        for source in nodes(entry.node, "sources"):
            yield from reference.of_name(entries, entry, text(source, "source"), "sources")


def areas(entries: Entries) -> Iterator[Problem]:
    """An area is named after its file, and checks and cases belong to one that exists."""
    if "causes" in entries.broken:
        return
    known = [page.file.removeprefix("areas/").removesuffix(".yaml") for page, _ in entries.tops["area"]]
    for kind in ("area", "checks", "cases"):
        for page, top in entries.tops[kind]:
            area = text(top, "area")
            if area is None or not area.value:
                continue
            own = page.file.rpartition("/")[2].removesuffix(".yaml")
            if area.value not in ([own] if kind == "area" else known):
                advice = f"write {own}, as the file is named"
                if kind != "area":
                    advice = reference.close_to(area.value, known, reference.among(known))
                what = f"no area {quoted(area.value)} here"
                yield Problem.of("K038", page.file, area.line, area.column, what, advice)


def retired(entries: Entries) -> Iterator[Problem]:
    """What stands in for a retired item is there, of the same kind, and in use."""
    for entry in entries.all("causes", "checks", "remedies", "complaints", "setting"):
        other = text(table(entry.node, "retired"), "replaced_by")
        if other is None or entry.kind in entries.broken:
            continue
        known = [one.id for one in entries.all(entry.kind) if not reference.is_retired(one)]
        if other.value not in known:
            what = f"{quoted(other.value)} is no {SINGULAR[entry.kind]} in use"
            yield entry.problem("K035", what, reference.close_to(other.value, known), other)
