"""How a load test looks: the plan, the readings, the verdicts and the plot.

Purpose: text at any width from 40 columns, with or without colour, and one fact a line for screen readers.
Law: marks, shading and words carry everything; colour only repeats it.
Not here: what is worked out (see the engine).
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TextIO

from ...engine.compiler import Tolerance
from ...engine.loadtest import NEAR, Derating, LimitVerdict, LoadPoint, PlanStep, Result, Test, Total
from ...engine.problems import printable
from ..terminal import wrapping

RUN_TITLES = {"as_found": "as found", "as_left": "as left"}
MARKS = {"as_found": "o", "as_left": "X"}
BOTH = "*"
_COLOURS = {"as_found": "33", "as_left": "36"}
_HEIGHT = 14


@dataclass(slots=True)
class LoadPage:
    """Where lines go. `plain`: one fact a line, no drawing. `colour`: escapes may be used."""

    out: TextIO
    width: int
    plain: bool = False
    colour: bool = False

    @classmethod
    def of(cls, out: TextIO, plain: bool) -> LoadPage:
        """A page as wide as the terminal, from 40 to 100 columns; in colour only on a terminal that wants it."""
        width = max(40, min(100, wrapping.terminal()))
        wanted = out.isatty() and not plain and "NO_COLOR" not in os.environ and os.environ.get("TERM") != "dumb"
        return cls(out, width, plain, wanted)

    def line(self, text: str = "", indent: str = "", hanging: str = "  ") -> None:
        """One paragraph, wrapped; with `plain` it stays one line, as it is read out."""
        text = printable(text)
        if self.plain or not text:
            print(text, file=self.out)
            return
        for row in wrapping.wrap(text, self.width, indent, indent + hanging, hyphens=True):
            print(row, file=self.out)

    def heading(self, text: str) -> None:
        """A title over what follows."""
        if not self.plain:
            print(file=self.out)
        self.line(text)

    def raw(self, text: str) -> None:
        """A line that is laid out already."""
        print(text, file=self.out)

    @property
    def draws(self) -> bool:
        """Whether the output takes shading blocks."""
        try:
            "\u2591".encode(getattr(self.out, "encoding", None) or "ascii")
        except (UnicodeEncodeError, LookupError):
            return False
        return True

    def paint(self, text: str, run: str) -> str:
        return f"\x1b[1;{_COLOURS[run]}m{text}\x1b[0m" if self.colour else text


def show_plan(
    page: LoadPage, test: Test, steps: Sequence[PlanStep], derating: Derating, others: Sequence[Derating], why: str
) -> None:
    """The steps with what to expect, and what the set can give here and by which rule."""
    rated = float(test.features["rated_kw"])
    page.heading(f"Load test plan: {rated:g} kW set, full load here {test.full_kilowatts:.3g} kW")
    note = f" ({derating.note})" if derating.note else ""
    page.line(f"Derating: {derating.title}{note}: {derating.usable:.3f} of the rating. Source: {derating.source}.")
    if others:
        least, most = others[0], others[-1]
        page.line(
            f"The rules differ: from {least.usable:.3f} ({least.title}) to {most.usable:.3f} ({most.title}). {why} "
            "Choose another with --derating."
        )
    if test.power_factor != 1.0:
        page.line(f"Amps are for a load of power factor {test.power_factor:g}.")
    if not page.plain:
        page.raw(f"{'step':<22}{'kW':>7}{'A/leg':>8}")
    for step in steps:
        limit = f", at most {step.minutes:g} minutes" if step.minutes else ""
        if page.plain:
            page.line(
                f"{step.title}: {step.kilowatts:.2f} kW, {step.amps:.1f} A per hot leg{limit}. {step.note}".strip()
            )
        else:
            page.raw(f"{step.title:<22}{step.kilowatts:>7.2f}{step.amps:>8.1f}")
            if step.note:
                page.line(step.note, indent="  ", hanging="")


def show_total(page: LoadPage, total: Total, test: Test) -> None:
    """What the connected loads add up to."""
    page.heading(
        f"Connected loads: {total.kilowatts:.3g} kW, {total.kilovolt_amperes:.3g} kVA, pf {total.power_factor:.2f}"
    )
    page.line(f"Hot legs: {', '.join(f'{amp:.1f} A' for amp in total.amps)}; neutral {total.neutral:.1f} A")
    page.line(f"Imbalance: {total.imbalance:.0f} % of the mean")
    share = total.kilowatts / test.full_kilowatts
    page.line(f"That is {share:.0%} of what the set can give here" + ("; it is overloaded." if share > 1.0 else "."))
    for caution in total.cautions:
        page.line(f"Caution: {caution}")


def show_points(page: LoadPage, result: Result) -> None:
    """The readings of one run, by load."""
    page.heading(f"Readings {RUN_TITLES[result.run]} ({MARKS[result.run]} in the plot)")
    for point in sorted(result.points, key=lambda item: item.load):
        page.line(_with_guard(point), indent="  ", hanging="  ")


def _with_guard(point: LoadPoint) -> str:
    parts = [f"{point.load:.0%} load ({point.load_from})"]
    if point.hertz:
        parts.append(f"{point.hertz.value:.5g} Hz")
    if point.volts:
        parts.append(f"{point.volts.value:.4g} V")
    if point.amps:
        parts.append(" / ".join(f"{amp.value:.4g}" for amp in point.amps) + " A")
    if point.kilowatts:
        parts.append(f"{point.kilowatts.value:.3g} kW")
    if point.neutral is not None and point.load > NEAR:
        parts.append(f"neutral {point.neutral:.3g} A")
        parts.append(f"imbalance {point.imbalance:.0f} %")
    if point.row.behaviour:
        parts.append(point.row.behaviour.replace("_", " "))
    if point.row.swing:
        parts.append(f"swing {point.row.swing.value:.3g} Hz")
    if point.row.note:
        parts.append(point.row.note)
    return ", ".join(parts)


def show_verdicts(page: LoadPage, result: Result, tolerances: Mapping[str, Tolerance], chosen: str) -> None:
    """Every quantity once, and under it each limit with its call and margin."""
    page.heading(f"Against the limits, {RUN_TITLES[result.run]}")
    shown = set()
    for verdict in result.verdicts:
        name = verdict.measure.id
        if name in shown or verdict.measure.value is None:
            continue
        shown.add(name)
        page.line(_measured(verdict))
        for other in result.verdicts:
            if other.measure.id == name:
                page.line(_called(other, tolerances), indent="  ", hanging="  ")
    for name in ("speed_regulation", "frequency_variation", "frequency_deviation"):
        item = result.measures[name]
        if item.value is not None and name not in shown:
            page.line(f"{item.title}: {item.value.value:.3g} +/-{item.value.guard:.2g} {item.unit} (no limit)")
    missing = [v for v in result.verdicts if v.measure.value is None and v.tolerance == chosen and v.why]
    if missing:
        page.line(f"Not tested in {chosen}: " + "; ".join(f"{v.measure.title} ({v.why})" for v in missing))
    for name, call in result.calls.items():
        page.line(f"{_name(name, tolerances)}: {_word(call)}{_reason(result, name)}")


def _measured(verdict: LimitVerdict) -> str:
    measure = verdict.measure
    assert measure.value is not None
    return f"{measure.title}: {measure.value.value:.4g} +/-{measure.value.guard:.2g} {measure.unit}"


def _called(verdict: LimitVerdict, tolerances: Mapping[str, Tolerance]) -> str:
    unit = verdict.measure.unit
    limit = f"{verdict.tolerance}, {verdict.kind} {verdict.bound:.4g} {unit}"
    told = f"{limit}: {_word(verdict.call)}"
    if verdict.call == "aim":
        return f"{limit}: {verdict.margin or 0.0:+.2g} {unit} from this aim"
    if verdict.margin is None:
        return f"{told}, {verdict.why}"
    side = f"{verdict.margin:.2g} {unit} to spare" if verdict.margin >= 0 else f"{-verdict.margin:.2g} {unit} beyond"
    return f"{told}, {side}" + (f", {verdict.why}" if verdict.why else "")


def _word(call: str) -> str:
    return {"pass": "pass", "fail": "FAIL", "untested": "not proven"}.get(call, call)


def _name(name: str, tolerances: Mapping[str, Tolerance]) -> str:
    return f"{name} ({tolerances[name].title})"


def _reason(result: Result, name: str) -> str:
    mine = [verdict for verdict in result.verdicts if verdict.tolerance == name]
    counts = [verdict for verdict in mine if verdict.call not in ("aim", "not for this set")]
    untested = sum(verdict.call == "untested" for verdict in counts)
    return f", {untested} of {len(counts)} limits not tested" if untested else ""


def show_questions(page: LoadPage, result: Result) -> None:
    """Readings that contradict each other."""
    for item in result.questions:
        page.line(f"Question, {item.place}: {item.text}")


def allowance(result: Result, test: Test, tolerance: Tolerance) -> tuple[float, float] | None:
    """Hz from lowest to highest that the fall with load may reach, counted from the no-load reading of the run."""
    start = result.measures["no_load_highest"].value
    if start is None:
        return None
    if "spread_hz_max" in tolerance.limits:
        fall = tolerance.limits["spread_hz_max"] * test.rated_hertz / 60.0
    elif "droop_percent_max" in tolerance.limits:
        fall = tolerance.limits["droop_percent_max"] * test.rated_hertz / 100.0
    else:
        return None
    return start.value - fall, start.value


def plot(page: LoadPage, results: Sequence[Result], test: Test, tolerance: Tolerance) -> list[str]:
    """Frequency against load as lines of text: marks as found and as left, the allowed fall shaded.

    The shading belongs to the last run. With `plain` there is no plot, and the allowed fall is told in a line.
    """
    shade = allowance(results[-1], test, tolerance) if results else None
    caption = "no allowed fall to show" if shade is None else (
        f"allowed with load, {RUN_TITLES[results[-1].run]} by {tolerance.id}: {shade[0]:.1f} to {shade[1]:.1f} Hz"
    )  # fmt: skip
    dots = [(point.load, point.hertz.value, result.run) for result in results for point in result.points if point.hertz]
    if page.plain or not dots:
        return [caption]
    values = [hertz for _, hertz, _ in dots] + ([*shade] if shade else [])
    margin = max(0.25, 0.05 * (max(values) - min(values)))
    low, high = min(values) - margin, max(values) + margin
    right = max(1.0, max(load for load, _, _ in dots))
    columns, rows = min(page.width, 72) - 8, _HEIGHT
    step = (high - low) / (rows - 1)
    block = "\u2591" if page.draws else ":"
    grid = [[" "] * columns for _ in range(rows)]
    if shade:
        for row in range(rows):
            if shade[0] - step / 2 <= high - row * step <= shade[1] + step / 2:
                grid[row][:] = [block] * columns
    marked: dict[tuple[int, int], str] = {}
    for share, hertz, run in dots:
        at = round((high - hertz) / step), round(max(0.0, share) / right * (columns - 1))
        marked[at] = run if marked.get(at, run) == run else BOTH
    for (row, column), run in marked.items():
        grid[row][column] = BOTH if run == BOTH else page.paint(MARKS[run], run)
    lines = ["Hz"]
    lines += [f"{high - row * step:6.2f} |{''.join(grid[row])}" for row in range(rows)]
    lines.append("       +" + "-" * columns)
    lines.append("        " + _ticks(columns, right))
    runs = [result.run for result in results]
    legend = [f"{MARKS[run]} {RUN_TITLES[run]}" for run in runs] + ([f"{BOTH} both"] if len(runs) > 1 else [])
    lines += wrapping.wrap(f"{', '.join(legend)}; {block} {caption}; load in % of full", page.width, hyphens=True)
    return lines


def _ticks(columns: int, right: float) -> str:
    row = [" "] * columns
    for percent in range(0, int(right * 100 + 0.5) + 1, 25):
        text = str(percent)
        at = min(columns - len(text), max(0, round(percent / 100 / right * (columns - 1)) - len(text) // 2))
        row[at : at + len(text)] = text
    return "".join(row).rstrip()


def print_remark(text: str = "") -> None:
    """A word beside the results: on standard error."""
    print(printable(text), file=sys.stderr)
