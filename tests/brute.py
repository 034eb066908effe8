"""Posteriors by plain enumeration of every world, as a check on `engine.belief` and `engine.evidence`.

Shares no code with them: a world says which cause of each part is there and until when, where each cause drew its
uniform number for each group of checks, and what the leak produced for each look. Only for a handful of causes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import accumulate, pairwise, product

from hertzwright.engine.belief import Complaining, Finding
from hertzwright.engine.compiler.graph import PROOF_RUN, Network

World = tuple[tuple[str, int], ...]
"""(cause, last epoch in which it is there) for each cause that is there at the start."""


def worlds(network: Network, priors: Mapping[str, float], remedies: Sequence[str]) -> Iterator[tuple[World, float]]:
    """Every combination of causes and of what the remedies did to them, with its prior probability."""
    choices: list[list[tuple[World, float]]] = []
    for causes in network.parts.values():
        sound = 1.0
        options: list[tuple[World, float]] = []
        for cause in causes:
            prior = priors.get(cause, 0.0)
            sound -= prior
            for successes in product((True, False), repeat=len(remedies)):
                # Each remedy either would work or would not; the first that works ends the cause.
                weight = prior
                for remedy, success in zip(remedies, successes, strict=True):
                    chance = network.cures[remedy].get(cause, 0.0)
                    weight *= chance if success else 1.0 - chance
                if weight > 0.0:
                    last = successes.index(True) if True in successes else len(remedies)
                    options.append((((cause, last),), weight))
        options.append(((), sound))
        choices.append(options)
    for combination in product(*choices):
        weight = 1.0
        world: World = ()
        for there, chance in combination:
            weight *= chance
            world += there
        if weight > 0.0:
            yield world, weight


def quantile(distribution: Sequence[float], draw: float) -> int:
    """The outcome at a uniform draw, the normal one first."""
    total = 0.0
    for outcome, chance in enumerate(distribution):
        total += chance
        if draw < total:
            return outcome
    return max(outcome for outcome, chance in enumerate(distribution) if chance > 0.0)


def chance(
    network: Network,
    world: World,
    findings: Sequence[Finding],
    reports: Sequence[Complaining],
    again: float,
) -> float:
    """P(everything said and found | the world), summed over draws and leaks.

    What a complaint says is there, and yet the look finds the normal outcome with the chance `missed`.
    """
    heard = [(report, tuple(network.says[report.complaint][1])) for report in reports]
    looks = [(finding.check, finding.epoch) for finding in findings]
    weights = {(finding.check, finding.epoch): list(finding.likelihood) for finding in findings}
    for (check, epoch), values in weights.items():
        for outcome in range(1, len(values)):
            missed = max(
                (
                    report.missed
                    for report in reports
                    if report.epoch == epoch and outcome in network.says[report.complaint][1].get(check, ())
                ),
                default=0.0,
            )
            values[outcome] = (1.0 - missed) * values[outcome] + missed * values[0]
    for report, checks in heard:
        looks += [(check, report.epoch) for check in checks if (check, report.epoch) not in looks]
    # Groups that a complaint ties together must be summed over together, others fall apart.
    knots: list[set[str]] = [{network.group[check]} for check, _ in looks]
    knots += [{network.group[check] for check in checks} for _, checks in heard]
    bundles: list[set[str]] = []
    for knot in knots:
        joined = [bundle for bundle in bundles if bundle & knot]
        bundles = [bundle for bundle in bundles if not bundle & knot] + [set(knot).union(*joined)]
    total = 1.0
    for bundle in bundles:
        inside = [look for look in looks if network.group[look[0]] in bundle]
        spoken = [(report, checks) for report, checks in heard if network.group[checks[0]] in bundle]
        total *= _bundle(network, world, inside, spoken, weights, again)
    return total


def _bundle(
    network: Network,
    world: World,
    looks: Sequence[tuple[str, int]],
    heard: Sequence[tuple[Complaining, tuple[str, ...]]],
    weights: Mapping[tuple[str, int], Sequence[float]],
    again: float,
) -> float:
    draws = []
    for cause, _ in world:
        for group in sorted({_draw(network, *look) for look in looks}):
            checks = sorted(
                {look[0] for look in looks if _draw(network, *look) == group and cause in network.shows[look[0]]}
            )
            draws.append(list(_drawn(network, cause, group, checks)))
    lasts = dict(world)
    total = 0.0
    for drawn in product(*draws):
        mass = 1.0
        places = {}
        for middles, width in drawn:
            mass *= width
            places.update(middles)
        floors = []
        for check, epoch in looks:
            there = [cause for cause, last in lasts.items() if last >= epoch and cause in network.shows[check]]
            floors.append(
                max(
                    (
                        quantile(network.shows[check][cause], places[cause, check, _draw(network, check, epoch)])
                        for cause in there
                    ),
                    default=0,
                )
            )
        for leaks in product(*(range(len(network.leak[check])) for check, _ in looks)):
            weight = mass * _leaked(network, looks, leaks, again)
            seen = {}
            for (check, epoch), floor, leak in zip(looks, floors, leaks, strict=True):
                outcome = seen[check, epoch] = max(floor, leak)
                if (check, epoch) in weights:
                    weight *= weights[check, epoch][outcome]
                if not weight:
                    break
            if not weight:
                continue
            for report, checks in heard:
                mode, says = network.says[report.complaint]
                shown = [seen[check, report.epoch] in says[check] for check in checks]
                weight *= report.if_so if (any(shown) if mode == "any" else all(shown)) else report.if_not
            total += weight
    return total


def _drawn(
    network: Network, cause: str, group: tuple[str, int], checks: Sequence[str]
) -> Iterator[tuple[dict[tuple[str, str, tuple[str, int]], float], float]]:
    """Where a cause may have drawn for the checks of a group, with the chance: once for all of them with the chance
    `alike`, else once for each."""
    alike = network.alike if len(checks) > 1 else 1.0
    for middle, width in _stretches(network, cause, checks):
        yield {(cause, check, group): middle for check in checks}, alike * width
    if alike < 1.0:
        for apart in product(*(list(_stretches(network, cause, [check])) for check in checks)):
            mass = 1.0 - alike
            for _, width in apart:
                mass *= width
            yield {(cause, check, group): middle for check, (middle, _) in zip(checks, apart, strict=True)}, mass


def _stretches(network: Network, cause: str, checks: Sequence[str]) -> Iterator[tuple[float, float]]:
    """Middle and width of each stretch of a draw within which none of the checks changes its outcome."""
    edges = {0.0, 1.0}.union(*(set(accumulate(network.shows[check][cause])) for check in checks))
    cuts = [*sorted(edge for edge in edges if edge < 1.0 - 1e-12), 1.0]
    yield from (((low + high) / 2, high - low) for low, high in pairwise(cuts) if high - low > 1e-12)


def _draw(network: Network, check: str, epoch: int) -> tuple[str, int]:
    """Looks that share a cause's draw: those of one group; a proof run only with itself."""
    return network.group[check], epoch if check == PROOF_RUN else 0


