"""From a job file to its record.

Purpose: collect from the events what was said, found, done and left, with times, verdicts and what is open.
Law: pure but for its arguments: the same job file and knowledge give the same record. Nothing is judged here that
the session would judge otherwise (see `condition`).
Not here: the structure itself (see `record`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from ...engine import ContradictionError, HertzwrightError, Job, JobError, Knowledge
from ...engine.compiler import drawing_of, parse_number
from ...engine.job import CheckMade, Event, closing_list, current, of_step, seen_to, taken_back
from ...engine.setting import sheet, verdict
from ..files import journal
from . import condition, event_text, history, load_record
from .event_text import CLOSINGS, state
from .history import KeptVisit
from .service_record import (
    BeforeAfter,
    CautionInForce,
    Details,
    RecommendedStep,
    RecordedCheck,
    RecordedClosing,
    RecordedComplaint,
    RecordedDrawing,
    RecordedProof,
    RecordedRemedy,
    RecordedSetting,
    ServiceRecord,
    Shift,
    Suspect,
    TimedText,
)

SITE = ("altitude", "temperature")
_LEADING = 5
_WORTH = 0.02
_STEPS = 3
_TITLES = {"done": "Prove it and close", "proof": "Proof run", "refer": "Hand the set over"}


def collect(
    knowledge: Knowledge, kept: journal.JobFileContent, details: Details | None = None, earlier: KeptVisit | None = None
) -> ServiceRecord:
    """The record of a job file. `earlier`: the visit to compare with.

    Raises JobError where this knowledge cannot take the job, AnswerError for a meter accuracy that is not understood.
    """
    given = details or Details()
    job, kept, renamed = _replayed(knowledge, kept)
    standing, undone = _standing(kept.entries)
    last = kept.entries[-1].at if kept.entries else kept.head.created
    texts = [entry.event.answer for entry in standing if entry.event.kind == "note"]
    findings, mended = _work(knowledge, job, standing)
    points, fixed = condition.open_points(job), condition.fixed(job)
    causes, recommended, contradiction = _outlook(knowledge, job, fixed)
    accuracy = given.accuracy or _accuracy(job)
    features = _features(knowledge, job)
    return ServiceRecord(
        job=kept.ident,
        created=kept.head.created,
        last=last,
        state=state([entry.event for entry in standing]),
        fixed=fixed,
        held=job.held,
        damage=kept.damage,
        knowledge=kept.head.knowledge,
        other_knowledge=kept.head.knowledge != knowledge.fingerprint,
        set_name=given.set_name or kept.head.set,
        place=given.site or "; ".join(load_record.noted(texts, load_record.SITE)),
        features=tuple(item for item in features if item[0] not in SITE),
        site=tuple(item for item in features if item[0] in SITE),
        tolerance=job.tolerance,
        tolerance_title=knowledge.catalogue.tolerances[job.tolerance].title,
        complaints=_complaints(knowledge, standing),
        readings=condition.rows(job),
        findings=findings,
        remedies=mended,
        causes=causes,
        contradiction=contradiction,
        load_test=load_record.load_test(knowledge, job, [entry.event for entry in standing], accuracy),
        cautions=_cautions(knowledge, job, recommended),
        acknowledged=_acknowledged(standing),
        open_points=points,
        recommended=recommended,
        meter=given.meter or "; ".join(load_record.noted(texts, load_record.METER)),
        accuracy=accuracy,
        minutes=round(job.minutes, 2),
        notes=(*_notes(standing), *_visit(knowledge, standing), *_renamed(renamed, last)),
        taken_back=tuple(TimedText(entry.at, _told_event(knowledge, entry.event)) for entry in undone),
        since="" if earlier is None else f"job {earlier.ident} of {earlier.created[:10]}",
        moved=() if earlier is None else _shifts(knowledge, job, earlier),
        settings=settings_of(job),
        proof=proof_of(job),
        turned=turned_of(job),
        off_as_found=_off_as_found(knowledge, standing),
        off_as_left=_fittings(knowledge, (each.fitting for each in job.off)),
        seen_to=seen_to_of(job),
        drawings=_drawings(knowledge, (*(each.remedy for each in mended), *(each.id for each in recommended))),
    )


def seen_to_of(job: Job) -> tuple[RecordedClosing, ...]:
    """The closing list of a job that is closed: what was confirmed, what not, and what was not asked."""
    if not job.closed:
        return ()
    said = seen_to(job)
    names = dict.fromkeys((*said, *closing_list(job)))
    return tuple(RecordedClosing(name, event_text.titled(job.knowledge, name), said.get(name)) for name in names)


def _drawings(knowledge: Knowledge, steps: Iterable[str]) -> tuple[RecordedDrawing, ...]:
    """The drawings of these steps, each once."""
    found = (drawing_of(knowledge, step) for step in steps)
    drawn = {each.id: each for each in found if each is not None}
    return tuple(
        RecordedDrawing(each.id, each.title, " ".join(each.in_words.split()), each.art) for each in drawn.values()
    )


def settings_of(job: Job) -> tuple[RecordedSetting, ...]:
    """Every setting as found and as left, of a set that was set in order."""
    if not any(event.kind == "setting" and event.answer == "begun" for event in job.standing):
        return ()
    return tuple(
        RecordedSetting(
            line.step, line.title, line.state, line.found, line.left, dict(line.turns), line.because, line.placed,
            line.unseen, line.wrong, line.checks,
        )
        for line in sheet(job)
    )  # fmt: skip


def proof_of(job: Job) -> tuple[RecordedProof, ...]:
    """The proof of setting, reading by reading, each once."""
    if not any(event.kind == "setting" and event.answer == "begun" for event in job.standing):
        return ()
    lines = {line.check: line for line in verdict(job).lines}
    return tuple(
        RecordedProof(line.check, line.title, line.answer, condition.limits(job, job.checks[line.check]), line.passed)
        for line in lines.values()
    )


def turned_of(job: Job) -> tuple[str, ...]:
    """How far each adjuster was turned, all in all, in words."""
    turns: dict[str, float] = {}
    for event in job.standing:
        if event.kind == "set_to" and event.answer == "turned":
            for name, part in event.cells.items():
                turns[name] = turns.get(name, 0.0) + parse_number(part)
    return event_text.turns_told(job.knowledge, {name: part for name, part in turns.items() if round(part * 8)})


def _features(knowledge: Knowledge, job: Job) -> tuple[tuple[str, str, str], ...]:
    """Id, title and value of each feature of the set."""
    known = knowledge.catalogue.features
    return tuple((name, feature.title, _value(knowledge, name, job)) for name, feature in known.items())


def _replayed(
    knowledge: Knowledge, kept: journal.JobFileContent
) -> tuple[Job, journal.JobFileContent, tuple[str, ...]]:
    """The job of a file, the file with its events by today's ids, and what was renamed since. Raises JobError."""
    try:
        events, renamed = current(knowledge, kept.events)
        job = Job.replay(knowledge, events)
    except HertzwrightError as error:
        raise JobError(
            f"{kept.path}: this knowledge cannot take the job: {error}; try --knowledge with the one it was made with"
        ) from None
    entries = tuple(replace(entry, event=event) for entry, event in zip(kept.entries, events, strict=True))
    return job, replace(kept, entries=entries), tuple(renamed)


