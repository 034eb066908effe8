"""How far a job has come on the course of setting: a pure function of its events.

Purpose: for each step whether it is right as found, set, to be done again, waiting, not yet looked at, or does not
respond; which of its readings still count, and what was turned.
Law: the same events give the same progress; a reading counts until something that bears on it was worked on. Nothing
is right by being worked on, only by a reading after it, but for what is put to a start or has no reading.
Not here: which step comes next (see `plan`), what is said of it (see `advice`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from weakref import WeakKeyDictionary

from ..compiler import SettingStep, parse_number
from ..job import DISTURBED, Event, Job
from ..problems import AnswerError
from ..readings import Answer
from .course import Course, course_of
from .turning import AdjusterPlace, Turning, by_adjuster, by_pair, carried, puzzled

NOT_YET = "not yet"
WAITS = "waits"
FOUND = "right as found"
SET = "set"
AGAIN = "to be done again"
STUCK = "does not respond"
LEFT_OUT = "left out"
RIGHT = (FOUND, SET, LEFT_OUT)
"""States of a step that nothing waits for any more."""


@dataclass(frozen=True, slots=True)
class StepProgress:
    """One step as it stands. state: one of the words above.

    waits_for: needs that are not right yet. because: title of what was worked on since it was right. readings: those
    that still count, by check, derived ones too. unread: checks to read. wrong: checks that are read and not right.
    disturbed: title of the latest work that bears on it. worked, tries: whether and how often it was worked on
    since it was last put in doubt by other work. turning: what the turns so far come to, where it is turned. turns: of
    each adjuster since the set was found. first: the readings as found, before anything that bears on them was touched
    by this step. placed: where it was put.
    """

    step: SettingStep
    state: str
    waits_for: tuple[str, ...] = ()
    because: str = ""
    disturbed: str = ""
    readings: Mapping[str, Answer] = field(default_factory=dict)
    unread: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()
    worked: bool = False
    tries: int = 0
    turning: Turning | None = None
    turns: Mapping[str, float] = field(default_factory=dict)
    first: Mapping[str, Answer] = field(default_factory=dict)
    placed: str = ""

    @property
    def id(self) -> str:
        return self.step.id

    @property
    def right(self) -> bool:
        return self.state in RIGHT


@dataclass(slots=True)
class _Trail:
    """What the events so far say of one step."""

    readings: dict[str, Answer] = field(default_factory=dict)
    first: dict[str, Answer] = field(default_factory=dict)
    places: list[AdjusterPlace] = field(default_factory=list)
    turns: dict[str, float] = field(default_factory=dict)
    tries: int = 0
    worked: bool = False
    ever: bool = False
    done: bool = False
    unresponsive: bool = False
    refused: int = 0
    """How often it did not respond, with nothing mended since."""
    was_right: bool = False
    because: str = ""
    disturbed: str = ""
    placed: str = ""


def wanted(events: Iterable[Event]) -> tuple[str, ...]:
    """The steps that were asked for, beyond those of every set."""
    found: tuple[str, ...] = ()
    for event in events:
        if event.kind == "setting" and event.answer == "begun":
            found = tuple(event.cells)
    return found


def only_disturbed(events: Iterable[Event]) -> bool:
    """Whether setting was begun after a cure, for what was disturbed alone."""
    begun = [event for event in events if event.kind == "setting" and event.answer == "begun"]
    return bool(begun) and begun[-1].id == DISTURBED


def worked_since_begun(job: Job) -> bool:
    """Whether anything was worked on since setting was begun last; locking and closing up are no such work."""
    since, steps = False, job.knowledge.catalogue.setting
    for event in job.standing:
        if event.kind == "setting" and event.answer == "begun":
            since = False
        elif event.kind == "set_to":
            since |= event.answer != "no response" and not steps[event.id].last
        else:
            since |= event.kind == "remedy"
    return since


def _touched(stands: StepProgress) -> bool:
    """Whether work bears on a step or was done for it, or a reading of it is wrong; the proof is made of every set."""
    return stands.step.last or bool(stands.disturbed or stands.worked or stands.placed or stands.wrong)


def course_of_job(job: Job) -> Course:
    """The course of the set of a job."""
    return course_of(job.knowledge, job.features, wanted(job.standing))


_KEPT: WeakKeyDictionary[Job, tuple[tuple[Event, ...], tuple[StepProgress, ...]]] = WeakKeyDictionary()
"""The progress of each job by the events that it was worked out from: a screen asks for it more than once."""


def progress(job: Job, course: Course | None = None) -> tuple[StepProgress, ...]:
    """Every step of the course as it stands, in the order written. course: that of the job, where it is known."""
    kept = _KEPT.get(job)
    if kept is None or kept[0] != job.standing:
        kept = _KEPT[job] = (job.standing, _progress(job, course or course_of_job(job)))
    return kept[1]


def _progress(job: Job, course: Course) -> tuple[StepProgress, ...]:
    trails = {name: _Trail() for name in course.steps}
    for event in job.standing:
        _happened(job, course, trails, event)
    found: dict[str, StepProgress] = {}
    told = {name: _stands(job, course, name, trails[name]) for name in course.steps}
    if only_disturbed(job.standing):
        told = {name: stands if _touched(stands) else replace(stands, state=LEFT_OUT) for name, stands in told.items()}
        if not worked_since_begun(job):
            # Nothing that could have moved is locked anew, and what was proven after the cure stands.
            unmoved = [name for name, step in course.steps.items() if step.last and step.disturbs]
            told |= {name: replace(told[name], state=LEFT_OUT) for name in unmoved if not course.checks[name]}
    # What is right but for what it waits for is right all the same: it is only not gone on with.
    for name, stands in told.items():
        missing = tuple(other for other in course.needs[name] if not told[other].right)
        found[name] = replace(stands, state=WAITS, waits_for=missing) if missing and not stands.right else stands
    return tuple(found.values())


# ---- what the events say


def _happened(job: Job, course: Course, trails: Mapping[str, _Trail], event: Event) -> None:
    if event.kind == "check":
        answer = job.understand(event.id, event.answer)
        asking = [name for name in trails if event.id in course.checks[name]]
        # A step that is being turned has taken over the readings that it shares with those before it.
        taken = frozenset[str]().union(*(course.before[name] for name in asking if trails[name].worked))
        for name in asking:
            if name not in taken or not _stands(job, course, name, trails[name]).right:
                _read(job, course, name, trails[name], event.id, answer)
    elif event.kind == "remedy":
        own = _own(job, course, trails, event)
        _worked(job, course, trails, event.id, own)
        if "step" not in event.cells:
            _tried_again(trails, own)
        for name in own:
            trails[name].tries += 1
            trails[name].worked = trails[name].ever = True
    elif event.kind == "set_to" and event.id in trails:
        _set_to(job, course, trails, event)


def _worked(job: Job, course: Course, trails: Mapping[str, _Trail], remedy: str, own: frozenset[str]) -> None:
    """What is no longer known once a remedy was carried out, or a turn of it was made, for the steps `own`."""
    title = job.knowledge.remedies[remedy].title
    before = frozenset[str]().union(*(course.before[name] for name in own))
    for name, checks in course.disturbed(remedy).items():
        trails[name].disturbed = title
        if name in own:
            _doubt(job, course, name, trails[name], checks, "")
        elif remedy not in course.works[name]:
            _doubt(job, course, name, trails[name], checks, title)
        elif name not in before:
            _doubt(job, course, name, trails[name], checks, "")
    _near_again(job, course, trails, remedy, own)
    _last_again(course, trails, title)


def _near_again(job: Job, course: Course, trails: Mapping[str, _Trail], remedy: str, own: frozenset[str]) -> None:
    """What is near enough is not asked again; what is not yet is read anew once a remedy bears on how it reads."""
    cures = job.knowledge.remedies[remedy].cures
    for name, step in course.steps.items():
        trail = trails[name]
        if not step.near or name in own or remedy in course.works[name] or _stands(job, course, name, trail).right:
            continue
        bearing = frozenset(check for check in trail.readings if not cures.keys().isdisjoint(job.checks[check].parents))
        if bearing:
            _doubt(job, course, name, trail, bearing, job.knowledge.remedies[remedy].title)


def _tried_again(trails: Mapping[str, _Trail], own: frozenset[str]) -> None:
    """After a remedy that is no turn of a step: what did not respond may do so now, and what was turned by it stands
    nobody knows how far off, so that it is learned anew what a turn does."""
    for name, trail in trails.items():
        if trail.unresponsive:
            trail.unresponsive, trail.refused = False, max(0, trail.refused - 1)
            trail.readings.clear()
            trail.places.clear()
            trail.tries = 0
        elif name in own:
            trail.places.clear()


def _own(job: Job, course: Course, trails: Mapping[str, _Trail], event: Event) -> frozenset[str]:
    """The steps whose work a remedy was: that which it begins with; else, of those that it can be work of, the first
    that are not right yet, or all where all are."""
    having = [name for name, works in course.works.items() if event.id in works]
    if event.cells.get("step") in having:
        return frozenset({event.cells["step"]})
    open_ = [name for name in having if not _stands(job, course, name, trails[name]).right]
    if open_:
        return frozenset(name for name in open_ if course.before[name].isdisjoint(open_))
    return frozenset(name for name in having if not course.steps[name].near)


def _read(job: Job, course: Course, name: str, trail: _Trail, check: str, answer: Answer) -> None:
    trail.readings[check] = answer
    if not trail.ever:
        trail.first.setdefault(check, answer)
    step = course.steps[name]
    if not (step.pair or step.adjuster):
        return
    if not trail.places:
        trail.places.append(AdjusterPlace(dict(trail.turns)))
    last = trail.places[-1]
    again = check in last.readings
    if again and (not right(job, step, check, answer) or (step.pair and _puzzled(job, step, trail))):
        # It was right and is not, or is read once more before it is believed: a place of its own, with what else was
        # read here.
        trail.places.append(replace(last, readings={**last.readings, check: answer}, own=False))
    else:
        trail.places[-1] = replace(last, readings={**last.readings, check: answer})


def _puzzled(job: Job, step: SettingStep, trail: _Trail) -> bool:
    return puzzled(job.knowledge, job.features, job.tolerance, step, trail.places)


def _doubt(job: Job, course: Course, name: str, trail: _Trail, checks: frozenset[str], because: str) -> None:
    """Readings that count no more. because: title of the other work that did it; empty for own work."""
    if because:
        trail.disturbed = because
        if _stands(job, course, name, trail).right and (trail.readings or trail.done):
            trail.was_right, trail.because = True, because
        trail.tries, trail.worked, trail.unresponsive = 0, False, False
        trail.places.clear()
        trail.done = trail.done and not course.checks[name]
    for check in checks:
        trail.readings.pop(check, None)


def _set_to(job: Job, course: Course, trails: Mapping[str, _Trail], event: Event) -> None:
    trail, step = trails[event.id], course.steps[event.id]
    if event.answer == "no response":
        trail.refused += 1
        # What was worked on is gone through once more from fresh readings; what was only looked at shows the same.
        trail.unresponsive = not trail.worked or trail.refused >= job.knowledge.catalogue.setting_rules.tries
        if not trail.unresponsive:
            trail.readings.clear()
            trail.places.clear()
            trail.tries, trail.worked = 0, False
        return
    trail.ever = trail.worked = True
    trail.unresponsive = False
    if event.answer == "set":
        trail.done, trail.placed = True, event.cells.get("at", "")
    else:
        for adjuster, turns in event.cells.items():
            for other in trails.values():  # a turn is a turn, whichever step it was made for
                other.turns[adjuster] = other.turns.get(adjuster, 0.0) + parse_number(turns)
            if adjuster in job.knowledge.catalogue.adjusters:
                remedy = job.knowledge.catalogue.adjusters[adjuster].remedy
                _worked(job, course, trails, remedy, frozenset({event.id}))
        for check in course.told_by_turning(event.id):
            trail.readings.pop(check, None)
        for other in trails.values():
            if other is trail or other.places:
                other.places.append(AdjusterPlace(dict(other.turns), own=other is trail))
    for name in step.disturbs:
        if name in trails:
            _doubt(job, course, name, trails[name], frozenset(course.checks[name]), step.title)
    if not step.last:
        _last_again(course, trails, step.title)


def _last_again(course: Course, trails: Mapping[str, _Trail], because: str) -> None:
    """What comes last is gone through again after any work."""
    for name, step in course.steps.items():
        trail = trails[name]
        if not step.last:
            continue
        if trail.done or (trail.readings and set(course.read(name)) <= trail.readings.keys()):
            trail.was_right, trail.because = True, because
        trail.readings.clear()
        trail.done = False


# ---- what that comes to


def right(job: Job, step: SettingStep, check: str, answer: Answer) -> bool:
    """Whether an answer is right for a step; one that nobody could give stands in no one's way."""
    if not answer.outcomes:
        return True
    known = job.knowledge.checks[check]
    also = (*job.knowledge.catalogue.costs.also_fine.get(check, ()), *step.fine.get(check, ()))
    if set(answer.outcomes) <= {known.normal, *also}:
        return True
    ends = step.near.get(check)
    if ends is None or not answer.values:
        return False
    scaled = known.reading is not None and known.reading.scale == "rated_frequency"
    scale = float(job.features["hertz"]) / 60.0 if scaled else 1.0
    return ends[0] * scale <= answer.values[0] <= ends[1] * scale


