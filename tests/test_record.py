"""The record of a job, what moved between visits, and jobs as one file."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from test_setting import follow

from hertzwright.cli.files import journal
from hertzwright.cli.record import collection, history, html, load_record, markdown, report, sections
from hertzwright.cli.record.collection import collect
from hertzwright.cli.record.parts import FactRows
from hertzwright.cli.record.service_record import Details, clean
from hertzwright.cli.terminal import Screen
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.job.comparison import answers_as_found, answers_as_left, compared_answers, last_digit
from hertzwright.engine.loadtest.entry_table import Figure, ReadingRow
from hertzwright.engine.loadtest.loadtest import Accuracy, Test
from hertzwright.engine.setting import advise, put

SCRIPT = "<script>alert('x')</script>"
ANSI = "\x1b[31mred\x1b[0m \x1b]0;title\x07\x9b2Jend"
RTL = "\u202egnp.exe\u202c \u2066x\u2069 \u200f\u200b\u2028"
MARKUP = "![a](http://b.test) [c](javascript:d) **e** `f` | g <h> &amp; www.i.test j@k.test ~~l~~ #m $n$ \\o"


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def kept(job: Job, folder: Path, name: str = "north barn") -> journal.JobFileContent:
    with journal.Journal.create(folder, job.knowledge.fingerprint, name) as file:
        file.sync(job.events)
        return journal.read(file.path)


def whole_job(knowledge: Knowledge, *notes: str) -> Job:
    """A set that floats high and hunts, because its rod is too long; fixed in two remedies."""
    job = Job(knowledge, {"booster": "none", "altitude": 4200})
    job.record("hunts_no_load", "present")
    job.record("frequency_no_load", "64.6 Hz")
    job.record("swing_no_load", "1.4 Hz slow swing")
    job.record("frequency_full_load", "60.20 Hz")
    job.record("idle_needle_turns", "1 1/2 turns")
    job.record("linkage_feel", "free")
    job.step_back()
    job.record("wide_open_stop_gap", "0.000 in")
    for note in notes:
        job.note(note)
    job.carry_out("set_rod_length")
    job.carry_out("set_no_load_speed")
    job.record("frequency_no_load", "61.6 Hz")
    job.record("frequency_full_load", "59.2 Hz")
    job.record("swing_no_load", "0.2 Hz")
    job.record("wide_open_stop_gap", "0.031 in")
    job.record("hunts_no_load", "absent")
    return job


# ---- the record


def test_a_whole_job_is_all_in_the_record(knowledge: Knowledge, tmp_path: Path) -> None:
    record = collect(knowledge, kept(whole_job(knowledge, "Rod looks bent", "Site: behind the barn"), tmp_path))
    assert record.fixed
    assert record.outcome == "Fixed and proven"
    assert [(said.id, said.first, said.now) for said in record.complaints] == [("hunts_no_load", "present", "absent")]
    rows = {row.check: row for row in record.readings}
    assert (rows["frequency_no_load"].found, rows["frequency_no_load"].left) == ("64.6 Hz (high)", "61.6 Hz (right)")
    assert [mended.remedy for mended in record.remedies] == ["set_rod_length", "set_no_load_speed"]
    first, second = record.remedies
    assert (first.shared, second.shared) == (2, 0)
    assert not first.changes
    assert "throttle_rod_long" in [cause.id for cause in first.suspected]
    changes = {change.check: (change.before, change.after) for change in second.changes}
    assert changes["wide_open_stop_gap"] == ("0 in (none)", "0.031 in (right)")
    assert record.place == "behind the barn"
    assert [note.text for note in record.notes] == ["Rod looks bent"]
    assert [item.text for item in record.taken_back] == ["Feel of the linkage: free"]
    assert record.recommended == ()
    dangers = {danger.id: danger for danger in record.cautions}
    assert {"carbon_monoxide", "rotating_parts", "shock", "backfeed"} <= set(dangers)
    assert "Frequency at full load" in dangers["backfeed"].steps


def test_the_parts_of_its_remedies_are_drawn_in_every_form(knowledge: Knowledge, tmp_path: Path) -> None:
    record = collect(knowledge, kept(whole_job(knowledge), tmp_path))
    assert [each.id for each in record.drawings] == ["rod_length", "spring_and_adjuster"]
    page, text = html.page(record), markdown.page(record)
    assert page.count("<figure>") == page.count("<figcaption>") + 1 == 3  # and the load curve
    for drawing in record.drawings:
        assert f"<figcaption>{drawing.title}</figcaption>" in page
        assert "\n".join(f"    {row}".rstrip() for row in drawing.art) in text
    assert "Parts, drawn" in [section.title for section in sections.sections(record)]
    nothing_done = collect(knowledge, kept(Job(knowledge), tmp_path / "other"))
    assert "<figcaption>" not in html.page(replace(nothing_done, drawings=()))


def test_every_answer_is_told_in_order_with_what_it_led_to(knowledge: Knowledge, tmp_path: Path) -> None:
    job = whole_job(knowledge)
    job.record("swing_no_load", "0.3 Hz")
    record = collect(knowledge, kept(job, tmp_path))
    told = [(finding.check, finding.after) for finding in record.findings if not finding.derived]
    events = [event for event in job.standing if event.kind == "check"]
    assert [check for check, _ in told] == [event.id for event in events]
    assert [(finding.check, finding.after) for finding in record.findings if finding.derived] == [
        ("frequency_spread", 0), ("frequency_spread", 2)
    ]  # fmt: skip
    assert [finding.check for finding in record.findings if finding.replaced] == ["swing_no_load"]
    high = record.findings[0]
    assert high.normal is False
    assert high.meaning == knowledge.checks["frequency_no_load"].outcomes[2].brief
    walk = Job(knowledge, {"booster": "none", "altitude": 4200})
    walk.record("hunts_no_load", "present")
    walk.record("frequency_no_load", "64.6 Hz")
    leader, chance = walk.ranking()[0]
    assert (high.leading, high.chance) == (knowledge.causes[leader].title, round(chance, 4))


def printed(record: collection.ServiceRecord) -> str:
    """The record as it stands on a screen of 40 columns."""
    out = io.StringIO()
    report.show(Screen(True, out, 40), record)
    return out.getvalue()


def test_the_record_says_once_and_in_words_what_stands(knowledge: Knowledge, tmp_path: Path) -> None:
    """A blind trial: 1179 lines, `limitverdict`, `settles_at_once`, `g2: FAIL` on a set that is fixed and proven,
    "leading cause then" with 2 %, blocks of dashes."""
    job = Job(knowledge, {"booster": "none"})
    job.begin_setting()
    follow(job, "idle_needle_at_start", {"fuel_bought": "unknown"})
    job.record("idle_needle_turns", "4 turns")
    put(job, advise(job), "1 1/2 turns")
    follow(job, answers={"frequency_no_load": "65.5 Hz"})
    text = printed(collect(knowledge, kept(job, tmp_path)))
    said = " ".join(text.split())
    assert len(text.splitlines()) < 400
    assert "_" not in text.partition("Parts, drawn")[0]
    assert "limitverdict" not in said
    assert not re.search(r"\bg[123]\b", said)
    assert said.count("Performance class G3") <= 1
    result = said[: said.index("Set and site")]
    assert "Idle needle at its start: 4 turns, put to 1 1/2 turns" in result
    assert "Speed adjuster: " in result
    assert "age and season of the fuel, not known" in said[said.index("Left open, and recommended") :]
    assert "Nothing is left open" not in said
    assert not re.search(r"leading cause then: [^;]*, (?:[0-9]|1[0-4]) %", said)
    assert not re.search(r"(?:^|: )-(?:;|$)", text, re.MULTILINE)


def test_full_load_that_was_reached_is_not_called_missed(knowledge: Knowledge, tmp_path: Path) -> None:
    job = whole_job(knowledge)
    for name in ("swing_half_load", "swing_full_load"):
        assert not any(made.check == name for made in job.made)
    said = " ".join(printed(collect(knowledge, kept(job, tmp_path))).split())
    assert "full load was not reached" not in said
    assert "not read at full load" in said


def test_a_look_that_was_not_repeated_says_so(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    job.record("linkage_feel", "binds")
    job.carry_out("free_linkage")
    record = collect(knowledge, kept(job, tmp_path))
    said = " ".join(printed(record).split())
    assert "as left: not read again" in said
    assert "Feel of the linkage showed binds and was not looked at again after: " in said
    assert any("before closing" in point and "second frequency meter" in point for point in record.open_points)


def test_an_unfixed_job_says_what_is_open_and_what_comes_next(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    job.record("sags_under_load", "present")
    record = collect(knowledge, kept(job, tmp_path))
    assert record.outcome == "Not proven"
    assert any("not read on the set as it is now" in point for point in record.open_points)
    assert [advice.id for advice in record.recommended] == [step.id for step in job.next_steps(3)]


def test_after_an_overspeed_nothing_that_runs_is_recommended(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    job.record("overspeeds", "present")
    job.record("frequency_no_load", "67.5 Hz", happened=True)
    record = collect(knowledge, kept(job, tmp_path))
    assert record.outcome.startswith("Stopped: overspeed")
    assert "Frequency with no load, 67.5 Hz" in record.open_points[1]
    assert [hold["limit"] for hold in record.as_dict()["held"]] == ["overspeeds", "overspeed"]  # type: ignore[attr-defined]
    assert record.recommended
    for advice in record.recommended:
        step = knowledge.checks.get(advice.id) or knowledge.remedies.get(advice.id)
        assert step is None or "rotating_parts" not in knowledge.catalogue.states[step.state].cautions


def test_findings_that_contradict_each_other_still_make_a_record(
    knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hertzwright.engine import ContradictionError
    from hertzwright.engine.job.diagnosis import Diagnosis

    def impossible(self: Diagnosis) -> tuple[object, object]:
        raise ContradictionError(["choke_heater_supply = none", "plug_colour = sooty"], job.line())

    job = whole_job(knowledge)
    record = kept(job, tmp_path)
    monkeypatch.setattr(Diagnosis, "_solved", impossible)
    told = collect(knowledge, record)
    assert told.contradiction == "choke_heater_supply = none; plug_colour = sooty"
    assert told.causes == told.recommended == ()
    assert "cannot all be right" in html.page(told)


def test_the_same_job_gives_the_same_record_and_pages(knowledge: Knowledge, tmp_path: Path) -> None:
    record = kept(whole_job(knowledge), tmp_path)
    one, other = collect(knowledge, record), collect(knowledge, record)
    assert one.as_dict() == other.as_dict()
    assert html.page(one) == html.page(other)


def test_a_damaged_end_is_told(knowledge: Knowledge, tmp_path: Path) -> None:
    path = kept(whole_job(knowledge), tmp_path).path
    path.write_bytes(path.read_bytes()[:-20])
    record = collect(knowledge, journal.read(path))
    assert "the line is damaged" in record.damage
    assert record.damage in " ".join(text for part in _facts(record) for _, text in part.rows)


def _facts(record: collection.ServiceRecord) -> list[FactRows]:
    return [part for section in sections.sections(record) for part in section.parts if isinstance(part, FactRows)]


# ---- what was typed


@pytest.mark.parametrize("text", [SCRIPT, ANSI, RTL, MARKUP, '"><img src=x onerror=y>', "a\nb\tc\r\0d", "\ud800"])
def test_cleaned_text_moves_no_cursor_and_hides_nothing(text: str) -> None:
    cleaned = clean(text)
    assert cleaned.isprintable()
    assert cleaned == cleaned.encode("utf-8").decode("utf-8")
    assert clean(cleaned) == cleaned


def test_clean_takes_whole_escape_sequences_and_keeps_other_scripts() -> None:
    assert clean(ANSI) == "red end"
    assert clean(RTL) == "gnp.exe x"
    assert (
        clean("\u05e9\u05dc\u05d5\u05dd \u00e4\u00df 20 \u03a9\u00a0x")
        == "\u05e9\u05dc\u05d5\u05dd \u00e4\u00df 20 \u03a9 x"
    )


class Tags(HTMLParser):
    """Every tag and attribute, and the text between them."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "rect", "circle", "path"):
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def nasty(knowledge: Knowledge, tmp_path: Path, text: str) -> collection.ServiceRecord:
    job = whole_job(
        knowledge, text, f"Site: {text}", f"Meter: {text}", f"Load test as found: hz=64.6; load %=0; note={text}"
    )
    details = Details(set_name=text, site="", meter="")
    return collect(knowledge, kept(job, tmp_path, text), details)


