"""The catalogue: everything the knowledge base says, as frozen values.

Purpose: build, from trees that have been checked, the values that all reasoning uses. Words become numbers, strengths
become tuples as long as the outcomes of their check, and what is said once (a cause's `shows`, a remedy's `cures`)
is also found from the other side (`Check.parents`, `Cause.remedies`).
Law: built only where no error was found, so it never meets a wrong shape; everything is in the order written.
Not checked here: anything (see `source`, `schema`, `names`, `rules`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from . import drawing, model, setting_step, unit, work_builder
from .catalogue import Catalogue
from .entries import Entries, Entry, listed_names, nodes, number, number_in, pairs, table, value, yes
from .parts import Parts, fits, frozen, lines, prose
from .source import MappingNode, ScalarNode
from .typed import typed_of


def build(entries: Entries, fingerprint: str) -> Catalogue:
    """The catalogue of items in which no error was found. AssertionError where one was after all."""
    parts = Parts(entries)
    checks = {entry.id: check_of(parts, entry) for entry in entries.all("checks")}
    remedies = {entry.id: remedy_of(parts, entry) for entry in entries.all("remedies")}
    causes = {entry.id: cause_of(parts, entry, checks, remedies) for entry in entries.all("causes")}
    for name, check in checks.items():
        parents = tuple(cause.id for cause in causes.values() if name in cause.shows)
        checks[name] = replace(check, parents=parents)
    return Catalogue(
        causes=frozen(causes),
        checks=frozen(checks),
        complaints=frozen({entry.id: complaint_of(parts, entry) for entry in entries.all("complaints")}),
        remedies=frozen(remedies),
        cautions=frozen({entry.id: work_builder.caution_of(parts, entry) for entry in entries.all("cautions")}),
        fittings=frozen({entry.id: work_builder.fitting_of(parts, entry) for entry in entries.all("fittings")}),
        closing=frozen({entry.id: work_builder.closing_point_of(parts, entry) for entry in entries.all("closing")}),
        states=frozen({entry.id: work_builder.state_of(parts, entry) for entry in entries.all("states")}),
        costs=work_builder.costs_of(parts, entries.tops["states"][0][1]),
        order=frozen({entry.id: work_builder.rule_of(parts, entry) for entry in entries.all("order")}),
        from_the_top=frozen({entry.id: work_builder.stage_of(parts, entry) for entry in entries.all("from_the_top")}),
        tolerances=frozen({entry.id: work_builder.tolerance_of(parts, entry) for entry in entries.all("tolerances")}),
        danger=frozen({entry.id: work_builder.danger_of(parts, entry) for entry in entries.all("danger")}),
        adjusters=frozen({entry.id: work_builder.adjuster_of(parts, entry) for entry in entries.all("adjusters")}),
        pairs=frozen({entry.id: work_builder.pair_of(parts, entry) for entry in entries.all("pairs")}),
        drawings=frozen({entry.id: drawing.built(parts, entry) for entry in entries.all("drawings")}),
        units=frozen({entry.id: unit.unit_of(parts, entry) for entry in entries.all("units")}),
        setting=frozen({entry.id: setting_step.step_of(parts, entry) for entry in entries.all("setting")}),
        setting_rules=setting_step.rules_of(parts, entries.tops["setting"][0][1])
        if entries.tops["setting"]
        else setting_step.SettingRules(),
        spreads=frozen({entry.id: work_builder.spread_of(parts, entry) for entry in entries.all("spreads")}),
        shares=frozen({entry.id: work_builder.share_of(parts, entry) for entry in entries.all("shares")}),
        made_up=frozen({entry.id: work_builder.share_of(parts, entry) for entry in entries.all("made_up")}),
        combinations=frozen(
            {entry.id: work_builder.combination_of(parts, entry) for entry in entries.all("combinations")}
        ),
        slips=frozen({entry.id: work_builder.slip_of(parts, entry) for entry in entries.all("slips")}),
        features=frozen({entry.id: feature_of(parts, entry) for entry in entries.all("features")}),
        words=frozen({entry.id: word_of(parts, entry) for entry in entries.all("words")}),
        cases=frozen({entry.id: case_of(parts, entry) for entry in entries.all("cases")}),
        same_words=frozen(
            {
                key.value: listed_names(under, key.value)
                for _, top in entries.tops["complaints"]
                if (under := table(top, "same_words")) is not None
                for key, _ in pairs(under)
            }
        ),
        tools=frozen({entry.id: work_builder.tool_of(parts, entry) for entry in entries.all("tools")}),
        phrases=frozen({entry.id: phrase_of(parts, entry) for entry in entries.all("phrases")}),
        typed=typed_of(tuple(top for _, top in entries.tops["phrases"])),
        sources=frozen(dict(parts.sources_known)),
        areas=frozen({value(top, "area"): value(top, "title") for _, top in entries.tops["area"]}),
        fingerprint=fingerprint,
    )


def word_of(parts: Parts, entry: Entry) -> model.Word:
    node = entry.node
    return model.Word(
        entry.id, number(node.values.get("value")) or 0.0, prose(value(node, "brief")), parts.sources(node)
    )


def feature_of(parts: Parts, entry: Entry) -> model.Feature:
    node = entry.node
    kind, written, choices = value(node, "kind"), value(node, "default"), listed_names(node, "choices")
    limits = [number_in(item) or 0.0 for item in listed_names(node, "range")]
    if kind == "number" and not limits:
        limits = sorted(number_in(choice) or 0.0 for choice in choices)
    return model.Feature(
        entry.id,
        prose(value(node, "title")),
        prose(value(node, "brief")),
        prose(value(node, "ask")),
        kind,
        written if kind == "choice" else number_in(written) or 0.0,
        choices,
        value(node, "unit"),
        limits[0] if limits else 0.0,
        limits[-1] if limits else 0.0,
        parts.place(entry),
    )


def check_of(parts: Parts, entry: Entry) -> model.Check:
    node = entry.node
    outcomes = tuple(
        model.Outcome(key.value, prose(brief.value))
        for key, brief in pairs(table(node, "outcomes"))
        if isinstance(brief, ScalarNode)
    )
    minus = listed_names(table(node, "derived"), "minus")
    return model.Check(
        id=entry.id,
        title=prose(value(node, "title")),
        kind=value(node, "kind"),
        area=entry.area,
        state=value(node, "state"),
        minutes=number(node.values.get("minutes")) or 0.0,
        ask=prose(value(node, "ask")),
        outcomes=outcomes,
        leak=parts.row(table(node, "leak"), tuple(outcome.id for outcome in outcomes)),
        how=tuple(prose(line) for line in listed_names(node, "how")),
        tools=listed_names(node, "tools"),
        reading=parts.reading(node),
        group=value(node, "group"),
        derived_from=(minus[0], minus[1]) if minus else None,
        only_if=parts.condition(node.values.get("only_if")),
        cautions=listed_names(node, "cautions"),
        dangerous=yes(node, "dangerous"),
        does_not_prove=prose(value(node, "does_not_prove")),
        sources=parts.sources(node),
        experimental=parts.experimental(node),
        retired=parts.retired(node),
        place=parts.place(entry),
        fits=fits(node),
        outcome_only_if=frozen(
            {key.value: parts.condition(under) for key, under in pairs(table(node, "outcome_only_if"))}
        ),
        mend=frozen({key.value: value(table(node, "mend"), key.value) for key, _ in pairs(table(node, "mend"))}),
        only_while=parts.by_check(table(node, "only_while")),
        said=parts.by_check(table(node, "said")),
        measured_by=value(node, "measured_by"),
    )


def cause_of(
    parts: Parts, entry: Entry, checks: Mapping[str, model.Check], remedies: Mapping[str, model.Remedy]
) -> model.Cause:
    node = entry.node
    shows: dict[str, tuple[float, ...]] = {}
    words: dict[str, Mapping[str, str]] = {}
    for key, row in pairs(table(node, "shows")):
        assert isinstance(row, MappingNode)
        shows[key.value] = parts.row(row, tuple(outcome.id for outcome in checks[key.value].outcomes))
        words[key.value] = frozen({name.value: value(row, name.value) for name, _ in pairs(row)})
    return model.Cause(
        id=entry.id,
        title=prose(value(node, "title")),
        area=entry.area,
        part=value(node, "part") or entry.id,
        how_common=parts.strength(node.values.get("how_common")),
        brief=prose(value(node, "brief")),
        note=lines(value(node, "note")),
        when=tuple(
            (parts.condition(item.values.get("if")), parts.strength(item.values.get("how_common")))
            for item in nodes(node, "when")
            if isinstance(item, MappingNode)
        ),
        only_if=parts.condition(node.values.get("only_if")),
        fault=yes(node, "fault", True),
        shows=frozen(shows),
        words=frozen(words),
        unaffected=listed_names(node, "unaffected"),
        remedies=tuple(name for name, remedy in remedies.items() if entry.id in remedy.cures),
        sources=parts.sources(node),
        experimental=parts.experimental(node),
        retired=parts.retired(node),
        place=parts.place(entry),
    )


def remedy_of(parts: Parts, entry: Entry) -> model.Remedy:
    node = entry.node
    return model.Remedy(
        id=entry.id,
        title=prose(value(node, "title")),
        area=entry.area,
        brief=prose(value(node, "brief")),
        state=value(node, "state"),
        minutes=number(node.values.get("minutes")) or 0.0,
        cures=frozen({key.value: parts.strength(chance) for key, chance in pairs(table(node, "cures"))}),
        steps=tuple(prose(step) for step in listed_names(node, "steps")),
        tools=listed_names(node, "tools"),
        cautions=listed_names(node, "cautions"),
        dangerous=yes(node, "dangerous"),
        proof=listed_names(node, "proof"),
        then=listed_names(node, "then"),
        sources=parts.sources(node),
        experimental=parts.experimental(node),
        retired=parts.retired(node),
        place=parts.place(entry),
        fits=fits(node),
        under_load=tuple(int(place) for place in listed_names(node, "under_load")),
        light_load=tuple(int(place) for place in listed_names(node, "light_load")),
        runs_from=int(value(node, "runs_from") or 0),
        without_load=prose(value(node, "without_load")),
        where=prose(value(node, "where")),
        start=prose(value(node, "start")),
        only_if=parts.condition(node.values.get("only_if")),
    )


def complaint_of(parts: Parts, entry: Entry) -> model.Complaint:
    node = entry.node
    says = table(node, "says")
    return model.Complaint(
        id=entry.id,
        title=prose(value(node, "title")),
        brief=prose(value(node, "brief")),
        mode=value(node, "mode"),
        says=frozen({key.value: listed_names(says, key.value) for key, _ in pairs(says)}),
        true_when_said=parts.strength(node.values.get("true_when_said")),
        said_when_not=parts.strength(node.values.get("said_when_not")),
        comes_and_goes=parts.strength(node.values["comes_and_goes"]) if "comes_and_goes" in node.values else 0.0,
        gone_when=prose(value(node, "gone_when")),
        synonyms=listed_names(node, "synonyms"),
        excludes=listed_names(node, "excludes"),
        stop_first=yes(node, "stop_first"),
        cautions=listed_names(node, "cautions"),
        sources=parts.sources(node),
        retired=parts.retired(node),
        place=parts.place(entry),
    )


def phrase_of(parts: Parts, entry: Entry) -> model.Phrase:
    return model.Phrase(
        entry.id, prose(value(entry.node, "said")), listed_names(entry.node, "means"), parts.place(entry)
    )


def case_of(parts: Parts, entry: Entry) -> model.Case:
    node = entry.node
    expect = table(node, "expect")
    facts = [
        frozen({key.value: value(fact, key.value) for key, _ in pairs(fact)})
        for fact in nodes(node, "facts")
        if isinstance(fact, MappingNode)
    ]
    given = table(node, "set")
    return model.Case(
        id=entry.id,
        title=prose(value(node, "title")),
        area=entry.area,
        set=frozen({key.value: value(given, key.value) for key, _ in pairs(given)}),
        facts=tuple(facts),
        truth=listed_names(node, "truth"),
        leading=listed_names(expect, "leading"),
        at_least=number(expect.values.get("at_least")) or 0.0,
        within_first=int(number(expect.values.get("within_first")) or 1),
        sources=parts.sources(node),
        next_step=listed_names(expect, "next_step"),
        not_leading=listed_names(expect, "not_leading"),
        beside=value(node, "beside"),
        place=parts.place(entry),
    )
