"""A reference: one name, outcome, strength, condition, feature or answer, held against what there is.

Purpose: one function for each kind of thing that can be named; each yields what is wrong with it.
Law: a name that is missing because its file could not be read is not reported again; nothing near is looked for among
names without end.
Not here: which items refer to what (see `names`).
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator

from ..problems import Problem, quoted
from ..problems import close_to as nearest
from .entries import SINGULAR, Entries, Entry, number_in, pairs, strings, table, text, value
from .source import MappingNode, Node, ScalarNode, SequenceNode
from .units import unit_factor

COMPLAINT_ANSWERS = ("present", "absent", "unknown")
UNKNOWN = "unknown"
_MOST_NAMES = 1000  # among more of them nothing near is looked for: each look would take a second


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


def among(names: Collection[str]) -> str:
    return f"one of: {', '.join(names)}" if 0 < len(names) <= 12 else ""


def of_name(entries: Entries, entry: Entry, name: ScalarNode | None, *kinds: str) -> Iterator[Problem]:
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
        yield entry.problem("K031", what, close_to(name.value, known, among(known)), name)


def of_names(entries: Entries, entry: Entry, names: Iterable[ScalarNode], *kinds: str) -> Iterator[Problem]:
    for name in names:
        yield from of_name(entries, entry, name, *kinds)


def of_outcome(entry: Entry, outcome: ScalarNode, check: Entry | None, abnormal: bool = False) -> Iterator[Problem]:
    known = list(table(check.node, "outcomes").values) if check is not None else []
    if check is None or not known:
        return
    if outcome.value not in known:
        what = f"{quoted(check.id)} has no outcome {quoted(outcome.value)}"
        wanted = known[1:] if abnormal else known
        yield entry.problem("K032", what, close_to(outcome.value, wanted, among(wanted)), outcome)
    elif abnormal and outcome.value == known[0]:
        what = f"{quoted(outcome.value)} is the normal outcome of {quoted(check.id)}"
        yield entry.problem("K032", what, "leave it out: what the others leave over of 1 shows it", outcome)


def of_strength(entries: Entries, entry: Entry, strength: Node | None) -> Iterator[Problem]:
    if not isinstance(strength, ScalarNode) or not strength.value or "words" in entries.broken:
        return
    if strength.value not in entries.of("words") and number_in(strength.value) is None:
        known = entries.of("words")
        what = f"no word {quoted(strength.value)} in words.yaml"
        yield entry.problem("K033", what, close_to(strength.value, known, among(known)), strength)


def of_condition(entries: Entries, entry: Entry, condition: MappingNode) -> Iterator[Problem]:
    for key, wanted in pairs(condition):
        if isinstance(wanted, MappingNode):
            feature = entries.of("features").get(key.value)
            if feature is not None and value(feature.node, "kind") == "choice":
                yield entry.problem("K034", f"the feature {quoted(key.value)} is a choice, not a number", "", key)
        given = wanted.items if isinstance(wanted, SequenceNode) else (wanted,)
        yield from of_feature(entries, entry, key, [one for one in given if isinstance(one, ScalarNode)])


def of_feature(entries: Entries, entry: Entry, key: ScalarNode, given: Iterable[ScalarNode]) -> Iterator[Problem]:
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


def of_fact(entries: Entries, case: Entry, fact: Node) -> Iterator[Problem]:
    about = [(kind, text(fact, SINGULAR[kind])) for kind in ("complaints", "checks", "remedies")]
    named = [(kind, name) for kind, name in about if name is not None]
    if not isinstance(fact, MappingNode):
        return
    if len(named) != 1:
        yield case.problem("K037", "a fact names one complaint, one check or one remedy", "", fact)
        return
    kind, name = named[0]
    yield from of_name(entries, case, name, kind)
    wanted = "result" if kind == "remedies" else "answer"
    answer = text(fact, wanted)
    if answer is None or len(fact.values) != 2:
        yield case.problem("K037", f"a fact about a {SINGULAR[kind]} has one more key, {quoted(wanted)}", "", name)
    elif kind == "complaints" and answer.value not in COMPLAINT_ANSWERS:
        advice = close_to(answer.value, COMPLAINT_ANSWERS, among(COMPLAINT_ANSWERS))
        yield case.problem("K037", f"{quoted(answer.value)} is no answer to a complaint", advice, answer)
    elif kind == "checks" and name.value in entries.of("checks"):
        yield from of_answer(entries, case, entries.of("checks")[name.value], answer)


def _poles(entries: Entries, case: Entry) -> float:
    """Of the generator of a case, for a speed in rpm; as the feature is where the case does not say."""
    feature = entries.of("features").get("poles")
    given = value(table(case.node, "set"), "poles") or (value(feature.node, "default") if feature is not None else "")
    return number_in(given) or 4.0


def of_answer(entries: Entries, case: Entry, check: Entry, answer: ScalarNode) -> Iterator[Problem]:
    outcomes = list(table(check.node, "outcomes").values)
    if answer.value in outcomes or answer.value == UNKNOWN:
        return
    reading = table(check.node, "reading")
    unit, several = value(reading, "unit"), bool(value(reading, "per"))
    what = f"{quoted(answer.value)} is no answer to {quoted(check.id)}"
    if not unit or not _READING.fullmatch(answer.value):
        wanted = [*outcomes, f"a number of {unit}"] if unit else outcomes
        yield case.problem("K037", what, close_to(answer.value, outcomes, among(wanted)), answer)
        return
    values = _VALUE.findall(answer.value)
    spelled = values[-1][1]
    factor = unit_factor(unit, spelled, _poles(entries, case)) if spelled else None
    if not {found for _, found in values} <= {"", spelled} or factor is None:
        yield case.problem("K037", what, f"give the unit, {unit}", answer)
        return
    if len(values) > 1 and not several:
        yield case.problem("K037", what, "one number and its unit", answer)
        return
    lowest, highest = ([number_in(item.value) for item in strings(reading, "range")] + [None, None])[:2]
    if lowest is None or highest is None or lowest > highest:
        return
    if not all(lowest <= float(one) * factor <= highest for one, _ in values):
        yield case.problem("K037", what, f"readings from {lowest:g} to {highest:g} {unit} make sense", answer)


_VALUE = re.compile(r"([-+]?[0-9]+(?:\.[0-9]+)?) ?([A-Za-z]*)")
_READING = re.compile(rf"{_VALUE.pattern}(?:[,;/ ] ?{_VALUE.pattern})*")
