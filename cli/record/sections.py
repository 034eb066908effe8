"""The sections of a report: headings, facts, tables and lists, whatever they are drawn with.

Purpose: say once what a report says and in which order; HTML, Markdown and the terminal each draw the same sections.
Law: plain text only; whoever draws a section escapes all of it.
Not here: the figures (see `record`), the picture (see `figure`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ...engine.loadtest import CLASSES, NEAR, RULES, LimitVerdict, LoadPoint, Quantity, Result
from ...engine.problems import in_sentence
from ...engine.setting import FOUND, LEFT_OUT
from ..terminal import chance_word, minutes, percent
from .load_record import LoadTest
from .load_view import RUN_TITLES
from .service_record import (
    RecordedDrawing,
    RecordedProof,
    RecordedRemedy,
    RecordedSetting,
    ServiceRecord,
    TimedText,
)

_STANDING = {
    "present": "still there",
    "absent": "gone",
    "unsure": "not sure",
    "explained": "no fault of the set",
    "unknown": "not known",
}
_RESULTS = {"cured": "trouble gone", "not cured": "trouble still there"}
_VERDICT = {True: "ok", False: "OUTSIDE", None: ""}
_CALLS = {"pass": "pass", "fail": "FAIL", "untested": "not tested", "too close to call": "too close to call"}
LEADS, LITTLE = 0.15, 0.05
"""Least probability of a cause that was worth a word at the time, and of one that is still to be named."""
_KINDS = {"at most": "at most", "at least": "at least", "about": "aim"}


@dataclass(frozen=True, slots=True)
class FactRows:
    """Named facts: (label, text). What is empty is left out."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table with its caption. The first cell of a row names it."""

    caption: str
    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class BulletRows:
    """A list, numbered or not."""

    rows: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph. `strong`: something that must not be passed over."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class LoadCurve:
    """Where the picture of frequency against load goes."""

    load_test: LoadTest


@dataclass(frozen=True, slots=True)
class Blanks:
    """Lines to be filled in by hand: one label each."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sketches:
    """Drawings of parts, side by side where there is room."""

    drawings: tuple[RecordedDrawing, ...]


Part = FactRows | Grid | BulletRows | Words | LoadCurve | Blanks | Sketches


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what is under it."""

    title: str
    parts: tuple[Part, ...]


def date(at: str) -> str:
    """The local time of an event, to the minute."""
    return at[:16].replace("T", " ")


def sections(record: ServiceRecord) -> tuple[Section, ...]:
    """Every section that has something to say, the result first and the signatures last."""
    made = (
        Section("Result", tuple(_result(record))),
        Section("Set and site", (FactRows(tuple(_set(record))),)),
        Section("Complaint", tuple(_complaint(record))),
        Section("As found and as left", tuple(_readings(record))),
        Section("Settings, as found and as left", tuple(_settings(record))),
        Section("Load test", tuple(_load_test(record.load_test)) if record.load_test else ()),
        Section("Remedies, in order", tuple(_remedies(record.remedies))),
        Section("Checks, and what they told", tuple(_findings(record))),
        Section("Causes, as it stands", tuple(_causes(record))),
        Section("Left open, and recommended", tuple(_open(record))),
        Section("Parts, drawn", (Sketches(record.drawings),) if record.drawings else ()),
        Section("Moved since the last visit", tuple(_moved(record))),
        Section("Meters", tuple(_meters(record))),
        Section("Notes", tuple(_notes(record))),
        Section("Cautions that were in force", tuple(_cautions(record))),
        Section("What this record is not", tuple(Words(text) for text in record.disclaimer)),
        Section(
            "Signatures", (Blanks(("Technician", "Licence number", "Date and time", "Received by, for the owner")),)
        ),
    )
    return tuple(section for section in made if section.parts)


