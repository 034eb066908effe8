"""What was answered and said of a set, and what that leaves open.

Purpose: an answer to a check and a complaint heard, each in an epoch of the set's condition; which outcomes an answer
leaves possible, and so what a complaint still stands in for.

Complaints and checks report on one hidden state. A complaint is said with one chance where the outcomes that it speaks
of are really there, and with another where they are not; an answer fits each outcome with its likelihood. So an answer
that leaves no doubt takes the place of the complaint, and one near a limit only weakens it. What a customer has seen
need not show while it is looked at: with the chance `missed` such a look finds the normal outcome instead.

Less sure never counts for more. An answer that is not sure is a true look with one chance and no look at all with the
rest, and everything here is linear in the likelihood of an answer: so the posterior is a weighted mean of the one after
the sure answer and the one without it.

Law: pure.
Not here: how likely the causes make it (see `shared_draw`), and how an answer is read (see the room `readings`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..compiler import Network


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


def as_looked_at(network: Network, finding: Finding, reports: Sequence[Complaining]) -> Finding:
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


def unanswered(member: Finding) -> bool:
    """No answer yet: only there because a complaint speaks of it."""
    return all(value == 1.0 for value in member.likelihood)


def waiting_for(network: Network, report: Complaining, made: Mapping[tuple[str, int], Finding]) -> list[str]:
    """Checks of a complaint that leave open whether what it says is there; none where that is settled."""
    mode, says = network.says[report.complaint]
    waiting = []
    for check, outcomes in says.items():
        fits = fitting(network, check, made.get((check, report.epoch)))
        if fits <= set(outcomes) if mode == "any" else fits.isdisjoint(outcomes):
            return []
        if not fits <= set(outcomes) and not fits.isdisjoint(outcomes):
            waiting.append(check)
    return waiting


def settled(network: Network, report: Complaining, made: Mapping[tuple[str, int], Finding]) -> float:
    """P(what was said), where the answers leave no doubt whether what the complaint says is there."""
    mode, says = network.says[report.complaint]
    shown = [
        fitting(network, check, made.get((check, report.epoch))) <= set(outcomes) for check, outcomes in says.items()
    ]
    return report.if_so if (any(shown) if mode == "any" else all(shown)) else report.if_not


def fitting(network: Network, check: str, finding: Finding | None) -> set[int]:
    """Outcomes that an answer leaves possible."""
    if finding is None:
        return set(range(len(network.leak[check])))
    return {place for place, value in enumerate(finding.likelihood) if value > 0.0}
