"""`hertzwright loadtest`: plan a load test, take its readings, and judge them.

Purpose: from a set and its site to the steps; from readings in any order to droop, band, regulation and verdicts.
Law: results go to standard output and talk to standard error; with no terminal nothing is asked, and the option to
give is named. Exit: 0 fine; 1 a limit of the chosen set failed, readings contradict each other, in the last
run, or a reading is dangerous.
Not here: the arithmetic and the limits (see the engine and the knowledge).
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ...engine import Hold
from ...engine.compiler import parse_number
from ...engine.job import danger, of_steps
from ...engine.loadtest import Derating, Result, analyse, derating, entry_table, load, loadtest
from ...engine.problems import AnswerError, HertzwrightError, printable, quoted
from ..files import features_given, input_file, store
from ..record import LoadPage, held, load_record, load_view, talk
from . import job_entry

if TYPE_CHECKING:
    from ...engine import Job, Knowledge

_LARGEST = 2_000_000
_HELP = (
    'Type what you read, in any order, for example "61.2 Hz 239 V 9.4/9.6 A steady". Put a load first to answer '
    'another step: "full 60.1 Hz". Also: swing 0.6 Hz, lowest 55 Hz, highest 64 Hz, recovery 3 s. '
    "Enter alone skips, back takes away the last, as left begins again after the repair, done ends."
)


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


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add = parser.add_argument
    add("--set", action="append", default=[], metavar="KEY=VALUE", help="a feature of the set, such as rated_kw=9")
    add("--tolerance", metavar="ID", help="tolerance set to judge by, beside G1 to G3 (default: default, or the job's)")
    add(
        "--readings",
        metavar="FILE",
        help="readings as found: CSV (comma, semicolon or tab) or YAML; - for standard input",
    )
    add("--as-left", metavar="FILE", help="readings as left, after the repair")
    add(
        "--meter-accuracy",
        action="append",
        default=[],
        metavar="TEXT",
        help='stated accuracy, such as "0.1 Hz, V=1%%+2"',
    )
    add("--derating", default=derating.DEFAULT_RULE, metavar="RULE", help=f"one of {', '.join(derating.RULES)}")
    add("--barometer", metavar="VALUE", help='station pressure, such as "84 kPa" or "24.9 inHg"')
    add("--humidity", metavar="PERCENT", help="relative humidity, for the rules that count it")
    add("--power-factor", default="1", metavar="PF", help="of the test load; 1 for a load bank of resistors")
    add("--connected", action="append", default=[], metavar="LOAD",
        help='a connected load, such as "resistive 3 kW leg 1" or "motor 2 hp efficiency 0.75"')  # fmt: skip
    add("--overload", nargs="?", const="50", metavar="PERCENT", help="plan a short overload, 50 percent unless said")
    add("--overload-allowed", action="store_true", help="the set's own book allows the overload")
    add("--plan", action="store_true", help="show the plan and ask nothing")
    add("--json", action="store_true", help="results as JSON")
    add("--plain", action="store_true", help="one fact a line, no drawing, no colour")
    store.add_knowledge(parser)
    job_entry.add_options(parser)


def run(arguments: argparse.Namespace) -> int:
    """Run the command. Returns the exit status; raises HertzwrightError for what cannot be used."""
    knowledge = store.knowledge(arguments.knowledge)
    path, job = job_entry.opened(knowledge, arguments) if arguments.job else (None, None)
    setup = prepare(knowledge, arguments, job)
    page = LoadPage.of(sys.stdout, arguments.plain)
    rows: list[entry_table.ReadingRow] = []
    remarks: list[str] = []
    for name, run_name in ((arguments.readings, "as_found"), (arguments.as_left, "as_left")):
        if name is not None:
            table = read_readings(name, run_name)
            rows += table.rows
            remarks += table.remarks
    for remark in remarks:
        talk(remark)
    if not rows and not arguments.plan:
        if not (sys.stdin.isatty() and sys.stderr.isatty()):
            talk("hertzwright loadtest: no terminal to ask at; give --readings FILE, or --plan for the steps alone")
            return 2
        talking = LoadPage.of(sys.stderr, arguments.plain)
        if job is not None and job.held:
            for text in held.held_lines(job.held):
                talking.line(text)
            raise LoadTestError("no load test is begun while the job is held")
        _cautions(knowledge, setup, talking)
        rows = _ask(knowledge, setup, talking, job_entry.run_of(job) if job else "as_found")
    results = results_of(knowledge, setup, rows)
    # What was secured after the readings as found holds no longer; a job knows, a file of two runs does not.
    holds = (*(job.held if job is not None else ()), *danger.of_rows(knowledge.catalogue, setup.test.features, rows))
    if arguments.json:
        found = as_dict(knowledge, setup, results, remarks, holds)
        print(json.dumps(found, sort_keys=True, indent=2, allow_nan=False))
    else:
        for text in held.held_lines(holds, held.HOW_ALONE):
            page.line(text)
        if arguments.plan or not results:
            load_view.show_plan(page, setup.test, setup.plan, setup.derating, setup.rules, derating.WHY_DEFAULT)
            _warn(knowledge, setup, page)
        if setup.total is not None:
            load_view.show_total(page, setup.total, setup.test)
        _show(page, knowledge, setup, results)
    if path is not None and job is not None and results:
        kept = load_record.KeptLoadTest(setup.test, setup.derating.rule, tuple(arguments.meter_accuracy), tuple(rows))
        job_entry.enter_load_test(knowledge, path, job, kept, results, arguments.yes)
    if holds:
        return 1
    if not results:
        return 0
    last = results[-1]
    return int(last.calls[setup.tolerance] == "fail" or bool(last.questions))


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
    return Setup(test, steps, chosen, derating.compare(site), tolerance, total)


def results_of(knowledge: Knowledge, setup: Setup, rows: Sequence[entry_table.ReadingRow]) -> tuple[Result, ...]:
    """Results by run. `Result.answers` are what `Job.record` takes, so that a load test can feed a job."""
    checks = {name: check for name, check in knowledge.checks.items() if knowledge.applies(name, setup.test.features)}
    return analyse(setup.test, rows, knowledge.catalogue.tolerances, setup.tolerance, checks)


def read_readings(name: str, run_name: str = "as_found") -> entry_table.ReadingTable:
    """The readings of a CSV or YAML file, or of standard input for "-". Raises LoadTestError, AnswerError."""
    shown = input_file.shown(name)
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


def as_dict(
    knowledge: Knowledge, setup: Setup, results: Sequence[Result], remarks: Sequence[str] = (),
    holds: Sequence[Hold] = (),
) -> dict[str, object]:  # fmt: skip
    """Plain values for JSON, with a version."""
    total = setup.total
    return {
        "version": 1,
        "held": held.as_json(holds),
        "set": dict(setup.test.features),
        "full_load_kw": setup.test.full_kilowatts,
        "tolerance": setup.tolerance,
        "meter_accuracy": {
            unit: {"absolute": absolute, "percent": percent, "digits": digits}
            for unit, (absolute, percent, digits) in setup.test.accuracy.stated.items()
        },
        "derating": {
            "rule": setup.derating.rule, "title": setup.derating.title, "source": setup.derating.source,
            "factor": setup.derating.usable, "note": setup.derating.note,
            "rules": {rule.rule: rule.factor for rule in setup.rules},
        },
        "plan": [
            {"step": step.id, "title": step.title, "load": step.fraction, "kw": step.kilowatts,
             "amps_per_leg": step.amps, "minutes_at_most": step.minutes or None, "note": step.note}
            for step in setup.plan
        ],
        "connected": None if total is None else {
            "kw": total.kilowatts, "kva": total.kilovolt_amperes, "power_factor": total.power_factor,
            "amps": list(total.amps), "neutral": total.neutral, "imbalance_percent": total.imbalance,
            "cautions": list(total.cautions),
        },
        "runs": [result.as_dict() for result in results],
        "remarks": list(remarks),
        "cautions": list(_named(knowledge, setup)),
    }  # fmt: skip


def _show(page: LoadPage, knowledge: Knowledge, setup: Setup, results: Sequence[Result]) -> None:
    tolerances = knowledge.catalogue.tolerances
    if results and not setup.test.accuracy.stated:
        page.line("No meter accuracy was given: the guard bands are half of the last digit written, and no more.")
    if results:
        page.line(f"Full load is {setup.test.full_kilowatts:.3g} kW here, by {setup.derating.title}.")
    for result in results:
        load_view.show_points(page, result)
        load_view.show_questions(page, result)
    if results:
        page.heading("Frequency against load")
        for row in load_view.plot(page, results, setup.test, tolerances[setup.tolerance]):
            page.raw(row)
    for result in results:
        load_view.show_verdicts(page, result, tolerances, setup.tolerance)


def _named(knowledge: Knowledge, setup: Setup) -> tuple[str, ...]:
    """Ids of the cautions of every step of the plan."""
    checks = [("check", name) for name in loadtest.steps_of(setup.plan) if name in knowledge.checks]
    return of_steps(knowledge.catalogue, [*checks, ("proof", "")])


def _warn(knowledge: Knowledge, setup: Setup, page: LoadPage) -> None:
    for name in _named(knowledge, setup):
        caution = knowledge.catalogue.cautions[name]
        page.line(f"Caution, {caution.title.lower()}: {' '.join(caution.text.split())}")
    page.line("Local codes and licensed practice come first.")


def _cautions(knowledge: Knowledge, setup: Setup, page: LoadPage) -> None:
    """What can hurt, before the first reading is asked for. Raises LoadTestError where it is not acknowledged."""
    _warn(knowledge, setup, page)
    if not _yes("All of this is met? Type yes: "):
        raise LoadTestError("the cautions were not acknowledged; no load test was begun")


def _yes(prompt: str) -> bool:
    talk()
    answer = _typed(prompt)
    return answer is not None and answer.lower() in ("yes", "y")


def _typed(prompt: str) -> str | None:
    """A line from the terminal, None at its end. The prompt goes to standard error, beside the results."""
    sys.stderr.write(printable(prompt))
    sys.stderr.flush()
    line = sys.stdin.readline()
    return line.strip() if line else None


def _ask(
    knowledge: Knowledge, setup: Setup, page: LoadPage, run_name: str = "as_found"
) -> list[entry_table.ReadingRow]:
    """Readings typed step by step. After an interrupt what was typed is shown, so that it is not lost."""
    rows: list[entry_table.ReadingRow] = []
    lines: list[str] = []
    places: list[int] = []  # the step of the plan that each reading was typed at
    load_view.show_plan(page, setup.test, setup.plan, setup.derating, setup.rules, derating.WHY_DEFAULT)
    page.heading(_HELP)
    at = 0
    try:
        while at < len(setup.plan):
            step = setup.plan[at]
            if step.id == "overload" and not _overload_stands(knowledge, setup, rows, page):
                at += 1
                continue
            title = load_view.RUN_TITLES[run_name]
            text = _typed(f"{title}, {step.title} ({step.kilowatts:.2f} kW, {step.amps:.1f} A)> ")
            if text is None or text.lower() == "done":
                break
            if text.lower() in ("?", "help"):
                page.line(_HELP)
            elif text.lower() == "back":
                if rows:
                    run_name = rows.pop().run
                    page.line(f"Taken away: {lines.pop()}")
                    at = places.pop()
            elif text.lower().replace("-", " ") in ("as left", "as found"):
                run_name, at = text.lower().replace("-", " ").replace(" ", "_"), 0
            elif not text:
                at += 1
            else:
                try:
                    place = f"{title}, {step.title}, reading {len(rows) + 1}"
                    own = entry_table.read_line(text, place, None, run_name)
                    if own.empty:
                        raise AnswerError(f"{quoted(text)}: holds no reading; Enter alone skips")
                    row = own if own.load or own.set_kilowatts else replace(own, load=entry_table.Figure(step.fraction))
                    told = loadtest.points(setup.test, [row])
                except AnswerError as error:
                    page.line(str(error))
                    continue
                rows.append(row)
                places.append(at)
                lines.append(f"{title}: {text}")
                if holds := danger.of_row(knowledge.catalogue, setup.test.features, row, step.title):
                    for said in held.held_lines(holds, held.HOW_ALONE):
                        page.line(said)
                    page.line("The load test ends here; what was read is kept.")
                    break
                for item in contradictions(setup, told):
                    page.line(f"Question: {item}")
                at += 0 if own.load or own.set_kilowatts else 1
    except KeyboardInterrupt:
        page.heading("Interrupted. Typed so far:")
        for line in lines:
            page.line(line)
        raise
    return rows


def contradictions(setup: Setup, told: Sequence[loadtest.LoadPoint]) -> list[str]:
    """Contradictions in points, as lines."""
    from ...engine.loadtest import question

    return [item.text for item in question(setup.test, told)]


def _overload_stands(
    knowledge: Knowledge, setup: Setup, rows: Sequence[entry_table.ReadingRow], page: LoadPage
) -> bool:
    """An overload follows only a full load that was carried, with no limit failed so far."""
    results = results_of(knowledge, setup, rows)
    carried = bool(results) and any(point.step == "full_load" and point.hertz for point in results[-1].points)
    if not carried or results[-1].calls[setup.tolerance] == "fail" or results[-1].questions:
        page.line("The overload is left out: full load was not shown to be carried within the limits.")
        return False
    page.line(next(step.note for step in setup.plan if step.id == "overload"))
    return _yes("Take the overload? Type yes: ")


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
