"""What a load test came to: one result for each run, as found and as left.

Purpose: everything that the terminal, the record and the job need, from one call.
Law: the same rows, set and limits give the same result; runs are never mixed.
Not here: how it looks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..compiler import Check, Tolerance
from ..problems import AnswerError
from ..readings import read_answer
from .contradictions import Question, question
from .entry_table import RUNS, ReadingRow
from .loadtest import LoadPoint, Quantity, Test, findings, points
from .verdict import Call, LimitVerdict, Measure, judge, measures, overall

CLASSES = ("g1", "g2", "g3")


@dataclass(frozen=True, slots=True)
class Result:
    """One run. `calls`: the worst call of each tolerance set. `answers`: (check id, text) for `Job.record`."""

    run: str
    points: tuple[LoadPoint, ...]
    measures: Mapping[str, Measure]
    verdicts: tuple[LimitVerdict, ...]
    calls: Mapping[str, Call]
    questions: tuple[Question, ...]
    answers: tuple[tuple[str, str], ...]

    def as_dict(self) -> dict[str, object]:
        """Plain values for JSON."""
        return {
            "run": self.run,
            "points": [_point(point) for point in self.points],
            "measures": {name: _measure(item) for name, item in self.measures.items() if item.value is not None},
            "verdicts": [
                {
                    "tolerance": verdict.tolerance, "limit": verdict.limit, "kind": verdict.kind,
                    "bound": verdict.bound, "measure": verdict.measure.id, "value": _value(verdict.measure.value),
                    "guard": verdict.measure.value.guard if verdict.measure.value else None,
                    "unit": verdict.measure.unit, "call": verdict.call, "margin": verdict.margin, "why": verdict.why,
                }
                for verdict in self.verdicts
            ],
            "calls": dict(self.calls),
            "questions": [{"code": item.code, "place": item.place, "text": item.text} for item in self.questions],
            "answers": [{"check": check, "answer": answer} for check, answer in self.answers],
        }  # fmt: skip


def analyse(
    test: Test,
    rows: Sequence[ReadingRow],
    tolerances: Mapping[str, Tolerance],
    chosen: str,
    checks: Mapping[str, Check],
) -> tuple[Result, ...]:
    """Results by run, as found before as left; a run without readings has none.

    tolerances: by id, as in the knowledge; chosen is judged, and the performance classes G1 to G3 beside it.
    checks: those that the set has, so that answers fit them. Raises AnswerError for rows that cannot be placed.
    """
    wanted = [name for name in dict.fromkeys((chosen, *CLASSES)) if name in tolerances]
    bands = tolerances[chosen].bands

    def takes(name: str, answer: str) -> bool:
        if name not in checks:
            return False
        try:
            read_answer(checks[name], answer, test.features, bands.get(name))
        except AnswerError:
            return False
        return True

    results = []
    for run in RUNS:
        found = points(test, [row for row in rows if row.run == run])
        if not found:
            continue
        made = measures(test, found)
        verdicts = judge(test, made, [tolerances[name] for name in wanted])
        calls = {name: overall([item for item in verdicts if item.tolerance == name]) for name in wanted}
        answers = findings(test, found, takes)
        results.append(Result(run, found, made, verdicts, calls, question(test, found), answers))
    return tuple(results)


def _value(quantity: Quantity | None) -> float | None:
    return None if quantity is None else quantity.value


def _measure(item: Measure) -> dict[str, object]:
    guard = item.value.guard if item.value else None
    return {"title": item.title, "unit": item.unit, "value": _value(item.value), "guard": guard, "place": item.place}


def _point(point: LoadPoint) -> dict[str, object]:
    return {
        "place": point.row.place, "load": point.load, "load_from": point.load_from, "step": point.step,
        "hertz": _value(point.hertz), "kilowatts": _value(point.kilowatts), "volts": _value(point.volts),
        "amps": [amp.value for amp in point.amps], "neutral": point.neutral, "imbalance_percent": point.imbalance,
        "behaviour": point.row.behaviour, "note": point.row.note,
    }  # fmt: skip
