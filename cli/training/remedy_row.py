"""A remedy on one row of a wall chart: what is done, where on the set, from which starting position, and what is right.

Purpose: whoever stands at the set with the chart needs no second paper for the work itself.
Law: pure; every word and figure is knowledge: the place that the remedy names, the start and the brief of the step of
setting whose work it is, the normal answers of its proof in the limits of the tolerance set.
Not here: which remedy a cause gets and its letter (see `chart_words`), the steps of the work (see the job).
"""

from __future__ import annotations

from dataclasses import dataclass

from ...engine import Job
from ...engine.compiler import Check, Remedy, SettingStep
from ...engine.problems import in_sentence
from ...engine.setting import Course
from ..record import limits
from ..terminal import minutes

_PROVEN = 2
"""Answers of its proof that a row names, besides those that every proof run wants."""


@dataclass(frozen=True, slots=True)
class RemedyRow:
    """`takes`: minutes of the work and the set-up state. `where`, `start`, `right`: empty where nothing is known."""

    letter: str
    id: str
    title: str
    takes: str
    where: str
    start: str
    right: str

    @property
    def said(self) -> str:
        """Everything but the title in one paragraph."""
        parts = (("Where", self.where), ("Start", self.start), ("Right when", self.right))
        told = [f"{name}: {text.rstrip('.')}." for name, text in parts if text]
        return " ".join([f"{self.takes[:1].upper()}{self.takes[1:]}.", *told])


def row(job: Job, course: Course, remedy: Remedy, letter: str) -> RemedyRow:
    """The row of a remedy on the set of a job; course: of setting that set."""
    state = in_sentence(job.knowledge.catalogue.states[remedy.state].title)
    takes = f"{minutes(remedy.minutes)}, {state}"
    return RemedyRow(
        letter, remedy.id, remedy.title, takes, remedy.where, _start(job, course, remedy), _right(job, remedy)
    )


def proof(job: Job) -> str:
    """What every proof run wants to see."""
    wanted = (job.checks[name] for name in job.knowledge.catalogue.costs.proof_checks if name in job.checks)
    return "; ".join(_normal(job, check) for check in wanted)


def _start(job: Job, course: Course, remedy: Remedy) -> str:
    """Where it is put before the set has run: as the remedy says, or the step of setting from which its own step goes
    on."""
    if remedy.start:
        return remedy.start
    if not any(remedy.id in course.works[step.id] and step.turned for step in course.steps.values()):
        return ""
    begins = ((_causes_in(job, step), step.starts) for step in course.steps.values() if step.starts)
    # Many causes show in a plug, few in the turns of a needle: the step that tells least else is the one meant.
    own = min((each for each in begins if each[0] & remedy.cures.keys()), key=lambda each: len(each[0]), default=None)
    return in_sentence(own[1]) if own else ""


def _causes_in(job: Job, step: SettingStep) -> set[str]:
    """The causes that show in what accepts a step."""
    return {cause for name in step.accepts if name in job.checks for cause in job.checks[name].parents}


def _right(job: Job, remedy: Remedy) -> str:
    common = job.knowledge.catalogue.costs.proof_checks
    named = [job.checks[name] for name in remedy.proof if name in job.checks]
    own = [check for check in named if check.id not in common] or named
    return "; ".join(_normal(job, check) for check in own[:_PROVEN])


def _normal(job: Job, check: Check) -> str:
    figures = limits(job, check, of_rated=True)
    return f"{in_sentence(check.title)} {figures}" if figures else f"{in_sentence(check.title)}: {_word(check.normal)}"


def _word(outcome: str) -> str:
    return outcome.replace("_", " ")
