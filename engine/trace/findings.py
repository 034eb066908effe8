"""What a judged trace means for the checks of a job.

Purpose: answers that a job takes, from the stretches and steps of a record (see `trace`).
Law: a record does not know its loads: what needs them is offered only where the user gives them, and nothing is offered
that the check would refuse.
Not checked here: whether the set was warm, or the load was switched in one step.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ..compiler import Band, Check, Features
from ..problems import AnswerError
from ..readings import read_answer
from .analysis import LoadStep, TraceReport
from .swing import Swing


def offers(
    report: TraceReport,
    checks: Mapping[str, Check],
    features: Features,
    bands: Mapping[str, tuple[Band, ...]],
    loads: Sequence[float] = (),
    told: str = "sure",
) -> tuple[tuple[str, str], ...]:
    """Findings as (check id, answer), each of which the job takes.

    Parameters: bands, those of the tolerance set. loads: percent of rated in each stretch, as far as known; with load
    steps and no loads, the stretches of highest frequency are taken for no load and nothing is said of full load.
    told: "sure", "unsure" (every answer gets a question mark) or "open" (nothing is offered); see `recording`.
    """
    if told == "open":
        return ()
    given = [*loads, *([None] * (len(report.stretches) - len(loads)))]
    if not loads and report.steps:
        top = max(stretch.mean for stretch in report.stretches)
        given = [0.0 if top - stretch.mean < report.band else None for stretch in report.stretches]
    found: list[tuple[str, str, str]] = []
    names = {0.0: "no_load", 25.0: "quarter_load", 50.0: "half_load", 75.0: "three_quarter_load", 100.0: "full_load"}
    for load, name in names.items():
        alike = [stretch for stretch, known in zip(report.stretches, given, strict=False) if known == load]
        if not alike:
            continue
        # The frequency of the longest stretch at this load; the behaviour of the one that swings most.
        longest = max(alike, key=lambda stretch: stretch.end - stretch.begin)
        found.append((f"frequency_{name}", f"{longest.mean:.2f} Hz", ""))
        swing = max((stretch.swing for stretch in alike), key=lambda swing: (_size(swing), swing.kind))
        # A log too slow for a jiggle may call nothing steady for sure, and what it does not name stays open.
        word = "" if swing.kind == "swinging" else swing.kind.replace("_", " ")
        mark = "?" if swing.kind == "steady" and not swing.sure else ""
        found.append((f"swing_{name}", f"{_size(swing):.2f} Hz{mark}", word))
    empty = [stretch.mean for stretch, load in zip(report.stretches, given, strict=False) if load == 0.0]
    if len(empty) >= 3:
        found.append(("no_load_repeatability", f"{max(empty) - min(empty):.2f} Hz", ""))
    for name, value, within, unit in _of_steps(report.steps):
        low, high = f"{max(0.0, value - within):.2f} {unit}", f"{value + within:.2f} {unit}"
        sure = _outcomes(low, name, checks, features, bands) == _outcomes(high, name, checks, features, bands)
        found.append((name, f"{value:.2f} {unit}" + ("" if sure else "?"), ""))
    if word := _settling(report.steps):
        seen = all(stretch.swing.sure for stretch in report.stretches)
        found.append(("load_step_settling", word + ("" if seen else "?"), ""))
    if told == "unsure":
        found = [(name, answer.rstrip("?") + "?", outcome) for name, answer, outcome in found]
    return tuple(_taken(found, checks, features, bands))


def _size(swing: Swing) -> float:
    return swing.band if swing.size is None else swing.size


def _outcomes(
    text: str, name: str, checks: Mapping[str, Check], features: Features, bands: Mapping[str, tuple[Band, ...]]
) -> tuple[str, ...]:
    """Outcomes of a reading; none where the check does not take it."""
    try:
        return read_answer(checks[name], text, features, bands.get(name)).outcomes
    except (KeyError, AnswerError):
        return ()


def _of_steps(steps: Sequence[LoadStep]) -> Iterable[tuple[str, float, float, str]]:
    """The largest step on and the largest step off, as the checks ask for the largest step the set is meant to take.

    Check, value, how far it may be off, unit.
    """
    on = [step for step in steps if step.direction == "on"]
    off = [step for step in steps if step.direction == "off"]
    if on:
        most = max(on, key=lambda step: step.before - step.after)
        yield "load_step_dip", most.transient.depth, most.transient.depth_within, "Hz"
        if most.transient.recovery is not None:
            yield "load_step_recovery", most.transient.recovery, most.transient.within, "s"
    if off:
        most = max(off, key=lambda step: step.after - step.before)
        yield "load_drop_overshoot", most.transient.depth, most.transient.depth_within, "Hz"


def _settling(steps: Sequence[LoadStep]) -> str:
    """The outcome of `load_step_settling`; empty where it is not told."""
    if any(step.ending == "swings on" for step in steps):
        return "keeps_swinging"
    if steps and all(step.transient.swings is not None for step in steps):
        most_swings = max(step.transient.swings or 0 for step in steps)
        # At once or after one swing back; two to five, each smaller; more (TM 55-2815-574-24 gives three to five).
        return "settles_at_once" if most_swings <= 1 else "few_swings" if most_swings <= 5 else "keeps_swinging"
    return ""


def _taken(
    found: Iterable[tuple[str, str, str]], checks: Mapping[str, Check], features: Features,
    bands: Mapping[str, tuple[Band, ...]],
) -> Iterable[tuple[str, str]]:  # fmt: skip
    """Those that the checks of the knowledge take, with the outcome named where the reading leaves it open."""
    for name, answer, outcome in found:
        check = checks.get(name)
        if check is None:
            continue
        bare = answer.rstrip("?")
        for text in ([f"{bare} {outcome}{answer[len(bare) :]}"] if outcome else []) + [answer]:
            try:
                read_answer(check, text, features, bands.get(name))
            except AnswerError:
                continue
            yield name, text
            break
