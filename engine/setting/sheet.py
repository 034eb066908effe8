"""What setting came to: every setting as found and as left, and the verdict of its proof.

Purpose: the progress of a job put as the lines of a record, and its proof held against the limits.
Law: a pure function of the job; a proof is passed where every reading of it lies within the tolerance, on the set as
it is now. What nobody could read is not passed.
Not here: how it is laid out (see the record), load tests that were entered by themselves (see `loadtest`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ..job import Job
from ..readings import Answer
from .course import Course
from .progress import LEFT_OUT, StepProgress, course_of_job, progress, right


@dataclass(frozen=True, slots=True)
class SettingLine:
    """One step of the course. found, left: as text, empty where nothing was read. turns: of each adjuster, all in all.

    state: as in its progress. because: what has put it in doubt since.
    """

    step: str
    title: str
    state: str
    found: str = ""
    left: str = ""
    turns: Mapping[str, float] = field(default_factory=dict)
    because: str = ""


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
    return tuple(_line(job, course, each) for each in progress(job, course) if not each.step.last)


def _line(job: Job, course: Course, each: StepProgress) -> SettingLine:
    catalogue = job.knowledge.catalogue
    turned: tuple[str, ...] = (each.step.adjuster,) if each.step.adjuster else ()
    if each.step.pair:
        turned = tuple(catalogue.pairs[each.step.pair].response)
    turns = {name: each.turns[name] for name in turned if each.turns.get(name)}
    return SettingLine(
        each.id, each.step.title, each.state, _said(each.first), each.placed or _said(each.readings), turns,
        each.because if not each.right else "",
    )  # fmt: skip


def _said(readings: Mapping[str, Answer]) -> str:
    return "; ".join(answer.text.replace("_", " ") for answer in readings.values() if answer.text)


def verdict(job: Job, course: Course | None = None) -> SettingVerdict:
    """The proof of setting, as far as it was read on the set as it is now."""
    course = course or course_of_job(job)
    stands = progress(job, course)
    lines = [line for each in stands if each.step.last for line in _proof(job, course, each)]
    # What was asked for and could not be done, for want of a tool, is not proven.
    left = (each.id for each in stands if not each.right or (each.step.last and each.state == LEFT_OUT))
    return SettingVerdict(tuple(lines), tuple(left))


def _proof(job: Job, course: Course, each: StepProgress) -> Iterable[ProofLine]:
    for check in course.checks[each.id]:
        answer = each.readings.get(check)
        title = job.checks[check].title
        if answer is None or not answer.outcomes:
            yield ProofLine(each.id, check, title, "" if answer is None else answer.text)
        else:
            yield ProofLine(each.id, check, title, answer.text, right(job, each.step, check, answer))