def _result(record: ServiceRecord) -> Iterable[Part]:
    yield Words(f"{record.outcome}.", strong=True)
    put = [
        f"{each.title}: {each.found or 'not known'}, put to {each.placed}" for each in record.settings if each.placed
    ]
    done = [*dict.fromkeys(mended.title for mended in record.remedies), *put, *record.turned]
    yield FactRows(
        (
            ("Trouble", "; ".join(f"{said.title}: {_stands(said.now)}" for said in record.complaints)),
            ("Done", "; ".join(done) or "nothing changed on the set"),
            ("Judged by", f"{record.tolerance_title} ({record.tolerance.replace('_', ' ')})"),
            ("Job", f"{record.job}, begun {date(record.created)}, last entry {date(record.last)}, {record.state}"),
            ("Time", f"{minutes(record.minutes)} by the figures of the knowledge base, not by the clock"),
            ("Damaged file", record.damage),
            ("Knowledge", "other than the job was made with; figures may differ" if record.other_knowledge else ""),
        )
    )


def _settings(record: ServiceRecord) -> Iterable[Part]:
    return setting_parts(record.settings, record.turned)


def setting_parts(settings: Sequence[RecordedSetting], turned: Sequence[str]) -> Iterable[Part]:
    """Every setting as found and as left: what was changed or is not right line by line, the rest in one each."""
    alone = [each for each in settings if each.state == FOUND]
    left_out = [each for each in settings if each.state == LEFT_OUT and not each.unseen]
    rows = [
        (each.title, each.found, "" if each.left == each.found else each.left, _state(each))
        for each in settings
        if each not in alone and each not in left_out
    ]
    if rows:
        yield Grid("", ("Setting", "As found", "As left", "State"), tuple(rows))
    if turned:
        yield Words(f"Turned, all in all: {'; '.join(turned)}.")
    if alone:
        yield Words(f"Right as found, and left alone: {'; '.join(map(_setting_found, alone))}.")
    if left_out:
        yield Words(f"Left out, since the work has not touched it: {'; '.join(each.title for each in left_out)}.")


def proof_parts(proof: Sequence[RecordedProof]) -> Iterable[Part]:
    """The proof of setting: what has limits or is outside line by line, the rest in one, and what was not read."""
    rows = [each for each in proof if each.passed is not None and (each.limits or not each.passed)]
    if rows:
        told = [": ".join(filter(None, (each.limits, _VERDICT[each.passed]))) for each in rows]
        cells = tuple((each.title, each.answer, said) for each, said in zip(rows, told, strict=True))
        yield Grid("", ("Reading", "As left", "Limits"), cells)
    if right := [f"{each.title}: {each.answer}" for each in proof if each.passed and not each.limits]:
        yield Words(f"Right: {'; '.join(right)}.")
    if unread := [_unread(each) for each in proof if each.passed is None]:
        yield Words(f"Not read: {'; '.join(unread)}.", strong=True)


def _state(each: RecordedSetting) -> str:
    parts = [f"{each.state}, because of: {each.because}" if each.because else each.state]
    parts += [f"not right: {', '.join(each.wrong)}"] if each.wrong else []
    return "; ".join((*parts, *each.unseen))


def _setting_found(each: RecordedSetting) -> str:
    """A setting that was right, with its figure where it has one and no more."""
    return f"{each.title} ({each.found})" if each.found[:1].isdigit() and ";" not in each.found else each.title


def _stands(answer: str) -> str:
    return _STANDING.get(answer, answer)


def _set(record: ServiceRecord) -> Iterable[tuple[str, str]]:
    yield "Set", record.set_name
    yield "Site", record.place
    for _, title, value in (*record.site, *record.features):
        yield title, value


def _complaint(record: ServiceRecord) -> Iterable[Part]:
    if record.complaints:
        yield Grid(
            "", ("Complaint", "First said", "At first", "Now"),
            tuple((said.title, date(said.at), said.first, _stands(said.now)) for said in record.complaints),
        )  # fmt: skip


