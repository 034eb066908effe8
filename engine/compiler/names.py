"""Names: does everything that is named exist, and may it be named there.

Purpose: every reference from one item to another, one small function for each kind of item that refers.
Law: a name that is missing because its file could not be read is not reported again. The time taken is bounded: at most
`LIMIT` problems of one kind of item, and nothing near is looked for among names without end.
Not checked here: whether what is said makes sense (see `rules`).
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from itertools import islice

from ..problems import Problem, quoted
from ..problems import close_to as nearest
from .entries import SINGULAR, Entries, Entry, nodes, number_in, pairs, strings, table, text, value
from .source import MappingNode, Node, ScalarNode, SequenceNode

COMPLAINT_ANSWERS = ("present", "absent", "unknown")
UNKNOWN = "unknown"
FITS = ("needs_on", "takes_off", "puts_back", "runs_without")
LIMIT = 1000
_MOST_NAMES = 1000  # among more of them nothing near is looked for: each look would take a second


def problems(entries: Entries) -> list[Problem]:
    """Every reference that leads nowhere."""
    found: list[Problem] = []
    items = (
        causes, remedies, checks, fittings, complaints, states, costs, tolerances, danger, order, from_the_top,
        trimming, setting, family, tools, phrases, drawings, cases,
    )  # fmt: skip
    for refer in items:
        found.extend(islice(refer(entries), LIMIT))
    for everywhere in (sources, areas, retired):
        found.extend(islice(everywhere(entries), LIMIT))
    return found


def causes(entries: Entries) -> Iterator[Problem]:
    """The checks and outcomes a cause shows in, its words, and the features that it depends on."""
    for cause in entries.all("causes"):
        yield from _strength(entries, cause, text(cause.node, "how_common"))
        yield from _condition(entries, cause, table(cause.node, "only_if"))
        for exception in nodes(cause.node, "when"):
            yield from _condition(entries, cause, table(exception, "if"))
            yield from _strength(entries, cause, text(exception, "how_common"))
        for key, row in pairs(table(cause.node, "shows")):
            check = entries.of("checks").get(key.value)
            yield from _known(entries, cause, key, "checks")
            for outcome, strength in pairs(row) if isinstance(row, MappingNode) else ():
                yield from _outcome(cause, outcome, check, abnormal=True)
                yield from _strength(entries, cause, strength)


def remedies(entries: Entries) -> Iterator[Problem]:
    """The causes a remedy cures, its state, cautions, proof, and what follows it."""
    for remedy in entries.all("remedies"):
        for key, chance in pairs(table(remedy.node, "cures")):
            yield from _known(entries, remedy, key, "causes")
            yield from _strength(entries, remedy, chance)
        yield from _known(entries, remedy, text(remedy.node, "state"), "states")
        yield from _all_known(entries, remedy, strings(remedy.node, "cautions"), "cautions")
        yield from _all_known(entries, remedy, strings(remedy.node, "proof"), "checks")
        yield from _all_known(entries, remedy, strings(remedy.node, "then"), "remedies")


def checks(entries: Entries) -> Iterator[Problem]:
    """The state, cautions and features of a check, and the outcomes that its leak and bands name."""
    for check in entries.all("checks"):
        yield from _known(entries, check, text(check.node, "state"), "states")
        yield from _all_known(entries, check, strings(check.node, "cautions"), "cautions")
        yield from _condition(entries, check, table(check.node, "only_if"))
        for outcome, chance in pairs(table(check.node, "leak")):
            yield from _outcome(check, outcome, check, abnormal=True)
            yield from _strength(entries, check, chance)
        reading = table(check.node, "reading")
        for outcome in band_outcomes(reading.values.get("bands")):
            yield from _outcome(check, outcome, check)
        uneven = text(table(reading, "uneven"), "outcome")
        if uneven is not None:
            yield from _outcome(check, uneven, check)
        yield from _all_known(entries, check, strings(table(check.node, "derived"), "minus"), "checks")
        yield from _known(entries, check, text(reading, "swing"), "checks")


def fittings(entries: Entries) -> Iterator[Problem]:
    """The state and cautions of a fitting, and the fittings that checks and remedies name."""
    for fitting in entries.all("fittings"):
        yield from _known(entries, fitting, text(fitting.node, "state"), "states")
        yield from _all_known(entries, fitting, strings(fitting.node, "cautions"), "cautions")
    for step in entries.all("checks", "remedies"):
        for key in FITS:
            yield from _all_known(entries, step, strings(step.node, key), "fittings")


def complaints(entries: Entries) -> Iterator[Problem]:
    """The checks and outcomes that a complaint speaks of."""
    for complaint in entries.all("complaints"):
        for key in ("true_when_said", "said_when_not", "comes_and_goes"):
            yield from _strength(entries, complaint, text(complaint.node, key))
        yield from _all_known(entries, complaint, strings(complaint.node, "cautions"), "cautions")
        yield from _all_known(entries, complaint, strings(complaint.node, "excludes"), "complaints")
        says = table(complaint.node, "says")
        for key_text, _ in pairs(says):
            yield from _known(entries, complaint, key_text, "checks")
            check = entries.of("checks").get(key_text.value)
            for outcome in strings(says, key_text.value):
                yield from _outcome(complaint, outcome, check)


def states(entries: Entries) -> Iterator[Problem]:
    """The cautions of a set-up state."""
    for state in entries.all("states"):
        yield from _all_known(entries, state, strings(state.node, "cautions"), "cautions")


def costs(entries: Entries) -> Iterator[Problem]:
    """The states and checks that the moves and the proof run name."""
    for page, top in entries.tops["states"]:
        here = Entry("states", page.file, ScalarNode("", 1, 1), top)
        proof = table(top, "proof")
        for start, ends in pairs(table(top, "moves")):
            yield from _known(entries, here, start, "states")
            if isinstance(ends, MappingNode):
                yield from _all_known(entries, here, [end for end, _ in pairs(ends)], "states")
        for stands, _ in pairs(table(top, "serves")):
            yield from _known(entries, here, stands, "states")
            yield from _all_known(entries, here, strings(table(top, "serves"), stands.value), "states")
        yield from _known(entries, here, text(top, "start_state"), "states")
        for _, found in pairs(table(top, "found")):
            yield from _known(entries, here, text(found, "state"), "states")
        yield from _all_known(entries, here, strings(top, "as_found"), "checks")
        yield from _known(entries, here, text(proof, "state"), "states")
        yield from _all_known(entries, here, strings(proof, "checks"), "checks")
        yield from _all_known(entries, here, strings(proof, "needed"), "checks")
        yield from _all_known(entries, here, strings(proof, "before_closing"), "checks")
        yield from _outcomes_by_check(entries, here, table(proof, "also_fine"))
        for key in ("shows", "false_alarm"):
            yield from _strength(entries, here, text(proof, key))


def tolerances(entries: Entries) -> Iterator[Problem]:
    """The checks and outcomes that the bands of a tolerance set name."""
    for tolerance in entries.all("tolerances"):
        bands = table(tolerance.node, "bands")
        for key, under in pairs(bands):
            check = entries.of("checks").get(key.value)
            yield from _known(entries, tolerance, key, "checks")
            for outcome in band_outcomes(under):
                yield from _outcome(tolerance, outcome, check)


def danger(entries: Entries) -> Iterator[Problem]:
    """The feature, checks, outcomes and cautions of a danger limit."""
    for limit in entries.all("danger"):
        of = text(limit.node, "of")
        if of is not None:
            yield from _feature(entries, limit, of, [])
        readings = table(limit.node, "readings")
        for key, under in pairs(readings):
            yield from _known(entries, limit, key, "checks")
            yield from _known(entries, limit, text(under, "above"), "checks")
        yield from _outcomes_by_check(entries, limit, table(limit.node, "outcomes"))
        yield from _all_known(entries, limit, strings(limit.node, "cautions"), "cautions")


def _outcomes_by_check(entries: Entries, entry: Entry, named: MappingNode) -> Iterator[Problem]:
    for key, _ in pairs(named):
        yield from _known(entries, entry, key, "checks")
        for outcome in strings(named, key.value):
            yield from _outcome(entry, outcome, entries.of("checks").get(key.value))


def order(entries: Entries) -> Iterator[Problem]:
    """The steps that an order rule names: checks to look at first, remedies that cure first, either otherwise."""
    first = {"look_first": ("checks",), "cure_first": ("remedies",)}
    for rule in entries.all("order"):
        kinds = first.get(value(rule.node, "kind"), ("checks", "remedies"))
        yield from _all_known(entries, rule, strings(rule.node, "before"), *kinds)
        yield from _all_known(entries, rule, strings(rule.node, "after"), "checks", "remedies")


def from_the_top(entries: Entries) -> Iterator[Problem]:
    """The check of each stage, its outcomes, and the remedies for them."""
    for stage in entries.all("from_the_top"):
        yield from _known(entries, stage, stage.key, "checks")
        check = entries.of("checks").get(stage.id)
        do = table(stage.node, "do")
        for key, remedy in pairs(do):
            yield from _outcome(stage, key, check)
            if isinstance(remedy, ScalarNode):
                yield from _known(entries, stage, remedy, "remedies")


def trimming(entries: Entries) -> Iterator[Problem]:
    """The remedy of an adjuster; the checks, adjusters and features of a pair."""
    for adjuster in entries.all("adjusters"):
        yield from _known(entries, adjuster, text(adjuster.node, "remedy"), "remedies")
    for pair in entries.all("pairs"):
        yield from _condition(entries, pair, table(pair.node, "only_if"))
        for other in nodes(pair.node, "when"):
            yield from _condition(entries, pair, table(other, "if"))
        readings = table(pair.node, "readings")
        taken = [check for _, check in pairs(readings) if isinstance(check, ScalarNode)]
        yield from _all_known(entries, pair, taken, "checks")
        yield from _known(entries, pair, text(pair.node, "swing"), "checks")
        for key, _ in pairs(table(pair.node, "response")):
            yield from _known(entries, pair, key, "adjusters")
        on = text(table(pair.node, "hunts"), "by")
        if on is not None and on.value != "difference":
            yield from _known(entries, pair, on, "adjusters")


def setting(entries: Entries) -> Iterator[Problem]:
    """The steps, checks, outcomes, remedies, adjusters and features that a step of setting names."""
    for step in entries.all("setting"):
        for key, kind in (("needs", "setting"), ("disturbs", "setting"), ("cautions", "cautions")):
            yield from _all_known(entries, step, strings(step.node, key), kind)
        for key in FITS:
            yield from _all_known(entries, step, strings(step.node, key), "fittings")
        yield from _known(entries, step, text(step.node, "state"), "states")
        yield from _known(entries, step, text(step.node, "adjuster"), "adjusters")
        yield from _known(entries, step, text(step.node, "pair"), "pairs")
        yield from _condition(entries, step, table(step.node, "only_if"))
        for check, does in pairs(table(step.node, "accepts")):
            yield from _known(entries, step, check, "checks")
            for outcome, remedy in pairs(does) if isinstance(does, MappingNode) else ():
                yield from _outcome(step, outcome, entries.of("checks").get(check.value), abnormal=True)
                yield from _known(entries, step, remedy if isinstance(remedy, ScalarNode) else None, "remedies")
        yield from _outcomes_by_check(entries, step, table(step.node, "fine"))
        yield from _all_known(entries, step, [check for check, _ in pairs(table(step.node, "near"))], "checks")
        for check, shown in pairs(table(step.node, "no_response")):
            yield from _known(entries, step, check, "checks")
            if isinstance(shown, ScalarNode):
                yield from _outcome(step, shown, entries.of("checks").get(check.value), abnormal=True)
    for page, top in entries.tops["setting"]:
        here = Entry("setting", page.file, ScalarNode("", 1, 1), top)
        yield from _strength(entries, here, text(table(top, "rules"), "suspected_from"))


def family(entries: Entries) -> Iterator[Problem]:
    """The features, and their values, over which the sets of the family are shared out."""
    for share in entries.all("shares"):
        for key, _ in pairs(table(share.node, "of")):
            yield from _feature(entries, share, share.key, [key])


def drawings(entries: Entries) -> Iterator[Problem]:
    """The checks and remedies that a drawing is shown with."""
    for drawing in entries.all("drawings"):
        yield from _all_known(entries, drawing, strings(drawing.node, "of"), "checks", "remedies")


def tools(entries: Entries) -> Iterator[Problem]:
    """The states that a tool is needed for, and the tools that checks and remedies name, where there is a list."""
    for tool in entries.all("tools"):
        yield from _all_known(entries, tool, strings(tool.node, "states"), "states")
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
                    yield step.problem("K039", what, close_to(one, named, "add it to tools.yaml"), written)


def alternatives(written: str, known: Collection[str]) -> tuple[str, ...]:
    """The tools of which one is enough, in small letters: "frequency meter or tachometer" is two of them, unless that
    whole is the name of one."""
    whole = " ".join(written.lower().split())
    return (whole,) if whole in known else tuple(part.strip() for part in whole.split(" or "))


def phrases(entries: Entries) -> Iterator[Problem]:
    """The complaints that a phrase means."""
    for phrase in entries.all("phrases"):
        yield from _all_known(entries, phrase, strings(phrase.node, "means"), "complaints")


def cases(entries: Entries) -> Iterator[Problem]:
    """Everything a solved case names, and whether its answers can be understood."""
    for case in entries.all("cases"):
        for key, given in pairs(table(case.node, "set")):
            yield from _feature(entries, case, key, [given] if isinstance(given, ScalarNode) else [])
        for fact in nodes(case.node, "facts"):
            yield from _fact(entries, case, fact)
        expect = table(case.node, "expect")
        for name in (*strings(case.node, "truth"), *strings(expect, "leading")):
            yield from _known(entries, case, name, "causes")
        yield from _all_known(entries, case, strings(expect, "next_step"), "checks", "remedies")


def sources(entries: Entries) -> Iterator[Problem]:
    """The published sources that any item names."""
    costs_too = [Entry("states", page.file, ScalarNode("", 1, 1), top) for page, top in entries.tops["states"]]
    for entry in (*entries.all(), *costs_too):
        for source in nodes(entry.node, "sources"):
            yield from _known(entries, entry, text(source, "source"), "sources")


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
                    advice = close_to(area.value, known, _among(known))
                what = f"no area {quoted(area.value)} here"
                yield Problem.of("K038", page.file, area.line, area.column, what, advice)


def retired(entries: Entries) -> Iterator[Problem]:
    """What stands in for a retired item is there, of the same kind, and in use."""
    for entry in entries.all("causes", "checks", "remedies", "complaints", "setting"):
        other = text(table(entry.node, "retired"), "replaced_by")
        if other is None or entry.kind in entries.broken:
            continue
        known = [one.id for one in entries.all(entry.kind) if not is_retired(one)]
        if other.value not in known:
            what = f"{quoted(other.value)} is no {SINGULAR[entry.kind]} in use"
            yield entry.problem("K035", what, close_to(other.value, known), other)


# ---- the kinds of reference --------------------------------------------------------------------------------------


def is_retired(entry: Entry) -> bool:
    """Whether an item is no longer used."""
    return "retired" in entry.node.values


def used(entries: Entries, kind: str) -> list[Entry]:
    """The entries of a kind that are not retired."""
    return [entry for entry in entries.all(kind) if not is_retired(entry)]


def band_outcomes(bands: Node | None) -> list[ScalarNode]:
    """The outcomes that a list of bands names, one or several in each band."""
    found: list[ScalarNode] = []
    for band in bands.items if isinstance(bands, SequenceNode) else ():
        one = text(band, "outcome")
        found.extend([one] if one is not None else strings(band, "outcome"))
    return found


def close_to(written: str, known: Collection[str], otherwise: str = "") -> str:
    """A help that names what was meant, or `otherwise`; also where there are too many to compare with."""
    return nearest(written, known, otherwise) if len(known) <= _MOST_NAMES else otherwise


def _among(names: Collection[str]) -> str:
    return f"one of: {', '.join(names)}" if 0 < len(names) <= 12 else ""


def _known(entries: Entries, entry: Entry, name: ScalarNode | None, *kinds: str) -> Iterator[Problem]:
    if name is None or not name.value:
        return
    for kind in kinds:
        found = entries.of(kind).get(name.value)
        if found is None:
            continue
        if is_retired(found) and not is_retired(entry):
            instead = value(table(found.node, "retired"), "replaced_by")
            what = f"the {SINGULAR[kind]} {quoted(name.value)} is retired"
            yield entry.problem("K036", what, f"use {instead}" if instead else "", name)
        return
    if not entries.broken & set(kinds):
        what = f"no {' or '.join(SINGULAR[kind] for kind in kinds)} named {quoted(name.value)}"
        known = [one for kind in kinds for one in entries.of(kind)]
        yield entry.problem("K031", what, close_to(name.value, known, _among(known)), name)


def _all_known(entries: Entries, entry: Entry, names: Iterable[ScalarNode], *kinds: str) -> Iterator[Problem]:
    for name in names:
        yield from _known(entries, entry, name, *kinds)


def _outcome(entry: Entry, outcome: ScalarNode, check: Entry | None, abnormal: bool = False) -> Iterator[Problem]:
    known = list(table(check.node, "outcomes").values) if check is not None else []
    if check is None or not known:
        return
    if outcome.value not in known:
        what = f"{quoted(check.id)} has no outcome {quoted(outcome.value)}"
        wanted = known[1:] if abnormal else known
        yield entry.problem("K032", what, close_to(outcome.value, wanted, _among(wanted)), outcome)
    elif abnormal and outcome.value == known[0]:
        what = f"{quoted(outcome.value)} is the normal outcome of {quoted(check.id)}"
        yield entry.problem("K032", what, "leave it out: what the others leave over of 1 shows it", outcome)


def _strength(entries: Entries, entry: Entry, strength: Node | None) -> Iterator[Problem]:
    if not isinstance(strength, ScalarNode) or not strength.value or "words" in entries.broken:
        return
    if strength.value not in entries.of("words") and number_in(strength.value) is None:
        known = entries.of("words")
        what = f"no word {quoted(strength.value)} in words.yaml"
        yield entry.problem("K033", what, close_to(strength.value, known, _among(known)), strength)


def _condition(entries: Entries, entry: Entry, condition: MappingNode) -> Iterator[Problem]:
    for key, wanted in pairs(condition):
        if isinstance(wanted, MappingNode):
            feature = entries.of("features").get(key.value)
            if feature is not None and value(feature.node, "kind") == "choice":
                yield entry.problem("K034", f"the feature {quoted(key.value)} is a choice, not a number", "", key)
        given = wanted.items if isinstance(wanted, SequenceNode) else (wanted,)
        yield from _feature(entries, entry, key, [one for one in given if isinstance(one, ScalarNode)])


def _feature(entries: Entries, entry: Entry, key: ScalarNode, given: Iterable[ScalarNode]) -> Iterator[Problem]:
    if "features" in entries.broken:
        return
    feature = entries.of("features").get(key.value)
    if feature is None:
        known = entries.of("features")
        advice = close_to(key.value, known, f"one of: {', '.join(known)}")
        yield entry.problem("K034", f"no feature named {quoted(key.value)}", advice, key)
        return
    for one in given:
        fault, advice = feature_fault(feature, one.value)
        if fault:
            what = f"the feature {quoted(key.value)} cannot be {quoted(one.value)}: {fault}"
            yield entry.problem("K034", what, advice, one)


def feature_fault(feature: Entry, written: str) -> tuple[str, str]:
    """Why a feature cannot have a value, and a help; both empty where it can."""
    choices = [item.value for item in strings(feature.node, "choices")]
    if value(feature.node, "kind") == "number":
        found = number_in(written)
        if found is None:
            return "not a number", ""
        if choices and found not in [number_in(choice) for choice in choices]:
            return "not one of its choices", f"one of: {', '.join(choices)}"
        limits = [number_in(item.value) for item in strings(feature.node, "range")]
        if len(limits) == 2 and limits[0] is not None and limits[1] is not None and not limits[0] <= found <= limits[1]:
            return f"not between {limits[0]:g} and {limits[1]:g}", ""
    elif choices and written not in choices:
        return "not one of its choices", close_to(written, choices, f"one of: {', '.join(choices)}")
    return "", ""


def _fact(entries: Entries, case: Entry, fact: Node) -> Iterator[Problem]:
    about = [(kind, text(fact, SINGULAR[kind])) for kind in ("complaints", "checks", "remedies")]
    named = [(kind, name) for kind, name in about if name is not None]
    if not isinstance(fact, MappingNode):
        return
    if len(named) != 1:
        yield case.problem("K037", "a fact names one complaint, one check or one remedy", "", fact)
        return
    kind, name = named[0]
    yield from _known(entries, case, name, kind)
    wanted = "result" if kind == "remedies" else "answer"
    answer = text(fact, wanted)
    if answer is None or len(fact.values) != 2:
        yield case.problem("K037", f"a fact about a {SINGULAR[kind]} has one more key, {quoted(wanted)}", "", name)
    elif kind == "complaints" and answer.value not in COMPLAINT_ANSWERS:
        advice = close_to(answer.value, COMPLAINT_ANSWERS, _among(COMPLAINT_ANSWERS))
        yield case.problem("K037", f"{quoted(answer.value)} is no answer to a complaint", advice, answer)
    elif kind == "checks" and name.value in entries.of("checks"):
        yield from _answer(case, entries.of("checks")[name.value], answer)


def _answer(case: Entry, check: Entry, answer: ScalarNode) -> Iterator[Problem]:
    outcomes = list(table(check.node, "outcomes").values)
    if answer.value in outcomes or answer.value == UNKNOWN:
        return
    reading = table(check.node, "reading")
    unit, several = value(reading, "unit"), bool(value(reading, "per"))
    what = f"{quoted(answer.value)} is no answer to {quoted(check.id)}"
    if not unit or not _READING.fullmatch(answer.value):
        wanted = [*outcomes, f"a number of {unit}"] if unit else outcomes
        yield case.problem("K037", what, close_to(answer.value, outcomes, _among(wanted)), answer)
        return
    values = _VALUE.findall(answer.value)
    if not {found for _, found in values} <= {"", unit} or values[-1][1] != unit:
        yield case.problem("K037", what, f"give the unit, {unit}", answer)
        return
    if len(values) > 1 and not several:
        yield case.problem("K037", what, "one number and its unit", answer)
        return
    lowest, highest = ([number_in(item.value) for item in strings(reading, "range")] + [None, None])[:2]
    if lowest is None or highest is None or lowest > highest:
        return
    if not all(lowest <= float(one) <= highest for one, _ in values):
        yield case.problem("K037", what, f"readings from {lowest:g} to {highest:g} {unit} make sense", answer)


_VALUE = re.compile(r"([-+]?[0-9]+(?:\.[0-9]+)?) ?([A-Za-z]*)")
_READING = re.compile(rf"{_VALUE.pattern}(?:[,;/ ] ?{_VALUE.pattern})*")