def _outlook(
    knowledge: Knowledge, job: Job, fixed: bool
) -> tuple[tuple[Suspect, ...], tuple[RecommendedStep, ...], str]:
    """The likely causes and what to do next; or, where the findings contradict each other, which."""
    causes: tuple[Suspect, ...] = ()
    try:
        causes = _suspects(knowledge, job.ranking()[:_LEADING])
        return causes, () if fixed else _advice(knowledge, job), ""
    except ContradictionError as error:
        return causes, (), "; ".join(error.findings)


def _standing(entries: Sequence[journal.JournalEntry]) -> tuple[list[journal.JournalEntry], list[journal.JournalEntry]]:
    """Entries that stand, and those that were taken back, as `Job` reads them."""
    gone = [at for at, _ in taken_back([entry.event for entry in entries])]
    standing = [entry for at, entry in enumerate(entries) if at not in gone and entry.event.kind != "step_back"]
    return standing, [entries[at] for at in gone]


def _accuracy(job: Job) -> tuple[str, ...]:
    """What the meters of a job are good for, as it was told in its load tests."""
    return tuple(text for text in load_record.accuracy_of(job.standing) if load_record.understood(text))


def _renamed(said: Iterable[str], at: str) -> tuple[TimedText, ...]:
    """What today's knowledge names otherwise than the file does, told behind everything else."""
    return tuple(TimedText(at, f"Since then, {each}.") for each in said)


