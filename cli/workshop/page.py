"""One page on one item of the knowledge: a cause, a check, a remedy or a complaint.

Purpose: how common a cause is, how it shows, what tells it apart from its nearest look-alikes, what cures it, and
where all that comes from; and the same for the other kinds.
Law: reads the knowledge, changes nothing; figures are those the reasoning uses, at the default features of a set.
Not here: checking the knowledge (see `check`).
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable

from ...engine import HertzwrightError, Knowledge
from ...engine.model import Source
from ...engine.problem import close_to, quoted
from ..screen import Screen, minutes, percent

_ALIKE = 3
_APART = 3


class UnknownItemError(HertzwrightError):
    """No item has this id."""


def show(knowledge: Knowledge, name: str, screen: Screen, as_json: bool = False) -> int:
    """Print the page of an item. Raises UnknownItemError."""
    pages = {
        "cause": (knowledge.causes, _cause),
        "check": (knowledge.checks, _check),
        "remedy": (knowledge.remedies, _remedy),
        "complaint": (knowledge.complaints, _complaint),
    }
    for kind, (table, page) in pages.items():
        if name in table:
            if as_json:
                print(
                    json.dumps(
                        {"version": 1, "kind": kind, "id": name, **plain(knowledge, kind, name)},
                        sort_keys=True,
                        indent=2,
                    )
                )
            else:
                page(knowledge, name, screen)
            return 0
    every = [each for table, _ in pages.values() for each in table]
    raise UnknownItemError(f"no cause, check, remedy or complaint {quoted(name)}; {close_to(name, every)}".rstrip("; "))


def plain(knowledge: Knowledge, kind: str, name: str) -> dict[str, object]:
    """The item as plain values for JSON."""
    if kind == "cause":
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
                {"id": other, "apart_by": [check for check, _ in apart(knowledge, name, other)]}
                for other in look_alikes(knowledge, name)
            ],
            "remedies": list(cause.remedies),
            "sources": [str(source) for source in cause.sources],
        }
    if kind == "check":
        check = knowledge.checks[name]
        return {
            "title": check.title,
            "area": check.area,
            "state": check.state,
            "minutes": check.minutes,
            "outcomes": {
                outcome.id: leak
                for outcome, leak in zip(check.outcomes, knowledge.distribution(name, frozenset()), strict=True)
            },
            "causes": list(check.parents),
            "sources": [str(source) for source in check.sources],
        }
    if kind == "remedy":
        remedy = knowledge.remedies[name]
        return {
            "title": remedy.title,
            "area": remedy.area,
            "brief": remedy.brief,
            "cures": dict(remedy.cures),
            "minutes": remedy.minutes,
            "state": remedy.state,
            "steps": list(remedy.steps),
            "cautions": list(remedy.cautions),
            "proof": list(remedy.proof),
            "then": list(remedy.then),
            "sources": [str(source) for source in remedy.sources],
        }
    complaint = knowledge.complaints[name]
    return {
        "title": complaint.title,
        "brief": complaint.brief,
        "mode": complaint.mode,
        "says": {check: list(outcomes) for check, outcomes in complaint.says.items()},
        "synonyms": list(complaint.synonyms),
        "sources": [str(source) for source in complaint.sources],
    }


# ---- look-alikes


def look_alikes(knowledge: Knowledge, name: str) -> list[str]:
    """The causes that show most like this one: least total distance between the outcomes that either leads to."""
    own = knowledge.causes[name]
    scored = []
    for other, cause in knowledge.causes.items():
        shared = set(own.shows) & set(cause.shows)
        if other == name or cause.retired is not None or not shared:
            continue
        checks = set(own.shows) | set(cause.shows)
        distance = sum(_distance(knowledge, check, name, other) for check in checks)
        weight = sum(_distance(knowledge, check, name, None) for check in checks)
        scored.append((distance / (weight or 1.0), other))
    return [other for _, other in sorted(scored)[:_ALIKE]]


def apart(knowledge: Knowledge, name: str, other: str) -> list[tuple[str, float]]:
    """Checks that tell two causes apart best, with the distance (0 the same, 1 never the same)."""
    checks = list(dict.fromkeys([*knowledge.causes[name].shows, *knowledge.causes[other].shows]))
    scored = [(check, _distance(knowledge, check, name, other)) for check in checks]
    return sorted(scored, key=lambda item: (-item[1], item[0]))[:_APART]


def _distance(knowledge: Knowledge, check: str, name: str, other: str | None) -> float:
    """Squared Hellinger distance between the outcomes of a check under two single causes (None: under no cause)."""
    one = knowledge.distribution(check, frozenset({name}))
    two = knowledge.distribution(check, frozenset({other}) if other else frozenset())
    return 1.0 - sum(math.sqrt(a * b) for a, b in zip(one, two, strict=True))


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
    screen.fact("How common", f"{100 * prior:.2g} % of sets that are called out, with the usual features")
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
    screen.heading("Told apart from")
    for other in look_alikes(knowledge, name):
        screen.line(knowledge.causes[other].title, "bold")
        for check, distance in apart(knowledge, name, other):
            if distance > 0.01:
                screen.line(_contrast(knowledge, check, name, other), indent="  - ")
    screen.heading("Cured by")
    for remedy in cause.remedies:
        each = knowledge.remedies[remedy]
        screen.line(
            f"{each.title} ({remedy}): {percent(each.cures[name])} of the time, {minutes(each.minutes)} of work."
        )
    _sources(screen, cause.sources)


def _contrast(knowledge: Knowledge, check: str, name: str, other: str) -> str:
    """The outcome of a check that differs most between two causes, with both figures."""
    here, there = (knowledge.distribution(check, frozenset({each})) for each in (name, other))
    gaps = [abs(a - b) for a, b in zip(here, there, strict=True)]
    at = max(range(len(gaps)), key=lambda place: gaps[place])
    outcome = knowledge.checks[check].outcomes[at].id.replace("_", " ")
    return f"{knowledge.checks[check].title}: {outcome} {percent(here[at])} here, {percent(there[at])} there"


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
    leak = knowledge.distribution(name, frozenset())
    for outcome, chance in zip(check.outcomes, leak, strict=True):
        screen.line(f"{outcome.id.replace('_', ' ')}: {outcome.brief} Without any known cause {percent(chance)}.")
        shown = sorted(
            ((knowledge.causes[cause].shows[name][check.index(outcome.id)], cause) for cause in check.parents),
            reverse=True,
        )
        for strength, cause in [each for each in shown if each[0] >= 0.25][:6] if outcome.id != check.normal else []:
            screen.line(f"{knowledge.causes[cause].title}: {percent(strength)}", indent="  - ")
    _sources(screen, check.sources)


def _remedy(knowledge: Knowledge, name: str, screen: Screen) -> None:
    remedy = knowledge.remedies[name]
    states = knowledge.catalogue.states
    screen.heading(f"{remedy.title} ({name})")
    screen.line(remedy.brief)
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
    screen.fact("Also said as", "; ".join(complaint.synonyms))
    screen.heading("Causes that show so, alone")
    scored = []
    for cause, each in knowledge.causes.items():
        if each.retired is None and set(each.shows) & set(complaint.says):
            chances = [
                sum(knowledge.likelihood(check, outcome, frozenset({cause})) for outcome in outcomes)
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
