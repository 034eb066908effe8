"""What was found on the set, turned into the weights and clues that `belief` solves.

Purpose: findings, complaints and remedies in, tables out.

The life of a cause. A remedy ends one epoch of the set's condition and begins the next (epoch 0 is as found). A cause
is there from the start; a remedy that cures it removes it with its chance. So the states of a part are
"sound", "cause c until epoch n" and "cause c still there"; a finding is conditioned on the causes there in its epoch.

The same draw. Whether a cause makes a certain check show is one draw per set, so a second look on an unchanged set adds
nothing. Checks of one group (quarter, half, full load) mostly share that draw at other strengths, since a mild fault is
mild in all of them (`Network.alike`); with the rest of the chance each has its own. A proof run is drawn afresh each
time (see `graph.PROOF_RUN`).
The leak holds both misreadings, drawn afresh at each look, and
things that no listed cause explains, which are there again at the next look: `again` is the share of the latter.

Complaints and checks report on one hidden state. A complaint is said with one chance where the outcomes that it speaks
of are really there, and with another where they are not; an answer fits each outcome with its likelihood. So an answer
that leaves no doubt takes the place of the complaint, and one near a limit only weakens it. What a customer has seen
need not show while it is looked at: with the chance `missed` such a look finds the normal outcome instead.

Less sure never counts for more. An answer that is not sure is a true look with one chance and no look at all with the
rest, and everything here is linear in the likelihood of an answer: so the posterior is a weighted mean of the one after
the sure answer and the one without it.

Law: pure; the same findings in the same order give the same tables.
Source: persistence after a repair as in Breese and Heckerman, UAI 1996; the shared draw is our own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import fsum

from ..compiler import PROOF_RUN, Network, drawn
from .closing import Claim, ClueItem, closing, leaks_of
from .clue import Clue, Matrix

MOST_REMEMBERED = 2048
"""Clues that a memo holds at most: a few kilobytes each, and few jobs have more than a hundred."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One answer. `likelihood[i]` is P(this answer | outcome i): 1 for one outcome and 0 elsewhere where it is sure."""

    check: str
    epoch: int
    likelihood: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Complaining:
    """A complaint heard in an epoch. `if_so`, `if_not`: P(this answer | the checks would show it / would not).
    `missed`: chance that what it speaks of does not show at a look, which then finds the normal outcome."""

    complaint: str
    epoch: int
    if_so: float
    if_not: float
    missed: float = 0.0


@dataclass(frozen=True, slots=True)
class CauseSpan:
    """One state of a part: `cause` None is sound; the cause was there in epochs 0 to `last`."""

    cause: str | None
    last: int


@dataclass(frozen=True, slots=True)
class Tables:
    """Input for `belief.solve`, with what each number belongs to.

    `lives[part][state]` names the states; `facts[i]` are the (check or complaint, epoch) that clue i holds.
    """

    lives: tuple[tuple[CauseSpan, ...], ...]
    weights: tuple[tuple[float, ...], ...]
    clues: tuple[Clue, ...]
    facts: tuple[tuple[tuple[str, int], ...], ...]
    now: int


