"""Schemas for an editor: the shape of each kind of file, with every name that can stand in it and what it means.

Purpose: from the schemas of the shapes and the items of a knowledge folder to schemas with which an editor completes,
explains and underlines names of items, answers, words and features while they are typed.
Law: pure; the same items give the same schemas. What is refused here `names` refuses too, never the other way round: an
answer of a check's own, or a word of prose, is left to `hertzwright knowledge check`.
Not here: what is right (see `schema`, `names` and `rules`), and the writing of the files (see `cli.workshop`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

from . import names, schema
from .entries import Entries, Entry, listed_names, number_in, table, value
from .reference import used
from .source import ScalarNode

Part = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Offered:
    """The items, and the lists of names that parts of a schema refer to, each written once."""

    entries: Entries
    lists: dict[str, Part] = field(default_factory=dict)

    def refer(self, title: str, part: Part) -> Part:
        """A reference to a list, which is kept under its title."""
        self.lists.setdefault(title, part)
        return {"$ref": f"#/$defs/{title}"}

    def items(self, *kinds: str) -> Part:
        """A reference to the names of the items in use of some kinds, with what an editor says of each."""
        found = {entry.id: _said(entry) for kind in kinds for entry in used(self.entries, kind)}
        return self.refer("_or_".join(kinds), _choice(found))


Lay = Callable[[Part, Offered], None]
"""Lays names over a part of a schema, in place."""
LayUnder = Callable[[Part, Offered, Entry], None]
"""The same for what stands under the name of an item."""


def editor_schemas(entries: Entries) -> Mapping[str, Part]:
    """A schema for each kind of file, with the names of these items. Retired ones are not offered."""
    return {kind: _of_kind(kind, entries) for kind in schema.KINDS}


def _of_kind(kind: str, entries: Entries) -> Part:
    whole = _inlined(dict(schema.schema(kind)), dict(schema.schema(kind)))
    offered = Offered(entries)
    for path, lay in PLACES.items():
        if path[0] in (kind, "*"):
            for part in _at(whole, path[1:]):
                lay(part, offered)
    return {**whole, "$defs": offered.lists}


def _inlined(part: Any, whole: Part) -> Any:
    """A part of a schema with what it refers to in its place; what is said at the place itself stays."""
    if isinstance(part, list):
        return [_inlined(each, whole) for each in part]
    if not isinstance(part, dict):
        return part
    found = {key: _inlined(each, whole) for key, each in part.items() if key not in ("$ref", "$defs")}
    if "$ref" in part:
        meant = _inlined(deepcopy(whole["$defs"][part["$ref"].rpartition("/")[2]]), whole)
        found = {**meant, **found}
    return found


def _at(part: Part, path: tuple[str, ...]) -> Iterable[Part]:
    """The parts at a path: a name of a property, `*` for what stands under any key, `[]` for an item of a list, `**`
    for any depth."""
    if not path:
        yield part
    elif path[0] == "**":
        yield from _at(part, path[1:])
        below = [*part.get("properties", {}).values(), part.get("additionalProperties"), part.get("items")]
        for each in below:
            if isinstance(each, dict):
                yield from _at(each, path)
    else:
        head, rest = path[0], path[1:]
        next_part = {"*": part.get("additionalProperties"), "[]": part.get("items")}.get(
            head, part.get("properties", {}).get(head)
        )
        if isinstance(next_part, dict):
            yield from _at(next_part, rest)


# ---- what is laid over a place


def _said(entry: Entry) -> str:
    title, brief = value(entry.node, "title"), value(entry.node, "brief") or value(entry.node, "ask")
    return ": ".join(part for part in (title, brief) if part)


def _choice(found: Mapping[str, str]) -> Part:
    return {"enum": list(found), "enumDescriptions": list(found.values())}


def name(*kinds: str) -> Lay:
    """One name of an item of these kinds."""

    def lay(part: Part, offered: Offered) -> None:
        for key in ("pattern", "examples"):
            part.pop(key, None)
        part.update(offered.items(*kinds))

    return lay


def keys(kind: str, under: LayUnder | None = None) -> Lay:
    """A mapping whose keys are items of a kind; `under` lays over what stands under one of them."""

    def lay(part: Part, offered: Offered) -> None:
        below = part.pop("additionalProperties", {})
        part.pop("propertyNames", None)
        part.pop("examples", None)
        part["properties"] = {}
        part["additionalProperties"] = False
        shared = offered.refer(f"under_{kind}_{len(offered.lists)}", below) if under is None else None
        for entry in used(offered.entries, kind):
            own = dict(shared) if shared is not None else deepcopy(below)
            own["description"] = _said(entry)
            if under is not None:
                under(own, offered, entry)
            part["properties"][entry.id] = own

    return lay


def _outcomes(check: Entry, abnormal: bool) -> dict[str, str]:
    listed = table(check.node, "outcomes").values
    named = {key: node.value for key, node in listed.items() if isinstance(node, ScalarNode)}
    return dict(list(named.items())[1:]) if abnormal else named


def by_outcome(abnormal: bool = True) -> LayUnder:
    """Under a check: a mapping whose keys are its answers."""

    def under(part: Part, offered: Offered, check: Entry) -> None:
        below = part.pop("additionalProperties", {})
        part.pop("propertyNames", None)
        part["properties"] = {
            outcome: {**deepcopy(below), "description": said} for outcome, said in _outcomes(check, abnormal).items()
        }
        part["additionalProperties"] = False

    return under


def outcomes(part: Part, offered: Offered, check: Entry) -> None:
    """Under a check: a list of its answers."""
    part["items"] = offered.refer(f"answers_of_{check.id}", _choice(_outcomes(check, abnormal=False)))


def outcome(part: Part, offered: Offered, check: Entry) -> None:
    """Under a check: one of its answers that is not the normal one."""
    part.pop("pattern", None)
    part.update(_choice(_outcomes(check, abnormal=True)))


def remedies(part: Part, offered: Offered, check: Entry) -> None:
    """Under a check: a remedy for each of its answers that are not the normal one."""
    by_outcome()(part, offered, check)
    for below in part["properties"].values():
        below.pop("pattern", None)
        below.update(offered.items("remedies"))


def checks_by_outcome(part: Part, offered: Offered, check: Entry) -> None:
    """Under a check: a list of checks for each of its answers that are not the normal one."""
    by_outcome()(part, offered, check)
    for below in part["properties"].values():
        below["items"].pop("$ref", None)
        below["items"].update(offered.items("checks"))


def strength(part: Part, offered: Offered) -> None:
    """A word of strength, with its number, or a number."""
    words = {
        entry.id: f"{value(entry.node, 'value')}: {value(entry.node, 'brief')}"
        for entry in used(offered.entries, "words")
    }
    number = {"type": "number", "minimum": 0, "maximum": 1}
    written = {"type": "string", "pattern": "^[0-9]*[.]?[0-9]+$"}
    description = part.get("description", "")
    part.clear()
    part["description"] = description
    part.update(offered.refer("strength", {"anyOf": [{"type": "string", **_choice(words)}, number, written]}))


def strengths(part: Part, offered: Offered, check: Entry) -> None:
    """Under a check: a strength for each of its answers that are not the normal one."""
    strength(part["additionalProperties"], offered)
    by_outcome()(part, offered, check)


def _values(feature: Entry) -> list[Any]:
    """The values that a feature can have, as text and as YAML reads them."""
    named: list[Any] = []
    for choice in listed_names(feature.node, "choices"):
        named.append(choice)
        if choice in ("yes", "no"):
            named.append(choice == "yes")
        if number_in(choice) is not None:
            named.append(number_in(choice))
    return named


def feature_value(part: Part, offered: Offered, feature: Entry) -> None:
    """Under a feature: one of its values."""
    values = _values(feature)
    if values:
        part.pop("type", None)
        part["enum"] = values


def feature_test(part: Part, offered: Offered, feature: Entry) -> None:
    """Under a feature: one of its values, several of them, or a range where it is a number."""
    values = _values(feature)
    if values and value(feature.node, "kind") == "choice":
        said = part["description"]
        part.clear()
        part["description"] = said
        part["anyOf"] = [{"enum": values}, {"type": "array", "items": {"enum": values}, "minItems": 1}]


def tools(part: Part, offered: Offered) -> None:
    """Names of tools are offered; small letters and several joined by `or` are taken too, so nothing is underlined."""
    listed = used(offered.entries, "tools")
    known = [name for one in listed for name in (value(one.node, "title"), *listed_names(one.node, "also"))]
    if known:
        part["items"] = {"anyOf": [{"type": "string", "enum": list(dict.fromkeys(known))}, {"type": "string"}]}


def answer(part: Part, offered: Offered) -> None:
    """A fact of a case: the answers of the check that is named are offered, and a reading is taken as it is."""
    answers = {check.id: [*_outcomes(check, abnormal=False), "unknown"] for check in used(offered.entries, "checks")}
    free = {"type": ["string", "number", "boolean"]}
    part["allOf"] = [
        {
            "if": {"properties": {"check": {"const": check}}, "required": ["check"]},
            "then": {"properties": {"answer": {"anyOf": [{"enum": choice}, free]}}},
        }
        for check, choice in answers.items()
    ]


_STEP: Mapping[tuple[str, ...], Lay] = {
    ("state",): name("states"),
    ("cautions", "[]"): name("cautions"),
    **{(fit, "[]"): name("fittings") for fit in names.FITS},
    ("tools",): tools,
    ("only_if",): keys("features", feature_test),
}


def _step(kind: str, table_of: str) -> dict[tuple[str, ...], Lay]:
    return {(kind, table_of, "*", *path): lay for path, lay in _STEP.items()}


PLACES: Mapping[tuple[str, ...], Lay] = {
    ("*", "**", "sources", "[]", "source"): name("sources"),
    ("area", "causes", "*", "shows"): keys("checks", strengths),
    ("area", "causes", "*", "how_common"): strength,
    ("area", "causes", "*", "when", "[]", "how_common"): strength,
    ("area", "causes", "*", "when", "[]", "if"): keys("features", feature_test),
    ("area", "causes", "*", "only_if"): keys("features", feature_test),
    ("area", "causes", "*", "unaffected", "[]"): name("checks"),
    ("area", "remedies", "*", "cures"): keys("causes", lambda part, offered, _: strength(part, offered)),
    ("area", "remedies", "*", "proof", "[]"): name("checks"),
    ("area", "remedies", "*", "then", "[]"): name("remedies"),
    **_step("area", "remedies"),
    **_step("checks", "checks"),
    ("checks", "checks", "*", "leak", "*"): strength,
    ("checks", "checks", "*", "derived", "minus", "[]"): name("checks"),
    ("checks", "checks", "*", "only_while"): keys("checks", outcomes),
    ("checks", "checks", "*", "reading", "swing"): name("checks"),
    ("checks", "checks", "*", "reading", "above"): name("checks"),
    ("checks", "checks", "*", "reading", "below"): name("checks"),
    ("checks", "checks", "*", "measured_by"): name("checks"),
    ("complaints", "complaints", "*", "says"): keys("checks", outcomes),
    ("complaints", "complaints", "*", "true_when_said"): strength,
    ("complaints", "complaints", "*", "said_when_not"): strength,
    ("complaints", "complaints", "*", "comes_and_goes"): strength,
    ("complaints", "complaints", "*", "excludes", "[]"): name("complaints"),
    ("complaints", "complaints", "*", "cautions", "[]"): name("cautions"),
    ("cases", "cases", "*", "set"): keys("features", feature_value),
    ("cases", "cases", "*", "facts", "[]"): answer,
    ("cases", "cases", "*", "facts", "[]", "complaint"): name("complaints"),
    ("cases", "cases", "*", "facts", "[]", "check"): name("checks"),
    ("cases", "cases", "*", "facts", "[]", "remedy"): name("remedies"),
    ("cases", "cases", "*", "truth", "[]"): name("causes"),
    ("cases", "cases", "*", "expect", "leading", "[]"): name("causes"),
    ("cases", "cases", "*", "expect", "not_leading", "[]"): name("causes"),
    ("cases", "cases", "*", "expect", "next_step", "[]"): name("checks", "remedies"),
    ("cases", "cases", "*", "beside"): name("cases"),
    ("fittings", "fittings", "*", "state"): name("states"),
    ("fittings", "fittings", "*", "cautions", "[]"): name("cautions"),
    ("fittings", "closing", "*", "while", "[]"): name("states"),
    ("fittings", "closing", "*", "after", "[]"): name("states"),
    ("fittings", "closing", "*", "fittings", "[]"): name("fittings"),
    ("fittings", "closing", "*", "only_if"): keys("features", feature_test),
    ("order", "order", "*", "before", "[]"): name("checks", "remedies"),
    ("order", "order", "*", "after", "[]"): name("checks", "remedies"),
    ("order", "order", "*", "complaints", "[]"): name("complaints"),
    ("order", "from_the_top"): keys(
        "checks", lambda part, offered, check: remedies(part["properties"]["do"], offered, check)
    ),
    ("setting", "setting", "*", "accepts"): keys("checks", remedies),
    ("setting", "setting", "*", "fine"): keys("checks", outcomes),
    ("setting", "setting", "*", "near"): keys("checks"),
    ("setting", "setting", "*", "looks_first"): keys("checks", checks_by_outcome),
    ("setting", "setting", "*", "no_response"): keys("checks", outcome),
    ("setting", "setting", "*", "needs", "[]"): name("setting"),
    ("setting", "setting", "*", "disturbs", "[]"): name("setting"),
    ("setting", "setting", "*", "adjuster"): name("adjusters"),
    ("setting", "setting", "*", "pair"): name("pairs"),
    ("setting", "rules", "suspected_from"): strength,
    ("setting", "rules", "found_from"): strength,
    **_step("setting", "setting"),
    ("states", "states", "*", "cautions", "[]"): name("cautions"),
    ("states", "as_found", "[]"): name("checks"),
    ("states", "start_state"): name("states"),
    ("states", "found", "*", "state"): name("states"),
    ("states", "first_start", "checks", "[]"): name("checks"),
    ("states", "first_start", "read", "[]"): name("checks"),
    ("states", "first_start", "asks", "[]"): name("checks"),
    ("states", "proof", "state"): name("states"),
    ("states", "proof", "checks", "[]"): name("checks"),
    ("states", "proof", "needed", "[]"): name("checks"),
    ("states", "proof", "before_closing", "[]"): name("checks"),
    ("states", "proof", "full_load_by"): name("checks"),
    ("states", "proof", "also_fine"): keys("checks", outcomes),
    ("states", "proof", "shows"): strength,
    ("states", "proof", "false_alarm"): strength,
    ("tolerances", "tolerances", "*", "bands"): keys("checks"),
    ("tolerances", "danger", "*", "of"): name("features"),
    ("tolerances", "danger", "*", "readings"): keys("checks"),
    ("tolerances", "danger", "*", "outcomes"): keys("checks", outcomes),
    ("tolerances", "danger", "*", "cautions", "[]"): name("cautions"),
    ("trimming", "adjusters", "*", "remedy"): name("remedies"),
    ("trimming", "pairs", "*", "swing"): name("checks"),
    ("trimming", "pairs", "*", "readings", "*"): name("checks"),
    ("trimming", "pairs", "*", "only_if"): keys("features", feature_test),
    ("trimming", "pairs", "*", "when", "[]", "if"): keys("features", feature_test),
    ("tools", "tools", "*", "states", "[]"): name("states"),
    ("tools", "tools", "*", "stands_for", "[]"): name("tools"),
    ("tools", "tools", "*", "goes_with", "[]"): name("tools"),
    ("drawings", "drawings", "*", "of", "[]"): name("checks", "remedies"),
    ("phrases", "phrases", "*", "means", "[]"): name("complaints"),
}
"""Which names stand where: the kind of file and the path to the place, and what is laid over it."""
