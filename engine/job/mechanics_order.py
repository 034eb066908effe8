"""A mechanic's order: what comes first whatever its price says.

Purpose: the planner's proposals, best first -> the same with those in front that the trade does first.
Law: pure; nothing is added but a look at what is in the hand or before a start, nothing is dropped. What comes before
what is knowledge: order rules (`prefer`, `glance_first`, `before_start`), the remedy of a fault at sight (`mend`), the
looks of what is off (`looks`).
Not here: prices (see `planning`), what an order rule holds back altogether (see `order`), words (see `advice`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from math import fsum

from ..planning import PlanningProblem, Proposal
from .equipment import lacking
from .fittings import in_hand, to_put_back
from .generating_set import GeneratingSet
from .sight import glances, kept_for_start, no_reason_to_stop, settled_checks, to_mend, waits
from .state import JobState

Proposals = tuple[Proposal, ...]
Sets = Sequence[tuple[frozenset[str], float]]
"""Fault sets with weights."""
_NOTHING = 1e-6
_SHORT = 0.15
"""A look is short beside a remedy where it takes at most this share of its minutes: two of a quarter of an hour."""
_HALF = 0.5
_NEARLY_SURE = 0.8
"""A remedy needed with this probability is done, or its cause confirmed, before anything else is looked at."""
_QUICK = 15.0
"""Minutes of a remedy, without its proof run, for which one that is likely needed is not kept waiting."""
_READ = 3.0
"""Minutes of what is read at a glance; a start from hot takes longer, and is no reading of the set that runs."""


def in_mechanics_order(
    genset: GeneratingSet,
    problem: PlanningProblem,
    state: JobState,
    proposals: Proposals,
    sets: Sets,
    owed: Sequence[str],
    posterior: Mapping[str, float],
) -> Proposals:
    """Proposals, best first, in a mechanic's order.

    problem: what they were planned with. sets: fault sets with weights. owed: checks that the record wants as found.
    posterior: probability of each cause.
    """
    proposals = _seen_first(genset, proposals)
    proposals = _preferred(genset, proposals)
    proposals = _seen_mended(genset, proposals, state, sets)
    proposals = _nearly_sure(genset, proposals, sets)
    proposals = _not_given_up(genset, problem, proposals, state, sets)
    proposals, opening = _way_opened(genset, proposals, state, sets)
    proposals = _at_sight(genset, proposals, state, posterior)
    proposals = _not_stopped_for_it(genset, proposals, state, posterior, opening)
    proposals = _owed_first(genset, proposals, state, owed, _complained_of(genset, state))
    proposals = _in_hand(genset, proposals, state)
    return _glance_first(genset, proposals, state, posterior)


def _seen_first(genset: GeneratingSet, proposals: Proposals) -> Proposals:
    """The same, but a long remedy waits for a short look that would confirm its cause and saves what it takes.

    What is left after a look is never priced too low (see `planning`), so a look that comes within its own minutes
    of the remedy costs nothing and may save the whole of it.
    """
    best = proposals[0]
    if best.kind != "remedy":
        return proposals
    for each in confirming(genset, proposals):
        if each.expected - best.expected <= each.minutes:
            return _put_first(proposals, each)
    return proposals


def _not_given_up(
    genset: GeneratingSet, problem: PlanningProblem, proposals: Proposals, state: JobState, sets: Sets
) -> Proposals:
    """The same, but a set is not handed over with a fault that is as good as found and can be mended in less time, nor
    before a quick remedy that was not tried and is more likely needed than not."""
    if proposals[0].kind != "refer":
        return proposals
    usually, total = genset.knowledge.catalogue.words["usually"].value, fsum(weight for _, weight in sets)
    likely = {name: _weight(sets, remedy.cures.keys()) / total for name, remedy in genset.remedies.items()}
    for name in sorted(likely, key=lambda name: -likely[name]):
        remedy = genset.remedies[name]
        untried = remedy.minutes <= _QUICK and name not in state.remedies
        if remedy.minutes < problem.refer and likely[name] >= (_HALF if untried else usually):
            first = problem.look_first.get(name, ())
            for each in proposals:
                if each.id == name or each.id in first:
                    return _put_first(proposals, each)
    return proposals


def _preferred(genset: GeneratingSet, proposals: Proposals) -> Proposals:
    """The same, but of readings that tell much the same the one that an order rule prefers comes first, where it is
    expected to cost no more than its own minutes."""
    best = proposals[0]
    rules = genset.knowledge.catalogue.order.values()
    liked = {name for rule in rules if rule.kind == "prefer" and best.id in rule.after for name in rule.before}
    for each in proposals[1:] if liked else ():
        if each.id in liked and each.expected - best.expected <= genset.checks[each.id].minutes:
            return _put_first(proposals, each)
    return proposals


def _seen_mended(genset: GeneratingSet, proposals: Proposals, state: JobState, sets: Sets) -> Proposals:
    """The same, but a fault that was seen is mended before more is looked for: a remedy that is usually needed, for
    a cause that a look has shown with nothing that bears on it touched since."""
    knowledge, settled = genset.knowledge, settled_checks(genset, state)
    seen = {
        cause
        for name, made in state.latest.items()
        if name in settled and knowledge.checks[name].kind == "look" and made.answer.outcomes
        for cause, chances in knowledge.network.shows[name].items()
        if knowledge.checks[name].normal not in made.answer.outcomes
        and fsum(chances[knowledge.checks[name].index(outcome)] for outcome in made.answer.outcomes) >= _HALF
    }
    if not seen or proposals[0].kind != "check":
        return proposals
    total = fsum(weight for _, weight in sets)
    usually = knowledge.catalogue.words["usually"].value
    for each in proposals:
        cured = seen & genset.remedies[each.id].cures.keys() if each.kind == "remedy" else frozenset()
        if cured and _weight(sets, cured) >= usually * total:
            return _put_first(proposals, each)
    if _weight(sets, seen) < usually * total:
        return proposals
    sometimes = knowledge.catalogue.words["sometimes"].value
    return _parted(genset, proposals, [cause for cause in seen if _weight(sets, {cause}) >= sometimes * total])


def _parted(genset: GeneratingSet, proposals: Proposals, seen: Collection[str]) -> Proposals:
    """The same, but where several remedies may mend what was seen, a look that shows one of its causes comes before a
    check of other things that is cheaper by no more than that look's own minutes."""
    best, distribution = proposals[0], genset.knowledge.distribution
    for each in proposals:
        check = genset.checks.get(each.id) if each.kind == "check" else None
        if check is None or check.kind != "look" or each.expected - best.expected > each.minutes:
            continue
        sound = distribution(each.id, frozenset())[0]
        if any(distribution(each.id, frozenset({cause}))[0] <= _HALF * sound for cause in seen):
            return _put_first(proposals, each)
    return proposals