@pytest.mark.parametrize("text", [SCRIPT, ANSI, RTL, MARKUP, '"><img src=x onerror=y>', "</style></svg>\x00\ud800"])
def test_html_holds_what_was_typed_only_as_text(knowledge: Knowledge, tmp_path: Path, text: str) -> None:
    page = html.page(nasty(knowledge, tmp_path, text))
    plain = html.page(nasty(knowledge, tmp_path, "harmless"))
    tags, expected = Tags(), Tags()
    tags.feed(page)
    expected.feed(plain)
    assert not tags.open
    # The same tags as with harmless text, in the same order.
    assert [tag for tag, _ in tags.tags] == [tag for tag, _ in expected.tags]
    names = {name for _, attributes in tags.tags for name in attributes}
    assert not [name for name in names if name.startswith("on") or name in ("href", "src", "action")]
    assert tags.text.count(clean(text)) >= 4
    assert all(letter == "\n" or letter.isprintable() for letter in page)


def test_html_fetches_nothing(knowledge: Knowledge, tmp_path: Path) -> None:
    page = html.page(collect(knowledge, kept(whole_job(knowledge), tmp_path)))
    assert "default-src 'none'" in page
    assert not re.search(r"url\(|@import|<script|<link|<iframe|<img", page)
    assert set(re.findall(r"https?://[^\"' <]+", page)) == {"http://www.w3.org/2000/svg"}