def _off_as_found(knowledge: Knowledge, standing: Sequence[journal.JournalEntry]) -> tuple[str, ...]:
    """What was off already when the technician came."""
    return _fittings(
        knowledge, (each.event.id for each in standing if each.event.kind == "taken_off" and each.event.answer)
    )


def _fittings(knowledge: Knowledge, names: Iterable[str]) -> tuple[str, ...]:
    return tuple(knowledge.catalogue.fittings[name].title for name in dict.fromkeys(names))


def _value(knowledge: Knowledge, name: str, job: Job) -> str:
    value, unit = job.features[name], knowledge.catalogue.features[name].unit
    text = value.replace("_", " ") if isinstance(value, str) else f"{value:g}"
    return f"{text} {unit}".strip()


def _complaints(knowledge: Knowledge, standing: Sequence[journal.JournalEntry]) -> tuple[RecordedComplaint, ...]:
    said: dict[str, RecordedComplaint] = {}
    for entry in standing:
        event = entry.event
        if event.kind == "complaint":
            first = said.get(event.id)
            title = knowledge.complaints[event.id].title
            own = event.cells.get("said", "") or (first.said if first else "")
            said[event.id] = RecordedComplaint(
                event.id, title, first.first if first else event.answer, event.answer,
                first.at if first else entry.at, own,
            )  # fmt: skip
    return tuple(said.values())


def _work(
    knowledge: Knowledge, job: Job, standing: Sequence[journal.JournalEntry]
) -> tuple[tuple[RecordedCheck, ...], tuple[RecordedRemedy, ...]]:
    """Checks and remedies in the order of the work, with what was thought of the causes at the time."""
    walk = Job(knowledge, job.features, job.tolerance)
    last = {(made.check, made.epoch): made for made in job.made}
    again = {}
    epoch = 0
    for place, entry in enumerate(standing):
        epoch += entry.event.kind == "remedy"
        if entry.event.kind == "check":
            again[entry.event.id, epoch] = place
    findings: list[RecordedCheck] = []
    mended: list[RecordedRemedy] = []
    for place, entry in enumerate(standing[1:], 1):
        event = entry.event
        if event.kind == "check":
            answer = walk.record(event.id, event.answer, happened=True)
            replaced = again[event.id, walk.epoch] != place
            made = CheckMade(event.id, walk.epoch, answer)
            findings.append(_finding(job, entry.at, made, replaced, _leading(walk)))
            for (name, at_spell), other in last.items():
                if other.derived and at_spell == walk.epoch and _last_part(job, name, event.id, again, place):
                    findings.append(_finding(job, entry.at, other, False, ("", None)))
        elif event.kind == "complaint":
            walk.record(event.id, event.answer)
        elif event.kind == "remedy":
            chances = _chances(walk)
            walk.carry_out(event.id, event.answer, happened=True)
            mended.append(_mended(knowledge, job, entry.at, event, walk.epoch, chances))
    return tuple(findings), tuple(mended)


