"""What was seen on a set and still stands: which looks are settled, and which faults they have shown to be mended.

Purpose: the answers of a job -> the checks that nothing has touched since, the remedies of faults seen for sure, and
the short looks that come before a step, before the first start and before closing.
Law: pure; which look shows a fault itself, and which remedy mends it, is knowledge (`mend` of a check).
Not here: what comes first of all that may be done (see `advice`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from .danger import unfit_by
from .equipment import lacking
from .generating_set import GeneratingSet
from .state import JobState

GLANCES = ("glance_first", "before_start")
"""Kinds of order rule that put a look before a step while it is likely to show something."""


def settled_checks(genset: GeneratingSet, state: JobState) -> frozenset[str]:
    """Checks not worth asking again: answered (or passed over) since anything they depend on was touched."""
    knowledge = genset.knowledge
    settled = set()
    for name, epoch in state.made:
        touched = {cause for remedy in state.remedies[epoch:] for cause in knowledge.remedies[remedy].cures}
        if not touched & set(knowledge.checks[name].parents):
            settled.add(name)
    return frozenset(settled)


def nothing_to_see(genset: GeneratingSet, state: JobState) -> frozenset[str]:
    """Checks in which there is nothing to be seen, by what else was read and still stands (`only_while`)."""
    settled = settled_checks(genset, state)
    latest = {name: made.answer for name, made in state.latest.items() if name in settled}
    return frozenset(
        name
        for name, check in genset.checks.items()
        for other, answers in check.only_while.items()
        if other in latest
        and latest[other].sure
        and latest[other].outcomes
        and set(latest[other].outcomes).isdisjoint(answers)
    )


def glances(
    genset: GeneratingSet, state: JobState, posterior: Mapping[str, float], step: str
) -> tuple[tuple[str, str], ...]:
    """The looks that come before a step because they are likely to show something, each with the reason of its rule,
    and those before the first start.

    posterior: probability of each cause. How likely a look shows something is taken from its causes one by one.
    """
    catalogue, settled, found = genset.knowledge.catalogue, settled_checks(genset, state), []
    likely = catalogue.words["seldom"].value
    said = {*state.complained}
    for rule in catalogue.order.values():
        if rule.kind not in GLANCES or step not in rule.after:
            continue
        for name in rule.before:
            check = genset.checks.get(name)
            if check is None or name in settled or lacking(catalogue, "check", name, state.absent):
                continue
            if rule.kind == "before_start" and not _stands_for(genset, state, name):
                continue
            if set(check.fits.needs_on) & state.off.keys():
                continue
            if said & {*rule.complaints} or _shows_something(genset, name, posterior) >= likely:
                found.append((name, rule.why))
    if _runs(genset, step):
        there = {name for name, _ in found}
        why = catalogue.costs.first_start.why
        found += [(name, why) for name in first_looks(genset, state) if name not in there]
    return tuple(found)


def first_looks(genset: GeneratingSet, state: JobState) -> tuple[str, ...]:
    """The looks that are made of every set before it is started for the first time in a job, as far as they have no
    answer and can be made: while it stands, as somebody said. Setting from the ground up has them in its course."""
    catalogue, settled = genset.knowledge.catalogue, settled_checks(genset, state)
    told = any(event.kind == "stands" for event in state.standing)
    if not told or state.started or state.holds or state.setting or catalogue.states[state.here].runs:
        return ()
    return tuple(
        name
        for name in catalogue.costs.first_start.checks
        if name in genset.checks
        and name not in settled
        and not lacking(catalogue, "check", name, state.absent)
        and not set(genset.checks[name].fits.needs_on) & state.off.keys()
    )


def asked_of_start(genset: GeneratingSet, state: JobState) -> tuple[str, ...]:
    """What is asked of the first start of a job before anything is read on the running set: while it stands cold, as
    somebody said, and nobody knows whether it starts."""
    costs = genset.knowledge.catalogue.costs
    told = any(event.kind == "stands" for event in state.standing)
    if not told or state.started or state.holds or state.here != costs.start_state:
        return ()
    return tuple(name for name in costs.first_start.asks if name in genset.checks and name not in state.latest)


def before_closing(genset: GeneratingSet, state: JobState, seen: bool = False) -> tuple[str, ...]:
    """The looks for what else may be wrong with a set, made once before it is closed, that have no answer yet. seen:
    those that showed nothing yet, since "don't know" is an answer and no look."""
    had = {name for (name, _), made in state.made.items() if made.answer.outcomes or not seen}
    wanted = genset.knowledge.catalogue.costs.before_closing
    return tuple(name for name in wanted if name in genset.checks and name not in had)


def wrong_before_closing(genset: GeneratingSet, state: JobState) -> tuple[str, ...]:
    """Of those looks the ones that are not as they should be, nothing that bears on them having been touched since."""
    settled, latest = settled_checks(genset, state), state.latest
    found = {
        name: latest[name].answer.outcomes for name in genset.knowledge.catalogue.costs.before_closing if name in latest
    }
    return tuple(
        name
        for name, outcomes in found.items()
        if name in settled and outcomes and genset.knowledge.checks[name].normal not in outcomes
    )


def unfit(genset: GeneratingSet, state: JobState) -> tuple[str, ...]:
    """The looks before any start that found a fault (see `danger.unfit_by`), with nothing that bears on it done since.
    The set is not run with it, whoever skips the remedy."""
    settled = settled_checks(genset, state)
    found = {name for name, made in state.latest.items() if name in settled and unfit_by(genset, name, made.answer)}
    return tuple(name for name in genset.knowledge.catalogue.costs.first_start.checks if name in found)


def _runs(genset: GeneratingSet, step: str) -> bool:
    """Whether a set runs for a check or remedy of it, or for being proven."""
    made = genset.checks.get(step) or genset.remedies.get(step)
    return step == "done" or (made is not None and genset.knowledge.catalogue.states[made.state].runs)


def _stands_for(genset: GeneratingSet, state: JobState, check: str) -> bool:
    """Whether the set stands still, and so that a check is made without moving it."""
    catalogue, place = genset.knowledge.catalogue, genset.checks[check].state
    return not catalogue.states[state.here].runs and not catalogue.costs.move(state.here, place)


def kept_for_start(genset: GeneratingSet, state: JobState, check: str) -> bool:
    """Whether a check is made before the first start of any set; or an order rule wants it before a start, and none
    lets it wait for another one."""
    rules = genset.knowledge.catalogue.order.values()
    wanted = any(rule.kind == "before_start" and check in rule.before for rule in rules)
    if check in first_looks(genset, state):
        return True
    return wanted and not waits(genset, {name for name, _ in state.made}, check)


def waits(genset: GeneratingSet, answered: Collection[str], check: str) -> bool:
    """Whether an order rule lets a check wait for one that has no answer yet."""
    return any(
        rule.kind == "look_first" and check in rule.after and genset.checks.keys() & {*rule.before} - {*answered}
        for rule in genset.knowledge.catalogue.order.values()
    )


def no_reason_to_stop(genset: GeneratingSet, state: JobState, posterior: Mapping[str, float]) -> frozenset[str]:
    """The looks for which alone a running set is not stopped, by the order rules; none while it stands."""
    catalogue = genset.knowledge.catalogue
    if not catalogue.states[state.here].runs:
        return frozenset()
    likely = catalogue.words["seldom"].value
    named = {name for rule in catalogue.order.values() if rule.kind == "before_start" for name in rule.before}
    named.update(catalogue.costs.first_start.checks)
    return frozenset(
        name
        for name in named & genset.checks.keys()
        if not catalogue.states[genset.checks[name].state].runs and _shows_something(genset, name, posterior) < likely
    )


def _shows_something(genset: GeneratingSet, check: str, posterior: Mapping[str, float]) -> float:
    normal = genset.checks[check].leak[0]
    for cause, chances in genset.knowledge.network.shows[check].items():
        normal *= 1.0 - posterior.get(cause, 0.0) * (1.0 - chances[0])
    return 1.0 - normal


def to_mend(genset: GeneratingSet, state: JobState) -> tuple[str, ...]:
    """The remedies of faults that were seen for sure, in the order seen, as far as they can be done today. A look that
    what it shows was touched since stands no more."""
    checks, settled = genset.checks, settled_checks(genset, state)
    found: dict[str, None] = {}
    for name, made in state.latest.items():
        if name not in settled or name not in checks or not made.answer.sure:
            continue
        remedies = {checks[name].mend.get(outcome, "") for outcome in made.answer.outcomes}
        if len(remedies) == 1:
            found.update(dict.fromkeys(remedies & genset.remedies.keys()))
    absent = state.absent
    return tuple(name for name in found if not lacking(genset.knowledge.catalogue, "remedy", name, absent))
