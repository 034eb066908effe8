"""Why a step is proposed, in plain words, from the numbers.

Purpose: one or two short sentences: what the step tells apart or cures, and what comes of each answer.
Law: every number in the text is one that the choice was made from; what is too unlikely to be planned over, and yet is
what an answer would speak of most, is told as well, each such cause by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import fsum
from typing import TYPE_CHECKING

from ..problems import in_sentence, percent

if TYPE_CHECKING:
    from ..compiler import Knowledge
    from .planner import Proposal

Sets = Sequence[tuple[frozenset[str], float]]


def reason(
    knowledge: Knowledge,
    proposal: Proposal,
    sets: Sets,
    unlocks: Sequence[str] = (),
    chances: Mapping[str, float] | None = None,
) -> str:
    """The reason for one proposal. unlocks: remedies that wait for this check by an order rule. chances: of each cause
    of the set, in the sets or not."""
    if proposal.kind == "check":
        return _check(knowledge, proposal.id, sets, unlocks, chances or {})
    if proposal.kind == "remedy":
        return _remedy(knowledge, proposal.id, sets)
    chances = marginals(sets)
    if proposal.kind == "done":
        nothing = fsum(weight for present, weight in sets if not present)
        left = f" Most likely left otherwise: {_named(knowledge, chances, 1)}." if chances else ""
        return f"Chance that nothing is wrong any more: {percent(nothing)}. The proof run settles it.{left}"
    return (
        f"Handing over costs about {proposal.expected:.0f} min; going on here is expected to cost as much or more. "
        f"Leading: {_named(knowledge, chances, 2)}."
    )


def outcomes(knowledge: Knowledge, check_id: str, sets: Sets) -> list[tuple[str, float, dict[str, float]]]:
    """For each outcome of a check: its id, its chance, and the causes' chances after it."""
    check = knowledge.checks[check_id]
    rows = [(present, weight, knowledge.distribution(check_id, present)) for present, weight in sets]
    total = fsum(weight for _, weight, _ in rows) or 1.0
    found = []
    for position, outcome in enumerate(check.outcomes):
        mass = fsum(weight * row[position] for _, weight, row in rows)
        after = [(present, weight * row[position] / mass) for present, weight, row in rows] if mass else []
        found.append((outcome.id, mass / total, marginals(after)))
    return found


def marginals(sets: Sets) -> dict[str, float]:
    """Chance of each cause over fault sets."""
    chances: dict[str, float] = {}
    for present, weight in sets:
        for cause in present:
            chances[cause] = chances.get(cause, 0.0) + weight
    return chances


def _check(
    knowledge: Knowledge, check_id: str, sets: Sets, unlocks: Sequence[str], chances: Mapping[str, float]
) -> str:
    before = marginals(sets)
    beside = {
        cause: chance
        for cause in knowledge.network.shows[check_id]
        if cause not in before and 0.0 < (chance := chances.get(cause, 0.0)) < 1.0
    }
    alone = {cause: knowledge.distribution(check_id, frozenset({cause})) for cause in beside}
    was_of = {**before, **beside}
    moved = []
    for name, chance, after in outcomes(knowledge, check_id, sets):
        if chance < 0.02:
            continue
        place = knowledge.checks[check_id].index(name)
        for cause, was in beside.items():  # Bayes, for a cause that has nothing to do with those of the sets
            shown = was * alone[cause][place] / chance
            after[cause] = shown / (1.0 - was + shown)
        rise = max(after, key=lambda cause: (after[cause] - was_of.get(cause, 0.0), cause), default=None)
        if rise is None or after[rise] - was_of.get(rise, 0.0) < 0.02:
            continue
        moved.append((after[rise] - was_of.get(rise, 0.0), name, rise, was_of.get(rise, 0.0), after[rise]))
    moved.sort(reverse=True)
    lines = [
        f"{name.replace('_', ' ')} points to {_title(knowledge, cause)} ({percent(old)} to {percent(new)})"
        for _, name, cause, old, new in moved[:3]
    ]
    text = ("If " + "; ".join(lines) + ".") if lines else ""
    if unlocks:
        waiting = knowledge.remedies[unlocks[0]].title
        text = f"{text} Comes before: {in_sentence(waiting)}.".strip()
    return text or "Rules out little, but costs little."


def _remedy(knowledge: Knowledge, remedy_id: str, sets: Sets) -> str:
    remedy = knowledge.remedies[remedy_id]
    chances = marginals(sets)
    cured = {cause: chance for cause, chance in remedy.cures.items() if cause in chances}
    lines = [
        f"{_title(knowledge, cause)} ({percent(chances[cause])}), cured {percent(chance)} of the time"
        for cause, chance in sorted(cured.items(), key=lambda item: -chances[item[0]])[:2]
    ]
    # What is left when it does not help is told of other causes: that its own may stay goes without saying.
    left = {cause: chance for cause, chance in chances.items() if cause not in cured}
    following = max(left, key=lambda cause: (left[cause], cause), default=None)
    rest = f" If that does not help, look next at {_title(knowledge, following)}." if following else ""
    return f"Acts on {'; '.join(lines)}.{rest}"


def _named(knowledge: Knowledge, chances: Mapping[str, float], count: int) -> str:
    leading = sorted(chances, key=lambda cause: (-chances[cause], cause))[:count]
    return ", ".join(f"{_title(knowledge, cause)} ({percent(chances[cause])})" for cause in leading)


def _title(knowledge: Knowledge, cause_id: str) -> str:
    return in_sentence(knowledge.causes[cause_id].title)
