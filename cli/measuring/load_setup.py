"""What a load test is made of: the set and its site, the plan, and the readings that stand in a file.

Purpose: the options of the command -> `Setup`; a file -> rows; rows -> results by run.
Law: what cannot be used is an error that names the option or the file; a job brings its set, its tolerance and the
meters that were stated for it.
Not here: asking at the terminal (see `load_questions`), the command itself (see `loadtest`).
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ...engine.compiler import parse_number
from ...engine.loadtest import Derating, Result, analyse, derating, entry_table, load, loadtest
from ...engine.problems import AnswerError, HertzwrightError, quoted
from ..files import features_given, input_file
from ..record import load_record

if TYPE_CHECKING:
    from ...engine import Job, Knowledge
    from ...engine.job import Risk

_LARGEST = 2_000_000


class LoadTestError(HertzwrightError):
    """A load test that cannot be made from what was given."""


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything about a load test but its readings."""

    test: loadtest.Test
    plan: tuple[loadtest.PlanStep, ...]
    derating: Derating
    rules: tuple[Derating, ...]
    tolerance: str
    total: load.Total | None
    risks: tuple[Risk, ...] = ()


def prepare(knowledge: Knowledge, arguments: argparse.Namespace, job: Job | None = None) -> Setup:
    """The set, its site, what it can give there, the plan and the connected loads. Raises AnswerError.

    job: the set is that of this job.
    """
    if job is not None and arguments.set:
        raise AnswerError(f"--set {quoted(arguments.set[0])} beside --job: the set is that of the job")
    given: dict[str, object] = dict(job.features) if job is not None else {}
    features = knowledge.features(given | features_given(knowledge, arguments.set))
    tolerance = arguments.tolerance or (job.tolerance if job is not None else "default")
    knowledge.tolerance(tolerance)
    humidity = None if arguments.humidity is None else _number("--humidity", arguments.humidity, 0, 100) / 100.0
    site = derating.Site(
        float(features["altitude"]), float(features["temperature"]), _barometer(arguments.barometer), humidity
    )
    chosen = derating.derate(site, arguments.derating)
    full = float(features["rated_kw"]) * chosen.usable
    factor = _number("--power-factor", arguments.power_factor, 0.1, 1.0)
    overload = 0.0 if arguments.overload is None else _number("--overload", arguments.overload, 1, 50)
    if overload and not arguments.overload_allowed:
        raise AnswerError("an overload needs --overload-allowed as well: the set's own book must allow it")
    steps = loadtest.plan(features, full, factor, overload, arguments.overload_allowed)
    stated = load_record.accuracy_of(job.standing) if job is not None else []
    accuracy = loadtest.read_accuracy(arguments.meter_accuracy or stated)
    test = loadtest.Test(features, full, accuracy, factor, overload)
    total = None
    if arguments.connected:
        try:
            total = load.add_up(
                [load.read_connected(text) for text in arguments.connected], test.rated_volts, test.phases
            )
        except ValueError as error:
            raise AnswerError(f"--connected: {error}") from None
    risks = job.risks if job is not None else ()
    return Setup(test, steps, chosen, derating.compare(site), tolerance, total, risks)


def results_of(knowledge: Knowledge, setup: Setup, rows: Sequence[entry_table.ReadingRow]) -> tuple[Result, ...]:
    """Results by run. `Result.answers` are what `Job.record` takes, so that a load test can feed a job."""
    checks = {name: check for name, check in knowledge.checks.items() if knowledge.applies(name, setup.test.features)}
    return analyse(setup.test, rows, knowledge.catalogue.tolerances, setup.tolerance, checks)


def read_readings(name: str, run_name: str = "as_found") -> entry_table.ReadingTable:
    """The readings of a CSV or YAML file, or of standard input for "-". Raises LoadTestError, AnswerError."""
    shown = input_file.file_name(name)
    data = input_file.read_whole(name, _LARGEST, LoadTestError, "; a long record is a trace, not a load test")
    if Path(name).suffix.lower() in (".yaml", ".yml", ".json"):
        return _read_yaml(data, shown, run_name)
    try:
        text = data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise LoadTestError(f"{shown}: byte {error.start} is not UTF-8; save the file as UTF-8") from None
    return entry_table.read_table(text, shown, run_name)


def _read_yaml(data: bytes, shown: str, run_name: str) -> entry_table.ReadingTable:
    from ...engine.compiler import parse, plain

    parsed = parse(data, shown)
    if parsed.problems or parsed.root is None:
        raise LoadTestError(str(parsed.problems[0]) if parsed.problems else f"{shown}: holds nothing")
    found = plain(parsed.root)
    if isinstance(found, dict):
        if set(found) != {"readings"}:
            raise LoadTestError(f"{shown}: expected a list of readings, or one key readings; found {', '.join(found)}")
        found = found["readings"]
    return entry_table.read_mappings(found, shown, run_name)


def _number(option: str, text: str, lowest: float, highest: float) -> float:
    try:
        value = parse_number(text.strip().removesuffix("%"))
    except ValueError:
        value = float("nan")
    if not lowest <= value <= highest:
        raise AnswerError(f"{option} {quoted(text)}: expected a number from {lowest:g} to {highest:g}")
    return value


def _barometer(text: str | None) -> float | None:
    """Station pressure in kPa, from kPa, mbar or inHg."""
    if text is None:
        return None
    bare = text.strip().lower().replace(" ", "")
    for unit, factor in (("kpa", 1.0), ("mbar", 0.1), ("hpa", 0.1), ("inhg", 3.38639)):
        if bare.endswith(unit):
            try:
                value = parse_number(bare.removesuffix(unit)) * factor
            except ValueError:
                break
            if 50.0 <= value <= 110.0:
                return value
            break
    raise AnswerError(f'--barometer {quoted(text)}: expected station pressure from 50 to 110 kPa, such as "84 kPa"')