def tables(
    network: Network,
    priors: Mapping[str, float],
    findings: Sequence[Finding],
    reports: Sequence[Complaining] = (),
    remedies: Sequence[str] = (),
    memo: dict[object, Clue] | None = None,
    again: float = 0.0,
) -> Tables:
    """Weights and clues for everything known of a set.

    priors: cause id -> prior on this set; 0 removes the cause.
    findings: at most one per check and epoch (the latest answer).
    remedies: ids in the order carried out; remedy n ends epoch n.
    again: chance that what the leak shows at one look it shows at every look (in other epochs).
    memo: clues made before for the same network and `again`, whatever the set; kept by the caller, emptied when it is
    full.
    """
    findings = [_as_looked_at(network, finding, reports) for finding in findings]
    lives, weights = _lives(network, priors, remedies)
    spans: dict[str, list[tuple[int, int, int]]] = {}
    for part, states in enumerate(lives):
        for state, life in enumerate(states):
            if life.cause is not None:
                spans.setdefault(life.cause, []).append((part, state, life.last))
    there = tuple([cause for cause, prior in priors.items() if prior > 0.0])
    clues: list[Clue] = []
    facts: list[tuple[tuple[str, int], ...]] = []
    for members, heard in _clusters(network, findings, reports):
        key = (there, tuple(members), tuple(heard), tuple(remedies))
        clue = None if memo is None else memo.get(key)
        if clue is None:
            clue = _clue(network, spans, members, heard, again)
            if memo is not None:
                if len(memo) >= MOST_REMEMBERED:
                    memo.clear()
                memo[key] = clue
        clues.append(clue)
        facts.append(
            tuple((item.check, item.epoch) for item in members if not _waiting(item))
            + tuple((report.complaint, report.epoch) for report in heard)
        )
    made = {(finding.check, finding.epoch): finding for finding in findings}
    for report in reports:
        if not _waiting_for(network, report, made):
            clues.append(Clue((1.0,), (_settled(network, report, made),), {}))
            facts.append(((report.complaint, report.epoch),))
    return Tables(lives, weights, tuple(clues), tuple(facts), len(remedies))


def _lives(
    network: Network, priors: Mapping[str, float], remedies: Sequence[str]
) -> tuple[tuple[tuple[CauseSpan, ...], ...], tuple[tuple[float, ...], ...]]:
    lives: list[tuple[CauseSpan, ...]] = []
    weights: list[tuple[float, ...]] = []
    now = len(remedies)
    for causes in network.parts.values():
        states = [CauseSpan(None, -1)]
        values = [1.0 - fsum(priors.get(cause, 0.0) for cause in causes)]
        for cause in causes:
            left = priors.get(cause, 0.0)
            if left <= 0.0:
                continue
            for epoch, remedy in enumerate(remedies):
                chance = network.cures[remedy].get(cause, 0.0)
                if chance > 0.0:
                    states.append(CauseSpan(cause, epoch))
                    values.append(left * chance)
                    left *= 1.0 - chance
            states.append(CauseSpan(cause, now))
            values.append(left)
        if len(states) > 1:
            lives.append(tuple(states))
            weights.append(tuple(values))
    return tuple(lives), tuple(weights)


def _clusters(
    network: Network, findings: Sequence[Finding], reports: Sequence[Complaining]
) -> list[tuple[list[Finding], list[Complaining]]]:
    """Findings that share a draw, and complaints with what they stand in for, belong in one clue."""
    made = {(finding.check, finding.epoch): finding for finding in findings}
    entries: dict[tuple[str, int], Finding] = dict(made)
    links: dict[str, str] = {}

    def root(name: str) -> str:
        while links.get(name, name) != name:
            name = links[name]
        return name

    heard: list[tuple[Complaining, str]] = []
    for report in reports:
        waiting = _waiting_for(network, report, made)
        if not waiting:
            continue
        for check in waiting:
            silent = Finding(check, report.epoch, (1.0,) * len(network.leak[check]))
            entries.setdefault((check, report.epoch), silent)
            links[root(network.group[check])] = root(network.group[waiting[0]])
        heard.append((report, network.group[waiting[0]]))
    clusters: dict[str, tuple[list[Finding], list[Complaining]]] = {}
    for entry in entries.values():
        # What a cause shows in one proof run says nothing of the next: each is a clue of its own.
        group = f"{PROOF_RUN} {entry.epoch}" if entry.check == PROOF_RUN else root(network.group[entry.check])
        clusters.setdefault(group, ([], []))[0].append(entry)
    for report, group in heard:
        clusters[root(group)][1].append(report)
    return list(clusters.values())


