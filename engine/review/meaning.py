"""What the entries of the knowledge mean: every fact of an entry that can change what the program does.

Purpose: knowledge -> kind -> id -> fact -> what is said, so that two versions can be laid side by side.
Law: pure; what only a reader sees (titles, notes, steps, sources, order of writing) is no fact (see `wording`).
Not here: what differs between two versions (see `changes`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from math import inf

from ..compiler import Band, Case, Cause, Check, Complaint, Condition, Fits, Knowledge, Remedy, Retired, Tolerance

ADDED, REMOVED, RETIRED, CHANGED = "added", "removed", "retired", "changed"
STRENGTH = ("strengthened", "weakened")
COMMON = ("commoner", "rarer")
TIME = ("longer", "shorter")
SIZE = ("higher", "lower")
DEMAND = ("stricter", "looser")
DIRECTIONS = (ADDED, REMOVED, RETIRED, CHANGED, *STRENGTH, *COMMON, *TIME, *SIZE, *DEMAND)


@dataclass(frozen=True, slots=True)
class Statement:
    """One fact of an entry. `number` is what it comes to, `word` the word of strength it is written with.

    `senses`: the directions of a number that grew and of one that shrank.
    """

    text: str
    number: float | None = None
    senses: tuple[str, str] = (CHANGED, CHANGED)
    word: str = ""


Meaning = dict[str, Statement]


def meaning(knowledge: Knowledge) -> dict[str, dict[str, Meaning]]:
    """The facts of every entry: kind -> id -> fact -> what is said."""
    return {
        **_measures(knowledge),
        **_of_safety(knowledge),
        **_of_faults(knowledge),
        **_of_setting(knowledge),
        **_of_made_up_sets(knowledge),
        "drawing": {name: {"shown with": _list(each.of)} for name, each in knowledge.drawings.items()},
        "unit": {name: {} for name in knowledge.units},
        "case": {name: _case(case) for name, case in knowledge.cases.items()},
    }


def _measures(knowledge: Knowledge) -> dict[str, dict[str, Meaning]]:
    """Words of strength, features of sets, set-up states, and what minutes and readings are held against."""
    catalogue = knowledge.catalogue
    return {
        "word": {name: {"value": number(word.value)} for name, word in catalogue.words.items()},
        "feature": {
            name: {
                "kind": Statement(each.kind),
                "default": Statement(str(each.default)),
                "choices": Statement(", ".join(sorted(each.choices))),
                "range": Statement(f"{each.lowest:g} to {each.highest:g} {each.unit}".strip()),
            }
            for name, each in catalogue.features.items()
        },
        "state": {
            name: {"runs": _yes(each.runs), "dangerous": _yes(each.dangerous), "cautions": _list(each.cautions)}
            for name, each in catalogue.states.items()
        },
        "costs": {"minutes and proof": _costs(knowledge)},
        "tolerance": {name: _tolerance(each) for name, each in catalogue.tolerances.items()},
    }


def _of_safety(knowledge: Knowledge) -> dict[str, dict[str, Meaning]]:
    """What keeps a set safe while it is worked on: limits, cautions, what is off, what is seen to last."""
    catalogue = knowledge.catalogue
    return {
        "danger limit": {name: _fields(each, "") for name, each in catalogue.danger.items()},
        "caution": {name: {} for name in catalogue.cautions},
        "fitting": {
            name: {
                "put back in": Statement(each.state),
                "minutes to put back": number(each.minutes, TIME, " min"),
                "cautions": _list(each.cautions),
            }
            for name, each in catalogue.fittings.items()
        },
        "closing point": {name: _fields(each, "") for name, each in catalogue.closing.items()},
    }


def _of_faults(knowledge: Knowledge) -> dict[str, dict[str, Meaning]]:
    """Causes with what shows and cures them, and the order in which they are looked for."""
    catalogue = knowledge.catalogue
    return {
        "cause": {name: of_cause(knowledge, cause) for name, cause in knowledge.causes.items()},
        "check": {name: _check(knowledge, check) for name, check in knowledge.checks.items()},
        "remedy": {name: _remedy(knowledge, remedy) for name, remedy in knowledge.remedies.items()},
        "complaint": {name: _complaint(knowledge, each) for name, each in knowledge.complaints.items()},
        "order rule": {
            name: {
                "kind": Statement(rule.kind),
                "before": _list(rule.before),
                "after": _list(rule.after),
                **({"complaints": _list(rule.complaints)} if rule.complaints else {}),
            }
            for name, rule in catalogue.order.items()
        },
        "published order": {"from the top": _stages(knowledge)},
    }


def _of_setting(knowledge: Knowledge) -> dict[str, dict[str, Meaning]]:
    """What is turned, and the course from the ground up."""
    catalogue = knowledge.catalogue
    return {
        "adjuster": {name: _fields(each, "") for name, each in catalogue.adjusters.items()},
        "trim": {name: _fields(each, "") for name, each in catalogue.pairs.items()},
        "setting": {name: _fields(each, "") for name, each in catalogue.setting.items()},
        "setting rules": {"of all steps": _fields(catalogue.setting_rules, "")},
    }


def _of_made_up_sets(knowledge: Knowledge) -> dict[str, dict[str, Meaning]]:
    """How sets differ, and which are dealt in drills."""
    catalogue = knowledge.catalogue
    return {
        "spread": {name: _fields(each, "") for name, each in catalogue.spreads.items()},
        "share": {name: _fields(each, "") for name, each in catalogue.shares.items()},
        "made-up set": {name: _fields(each, "") for name, each in catalogue.made_up.items()},
        "combination": {name: _fields(each, "") for name, each in catalogue.combinations.items()},
        "slip": {name: _fields(each, "") for name, each in catalogue.slips.items()},
    }


def _tolerance(tolerance: Tolerance) -> Meaning:
    found = {f"limit {limit}": number(value) for limit, value in tolerance.limits.items()}
    for check, bands in tolerance.bands.items():
        found.update({f"{check}: {key}": said for key, said in _bands(bands, "").items()})
    return found


def of_cause(knowledge: Knowledge, cause: Cause) -> Meaning:
    if cause.retired is not None:
        return _retired(cause.retired)
    found = {
        "how common": strength(knowledge, cause.how_common, COMMON),
        "exists": Statement(condition(cause.only_if)),
        "part": Statement(cause.part or cause.id),
        "area": Statement(cause.area),
        "fault": _yes(cause.fault),
    }
    for when, value in cause.when:
        found[f"how common where {condition(when)}"] = strength(knowledge, value, COMMON)
    if len(cause.when) > 1:
        found["which exception wins"] = Statement(", then ".join(condition(when) for when, _ in cause.when))
    for check, row in cause.shows.items():
        outcomes = knowledge.checks[check].outcomes
        for outcome, chance in zip(outcomes[1:], row[1:], strict=True):
            if chance > 0.0:
                word = cause.words.get(check, {}).get(outcome, "")
                found[f"{check}: {outcome}"] = strength(knowledge, chance, STRENGTH, word)
    return found


def _check(knowledge: Knowledge, check: Check) -> Meaning:
    if check.retired is not None:
        return _retired(check.retired)
    found = {
        "kind": Statement(check.kind),
        "area": Statement(check.area),
        "set-up state": Statement(check.state),
        "minutes": number(check.minutes, TIME, " min"),
        "answers, normal first": Statement(", ".join(check.outcomes)),
        "exists": Statement(condition(check.only_if)),
        "looks again at": Statement(check.group or "nothing else"),
        "derived from": Statement(" less ".join(check.derived_from or ()) or "nothing"),
        "tools": _list(" ".join(tool.split()) for tool in check.tools),
        "cautions": _list(check.cautions),
        "dangerous": _yes(check.dangerous),
        **_fits(check.fits),
    }
    for outcome, chance in zip(check.outcomes[1:], check.leak[1:], strict=True):
        found[f"without any known cause: {outcome}"] = strength(knowledge, chance, COMMON)
    reading = check.reading
    if reading is not None:
        found["reading"] = Statement(
            ", ".join(
                part
                for part in (
                    f"{reading.lowest:g} to {reading.highest:g} {reading.unit}",
                    reading.scale and f"scaled by {reading.scale}",
                    reading.per and f"one per {reading.per}",
                )
                if part
            )
        )
        found.update(_bands(reading.bands, reading.unit))
        found["uncertainty of the reading"] = number(reading.uncertainty, COMMON, f" {reading.unit}")
        if reading.uneven is not None:
            uneven = reading.uneven
            found[f"{uneven.outcome} where {uneven.measure} passes"] = number(uneven.above)
    return found


def _remedy(knowledge: Knowledge, remedy: Remedy) -> Meaning:
    if remedy.retired is not None:
        return _retired(remedy.retired)
    return {
        "area": Statement(remedy.area),
        "set-up state": Statement(remedy.state),
        "minutes": number(remedy.minutes, TIME, " min"),
        "proven by": _list(remedy.proof),
        "followed by": _list(remedy.then),
        "exists": Statement(condition(remedy.only_if)),
        "tools": _list(" ".join(tool.split()) for tool in remedy.tools),
        "cautions": _list(remedy.cautions),
        "dangerous": _yes(remedy.dangerous),
        **_fits(remedy.fits),
        **{
            what: Statement(", ".join(map(str, places)))
            for what, places in (("steps under load", remedy.under_load), ("steps with light load", remedy.light_load))
            if places
        },
        **({"runs from step": Statement(str(remedy.runs_from))} if remedy.runs_from else {}),
        **{f"cures {cause}": strength(knowledge, chance, STRENGTH) for cause, chance in remedy.cures.items()},
    }


def _fits(fits: Fits) -> Meaning:
    """What a step takes off; nothing is said where it takes nothing off."""
    named = {
        "needs on": fits.needs_on,
        "takes off": fits.takes_off,
        "puts back": fits.puts_back,
        "runs without": fits.runs_without,
    }
    return {what: _list(names) for what, names in named.items() if names}


def _complaint(knowledge: Knowledge, complaint: Complaint) -> Meaning:
    if complaint.retired is not None:
        return _retired(complaint.retired)
    return {
        "speaks of": Statement(f"{complaint.mode} of its checks"),
        "said where it is so": strength(knowledge, complaint.true_when_said, STRENGTH),
        "said where it is not so": strength(knowledge, complaint.said_when_not, COMMON),
        "does not show at a look": strength(knowledge, complaint.comes_and_goes, COMMON),
        "stop first": _yes(complaint.stop_first),
        "cautions": _list(complaint.cautions),
        **{f"says of {check}": _list(outcomes) for check, outcomes in complaint.says.items()},
    }


def _costs(knowledge: Knowledge) -> Meaning:
    costs = knowledge.catalogue.costs
    return {
        "start state": Statement(costs.start_state),
        **{f"{state} serves": _list(sorted(others)) for state, others in sorted(costs.serves.items())},
        "read as found": _list(costs.as_found),
        "looked at before the first start": _list(costs.first_start.checks),
        "read at once after the first start": _list(costs.first_start.read),
        "asked of the first start": _list(costs.first_start.asks),
        "proof run": number(costs.proof, TIME, " min"),
        "proof run state": Statement(costs.proof_state),
        "proof run checks": _list(costs.proof_checks),
        "proof run needs": _list(costs.proof_needed),
        "looked at before closing": _list(costs.before_closing),
        "full load believed by": Statement(costs.full_load_by),
        **{f"also fine in {check}": _list(outcomes) for check, outcomes in costs.also_fine.items()},
        "proof run shows a fault": strength(knowledge, costs.proof_shows, STRENGTH),
        "proof run false alarm": strength(knowledge, costs.proof_false, COMMON),
        "handing over": number(costs.refer, TIME, " min"),
        "coming back": number(costs.come_back, TIME, " min"),
        **{
            f"from {start} to {end}": number(value, TIME, " min") for (start, end), value in sorted(costs.moves.items())
        },
    }


def _stages(knowledge: Knowledge) -> Meaning:
    stages = knowledge.catalogue.from_the_top
    found = {"stages": Statement(", then ".join(stages))}
    for name, stage in stages.items():
        done = (f"{remedy} at {outcome}" for outcome, remedy in sorted(stage.do.items()))
        found[name] = Statement(", ".join((stage.check, *done)))
    return found


def _case(case: Case) -> Meaning:
    told = (" = ".join(fact.values()) for fact in case.facts)
    return {
        "set": Statement(", ".join(f"{name} {value}" for name, value in sorted(case.set.items())) or "as usual"),
        "facts": Statement("; ".join(told)),
        "truth": _list(case.truth),
        "expects in the lead": _list(case.leading),
        "within the first": number(float(case.within_first), (DEMAND[1], DEMAND[0])),
        "with at least": number(case.at_least, DEMAND),
        "next step": Statement(" or ".join(sorted(case.next_step)) or "any"),
    }


def _fields(entry: object, label: str) -> Meaning:
    """Every figure and choice of a value, by the names of its fields; what only a reader sees is left out."""
    if is_dataclass(entry) and not isinstance(entry, type):
        named = {field.name: getattr(entry, field.name) for field in fields(entry) if field.name not in _READ}
    elif isinstance(entry, Mapping):
        named = {str(key): value for key, value in entry.items()}
    elif isinstance(entry, tuple):
        named = {str(place): value for place, value in enumerate(entry, 1)}
    elif isinstance(entry, (int, float)) and not isinstance(entry, bool):
        return {label: number(float(entry))}
    else:
        return {label: Statement(str(entry))}
    found: Meaning = {}
    for key, value in named.items():
        told = condition(value) if isinstance(value, Condition) else value
        found.update(_fields(told, f"{label} {key.replace('_', ' ')}".strip()))
    return found


_READ = frozenset({"id", "title", "brief", "sources", "place"})


def strength(
    knowledge: Knowledge, value: float, senses: tuple[str, str] = (CHANGED, CHANGED), word: str = ""
) -> Statement:
    """A chance, by its word and its number: `usually (0.75)`."""
    words = knowledge.catalogue.words
    if word not in words or words[word].value != value:
        word = next((name for name, each in words.items() if each.value == value), "")
    told = f"{word.replace('_', ' ')} ({value:g})" if word else f"{value:g}"
    return Statement(told, value, senses, word)


def number(value: float, senses: tuple[str, str] = SIZE, unit: str = "") -> Statement:
    return Statement(f"{value:g}{unit}", value, senses)


def condition(found: Condition) -> str:
    """A condition in words: `cylinders at least 2 and fuel lp_gas`."""
    told = []
    for test in sorted(found.tests, key=lambda each: each.feature):
        bounds = [f"at least {test.at_least:g}" if test.at_least is not None else ""]
        bounds.append(f"below {test.below:g}" if test.below is not None else "")
        told.append(f"{test.feature} {' or '.join(sorted(test.values)) or ' and '.join(filter(None, bounds))}")
    return " and ".join(told) or "on any set"


def _bands(bands: Sequence[Band], unit: str) -> Meaning:
    found: dict[str, list[str]] = {}
    for band in bands:
        low = "" if band.low == -inf else f"from {band.low:g}"
        high = "" if band.high == inf else f"below {band.high:g}"
        text = " ".join(part for part in (low, high, unit) if part)
        found.setdefault("band " + " or ".join(band.outcomes), []).append(text)
    return {key: Statement("; ".join(told)) for key, told in found.items()}


def _retired(retired: Retired) -> Meaning:
    return {"retired": Statement(f"use {retired.replaced_by}" if retired.replaced_by else "no replacement")}


def _yes(value: bool) -> Statement:
    return Statement("yes" if value else "no")


def _list(names: Iterable[str]) -> Statement:
    return Statement(", ".join(sorted(set(names))) or "none")