def _nearly_sure(genset: GeneratingSet, proposals: Proposals, sets: Sets) -> Proposals:
    """The same, but a remedy that is needed very often, by all that is known, comes before checks of other things, and
    before it only a short look that would confirm its cause.

    The way that begins with the remedy may be priced higher by its own minutes: less than that is not to be lost by it.
    """
    best, total = proposals[0], fsum(weight for _, weight in sets)
    if best.kind != "check":
        return proposals
    for each in proposals:
        if each.kind == "remedy" and each.expected - best.expected <= each.minutes:
            cured = genset.remedies[each.id].cures.keys()
            if _weight(sets, cured) < _NEARLY_SURE * total:
                continue
            first = _put_first(proposals, each)
            leading = max(cured, key=lambda cause: (_weight(sets, {cause}), cause))
            looks = [
                look for look in confirming(genset, first, (leading,)) if look.expected - best.expected <= look.minutes
            ]
            look = looks[0] if looks else each
            return _put_first(first, look)
    return proposals


def _way_opened(
    genset: GeneratingSet, proposals: Proposals, state: JobState, sets: Sets
) -> tuple[Proposals, frozenset[str]]:
    """The same, but where a quick remedy is more likely needed than not and waits for nothing but looks by an order
    rule, these come before checks of other things, the nearest first; and those looks.

    Step by step each of them looks dear beside a reading where the set stands, since alone it tells little: so all
    such readings came first, and the remedy half an hour after its cause was clear.
    """
    total = fsum(weight for _, weight in sets)
    likely = [
        (_weight(sets, remedy.cures.keys()), name)
        for name, remedy in genset.remedies.items()
        if remedy.minutes <= _QUICK and name not in state.remedies
    ]
    weight, remedy = max(likely, default=(0.0, ""))
    best, costs = proposals[0], genset.knowledge.catalogue.costs
    if best.kind != "check" or weight <= _HALF * total or any(each.id == remedy for each in proposals):
        return proposals, frozenset()
    waiting = _waits_for(genset, state, sets, remedy)
    looks = [each for each in proposals if each.id in waiting]
    looks.sort(key=lambda each: (costs.move(state.here, genset.checks[each.id].state), each.expected))
    if not looks or len(looks) < len(waiting):
        return proposals, frozenset()
    return _put_first(proposals, looks[0]), frozenset(waiting)


