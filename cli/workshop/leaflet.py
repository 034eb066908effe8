"""One page on a smaller entry: a step of setting, caution, state, feature, word, source, tolerance, order rule, area,
drawing, unit or case.

Purpose: what it says and who uses it, as `page` does for causes, checks, remedies and complaints.
Law: reads the knowledge, changes nothing.
Not here: who uses it (see `uses`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ...engine import Knowledge
from ...engine.review import condition
from ..terminal import Screen, minutes, sketch
from . import uses


def tables(knowledge: Knowledge) -> dict[str, Mapping[str, object]]:
    """The kinds that have their page here."""
    catalogue = knowledge.catalogue
    return {
        "setting": catalogue.setting,
        "caution": catalogue.cautions,
        "state": catalogue.states,
        "order rule": catalogue.order,
        "case": knowledge.cases,
        "feature": catalogue.features,
        "word": catalogue.words,
        "tolerance": catalogue.tolerances,
        "source": catalogue.sources,
        "area": catalogue.areas,
        "drawing": knowledge.drawings,
        "unit": knowledge.units,
    }


def plain(knowledge: Knowledge, kind: str, name: str) -> dict[str, object]:
    """The entry as plain values for JSON."""
    return {"title": title(knowledge, kind, name), "facts": dict(facts(knowledge, kind, name))}


def title(knowledge: Knowledge, kind: str, name: str) -> str:
    """What the entry is called."""
    if kind == "area":
        return knowledge.catalogue.areas[name]
    entry = tables(knowledge)[kind][name]
    return str(getattr(entry, "title", "") or name.replace("_", " "))


def facts(knowledge: Knowledge, kind: str, name: str) -> list[tuple[str, str]]:
    """What the entry says, as label and text; those without text left out."""
    says = _SAYS.get(kind)
    found = [] if says is None else says(knowledge, name)
    sources = getattr(tables(knowledge)[kind][name], "sources", ())
    found.append(("Sources", "; ".join(dict.fromkeys(str(source) for source in sources))))
    return [(label, text) for label, text in found if text]


def _caution(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    return [("Text", knowledge.catalogue.cautions[name].text)]


def _state(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    state, costs = knowledge.catalogue.states[name], knowledge.catalogue.costs
    return [
        ("Meant", state.brief),
        ("Runs", "yes" if state.runs else "no"),
        ("Dangerous", "yes" if state.dangerous else "no"),
        ("Cautions", ", ".join(state.cautions)),
        ("Serves", ", ".join(sorted(costs.serves.get(name, ())))),
        ("From here", ", ".join(f"{end} {minutes(cost)}" for (at, end), cost in costs.moves.items() if at == name)),
        ("To here", ", ".join(f"{at} {minutes(cost)}" for (at, end), cost in costs.moves.items() if end == name)),
    ]


def _order_rule(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    rule = knowledge.catalogue.order[name]
    return [
        ("Kind", rule.kind.replace("_", " ")),
        ("Before", ", ".join(rule.before)),
        ("After", ", ".join(rule.after)),
        ("Why", rule.why),
    ]


def _case(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    case = knowledge.cases[name]
    leading = " and ".join(case.leading)
    return [
        ("Area", case.area),
        ("Set", ", ".join(f"{key} {value}" for key, value in case.set.items()) or "the usual features"),
        ("Facts", "; ".join(" = ".join(fact.values()) for fact in case.facts)),
        ("Truth", ", ".join(case.truth)),
        ("Expects", f"{leading} within the first {case.within_first}, at least {case.at_least:g} each"),
        ("Next step", " or ".join(case.next_step)),
        ("Path", f"`hertzwright knowledge cases {name}`"),
    ]


def _feature(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    feature = knowledge.catalogue.features[name]
    allowed = ", ".join(feature.choices) or f"{feature.lowest:g} to {feature.highest:g} {feature.unit}".rstrip()
    return [("Meant", feature.brief), ("Asked", feature.ask), ("Values", allowed), ("Usual", str(feature.default))]


def _word(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    word = knowledge.catalogue.words[name]
    return [("Stands for", f"{word.value:g}"), ("Meant", word.brief)]


def _tolerance(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    tolerance = knowledge.catalogue.tolerances[name]
    limits = ", ".join(f"{key.replace('_', ' ')} {value:g}" for key, value in tolerance.limits.items())
    return [("Meant", tolerance.brief), ("Limits", limits)]


def _source(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    source = knowledge.catalogue.sources[name]
    return [("Title", source.title), ("Number", source.number)]


def _drawing(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    drawing = knowledge.drawings[name]
    return [("Shows", " ".join(drawing.in_words.split())), ("Parts", ", ".join(drawing.parts))]


def _unit(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    unit = knowledge.units[name]
    return [
        ("Says", " ".join(unit.text.split())),
        ("Drawing", unit.drawing),
        ("Example", unit.example.text),
        ("Asks", unit.prediction.question),
        ("Drills", "; ".join(", ".join(plan.causes) for plan in unit.drills)),
        ("Cautions", ", ".join(unit.cautions)),
    ]


def _setting(knowledge: Knowledge, name: str) -> list[tuple[str, str]]:
    step = knowledge.catalogue.setting[name]
    accepts = [
        f"{check} ({', '.join(f'{outcome}: {remedy}' for outcome, remedy in does.items())})" if does else check
        for check, does in step.accepts.items()
    ]
    looks = [
        f"{check} {outcome}: {', '.join(first)}"
        for check, asks in step.looks_first.items()
        for outcome, first in asks.items()
    ]
    return [
        ("Meant", step.brief),
        ("Right before it", ", ".join(step.needs)),
        ("Disturbs", ", ".join(step.disturbs)),
        ("Only on sets with", condition(step.only_if) if step.only_if.tests else ""),
        ("State", step.state),
        ("Own work", minutes(step.minutes) if step.minutes else ""),
        ("Accepted by", "; ".join(accepts)),
        ("Right as well", "; ".join(f"{check}: {', '.join(fine)}" for check, fine in step.fine.items())),
        ("Near enough", "; ".join(f"{check}: {low:g} to {high:g}" for check, (low, high) in step.near.items())),
        ("Looked at before its work", "; ".join(looks)),
        ("Turned by", step.adjuster or step.pair),
        ("Starts at", step.starts),
        ("How", " ".join(step.how)),
        ("No response is", "; ".join(f"{check}: {outcome}" for check, outcome in step.no_response.items())),
        ("Cautions", ", ".join(step.cautions)),
        ("When", "last, and again after any work" if step.last else ""),
        ("Asked for", "on request alone" if step.on_request else ""),
        ("Note", step.note),
    ]


_SAYS: Mapping[str, Callable[[Knowledge, str], list[tuple[str, str]]]] = {
    "setting": _setting,
    "caution": _caution,
    "state": _state,
    "order rule": _order_rule,
    "case": _case,
    "feature": _feature,
    "word": _word,
    "tolerance": _tolerance,
    "source": _source,
    "drawing": _drawing,
    "unit": _unit,
}
"""What an entry of each kind says; of an area its sources alone."""


def print_entry(knowledge: Knowledge, kind: str, name: str, screen: Screen) -> None:
    """Print the page of an entry."""
    screen.heading(f"{title(knowledge, kind, name)} ({kind} {name})")
    if kind == "drawing" and not screen.plain:  # else the facts tell the same in words
        sketch.show(screen, knowledge.drawings[name].rows(screen.width), knowledge.drawings[name].in_words)
    for label, text in facts(knowledge, kind, name):
        if kind == "caution" and label == "Text":
            screen.caution(knowledge.catalogue.cautions[name].title, text)
        else:
            screen.fact(label, text)
    found = uses.uses(knowledge, kind, name)
    screen.heading("Used by")
    for label, names in found.items():
        screen.line(f"{label}: {', '.join(each.strip() for each in names)}", hanging="  ")
    if not found:
        screen.line("Nothing else." if kind in ("order rule", "case") else "Nothing: it could be taken out.")
