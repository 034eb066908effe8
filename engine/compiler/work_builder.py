"""The work around the steps, as frozen values: set-up states, order, cautions, limits, adjusters.

Purpose: items that say how work is done safely and what a set is held to -> values of `model`.
Law: see `builder`: everything met here has been checked; everything is in the order written.
Not checked here: anything.
"""

from __future__ import annotations

from types import MappingProxyType

from . import work_model
from .entries import Entry, listed_names, nodes, number, number_in, pairs, table, value, yes
from .parts import Parts, frozen, lines, prose
from .source import MappingNode, Node, ScalarNode


def caution_of(parts: Parts, entry: Entry) -> work_model.Caution:
    node = entry.node
    return work_model.Caution(
        entry.id,
        prose(value(node, "title")),
        lines(value(node, "text")),
        parts.sources(node),
        prose(value(node, "short")),
        parts.place(entry),
    )


def fitting_of(parts: Parts, entry: Entry) -> work_model.Fitting:
    node = entry.node
    return work_model.Fitting(
        entry.id,
        prose(value(node, "title")),
        prose(value(node, "question")),
        value(node, "state"),
        number(node.values.get("minutes")) or 0.0,
        listed_names(node, "cautions"),
        parts.sources(node),
        parts.place(entry),
        listed_names(node, "looks"),
    )


def closing_point_of(parts: Parts, entry: Entry) -> work_model.ClosingPoint:
    node = entry.node
    return work_model.ClosingPoint(
        entry.id,
        prose(value(node, "title")),
        listed_names(node, "while"),
        listed_names(node, "after"),
        listed_names(node, "fittings"),
        yes(node, "runs"),
        parts.condition(node.values.get("only_if")),
        parts.sources(node),
        parts.place(entry),
    )


def tool_of(parts: Parts, entry: Entry) -> work_model.Tool:
    node = entry.node
    title = prose(value(node, "title"))
    names = (title, *(prose(name) for name in listed_names(node, "also")))
    return work_model.Tool(
        entry.id,
        title,
        tuple(name.lower() for name in names),
        listed_names(node, "states"),
        parts.place(entry),
        listed_names(node, "stands_for"),
        listed_names(node, "goes_with"),
    )


def state_of(parts: Parts, entry: Entry) -> work_model.SetUpState:
    node = entry.node
    return work_model.SetUpState(
        entry.id,
        prose(value(node, "title")),
        prose(value(node, "brief")),
        yes(node, "dangerous"),
        listed_names(node, "cautions"),
        parts.place(entry),
        yes(node, "runs"),
    )


def standing_of(name: str, node: Node) -> work_model.Standing:
    words = tuple(prose(words) for words in listed_names(node, "words"))
    as_found = "as_found" not in node.values or yes(node, "as_found") if isinstance(node, MappingNode) else True
    return work_model.Standing(name, prose(value(node, "title")), value(node, "state"), as_found, words)


def costs_of(parts: Parts, top: MappingNode) -> work_model.Costs:
    moves = {
        (start.value, end.value): number(minutes) or 0.0
        for start, ends in pairs(table(top, "moves"))
        if isinstance(ends, MappingNode)
        for end, minutes in pairs(ends)
    }
    proof, first = table(top, "proof"), table(top, "first_start")
    refer = number(table(top, "refer").values.get("minutes")) or 0.0
    return work_model.Costs(
        moves=MappingProxyType(moves),
        serves=MappingProxyType(
            {name.value: listed_names(table(top, "serves"), name.value) for name, _ in pairs(table(top, "serves"))}
        ),
        start_state=value(top, "start_state"),
        found=MappingProxyType(
            {name.value: standing_of(name.value, node) for name, node in pairs(table(top, "found"))}
        ),
        as_found=listed_names(top, "as_found"),
        proof=number(proof.values.get("minutes")) or 0.0,
        proof_state=value(proof, "state"),
        proof_checks=listed_names(proof, "checks"),
        proof_needed=listed_names(proof, "needed"),
        also_fine=parts.by_check(table(proof, "also_fine")),
        before_closing=listed_names(proof, "before_closing"),
        proof_shows=parts.strength(proof.values.get("shows")),
        proof_false=parts.strength(proof.values.get("false_alarm")),
        refer=refer,
        # Where nothing is said of it, a set that comes back is one that is handed over after all.
        come_back=number(table(top, "come_back").values.get("minutes")) or refer,
        first_start=work_model.FirstStart(
            listed_names(first, "checks"),
            prose(value(first, "also")),
            prose(value(first, "why")),
            listed_names(first, "read"),
            listed_names(first, "asks"),
        ),
        full_load_by=value(proof, "full_load_by") if "full_load_by" in proof.values else "",
        full_load_from=number(proof.values.get("full_load_from")) or 0.0,
    )


def rule_of(parts: Parts, entry: Entry) -> work_model.OrderRule:
    node = entry.node
    return work_model.OrderRule(
        entry.id,
        value(node, "kind"),
        listed_names(node, "before"),
        listed_names(node, "after"),
        prose(value(node, "why")),
        parts.sources(node),
        parts.place(entry),
        listed_names(node, "complaints"),
    )


