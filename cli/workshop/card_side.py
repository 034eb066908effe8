"""What stands on the card for the toolbox: its two sides, in words.

Purpose: the order of setting with where each step starts and what accepts it, the limits, the complaints with what to
look at first, the cautions, and the drawings that the knowledge has marked for it.
Law: everything comes from the knowledge; the order is the one with the fewest moves between set-up states, and the
first looks are those that a job with this complaint alone proposes. The same knowledge and set give the same card.
Not here: how it is laid out and printed (see `card_page`, `card`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from ...engine import Job, Knowledge
from ...engine.compiler import Check, Drawing, Features, SettingStep
from ...engine.loadtest import stated_limits
from ...engine.problems import figure, in_sentence, limit_text
from ...engine.readings import scale_of
from ...engine.setting import Task, cheapest, course_of
from ..record import LOCAL_CODES, limits

HERTZ = (60.0, 50.0)
_LOOKS = 3


@dataclass(frozen=True, slots=True)
class Block:
    """A piece of a side: a heading, a row with what it is called, or a drawing."""

    lead: str
    text: str = ""
    heading: bool = False
    drawing: Drawing | None = None


@dataclass(frozen=True, slots=True)
class Side:
    """One side of the card."""

    title: str
    note: str
    blocks: tuple[Block, ...]


def sides(
    knowledge: Knowledge, features: Features, tolerance: str, watch: Callable[[int, int], object] = lambda _, __: None
) -> tuple[Side, Side]:
    """Front and back. features: of the set, defaults filled in. watch: told how many complaints are done, of how many.

    Raises AnswerError for a tolerance set that there is not.
    """
    allowed = knowledge.tolerance(tolerance)
    given = dict(features)
    jobs = tuple(Job(knowledge, {**given, "hertz": hertz}, tolerance) for hertz in HERTZ)
    drawn = tuple(Block(each.title, drawing=each) for each in knowledge.drawings.values() if each.on_card)
    front = (*setting_course(knowledge, features, jobs), *_limits(knowledge, tolerance), *drawn)
    back = (*_complaints(knowledge, given, tolerance, watch), *_cautions(knowledge))
    return (
        Side("Setting a set in order", f"{_set(knowledge, features)}, of {_rated()}; limits: {allowed.title}.", front),
        Side("What to look at first, and what is dangerous", LOCAL_CODES, back),
    )


def setting_course(knowledge: Knowledge, features: Features, jobs: tuple[Job, ...]) -> tuple[Block, ...]:
    """The steps of setting in the order with the fewest moves, under the set-up state in which they are made."""
    course = course_of(knowledge, features)
    costs = knowledge.catalogue.costs
    names = list(course.steps)
    tasks = [Task(name, "do", "", course.steps[name].state, 0.0) for name in names]
    after = {at: [names.index(before) for before in course.needs[name]] for at, name in enumerate(names)}
    here = ""
    found: list[Block] = []
    told: set[tuple[str, bool]] = set()
    # What is made only where the set stands so already comes first: nobody waits for a set to cool.
    start = next((step.state for step in course.steps.values() if step.waits_for_nothing), costs.start_state)
    for number, task in enumerate(cheapest(costs, start, tasks, after).tasks, 1):
        there = costs.standing(here or start, task.state)
        if there != here:
            here = there
            found.append(Block(knowledge.catalogue.states[here].title, heading=True))
        step = course.steps[task.step]
        read = [name for name in course.read(step.id) if step.near or (name, step.last) not in told]
        told.update((name, step.last) for name in read if not step.near)
        found.append(Block(f"{number}. {step.title}", _accepted(knowledge, step, read, jobs)))
    return tuple(found)


def _accepted(knowledge: Knowledge, step: SettingStep, checks: Iterable[str], jobs: tuple[Job, ...]) -> str:
    """Where a step starts, and the readings that accept it in figures, at each rated frequency where they differ."""
    told = [step.starts] if step.starts else []
    for name in checks:
        check = knowledge.checks[name]
        said = _either([_figures(job, check, step.near.get(name)) for job in jobs])
        if said:
            told.append(f"{in_sentence(check.title)} {said}")
    return "; ".join(told)


def _figures(job: Job, check: Check, near: tuple[float, float] | None) -> str:
    """The readings that are right, or near enough for the step, on a set of the job's rated frequency."""
    if near is None or check.reading is None:
        return limits(job, check, of_rated=True)
    scale = scale_of(check.reading, job.features)
    return limit_text(near[0] * scale, near[1] * scale, check.reading.unit)