def _readings(record: ServiceRecord) -> Iterable[Part]:
    passed = {each.check: each.passed for each in record.proof}
    # What a setting is read by stands with the settings.
    elsewhere = {check for each in record.settings for check in each.checks} - passed.keys()
    rows = [row for row in record.readings if row.check not in elsewhere]
    same = [row for row in rows if row.fine and not row.limits and row.found in ("", row.left)]
    told = [row for row in rows if row not in same]
    if told:
        cells = [
            (
                row.title,
                row.found,
                row.left or "not read again",
                ": ".join(filter(None, (row.limits, _VERDICT[passed.get(row.check, row.fine)]))),
            )
            for row in told
        ]
        yield Grid("", ("Check", "As found", "As left", "Limits"), tuple(cells))
    if same:
        named = "; ".join(f"{row.title}: {row.left}" for row in same)
        yield Words(f"Right whenever it was looked at: {named}.")
    read = {row.check for row in rows if row.left}
    if unread := [each for each in record.proof if each.check not in read]:
        yield Words(f"Of the proof, not read: {'; '.join(_unread(each) for each in unread)}.", strong=True)
    if record.off_as_found:
        yield Words(f"Off or open as found: {'; '.join(record.off_as_found)}.")
    if record.off_as_left:
        yield Words(f"OFF OR OPEN AS LEFT: {'; '.join(record.off_as_left)}.", strong=True)


def _unread(each: RecordedProof) -> str:
    why = "nobody could tell" if each.answer else ""
    told = "; ".join(filter(None, (each.limits, why)))
    return f"{each.title} ({told})" if told else each.title


# ---- the load test


def _load_test(found: LoadTest) -> Iterable[Part]:
    if any(sum(point.hertz is not None for point in result.points) > 1 for result in found.results):
        yield LoadCurve(found)
    source = "" if found.noted else " From single checks; no load test was entered."
    yield Words(
        f"Full load is {found.test.full_kilowatts:.3g} kW here ({_rule(found.rule)}).{source}"
        + ("" if found.accuracy else " No meter accuracy was stated: guard bands are half of the last digit written.")
    )
    for result in found.results:
        yield _table(result)
    for result in found.results:
        for question in result.questions:
            yield Words(f"Question, {RUN_TITLES[result.run]}, {question.place}: {question.text}", strong=True)
    for result in found.results:
        yield from _limits(found, result)


def _rule(name: str) -> str:
    rule = RULES.get(name)
    return rule.title if rule else "as rated: no derating rule reaches this site"


def _table(result: Result) -> Grid:
    """The readings of a run; columns that nothing was read for are left out."""
    columns = {
        "Load": [f"{point.load:.0%}".replace("%", " %") for point in result.points],
        "Known from": [point.load_from for point in result.points],
        "Hz": [_figure(point.hertz, 5) for point in result.points],
        "V": [_figure(point.volts, 4) for point in result.points],
        "A per leg": [" / ".join(_figure(amp, 4) for amp in point.amps) for point in result.points],
        "kW": [_figure(point.kilowatts, 3) for point in result.points],
        "Imbalance": [
            f"{point.imbalance:.0f} %" if point.imbalance is not None and point.load > NEAR else ""
            for point in result.points
        ],
        "Steady?": [_steady(point) for point in result.points],
        "Extremes": [_extremes(point) for point in result.points],
        "Recovery": [f"{point.row.recovery.value:g} s" if point.row.recovery else "" for point in result.points],
        "Note": [point.row.note for point in result.points],
    }
    kept = {name: cells for name, cells in columns.items() if any(cells)}
    known = set(kept.pop("Known from", ()))
    if len(known) > 1:
        kept = {"Load": kept["Load"], "Known from": columns["Known from"], **kept}
    source = known.pop() if len(known) == 1 else ""
    told = f", load from {source}" if source and source != "as set" else f", load {source}" if source else ""
    return Grid(f"Readings {RUN_TITLES[result.run]}{told}", tuple(kept), tuple(zip(*kept.values(), strict=True)))


def _figure(quantity: Quantity | None, digits: int) -> str:
    return "" if quantity is None else f"{quantity.value:.{digits}g}"


def _steady(point: LoadPoint) -> str:
    parts = [point.row.behaviour.replace("_", " ")]
    if point.row.swing:
        parts.append(f"{point.row.swing.value:.3g} Hz")
    return ", ".join(part for part in parts if part)


