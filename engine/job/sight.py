"""What was seen on a set and still stands: which looks are settled, and which faults they have shown to be mended.

Purpose: the answers of a job -> the checks that nothing has touched since, and the remedies of faults seen for sure.
Law: pure; which look shows a fault itself, and which remedy mends it, is knowledge (`mend` of a check).
Not here: what comes first of all that may be done (see `advice`).
"""

from __future__ import annotations

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