def _either(figures: Sequence[str]) -> str:
    """Figures for one rated frequency or the other; what both begin or end with is said once: 60 or 50 Hz."""
    different = [each.split() for each in dict.fromkeys(figures) if each]
    if len(different) < 2:
        return " ".join(different[0]) if different else ""
    first, *others = different
    ends = [len(first), *map(len, others)]
    unit = next(n for n in range(min(ends)) if any(each[-n - 1] != first[-n - 1] for each in others))
    lead = first[:1] if all(each[0] == first[0] for each in others) and not first[0][0].isdigit() else []
    told = " or ".join(" ".join(each[len(lead) : len(each) - unit]) for each in different)
    return " ".join([*lead, told, *first[len(first) - unit :]])


def _rated() -> str:
    return f"{' or '.join(f'{hertz:g}' for hertz in HERTZ)} Hz"


def _set(knowledge: Knowledge, features: Features) -> str:
    """The features of the set that are not the usual ones."""
    usual, known = knowledge.features(), knowledge.catalogue.features
    unlike = [
        f"{known[name].title.lower()} {str(value).replace('_', ' ')}"
        for name, value in features.items()
        if value != usual[name] and name != "hertz"
    ]
    return f"For a set with {', '.join(unlike) or 'the usual features'}"


def _limits(knowledge: Knowledge, tolerance: str) -> tuple[Block, ...]:
    rows = [stated_limits(knowledge.tolerance(tolerance), hertz) for hertz in HERTZ]
    found = [Block(f"Limits, {_rated()}", heading=True)]
    for row in zip(*rows, strict=True):
        figures = " or ".join(dict.fromkeys(figure(each.bound) for each in row))
        found.append(Block(row[0].title, f"{row[0].kind} {figures} {row[0].unit}".strip()))
    return tuple(found)


def _complaints(
    knowledge: Knowledge, given: Mapping[str, object], tolerance: str, watch: Callable[[int, int], object]
) -> tuple[Block, ...]:
    """Every complaint in use with the first steps that a job proposes."""
    used = [each for each in knowledge.complaints.values() if each.retired is None]
    found = [Block("Complaint, and what to look at first", heading=True)]
    for number, complaint in enumerate(used, 1):
        job = Job(knowledge, given, tolerance)
        job.record(complaint.id, "present")
        steps = job.next_steps(_LOOKS)
        titles = [
            (knowledge.checks[step.id].title if step.kind == "check" else knowledge.remedies[step.id].title)
            for step in steps
            if step.kind in ("check", "remedy")
        ]
        first = "SHUT DOWN FIRST. " if complaint.stop_first else ""
        found.append(Block(complaint.title, f"{first}{'; '.join(map(in_sentence, titles))}"))
        watch(number, len(used))
    return tuple(found)


def _cautions(knowledge: Knowledge) -> tuple[Block, ...]:
    """Every caution; those of dangerous work first, though as a rule every one is."""
    catalogue = knowledge.catalogue
    named = [
        *(each.cautions for each in catalogue.states.values() if each.dangerous),
        *(each.cautions for each in knowledge.checks.values() if each.dangerous),
        *(each.cautions for each in knowledge.remedies.values() if each.dangerous),
    ]
    marked = {name for cautions in named for name in cautions}
    ordered = sorted(catalogue.cautions.values(), key=lambda each: each.id not in marked)
    return (
        Block("Cautions", heading=True),
        *(Block(each.title, " ".join(each.text.split())) for each in ordered),
    )
