"""One page on two items: what would tell them apart, and what they share.

Purpose: for two causes every check by its power to tell them apart, in plain words; for two checks the causes that each
shows; for a cause and a check how the one shows in the other; for two remedies or a remedy and a cause what is cured.
Law: reads the knowledge, changes nothing; each cause is taken to be there alone.
Not here: the power of a check (see `review.contrast`), one item (see `page`).
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable

from ...engine import HertzwrightError, Knowledge
from ...engine.problems import in_sentence
from ...engine.review import (
    ALIKE,
    DiscriminatingPower,
    causes_borne_on,
    discriminating_powers,
    indistinct,
    outcome_chances,
)
from ..terminal import Screen, minutes, percent

Item = tuple[str, str]
_FEW = 8
_STRENGTHS = ((100.0, "settles it"), (10.0, "strong"), (3.0, "fair"), (1.5, "weak"), (0.0, "next to nothing"))


class PairError(HertzwrightError):
    """Two items that cannot be compared."""


def show(knowledge: Knowledge, first: Item, second: Item, screen: Screen, as_json: bool = False) -> int:
    """Print the page of a pair, each given as (kind, id). Raises PairError."""
    if first[1] == second[1]:
        raise PairError(f"{first[1]} twice; give two different ids, or one for its page")
    kinds = (first[0], second[0])
    if kinds in (("check", "cause"), ("remedy", "cause")):
        first, second, kinds = second, first, (kinds[1], kinds[0])
    pages: dict[tuple[str, str], tuple[Callable[..., None], Callable[..., dict[str, object]]]] = {
        ("cause", "cause"): (_causes, _causes_plain),
        ("check", "check"): (_checks, _checks_plain),
        ("cause", "check"): (_shown, _shown_plain),
        ("cause", "remedy"): (_cured, _cured_plain),
        ("remedy", "remedy"): (_remedies, _remedies_plain),
    }
    if kinds not in pages:
        raise PairError(
            f"{first[1]} is a {first[0]} and {second[1]} a {second[0]}; what can be compared is two causes, "
            "two checks, two remedies, a cause and a check, or a cause and a remedy"
        )
    told, listed = pages[kinds]
    if as_json:
        found = {"version": 1, "kinds": list(kinds), "ids": [first[1], second[1]]}
        print(json.dumps({**found, **listed(knowledge, first[1], second[1])}, sort_keys=True, indent=2))
    else:
        told(knowledge, first[1], second[1], screen)
    return 0


# ---- two causes


def contrast(knowledge: Knowledge, each: DiscriminatingPower, first: str = "here", second: str = "there") -> str:
    """`Gap at the stop: none 75 % here, 10 % there`."""
    check = knowledge.checks[each.check]
    return f"{check.title}: {_named(each.outcome)} {percent(each.first)} {first}, {percent(each.second)} {second}"


def factor(value: float) -> str:
    """A factor by which odds change on average, in plain words."""
    if math.isinf(value) or value >= 1000.0:
        return "over 1000 to 1"
    return f"{value:.1f} to 1" if value < 10.0 else f"{value:.0f} to 1"


def _strength(each: DiscriminatingPower) -> str:
    mean = math.exp(min(each.mean, 50.0))
    return next(word for least, word in _STRENGTHS if mean >= least)


def _causes(knowledge: Knowledge, first: str, second: str, screen: Screen) -> None:
    one, two = knowledge.causes[first], knowledge.causes[second]
    screen.heading("What tells them apart")
    for letter, cause in (("A", one), ("B", two)):
        retired = " RETIRED." if cause.retired else ""
        screen.line(f"{letter}: {cause.title} ({cause.id}), {percent(knowledge.prior(cause.id))} of sets.{retired}")
    if one.part and one.part == two.part:
        screen.line("They exclude one another: the part is in one state or the other.")
    found = discriminating_powers(knowledge, first, second)
    telling = [each for each in found if each.mean >= ALIKE]
    if not telling:
        screen.line("No check tells them apart.", "bold")
    if telling:
        best = max(telling, key=lambda each: each.per_minute)
        screen.fact(
            "Most for its minutes",
            f"{knowledge.checks[best.check].title} ({best.check}), {minutes(best.minutes)} of work without the set-up",
        )
    screen.line()
    states = knowledge.catalogue.states
    for each in telling[:_FEW]:
        screen.line(f"{knowledge.checks[each.check].title} ({each.check}): {_strength(each)}", "bold")
        here, there = each.factors
        screen.line(f"{_named(each.outcome)}: A {percent(each.first)}, B {percent(each.second)}", indent="  ")
        screen.line(f"odds move {factor(here)} toward A if it is A, {factor(there)} toward B if B", indent="  ")
        state = states[knowledge.checks[each.check].state].title
        screen.line(f"{minutes(each.minutes)}, {in_sentence(state)}", indent="  ")
    if len(telling) > _FEW:
        screen.line(f"And {len(telling) - _FEW} weaker ones.")
    same = indistinct(found)
    if same:
        screen.heading("Where they look the same")
        screen.line("; ".join(f"{knowledge.checks[each.check].title} ({each.check})" for each in same))
    screen.heading("Cured by")
    for letter, name, cause in (("A", first, one), ("B", second, two)):
        for remedy in cause.remedies:
            if remedy not in _shared(knowledge, first, second):
                known = knowledge.remedies[remedy]
                screen.line(f"{letter} alone: {known.title} ({remedy}), {percent(known.cures[name])} of the time")
    for remedy in _shared(knowledge, first, second):
        known = knowledge.remedies[remedy]
        screen.line(
            f"Both: {known.title} ({remedy}), A {percent(known.cures[first])} and B {percent(known.cures[second])} "
            "of the time; telling them apart is not needed for it"
        )
    screen.note("Odds: of one look, on average, each cause being there alone.")


def _shared(knowledge: Knowledge, first: str, second: str) -> list[str]:
    others = knowledge.causes[second].remedies
    return [remedy for remedy in knowledge.causes[first].remedies if remedy in others]


def _causes_plain(knowledge: Knowledge, first: str, second: str) -> dict[str, object]:
    found = discriminating_powers(knowledge, first, second)

    def finite(value: float) -> float | None:
        return None if math.isinf(value) else value

    best = max(found, key=lambda each: each.per_minute, default=None)
    return {
        "apart_by": [
            {
                "check": each.check,
                "outcome": each.outcome,
                "first": each.first,
                "second": each.second,
                "nats_where_first": finite(each.toward_first),
                "nats_where_second": finite(each.toward_second),
                "minutes": each.minutes,
                "state": knowledge.checks[each.check].state,
            }
            for each in found
        ],
        "most_for_its_minutes": best.check if best is not None and best.mean >= ALIKE else None,
        "same_in": [each.check for each in indistinct(found)],
        "remedies_shared": _shared(knowledge, first, second),
    }


# ---- other pairs


def _checks(knowledge: Knowledge, first: str, second: str, screen: Screen) -> None:
    one, two = knowledge.checks[first], knowledge.checks[second]
    screen.heading("Which causes each shows")
    for letter, check in (("A", one), ("B", two)):
        state = knowledge.catalogue.states[check.state].title
        screen.line(f"{letter}: {check.title} ({check.id}), {minutes(check.minutes)}, {in_sentence(state)}")
    if one.group and one.group == two.group:
        screen.line("They look at the same thing again: the second says less than it seems to.")
    for check, other in ((one, two), (two, one)):
        if check.derived_from and other.id in check.derived_from:
            screen.line(f"{check.title} is worked out from {other.title}: the two count once.")
    found = causes_borne_on(knowledge, first, second)
    groups = (
        ("Both", [row for row in found if row.first is not None and row.second is not None]),
        ("A only", [row for row in found if row.second is None]),
        ("B only", [row for row in found if row.first is None]),
    )
    for title, rows in groups:
        if not rows:
            continue
        screen.heading(title)
        for row in rows:
            told = [
                f"{letter} {percent(chance)}"
                for letter, chance in (("A", row.first), ("B", row.second))
                if chance is not None
            ]
            screen.line(f"{knowledge.causes[row.cause].title} ({row.cause}): {', '.join(told)}", hanging="  ")
    leaks = [1.0 - outcome_chances(knowledge, name)[0] for name in (first, second)]
    screen.note(
        "How often the answer is not the normal one with that cause alone; with none: "
        f"A {percent(leaks[0])}, B {percent(leaks[1])}."
    )


def _checks_plain(knowledge: Knowledge, first: str, second: str) -> dict[str, object]:
    found = causes_borne_on(knowledge, first, second)
    return {"causes": [{"id": row.cause, "first": row.first, "second": row.second} for row in found]}


def _shown(knowledge: Knowledge, cause: str, check: str, screen: Screen) -> None:
    known = knowledge.checks[check]
    screen.heading(f"{knowledge.causes[cause].title} in {known.title}")
    if cause not in known.parents:
        screen.line(f"{cause} does not bear on {check}: its answers are as on any other set.")
    with_it = outcome_chances(knowledge, check, cause)
    without = outcome_chances(knowledge, check)
    for outcome, here, there in zip(known.outcomes, with_it, without, strict=True):
        screen.line(f"{_named(outcome)}: {percent(here)} with it, {percent(there)} with nothing wrong")


def _shown_plain(knowledge: Knowledge, cause: str, check: str) -> dict[str, object]:
    known = knowledge.checks[check]
    rows = zip(
        known.outcomes,
        outcome_chances(knowledge, check, cause),
        outcome_chances(knowledge, check),
        strict=True,
    )
    return {
        "bears_on_it": cause in known.parents,
        "outcomes": [{"id": outcome.id, "with": here, "without": there} for outcome, here, there in rows],
    }


def _cured(knowledge: Knowledge, cause: str, remedy: str, screen: Screen) -> None:
    known = knowledge.remedies[remedy]
    screen.heading(f"{knowledge.causes[cause].title} and {known.title}")
    if cause in known.cures:
        chance, work = percent(known.cures[cause]), minutes(known.minutes)
        screen.line(f"{remedy} cures {cause} {chance} of the time, {work} of work.")
    else:
        cured = ", ".join(knowledge.causes[cause].remedies)
        screen.line(f"{remedy} does not cure {cause}; {cured} {'does' if ',' not in cured else 'do'}.")


def _cured_plain(knowledge: Knowledge, cause: str, remedy: str) -> dict[str, object]:
    return {
        "chance_of_cure": knowledge.remedies[remedy].cures.get(cause, 0.0),
        "remedies": list(knowledge.causes[cause].remedies),
    }


def _remedies(knowledge: Knowledge, first: str, second: str, screen: Screen) -> None:
    one, two = knowledge.remedies[first], knowledge.remedies[second]
    screen.heading("What each cures")
    for letter, remedy in (("A", one), ("B", two)):
        screen.line(f"{letter}: {remedy.title} ({remedy.id}), {minutes(remedy.minutes)} of work")
    for cause in dict.fromkeys((*one.cures, *two.cures)):
        told = [
            f"{letter} {percent(remedy.cures[cause])}"
            for letter, remedy in (("A", one), ("B", two))
            if cause in remedy.cures
        ]
        screen.line(f"{knowledge.causes[cause].title} ({cause}): {', '.join(told)}", hanging="  ")
    for rule in knowledge.catalogue.order.values():
        if {first, second} <= {*rule.before, *rule.after}:
            screen.fact("Order", f"{rule.why} ({rule.id})")


def _remedies_plain(knowledge: Knowledge, first: str, second: str) -> dict[str, object]:
    return {"cures": {name: dict(knowledge.remedies[name].cures) for name in (first, second)}}


def _named(outcome: str) -> str:
    return outcome.replace("_", " ")