@pytest.mark.parametrize("text", [SCRIPT, ANSI, RTL, MARKUP])
def test_markdown_holds_what_was_typed_only_as_text(knowledge: Knowledge, tmp_path: Path, text: str) -> None:
    page = markdown.page(nasty(knowledge, tmp_path, text))
    plain = markdown.page(nasty(knowledge, tmp_path, "harmless"))
    assert "<" not in page
    assert ">" not in page
    assert all(letter == "\n" or letter.isprintable() for letter in page)
    assert not re.search(r"(?<!\\)\]\(|https?:|www\.|@|(?<!\\)`", page)
    # The same lines, and in each table row the same cells.
    bars = re.compile(r"(?<!\\)\|")
    lines, expected = page.splitlines(), plain.splitlines()
    assert [len(bars.findall(line)) for line in lines] == [len(bars.findall(line)) for line in expected]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("- x", "\\- x"), ("1. x", "1\\. x"), ("61.6 Hz", "61.6 Hz"), ("-0.2 Hz", "-0.2 Hz"), ("a|b", "a\\|b"),
        ("see http://x", "see http&#58;//x"), ("---", "\\---"), ("<b>&", "&lt;b&gt;&amp;"),
    ],
)  # fmt: skip
def test_marks_of_markdown_are_escaped_and_figures_are_not(text: str, told: str) -> None:
    assert markdown.markdown_safe(text) == told


