"""A load test asked step by step: the cautions, each step of the plan, what was typed, what contradicts itself.

Purpose: the plan of a load test -> rows of readings as they are typed.
Law: nothing is asked before the cautions are met; what was typed is shown after an interrupt; a dangerous reading ends
the test, and an overload follows only a full load that was carried.
Not here: what a line of readings means (see `entry_table`), the verdict (see `loadtest`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from ...engine.job import danger, of_steps
from ...engine.loadtest import derating, entry_table, loadtest, question
from ...engine.problems import AnswerError, quoted
from .. import streams
from ..record import LoadPage, held, load_view, print_remark
from ..terminal import BACK_WORDS, HELP_WORDS
from .load_setup import LoadTestError, Setup, results_of

if TYPE_CHECKING:
    from ...engine import Knowledge

_HELP = (
    'Type what you read, in any order, for example "61.2 Hz 239 V 9.4/9.6 A steady". Put a load first to answer '
    'another step: "full 60.1 Hz". Also: swing 0.6 Hz, lowest 55 Hz, highest 64 Hz, recovery 3 s. '
    "Enter alone skips, back takes away the last, as left begins again after the repair, done ends."
)


def cautions_named(knowledge: Knowledge, setup: Setup) -> tuple[str, ...]:
    """Ids of the cautions of every step of the plan."""
    checks = [("check", name) for name in loadtest.steps_of(setup.plan) if name in knowledge.checks]
    return of_steps(knowledge.catalogue, [*checks, ("proof", "")], risks=setup.risks)


def warn(knowledge: Knowledge, setup: Setup, page: LoadPage) -> None:
    for risk in setup.risks:
        page.line(f"Attention: {risk}.")
    for name in cautions_named(knowledge, setup):
        caution = knowledge.catalogue.cautions[name]
        page.line(f"Caution, {caution.title.lower()}: {' '.join(caution.text.split())}")
    page.line("Local codes and licensed practice come first.")


def meet_cautions(knowledge: Knowledge, setup: Setup, page: LoadPage) -> None:
    """What can hurt, before the first reading is asked for. Raises LoadTestError where it is not acknowledged."""
    warn(knowledge, setup, page)
    if not _yes("All of this is met? Type yes: "):
        raise LoadTestError("the cautions were not acknowledged; no load test was begun")


def _yes(prompt: str) -> bool:
    print_remark()
    return streams.yes(prompt, _typed)


def _typed(prompt: str) -> str | None:
    """A line from the terminal, None at its end."""
    return streams.line_of(prompt)


def ask(knowledge: Knowledge, setup: Setup, page: LoadPage, run_name: str = "as_found") -> list[entry_table.ReadingRow]:
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
            if text.lower() in HELP_WORDS:
                page.line(_HELP)
            elif text.lower() in BACK_WORDS:
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