def _as_looked_at(network: Network, finding: Finding, reports: Sequence[Complaining]) -> Finding:
    """The finding where what a customer speaks of may not have shown: then it is as likely as for normal."""
    missed: dict[int, float] = {}
    for report in reports:
        if report.epoch == finding.epoch and report.missed:
            for position in network.says[report.complaint][1].get(finding.check, ()):
                missed[position] = max(report.missed, missed.get(position, 0.0))
    missed.pop(0, None)
    if not missed:
        return finding
    likelihood = list(finding.likelihood)
    for position, chance in missed.items():
        likelihood[position] = (1.0 - chance) * likelihood[position] + chance * finding.likelihood[0]
    return Finding(finding.check, finding.epoch, tuple(likelihood))


def _waiting_for(network: Network, report: Complaining, made: Mapping[tuple[str, int], Finding]) -> list[str]:
    """Checks of a complaint that leave open whether what it says is there; none where that is settled."""
    mode, says = network.says[report.complaint]
    waiting = []
    for check, outcomes in says.items():
        fits = _fitting(network, check, made.get((check, report.epoch)))
        if fits <= set(outcomes) if mode == "any" else fits.isdisjoint(outcomes):
            return []
        if not fits <= set(outcomes) and not fits.isdisjoint(outcomes):
            waiting.append(check)
    return waiting


def _settled(network: Network, report: Complaining, made: Mapping[tuple[str, int], Finding]) -> float:
    """P(what was said), where the answers leave no doubt whether what the complaint says is there."""
    mode, says = network.says[report.complaint]
    shown = [
        _fitting(network, check, made.get((check, report.epoch))) <= set(outcomes) for check, outcomes in says.items()
    ]
    return report.if_so if (any(shown) if mode == "any" else all(shown)) else report.if_not


def _fitting(network: Network, check: str, finding: Finding | None) -> set[int]:
    """Outcomes that an answer leaves possible."""
    if finding is None:
        return set(range(len(network.leak[check])))
    return {place for place, value in enumerate(finding.likelihood) if value > 0.0}


def _clue(
    network: Network,
    spans: Mapping[str, Sequence[tuple[int, int, int]]],
    members: Sequence[Finding],
    heard: Sequence[Complaining],
    again: float,
) -> Clue:
    """spans: cause id -> (part, state, last epoch) of each state in which it is there."""
    items = [_item(network, member, heard) for member in members]
    claims = _claims(network, members, heard, items)
    leaks = leaks_of(network, items, again)
    start = tuple(item.classes[0] for item in items)
    # Many causes show the same as others, as far as it counts here: what that does to the clue is worked out once.
    bearing: dict[tuple[int, int], _Shown] = {}
    for place, item in enumerate(items):
        for cause, row in network.shows[item.check].items():
            for part, state, last in spans.get(cause, ()):
                if item.epoch <= last:
                    bearing[part, state] = (*bearing.get((part, state), ()), (place, _of_classes(row, item.classes)))
    shown = {seen: _activation(network, items, seen) for seen in dict.fromkeys(bearing.values())}
    reached, moves = _closure(start, shown.values())
    matrices = {seen: _matrix(activation, len(reached), moves) for seen, activation in shown.items()}
    return Clue(
        tuple(1.0 if key == start else 0.0 for key in reached),
        tuple(closing(key, items, leaks, claims) for key in reached),
        {place: matrices[seen] for place, seen in bearing.items()},
    )


def _item(network: Network, member: Finding, heard: Sequence[Complaining]) -> ClueItem:
    """Outcomes next to each other that mean the same to everything heard become one class."""
    labels = [
        (
            value,
            tuple(
                report.epoch == member.epoch and position in network.says[report.complaint][1].get(member.check, ())
                for report in heard
            ),
        )
        for position, value in enumerate(member.likelihood)
    ]
    classes, values = [0], [member.likelihood[0]]
    for before, label in pairwise(labels):
        if label != before:
            values.append(label[0])
        classes.append(len(values) - 1)
    while len(values) > 1 and values[-1] == 0.0:
        top = len(values) - 1
        classes = [-1 if found == top else found for found in classes]
        values.pop()
    return ClueItem(member.check, member.epoch, tuple(classes), tuple(values))