def _leaked(network: Network, looks: Sequence[tuple[str, int]], leaks: Sequence[int], again: float) -> float:
    """P(these leaks): all looks at one check share one draw with chance `again`, else each has its own."""
    shown: dict[str, list[int]] = {}
    for (check, _), leak in zip(looks, leaks, strict=True):
        shown.setdefault(check, []).append(leak)
    total = 1.0
    for check, outcomes in shown.items():
        apart = 1.0
        for outcome in outcomes:
            apart *= network.leak[check][outcome]
        together = network.leak[check][outcomes[0]] if len(set(outcomes)) == 1 else 0.0
        # Each proof run can raise its own false alarm.
        total *= apart if len(outcomes) == 1 or check == PROOF_RUN else again * together + (1.0 - again) * apart
    return total


def enumerate_sets(
    network: Network,
    priors: Mapping[str, float],
    findings: Sequence[Finding],
    reports: Sequence[Complaining] = (),
    remedies: Sequence[str] = (),
    again: float = 0.0,
) -> tuple[float, dict[frozenset[str], float]]:
    """P(evidence), and the joint posterior of the causes that are there now."""
    known: dict[World, float] = {}
    sets: dict[frozenset[str], float] = {}
    for world, weight in worlds(network, priors, remedies):
        if world not in known:
            known[world] = chance(network, world, findings, reports, again)
        now = frozenset(cause for cause, last in world if last == len(remedies))
        sets[now] = sets.get(now, 0.0) + weight * known[world]
    total = sum(sets.values())
    return total, {present: weight / total for present, weight in sets.items() if weight > 0.0} if total else {}


def marginals(sets: Mapping[frozenset[str], float]) -> dict[str, float]:
    """P(cause is there now) for every cause in any set."""
    found: dict[str, float] = {}
    for present, weight in sets.items():
        for cause in present:
            found[cause] = found.get(cause, 0.0) + weight
    return found
