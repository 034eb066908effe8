"""The sections of a report: headings, facts, tables and lists, whatever they are drawn with.

Purpose: say once what a report says and in which order; HTML, Markdown and the terminal each draw the same sections.
Law: plain text only; whoever draws a section escapes all of it.
Not here: the figures (see `record`), the picture (see `figure`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..terminal import chance_word, minutes, percent
from .load_sections import load_parts
from .parts import Blanks, BulletRows, FactRows, Grid, Part, Section, Sketches, Words, date, verdict_told
from .service_record import RecordedRemedy, ServiceRecord, TimedText
from .setting_sections import proof_unread, setting_parts

_STANDING = {
    "present": "still there",
    "absent": "gone",
    "unsure": "not sure",
    "explained": "no fault of the set",
    "unknown": "not known",
}
_RESULTS = {"cured": "trouble gone", "not cured": "trouble still there"}
LEADS, LITTLE = 0.15, 0.05
"""Least probability of a cause that was worth a word at the time, and of one that is still to be named."""


def sections(record: ServiceRecord) -> tuple[Section, ...]:
    """Every section that has something to say, the result first and the signatures last."""
    made = (
        Section("Result", tuple(_result(record))),
        Section("Set and site", (FactRows(tuple(_set(record))),)),
        Section("Complaint", tuple(_complaint(record))),
        Section("As found and as left", tuple(_readings(record))),
        Section("Settings, as found and as left", tuple(_settings(record))),
        Section("Load test", tuple(load_parts(record.load_test)) if record.load_test else ()),
        Section("Remedies, in order", tuple(_remedies(record.remedies))),
        Section("Checks, and what they told", tuple(_findings(record))),
        Section("Causes, as it stands", tuple(_causes(record))),
        Section("Left open, and recommended", tuple(_open(record))),
        Section("Seen to before leaving", tuple(_seen_to(record))),
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
        if told := tuple((said.title, f'"{said.said}"') for said in record.complaints if said.said):
            yield Words("In the owner's words:")
            yield FactRows(told)


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
                verdict_told(passed.get(row.check, row.fine), row.limits),
            )
            for row in told
        ]
        yield Grid("", ("Check", "As found", "As left", "Verdict"), tuple(cells))
    if same:
        named = "; ".join(f"{row.title}: {row.left}" for row in same)
        yield Words(f"Right whenever it was looked at: {named}.")
    read = {row.check for row in rows if row.left}
    if unread := [each for each in record.proof if each.check not in read]:
        yield Words(f"Of the proof, not read: {'; '.join(proof_unread(each) for each in unread)}.", strong=True)
    if record.off_as_found:
        yield Words(f"Off or open as found: {'; '.join(record.off_as_found)}.")
    if record.off_as_left:
        yield Words(f"OFF OR OPEN AS LEFT: {'; '.join(record.off_as_left)}.", strong=True)


# ---- the work


def _remedies(done: Sequence[RecordedRemedy]) -> Iterable[Part]:
    for mended in done:
        suspected = ", ".join(
            f"{cause.title} {percent(cause.chance)}" for cause in mended.suspected if cause.chance >= LEADS
        )
        yield Words(f"{mended.number}. {mended.title}", strong=True)
        yield FactRows(
            (
                ("When", date(mended.at)),
                ("Against", suspected),
                ("Result", _RESULTS.get(mended.result, "")),
                ("Not done", mended.left),
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


def _seen_to(record: ServiceRecord) -> Iterable[Part]:
    if record.seen_to and all(each.so is None for each in record.seen_to):
        yield Words("The closing list was not gone through.")
    elif record.seen_to:
        said = {True: "yes", False: "not confirmed", None: "not asked"}
        yield Grid("", ("Point", "So"), tuple((each.title, said[each.so]) for each in record.seen_to))


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
