"""Sense of the work: orders without a circle, cautions where there is danger, fittings, and moves that are all given.

Purpose: one small function for each rule about steps, set-up states and fittings (see `rules` for how they are run).
Law: a rule looks at trees and yields problems; it is named after what must hold.
Not here: causes and remedies (see `cause_rules`), bands and ranges (see `reading_rules`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

from ..problems import Problem, quoted
from .entries import Entries, Entry, listed_names, strings, table, text, value, yes
from .reference import used
from .source import ScalarNode


def order_has_no_circle(entries: Entries) -> Iterator[Problem]:
    """No step has to wait for itself. Rules of the kind `do_again` make nobody wait."""
    waits: dict[str, dict[str, Entry]] = {}
    for rule in entries.all("order"):
        if value(rule.node, "kind") != "do_again":
            for first in strings(rule.node, "before"):
                for then in strings(rule.node, "after"):
                    waits.setdefault(first.value, {}).setdefault(then.value, rule)
    for circle in _circles(waits):
        rule = max((waits[a][b] for a, b in pairwise(circle)), key=lambda entry: entry.key.line)
        what = f"the order runs in a circle: {' before '.join(circle)}"
        yield rule.problem("K045", what, "drop one of these rules")


def setting_has_no_circle(entries: Entries) -> Iterator[Problem]:
    """No step of setting needs, by way of others, itself; what is disturbed is done again, and makes nobody wait."""
    steps = {step.id: step for step in used(entries, "setting")}
    follows: dict[str, list[str]] = {}
    for step in steps.values():
        for needed in strings(step.node, "needs"):
            follows.setdefault(needed.value, []).append(step.id)
    for circle in _circles(follows):
        last = steps[circle[-1]]
        at = next((one for one in strings(last.node, "needs") if one.value == circle[-2]), last.key)
        what = f"setting runs in a circle: {' before '.join(circle)}"
        yield last.problem("K080", what, "drop one of these needs, or say `disturbs` of the one that is done again", at)


def setting_can_be_accepted(entries: Entries) -> Iterator[Problem]:
    """A step that turns, or has a start, has a reading that accepts it, and one after all others is in no one's way."""
    steps = {step.id: step for step in used(entries, "setting")}
    last = {name for name, step in steps.items() if yes(step.node, "last")}
    for step in steps.values():
        for key in ("adjuster", "pair", "starts"):
            if key in step.node.values and not table(step.node, "accepts").values:
                what = f"{quoted(step.id)} is turned and no reading accepts it"
                yield step.problem(
                    "K081", what, "name the check under `accepts`", _key(step, "accepts") or _key(step, key)
                )
        for needed in strings(step.node, "needs"):
            if needed.value in last and step.id not in last:
                what = f"{quoted(step.id)} needs {quoted(needed.value)}, which comes after every other step"
                yield step.problem("K081", what, "drop it, or let this one come last too", needed)


def _circles(follows: Mapping[str, Iterable[str]]) -> list[list[str]]:
    """One circle, first step repeated at the end, for each that a walk in the order written comes upon."""
    done: set[str] = set()
    found: list[list[str]] = []
    for start in follows:
        path: list[str] = []
        walk: list[Iterator[str]] = [iter([start])]
        while walk:
            step = next(walk[-1], None)
            if step is None:
                walk.pop()
                if path:
                    done.add(path.pop())
            elif step in path:
                found.append([*path[path.index(step) :], step])
            elif step not in done:
                path.append(step)
                walk.append(iter(follows.get(step, ())))
    return found


def dangers_have_cautions(entries: Entries) -> Iterator[Problem]:
    """What is marked dangerous says what the danger is, and so does a state in which the engine turns."""
    for state in entries.all("states"):
        if yes(state.node, "runs") and not yes(state.node, "dangerous") and not strings(state.node, "cautions"):
            what = f"the engine turns in {quoted(state.id)}, which names no caution"
            yield state.problem("K050", what, "name the dangers under `cautions`", _key(state, "runs"))
    for entry in entries.all("states", "checks", "remedies", "setting"):
        if yes(entry.node, "dangerous") and not strings(entry.node, "cautions"):
            what = f"{quoted(entry.id)} is dangerous and names no caution"
            yield entry.problem("K050", what, "name the dangers under `cautions`", _key(entry, "dangerous"))
    for complaint in entries.all("complaints"):
        if yes(complaint.node, "stop_first") and not strings(complaint.node, "cautions"):
            what = f"{quoted(complaint.id)} stops everything and names no caution"
            yield complaint.problem("K050", what, "name the dangers under `cautions`", _key(complaint, "stop_first"))