def _extremes(point: LoadPoint) -> str:
    """The lowest and highest frequency on the way to this load."""
    row = point.row
    parts = [f"down to {row.lowest.value:.4g} Hz" if row.lowest else ""]
    parts.append(f"up to {row.highest.value:.4g} Hz" if row.highest else "")
    return ", ".join(part for part in parts if part)


def _limits(found: LoadTest, result: Result) -> Iterable[Part]:
    """The tolerance that the set is judged by, limit for limit; of the performance classes only what they come to."""
    chosen = [verdict for verdict in result.verdicts if verdict.tolerance == found.tolerance.id]
    rows = []
    for verdict in chosen:
        measure = verdict.measure
        if measure.value is not None:
            measured = f"{measure.value.value:.4g} \u00b1{measure.value.guard:.2g} {measure.unit}"
            rows.append((measure.title, measured, _called(verdict)))
    call = result.calls[found.tolerance.id]
    rows.append(("All limits together", "", {"untested": "not all tested"}.get(call, _CALLS.get(call, call))))
    headers = ("Quantity", "Measured", "Limit and verdict")
    yield Grid(f"Verdict by limit, {RUN_TITLES[result.run]}: {found.tolerance.title}", headers, tuple(rows))
    missing = [f"{verdict.measure.title} ({verdict.why})" for verdict in chosen if verdict.call == "untested"]
    if missing:
        yield Words(f"Not tested, {RUN_TITLES[result.run]}: {'; '.join(missing)}.")
    if result is not found.results[-1]:
        return
    if classes := [name for name in CLASSES if name in result.calls and name != found.tolerance.id]:
        told = "; ".join(_class_told(found, result, name) for name in classes)
        yield Words(
            f"For comparison only, {RUN_TITLES[result.run]}, the performance classes of ISO 8528-5, by which this set "
            f"is not judged: {told}."
        )


def _class_told(found: LoadTest, result: Result, name: str) -> str:
    """What a performance class comes to, and by which quantities."""
    mine = [verdict for verdict in result.verdicts if verdict.tolerance == name]
    failed = list(dict.fromkeys(in_sentence(verdict.measure.title) for verdict in mine if verdict.call == "fail"))
    title = found.titles.get(name, name)
    if failed:
        return f"{title} not reached, by {', '.join(failed)}"
    words = {"pass": "reached", "too close to call": "too close to call"}
    return f"{title} {words.get(result.calls[name], 'not tested in full, and nothing read is beyond it')}"


def _called(verdict: LimitVerdict) -> str:
    unit = verdict.measure.unit
    limit = f"{_KINDS.get(verdict.kind, verdict.kind)} {verdict.bound:.4g} {unit}"
    if verdict.call == "aim":
        return f"{limit}: {verdict.margin or 0.0:+.2g} {unit} from it"
    told = _CALLS.get(verdict.call, verdict.call)
    if verdict.margin is None:
        return f"{limit}: {told}"
    room = f"{abs(verdict.margin):.2g} {unit} {'to spare' if verdict.margin >= 0 else 'beyond'}"
    return f"{limit}: {told}, {room}" + (f" ({verdict.why})" if verdict.call == "untested" else "")


# ---- the work


def _remedies(done: Sequence[RecordedRemedy]) -> Iterable[Part]:
    for mended in done:
        suspected = ", ".join(f"{cause.title} {percent(cause.chance)}" for cause in mended.suspected)
        yield Words(f"{mended.number}. {mended.title}", strong=True)
        yield FactRows(
            (
                ("When", date(mended.at)),
                ("Against", suspected),
                ("Result", _RESULTS.get(mended.result, "")),
                ("Read again", f"only after remedy {mended.shared}" if mended.shared else ""),
            )
        )
        rows = [
            (change.title, change.before, change.after or "not read again")
            for change in mended.changes
            if change.before != change.after
        ]
        if rows:
            yield Grid("", ("Setting or reading", "Before", "After"), tuple(rows))


