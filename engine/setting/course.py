"""The course of setting one set: the steps that it has, and what waits for what.

Purpose: the knowledge's partial order as it is left by the features of a set: steps that it has not are bridged, and
what comes last needs all others.
Law: a pure function of the knowledge, the features and what was asked for; steps stand in the order written.
Not here: how far a job has come on it (see `progress`), the way through it (see `plan`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from ..compiler import Features, Knowledge, SettingStep


@dataclass(frozen=True, slots=True)
class Course:
    """steps: of this set, by id. needs, before: the steps that must be right before one: those it waits for directly,
    and all of them. checks: readings that accept it, derived ones among them. works: remedies that are its work."""

    knowledge: Knowledge
    features: Features
    steps: Mapping[str, SettingStep]
    needs: Mapping[str, tuple[str, ...]]
    before: Mapping[str, frozenset[str]]
    checks: Mapping[str, tuple[str, ...]]
    works: Mapping[str, tuple[str, ...]]

    def read(self, step: str) -> tuple[str, ...]:
        """The checks of a step that are read; those that are derived from others are left out."""
        return tuple(name for name in self.checks[step] if self.knowledge.checks[name].derived_from is None)

    def told_by_turning(self, step: str) -> tuple[str, ...]:
        """The checks of a step that its own turns can move; those that a remedy is named for are looks beside it."""
        return tuple(name for name in self.checks[step] if not self.steps[step].accepts[name])

    def disturbed(self, remedy: str) -> Mapping[str, frozenset[str]]:
        """What is no longer known once a remedy was carried out, step -> checks of it.

        Of the steps whose work it is every check, but where it is a turn of theirs the looks that another remedy is
        for; of those that they disturb, or that an order rule or the remedy itself makes due, every check, but for a
        step of which its own step reads everything anyway; of others that are turned the checks in which its causes
        show at least sometimes, since what is turned may have been turned to hide them; a look that was right is right
        still once a fault is gone. What its own steps need is not put in doubt by it unless somebody says so: it was
        right before. What was near enough once is not asked again.
        """
        known = self.knowledge
        own = [name for name, works in self.works.items() if remedy in works]
        told = {other for name in own for other in self.steps[name].disturbs if other in self.steps}
        due = set(known.remedies[remedy].then)
        for rule in known.catalogue.order.values():
            if rule.kind == "do_again" and remedy in rule.before:
                due.update(rule.after)
        told |= {name for name, works in self.works.items() if due & set(works)}
        kept = {name for name in self.steps if self.steps[name].near} | {
            name for name in told for mine in own if set(self.checks[name]) <= set(self.checks[mine])
        }
        found = {name: frozenset(self.checks[name]) for name in (*own, *sorted(told - kept - set(own)))}
        found |= {name: frozenset(self.told_by_turning(name)) for name in own if remedy not in self.steps[name].works}
        earlier = frozenset[str]().union(*(self.before[name] for name in own))
        least, shows = known.catalogue.words["sometimes"].value, known.network.shows
        for name in self.steps:
            if name in found or name in earlier or name in kept or not self.steps[name].turned:
                continue
            bearing = frozenset(
                check
                for check in self.checks[name]
                for cause in known.remedies[remedy].cures
                if cause in shows[check]
                and 1.0 - shows[check][cause][0] >= least
                and not (self.steps[name].starts and known.checks[check].kind == "look")
            )
            if bearing:
                found[name] = bearing
        return found


def course_of(knowledge: Knowledge, features: Features, wanted: Collection[str] = ()) -> Course:
    """The course of a set. features: with defaults filled in. wanted: steps on request."""
    checks: dict[str, tuple[str, ...]] = {}
    steps: dict[str, SettingStep] = {}
    for step in knowledge.catalogue.setting.values():
        mine = tuple(name for name in step.accepts if knowledge.applies(name, features))
        there = step.retired is None and step.only_if.holds(features) and (mine or not step.accepts)
        if there and (not step.on_request or step.id in wanted):
            steps[step.id], checks[step.id] = step, mine
    checks = {
        name: tuple(each for each in checks[name] if not _of_another(knowledge, steps, name, each)) for name in steps
    }
    everything = knowledge.catalogue.setting
    last = {name for name, step in steps.items() if step.last}
    needs = {
        name: _bridged(step.needs, steps, everything)
        + (tuple(other for other in steps if other not in last) if step.last else ())
        for name, step in steps.items()
    }
    needs = {name: tuple(dict.fromkeys(listed)) for name, listed in needs.items()}
    return Course(
        knowledge, features, steps, needs, _closed(needs), checks,
        {name: _works(knowledge, step) for name, step in steps.items()},
    )  # fmt: skip


def _of_another(knowledge: Knowledge, steps: Mapping[str, SettingStep], name: str, check: str) -> bool:
    """Whether a check of a step that turns a pair is the swing that another pair of this set is turned for."""
    pairs, own = knowledge.catalogue.pairs, steps[name].pair
    if not own or pairs[own].swing == check:
        return False
    return any(other.pair and other.pair != own and pairs[other.pair].swing == check for other in steps.values())


def _bridged(
    needs: Iterable[str], steps: Mapping[str, SettingStep], everything: Mapping[str, SettingStep]
) -> tuple[str, ...]:
    """Needs of which those that this set has not are replaced by what they need."""
    found: dict[str, None] = {}
    for name in needs:
        listed = (name,) if name in steps else _bridged(everything[name].needs, steps, everything)
        found.update(dict.fromkeys(listed))
    return tuple(found)


def _closed(needs: Mapping[str, Iterable[str]]) -> Mapping[str, frozenset[str]]:
    """Everything that comes before each; there is no circle in a knowledge that was read."""
    found: dict[str, frozenset[str]] = {}

    def before(name: str) -> frozenset[str]:
        if name not in found:
            direct = tuple(needs[name])
            found[name] = frozenset(direct).union(*(before(other) for other in direct))
        return found[name]

    for name in needs:
        before(name)
    return found


def _works(knowledge: Knowledge, step: SettingStep) -> tuple[str, ...]:
    """The remedies that are the work of a step, those of its adjusters among them."""
    catalogue = knowledge.catalogue
    turned = (step.adjuster,) if step.adjuster else tuple(catalogue.pairs[step.pair].response) if step.pair else ()
    return tuple(dict.fromkeys((*step.works, *(catalogue.adjusters[name].remedy for name in turned))))
