"""What can be done in a drill, as a list that a trainee finds his way in.

Purpose: the number of a step, the list by area, and that of some words, by the set-up state that steps need.
Law: a step has the same number on every set, as its place in the knowledge says; what a set cannot have is left out.
Not here: which step words mean (see `drill_words`).
"""

from __future__ import annotations

import re
from collections import Counter

from ...engine import Knowledge
from ...engine.teaching import Drill
from ..terminal import Screen, minutes

REMEDIES_FROM = 200
"""Added to the place of a remedy, so that its number stays when a check comes to the knowledge."""


def number_of(knowledge: Knowledge, step: str) -> int:
    """The number of a check or remedy, the same on every set."""
    if step in knowledge.checks:
        return list(knowledge.checks).index(step) + 1
    return _first(knowledge) + list(knowledge.remedies).index(step) + 1


def step_numbered(knowledge: Knowledge, number: int) -> str:
    """The check or remedy with a number; empty where there is none."""
    names, place = list(knowledge.checks), number - 1
    if number > _first(knowledge):
        names, place = list(knowledge.remedies), number - _first(knowledge) - 1
    return names[place] if 0 <= place < len(names) else ""


def _first(knowledge: Knowledge) -> int:
    return max(REMEDIES_FROM, 100 * -(-len(knowledge.checks) // 100))


def has(title: str, text: str, whole: bool = False) -> bool:
    """Whether every word typed begins a word of the title, or is one. Text without a word fits every title, or none."""
    there = re.findall(r"[a-z0-9]+", title.lower().replace("_", " "))
    typed = re.findall(r"[a-z0-9]+", text.lower())
    if whole:
        return bool(typed) and set(typed) <= set(there)
    return all(any(word.startswith(part) for word in there) for part in typed)


def areas(screen: Screen, drill: Drill) -> None:
    """The areas, with how much there is in each."""
    counts = Counter((step.area, name in drill.checks) for name, step in drill.steps.items())
    screen.heading("What can be done")
    for area, title in drill.knowledge.catalogue.areas.items():
        checks, remedies = counts[area, True], counts[area, False]
        if checks or remedies:
            screen.line(
                f"{area.replace('_', ' ')}: {checks} checks, {remedies} remedies", "bold" if screen.drawn else ""
            )
            if not screen.narrow:
                screen.line(title, "dim", indent="  ")
    screen.note("list governor, list stopped, list spring: any words. list all: everything.")


def fitting(drill: Drill, some: str) -> frozenset[str]:
    """The steps that a list of these words shows; "all" for all."""
    checks, states = drill.checks, drill.knowledge.catalogue.states
    if some.lower() == "all":
        return frozenset(drill.steps)
    return frozenset(
        name
        for name, step in drill.steps.items()
        if has(
            f"{step.title} {name} {step.area} {states[step.state].title} {'checks' if name in checks else 'remedies'}",
            some,
        )
    )


def choices(screen: Screen, drill: Drill, some: str = "") -> None:
    """Checks and remedies with number and minutes, by the set-up state that they need.

    some: words of the title, the area, the set-up state or the kind of those that are wanted; "all" for all.
    """
    shown, wanted = False, fitting(drill, some)
    for kind in ("Checks", "Remedies"):
        for state, there in drill.knowledge.catalogue.states.items():
            rows = [
                (str(number_of(drill.knowledge, name)), f"{step.title}, {minutes(step.minutes)}")
                for name, step in drill.steps.items()
                if step.state == state and (name in drill.checks) == (kind == "Checks") and name in wanted
            ]
            if rows:
                screen.heading(f"{kind}: {there.title.lower()}")
                screen.options(rows)
                shown = True
    if not shown:
        screen.problem(f'nothing in the list is like "{some}"; list alone shows the areas')
        return
    screen.note("Minutes are hands-on; getting into the set-up comes on top. Type a number or words.")