def runs_with_everything_on(entries: Entries) -> Iterator[Problem]:
    """A step that runs the set and takes something off says that it puts it back itself, or runs without it."""
    for step, state in _steps_in(entries):
        if not yes(state.node, "runs"):
            continue
        settled = {*listed_names(step.node, "puts_back"), *listed_names(step.node, "runs_without")}
        for fitting in strings(step.node, "takes_off"):
            if fitting.value not in settled:
                what = f"{quoted(step.id)} runs the set and takes off {quoted(fitting.value)}"
                advice = "name it under `puts_back` or `runs_without` as well, whichever is true"
                yield step.problem("K070", what, advice, fitting)


def fittings_are_asked_one_way(entries: Entries) -> Iterator[Problem]:
    """What a step needs on it does not run without, and only a step that runs the set runs without anything."""
    for step, state in _steps_in(entries):
        running = yes(state.node, "runs")
        for fitting in strings(step.node, "runs_without"):
            if not running:
                what = f"{quoted(step.id)} is done on a standing set and runs without {quoted(fitting.value)}"
                yield step.problem("K071", what, "leave out `runs_without`", fitting)
            elif fitting.value in listed_names(step.node, "needs_on"):
                what = f"{quoted(step.id)} needs {quoted(fitting.value)} on and runs without it"
                yield step.problem("K071", what, "leave it out of one of them", fitting)


def named_steps_are_there(entries: Entries) -> Iterator[Problem]:
    """Where a remedy names its steps by their numbers, it has so many; and it starts a standing set only."""
    for remedy in entries.all("remedies"):
        count = len(strings(remedy.node, "steps"))
        start = text(remedy.node, "runs_from")
        named = [*strings(remedy.node, "under_load"), *strings(remedy.node, "light_load"), *([start] if start else [])]
        for place in named:
            if place.value.isdecimal() and int(place.value) > count:
                what = f"{quoted(remedy.id)} has no step {place.value}"
                yield remedy.problem("K059", what, f"its steps are numbered 1 to {count}", place)
        state = entries.of("states").get(value(remedy.node, "state"))
        if start is not None and state is not None and yes(state.node, "runs"):
            what = f"{quoted(remedy.id)} begins on a set that runs in {quoted(state.id)}"
            yield remedy.problem("K059", what, "leave out `runs_from`", start)


def fittings_go_back_on_a_standing_set(entries: Entries) -> Iterator[Problem]:
    """Nothing is put back while the engine turns."""
    for fitting in entries.all("fittings"):
        state = entries.of("states").get(value(fitting.node, "state"))
        if state is not None and yes(state.node, "runs"):
            what = f"{quoted(fitting.id)} is put back on a running set"
            help_ = "name a state in which the set stands still"
            yield fitting.problem("K072", what, help_, text(fitting.node, "state"))


def _steps_in(entries: Entries) -> Iterator[tuple[Entry, Entry]]:
    """Every check and remedy with its set-up state, where that is known."""
    for step in entries.all("checks", "remedies"):
        state = entries.of("states").get(value(step.node, "state"))
        if state is not None:
            yield step, state


def moves_are_complete(entries: Entries) -> Iterator[Problem]:
    """The minutes from every set-up state to every other one are given."""
    states = list(entries.of("states"))
    for page, top in entries.tops["states"]:
        moves = table(top, "moves")
        for start in states:
            missing = [end for end in states if end != start and end not in table(moves, start).values]
            if missing and "moves" in top.values:
                at = moves.keys.get(start, top.keys["moves"])
                what = f"no minutes from {quoted(start)} to {', '.join(quoted(end) for end in missing)}"
                yield Problem.of("K054", page.file, at.line, at.column, what, "say how long the move takes")


def derived_readings_can_be_computed(entries: Entries) -> Iterator[Problem]:
    """A derived reading is the difference of two readings in its own unit."""
    checks = entries.of("checks")
    for check in checks.values():
        own = value(table(check.node, "reading"), "unit")
        for name in strings(table(check.node, "derived"), "minus"):
            other = checks.get(name.value)
            if other is None:
                continue
            unit = value(table(other.node, "reading"), "unit")
            if other.id == check.id or not own or unit != own or "derived" in other.node.values:
                what = f"{quoted(check.id)} cannot be computed from {quoted(name.value)}"
                yield check.problem("K057", what, "both must be other checks with a reading in the same unit", name)


def _key(entry: Entry, key: str) -> ScalarNode | None:
    return entry.node.keys.get(key)