# ---- the load test in a job


def test_the_events_of_a_load_test_read_back_as_the_same_rows(knowledge: Knowledge) -> None:
    rows = (
        ReadingRow("a", "as_found", Figure(0.0, 0.01), hertz=Figure(61.60, 0.01), volts=Figure(243, 1),
            amps=(Figure(0.0, 0.1),)),
        ReadingRow("b", "as_found", Figure(0.25), hertz=Figure(61.0, 0.1), kilowatts=Figure(2.25, 0.01),
            behaviour="slow_swing", swing=Figure(0.7, 0.1), lowest=Figure(58.0, 0.1), recovery=Figure(2.5, 0.1),
            note="x = y; z, hz = 75"),
        ReadingRow("c", "as_found", None, set_kilowatts=Figure(9.0, 0.1), rpm=Figure(1791, 1), power_factor=Figure(0.8, 0.1),
            amps=(Figure(37.5, 0.1), Figure(36.0, 0.1)), highest_volts=Figure(250, 1), volts_swing=Figure(2.5, 0.1)),
    )  # fmt: skip
    job = Job(knowledge)
    test = Test(job.features, 8.5, Accuracy())
    for event in load_record.readings(load_record.KeptLoadTest(test, "sae_j1349", ("0.1 Hz",), rows), "as_found"):
        job.load_reading(event.id, event.cells)
    assert load_record.accuracy_of(job.standing) == ["0.1 Hz"]
    back = load_record.rows_of(job, job.standing)
    for row, other in zip(rows, back, strict=True):
        for field in ReadingRow.__slots__:
            if field not in ("place", "load"):
                assert getattr(other, field) == getattr(row, field), field
        assert (other.load is None) == (row.load is None)
        if row.load is not None and other.load is not None:
            assert other.load.value == pytest.approx(row.load.value)
    told = load_record.load_test(knowledge, job, job.standing)
    assert told is not None
    assert told.noted
    assert told.test.full_kilowatts == 8.5


