"""What comes next in setting a set in order, and why.

Purpose: of a job that is being set, the next task with the fewest minutes of moves, told so that it can be done: where
it stands, what it should be, what to turn and how far; or that a fault is to be found first, and by which step.
Law: a pure function of the job. Nothing is set over a fault that is more probable than the knowledge allows; while the
job is held nothing runs; a step is gone on with once nothing that bears on it is suspected.
Not here: what stands (see `progress`), the way (see `plan`), how faults are searched (see the job's advice).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from math import prod

from ..job import CheckMade, Job, Step, unexplained
from ..problems import percent
from .course import Course
from .plan import Plan, Task, cheapest
from .progress import FOUND, LEFT_OUT, STUCK, WAITS, StepProgress, course_of_job, progress
from .sheet import verdict
from .turning import NOT_PROVEN, hardly_more


@dataclass(frozen=True, slots=True)
class SettingAdvice:
    """What to do next. kind:

    held: shut the set down and make it safe. read: make the check `check`. work: carry out the remedy `remedy`.
    turn: turn `turns`, by adjuster. place: put it where the step starts. do: what the step asks. stuck: the step does
    not respond, which is to be noted with `findings`. search: the ordinary next step `found`, for `causes`. refer: the
    same, and nothing else is left. done: all is set and proven, as far as it can be.
    step: id of the step of setting, empty for held and done. why: one sentence each. minutes: with the move there.
    expected: reading -> Hz after a turn. put_back: fittings that go on before it. left: steps not right yet.
    """

    kind: str
    step: str = ""
    check: str = ""
    remedy: str = ""
    turns: Mapping[str, float] = field(default_factory=dict)
    expected: Mapping[str, float] = field(default_factory=dict)
    why: tuple[str, ...] = ()
    minutes: float = 0.0
    put_back: tuple[str, ...] = ()
    findings: tuple[tuple[str, str], ...] = ()
    causes: tuple[tuple[str, float], ...] = ()
    found: Step | None = None
    left: tuple[str, ...] = ()


def advise(job: Job, put_off: Collection[str] = (), deepen: int = 4) -> SettingAdvice:
    """What to do next in setting. Raises ContradictionError where findings exclude one another.

    put_off: checks, remedies and steps that are not wanted now; they come when nothing else is left. deepen: of the
    search for a fault, as in `Job.next_steps`.
    """
    course = course_of_job(job)
    stands = progress(job, course)
    left = tuple(each.id for each in stands if not each.right)
    if job.held:
        return SettingAdvice("held", why=tuple(map(str, job.held)), left=left)
    causes = suspected(job, stands)
    barred = None
    if causes:
        search = _search(job, causes, left, deepen)
        if search is not None and search.kind == "search":
            return search
        barred = search
    fresh = next((each for each in stands if each.state == STUCK and not _noted(job, each.id)), None)
    if fresh is not None:
        return _stuck(job, fresh, left)
    # Where the ordinary search would hand the set over, what the course can still read is read; nothing is set over it.
    task = _next(job, course, stands, put_off, ("read",) if barred is not None else ())
    if task is not None:
        return _told(job, course, task, {each.id: each for each in stands}, left)
    if barred is not None:
        return barred
    if left:
        search = _search(job, causes or _likeliest(job), left, deepen)
        if search is not None:
            return search
        return SettingAdvice("refer", why=("What is left does not respond, and nothing known explains it.",), left=left)
    # Everything is set; where its proof is not as it should be, what is behind that is gone after, as in any job, and
    # where nothing known is, it is not called done all the same; where only the meter's doubt lies between, the
    # verdict says so.
    outside = verdict(job, course).outside
    if outside:
        search = _search(job, causes or _likeliest(job), left, deepen)
        if search is not None:
            return search
        clear = [line for line in outside if not _in_doubt(job, line.check)]
        told = tuple(f"{line.title}: {line.answer.replace('_', ' ')}, which is not right." for line in clear)
        if told:
            return SettingAdvice("refer", why=told, causes=_likeliest(job))
    return SettingAdvice("done")


def _in_doubt(job: Job, check: str) -> bool:
    """Whether the latest answer of a check is not proven to lie beyond its limit."""
    answer = next(made.answer for made in reversed(job.made) if made.check == check)
    return hardly_more(job.checks[check], answer, NOT_PROVEN)


def suspected(job: Job, stands: Sequence[StepProgress]) -> tuple[tuple[str, float], ...]:
    """Faults that are probable enough to be found before more is set, likeliest first.

    Not among them: what a step that is still to be gone through puts right in its turn. Where nothing that was read
    stands out any more there are none, and the belief is not asked: it takes most of the time of a step. A finding that
    no turn of an adjuster makes brings up the faults behind it from a lower chance on that it is one of them: what
    shows them now shows them no better later, and what is set meanwhile may hide what else they show.
    Raises ContradictionError.
    """
    findings = unexplained(job)
    if not findings:
        return ()
    knowledge = job.knowledge
    least = knowledge.catalogue.setting_rules.suspected
    coming = {
        remedy
        for each in stands
        if not each.right and each.state != STUCK and not _noted(job, each.id)
        for remedy in _works(job, each)
    }
    in_turn = {cause for remedy in coming for cause in knowledge.remedies[remedy].cures}
    ranking = tuple((cause, chance) for cause, chance in job.ranking() if knowledge.causes[cause].fault)
    left = {cause: chance for cause, chance in ranking if cause not in in_turn}
    # What a look found that another answer had asked for is gone after whatever its chance: two point the same way.
    asked = {look for each in stands if not each.right for look in _asked(each)}
    behind = {
        cause
        for made in findings
        if not _mended(made, stands)
        for cause in _one_of(job, made, left, 0.0 if made.check in asked else knowledge.catalogue.setting_rules.found)
    }
    return tuple((cause, chance) for cause, chance in left.items() if chance >= least or cause in behind)


def _mended(made: CheckMade, stands: Sequence[StepProgress]) -> bool:
    """Whether a step that is still to be gone through has work of its own for a finding."""
    return any(
        made.check in each.wrong and each.step.remedy_for(made.check, made.answer.outcomes)
        for each in stands
        if not each.right and each.state != STUCK
    )


def _asked(each: StepProgress) -> frozenset[str]:
    """The looks that the answers of a step which are not right ask for, made or not."""
    looks = (each.step.looks_for(check, each.readings[check].outcomes) for check in each.wrong)
    return frozenset(look for listed in looks for look in listed)


def _one_of(job: Job, made: CheckMade, chances: Mapping[str, float], least: float) -> frozenset[str]:
    """The faults behind a finding that no turn makes, where it is probable enough that one of them is there; those that
    are hardly behind it, by the share that they have in it, are left out."""
    knowledge = job.knowledge
    order = [str(outcome) for outcome in knowledge.checks[made.check].outcomes]
    at = [order.index(outcome) for outcome in made.answer.outcomes]
    shows = knowledge.network.shows[made.check]
    making = {cause for cause, strengths in shows.items() if sum(strengths[place] for place in at) > 0.0}
    if making & _turned_wrong(job):
        return frozenset()
    told = {cause: chances[cause] for cause in making if cause in chances}
    if not told or 1.0 - prod(1.0 - chance for chance in told.values()) < least:
        return frozenset()
    return frozenset(cause for cause, chance in told.items() if chance >= SHARE * max(told.values()))


SHARE = 0.1
"""Of the chance of the likeliest fault behind a finding, that from which on another is named beside it."""


def _turned_wrong(job: Job) -> frozenset[str]:
    """The causes that are no more than where an adjuster or a needle stands."""
    catalogue = job.knowledge.catalogue
    remedies = {adjuster.remedy for adjuster in catalogue.adjusters.values()}
    remedies.update(remedy for step in catalogue.setting.values() if step.no_response for remedy in step.works)
    return frozenset(cause for remedy in remedies for cause in job.knowledge.remedies[remedy].cures)


def _likeliest(job: Job) -> tuple[tuple[str, float], ...]:
    return tuple((cause, chance) for cause, chance in job.ranking()[:2] if job.knowledge.causes[cause].fault)


def _works(job: Job, each: StepProgress) -> tuple[str, ...]:
    catalogue, step = job.knowledge.catalogue, each.step
    turned = (step.adjuster,) if step.adjuster else tuple(catalogue.pairs[step.pair].response) if step.pair else ()
    return (*step.works, *(catalogue.adjusters[name].remedy for name in turned))


def _noted(job: Job, step: str) -> bool:
    """Whether it was noted already that a step does not respond, with nothing worked on since."""
    for event in reversed(job.standing):
        if event.kind == "set_to" and event.id == step:
            return event.answer == "no response"
        if event.kind == "remedy":
            return False
    return False


def _search(
    job: Job, causes: tuple[tuple[str, float], ...], left: tuple[str, ...], deepen: int
) -> SettingAdvice | None:
    """The ordinary search, for causes that are suspected; None where it would rather prove the set and close."""
    step = job.next_steps(1, deepen)[0]
    titles = job.knowledge.causes
    told = tuple(f"{titles[cause].title}: {percent(chance)}." for cause, chance in causes[:3])
    if step.kind == "done":
        return None
    kind = "refer" if step.kind == "refer" else "search"
    name = {"check": "check", "remedy": "remedy"}.get(step.kind, "")
    return SettingAdvice(
        kind, check=step.id if name == "check" else "", remedy=step.id if name == "remedy" else "",
        why=(*told, step.why), minutes=step.minutes, put_back=step.put_back, causes=causes, found=step, left=left,
    )  # fmt: skip


def _stuck(job: Job, each: StepProgress, left: tuple[str, ...]) -> SettingAdvice:
    """A step that does not respond: what that says of the set, as findings that the belief can weigh."""
    turning = each.turning
    found = dict(turning.findings if turning is not None else ())
    if turning is None and each.tries:
        found = dict(each.step.no_response)
    usable = _usable(job, found)
    why = turning.why if turning is not None and turning.why else ()
    if not why:
        why = tuple(f"{job.checks[check].title}: {each.readings[check].text}." for check in each.wrong)
    return SettingAdvice("stuck", each.id, why=why, findings=usable, left=left)


# ---- what is left, and the way through it


def tasks(
    job: Job, course: Course, stands: Sequence[StepProgress]
) -> tuple[tuple[Task, ...], Mapping[int, tuple[int, ...]]]:
    """What is left to do, in the order written, and what comes before each.

    What waits for a step that does not respond, and that step, are left out. A reading that is wanted by two steps is
    one task of the first.
    """
    found: list[Task] = []
    after: dict[int, tuple[int, ...]] = {}
    of: dict[str, list[int]] = {}
    by_id = {each.id: each for each in stands}
    barred = {name for name, each in by_id.items() if each.state == STUCK}
    barred |= {name for name in by_id if barred & course.before[name]}
    for name, each in by_id.items():
        if each.right or name in barred:
            continue
        before = tuple(at for other in course.before[name] for at in of.get(other, ()))
        of[name] = []
        work = _work(job, each)
        if work is not None:
            after[len(found)] = before
            of[name].append(len(found))
            found.append(work)
            before = (*before, len(found) - 1)
        reads = each.unread or (course.read(name) if work is not None and work.kind in ("work", "turn") else ())
        for check in reads:
            after[len(found)] = before
            of[name].append(len(found))
            made = job.checks[check]
            found.append(Task(name, "read", check, made.state, made.minutes))
    _disturbers_first(course, by_id, of, after)
    _looked_at_first(course, by_id, of, after)
    return tuple(found), after


def _disturbers_first(
    course: Course, stands: Mapping[str, StepProgress], of: Mapping[str, list[int]], after: dict[int, tuple[int, ...]]
) -> None:
    """What disturbs another comes before it, unless it waits for it itself: then it is done again."""
    for name, own in of.items():
        for other in stands[name].step.disturbs:
            if other in of and other not in course.before[name] and name not in course.before[other]:
                for at in of[other]:
                    after[at] = (*after[at], *own)


def _looked_at_first(
    course: Course, stands: Mapping[str, StepProgress], of: Mapping[str, list[int]], after: dict[int, tuple[int, ...]]
) -> None:
    """What a look before the work of a step belongs to comes before that work: what it showed is put right there."""
    for name, own in of.items():
        asked = _asked(stands[name])
        for other, theirs in of.items():
            if other != name and name not in course.before[other] and asked & set(course.checks[other]):
                for at in own:
                    after[at] = (*after[at], *theirs)


def _work(job: Job, each: StepProgress) -> Task | None:
    """The work that a step needs now, if it does."""
    step, catalogue = each.step, job.knowledge.catalogue
    if each.state == STUCK or each.unread:
        return None
    if not step.accepts:
        return Task(each.id, "do", "", step.state, step.minutes)
    for check in each.wrong:
        remedy = step.remedy_for(check, each.readings[check].outcomes)
        if remedy:
            made = catalogue.remedies[remedy]
            return Task(each.id, "work", remedy, made.state, made.minutes)
    if each.turning is not None and each.turning.kind == "turn":
        return Task(each.id, "turn", step.adjuster or step.pair, step.state, step.minutes)
    if each.wrong and step.starts:
        return Task(each.id, "place", "", step.state, step.minutes)
    return None


def plan(job: Job, course: Course | None = None, stands: Sequence[StepProgress] | None = None) -> Plan:
    """The cheapest way through what is left, as far as it is known now."""
    course = course or course_of_job(job)
    left, after = tasks(job, course, stands if stands is not None else progress(job, course))
    return cheapest(job.knowledge.catalogue.costs, job.here, left, after)


def _next(
    job: Job, course: Course, stands: Sequence[StepProgress], put_off: Collection[str], kinds: Collection[str] = ()
) -> Task | None:
    """The next task; of these kinds alone, where some are named."""
    way = plan(job, course, stands).tasks
    if kinds:
        barred = {task.step for task in way if task.kind not in kinds}
        way = tuple(task for task in way if task.step not in barred)
    # Where something is put off, what waits for it in the plan cannot be done either.
    waiting = {each.id for each in stands if each.state == WAITS}
    # Nor is read again, of a step whose work is put off, what is to be read after it.
    waiting |= {task.step for task in way if task.kind != "read" and {task.name, task.step} & set(put_off)}
    ready = [task for task in way if task.step not in waiting and not {task.name, task.step} & set(put_off)]
    if not ready:
        return way[0] if way else None
    first = ready[0]
    begun = {each.id for each in stands if each.worked and not each.right}
    costs = job.knowledge.catalogue.costs
    # What was begun is gone on with, where that takes no further move: with its next task, since what is read after its
    # work says nothing before it.
    following: dict[str, Task] = {}
    for task in ready:
        following.setdefault(task.step, task)
    for task in following.values():
        if task.step in begun and costs.move(job.here, task.state) <= costs.move(job.here, first.state):
            return task
    return first


def _told(
    job: Job, course: Course, task: Task, stands: Mapping[str, StepProgress], left: tuple[str, ...]
) -> SettingAdvice:
    each = stands[task.step]
    catalogue = job.knowledge.catalogue
    minutes = catalogue.costs.move(job.here, task.state) + task.minutes
    first = task.kind == "read" and not any(event.kind == "check" and event.id == task.name for event in job.standing)
    why: tuple[str, ...] = (f"Again, because of: {each.because}.",) if each.because and not first else ()
    if task.kind == "read" and task.name not in course.checks[each.id]:
        why = tuple(
            f"{job.checks[check].title}: {each.readings[check].text.replace('_', ' ')}; a fault may ask for the same."
            for check in each.wrong
            if task.name in each.step.looks_for(check, each.readings[check].outcomes)
        )
    kind = {"read": "check", "work": "remedy"}.get(task.kind, "setting")
    put_back = job.to_put_back(kind, task.name if kind != "setting" else task.step)
    if task.kind == "read":
        return SettingAdvice("read", each.id, check=task.name, why=why, minutes=minutes, put_back=put_back, left=left)
    if task.kind == "work":
        return SettingAdvice("work", each.id, remedy=task.name, why=why, minutes=minutes, put_back=put_back, left=left)
    if task.kind == "turn" and each.turning is not None:
        turning = each.turning
        return SettingAdvice(
            "turn", each.id, turns=turning.step, expected=turning.expected, why=(*why, *turning.why), minutes=minutes,
            put_back=put_back, left=left,
        )  # fmt: skip
    return SettingAdvice(task.kind, each.id, why=why, minutes=minutes, put_back=put_back, left=left)


# ---- what was done, as events


def turned(job: Job, advice: SettingAdvice, turns: Mapping[str, float] | None = None) -> None:
    """Note a turn. turns: what was really turned, by adjuster; as advised where left out.

    The first turn of an adjuster for a step is its remedy, so that what is read afterwards is read on a set that was
    worked on. Raises JobError, HeldError.
    """
    made = dict(advice.turns if turns is None else turns)
    catalogue = job.knowledge.catalogue
    done = _since_read_by_others(job, advice.step)
    works = dict.fromkeys(catalogue.adjusters[name].remedy for name in made)
    cells = {name: f"{part:+g}" for name, part in made.items()}
    job.set_to(advice.step, "turned", cells, [name for name in works if name not in done])


def _since_read_by_others(job: Job, step: str) -> set[str]:
    """Remedies that stand since the last turn of a step, without another work between: its turns are one work."""
    works: set[str] = set()
    for event in job.standing:
        if event.kind == "remedy":
            works.add(event.id)
        elif event.kind == "set_to" and event.id != step:
            works.clear()
    turned_once = any(
        event.kind == "set_to" and event.id == step and event.answer == "turned" for event in job.standing
    )
    return works if turned_once else set()


def put(job: Job, advice: SettingAdvice, at: str = "") -> None:
    """Note that a step was put to its start, or that what it asks was done. at: where it was put, in words."""
    step = job.knowledge.catalogue.setting[advice.step]
    where = at or (f"{step.start:g} {step.unit}".strip() if step.start is not None else step.starts)
    job.set_to(advice.step, "set", {"at": where} if where else {})


def unresponsive(job: Job, step: str) -> SettingAdvice:
    """That a step does not respond, where somebody says so: its findings are those that the knowledge names."""
    return SettingAdvice("stuck", step, findings=_usable(job, job.knowledge.catalogue.setting[step].no_response))


def _usable(job: Job, findings: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Those findings whose check this set has."""
    return tuple((check, answer) for check, answer in findings.items() if check in job.checks)


def not_responding(job: Job, advice: SettingAdvice) -> None:
    """Note that a step does not respond, with what that says of the set."""
    for check, answer in advice.findings:
        job.record(check, answer, happened=True)
    job.set_to(advice.step, "no response")


__all__ = [
    "FOUND", "LEFT_OUT", "SettingAdvice", "advise", "not_responding", "plan", "put", "suspected", "tasks", "turned",
    "unresponsive",
]  # fmt: skip