def _findings(record: ServiceRecord) -> Iterable[Part]:
    """What was found that is not right or not known, and what that told; what was right stands with the readings."""
    rows = []
    right = [finding for finding in record.findings if finding.normal]
    for finding in record.findings:
        if finding in right:
            continue
        told = finding.meaning
        if finding.derived:
            told += " Worked out from the two readings."
        if finding.replaced:
            told += " Answered again later."
        lead = ""
        if finding.chance is not None and finding.chance >= LEADS:
            lead = f"{finding.leading}, {percent(finding.chance)}"
        doing = f"after remedy {finding.after}" if finding.after else "as found"
        # The day only where the job went on into another one.
        when = date(finding.at)[11:] if finding.at[:10] == record.created[:10] else date(finding.at)
        rows.append((finding.title, finding.answer, told.strip(), lead, f"{when}, {doing}"))
    if rows:
        yield Grid("", ("Check", "Answer", "What it told", "Leading cause then", "When"), tuple(rows))
    if right:
        answers = "answer was" if len(right) == 1 else "answers were"
        yield Words(f"{len(right)} other {answers} right when given." if rows else f"{len(right)} {answers} right.")


def _causes(record: ServiceRecord) -> Iterable[Part]:
    if record.contradiction:
        yield Words(f"These findings cannot all be right: {record.contradiction}.", strong=True)
    least = LEADS if record.fixed else LITTLE
    likely = [cause for cause in record.causes if cause.chance >= least]
    if likely:
        yield Grid(
            "", ("Cause", "Probability", "In words"),
            tuple((cause.title, percent(cause.chance), chance_word(cause.chance)) for cause in likely),
        )  # fmt: skip
    elif not record.contradiction:
        yield Words(f"No known cause is likely on the set as it is now: each has less than {percent(least)}.")


def _open(record: ServiceRecord) -> Iterable[Part]:
    yield BulletRows(record.open_points) if record.open_points else Words("Nothing is left open.")
    if record.recommended:
        yield Grid(
            "Recommended next, best first", ("Step", "It takes", "To fixed and proven", "Why"),
            tuple(
                (advice.title, minutes(advice.minutes), f"about {minutes(advice.expected_minutes)}", advice.why)
                for advice in record.recommended
            ),
        )  # fmt: skip


def _moved(record: ServiceRecord) -> Iterable[Part]:
    if record.moved:
        yield Grid(
            f"Since {record.since}", ("Check", "As left then", "As found now", "Change"),
            tuple((shift.title, shift.before, shift.now, shift.change) for shift in record.moved),
        )  # fmt: skip
    elif record.since:
        yield Words(f"Nothing was read both now and at {record.since}.")


def _meters(record: ServiceRecord) -> Iterable[Part]:
    yield FactRows(
        (
            ("Meter used", record.meter or "not stated"),
            ("Accuracy", "; ".join(record.accuracy) or "not stated"),
        )
    )


def _notes(record: ServiceRecord) -> Iterable[Part]:
    if record.notes:
        yield BulletRows(tuple(f"{date(note.at)}: {note.text}" for note in record.notes))
    if record.taken_back:
        yield Words("Taken back, and not counted:")
        yield BulletRows(tuple(f"{date(item.at)}: {item.text}" for item in record.taken_back))


def _cautions(record: ServiceRecord) -> Iterable[Part]:
    if record.cautions:
        yield Words(f"{'; '.join(danger.title for danger in record.cautions)}.")
    if record.acknowledged:
        yield Words("Acknowledged:")
        yield BulletRows(tuple(_acknowledged(record.acknowledged)))


def _acknowledged(made: Sequence[TimedText]) -> Iterable[str]:
    """What was acknowledged, one line for the same cautions: when, and before which steps."""
    steps: dict[str, list[str]] = {}
    day = ""
    for item in made:
        what, before, step = item.text.rstrip(".").rpartition(", before ")
        # The day once, and again where the job went on into another one.
        at = date(item.at)[11:] if item.at[:10] == day else date(item.at)
        day = item.at[:10]
        steps.setdefault(what if before else item.text.rstrip("."), []).append(
            f"{at}{f' before {step}' if before else ''}"
        )
    for what, times in steps.items():
        yield f"{what}: {', '.join(times)}"
