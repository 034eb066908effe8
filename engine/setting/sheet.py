"""What setting came to: every setting as found and as left, and the verdict of its proof.

Purpose: the progress of a job put as the lines of a record, and its proof held against the limits.
Law: a pure function of the job; a proof is passed where every reading of it lies within the tolerance, on the set as
it is now. What nobody could read is not passed, and what nobody looked at is not called right, though the course goes
on over it. As left is the last reading of the job, whichever step took it.
Not here: how it is laid out (see the record), load tests that were entered by themselves (see `loadtest`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ..job import Job
from ..problems import in_sentence
from ..readings import Answer
from .course import Course
from .progress import (
    FOUND,
    LEFT_OUT,
    SET,
    StepProgress,
    course_of_job,
    only_disturbed,
    progress,
    right,
    with_derived,
    worked_since_begun,
)

LOOKED, PARTLY, UNSEEN, MENDED = "looked at", "right as far as looked at", "not looked at", "right as left"
"""States of a line beside those of its progress: some of it is not right and nothing is set for that; some or all of it
nobody could tell; it was not right as found and is now, by other work than its own."""


@dataclass(frozen=True, slots=True)
class SettingLine:
    """One step of the course. found, left: as text, empty where nothing was read; of several readings each with its
    title. turns: of each adjuster, all in all. placed: where it was put. because: what has put it in doubt since.

    state: as in its progress, or one of the words above. unseen: what of it was not looked at, one phrase each with the
    reason. wrong: titles of what was looked at and is not right. checks: what it is read by.
    """

    step: str
    title: str
    state: str
    found: str = ""
    left: str = ""
    turns: Mapping[str, float] = field(default_factory=dict)
    because: str = ""
    placed: str = ""
    unseen: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ProofLine:
    """One reading of the proof. passed: None where it was not read."""

    step: str
    check: str
    title: str
    answer: str = ""
    passed: bool | None = None


@dataclass(frozen=True, slots=True)
class SettingVerdict:
    """The proof, reading by reading. left: steps that are not right."""

    lines: tuple[ProofLine, ...]
    left: tuple[str, ...]

    @property
    def passed(self) -> bool:
        """Whether everything is set, read and within its limits."""
        return not self.left and all(line.passed for line in self.lines)

    @property
    def outside(self) -> tuple[ProofLine, ...]:
        """The readings that are not within their limits."""
        return tuple(line for line in self.lines if line.passed is False)


def sheet(job: Job, course: Course | None = None) -> tuple[SettingLine, ...]:
    """Every step but those of the proof, in the order written, as found and as left."""
    course = course or course_of_job(job)
    last = {event.id: job.understand(event.id, event.answer) for event in job.standing if event.kind == "check"}
    return tuple(_line(job, course, each, last) for each in progress(job, course) if not each.step.last)


def _line(job: Job, course: Course, each: StepProgress, last: Mapping[str, Answer]) -> SettingLine:
    catalogue, checks = job.knowledge.catalogue, course.checks[each.id]
    turned: tuple[str, ...] = (each.step.adjuster,) if each.step.adjuster else ()
    if each.step.pair:
        turned = tuple(catalogue.pairs[each.step.pair].response)
    turns = {name: each.turns[name] for name in turned if each.turns.get(name)}
    # Of the first readings no difference is made: work may lie between them.
    first = each.first
    left = with_derived(job, checks, {name: last[name] for name in checks if name in last and name not in each.unread})
    # What was read before it was put where it stands now says nothing of how it was left.
    wrong = () if each.placed else tuple(name for name in left if not right(job, each.step, name, left[name]))
    unseen = () if each.placed else tuple(_unseen(job, course, each, last))
    mended = any(not right(job, each.step, name, first[name]) for name in first)
    state = each.state
    if state == LEFT_OUT and wrong:
        # It was looked at; what is left out is the work, for want of what it takes.
        state, unseen = LOOKED, (*unseen, *_not_mended(job, each, wrong, left))
    elif each.right and state != LEFT_OUT:
        read = [name for name in course.read(each.id) if name in last and _told(last[name])]
        if each.placed or turns or state == SET:
            state = SET
        elif wrong:
            state = LOOKED
        elif unseen:
            state = PARTLY if read else UNSEEN
        else:
            state = MENDED if mended else FOUND
    titles = tuple(in_sentence(job.checks[name].title) for name in wrong)
    return SettingLine(
        each.id, each.step.title, state, _said(job, checks, first), each.placed or _said(job, checks, left), turns,
        each.because if not each.right else "", each.placed, unseen, titles, checks,
    )  # fmt: skip


def _not_mended(job: Job, each: StepProgress, wrong: Iterable[str], left: Mapping[str, Answer]) -> Iterable[str]:
    """What of a step is not right and not mended for want of tools, one phrase each."""
    titles = job.knowledge.catalogue.tools
    for name in wrong:
        remedy = each.step.remedy_for(name, left[name].outcomes)
        if remedy and (tools := job.lacking("remedy", remedy)):
            title = in_sentence(job.knowledge.remedies[remedy].title)
            yield f"{title}, not here: {', '.join(titles[tool].title for tool in tools)}"


def _told(answer: Answer) -> bool:
    return bool(answer.outcomes or answer.values)


def _unseen(job: Job, course: Course, each: StepProgress, last: Mapping[str, Answer]) -> Iterable[str]:
    """What of a step nobody looked at or could tell, with the reason; what was left out because no work has touched it
    is no such thing."""
    titles = job.knowledge.catalogue.tools
    if not course.checks[each.id] and each.state == LEFT_OUT and (tools := job.lacking("setting", each.id)):
        yield f"not here: {', '.join(titles[tool].title for tool in tools)}"
    for name in course.read(each.id):
        tools = job.lacking("check", name)
        title = in_sentence(job.checks[name].title)
        if name in last and _told(last[name]):
            continue
        if tools:
            yield f"{title}, not here: {', '.join(titles[tool].title for tool in tools)}"
        elif name in last:
            yield f"{title}, not known"
        elif each.right and not (each.state == LEFT_OUT and only_disturbed(job.standing)):
            yield f"{title}, not looked at"


def _said(job: Job, checks: Iterable[str], readings: Mapping[str, Answer]) -> str:
    """Readings in the order of the step, each with its title where there are several."""
    told = [(name, readings[name].text.replace("_", " ")) for name in checks if name in readings]
    told = [(name, text) for name, text in told if text]
    if len(told) == 1:
        return told[0][1]
    return "; ".join(f"{in_sentence(job.checks[name].title)}: {text}" for name, text in told)


def verdict(job: Job, course: Course | None = None) -> SettingVerdict:
    """The proof of setting, as far as it was read on the set as it is now."""
    course = course or course_of_job(job)
    stands = progress(job, course)
    lines = [line for each in stands if each.step.last for line in _proof(job, course, each)]
    # What was asked for and could not be done, for want of a tool, is not proven; nuts that nothing has moved are fast.
    spared = only_disturbed(job.standing) and not worked_since_begun(job)
    left = (
        each.id
        for each in stands
        if not each.right or (each.step.last and each.state == LEFT_OUT and not (spared and each.step.disturbs))
    )
    return SettingVerdict(tuple(lines), tuple(left))


def _proof(job: Job, course: Course, each: StepProgress) -> Iterable[ProofLine]:
    for check in course.checks[each.id]:
        answer = each.readings.get(check)
        title = job.checks[check].title
        if answer is None or not answer.outcomes:
            yield ProofLine(each.id, check, title, "" if answer is None else answer.text)
        else:
            said = answer.text.replace("_", " ")
            yield ProofLine(each.id, check, title, said, right(job, each.step, check, answer))