def _last_part(job: Job, derived: str, check: str, again: Mapping[tuple[str, int], int], place: int) -> bool:
    """Whether a derived reading is there from the answer at this place on, as the later of its two parts."""
    parts = job.knowledge.checks[derived].derived_from or ("", "")
    epoch = next((epoch for (name, epoch), at in again.items() if at == place and name == check), -1)
    return check in parts and max(again.get((part, epoch), -1) for part in parts) == place


def _leading(job: Job) -> tuple[str, float | None]:
    try:
        name, chance = job.ranking()[0]
    except ContradictionError:
        return "", None
    return (job.knowledge.causes[name].title, round(chance, 4)) if chance >= _WORTH else ("none stands out", None)


def _chances(job: Job) -> dict[str, float]:
    try:
        return job.posterior()
    except ContradictionError:
        return {}


def _finding(job: Job, at: str, made: CheckMade, replaced: bool, leading: tuple[str, float | None]) -> RecordedCheck:
    check = job.knowledge.checks[made.check]
    briefs = {outcome.id: outcome.brief for outcome in check.outcomes}
    meant = " Or: ".join(dict.fromkeys(briefs.get(name, "") for name in made.answer.outcomes))
    return RecordedCheck(
        at, made.epoch, check.id, check.title, condition.answer_words(made), meant.strip(),
        condition.within_tolerance(job, made) if made.answer.outcomes else None, made.derived, replaced, *leading,
    )  # fmt: skip


def _mended(
    knowledge: Knowledge, job: Job, at: str, event: Event, number: int, chances: Mapping[str, float]
) -> RecordedRemedy:
    remedy = knowledge.remedies[event.id]
    answered = [made for made in job.made if made.answer.outcomes]
    epochs = sorted({made.epoch for made in answered if made.epoch >= number})
    read = epochs[0] if epochs else 0
    after = {made.check: made for made in answered if made.epoch == read} if read else {}
    before = {made.check: made for made in sorted(answered, key=lambda made: made.epoch) if made.epoch < number}
    wanted = [*remedy.proof, *(name for name in after if name in before and name not in remedy.proof)]
    changes = tuple(
        BeforeAfter(
            name,
            knowledge.checks[name].title,
            condition.answer_words(before[name]) if name in before else "",
            condition.answer_words(after[name]) if name in after else "",
        )
        for name in wanted
        if name in after or (name in before and not read)
    )
    shared = read if read > number else 0
    ordered = sorted(((cause, chances.get(cause, 0.0)) for cause in remedy.cures), key=lambda item: (-item[1], item[0]))
    named = _suspects(knowledge, ordered)
    # The changes are told once, where they were read.
    told = () if shared else changes
    return RecordedRemedy(
        number, at, remedy.id, remedy.title, remedy.brief, event.answer, remedy.minutes, named, told, shared,
        event.cells.get("left", ""),
    )  # fmt: skip


def _suspects(knowledge: Knowledge, chances: Sequence[tuple[str, float]]) -> tuple[Suspect, ...]:
    """Causes that are worth a word."""
    return tuple(
        Suspect(name, knowledge.causes[name].title, round(chance, 4)) for name, chance in chances if chance >= _WORTH
    )


def _advice(knowledge: Knowledge, job: Job) -> tuple[RecommendedStep, ...]:
    found: list[RecommendedStep] = []
    for step in job.next_steps(_STEPS):
        known: Mapping[str, object] = knowledge.checks if step.kind == "check" else knowledge.remedies
        title = _TITLES.get(step.kind) or str(getattr(known[step.id], "title", step.id))
        found.append(
            RecommendedStep(step.kind, step.id, title, step.minutes, step.expected_minutes, step.why, step.put_back)
        )
    return tuple(found)


