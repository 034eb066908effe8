"""The load test in a record: its readings, its limits one by one, and how it compares with the performance classes.

Purpose: what was read under load put as the parts of a section.
Law: plain text only; a class by which the set is not judged is told for comparison, and never as a failure of the set.
Not here: the figures and the verdicts (see the engine), the picture (see `figure`).
"""

from __future__ import annotations

from collections.abc import Iterable

from ...engine.loadtest import CLASSES, NEAR, RULES, LimitVerdict, LoadPoint, Quantity, Result
from ...engine.problems import in_sentence
from .load_record import LoadTest
from .load_view import RUN_TITLES
from .parts import Grid, LoadCurve, Part, Words

_CALLS = {"pass": "pass", "fail": "FAIL", "untested": "not tested", "too close to call": "too close to call"}
_KINDS = {"at most": "at most", "at least": "at least", "about": "aim"}


def load_parts(found: LoadTest) -> Iterable[Part]:
    if any(sum(point.hertz is not None for point in result.points) > 1 for result in found.results):
        yield LoadCurve(found)
    source = "" if found.noted else " From single checks; no load test was entered."
    yield Words(
        f"Full load is {found.test.full_kilowatts:.3g} kW here ({_rule(found.rule)}).{source}"
        + ("" if found.accuracy else " No meter accuracy was stated: guard bands are half of the last digit written.")
    )
    for result in found.results:
        yield _table(result)
    for result in found.results:
        for question in result.questions:
            yield Words(f"Question, {RUN_TITLES[result.run]}, {question.place}: {question.text}", strong=True)
    for result in found.results:
        yield from _limits(found, result)


def _rule(name: str) -> str:
    rule = RULES.get(name)
    return rule.title if rule else "as rated: no derating rule reaches this site"


def _table(result: Result) -> Grid:
    """The readings of a run; columns that nothing was read for are left out."""
    columns = {
        "Load": [f"{point.load:.0%}".replace("%", " %") for point in result.points],
        "Known from": [point.load_from for point in result.points],
        "Hz": [_figure(point.hertz, 5) for point in result.points],
        "V": [_figure(point.volts, 4) for point in result.points],
        "A per leg": [" / ".join(_figure(amp, 4) for amp in point.amps) for point in result.points],
        "kW": [_figure(point.kilowatts, 3) for point in result.points],
        "Imbalance": [
            f"{point.imbalance:.0f} %" if point.imbalance is not None and point.load > NEAR else ""
            for point in result.points
        ],
        "Steady?": [_steady(point) for point in result.points],
        "Extremes": [_extremes(point) for point in result.points],
        "Recovery": [f"{point.row.recovery.value:g} s" if point.row.recovery else "" for point in result.points],
        "Note": [point.row.note for point in result.points],
    }
    kept = {name: cells for name, cells in columns.items() if any(cells)}
    known = set(kept.pop("Known from", ()))
    if len(known) > 1:
        kept = {"Load": kept["Load"], "Known from": columns["Known from"], **kept}
    source = known.pop() if len(known) == 1 else ""
    told = f", load from {source}" if source and source != "as set" else f", load {source}" if source else ""
    return Grid(f"Readings {RUN_TITLES[result.run]}{told}", tuple(kept), tuple(zip(*kept.values(), strict=True)))


def _figure(quantity: Quantity | None, digits: int) -> str:
    return "" if quantity is None else f"{quantity.value:.{digits}g}"


def _steady(point: LoadPoint) -> str:
    parts = [point.row.behaviour.replace("_", " ")]
    if point.row.swing:
        parts.append(f"{point.row.swing.value:.3g} Hz")
    return ", ".join(part for part in parts if part)


def _extremes(point: LoadPoint) -> str:
    """The lowest and highest frequency on the way to this load."""
    row = point.row
    parts = [f"down to {row.lowest.value:.4g} Hz" if row.lowest else ""]
    parts.append(f"up to {row.highest.value:.4g} Hz" if row.highest else "")
    return ", ".join(part for part in parts if part)


def _limits(found: LoadTest, result: Result) -> Iterable[Part]:
    """The tolerance that the set is judged by, limit for limit; of the performance classes only what they come to."""
    chosen = [verdict for verdict in result.verdicts if verdict.tolerance == found.tolerance.id]
    rows = []
    for verdict in chosen:
        measure = verdict.measure
        if measure.value is not None:
            measured = f"{measure.value.value:.4g} \u00b1{measure.value.guard:.2g} {measure.unit}"
            rows.append((measure.title, measured, _called(verdict)))
    call = result.calls[found.tolerance.id]
    rows.append(("All limits together", "", {"untested": "not all tested"}.get(call, _CALLS.get(call, call))))
    headers = ("Quantity", "Measured", "Limit and verdict")
    yield Grid(f"Verdict by limit, {RUN_TITLES[result.run]}: {found.tolerance.title}", headers, tuple(rows))
    missing = [f"{verdict.measure.title} ({verdict.why})" for verdict in chosen if verdict.call == "untested"]
    if missing:
        yield Words(f"Not tested, {RUN_TITLES[result.run]}: {'; '.join(missing)}.")
    if result is not found.results[-1]:
        return
    if classes := [name for name in CLASSES if name in result.calls and name != found.tolerance.id]:
        told = "; ".join(_class_told(found, result, name) for name in classes)
        yield Words(
            f"For comparison only, {RUN_TITLES[result.run]}, the performance classes of ISO 8528-5, by which this set "
            f"is not judged: {told}."
        )


def _class_told(found: LoadTest, result: Result, name: str) -> str:
    """What a performance class comes to, and by which quantities."""
    mine = [verdict for verdict in result.verdicts if verdict.tolerance == name]
    failed = list(dict.fromkeys(in_sentence(verdict.measure.title) for verdict in mine if verdict.call == "fail"))
    title = found.titles.get(name, name)
    if failed:
        return f"{title} not reached, by {', '.join(failed)}"
    words = {"pass": "reached", "too close to call": "too close to call"}
    return f"{title} {words.get(result.calls[name], 'not tested in full, and nothing read is beyond it')}"


def _called(verdict: LimitVerdict) -> str:
    unit = verdict.measure.unit
    limit = f"{_KINDS.get(verdict.kind, verdict.kind)} {verdict.bound:.4g} {unit}"
    if verdict.call == "aim":
        return f"{limit}: {verdict.margin or 0.0:+.2g} {unit} from it"
    told = _CALLS.get(verdict.call, verdict.call)
    if verdict.margin is None:
        return f"{limit}: {told}"
    room = f"{abs(verdict.margin):.2g} {unit} {'to spare' if verdict.margin >= 0 else 'beyond'}"
    return f"{limit}: {told}, {room}" + (f" ({verdict.why})" if verdict.call == "untested" else "")
