"""Who uses an item of the knowledge.

Purpose: for every kind of item, the other items that speak of it, so that an editor sees what an edit will touch.
Law: pure; names in the order of the knowledge, kinds that use it nowhere left out.
Not here: how it is printed (see `page`, `leaflet`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ...engine import Knowledge
from ...engine.compiler import PROOF_RUN, Condition, Source
from ...engine.review import Meaning, meaning

Uses = dict[str, tuple[str, ...]]


def uses(knowledge: Knowledge, kind: str, name: str) -> Uses:
    """Label of the users -> their ids. KeyError for an id that is not there."""
    found = {
        "cause": _cause,
        "check": _check,
        "remedy": _remedy,
        "complaint": _complaint,
        "caution": _caution,
        "state": _state,
        "feature": _feature,
        "word": _word,
        "source": _source,
        "tolerance": _tolerance,
        "area": _area,
        "setting": _setting,
        "drawing": _drawing,
    }.get(kind)
    listed = {} if found is None else found(knowledge, name)
    if kind in ("cause", "check", "remedy", "complaint", "setting"):
        listed["In place of"] = _replaced(knowledge, kind, name)
    return {label: tuple(dict.fromkeys(names)) for label, names in listed.items() if names}


def _replaced(knowledge: Knowledge, kind: str, name: str) -> list[str]:
    table: Mapping[str, object] = {
        "cause": knowledge.causes, "check": knowledge.checks, "remedy": knowledge.remedies,
        "complaint": knowledge.complaints, "setting": knowledge.catalogue.setting,
    }[kind]  # fmt: skip
    retired = {other: getattr(each, "retired", None) for other, each in table.items()}
    return [other for other, each in retired.items() if getattr(each, "replaced_by", "") == name]


def _rules(knowledge: Knowledge, names: Iterable[str]) -> list[str]:
    sought = set(names)
    return [rule.id for rule in knowledge.catalogue.order.values() if sought & {*rule.before, *rule.after}]


def _cause(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    shows = knowledge.causes[name].shows
    speaking = []
    for complaint in knowledge.complaints.values():
        for check, outcomes in complaint.says.items():
            if any(shows.get(check, ())[at : at + 1] > (0.0,) for at in _places(knowledge, check, outcomes)):
                speaking.append(complaint.id)
    return {
        "Checks": list(shows),
        "Complaints that speak of it": speaking,
        "Remedies": list(knowledge.causes[name].remedies),
        "Order rules of its remedies": _rules(knowledge, knowledge.causes[name].remedies),
        "Cases": [case.id for case in knowledge.cases.values() if name in (*case.truth, *case.leading)],
    }


def _places(knowledge: Knowledge, check: str, outcomes: Iterable[str]) -> list[int]:
    return [knowledge.checks[check].index(outcome) for outcome in outcomes]


def _check(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    catalogue = knowledge.catalogue
    check = knowledge.checks[name]
    return {
        "Causes": list(check.parents),
        "Complaints": [each.id for each in knowledge.complaints.values() if name in each.says],
        "Order rules": _rules(knowledge, [name]),
        "Remedies that prove with it": [each.id for each in knowledge.remedies.values() if name in each.proof],
        "Proof run": [PROOF_RUN] if name in catalogue.costs.proof_checks else [],
        "Steps of setting": [
            each.id for each in catalogue.setting.values() if name in (*each.accepts, *each.looks, *each.no_response)
        ],
        "Published order": [stage for stage, each in catalogue.from_the_top.items() if each.check == name],
        "Tolerances": [each.id for each in catalogue.tolerances.values() if name in each.bands],
        "Derived from it": [
            each.id for each in knowledge.checks.values() if each.derived_from and name in each.derived_from
        ],
        "Looks at the same": [
            each.id
            for each in knowledge.checks.values()
            if check.group and each.group == check.group and each.id != name
        ],
        "Cases": _cases(knowledge, "check", name),
    }


def _remedy(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    stages = knowledge.catalogue.from_the_top
    return {
        "Order rules": _rules(knowledge, [name]),
        "Remedies that it follows": [each.id for each in knowledge.remedies.values() if name in each.then],
        "Published order": [stage for stage, each in stages.items() if name in each.do.values()],
        "Steps of setting": [each.id for each in knowledge.catalogue.setting.values() if name in each.works],
        "Cases": _cases(knowledge, "remedy", name),
    }


def _complaint(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    return {"Cases": _cases(knowledge, "complaint", name)}


def _cases(knowledge: Knowledge, kind: str, name: str) -> list[str]:
    return [case.id for case in knowledge.cases.values() if any(fact.get(kind) == name for fact in case.facts)]


def _caution(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    return {
        "Set-up states": [each.id for each in knowledge.catalogue.states.values() if name in each.cautions],
        "Checks": [each.id for each in knowledge.checks.values() if name in each.cautions],
        "Remedies": [each.id for each in knowledge.remedies.values() if name in each.cautions],
        "Complaints": [each.id for each in knowledge.complaints.values() if name in each.cautions],
        "Steps of setting": [each.id for each in knowledge.catalogue.setting.values() if name in each.cautions],
    }


def _state(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    return {
        "Checks": [each.id for each in knowledge.checks.values() if each.state == name],
        "Remedies": [each.id for each in knowledge.remedies.values() if each.state == name],
        "Steps of setting": [each.id for each in knowledge.catalogue.setting.values() if each.state == name],
        "Proof run": [PROOF_RUN] if knowledge.catalogue.costs.proof_state == name else [],
    }


def _feature(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    def asks(condition: Condition) -> bool:
        return any(test.feature == name for test in condition.tests)

    causes = knowledge.causes.values()
    return {
        "Causes that only exist with it": [each.id for each in causes if asks(each.only_if)],
        "Causes as common as it says": [each.id for each in causes if any(asks(when) for when, _ in each.when)],
        "Checks": [each.id for each in knowledge.checks.values() if asks(each.only_if)],
        "Steps of setting": [each.id for each in knowledge.catalogue.setting.values() if asks(each.only_if)],
        "Readings scaled by it": [
            each.id for each in knowledge.checks.values() if each.reading and _SCALES.get(each.reading.scale) == name
        ],
        "Cases": [case.id for case in knowledge.cases.values() if name in case.set],
    }


_SCALES = {"rated_frequency": "hertz", "rated_volts": "volts", "rated_amps": "rated_kw"}


def _word(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    written = meaning(knowledge)

    def by(kind: str) -> list[str]:
        return [f"{entry}{_times(said, name)}" for entry, said in written[kind].items() if _times(said, name)]

    return {"Causes": by("cause"), "Checks": by("check"), "Remedies": by("remedy"), "Complaints": by("complaint")}


def _times(said: Meaning, word: str) -> str:
    count = sum(each.word == word for each in said.values())
    return f" ({count})" if count > 1 else " " * count


def _source(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    known = knowledge.catalogue.sources[name]
    catalogue = knowledge.catalogue

    def cites(sources: Iterable[Source]) -> bool:
        return any((each.title, each.number) == (known.title, known.number) for each in sources)

    return {
        "Causes": [each.id for each in knowledge.causes.values() if cites(each.sources)],
        "Checks": [each.id for each in knowledge.checks.values() if cites(each.sources)],
        "Remedies": [each.id for each in knowledge.remedies.values() if cites(each.sources)],
        "Complaints": [each.id for each in knowledge.complaints.values() if cites(each.sources)],
        "Order rules": [each.id for each in catalogue.order.values() if cites(each.sources)],
        "Published order": [stage for stage, each in catalogue.from_the_top.items() if cites(each.sources)],
        "Steps of setting": [each.id for each in catalogue.setting.values() if cites(each.sources)],
        "Tolerances": [each.id for each in catalogue.tolerances.values() if cites(each.sources)],
        "Cautions": [each.id for each in catalogue.cautions.values() if cites(each.sources)],
        "Words": [each.id for each in catalogue.words.values() if cites(each.sources)],
        "Cases": [each.id for each in knowledge.cases.values() if cites(each.sources)],
    }


def _tolerance(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    return {"Bands of": list(knowledge.catalogue.tolerances[name].bands)}


def _setting(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    steps = knowledge.catalogue.setting.values()
    return {
        "Steps that need it": [each.id for each in steps if name in each.needs],
        "Steps that disturb it": [each.id for each in steps if name in each.disturbs],
    }


def _drawing(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    shown = knowledge.drawings[name].of
    return {
        "Checks": [step for step in shown if step in knowledge.checks],
        "Remedies": [step for step in shown if step in knowledge.remedies],
        "Units": [each.id for each in knowledge.units.values() if each.drawing == name],
    }


def _area(knowledge: Knowledge, name: str) -> dict[str, list[str]]:
    return {
        "Causes": [each.id for each in knowledge.causes.values() if each.area == name],
        "Checks": [each.id for each in knowledge.checks.values() if each.area == name],
        "Remedies": [each.id for each in knowledge.remedies.values() if each.area == name],
        "Cases": [each.id for each in knowledge.cases.values() if each.area == name],
    }
