"""One page on one item of the knowledge: a cause, a check, a remedy or a complaint.

Purpose: how common a cause is, how it shows, what tells it apart from its nearest look-alikes, what cures it, where
all that comes from and who uses it; and the same for the other kinds.
Law: reads the knowledge, changes nothing; figures are those the reasoning uses, at the default features of a set.
Not here: checking the knowledge (see `check`), smaller entries (see `leaflet`), two items (see `pair`).
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Mapping

from ...engine import HertzwrightError, Knowledge
from ...engine.belief import look_alikes
from ...engine.compiler import Retired, Source, drawing_of
from ...engine.problems import close_to, quoted
from ...engine.review import ALIKE, condition, discriminating_powers, outcome_chances, strength
from ..terminal import Screen, minutes, percent, sketch
from . import leaflet, pair, uses

_APART = 3


class UnknownItemError(HertzwrightError):
    """No item has this id."""


def kinds_of(knowledge: Knowledge, name: str) -> list[str]:
    """The kinds of item that have this id, most asked for first."""
    return [kind for kind, table in tables(knowledge).items() if name in table]


def tables(knowledge: Knowledge) -> dict[str, Mapping[str, object]]:
    """Every kind of item by name."""
    return {
        "cause": knowledge.causes,
        "check": knowledge.checks,
        "remedy": knowledge.remedies,
        "complaint": knowledge.complaints,
        **leaflet.tables(knowledge),
    }


def unknown(knowledge: Knowledge, name: str) -> UnknownItemError:
    """The error for an id that nothing has, with what may be meant."""
    every = [each for table in tables(knowledge).values() for each in table]
    hint = close_to(name, every, "`hertzwright knowledge check` names the files that list them")
    return UnknownItemError(f"nothing in the knowledge has the id {quoted(name)}; {hint}")


def show(knowledge: Knowledge, name: str, screen: Screen, as_json: bool = False) -> int:
    """Print the page of an item, or of every item with this id. Raises UnknownItemError."""
    kinds = kinds_of(knowledge, name)
    if not kinds:
        raise unknown(knowledge, name)
    pages = {"cause": _cause, "check": _check, "remedy": _remedy, "complaint": _complaint}
    if as_json:
        found = [{"kind": kind, "id": name, **plain(knowledge, kind, name)} for kind in kinds]
        others = {"also": found[1:]} if found[1:] else {}
        print(json.dumps({"version": 1, **found[0], **others}, sort_keys=True, indent=2))
        return 0
    for kind in kinds:
        if kind in pages:
            _retired(knowledge, kind, name, screen)
            _on_trial(knowledge, kind, name, screen)
            pages[kind](knowledge, name, screen)
            _drawing(knowledge, name, screen)
            tell_uses(knowledge, kind, name, screen)
        else:
            leaflet.print_entry(knowledge, kind, name, screen)
    return 0


def retirement(knowledge: Knowledge, kind: str, name: str) -> Retired | None:
    """Why an item is no longer used, or None."""
    found = getattr(tables(knowledge)[kind][name], "retired", None)
    return found if isinstance(found, Retired) else None


def _retired(knowledge: Knowledge, kind: str, name: str, screen: Screen) -> None:
    found = retirement(knowledge, kind, name)
    if found is None:
        return
    title = getattr(tables(knowledge)[kind].get(found.replaced_by), "title", "")
    instead = f" Use {found.replaced_by}{f' ({title})' if title else ''}." if found.replaced_by else ""
    screen.line(f"RETIRED since {found.since}: {found.reason}{instead}", "bold", hanging="  ")


def _on_trial(knowledge: Knowledge, kind: str, name: str, screen: Screen) -> None:
    found = getattr(tables(knowledge)[kind][name], "experimental", None)
    if found is not None:
        screen.line(f"ON TRIAL since {found.since}: {found.reason}", "bold", hanging="  ")


def _drawing(knowledge: Knowledge, name: str, screen: Screen) -> None:
    """The drawing that the item is shown with, where it has one."""
    found = drawing_of(knowledge, name)
    if found is not None:
        screen.heading(f"{found.title} ({found.id})")
        sketch.show(screen, found.art, found.in_words)


def tell_uses(knowledge: Knowledge, kind: str, name: str, screen: Screen) -> None:
    """Who uses the item, one line a kind."""
    found = uses.uses(knowledge, kind, name)
    if found:
        screen.heading("Used by")
        for label, names in found.items():
            screen.line(f"{label}: {', '.join(names)}", hanging="  ")


def plain(knowledge: Knowledge, kind: str, name: str) -> dict[str, object]:
    """The item as plain values for JSON."""
    found = _plain(knowledge, kind, name)
    retired = retirement(knowledge, kind, name)
    if retired is not None:
        found["retired"] = {"since": retired.since, "reason": retired.reason, "replaced_by": retired.replaced_by}
    on_trial = getattr(tables(knowledge)[kind][name], "experimental", None)
    if on_trial is not None:
        found["experimental"] = {"since": on_trial.since, "reason": on_trial.reason}
    drawing = drawing_of(knowledge, name)
    if drawing is not None and kind != "drawing":
        found["drawing"] = drawing.id
    found["used_by"] = {label: list(names) for label, names in uses.uses(knowledge, kind, name).items()}
    return found


def _plain(knowledge: Knowledge, kind: str, name: str) -> dict[str, object]:
    if kind in leaflet.tables(knowledge):
        return leaflet.plain(knowledge, kind, name)
    return _PLAIN[kind](knowledge, name)


def _plain_cause(knowledge: Knowledge, name: str) -> dict[str, object]:
    cause = knowledge.causes[name]
    return {
        "title": cause.title,
        "area": cause.area,
        "brief": cause.brief,
        "prior": knowledge.prior(name),
        "fault": cause.fault,
        "shows": {
            check: {
                outcome.id: chance
                for outcome, chance in zip(knowledge.checks[check].outcomes, row, strict=True)
                if chance > 0
            }
            for check, row in cause.shows.items()
        },
        "look_alikes": [
            {"id": other, "apart_by": [each.check for each in discriminating_powers(knowledge, name, other)[:_APART]]}
            for other, _ in look_alikes(knowledge, name)
        ],
        "remedies": list(cause.remedies),
        "sources": [str(source) for source in cause.sources],
    }


def _plain_check(knowledge: Knowledge, name: str) -> dict[str, object]:
    check = knowledge.checks[name]
    return {
        "title": check.title,
        "area": check.area,
        "state": check.state,
        "minutes": check.minutes,
        "outcomes": {
            outcome.id: leak for outcome, leak in zip(check.outcomes, outcome_chances(knowledge, name), strict=True)
        },
        "causes": list(check.parents),
        "sources": [str(source) for source in check.sources],
    }


def _plain_remedy(knowledge: Knowledge, name: str) -> dict[str, object]:
    remedy = knowledge.remedies[name]
    return {
        "title": remedy.title,
        "area": remedy.area,
        "brief": remedy.brief,
        "where": remedy.where,
        "start": remedy.start,
        "cures": dict(remedy.cures),
        "minutes": remedy.minutes,
        "state": remedy.state,
        "steps": list(remedy.steps),
        "cautions": list(remedy.cautions),
        "proof": list(remedy.proof),
        "then": list(remedy.then),
        "sources": [str(source) for source in remedy.sources],
    }


def _plain_complaint(knowledge: Knowledge, name: str) -> dict[str, object]:
    complaint = knowledge.complaints[name]
    return {
        "title": complaint.title,
        "brief": complaint.brief,
        "mode": complaint.mode,
        "says": {check: list(outcomes) for check, outcomes in complaint.says.items()},
        "synonyms": list(complaint.synonyms),
        "sources": [str(source) for source in complaint.sources],
    }


_PLAIN: Mapping[str, Callable[[Knowledge, str], dict[str, object]]] = {
    "cause": _plain_cause,
    "check": _plain_check,
    "remedy": _plain_remedy,
    "complaint": _plain_complaint,
}


# ---- pages


def _sources(screen: Screen, sources: Iterable[Source]) -> None:
    screen.fact("Sources", "; ".join(dict.fromkeys(str(source) for source in sources)))


def _cause(knowledge: Knowledge, name: str, screen: Screen) -> None:
    cause = knowledge.causes[name]
    screen.heading(f"{cause.title} ({name})")
    screen.line(cause.brief)
    screen.fact("Area", knowledge.catalogue.areas[cause.area])
    if not cause.fault:
        screen.line("Not a fault of the set.")
    prior = knowledge.prior(name)
    said = strength(knowledge, cause.how_common).text
    screen.fact("How common", f"{100 * prior:.2g} % of sets of this age, with the usual features; {said}")
    for when, value in cause.when:
        screen.fact(f"Where {condition(when)}", strength(knowledge, value).text)
    if cause.only_if.tests:
        screen.fact("Only on sets with", condition(cause.only_if))
    others = [
        other for other, each in knowledge.causes.items() if cause.part and each.part == cause.part and other != name
    ]
    if others:
        screen.fact("Never together with", ", ".join(knowledge.causes[other].title.lower() for other in others))
    for sentence in cause.note.splitlines():
        screen.line(sentence)
    screen.heading("How it shows")
    for check, row in cause.shows.items():
        told = []
        for outcome, chance in zip(knowledge.checks[check].outcomes, row, strict=True):
            if chance > 0 and outcome.id != knowledge.checks[check].normal:
                word = cause.words.get(check, {}).get(outcome.id, "").replace("_", " ")
                figure = f"{100 * chance:.2g} %"
                named = word.replace(" ", "").isalpha()
                told.append(f"{outcome.id.replace('_', ' ')} {f'{word} ({figure})' if named else figure}")
        if told:
            screen.line(f"{knowledge.checks[check].title}: {', '.join(told)}", indent="  - ")
    if cause.unaffected:
        screen.fact(
            "Thought through, not affected", ", ".join(knowledge.checks[name].title for name in cause.unaffected)
        )
    screen.heading("Told apart from")
    alikes = [other for other, _ in look_alikes(knowledge, name)]
    for other in alikes:
        screen.line(f"{knowledge.causes[other].title} ({other})", "bold")
        found = discriminating_powers(knowledge, name, other)
        for power in found[:_APART]:
            if power.mean >= ALIKE:
                screen.line(pair.contrast(knowledge, power), indent="  - ")
        if not found or found[0].mean < ALIKE:
            screen.line("No check tells them apart.", indent="  - ")
    if alikes:
        screen.note(f"`show {name} {alikes[0]}` says more.")
    else:
        screen.line("Nothing else shows in the same checks.")
    screen.heading("Cured by")
    for remedy in cause.remedies:
        each = knowledge.remedies[remedy]
        screen.line(
            f"{each.title} ({remedy}): {percent(each.cures[name])} of the time, {minutes(each.minutes)} of work."
        )
    _sources(screen, cause.sources)


def _check(knowledge: Knowledge, name: str, screen: Screen) -> None:
    check = knowledge.checks[name]
    states = knowledge.catalogue.states
    screen.heading(f"{check.title} ({name})")
    screen.line(check.ask)
    screen.fact("Set-up", states[check.state].title)
    screen.fact("Time", f"{minutes(check.minutes)} of work")
    screen.fact("Tools", ", ".join(check.tools))
    screen.numbered(check.how)
    for caution in dict.fromkeys((*check.cautions, *states[check.state].cautions)):
        screen.caution(knowledge.catalogue.cautions[caution].title, knowledge.catalogue.cautions[caution].text)
    screen.fact("Does not prove", check.does_not_prove)
    screen.heading("Answers")
    leak = outcome_chances(knowledge, name)
    for outcome, chance in zip(check.outcomes, leak, strict=True):
        screen.line(f"{outcome.id.replace('_', ' ')}: {outcome.brief} Without any known cause {percent(chance)}.")
        shown = sorted(
            ((knowledge.causes[cause].shows[name][check.index(outcome.id)], cause) for cause in check.parents),
            reverse=True,
        )
        for chance, cause in [each for each in shown if each[0] >= 0.25][:6] if outcome.id != check.normal else []:
            screen.line(f"{knowledge.causes[cause].title}: {percent(chance)}", indent="  - ")
    _sources(screen, check.sources)


def _remedy(knowledge: Knowledge, name: str, screen: Screen) -> None:
    remedy = knowledge.remedies[name]
    states = knowledge.catalogue.states
    screen.heading(f"{remedy.title} ({name})")
    screen.line(remedy.brief)
    for name, text in (("Where", remedy.where), ("Start", remedy.start)):
        if text:
            screen.fact(name, text)
    screen.fact("Set-up", states[remedy.state].title)
    screen.fact("Time", f"{minutes(remedy.minutes)} of work")
    screen.fact("Tools", ", ".join(remedy.tools))
    for caution in dict.fromkeys((*remedy.cautions, *states[remedy.state].cautions)):
        screen.caution(knowledge.catalogue.cautions[caution].title, knowledge.catalogue.cautions[caution].text)
    screen.numbered(remedy.steps)
    screen.heading("Cures")
    for cause, chance in remedy.cures.items():
        screen.line(f"{knowledge.causes[cause].title}: {percent(chance)} of the time")
    screen.fact("Proven by", ", ".join(knowledge.checks[check].title.lower() for check in remedy.proof))
    screen.fact("Then", ", ".join(knowledge.remedies[other].title.lower() for other in remedy.then))
    for rule in knowledge.catalogue.order.values():
        if name in rule.after:
            screen.fact("Order", rule.why)
    _sources(screen, remedy.sources)


def _complaint(knowledge: Knowledge, name: str, screen: Screen) -> None:
    complaint = knowledge.complaints[name]
    screen.heading(f"{complaint.title} ({name})")
    screen.line(complaint.brief)
    if complaint.stop_first:
        screen.line("Shut the set down before anything else.", "bold")
    said = [
        f"{knowledge.checks[check].title} {' or '.join(outcome.replace('_', ' ') for outcome in outcomes)}"
        for check, outcomes in complaint.says.items()
    ]
    screen.fact("It says", (" or " if complaint.mode == "any" else " and ").join(said))
    screen.fact("Said where it is so", percent(complaint.true_when_said))
    screen.fact("Said where it is not so", percent(complaint.said_when_not))
    if complaint.comes_and_goes:
        screen.fact("Does not show at a look", percent(complaint.comes_and_goes))
    screen.fact("Also said as", "; ".join(complaint.synonyms))
    screen.heading("Causes that show so, alone")
    scored = []
    for cause, each in knowledge.causes.items():
        if each.retired is None and set(each.shows) & set(complaint.says):
            chances = [
                math.fsum(knowledge.likelihood(check, outcome, frozenset({cause})) for outcome in outcomes)
                for check, outcomes in complaint.says.items()
            ]
            both = (
                math.prod(chances) if complaint.mode == "all" else 1.0 - math.prod(1.0 - chance for chance in chances)
            )
            scored.append((both * knowledge.prior(cause), both, cause))
    for _, chance, cause in sorted(scored, key=lambda item: (-item[0], item[2]))[:10]:
        common = percent(knowledge.prior(cause))
        screen.line(
            f"{knowledge.causes[cause].title}: shows it {percent(chance)} of the time, found in {common} of sets"
        )
    _sources(screen, complaint.sources)
