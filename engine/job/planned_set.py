"""A set as the planner sees it: what can be done, in which state, in how many minutes, under which rules.

Purpose: the set, the readings still owed and the tools that are not there -> a planner's problem.
Law: pure; nothing of what was found is in it.
Not here: what was found (see `diagnosis`), how steps are priced (see `planner`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from ..compiler import Catalogue, Check
from ..planning import Look, Mend, PlanningProblem
from .equipment import lacking
from .fittings import to_put_back
from .generating_set import GeneratingSet


def problem_of(genset: GeneratingSet, owed: Collection[str] = (), absent: Collection[str] = ()) -> PlanningProblem:
    """What the planner needs to know of a set: its checks and remedies, the costs, and the order rules.

    owed: readings of the set as found, while there are any to be taken. They cost no minutes of their own, since they
    are taken on any way, and what they go before waits for them; later nothing does, since they are past.
    absent: tools that are not there; what needs one is left out, and nothing waits for it.
    """
    catalogue = genset.knowledge.catalogue
    checks = {name: each for name, each in genset.checks.items() if not lacking(catalogue, "check", name, absent)}
    remedies = {name: each for name, each in genset.remedies.items() if not lacking(catalogue, "remedy", name, absent)}
    look_first: dict[str, list[str]] = {}
    cure_first: dict[str, list[str]] = {}
    for rule in catalogue.order.values():
        target = {"look_first": look_first, "cure_first": cure_first}.get(rule.kind)
        if target is None:
            continue
        known: Mapping[str, object] = checks if rule.kind == "look_first" else remedies
        for step in rule.after:
            target.setdefault(step, []).extend(name for name in rule.before if name in known)
    costs = catalogue.costs
    waits = {step: tuple(dict.fromkeys(names)) for step, names in look_first.items()}
    return PlanningProblem(
        looks=tuple(
            _look(catalogue, check, check.id in owed) for check in checks.values() if check.derived_from is None
        ),
        mends=tuple(
            Mend(
                remedy.id,
                remedy.minutes,
                remedy.state,
                {cause: chance for cause, chance in remedy.cures.items() if genset.priors[cause] > 0.0},
                frozenset(remedy.fits.puts_back),
            )
            for remedy in remedies.values()
        ),
        moves=costs.moves,
        serves=costs.serves,
        proof_minutes=costs.proof,
        proof_state=_proof_state(catalogue, checks),
        refer=costs.refer,
        come_back=costs.come_back,
        likelihood=genset.knowledge.distribution,
        bearing={name: frozenset(shows) for name, shows in genset.knowledge.network.shows.items()},
        look_first=waits if owed else _not_as_found(waits, costs.as_found),
        cure_first={step: tuple(names) for step, names in cure_first.items()},
        # A cause is suspected, for the order rules, from "sometimes" upward.
        suspected=catalogue.words["sometimes"].value,
        luck=1.0 - costs.proof_shows,
        put_back={name: fitting.minutes for name, fitting in catalogue.fittings.items()},
    )


def _proof_state(catalogue: Catalogue, checks: Mapping[str, Check]) -> str:
    """Where a set is proven, as far as it can be today: under load, or where the readings are made that are left."""
    costs = catalogue.costs
    if all(name in checks for name in costs.proof_needed if name in catalogue.checks):
        return costs.proof_state
    return next((checks[name].state for name in costs.proof_needed if name in checks), costs.proof_state)


def _not_as_found(waits: Mapping[str, tuple[str, ...]], as_found: Sequence[str]) -> dict[str, tuple[str, ...]]:
    return {step: tuple(name for name in names if name not in as_found) for step, names in waits.items()}


def _look(catalogue: Catalogue, check: Check, owed: bool) -> Look:
    needs = to_put_back(catalogue, "check", check.id, catalogue.fittings)
    leaves = set(check.fits.takes_off) - set(check.fits.puts_back)
    minutes = 0.0 if owed else check.minutes
    return Look(check.id, minutes, check.state, frozenset(needs), frozenset(leaves))
