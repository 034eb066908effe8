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
from typing import TYPE_CHECKING

from ...engine import Hold
from ...engine.job import danger
from ...engine.loadtest import Result, derating, entry_table
from ..files import store
from ..record import LoadPage, held, load_record, load_view, print_remark
from . import job_entry
from .load_questions import ask, cautions_named, meet_cautions, warn
from .load_setup import LoadTestError, Setup, prepare, read_readings, results_of

if TYPE_CHECKING:
    from ...engine import Knowledge


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
        print_remark(remark)
    if not rows and not arguments.plan:
        if not (sys.stdin.isatty() and sys.stderr.isatty()):
            print_remark(
                "hertzwright loadtest: no terminal to ask at; give --readings FILE, or --plan for the steps alone"
            )
            return 2
        talking = LoadPage.of(sys.stderr, arguments.plain)
        if job is not None and job.held:
            for text in held.held_lines(job.held):
                talking.line(text)
            raise LoadTestError("no load test is begun while the job is held")
        meet_cautions(knowledge, setup, talking)
        rows = ask(knowledge, setup, talking, job_entry.run_of(job) if job else "as_found")
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
            warn(knowledge, setup, page)
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
        "cautions": list(cautions_named(knowledge, setup)),
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
