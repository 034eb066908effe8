"""A load test inside a job: kept as events of their own, and read back as the same table and verdicts.

Purpose: what a load test read beyond the answers to checks (volts, amps and kW at every load, the meter, the full load)
stays with the job, and comes back as the same table and verdicts for the report.
Law: one event for each reading, with the headings that a readings file has, and one for the full load that they were
taken against; only readings of the set as it was found, or as it is now, count as such. No note is read for any of it.
Not here: the arithmetic and the limits (see the engine).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ...engine import AnswerError, Job, Knowledge
from ...engine.compiler import Tolerance
from ...engine.job import ComparedReading, Event, figure_as_typed
from ...engine.loadtest import (
    DEFAULT_RULE,
    Figure,
    ReadingRow,
    Result,
    Site,
    Test,
    analyse,
    derate,
    loadtest,
    read_accuracy,
    read_mappings,
)
from .load_view import RUN_TITLES

METER = "Meter: "
SITE = "Site: "
# Field of a row -> heading in a readings file.
_HEADINGS = {
    "set_kilowatts": "load kw", "hertz": "hz", "rpm": "rpm", "volts": "volts", "kilowatts": "kw",
    "power_factor": "pf", "swing": "swing", "lowest": "lowest", "highest": "highest", "recovery": "recovery",
    "volts_swing": "volts swing", "lowest_volts": "lowest volts", "highest_volts": "highest volts",
    "volts_recovery": "volts recovery",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class LoadTest:
    """Results by run with what they were judged by. `noted`: they come from a load test, not from single checks.
    `accuracy`: of the meters as stated, empty where nobody said."""

    test: Test
    results: tuple[Result, ...]
    tolerance: Tolerance
    titles: dict[str, str]
    rule: str
    noted: bool
    accuracy: tuple[str, ...]

    def as_dict(self) -> dict[str, object]:
        """Plain values for JSON."""
        return {
            "full_load_kw": round(self.test.full_kilowatts, 4),
            "derating": self.rule,
            "power_factor": self.test.power_factor,
            "tolerance": self.tolerance.id,
            "noted": self.noted,
            "accuracy": list(self.accuracy),
            "runs": [result.as_dict() for result in self.results],
        }


def noted(texts: Iterable[str], prefix: str) -> list[str]:
    """What notes with this prefix say, each once, in their order."""
    return list(dict.fromkeys(text.removeprefix(prefix).strip() for text in texts if text.startswith(prefix)))


@dataclass(frozen=True, slots=True)
class KeptLoadTest:
    """What of a load test is kept with a job. rule: of derating. accuracy: as typed, where it was."""

    test: Test
    rule: str
    accuracy: tuple[str, ...]
    rows: tuple[ReadingRow, ...]


def readings(kept: KeptLoadTest, run: str) -> list[Event]:
    """The events that keep one run of a load test."""
    test = kept.test
    cells = {"kw": f"{test.full_kilowatts:.5g}", "rule": kept.rule, "power factor": f"{test.power_factor:g}"}
    made = [Event("load_reading", "full_load", cells=cells)]
    made += [Event("load_reading", "accuracy", cells={"text": text}) for text in kept.accuracy]
    return made + [Event("load_reading", run, cells=_written(row)) for row in kept.rows if row.run == run]


def accuracy_of(standing: Iterable[Event]) -> list[str]:
    """Accuracy of the meters, as stated with the load tests of a job, each once."""
    told = [event for event in standing if event.kind == "load_reading" and event.id == "accuracy"]
    return list(dict.fromkeys(text for event in told if (text := event.cells.get("text", ""))))


def _written(row: ReadingRow) -> dict[str, str]:
    cells = {} if row.load is None else {"load %": f"{100.0 * row.load.value:.6g}"}
    for field, heading in _HEADINGS.items():
        figure = getattr(row, field)
        if figure is not None:
            cells[heading] = _figure(figure)
    if row.amps:
        cells["amps"] = "/".join(_figure(figure) for figure in row.amps)
    if row.behaviour:
        cells["steady"] = row.behaviour.replace("_", " ")
    if row.note:
        cells["note"] = row.note
    cells.setdefault("hz", "-")  # a reading names its frequency, if only to say that there is none
    return cells


def _figure(figure: Figure) -> str:
    """A number with the digits it was written with."""
    if not figure.digit:
        return f"{figure.value:.6g}"
    decimals = max(0, round(-math.log10(figure.digit)))
    return f"{figure.value:.{decimals}f}"


def rows_of(job: Job, standing: Sequence[Event]) -> list[ReadingRow]:
    """Readings of the load tests in a job: as found before the first remedy, as left after the last.

    Of several load tests of one run the latest counts.
    """
    rows: dict[str, list[ReadingRow]] = {}
    epoch, begun = 0, set[str]()
    for event in standing:
        epoch += event.kind == "remedy"
        if event.kind != "load_reading":
            continue
        if event.id == "full_load":
            begun.clear()
        run = event.id
        if (run, epoch) not in (("as_found", 0), ("as_left", job.epoch)):
            continue
        try:
            read = read_mappings([event.cells], "the job", run).rows
        except AnswerError:  # of a knowledge that asks for something else
            continue
        if run not in begun:
            begun.add(run)
            rows[run] = []
        rows[run] += read
    return [row for run in RUN_TITLES for row in rows.get(run, [])]


def load_test(
    knowledge: Knowledge, job: Job, standing: Sequence[Event], accuracy: Sequence[str] = ()
) -> LoadTest | None:
    """The load test of a job: as noted, else from the checks that were answered. None where no frequency was read.

    Raises AnswerError for an accuracy that is not understood.
    """
    full, rule, factor = _full(job, standing)
    test = Test(job.features, full, read_accuracy(accuracy), factor)
    rows = rows_of(job, standing)
    known = {row.run for row in rows}
    if "as_found" not in known:
        rows += _from_checks(job, 0, "as_found")
    if "as_left" not in known and job.epoch:
        rows += _from_checks(job, job.epoch, "as_left")
    tolerances = knowledge.catalogue.tolerances
    try:
        results = analyse(test, rows, tolerances, job.tolerance, job.checks)
    except AnswerError:  # leg currents of another set
        return None
    if not any(point.hertz for result in results for point in result.points):
        return None
    titles = {name: tolerance.title for name, tolerance in tolerances.items()}
    return LoadTest(test, results, tolerances[job.tolerance], titles, rule, bool(known), tuple(accuracy))


def understood(accuracy: str) -> bool:
    """Whether a meter accuracy can be used; one that was recorded cannot be corrected, so it is passed over if not."""
    try:
        read_accuracy((accuracy,))
    except AnswerError:
        return False
    return True


def _full(job: Job, standing: Sequence[Event]) -> tuple[float, str, float]:
    """Full load in kW, the rule it comes from and the power factor: as noted last, else by the default rule."""
    for event in reversed(standing):
        if event.kind == "load_reading" and event.id == "full_load":
            try:
                full, factor = float(event.cells["kw"]), float(event.cells["power factor"])
            except (KeyError, ValueError):
                continue
            if 0.0 < full <= 1000.0 and 0.1 <= factor <= 1.0:
                return full, event.cells.get("rule", ""), factor
    # A knowledge of somebody's own may not ask for these.
    rated = float(job.features.get("rated_kw", 0.0))
    try:
        site = Site(float(job.features["altitude"]), float(job.features["temperature"]))
        return rated * derate(site).usable, DEFAULT_RULE, 1.0
    except (AnswerError, KeyError):  # a site outside the reach of the rule, or not known
        return rated, "no rule", 1.0


def _from_checks(job: Job, epoch: int, run: str) -> list[ReadingRow]:
    """Rows of what single checks read, so that they are judged by the same limits."""
    made = {item.check: figure_as_typed(job, item) for item in job.made if item.epoch == epoch}
    rows = []
    for place, load in loadtest.STEPS.items():
        hertz = _read(made, f"frequency_{place}")
        if hertz is None:
            continue
        swing = made.get(f"swing_{place}")
        kinds = swing.made.answer.outcomes if swing is not None else ()
        behaviour = kinds[0] if len(kinds) == 1 else ""
        lowest = highest = recovery = None
        if load == 1.0 and (dip := _read(made, "load_step_dip")):
            lowest = Figure(hertz.value - dip.value, max(hertz.digit, dip.digit))
        if load == 1.0:
            recovery = _read(made, "load_step_recovery")
        if load == 0.0 and (rise := _read(made, "load_drop_overshoot")):
            highest = Figure(hertz.value + rise.value, max(hertz.digit, rise.digit))
        rows.append(
            ReadingRow(
                place.replace("_", " "), run, Figure(load), hertz=hertz, volts=_read(made, f"voltage_{place}"),
                behaviour=behaviour, swing=_read(made, f"swing_{place}"), lowest=lowest, highest=highest,
                recovery=recovery,
            )
        )  # fmt: skip
    return rows


def _read(made: Mapping[str, ComparedReading], check: str) -> Figure | None:
    """The one number that a check read, with the size of its last digit."""
    found = made.get(check)
    if found is None or len(found.made.answer.values) != 1:
        return None
    return Figure(found.made.answer.values[0], found.digit)