def _waits_for(genset: GeneratingSet, state: JobState, sets: Sets, remedy: str) -> frozenset[str]:
    """The looks that order rules put before a remedy and that have no answer; none where another remedy comes first."""
    catalogue, answered = genset.knowledge.catalogue, {name for name, _ in state.made}
    suspected = catalogue.words["sometimes"].value * fsum(weight for _, weight in sets)
    past = {*catalogue.costs.as_found} - {*state.owed}
    found = set[str]()
    for rule in catalogue.order.values():
        if remedy not in rule.after:
            continue
        if rule.kind == "look_first":
            found.update(name for name in rule.before if name in genset.checks and name not in answered | past)
        elif rule.kind == "cure_first":
            causes = {cause for name in rule.before if name in genset.remedies for cause in genset.remedies[name].cures}
            if any(_weight(sets, {cause}) >= suspected for cause in causes - genset.remedies[remedy].cures.keys()):
                return frozenset()
    return frozenset(name for name in found if not lacking(catalogue, "check", name, state.absent))


def _at_sight(
    genset: GeneratingSet, proposals: Proposals, state: JobState, posterior: Mapping[str, float]
) -> Proposals:
    """The same, but where a look has shown the fault itself, its remedy comes first: before more is measured or
    proven, and whatever is likelier. What an order rule holds back is not among the proposals, and waits. Where it was
    done before and the look shows the same, it comes first again only while it is likely that it did not take: what
    looks like that fault may be another. A later look for the same causes that finds nothing speaks against it too."""
    wanted, least = to_mend(genset, state), genset.knowledge.catalogue.words["sometimes"].value
    past = {
        name
        for name in wanted
        if _seen_otherwise(genset, state, name)
        or (name in state.remedies and fsum(posterior.get(cause, 0.0) for cause in genset.remedies[name].cures) < least)
    }
    first = [each for each in proposals if each.kind == "remedy" and each.id in wanted and each.id not in past]
    return _put_first(proposals, *first)


def _seen_otherwise(genset: GeneratingSet, state: JobState, remedy: str) -> bool:
    """Whether a look at the standing set was made after the one that showed a fault, mostly shows the causes of its
    remedy, and was right: a rod that hangs, and nothing that drags once it is off."""
    latest, checks, distribution = state.latest, genset.checks, genset.knowledge.distribution
    place = {event.id: at for at, event in enumerate(state.standing) if event.kind == "check"}
    shown = [
        place[name]
        for name, made in latest.items()
        if name in place and remedy in (checks[name].mend.get(outcome) for outcome in made.answer.outcomes)
    ]
    return any(
        made.answer.sure
        and made.answer.outcomes == (checks[name].normal,)
        and checks[name].kind == "look"
        and not genset.knowledge.catalogue.states[checks[name].state].runs
        and place.get(name, -1) > min(shown, default=len(place))
        and any(
            distribution(name, frozenset({cause}))[0] <= _HALF * distribution(name, frozenset())[0]
            for cause in genset.remedies[remedy].cures
        )
        for name, made in latest.items()
        if name in checks
    )


def _not_stopped_for_it(
    genset: GeneratingSet,
    proposals: Proposals,
    state: JobState,
    posterior: Mapping[str, float],
    opening: Collection[str] = (),
) -> Proposals:
    """The same, but a running set is not stopped for a look that an order rule keeps for the next stop (`before_start`)
    and that is not likely to show anything, where another step costs no more than stopping and starting for it.

    opening: looks that a quick remedy waits for, which is likely needed: for these it is stopped.
    """
    kept, costs = no_reason_to_stop(genset, state, posterior) - {*opening}, genset.knowledge.catalogue.costs
    best = proposals[0]
    if best.id not in kept:
        return proposals
    place = genset.checks[best.id].state
    stop = costs.move(state.here, place) + costs.move(costs.standing(state.here, place), state.here)
    for each in proposals:
        if each.kind in ("check", "remedy") and each.id not in kept and each.expected - best.expected <= stop:
            return _put_first(proposals, each)
    return proposals


def _complained_of(genset: GeneratingSet, state: JobState) -> frozenset[str]:
    """The checks that the complaints speak of, of a difference the two readings that make it."""
    knowledge, found = genset.knowledge, set[str]()
    for name in state.complained:
        for check in knowledge.complaints[name].says:
            found.update(knowledge.checks[check].derived_from or (check,))
    return frozenset(found)


