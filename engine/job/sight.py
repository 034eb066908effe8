"""What was seen on a set and still stands: which looks are settled, and which faults they have shown to be mended.

Purpose: the answers of a job -> the checks that nothing has touched since, the remedies of faults seen for sure, and
the short looks that come before a step.
Law: pure; which look shows a fault itself, and which remedy mends it, is knowledge (`mend` of a check).
Not here: what comes first of all that may be done (see `advice`).
"""

from __future__ import annotations

from collections.abc import Mapping

from .equipment import lacking
from .generating_set import GeneratingSet
from .state import JobState


def settled_checks(genset: GeneratingSet, state: JobState) -> frozenset[str]:
    """Checks not worth asking again: answered (or passed over) since anything they depend on was touched."""
    knowledge = genset.knowledge
    settled = set()
    for name, epoch in state.made:
        touched = {cause for remedy in state.remedies[epoch:] for cause in knowledge.remedies[remedy].cures}
        if not touched & set(knowledge.checks[name].parents):
            settled.add(name)
    return frozenset(settled)


def glances(
    genset: GeneratingSet, state: JobState, posterior: Mapping[str, float], step: str
) -> tuple[tuple[str, str], ...]:
    """The looks that come before a step because they are likely to show something, each with the reason of its rule.

    posterior: probability of each cause. How likely a look shows something is taken from its causes one by one.
    """
    catalogue, settled, found = genset.knowledge.catalogue, settled_checks(genset, state), []
    likely = catalogue.words["seldom"].value
    for rule in catalogue.order.values():
        if rule.kind != "glance_first" or step not in rule.after:
            continue
        for name in rule.before:
            check = genset.checks.get(name)
            if check is None or name in settled or lacking(catalogue, "check", name, state.absent):
                continue
            if not set(check.fits.needs_on) & state.off.keys() and _shows_something(genset, name, posterior) >= likely:
                found.append((name, rule.why))
    return tuple(found)


def _shows_something(genset: GeneratingSet, check: str, posterior: Mapping[str, float]) -> float:
    normal = genset.checks[check].leak[0]
    for cause, chances in genset.knowledge.network.shows[check].items():
        normal *= 1.0 - posterior.get(cause, 0.0) * (1.0 - chances[0])
    return 1.0 - normal


def to_mend(genset: GeneratingSet, state: JobState) -> tuple[str, ...]:
    """The remedies of faults that were seen for sure, in the order seen, as far as they can be done today. A look that
    what it shows was touched since stands no more."""
    checks, settled = genset.checks, settled_checks(genset, state)
    latest = {name: made.answer for (name, _), made in state.made.items()}
    found: dict[str, None] = {}
    for name, answer in latest.items():
        if name not in settled or name not in checks or not answer.sure:
            continue
        remedies = {checks[name].mend.get(outcome, "") for outcome in answer.outcomes}
        if len(remedies) == 1:
            found.update(dict.fromkeys(remedies & genset.remedies.keys()))
    absent = state.absent
    return tuple(name for name in found if not lacking(genset.knowledge.catalogue, "remedy", name, absent))