def _claims(
    network: Network, members: Sequence[Finding], heard: Sequence[Complaining], items: Sequence[ClueItem]
) -> list[Claim]:
    answered = {(member.check, member.epoch): member for member in members if not _waiting(member)}
    claims = []
    for report in heard:
        mode, says = network.says[report.complaint]
        waiting = _waiting_for(network, report, answered)
        classes = {
            place: frozenset(item.classes[position] for position in says[item.check]).difference({-1})
            for place, item in enumerate(items)
            if item.epoch == report.epoch and item.check in waiting
        }
        claims.append(Claim(mode, classes, report.if_so, report.if_not))
    return claims


def _waiting(member: Finding) -> bool:
    """No answer yet: only there because a complaint speaks of it."""
    return all(value == 1.0 for value in member.likelihood)


_Classes = tuple[int, ...]
_Shown = tuple[tuple[int, tuple[float, ...]], ...]
"""Items that a cause bears on, by place, each with the chance of every class from that cause alone. What is ruled out
for good lies above all that is left, so it is cut off before the draw."""


def _activation(network: Network, items: Sequence[ClueItem], seen: _Shown) -> dict[_Classes, float]:
    """Joint distribution of the classes that one cause produces: one draw per group of checks."""
    start = tuple(item.classes[0] for item in items)
    if len(seen) == 1:
        ((place, left),) = seen
        before, after = start[:place], start[place + 1 :]
        return {(*before, found, *after): chance for found, chance in enumerate(left) if chance > 0.0}
    groups: dict[str, list[tuple[int, tuple[float, ...]]]] = {}
    for place, left in seen:
        groups.setdefault(network.group[items[place].check], []).append((place, left))
    joint: dict[_Classes, float] = {start: 1.0}
    for members in groups.values():
        checks = tuple(items[place].check for place, _ in members)
        shown = drawn(checks, tuple(left for _, left in members), network.alike)
        following: dict[_Classes, float] = {}
        for base, weight in joint.items():
            for found, chance in shown:
                classes = list(base)
                for (place, _), each in zip(members, found, strict=True):
                    classes[place] = each
                key = tuple(classes)
                following[key] = following.get(key, 0.0) + weight * chance
        joint = following
    return joint


@lru_cache(maxsize=8192)
def _of_classes(distribution: tuple[float, ...], classes: _Classes) -> tuple[float, ...]:
    """Chance of each class in turn, without what is ruled out."""
    sums = [0.0] * (max(classes) + 1)
    for value, found in zip(distribution, classes, strict=True):
        if found >= 0:
            sums[found] += value
    return tuple(sums)


def _closure(
    start: _Classes, activations: Iterable[Mapping[_Classes, float]]
) -> tuple[list[_Classes], dict[_Classes, list[int]]]:
    """The states that a clue can come to, and for each thing that a cause can show the state that follows on each."""
    steps = {key for activation in activations for key in activation}
    reached = {start}
    frontier = [start]
    joined: dict[tuple[_Classes, _Classes], _Classes] = {}
    while frontier:
        state = frontier.pop()
        for step in steps:
            following = joined[state, step] = tuple(map(max, state, step))
            if following not in reached:
                reached.add(following)
                frontier.append(following)
    states = sorted(reached)
    index = {key: position for position, key in enumerate(states)}
    return states, {step: [index[joined[state, step]] for state in states] for step in steps}


def _matrix(activation: Mapping[_Classes, float], count: int, moves: Mapping[_Classes, Sequence[int]]) -> Matrix:
    rows: list[dict[int, float]] = [{} for _ in range(count)]
    for step, chance in activation.items():
        for source, target in enumerate(moves[step]):
            row = rows[target]
            row[source] = row.get(source, 0.0) + chance
    return tuple(tuple(sorted(row.items())) for row in rows)
