"""What of the knowledge bears on jobs at one set, and the sets that an edit meets.

Purpose: draw made-up sets over all features and tell those where two versions of the knowledge reason differently from
those where nothing that bears on the job has changed: there every job goes the same way and says nothing of the edit.
Law: pure; a set is drawn once and is the same for both versions. Two versions with an equal scope at a set give the
same beliefs and suggestions there; limits of readings are left out, since made-up sets answer with outcomes.
Not here: the jobs (see `effect`), what changed in words (see `changes`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..compiler import Check, Complaint, Condition, Feature, Features, Knowledge
from ..problems import HertzwrightError
from ..simulated import Draws
from ..teaching import any_features, made_up_features

MOST = 500
"""Sets drawn at most before it is said that none meets the edit."""
_USUAL_AT_FIRST = 60
"""Sets drawn without one that is met before only what somebody may describe is drawn: that goes wider, and is quick."""

Given = Mapping[str, object]
Scope = Mapping[str, Mapping[str, object]]
Names = frozenset[str]


@dataclass(frozen=True, slots=True)
class Sets:
    """Made-up sets. `met`: features of those that the edit bears on, in the order drawn; `drawn`: how many were."""

    met: tuple[Given, ...]
    drawn: int


def known_features(knowledge: Knowledge, features: Given) -> dict[str, object]:
    """The features that a version of the knowledge has a name for."""
    return {name: value for name, value in features.items() if name in knowledge.catalogue.features}


def reasons_differ(old: Knowledge, new: Knowledge, features: Given) -> bool:
    """Whether the two versions reason differently at a set. False where one of them cannot be such a set."""
    try:
        one, two = (each.features(known_features(each, features)) for each in (old, new))
    except HertzwrightError:
        return False
    return scope(old, one) != scope(new, two)


def _reasons_differ(old: Knowledge, new: Knowledge, only: Mapping[str, Names], features: Given) -> bool:
    """The same, told by the changed entries alone: on a set where each of them says the same, so does every other."""
    try:
        one, two = (each.features(known_features(each, features)) for each in (old, new))
    except HertzwrightError:
        return False
    return _changed_scope(old, one, only) != _changed_scope(new, two, only)


def sets(old: Knowledge, new: Knowledge, count: int, seed: int, given: Given | None = None) -> Sets:
    """The first `count` made-up sets that the edit from old to new meets, of at most MOST drawn.

    given: features that each of them has. Raises AnswerError for a feature that the new version does not know.
    """
    met: list[Given] = []
    drawn = 0
    new.features(given)
    asked, only = _ranges_asked_for(old, new), _changed_entries(old, new)
    while len(met) < count and drawn < max(MOST, count):
        drawn += 1
        usual = bool(met) or drawn <= _USUAL_AT_FIRST
        features = _made_up(new, Draws("made-up set", seed, drawn), asked, given, usual)
        if _reasons_differ(old, new, only, features):
            met.append(features)
    return Sets(tuple(met), drawn)


def _made_up(
    knowledge: Knowledge, draws: Draws, asked: Iterable[Feature], given: Given | None, usual: bool
) -> Features:
    """A set as one meets them, where that is asked for (`usual`), or as somebody may describe one; half of the time any
    size at all where the edit asks for a size."""
    make = made_up_features if draws.uniform() < 0.5 and usual else any_features
    features = dict(make(knowledge, draws, given))
    for feature in asked:
        chance, place = draws.uniform(), draws.uniform(feature.lowest, feature.highest)
        if chance < 0.5 and feature.id not in (given or {}):
            features[feature.id] = float(f"{place:.2g}")
    return knowledge.features(features)


def _ranges_asked_for(old: Knowledge, new: Knowledge) -> list[Feature]:
    named = {test.feature for condition in asked_for(old, new) for test in condition.tests}
    known = new.catalogue.features
    return [known[name] for name in known if name in named and known[name].kind == "number" and not known[name].choices]


def scope(knowledge: Knowledge, features: Features) -> Scope:
    """Everything that beliefs and suggestions at a set rest on, but for limits of readings; equal if it is equal."""
    applies = {name for name in knowledge.checks if knowledge.applies(name, features)}
    priors = {name: cause.prior(features) for name, cause in knowledge.causes.items()}
    there = {name for name, prior in priors.items() if prior > 0.0}
    steps = applies | {name for name, each in knowledge.remedies.items() if there & each.cures.keys()}
    return _scope(knowledge, applies, there, steps, priors)


def _changed_entries(old: Knowledge, new: Knowledge) -> dict[str, Names]:
    """Names of what changed in `reasoning`, of each kind; of checks also where one can be made."""
    one, two = reasoning(old), reasoning(new)
    return {kind: frozenset(_changed(one, two, kind)) for kind in one if kind != "where"}


def _changed_scope(knowledge: Knowledge, features: Features, only: Mapping[str, Names]) -> Scope:
    """`scope` of these entries alone."""
    causes, checks, remedies = set(only["causes"]), set(only["checks"]), set(only["remedies"])
    for name in only["order"]:
        rule = knowledge.catalogue.order.get(name)
        checks.update((*rule.before, *rule.after) if rule else ())
        remedies.update((*rule.before, *rule.after) if rule else ())
    for name in only["causes"]:
        checks.update(knowledge.causes[name].shows if name in knowledge.causes else ())
    for name in only["complaints"]:
        checks.update(knowledge.complaints[name].says if name in knowledge.complaints else ())
    for name in remedies:
        causes.update(knowledge.remedies[name].cures if name in knowledge.remedies else ())
    priors = {name: knowledge.causes[name].prior(features) for name in causes if name in knowledge.causes}
    there = {name for name, prior in priors.items() if prior > 0.0}
    applies = {name for name in checks if name in knowledge.checks and knowledge.applies(name, features)}
    known = knowledge.remedies
    steps = applies | {name for name in remedies if name in known and there & known[name].cures.keys()}
    found = _scope(knowledge, applies, there, steps, priors)
    return {kind: {name: found[kind][name] for name in names if name in found[kind]} for kind, names in only.items()}


def reasoning(knowledge: Knowledge) -> Scope:
    """The same over all sets, with the conditions that part them: where it is equal no set can be met."""
    rules = {name: (each.how_common, each.when, each.only_if) for name, each in knowledge.causes.items()}
    where = {name: each.only_if for name, each in knowledge.checks.items()}
    used = {name for name, each in knowledge.causes.items() if each.retired is None}
    checks = {name for name, each in knowledge.checks.items() if each.retired is None}
    found = dict(_scope(knowledge, checks, used, checks | knowledge.remedies.keys(), rules))
    found["where"] = {name: where[name] for name in checks}
    return found


def _scope(
    knowledge: Knowledge, applies: set[str], there: set[str], steps: set[str], common: Mapping[str, object]
) -> dict[str, Mapping[str, object]]:
    catalogue = knowledge.catalogue
    return {
        "causes": {
            name: (
                common[name],
                cause.part or name,
                cause.fault,
                {check: row for check, row in cause.shows.items() if check in applies and any(row[1:])},
            )
            for name, cause in knowledge.causes.items()
            if name in there
        },
        "checks": {name: _of_check(check) for name, check in knowledge.checks.items() if name in applies},
        "remedies": {
            name: (
                remedy.state,
                remedy.minutes,
                remedy.proof,
                remedy.then,
                {cause: chance for cause, chance in remedy.cures.items() if cause in there},
            )
            for name, remedy in knowledge.remedies.items()
            if remedy.retired is None and there & remedy.cures.keys()
        },
        "complaints": {
            name: _of_complaint(each)
            for name, each in knowledge.complaints.items()
            if each.retired is None and applies & each.says.keys()
        },
        "order": {
            name: (rule.kind, rule.before, rule.after, rule.complaints)
            for name, rule in catalogue.order.items()
            if steps.intersection(rule.before) and steps.intersection(rule.after)
        },
        # An unexplained answer shows again as often as "usually" says; from "sometimes" on a cause is suspected.
        "costs": {
            "minutes": catalogue.costs,
            **{name: catalogue.words[name].value for name in ("usually", "sometimes")},
        },
        "states": {name: (state.runs, state.dangerous) for name, state in catalogue.states.items()},
    }


def _of_check(check: Check) -> object:
    outcomes = tuple(outcome.id for outcome in check.outcomes)
    return check.kind, check.state, check.minutes, outcomes, check.leak, check.group, check.derived_from


def _of_complaint(each: Complaint) -> object:
    said = each.true_when_said, each.said_when_not, each.comes_and_goes
    return each.mode, dict(each.says), *said, each.stop_first


def asked_for(old: Knowledge, new: Knowledge) -> tuple[Condition, ...]:
    """The conditions that changed causes and checks stand under: what a set must be for the edit to meet it."""
    one, two = reasoning(old), reasoning(new)
    found: dict[Condition, None] = {}
    for kind in ("causes", "checks"):
        for name in _changed(one, two, kind):
            for knowledge in (old, new):
                entries: Mapping[str, object] = getattr(knowledge, kind)
                found.update(dict.fromkeys(_conditions(entries.get(name))))
    return tuple(condition for condition in found if condition.tests)


def _changed(one: Scope, two: Scope, kind: str) -> Iterable[str]:
    kinds = (kind, "where") if kind == "checks" else (kind,)
    for name in dict.fromkeys((*two[kind], *one[kind])):
        if any(one[each].get(name) != two[each].get(name) for each in kinds):
            yield name


def _conditions(entry: object) -> Iterable[Condition]:
    only_if = getattr(entry, "only_if", None)
    if isinstance(only_if, Condition):
        yield only_if
    yield from (condition for condition, _ in getattr(entry, "when", ()))
