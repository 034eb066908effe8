"""What was found on the set, turned into the weights and clues that `belief` solves.

Purpose: findings, complaints and remedies in, tables out.

The life of a cause. A remedy ends one epoch of the set's condition and begins the next (epoch 0 is as found). A cause
is there from the start; a remedy that cures it removes it with its chance. So the states of a part are
"sound", "cause c until epoch n" and "cause c still there"; a finding is conditioned on the causes there in its epoch.

Findings that share a draw, and what complaints stand in for, come into one clue.

Law: pure; the same findings in the same order give the same tables.
Source: persistence after a repair as in Breese and Heckerman, UAI 1996.
Not here: what an answer and a complaint leave open (see `finding`), and the clue of those that belong together (see
`shared_draw`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from ..compiler import PROOF_RUN, Network
from .clue import Clue
from .finding import Complaining, Finding, as_looked_at, settled, unanswered, waiting_for
from .shared_draw import CauseSpan, clue_of

MOST_REMEMBERED = 2048
"""Clues that a memo holds at most: a few kilobytes each, and few jobs have more than a hundred."""


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
    findings = [as_looked_at(network, finding, reports) for finding in findings]
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
            clue = clue_of(network, spans, members, heard, again)
            if memo is not None:
                if len(memo) >= MOST_REMEMBERED:
                    memo.clear()
                memo[key] = clue
        clues.append(clue)
        facts.append(
            tuple((item.check, item.epoch) for item in members if not unanswered(item))
            + tuple((report.complaint, report.epoch) for report in heard)
        )
    made = {(finding.check, finding.epoch): finding for finding in findings}
    for report in reports:
        if not waiting_for(network, report, made):
            clues.append(Clue((1.0,), (settled(network, report, made),), {}))
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
        waiting = waiting_for(network, report, made)
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