def _stands(job: Job, course: Course, name: str, trail: _Trail) -> StepProgress:
    step = course.steps[name]
    readings = with_derived(job, course.checks[name], trail.readings)
    # What nothing is there for today is not asked; the proof says that it was not read.
    lacking = frozenset(check for check in course.read(name) if job.lacking("check", check))
    unread = tuple(check for check in course.read(name) if check not in trail.readings and check not in lacking)
    wrong = tuple(
        check
        for check, answer in readings.items()
        if _matters(job, step, check) and not right(job, step, check, answer)
    )
    unread += tuple(look for look in _looks_first(job, step, wrong, readings) if look not in unread)
    placed = bool(step.starts) and trail.done
    turning = None
    if not course.checks[name]:
        state = SET if trail.done else AGAIN if trail.was_right else NOT_YET
        if not trail.done and job.lacking("setting", name):
            state = LEFT_OUT
    elif placed:
        state, unread, wrong = SET, (), ()
    elif trail.unresponsive:
        state = STUCK
    elif unread:
        state = AGAIN if trail.was_right else NOT_YET
        if step.waits_for_nothing and _too_far(job, course, unread):
            state = LEFT_OUT
    else:
        mended = [check for check in wrong if step.accepts.get(check)]
        turning = None if mended else _turning(job, course, step, trail, wrong)
        if turning is not None and turning.kind == "read":
            here = trail.places[-1].readings if trail.places else {}
            told = [check for check in course.read(name) if not step.accepts[check]]
            missing = [check for check in told if check not in here]
            unread = tuple(check for check in missing or told[:1] if check not in lacking)
            turning = turning if unread else Turning("unread")
        if mended and not _can_be_mended(job, step, mended, readings):
            state = LEFT_OUT
        elif mended:
            untold = [check for check in mended if not _remedies(step, check, readings[check])]
            tired = trail.tries >= job.knowledge.catalogue.setting_rules.tries
            state = STUCK if untold or tired else NOT_YET
        elif turning is not None and turning.kind not in ("right", "unread"):
            state = STUCK if turning.kind == "stuck" else NOT_YET
        elif wrong and not step.starts:
            state = STUCK
        elif wrong:
            state = NOT_YET
        else:
            state = SET if trail.ever else FOUND
    return StepProgress(
        step, state, (), trail.because, trail.disturbed, readings, unread, wrong, trail.worked, trail.tries, turning,
        dict(trail.turns), dict(trail.first), trail.placed,
    )  # fmt: skip


