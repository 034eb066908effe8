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
from math import fsum
from types import MappingProxyType
from typing import TypeVar

from . import model
from .catalogue import Catalogue
from .entries import Entries, Entry, listed_names, nodes, number, number_in, pairs, table, text, value, yes
from .source import MappingNode, Node, ScalarNode, SequenceNode

T = TypeVar("T")


def build(entries: Entries, fingerprint: str) -> Catalogue:
    """The catalogue of items in which no error was found. AssertionError where one was after all."""
    return _Builder(entries).build(fingerprint)


def _frozen(found: dict[str, T]) -> Mapping[str, T]:
    return MappingProxyType(found)


class _Builder:
    """Builds the values. Everything it meets has been checked."""

    def __init__(self, entries: Entries) -> None:
        self.entries = entries
        self.sources_known = {
            entry.id: model.Source("published", value(entry.node, "title"), value(entry.node, "number"))
            for entry in entries.all("sources")
        }

    def build(self, fingerprint: str) -> Catalogue:
        entries = self.entries
        checks = {entry.id: self.check(entry) for entry in entries.all("checks")}
        remedies = {entry.id: self.remedy(entry) for entry in entries.all("remedies")}
        causes = {entry.id: self.cause(entry, checks, remedies) for entry in entries.all("causes")}
        for name, check in checks.items():
            parents = tuple(cause.id for cause in causes.values() if name in cause.shows)
            checks[name] = replace(check, parents=parents)
        return Catalogue(
            causes=_frozen(causes),
            checks=_frozen(checks),
            complaints=_frozen({entry.id: self.complaint(entry) for entry in entries.all("complaints")}),
            remedies=_frozen(remedies),
            cautions=_frozen({entry.id: self.caution(entry) for entry in entries.all("cautions")}),
            fittings=_frozen({entry.id: self.fitting(entry) for entry in entries.all("fittings")}),
            states=_frozen({entry.id: self.state(entry) for entry in entries.all("states")}),
            costs=self.costs(entries.tops["states"][0][1]),
            order=_frozen({entry.id: self.rule(entry) for entry in entries.all("order")}),
            from_the_top=_frozen({entry.id: self.stage(entry) for entry in entries.all("from_the_top")}),
            tolerances=_frozen({entry.id: self.tolerance(entry) for entry in entries.all("tolerances")}),
            danger=_frozen({entry.id: self.danger(entry) for entry in entries.all("danger")}),
            adjusters=_frozen({entry.id: self.adjuster(entry) for entry in entries.all("adjusters")}),
            pairs=_frozen({entry.id: self.pair(entry) for entry in entries.all("pairs")}),
            features=_frozen({entry.id: self.feature(entry) for entry in entries.all("features")}),
            words=_frozen({entry.id: self.word(entry) for entry in entries.all("words")}),
            cases=_frozen({entry.id: self.case(entry) for entry in entries.all("cases")}),
            sources=_frozen(dict(self.sources_known)),
            areas=_frozen({value(top, "area"): value(top, "title") for _, top in entries.tops["area"]}),
            fingerprint=fingerprint,
        )

    # ---- parts that several kinds share

    def strength(self, node: Node | None) -> float:
        found = self.entries.strength(node.value) if isinstance(node, ScalarNode) else None
        assert found is not None, "checked before"
        return found

    def place(self, entry: Entry) -> model.Place:
        return model.Place(entry.file, entry.key.line, entry.key.column)

    def sources(self, node: MappingNode) -> tuple[model.Source, ...]:
        found: list[model.Source] = []
        for item in nodes(node, "sources"):
            if isinstance(item, ScalarNode):
                found.append(model.Source(item.value))
            else:
                known = self.sources_known[value(item, "source")]
                found.append(replace(known, section=value(item, "section")))
        return tuple(found)

    def retired(self, node: MappingNode) -> model.Retired | None:
        if "retired" not in node.values:
            return None
        under = table(node, "retired")
        return model.Retired(value(under, "since"), prose(value(under, "reason")), value(under, "replaced_by"))

    def condition(self, node: Node | None) -> model.Condition:
        if not isinstance(node, MappingNode):
            return model.ALWAYS
        tests: list[model.Comparison] = []
        for key, wanted in pairs(node):
            if isinstance(wanted, ScalarNode):
                tests.append(model.Comparison(key.value, (wanted.value,)))
            elif isinstance(wanted, SequenceNode):
                tests.append(model.Comparison(key.value, listed_names(node, key.value)))
            else:
                at_least, below = number(wanted.values.get("at_least")), number(wanted.values.get("below"))
                tests.append(model.Comparison(key.value, (), at_least, below))
        return model.Condition(tuple(tests))

    # ---- one kind each

    def word(self, entry: Entry) -> model.Word:
        node = entry.node
        return model.Word(
            entry.id, number(node.values.get("value")) or 0.0, prose(value(node, "brief")), self.sources(node)
        )

    def feature(self, entry: Entry) -> model.Feature:
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
            self.place(entry),
        )

    def caution(self, entry: Entry) -> model.Caution:
        node = entry.node
        return model.Caution(
            entry.id, prose(value(node, "title")), lines(value(node, "text")), self.sources(node), self.place(entry)
        )

    def fitting(self, entry: Entry) -> model.Fitting:
        node = entry.node
        return model.Fitting(
            entry.id,
            prose(value(node, "title")),
            prose(value(node, "question")),
            value(node, "state"),
            number(node.values.get("minutes")) or 0.0,
            listed_names(node, "cautions"),
            self.sources(node),
            self.place(entry),
        )

    def state(self, entry: Entry) -> model.SetUpState:
        node = entry.node
        return model.SetUpState(
            entry.id,
            prose(value(node, "title")),
            prose(value(node, "brief")),
            yes(node, "dangerous"),
            listed_names(node, "cautions"),
            self.place(entry),
        )

    def costs(self, top: MappingNode) -> model.Costs:
        moves = {
            (start.value, end.value): number(minutes) or 0.0
            for start, ends in pairs(table(top, "moves"))
            if isinstance(ends, MappingNode)
            for end, minutes in pairs(ends)
        }
        proof = table(top, "proof")
        return model.Costs(
            moves=MappingProxyType(moves),
            start_state=value(top, "start_state"),
            proof=number(proof.values.get("minutes")) or 0.0,
            proof_state=value(proof, "state"),
            proof_checks=listed_names(proof, "checks"),
            proof_needed=listed_names(proof, "needed"),
            also_fine=self.by_check(table(proof, "also_fine")),
            proof_shows=self.strength(proof.values.get("shows")),
            proof_false=self.strength(proof.values.get("false_alarm")),
            refer=number(table(top, "refer").values.get("minutes")) or 0.0,
        )

    def rule(self, entry: Entry) -> model.OrderRule:
        node = entry.node
        return model.OrderRule(
            entry.id,
            value(node, "kind"),
            listed_names(node, "before"),
            listed_names(node, "after"),
            prose(value(node, "why")),
            self.sources(node),
            self.place(entry),
        )

    def stage(self, entry: Entry) -> model.Stage:
        do = {key.value: value(table(entry.node, "do"), key.value) for key, _ in pairs(table(entry.node, "do"))}
        return model.Stage(entry.id, _frozen(do), self.sources(entry.node), self.place(entry))

    def tolerance(self, entry: Entry) -> model.Tolerance:
        node = entry.node
        bands = {key.value: self.bands(node.values["bands"], key.value) for key, _ in pairs(table(node, "bands"))}
        limits = {key.value: number(limit) or 0.0 for key, limit in pairs(table(node, "limits"))}
        return model.Tolerance(
            entry.id,
            prose(value(node, "title")),
            lines(value(node, "brief")),
            _frozen(bands),
            _frozen(limits),
            self.sources(node),
            self.place(entry),
        )

    def by_check(self, node: MappingNode) -> Mapping[str, tuple[str, ...]]:
        return _frozen({key.value: listed_names(node, key.value) for key, _ in pairs(node)})

    def danger(self, entry: Entry) -> model.DangerLimit:
        node = entry.node
        readings: dict[str, model.Above] = {}
        for key, under in pairs(table(node, "readings")):
            share = number(under.values.get("share")) if isinstance(under, MappingNode) else None
            readings[key.value] = model.Above(value(under, "above"), yes(under, "or_rated"), share or 1.0)
        return model.DangerLimit(
            entry.id,
            prose(value(node, "title")),
            lines(value(node, "brief")),
            value(node, "of"),
            number(node.values.get("from_percent")) or 0.0,
            listed_names(node, "meters"),
            _frozen(readings),
            self.by_check(table(node, "outcomes")),
            listed_names(node, "cautions"),
            self.sources(node),
            self.place(entry),
        )

    def bands(self, node: Node | None, key: str) -> tuple[model.Band, ...]:
        found: list[model.Band] = []
        for band in nodes(node, key):
            one = text(band, "outcome")
            outcomes = (one.value,) if one is not None else listed_names(band, "outcome")
            low, high = (
                number(band.values.get(end)) if isinstance(band, MappingNode) else None for end in ("from", "below")
            )
            found.append(
                model.Band(outcomes, float("-inf") if low is None else low, float("inf") if high is None else high)
            )
        return tuple(found)

    def reading(self, node: MappingNode) -> model.Reading | None:
        if "reading" not in node.values:
            return None
        under = table(node, "reading")
        lowest, highest = (number_in(limit) or 0.0 for limit in listed_names(under, "range"))
        uneven = None
        if "uneven" in under.values:
            wanted = table(under, "uneven")
            above = number(wanted.values.get("above")) or 0.0
            uneven = model.Uneven(value(wanted, "outcome"), value(wanted, "measure"), above)
        return model.Reading(
            value(under, "unit"),
            lowest,
            highest,
            self.bands(under, "bands"),
            value(under, "per"),
            value(under, "scale"),
            uneven,
        )

    def row(self, node: Node | None, outcomes: tuple[str, ...]) -> tuple[float, ...]:
        """Strengths aligned with outcomes; the normal one gets what is left of 1."""
        assert isinstance(node, MappingNode)
        found = [self.strength(node.values[name]) if name in node.values else 0.0 for name in outcomes[1:]]
        return (max(0.0, 1.0 - fsum(found)), *found)

    def check(self, entry: Entry) -> model.Check:
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
            leak=self.row(table(node, "leak"), tuple(outcome.id for outcome in outcomes)),
            how=tuple(prose(line) for line in listed_names(node, "how")),
            tools=listed_names(node, "tools"),
            reading=self.reading(node),
            group=value(node, "group"),
            derived_from=(minus[0], minus[1]) if minus else None,
            only_if=self.condition(node.values.get("only_if")),
            cautions=listed_names(node, "cautions"),
            dangerous=yes(node, "dangerous"),
            does_not_prove=prose(value(node, "does_not_prove")),
            sources=self.sources(node),
            retired=self.retired(node),
            place=self.place(entry),
            fits=fits(node),
        )

    def cause(
        self, entry: Entry, checks: Mapping[str, model.Check], remedies: Mapping[str, model.Remedy]
    ) -> model.Cause:
        node = entry.node
        shows: dict[str, tuple[float, ...]] = {}
        words: dict[str, Mapping[str, str]] = {}
        for key, row in pairs(table(node, "shows")):
            assert isinstance(row, MappingNode)
            shows[key.value] = self.row(row, tuple(outcome.id for outcome in checks[key.value].outcomes))
            words[key.value] = _frozen({name.value: value(row, name.value) for name, _ in pairs(row)})
        return model.Cause(
            id=entry.id,
            title=prose(value(node, "title")),
            area=entry.area,
            part=value(node, "part") or entry.id,
            how_common=self.strength(node.values.get("how_common")),
            brief=prose(value(node, "brief")),
            note=lines(value(node, "note")),
            when=tuple(
                (self.condition(item.values.get("if")), self.strength(item.values.get("how_common")))
                for item in nodes(node, "when")
                if isinstance(item, MappingNode)
            ),
            only_if=self.condition(node.values.get("only_if")),
            fault=yes(node, "fault", True),
            shows=_frozen(shows),
            words=_frozen(words),
            remedies=tuple(name for name, remedy in remedies.items() if entry.id in remedy.cures),
            sources=self.sources(node),
            retired=self.retired(node),
            place=self.place(entry),
        )

    def remedy(self, entry: Entry) -> model.Remedy:
        node = entry.node
        return model.Remedy(
            id=entry.id,
            title=prose(value(node, "title")),
            area=entry.area,
            brief=prose(value(node, "brief")),
            state=value(node, "state"),
            minutes=number(node.values.get("minutes")) or 0.0,
            cures=_frozen({key.value: self.strength(chance) for key, chance in pairs(table(node, "cures"))}),
            steps=tuple(prose(step) for step in listed_names(node, "steps")),
            tools=listed_names(node, "tools"),
            cautions=listed_names(node, "cautions"),
            dangerous=yes(node, "dangerous"),
            proof=listed_names(node, "proof"),
            then=listed_names(node, "then"),
            sources=self.sources(node),
            retired=self.retired(node),
            place=self.place(entry),
            fits=fits(node),
        )

    def complaint(self, entry: Entry) -> model.Complaint:
        node = entry.node
        says = table(node, "says")
        return model.Complaint(
            id=entry.id,
            title=prose(value(node, "title")),
            brief=prose(value(node, "brief")),
            mode=value(node, "mode"),
            says=_frozen({key.value: listed_names(says, key.value) for key, _ in pairs(says)}),
            true_when_said=self.strength(node.values.get("true_when_said")),
            said_when_not=self.strength(node.values.get("said_when_not")),
            synonyms=listed_names(node, "synonyms"),
            stop_first=yes(node, "stop_first"),
            cautions=listed_names(node, "cautions"),
            sources=self.sources(node),
            retired=self.retired(node),
            place=self.place(entry),
        )

    def adjuster(self, entry: Entry) -> model.Adjuster:
        node = entry.node
        lowest, highest = (number_in(end) or 0.0 for end in listed_names(node, "range"))
        return model.Adjuster(
            id=entry.id,
            title=prose(value(node, "title")),
            brief=prose(value(node, "brief")),
            more=value(node, "more"),
            less=value(node, "less"),
            remedy=value(node, "remedy"),
            finest=number(node.values.get("finest")) or 0.0,
            longest=number(node.values.get("longest")) or 0.0,
            lowest=lowest,
            highest=highest,
            sources=self.sources(node),
            place=self.place(entry),
        )

    def pair(self, entry: Entry) -> model.AdjusterPair:
        node = entry.node
        readings = table(node, "readings")
        ids = tuple(key.value for key, _ in pairs(readings))
        noise, hunts = table(node, "noise"), table(node, "hunts")

        def numbers(under: MappingNode) -> tuple[float, ...]:
            return tuple(number(under.values.get(name)) or 0.0 for name in ids)

        return model.AdjusterPair(
            id=entry.id,
            title=prose(value(node, "title")),
            brief=prose(value(node, "brief")),
            only_if=self.condition(node.values.get("only_if")),
            readings=_frozen(
                {key.value: check.value for key, check in pairs(readings) if isinstance(check, ScalarNode)}
            ),
            swing=value(node, "swing"),
            response=_frozen({
                key.value: model.TurnResponse(
                    number(row.values.get("scale")) or 0.0,
                    numbers(table(row, "per_turn")),
                    numbers(table(row, "scatter")),
                )
                for key, row in pairs(table(node, "response"))
                if isinstance(row, MappingNode)
            }),
            bend=number(node.values.get("bend")) or 0.0,
            noise=(number(noise.values.get("steady")) or 0.0, number(noise.values.get("hunting")) or 0.0),
            target=numbers(table(node, "target")),
            hunts_on=value(hunts, "by"),
            hunts_below=number(hunts.values.get("below")) or 0.0,
            hunts_scatter=number(hunts.values.get("scatter")) or 0.0,
            hunts_width=number(hunts.values.get("width")) or 0.0,
            hunts_at=number(hunts.values.get("at")) or 0.0,
            hunts_per_hertz=number(hunts.values.get("per_hertz")) or 0.0,
            when=tuple(
                model.PairWhen(
                    self.condition(item.values.get("if")),
                    numbers(table(item, "target")) if "target" in item.values else (),
                    number(item.values.get("below")),
                )
                for item in nodes(node, "when")
                if isinstance(item, MappingNode)
            ),
            note=lines(value(node, "note")),
            sources=self.sources(node),
            place=self.place(entry),
        )  # fmt: skip

    def case(self, entry: Entry) -> model.Case:
        node = entry.node
        expect = table(node, "expect")
        facts = [
            _frozen({key.value: value(fact, key.value) for key, _ in pairs(fact)})
            for fact in nodes(node, "facts")
            if isinstance(fact, MappingNode)
        ]
        given = table(node, "set")
        return model.Case(
            id=entry.id,
            title=prose(value(node, "title")),
            area=entry.area,
            set=_frozen({key.value: value(given, key.value) for key, _ in pairs(given)}),
            facts=tuple(facts),
            truth=listed_names(node, "truth"),
            leading=listed_names(expect, "leading"),
            at_least=number(expect.values.get("at_least")) or 0.0,
            within_first=int(number(expect.values.get("within_first")) or 1),
            sources=self.sources(node),
            next_step=listed_names(expect, "next_step"),
            place=self.place(entry),
        )


def fits(node: MappingNode) -> model.Fits:
    """What a step needs on, takes off, puts back and runs without."""
    return model.Fits(*(listed_names(node, key) for key in ("needs_on", "takes_off", "puts_back", "runs_without")))


def prose(written: str) -> str:
    """Text as one line: line ends and runs of blanks become one blank."""
    return " ".join(written.split())


def lines(written: str) -> str:
    """Text with one sentence a line, without blanks at the ends."""
    return "\n".join(line.strip() for line in written.strip().split("\n"))