def _owed_first(
    genset: GeneratingSet, proposals: Proposals, state: JobState, owed: Sequence[str], said: Collection[str] = ()
) -> Proposals:
    """The same, with readings that are owed before a check or remedy on the way to which they can be made.

    They cost nothing there, and what costs nothing is never worse for being known first: so they are priced as what
    they go before, where the planner, which looks less deep at them, prices them higher.
    """
    if not owed or proposals[0].kind not in ("check", "remedy"):
        return proposals
    here, answered = state.here, {name for name, _ in state.made}
    best, checks = proposals[0], genset.checks
    step = checks[best.id] if best.kind == "check" else genset.remedies[best.id]
    costs = genset.knowledge.catalogue.costs
    whole = costs.move(here, step.state)

    def detour(name: str) -> float:
        there = checks[name].state
        if name in said and there != here and costs.standing(there, step.state) == there:
            return 0.0  # a question can be asked there as well, and what was complained of is read in any case
        return costs.move(here, there) + costs.move(costs.standing(here, there), step.state) - whole

    priced = {each.id: each for each in proposals}
    # One that tells nothing of the fault is no proposal of the planner's, and is read all the same.
    told_nothing = {name: Proposal("check", name, _way(genset, state, name), best.expected) for name in owed}
    free = [
        replace(each, expected=min(each.expected, best.expected))
        for name, each in {**told_nothing, **priced}.items()
        if name in owed and detour(name) < _NOTHING and (name in priced or not waits(genset, answered, name))
    ]

    def place(each: Proposal) -> tuple[float, bool, int]:
        """On the way together, what was complained of first where it is read in minutes; else as the record has it."""
        check = checks[each.id]
        return costs.move(here, check.state), each.id not in said or check.minutes > _READ, owed.index(each.id)

    free.sort(key=place)
    return _put_first(proposals, *free)


def _way(genset: GeneratingSet, state: JobState, check: str) -> float:
    """Minutes until a check can be made from where the set stands, with what must be on for it put back."""
    catalogue = genset.knowledge.catalogue
    back = to_put_back(catalogue, "check", check, state.off)
    put_back = fsum(each.minutes for each in state.off.values() if each.fitting in back)
    return put_back + catalogue.costs.move(state.here, genset.checks[check].state)


def _in_hand(genset: GeneratingSet, proposals: Proposals, state: JobState) -> Proposals:
    """The same, but what a look has taken off is itself looked at before it goes back on, it is in the hand; and so is
    what can only be looked at with it off."""
    catalogue, answered = genset.knowledge.catalogue, {name for name, _ in state.made}
    touched = {cause for remedy in state.remedies for cause in genset.remedies[remedy].cures}
    best, first = proposals[0], []
    for each in state.off.values():
        for name in catalogue.fittings[each.fitting].looks if each.by not in genset.remedies else ():
            check = genset.checks.get(name)
            if check is None or name in answered or touched & {*check.parents}:
                continue
            if lacking(catalogue, "check", name, state.absent):
                continue
            known = next((other for other in proposals if other.id == name), None)
            if known is None or in_hand(catalogue, name, state.off):
                # What is in the hand is looked at where the set stands; for the rest it is stopped.
                way = 0.0 if in_hand(catalogue, name, state.off) else _way(genset, state, name)
                known = Proposal("check", name, way + check.minutes, best.expected + way + check.minutes)
            first.append(known)
    return _put_first(proposals, *first)


def _glance_first(
    genset: GeneratingSet, proposals: Proposals, state: JobState, posterior: Mapping[str, float]
) -> Proposals:
    """The same, but a look of a minute comes before what an order rule puts behind it, while it may show something:
    by its price alone a trial with tools may go before it, on a set that runs."""
    proven = state.proofs.get(state.epoch) == "passed"
    if proposals[0].kind == "refer" or (proposals[0].kind == "done" and proven):
        return proposals
    first = [name for name, _ in glances(genset, state, posterior, proposals[0].id)]
    for name in first[:1]:
        look = next((each for each in proposals if each.id == name), None)
        if look is None and kept_for_start(genset, state, name):
            minutes = _way(genset, state, name) + genset.checks[name].minutes
            look = Proposal("check", name, minutes, proposals[0].expected + minutes)
        if look is not None:  # it waits for nothing itself
            return _glance_first(genset, _put_first(proposals, look), state, posterior)
    return proposals


def _put_first(proposals: Proposals, *first: Proposal) -> Proposals:
    """The same with some in front; one that was there before under their id goes."""
    taken = {each.id for each in first}
    return (*first, *(each for each in proposals if each.id not in taken))


def _weight(sets: Sets, causes: Collection[str]) -> float:
    """Weight of the fault sets that hold any of some causes."""
    return fsum(weight for present, weight in sets if not present.isdisjoint(causes))


def confirming(
    genset: GeneratingSet, proposals: Sequence[Proposal], causes: Collection[str] = ()
) -> Iterator[Proposal]:
    """The short looks that show a cause of the best remedy, or one of these, at least every second time, best first."""
    knowledge = genset.knowledge
    remedy = genset.remedies[proposals[0].id]
    for each in proposals:
        if each.kind != "check" or each.minutes > _SHORT * remedy.minutes:
            continue
        sound = knowledge.distribution(each.id, frozenset())[0]
        for cause in causes or remedy.cures:
            if knowledge.distribution(each.id, frozenset({cause}))[0] <= _HALF * sound:
                yield each
                break