def _matters(job: Job, step: SettingStep, check: str) -> bool:
    """Whether an answer that is not right keeps a step from being right. A look that nothing is done about by this
    step, what its turns only carry along, and the proof, are kept in mind instead: the belief and the verdict say what
    they come to."""
    if check in carried(job.knowledge, step):
        return False
    return bool(step.accepts.get(check) or step.starts or step.adjuster or step.pair)


def _looks_first(job: Job, step: SettingStep, wrong: Iterable[str], readings: Mapping[str, Answer]) -> tuple[str, ...]:
    """What is still to be looked at before anything is done for what is wrong: a fault asks for the same, and once it
    is turned away nothing shows it any more."""
    asked = dict.fromkeys(look for check in wrong for look in step.looks_for(check, readings[check].outcomes))
    made = {event.id for event in job.standing if event.kind == "check"}
    return tuple(look for look in asked if look in job.checks and look not in made and not job.lacking("check", look))


def _remedies(step: SettingStep, check: str, answer: Answer) -> tuple[str, ...]:
    return tuple(step.accepts[check][outcome] for outcome in answer.outcomes if outcome in step.accepts[check])


def _can_be_mended(job: Job, step: SettingStep, wrong: Iterable[str], readings: Mapping[str, Answer]) -> bool:
    """Whether the tools are there for the remedy of the first answer that has one."""
    remedy = next((does for check in wrong for does in _remedies(step, check, readings[check])), "")
    return not remedy or not job.lacking("remedy", remedy)