def test_a_later_load_test_takes_the_place_of_an_earlier_one(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    test = Test(job.features, 9.0, Accuracy())
    for hertz in (61.0, 61.5):
        row = ReadingRow("a", "as_found", Figure(0.0), hertz=Figure(hertz, 0.1))
        for event in load_record.readings(load_record.KeptLoadTest(test, "sae_j1349", (), (row,)), "as_found"):
            job.load_reading(event.id, event.cells)
    assert [row.hertz for row in load_record.rows_of(job, job.standing)] == [Figure(61.5, 0.1)]


def test_readings_from_before_the_last_remedy_are_not_as_left(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    job.carry_out("set_no_load_speed")
    job.load_reading("as_left", {"load %": "0", "hz": "61.6"})
    job.carry_out("set_sensitivity")
    assert load_record.rows_of(job, job.standing) == []


def test_single_checks_are_judged_like_a_load_test(knowledge: Knowledge) -> None:
    job = whole_job(knowledge)
    told = load_record.load_test(knowledge, job, job.standing, ("0.1 Hz",))
    assert told is not None
    assert not told.noted
    before, after = told.results
    assert (before.run, before.calls["default"], after.run) == ("as_found", "fail", "as_left")
    spread = next(verdict for verdict in after.verdicts if verdict.measure.id == "spread")
    assert spread.measure.value is not None
    assert spread.measure.value.value == pytest.approx(2.4)
    # Twice what is stated, and half of the last digit beside it.
    assert spread.measure.value.guard == pytest.approx(2 * (0.1 + 0.05))
    assert spread.call == "pass"


def test_a_report_without_any_frequency_has_no_load_test(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    job.record("linkage_feel", "free")
    record = collect(knowledge, kept(job, tmp_path))
    assert record.load_test is None
    drawings = re.compile(r'<div class="drawings">.*?</div>', re.DOTALL)
    assert "<svg" not in drawings.sub("", html.page(record)), "no curve; a part that is talked of may be drawn"


# ---- what has moved


@pytest.mark.parametrize(
    ("typed", "value", "digit"),
    [
        ("61.50 Hz", 61.5, 0.01), ("61,5", 61.5, 0.1), ("62 Hz", 62.0, 1.0), ("1845 rpm", 61.5, 1 / 30),
        ("1/32 in", 1 / 32, 1 / 32), ("1 1/4 turns", 1.25, 0.25), ("0.8 mm", 0.8 / 25.4, 0.1 / 25.4),
        ("0.000 in", 0.0, 0.001), ("wide", 0.0, 0.0),
    ],
)  # fmt: skip
def test_the_last_digit_is_that_of_what_was_typed(typed: str, value: float, digit: float) -> None:
    assert last_digit(typed, value) == pytest.approx(digit)


def one_reading(knowledge: Knowledge, check: str, answer: str) -> Job:
    job = Job(knowledge)
    job.record(check, answer)
    return job


@pytest.mark.parametrize(
    ("check", "before", "now", "kind"),
    [
        ("frequency_no_load", "61.5 Hz", "61.6 Hz", "same"), ("frequency_no_load", "61.50 Hz", "61.60 Hz", "moved"),
        ("frequency_no_load", "61.5 Hz", "63.0 Hz", "crossed"), ("linkage_feel", "free", "binds", "crossed"),
        ("linkage_feel", "free", "free", "same"), ("idle_needle_turns", "1 1/4 turns", "1 3/4 turns", "moved"),
        ("compression", "118, 120 psi", "118, 104 psi", "moved"),
    ],
)  # fmt: skip
def test_moved_is_only_what_the_digits_can_tell(
    knowledge: Knowledge, check: str, before: str, now: str, kind: str
) -> None:
    earlier, later = one_reading(knowledge, check, before), one_reading(knowledge, check, now)
    (item,) = compared_answers(answers_as_left(earlier), answers_as_found(later), knowledge.checks)
    assert (item.check, item.kind) == (check, kind)


def test_as_left_is_what_no_later_remedy_bore_on(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    job.record("frequency_no_load", "64.6 Hz")
    job.record("exhaust_colour", "clear")
    job.carry_out("set_no_load_speed")
    still = answers_as_left(job)
    assert "speed_set_high" in knowledge.checks["frequency_no_load"].parents
    assert "frequency_no_load" not in still
    assert "exhaust_colour" in still
    job.record("frequency_no_load", "61.5 Hz")
    assert answers_as_left(job)["frequency_no_load"].made.answer.values == (61.5,)


def test_a_second_visit_is_compared_with_how_the_first_was_left(knowledge: Knowledge, tmp_path: Path) -> None:
    kept(whole_job(knowledge), tmp_path)
    kept(Job(knowledge), tmp_path, "another set")
    job = Job(knowledge)
    job.record("frequency_no_load", "62.2 Hz")
    job.record("wide_open_stop_gap", "0.031 in")
    record = kept(job, tmp_path)
    earlier = history.last(knowledge, tmp_path, "north barn", record.path)
    assert earlier is not None
    told = collect(knowledge, record, earlier=earlier)
    assert [(shift.check, shift.kind, shift.change) for shift in told.moved] == [
        ("frequency_no_load", "moved", "+0.6 Hz"), ("wide_open_stop_gap", "same", "as it was left")
    ]  # fmt: skip
    assert earlier.ident in told.since
    assert history.last(knowledge, tmp_path, "north barn", journal.listed(tmp_path)[0]) is None