def _cautions(knowledge: Knowledge, job: Job, recommended: Sequence[RecommendedStep]) -> tuple[CautionInForce, ...]:
    """Cautions of every step that was done or is recommended, in the order of the knowledge."""
    steps: dict[str, dict[str, None]] = {}
    off, risks = [each.fitting for each in job.off], job.risks
    done = [(event.kind, event.id) for event in job.standing if event.kind in ("check", "remedy", "proof", "complaint")]
    done += [("setting", event.id) for event in job.standing if event.kind == "set_to"]
    known = [(kind, name, of_step(knowledge.catalogue, kind, name)) for kind, name in done]
    known += [
        (each.kind, each.id, of_step(knowledge.catalogue, each.kind, each.id, off, risks=risks)) for each in recommended
    ]
    for kind, name, cautions in known:
        title = _TITLES.get(kind) or event_text.titled(knowledge, name)
        for caution in cautions:
            steps.setdefault(caution, {})[title] = None
    return tuple(
        CautionInForce(name, caution.title, " ".join(caution.text.split()), tuple(steps[name]))
        for name, caution in knowledge.catalogue.cautions.items()
        if name in steps
    )


def _notes(standing: Sequence[journal.JournalEntry]) -> tuple[TimedText, ...]:
    """Remarks, but for those that name the place or the meter, which the report has a line for."""
    own = (load_record.METER, load_record.SITE)
    found = [TimedText(entry.at, entry.event.answer) for entry in standing if entry.event.kind == "note"]
    found = [note for note in found if not note.text.startswith(own)]
    corrected = [entry for entry in standing if entry.event.kind == "feature"]
    return (
        *found,
        *(TimedText(entry.at, f"The set was corrected: {_cells(entry.event.features)}.") for entry in corrected),
    )


def _cells(cells: Mapping[str, object]) -> str:
    return ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in cells.items())


def _acknowledged(standing: Sequence[journal.JournalEntry]) -> tuple[TimedText, ...]:
    """What was acknowledged, and who said that the set is shut down and its throttle proven to close."""
    found = []
    for entry in standing:
        if entry.event.kind == "acknowledged":
            found.append(TimedText(entry.at, entry.event.answer))
        elif entry.event.kind == "secured":
            said = f"the set is shut down and its throttle proven to close, {entry.event.answer} says."
            found.append(TimedText(entry.at, said))
    return tuple(found)


def _visit(knowledge: Knowledge, standing: Sequence[journal.JournalEntry]) -> tuple[TimedText, ...]:
    """Tools that were not there, and what somebody did before the technician came."""
    told = ((entry.at, event_text.visit_told(knowledge, entry.event)) for entry in standing)
    return tuple(TimedText(at, f"{text}.") for at, text in told if text)


def _told_event(knowledge: Knowledge, event: Event) -> str:
    if told := event_text.visit_told(knowledge, event):
        return told
    for known in (knowledge.checks, knowledge.complaints, knowledge.remedies):
        if event.id in known and event.kind != "acknowledged":
            return f"{known[event.id].title}: {event.answer.replace('_', ' ')}"
    if event.kind in ("taken_off", "put_back"):
        return event_text.fitting_told(knowledge, event)
    if event.kind == "left":
        return f"{event_text.titled(knowledge, event.id)}: {event.answer}"
    if event.kind == "stands":
        return event_text.standing_told(knowledge, event)
    if event.kind in ("setting", "set_to"):
        return event_text.setting_told(knowledge, event)
    if event.kind == "closed":
        return f"Closed: {CLOSINGS.get(event.id, event.id)}"
    if event.kind in ("feature", "load_reading"):
        return f"{event.kind.replace('_', ' ').capitalize()}: {_cells(event.features or event.cells)}"
    return f"{event.kind.replace('_', ' ').capitalize()}: {event.answer}"


def _shifts(knowledge: Knowledge, job: Job, earlier: KeptVisit) -> tuple[Shift, ...]:
    return tuple(
        Shift(
            item.check,
            knowledge.checks[item.check].title,
            condition.answer_words(item.before),
            condition.answer_words(item.now),
            item.kind,
            history.change(knowledge, item),
        )
        for item in history.since(knowledge, earlier, job)
    )