def _too_far(job: Job, course: Course, unread: Iterable[str]) -> bool:
    costs, rules = job.knowledge.catalogue.costs, job.knowledge.catalogue.setting_rules
    return any(costs.move(job.here, job.knowledge.checks[check].state) > rules.wait for check in unread)


def _turning(job: Job, course: Course, step: SettingStep, trail: _Trail, wrong: tuple[str, ...]) -> Turning | None:
    if step.pair:
        return by_pair(job.knowledge, job.features, job.tolerance, step, trail.places)
    if step.adjuster and wrong:
        return by_adjuster(job.knowledge, job.features, step, wrong[0], trail.places)
    return None


def with_derived(job: Job, checks: Iterable[str], readings: Mapping[str, Answer]) -> dict[str, Answer]:
    """Readings with the differences that two of them make; where one has no figure there is none."""
    found = dict(readings)
    for name in checks:
        check = job.knowledge.checks[name]
        if check.derived_from is None or name in found:
            continue
        one, other = (readings.get(base) for base in check.derived_from)
        if one is not None and other is not None and one.values and other.values:
            unit = check.reading.unit if check.reading else ""
            try:
                found[name] = job.understand(name, f"{one.values[0] - other.values[0]:.6f} {unit}")
            except AnswerError:
                continue
    return found