def stage_of(parts: Parts, entry: Entry) -> work_model.Stage:
    do = {key.value: value(table(entry.node, "do"), key.value) for key, _ in pairs(table(entry.node, "do"))}
    return work_model.Stage(entry.id, frozen(do), parts.sources(entry.node), parts.place(entry))


def tolerance_of(parts: Parts, entry: Entry) -> work_model.Tolerance:
    node = entry.node
    bands = {key.value: parts.bands(node.values["bands"], key.value) for key, _ in pairs(table(node, "bands"))}
    limits = {key.value: number(limit) or 0.0 for key, limit in pairs(table(node, "limits"))}
    return work_model.Tolerance(
        entry.id,
        prose(value(node, "title")),
        lines(value(node, "brief")),
        frozen(bands),
        frozen(limits),
        parts.sources(node),
        parts.place(entry),
    )


def danger_of(parts: Parts, entry: Entry) -> work_model.DangerLimit:
    node = entry.node
    readings: dict[str, work_model.Above] = {}
    for key, under in pairs(table(node, "readings")):
        share = number(under.values.get("share")) if isinstance(under, MappingNode) else None
        readings[key.value] = work_model.Above(value(under, "above"), yes(under, "or_rated"), share or 1.0)
    return work_model.DangerLimit(
        entry.id,
        prose(value(node, "title")),
        lines(value(node, "brief")),
        value(node, "of"),
        number(node.values.get("from_percent")) or 0.0,
        listed_names(node, "meters"),
        frozen(readings),
        parts.by_check(table(node, "outcomes")),
        listed_names(node, "cautions"),
        parts.sources(node),
        _may_come(parts, node),
        parts.place(entry),
    )


def _may_come(parts: Parts, node: MappingNode) -> work_model.MayCome | None:
    if "may_come" not in node.values:
        return None
    under = table(node, "may_come")
    at_least = parts.strength(under.values.get("from"))
    seen, first_run = parts.by_check(table(under, "seen")), listed_names(under, "first_run")
    return work_model.MayCome(at_least, listed_names(under, "causes"), seen, first_run)


def adjuster_of(parts: Parts, entry: Entry) -> work_model.Adjuster:
    node = entry.node
    lowest, highest = (number_in(end) or 0.0 for end in listed_names(node, "range"))
    return work_model.Adjuster(
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
        sources=parts.sources(node),
        place=parts.place(entry),
        gives=tuple(listed_names(node, "gives")),
    )


def pair_of(parts: Parts, entry: Entry) -> work_model.AdjusterPair:
    node = entry.node
    readings = table(node, "readings")
    ids = tuple(key.value for key, _ in pairs(readings))
    noise, hunts = table(node, "noise"), table(node, "hunts")

    def numbers(under: MappingNode) -> tuple[float, ...]:
        return tuple(number(under.values.get(name)) or 0.0 for name in ids)

    return work_model.AdjusterPair(
        id=entry.id,
        title=prose(value(node, "title")),
        brief=prose(value(node, "brief")),
        only_if=parts.condition(node.values.get("only_if")),
        readings=frozen(
            {key.value: check.value for key, check in pairs(readings) if isinstance(check, ScalarNode)}
        ),
        swing=value(node, "swing"),
        response=frozen({
            key.value: work_model.TurnResponse(
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
            work_model.PairWhen(
                parts.condition(item.values.get("if")),
                numbers(table(item, "target")) if "target" in item.values else (),
                number(item.values.get("below")),
            )
            for item in nodes(node, "when")
            if isinstance(item, MappingNode)
        ),
        note=lines(value(node, "note")),
        sources=parts.sources(node),
        place=parts.place(entry),
    )  # fmt: skip


def spread_of(parts: Parts, entry: Entry) -> work_model.Spread:
    node = entry.node
    lowest, highest = (number_in(end) or 0.0 for end in listed_names(node, "range"))
    return work_model.Spread(
        entry.id,
        prose(value(node, "title")),
        value(node, "part"),
        value(node, "value"),
        value(node, "how"),
        lowest,
        highest,
        prose(value(node, "note")),
        parts.sources(node),
        parts.place(entry),
    )


def combination_of(parts: Parts, entry: Entry) -> work_model.Combination:
    node = entry.node
    where, has = (parts.condition(node.values.get(key)) for key in ("if", "has"))
    return work_model.Combination(
        entry.id, where, has, prose(value(node, "why")), parts.sources(node), parts.place(entry)
    )


def slip_of(parts: Parts, entry: Entry) -> work_model.Slip:
    node = entry.node
    return work_model.Slip(
        entry.id,
        listed_names(node, "of"),
        value(node, "leaves"),
        value(node, "check"),
        value(node, "outcome"),
        prose(value(node, "brief")),
        parts.sources(node),
        parts.place(entry),
    )


def share_of(parts: Parts, entry: Entry) -> work_model.Share:
    node = entry.node
    of = {key.value: number(each) or 0.0 for key, each in pairs(table(node, "of"))}
    return work_model.Share(entry.id, frozen(of), parts.sources(node), parts.place(entry))
